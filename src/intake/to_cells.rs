//! Typed rows to the text of their cells, in the order of the file's columns and in canonical form.

use super::check::{MOVEMENT_WORDS, PIECE_WORDS};
use super::columns::SheetKind;
use crate::book::rows::{
    ActRow, BandStart, BatchRow, ChangeRow, LotRow, MaterialRow, MovementRow, OfferRow, OrderRow, PieceRow, PlanRow,
    ProductRow, Share, SupplierRow, WeighingRow, WishRow,
};
use crate::book::{Book, Journal};
use crate::plan::calendar::ClosedPeriod;
use crate::plan::decimal::shortest;
use crate::plan::measure::{DecimalMark, Measure, canonical};
use crate::plan::model::{LotState, PlanAmount, PlanDay, ProductUse};
use crate::plan::money::{Currency, Price};
use crate::plan::quantity::{Density, Mass, Percent, Quantity, Unit};
use hashbrown::HashMap;
use std::cell::OnceCell;

/// The cells of a row.
pub(super) type Cells = Vec<String>;

/// What other rows say about the amounts of a row: in which unit and currency they are.
pub(super) struct Lookup<'a> {
    book: &'a Book,
    units: HashMap<&'a str, (Unit, Option<Density>)>,
    currencies: HashMap<&'a str, Currency>,
    /// Only the ledger and weighings ask for lots, of which there may be many.
    lots: OnceCell<HashMap<&'a str, (&'a str, Currency)>>,
    home: Currency,
}

impl<'a> Lookup<'a> {
    /// `journal` tells the home currency.
    pub(super) fn new(book: &'a Book, journal: &Journal) -> Self {
        Self {
            book,
            home: journal.home().unwrap_or(Currency::EUR),
            units: book.materials.iter().map(|row| (row.code.as_str(), (row.unit, row.density))).collect(),
            currencies: book.suppliers.iter().map(|row| (row.code.as_str(), row.currency)).collect(),
            lots: OnceCell::new(),
        }
    }

    /// True where a row of the book has the same cells by the other.
    pub(super) fn reads_as(&self, other: &Lookup<'_>) -> bool {
        self.home == other.home && self.units == other.units && self.currencies == other.currencies
    }

    fn lot(&self, code: &str) -> Option<(&'a str, Currency)> {
        let gather = || self.book.lots.iter().map(|row| (row.lot.as_str(), (row.material.as_str(), row.currency)));
        self.lots.get_or_init(|| gather().collect()).get(code).copied()
    }

    /// What is not a material is a premix, and weighed.
    fn unit(&self, item: &str) -> (Unit, Option<Density>) {
        self.units.get(item).copied().unwrap_or((Unit::Milligram, None))
    }

    fn currency(&self, supplier: &str) -> Currency {
        self.currencies.get(supplier).copied().unwrap_or(Currency::EUR)
    }

    /// The pack as it was written, where that still says the same amount.
    fn pack(&self, material: &str, pack: Quantity, pack_text: &str) -> String {
        let (unit, density) = self.unit(material);
        let read = Measure::parse(pack_text, DecimalMark::Point).and_then(|measure| measure.quantity(unit, density));
        if read == Ok(pack) { pack_text.to_owned() } else { canonical(pack, unit) }
    }
}

/// The cells of one row after the other: of a long ledger no more than one is held.
pub(super) type Rows<'a> = Box<dyn Iterator<Item = Cells> + 'a>;

