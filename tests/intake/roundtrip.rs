//! What is exported reads back as it was.

use crate::random_book::random_book;
use crate::workshop;
use proptest::prelude::*;
use stillroom::book::{Book, Journal};
use stillroom::intake::{Checked, Fault, WriteError, check, read_paths, write_folder};
use stillroom::plan::money::Currency;

fn back(book: &Book, journal: &Journal) -> Result<Checked, Vec<Fault>> {
    let folder = tempfile::tempdir().unwrap();
    write_folder(folder.path(), book, journal, false).unwrap();
    check(&read_paths(&[folder.path().to_owned()]), Currency::EUR, &Book::default(), &[], &Journal::default())
}

fn shown(faults: Vec<Fault>) -> TestCaseError {
    TestCaseError::fail(faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_workshop_comes_back_equal(seed: u64) {
        let (book, journal) = random_book(seed);
        let checked = back(&book, &journal).map_err(shown)?;
        prop_assert_eq!(&checked.merged, &book);
        prop_assert_eq!(&checked.journal, &journal);
    }

    #[test]
    fn an_export_over_its_own_store_changes_nothing(seed: u64) {
        let (book, journal) = random_book(seed);
        let folder = tempfile::tempdir().unwrap();
        write_folder(folder.path(), &book, &journal, false).unwrap();
        let sheets = read_paths(&[folder.path().to_owned()]);
        let checked = check(&sheets, Currency::EUR, &book, &[], &journal).map_err(shown)?;
        prop_assert_eq!(checked.changes, []);
        prop_assert_eq!(checked.journal, Journal::default());
        prop_assert_eq!(checked.merged, book);
    }
}

#[test]
fn a_written_movement_or_batch_cannot_be_rewritten() {
    let seed = (0..).find(|&seed| {
        let (_, journal) = random_book(seed);
        !journal.ledger.is_empty() && !journal.batches.is_empty()
    });
    let (book, journal) = random_book(seed.unwrap());
    let mut other = journal.clone();
    other.ledger[0].reason = "otherwise".to_owned();
    other.batches[0].pieces += 1;
    let folder = tempfile::tempdir().unwrap();
    write_folder(folder.path(), &book, &other, false).unwrap();
    let sheets = read_paths(&[folder.path().to_owned()]);
    let faults = workshop::messages(check(&sheets, Currency::EUR, &book, &[], &journal));
    let lines: Vec<&str> = faults.lines().collect();
    assert_eq!(lines.len(), 2, "{faults}");
    assert!(lines[0].starts_with("batches.csv, row 2: batch ") && lines[0].contains("and otherwise; take the row out"));
    assert_eq!(
        lines[1],
        "ledger.csv, row 2: movement 1 is written down already, and otherwise; take the row out: the ledger is never changed"
    );
}

#[test]
fn files_that_are_there_are_not_overwritten_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let target = folder.path().join("out");
    let book = workshop::book();
    let paths = write_folder(&target, &book, &Journal::default(), false).unwrap();
    assert_eq!(paths.len(), 20);
    std::fs::remove_file(target.join("materials.csv")).unwrap();
    let again = write_folder(&target, &book, &Journal::default(), false);
    assert!(matches!(again, Err(WriteError::Exists(path)) if path.ends_with("suppliers.csv")));
    assert!(!target.join("materials.csv").exists());
    write_folder(&target, &book, &Journal::default(), true).unwrap();
    assert_eq!(
        std::fs::read_to_string(target.join("offers.csv")).unwrap(),
        "supplier,material,pack,price,from_packs,life_on_arrival,item_no\r\nisle,tin,50 pcs,22.00,1,,\r\nnorth,oil,1 l,14.50,1,,\r\n"
    );
    let left: Vec<_> = std::fs::read_dir(&target).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left.len(), 20, "{left:?}");
}

#[test]
fn half_a_folder_is_never_left() {
    let folder = tempfile::tempdir().unwrap();
    let target = folder.path().join("out");
    // A folder that has the name of a draft stops the writing in the middle.
    std::fs::create_dir_all(target.join(".plan.csv.part")).unwrap();
    let failed = write_folder(&target, &workshop::book(), &Journal::default(), false);
    assert!(matches!(failed, Err(WriteError::Io { .. })));
    let left: Vec<_> = std::fs::read_dir(&target).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left, [".plan.csv.part"]);
}

#[test]
fn texts_that_a_spreadsheet_would_run_are_harmless() {
    let mut book = workshop::book();
    book.materials[0].name = "=1+1".to_owned();
    book.materials[1].name = "'tis".to_owned();
    let folder = tempfile::tempdir().unwrap();
    write_folder(folder.path(), &book, &Journal::default(), false).unwrap();
    let text = std::fs::read_to_string(folder.path().join("materials.csv")).unwrap();
    assert!(text.contains("oil,'=1+1,") && text.contains("tin,''tis,"), "{text}");
    assert_eq!(back(&book, &Journal::default()).unwrap().merged, book);
}
