//! What things have cost, in words.

use super::amounts::{amount, count, day, listed, money, several};
use super::document::{Block, Document};
use super::one_line;
use super::table::{Align, Screen, Table, strong};
use crate::view::cost::{
    BatchCostView, MaterialValueView, PricePointView, PricesView, ShareView, StockValueView, SupplierPricesView,
    WrittenOffView,
};
use crate::view::fold;
use crate::view::prices::{PriceChangeView, PriceChangesView};
use chrono::NaiveDate;

/// The cost of a batch.
#[must_use]
pub fn batch(view: &BatchCostView, today: NaiveDate, screen: Screen) -> String {
    let currency = &view.currency;
    let headline = match &view.cost_of_piece {
        Some(piece) => format!(
            "Batch {} of {}, made on {}: {} for {}, {} each.",
            one_line(&view.batch),
            one_line(&view.product),
            day(view.made_on, today),
            money(&view.cost, currency),
            pieces(view.pieces),
            money(piece, currency)
        ),
        None => format!("Batch {}: {}.", one_line(&view.batch), money(&view.cost, currency)),
    };
    let table = draws(view).render(screen);
    let shares = shared_out(view);
    let shares = if shares.is_empty() { shares } else { format!("\n{shares}\n") };
    format!("{}\n\n{table}{shares}", strong(&headline, screen.colour))
}

/// What went into a batch, and what that had cost.
pub(super) fn draws(view: &BatchCostView) -> Table {
    let mut table =
        Table::new(&[("Material", Align::Left), ("Lot", Align::Left), ("Used", Align::Right), ("Cost", Align::Right)]);
    for draw in &view.draws {
        let cost = money(&draw.cost, &view.currency);
        table.row([&draw.name, &draw.lot, &amount(draw.amount, &draw.unit), &cost]);
    }
    table
}

/// How a batch is shared out over its pieces where it does not divide; empty where it does.
pub(super) fn shared_out(view: &BatchCostView) -> String {
    let [dearer, others] = view.shares.as_slice() else { return String::new() };
    let share = |share: &ShareView| format!("{} at {}", pieces(share.pieces), money(&share.cost, &view.currency));
    format!("Shared out so that it adds up: {} and {}.", share(dearer), share(others))
}

pub(super) fn pieces(pieces: i64) -> String {
    if pieces == 1 { "1 piece".to_owned() } else { format!("{pieces} pieces") }
}

/// The value of the stock as a document.
#[must_use]
pub fn stock(view: &StockValueView) -> Document {
    let worth = money(&view.value, &view.currency);
    let mut table =
        Table::new(&[("Material", Align::Left), ("On hand", Align::Right), ("Value", Align::Right)]).lead(1);
    for material in by_name(&view.materials, |material| &material.name) {
        table.row(material_row(material, &view.currency));
    }
    let mut places = Table::new(&[("Place", Align::Left), ("Value", Align::Right)]).lead(1);
    for place in &view.places {
        let name = if place.place.is_empty() { "no place noted" } else { &place.place };
        places.row([name, &money(&place.value, &view.currency)]);
    }
    let mut closing = Vec::new();
    if !view.not_released.trim_matches(['0', '.']).is_empty() {
        let part = money(&view.not_released, &view.currency);
        closing.push(Block::paragraph(format!("Of that, {part} is in quarantine or rejected.")));
    }
    if !view.without_rate.is_empty() {
        let currencies = view.without_rate.join(", ");
        closing.push(Block::paragraph(format!("Lots paid in {currencies} count as 0: no rate is known.")));
    }
    Document::new("stock-value", format!("The stock has cost {worth}."))
        .fact(format!("As of {}", day(view.as_of, view.as_of)))
        .section("", vec![Block::Table(table)])
        .section("", vec![Block::Table(places)])
        .section("", closing)
}

/// Things in the order of their names, as they are shown.
fn by_name<T>(things: &[T], name: impl Fn(&T) -> &str) -> Vec<&T> {
    let mut sorted: Vec<&T> = things.iter().collect();
    sorted.sort_by_cached_key(|thing| fold(name(thing)));
    sorted
}

fn material_row(material: &MaterialValueView, currency: &str) -> [String; 3] {
    [material.name.clone(), amount(material.on_hand, &material.unit), money(&material.value, currency)]
}

/// What was written off, as a document.
#[must_use]
pub fn write_offs(view: &WrittenOffView, today: NaiveDate) -> Document {
    let days = format!("from {} through {}", day(view.from, today), day(view.to, today));
    if view.groups.is_empty() {
        return Document::new("write-offs", format!("Nothing was written off {days}."));
    }
    let headline = format!("Written off {days}: {}.", money(&view.cost, &view.currency));
    let mut table = Table::new(&[
        ("Month", Align::Left),
        ("Reason", Align::Left),
        ("Material", Align::Left),
        ("Amount", Align::Right),
        ("Cost", Align::Right),
    ])
    .lead(3);
    for group in &view.groups {
        let reason = if group.reason.is_empty() { "no reason noted" } else { &group.reason };
        for material in by_name(&group.materials, |material| &material.name) {
            let [name, amount, cost] = material_row(material, &view.currency);
            table.row([&group.month, reason, &name, &amount, &cost]);
        }
        if group.materials.len() > 1 {
            table.row([&group.month, reason, "all of it", "", &money(&group.cost, &view.currency)]);
        }
    }
    Document::new("write-offs", headline).section("", vec![Block::Table(table)])
}

