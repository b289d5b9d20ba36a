//! Random workshops that keep all rules, with texts that files find hard.

use chrono::{Days, NaiveDate, Weekday};
use stillroom::book::rows::*;
use stillroom::book::{Book, Journal};
use stillroom::plan::calendar::{ClosedPeriod, Span, Weekdays};
use stillroom::plan::measure::{DecimalMark, Measure, canonical};
use stillroom::plan::model::{LotState, PlanAmount, PlanDay, ProductUse};
use stillroom::plan::money::{Currency, Price, Rate};
use stillroom::plan::quantity::{Density, Mass, Percent, Quantity, Unit};

const TEXTS: [&str; 14] = [
    "",
    "plain",
    "=1+1",
    "'tis",
    "''=",
    "@home",
    "+49 30",
    "-5 g",
    "-5",
    "with,comma",
    "a \"quote\"",
    "semi;colon",
    "ünïcode – 油",
    "=cmd|' /C x'!A0",
];

/// Numbers from a seed (SplitMix64, Steele and others 2014).
pub struct Dice(pub u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }
    fn below(&mut self, limit: i64) -> i64 {
        (self.roll() % limit as u64) as i64
    }
    fn coin(&mut self) -> bool {
        self.below(2) == 0
    }
    fn pick<T: Clone>(&mut self, list: &[T]) -> T {
        list[self.below(list.len() as i64) as usize].clone()
    }
    fn text(&mut self) -> String {
        self.pick(&TEXTS).to_owned()
    }
    fn filled(&mut self) -> String {
        self.pick(&TEXTS[1..]).to_owned()
    }
    fn code(&mut self, letter: &str, number: i64) -> String {
        let odd = self.pick(&["", "", " x", ",y", "\"q\"", "=", "é"]);
        let odd = format!("{letter}{number}{odd}");
        if self.below(8) == 0 { format!("={odd}") } else { odd }
    }
    fn maybe<T>(&mut self, make: impl FnOnce(&mut Self) -> T) -> Option<T> {
        if self.coin() { Some(make(self)) } else { None }
    }
    fn day(&mut self) -> NaiveDate {
        let start = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap();
        start.checked_add_days(Days::new(self.below(900) as u64)).unwrap()
    }
    fn span(&mut self) -> Span {
        let months = if self.coin() { self.below(60) as u32 } else { 0 };
        Span { months, days: if self.coin() { self.below(700) as u32 } else { 0 } }
    }
    fn percent(&mut self, limit: i64) -> Percent {
        let steps = self.pick(&[1, 1_000, 250_000, 1_000_000]);
        Percent { millionths: self.below(limit / steps) * steps }
    }
    fn amount(&mut self) -> Quantity {
        let size = self.pick(&[10, 1_000, 1_000_000, 1_000_000_000]);
        Quantity(1 + self.below(size))
    }
    fn price(&mut self) -> Price {
        Price { minor: self.below(1_000_000) }
    }
}

/// A whole workshop from a seed.
pub fn random_book(seed: u64) -> (Book, Journal) {
    let mut dice = Dice(seed);
    let mut book = Book::default();
    materials(&mut dice, &mut book);
    suppliers(&mut dice, &mut book);
    offers(&mut dice, &mut book);
    recipes(&mut dice, &mut book);
    products(&mut dice, &mut book);
    stock(&mut dice, &mut book);
    wishes(&mut dice, &mut book);
    let journal = journal(&mut dice, &book);
    (book, journal)
}

fn materials(dice: &mut Dice, book: &mut Book) {
    for number in 0..4 + dice.below(5) {
        let unit = if number % 3 == 2 { Unit::Piece } else { Unit::Milligram };
        book.materials.push(MaterialRow {
            code: dice.code("m", number),
            name: dice.filled(),
            inci: dice.text(),
            unit,
            density: dice.maybe(|dice| Density { micrograms_per_ml: 1 + dice.below(24_000_000) }),
            piece_mass: dice.maybe(|dice| Mass { mg: dice.below(100_000) }),
            unopened_life: dice.maybe(Dice::span),
            opened_life: dice.maybe(Dice::span),
            safety_stock: if dice.coin() { Quantity::ZERO } else { dice.amount() },
            shelf_space: dice.maybe(Dice::amount),
            max_leave_on: dice.maybe(|dice| dice.percent(100_000_000)),
            max_rinse_off: dice.maybe(|dice| dice.percent(100_000_000)),
            storage: dice.text(),
            caution: dice.text(),
            always_at_hand: dice.coin(),
        });
    }
    book.materials.sort_by(|left, right| left.code.cmp(&right.code));
}

