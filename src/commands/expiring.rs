//! `expiring`: what ends within the plan, and who will still use a lot.

use super::session::{Session, find};
use crate::cli::Expiring;
use crate::error::CommandError;
use crate::render::expiring as render;
use crate::view::expiring as view;

pub fn run(session: &Session, arguments: &Expiring) -> Result<String, CommandError> {
    let (snapshot, outlook) = session.outlook(arguments.through)?;
    let Some(code) = &arguments.why else {
        let view = view::expiring(&snapshot, &outlook);
        return session.answer(&view, |screen| render::terminal(&view, screen));
    };
    let lots = snapshot.lots.iter().enumerate().map(|(place, lot)| (lot.code.as_str(), place));
    let place = find("lot with anything in it", code, lots)?;
    let view = view::reasons(&snapshot, &outlook, place);
    session.answer(&view, |screen| render::reasons(&view, screen))
}
