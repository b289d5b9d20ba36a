//! The forecast in words and pictures: shortages first, then every material with its balance.

use super::amounts::{amount, count, day, listed, several};
use super::document::{Block, Document};
use super::one_line;
use super::picture::{Picture, balance};
use super::table::{Align, Table};
use crate::view::forecast::{EventView, ForecastView, MaterialReasons, MaterialView, ShortageView};
use chrono::NaiveDate;

/// So many balances are drawn on one page; the table has all of them.
const MOST_PICTURES: usize = 12;

/// The forecast as a document.
#[must_use]
pub fn document(view: &ForecastView) -> Document {
    let late = view.shortages.iter().any(|shortage| shortage.late);
    let late = if late {
        "Too late: no supplier can deliver by that day. The reorder list says what can come when."
    } else {
        ""
    };
    let (from, through) = (day(view.as_of, view.as_of), day(view.through, view.as_of));
    let mut short: Vec<&str> = view.shortages.iter().map(|shortage| shortage.material.as_str()).collect();
    short.dedup();
    let mut pictured: Vec<&MaterialView> = Vec::new();
    for material in &view.materials {
        let below = material.days.iter().any(|day| day.balance < material.safety_stock);
        if short.contains(&material.material.as_str()) || below {
            pictured.push(material);
        }
    }
    pictured.sort_by_key(|material| short.iter().position(|code| *code == material.material).unwrap_or(usize::MAX));
    let pictures = pictured.into_iter().take(MOST_PICTURES);
    let pictures = pictures.map(|material| Block::Picture(balance::picture(material, view.as_of))).collect();
    Document::new("forecast", headline(view))
        .fact(format!("Forecast of {from}, for the plan through {through}"))
        .warning("", vec![Block::Table(shortages(view)), Block::paragraph(late)])
        .section("What runs short or below its safety stock", pictures)
        .section(
            &format!("From {from} to {through}"),
            vec![
                Block::Table(materials(view)),
                Block::paragraph(
                    "Lowest: the least that is there at the end of a day. A dot in a row of blocks: nothing is left.",
                ),
            ],
        )
        .noticed(&view.findings)
}

/// The news in a few words.
#[must_use]
pub fn news(view: &ForecastView) -> Vec<String> {
    let mut short: Vec<&str> = view.shortages.iter().map(|shortage| shortage.name.as_str()).collect();
    short.sort_unstable();
    short.dedup();
    if short.is_empty() { Vec::new() } else { vec![format!("{} short", several(&short, "material"))] }
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

fn materials(view: &ForecastView) -> Table {
    let mut table = Table::new(&[
        ("Material", Align::Left),
        ("On hand", Align::Right),
        ("Coming", Align::Right),
        ("Needed", Align::Right),
        ("Lowest", Align::Right),
        ("Safety", Align::Right),
    ])
    .lead(1);
    let mut curves = Vec::new();
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
        ]);
        curves.push(balances);
    }
    table.curves("Balance", curves)
}

fn name(material: &MaterialView) -> String {
    if material.premix { format!("{} (premix)", material.name) } else { material.name.clone() }
}

/// What is behind a material's figures, with its picture.
#[must_use]
pub fn reasons(view: &MaterialReasons, picture: Option<Picture>) -> Document {
    let heading = format!(
        "{}: {} on hand on {}.",
        one_line(&view.name),
        amount(view.on_hand, &view.unit),
        day(view.as_of, view.as_of)
    );
    let document = Document::new("forecast", heading);
    if view.events.is_empty() {
        let through = day(view.through, view.as_of);
        let words = format!("Nothing comes, is needed or ends through {through}.");
        return document.section("", vec![Block::paragraph(words)]);
    }
    let outlasted = |event: &EventView| event.short > 0 && event.lasting_to > Some(event.date);
    let words = if !view.premix && view.events.iter().any(outlasted) {
        "What is on hand may still be short: a lot serves only what it outlasts."
    } else {
        ""
    };
    document
        .section("", picture.map(Block::Picture).into_iter().collect())
        .section("", vec![Block::Table(events(view)), Block::paragraph(words)])
}

fn events(view: &MaterialReasons) -> Table {
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
    table
}
