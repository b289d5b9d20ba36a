//! Workshops to measure with, as stores: the example, and made ones of any size, the same for the same seed.

use super::maker::Dice;
use chrono::{Days, NaiveDate};
use std::path::Path;
use stillroom::book::rows::{
    FormulaLineRow, LotRow, MaterialRow, OfferRow, PackagingRow, PlanRow, PremixRow, ProductRow, Share, SupplierRow,
};
use stillroom::book::{Book, Journal};
use stillroom::intake::{check, read_paths};
use stillroom::plan::calendar::{Span, Weekdays};
use stillroom::plan::model::{LotState, PlanAmount, PlanDay, ProductUse};
use stillroom::plan::money::{Currency, Price};
use stillroom::plan::quantity::{Mass, Percent, Quantity, Unit};
use stillroom::store::{Stamp, Store};

/// The day on which all of them stand.
pub fn today() -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, 3, 1).unwrap()
}

fn stamp() -> Stamp {
    Stamp { day: today(), recorded_at: "2027-03-01T05:00:00Z".to_owned(), who: String::new() }
}

/// The example workshop in a new store.
pub fn example(path: &Path) {
    let files = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/workshop");
    let sheets = read_paths(&[files]);
    let checked = check(&sheets, Currency::EUR, &Book::default(), &[], &Journal::default()).unwrap();
    lay_down(path, &checked.merged);
}

/// How much there is of what; the plan goes over a year.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    /// Raw materials and packaging; a fifth is packaging.
    pub materials: usize,
    /// Lots with something in them.
    pub lots: usize,
    /// Plan entries that are still to be made.
    pub entries: usize,
}

/// A made workshop in a new store.
pub fn made(path: &Path, size: Size, seed: u64) {
    lay_down(path, &book(size, seed));
}

fn lay_down(path: &Path, book: &Book) {
    let mut store = Store::create(path, Currency::EUR).unwrap();
    let writing = store.writing().unwrap();
    let existing = writing.whole_book().unwrap();
    writing.apply(&existing, book, &Journal::default(), &stamp()).unwrap();
    writing.commit().unwrap();
}

/// The rows of a made workshop: a premix for every fifty materials, a product for every eight, six lines to a formula.
pub fn book(size: Size, seed: u64) -> Book {
    let mut dice = Dice(seed);
    let packaging = size.materials / 5;
    let raw = size.materials - packaging;
    let (premixes, products) = (raw / 50 + 1, size.materials / 8 + 1);
    let mut book = Book::default();
    for place in 0..size.materials {
        book.materials.push(material(place, place >= raw, &mut dice));
    }
    for place in 0..12 {
        book.suppliers.push(supplier(place, &mut dice));
    }
    for place in 0..size.materials {
        offers(&mut book, place, &mut dice);
    }
    for place in 0..premixes {
        let code = format!("P{place:04}");
        formula(&mut book, &format!("of-{code}"), (raw, 0, 3), &mut dice);
        let (make_ahead_days, loss) = (u32::try_from(place % 5).unwrap(), Percent { millionths: 1_000_000 });
        let life = Some(Span { months: 9, days: 0 });
        book.premixes.push(PremixRow { formula: format!("of-{code}"), code, make_ahead_days, loss, life });
    }
    for place in 0..products {
        let code = format!("G{place:04}");
        formula(&mut book, &format!("of-{code}"), (raw, premixes, 6), &mut dice);
        for _ in 0..2 {
            let material = format!("M{:05}", raw + index(&mut dice, packaging));
            if !book.packaging.iter().any(|row| row.product == code && row.material == material) {
                book.packaging.push(PackagingRow {
                    product: code.clone(),
                    material,
                    per_piece_millionths: 1_000_000,
                    per_batch: 0,
                });
            }
        }
        book.products.push(product(code, &mut dice));
    }
    for place in 0..size.lots {
        let row = lot(&book, place, index(&mut dice, size.materials), &mut dice);
        book.lots.push(row);
    }
    for place in 0..size.entries {
        let day = today() + Days::new(u64::try_from(place * 365 / size.entries.max(1)).unwrap());
        let amount = PlanAmount::Pieces(dice.between(12, 60));
        let product = format!("G{:04}", index(&mut dice, products));
        let when = PlanDay::MakeOn(day);
        book.plan.push(PlanRow { entry: format!("E{place:05}"), product, amount, when, dropped: false });
    }
    book.offers.sort_by(|a, b| {
        (&a.supplier, &a.material, a.pack, a.from_packs).cmp(&(&b.supplier, &b.material, b.pack, b.from_packs))
    });
    book.formula_lines.sort_by(|a, b| a.formula.cmp(&b.formula));
    book
}

fn index(dice: &mut Dice, below: usize) -> usize {
    usize::try_from(dice.below(i64::try_from(below.max(1)).unwrap())).unwrap()
}

