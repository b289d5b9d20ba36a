//! The seam between reports and letters: what a report of a name gives to a letter.

use super::reorder::Proposal;
use super::session::Session;
use crate::error::CommandError;
use crate::plan::model::Snapshot;
use crate::post::letter::Attachment;
use crate::post::parts::{LetterParts, Report};
use crate::render::table::Screen;
use crate::render::{csv, expiring, forecast, html, lines, reorder, stock, text};
use crate::view;
use serde_json::json;
use std::path::{Path, PathBuf};

/// Name of the page of a report that has none of its own yet.
const PLAIN_PAGE: &str = "plain.html";

/// What `report` says of the workshop on the session's day, ready to go into a letter.
///
/// # Errors
/// Where the report cannot be made: no rate for a currency, say.
pub fn letter_parts(session: &Session, snapshot: &Snapshot, report: Report) -> Result<LetterParts, CommandError> {
    let own_reports = own_reports(session)?;
    let days = &session.config.reminders;
    let plain = Screen::default();
    match report {
        Report::Reorder => {
            let view = Proposal::find(session, snapshot.clone(), None, None)?.view();
            let page = reorder::page(&view);
            let rendered = html::render(html::REORDER, &page, Some(&own_reports))?;
            let attachment = Attachment {
                name: format!("reorder-{}.csv", view.as_of),
                media_type: "text/csv; charset=utf-8".to_owned(),
                content: csv::with_utf8_mark(&csv::reorder_lines(&view)),
            };
            Ok(LetterParts {
                headline: page.headline.clone(),
                text: text::letter(&page),
                html: rendered.html,
                attachments: vec![attachment],
                lines: lines::of_reorder(&view, &days.order_days_before, days.overdue_every_days),
                warnings: rendered.warnings,
            })
        }
        Report::Expiring => {
            let outlook = session.look_ahead(snapshot, None)?;
            let view = view::expiring::expiring(snapshot, &outlook);
            let lines = lines::of_expiring(&view, &days.expiry_days_before);
            Ok(LetterParts { lines, ..plain_parts(expiring::terminal(&view, plain), &own_reports)? })
        }
        Report::Forecast => {
            let outlook = session.look_ahead(snapshot, None)?;
            let view = view::forecast::forecast(snapshot, &outlook);
            let lines = lines::of_forecast(&view, &days.order_days_before, days.overdue_every_days);
            Ok(LetterParts { lines, ..plain_parts(forecast::terminal(&view, plain), &own_reports)? })
        }
        Report::Stock => {
            let view = view::stock::stock(snapshot, session.clock.today());
            plain_parts(stock::terminal(&view, plain), &own_reports)
        }
    }
}

/// A report as it stands in the terminal; its first paragraph is its headline.
fn plain_parts(text: String, own_reports: &Path) -> Result<LetterParts, CommandError> {
    let headline = text.lines().take_while(|line| !line.is_empty()).collect::<Vec<_>>().join(" ");
    let rendered = html::render(PLAIN_PAGE, &json!({ "headline": headline, "text": text }), Some(own_reports))?;
    Ok(LetterParts { headline, text, html: rendered.html, warnings: rendered.warnings, ..LetterParts::default() })
}

/// A report that could not be made, told of in its place: the others still go out.
///
/// # Errors
/// Where not even this page can be made.
pub fn failed_parts(session: &Session, report: Report, error: &CommandError) -> Result<LetterParts, CommandError> {
    let next = error.hint.as_ref().map(|hint| format!("\nWhat to do: {hint}.")).unwrap_or_default();
    let text = format!("The report {report} could not be made: {}.{next}\n", error.message);
    let headline = format!("the report {report} could not be made");
    let parts = plain_parts(text, &own_reports(session)?)?;
    let line = crate::plan::reminder::Line {
        kind: "fault".to_owned(),
        subject: report.to_string(),
        state: error.message.clone(),
        day: None,
        later_is_no_change: false,
        amount: 0,
        days_before: Vec::new(),
        overdue_every_days: 0,
        words: format!("{headline}: {}", error.message),
    };
    Ok(LetterParts { headline, lines: vec![line], ..parts })
}

/// Where the workshop keeps changed copies of the templates.
///
/// # Errors
/// Where no store is named.
pub fn own_reports(session: &Session) -> Result<PathBuf, CommandError> {
    Ok(session.store_file()?.parent().unwrap_or(Path::new("")).join("reports"))
}
