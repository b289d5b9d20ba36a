//! Files in and files out: every fault by its message, files of every form and breakage, merging, and the way back.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod faults;
mod files;
mod merging;
mod own_sheets;
mod random_book;
mod roundtrip;
mod sheets;
mod workshop;
