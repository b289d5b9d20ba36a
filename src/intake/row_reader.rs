//! One row of a file, cell by cell, with every fault of it collected.
//!
//! What a cell means depends on whether its column is there: an absent column leaves the value that the row had
//! (`base`), an empty cell means none.

use super::cell::{self, Parsed};
use super::fault::{Fault, Problem};
use super::sheet::{Sheet, TableRow};
use crate::plan::measure::DecimalMark;

/// Reads a row; [`RowReader::finish`] hands back what was wrong with it.
pub(super) struct RowReader<'a> {
    pub(super) sheet: &'a Sheet,
    pub(super) row: &'a TableRow,
    faults: Vec<Fault>,
}

impl<'a> RowReader<'a> {
    pub(super) fn new(sheet: &'a Sheet, row: &'a TableRow) -> Self {
        Self { sheet, row, faults: Vec::new() }
    }

    /// The cell: `None` without the column, empty where nothing stands there.
    pub(super) fn cell(&self, column: &str) -> Option<&'a str> {
        self.sheet.cell(self.row, column)
    }

    /// The cell where something stands there.
    pub(super) fn filled(&self, column: &str) -> Option<&'a str> {
        self.cell(column).filter(|cell| !cell.is_empty())
    }

    /// The marks that its numbers may use.
    pub(super) fn mark(&self) -> DecimalMark {
        self.sheet.mark
    }

    /// True where nothing was wrong so far.
    pub(super) fn is_sound(&self) -> bool {
        self.faults.is_empty()
    }

    /// All that was wrong.
    pub(super) fn finish(self) -> Vec<Fault> {
        self.faults
    }

    /// A fault of a column and its value.
    pub(super) fn fault(&mut self, column: &str, problem: impl Into<String>, remedy: impl Into<String>) {
        let fault = Fault::of_file(&self.sheet.file, problem, remedy).in_row(self.row.number);
        let fault = fault.in_column(&self.sheet.shown_column(column));
        let value = self.filled(column);
        self.faults.push(match value {
            Some(value) => fault.with_value(value),
            None => fault,
        });
    }

    /// A fault of the whole row.
    pub(super) fn row_fault(&mut self, problem: impl Into<String>, remedy: impl Into<String>) {
        self.faults.push(Fault::of_file(&self.sheet.file, problem, remedy).in_row(self.row.number));
    }

    fn parsed<T>(&mut self, column: &str, read: Parsed<T>) -> Option<T> {
        match read {
            Ok(value) => Some(value),
            Err(Problem { problem, remedy }) => {
                self.fault(column, problem, remedy);
                None
            }
        }
    }

    /// A value that may be none.
    pub(super) fn optional<T>(
        &mut self,
        column: &str,
        base: Option<T>,
        read: impl FnOnce(&str, DecimalMark) -> Parsed<T>,
    ) -> Option<T> {
        match self.cell(column) {
            None => base,
            Some("") => None,
            Some(cell) => self.parsed(column, read(cell, self.sheet.mark)),
        }
    }

    /// A value that stands for something where it is empty.
    pub(super) fn or_empty<T>(
        &mut self,
        column: &str,
        base: T,
        empty: T,
        read: impl FnOnce(&str, DecimalMark) -> Parsed<T>,
    ) -> T {
        match self.cell(column) {
            None => base,
            Some("") => empty,
            Some(cell) => self.parsed(column, read(cell, self.sheet.mark)).unwrap_or(empty),
        }
    }

    /// A value that has to be there.
    pub(super) fn required<T>(&mut self, column: &str, read: impl FnOnce(&str, DecimalMark) -> Parsed<T>) -> Option<T> {
        match self.filled(column) {
            None => {
                self.fault(column, "is empty", "fill it in");
                None
            }
            Some(cell) => self.parsed(column, read(cell, self.sheet.mark)),
        }
    }

    /// A text; empty where none.
    pub(super) fn text(&mut self, column: &str, base: &str) -> String {
        self.or_empty(column, base.to_owned(), String::new(), |cell, _| cell::text(cell))
    }

    /// A text that has to be there.
    pub(super) fn required_text(&mut self, column: &str) -> Option<String> {
        self.required(column, |cell, _| cell::text(cell))
    }
}
