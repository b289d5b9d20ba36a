//! Proof of the costs: published examples lot by lot, shares that add up, the value of the stock, write-offs, prices.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod checks;
mod reports;
#[path = "../support/mod.rs"]
mod support;
