//! What is expiring, for the terminal.

use super::amounts::{amount, count, day, listed, money};
use super::findings::terminal_findings;
use super::paragraph::title;
use super::table::{Align, Screen, Table};
use crate::view::expiring::{ExpiringLotView, ExpiringView, LotReasons};

/// The report.
#[must_use]
pub fn terminal(view: &ExpiringView, screen: Screen) -> String {
    let mut text = title(&headline(view), screen);
    if !view.lots.is_empty() {
        text.push('\n');
        text.push_str(&table(view).render(screen));
    }
    text.push_str(&terminal_findings(&view.findings, screen));
    text
}

fn headline(view: &ExpiringView) -> String {
    let at_risk = view.lots.iter().filter(|lot| lot.at_risk > 0).count();
    let through = day(view.through, view.as_of);
    if view.lots.is_empty() {
        return format!("No lot ends through {through}.");
    }
    if at_risk == 0 {
        return format!("Nothing is lost through {through}: the plan uses up all that ends by then.");
    }
    format!(
        "{} will end with something left through {through}: {} at risk.",
        count(at_risk, "lot", "lots"),
        money(&view.at_risk_value, &view.currency)
    )
}

fn table(view: &ExpiringView) -> Table {
    let mut table = Table::new(&[
        ("Use by", Align::Left),
        ("Material", Align::Left),
        ("Lot", Align::Left),
        ("Place", Align::Left),
        ("On hand", Align::Right),
        ("Planned", Align::Right),
        ("At risk", Align::Right),
        ("Value", Align::Right),
        ("Last useful day", Align::Left),
        ("Still used by", Align::Left),
    ]);
    for lot in &view.lots {
        let at_risk = lot.at_risk > 0;
        table.row([
            use_by(lot, view),
            lot.name.clone(),
            lot.lot.clone(),
            lot.place.clone(),
            amount(lot.on_hand, &lot.unit),
            amount(lot.planned_use, &lot.unit),
            if at_risk { amount(lot.at_risk, &lot.unit) } else { String::new() },
            if at_risk { lot.at_risk_value.clone() } else { String::new() },
            if at_risk { last_useful_day(lot, view) } else { String::new() },
            listed(&lot.entries),
        ]);
    }
    table
}

fn use_by(lot: &ExpiringLotView, view: &ExpiringView) -> String {
    let date = day(lot.usable_through, view.as_of);
    if lot.usable_through < view.as_of { format!("{date} (past)") } else { date }
}

/// The last day on which making something of it still saves some of it.
fn last_useful_day(lot: &ExpiringLotView, view: &ExpiringView) -> String {
    lot.last_useful_day.map_or_else(|| "too late".to_owned(), |date| day(date, view.as_of))
}

/// Who will still use a lot.
#[must_use]
pub fn reasons(view: &LotReasons, screen: Screen) -> String {
    let heading = format!("{}, {}: {} on hand, {}.", view.lot, view.name, amount(view.on_hand, &view.unit), view.state);
    let mut text = title(&heading, screen);
    if let Some(date) = view.best_before {
        text.push_str(&format!("Best before {}.\n", day(date, view.as_of)));
    }
    if let Some(date) = view.opened {
        text.push_str(&format!("Opened on {}.\n", day(date, view.as_of)));
    }
    match view.usable_through {
        Some(date) => text.push_str(&format!("It can be used through {}.\n", day(date, view.as_of))),
        None => text.push_str("Nothing ends its life.\n"),
    }
    if !view.uses.is_empty() {
        let mut table = Table::new(&[("Day", Align::Left), ("For", Align::Left), ("Takes", Align::Right)]);
        for used in &view.uses {
            let entry = format!("{} {}", used.entry, used.product);
            table.row([day(used.date, view.as_of), entry, amount(used.amount, &view.unit)]);
        }
        text.push('\n');
        text.push_str(&table.render(screen));
    }
    let left = amount(view.left, &view.unit);
    let end = match (view.at_risk, view.left > 0) {
        (true, _) => format!("{left} will be left when it ends: that is at risk."),
        (false, true) => {
            format!("{left} will be left on {}, still usable or not released.", day(view.through, view.as_of))
        }
        (false, false) => "The plan uses all of it.".to_owned(),
    };
    text.push_str(&format!("\n{end}\n"));
    text
}
