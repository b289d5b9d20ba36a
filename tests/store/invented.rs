//! Books of the tests' own invention: a small one that is always the same, and random ones.

use chrono::{Days, NaiveDate, Weekday};
use std::cell::Cell;
use std::ops::Deref;
use std::path::PathBuf;
use stillroom::book::rows::{
    BandStart, BatchRow, FormulaLineRow, LotRow, MaterialRow, OfferRow, OrderRow, PackagingRow, PlanRow, PostageRow,
    PremixRow, ProductRow, RateRow, Share, SupplierRow, WishKind, WishRow,
};
use stillroom::book::{Book, Journal};
use stillroom::plan::calendar::{ClosedPeriod, Span, Weekdays};
use stillroom::plan::model::{LotState, PlanAmount, PlanDay, ProductUse};
use stillroom::plan::money::{Currency, Price, Rate};
use stillroom::plan::quantity::{Density, Mass, Percent, Quantity, Unit};
use stillroom::store::{Making, Stamp, Store, Weighing, examine};
use tempfile::TempDir;

pub fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub fn stamp() -> Stamp {
    Stamp { day: date("2027-03-09"), recorded_at: "2027-03-09T08:15:00Z".to_owned(), who: String::new() }
}

pub fn new_store() -> (Home, PathBuf, Store) {
    let folder = Home(tempfile::tempdir().unwrap(), Cell::new(false));
    let path = folder.path().join("workshop.sqlite");
    let store = Store::create(&path, Currency::EUR).unwrap();
    (folder, path, store)
}

/// The folder of a store. Whatever a test did to the store, it is sound at the end.
pub struct Home(TempDir, Cell<bool>);

impl Home {
    /// Leaves the store as it is, unexamined: a test wrote to it past all acts.
    pub fn is_no_ledger(&self) {
        self.1.set(true);
    }
}

impl Deref for Home {
    type Target = TempDir;

    fn deref(&self) -> &TempDir {
        &self.0
    }
}

impl Drop for Home {
    fn drop(&mut self) {
        if !std::thread::panicking() && !self.1.get() {
            let checkup = examine(&self.path().join("workshop.sqlite")).unwrap();
            assert!(checkup.is_sound() && checkup.readable, "{:?}", checkup.hurts);
        }
    }
}

/// A store with the book in it.
pub fn store_of(book: &Book) -> (Home, PathBuf, Store) {
    let (folder, path, mut store) = new_store();
    let writing = store.writing().unwrap();
    writing.apply(&Book::default(), book, &Journal::default(), &stamp()).unwrap();
    writing.commit().unwrap();
    (folder, path, store)
}

/// A salve of oil and wax in a tin; two lots, an order of oil, a plan of two entries.
pub fn small() -> Book {
    let mut chance = Chance(7);
    let mut book = Book {
        materials: vec![material(&mut chance, 0), material(&mut chance, 1), material(&mut chance, 2)],
        suppliers: vec![supplier(&mut chance, 0), supplier(&mut chance, 1)],
        lots: vec![lot("L-0001", "m00", 500_000, 1_000), lot("L-0002", "m02", 300_000, 700)],
        ..Book::default()
    };
    book.orders = vec![order("O-2027-0001", 0, "m00", 4)];
    let line = |ingredient: &str, share| FormulaLineRow {
        formula: "salve".to_owned(),
        version: "1".to_owned(),
        ingredient: ingredient.to_owned(),
        share,
        phase: String::new(),
        withdrawn: false,
    };
    book.formula_lines =
        vec![line("m02", Share::Percent(Percent { millionths: 20_000_000 })), line("m00", Share::Balance)];
    book.products = vec![ProductRow { formula: "salve".to_owned(), ..product(&mut chance, 0) }];
    book.plan = vec![entry("P-0001", "2027-03-20"), entry("P-0002", "2027-03-15")];
    book
}

pub fn lot(code: &str, material: &str, amount: i64, cost: i64) -> LotRow {
    LotRow {
        lot: code.to_owned(),
        material: material.to_owned(),
        amount: Quantity(amount),
        supplier: "s0".to_owned(),
        supplier_lot: "9-A".to_owned(),
        received: Some(date("2027-02-01")),
        cost: Price { minor: cost },
        currency: Currency::EUR,
        best_before: Some(date("2028-02-01")),
        opened: None,
        state: LotState::Released,
        place: String::new(),
        order: String::new(),
    }
}

