//! The store as commands use it: imports, acts, refusals, and the ledger that nobody rewrites.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "tests may fail loudly; the program may not"
)]

mod acts;
mod bench;
mod files;
mod genealogy;
mod hand;
mod import;
mod invented;
mod outbox;
mod properties;
#[path = "../../benches/support/mod.rs"]
#[allow(dead_code, reason = "benches use more of it")]
mod support;
mod synthetic;
mod undoing;
mod upgrade;
