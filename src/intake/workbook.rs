//! An XLSX workbook to tables of text: numbers as the shortest decimal that a spreadsheet shows, dates as ISO 8601.
//!
//! A workbook comes from anywhere: its unpacked size is counted before anything of it is held, cells are taken one by
//! one (a single cell at the far corner must not ask for a whole grid), and a panic of the library becomes a message.

use super::columns::SheetKind;
use super::fault::Problem;
use super::map::raw::{Cell, Line, text_cell};
use super::row_cells::RowCells;
use super::sheet::{MAX_CELLS, MAX_COLUMNS, MAX_ROWS, Table, TableRow};
use crate::plan::measure::DecimalMark;
use calamine::{DataRef, ExcelDateTime, Reader, Xlsx, XlsxError, open_workbook_from_rs};
use chrono::NaiveDate;
use std::collections::BTreeMap;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use zip::ZipArchive;
use zip::result::ZipError;

/// The most bytes that a workbook may unpack to: a hundred times a large workshop, and still little enough to be held.
const MAX_UNPACKED: u64 = 64 << 20;
/// Name and table of each sheet; sheets that are none of ours come without being read.
type NamedTables = Vec<(String, Result<Table, Problem>)>;

/// Name and lines of each sheet.
type NamedLines = Vec<(String, Result<Vec<Line>, Problem>)>;

/// Reads the sheets of a workbook.
pub(super) fn read_tables(bytes: Vec<u8>) -> Result<NamedTables, Problem> {
    refuse_too_large(&bytes)?;
    // The library indexes into what the file claims; a file that lies must not end the program.
    let read = catch_unwind(AssertUnwindSafe(|| read_sheets(bytes)));
    read.unwrap_or_else(|_| Err(unreadable("it is damaged")))
}

fn refuse_too_large(bytes: &[u8]) -> Result<(), Problem> {
    if !is_too_large(bytes).map_err(unreadable)? {
        return Ok(());
    }
    Err(too_large())
}

fn too_large() -> Problem {
    let problem = format!("unpacks to more than {} MB", MAX_UNPACKED >> 20);
    Problem::new(problem, "save its sheets as CSV files")
}

/// How many bytes of text the cells of a workbook may still hold. Cells share their texts in the file: a small one could mean
/// as many gigabytes as it likes.
struct Room(u64);

impl Room {
    fn take(&mut self, text: &str) -> Result<(), Problem> {
        self.0 = self.0.checked_sub(text.len() as u64).ok_or_else(too_large)?;
        Ok(())
    }
}

fn read_sheets(bytes: Vec<u8>) -> Result<NamedTables, Problem> {
    let mut book: Xlsx<_> = open_workbook_from_rs(Cursor::new(bytes)).map_err(|error: XlsxError| unreadable(error))?;
    let names = book.sheet_names();
    let (mut tables, mut room) = (Vec::new(), Room(MAX_UNPACKED));
    for name in names {
        let table = match SheetKind::of_stem(&name) {
            Some(_) => read_sheet(&mut book, &name, &mut room),
            None => {
                Ok(Table { rows: Vec::new(), mark: DecimalMark::Point, error_cells: Vec::new(), may_be_short: true })
            }
        };
        tables.push((name, table));
    }
    Ok(tables)
}

fn unreadable(error: impl std::fmt::Display) -> Problem {
    Problem::new(
        format!("cannot be read as XLSX ({error})"),
        "save it again as an Excel workbook (.xlsx), or as CSV files",
    )
}

fn read_sheet(book: &mut Xlsx<Cursor<Vec<u8>>>, name: &str, room: &mut Room) -> Result<Table, Problem> {
    let mut reader = book.worksheet_cells_reader(name).map_err(unreadable)?;
    let mut cells: BTreeMap<usize, BTreeMap<usize, String>> = BTreeMap::new();
    let mut error_cells = Vec::new();
    let mut count = 0;
    while let Some(cell) = reader.next_cell().map_err(unreadable)? {
        let (row, column) = cell.get_position();
        let (row, column) = (row as usize, column as usize);
        if let DataRef::Error(error) = cell.get_value() {
            error_cells.push((row + 1, column, error.to_string()));
        }
        let text = cell_text(cell.get_value());
        if text.trim().is_empty() {
            continue;
        }
        room.take(&text)?;
        count += 1;
        if column >= MAX_COLUMNS || count > MAX_CELLS || cells.len() > MAX_ROWS {
            let problem = format!("has more than {MAX_COLUMNS} columns, {MAX_ROWS} rows or {MAX_CELLS} cells");
            return Err(Problem::new(problem, "keep to the columns of the file"));
        }
        cells.entry(row).or_default().insert(column, text);
    }
    let rows = cells.into_iter().map(|(row, filled)| TableRow { number: row + 1, cells: dense(filled) }).collect();
    Ok(Table { rows, mark: DecimalMark::PointOrClearComma, error_cells, may_be_short: true })
}