fn suppliers(dice: &mut Dice, book: &mut Book) {
    let currencies = ["EUR", "GBP", "JPY", "KWD"].map(|code| Currency::from_code(code).unwrap());
    for number in 0..1 + dice.below(4) {
        let weekdays = [Weekday::Mon, Weekday::Thu, Weekday::Sun];
        let closed = (0..dice.below(3)).map(|_| {
            let from = dice.day();
            ClosedPeriod { from, to: from.checked_add_days(Days::new(dice.below(20) as u64)).unwrap() }
        });
        book.suppliers.push(SupplierRow {
            closed: closed.collect(),
            code: dice.code("s", number),
            name: dice.filled(),
            email: dice.pick(&["", "orders@supplier.example"]).to_owned(),
            currency: dice.pick(&currencies),
            lead_time_days: dice.below(60) as u32,
            order_weekdays: (0..dice.below(3)).fold(Weekdays::default(), |days, _| days.with(dice.pick(&weekdays))),
            minimum_order: dice.price(),
            postage: dice.price(),
            free_postage_from: dice.maybe(Dice::price),
            duty: dice.percent(30_000_000),
        });
    }
    book.suppliers.sort_by(|left, right| left.code.cmp(&right.code));
    for supplier in &book.suppliers {
        let by_weight = dice.coin();
        for band in 0..dice.below(4) {
            let from = if by_weight {
                BandStart::Weight(Mass { mg: band * 1_234_567 })
            } else {
                BandStart::Value(Price { minor: band * 1_234 })
            };
            book.postage.push(PostageRow { supplier: supplier.code.clone(), from, fee: dice.price() });
        }
    }
    for currency in &currencies[1..] {
        let mut dates: Vec<NaiveDate> = (0..dice.below(4)).map(|_| dice.day()).collect();
        dates.sort();
        dates.dedup();
        for date in dates {
            book.rates.push(RateRow {
                date,
                currency: *currency,
                rate: Rate { billionths: 1 + dice.below(9_000_000_000) },
            });
        }
    }
}

/// Wishes of every kind, filled in as their kinds want it.
fn wishes(dice: &mut Dice, book: &mut Book) {
    let blank = |number: i64, kind| WishRow {
        wish: format!("W-{number:04}"),
        kind,
        supplier: String::new(),
        material: String::new(),
        pack: None,
        from: None,
        to: None,
        percent: None,
        amount: None,
        reason: String::new(),
        lifted: false,
    };
    for number in 0..dice.below(5) {
        let supplier = dice.pick(&book.suppliers).code.clone();
        let material = dice.pick(&book.materials).code.clone();
        let kind = dice.pick(&[WishKind::Exclude, WishKind::Pin]);
        let day = dice.day();
        let wish = match dice.below(6) {
            0 => WishRow { supplier, ..blank(number, kind) },
            1 => WishRow { material, ..blank(number, kind) },
            2 => WishRow { supplier, material, pack: Some(dice.amount()), ..blank(number, kind) },
            3 => WishRow { from: Some(day), to: Some(day), ..blank(number, kind) },
            4 => WishRow { supplier, percent: Some(dice.percent(100_000_000)), ..blank(number, WishKind::Prefer) },
            _ => WishRow { amount: Some(dice.price()), ..blank(number, WishKind::Budget) },
        };
        book.wishes.push(WishRow { reason: dice.text(), lifted: dice.coin(), ..wish });
    }
}

