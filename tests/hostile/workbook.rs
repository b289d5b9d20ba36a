//! XLSX files put together by hand, part by part: what no spreadsheet would write.

use std::io::{Cursor, Write};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

const TYPES: &str = r#"<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>"#;
const ROOT: &str = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#;
const SHEETS: &str = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>"#;

/// A workbook with one sheet of this name and these rows (`<row>...</row>`); `properties` stand before the sheets.
pub fn workbook(name: &str, properties: &str, rows: &str) -> Vec<u8> {
    workbook_of(name, properties, |part| part.write_all(rows.as_bytes()).unwrap())
}

/// The same, its rows written one by one.
pub fn workbook_of(name: &str, properties: &str, rows: impl Fn(&mut dyn Write)) -> Vec<u8> {
    workbook_sharing("", name, properties, rows)
}

/// The same, with a text that its cells can refer to (`<c t="s"><v>0</v></c>`).
pub fn workbook_sharing(text: &str, name: &str, properties: &str, rows: impl Fn(&mut dyn Write)) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let shared = format!(
        r#"<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>{text}</t></si></sst>"#
    );
    let book = format!(
        r#"<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">{properties}<sheets><sheet name="{name}" sheetId="1" r:id="rId1"/></sheets></workbook>"#
    );
    for (path, text) in [
        ("[Content_Types].xml", TYPES),
        ("_rels/.rels", ROOT),
        ("xl/workbook.xml", &book),
        ("xl/_rels/workbook.xml.rels", SHEETS),
        ("xl/sharedStrings.xml", &shared),
    ] {
        archive.start_file(path, SimpleFileOptions::default()).unwrap();
        archive.write_all(text.as_bytes()).unwrap();
    }
    archive.start_file("xl/worksheets/sheet1.xml", SimpleFileOptions::default()).unwrap();
    let start = r#"<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>"#;
    archive.write_all(start.as_bytes()).unwrap();
    rows(&mut archive);
    archive.write_all(b"</sheetData></worksheet>").unwrap();
    archive.finish().unwrap().into_inner()
}

/// A cell with text in it.
pub fn cell(place: &str, text: &str) -> String {
    format!(r#"<c r="{place}" t="inlineStr"><is><t>{text}</t></is></c>"#)
}

/// The header of `materials` with a column of days (`lots` has them) or numbers.
pub fn header(names: &[&str]) -> String {
    let cells: String = names.iter().zip('A'..='Z').map(|(name, letter)| cell(&format!("{letter}1"), name)).collect();
    format!(r#"<row r="1">{cells}</row>"#)
}