fn material(place: usize, is_packaging: bool, dice: &mut Dice) -> MaterialRow {
    let unit = if is_packaging { Unit::Piece } else { Unit::Milligram };
    let may_open = !is_packaging && dice.percent(4);
    MaterialRow {
        code: format!("M{place:05}"),
        name: format!("Made material no. {place}"),
        inci: String::new(),
        unit,
        density: None,
        piece_mass: is_packaging.then_some(Mass { mg: 12_000 }),
        unopened_life: (!is_packaging).then_some(Span { months: 18, days: 0 }),
        opened_life: may_open.then_some(Span { months: 6, days: 0 }),
        safety_stock: Quantity(if dice.percent(30) { dice.between(1, 50) * 10_000 } else { 0 }),
        shelf_space: None,
        max_leave_on: None,
        max_rinse_off: None,
        storage: String::new(),
        caution: String::new(),
        always_at_hand: place == 0,
    }
}

fn supplier(place: usize, dice: &mut Dice) -> SupplierRow {
    SupplierRow {
        code: format!("S{place:02}"),
        name: format!("Made supplier no. {place}"),
        email: String::new(),
        currency: Currency::EUR,
        lead_time_days: u32::try_from(dice.between(2, 14)).unwrap(),
        order_weekdays: Weekdays::default(),
        closed: Vec::new(),
        minimum_order: Price { minor: 0 },
        postage: Price { minor: dice.between(300, 1_200) },
        free_postage_from: Some(Price { minor: 15_000 }),
        duty: Percent::ZERO,
    }
}

fn offers(book: &mut Book, place: usize, dice: &mut Dice) {
    let first = index(dice, 12);
    for step in 0..2 {
        let row = &book.materials[place];
        let (pack, pack_text) = match row.unit {
            Unit::Milligram => (1_000_000, "1 kg"),
            Unit::Piece => (100, "100 pcs"),
        };
        book.offers.push(OfferRow {
            supplier: format!("S{:02}", (first + step) % 12),
            material: row.code.clone(),
            pack: Quantity(pack),
            pack_text: pack_text.to_owned(),
            price: Price { minor: dice.between(200, 3_000) },
            from_packs: 1,
            life_on_arrival: (row.unit == Unit::Milligram).then_some(Span { months: 12, days: 0 }),
            item_no: String::new(),
        });
    }
}

/// A formula of raw materials; where there are premixes its last line may be one.
fn formula(book: &mut Book, code: &str, (raw, premixes, lines): (usize, usize, usize), dice: &mut Dice) {
    let mut ingredients = Vec::new();
    while ingredients.len() < lines {
        let is_premix = premixes > 0 && ingredients.len() == lines - 1 && dice.percent(50);
        let ingredient =
            if is_premix { format!("P{:04}", index(dice, premixes)) } else { format!("M{:05}", index(dice, raw)) };
        if !ingredients.contains(&ingredient) {
            ingredients.push(ingredient);
        }
    }
    for (place, ingredient) in ingredients.into_iter().enumerate() {
        let percent = Percent { millionths: 100_000_000 / i64::try_from(lines + 1).unwrap() };
        let share = if place == 0 { Share::Balance } else { Share::Percent(percent) };
        let (formula, version, phase) = (code.to_owned(), "1".to_owned(), String::new());
        book.formula_lines.push(FormulaLineRow { formula, version, ingredient, share, phase, withdrawn: false });
    }
}

fn product(code: String, dice: &mut Dice) -> ProductRow {
    ProductRow {
        name: format!("Made product {code}"),
        formula: format!("of-{code}"),
        version: String::new(),
        product_use: Some(ProductUse::LeaveOn),
        net_mass: Some(Mass { mg: dice.between(20, 120) * 1_000 }),
        pieces_per_mould: None,
        loss: Percent { millionths: 3_000_000 },
        setting_days: 0,
        curing_days: 0,
        shelf_life: Some(Span { months: 12, days: 0 }),
        minimum_life: Some(Span { months: 2, days: 0 }),
        code,
    }
}

fn lot(book: &Book, place: usize, material: usize, dice: &mut Dice) -> LotRow {
    let row = &book.materials[material];
    let amount = if row.unit == Unit::Milligram { dice.between(1, 30) * 100_000 } else { dice.between(20, 600) };
    let received = today() - Days::new(dice.between(1, 200).unsigned_abs());
    let life = dice.between(60, 700).unsigned_abs();
    LotRow {
        lot: format!("K{place:06}"),
        material: row.code.clone(),
        amount: Quantity(amount),
        supplier: format!("S{:02}", place % 12),
        supplier_lot: format!("N{}", dice.below(1_000_000)),
        received: Some(received),
        cost: Price { minor: dice.between(100, 6_000) },
        currency: Currency::EUR,
        best_before: (row.unit == Unit::Milligram).then(|| received + Days::new(life)),
        opened: None,
        state: LotState::Released,
        place: "shelf 1".to_owned(),
        order: String::new(),
    }
}
