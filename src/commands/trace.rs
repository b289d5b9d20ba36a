//! `trace`: from a lot, or all that came under a supplier's lot number, to every batch and piece; from a batch back to
//! every lot.

use super::names::find;
use super::page::write_page;
use super::session::Session;
use crate::book::link::link;
use crate::book::rows::{PieceKind, PieceRow};
use crate::book::{Book, Genealogy as Links};
use crate::cli::Trace;
use crate::error::CommandError;
use crate::plan::model::{LotState, Snapshot};
use crate::plan::quantity::Unit;
use crate::plan::trace::{BatchDraw, Decanted, Genealogy, PiecesGone, Stocked, TracedBatch, TracedLot};
use crate::render::trace as render;
use crate::store::{Reading, TraceFrom};
use crate::view::trace::{TraceView, trace, trace_supplier_lot};
use std::collections::{BTreeMap, BTreeSet};

pub fn run(session: &Session, arguments: &Trace) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    // Lots that are used up are looked up one by one: of all that there ever were, a trace reaches few.
    let (book, standings) = reading.book_ahead(session.clock.today())?;
    let snapshot = link(&book, reading.home()?, &standings)?;
    let subject = Subject::named(&reading, &arguments.subject)?;
    let genealogy = genealogy(&reading, &subject, &Facts::of(&reading, &book, &snapshot))?;
    let view = subject.view(&genealogy, session);
    if let Some(path) = &arguments.sheet.html {
        write_page(session, render::RECALL, &render::recall(&view), path)?;
    }
    session.answer(&view, |screen| {
        let text = render::terminal(&view, screen) + &next_steps(&genealogy, &subject);
        match &arguments.sheet.html {
            Some(path) => format!("{text}\nThe recall sheet to print is {}.\n", path.display()),
            None => text,
        }
    })
}

/// What a recall does next, where something of the lot is still here.
fn next_steps(genealogy: &Genealogy, subject: &Subject) -> String {
    let lots = match subject {
        Subject::Batch(_) => return String::new(),
        Subject::Lot(lot) => std::slice::from_ref(lot),
        Subject::SupplierLot(_, lots) => lots,
    };
    let mut here = genealogy
        .lots
        .iter()
        .filter(|lot| lots.contains(&lot.code) && lot.on_hand.0 > 0 && lot.state != LotState::Rejected);
    match here.next() {
        Some(lot) => format!(
            "\nIf it is recalled: `stillroom lot reject {}` keeps the rest from being used, `stillroom pieces hold BATCH` keeps \
             pieces here,\n`stillroom pieces leave BATCH COUNT --as waste` takes them from the shelf, and `--html FILE` writes a \
             sheet to print.\n",
            lot.code
        ),
        None => String::new(),
    }
}

/// What is traced.
enum Subject {
    Lot(String),
    /// The number, and the lots that came under it.
    SupplierLot(String, Vec<String>),
    Batch(String),
}

