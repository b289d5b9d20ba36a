//! `use-up`: what to make so that less expires.

use super::report::show;
use super::session::Session;
use crate::cli::UseUp;
use crate::error::CommandError;
use crate::plan::rescue::{RescueSettings, rescue};
use crate::render::report::Report;
use crate::render::rescue as render;
use crate::view::rescue as view;

pub fn run(session: &Session, arguments: &UseUp) -> Result<String, CommandError> {
    let (snapshot, outlook) = session.outlook(arguments.through)?;
    let settings = RescueSettings { most_batches: usize::from(arguments.batches), ..RescueSettings::default() };
    let view = view::rescue(&snapshot, &outlook, &rescue(&snapshot, &outlook, settings));
    let columns = ["make_on", "product", "name", "pieces", "amount", "saved", "to_buy", "net", "currency"];
    let report = Report::new(&view, render::document(&view))?.rows(&["proposals"], &columns);
    show(session, report, &arguments.files)
}
