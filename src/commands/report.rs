//! Reports in every form: on the terminal, as JSON, written to files; and by name, for letters.

use super::page::{write_html, write_new, write_table};
use super::session::Session;
use super::{expiring, forecast, month, prices, reorder, stock, today, weigh, write_offs};
use crate::cli::Files;
use crate::error::CommandError;
use crate::post::letter::Letter;
use crate::post::report::{Envelope, letter};
use crate::post::report_name::ReportName;
use crate::render::csv::with_utf8_mark;
use crate::render::paragraph::wrapped;
use crate::render::report::Report;
use chrono::NaiveDate;
use std::path::{Path, PathBuf};

/// The width of a sentence below a report.
const WIDTH: usize = 100;

/// Answers with a report: JSON where that was asked for, else the text; besides, writes the files that were named.
///
/// # Errors
/// Where a file cannot be written; the message names it.
pub fn show(session: &Session, report: &Report, files: &Files) -> Result<String, CommandError> {
    let mut written = Vec::new();
    if let Some(path) = &files.html {
        let rendered = report.html(Some(&own_templates(session)?))?;
        write_html(&rendered, path)?;
        written.push(format!("The page is {}.\n", path.display()));
    }
    if let Some(path) = &files.text {
        write_new(path, report.text().as_bytes())?;
        written.push(format!("The text is {}.\n", path.display()));
    }
    if let Some(path) = &files.csv {
        write_table(path, &with_utf8_mark(&report.csv))?;
        written.push(format!("The table is {}.\n", path.display()));
    }
    if session.json {
        return Ok(report.json().to_owned());
    }
    let mut text = report.terminal(session.screen);
    if let Some(way_on) = report.way_on {
        text.push_str(&format!("\n{}\n", wrapped("", way_on, WIDTH).trim_end()));
    }
    if !written.is_empty() {
        text.push_str(&format!("\n{}", written.concat()));
    }
    Ok(text)
}

/// Where the workshop keeps changed templates: `reports` beside the store.
///
/// # Errors
/// Where the store has no place.
pub fn own_templates(session: &Session) -> Result<PathBuf, CommandError> {
    Ok(session.store_file()?.parent().unwrap_or(Path::new("")).join("reports"))
}

/// The reports of a name: one, but for the weighing sheets, of which there is one for each entry that is weighed today.
///
/// # Errors
/// Where the store cannot be read, `through` is wrong, or a currency has no rate.
pub fn by_name(session: &Session, name: ReportName, through: Option<NaiveDate>) -> Result<Vec<Report>, CommandError> {
    Ok(match name {
        ReportName::Today => vec![today::report(session, today::DAYS_AHEAD)?],
        ReportName::Month => vec![month::report(session, through)?],
        ReportName::Forecast => vec![forecast::report(session, through)?],
        ReportName::Reorder => vec![reorder::report(session, through)?],
        ReportName::Expiring => vec![expiring::report(session, through)?],
        ReportName::Stock => vec![stock::report(session)?],
        ReportName::Weigh => weigh::today(session)?,
        ReportName::WriteOffs => vec![write_offs::report(session, None, None)?],
        ReportName::Prices => vec![prices::changes(session)?],
    })
}

/// The letter with these reports and what was wrong with the workshop's own templates. `preface`: sentences before the first
/// report.
///
/// # Errors
/// Those of [`by_name`], and where a page or picture cannot be made.
pub fn letter_of(
    session: &Session,
    names: &[ReportName],
    through: Option<NaiveDate>,
    preface: &[String],
    envelope: Envelope,
) -> Result<(Letter, Vec<String>), CommandError> {
    let mut reports = Vec::new();
    for name in names {
        reports.extend(by_name(session, *name, through)?);
    }
    Ok(letter(&reports, preface, session.clock.today(), envelope, Some(&own_templates(session)?))?)
}
