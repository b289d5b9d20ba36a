//! A letter that carries reports: the news as its subject, the reports as text and HTML with their pictures, and in
//! attachments their rows, the whole of what the letter cuts, and the days for a calendar.

use super::address::Mailbox;
use super::letter::{Attachment, InlinePicture, Letter};
use crate::render::document::{Cut, Document};
use crate::render::html::PageError;
use crate::render::picture::png::{DrawError, Painter};
use crate::render::report::Report;
use crate::render::{csv, html, ical, text};
use chrono::{DateTime, NaiveDate, Utc};
use std::path::Path;

/// What a letter shows of a report; the rest is in the attached page.
const CUT: Cut = Cut { rows: 15, lines: 15, pictures: 6, sections: 12 };

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

/// Why there is no letter: faults of the program.
#[derive(Debug, thiserror::Error)]
pub enum ReportLetterError {
    /// A page.
    #[error(transparent)]
    Page(#[from] PageError),
    /// A picture.
    #[error(transparent)]
    Picture(#[from] DrawError),
}

/// The letter with these reports, and what was wrong with the workshop's own templates. `preface`: sentences before the
/// first report, such as what is new since the last letter; `own_reports`: the folder of those templates.
///
/// # Errors
/// [`ReportLetterError`] where a page or picture cannot be made.
pub fn letter(
    reports: &[Report],
    preface: &[String],
    as_of: NaiveDate,
    envelope: Envelope,
    own_reports: Option<&Path>,
) -> Result<(Letter, Vec<String>), ReportLetterError> {
    let mut shown: Vec<Document> = Vec::with_capacity(reports.len());
    let mut attachments = Vec::new();
    let mut warnings: Vec<String> = Vec::new();
    for report in reports {
        let (short, is_cut) = report.document.cut(CUT);
        shown.push(short);
        if is_cut || report.is_sheet() {
            let page = report.html(own_reports)?;
            warnings.extend(page.warnings);
            let content = page.html.into_bytes();
            attachments.push(attachment(report, as_of, "html", "text/html; charset=utf-8", content));
        }
        if (is_cut || report.csv_in_letters) && !report.csv.is_empty() {
            let content = csv::with_utf8_mark(&report.csv);
            attachments.push(attachment(report, as_of, "csv", "text/csv; charset=utf-8", content));
        }
    }
    attachments.extend(dates(reports, as_of, &envelope));
    let subject = subject(reports);
    let pictures = pictures(&shown)?;
    let rendered = html::letter(&subject, preface, &shown, own_reports)?;
    warnings.extend(rendered.warnings);
    warnings.dedup();
    let mut words: String =
        preface.iter().map(|line| crate::render::paragraph::wrapped("", line, text::LETTER_WIDTH)).collect();
    if !words.is_empty() {
        words.push('\n');
    }
    words.push_str(&text::letters(&shown));
    let letter = Letter {
        from: envelope.from,
        to: envelope.to,
        subject,
        text: words,
        html: rendered.html,
        pictures,
        attachments,
        written: envelope.written,
        message_id: envelope.message_id,
        day: as_of,
        slug: match reports {
            [only] => only.file_stem.clone(),
            _ => "reports".to_owned(),
        },
        is_draft: false,
    };
    Ok((letter, warnings))
}

/// The news of all reports, the first of each first; the titles where there is none: `3 orders to place by Thursday; 2 oils at risk`.
fn subject(reports: &[Report]) -> String {
    let news: Vec<&str> = reports.iter().flat_map(|report| &report.news).map(String::as_str).collect();
    if !news.is_empty() {
        return news.join("; ");
    }
    let titles: Vec<&str> = reports.iter().map(|report| report.document.title.trim_end_matches('.')).collect();
    titles.join("; ")
}

/// Every picture once, whichever report shows it.
fn pictures(shown: &[Document]) -> Result<Vec<InlinePicture>, DrawError> {
    let mut pictures: Vec<InlinePicture> = Vec::new();
    let painter = Painter::default();
    for picture in shown.iter().flat_map(Document::pictures) {
        let content_id = format!("{}@stillroom", picture.id);
        if pictures.iter().all(|known| known.content_id != content_id) {
            let name = format!("{}.png", picture.id);
            pictures.push(InlinePicture { content_id, name, png: painter.png(picture)? });
        }
    }
    Ok(pictures)
}

fn attachment(report: &Report, as_of: NaiveDate, ending: &str, media_type: &str, content: Vec<u8>) -> Attachment {
    let name = format!("{}-{as_of}.{ending}", report.file_stem);
    Attachment { name, media_type: media_type.to_owned(), content }
}

/// The calendar file; none where there is no day to put into it.
fn dates(reports: &[Report], as_of: NaiveDate, envelope: &Envelope) -> Option<Attachment> {
    let mut entries: Vec<ical::DateEntry> = Vec::new();
    for entry in reports.iter().flat_map(|report| &report.dates) {
        if entries.iter().all(|known| known.key != entry.key) {
            entries.push(entry.clone());
        }
    }
    let workshop = envelope.from.address().rsplit('@').next().unwrap_or("localhost");
    let content = ical::calendar(&entries, envelope.written, workshop).into_bytes();
    let media_type = "text/calendar; charset=utf-8".to_owned();
    (!entries.is_empty()).then(|| Attachment { name: format!("dates-{as_of}.ics"), media_type, content })
}
