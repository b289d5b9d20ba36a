//! A report with all its renderings: one view, worded once, as terminal text, plain text, page, CSV and JSON; and what a
//! letter says of it in its subject and puts into a calendar.

use super::csv;
use super::document::Document;
use super::html::{self, PageError, Rendered};
use super::ical::DateEntry;
use super::table::Screen;
use super::text;
use crate::plan::reminder::Line;
use minijinja::Value;
use minijinja::value::Serde;
use serde::Serialize;
use std::path::Path;

/// A report that can be asked for in any form.
#[derive(Clone, Debug)]
pub struct Report {
    /// In words.
    pub document: Document,
    /// Its rows as CSV (RFC 4180), without the UTF-8 mark.
    pub csv: Vec<u8>,
    /// True where a letter always carries the rows, not only where it shows less than the whole.
    pub csv_in_letters: bool,
    /// The news in a few words each, the most pressing first; empty where there is none.
    pub news: Vec<String>,
    /// What in it may be news to those who had the last letter, in the order of the report.
    pub lines: Vec<Line>,
    /// Days for a calendar.
    pub dates: Vec<DateEntry>,
    /// How its files are named: `weigh-E04`.
    pub file_stem: String,
    /// What to do first where it has nothing to tell yet; said on the terminal only.
    pub way_on: Option<&'static str>,
    json: String,
    /// A template of its own with what fills it: a sheet that is printed and written on.
    sheet: Option<(&'static str, Value)>,
}

impl Report {
    /// A report of a view.
    ///
    /// # Errors
    /// Never for the views of this program.
    pub fn new(view: &impl Serialize, document: Document) -> Result<Self, serde_json::Error> {
        Ok(Self {
            file_stem: document.name.clone(),
            document,
            csv: Vec::new(),
            csv_in_letters: false,
            news: Vec::new(),
            lines: Vec::new(),
            dates: Vec::new(),
            way_on: None,
            json: serde_json::to_string(view)? + "\n",
            sheet: None,
        })
    }

    /// With what to do first.
    #[must_use]
    pub fn way_on(self, way_on: Option<&'static str>) -> Self {
        Self { way_on, ..self }
    }

    /// With rows: see [`csv::of_report`].
    #[must_use]
    pub fn rows(self, path: &[&str], columns: &[&str]) -> Self {
        let csv = csv::of_report(&csv::asked_for(&self.json, path, columns), path, columns);
        Self { csv, ..self }
    }

    /// With rows that were made otherwise.
    #[must_use]
    pub fn made_rows(self, csv: Vec<u8>) -> Self {
        Self { csv, ..self }
    }

    /// With its rows in every letter, cut or not.
    #[must_use]
    pub fn rows_in_letters(self) -> Self {
        Self { csv_in_letters: true, ..self }
    }

    /// With what is new.
    #[must_use]
    pub fn news(self, news: Vec<String>) -> Self {
        Self { news, ..self }
    }

    /// With what may be news.
    #[must_use]
    pub fn lines(self, lines: Vec<Line>) -> Self {
        Self { lines, ..self }
    }

    /// With days for a calendar.
    #[must_use]
    pub fn dates(self, dates: Vec<DateEntry>) -> Self {
        Self { dates, ..self }
    }

    /// With a template of its own; `subject` tells its files from those of other sheets.
    #[must_use]
    pub fn sheet(self, template: &'static str, page: impl Serialize, subject: &str) -> Self {
        let value = Value::from(Serde(page));
        // A code may hold anything, a path say; the name of a file holds letters, digits and hyphens.
        let plain: String =
            subject.chars().map(|letter| if letter.is_ascii_alphanumeric() { letter } else { '-' }).collect();
        let words: Vec<&str> = plain.split('-').filter(|word| !word.is_empty()).collect();
        let file_stem = [&[self.document.name.as_str()], &words[..]].concat().join("-");
        Self { sheet: Some((template, value)), file_stem, ..self }
    }

    /// True for a sheet to print and write on: a letter carries its page whatever it shows itself.
    #[must_use]
    pub fn is_sheet(&self) -> bool {
        self.sheet.is_some()
    }

    /// For other programs, ended by a line break.
    #[must_use]
    pub fn json(&self) -> &str {
        &self.json
    }

    /// For the terminal.
    #[must_use]
    pub fn terminal(&self, screen: Screen) -> String {
        text::terminal(&self.document, screen)
    }

    /// As plain text of at most 72 characters a line.
    #[must_use]
    pub fn text(&self) -> String {
        text::letter(&self.document)
    }

    /// As a page. `own_folder` is where the workshop keeps changed templates.
    ///
    /// # Errors
    /// [`PageError`] where not even the built-in page can be made.
    pub fn html(&self, own_folder: Option<&Path>) -> Result<Rendered, PageError> {
        match &self.sheet {
            Some((template, page)) => html::render(template, page, own_folder),
            None => html::report(&self.document, own_folder),
        }
    }
}
