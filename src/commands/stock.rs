//! `stock`: what is on the shelves, lot by lot, or what it is worth by material and by place.

use super::report::show;
use super::session::Session;
use crate::cli::Stock;
use crate::error::CommandError;
use crate::render::report::Report;
use crate::render::{cost, stock as render};
use crate::view::cost::stock_worth;
use crate::view::stock::stock;

pub fn run(session: &Session, arguments: &Stock) -> Result<String, CommandError> {
    let report = if arguments.value { value(session)? } else { report(session)? };
    show(session, report, &arguments.files)
}

/// The lots and what they are worth.
///
/// # Errors
/// Where the store cannot be read.
pub fn report(session: &Session) -> Result<Report, CommandError> {
    let view = stock(&session.snapshot()?, session.clock.today());
    let columns = [
        "material",
        "name",
        "lot",
        "on_hand",
        "unit",
        "value",
        "currency",
        "state",
        "opened",
        "usable_through",
        "ended",
        "place",
    ];
    Ok(Report::new(&view, render::document(&view))?.rows(&["lots"], &columns))
}

fn value(session: &Session) -> Result<Report, CommandError> {
    let view = stock_worth(&session.snapshot()?, session.clock.today());
    let columns = ["material", "name", "on_hand", "unit", "value", "currency"];
    Ok(Report::new(&view, cost::stock(&view))?.rows(&["materials"], &columns))
}
