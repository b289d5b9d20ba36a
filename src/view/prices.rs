//! Which prices have changed: the last delivery of a material against the one before, and today's cheapest offer against the
//! last delivery.

use super::cost::price_shown;
use crate::plan::cost::{PricePoint, SupplierPrices, price_unit};
use crate::plan::decimal::Scaled;
use crate::plan::model::Item;
use crate::plan::money::Currency;
use crate::plan::quantity::Quantity;
use crate::plan::rounding::half_up_i64;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// The materials whose price has changed. Money is in the home currency.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PriceChangesView {
    /// Today.
    pub as_of: NaiveDate,
    /// Home currency.
    pub currency: String,
    /// By code.
    pub materials: Vec<PriceChangeView>,
}

/// A material whose price has changed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PriceChangeView {
    /// Its code.
    pub material: String,
    /// Its name.
    pub name: String,
    /// What a price is for: `kg` or `pcs`.
    pub per: String,
    /// What the delivery before the last had cost; `None` where there was only one.
    pub before: Option<String>,
    /// When that came.
    pub before_on: Option<NaiveDate>,
    /// Who it came from.
    pub before_from: Option<String>,
    /// What the last delivery had cost.
    pub last: String,
    /// When it came.
    pub last_on: Option<NaiveDate>,
    /// Who it came from.
    pub last_from: String,
    /// By how much the last was dearer than the one before, in percent; negative where it was cheaper.
    pub change_percent: Option<String>,
    /// The cheapest offer of today, with duty and without postage.
    pub offer: Option<String>,
    /// Whose.
    pub offer_from: Option<String>,
    /// By how much it is dearer than the last delivery, in percent; negative where it is cheaper.
    pub offer_change_percent: Option<String>,
}

/// The change of a material's price; `None` where nothing changed, or nothing was bought yet.
#[must_use]
pub fn price_change(home: Currency, item: &Item, history: &[SupplierPrices]) -> Option<PriceChangeView> {
    let mut paid: Vec<(&SupplierPrices, &PricePoint)> =
        history.iter().flat_map(|supplier| supplier.received.iter().map(move |point| (supplier, point))).collect();
    paid.sort_by(|left, right| (left.1.day, &left.1.what).cmp(&(right.1.day, &right.1.what)));
    let last = paid.pop()?;
    let before = paid.pop();
    let offers = history.iter().flat_map(|supplier| supplier.offered.iter().map(move |offer| (supplier, offer)));
    let offer = offers.min_by(|left, right| left.1.price.cmp(&right.1.price));
    let change = before.and_then(|before| percent(before.1, last.1));
    let offer_change = offer.and_then(|offer| percent(last.1, offer.1));
    if change.unwrap_or(0) == 0 && offer_change.unwrap_or(0) == 0 {
        return None;
    }
    let tenths = |tenths: i64| Scaled { scaled: tenths, places: 1 }.to_string();
    let price = |point: &PricePoint| price_shown(home, item, &point.price);
    Some(PriceChangeView {
        material: item.code.clone(),
        name: item.name.clone(),
        per: if price_unit(item.unit) == Quantity(1) { "pcs".to_owned() } else { "kg".to_owned() },
        before: before.map(|(_, point)| price(point)),
        before_on: before.and_then(|(_, point)| point.day),
        before_from: before.map(|(supplier, _)| named(supplier)),
        last: price(last.1),
        last_on: last.1.day,
        last_from: named(last.0),
        change_percent: change.map(tenths),
        offer: offer.map(|(_, point)| price(point)),
        offer_from: offer.map(|(supplier, _)| named(supplier)),
        offer_change_percent: offer_change.map(tenths),
    })
}

/// By how many tenths of a percent the second is dearer, from prices to a hundredth of the minor unit; `None` where the first
/// is nothing.
fn percent(first: &PricePoint, second: &PricePoint) -> Option<i64> {
    let (first, second) = (first.price.times(100).half_up(), second.price.times(100).half_up());
    let difference = i128::from(second) - i128::from(first);
    (first > 0).then(|| half_up_i64(difference * 1_000, i128::from(first)))
}

fn named(supplier: &SupplierPrices) -> String {
    if supplier.name.is_empty() { supplier.supplier.clone() } else { supplier.name.clone() }
}
