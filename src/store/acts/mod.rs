//! What the user does, one file for each kind of act. An act checks first and then writes: one row in `acts`, the
//! movements that it brings about, and the log of what it changed besides.

pub(super) mod count;
mod decant;
pub(super) mod formula;
mod leave;
mod lot;
pub(super) mod make;
mod order;
mod pieces;
mod plan;
pub(super) mod receive;
pub(super) mod undo;
mod wish;
