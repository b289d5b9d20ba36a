//! `prices`: what a material has cost, by supplier.

use super::session::{Session, find, home_money};
use crate::book::link::link;
use crate::book::rows::LotRow;
use crate::cli::Prices;
use crate::error::CommandError;
use crate::plan::cost::{Receipt, price_history};
use crate::plan::model::{ItemId, Snapshot};
use crate::plan::money::Currency;
use crate::render::cost as render;
use crate::view::cost::prices;
use chrono::NaiveDate;

pub fn run(session: &Session, arguments: &Prices) -> Result<String, CommandError> {
    let today = session.clock.today();
    let mut store = session.open()?;
    let reading = store.reading()?;
    let snapshot = link(&reading.book()?, reading.home()?, &reading.standings()?)?;
    let items = snapshot.items.iter().enumerate().map(|(place, item)| (item.code.as_str(), ItemId::new(place)));
    let id = find("material", &arguments.material, items)?;
    let item = snapshot.item(id);
    let (dated, undated): (Vec<LotRow>, Vec<LotRow>) =
        reading.deliveries(&item.code)?.into_iter().partition(|row| row.received.is_some());
    let mut receipts = Vec::with_capacity(dated.len());
    let mut first_rate = Vec::new();
    for row in &dated {
        let day = row.received.unwrap_or(today);
        let (rate_day, is_later) = rate_day(&snapshot, row.currency, day);
        if is_later {
            first_rate.push(row.lot.clone());
        }
        let supplier = snapshot.suppliers.iter().find(|supplier| supplier.code == row.supplier);
        receipts.push(Receipt {
            supplier: row.supplier.clone(),
            supplier_name: supplier.map_or_else(String::new, |supplier| supplier.name.clone()),
            lot: row.lot.clone(),
            day,
            quantity: row.amount,
            money: home_money(&snapshot, row.cost, row.currency, rate_day)?,
        });
    }
    let mut view = prices(snapshot.home, item, &price_history(&snapshot, id, &receipts, today));
    view.at_first_rate = first_rate;
    view.without_day = undated.into_iter().map(|row| row.lot).collect();
    session.answer(&view, |screen| render::prices(&view, today, screen))
}

/// The day whose rate counts for a delivery: its own, or that of the first rate on file where none is as old.
fn rate_day(snapshot: &Snapshot, currency: Currency, day: NaiveDate) -> (NaiveDate, bool) {
    if currency == snapshot.home || snapshot.rate(currency, day).is_some() {
        return (day, false);
    }
    let first = snapshot.rates.iter().filter(|rate| rate.currency == currency).map(|rate| rate.date).min();
    (first.unwrap_or(day), first.is_some())
}
