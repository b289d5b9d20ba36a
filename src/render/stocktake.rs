//! What a stocktake found, for the terminal.

use super::amounts::{amount, count, money};
use super::paragraph::title;
use super::table::{Align, Screen, Table};
use crate::view::stocktake::StocktakeView;

/// The differences with their value.
#[must_use]
pub fn terminal(view: &StocktakeView, screen: Screen) -> String {
    let lots = count(view.counted, "lot", "lots");
    if view.counted == 0 {
        return "Nothing was counted: no row of the sheet has an amount under `counted`.\n".to_owned();
    }
    if view.differences.is_empty() {
        return format!("{lots} counted; all of them hold what the ledger says.\n");
    }
    let worth = money(&view.value, &view.currency);
    let differ = count(view.differences.len(), "differs", "differ");
    let mut text = title(&format!("{lots} counted, {differ}: {worth} in all."), screen);
    let mut table = Table::new(&[
        ("Lot", Align::Left),
        ("Material", Align::Left),
        ("Ledger", Align::Right),
        ("Counted", Align::Right),
        ("Difference", Align::Right),
        ("Value", Align::Right),
        ("Why", Align::Left),
    ]);
    for one in &view.differences {
        table.row([
            &one.lot,
            &one.name,
            &amount(one.before, &one.unit),
            &amount(one.counted, &one.unit),
            &amount(one.difference, &one.unit),
            one.value.as_deref().unwrap_or("no rate"),
            &one.reason,
        ]);
    }
    text.push('\n');
    text.push_str(&table.render(screen));
    text.push_str(if view.written { "\nWritten, as one act. `stillroom act undo` takes it back.\n" } else { "" });
    text
}