/// The cells of a row from the first column to the last filled one.
fn dense(filled: BTreeMap<usize, String>) -> RowCells {
    let mut cells = RowCells::default();
    for (column, text) in filled {
        while cells.len() < column {
            cells.push("");
        }
        cells.push(&text);
    }
    cells
}

/// Every sheet of a workbook as a maker's own lines: numbers and dates are told from text.
pub(super) fn read_lines(bytes: Vec<u8>) -> Result<NamedLines, Problem> {
    refuse_too_large(&bytes)?;
    let read = catch_unwind(AssertUnwindSafe(|| {
        let mut book: Xlsx<_> =
            open_workbook_from_rs(Cursor::new(bytes)).map_err(|error: XlsxError| unreadable(error))?;
        let (names, mut room) = (book.sheet_names(), Room(MAX_UNPACKED));
        Ok(names.into_iter().map(|name| (name.clone(), sheet_lines(&mut book, &name, &mut room))).collect())
    }));
    read.unwrap_or_else(|_| Err(unreadable("it is damaged")))
}

fn sheet_lines(book: &mut Xlsx<Cursor<Vec<u8>>>, name: &str, room: &mut Room) -> Result<Vec<Line>, Problem> {
    let mut reader = book.worksheet_cells_reader(name).map_err(unreadable)?;
    let mut lines: BTreeMap<usize, Vec<Cell>> = BTreeMap::new();
    let mut count = 0;
    while let Some(cell) = reader.next_cell().map_err(unreadable)? {
        let (row, column) = cell.get_position();
        let text = cell_text(cell.get_value());
        let own = match cell.get_value() {
            DataRef::Int(_) | DataRef::Float(_) => Cell::Number(text),
            DataRef::DateTime(moment) if moment.is_datetime() => Cell::Date(text),
            DataRef::DateTimeIso(_) => Cell::Date(text),
            _ => text_cell(&text),
        };
        if own.is_empty() {
            continue;
        }
        room.take(own.text())?;
        count += 1;
        if column as usize >= MAX_COLUMNS || count > MAX_CELLS || lines.len() > MAX_ROWS {
            let problem = format!("has more than {MAX_COLUMNS} columns, {MAX_ROWS} rows or {MAX_CELLS} cells");
            return Err(Problem::new(problem, "keep to what belongs to the workshop"));
        }
        let cells = lines.entry(row as usize).or_default();
        cells.resize(cells.len().max(column as usize + 1), Cell::Empty);
        cells[column as usize] = own;
    }
    Ok(lines.into_iter().map(|(row, cells)| Line { number: row + 1, cells }).collect())
}

fn cell_text(value: &DataRef<'_>) -> String {
    match value {
        DataRef::Int(number) => number.to_string(),
        DataRef::Float(number) => number_text(*number),
        DataRef::String(text) => text.clone(),
        DataRef::SharedString(text) => (*text).to_owned(),
        DataRef::Bool(true) => "yes".to_owned(),
        DataRef::Bool(false) => "no".to_owned(),
        DataRef::DateTime(moment) => date_text(moment),
        DataRef::DateTimeIso(text) => text.split('T').next().unwrap_or_default().to_owned(),
        DataRef::DurationIso(text) => text.clone(),
        DataRef::Error(error) => error.to_string(),
        DataRef::Empty => String::new(),
    }
}

/// A number as a spreadsheet shows it: 15 significant digits, since the bits beyond are the noise of its own sums
/// (`100 - 95.7` is stored as 4.2999999999999972).
fn number_text(number: f64) -> String {
    let shown: f64 = format!("{number:.14e}").parse().unwrap_or(number);
    format!("{shown}")
}

/// The day of a date cell; a time of day is not wanted anywhere.
fn date_text(moment: &ExcelDateTime) -> String {
    // Serial numbers of the years 1900 to 9999: beyond them the library's sums are not defined.
    if moment.is_datetime() && (0.0..2_958_466.0).contains(&moment.as_f64()) {
        let (year, month, day, ..) = moment.to_ymd_hms_milli();
        if let Some(date) = NaiveDate::from_ymd_opt(i32::from(year), u32::from(month), u32::from(day)) {
            return date.to_string();
        }
    }
    number_text(moment.as_f64())
}

/// True where the entries say that they unpack to more than is allowed. One that lies gets no further: the library that
/// unpacks reads no more of an entry than it says, and it is the same that is asked here.
fn is_too_large(bytes: &[u8]) -> Result<bool, ZipError> {
    let mut archive = ZipArchive::new(Cursor::new(bytes))?;
    let mut sum = 0_u64;
    for place in 0..archive.len() {
        sum = sum.saturating_add(archive.by_index_raw(place)?.size());
    }
    Ok(sum > MAX_UNPACKED)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_what_a_spreadsheet_shows() {
        let check = |number: f64, expected: &str| assert_eq!(number_text(number), expected);
        check(4.25, "4.25");
        check(100.0 - 95.7, "4.3");
        check(0.1 + 0.2, "0.3");
        check(3.0, "3");
        check(1e15, "1000000000000000");
        check(f64::NAN, "NaN");
    }
}