/// A pack and how it is written: canonical, or in fluid ounces where there is a density.
fn pack(dice: &mut Dice, material: &MaterialRow) -> (Quantity, String) {
    if material.unit == Unit::Milligram && material.density.is_some() && dice.coin() {
        let text = dice.pick(&["16 fl oz", "1.5 L", "250ml", "3 tsp"]).to_owned();
        let read =
            Measure::parse(&text, DecimalMark::Point).unwrap().quantity(Unit::Milligram, material.density).unwrap();
        if !read.is_zero() {
            return (read, text);
        }
    }
    let pack = dice.amount();
    (pack, canonical(pack, material.unit))
}

fn offers(dice: &mut Dice, book: &mut Book) {
    for _ in 0..dice.below(12) {
        let (supplier, material) = (dice.pick(&book.suppliers), dice.pick(&book.materials));
        let (pack, pack_text) = pack(dice, &material);
        let is_there =
            |row: &OfferRow| row.supplier == supplier.code && row.material == material.code && row.pack == pack;
        if book.offers.iter().any(is_there) {
            continue;
        }
        let (life_on_arrival, item_no) = (dice.maybe(Dice::span), dice.text());
        for from_packs in [1, 5, 20].into_iter().take(1 + dice.below(3) as usize) {
            book.offers.push(OfferRow {
                supplier: supplier.code.clone(),
                material: material.code.clone(),
                pack,
                pack_text: pack_text.clone(),
                price: dice.price(),
                from_packs,
                life_on_arrival,
                item_no: item_no.clone(),
            });
        }
    }
    let key = |row: &OfferRow| (row.supplier.clone(), row.material.clone(), row.pack, row.from_packs);
    book.offers.sort_by_key(key);
    for number in 0..dice.below(4) {
        let (supplier, material) = (dice.pick(&book.suppliers), dice.pick(&book.materials));
        let (pack, pack_text) = pack(dice, &material);
        let packs = 1 + dice.below(50);
        book.orders.push(OrderRow {
            order: dice.code("o", number),
            supplier: supplier.code,
            material: material.code,
            pack,
            pack_text,
            packs,
            placed: dice.maybe(Dice::day),
            expected: dice.day(),
            price: dice.maybe(Dice::price),
            packs_received: dice.below(packs + 1),
            cancelled: dice.coin(),
        });
    }
    book.orders.sort_by(|left, right| left.order.cmp(&right.order));
}

fn recipes(dice: &mut Dice, book: &mut Book) {
    let mut ingredients: Vec<String> =
        book.materials.iter().filter(|row| row.unit == Unit::Milligram).map(|row| row.code.clone()).collect();
    for number in 0..1 + dice.below(4) {
        let formula = dice.code("f", number);
        for version in ["1", "2", "v10"].into_iter().take(1 + dice.below(3) as usize) {
            let count = 1 + dice.below(4);
            let withdrawn = dice.below(4) == 0;
            let mut left = Percent::HUNDRED.millionths;
            for line in 0..count {
                let share = match (line + 1 == count, dice.coin()) {
                    (true, true) => Share::Balance,
                    (true, false) => Share::Percent(Percent { millionths: left }),
                    (false, _) => Share::Percent(Percent { millionths: dice.below(left + 1) }),
                };
                if let Share::Percent(percent) = share {
                    left -= percent.millionths;
                }
                book.formula_lines.push(FormulaLineRow {
                    formula: formula.clone(),
                    version: version.to_owned(),
                    ingredient: dice.pick(&ingredients),
                    share,
                    phase: dice.text(),
                    withdrawn,
                });
            }
        }
        let code = dice.code("x", number);
        // Later formulas may contain this premix, never the other way round: no circle.
        ingredients.push(code.clone());
        let loss = dice.percent(100_000_000);
        book.premixes.push(PremixRow {
            code,
            formula,
            make_ahead_days: dice.below(60) as u32,
            loss,
            life: dice.maybe(Dice::span),
        });
    }
    let key = |row: &FormulaLineRow| (row.formula.clone(), row.version.clone());
    book.formula_lines.sort_by_key(key);
    book.premixes.sort_by(|left, right| left.code.cmp(&right.code));
}

