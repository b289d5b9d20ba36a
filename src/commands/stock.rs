//! `stock`: what is on the shelves, lot by lot, or what it is worth by material and by place.

use super::session::Session;
use crate::cli::Stock;
use crate::error::CommandError;
use crate::render::{cost, stock as render};
use crate::view::cost::stock_worth;
use crate::view::stock::stock;

pub fn run(session: &Session, arguments: &Stock) -> Result<String, CommandError> {
    let snapshot = session.snapshot()?;
    let today = session.clock.today();
    if arguments.value {
        let view = stock_worth(&snapshot, today);
        return session.answer(&view, |screen| cost::stock(&view, screen));
    }
    let view = stock(&snapshot, today);
    session.answer(&view, |screen| render::terminal(&view, screen))
}
