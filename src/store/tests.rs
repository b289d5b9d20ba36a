//! Tests of the file itself: pragmas, locks, versions, full and broken disks. Acts are tested in `tests/store.rs`.

use super::error::StoreError;
use super::migrate::{NEWEST, embedded, newest, version};
use super::open::{APPLICATION_ID, Terms};
use super::{Stamp, Store};
use crate::book::rows::{LotRow, MaterialRow};
use crate::book::{Book, Journal};
use crate::plan::model::LotState;
use crate::plan::money::{Currency, Price};
use crate::plan::quantity::{Quantity, Unit};
use refinery::Migration;
use rusqlite::Connection;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn place() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("workshop.sqlite");
    (folder, path)
}

fn stamp() -> Stamp {
    Stamp { day: "2027-03-09".parse().unwrap(), recorded_at: "2027-03-09T08:15:00Z".to_owned(), who: String::new() }
}

/// Shea butter, and as many lots of it.
fn book(lots: usize) -> Book {
    let shea = MaterialRow {
        code: "shea".to_owned(),
        name: "Shea butter".to_owned(),
        inci: String::new(),
        unit: Unit::Milligram,
        density: None,
        piece_mass: None,
        unopened_life: None,
        opened_life: None,
        safety_stock: Quantity::ZERO,
        shelf_space: None,
        max_leave_on: None,
        max_rinse_off: None,
        storage: String::new(),
        caution: String::new(),
        always_at_hand: false,
    };
    let lot = |number| LotRow {
        lot: format!("L-{number:04}"),
        material: "shea".to_owned(),
        amount: Quantity(500_000),
        supplier: String::new(),
        supplier_lot: String::new(),
        received: None,
        cost: Price { minor: 1_000 },
        currency: Currency::EUR,
        best_before: None,
        opened: None,
        state: LotState::Released,
        place: "on the shelf by the window".to_owned(),
        order: String::new(),
    };
    Book { materials: vec![shea], lots: (1..=lots).map(lot).collect(), ..Book::default() }
}

fn fill(store: &mut Store, lots: usize) -> Result<(), StoreError> {
    let writing = store.writing()?;
    let before = writing.book()?;
    writing.apply(&before, &book(lots), &Journal::default(), &stamp())?;
    writing.commit()
}

fn quick() -> Terms {
    Terms { wait: |looks| looks < 5, ..Terms::default() }
}

fn pragma(connection: &Connection, name: &str) -> String {
    let value = connection.query_row(&format!("PRAGMA {name}"), [], |row| row.get::<_, rusqlite::types::Value>(0));
    match value.unwrap() {
        rusqlite::types::Value::Integer(number) => number.to_string(),
        rusqlite::types::Value::Text(text) => text,
        other => format!("{other:?}"),
    }
}

#[test]
fn pragmas_are_in_force() {
    let (_folder, path) = place();
    drop(Store::create(&path, Currency::EUR).unwrap());
    let store = Store::open(&path).unwrap();
    let check = |name: &str, expected: &str| assert_eq!(pragma(&store.connection, name), expected, "{name}");
    check("foreign_keys", "1");
    check("journal_mode", "wal");
    check("synchronous", "2");
    check("trusted_schema", "0");
    check("application_id", &APPLICATION_ID.to_string());
    // Only `strict` tables keep texts out of integer columns.
    let loose = "SELECT count(*) FROM pragma_table_list
        WHERE schema = 'main' AND type = 'table' AND strict = 0 AND name NOT IN ('sqlite_schema', 'refinery_schema_history')";
    assert_eq!(store.connection.query_row(loose, [], |row| row.get::<_, i64>(0)), Ok(0));
}

#[test]
fn every_migration_in_the_folder_is_embedded_and_opens_with_its_reason() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("migrations");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert_eq!(files.len(), embedded().len());
    assert_eq!(newest(&embedded()), NEWEST);
    for file in files {
        assert!(std::fs::read_to_string(&file).unwrap().starts_with("-- Why: "), "{}", file.display());
    }
}

#[test]
fn a_second_writer_is_told_to_wait() {
    let (_folder, path) = place();
    let mut first = Store::create(&path, Currency::EUR).unwrap();
    fill(&mut first, 1).unwrap();
    let mut second = Store::open_on(&path, &quick()).unwrap();
    let writing = first.writing().unwrap();
    let refused = second.writing().err().unwrap();
    assert!(matches!(refused, StoreError::Locked));
    assert_eq!(refused.to_string(), "another program is writing to the store; try again in a moment");
    // Readers are not kept waiting.
    assert_eq!(second.book().unwrap(), book(1));
    drop(writing);
    assert!(second.writing().is_ok());
}

