//! Suppliers, with the lead time that each states and the one that received orders taught.

use crate::plan::model::{Snapshot, Supplier, SupplierId};
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// All suppliers.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SuppliersView {
    /// Today.
    pub as_of: NaiveDate,
    /// `stated` or `learned`, as the settings say.
    pub lead_time: String,
    /// So many received orders are enough to learn from.
    pub lead_time_orders: usize,
    /// In order of code.
    pub suppliers: Vec<SupplierView>,
}

/// One supplier.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SupplierView {
    /// Its code.
    pub supplier: String,
    /// Its name.
    pub name: String,
    /// The currency of its prices.
    pub currency: String,
    /// Materials that it offers.
    pub materials: usize,
    /// Days of the week on which it takes orders; empty for every day.
    pub order_weekdays: String,
    /// The next day on which it takes orders; none within ten years where `None`.
    pub next_order_day: Option<NaiveDate>,
    /// The lead time that it states, in days.
    pub stated_days: u32,
    /// How many received orders were counted.
    pub received_orders: usize,
    /// Half of them took no longer, in days.
    pub median_days: Option<u32>,
    /// Nine in ten took no longer.
    pub high_days: Option<u32>,
    /// What order days are reckoned with.
    pub lead_time_days: u32,
}

/// Computes the list; `learned` and `enough` are what the settings say of lead times.
#[must_use]
pub fn suppliers(snapshot: &Snapshot, today: NaiveDate, learned: bool, enough: usize) -> SuppliersView {
    let view = |(place, supplier): (usize, &Supplier)| {
        let id = SupplierId::new(place);
        let taught = snapshot.hand.lead_times.get(&id);
        let mut items: Vec<_> =
            snapshot.offers.iter().filter(|offer| offer.supplier == id).map(|offer| offer.item).collect();
        items.sort_unstable();
        items.dedup();
        SupplierView {
            supplier: supplier.code.clone(),
            name: supplier.name.clone(),
            currency: supplier.currency.code().to_owned(),
            materials: items.len(),
            order_weekdays: supplier.calendar.weekdays.to_string(),
            next_order_day: supplier.calendar.next_order_day(today),
            stated_days: taught.map_or(supplier.calendar.lead_time_days, |taught| taught.stated_days),
            received_orders: taught.map_or(0, |taught| taught.orders),
            median_days: taught.map(|taught| taught.median_days),
            high_days: taught.map(|taught| taught.high_days),
            lead_time_days: supplier.calendar.lead_time_days,
        }
    };
    SuppliersView {
        as_of: today,
        lead_time: if learned { "learned" } else { "stated" }.to_owned(),
        lead_time_orders: enough,
        suppliers: snapshot.suppliers.iter().enumerate().map(view).collect(),
    }
}
