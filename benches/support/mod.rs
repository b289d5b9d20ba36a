//! What benches and the makers of stores share.

#[path = "../../tests/reorder/maker.rs"]
#[allow(dead_code, reason = "the tests of the reorder list use more of it")]
mod maker;
pub mod past;
pub mod workshops;
