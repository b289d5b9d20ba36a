//! Arguments of the commands that write down what happens at the bench.

use super::{By, Sheet, date};
use chrono::NaiveDate;
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

/// What happens to a lot. Details that are left out are asked for in a terminal.
#[derive(Debug, Subcommand)]
pub enum Lot {
    /// Show a lot: where it came from, what was taken from it
    Show {
        /// The lot
        lot: String,
    },
    /// Note that a lot was opened: its after-opening life begins
    Open {
        /// The lot
        lot: String,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Release a lot from quarantine
    Release {
        /// The lot
        lot: String,
        /// Who did it
        #[command(flatten)]
        by: By,
        /// What was checked
        #[arg(long)]
        reason: Option<String>,
    },
    /// Reject a lot: it is not used any more
    Reject {
        /// The lot
        lot: String,
        /// Why
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Write down a retest: passed with a new best-before date, or failed
    Retest {
        /// The lot
        lot: String,
        /// It passed, and is good through this day
        #[arg(long, value_name = "DATE", conflicts_with = "failed", value_parser = date)]
        passed: Option<NaiveDate>,
        /// It failed, and is rejected
        #[arg(long)]
        failed: bool,
        /// Who did it
        #[command(flatten)]
        by: By,
        /// What was tested
        #[arg(long)]
        reason: Option<String>,
    },
    /// Move a lot to another place
    Move {
        /// The lot
        lot: String,
        /// Where it stands from now on
        place: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Throw some of a lot away, or all of it
    WriteOff {
        /// The lot
        lot: String,
        /// How much; all that is left where it is not given
        #[arg(long, allow_hyphen_values = true)]
        amount: Option<String>,
        /// Why
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Send some of a lot back to its supplier, or all of it
    Return {
        /// The lot
        lot: String,
        /// How much; all that is left where it is not given
        #[arg(long, allow_hyphen_values = true)]
        amount: Option<String>,
        /// Why
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Fill part of a lot into a lot of its own
    Decant {
        /// The lot
        lot: String,
        /// How much
        #[arg(allow_hyphen_values = true)]
        amount: Option<String>,
        /// A code of your own for the new lot
        #[arg(long, value_name = "LOT")]
        into: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
}

/// Arguments of `make`. In a terminal the weighed amounts are asked for line by line.
#[derive(Debug, Args)]
pub struct Make {
    /// The plan entry
    #[arg(required_unless_present_any = ["product", "premix"])]
    pub entry: Option<String>,
    /// A test batch of this product, outside the plan
    #[arg(long, conflicts_with_all = ["entry", "premix"], requires = "amount")]
    pub product: Option<String>,
    /// A premix for the shelf; it becomes a lot
    #[arg(long, conflicts_with = "entry", requires = "amount")]
    pub premix: Option<String>,
    /// How much was made, where it is not what was planned: `30 pcs`, `1 mould`, `1.5 kg`
    #[arg(long)]
    pub amount: Option<String>,
    /// The entry goes on with what is left of it
    #[arg(long, requires = "entry", requires = "amount")]
    pub part: bool,
    /// What was really taken from a lot, where it is not what the sheet says: `L-0042=298.5 g`; any released lot, and `=0 g` for
    /// one that was left out
    #[arg(long = "took", value_name = "LOT=AMOUNT")]
    pub took: Vec<String>,
    /// Take the amounts of the weighing sheet without asking
    #[arg(long)]
    pub as_planned: bool,
    /// How many pieces came out; as planned where it is not given
    #[arg(long, allow_negative_numbers = true)]
    pub pieces: Option<i64>,
    /// Who weighed
    #[command(flatten)]
    pub by: By,
    /// The vessel's mass
    #[arg(long, value_name = "MASS")]
    pub tare: Option<String>,
    /// Why what was weighed differs from the sheet
    #[arg(long)]
    pub reason: Option<String>,
    /// Why a lot held more than the ledger says: it is counted first then
    #[arg(long, value_name = "REASON")]
    pub more_was_there: Option<String>,
    /// Where a premix is put
    #[arg(long, requires = "premix")]
    pub place: Option<String>,
    /// What to note with the batch
    #[arg(long)]
    pub note: Option<String>,
}

/// A stocktake.
#[derive(Debug, Subcommand)]
pub enum Stocktake {
    /// Write the counting sheet
    Sheet {
        /// Only lots in this place
        #[arg(long)]
        place: Option<String>,
        /// Show what should be there
        #[arg(long)]
        amounts: bool,
        /// Where the sheet goes
        #[command(flatten)]
        sheet: Sheet,
        /// Write it as CSV, to be filled in and entered
        #[arg(long, value_name = "FILE")]
        csv: Option<PathBuf>,
    },
    /// Enter a filled counting sheet: shows the differences and their value, then writes them
    Enter {
        /// The filled CSV file
        file: PathBuf,
        /// One reason for all differences that have none of their own
        #[arg(long)]
        reason: Option<String>,
        /// Write without asking; where there is no terminal nobody is asked, and it is written all the same, as one act
        #[arg(long, short)]
        yes: bool,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
}

/// How finished pieces leave.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Leaving {
    /// Sold
    Sale,
    /// Given away
    Gift,
    /// Given to try, or kept as a reference
    Sample,
    /// Broken, spoiled, thrown away
    Waste,
}

/// Finished pieces.
#[derive(Debug, Subcommand)]
pub enum Pieces {
    /// List what is left, by batch and best-before, and when a batch is ready
    List,
    /// Record pieces that leave
    Leave {
        /// The batch
        batch: String,
        /// How many
        pieces: Option<i64>,
        /// How
        #[arg(long = "as", value_enum)]
        how: Option<Leaving>,
        /// To whom, or why
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Correct how many are left after counting
    Count {
        /// The batch
        batch: String,
        /// How many are there
        pieces: i64,
        /// Why it differs
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Hold pieces back: they stay in quarantine, and none leaves but as waste, until they are released
    Hold {
        /// The batch
        batch: String,
        /// Why
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Release pieces from quarantine
    Release {
        /// The batch
        batch: String,
        /// What was checked
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Reject pieces: what is left of the batch can only be thrown away
    Reject {
        /// The batch
        batch: String,
        /// Why
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
}

/// What was done.
#[derive(Debug, Subcommand)]
pub enum Act {
    /// List the last acts
    List {
        /// How many
        #[arg(long, default_value_t = 20)]
        last: usize,
    },
    /// Take back the last act, or a named one
    Undo {
        /// Its number, as `act list` shows it
        act: Option<i64>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
}
