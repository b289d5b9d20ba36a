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
    show(session, report, &arguments.files)
}

/// The report.
///
/// # Errors
/// Where the store cannot be read or `through` is wrong.
pub fn report(session: &Session, through: Option<NaiveDate>) -> Result<Report, CommandError> {
    // A long forecast is held once: what it was made from is let go before it is put into words.
    let (mut view, next) = {
        let (snapshot, outlook) = session.outlook(through)?;
        (view::forecast(&snapshot, &outlook), way_on(&snapshot))
    };
    let columns = ["date", "material", "name", "short", "unit", "order_by", "late", "entries"];
    let (document, news) = (render::document(&view), render::news(&view));
    let reminders = &session.config.reminders;
    let lines = lines::of_forecast(&view, &reminders.order_days_before, reminders.overdue_every_days);
    if !session.json {
        // Only JSON tells of every day: of 400 materials over a year that is 16 MB.
        view.materials.iter_mut().for_each(|material| material.days = Vec::new());
    }
    let report = Report::new(&view, document)?.way_on(next).rows(&["shortages"], &columns);
    Ok(report.news(news).lines(lines))
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
