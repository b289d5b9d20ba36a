//! `use-up`: what to make so that less expires.

use super::session::Session;
use crate::cli::UseUp;
use crate::error::CommandError;
use crate::plan::rescue::{RescueSettings, rescue};
use crate::render::rescue as render;
use crate::view::rescue as view;

pub fn run(session: &Session, arguments: &UseUp) -> Result<String, CommandError> {
    let (snapshot, outlook) = session.outlook(arguments.through)?;
    let settings = RescueSettings { most_batches: usize::from(arguments.batches), ..RescueSettings::default() };
    let view = view::rescue(&snapshot, &outlook, &rescue(&snapshot, &outlook, settings));
    session.answer(&view, |screen| render::terminal(&view, screen))
}