#[test]
fn a_reading_sees_one_moment() {
    let (_folder, path) = place();
    let mut writer = Store::create(&path, Currency::EUR).unwrap();
    fill(&mut writer, 1).unwrap();
    let mut reader = Store::open(&path).unwrap();
    let reading = reader.reading().unwrap();
    assert_eq!(reading.standings().unwrap().len(), 1);
    fill(&mut writer, 2).unwrap();
    assert_eq!(reading.book().unwrap(), book(1));
    drop(reading);
    assert_eq!(reader.book().unwrap(), book(2));
}

/// One more migration, as a later version of the program might bring.
fn next_terms(sql: &str) -> Terms {
    let name = format!("V{}__a_later_idea", NEWEST + 1);
    Terms { later: vec![Migration::unapplied(&name, sql).unwrap()], ..quick() }
}

#[test]
fn an_older_store_is_copied_and_then_brought_up_to_date() {
    let (folder, path) = place();
    let mut store = Store::create(&path, Currency::EUR).unwrap();
    fill(&mut store, 3).unwrap();
    assert_eq!(store.upgrade(), None);
    let taken = folder.path().join(format!("workshop.before-v{}.sqlite", NEWEST + 1));
    std::fs::write(&taken, "a letter to a friend").unwrap();

    // The first program still has the store open, so that the last changes stand in the write-ahead log only.
    let later = next_terms("CREATE TABLE later_ideas (idea TEXT NOT NULL) STRICT;");
    let mut upgraded = Store::open_on(&path, &later).unwrap();
    let upgrade = upgraded.upgrade().unwrap().clone();
    assert_eq!((upgrade.from, upgrade.to), (NEWEST, NEWEST + 1));
    assert_eq!(upgrade.copy, folder.path().join(format!("workshop.before-v{}-2.sqlite", NEWEST + 1)));
    assert_eq!(std::fs::read_to_string(&taken).unwrap(), "a letter to a friend");
    assert_eq!(upgraded.book().unwrap(), book(3));
    assert_eq!(version(&upgraded.connection).unwrap(), NEWEST + 1);

    let mut copy = Store::open(&upgrade.copy).unwrap();
    assert_eq!(version(&copy.connection).unwrap(), NEWEST);
    assert_eq!((copy.book().unwrap(), copy.standings().unwrap()), (book(3), upgraded.standings().unwrap()));
    drop(upgraded);
    assert_eq!(Store::open_on(&path, &later).unwrap().upgrade(), None);
}

#[test]
fn a_migration_that_fails_leaves_the_store_as_it_was() {
    let (_folder, path) = place();
    fill(&mut Store::create(&path, Currency::EUR).unwrap(), 2).unwrap();
    let broken = next_terms("CREATE TABLE half (done TEXT) STRICT; INSERT INTO nowhere VALUES (1);");
    let error = Store::open_on(&path, &broken).unwrap_err();
    let StoreError::Migration { found, known, .. } = &error else { panic!("{error}") };
    assert_eq!((*found, *known), (NEWEST, NEWEST + 1));
    let mut store = Store::open(&path).unwrap();
    assert_eq!(store.book().unwrap(), book(2));
    assert!(store.connection.query_row("SELECT 1 FROM half", [], |_| Ok(())).is_err());
}

#[test]
fn a_store_of_a_newer_program_is_refused() {
    let (_folder, path) = place();
    drop(Store::create(&path, Currency::EUR).unwrap());
    let other = Connection::open(&path).unwrap();
    other.execute("INSERT INTO refinery_schema_history VALUES (77, 'later', '2031-01-01T00:00:00Z', '1')", []).unwrap();
    // Whatever the newer program made of the tables, the version is told first.
    other.execute_batch("ALTER TABLE settings RENAME TO preferences").unwrap();
    for refused in [Store::open(&path), Store::open_or_create(&path, Currency::EUR)] {
        let error = refused.unwrap_err();
        assert!(matches!(error, StoreError::Newer { found: 77, .. }), "{error}");
        let words = format!("this workshop's store is at version 77, this program knows {}: ", NEWEST);
        assert!(error.to_string().starts_with(&words), "{error}");
    }
}

