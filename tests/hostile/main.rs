//! What bad input and hostile content do not do: every parser with invented text, the named attacks through the real program,
//! sums beyond 64 bits, hostile names through every output, and the mail password through everything that is shown.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod argv;
mod config;
mod named;
#[path = "../cli/workshop.rs"]
mod program;
mod secrets;
#[path = "../mail/server.rs"]
#[allow(dead_code, reason = "the server can do more than these tests ask")]
mod server;
mod sums;
mod sweep;
mod tables;
mod templates;
mod values;
mod workbook;
