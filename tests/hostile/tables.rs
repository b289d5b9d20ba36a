//! CSV files and workbooks that nobody would write: whatever comes, there is a book or there are faults, and no cell is lost.

use super::workbook::{cell, header, workbook};
use proptest::prelude::*;
use stillroom::book::{Book, Journal};
use stillroom::intake::{Checked, Fault, SheetKind, Sheets, check};
use stillroom::plan::money::Currency;

fn judged(sheets: &Sheets) -> Result<Checked, Vec<Fault>> {
    check(sheets, Currency::EUR, &Book::default(), &[], &Journal::default())
}

fn csv(kind: SheetKind, bytes: &[u8]) -> Result<Checked, Vec<Fault>> {
    let mut sheets = Sheets::default();
    sheets.add_csv(kind, "file.csv", bytes);
    judged(&sheets)
}

fn xlsx(bytes: Vec<u8>) -> Result<Checked, Vec<Fault>> {
    let mut sheets = Sheets::default();
    sheets.add_workbook("book.xlsx", bytes);
    judged(&sheets)
}

fn said(answer: Result<Checked, Vec<Fault>>) -> String {
    answer.unwrap_err().iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

/// What stands between the good parts of a file.
fn trouble() -> impl Strategy<Value = Vec<u8>> {
    let known: Vec<&[u8]> = vec![
        b"\"",
        b"\"\"",
        b"\r",
        b"\n",
        b"\r\n",
        b"\n\r",
        b"\0",
        b"\xff",
        b"\xfe\xff",
        b"\xff\xfe",
        b"\xef\xbb\xbf",
        b"\xc3",
        b"\xed\xa0\x80",
        b",",
        b";",
        b"\t",
        b"'",
        b"=1+1",
        b"1e308",
        b"NaN",
        b"9223372036854775808",
        b"\xe2\x80\xae",
        b"\xe2\x80\xa8",
        b"#REF!",
        b"",
        b"2027-02-30",
        b"0000-00-00",
        b"999999999999999999 kg",
        b"-1 g",
        b"yes",
        b"P1Y",
        b"2027-01-01/2026-01-01",
    ];
    let known = known.into_iter().map(<[u8]>::to_vec).collect::<Vec<_>>();
    prop_oneof![prop::sample::select(known), prop::collection::vec(any::<u8>(), 0..4)]
}

/// Every file of the example, so that its own columns and codes are in play.
fn example(kind: SheetKind) -> Option<Vec<u8>> {
    let path = format!("{}/examples/workshop/{}.csv", env!("CARGO_MANIFEST_DIR"), kind.stem());
    std::fs::read(path).ok()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_bytes_are_a_file_or_a_fault(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        for kind in SheetKind::ALL {
            let _ = csv(kind, &bytes);
        }
    }

    #[test]
    fn good_files_with_something_bad_in_them(
        kind in prop::sample::select(SheetKind::ALL.to_vec()),
        harm in prop::collection::vec((any::<prop::sample::Index>(), trouble(), any::<bool>()), 1..6),
        delimiter in prop::sample::select(vec![b',', b';', b'\t']),
    ) {
        let Some(mut bytes) = example(kind) else { return Ok(()) };
        for byte in &mut bytes {
            if *byte == b',' {
                *byte = delimiter;
            }
        }
        for (place, trouble, replaces) in harm {
            let place = place.index(bytes.len() + 1);
            let end = if replaces { (place + trouble.len()).min(bytes.len()) } else { place };
            bytes.splice(place..end, trouble);
        }
        if let Err(faults) = csv(kind, &bytes) {
            for fault in faults {
                let line = fault.to_string();
                prop_assert!(!line.chars().any(char::is_control), "{line:?}");
                prop_assert!(!fault.problem.is_empty() && !fault.remedy.is_empty());
            }
        }
    }

    #[test]
    fn a_workbook_of_any_cells(
        cells in prop::collection::vec(("([A-Z]{1,3}[0-9]{1,7}|\\PC{0,6})", "(n|s|str|b|e|d|inlineStr|x|)", "[-0-9.eE+a-zA-Z:#/!&;]{0,14}", any::<bool>()), 0..12),
        date_1904 in any::<bool>(),
    ) {
        let escaped = |text: &str| text.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;");
        let cell = |(place, kind, value, formula): &(String, String, String, bool)| {
            let formula = if *formula { "<f>SUM(A1:XFD1048576)</f>" } else { "" };
            format!("<c r=\"{}\" s=\"1\" t=\"{kind}\">{formula}<v>{}</v></c>", escaped(place), escaped(value))
        };
        let rows: String = cells.iter().map(|one| format!("<row r=\"2\">{}</row>", cell(one))).collect();
        let properties = if date_1904 { "<workbookPr date1904=\"1\"/>" } else { "" };
        let _ = xlsx(workbook("lots", properties, &(header(&["lot", "material", "amount", "received"]) + &rows)));
    }

    #[test]
    fn a_workbook_that_is_damaged(harm in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..8), cut in any::<prop::sample::Index>(), cuts in any::<bool>()) {
        let mut bytes = workbook("materials", "", &(header(&["code", "name"]) + "<row r=\"2\"><c r=\"A2\"><v>1</v></c></row>"));
        for (place, byte) in harm {
            let place = place.index(bytes.len());
            bytes[place] = byte;
        }
        if cuts {
            bytes.truncate(cut.index(bytes.len()));
        }
        let _ = xlsx(bytes);
    }
}

