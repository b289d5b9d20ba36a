//! One lot: its facts and everything that the ledger says of it.

use crate::book::Standing;
use crate::book::rows::{LotRow, MaterialRow, MovementRow};
use crate::plan::quantity::Unit;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// A lot and its ledger.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LotView {
    /// Today.
    pub as_of: NaiveDate,
    /// Code.
    pub lot: String,
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What is left.
    pub on_hand: i64,
    /// What that cost, in `currency`.
    pub cost: String,
    /// The currency it was paid in.
    pub currency: String,
    /// Code of the supplier; empty where none is known.
    pub supplier: String,
    /// Its name, where it is on file.
    pub supplier_name: String,
    /// The supplier's lot number.
    pub supplier_lot: String,
    /// The order that it came with.
    pub order: String,
    /// When it came.
    pub received: Option<NaiveDate>,
    /// When it was opened.
    pub opened: Option<NaiveDate>,
    /// Its best-before date.
    pub best_before: Option<NaiveDate>,
    /// The last day on which it can be used.
    pub usable_through: Option<NaiveDate>,
    /// `released`, `quarantine` or `rejected`.
    pub state: String,
    /// Where it stands.
    pub place: String,
    /// What to beware of.
    pub caution: String,
    /// In the order in which they were written.
    pub movements: Vec<MovementView>,
}

/// One line of the ledger.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MovementView {
    /// Its number.
    pub movement: i64,
    /// The act that it belongs to.
    pub act: i64,
    /// When.
    pub day: NaiveDate,
    /// `receipt`, `issue`, `count`, `write-off` or `return`.
    pub kind: String,
    /// Added or taken.
    pub amount: i64,
    /// What was there after it.
    pub balance: i64,
    /// The batch that it was taken for or came from.
    pub batch: String,
    /// Why.
    pub reason: String,
    /// The movement that it reverses.
    pub reverses: Option<i64>,
}

/// Computes the view. `movements` are those of the lot, in their order.
#[must_use]
pub fn lot(
    row: &LotRow,
    facts: Option<&MaterialRow>,
    standing: Option<&Standing>,
    movements: &[MovementRow],
    today: NaiveDate,
) -> LotView {
    let mut balance = 0;
    let mut shown = Vec::with_capacity(movements.len());
    for movement in movements {
        balance += movement.amount;
        shown.push(movement_view(movement, balance));
    }
    LotView {
        as_of: today,
        lot: row.lot.clone(),
        material: row.material.clone(),
        name: facts.map_or(&row.material, |facts| &facts.name).clone(),
        unit: facts.map_or(Unit::Milligram, |facts| facts.unit).symbol().to_owned(),
        on_hand: standing.map_or(0, |standing| standing.on_hand.0),
        cost: row.currency.decimal(standing.map_or(0, |standing| standing.cost.minor)),
        currency: row.currency.code().to_owned(),
        supplier: row.supplier.clone(),
        supplier_name: row.supplier.clone(),
        supplier_lot: row.supplier_lot.clone(),
        order: row.order.clone(),
        received: row.received,
        opened: row.opened,
        best_before: row.best_before,
        usable_through: usable_through(row, facts),
        state: row.state.word().to_owned(),
        place: row.place.clone(),
        caution: facts.map_or(String::new(), |facts| facts.caution.clone()),
        movements: shown,
    }
}

fn movement_view(movement: &MovementRow, balance: i64) -> MovementView {
    MovementView {
        movement: movement.movement,
        act: movement.act,
        day: movement.day,
        kind: movement.kind.word().to_owned(),
        amount: movement.amount,
        balance,
        batch: movement.batch.clone(),
        reason: movement.reason.clone(),
        reverses: movement.reverses,
    }
}

/// The earlier of best-before (else receipt and unopened life) and opening and after-opening life.
fn usable_through(row: &LotRow, facts: Option<&MaterialRow>) -> Option<NaiveDate> {
    let unopened = row.best_before.or_else(|| Some(facts?.unopened_life?.after(row.received?)));
    let opened = row.opened.zip(facts.and_then(|facts| facts.opened_life)).map(|(day, life)| life.after(day));
    unopened.into_iter().chain(opened).min()
}
