//! Proof of the allocation: against max-flow, a linear programme, brute force and the issuing cases in tests/checks.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod checks;
mod fewest;
mod fixed_days;
mod naive;
mod opening;
#[path = "../support/mod.rs"]
mod support;
