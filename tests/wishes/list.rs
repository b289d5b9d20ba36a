//! Small workshops and their lists.

use super::support::day;
use super::support::workshop::Workshop;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::calendar::OrderCalendar;
use stillroom::plan::model::{ItemId, Postage, ProductId, Snapshot, SupplierId};
use stillroom::plan::money::Price;
use stillroom::plan::outlook::{Outlook, look_ahead};
use stillroom::plan::quantity::Percent;
use stillroom::plan::reorder::Limits;
use stillroom::plan::reorder::listing::{ListSettings, Listing, list};
use stillroom::plan::reorder::requirements::{CreditSettings, requirements};
use stillroom::plan::wishes::{Want, Wish, fulfilled};

/// A shop where wax and oil are sold by two, at postage; a balm of both is made on day 10, and again on day 20.
pub struct Shop {
    pub workshop: Workshop,
    pub wax: ItemId,
    pub oil: ItemId,
    pub balm: ProductId,
    pub near: SupplierId,
    pub far: SupplierId,
}

pub fn shop() -> Shop {
    let mut workshop = Workshop::new();
    let (oil, wax) = (workshop.material("oil"), workshop.material("wax"));
    let near = workshop.supplier(OrderCalendar { lead_time_days: 2, ..OrderCalendar::default() });
    let far = workshop.supplier(OrderCalendar { lead_time_days: 6, ..OrderCalendar::default() });
    for (supplier, oil_price, wax_price) in [(near, 500, 320), (far, 480, 300)] {
        workshop.snapshot.suppliers[supplier.index()].postage = Postage::Flat(Price { minor: 400 });
        workshop.offer(supplier, oil, 100, oil_price);
        workshop.offer(supplier, wax, 100, wax_price);
    }
    let balm = workshop.product("balm", &[(oil, "50"), (wax, "50")]);
    workshop.make(balm, 200, day(10));
    workshop.make(balm, 200, day(20));
    Shop { workshop, wax, oil, balm, near, far }
}

/// The snapshot with wishes.
pub fn wishing(snapshot: &Snapshot, wants: &[Want]) -> Snapshot {
    let mut snapshot = snapshot.clone();
    snapshot.hand.wishes = wants.iter().map(|want| Wish { code: String::new(), want: *want }).collect();
    snapshot
}

/// The list of a snapshot on a day, and what it comes from. A new list has to save one percent.
pub fn listed_on(snapshot: &Snapshot, today: u64) -> (Snapshot, Outlook, Listing) {
    let snapshot = fulfilled(snapshot.clone(), day(today));
    let outlook = look_ahead(&snapshot, day(today), None, SearchLimit::default());
    let settings = CreditSettings { window_days: 60, worth: Percent { millionths: 50_000_000 } };
    let needed = requirements(&snapshot, &outlook, settings);
    let settings = ListSettings {
        limits: Limits::for_problem(&needed.problem),
        change_must_save: Percent { millionths: 1_000_000 },
    };
    let listing = list(&snapshot, &outlook, needed, &settings, &mut || false).unwrap();
    (snapshot, outlook, listing)
}

pub fn listed(snapshot: &Snapshot) -> Listing {
    listed_on(snapshot, 0).2
}

/// Supplier and day of each order, as numbers.
pub fn orders(listing: &Listing) -> Vec<(usize, i64)> {
    let order =
        |order: &stillroom::plan::reorder::PlannedOrder| (order.supplier.index(), (order.order_on - day(0)).num_days());
    listing.plan.orders.iter().map(order).collect()
}
