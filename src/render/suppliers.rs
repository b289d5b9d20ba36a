//! Suppliers and their lead times, for the terminal.

use super::amounts::{count, day};
use super::one_line;
use super::paragraph::{on_screen, title};
use super::table::{Align, Screen, Table};
use crate::view::suppliers::{SupplierView, SuppliersView};

/// The list.
#[must_use]
pub fn terminal(view: &SuppliersView, screen: Screen) -> String {
    if view.suppliers.is_empty() {
        return "There are no suppliers yet: import suppliers.csv.\n".to_owned();
    }
    let mut text = title("Suppliers, and the days from order to parcel:", screen);
    let mut table = Table::new(&[
        ("Code", Align::Left),
        ("Name", Align::Left),
        ("Sells", Align::Right),
        ("Takes orders", Align::Left),
        ("Next", Align::Left),
        ("Stated", Align::Right),
        ("Half came in", Align::Right),
        ("Nine in ten in", Align::Right),
        ("Received", Align::Right),
        ("Reckoned with", Align::Right),
    ]);
    for supplier in &view.suppliers {
        let days = |days: Option<u32>| days.map_or_else(String::new, |days| days.to_string());
        let weekdays = if supplier.order_weekdays.is_empty() { "every day" } else { &supplier.order_weekdays };
        table.row([
            &one_line(&supplier.supplier),
            &one_line(&supplier.name),
            &count(supplier.materials, "material", "materials"),
            weekdays,
            &supplier.next_order_day.map_or_else(String::new, |next| day(next, view.as_of)),
            &supplier.stated_days.to_string(),
            &days(supplier.median_days),
            &days(supplier.high_days),
            &received(supplier),
            &supplier.lead_time_days.to_string(),
        ]);
    }
    text.push('\n');
    text.push_str(&table.render(screen));
    text.push('\n');
    let enough = count(view.lead_time_orders, "received order", "received orders");
    let words = if view.lead_time == "learned" {
        format!(
            "Order days are reckoned with what nine in ten orders took, once there are {enough}, and never with less than is \
             stated."
        )
    } else {
        "Order days are reckoned with the stated days; `lead_time = \"learned\"` under [reorder] in the settings changes \
         that."
            .to_owned()
    };
    text.push_str(&on_screen(&words, screen));
    text
}

fn received(supplier: &SupplierView) -> String {
    if supplier.received_orders == 0 { String::new() } else { count(supplier.received_orders, "order", "orders") }
}