pub fn order(code: &str, supplier: usize, material: &str, packs: i64) -> OrderRow {
    OrderRow {
        order: code.to_owned(),
        supplier: format!("s{supplier}"),
        material: material.to_owned(),
        pack: Quantity(250_000),
        pack_text: "250 g".to_owned(),
        packs,
        placed: Some(date("2027-03-01")),
        expected: date("2027-03-12"),
        price: None,
        packs_received: 0,
        cancelled: false,
    }
}

pub fn entry(code: &str, day: &str) -> PlanRow {
    PlanRow {
        entry: code.to_owned(),
        product: "p0".to_owned(),
        amount: PlanAmount::Pieces(12),
        when: PlanDay::MakeOn(date(day)),
        dropped: false,
    }
}

pub fn batch(code: &str, entry: &str) -> BatchRow {
    BatchRow {
        batch: code.to_owned(),
        entry: entry.to_owned(),
        fulfils_entry: !entry.is_empty(),
        product: "p0".to_owned(),
        premix: String::new(),
        formula: "salve".to_owned(),
        version: "1".to_owned(),
        made_on: date("2027-03-09"),
        mass: Mass { mg: 480_000 },
        pieces: 12,
        best_before: Some(date("2028-01-01")),
        weighed_by: "Ada".to_owned(),
        note: "smooth".to_owned(),
        undone: false,
        state: LotState::Released,
    }
}

/// A batch with these draws, each weighed as the sheet asked.
pub fn making(batch: BatchRow, draws: &[(&str, i64)]) -> Making {
    let weighings = draws.iter().map(|&(lot, amount)| weighed(lot, amount)).collect();
    Making { batch, weighings, rest: None, becomes: None }
}

pub fn weighed(lot: &str, amount: i64) -> Weighing {
    Weighing {
        lot: lot.to_owned(),
        target: Quantity(amount.max(0)),
        weighed: Quantity(amount),
        tare: None,
        reason: String::new(),
        count_first: None,
    }
}

/// A stream of numbers from a seed (SplitMix64, Steele, Lea and Flood 2014), so that a failing book can be made again.
pub struct Chance(pub u64);

impl Chance {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// From 0 to `end` - 1.
    pub fn below(&mut self, end: i64) -> i64 {
        (self.next() % end.unsigned_abs()) as i64
    }

    pub fn coin(&mut self) -> bool {
        self.next() & 1 == 1
    }

    pub fn maybe<T>(&mut self, value: impl FnOnce(&mut Self) -> T) -> Option<T> {
        if self.coin() { Some(value(self)) } else { None }
    }

    fn text(&mut self) -> String {
        let words = ["", "Shea", "'; DROP TABLE lots; --", "Rosenblüte", "a \"b\"\n;", "油", "NULL", " x ", "0"];
        words[self.below(words.len() as i64) as usize].to_owned()
    }

    fn day(&mut self) -> NaiveDate {
        date("1999-12-30") + Days::new(self.below(40_000) as u64)
    }

    fn span(&mut self) -> Span {
        Span { months: self.below(1_201) as u32, days: self.below(36_526) as u32 }
    }

    fn percent(&mut self) -> Percent {
        Percent { millionths: self.below(100_000_000) }
    }

    fn price(&mut self) -> Price {
        let end = if self.coin() { 100 } else { Price::MAX_ENTERED.minor + 1 };
        Price { minor: self.below(end) }
    }

    fn quantity(&mut self) -> Quantity {
        let end = if self.coin() { 1_000 } else { Quantity::MAX_ENTERED.0 };
        Quantity(1 + self.below(end))
    }

    fn currency(&mut self) -> Currency {
        let codes = ["EUR", "JPY", "KWD", "CLF", "GBP"];
        Currency::from_code(codes[self.below(5) as usize]).unwrap()
    }

    /// Some of the numbers below `end`, in order.
    fn some(&mut self, end: usize) -> Vec<usize> {
        (0..end).filter(|_| self.below(3) > 0).collect()
    }
}

