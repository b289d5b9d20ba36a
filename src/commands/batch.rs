//! `batch`: what was made, what went into it, what it cost and what is left of it.

use super::names::{batch_names, find};
use super::report::show as answer;
use super::session::{Session, home_money};
use super::trace::gone;
use crate::book::Book;
use crate::book::link::link;
use crate::book::rows::{BatchRow, LotRow, MovementKind, MovementRow};
use crate::cli::{Batch, Files};
use crate::error::CommandError;
use crate::plan::model::{Item, Snapshot};
use crate::plan::money::{Currency, Price};
use crate::plan::quantity::{Quantity, Unit};
use crate::plan::trace::{Genealogy, TracedBatch};
use crate::render::batch as render;
use crate::render::report::Report;
use crate::store::Reading;
use crate::view::batch::{BatchListView, BatchView, ListedBatchView, WeighingView};
use crate::view::cost::{PricedDraw, batch_cost};
use crate::view::trace::GoneView;
use std::collections::{BTreeMap, BTreeSet};

pub fn run(session: &Session, what: &Batch) -> Result<String, CommandError> {
    match what {
        Batch::List { last } => list(session, *last),
        Batch::Show { batch, files } => show(session, batch, files),
    }
}

fn list(session: &Session, last: usize) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    let book = reading.book()?;
    let snapshot = link(&book, reading.home()?, &reading.standings()?)?;
    let facts = Facts::of(&book, &snapshot);
    let here: BTreeMap<String, i64> =
        reading.piece_balances()?.into_iter().map(|standing| (standing.batch, standing.on_hand)).collect();
    let mut rows = reading.batches()?;
    rows.sort_by(|left, right| (right.made_on, &right.batch).cmp(&(left.made_on, &left.batch)));
    let listed = |row: &BatchRow| ListedBatchView {
        batch: row.batch.clone(),
        entry: row.entry.clone(),
        product: made(row).to_owned(),
        name: facts.name(row),
        made_on: row.made_on,
        pieces: row.pieces,
        pieces_here: here.get(&row.batch).copied().unwrap_or(0),
        best_before: row.best_before,
        undone: row.undone,
        state: row.state.word().to_owned(),
    };
    let view = BatchListView {
        as_of: session.clock.today(),
        batches: rows.iter().take(last).map(listed).collect(),
        older: rows.len().saturating_sub(last),
    };
    session.answer(&view, |screen| render::list(&view, screen))
}

fn show(session: &Session, number: &str, files: &Files) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    let batches = reading.batches()?;
    let row = find("batch", number, batches.iter().map(|row| (batch_names(row), row)))?;
    let book = reading.book()?;
    let snapshot = link(&book, reading.home()?, &reading.standings()?)?;
    let facts = Facts::of(&book, &snapshot);
    let draws = priced_draws(&reading, row, &facts, &snapshot)?;
    let pieces = if row.undone { 0 } else { row.pieces };
    let (pieces_here, left) = story(&reading, row, pieces)?;
    let weighings = reading.weighings(&row.batch)?;
    let weighing = |weighing: crate::book::rows::WeighingRow| {
        let (material, name, unit, _) = facts.of_lot(&weighing.lot);
        WeighingView {
            lot: weighing.lot,
            material,
            name,
            unit: unit.symbol().to_owned(),
            target: weighing.target.0,
            weighed: weighing.weighed.0,
            tare: weighing.tare.map(|tare| tare.mg),
            reason: weighing.reason,
        }
    };
    let view = BatchView {
        cost: batch_cost(snapshot.home, &row.batch, made(row), row.made_on, pieces, &draws),
        name: facts.name(row),
        entry: row.entry.clone(),
        formula: row.formula.clone(),
        version: row.version.clone(),
        weighed_mass: row.mass.mg,
        best_before: row.best_before,
        pieces_here,
        left,
        weighings: weighings.into_iter().map(weighing).collect(),
        weighed_by: row.weighed_by.clone(),
        note: row.note.clone(),
        undone: row.undone,
        state: row.state.word().to_owned(),
    };
    let document = render::show(&view, session.clock.today());
    let columns = ["batch", "made_on", "material", "name", "lot", "amount", "unit", "cost", "currency"];
    answer(session, Report::new(&view, document)?.rows(&["draws"], &columns), files)
}

