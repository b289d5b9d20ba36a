//! The forecast for the terminal: shortages first, then every material with a small picture of its balance.

use super::amounts::{amount, count, day, listed};
use super::findings::terminal_findings;
use super::paragraph::title;
use super::sparkline::lowest;
use super::table::{Align, Screen, Table};
use crate::view::forecast::{ForecastView, MaterialReasons, MaterialView, ShortageView};
use chrono::NaiveDate;

/// Widest picture, in characters.
const PICTURE_WIDTH: usize = 31;

/// The forecast.
#[must_use]
pub fn terminal(view: &ForecastView, screen: Screen) -> String {
    let mut text = title(&headline(view), screen);
    if !view.shortages.is_empty() {
        text.push('\n');
        text.push_str(&shortages(view).render(screen));
        if view.shortages.iter().any(|shortage| shortage.late) {
            text.push_str(
                "\nToo late: no supplier can deliver by that day. `stillroom reorder` says what can come when.\n",
            );
        }
    }
    text.push_str(&format!(
        "\nFrom {} to {} (lowest balance of the days under each block; · is nothing left):\n\n",
        day(view.as_of, view.as_of),
        day(view.through, view.as_of)
    ));
    text.push_str(&materials(view, screen).render(screen));
    text.push_str(&terminal_findings(&view.findings, screen));
    text
}

/// The news in one sentence.
fn headline(view: &ForecastView) -> String {
    let through = day(view.through, view.as_of);
    let mut materials: Vec<&str> = view.shortages.iter().map(|shortage| shortage.material.as_str()).collect();
    materials.sort_unstable();
    materials.dedup();
    match view.shortages.first() {
        None => format!("Nothing runs short through {through}."),
        Some(first) => format!(
            "{} of {} through {through}; the first on {}: {} of {}.",
            count(view.shortages.len(), "shortage", "shortages"),
            count(materials.len(), "material", "materials"),
            day(first.date, view.as_of),
            amount(first.short, &first.unit),
            first.name
        ),
    }
}

fn shortages(view: &ForecastView) -> Table {
    let mut table = Table::new(&[
        ("Short on", Align::Left),
        ("Material", Align::Left),
        ("Missing", Align::Right),
        ("Order by", Align::Left),
        ("For", Align::Left),
    ]);
    for shortage in &view.shortages {
        let hits: Vec<String> = shortage
            .entries
            .iter()
            .zip(&shortage.products)
            .map(|(entry, product)| format!("{entry} {product}"))
            .collect();
        table.row([
            day(shortage.date, view.as_of),
            shortage.name.clone(),
            amount(shortage.short, &shortage.unit),
            order_by(shortage, view.as_of),
            listed(&hits),
        ]);
    }
    table
}

fn order_by(shortage: &ShortageView, today: NaiveDate) -> String {
    match shortage.order_by {
        None => "nobody offers it".to_owned(),
        Some(date) if shortage.late => format!("{} (too late)", day(date, today)),
        Some(date) => day(date, today),
    }
}

/// What the other columns leave of a narrow terminal.
fn picture_width(screen: Screen) -> usize {
    screen.width.map_or(PICTURE_WIDTH, |width| usize::from(width).saturating_sub(84).clamp(8, PICTURE_WIDTH))
}

fn materials(view: &ForecastView, screen: Screen) -> Table {
    let mut table = Table::new(&[
        ("Material", Align::Left),
        ("On hand", Align::Right),
        ("Coming", Align::Right),
        ("Needed", Align::Right),
        ("Lowest", Align::Right),
        ("Safety", Align::Right),
        ("Balance", Align::Left),
    ]);
    let mut materials: Vec<&MaterialView> = view.materials.iter().collect();
    materials.sort_by_key(|material| material.name.to_lowercase());
    for material in materials {
        let needed: i64 = material.days.iter().map(|day| day.demand).sum();
        let coming: i64 = material.days.iter().map(|day| day.receipts).sum();
        let balances: Vec<i64> = material.days.iter().map(|day| day.balance).collect();
        let unit = &material.unit;
        let some = |value: i64| if value == 0 { String::new() } else { amount(value, unit) };
        table.row([
            name(material),
            amount(material.on_hand, unit),
            some(coming),
            some(needed),
            amount(balances.iter().copied().min().unwrap_or(material.on_hand), unit),
            some(material.safety_stock),
            lowest(&balances, picture_width(screen)),
        ]);
    }
    table
}

fn name(material: &MaterialView) -> String {
    if material.premix { format!("{} (premix)", material.name) } else { material.name.clone() }
}

/// What is behind a material's figures.
#[must_use]
pub fn reasons(view: &MaterialReasons, screen: Screen) -> String {
    let heading = format!("{}: {} on hand on {}.", view.name, amount(view.on_hand, &view.unit), view.as_of);
    let mut text = title(&heading, screen);
    if view.events.is_empty() {
        text.push_str(&format!("Nothing comes, is needed or ends through {}.\n", day(view.through, view.as_of)));
        return text;
    }
    let mut table = Table::new(&[
        ("Day", Align::Left),
        ("What", Align::Left),
        ("Change", Align::Right),
        ("Balance", Align::Right),
        (if view.premix { "To make" } else { "Short" }, Align::Right),
        ("Must last to", Align::Left),
        ("From or for", Align::Left),
        ("Lots", Align::Left),
    ]);
    let mut balance = view.on_hand;
    for event in &view.events {
        let (what, change) = match event.event.as_str() {
            "receipt" => ("comes", event.amount),
            "expiry" => ("ends unused", -event.amount),
            _ => ("needed", event.short - event.amount),
        };
        balance += change;
        let short = if event.short > 0 { amount(event.short, &view.unit) } else { String::new() };
        table.row([
            day(event.date, view.as_of),
            what.to_owned(),
            amount(change, &view.unit),
            amount(balance, &view.unit),
            short,
            event.lasting_to.filter(|last| *last > event.date).map_or(String::new(), |last| day(last, view.as_of)),
            format!("{} {}", event.subject, event.detail),
            event.lots.join(", "),
        ]);
    }
    text.push('\n');
    text.push_str(&table.render(screen));
    if !view.premix && view.events.iter().any(|event| event.short > 0 && event.lasting_to > Some(event.date)) {
        text.push_str("\nWhat is on hand may still be short: a lot serves only what it outlasts.\n");
    }
    text
}
