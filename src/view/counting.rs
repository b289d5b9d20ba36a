//! The counting sheet: every lot by the place where it stands, to be counted with pencil or in a spreadsheet.

use crate::plan::model::Snapshot;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// The counting sheet.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CountingView {
    /// Today.
    pub as_of: NaiveDate,
    /// By name of place; lots without a place last.
    pub places: Vec<CountingPlaceView>,
}

/// A place.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CountingPlaceView {
    /// Its name; empty for lots without one.
    pub place: String,
    /// Its lots, by name of the material, then code.
    pub lots: Vec<CountingLotView>,
}

/// A lot to count.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CountingLotView {
    /// Code.
    pub lot: String,
    /// Code of the material.
    pub material: String,
    /// Its name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What should be there; `None` where the sheet does not say, so that it does not lead the hand.
    pub on_hand: Option<i64>,
    /// `released`, `quarantine` or `rejected`.
    pub state: String,
}

/// Computes the sheet of all lots with something in them, or of one place alone.
#[must_use]
pub fn counting(snapshot: &Snapshot, today: NaiveDate, only: Option<&str>, with_amounts: bool) -> CountingView {
    let mut places: BTreeMap<(bool, &str), Vec<CountingLotView>> = BTreeMap::new();
    for lot in snapshot.lots.iter().filter(|lot| only.is_none_or(|place| lot.place == place)) {
        let item = snapshot.item(lot.item);
        places.entry((lot.place.is_empty(), &lot.place)).or_default().push(CountingLotView {
            lot: lot.code.clone(),
            material: item.code.clone(),
            name: item.name.clone(),
            unit: item.unit.symbol().to_owned(),
            on_hand: with_amounts.then_some(lot.on_hand.0),
            state: lot.state.word().to_owned(),
        });
    }
    let place = |((_, place), mut lots): ((bool, &str), Vec<CountingLotView>)| {
        lots.sort_by(|left, right| (&left.name, &left.lot).cmp(&(&right.name, &right.lot)));
        CountingPlaceView { place: place.to_owned(), lots }
    };
    CountingView { as_of: today, places: places.into_iter().map(place).collect() }
}
