//! `expiring`: what ends within the horizon, who will still use a lot, and what could be made of what is at risk.

use super::names::find;
use super::report::show;
use super::session::Session;
use crate::cli::Expiring;
use crate::error::CommandError;
use crate::plan::rescue::{RescueSettings, rescue};
use crate::render::report::Report;
use crate::render::{expiring as render, lines};
use crate::view::expiring as view;
use crate::view::rescue::{ExpiringWithUseUpView, rescue as rescue_view};
use chrono::NaiveDate;

pub fn run(session: &Session, arguments: &Expiring) -> Result<String, CommandError> {
    let report = match &arguments.why {
        Some(code) => reasons(session, arguments.through, code)?,
        None if arguments.use_up => report(session, arguments.through)?,
        None => plain(session, arguments.through)?,
    };
    show(session, &report, &arguments.files)
}

const COLUMNS: [&str; 13] = [
    "usable_through",
    "material",
    "name",
    "lot",
    "place",
    "on_hand",
    "planned_use",
    "at_risk",
    "unit",
    "at_risk_value",
    "currency",
    "entries",
    "last_useful_day",
];

fn plain(session: &Session, through: Option<NaiveDate>) -> Result<Report, CommandError> {
    let (snapshot, outlook) = session.outlook(through)?;
    let view = view::expiring(&snapshot, &outlook);
    Ok(Report::new(&view, render::document(&view, None))?.rows(&["lots"], &COLUMNS).news(render::news(&view)))
}

/// The report with the proposals, as it stands in letters.
///
/// # Errors
/// Where the store cannot be read or `through` is wrong.
pub fn report(session: &Session, through: Option<NaiveDate>) -> Result<Report, CommandError> {
    let (snapshot, outlook) = session.outlook(through)?;
    let expiring = view::expiring(&snapshot, &outlook);
    let use_up = rescue_view(&snapshot, &outlook, &rescue(&snapshot, &outlook, RescueSettings::default()));
    let document = render::document(&expiring, Some(&use_up));
    let (news, dates) = (render::news(&expiring), render::dates(&expiring));
    let lines = lines::of_expiring(&expiring, &session.config.reminders.expiry_days_before);
    let report = Report::new(&ExpiringWithUseUpView { expiring, use_up }, document)?;
    Ok(report.rows(&["lots"], &COLUMNS).news(news).dates(dates).lines(lines))
}

fn reasons(session: &Session, through: Option<NaiveDate>, code: &str) -> Result<Report, CommandError> {
    let (snapshot, outlook) = session.outlook(through)?;
    let lots = snapshot
        .lots
        .iter()
        .enumerate()
        .map(|(place, lot)| ([lot.code.as_str(), &snapshot.item(lot.item).code], place));
    let place = find("lot with anything in it", code, lots)?;
    let view = view::reasons(&snapshot, &outlook, place);
    Ok(Report::new(&view, render::reasons(&view))?.rows(&["uses"], &["date", "entry", "product", "amount", "unit"]))
}
