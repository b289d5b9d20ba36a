//! `allocate`: which lots the plan takes for what.

use super::names::{entries, find};
use super::session::Session;
use crate::cli::Allocate;
use crate::error::CommandError;
use crate::render::allocate as render;
use crate::view::allocate::allocate;

pub fn run(session: &Session, arguments: &Allocate) -> Result<String, CommandError> {
    let (snapshot, outlook) = session.outlook(arguments.through)?;
    let only = arguments.why.as_deref().map(|code| find("plan entry", code, entries(&snapshot))).transpose()?;
    let view = allocate(&snapshot, &outlook, only);
    let entry = only.map(|entry| snapshot.entry(entry).code.as_str());
    session.answer(&view, |screen| render::terminal(&view, entry, screen))
}
