//! The text of a CSV file to a table: encoding, delimiter, and the rows as a spreadsheet counts them.

use super::columns::SheetKind;
use super::fault::Problem;
use super::row_cells::RowCells;
use super::sheet::{MAX_CELLS, MAX_ROWS, Table, TableRow};
use crate::plan::measure::DecimalMark;
use csv::{ReaderBuilder, StringRecord};

/// Delimiters that are looked for; the earlier one wins where two fit equally well.
const DELIMITERS: [u8; 3] = [b',', b';', b'\t'];

/// Reads a file's bytes as a table of `kind`.
pub(super) fn read_table(bytes: &[u8], kind: SheetKind) -> Result<Table, Problem> {
    let text = decode(bytes)?;
    if text.trim().is_empty() {
        let header = kind.columns().into_iter().map(|column| column.name).collect::<Vec<_>>().join(",");
        return Err(Problem::new("is empty", format!("start it with a header row ({header})")));
    }
    // Counted before anything is split: a cell takes many times the room of the comma that ends it.
    let most = |delimiter: &u8| text.bytes().filter(|byte| byte == delimiter).count() >= MAX_CELLS;
    if DELIMITERS.iter().any(most) {
        return Err(Problem::new(format!("has more than {MAX_CELLS} cells"), "split it into several files"));
    }
    let delimiter = find_delimiter(text, kind);
    let mark = if delimiter == b',' { DecimalMark::Point } else { DecimalMark::PointOrComma };
    Ok(Table { rows: records(text, delimiter)?, mark, error_cells: Vec::new(), may_be_short: false })
}

/// What to do about a text that cannot be read.
const SAVE_AS: &str = "in your spreadsheet program save it as `CSV UTF-8`, or as a workbook (.xlsx)";

/// The text without its byte-order mark.
pub(super) fn decode(bytes: &[u8]) -> Result<&str, Problem> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(Problem::new("is in UTF-16", SAVE_AS));
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let place = error.valid_up_to();
        let line = 1 + bytes[..place].iter().filter(|&&byte| byte == b'\n').count();
        Problem::new(format!("has letters that are not in UTF-8 (the first in line {line})"), SAVE_AS)
    })?;
    if let Some(place) = text.find('\0') {
        return Err(Problem::new(format!("holds a NUL at byte {}: it is not a text file", place + 1), SAVE_AS));
    }
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

/// The delimiter under which the header has the most columns of this file, then the most columns.
fn find_delimiter(text: &str, kind: SheetKind) -> u8 {
    let score = |delimiter: u8| {
        let mut reader = reader(text, delimiter);
        let mut header = StringRecord::new();
        // A header that cannot be read has no columns.
        if !reader.read_record(&mut header).unwrap_or(false) {
            return (0, 0);
        }
        (header.iter().filter(|name| kind.column(name).is_some()).count(), header.len())
    };
    DELIMITERS.into_iter().rev().max_by_key(|&delimiter| score(delimiter)).unwrap_or(b',')
}

fn reader(text: &str, delimiter: u8) -> csv::Reader<&[u8]> {
    ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(text.as_bytes())
}

/// All records with the number of their row: a line break in quotes does not count, an empty line does.
pub(super) fn records(text: &str, delimiter: u8) -> Result<Vec<TableRow>, Problem> {
    let mut reader = reader(text, delimiter);
    let mut rows = Vec::new();
    let mut record = StringRecord::new();
    let mut number = 0;
    loop {
        let start = usize::try_from(reader.position().byte()).unwrap_or(usize::MAX);
        let more = reader
            .read_record(&mut record)
            .map_err(|error| Problem::new(format!("cannot be read as CSV ({error})"), SAVE_AS))?;
        if !more {
            return Ok(rows);
        }
        number += 1 + empty_lines_from(text.as_bytes(), start);
        if rows.len() >= MAX_ROWS {
            return Err(Problem::new(format!("has more than {MAX_ROWS} rows"), "split it into several files"));
        }
        rows.push(TableRow { number, cells: RowCells::from(&record) });
    }
}

/// How many lines without anything start at a place between two records: the csv crate steps over them silently.
fn empty_lines_from(bytes: &[u8], start: usize) -> usize {
    let mut place = start;
    // The second half of the line break that ended the record before.
    if place > 0 && bytes.get(place) == Some(&b'\n') && bytes.get(place - 1) == Some(&b'\r') {
        place += 1;
    }
    let mut lines = 0;
    while let Some(b'\r' | b'\n') = bytes.get(place) {
        let both = bytes[place] == b'\r' && bytes.get(place + 1) == Some(&b'\n');
        place += if both { 2 } else { 1 };
        lines += 1;
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn cells(text: &str, delimiter: u8) -> Vec<Vec<String>> {
        let rows = records(text, delimiter).expect("a table");
        rows.iter().map(|row| row.cells.iter().map(str::to_owned).collect()).collect()
    }

    fn listed(rows: &Value) -> Vec<Vec<String>> {
        serde_json::from_value(rows.clone()).expect("rows of text")
    }

    /// tests/checks/csv.json: 25 files written by Python's csv module.
    #[test]
    fn python_and_this_reader_agree() {
        let document: Value = serde_json::from_str(include_str!("../../tests/checks/csv.json")).expect("JSON");
        let cases = document["cases"].as_array().expect("cases");
        assert_eq!(cases.len(), 25);
        for case in cases {
            let text = case["python_csv_text"].as_str().expect("a text");
            assert_eq!(cells(text, b','), listed(&case["must_parse_to"]), "{}", case["id"]);
        }
    }

    /// tests/checks/standards_examples.json: the examples of RFC 4180 section 2.
    #[test]
    fn the_examples_of_the_standard_are_read() {
        let document: Value =
            serde_json::from_str(include_str!("../../tests/checks/standards_examples.json")).expect("JSON");
        let cases = document["rfc4180"]["cases"].as_array().expect("cases");
        assert_eq!(cases.len(), 6);
        for case in cases {
            let text = case["text"].as_str().expect("a text");
            assert_eq!(cells(text, b','), listed(&case["rows"]), "{}", case["section"]);
        }
    }

    #[test]
    fn rows_are_counted_as_a_spreadsheet_does() {
        let check = |text: &str, expected: &[usize]| {
            let numbers: Vec<usize> = records(text, b',').expect("a table").iter().map(|row| row.number).collect();
            assert_eq!(numbers, expected, "{text:?}");
        };
        check("a\r\nb\r\nc\r\n", &[1, 2, 3]);
        check("a\n\nb\n\n\nc", &[1, 3, 6]);
        check("a\r\n\r\nb\r\n\r\n\r\nc", &[1, 3, 6]);
        check("a,\"x\ny\r\nz\"\nb,c\n", &[1, 2]);
        check("\n\na\n", &[3]);
        check("a\rb\r\rc", &[1, 2, 4]);
    }

    #[test]
    fn the_delimiter_is_the_one_that_finds_columns() {
        let check = |text: &str, kind, expected| assert_eq!(find_delimiter(text, kind), expected, "{text}");
        check("code,name\n", SheetKind::Materials, b',');
        check("code;name\n", SheetKind::Materials, b';');
        check("code\tname\n", SheetKind::Materials, b'\t');
        check("code;name;\"a,b,c,d\"\n", SheetKind::Materials, b';');
        check("code\n", SheetKind::Materials, b',');
        check("CODE , name;x;y;z;z;z\n", SheetKind::Materials, b',');
    }
}
