//! The seam between reports and letters: which reports there are, and what each gives to a letter.

use super::letter::Attachment;
use crate::plan::reminder::Line;
use std::fmt;
use std::str::FromStr;

/// A report that letters may hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Report {
    /// What to order.
    Reorder,
    /// What ends, and what of it is at risk.
    Expiring,
    /// The days ahead, and what runs short.
    Forecast,
    /// What is on the shelves.
    Stock,
}

impl Report {
    /// All of them, with the names that settings use.
    const ALL: [(Self, &'static str); 4] = [
        (Self::Reorder, "reorder"),
        (Self::Expiring, "expiring"),
        (Self::Forecast, "forecast"),
        (Self::Stock, "stock"),
    ];

    /// The kinds of its lines that can be news ([`Line::kind`]).
    #[must_use]
    pub fn line_kinds(self) -> &'static [&'static str] {
        match self {
            Self::Reorder => &["late", "order"],
            Self::Expiring => &["lot"],
            Self::Forecast => &["short"],
            Self::Stock => &[],
        }
    }

    /// True where its lines can be news.
    #[must_use]
    pub fn tells_news(self) -> bool {
        !self.line_kinds().is_empty()
    }

    /// The names of all, for a message.
    #[must_use]
    pub fn all_names() -> String {
        Self::ALL.map(|(_, name)| format!("\"{name}\"")).join(", ")
    }
}

impl fmt::Display for Report {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = Self::ALL.iter().find(|(report, _)| report == self).map_or("", |(_, name)| name);
        formatter.write_str(name)
    }
}

/// A name that no report has.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("there is no report {name:?}; there are {}", Report::all_names())]
pub struct NoReport {
    /// The name.
    pub name: String,
}

impl FromStr for Report {
    type Err = NoReport;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let found = Self::ALL.iter().find(|(_, name)| *name == text).map(|(report, _)| *report);
        found.ok_or_else(|| NoReport { name: text.to_owned() })
    }
}

/// What a report gives to a letter.
#[derive(Clone, Debug, Default)]
pub struct LetterParts {
    /// The report in one line: the subject of a letter that holds nothing else.
    pub headline: String,
    /// The report as plain text.
    pub text: String,
    /// The report as a whole HTML page of its own; what is in its body goes into the letter.
    pub html: String,
    /// Files that go with it.
    pub attachments: Vec<Attachment>,
    /// What in it may be news, in the order of the report.
    pub lines: Vec<Line>,
    /// What went wrong with the workshop's own templates.
    pub warnings: Vec<String>,
}
