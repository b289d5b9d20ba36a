//! Orders that have not come yet.

use crate::plan::model::Snapshot;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// Open order lines.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OrdersView {
    /// Today.
    pub as_of: NaiveDate,
    /// By the day they are expected, then order and material.
    pub orders: Vec<OpenOrderView>,
}

/// One open line.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OpenOrderView {
    /// The order's code.
    pub order: String,
    /// Supplier's code.
    pub supplier: String,
    /// Supplier's name.
    pub supplier_name: String,
    /// Material's code.
    pub material: String,
    /// Material's name.
    pub name: String,
    /// The pack, as ordered.
    pub pack: String,
    /// How many are still to come.
    pub packs: i64,
    /// What is still to come.
    pub amount: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// Price of one pack, in `currency`.
    pub price: String,
    /// What all that is to come costs.
    pub total: String,
    /// The supplier's currency.
    pub currency: String,
    /// When it is due.
    pub expected: NaiveDate,
    /// True where that day has passed.
    pub overdue: bool,
}

/// Computes the list.
#[must_use]
pub fn orders(snapshot: &Snapshot, today: NaiveDate) -> OrdersView {
    let view = |order: &crate::plan::model::OpenOrder| {
        let supplier = &snapshot.suppliers[order.supplier.index()];
        let item = snapshot.item(order.item);
        OpenOrderView {
            order: order.code.clone(),
            supplier: supplier.code.clone(),
            supplier_name: supplier.name.clone(),
            material: item.code.clone(),
            name: item.name.clone(),
            pack: order.pack_text.clone(),
            packs: order.packs,
            amount: order.quantity.0,
            unit: item.unit.symbol().to_owned(),
            price: supplier.currency.decimal(order.price.minor / order.packs.max(1)),
            total: supplier.currency.decimal(order.price.minor),
            currency: supplier.currency.code().to_owned(),
            expected: order.expected,
            overdue: order.expected < today,
        }
    };
    let mut orders: Vec<OpenOrderView> = snapshot.orders.iter().map(view).collect();
    orders.sort_by(|left, right| {
        (left.expected, &left.order, &left.material).cmp(&(right.expected, &right.order, &right.material))
    });
    OrdersView { as_of: today, orders }
}
