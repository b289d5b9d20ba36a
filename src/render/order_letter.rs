//! The letter to a supplier, in words.

use super::amounts::money;
use super::document::{Block, Document};
use super::one_line;
use super::table::{Align, Table};
use crate::view::order_letter::OrderLetterView;

/// The letter; `deliver_to` is where the parcel goes, `signed` who writes, both empty where not known. Prices are in it only
/// where they are wanted: the supplier has his own.
#[must_use]
pub fn document(view: &OrderLetterView, with_prices: bool, deliver_to: &str, signed: &str) -> Document {
    let code = view.order.as_deref().map(|code| format!(" {}", one_line(code))).unwrap_or_default();
    let day = view.order_on.unwrap_or(view.as_of).format("%-d %B %Y");
    let mut columns =
        vec![("Item no.", Align::Left), ("What", Align::Left), ("Pack", Align::Left), ("Packs", Align::Right)];
    if with_prices {
        columns.push(("Price of a pack", Align::Right));
    }
    let mut table = Table::new(&columns);
    for line in &view.lines {
        let mut row = vec![one_line(&line.item_no), one_line(&line.name), one_line(&line.pack), line.packs.to_string()];
        if with_prices {
            row.push(money(&line.price, &view.currency));
        }
        table.row(row);
    }
    let goods =
        if with_prices { format!("Goods in all: {}.", money(&view.goods, &view.currency)) } else { String::new() };
    let deliver =
        if deliver_to.is_empty() { String::new() } else { format!("Please deliver to: {}.", one_line(deliver_to)) };
    let blocks = vec![
        Block::paragraph(format!("To {}: please send us the following.", one_line(&view.name))),
        Block::Table(table),
        Block::paragraph(goods),
        Block::paragraph(deliver),
        Block::paragraph("Please tell us soon if something cannot come, comes later, or costs more."),
    ];
    let document = Document::new("order", format!("Order{code} of {day}")).section("", blocks);
    if signed.is_empty() { document } else { document.footer(format!("With kind regards, {}", one_line(signed))) }
}