/// The rows of a file of the book; none for the files of the journal.
pub(super) fn book_cells<'a, 'book: 'a>(book: &'a Book, kind: SheetKind, lookup: &'a Lookup<'book>) -> Rows<'a> {
    match kind {
        SheetKind::Materials => Box::new(book.materials.iter().map(material)),
        SheetKind::Suppliers => Box::new(book.suppliers.iter().map(supplier)),
        SheetKind::Postage => {
            let cells = move |row: &crate::book::rows::PostageRow| {
                let currency = lookup.currency(&row.supplier);
                let (by, from) = match row.from {
                    BandStart::Value(from) => ("value", price(from, currency)),
                    BandStart::Weight(from) => ("weight", mass(from)),
                };
                vec![row.supplier.clone(), by.to_owned(), from, price(row.fee, currency)]
            };
            Box::new(book.postage.iter().map(cells))
        }
        SheetKind::Offers => Box::new(book.offers.iter().map(move |row| offer(row, lookup))),
        SheetKind::Rates => {
            let cells = |row: &crate::book::rows::RateRow| {
                vec![row.date.to_string(), row.currency.to_string(), row.rate.to_string()]
            };
            Box::new(book.rates.iter().map(cells))
        }
        SheetKind::Formulas => {
            let cells = |row: &crate::book::rows::FormulaLineRow| {
                let share = share(row.share);
                vec![
                    row.formula.clone(),
                    row.version.clone(),
                    row.ingredient.clone(),
                    share,
                    row.phase.clone(),
                    yes(row.withdrawn),
                ]
            };
            Box::new(book.formula_lines.iter().map(cells))
        }
        SheetKind::Premixes => {
            let cells = |row: &crate::book::rows::PremixRow| {
                let days = row.make_ahead_days.to_string();
                vec![row.code.clone(), row.formula.clone(), days, percent(row.loss), shown(row.life)]
            };
            Box::new(book.premixes.iter().map(cells))
        }
        SheetKind::Products => Box::new(book.products.iter().map(product)),
        SheetKind::Packaging => {
            let cells = |row: &crate::book::rows::PackagingRow| {
                let per_piece = shortest(row.per_piece_millionths, 6);
                vec![row.product.clone(), row.material.clone(), per_piece, row.per_batch.to_string()]
            };
            Box::new(book.packaging.iter().map(cells))
        }
        SheetKind::Orders => Box::new(book.orders.iter().map(move |row| order(row, lookup))),
        SheetKind::Lots => Box::new(book.lots.iter().map(move |row| lot(row, lookup))),
        SheetKind::Plan => Box::new(book.plan.iter().map(plan_entry)),
        SheetKind::Wishes => Box::new(book.wishes.iter().map(move |row| wish(row, lookup))),
        SheetKind::Counts
        | SheetKind::Settings
        | SheetKind::Acts
        | SheetKind::Batches
        | SheetKind::Weighings
        | SheetKind::Ledger
        | SheetKind::Pieces
        | SheetKind::Changes => Box::new(std::iter::empty()),
    }
}

/// The rows of a file of the journal; none for the files of the book.
pub(super) fn journal_cells<'a, 'book: 'a>(
    journal: &'a Journal,
    kind: SheetKind,
    lookup: &'a Lookup<'book>,
) -> Rows<'a> {
    match kind {
        SheetKind::Settings => {
            Box::new(journal.settings.iter().map(move |row| vec![row.setting.clone(), row.value.clone()]))
        }
        SheetKind::Acts => Box::new(journal.acts.iter().map(act)),
        SheetKind::Batches => Box::new(journal.batches.iter().map(batch)),
        SheetKind::Weighings => Box::new(journal.weighings.iter().map(move |row| weighing(row, lookup))),
        SheetKind::Pieces => Box::new(journal.pieces.iter().map(pieces)),
        SheetKind::Changes => Box::new(journal.changes.iter().map(change)),
        SheetKind::Ledger => Box::new(journal.ledger.iter().map(move |row| movement(row, lookup))),
        _ => Box::new(std::iter::empty()),
    }
}

/// The key of an offer as its cells show it.
pub(super) fn offer_key(row: &OfferRow, lookup: &Lookup<'_>) -> String {
    let pack = lookup.pack(&row.material, row.pack, &row.pack_text);
    [&row.supplier, &row.material, &pack, &row.from_packs.to_string()].map(String::as_str).join(", ")
}

/// A formula line's share: a percentage or `balance`.
pub(super) fn share(share: Share) -> String {
    match share {
        Share::Percent(percent) => percent.to_string(),
        Share::Balance => "balance".to_owned(),
    }
}

