//! Proof of what is read off an allocation: the balance of each day, the safety stock, order-by days, requirements.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod balance;
mod purchasing;
mod safety_stock;
mod supply;
#[path = "../support/mod.rs"]
mod support;
