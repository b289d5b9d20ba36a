//! How long a lot can be used, before the plan opens it.

use super::calendar::Span;
use super::model::{Item, Lot};
use chrono::NaiveDate;

/// The last day on which the lot can be used: the earlier of its best-before date (where it has none, receipt plus the
/// item's unopened life) and the day it was opened plus the after-opening life. [`NaiveDate::MAX`] where nothing ends it.
#[must_use]
pub fn usable_through(lot: &Lot, item: &Item) -> NaiveDate {
    let received_life = || Some(item.unopened_life?.after(lot.received?));
    let unopened = lot.best_before.or_else(received_life).unwrap_or(NaiveDate::MAX);
    let opened = lot.opened.zip(item.opened_life).map_or(NaiveDate::MAX, |(day, life)| life.after(day));
    unopened.min(opened)
}

/// The after-opening life that the plan would set running by using the lot; `None` where it is open or has none.
#[must_use]
pub fn life_once_opened(lot: &Lot, item: &Item) -> Option<Span> {
    if lot.opened.is_some() { None } else { item.opened_life }
}
