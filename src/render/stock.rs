//! The shelves in words.

use super::amounts::{amount, count, day, money};
use super::document::{Block, Document};
use super::table::{Align, Table};
use crate::view::stock::{StockLotView, StockView};

/// The lots on the shelves as a document.
#[must_use]
pub fn document(view: &StockView) -> Document {
    let heading = format!(
        "{} on the shelves, {} in all.",
        count(view.lots.len(), "lot", "lots"),
        money(&view.value, &view.currency)
    );
    let mut table = Table::new(&[
        ("Material", Align::Left),
        ("Lot", Align::Left),
        ("On hand", Align::Right),
        ("Value", Align::Right),
        ("State", Align::Left),
        ("Use by", Align::Left),
        ("Place", Align::Left),
    ]);
    let mut lots: Vec<&StockLotView> = view.lots.iter().collect();
    lots.sort_by_key(|lot| lot.name.to_lowercase());
    for lot in lots {
        let use_by = lot.usable_through.map_or_else(|| "no end".to_owned(), |date| day(date, view.as_of));
        table.row([
            &lot.name,
            &lot.lot,
            &amount(lot.on_hand, &lot.unit),
            lot.value.as_deref().unwrap_or("no rate"),
            &state(lot),
            &(if lot.ended { format!("{use_by} (ended)") } else { use_by }),
            &lot.place,
        ]);
    }
    let without_rate = if view.lots.iter().any(|lot| lot.value.is_none()) {
        "Lots without a rate are not in the total: add the currency to rates.csv."
    } else {
        ""
    };
    Document::new("stock", heading)
        .fact(format!("As of {}", day(view.as_of, view.as_of)))
        .section("", vec![Block::Table(table), Block::paragraph(without_rate)])
}

fn state(lot: &StockLotView) -> String {
    if lot.opened.is_some() { format!("{}, open", lot.state) } else { lot.state.clone() }
}
