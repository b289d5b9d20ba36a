//! The list as the maker gets it: around her wishes, within her budget and her shelves, and not turned over for cents.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]
#![allow(dead_code, reason = "the files of tests/reorder that are shared have more than is used here")]

mod budget;
#[path = "../reorder/exhaustive.rs"]
mod exhaustive;
mod list;
#[path = "../reorder/maker.rs"]
mod maker;
#[path = "../reorder/naive.rs"]
mod naive;
mod reasons;
mod shelf;
mod stays;
#[path = "../support/mod.rs"]
mod support;
mod wanted;
