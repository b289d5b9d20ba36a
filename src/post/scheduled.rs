//! A letter that comes by itself: first what is new since the last, then its reports one after the other.

use super::letter::{Attachment, Letter};
use super::parts::LetterParts;
use super::reorder::Envelope;
use crate::render::html;
use crate::render::paragraph::wrapped;
use chrono::NaiveDate;
use serde::Serialize;
use std::path::Path;

/// Width of a letter's lines, in characters.
const LETTER_WIDTH: usize = 72;

/// So many lines of news stand at the top; the reports below hold all.
const MOST_NEWS: usize = 25;

/// Name of the letter's page.
const PAGE: &str = "scheduled.html";

/// What the letter says.
#[derive(Clone, Debug)]
pub struct Contents {
    /// The schedule's name.
    pub schedule: String,
    /// The day of the letter.
    pub day: NaiveDate,
    /// What is new, a sentence each.
    pub news: Vec<String>,
    /// What the news are headed with: `New since the letter of Mon 1 March`.
    pub heading: String,
    /// Remarks below the news: what is silenced, what was missed.
    pub notes: Vec<String>,
    /// The reports.
    pub sections: Vec<LetterParts>,
}

/// What the page is filled with.
#[derive(Serialize)]
struct Page {
    subject: String,
    heading: String,
    news: Vec<String>,
    notes: Vec<String>,
    styles: Vec<String>,
    bodies: Vec<String>,
}

/// The letter, and what was wrong with the workshop's own templates. `own_reports` is their folder.
///
/// # Errors
/// [`html::PageError`] where the page cannot be made.
pub fn letter(
    contents: Contents,
    envelope: Envelope,
    own_reports: Option<&Path>,
) -> Result<(Letter, Vec<String>), html::PageError> {
    let subject = subject(&contents);
    let mut news: Vec<String> = contents.news.iter().take(MOST_NEWS).cloned().collect();
    if contents.news.len() > MOST_NEWS {
        news.push(format!("and {} more, all of them below", contents.news.len() - MOST_NEWS));
    }
    let pages: Vec<(Vec<String>, String)> =
        contents.sections.iter().map(|section| taken_apart(&section.html)).collect();
    let mut styles: Vec<String> = Vec::new();
    for style in pages.iter().flat_map(|(styles, _)| styles) {
        if !styles.contains(style) {
            styles.push(style.clone());
        }
    }
    let page = Page {
        subject: subject.clone(),
        heading: contents.heading.clone(),
        news: news.clone(),
        notes: contents.notes.clone(),
        styles,
        bodies: pages.into_iter().map(|(_, body)| body).collect(),
    };
    let rendered = html::render(PAGE, &page, own_reports)?;
    let mut warnings: Vec<String> = contents.sections.iter().flat_map(|section| section.warnings.clone()).collect();
    warnings.extend(rendered.warnings);
    let attachments: Vec<Attachment> =
        contents.sections.iter().flat_map(|section| section.attachments.iter().cloned()).collect();
    let letter = Letter {
        from: envelope.from,
        to: envelope.to,
        subject,
        text: text(&contents, &news),
        html: rendered.html,
        attachments,
        written: envelope.written,
        message_id: envelope.message_id,
        day: contents.day,
        slug: contents.schedule,
    };
    Ok((letter, warnings))
}

/// The news first: most people read no further.
fn subject(contents: &Contents) -> String {
    let headlines = contents.sections.iter().map(|section| section.headline.trim_end_matches('.').to_owned());
    let new = match contents.news.len() {
        0 => None,
        count => Some(format!("{count} new")),
    };
    new.into_iter().chain(headlines).collect::<Vec<_>>().join("; ")
}

fn text(contents: &Contents, news: &[String]) -> String {
    let mut text = wrapped("", &contents.heading, LETTER_WIDTH);
    text.push_str(&format!("{}\n", "-".repeat(contents.heading.chars().count().min(LETTER_WIDTH))));
    for item in news {
        text.push_str(&wrapped("- ", item, LETTER_WIDTH));
    }
    for note in &contents.notes {
        text.push('\n');
        text.push_str(&wrapped("", note, LETTER_WIDTH));
    }
    for section in &contents.sections {
        text.push_str(&format!("\n{}\n\n", "=".repeat(LETTER_WIDTH)));
        text.push_str(section.text.trim_end());
        text.push('\n');
    }
    text
}

/// The styles of a page and what is in its body; the whole where it has none.
fn taken_apart(page: &str) -> (Vec<String>, String) {
    let between = |text: &str, open: &str, close: &str| -> Option<(String, usize)> {
        let start = text.find(open)?;
        let inner = start + text[start..].find('>')? + 1;
        let end = inner + text[inner..].find(close)?;
        Some((text[inner..end].to_owned(), end))
    };
    let mut styles = Vec::new();
    let mut rest = page;
    while let Some((style, end)) = between(rest, "<style", "</style>") {
        styles.push(style);
        rest = &rest[end..];
    }
    let body = between(page, "<body", "</body>").map_or_else(|| page.to_owned(), |(body, _)| body);
    (styles, body)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_is_taken_apart_and_anything_else_left_whole() {
        let page = "<html><head><style>a{}</style><style media=\"print\">b{}</style></head><body class=\"c\"><p>x</p></body></html>";
        assert_eq!(taken_apart(page), (vec!["a{}".to_owned(), "b{}".to_owned()], "<p>x</p>".to_owned()));
        assert_eq!(taken_apart("<p>x"), (Vec::new(), "<p>x".to_owned()));
        assert_eq!(taken_apart("<body"), (Vec::new(), "<body".to_owned()));
    }
}
