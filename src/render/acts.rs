//! The last acts, for the terminal.

use super::amounts::{count, day};
use super::paragraph::title;
use super::table::{Align, Screen, Table};
use crate::view::acts::{ActView, ActsView, act_in_words};
use chrono::NaiveDate;

/// The list, the newest first.
#[must_use]
pub fn terminal(view: &ActsView, today: NaiveDate, screen: Screen) -> String {
    if view.acts.is_empty() {
        return "Nothing has been done yet.\n".to_owned();
    }
    let mut text = title(&format!("The last {}:", count(view.acts.len(), "act", "acts")), screen);
    let mut table = Table::new(&[
        ("Act", Align::Right),
        ("Day", Align::Left),
        ("What", Align::Left),
        ("About", Align::Left),
        ("Ledger", Align::Right),
        ("Changes", Align::Left),
    ]);
    for act in &view.acts {
        let lines = act.movements + act.piece_movements;
        table.row([
            &act.act.to_string(),
            &day(act.day, today),
            &what(act),
            &act.subject,
            &(if lines == 0 { String::new() } else { count(lines, "line", "lines") }),
            &act.changes.join("; "),
        ]);
    }
    text.push('\n');
    text.push_str(&table.render(screen));
    text.push_str("\n`stillroom act undo NUMBER` takes one back.\n");
    text
}

fn what(act: &ActView) -> String {
    let what = match act.undoes {
        Some(undone) => format!("act {undone} taken back"),
        None => act_in_words(&act.kind).to_owned(),
    };
    if act.stands { what } else { format!("{what}; taken back since") }
}
