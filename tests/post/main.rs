//! Letters that come by themselves: a year of schedules against a mail server of every temper, the program killed at
//! every step, several at once, and what is news. The time is a simulated one.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]
#![allow(clippy::disallowed_methods, reason = "how long something takes is asked of the computer's own clock")]

mod at_once;
mod checks;
mod clocks;
mod croner;
mod killed;
mod news;
mod shop;
mod stages;
mod units;
mod year;

#[allow(dead_code, reason = "the tests of single conversations need more of it")]
#[path = "../mail/server.rs"]
mod server;
#[path = "../support/mod.rs"]
mod support;