#[test]
fn a_workbook_cut_anywhere_is_refused() {
    let whole = workbook(
        "materials",
        "",
        &(header(&["code", "name"]) + "<row r=\"2\"><c r=\"A2\"><v>1</v></c><c r=\"B2\"><v>2</v></c></row>"),
    );
    assert!(xlsx(whole.clone()).is_ok());
    for length in (0..whole.len()).step_by(7) {
        let said = said(xlsx(whole[..length].to_vec()));
        assert!(said.starts_with("book.xlsx: cannot be read as XLSX"), "{length}: {said}");
    }
}

#[test]
fn the_far_corner_asks_for_no_grid() {
    let far = "<row r=\"1048576\"><c r=\"XFD1048576\"><v>1</v></c></row>";
    let said = said(xlsx(workbook("materials", "", &(header(&["code", "name"]) + far))));
    assert!(said.contains("has more than 200 columns"), "{said}");
    // The last row alone is one row.
    let last = "<row r=\"1048576\"><c r=\"A1048576\"><v>1</v></c><c r=\"B1048576\"><v>2</v></c></row>";
    let book = xlsx(workbook("materials", "", &(header(&["code", "name"]) + last))).unwrap().merged;
    assert_eq!(book.materials.len(), 1);
}

#[test]
fn error_cells_and_formulas_are_told() {
    let rows = format!(
        "<row r=\"2\">{}<c r=\"B2\" t=\"e\"><f>1/0</f><v>#DIV/0!</v></c></row><row r=\"3\">{}<c r=\"B3\" t=\"str\"><f>UPPER(A3)</f><v>Shea</v></c></row>",
        cell("A2", "wax"),
        cell("A3", "shea")
    );
    let said = said(xlsx(workbook("materials", "", &(header(&["code", "name"]) + &rows))));
    assert!(said.contains("row 2, column name: \"#DIV/0!\" is an error of the spreadsheet"), "{said}");
    assert!(!said.contains("row 3"), "what a formula came to counts: {said}");
}

#[test]
fn the_name_of_a_sheet_and_of_a_file_cannot_command_a_terminal() {
    let mut sheets = Sheets::default();
    sheets.add_workbook("b.xlsx", workbook("x&#x9b;2J&#x202e;", "", ""));
    let faults = said(judged(&sheets));
    let notes = sheets.notes().join("\n");
    let odd = |text: &str| text.chars().any(|letter| letter.is_control() && letter != '\n' || letter == '\u{202e}');
    assert!(
        notes.contains("sheet x\u{fffd}2J\u{fffd}: left out") && !odd(&notes) && !odd(&faults),
        "{notes:?} {faults:?}"
    );
}

/// Found by fuzzing: what is wrong with the bands of a supplier named its code as it stood there.
#[test]
fn a_code_in_what_is_wrong_cannot_command_a_terminal() {
    let bands = b"supplier,by,from,fee\ngl1\x04\x1b[2J,weight,2 kg,7.60\ngl1\x04\x1b[2J,value,0,7.60\n";
    let faults = csv(SheetKind::Postage, bands).unwrap_err();
    assert!(faults.iter().any(|fault| fault.to_string().contains("by value and by weight")), "{faults:?}");
    assert!(faults.iter().all(|fault| !fault.to_string().contains(char::is_control)), "{faults:?}");
}

#[test]
fn more_cells_than_can_be_held_are_refused_before_they_are_split() {
    let wide = [b"code,name\n".to_vec(), vec![b','; 5_000_000]].concat();
    assert_eq!(
        said(csv(SheetKind::Materials, &wide)),
        "file.csv: has more than 5000000 cells; split it into several files"
    );
    let said = said(csv(SheetKind::Materials, b"c\0ode,name\n"));
    assert_eq!(
        said,
        "file.csv: holds a NUL at byte 2: it is not a text file; in your spreadsheet program save it as `CSV UTF-8`, or as a workbook (.xlsx)"
    );
}
