//! A maker's file as it stands: every sheet, every cell, numbers and dates of a workbook told from text.

use super::super::csv_text;
use super::super::fault::Problem;
use super::super::sheet::{MAX_BYTES, MAX_COLUMNS, MAX_ROWS};
use super::super::workbook;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// What a cell holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// Words, or a number as words.
    Text(String),
    /// A number of a workbook, with a decimal point.
    Number(String),
    /// A date of a workbook, as ISO 8601.
    Date(String),
}

impl Cell {
    /// The text of the cell.
    #[must_use]
    pub fn text(&self) -> &str {
        match self {
            Self::Empty => "",
            Self::Text(text) | Self::Number(text) | Self::Date(text) => text,
        }
    }

    /// True where nothing stands there.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        matches!(self, Self::Empty)
    }
}

/// A line of a sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Its number as a spreadsheet shows it.
    pub number: usize,
    /// Its cells.
    pub cells: Vec<Cell>,
}

impl Line {
    /// The cell at a place.
    #[must_use]
    pub fn cell(&self, place: usize) -> &Cell {
        self.cells.get(place).unwrap_or(&Cell::Empty)
    }

    /// True where nothing stands in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.cells.iter().all(Cell::is_empty)
    }

    /// How many cells are filled.
    #[must_use]
    pub fn filled(&self) -> usize {
        self.cells.iter().filter(|cell| !cell.is_empty()).count()
    }

    /// The text of the first filled cell.
    #[must_use]
    pub fn first(&self) -> &str {
        self.cells.iter().find(|cell| !cell.is_empty()).map_or("", Cell::text)
    }
}

/// A sheet of hers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    /// The file, and in a workbook the sheet, as messages name it.
    pub place: String,
    /// The file's name.
    pub file: String,
    /// The sheet's name; empty for a CSV file.
    pub sheet: String,
    /// The lines in which something stands.
    pub lines: Vec<Line>,
}

/// The sheets of a file, in their order; one that cannot be read says why.
pub type Tables = Vec<(String, Result<Table, String>)>;

/// Reads all sheets of a CSV file or a workbook.
///
/// # Errors
/// What is wrong with the file, and what would be right.
pub fn read_tables(path: &Path) -> Result<Tables, String> {
    let file = path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned());
    let said = |problem: Problem| format!("{file}: {}; {}", problem.problem, problem.remedy);
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|opened| opened.take(MAX_BYTES as u64 + 1).read_to_end(&mut bytes))
        .map_err(|error| format!("{file}: cannot be read ({error}); look at the path"))?;
    if bytes.len() > MAX_BYTES {
        return Err(format!("{file}: is larger than {} MB; split it into several files", MAX_BYTES >> 20));
    }
    tables_of(&file, path, bytes).map_err(said)
}

fn tables_of(file: &str, path: &Path, bytes: Vec<u8>) -> Result<Tables, Problem> {
    let extension = path.extension().unwrap_or_default().to_string_lossy().to_ascii_lowercase();
    match extension.as_str() {
        "xlsx" => {
            let sheets = workbook::read_lines(bytes)?;
            let table = |(name, lines): (String, Result<Vec<Line>, Problem>)| {
                let place = format!("{file}, sheet {name}");
                let table = lines
                    .map(|lines| Table { place, file: file.to_owned(), sheet: name.clone(), lines })
                    .map_err(|problem| format!("{file}, sheet {name}: {}; {}", problem.problem, problem.remedy));
                (name, table)
            };
            Ok(sheets.into_iter().map(table).collect())
        }
        "csv" | "tsv" | "txt" => {
            let lines = csv_lines(&bytes)?;
            let table = Table { place: file.to_owned(), file: file.to_owned(), sheet: String::new(), lines };
            Ok(vec![(String::new(), Ok(table))])
        }
        _ => Err(Problem::new("is neither CSV nor XLSX", "save it as an Excel workbook (.xlsx) or as CSV")),
    }
}

/// The lines of a CSV file, whatever separates its cells.
fn csv_lines(bytes: &[u8]) -> Result<Vec<Line>, Problem> {
    let text = csv_text::decode(bytes)?;
    let rows = csv_text::records(text, delimiter(text))?;
    let lines = rows
        .into_iter()
        .map(|row| Line { number: row.number, cells: row.cells.iter().take(MAX_COLUMNS).map(text_cell).collect() });
    Ok(lines.filter(|line| !line.is_empty()).take(MAX_ROWS).collect())
}

/// The separator under which most lines have as many cells as each other, and more than one.
fn delimiter(text: &str) -> u8 {
    let score = |delimiter: u8| {
        let rows = csv_text::records(text, delimiter).unwrap_or_default();
        let mut widths: Vec<usize> =
            rows.iter().take(200).map(|row| row.cells.len()).filter(|&width| width > 1).collect();
        widths.sort_unstable();
        let runs = widths.chunk_by(|left, right| left == right);
        runs.map(|run| (run.len(), run.first().copied().unwrap_or(0))).max().unwrap_or((0, 0))
    };
    [b'\t', b',', b';'].into_iter().max_by_key(|&delimiter| score(delimiter)).unwrap_or(b',')
}

/// A cell of text: the spaces round it do not count.
pub(in crate::intake) fn text_cell(text: &str) -> Cell {
    let text = text.trim_matches(|letter: char| letter.is_whitespace() || letter == '\u{a0}');
    if text.is_empty() { Cell::Empty } else { Cell::Text(text.to_owned()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_separator_is_the_one_that_makes_columns() {
        let check = |text: &str, expected: u8| assert_eq!(char::from(delimiter(text)), char::from(expected), "{text}");
        check("Zutat;Menge\nSheabutter;2,5\nKakaobutter;1,25\n", b';');
        check("Stock list, spring\n\nItem,Amount\nShea,2.5\n", b',');
        check("Item\tAmount\nShea, raw\t1,5\n", b'\t');
        check("just one column\nand nothing else\n", b';');
    }
}
