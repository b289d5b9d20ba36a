//! `today`: the first look of the day.

use super::reorder::Proposal;
use super::session::{Session, snapshot};
use crate::cli::Today;
use crate::error::CommandError;
use crate::render::today as render;
use crate::view::pieces::pieces;
use crate::view::today::today;

pub fn run(session: &Session, arguments: &Today) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    let pieces =
        pieces(&reading.batches()?, &reading.piece_balances()?, &reading.book()?.products, session.clock.today());
    let proposal = Proposal::find(session, snapshot(&reading)?, None, None)?;
    let view = today(&proposal.snapshot, &proposal.outlook, &proposal.view(), &pieces, arguments.days);
    session.answer(&view, |screen| render::terminal(&view, screen))
}