/// Materials `m00` to `m09`; every second one is packaging, whatever the seed.
fn material(chance: &mut Chance, number: usize) -> MaterialRow {
    MaterialRow {
        code: format!("m{number:02}"),
        name: chance.text(),
        inci: chance.text(),
        unit: if number.is_multiple_of(2) { Unit::Milligram } else { Unit::Piece },
        density: chance.maybe(|chance| Density { micrograms_per_ml: 1 + chance.below(2_000_000) }),
        piece_mass: chance.maybe(|chance| Mass { mg: chance.below(50_000) }),
        unopened_life: chance.maybe(Chance::span),
        opened_life: chance.maybe(Chance::span),
        safety_stock: chance.quantity(),
        shelf_space: None,
        max_leave_on: chance.maybe(Chance::percent),
        max_rinse_off: chance.maybe(Chance::percent),
        storage: chance.text(),
        caution: chance.text(),
        always_at_hand: chance.coin(),
    }
}

fn supplier(chance: &mut Chance, number: usize) -> SupplierRow {
    let week = [Weekday::Mon, Weekday::Tue, Weekday::Wed, Weekday::Thu, Weekday::Fri, Weekday::Sat, Weekday::Sun];
    let weekdays = chance.some(7).into_iter().fold(Weekdays::default(), |days, day| days.with(week[day]));
    let closed = chance.some(3).into_iter().map(|_| ClosedPeriod { from: chance.day(), to: chance.day() }).collect();
    SupplierRow {
        code: format!("s{number}"),
        name: chance.text(),
        email: chance.text(),
        currency: chance.currency(),
        lead_time_days: chance.below(90) as u32,
        order_weekdays: weekdays,
        closed,
        minimum_order: chance.price(),
        postage: chance.price(),
        free_postage_from: chance.maybe(Chance::price),
        duty: chance.percent(),
    }
}

fn product(chance: &mut Chance, number: usize) -> ProductRow {
    ProductRow {
        code: format!("p{number}"),
        name: chance.text(),
        formula: format!("f{}", chance.below(6)),
        version: chance.text(),
        product_use: chance.maybe(|chance| if chance.coin() { ProductUse::LeaveOn } else { ProductUse::RinseOff }),
        net_mass: chance.maybe(|chance| Mass { mg: 1 + chance.below(500_000) }),
        pieces_per_mould: chance.maybe(|chance| 1 + chance.below(40)),
        loss: chance.percent(),
        setting_days: chance.below(9) as u32,
        curing_days: chance.below(60) as u32,
        shelf_life: chance.maybe(Chance::span),
        minimum_life: chance.maybe(Chance::span),
    }
}

fn random_wishes(chance: &mut Chance, book: &mut Book) {
    for material in &mut book.materials {
        material.shelf_space = chance.maybe(|chance| Quantity(1 + chance.below(9_000_000)));
    }
    for number in chance.some(6) {
        let supplier = chance.maybe(|chance| format!("s{}", chance.below(4))).unwrap_or_default();
        let kinds = [WishKind::Exclude, WishKind::Pin, WishKind::Prefer, WishKind::Budget];
        book.wishes.push(WishRow {
            wish: format!("W-{number:04}"),
            kind: kinds[chance.below(4) as usize],
            supplier,
            material: chance.maybe(|chance| format!("m0{}", chance.below(10))).unwrap_or_default(),
            pack: chance.maybe(|chance| Quantity(1 + chance.below(9_000_000))),
            from: chance.maybe(|_| date("2027-03-01")),
            to: chance.maybe(|_| date("2027-04-01")),
            percent: chance.maybe(Chance::percent),
            amount: chance.maybe(Chance::price),
            reason: String::new(),
            lifted: chance.below(2) == 0,
        });
    }
}

