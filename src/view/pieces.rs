//! Finished pieces: what is left of each batch, when it is ready, and how long it is good.

use crate::book::PieceStanding;
use crate::book::rows::{BatchRow, ProductRow};
use chrono::{Days, NaiveDate};
use schemars::JsonSchema;
use serde::Serialize;

/// Finished pieces on the shelves.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PiecesView {
    /// Today.
    pub as_of: NaiveDate,
    /// Batches with pieces left, by product, then best-before.
    pub batches: Vec<PieceBatchView>,
}

/// One batch.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PieceBatchView {
    /// Batch number.
    pub batch: String,
    /// Code of the product.
    pub product: String,
    /// Its name.
    pub name: String,
    /// When it was made.
    pub made_on: NaiveDate,
    /// When setting and curing are over.
    pub ready_on: NaiveDate,
    /// True from that day on.
    pub ready: bool,
    /// How long it is good.
    pub best_before: Option<NaiveDate>,
    /// Pieces that came out.
    pub made: i64,
    /// Pieces that are left.
    pub left: i64,
    /// `released`, `quarantine` or `rejected`.
    pub state: String,
}

/// The day from which the pieces of a batch are set and cured.
#[must_use]
pub fn ready_on(batch: &BatchRow, products: &[ProductRow]) -> NaiveDate {
    let product = products.iter().find(|product| product.code == batch.product);
    let days = product.map_or(0, |product| u64::from(product.setting_days) + u64::from(product.curing_days));
    batch.made_on.checked_add_days(Days::new(days)).unwrap_or(NaiveDate::MAX)
}

/// Computes the list.
#[must_use]
pub fn pieces(
    batches: &[BatchRow],
    standings: &[PieceStanding],
    products: &[ProductRow],
    today: NaiveDate,
) -> PiecesView {
    let left_of = |batch: &str| standings.iter().find(|standing| standing.batch == batch).map_or(0, |one| one.on_hand);
    let mut listed = Vec::new();
    for row in batches.iter().filter(|row| !row.undone && left_of(&row.batch) > 0) {
        let product = products.iter().find(|product| product.code == row.product);
        let ready_on = ready_on(row, products);
        listed.push(PieceBatchView {
            batch: row.batch.clone(),
            product: row.product.clone(),
            name: product.map_or(&row.product, |product| &product.name).clone(),
            made_on: row.made_on,
            ready_on,
            ready: ready_on <= today,
            best_before: row.best_before,
            made: row.pieces,
            left: left_of(&row.batch),
            state: row.state.word().to_owned(),
        });
    }
    let last = |batch: &PieceBatchView| batch.best_before.unwrap_or(NaiveDate::MAX);
    listed.sort_by(|left, right| {
        (&left.product, last(left), &left.batch).cmp(&(&right.product, last(right), &right.batch))
    });
    PiecesView { as_of: today, batches: listed }
}