/// The product or the premix that a batch made.
fn made(row: &BatchRow) -> &str {
    if row.premix.is_empty() { &row.product } else { &row.premix }
}

/// What the batch drew and what that had cost, at the rates of the day on which it was made.
fn priced_draws(
    reading: &Reading<'_>,
    row: &BatchRow,
    facts: &Facts<'_>,
    snapshot: &Snapshot,
) -> Result<Vec<PricedDraw>, CommandError> {
    let movements = reading.movements_of_batch(&row.batch)?;
    let reversed: BTreeSet<i64> = movements.iter().filter_map(|movement| movement.reverses).collect();
    let stands = |movement: &&MovementRow| {
        movement.kind == MovementKind::Issue && movement.reverses.is_none() && !reversed.contains(&movement.movement)
    };
    let priced = |movement: &MovementRow| {
        let (material, name, unit, currency) = facts.of_lot(&movement.lot);
        let paid = Price { minor: movement.cost.saturating_neg() };
        Ok(PricedDraw {
            material,
            name,
            lot: movement.lot.clone(),
            quantity: Quantity(movement.amount.saturating_neg()),
            unit,
            cost: home_money(snapshot, paid, currency.unwrap_or(snapshot.home), row.made_on)?,
        })
    };
    movements.iter().filter(stands).map(priced).collect()
}

/// How many pieces are still here, and what left.
fn story(reading: &Reading<'_>, row: &BatchRow, pieces: i64) -> Result<(i64, Vec<GoneView>), CommandError> {
    let batch = TracedBatch {
        code: row.batch.clone(),
        product: made(row).to_owned(),
        name: String::new(),
        made_on: row.made_on,
        pieces,
        best_before: row.best_before,
        state: row.state,
    };
    let genealogy =
        Genealogy { batches: vec![batch], gone: gone(&reading.pieces_of(&row.batch)?), ..Genealogy::default() };
    let story = genealogy.index().pieces(0);
    Ok((story.here, story.gone.into_iter().map(GoneView::from).collect()))
}

/// Names of what was made and of what went in.
struct Facts<'a> {
    lots: BTreeMap<&'a str, &'a LotRow>,
    items: BTreeMap<&'a str, &'a Item>,
    products: BTreeMap<&'a str, &'a str>,
}

impl<'a> Facts<'a> {
    fn of(book: &'a Book, snapshot: &'a Snapshot) -> Self {
        Self {
            lots: book.lots.iter().map(|row| (row.lot.as_str(), row)).collect(),
            items: snapshot.items.iter().map(|item| (item.code.as_str(), item)).collect(),
            products: book.products.iter().map(|row| (row.code.as_str(), row.name.as_str())).collect(),
        }
    }

    fn name(&self, row: &BatchRow) -> String {
        let premix = self.items.get(row.premix.as_str()).map(|item| item.name.as_str());
        premix.or_else(|| self.products.get(row.product.as_str()).copied()).unwrap_or(made(row)).to_owned()
    }

    /// Code, name and unit of what is in a lot, and the currency it was paid in.
    fn of_lot(&self, lot: &str) -> (String, String, Unit, Option<Currency>) {
        let row = self.lots.get(lot);
        let code = row.map_or(lot, |row| row.material.as_str());
        let item = self.items.get(code);
        let name = item.map_or(code, |item| item.name.as_str());
        let unit = item.map_or(Unit::Milligram, |item| item.unit);
        (code.to_owned(), name.to_owned(), unit, row.map(|row| row.currency))
    }
}
