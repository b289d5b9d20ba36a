//! One lot, for the terminal.

use super::amounts::{amount, day, money};
use super::paragraph::{on_screen, title};
use super::table::{Align, Screen, Table};
use crate::view::lot::LotView;

/// The lot's facts and its ledger.
#[must_use]
pub fn terminal(view: &LotView, screen: Screen) -> String {
    let left = amount(view.on_hand, &view.unit);
    let worth = money(&view.cost, &view.currency);
    let mut text = title(&format!("Lot {}, {}: {left} left, {worth}, {}.", view.lot, view.name, view.state), screen);
    let on = |word: &str, date: Option<chrono::NaiveDate>| {
        date.map_or(String::new(), |date| format!(" {word} {}.", day(date, view.as_of)))
    };
    let said = |word: &str, value: &str| if value.is_empty() { String::new() } else { format!(" {word} {value}.") };
    let facts = [
        said("Stands in", &view.place),
        said("Supplier", &view.supplier_name),
        said("Supplier's lot", &view.supplier_lot),
        said("Order", &view.order),
        on("Came on", view.received),
        on("Opened on", view.opened),
        on("Best before", view.best_before),
        on("Use by", view.usable_through),
        said("Caution:", &view.caution),
    ];
    text.push_str(&on_screen(&facts.concat(), screen));
    let mut table = Table::new(&[
        ("Day", Align::Left),
        ("What", Align::Left),
        ("Change", Align::Right),
        ("Left", Align::Right),
        ("Batch", Align::Left),
        ("Why", Align::Left),
        ("Act", Align::Right),
    ]);
    for movement in &view.movements {
        let what = match movement.reverses {
            Some(_) => format!("{} taken back", movement.kind),
            None => movement.kind.clone(),
        };
        table.row([
            &day(movement.day, view.as_of),
            &what,
            &amount(movement.amount, &view.unit),
            &amount(movement.balance, &view.unit),
            &movement.batch,
            &movement.reason,
            &movement.act.to_string(),
        ]);
    }
    text.push('\n');
    text.push_str(&table.render(screen));
    text
}
