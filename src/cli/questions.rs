//! Arguments of the commands that ask about what was made, what it cost and what it is made of.

use super::{By, date};
use crate::post::report_name::ReportName;
use chrono::NaiveDate;
use clap::builder::PossibleValue;
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Where a sheet goes besides the terminal.
#[derive(Clone, Debug, Args)]
#[group(id = "sheet_files")]
pub struct Sheet {
    /// Write it as a page that prints well
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
}

/// Where a report is written besides the terminal.
#[derive(Clone, Debug, Default, Args)]
#[group(id = "report_files")]
pub struct Files {
    /// Write it as a page as well: for the browser, for a phone, to print
    #[arg(long, value_name = "FILE", help_heading = "Into a file")]
    pub html: Option<PathBuf>,
    /// Write it as plain text as well
    #[arg(long, value_name = "FILE", help_heading = "Into a file")]
    pub text: Option<PathBuf>,
    /// Write its rows as a CSV table as well
    #[arg(long, value_name = "FILE", help_heading = "Into a file")]
    pub csv: Option<PathBuf>,
}

impl ValueEnum for ReportName {
    fn value_variants<'a>() -> &'a [Self] {
        &Self::ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.word()).help(self.about()))
    }
}

/// Arguments of `month`.
#[derive(Debug, Args)]
pub struct Month {
    /// The last day; a month from today where it is not given
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub through: Option<NaiveDate>,
    /// Where it is written besides
    #[command(flatten)]
    pub files: Files,
}

/// Arguments of `weigh`.
#[derive(Debug, Args)]
pub struct Weigh {
    /// The plan entry
    pub entry: String,
    /// Where it is written besides
    #[command(flatten)]
    pub files: Files,
}

/// Arguments of `trace`.
#[derive(Debug, Args)]
pub struct Trace {
    /// A lot, a supplier's lot number, or a batch
    pub subject: String,
    /// Where the recall sheet goes
    #[command(flatten)]
    pub sheet: Sheet,
}

/// What to ask about batches.
#[derive(Debug, Subcommand)]
pub enum Batch {
    /// List the batches, the newest first
    List {
        /// How many
        #[arg(long, default_value_t = 20)]
        last: usize,
    },
    /// Show what went into a batch, what it and a piece of it cost, and what is left of it
    Show {
        /// The batch
        batch: String,
        /// Where it is written besides
        #[command(flatten)]
        files: Files,
    },
}

/// What to ask about formulas.
#[derive(Debug, Subcommand)]
pub enum Formula {
    /// List the formulas with their versions
    List,
    /// Look a formula over: total, use rates, cost, pieces that the stock allows, ingredient list
    Check {
        /// The formula
        formula: String,
        /// Which version; the newest where it is not given
        #[arg(long, value_name = "VERSION")]
        revision: Option<String>,
        /// Take prices from today's offers instead of the lots on the shelves
        #[arg(long)]
        at_offers: bool,
    },
    /// Show two versions side by side
    Compare {
        /// The formula
        formula: String,
        /// One version
        left: String,
        /// The other; the newest where it is not given
        right: Option<String>,
    },
    /// Make a new version as a copy of the newest, to be changed by import
    Revise {
        /// The formula
        formula: String,
        /// The name of the new version; the next number where it is not given
        #[arg(long, value_name = "VERSION")]
        revision: Option<String>,
        /// Why there is a new version
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
}

/// Arguments of `use-up`.
#[derive(Debug, Args)]
pub struct UseUp {
    /// The last day to look at; the last make date of the plan where it is not given
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub through: Option<NaiveDate>,
    /// At most so many extra batches, 1 to 6
    #[arg(long, default_value_t = 3, value_parser = clap::value_parser!(u8).range(1..=6))]
    pub batches: u8,
    /// Where it is written besides
    #[command(flatten)]
    pub files: Files,
}

/// Arguments of `write-offs`.
#[derive(Debug, Args)]
pub struct WriteOffs {
    /// The first day; the first of the month eleven months before the last day where it is not given
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub from: Option<NaiveDate>,
    /// The last day; today where it is not given
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub to: Option<NaiveDate>,
    /// Where it is written besides
    #[command(flatten)]
    pub files: Files,
}

/// Arguments of `prices`.
#[derive(Debug, Args)]
pub struct Prices {
    /// The material; all whose price has changed where none is named
    pub material: Option<String>,
    /// Where it is written besides
    #[command(flatten)]
    pub files: Files,
}