fn products(dice: &mut Dice, book: &mut Book) {
    let packaging: Vec<String> =
        book.materials.iter().filter(|row| row.unit == Unit::Piece).map(|row| row.code.clone()).collect();
    for number in 0..1 + dice.below(3) {
        let line = dice.pick(&book.formula_lines);
        let loss = dice.percent(100_000_000);
        book.products.push(ProductRow {
            code: dice.code("p", number),
            name: dice.filled(),
            formula: line.formula,
            version: if dice.coin() { line.version } else { String::new() },
            product_use: dice.pick(&[None, Some(ProductUse::LeaveOn), Some(ProductUse::RinseOff)]),
            net_mass: Some(Mass { mg: 1 + dice.below(500_000) }),
            pieces_per_mould: Some(1 + dice.below(40)),
            loss,
            setting_days: dice.below(5) as u32,
            curing_days: dice.below(50) as u32,
            shelf_life: dice.maybe(Dice::span),
            minimum_life: dice.maybe(Dice::span),
        });
    }
    book.products.sort_by(|left, right| left.code.cmp(&right.code));
    for product in &book.products {
        for material in packaging.iter().rev().take(dice.below(3) as usize) {
            book.packaging.push(PackagingRow {
                product: product.code.clone(),
                material: material.clone(),
                per_piece_millionths: dice.below(3_000_000),
                per_batch: dice.below(4),
            });
        }
    }
    for number in (0..dice.below(6)).rev() {
        let amount = match dice.below(3) {
            0 => PlanAmount::Pieces(1 + dice.below(500)),
            1 => PlanAmount::Moulds(1 + dice.below(9)),
            _ => PlanAmount::NetMass(Mass { mg: dice.amount().0 }),
        };
        let day = dice.day();
        book.plan.push(PlanRow {
            entry: dice.code("e", number),
            product: dice.pick(&book.products).code,
            amount,
            when: if dice.coin() { PlanDay::MakeOn(day) } else { PlanDay::ReadyBy(day) },
            dropped: dice.below(4) == 0,
        });
    }
}

fn stock(dice: &mut Dice, book: &mut Book) {
    let mut items: Vec<String> = book.materials.iter().map(|row| row.code.clone()).collect();
    items.extend(book.premixes.iter().map(|row| row.code.clone()));
    for number in 0..dice.below(8) {
        let orders: Vec<String> = book.orders.iter().map(|row| row.order.clone()).chain([String::new()]).collect();
        book.lots.push(LotRow {
            lot: dice.code("L", number),
            material: dice.pick(&items),
            amount: dice.amount(),
            supplier: dice.maybe(|dice| dice.pick(&book.suppliers).code).unwrap_or_default(),
            supplier_lot: dice.text(),
            received: dice.maybe(Dice::day),
            cost: dice.price(),
            currency: dice.pick(&book.suppliers).currency,
            best_before: dice.maybe(Dice::day),
            opened: dice.maybe(Dice::day),
            state: dice.pick(&[LotState::Released, LotState::Quarantine, LotState::Rejected]),
            place: dice.text(),
            order: dice.pick(&orders),
        });
    }
    book.lots.sort_by(|left, right| left.lot.cmp(&right.lot));
}

