//! The letter, from a made-up reorder list to what arrives: real SMTP conversations on loopback, read back with a mail
//! parser that is not the one that wrote it.

#![allow(clippy::unwrap_used, clippy::panic, missing_docs, reason = "tests may fail loudly")]

mod arrives;
mod conversations;
mod example;
mod lies_in_folder;
mod secrets;
#[allow(dead_code, reason = "tests/post needs more of it")]
mod server;
mod stays_harmless;
mod supplier;
