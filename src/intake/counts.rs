//! A counting sheet that comes back filled in: which lot, how much of it, and why it differs.

use super::cell;
use super::columns::SheetKind;
use super::fault::Fault;
use super::read::{file_name, read_bytes, unreadable};
use super::row_reader::RowReader;
use super::sheet::Sheets;
use crate::book::Book;
use crate::plan::measure::{DecimalMark, Measure};
use crate::plan::quantity::{Quantity, Unit};
use std::path::Path;

/// A line of the sheet that was filled in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CountedLine {
    /// Which lot.
    pub lot: String,
    /// What is there.
    pub counted: Quantity,
    /// Why it differs; may be empty.
    pub reason: String,
}

/// Reads a filled sheet. Lines whose `counted` is empty were not counted and are left out. An amount has its unit with
/// it (`480 g`), or that of the `unit` column.
///
/// # Errors
/// Every fault of the file.
pub fn read_counts(path: &Path, book: &Book) -> Result<Vec<CountedLine>, Vec<Fault>> {
    let file = file_name(path);
    let bytes = read_bytes(path).map_err(|error| vec![unreadable(path, &error)])?;
    let mut sheets = Sheets::default();
    sheets.add_csv(SheetKind::Counts, &file, &bytes);
    let mut faults = sheets.faults.clone();
    let mut lines: Vec<CountedLine> = Vec::new();
    for (sheet, row) in sheets.rows(SheetKind::Counts) {
        let mut reader = RowReader::new(sheet, row);
        if reader.filled("counted").is_some()
            && let Some(line) = line(&mut reader, book)
        {
            if lines.iter().any(|other| other.lot == line.lot) {
                reader.fault("lot", "is counted twice", "add the two amounts up in one row");
            }
            lines.push(line);
        }
        faults.extend(reader.finish());
    }
    if faults.is_empty() { Ok(lines) } else { Err(faults) }
}

fn line(reader: &mut RowReader<'_>, book: &Book) -> Option<CountedLine> {
    let lot = reader.required_text("lot")?;
    let Some(row) = book.lots.iter().find(|row| row.lot == lot) else {
        reader.fault("lot", "is not a lot of this workshop", "take the row out, or write the lot's code");
        return None;
    };
    let material = book.materials.iter().find(|material| material.code == row.material);
    let unit = material.map_or(Unit::Milligram, |material| material.unit);
    let density = material.and_then(|material| material.density);
    let written = reader.filled("unit").map(str::to_owned);
    let counted = reader.required("counted", |cell, mark| {
        let has_unit = cell.chars().any(char::is_alphabetic);
        let amount = if has_unit { cell.to_owned() } else { format!("{cell} {}", written.as_deref().unwrap_or("")) };
        cell::quantity(&amount, mark_of(&amount, mark), Some((unit, density)))
    })?;
    Some(CountedLine { lot, counted, reason: reader.text("reason", "") })
}

/// The mark of the file, or the lenient one where that alone can read the amount.
fn mark_of(amount: &str, mark: DecimalMark) -> DecimalMark {
    if Measure::parse(amount, mark).is_ok() { mark } else { DecimalMark::PointOrClearComma }
}
