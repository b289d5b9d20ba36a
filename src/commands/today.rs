//! `today`: the first look of the day.

use super::outbox::letter_view;
use super::reorder::Proposal;
use super::report::show;
use super::session::Session;
use super::way_on::way_on;
use crate::cli::Today;
use crate::error::CommandError;
use crate::render::report::Report;
use crate::render::{lines, today as render};
use crate::view::pieces::pieces;
use crate::view::today::today;

/// How far ahead what is not due yet is looked for, where nothing is said.
pub const DAYS_AHEAD: u32 = 7;

pub fn run(session: &Session, arguments: &Today) -> Result<String, CommandError> {
    show(session, report(session, arguments.days)?, &arguments.files)
}

/// The report.
///
/// # Errors
/// Where the store cannot be read or a currency has no rate.
pub fn report(session: &Session, days: u32) -> Result<Report, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    let (batches, left) = reading.batches_left()?;
    let pieces = pieces(&batches, &left, &reading.products()?, session.clock.today());
    let letters: Vec<_> = reading.letters_not_out()?.into_iter().map(letter_view).collect();
    let proposal = Proposal::find(session, session.snapshot_of(&reading)?, None, None)?;
    drop(reading);
    // Kept as `reorder` keeps it, so that the next look need not search again where nothing has changed.
    proposal.keep(session)?;
    let view = today(&proposal.snapshot, &proposal.outlook, &proposal.view(), &pieces, &letters, days);
    let report = Report::new(&view, render::document(&view))?.way_on(way_on(&proposal.snapshot));
    let report = report.made_rows(render::rows(&view));
    Ok(report.news(render::news(&view)).lines(lines::of_today(&view, session.config.reminders.overdue_every_days)))
}
