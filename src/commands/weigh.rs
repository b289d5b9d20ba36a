//! `weigh`: the weighing sheet of a plan entry.

use super::page::write_page;
use super::session::{Session, find};
use crate::cli::Weigh;
use crate::error::CommandError;
use crate::plan::model::EntryId;
use crate::render::weigh as render;
use crate::view::weigh::weigh;

pub fn run(session: &Session, arguments: &Weigh) -> Result<String, CommandError> {
    let (snapshot, outlook) = session.outlook(None)?;
    let entries = snapshot.entries.iter().enumerate().map(|(place, entry)| (entry.code.as_str(), EntryId::new(place)));
    let id =
        find("plan entry that is still to be made", &arguments.entry, entries).map_err(|error| match error.hint {
            None => error.hint("`stillroom plan list` shows what is planned, `stillroom batch list` what was made"),
            Some(_) => error,
        })?;
    let view = weigh(&snapshot, &outlook, id, session.config.bench.scale_readability.mg);
    if let Some(path) = &arguments.sheet.html {
        write_page(session, render::WEIGHING, &render::page(&view), path)?;
    }
    session.answer(&view, |screen| {
        let text = render::terminal(&view, screen);
        match &arguments.sheet.html {
            Some(path) => format!("{text}\nThe weighing sheet to print is {}.\n", path.display()),
            None => text,
        }
    })
}
