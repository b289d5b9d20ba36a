//! `prices`: what a material has cost, by supplier; or of which materials the price has changed.

use super::names::find;
use super::report::show;
use super::session::{Session, home_money};
use crate::book::link::link;
use crate::book::rows::LotRow;
use crate::cli::Prices;
use crate::error::CommandError;
use crate::plan::cost::{Receipt, SupplierPrices, price_history};
use crate::plan::model::{ItemId, Snapshot};
use crate::plan::money::Currency;
use crate::render::cost as render;
use crate::render::report::Report;
use crate::store::Reading;
use crate::view::cost::prices;
use crate::view::prices::{PriceChangesView, price_change};
use chrono::NaiveDate;

pub fn run(session: &Session, arguments: &Prices) -> Result<String, CommandError> {
    let report = match &arguments.material {
        Some(code) => of_material(session, code)?,
        None => changes(session)?,
    };
    show(session, report, &arguments.files)
}

fn of_material(session: &Session, code: &str) -> Result<Report, CommandError> {
    let today = session.clock.today();
    let mut store = session.open()?;
    let reading = store.reading()?;
    let snapshot = link(&reading.book()?, reading.home()?, &reading.standings()?)?;
    let items =
        snapshot.items.iter().enumerate().map(|(place, item)| ([item.code.as_str(), &item.name], ItemId::new(place)));
    let id = find("material", code, items)?;
    let history = History::of(&reading, &snapshot, id, today)?;
    let mut view = prices(snapshot.home, snapshot.item(id), &history.suppliers);
    view.at_first_rate = history.at_first_rate;
    view.without_day = history.without_day;
    let columns =
        ["material", "supplier", "name", "date", "what", "amount", "unit", "cost", "price", "per", "currency"];
    Ok(Report::new(&view, render::prices(&view, today))?.rows(&["suppliers", "received"], &columns))
}

/// The materials whose price has changed.
///
/// # Errors
/// Where the store cannot be read.
pub fn changes(session: &Session) -> Result<Report, CommandError> {
    let today = session.clock.today();
    let mut store = session.open()?;
    let reading = store.reading()?;
    let snapshot = link(&reading.book()?, reading.home()?, &reading.standings()?)?;
    let mut materials = Vec::new();
    for (place, item) in snapshot.items.iter().enumerate() {
        let history = History::of(&reading, &snapshot, ItemId::new(place), today)?;
        materials.extend(price_change(snapshot.home, item, &history.suppliers));
    }
    let view = PriceChangesView { as_of: today, currency: snapshot.home.code().to_owned(), materials };
    let columns = [
        "material",
        "name",
        "per",
        "currency",
        "before",
        "before_on",
        "before_from",
        "last",
        "last_on",
        "last_from",
        "change_percent",
        "offer",
        "offer_from",
        "offer_change_percent",
    ];
    let report = Report::new(&view, render::price_changes(&view))?;
    Ok(report.rows(&["materials"], &columns).news(render::price_news(&view)))
}

/// The prices of a material, and which of its lots are priced otherwise than by the rate of their day.
struct History {
    suppliers: Vec<SupplierPrices>,
    at_first_rate: Vec<String>,
    without_day: Vec<String>,
}

impl History {
    fn of(reading: &Reading<'_>, snapshot: &Snapshot, id: ItemId, today: NaiveDate) -> Result<Self, CommandError> {
        let deliveries = reading.deliveries(&snapshot.item(id).code)?;
        let (dated, undated): (Vec<LotRow>, Vec<LotRow>) =
            deliveries.into_iter().partition(|row| row.received.is_some());
        let mut receipts = Vec::with_capacity(dated.len());
        let mut at_first_rate = Vec::new();
        for row in &dated {
            let day = row.received.unwrap_or(today);
            let (rate_day, is_later) = rate_day(snapshot, row.currency, day);
            if is_later {
                at_first_rate.push(row.lot.clone());
            }
            let supplier = snapshot.suppliers.iter().find(|supplier| supplier.code == row.supplier);
            receipts.push(Receipt {
                supplier: row.supplier.clone(),
                supplier_name: supplier.map_or_else(String::new, |supplier| supplier.name.clone()),
                lot: row.lot.clone(),
                day,
                quantity: row.amount,
                money: home_money(snapshot, row.cost, row.currency, rate_day)?,
            });
        }
        Ok(Self {
            suppliers: price_history(snapshot, id, &receipts, today),
            at_first_rate,
            without_day: undated.into_iter().map(|row| row.lot).collect(),
        })
    }
}

/// The day whose rate counts for a delivery: its own, or that of the first rate on file where none is as old.
fn rate_day(snapshot: &Snapshot, currency: Currency, day: NaiveDate) -> (NaiveDate, bool) {
    if currency == snapshot.home || snapshot.rate(currency, day).is_some() {
        return (day, false);
    }
    let first = snapshot.rates.iter().filter(|rate| rate.currency == currency).map(|rate| rate.date).min();
    (first.unwrap_or(day), first.is_some())
}