impl Subject {
    /// What the user means. A number that a supplier gave to several lots means all of them, and so does one that is also
    /// the code of a lot: a recall should rather find too much.
    fn named(reading: &Reading<'_>, typed: &str) -> Result<Self, CommandError> {
        let wanted = typed.trim().to_lowercase();
        let is_it = |code: &str| !code.is_empty() && code.to_lowercase() == wanted;
        let (own, mut lots) = match reading.lot(typed.trim())? {
            // The usual case, by index. An index knows the case of plain letters only.
            Some(own) if typed.is_ascii() => (Some(own.lot), reading.lots_under(typed.trim())?),
            own => {
                let numbers = reading.lot_numbers()?;
                let alike = || numbers.iter().find(|(lot, _)| is_it(lot)).map(|(lot, _)| lot.clone());
                let own = own.map(|row| row.lot).or_else(alike);
                (own, numbers.into_iter().filter(|(_, number)| is_it(number)).collect())
            }
        };
        if let Some(own) = own {
            if lots.iter().all(|(lot, _)| *lot == own) {
                return Ok(Self::Lot(own));
            }
            if lots.iter().all(|(lot, _)| *lot != own) {
                lots.push((own, String::new()));
            }
        }
        if let [(_, number), ..] = lots.as_slice() {
            let number = if number.is_empty() { typed } else { number };
            return Ok(Self::SupplierLot(number.to_owned(), lots.iter().map(|(lot, _)| lot.clone()).collect()));
        }
        if let Some(batch) = reading.batch(typed.trim())?.filter(|batch| !batch.undone) {
            return Ok(Self::Batch(batch.batch));
        }
        let (batches, numbers) = (reading.batches()?, reading.lot_numbers()?);
        let lots: BTreeSet<&str> = numbers.iter().flat_map(|(lot, number)| [lot.as_str(), number]).collect();
        let codes =
            batches.iter().map(|row| ([row.batch.as_str()], Some(row))).chain(lots.iter().map(|code| ([*code], None)));
        let batch = find("lot, supplier's lot number or batch", typed.trim(), codes)?;
        match batch {
            Some(batch) if batch.undone => Err(CommandError::input(format!(
                "batch {} was taken back: nothing went into it, and nothing came out of it",
                batch.batch
            ))),
            Some(batch) => Ok(Self::Batch(batch.batch.clone())),
            // Every lot was looked at above.
            None => Err(CommandError::input(format!("there is no lot {typed:?}"))),
        }
    }

    fn starts(&self) -> Vec<TraceFrom<'_>> {
        match self {
            Self::Lot(lot) => vec![TraceFrom::Lot(lot)],
            Self::SupplierLot(_, lots) => lots.iter().map(|lot| TraceFrom::Lot(lot)).collect(),
            Self::Batch(batch) => vec![TraceFrom::Batch(batch)],
        }
    }

    fn view(&self, genealogy: &Genealogy, session: &Session) -> TraceView {
        let today = session.clock.today();
        let index = genealogy.index();
        match self {
            Self::SupplierLot(number, lots) => trace_supplier_lot(&index, number, lots, today),
            // The genealogy holds what it starts from; nothing at all is the answer for what it does not hold.
            Self::Batch(code) | Self::Lot(code) => {
                trace(&index, code, today).unwrap_or_else(|| trace_supplier_lot(&index, code, &[], today))
            }
        }
    }
}

/// What is known of lots and items.
struct Facts<'a> {
    reading: &'a Reading<'a>,
    items: BTreeMap<&'a str, (&'a str, Unit)>,
    suppliers: BTreeMap<&'a str, &'a str>,
    products: BTreeMap<&'a str, &'a str>,
}

impl<'a> Facts<'a> {
    fn of(reading: &'a Reading<'a>, book: &'a Book, snapshot: &'a Snapshot) -> Self {
        Self {
            reading,
            items: snapshot.items.iter().map(|item| (item.code.as_str(), (item.name.as_str(), item.unit))).collect(),
            suppliers: book.suppliers.iter().map(|row| (row.code.as_str(), row.name.as_str())).collect(),
            products: book.products.iter().map(|row| (row.code.as_str(), row.name.as_str())).collect(),
        }
    }

    fn lot(&self, code: &str) -> Result<Option<TracedLot>, CommandError> {
        let Some(row) = self.reading.lot(code)? else { return Ok(None) };
        let (name, unit) = self.items.get(row.material.as_str()).copied().unwrap_or((&row.material, Unit::Milligram));
        let supplier = self.suppliers.get(row.supplier.as_str()).copied().unwrap_or_default();
        Ok(Some(TracedLot {
            name: name.to_owned(),
            supplier_name: supplier.to_owned(),
            code: row.lot,
            item: row.material,
            unit,
            supplier: row.supplier,
            supplier_lot: row.supplier_lot,
            received: row.received,
            on_hand: self.reading.on_hand(code)?,
            state: row.state,
            place: row.place,
        }))
    }
}

