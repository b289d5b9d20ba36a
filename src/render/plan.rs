//! The plan, for the terminal.

use super::amounts::{amount, count, day, listed, mass};
use super::paragraph::title;
use super::table::{Align, Screen, Table};
use crate::view::plan::{PlanEntryView, PlanView};

/// The plan by make date.
#[must_use]
pub fn terminal(view: &PlanView, screen: Screen) -> String {
    let short = view.entries.iter().filter(|entry| !entry.short.is_empty()).count();
    let through = day(view.through, view.as_of);
    let heading = match (view.entries.len(), short) {
        (0, _) => format!("Nothing is planned through {through}."),
        (all, 0) => {
            format!("{} through {through}; everything for it is there or on its way.", count(all, "entry", "entries"))
        }
        (all, short) => {
            format!("{} through {through}; {short} of them lack something.", count(all, "entry", "entries"))
        }
    };
    let mut text = title(&heading, screen);
    if view.entries.is_empty() {
        return text;
    }
    let mut table = Table::new(&[
        ("Make on", Align::Left),
        ("Entry", Align::Left),
        ("Product", Align::Left),
        ("Pieces", Align::Right),
        ("Net", Align::Right),
        ("Ready on", Align::Left),
        ("Missing", Align::Left),
    ])
    .lead(3);
    for entry in &view.entries {
        table.row([
            &day(entry.make_on, view.as_of),
            &entry.entry,
            &entry.name,
            &entry.pieces.to_string(),
            &mass(entry.net_mass),
            &(if entry.ready_on > entry.make_on { day(entry.ready_on, view.as_of) } else { String::new() }),
            &missing(entry),
        ]);
    }
    text.push('\n');
    text.push_str(&table.render(screen));
    text
}

fn missing(entry: &PlanEntryView) -> String {
    let parts: Vec<String> = entry
        .short
        .iter()
        .map(|missing| format!("{} {}", amount(missing.short, &missing.unit), missing.name))
        .collect();
    listed(&parts)
}
