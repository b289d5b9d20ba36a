//! The reorder letter: the list as text and HTML, its lines as CSV.

use super::address::Mailbox;
use super::letter::{Attachment, Letter};
use crate::render::{csv, html, reorder, text};
use crate::view::reorder::ReorderView;
use chrono::{DateTime, Utc};
use std::path::Path;

/// Who writes to whom, when, and under which id.
#[derive(Clone, Debug)]
pub struct Envelope {
    /// From whom.
    pub from: Mailbox,
    /// To whom.
    pub to: Vec<Mailbox>,
    /// When it was written.
    pub written: DateTime<Utc>,
    /// `local@domain`: the same for all tries.
    pub message_id: String,
}

/// The letter, and what was wrong with the workshop's own copy of the page. `own_reports` is that copy's folder.
///
/// # Errors
/// [`html::PageError`] where the page cannot be made.
pub fn letter(
    view: &ReorderView,
    envelope: Envelope,
    own_reports: Option<&Path>,
) -> Result<(Letter, Vec<String>), html::PageError> {
    let page = reorder::page(view);
    let rendered = html::render(html::REORDER, &page, own_reports)?;
    let attachment = Attachment {
        name: format!("reorder-{}.csv", view.as_of),
        media_type: "text/csv; charset=utf-8".to_owned(),
        content: csv::with_utf8_mark(&csv::reorder_lines(view)),
    };
    let letter = Letter {
        from: envelope.from,
        to: envelope.to,
        subject: page.headline.clone(),
        text: text::letter(&page),
        html: rendered.html,
        attachments: vec![attachment],
        written: envelope.written,
        message_id: envelope.message_id,
        day: view.as_of,
        slug: "reorder".to_owned(),
    };
    Ok((letter, rendered.warnings))
}
