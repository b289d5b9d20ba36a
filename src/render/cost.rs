//! What things have cost, for the terminal.

use super::amounts::{amount, day, listed, mass, money};
use super::one_line;
use super::table::{Align, Screen, Table, strong};
use crate::view::cost::{
    BatchCostView, MaterialValueView, PricePointView, PricesView, ShareView, StockValueView, SupplierPricesView,
    WrittenOffView,
};
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
    format!("{}\n\n{table}{}", strong(&headline, screen.colour), shared_out(view))
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
    format!("\nShared out so that it adds up: {} and {}.\n", share(dearer), share(others))
}

pub(super) fn pieces(pieces: i64) -> String {
    if pieces == 1 { "1 piece".to_owned() } else { format!("{pieces} pieces") }
}

/// The value of the stock.
#[must_use]
pub fn stock(view: &StockValueView, screen: Screen) -> String {
    let worth = money(&view.value, &view.currency);
    let mut text = format!("{}\n\n", strong(&format!("The stock has cost {worth}."), screen.colour));
    let mut table = Table::new(&[("Material", Align::Left), ("On hand", Align::Right), ("Value", Align::Right)]);
    for material in &view.materials {
        table.row(material_row(material, &view.currency));
    }
    text.push_str(&table.render(screen));
    let mut table = Table::new(&[("Place", Align::Left), ("Value", Align::Right)]);
    for place in &view.places {
        let name = if place.place.is_empty() { "no place noted" } else { &place.place };
        table.row([name, &money(&place.value, &view.currency)]);
    }
    text.push_str(&format!("\n{}", table.render(screen)));
    if !view.not_released.trim_matches(['0', '.']).is_empty() {
        let part = money(&view.not_released, &view.currency);
        text.push_str(&format!("\nOf that, {part} is in quarantine or rejected.\n"));
    }
    if !view.without_rate.is_empty() {
        text.push_str(&format!("\nLots paid in {} count as 0: no rate is known.\n", view.without_rate.join(", ")));
    }
    text
}

fn material_row(material: &MaterialValueView, currency: &str) -> [String; 3] {
    [material.name.clone(), amount(material.on_hand, &material.unit), money(&material.value, currency)]
}

/// What was written off.
#[must_use]
pub fn write_offs(view: &WrittenOffView, today: NaiveDate, screen: Screen) -> String {
    let days = format!("from {} through {}", day(view.from, today), day(view.to, today));
    if view.groups.is_empty() {
        return format!("Nothing was written off {days}.\n");
    }
    let headline = format!("Written off {days}: {}.", money(&view.cost, &view.currency));
    let mut table = Table::new(&[
        ("Month", Align::Left),
        ("Reason", Align::Left),
        ("Material", Align::Left),
        ("Amount", Align::Right),
        ("Cost", Align::Right),
    ]);
    for group in &view.groups {
        let reason = if group.reason.is_empty() { "no reason noted" } else { &group.reason };
        for material in &group.materials {
            let [name, amount, cost] = material_row(material, &view.currency);
            table.row([&group.month, reason, &name, &amount, &cost]);
        }
        if group.materials.len() > 1 {
            table.row([&group.month, reason, "all of it", "", &money(&group.cost, &view.currency)]);
        }
    }
    format!("{}\n\n{}", strong(&headline, screen.colour), table.render(screen))
}

/// The prices of a material over time.
#[must_use]
pub fn prices(view: &PricesView, today: NaiveDate, screen: Screen) -> String {
    let per = if view.per == "kg" { "a kilogram" } else { "a piece" };
    let mut text =
        format!("{}\n", strong(&format!("What {} of {} has cost.", per, one_line(&view.name)), screen.colour));
    text.push_str(&if view.suppliers.is_empty() {
        "Nothing was bought, and nobody offers it.\n".to_owned()
    } else {
        format!("\n{}", price_table(view, today).render(screen))
    });
    if let Some(cheapest) = &view.cheapest_offer {
        let named = view.suppliers.iter().find(|supplier| supplier.supplier == cheapest.supplier);
        text.push_str(&format!(
            "\nCheapest today: {}, {}: {} {per}. Offers are with duty and without postage.\n",
            named.map_or_else(|| one_line(&cheapest.supplier), supplier_name),
            one_line(&cheapest.what),
            money(&cheapest.price, &view.currency),
        ));
    }
    let lots = |lots: &[String]| listed(&lots.iter().map(|lot| one_line(lot)).collect::<Vec<_>>());
    if !view.at_first_rate.is_empty() {
        let lots = lots(&view.at_first_rate);
        text.push_str(&format!("\nOlder than the first rate on file, and priced at that one: {lots}.\n"));
    }
    if !view.without_day.is_empty() {
        text.push_str(&format!("\nLeft out, since their day of receipt is not known: {}.\n", lots(&view.without_day)));
    }
    text
}

fn price_table(view: &PricesView, today: NaiveDate) -> Table {
    let mut table = Table::new(&[
        ("Supplier", Align::Left),
        ("Day", Align::Left),
        ("Lot or pack", Align::Left),
        ("Amount", Align::Right),
        ("Cost", Align::Right),
        ("Price", Align::Right),
    ]);
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
    let size = if point.unit == "mg" { mass(point.amount) } else { format!("{} pcs", point.amount) };
    [
        supplier.to_owned(),
        point.date.map_or_else(|| "offer".to_owned(), |date| day(date, today)),
        point.what.clone(),
        size,
        money(&point.cost, currency),
        money(&point.price, currency),
    ]
}
