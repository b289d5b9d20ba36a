//! What can be typed about letters that come by themselves.

use super::date;
use chrono::NaiveDate;
use clap::{Args, Subcommand};

/// Arguments of `schedule`.
#[derive(Debug, Args)]
pub struct Schedule {
    /// How many coming letters to show of each
    #[arg(long, value_name = "COUNT", default_value_t = 3, value_parser = clap::value_parser!(u32).range(1..=100))]
    pub next: u32,
    /// How many past letters to show of each
    #[arg(long, value_name = "COUNT", default_value_t = 1, value_parser = clap::value_parser!(u32).range(0..=100))]
    pub last: u32,
}

/// What to do with the outbox.
#[derive(Debug, Subcommand)]
pub enum Outbox {
    /// List the letters that did not go out
    List {
        /// List those that were sent or dropped as well
        #[arg(long)]
        all: bool,
    },
    /// Show a letter and what has become of it
    Show {
        /// Its number
        letter: i64,
        /// Write the whole message, as it leaves
        #[arg(long, conflicts_with = "json")]
        message: bool,
    },
    /// Try letters again with the next `post`: those named, or all that were set aside
    Retry {
        /// Their numbers
        letters: Vec<i64>,
    },
    /// Give letters up; `retry` brings them back
    Drop {
        /// Their numbers
        #[arg(required = true)]
        letters: Vec<i64>,
    },
}

/// Arguments of `snooze`. Without any it shows what is snoozed.
#[derive(Debug, Args)]
pub struct Snooze {
    /// The material or lot
    #[arg(value_name = "MATERIAL|LOT")]
    pub subject: Option<String>,
    /// The day from which letters may tell of it as news again
    #[arg(long, value_name = "DATE", value_parser = date, requires = "subject", conflicts_with = "end")]
    pub until: Option<NaiveDate>,
    /// Why
    #[arg(long, requires = "until")]
    pub reason: Option<String>,
    /// End it: letters may tell of it as news from now on
    #[arg(long, requires = "subject")]
    pub end: bool,
}
