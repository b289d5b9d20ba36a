//! Files in and files out: CSV, folders and workbooks become checked rows, and rows become files again.
//!
//! [`read_paths`] finds the tables, [`fn@check`] turns them into typed rows against what the store has and
//! reports every fault at once, [`write_folder`] writes the same files back. Nothing here knows
//! SQL or the terminal; the store writes what passed the check.
//!
//! A text that a spreadsheet would run as a formula (it starts with `=`, `+`, `-`, `@`, a tab or a carriage return, and
//! is no plain number) is written with an apostrophe before it, and so is a text that itself starts with an
//! apostrophe. Reading takes one apostrophe away where one of these follows it, so that `'=A1` is the text `=A1`,
//! `''tis` is `'tis`, and a text such as `'tis` that a person wrote stays as it is. A row whose first cell begins with `# `
//! explains or shows an example and is not read; a text that itself begins so is written with an apostrophe, too.

pub mod changes;
pub mod check;
pub mod columns;
pub mod describe;
pub mod fault;
pub mod map;
pub mod sheets;
pub mod write;

mod cell;
mod counts;
mod csv_text;
mod read;
mod row_cells;
mod row_reader;
mod sheet;
mod to_cells;
mod workbook;

pub use changes::{Change, ChangeKind, ColumnChange};
pub use check::{Checked, check, typed_plan_amount};
pub use columns::SheetKind;
pub use counts::{CountedLine, read_counts};
pub use fault::Fault;
pub use read::{read_paths, read_paths_with};
pub use sheet::Sheets;
pub use write::{WriteError, write_folder};
