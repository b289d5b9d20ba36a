//! A workbook: the bytes as they come, and the same bytes as the XML of its one sheet, so that the checksums of the archive do
//! not keep everything out. A panic of the library that is caught and told is no finding.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::io::{Cursor, Write};
use std::sync::Once;
use stillroom::book::{Book, Journal};
use stillroom::intake::{Sheets, check};
use stillroom::plan::money::Currency;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

const PARTS: [(&str, &str); 4] = [
    ("[Content_Types].xml", r#"<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>"#),
    ("_rels/.rels", r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#),
    ("xl/workbook.xml", r#"<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><workbookPr date1904="1"/><sheets><sheet name="lots" sheetId="1" r:id="rId1"/></sheets></workbook>"#),
    ("xl/_rels/workbook.xml.rels", r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>"#),
];
static TELL_BUT_GO_ON: Once = Once::new();

fuzz_target!(|data: &[u8]| {
    // The fuzzer ends the process at any panic, also at one that is caught.
    TELL_BUT_GO_ON.call_once(|| std::panic::set_hook(Box::new(|_| {})));
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (path, part) in PARTS.into_iter().map(|(path, part)| (path, part.as_bytes())).chain([("xl/worksheets/sheet1.xml", data)]) {
        archive.start_file(path, SimpleFileOptions::default()).unwrap();
        archive.write_all(part).unwrap();
    }
    for bytes in [data.to_vec(), archive.finish().unwrap().into_inner()] {
        let read = std::panic::catch_unwind(|| {
            let mut sheets = Sheets::default();
            sheets.add_workbook("book.xlsx", bytes);
            let _ = check(&sheets, Currency::EUR, &Book::default(), &[], &Journal::default());
        });
        if read.is_err() {
            std::process::abort();
        }
    }
});