fn shown(value: Option<impl ToString>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn mass(mass: Mass) -> String {
    canonical(Quantity(mass.mg), Unit::Milligram)
}

fn price(price: Price, currency: Currency) -> String {
    currency.decimal(price.minor)
}

/// Nothing is an empty cell.
fn price_or_empty(amount: Price, currency: Currency) -> String {
    if amount == Price::ZERO { String::new() } else { price(amount, currency) }
}

fn percent(percent: Percent) -> String {
    if percent == Percent::ZERO { String::new() } else { percent.to_string() }
}

fn yes(value: bool) -> String {
    if value { "yes".to_owned() } else { String::new() }
}

fn material(row: &MaterialRow) -> Cells {
    let kind = match row.unit {
        Unit::Milligram => "raw",
        Unit::Piece => "packaging",
    };
    let safety_stock = if row.safety_stock.is_zero() { String::new() } else { canonical(row.safety_stock, row.unit) };
    vec![
        row.code.clone(),
        row.name.clone(),
        row.inci.clone(),
        kind.to_owned(),
        shown(row.density),
        row.piece_mass.map_or_else(String::new, mass),
        shown(row.unopened_life),
        shown(row.opened_life),
        safety_stock,
        shown(row.max_leave_on),
        shown(row.max_rinse_off),
        row.storage.clone(),
        row.caution.clone(),
        yes(row.always_at_hand),
        row.shelf_space.map_or_else(String::new, |space| canonical(space, row.unit)),
    ]
}

fn supplier(row: &SupplierRow) -> Cells {
    vec![
        row.code.clone(),
        row.name.clone(),
        row.email.clone(),
        row.currency.to_string(),
        row.lead_time_days.to_string(),
        row.order_weekdays.to_string(),
        row.closed.iter().map(ClosedPeriod::to_string).collect::<Vec<_>>().join("; "),
        price_or_empty(row.minimum_order, row.currency),
        price_or_empty(row.postage, row.currency),
        row.free_postage_from.map_or_else(String::new, |from| price(from, row.currency)),
        percent(row.duty),
    ]
}

pub(super) fn offer(row: &OfferRow, lookup: &Lookup<'_>) -> Cells {
    vec![
        row.supplier.clone(),
        row.material.clone(),
        lookup.pack(&row.material, row.pack, &row.pack_text),
        price(row.price, lookup.currency(&row.supplier)),
        row.from_packs.to_string(),
        shown(row.life_on_arrival),
        row.item_no.clone(),
    ]
}

pub(super) fn order(row: &OrderRow, lookup: &Lookup<'_>) -> Cells {
    let currency = lookup.currency(&row.supplier);
    vec![
        row.order.clone(),
        row.supplier.clone(),
        row.material.clone(),
        lookup.pack(&row.material, row.pack, &row.pack_text),
        row.packs.to_string(),
        shown(row.placed),
        row.expected.to_string(),
        row.price.map_or_else(String::new, |amount| price(amount, currency)),
        row.packs_received.to_string(),
        yes(row.cancelled),
    ]
}

pub(super) fn lot(row: &LotRow, lookup: &Lookup<'_>) -> Cells {
    let state = match row.state {
        LotState::Released => "released",
        LotState::Quarantine => "quarantine",
        LotState::Rejected => "rejected",
    };
    vec![
        row.lot.clone(),
        row.material.clone(),
        canonical(row.amount, lookup.unit(&row.material).0),
        row.supplier.clone(),
        row.supplier_lot.clone(),
        shown(row.received),
        price(row.cost, row.currency),
        row.currency.to_string(),
        shown(row.best_before),
        shown(row.opened),
        state.to_owned(),
        row.place.clone(),
        row.order.clone(),
    ]
}

fn product(row: &ProductRow) -> Cells {
    let product_use = row.product_use.map(|product_use| match product_use {
        ProductUse::LeaveOn => "leave-on",
        ProductUse::RinseOff => "rinse-off",
    });
    vec![
        row.code.clone(),
        row.name.clone(),
        row.formula.clone(),
        row.version.clone(),
        shown(product_use),
        row.net_mass.map_or_else(String::new, mass),
        shown(row.pieces_per_mould),
        percent(row.loss),
        row.setting_days.to_string(),
        row.curing_days.to_string(),
        shown(row.shelf_life),
        shown(row.minimum_life),
    ]
}

pub(super) fn plan_entry(row: &PlanRow) -> Cells {
    let amount = match row.amount {
        PlanAmount::Pieces(pieces) => format!("{pieces} pcs"),
        PlanAmount::Moulds(1) => "1 mould".to_owned(),
        PlanAmount::Moulds(moulds) => format!("{moulds} moulds"),
        PlanAmount::NetMass(net) => mass(net),
    };
    let (make_on, ready_by) = match row.when {
        PlanDay::MakeOn(day) => (day.to_string(), String::new()),
        PlanDay::ReadyBy(day) => (String::new(), day.to_string()),
    };
    vec![row.entry.clone(), row.product.clone(), amount, make_on, ready_by, yes(row.dropped)]
}

fn wish(row: &WishRow, lookup: &Lookup<'_>) -> Cells {
    vec![
        row.wish.clone(),
        row.kind.word().to_owned(),
        row.supplier.clone(),
        row.material.clone(),
        row.pack.map_or_else(String::new, |pack| canonical(pack, lookup.unit(&row.material).0)),
        shown(row.from),
        shown(row.to),
        shown(row.percent),
        row.amount.map_or_else(String::new, |amount| price(amount, lookup.home)),
        row.reason.clone(),
        yes(row.lifted),
    ]
}

fn batch(row: &BatchRow) -> Cells {
    vec![
        row.batch.clone(),
        row.entry.clone(),
        yes(row.fulfils_entry),
        row.product.clone(),
        row.premix.clone(),
        row.formula.clone(),
        row.version.clone(),
        row.made_on.to_string(),
        mass(row.mass),
        row.pieces.to_string(),
        shown(row.best_before),
        row.weighed_by.clone(),
        row.note.clone(),
        yes(row.undone),
        row.state.word().to_owned(),
    ]
}

fn act(row: &ActRow) -> Cells {
    vec![
        row.act.to_string(),
        row.kind.clone(),
        row.subject.clone(),
        row.day.to_string(),
        row.recorded_at.clone(),
        shown(row.undoes),
        row.who.clone(),
    ]
}

fn weighing(row: &WeighingRow, lookup: &Lookup<'_>) -> Cells {
    let material = lookup.lot(&row.lot).map_or("", |(material, _)| material);
    let unit = lookup.unit(material).0;
    vec![
        row.batch.clone(),
        row.place.to_string(),
        row.lot.clone(),
        canonical(row.target, unit),
        canonical(row.weighed, unit),
        row.tare.map_or_else(String::new, mass),
        row.reason.clone(),
    ]
}

fn pieces(row: &PieceRow) -> Cells {
    let kind = PIECE_WORDS.into_iter().find(|&(_, kind)| kind == row.kind).map_or("", |(word, _)| word);
    vec![
        row.piece_movement.to_string(),
        row.act.to_string(),
        row.batch.clone(),
        kind.to_owned(),
        row.pieces.to_string(),
        row.day.to_string(),
        row.reason.clone(),
        shown(row.reverses),
    ]
}

fn change(row: &ChangeRow) -> Cells {
    vec![
        row.change.to_string(),
        row.act.to_string(),
        row.what.clone(),
        row.code.clone(),
        row.part.clone(),
        row.field.clone(),
        row.before.clone(),
        row.after.clone(),
        row.who.clone(),
        row.reason.clone(),
    ]
}

fn movement(row: &MovementRow, lookup: &Lookup<'_>) -> Cells {
    let (material, currency) = lookup.lot(&row.lot).unwrap_or(("", Currency::EUR));
    let kind = MOVEMENT_WORDS.into_iter().find(|&(_, kind)| kind == row.kind).map_or("", |(word, _)| word);
    vec![
        row.movement.to_string(),
        row.act.to_string(),
        kind.to_owned(),
        row.lot.clone(),
        row.amount.to_string(),
        lookup.unit(material).0.symbol().to_owned(),
        currency.decimal(row.cost),
        row.day.to_string(),
        row.recorded_at.clone(),
        row.reason.clone(),
        row.batch.clone(),
        shown(row.reverses),
    ]
}
