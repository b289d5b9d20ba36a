//! Proof of the explosion: printed formulas, netting, roundings to the milligram, days, and hostile nesting.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod checks;
mod days;
mod masses;
mod nesting;
#[path = "../support/mod.rs"]
mod support;

use chrono::NaiveDate;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::explode::{Explosion, explode};
use stillroom::plan::model::{ItemId, Snapshot};
use stillroom::plan::supply::supplies;

/// Explodes with the workshop's own lots and orders as they are on day 0.
fn explode_from_day_0(snapshot: &Snapshot, horizon: NaiveDate) -> Explosion {
    let today = support::day(0);
    explode(snapshot, today, horizon, &supplies(snapshot, today).supplies, SearchLimit::default())
}

/// All that is asked for of an item.
fn total(explosion: &Explosion, item: ItemId) -> i64 {
    explosion.demands[item.index()].iter().map(|demand| demand.quantity.0).sum()
}

/// Days and amounts of what is asked for of an item.
fn dated(explosion: &Explosion, item: ItemId) -> Vec<(NaiveDate, i64)> {
    explosion.demands[item.index()].iter().map(|demand| (demand.day, demand.quantity.0)).collect()
}
