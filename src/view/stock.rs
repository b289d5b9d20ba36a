//! What is on the shelves: every lot with something in it, and what it is worth.

use crate::plan::life::usable_through;
use crate::plan::model::Snapshot;
use crate::plan::money::Money;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// The stock of a workshop. Money is in the home currency, at the newest rates.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StockView {
    /// Today.
    pub as_of: NaiveDate,
    /// Home currency.
    pub currency: String,
    /// By material, then last usable day.
    pub lots: Vec<StockLotView>,
    /// What all of it cost.
    pub value: String,
}

/// One lot.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StockLotView {
    /// Code.
    pub lot: String,
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// What is left.
    pub on_hand: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What that cost; `None` where the currency it was paid in has no rate.
    pub value: Option<String>,
    /// `released`, `quarantine` or `rejected`.
    pub state: String,
    /// When it was opened.
    pub opened: Option<NaiveDate>,
    /// The last day on which it can be used; `None` where nothing ends it.
    pub usable_through: Option<NaiveDate>,
    /// True where that day has passed.
    pub ended: bool,
    /// Where it stands.
    pub place: String,
}

/// Computes the report.
#[must_use]
pub fn stock(snapshot: &Snapshot, today: NaiveDate) -> StockView {
    let mut total = Money::ZERO;
    let mut lots = Vec::with_capacity(snapshot.lots.len());
    for lot in &snapshot.lots {
        let item = snapshot.item(lot.item);
        let through = usable_through(lot, item);
        let value = snapshot.to_home(lot.cost, lot.currency, today);
        total += value.unwrap_or(Money::ZERO);
        lots.push(StockLotView {
            lot: lot.code.clone(),
            material: item.code.clone(),
            name: item.name.clone(),
            on_hand: lot.on_hand.0,
            unit: item.unit.symbol().to_owned(),
            value: value.map(|value| snapshot.home.decimal(value.minor)),
            state: lot.state.word().to_owned(),
            opened: lot.opened,
            usable_through: Some(through).filter(|day| *day < NaiveDate::MAX),
            ended: through < today,
            place: lot.place.clone(),
        });
    }
    let last = |lot: &StockLotView| lot.usable_through.unwrap_or(NaiveDate::MAX);
    lots.sort_by(|left, right| {
        (&left.material, last(left), &left.lot).cmp(&(&right.material, last(right), &right.lot))
    });
    StockView {
        as_of: today,
        currency: snapshot.home.code().to_owned(),
        lots,
        value: snapshot.home.decimal(total.minor),
    }
}
