//! Proof of what is said of a formula: its cost, the pieces that stock allows, its ingredient list, two versions.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod cost;
mod ingredients;
mod possible;
#[path = "../support/mod.rs"]
mod support;
