//! `month`: the month ahead, by week and day.

use super::report::show;
use super::session::Session;
use super::way_on::way_on;
use crate::cli::Month;
use crate::error::CommandError;
use crate::plan::outlook::natural_horizon;
use crate::render::month as render;
use crate::render::report::Report;
use crate::view::month::{month, month_end};
use chrono::NaiveDate;

pub fn run(session: &Session, arguments: &Month) -> Result<String, CommandError> {
    show(session, &report(session, arguments.through)?, &arguments.files)
}

/// The report. The plan is looked at as far as it goes: what has to be ordered within the month may be needed after it.
///
/// # Errors
/// Where the store cannot be read or `through` is wrong.
pub fn report(session: &Session, through: Option<NaiveDate>) -> Result<Report, CommandError> {
    let snapshot = session.snapshot()?;
    let last = through.unwrap_or_else(|| month_end(session.clock.today()));
    let horizon = natural_horizon(&snapshot, session.clock.today()).min(session.furthest_day()).max(last);
    let outlook = session.look_ahead(&snapshot, Some(if last < session.clock.today() { last } else { horizon }))?;
    let view = month(&snapshot, &outlook, last);
    let columns =
        ["date", "entry", "product", "product_name", "make_on", "material", "name", "amount", "short", "unit"];
    let report = Report::new(&view, render::document(&view))?.way_on(way_on(&snapshot));
    Ok(report.rows(&["weeks", "days", "make", "needs"], &columns).news(render::news(&view)))
}
