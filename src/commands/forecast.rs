//! `forecast`: the days ahead, and what is behind a material's figures.

use super::names::find;
use super::report::show;
use super::session::Session;
use super::way_on::way_on;
use crate::cli::Forecast;
use crate::error::CommandError;
use crate::plan::model::ItemId;
use crate::render::picture::balance;
use crate::render::report::Report;
use crate::render::{forecast as render, lines};
use crate::view::forecast as view;
use chrono::NaiveDate;

pub fn run(session: &Session, arguments: &Forecast) -> Result<String, CommandError> {
    let report = match &arguments.why {
        None => report(session, arguments.through)?,
        Some(code) => reasons(session, arguments.through, code)?,
    };
    show(session, &report, &arguments.files)
}

/// The report.
///
/// # Errors
/// Where the store cannot be read or `through` is wrong.
pub fn report(session: &Session, through: Option<NaiveDate>) -> Result<Report, CommandError> {
    let (snapshot, outlook) = session.outlook(through)?;
    let view = view::forecast(&snapshot, &outlook);
    let columns = ["date", "material", "name", "short", "unit", "order_by", "late", "entries"];
    let report = Report::new(&view, render::document(&view))?.way_on(way_on(&snapshot));
    let reminders = &session.config.reminders;
    let lines = lines::of_forecast(&view, &reminders.order_days_before, reminders.overdue_every_days);
    Ok(report.rows(&["shortages"], &columns).news(render::news(&view)).lines(lines))
}

fn reasons(session: &Session, through: Option<NaiveDate>, code: &str) -> Result<Report, CommandError> {
    let (snapshot, outlook) = session.outlook(through)?;
    let items =
        snapshot.items.iter().enumerate().map(|(place, item)| ([item.code.as_str(), &item.name], ItemId::new(place)));
    let id = find("material or premix", code, items)?;
    let Some(view) = view::reasons(&snapshot, &outlook, id) else {
        return Err(CommandError::input(format!("{code} is marked as always at hand, so it has no forecast")));
    };
    let materials = view::forecast(&snapshot, &outlook).materials;
    let material = materials.iter().find(|material| material.material == view.material);
    let picture = material.map(|material| balance::picture(material, view.as_of));
    let columns = ["date", "event", "amount", "short", "unit", "lasting_to", "subject", "detail", "lots"];
    Ok(Report::new(&view, render::reasons(&view, picture))?.rows(&["events"], &columns))
}