/// A random book in which every reference leads somewhere. All have materials `m00` to `m09`, premixes `x0` to `x3`,
/// suppliers `s0` to `s3` and products `p0` to `p3`; of the rest each has some.
pub fn random(seed: u64) -> Book {
    let mut chance = Chance(seed);
    let chance = &mut chance;
    let mut book = Book {
        materials: (0..10).map(|number| material(chance, number)).collect(),
        suppliers: (0..4).map(|number| supplier(chance, number)).collect(),
        products: (0..4).map(|number| product(chance, number)).collect(),
        ..Book::default()
    };
    book.premixes = (0..4)
        .map(|number| PremixRow {
            code: format!("x{number}"),
            formula: format!("f{number}"),
            make_ahead_days: chance.below(60) as u32,
            loss: chance.percent(),
            life: chance.maybe(Chance::span),
        })
        .collect();
    random_trade(chance, &mut book);
    random_wishes(chance, &mut book);
    random_stock(chance, &mut book);
    random_formulas(chance, &mut book);
    for number in chance.some(4) {
        for material in chance.some(4).into_iter().rev() {
            book.packaging.push(PackagingRow {
                product: format!("p{number}"),
                material: format!("m0{}", 2 * material + 1),
                per_piece_millionths: chance.below(9_000_000),
                per_batch: chance.below(9),
            });
        }
    }
    // The order of a plan is that of its file, not that of its codes.
    for number in chance.some(12).into_iter().rev() {
        let amount = match chance.below(3) {
            0 => PlanAmount::Pieces(chance.below(500)),
            1 => PlanAmount::Moulds(chance.below(9)),
            _ => PlanAmount::NetMass(Mass { mg: chance.below(9_000_000) }),
        };
        let day = chance.day();
        let when = if chance.coin() { PlanDay::MakeOn(day) } else { PlanDay::ReadyBy(day) };
        let code = (number * 5) % 12;
        book.plan.push(PlanRow {
            entry: format!("P-{code:04}"),
            product: format!("p{}", chance.below(4)),
            amount,
            when,
            dropped: false,
        });
    }
    book
}

/// Formulas with their versions.
fn random_formulas(chance: &mut Chance, book: &mut Book) {
    for formula in chance.some(5) {
        for version in chance.some(3) {
            for line in 0..=chance.below(4) {
                book.formula_lines.push(FormulaLineRow {
                    formula: format!("f{formula}"),
                    version: version.to_string(),
                    ingredient: if chance.coin() {
                        format!("m0{}", chance.below(10))
                    } else {
                        format!("x{}", line % 4)
                    },
                    share: if line == 0 { Share::Balance } else { Share::Percent(chance.percent()) },
                    phase: chance.text(),
                    withdrawn: false,
                });
            }
        }
    }
}

/// Postage, offers, rates.
fn random_trade(chance: &mut Chance, book: &mut Book) {
    for number in chance.some(4) {
        let by_weight = chance.coin();
        for band in chance.some(4) {
            let from = 1_000 * band as i64;
            let from =
                if by_weight { BandStart::Weight(Mass { mg: from }) } else { BandStart::Value(Price { minor: from }) };
            book.postage.push(PostageRow { supplier: format!("s{number}"), from, fee: chance.price() });
        }
        for material in chance.some(10) {
            for from_packs in chance.some(3) {
                book.offers.push(OfferRow {
                    supplier: format!("s{number}"),
                    material: format!("m{material:02}"),
                    pack: Quantity(1_000),
                    pack_text: chance.text(),
                    price: chance.price(),
                    from_packs: 1 + from_packs as i64,
                    life_on_arrival: chance.maybe(Chance::span),
                    item_no: chance.text(),
                });
            }
        }
    }
    for code in ["CLF", "JPY"] {
        for day in chance.some(5) {
            let date = date("2027-01-01") + Days::new(day as u64);
            let rate = Rate { billionths: 1 + chance.below(1_000_000_000_000) };
            book.rates.push(RateRow { date, currency: Currency::from_code(code).unwrap(), rate });
        }
    }
}

/// Orders and lots.
fn random_stock(chance: &mut Chance, book: &mut Book) {
    for number in 0..3 {
        for material in chance.some(4) {
            book.orders.push(OrderRow {
                order: format!("O-2027-{number:04}"),
                supplier: format!("s{number}"),
                material: format!("m{material:02}"),
                pack: Quantity(1_000),
                pack_text: chance.text(),
                packs: 1 + chance.below(20),
                placed: chance.maybe(Chance::day),
                expected: chance.day(),
                price: chance.maybe(Chance::price),
                packs_received: chance.below(9),
                cancelled: chance.coin(),
            });
        }
    }
    for number in chance.some(12) {
        let states = [LotState::Released, LotState::Quarantine, LotState::Rejected];
        book.lots.push(LotRow {
            lot: format!("L-{number:04}"),
            material: if chance.coin() { format!("m0{}", number % 10) } else { format!("x{}", number % 4) },
            amount: chance.quantity(),
            supplier: if chance.coin() { String::new() } else { format!("s{}", chance.below(4)) },
            supplier_lot: chance.text(),
            received: chance.maybe(Chance::day),
            cost: chance.price(),
            currency: chance.currency(),
            best_before: chance.maybe(Chance::day),
            opened: chance.maybe(Chance::day),
            state: states[chance.below(3) as usize],
            place: chance.text(),
            order: String::new(),
        });
    }
}
