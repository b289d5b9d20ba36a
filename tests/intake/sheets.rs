//! The empty sheets: what stands in them, that they import as they are, and as they are filled in.

use calamine::{Reader, Xlsx, open_workbook};
use std::path::Path;
use stillroom::book::{Book, Journal};
use stillroom::commands::sheets::write_sheets;
use stillroom::intake::describe::described;
use stillroom::intake::sheets::{MAKERS, rows};
use stillroom::intake::{Checked, check, read_paths};
use stillroom::plan::money::Currency;

fn imported(path: &Path) -> Checked {
    let sheets = read_paths(&[path.to_owned()]);
    let checked = check(&sheets, Currency::EUR, &Book::default(), &[], &Journal::default());
    checked.unwrap_or_else(|faults| panic!("{}", faults.iter().map(|fault| format!("{fault}\n")).collect::<String>()))
}

#[test]
fn each_required_column_is_marked_and_each_column_explained() {
    for kind in MAKERS {
        let [header, explanation, example] = rows(kind);
        assert_eq!((header.len(), header.len()), (explanation.len(), example.len()), "{kind:?}");
        for (name, says) in header.iter().zip(&explanation) {
            let required = kind.columns().iter().any(|column| column.name == name && column.required);
            assert_eq!(says.ends_with(" (needed)"), required, "{kind:?} {name}: {says}");
            let own = described(kind).iter().find(|own| own.column == name).unwrap();
            assert!(says.contains(own.says), "{kind:?} {name}: {says}");
        }
        let missing = kind
            .columns()
            .into_iter()
            .filter(|column| column.required && !header.iter().any(|name| name == column.name));
        assert_eq!(missing.count(), 0, "{kind:?}");
    }
}

#[test]
fn the_sheets_import_as_they_are_and_are_never_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let written = write_sheets(&folder.path().join("sheets")).unwrap();
    assert_eq!(written.files.len(), 12);
    for path in [written.workbook.clone(), folder.path().join("sheets/csv")] {
        let checked = imported(&path);
        assert_eq!(checked.merged, Book::default(), "{}", path.display());
        assert_eq!(
            checked.notes,
            ["24 rows left out that begin with # (explanations and examples)."],
            "{}",
            path.display()
        );
    }
    let refused = write_sheets(&folder.path().join("sheets")).unwrap_err();
    assert!(refused.message.contains("workshop.xlsx is there already; no sheet was written"), "{refused}");
    let mut book: Xlsx<_> = open_workbook(&written.workbook).unwrap();
    assert_eq!(book.sheet_names(), MAKERS.map(|kind| kind.stem().to_owned()));
    let range = book.worksheet_range("materials").unwrap();
    assert_eq!(range.get_value((2, 0)).unwrap().to_string(), "# shea-butter");
}

/// The example lines without their `# ` are a workshop that imports: what is shown is right.
#[test]
fn the_examples_fit_together() {
    let folder = tempfile::tempdir().unwrap();
    let written = write_sheets(folder.path()).unwrap();
    for path in &written.files {
        let text = std::fs::read_to_string(path).unwrap();
        std::fs::write(
            path,
            text.replace("# ", "")
                .lines()
                .enumerate()
                .filter(|(place, _)| *place != 1)
                .map(|(_, line)| format!("{line}\r\n"))
                .collect::<String>(),
        )
        .unwrap();
    }
    // What the example lines refer to and no other example line is.
    let add = |name: &str, line: &str| {
        let path = folder.path().join("csv").join(name);
        std::fs::write(&path, std::fs::read_to_string(&path).unwrap() + line).unwrap();
    };
    add("materials.csv", "tin-30,Tin 30 ml,,packaging,,,,,,,,,,,\r\n");
    add("formulas.csv", "rose-infusion,1,shea-butter,100,\r\n");
    let checked = imported(&folder.path().join("csv"));
    let counts = (
        checked.merged.materials.len(),
        checked.merged.lots.len(),
        checked.merged.plan.len(),
        checked.merged.offers.len(),
    );
    assert_eq!(counts, (2, 1, 1, 1));
    assert_eq!(checked.merged.materials[0].name, "Shea butter (refined)");
}
