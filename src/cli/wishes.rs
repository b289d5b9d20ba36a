//! Arguments of the reorder list and of what the maker wants of it.

use super::{By, Files, date};
use chrono::NaiveDate;
use clap::{Args, Subcommand};

/// Arguments of `reorder`.
#[derive(Debug, Args)]
pub struct Reorder {
    /// The last day to look at; the last make date of the plan where it is not given
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub through: Option<NaiveDate>,
    /// Stop looking for a cheaper plan after so many seconds
    #[arg(long, allow_negative_numbers = true)]
    pub seconds: Option<f64>,
    /// Show the lines of one material, what they cover, and what else is offered
    #[arg(long, value_name = "MATERIAL")]
    pub why: Option<String>,
    /// Show only what has to be ordered before you look again; the rest in one line each
    #[arg(long)]
    pub due: bool,
    /// Without a supplier, a material, an offer (SUPPLIER/MATERIAL, SUPPLIER/MATERIAL/PACK) or a day (DATE, DATE/DATE)
    #[arg(long, value_name = "WHAT", help_heading = "Just for this list (see `stillroom wish`)")]
    pub exclude: Vec<String>,
    /// Buy there what the supplier sells, the material as this offer, the material at once, or order on this day only
    #[arg(long, value_name = "WHAT", help_heading = "Just for this list (see `stillroom wish`)")]
    pub pin: Vec<String>,
    /// Let a supplier cost so many percent more: SUPPLIER=PERCENT
    #[arg(long, value_name = "SUPPLIER=PERCENT", help_heading = "Just for this list (see `stillroom wish`)")]
    pub prefer: Vec<String>,
    /// Spend no more than this on orders placed within a week, in the home currency
    #[arg(long, value_name = "MONEY", help_heading = "Just for this list (see `stillroom wish`)")]
    pub budget: Option<String>,
    /// The last day whose orders the budget pays
    #[arg(long, value_name = "DATE", requires = "budget", value_parser = date, help_heading = "Just for this list (see `stillroom wish`)")]
    pub budget_through: Option<NaiveDate>,
    /// Leave out the wishes that are kept
    #[arg(long, help_heading = "Just for this list (see `stillroom wish`)")]
    pub without_wishes: bool,
    /// Where it is written besides
    #[command(flatten)]
    pub files: Files,
}

/// What is wanted of every reorder list, the one in letters too, until it is lifted.
#[derive(Debug, Subcommand)]
pub enum Wish {
    /// List the wishes that are kept
    List,
    /// Nothing from there, nothing of that, no order on that day
    Exclude {
        /// A supplier, a material, an offer (SUPPLIER/MATERIAL, SUPPLIER/MATERIAL/PACK) or a day (DATE, DATE/DATE)
        what: String,
        /// Why
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Buy there what the supplier sells, the material as this offer, the material at once, or order on this day only
    Pin {
        /// A supplier, a material, an offer (SUPPLIER/MATERIAL, SUPPLIER/MATERIAL/PACK) or a day (DATE, DATE/DATE)
        what: String,
        /// Why
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Let a supplier cost so many percent more than others
    Prefer {
        /// The supplier
        supplier: String,
        /// By how much: `5` for 5 %
        percent: String,
        /// Why
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Spend no more than this on orders placed within a week, or through a day
    Budget {
        /// How much, in the home currency
        money: String,
        /// The last day whose orders it pays; without it, always the next seven days
        #[arg(long, value_name = "DATE", value_parser = date)]
        through: Option<NaiveDate>,
        /// Why
        #[arg(long)]
        reason: Option<String>,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
    /// Lift a wish: it no longer counts
    Lift {
        /// Its code, as `wish list` shows it
        wish: String,
        /// Who did it
        #[command(flatten)]
        by: By,
    },
}

/// What to show of suppliers.
#[derive(Debug, Subcommand)]
pub enum Supplier {
    /// List suppliers with the lead time that they state and the one that received orders taught
    List,
}
