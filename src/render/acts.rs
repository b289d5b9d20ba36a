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
    // Where nobody is named, no column is spent on it.
    let with_names = view.acts.iter().any(|act| !act.who.is_empty());
    let before = [("Act", Align::Right), ("Day", Align::Left), ("What", Align::Left), ("About", Align::Left)];
    let by_column = with_names.then_some(("By", Align::Left));
    let columns: Vec<_> =
        before.into_iter().chain(by_column).chain([("Ledger", Align::Right), ("Changes", Align::Left)]).collect();
    let mut table = Table::new(&columns);
    for act in &view.acts {
        let lines = act.movements + act.piece_movements;
        let mut row = vec![act.act.to_string(), day(act.day, today), what(act), act.subject.clone()];
        row.extend(with_names.then(|| act.who.clone()));
        let lines = if lines == 0 { String::new() } else { count(lines, "line", "lines") };
        row.extend([lines, act.changes.join("; ")]);
        table.row(row);
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
