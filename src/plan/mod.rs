//! The pure core: a snapshot of the workshop and a date go in, values and findings come out.
//!
//! Nothing here knows SQLite, a clock, files, mail, a terminal or serialization. Same snapshot, same day, same answer.

pub mod allocate;
pub mod calendar;
pub mod cost;
pub mod decimal;
pub mod explode;
pub mod finding;
pub mod formula;
pub mod fraction;
pub mod ingredients;
pub mod lead_time;
pub mod life;
pub mod limits;
pub mod measure;
pub mod model;
pub mod money;
pub mod moves;
pub mod outlook;
pub mod project;
pub mod quantity;
pub mod reminder;
pub mod reorder;
pub mod rescue;
pub mod rounding;
pub mod schedule;
pub mod supply;
pub mod trace;
pub mod wishes;
