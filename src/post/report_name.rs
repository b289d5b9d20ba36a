//! The reports that letters can carry, by name. Each is called as its command is.

use std::fmt;
use std::str::FromStr;

/// A report.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ReportName {
    /// What the day asks for.
    Today,
    /// The month ahead.
    Month,
    /// What runs short, and every material's balance.
    Forecast,
    /// What to order.
    Reorder,
    /// What ends and is at risk, and what could be made of it.
    Expiring,
    /// The stock and its value.
    Stock,
    /// The weighing sheets of today.
    Weigh,
    /// What was written off.
    WriteOffs,
    /// Which prices have changed.
    Prices,
}

impl ReportName {
    /// All of them.
    pub const ALL: [Self; 9] = [
        Self::Today,
        Self::Month,
        Self::Forecast,
        Self::Reorder,
        Self::Expiring,
        Self::Stock,
        Self::Weigh,
        Self::WriteOffs,
        Self::Prices,
    ];

    /// As it is typed: `write-offs`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Today => "today",
            Self::Month => "month",
            Self::Forecast => "forecast",
            Self::Reorder => "reorder",
            Self::Expiring => "expiring",
            Self::Stock => "stock",
            Self::Weigh => "weigh",
            Self::WriteOffs => "write-offs",
            Self::Prices => "prices",
        }
    }

    /// What is in it.
    #[must_use]
    pub fn about(self) -> &'static str {
        match self {
            Self::Today => "What the day asks for",
            Self::Month => "The month ahead",
            Self::Forecast => "What runs short, and every material's balance",
            Self::Reorder => "What to order",
            Self::Expiring => "What ends and is at risk, and what could be made of it",
            Self::Stock => "The stock and its value",
            Self::Weigh => "The weighing sheets of today",
            Self::WriteOffs => "What was written off",
            Self::Prices => "Which prices have changed",
        }
    }

    /// The names of all, for a message.
    #[must_use]
    pub fn all_names() -> String {
        Self::ALL.map(|name| format!("\"{name}\"")).join(", ")
    }

    /// The kinds of its lines that can be news ([`crate::plan::reminder::Line::kind`]).
    #[must_use]
    pub fn line_kinds(self) -> &'static [&'static str] {
        match self {
            Self::Today => &["parcel", "quarantine", "ended"],
            Self::Reorder => &["late", "order"],
            Self::Expiring => &["lot"],
            Self::Forecast => &["short"],
            Self::Month | Self::Stock | Self::Weigh | Self::WriteOffs | Self::Prices => &[],
        }
    }

    /// True where its lines can be news.
    #[must_use]
    pub fn tells_news(self) -> bool {
        !self.line_kinds().is_empty()
    }
}

impl fmt::Display for ReportName {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.word())
    }
}

/// A name that no report has.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("there is no report {name:?}; there are {}", ReportName::all_names())]
pub struct NoReport {
    /// The name.
    pub name: String,
}

impl FromStr for ReportName {
    type Err = NoReport;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let found = Self::ALL.into_iter().find(|name| name.word() == text);
        found.ok_or_else(|| NoReport { name: text.to_owned() })
    }
}
