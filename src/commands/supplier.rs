//! `supplier`: who sells, and how long parcels really take.

use super::session::Session;
use crate::cli::Supplier;
use crate::config::LeadTimeFrom;
use crate::error::CommandError;
use crate::render::suppliers as render;
use crate::view::suppliers::suppliers;

pub fn run(session: &Session, what: &Supplier) -> Result<String, CommandError> {
    let Supplier::List = what;
    let settings = &session.config.reorder;
    let mut store = session.open()?;
    let reading = store.reading()?;
    let view = suppliers(
        &session.snapshot_taught_by(&reading, &reading.received_orders()?)?,
        session.clock.today(),
        settings.lead_time == LeadTimeFrom::Learned,
        settings.lead_time_orders as usize,
    );
    session.answer(&view, |screen| render::terminal(&view, screen))
}
