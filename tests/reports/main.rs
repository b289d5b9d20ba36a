//! Proof of the reports: every form of each, the month ahead by hand, pictures whose words do not collide, letters with
//! pictures, calendars and cut lists.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod calendar;
mod forms;
mod letters;
mod month;
mod pictures;
#[path = "../cli/workshop.rs"]
mod program;
#[path = "../support/mod.rs"]
mod support;
