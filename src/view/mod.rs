//! Reports as plain data: computed once from a plan, named as the JSON contract names them, rendered elsewhere.

pub mod acts;
pub mod allocate;
pub mod batch;
pub mod cost;
pub mod counting;
pub mod done;
pub mod expiring;
pub mod forecast;
pub mod formula;
pub mod lot;
pub mod month;
pub mod order_letter;
pub mod orders;
pub mod outbox;
pub mod pieces;
pub mod plan;
pub mod prices;
pub mod reorder;
pub mod reorder_hand;
pub mod rescue;
pub mod safe;
pub mod schedules;
pub mod schemas;
mod shared;
pub mod stock;
pub mod stocktake;
pub mod suppliers;
pub mod today;
pub mod trace;
pub mod weigh;
pub mod wishes;

pub use crate::book::fold::fold;
pub use shared::{FindingView, findings};
