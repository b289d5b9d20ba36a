//! Proof of the extra batches that use up what would expire: against all sets of batches there are, and against the plan
//! itself with the batches in it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod adopted;
mod by_hand;
mod example;
mod exhaustive;
mod last_day;
mod random_workshop;
#[path = "../support/mod.rs"]
mod support;
