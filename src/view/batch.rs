//! Batches: the list of what was made, and one of them with what went into it, what it cost and what is left.

use super::cost::BatchCostView;
use super::trace::GoneView;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// The batches, the newest first.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct BatchListView {
    /// Today.
    pub as_of: NaiveDate,
    /// By day of making, then number, the newest first.
    pub batches: Vec<ListedBatchView>,
    /// How many older ones are not shown.
    pub older: usize,
}

/// A batch of the list.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ListedBatchView {
    /// Batch number.
    pub batch: String,
    /// The plan entry; empty outside the plan.
    pub entry: String,
    /// Code of the product or premix.
    pub product: String,
    /// Its name.
    pub name: String,
    /// When it was made.
    pub made_on: NaiveDate,
    /// Whole pieces that came out; 0 for a premix.
    pub pieces: i64,
    /// How many are still here.
    pub pieces_here: i64,
    /// Its best-before.
    pub best_before: Option<NaiveDate>,
    /// True where its making was taken back.
    pub undone: bool,
    /// `released`, `quarantine` or `rejected`: of its finished pieces.
    pub state: String,
}

/// A batch. Money is in the home currency.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct BatchView {
    /// What went in, what that had cost, what a piece costs.
    #[serde(flatten)]
    pub cost: BatchCostView,
    /// Name of the product or premix.
    pub name: String,
    /// The plan entry; empty outside the plan.
    pub entry: String,
    /// The formula that it was made to.
    pub formula: String,
    /// In which version.
    pub version: String,
    /// What was weighed in, in mg.
    pub weighed_mass: i64,
    /// Its best-before.
    pub best_before: Option<NaiveDate>,
    /// How many pieces are still here.
    pub pieces_here: i64,
    /// What left, by day.
    pub left: Vec<GoneView>,
    /// What the sheet asked for and what was weighed, in the order of the sheet.
    pub weighings: Vec<WeighingView>,
    /// Who weighed.
    pub weighed_by: String,
    /// What was noted.
    pub note: String,
    /// True where its making was taken back.
    pub undone: bool,
    /// `released`, `quarantine` or `rejected`: of its finished pieces.
    pub state: String,
}

/// A line of the weighing sheet as it was filled in.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WeighingView {
    /// The lot that was taken.
    pub lot: String,
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What the sheet asked for.
    pub target: i64,
    /// What was taken.
    pub weighed: i64,
    /// The vessel, in mg.
    pub tare: Option<i64>,
    /// Why it differs.
    pub reason: String,
}