/// The prices of a material over time, as a document.
#[must_use]
pub fn prices(view: &PricesView, today: NaiveDate) -> Document {
    let per = if view.per == "kg" { "a kilogram" } else { "a piece" };
    let mut document = Document::new("prices", format!("What {per} of {} has cost.", one_line(&view.name)));
    document = if view.suppliers.is_empty() {
        document.section("", vec![Block::paragraph("Nothing was bought, and nobody offers it.")])
    } else {
        document.section("", vec![Block::Table(price_table(view, today))])
    };
    let mut paragraph = |words: String| {
        document = std::mem::take(&mut document).section("", vec![Block::paragraph(words)]);
    };
    if let Some(cheapest) = &view.cheapest_offer {
        let named = view.suppliers.iter().find(|supplier| supplier.supplier == cheapest.supplier);
        paragraph(format!(
            "Cheapest today: {}, {}: {} {per}. Offers are with duty and without postage.",
            named.map_or_else(|| one_line(&cheapest.supplier), supplier_name),
            one_line(&cheapest.what),
            money(&cheapest.price, &view.currency),
        ));
    }
    let lots = |lots: &[String]| listed(&lots.iter().map(|lot| one_line(lot)).collect::<Vec<_>>());
    if !view.at_first_rate.is_empty() {
        let lots = lots(&view.at_first_rate);
        paragraph(format!("Older than the first rate on file, and priced at that one: {lots}."));
    }
    if !view.without_day.is_empty() {
        paragraph(format!("Left out, since their day of receipt is not known: {}.", lots(&view.without_day)));
    }
    document
}

/// The materials whose price has changed, as a document.
#[must_use]
pub fn price_changes(view: &PriceChangesView) -> Document {
    if view.materials.is_empty() {
        return Document::new("prices", "No price has changed.");
    }
    let mut table = Table::new(&[
        ("Material", Align::Left),
        ("Before", Align::Right),
        ("Last paid", Align::Right),
        ("Change", Align::Right),
        ("On", Align::Left),
        ("From", Align::Left),
        ("Offer today", Align::Right),
        ("Against last", Align::Right),
        ("Offered by", Align::Left),
    ])
    .lead(1);
    let or_empty = |text: &Option<String>| text.clone().unwrap_or_default();
    for material in by_name(&view.materials, |material| &material.name) {
        let per = |price: &str| format!("{price}/{}", material.per);
        let date = material.last_on.map(|date| day(date, view.as_of)).unwrap_or_default();
        table.row([
            material.name.clone(),
            material.before.as_deref().map(per).unwrap_or_default(),
            per(&material.last),
            signed(material.change_percent.as_deref()),
            date,
            material.last_from.clone(),
            material.offer.as_deref().map(per).unwrap_or_default(),
            signed(material.offer_change_percent.as_deref()),
            or_empty(&material.offer_from),
        ]);
    }
    let materials = count(view.materials.len(), "material has", "materials have");
    let headline = format!("{materials} another price than the time before, or are offered at another today.");
    let note = "Prices are in the home currency; those paid with all that a lot had cost, offers with duty and without postage, \
                the cheapest pack.";
    Document::new("prices", headline)
        .fact(format!("As of {}, in {}", day(view.as_of, view.as_of), view.currency))
        .section("", vec![Block::Table(table), Block::paragraph(note)])
}

/// The news in a few words: what was dearer at its last delivery.
#[must_use]
pub fn price_news(view: &PriceChangesView) -> Vec<String> {
    let dearer = |material: &&PriceChangeView| {
        material.change_percent.as_deref().is_some_and(|percent| !percent.starts_with('-') && percent != "0.0")
    };
    let names: Vec<&str> = view.materials.iter().filter(dearer).map(|material| material.name.as_str()).collect();
    if names.is_empty() { Vec::new() } else { vec![format!("{} dearer", several(&names, "material"))] }
}

/// `+12.5 %`.
fn signed(percent: Option<&str>) -> String {
    match percent {
        None => String::new(),
        Some("0.0") => "0 %".to_owned(),
        Some(percent) if percent.starts_with('-') => format!("{percent} %"),
        Some(percent) => format!("+{percent} %"),
    }
}

fn price_table(view: &PricesView, today: NaiveDate) -> Table {
    let mut table = Table::new(&[
        ("Supplier", Align::Left),
        ("Day", Align::Left),
        ("Lot or pack", Align::Left),
        ("Amount", Align::Right),
        ("Cost", Align::Right),
        ("Price", Align::Right),
    ])
    .lead(3);
    for supplier in &view.suppliers {
        let name = supplier_name(supplier);
        for point in supplier.received.iter().chain(&supplier.offered) {
            table.row(price_row(point, &name, &view.currency, today));
        }
    }
    table
}

fn supplier_name(supplier: &SupplierPricesView) -> String {
    match (supplier.name.as_str(), supplier.supplier.as_str()) {
        ("", "") => "not known".to_owned(),
        ("", code) => one_line(code),
        (name, _) => one_line(name),
    }
}

fn price_row(point: &PricePointView, supplier: &str, currency: &str, today: NaiveDate) -> [String; 6] {
    let size = amount(point.amount, &point.unit);
    [
        supplier.to_owned(),
        point.date.map_or_else(|| "offer".to_owned(), |date| day(date, today)),
        point.what.clone(),
        size,
        money(&point.cost, currency),
        money(&point.price, currency),
    ]
}
