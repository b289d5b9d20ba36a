//! What a stocktake found.

use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// The differences of a stocktake. Money is in the home currency.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StocktakeView {
    /// Today.
    pub as_of: NaiveDate,
    /// Home currency.
    pub currency: String,
    /// Lots that were counted.
    pub counted: usize,
    /// Lots that differ, in the order of the sheet.
    pub differences: Vec<DifferenceView>,
    /// What all differences are worth together.
    pub value: String,
    /// True once they are in the ledger.
    pub written: bool,
}

/// One lot that differs.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DifferenceView {
    /// Code.
    pub lot: String,
    /// Code of the material.
    pub material: String,
    /// Its name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What the ledger said.
    pub before: i64,
    /// What is there.
    pub counted: i64,
    /// The difference.
    pub difference: i64,
    /// What it is worth; `None` without a rate.
    pub value: Option<String>,
    /// Why, where the sheet says so.
    pub reason: String,
}
