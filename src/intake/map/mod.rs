//! A maker's own spreadsheets: how each is understood, remembered, and turned into the files of a workshop.
//!
//! [`Tables`] are read as they stand; [`mod@guess`] says what they may mean, and what decided each guess; a [`Mapping`] is
//! what the maker confirmed, kept as a TOML file beside the store. An import reads a sheet of hers by the mapping that
//! has its headers: [`read_paths_with`](super::read_paths_with) finds it, [`Sheets::translate`](super::Sheets::translate)
//! makes rows of our own files of it, which are then checked like all others.

pub mod cells;
pub mod file;
pub mod guess;
pub mod names;
pub mod raw;

mod assign;
mod blocks;
mod formulas;
mod header;
mod lines;
mod settle;
mod share;
mod style;
mod translate;

pub use file::{MappingError, Mappings, write_text};
pub use guess::{ColumnGuess, SheetGuess, guess};
pub use raw::{Table, Tables, read_tables};
pub(super) use translate::{Foreign, Rows, translate};

use super::columns::SheetKind;
use cells::{DateOrder, DecimalSign};

/// How a maker's file is understood.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Mapping {
    /// What it is called: the name of its file.
    pub name: String,
    /// The file that it was made with.
    pub file: String,
    /// Her sheets.
    pub sheets: Vec<MappedSheet>,
}

/// How the lines of a sheet stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Layout {
    /// A thing in each line under a header.
    #[default]
    Lines,
    /// Formulas side by side: ingredients down the first column, a formula in each of the others.
    FormulaPerColumn,
    /// Formulas below each other: a line with the name, then ingredients and how much of each.
    Blocks,
}

/// A setting that may still have to be decided.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Decision<T> {
    /// No cell needs it.
    NotNeeded,
    /// It has to be decided before the sheet can be read.
    Open,
    /// It is this.
    Is(T),
}

impl<T: Clone> Decision<T> {
    /// What was decided.
    #[must_use]
    pub fn get(&self) -> Option<T> {
        match self {
            Self::Is(value) => Some(value.clone()),
            Self::NotNeeded | Self::Open => None,
        }
    }
}

/// How one of her sheets is understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MappedSheet {
    /// Its name in the workbook; empty for a CSV file.
    pub sheet: String,
    /// What its lines hold; the first is what they are about. Nothing where the sheet is left out.
    pub holds: Vec<SheetKind>,
    /// How its lines stand.
    pub layout: Layout,
    /// The mark of its decimals.
    pub decimal: Decision<DecimalSign>,
    /// The order of its dates.
    pub dates: Decision<DateOrder>,
    /// The currency of money that names none.
    pub currency: Decision<String>,
    /// The unit of amounts that name none; of formulas also `percent`.
    pub unit: Decision<String>,
    /// The supplier of all its lines, where no column says.
    pub supplier: Decision<String>,
    /// Days that a supplier takes which only this sheet names.
    pub lead_time_days: Decision<String>,
    /// Materials, suppliers and formulas that are named here and known nowhere else are added.
    pub add_missing: bool,
    /// Lines that are not read: by their number, or by the words of their first cell.
    pub skip: Vec<Skip>,
    /// Her columns by their title, and what they mean.
    pub columns: Vec<(String, ColumnUse)>,
}

/// A line that is not read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Skip {
    /// The line's number.
    Number(usize),
    /// The words of its first filled cell.
    Words(String),
}

/// What a column of hers means.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ColumnUse {
    /// The meaning.
    pub meaning: Meaning,
    /// The unit of its bare numbers.
    pub unit: Option<String>,
    /// The currency of its bare numbers.
    pub currency: Option<String>,
    /// An empty cell means the one above it.
    pub fill_down: bool,
    /// Percentages are written as fractions of 1.
    pub fractions: bool,
}

/// The meaning of a column.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Meaning {
    /// Not read.
    #[default]
    LeftOut,
    /// A column of one of our files.
    Column(SheetKind, &'static str),
    /// The unit of the line's amounts.
    Unit,
    /// The currency of the line's money.
    Currency,
    /// How much of each ingredient goes into this formula (formulas side by side).
    Formula(String),
}

impl MappedSheet {
    /// A sheet of which nothing is known yet.
    #[must_use]
    pub fn new(sheet: &str) -> Self {
        Self {
            sheet: sheet.to_owned(),
            holds: Vec::new(),
            layout: Layout::Lines,
            decimal: Decision::NotNeeded,
            dates: Decision::NotNeeded,
            currency: Decision::NotNeeded,
            unit: Decision::NotNeeded,
            supplier: Decision::NotNeeded,
            lead_time_days: Decision::NotNeeded,
            add_missing: false,
            skip: Vec::new(),
            columns: Vec::new(),
        }
    }

    /// The settings that are open, by the names that they have in the file.
    #[must_use]
    pub fn open(&self) -> Vec<&'static str> {
        let mut open = Vec::new();
        let mut look = |is_open: bool, name| {
            if is_open {
                open.push(name);
            }
        };
        look(self.decimal == Decision::Open, "decimal");
        look(self.dates == Decision::Open, "dates");
        look(self.currency == Decision::Open, "currency");
        look(self.unit == Decision::Open, "unit");
        look(self.supplier == Decision::Open, "supplier");
        look(self.lead_time_days == Decision::Open, "lead_time_days");
        open
    }

    /// True where a column of hers has this meaning.
    #[must_use]
    pub fn means(&self, kind: SheetKind, column: &str) -> bool {
        self.columns.iter().any(|(_, column_use)| match column_use.meaning {
            Meaning::Column(own, name) => own == kind && name == column,
            _ => false,
        })
    }
}
