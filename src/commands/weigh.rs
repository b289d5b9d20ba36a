//! `weigh`: the weighing sheet of a plan entry.

use super::names::{entries, find};
use super::report::show;
use super::session::Session;
use crate::cli::Weigh;
use crate::error::CommandError;
use crate::plan::model::{EntryId, Snapshot};
use crate::plan::outlook::Outlook;
use crate::render::document::Document;
use crate::render::report::Report;
use crate::render::weigh as render;
use crate::view::weigh::weigh;

pub fn run(session: &Session, arguments: &Weigh) -> Result<String, CommandError> {
    let (snapshot, outlook) = session.outlook(None)?;
    let id = find("plan entry that is still to be made", &arguments.entry, entries(&snapshot))?;
    show(session, sheet(session, &snapshot, &outlook, id)?, &arguments.files)
}

fn sheet(session: &Session, snapshot: &Snapshot, outlook: &Outlook, id: EntryId) -> Result<Report, CommandError> {
    let view = weigh(snapshot, outlook, id, session.config.bench.scale_readability.mg);
    let report = Report::new(&view, render::document(&view))?;
    Ok(report.made_rows(render::rows(&view)).sheet(render::WEIGHING, render::page(&view), &view.entry))
}

/// The sheets of all entries of which something is weighed today; one report that says so where there is none.
///
/// # Errors
/// Where the store cannot be read.
pub fn today(session: &Session) -> Result<Vec<Report>, CommandError> {
    let (snapshot, outlook) = session.outlook(None)?;
    let today = session.clock.today();
    let weighed = |id: &EntryId| {
        let mut demands = outlook.items.iter().flat_map(|part| &part.demands);
        demands.any(|demand| demand.entry == *id && demand.day == today)
    };
    let entries = (0..snapshot.entries.len()).map(EntryId::new).filter(weighed);
    let mut sheets: Vec<Report> =
        entries.map(|id| sheet(session, &snapshot, &outlook, id)).collect::<Result<_, _>>()?;
    let number = sheets.len();
    if let Some(first) = sheets.first_mut() {
        first.news = vec![format!("{number} to weigh today")];
        return Ok(sheets);
    }
    let nothing = Document::new("weigh", "Nothing is weighed today.");
    Ok(vec![Report::new(&serde_json::json!({ "as_of": today }), nothing)?])
}
