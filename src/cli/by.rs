//! Who does it: the option of every act that is written down.

use super::{Act, Command, Formula, Lot, Order, Pieces, Plan, Stocktake, Wish};
use clap::Args;

/// Who does something that is written down.
#[derive(Clone, Debug, Default, Args)]
pub struct By {
    /// Who did it; `act list` shows the name
    #[arg(long = "by", value_name = "NAME")]
    pub name: Option<String>,
}

impl Command {
    /// Who does it, where that is said.
    #[must_use]
    pub fn by(&self) -> Option<&str> {
        let by = match self {
            Self::Receive(arguments) => &arguments.by,
            Self::Make(arguments) => &arguments.by,
            Self::Count(arguments) => &arguments.by,
            Self::Act(Act::Undo { by, .. }) | Self::Formula(Formula::Revise { by, .. }) => by,
            Self::Stocktake(Stocktake::Enter { by, .. }) => by,
            Self::Order(Order::Place { by, .. } | Order::Cancel { by, .. }) => by,
            Self::Lot(what) => of_lot(what)?,
            Self::Pieces(what) => of_pieces(what)?,
            Self::Plan(what) => of_plan(what)?,
            Self::Wish(what) => of_wish(what)?,
            _ => return None,
        };
        by.name.as_deref()
    }
}

fn of_lot(what: &Lot) -> Option<&By> {
    match what {
        Lot::Show { .. } => None,
        Lot::Open { by, .. }
        | Lot::Release { by, .. }
        | Lot::Reject { by, .. }
        | Lot::Retest { by, .. }
        | Lot::Move { by, .. }
        | Lot::WriteOff { by, .. }
        | Lot::Return { by, .. }
        | Lot::Decant { by, .. } => Some(by),
    }
}

fn of_pieces(what: &Pieces) -> Option<&By> {
    match what {
        Pieces::List => None,
        Pieces::Leave { by, .. }
        | Pieces::Count { by, .. }
        | Pieces::Hold { by, .. }
        | Pieces::Release { by, .. }
        | Pieces::Reject { by, .. } => Some(by),
    }
}

fn of_plan(what: &Plan) -> Option<&By> {
    match what {
        Plan::List { .. } => None,
        Plan::Add { by, .. } | Plan::Move { by, .. } | Plan::Repeat { by, .. } | Plan::Drop { by, .. } => Some(by),
    }
}

fn of_wish(what: &Wish) -> Option<&By> {
    match what {
        Wish::List => None,
        Wish::Exclude { by, .. }
        | Wish::Pin { by, .. }
        | Wish::Prefer { by, .. }
        | Wish::Budget { by, .. }
        | Wish::Lift { by, .. } => Some(by),
    }
}
