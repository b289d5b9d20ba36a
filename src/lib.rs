//! Stillroom keeps the stock of a small workshop that makes soap and skin care by hand.
//!
//! Data flows one way: command, store, snapshot, plan, view, render, post. What each layer may import is held by
//! `tests/tidy.rs`; `DEVELOPERS.md` is the guide.

pub mod book;
pub mod cli;
pub mod clock;
pub mod commands;
pub mod config;
pub mod error;
pub mod intake;
pub mod plan;
pub mod post;
pub mod render;
pub mod store;
pub mod view;
