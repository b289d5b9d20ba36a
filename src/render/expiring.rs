//! What is expiring, in words and a picture.

use super::amounts::{amount, count, day, entries_named, money, several};
use super::document::{Block, Document};
use super::ical::{DateEntry, key};
use super::one_line;
use super::picture::dates;
use super::rescue;
use super::table::{Align, Table};
use crate::view::expiring::{ExpiringLotView, ExpiringView, LotReasons};
use crate::view::rescue::RescueView;

/// The report as a document. `use_up`: what could be made of what is at risk, where that was asked.
#[must_use]
pub fn document(view: &ExpiringView, use_up: Option<&RescueView>) -> Document {
    let pictures = if view.lots.is_empty() { Vec::new() } else { vec![Block::Picture(dates::picture(view))] };
    let document =
        Document::new("expiring", headline(view)).section("", pictures).section("", vec![Block::Table(table(view))]);
    let document = match use_up.filter(|view| !view.proposals.is_empty()) {
        Some(use_up) => document.section("What could be made of it", rescue::blocks(use_up)),
        None => document,
    };
    document.noticed(&view.findings)
}

/// The news in a few words.
#[must_use]
pub fn news(view: &ExpiringView) -> Vec<String> {
    let at_risk = view.lots.iter().filter(|lot| lot.at_risk > 0);
    let names: Vec<&str> = at_risk.map(|lot| lot.name.as_str()).collect();
    if names.is_empty() { Vec::new() } else { vec![format!("{} at risk", several(&names, "lot"))] }
}

/// The last days of what is at risk, for a calendar. An entry is known by its lot.
#[must_use]
pub fn dates(view: &ExpiringView) -> Vec<DateEntry> {
    let at_risk = view.lots.iter().filter(|lot| lot.at_risk > 0);
    let entry = |lot: &ExpiringLotView| DateEntry {
        key: key(&["best-before", &lot.lot]),
        day: lot.usable_through,
        summary: format!("{} ({}) ends", one_line(&lot.name), one_line(&lot.lot)),
        detail: format!(
            "{} of {} will be left after the plan, worth {}.",
            amount(lot.at_risk, &lot.unit),
            amount(lot.on_hand, &lot.unit),
            money(&lot.at_risk_value, &view.currency)
        ),
        withdrawn: false,
    };
    at_risk.map(entry).collect()
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
            entries_named(&lot.entries, &lot.products),
        ]);
    }
    table
}

fn use_by(lot: &ExpiringLotView, view: &ExpiringView) -> String {
    let date = day(lot.usable_through, view.as_of);
    if lot.usable_through < view.as_of { format!("{date} (ended)") } else { date }
}

/// The last day on which making something of it still saves some of it.
fn last_useful_day(lot: &ExpiringLotView, view: &ExpiringView) -> String {
    lot.last_useful_day.map_or_else(|| "too late".to_owned(), |date| day(date, view.as_of))
}

/// Who will still use a lot.
#[must_use]
pub fn reasons(view: &LotReasons) -> Document {
    let on_hand = amount(view.on_hand, &view.unit);
    let heading = format!("{}, {}: {on_hand} on hand, {}.", one_line(&view.lot), one_line(&view.name), view.state);
    let mut document = Document::new("expiring", heading);
    if let Some(date) = view.best_before {
        document = document.fact(format!("Best before {}", day(date, view.as_of)));
    }
    if let Some(date) = view.opened {
        document = document.fact(format!("Opened on {}", day(date, view.as_of)));
    }
    document = document.fact(match view.usable_through {
        Some(date) => format!("It can be used through {}", day(date, view.as_of)),
        None => "Nothing ends its life".to_owned(),
    });
    let mut table = Table::new(&[("Day", Align::Left), ("For", Align::Left), ("Takes", Align::Right)]);
    for used in &view.uses {
        let entry = format!("{} {}", used.entry, used.product);
        table.row([day(used.date, view.as_of), entry, amount(used.amount, &view.unit)]);
    }
    let left = amount(view.left, &view.unit);
    let end = match (view.at_risk, view.left > 0) {
        (true, _) => format!("{left} will be left when it ends: that is at risk."),
        (false, true) => {
            format!("{left} will be left on {}, still usable or not released.", day(view.through, view.as_of))
        }
        (false, false) => "The plan uses all of it.".to_owned(),
    };
    document.section("", vec![Block::Table(table)]).section("", vec![Block::paragraph(end)])
}
