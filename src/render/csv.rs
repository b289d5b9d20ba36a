//! Rows as CSV (RFC 4180) that a spreadsheet opens without running anything in it.

use crate::plan::decimal::Decimal;
use crate::view::reorder::ReorderView;

/// Column titles of [`reorder_lines`]; machines may rely on them.
pub const REORDER_COLUMNS: [&str; 15] = [
    "order_on",
    "arrives_on",
    "supplier",
    "supplier_name",
    "material",
    "name",
    "item_no",
    "pack",
    "packs",
    "price",
    "currency",
    "amount",
    "unit",
    "left_over",
    "entries",
];

/// A header and rows as CSV, lines ended by CR LF, every cell guarded by [`guarded`].
#[must_use]
pub fn write(header: &[&str], rows: &[Vec<String>]) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).flexible(true).from_writer(Vec::new());
    let titles = header.iter().map(|title| guarded(title)).collect();
    for row in std::iter::once(titles).chain(rows.iter().map(|row| row.iter().map(|cell| guarded(cell)).collect())) {
        let row: Vec<String> = row;
        // A vector takes every row: there is nothing here that could fail, and nobody to tell.
        let _ = writer.write_record(&row);
    }
    writer.into_inner().unwrap_or_default()
}

/// The cell, with an apostrophe before it where a spreadsheet would take it for a formula: at `=`, `+`, `-`, `@`,
/// tab, CR or LF at its start. Numbers stay as they are. Source: OWASP, "CSV Injection".
#[must_use]
pub fn guarded(cell: &str) -> String {
    let starts_formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']);
    if starts_formula && cell.parse::<Decimal>().is_err() { format!("'{cell}") } else { cell.to_owned() }
}

/// A CSV file as people open it: the UTF-8 mark first, without which common spreadsheets garble names.
#[must_use]
pub fn with_utf8_mark(csv: &[u8]) -> Vec<u8> {
    [b"\xEF\xBB\xBF", csv].concat()
}

/// One row for each line of each order, in order. Amounts are integers in `unit`, prices decimals in `currency`, days
/// ISO 8601; `entries` are the plan entries behind it, a space between, with `safety-stock` among them where it counts.
#[must_use]
pub fn reorder_lines(view: &ReorderView) -> Vec<u8> {
    let mut rows = Vec::new();
    for order in &view.orders {
        for line in &order.lines {
            let mut entries: Vec<&str> = Vec::new();
            for cover in &line.covers {
                let safety_stock = cover.safety_stock.then_some("safety-stock");
                for entry in cover.entries.iter().map(String::as_str).chain(safety_stock) {
                    if !entries.contains(&entry) {
                        entries.push(entry);
                    }
                }
            }
            rows.push(vec![
                order.order_on.to_string(),
                order.arrives_on.to_string(),
                order.supplier.clone(),
                order.supplier_name.clone(),
                line.material.clone(),
                line.name.clone(),
                line.item_no.clone(),
                line.pack.clone(),
                line.packs.to_string(),
                line.price.clone(),
                order.currency.clone(),
                line.amount.to_string(),
                line.unit.clone(),
                line.left_over.to_string(),
                entries.join(" "),
            ]);
        }
    }
    write(&REORDER_COLUMNS, &rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_guarded_and_numbers_are_not() {
        for cell in ["=cmd()", "+1+2", "-a", "@sum", "\tx", "\rx", "\n=x", "--1", "=1", "-"] {
            assert_eq!(guarded(cell), format!("'{cell}"));
        }
        for cell in ["-5.00", "+3", "12", "", "Shea, raw", "a=b", "'x"] {
            assert_eq!(guarded(cell), cell);
        }
    }

    /// Source: tests/checks/csv.json (RFC 4180 round trips, checked with Python's csv); ours to the cell but for the guard.
    #[test]
    fn what_is_written_reads_back() {
        let file: serde_json::Value = serde_json::from_str(include_str!("../../tests/checks/csv.json")).unwrap();
        let mut cells = 0;
        for case in file["cases"].as_array().unwrap() {
            let rows: Vec<Vec<String>> = serde_json::from_value(case["rows"].clone()).unwrap();
            let written = write(&["head"], &rows);
            let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(written.as_slice());
            let read: Vec<Vec<String>> =
                reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect();
            let guarded: Vec<Vec<String>> =
                rows.iter().map(|row| row.iter().map(|cell| guarded(cell)).collect()).collect();
            assert_eq!(read, guarded, "{}", case["id"]);
            cells += rows.iter().map(Vec::len).sum::<usize>();
        }
        assert!(cells > 100, "{cells} cells are too few to have checked anything");
    }
}
