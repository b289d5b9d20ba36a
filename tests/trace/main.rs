//! Proof of the trace: graphs of an outside library, a naive walk, long chains and circles, and the sheets made of it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod checks;
mod naive;
mod sheet;
#[path = "../support/mod.rs"]
mod support;

use stillroom::plan::model::LotState;
use stillroom::plan::quantity::{Quantity, Unit};
use stillroom::plan::trace::{BatchDraw, Genealogy, Stocked, TracedBatch, TracedLot};

/// A lot without a history.
fn lot(code: &str) -> TracedLot {
    TracedLot {
        code: code.to_owned(),
        item: code.to_lowercase(),
        name: format!("Material {code}"),
        unit: Unit::Milligram,
        supplier: "north".to_owned(),
        supplier_name: "North Oils".to_owned(),
        supplier_lot: format!("N-{code}"),
        received: Some(support::day(0)),
        on_hand: Quantity(500_000),
        state: LotState::Released,
        place: "shelf A".to_owned(),
    }
}

/// A batch made on a day.
fn batch(code: &str, day: u64, pieces: i64) -> TracedBatch {
    TracedBatch {
        code: code.to_owned(),
        product: code.to_lowercase(),
        name: format!("Product {code}"),
        made_on: support::day(day),
        pieces,
        best_before: None,
        state: LotState::Released,
    }
}

fn draw(lot: &str, batch: &str, mg: i64) -> BatchDraw {
    BatchDraw { lot: lot.to_owned(), batch: batch.to_owned(), quantity: Quantity(mg) }
}

fn stocked(batch: &str, lot: &str) -> Stocked {
    Stocked { batch: batch.to_owned(), lot: lot.to_owned() }
}

/// The codes of the lots and of the batches that a walk finds.
fn codes(genealogy: &Genealogy, trace: &stillroom::plan::trace::Trace) -> (Vec<String>, Vec<String>) {
    let lots = trace.lots.iter().map(|&lot| genealogy.lots[lot].code.clone()).collect();
    let batches = trace.batches.iter().map(|&batch| genealogy.batches[batch].code.clone()).collect();
    (lots, batches)
}
