//! Proof of the sheets for the bench: weighing and counting, of small workshops and of the example workshop.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod counting;
mod example;
#[path = "../support/mod.rs"]
mod support;
mod weighing;
