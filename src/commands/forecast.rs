//! `forecast`: the days ahead, and what is behind a material's figures.

use super::session::{Session, find};
use crate::cli::Forecast;
use crate::error::CommandError;
use crate::plan::model::ItemId;
use crate::render::forecast as render;
use crate::view::forecast as view;

pub fn run(session: &Session, arguments: &Forecast) -> Result<String, CommandError> {
    let (snapshot, outlook) = session.outlook(arguments.through)?;
    let Some(code) = &arguments.why else {
        let view = view::forecast(&snapshot, &outlook);
        return session.answer(&view, |screen| render::terminal(&view, screen));
    };
    let items = snapshot.items.iter().enumerate().map(|(place, item)| (item.code.as_str(), ItemId::new(place)));
    let id = find("material or premix", code, items)?;
    let Some(view) = view::reasons(&snapshot, &outlook, id) else {
        return Err(CommandError::input(format!("{code} is marked as always at hand, so it has no forecast")));
    };
    session.answer(&view, |screen| render::reasons(&view, screen))
}
