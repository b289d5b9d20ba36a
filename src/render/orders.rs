//! Open orders, for the terminal.

use super::amounts::{count, day, money};
use super::paragraph::title;
use super::table::{Align, Screen, Table};
use crate::view::orders::OrdersView;

/// What has not come yet.
#[must_use]
pub fn terminal(view: &OrdersView, screen: Screen) -> String {
    let heading = match view.orders.len() {
        0 => "No order is open.".to_owned(),
        lines => format!("{} still to come.", count(lines, "order line", "order lines")),
    };
    let mut text = title(&heading, screen);
    if view.orders.is_empty() {
        return text;
    }
    let mut table = Table::new(&[
        ("Expected", Align::Left),
        ("Order", Align::Left),
        ("Supplier", Align::Left),
        ("Material", Align::Left),
        ("Packs", Align::Left),
        ("Price", Align::Right),
        ("Total", Align::Right),
    ]);
    for order in &view.orders {
        let expected = day(order.expected, view.as_of);
        table.row([
            &(if order.overdue { format!("{expected} (overdue)") } else { expected }),
            &order.order,
            &order.supplier_name,
            &order.name,
            &format!("{} x {}", order.packs, order.pack),
            &money(&order.price, &order.currency),
            &money(&order.total, &order.currency),
        ]);
    }
    text.push('\n');
    text.push_str(&table.render(screen));
    text
}