fn journal(dice: &mut Dice, book: &Book) -> Journal {
    let mut journal = Journal::default();
    journal.settings.push(SettingRow { setting: "home_currency".to_owned(), value: "EUR".to_owned() });
    for number in 0..dice.below(3) {
        let product = dice.pick(&book.products);
        let premix = book.premixes.first().filter(|_| dice.coin()).cloned();
        let formula = premix.as_ref().map_or(product.formula, |premix| premix.formula.clone());
        let version = book.formula_lines.iter().find(|line| line.formula == formula).unwrap().version.clone();
        let entry = dice.text();
        journal.batches.push(BatchRow {
            batch: dice.code("B", number),
            fulfils_entry: !entry.is_empty() && dice.coin(),
            entry,
            product: if premix.is_some() { String::new() } else { product.code },
            premix: premix.map_or_else(String::new, |premix| premix.code),
            formula,
            version,
            made_on: dice.day(),
            mass: Mass { mg: dice.amount().0 },
            pieces: dice.below(500),
            best_before: dice.maybe(Dice::day),
            weighed_by: dice.text(),
            note: dice.text(),
            undone: dice.coin(),
            state: dice.pick(&[LotState::Released, LotState::Quarantine, LotState::Rejected]),
        });
    }
    journal.batches.sort_by(|left, right| left.batch.cmp(&right.batch));
    for lot in &book.lots {
        let drawn = dice.below(lot.amount.0 + 1);
        let kinds = [MovementKind::Issue, MovementKind::WriteOff, MovementKind::Return, MovementKind::Count];
        for (kind, amount) in [(MovementKind::Receipt, lot.amount.0), (dice.pick(&kinds), -drawn)] {
            let movement = journal.ledger.len() as i64 + 1;
            let batch = journal.batches.first().map_or_else(String::new, |row| row.batch.clone());
            journal.ledger.push(MovementRow {
                movement,
                act: movement,
                kind,
                lot: lot.lot.clone(),
                amount,
                cost: if amount < 0 { -dice.below(100) } else { lot.cost.minor },
                day: dice.day(),
                recorded_at: "2027-03-09T08:15:00Z".to_owned(),
                reason: dice.text(),
                batch: if dice.coin() { batch } else { String::new() },
                reverses: if movement > 1 { dice.maybe(|dice| 1 + dice.below(movement - 1)) } else { None },
            });
        }
    }
    history(dice, book, &mut journal);
    journal
}

/// Acts, weighing sheets, pieces and changes; the ledger is there.
fn history(dice: &mut Dice, book: &Book, journal: &mut Journal) {
    let last = journal.ledger.len() as i64 + dice.below(4);
    for act in 1..=last {
        journal.acts.push(ActRow {
            act,
            kind: dice.filled(),
            subject: dice.text(),
            day: dice.day(),
            recorded_at: "2027-03-09T08:15:00Z".to_owned(),
            undoes: if act > 1 { dice.maybe(|dice| 1 + dice.below(act - 1)) } else { None },
            who: dice.text(),
        });
    }
    let batches: Vec<String> = journal.batches.iter().map(|row| row.batch.clone()).collect();
    for batch in batches.iter().filter(|_| last > 0) {
        for (kind, pieces) in
            [(PieceKind::Made, 40), (PieceKind::Count, -3), (PieceKind::Sale, -30), (PieceKind::Waste, 0)]
        {
            journal.pieces.push(PieceRow {
                piece_movement: journal.pieces.len() as i64 + 1,
                act: 1 + dice.below(last),
                batch: batch.clone(),
                kind,
                pieces,
                day: dice.day(),
                reason: dice.text(),
                reverses: None,
            });
        }
        for (place, lot) in (1..).zip(book.lots.iter().take(dice.below(4) as usize)) {
            journal.weighings.push(WeighingRow {
                batch: batch.clone(),
                place,
                lot: lot.lot.clone(),
                target: Quantity(dice.below(2) * dice.amount().0),
                weighed: Quantity(dice.below(2) * dice.amount().0),
                tare: dice.maybe(|dice| Mass { mg: dice.amount().0 }),
                reason: dice.text(),
            });
        }
    }
    for change in 1..=if last > 0 { dice.below(6) } else { 0 } {
        let (what, fields) = dice.pick(&CHANGED_FIELDS);
        let field = dice.pick(fields).to_owned();
        let is_state = (what, field.as_str()) == ("batch", "state");
        journal.changes.push(ChangeRow {
            change,
            act: 1 + dice.below(last),
            what: what.to_owned(),
            code: dice.filled(),
            part: dice.text(),
            field,
            before: dice.text(),
            after: if is_state { dice.pick(&["released", "quarantine"]).to_owned() } else { dice.text() },
            who: dice.text(),
            reason: dice.text(),
        });
    }
}