/// Everything that can be reached from the subject, with what is known of it.
fn genealogy(reading: &Reading<'_>, subject: &Subject, facts: &Facts<'_>) -> Result<Genealogy, CommandError> {
    let mut links = Links::default();
    let (mut lots, mut batches) = (BTreeSet::new(), BTreeSet::new());
    for start in subject.starts() {
        match start {
            TraceFrom::Lot(lot) => lots.insert(lot.to_owned()),
            TraceFrom::Batch(batch) => batches.insert(batch.to_owned()),
        };
        let found = reading.genealogy(start)?;
        links.draws.extend(found.draws);
        links.yields.extend(found.yields);
        links.decantings.extend(found.decantings);
    }
    // What two lots both lead to is found twice.
    links.draws.sort();
    links.draws.dedup();
    lots.extend(links.draws.iter().map(|draw| draw.lot.clone()));
    lots.extend(links.yields.iter().map(|made| made.lot.clone()));
    lots.extend(links.decantings.iter().flat_map(|poured| [poured.from.clone(), poured.into.clone()]));
    batches.extend(links.draws.iter().map(|draw| draw.batch.clone()));
    batches.extend(links.yields.iter().map(|made| made.batch.clone()));
    let draw = |draw: crate::book::Draw| BatchDraw { lot: draw.lot, batch: draw.batch, quantity: draw.amount };
    let mut genealogy = Genealogy {
        lots: lots.iter().filter_map(|lot| facts.lot(lot).transpose()).collect::<Result<_, _>>()?,
        batches: Vec::with_capacity(batches.len()),
        draws: links.draws.into_iter().map(draw).collect(),
        stocked: links.yields.into_iter().map(|made| Stocked { batch: made.batch, lot: made.lot }).collect(),
        decanted: links.decantings.into_iter().map(|poured| Decanted { from: poured.from, to: poured.into }).collect(),
        gone: Vec::new(),
    };
    for batch in batches {
        let Some(row) = reading.batch(&batch)? else { continue };
        let (product, name) = match row.premix.as_str() {
            "" => (row.product.as_str(), facts.products.get(row.product.as_str()).copied()),
            premix => (premix, facts.items.get(premix).map(|(name, _)| *name)),
        };
        genealogy.batches.push(TracedBatch {
            code: row.batch.clone(),
            product: product.to_owned(),
            name: name.unwrap_or(product).to_owned(),
            made_on: row.made_on,
            pieces: row.pieces,
            best_before: row.best_before,
            state: row.state,
        });
        genealogy.gone.extend(gone(&reading.pieces_of(&batch)?));
    }
    genealogy.batches.sort_by(|left, right| (left.made_on, &left.code).cmp(&(right.made_on, &right.code)));
    Ok(genealogy)
}

/// What left, or was not found by counting; what was taken back is left out.
pub fn gone(rows: &[PieceRow]) -> Vec<PiecesGone> {
    let reversed: BTreeSet<i64> = rows.iter().filter_map(|row| row.reverses).collect();
    let stands = |row: &&PieceRow| row.reverses.is_none() && !reversed.contains(&row.piece_movement);
    let word = |kind: PieceKind| match kind {
        PieceKind::Made => None,
        PieceKind::Sale => Some("sale"),
        PieceKind::Gift => Some("gift"),
        PieceKind::Sample => Some("sample"),
        PieceKind::Waste => Some("waste"),
        PieceKind::Count => Some("count"),
    };
    let left = rows.iter().filter(stands).filter_map(|row| {
        let kind = word(row.kind)?.to_owned();
        let (batch, reason) = (row.batch.clone(), row.reason.clone());
        Some(PiecesGone { batch, kind, day: row.day, reason, pieces: row.pieces.saturating_neg() })
    });
    left.collect()
}
