//! `write-offs`: what was thrown away, by month and reason.

use super::report::show;
use super::session::{Session, home_money};
use crate::book::link::link;
use crate::cli::WriteOffs;
use crate::error::CommandError;
use crate::plan::cost::{WriteOff, written_off};
use crate::plan::money::Price;
use crate::plan::quantity::Quantity;
use crate::render::cost as render;
use crate::render::report::Report;
use crate::view::cost::write_offs;
use chrono::{Datelike, Months, NaiveDate};
use std::collections::BTreeMap;

pub fn run(session: &Session, arguments: &WriteOffs) -> Result<String, CommandError> {
    show(session, report(session, arguments.from, arguments.to)?, &arguments.files)
}

/// The report of some days; the last twelve months where none are given.
///
/// # Errors
/// Where the days are the wrong way round, the store cannot be read, or a currency has no rate.
pub fn report(session: &Session, from: Option<NaiveDate>, to: Option<NaiveDate>) -> Result<Report, CommandError> {
    let to = to.unwrap_or(session.clock.today());
    let from = from.unwrap_or_else(|| a_year_before(to));
    if from > to {
        return Err(CommandError::input(format!("--from {from} lies after --to {to}")));
    }
    let mut store = session.open()?;
    let reading = store.reading()?;
    let book = reading.book()?;
    let snapshot = link(&book, reading.home()?, &reading.standings()?)?;
    let lots: BTreeMap<_, _> = book.lots.iter().map(|row| (row.lot.as_str(), row)).collect();
    let items: BTreeMap<_, _> = snapshot.items.iter().map(|item| (item.code.as_str(), item)).collect();
    let mut thrown_away = Vec::new();
    for movement in reading.write_offs(from, to)? {
        let Some(lot) = lots.get(movement.lot.as_str()) else { continue };
        let Some(item) = items.get(lot.material.as_str()) else { continue };
        let cost = Price { minor: movement.cost.saturating_neg() };
        thrown_away.push(WriteOff {
            day: movement.day,
            reason: movement.reason,
            item: item.code.clone(),
            name: item.name.clone(),
            unit: item.unit,
            quantity: Quantity(movement.amount.saturating_neg()),
            money: home_money(&snapshot, cost, lot.currency, movement.day)?,
        });
    }
    let view = write_offs(snapshot.home, from, to, &written_off(&thrown_away));
    let columns = ["month", "reason", "material", "name", "on_hand", "unit", "value", "currency"];
    let document = render::write_offs(&view, session.clock.today());
    Ok(Report::new(&view, document)?.rows(&["groups", "materials"], &columns))
}

/// The first day of twelve calendar months that end with the month of `day`.
fn a_year_before(day: NaiveDate) -> NaiveDate {
    let first = day.with_day(1).unwrap_or(day);
    first.checked_sub_months(Months::new(11)).unwrap_or(first)
}
