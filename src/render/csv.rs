//! Rows as CSV (RFC 4180) that a spreadsheet opens without running anything in it.

use super::amounts::amount as shown;
use crate::plan::decimal::Decimal;
use crate::view::reorder::ReorderView;
use serde::Deserializer as _;
use serde::de::{IgnoredAny, MapAccess, Visitor};
use serde_json::Value;

/// Column titles of [`reorder_lines`]; machines may rely on them.
pub const REORDER_COLUMNS: [&str; 18] = [
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
    "amount_in_words",
    "left_over_in_words",
    "supplier_email",
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

/// A report's JSON as far as its rows ask for it. A forecast has 400 materials with 365 days each, of which no row tells:
/// held as values they would take more memory than all the rest of the program.
#[must_use]
pub fn asked_for(json: &str, path: &[&str], columns: &[&str]) -> Value {
    let is_asked_for = |name: &str| path.first() == Some(&name) || columns.contains(&name);
    // The JSON is our own: it can be read.
    serde_json::Deserializer::from_str(json).deserialize_map(Fields(is_asked_for)).unwrap_or_default()
}

/// Keeps the outermost fields whose names are asked for.
struct Fields<Asked>(Asked);

impl<'json, Asked: Fn(&str) -> bool> Visitor<'json> for Fields<Asked> {
    type Value = Value;

    fn expecting(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("a report")
    }

    fn visit_map<Map: MapAccess<'json>>(self, mut fields: Map) -> Result<Value, Map::Error> {
        let mut kept = serde_json::Map::new();
        while let Some(name) = fields.next_key::<String>()? {
            if (self.0)(&name) {
                kept.insert(name, fields.next_value()?);
            } else {
                fields.next_value::<IgnoredAny>()?;
            }
        }
        Ok(Value::Object(kept))
    }
}

/// The rows of a report as a table of cells: one row for each record that `path` leads to in the report's JSON, its lists
/// of lists written out. A column is named as the JSON names its field; where a record has none of that name, the record
/// around it is asked. Lists of words stand in one cell, a space between. An empty path means the report itself.
#[must_use]
pub fn of_report(report: &Value, path: &[&str], columns: &[&str]) -> Vec<u8> {
    let mut rows = Vec::new();
    collect(report, path, &mut Vec::new(), columns, &mut rows);
    write(columns, &rows)
}

fn collect<'a>(
    record: &'a Value,
    path: &[&str],
    around: &mut Vec<&'a Value>,
    columns: &[&str],
    rows: &mut Vec<Vec<String>>,
) {
    around.push(record);
    match path.split_first() {
        Some((field, rest)) => {
            for inner in record.get(field).and_then(Value::as_array).into_iter().flatten() {
                collect(inner, rest, around, columns, rows);
            }
        }
        None => {
            let field = |column: &&str| around.iter().rev().find_map(|record| record.get(*column));
            rows.push(columns.iter().map(|column| field(column).map(cell).unwrap_or_default()).collect());
        }
    }
    around.pop();
}

fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(values) => values.iter().map(cell).collect::<Vec<_>>().join(" "),
        other => other.to_string(),
    }
}

/// The cell, with an apostrophe before it where a spreadsheet would take it for a formula: at `=`, `+`, `-`, `@`,
/// tab, CR or LF at its start; and where it begins as a guarded one does, so that what is read back loses only the apostrophe that was
/// added. Numbers stay as they are. Source: OWASP, "CSV Injection".
#[must_use]
pub fn guarded(cell: &str) -> String {
    let starts_formula = |text: &str| text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']);
    let looks_guarded = cell.strip_prefix('\'').is_some_and(|rest| starts_formula(rest) || rest.starts_with('\''));
    let is_run = starts_formula(cell) && cell.parse::<Decimal>().is_err();
    if is_run || looks_guarded { format!("'{cell}") } else { cell.to_owned() }
}

/// A CSV file as people open it: the UTF-8 mark first, without which common spreadsheets garble names.
#[must_use]
pub fn with_utf8_mark(csv: &[u8]) -> Vec<u8> {
    [b"\xEF\xBB\xBF", csv].concat()
}

/// One row for each line of each order, in order. Amounts are integers in `unit`, prices decimals in `currency`, days
/// ISO 8601; `entries` are the plan entries behind it, a space between, with `safety-stock` among them where it counts.
/// The last columns say the amounts as people do (`1.5 kg`) and where the supplier reads mail, if that is known.
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
                shown(line.amount, &line.unit),
                if line.left_over > 0 { shown(line.left_over, &line.unit) } else { String::new() },
                order.supplier_email.clone(),
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
        for cell in ["=cmd()", "+1+2", "-a", "@sum", "\tx", "\rx", "\n=x", "--1", "=1", "-", "'=1", "'-5", "''x"] {
            assert_eq!(guarded(cell), format!("'{cell}"));
        }
        for cell in ["-5.00", "+3", "12", "", "Shea, raw", "a=b", "'x"] {
            assert_eq!(guarded(cell), cell);
        }
    }

    #[test]
    fn records_are_found_and_inherit_what_stands_around_them() {
        let report = serde_json::json!({ "as_of": "2027-03-01", "days": [
            { "date": "d1", "needs": [{ "name": "=A", "amount": 5, "lots": ["x", "y"], "short": null }] },
            { "date": "d2", "needs": [] },
            { "date": "d3", "needs": [{ "name": "B", "amount": -1, "lots": [], "short": true }] },
        ] });
        let csv = of_report(&report, &["days", "needs"], &["as_of", "date", "name", "amount", "lots", "short"]);
        assert_eq!(
            String::from_utf8(csv).unwrap(),
            "as_of,date,name,amount,lots,short\r\n2027-03-01,d1,'=A,5,x y,\r\n2027-03-01,d3,B,-1,,true\r\n"
        );
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
