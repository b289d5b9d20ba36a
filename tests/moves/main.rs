//! The smallest set of moves against trying every set of moves there is, and by hand.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod by_hand;
mod exhaustive;
#[path = "../support/mod.rs"]
mod support;