#[test]
fn a_full_disk_changes_nothing() {
    let (_folder, path) = place();
    let mut store = Store::create(&path, Currency::EUR).unwrap();
    fill(&mut store, 1).unwrap();
    let pages: i64 = pragma(&store.connection, "page_count").parse().unwrap();
    store.connection.query_row(&format!("PRAGMA max_page_count = {}", pages + 2), [], |_| Ok(())).unwrap();
    let error = fill(&mut store, 5_000).unwrap_err();
    assert!(matches!(error, StoreError::Full), "{error}");
    assert_eq!(store.book().unwrap(), book(1));
    // There is room again.
    store.connection.query_row("PRAGMA max_page_count = 1000000", [], |_| Ok(())).unwrap();
    fill(&mut store, 50).unwrap();
    assert_eq!(store.book().unwrap(), book(50));
}

#[test]
fn what_may_not_be_written_is_said() {
    let (_folder, path) = place();
    let mut store = Store::create(&path, Currency::EUR).unwrap();
    // Tests may run as root, whom no file mode holds back: SQLite gives the same error for this.
    store.connection.pragma_update(None, "query_only", true).unwrap();
    let error = fill(&mut store, 1).unwrap_err();
    assert!(matches!(error, StoreError::ReadOnly), "{error}");
}

#[test]
fn a_damaged_store_is_called_damaged() {
    let (_folder, path) = place();
    let mut store = Store::create(&path, Currency::EUR).unwrap();
    fill(&mut store, 2_000).unwrap();
    drop(store);
    let mut bytes = std::fs::read(&path).unwrap();
    let page = 4_096;
    assert!(bytes.len() > 40 * page);
    for byte in bytes.iter_mut().skip(2 * page) {
        *byte ^= 0x5a;
    }
    std::fs::write(&path, &bytes).unwrap();
    let error = Store::open(&path).and_then(|mut store| store.book()).unwrap_err();
    assert!(matches!(error, StoreError::Corrupt { .. }), "{error:?}");
    assert!(error.to_string().starts_with("the store is damaged ("), "{error}");

    // A value that no version of this program writes is damage as well, though SQLite finds nothing wrong with it.
    let (_folder, path) = place();
    let mut store = Store::create(&path, Currency::EUR).unwrap();
    fill(&mut store, 1).unwrap();
    store.connection.execute("UPDATE lots SET currency = 'ZZZ'", []).unwrap();
    assert!(matches!(store.book(), Err(StoreError::Corrupt { .. })));
}

#[test]
fn a_store_whose_making_was_cut_short_is_made_again() {
    let (_folder, path) = place();
    std::fs::write(&path, "").unwrap();
    assert!(matches!(Store::open(&path), Err(StoreError::NotFound { .. })));
    let store = Store::open_or_create(&path, Currency::EUR).unwrap();
    // The tables are there, the home currency is not: this is what a crash between the two leaves.
    store.connection.execute("DELETE FROM settings", []).unwrap();
    drop(store);
    assert!(matches!(Store::open(&path), Err(StoreError::NotFound { .. })));
    let yen = Currency::from_code("JPY").unwrap();
    assert_eq!(Store::open_or_create(&path, yen).unwrap().home().unwrap(), yen);
}

#[test]
fn what_was_not_committed_is_gone_after_a_crash() {
    let (folder, path) = place();
    let mut store = Store::create(&path, Currency::EUR).unwrap();
    fill(&mut store, 2).unwrap();
    let writing = store.writing().unwrap();
    writing.apply(&book(2), &book(9), &Journal::default(), &stamp()).unwrap();
    // The files as a power cut would leave them.
    let after = folder.path().join("after.sqlite");
    std::fs::copy(&path, &after).unwrap();
    std::fs::copy(folder.path().join("workshop.sqlite-wal"), folder.path().join("after.sqlite-wal")).unwrap();
    drop(writing);
    assert_eq!(Store::open(&after).unwrap().book().unwrap(), book(2));
    assert_eq!(store.book().unwrap(), book(2));
}

#[test]
fn no_read_but_the_journal_touches_the_ledger() {
    let (_folder, path) = place();
    let mut store = Store::create(&path, Currency::EUR).unwrap();
    fill(&mut store, 1).unwrap();
    // Without the ledger these would fail to prepare.
    store.connection.execute_batch("PRAGMA foreign_keys = OFF; DROP TABLE movements;").unwrap();
    assert_eq!(store.book().unwrap(), book(1));
    assert_eq!(store.standings().unwrap().len(), 1);
    assert!(store.reading().unwrap().next_lot_code().is_ok());
    assert!(store.journal().is_err());
}
