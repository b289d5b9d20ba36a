//! The program from outside: commands in a folder of their own, on a fixed day, with nothing in the environment.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

mod acts;
mod begin;
mod bench;
mod contract;
mod files;
mod fresh;
mod hand;
mod held;
mod help;
mod mapping;
mod mistakes;
mod names;
mod questions;
mod schemas;
mod small;
#[cfg(unix)]
mod terminal;
mod today;
mod words;
mod workshop;
