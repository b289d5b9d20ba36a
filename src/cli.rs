//! What can be typed: the command line as types. What it means is decided in `commands`.

mod bench;
mod by;
pub mod elsewhere;
pub mod examples;
mod letters;
mod questions;
mod safe;
mod wishes;

pub use bench::{Act, Leaving, Lot, Make, Pieces, Stocktake};
pub use by::By;
pub use letters::{Outbox, Schedule, Snooze};
pub use questions::{Batch, Files, Formula, Month, Prices, Sheet, Trace, UseUp, Weigh, WriteOffs};
pub use safe::{Backup, Doctor, Restore};
pub use wishes::{Reorder, Supplier, Wish};

use crate::clock::AsOf;
use crate::post::report_name::ReportName;
use chrono::{Datelike, NaiveDate};
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// The stock-keeper of a small workshop that makes soap and skin care by hand.
#[derive(Debug, Parser)]
#[command(name = "stillroom", version, propagate_version = true, max_term_width = 100)]
pub struct Cli {
    /// What holds for every command.
    #[command(flatten)]
    pub common: Common,
    /// What to do; nothing: look at the day or, where there is no workshop yet, begin one
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// What holds for every command.
#[derive(Clone, Debug, Args)]
pub struct Common {
    /// The workshop's store, one SQLite file; else $STILLROOM_STORE, the settings, the usual data folder
    #[arg(long, global = true, value_name = "FILE", help_heading = "For every command")]
    pub store: Option<PathBuf>,
    /// The settings file; else $STILLROOM_CONFIG, the usual settings folder
    #[arg(long, global = true, value_name = "FILE", help_heading = "For every command")]
    pub config: Option<PathBuf>,
    /// Take this day for today; with a time, `2027-03-09T07:30`, also that for now
    #[arg(long, global = true, value_name = "DATE", help_heading = "For every command")]
    pub as_of: Option<AsOf>,
    /// Answer in JSON, for other programs
    #[arg(long, global = true, help_heading = "For every command")]
    pub json: bool,
    /// Say what is going on (twice: in detail), on standard error
    #[arg(long, short, global = true, action = clap::ArgAction::Count, help_heading = "For every command")]
    pub verbose: u8,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Begin: a few questions, the settings with their comments, and an empty store
    Init(Init),
    /// Make the example workshop in a new folder and show its month
    Demo(Demo),
    /// Read materials, suppliers, lots, formulas and the plan from CSV files, folders or XLSX workbooks
    Import(Import),
    /// Write everything back to CSV files
    Export(Export),
    /// Show what the day asks for: to make, to order, what comes, what wants a decision
    Today(Today),
    /// Show what is on the shelves and what it is worth
    Stock(Stock),
    /// Show the month ahead: by week and day, what is made, what it needs, what is short, to order, comes and ends
    Month(Month),
    /// Show the days ahead: what the plan needs, what runs short, when to order
    Forecast(Forecast),
    /// Show which lots the plan takes for what
    Allocate(Allocate),
    /// Show what ends within the plan, what of it will still be used, and what is at risk
    Expiring(Expiring),
    /// Find what to order, from whom, in which packs, by which day, at the least cost
    Reorder(Reorder),
    /// Keep, list or lift what you want of every reorder list: nothing from a supplier, no more than a budget
    #[command(subcommand)]
    Wish(Wish),
    /// Show suppliers, and how long their parcels really take
    #[command(subcommand)]
    Supplier(Supplier),
    /// Place an order that was proposed, list or cancel orders
    #[command(subcommand)]
    Order(Order),
    /// Take in a parcel, or goods that came without an order
    Receive(Receive),
    /// List, add, move, repeat or drop plan entries
    #[command(subcommand)]
    Plan(Plan),
    /// Write the weighing sheet of a plan entry
    Weigh(Weigh),
    /// Record what was made: a plan entry, a test batch, or a premix for the shelf
    Make(Make),
    /// Open, release, reject, retest, move, decant, return or write off a lot
    #[command(subcommand)]
    Lot(Lot),
    /// Correct what a lot holds after counting or weighing it
    Count(Count),
    /// Write a counting sheet, or enter the counts of a stocktake
    #[command(subcommand)]
    Stocktake(Stocktake),
    /// Show finished pieces, record what leaves (sold, given, tried, wasted), hold back and release
    #[command(subcommand)]
    Pieces(Pieces),
    /// Show what was done last, or take it back
    #[command(subcommand)]
    Act(Act),
    /// Show what was made: what went into a batch, what it and a piece of it cost, what is left of it
    #[command(subcommand)]
    Batch(Batch),
    /// Follow a lot to every batch and piece, or a batch back to every lot
    Trace(Trace),
    /// Check or compare formulas: total, use rates, cost, pieces that the stock allows, ingredient list
    #[command(subcommand)]
    Formula(Formula),
    /// Find what to make so that less expires
    UseUp(UseUp),
    /// Show what was written off, by month and reason
    WriteOffs(WriteOffs),
    /// Show which prices have changed, or what a material has cost, by supplier
    Prices(Prices),
    /// Send reports as a letter, or lay it in the outbox folder
    Mail(Mail),
    /// Send the letters that are due by the schedules in the settings, and end
    Post,
    /// Stay, and send letters whenever they are due
    Watch,
    /// Show the schedules: the next letters and the last ones
    Schedule(Schedule),
    /// List, show, retry or drop letters that come by themselves
    #[command(subcommand)]
    Outbox(Outbox),
    /// Snooze a material or lot, so that letters do not tell of it as news until a day; or show what is snoozed
    Snooze(Snooze),
    /// Make a copy of the store, while others may write
    Backup(Backup),
    /// Put a copy in the store's place; what it replaces is kept
    Restore(Restore),
    /// Examine the store: is it whole, and if not, how to come back
    Doctor(Doctor),
    /// Write the manual, a page for each command, as `man` shows it
    Manual(Manual),
    /// Write what a shell has to know to complete commands, options and the codes in your store
    Completions(Completions),
}

/// Arguments of `manual`.
#[derive(Debug, Args)]
pub struct Manual {
    /// The folder; it is made where there is none
    pub folder: PathBuf,
}

/// Arguments of `completions`.
#[derive(Debug, Args)]
pub struct Completions {
    /// The shell: bash, elvish, fish, powershell or zsh
    pub shell: String,
}

/// Arguments of `init`. What is left out is asked for in a terminal.
#[derive(Debug, Default, Args)]
pub struct Init {
    /// The currency in which the workshop counts (ISO 4217)
    #[arg(long, value_name = "CODE")]
    pub currency: Option<String>,
    /// The workshop's time zone: a name of the IANA list
    #[arg(long, value_name = "ZONE")]
    pub time_zone: Option<String>,
    /// To whom letters go; empty for nobody yet
    #[arg(long, value_name = "ADDRESS")]
    pub to: Option<String>,
    /// Write empty sheets to fill in, as a workbook and as CSV files; into the new folder `stillroom-sheets` where none is named
    #[arg(long, value_name = "FOLDER", num_args = 0..=1, default_missing_value = SHEETS)]
    pub sheets: Option<PathBuf>,
}

/// The folder of the empty sheets, where none is named.
pub const SHEETS: &str = "stillroom-sheets";

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub struct Demo {
    /// The new folder
    #[arg(default_value = "stillroom-demo")]
    pub folder: PathBuf,
}

/// Arguments of `today`.
#[derive(Debug, Args)]
pub struct Today {
    /// How many days ahead to look for what is not due yet
    #[arg(long, value_name = "DAYS", default_value_t = Today::default().days, value_parser = clap::value_parser!(u32).range(..=366))]
    pub days: u32,
    /// Where it is written besides
    #[command(flatten)]
    pub files: Files,
}

impl Default for Today {
    fn default() -> Self {
        Self { days: 7, files: Files::default() }
    }
}

/// Arguments of `import`.
#[derive(Debug, Default, Args)]
pub struct Import {
    /// CSV files, folders of them, or XLSX workbooks
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// Show what would be added and changed, and stop there
    #[arg(long)]
    pub dry_run: bool,
    /// The home currency of a new store (ISO 4217)
    #[arg(long, value_name = "CODE")]
    pub currency: Option<String>,
    /// For spreadsheets of your own: find out with you what each column means, and remember it; nothing is imported yet
    #[arg(long, conflicts_with_all = ["dry_run", "mapping"])]
    pub map: bool,
    /// With --map: make a mapping anew that is there already
    #[arg(long, requires = "map")]
    pub overwrite: bool,
    /// Read your own spreadsheets by this mapping; it is found by their titles where it is not given
    #[arg(long, value_name = "NAME")]
    pub mapping: Option<String>,
}

/// Arguments of `export`.
#[derive(Debug, Args)]
pub struct Export {
    /// The folder to write to; it is made where there is none
    pub folder: PathBuf,
    /// Replace files that are there already
    #[arg(long)]
    pub overwrite: bool,
}

/// Arguments of `stock`.
#[derive(Debug, Args)]
pub struct Stock {
    /// Show the value by material and by place instead of each lot
    #[arg(long)]
    pub value: bool,
    /// Where it is written besides
    #[command(flatten)]
    pub files: Files,
}

/// Arguments of `forecast`.
#[derive(Debug, Args)]
pub struct Forecast {
    /// The last day to look at; the last make date of the plan where it is not given
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub through: Option<NaiveDate>,
    /// Show what is behind a material's figures
    #[arg(long, value_name = "MATERIAL")]
    pub why: Option<String>,
    /// Where it is written besides
    #[command(flatten)]
    pub files: Files,
}

/// Arguments of `allocate`.
#[derive(Debug, Args)]
pub struct Allocate {
    /// The last day to look at; the last make date of the plan where it is not given
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub through: Option<NaiveDate>,
    /// Show one plan entry only
    #[arg(long, value_name = "ENTRY")]
    pub why: Option<String>,
}

/// Arguments of `expiring`.
#[derive(Debug, Args)]
pub struct Expiring {
    /// The last day to look at; the last make date of the plan where it is not given
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub through: Option<NaiveDate>,
    /// Show who will still use a lot, and what limits its life
    #[arg(long, value_name = "LOT")]
    pub why: Option<String>,
    /// Show what could be made of what is at risk as well, as `use-up` does
    #[arg(long, conflicts_with = "why")]
    pub use_up: bool,
    /// Where it is written besides
    #[command(flatten)]
    pub files: Files,
}

/// What to do with orders.
#[derive(Debug, Subcommand)]
pub enum Order {
    /// List the orders that have not come yet
    List,
    /// Place proposed orders: those that are due today, or the next one of each supplier named
    Place {
        /// Suppliers whose next proposed order is placed today, due or not
        #[arg(value_name = "SUPPLIER")]
        suppliers: Vec<String>,
        /// The last day of the plan to look at, as for `reorder`
        #[arg(long, value_name = "DATE", value_parser = date)]
        through: Option<NaiveDate>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Write the letters to suppliers, as drafts for you to send: of orders that were placed, or of the plan
    Letter {
        /// Orders that were placed, or suppliers whose next proposed order it is about; all orders of the plan where none
        /// is named
        #[arg(value_name = "ORDER_OR_SUPPLIER")]
        subjects: Vec<String>,
        /// With prices
        #[arg(long)]
        prices: bool,
    },
    /// Cancel what has not come of an order
    Cancel {
        /// The order
        order: String,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
}

/// Arguments of `receive`. Details that are left out are asked for in a terminal.
#[derive(Debug, Args)]
pub struct Receive {
    /// The order that the parcel belongs to; all that is open of it, unless --material says otherwise
    pub order: Option<String>,
    /// The material that came
    #[arg(long)]
    pub material: Option<String>,
    /// The size of the packs that came, as in the order, where it has several of the material: `1 kg`
    #[arg(long, requires = "material", conflicts_with = "amount")]
    pub pack: Option<String>,
    /// How many packs of it came; all that are open where it is not given
    #[arg(long, requires = "order", allow_negative_numbers = true)]
    pub packs: Option<i64>,
    /// How much came without an order: `500 g`, `24 pcs`
    #[arg(long, conflicts_with_all = ["order", "packs"], allow_hyphen_values = true)]
    pub amount: Option<String>,
    /// The supplier of what came without an order
    #[arg(long, conflicts_with = "order")]
    pub supplier: Option<String>,
    /// The supplier's lot number; `MATERIAL=NUMBER`, once for each, where several materials came
    #[arg(long, value_name = "NUMBER")]
    pub supplier_lot: Vec<String>,
    /// The supplier's best-before date; `MATERIAL=DATE`, once for each, where several materials came
    #[arg(long, value_name = "DATE")]
    pub best_before: Vec<String>,
    /// What the lot cost in all, postage and duty included if you like; 0 for a free sample. The order's price where it is not given
    #[arg(long, requires = "material", allow_hyphen_values = true)]
    pub cost: Option<String>,
    /// What postage and duty of the parcel cost, shared over its lots by value
    #[arg(long, value_name = "MONEY", requires = "order", conflicts_with = "cost")]
    pub postage_and_duty: Option<String>,
    /// The currency of --cost; the supplier's or the home currency where it is not given
    #[arg(long, value_name = "CODE", requires = "cost")]
    pub currency: Option<String>,
    /// Where it is put
    #[arg(long)]
    pub place: Option<String>,
    /// Keep it in quarantine until it is checked
    #[arg(long)]
    pub quarantine: bool,
    /// Who did it
    #[command(flatten)]
    pub by: By,
}

/// What to do with the plan.
#[derive(Debug, Subcommand)]
pub enum Plan {
    /// List what is planned, and whether everything for it is there
    List {
        /// The last day to list
        #[arg(long, value_name = "DATE", value_parser = date)]
        through: Option<NaiveDate>,
    },
    /// Add an entry
    Add {
        /// The product
        product: String,
        /// `24 pcs`, `2 moulds` or `1.5 kg`
        #[arg(allow_hyphen_values = true)]
        amount: String,
        /// When it is made or ready
        #[command(flatten)]
        when: When,
        /// A code of your own for the entry
        #[arg(long)]
        entry: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Move an entry to another day
    Move {
        /// The entry
        entry: String,
        /// When it is made or ready
        #[command(flatten)]
        when: When,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Repeat an entry at equal distances
    Repeat {
        /// The entry
        entry: String,
        /// How often
        #[arg(long)]
        every: Every,
        /// How many more entries
        #[arg(long, conflicts_with = "until", required_unless_present = "until", value_parser = clap::value_parser!(u32).range(1..))]
        times: Option<u32>,
        /// The last day that an entry may fall on
        #[arg(long, value_name = "DATE", value_parser = date)]
        until: Option<NaiveDate>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Drop an entry
    Drop {
        /// The entry
        entry: String,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
}

/// The day of a plan entry.
#[derive(Clone, Copy, Debug, Args)]
#[group(required = true, multiple = false)]
pub struct When {
    /// The day it is made
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub make_on: Option<NaiveDate>,
    /// The day it has to be set and cured by
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub ready_by: Option<NaiveDate>,
}

/// How often a plan entry is repeated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Every {
    /// Every week
    Week,
    /// Every two weeks
    TwoWeeks,
    /// On the same day of each month, or its last
    Month,
}

/// Arguments of `count`.
#[derive(Debug, Args)]
pub struct Count {
    /// The lot
    pub lot: String,
    /// What is really there: `480 g`, `23 pcs`
    #[arg(allow_hyphen_values = true)]
    pub amount: String,
    /// Why it differs
    #[arg(long)]
    pub reason: String,
    /// Who did it
    #[command(flatten)]
    pub by: By,
}

/// Arguments of `mail`.
#[derive(Debug, Args)]
pub struct Mail {
    /// What to send
    #[arg(required = true, value_name = "REPORT")]
    pub reports: Vec<ReportName>,
    /// To whom; as the settings say where it is not given
    #[arg(long, value_name = "ADDRESS")]
    pub to: Vec<String>,
    /// The last day of the plan to look at
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub through: Option<NaiveDate>,
}

/// Reads a day of the calendar, of a year with four digits.
///
/// # Errors
/// What would be right, where it is none.
pub fn date(text: &str) -> Result<NaiveDate, String> {
    let day = text.trim().parse::<NaiveDate>().ok().filter(|day| (1_000..=9_999).contains(&day.year()));
    day.ok_or_else(|| "write year-month-day, 2027-03-09".to_owned())
}
