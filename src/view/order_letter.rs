//! What a letter to a supplier asks for: an order that was placed, or one of the plan.

use crate::book::Book;
use crate::book::rows::OrderRow;
use crate::plan::model::Snapshot;
use crate::plan::money::Price;
use crate::plan::reorder::PlannedOrder;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// An order for its supplier. Prices are in the supplier's currency.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct OrderLetterView {
    /// Today.
    pub as_of: NaiveDate,
    /// The order's code; `None` where it is not placed yet.
    pub order: Option<String>,
    /// Supplier's code.
    pub supplier: String,
    /// Supplier's name.
    pub name: String,
    /// Where it goes; empty where not known.
    pub email: String,
    /// The day it was or is to be ordered on.
    pub order_on: Option<NaiveDate>,
    /// Currency of the prices.
    pub currency: String,
    /// What is ordered.
    pub lines: Vec<OrderedLineView>,
    /// All packs at their prices.
    pub goods: String,
}

/// One line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct OrderedLineView {
    /// The supplier's number; empty where not known.
    pub item_no: String,
    /// The material's name.
    pub name: String,
    /// The pack, as in the offer.
    pub pack: String,
    /// How many.
    pub packs: i64,
    /// Price of one.
    pub price: String,
}

/// What is still to come of an order that was placed; `None` where nothing is, or where there is no such order.
#[must_use]
pub fn placed(book: &Book, snapshot: &Snapshot, order: &str, as_of: NaiveDate) -> Option<OrderLetterView> {
    let is_open = |row: &&OrderRow| row.order == order && !row.cancelled && row.packs_received < row.packs;
    let rows: Vec<&OrderRow> = book.orders.iter().filter(is_open).collect();
    let first = rows.first()?;
    let supplier = snapshot.suppliers.iter().find(|supplier| supplier.code == first.supplier)?;
    let mut goods = Price::ZERO;
    let lines = rows.iter().map(|row| {
        let packs = row.packs - row.packs_received;
        let price = book.pack_price(row);
        goods.minor = goods.minor.saturating_add(price.times(packs).minor);
        let offer = book
            .offers
            .iter()
            .find(|offer| offer.supplier == row.supplier && offer.material == row.material && offer.pack == row.pack);
        let material = book.materials.iter().find(|material| material.code == row.material);
        OrderedLineView {
            item_no: offer.map_or_else(String::new, |offer| offer.item_no.clone()),
            name: material.map_or(&row.material, |material| &material.name).clone(),
            pack: row.pack_text.clone(),
            packs,
            price: supplier.currency.decimal(price.minor),
        }
    });
    let lines = lines.collect();
    Some(OrderLetterView {
        as_of,
        order: Some(order.to_owned()),
        supplier: supplier.code.clone(),
        name: supplier.name.clone(),
        email: supplier.email.clone(),
        order_on: first.placed,
        currency: supplier.currency.code().to_owned(),
        lines,
        goods: supplier.currency.decimal(goods.minor),
    })
}

/// An order of the plan.
#[must_use]
pub fn planned(snapshot: &Snapshot, order: &PlannedOrder, as_of: NaiveDate) -> OrderLetterView {
    let supplier = &snapshot.suppliers[order.supplier.index()];
    let line = |line: &crate::plan::reorder::PlannedLine| {
        let offer = &snapshot.offers[line.offer.index()];
        OrderedLineView {
            item_no: offer.item_no.clone(),
            name: snapshot.item(line.item).name.clone(),
            pack: offer.pack_text.clone(),
            packs: line.packs,
            price: supplier.currency.decimal(line.price.minor),
        }
    };
    OrderLetterView {
        as_of,
        order: None,
        supplier: supplier.code.clone(),
        name: supplier.name.clone(),
        email: supplier.email.clone(),
        order_on: Some(order.order_on),
        currency: supplier.currency.code().to_owned(),
        lines: order.lines.iter().map(line).collect(),
        goods: supplier.currency.decimal(order.goods.minor),
    }
}
