//! Arguments of the commands that ask about what was made, what it cost and what it is made of.

use super::date;
use chrono::NaiveDate;
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// Where a sheet goes besides the terminal.
#[derive(Clone, Debug, Args)]
#[group(id = "sheet_files")]
pub struct Sheet {
    /// Write it as a page that prints well
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
}

/// Arguments of `weigh`.
#[derive(Debug, Args)]
pub struct Weigh {
    /// The plan entry
    pub entry: String,
    /// Where the sheet goes
    #[command(flatten)]
    pub sheet: Sheet,
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
}

/// Arguments of `prices`.
#[derive(Debug, Args)]
pub struct Prices {
    /// The material
    pub material: String,
}
