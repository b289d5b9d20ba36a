//! Which files are opened, and that the ledger cannot be rewritten by anyone.

use super::invented::{batch, making, new_store, small, stamp, store_of};
use rusqlite::Connection;
use stillroom::book::rows::PieceKind;
use stillroom::plan::money::Currency;
use stillroom::plan::quantity::Quantity;
use stillroom::store::{Store, StoreError};

#[test]
fn where_nothing_is_the_way_to_begin_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("deep/down/workshop.sqlite");
    let error = Store::open(&path).unwrap_err();
    assert!(matches!(error, StoreError::NotFound { .. }));
    let words = error.to_string();
    assert!(words.contains("stillroom import") && words.contains("stillroom demo"), "{words}");
    assert!(!path.exists());
    assert_eq!(Store::open_or_create(&path, Currency::EUR).unwrap().home().unwrap(), Currency::EUR);
    assert!(matches!(Store::create(&path, Currency::EUR), Err(StoreError::AlreadyThere { .. })));
    // A store that is there keeps its own currency.
    let yen = Currency::from_code("JPY").unwrap();
    assert_eq!(Store::open_or_create(&path, yen).unwrap().home().unwrap(), Currency::EUR);
}

#[test]
fn a_file_of_something_else_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other");
    let check = |what: &str| {
        let before = std::fs::read(&path).unwrap();
        for refused in
            [Store::open(&path), Store::create(&path, Currency::EUR), Store::open_or_create(&path, Currency::EUR)]
        {
            let error = refused.expect_err(what);
            assert!(matches!(error, StoreError::NotAStore { .. }), "{what}: {error}");
        }
        assert_eq!(std::fs::read(&path).unwrap(), before, "{what}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "{what}");
    };
    std::fs::write(&path, "code,name\nshea,Shea butter\n").unwrap();
    check("a text");
    std::fs::write(&path, "SQLite").unwrap();
    check("a beginning");
    std::fs::remove_file(&path).unwrap();
    Connection::open(&path).unwrap().execute_batch("CREATE TABLE songs (title TEXT)").unwrap();
    check("a database without a mark");
    Connection::open(&path).unwrap().execute_batch("PRAGMA application_id = 252006674").unwrap();
    check("a database with the mark of another");

    assert!(matches!(Store::open(folder.path()), Err(StoreError::NotAStore { .. })));
}

#[test]
fn nobody_rewrites_the_ledger() {
    let (_folder, path, mut store) = store_of(&small());
    let writing = store.writing().unwrap();
    writing.make(&making(batch("B-2027-0001", "P-0001"), &[("L-0001", 100_000)]), &stamp()).unwrap();
    writing.pieces_leave("B-2027-0001", PieceKind::Gift, 2, "the neighbours", &stamp()).unwrap();
    writing.commit().unwrap();
    let before = (store.journal().unwrap(), store.standings().unwrap());
    assert_eq!(before.0.ledger.len(), 3);

    // With another program, and with foreign keys both on and off.
    let other = Connection::open(&path).unwrap();
    let refused = |sql: &str, words: &str| {
        for foreign_keys in ["ON", "OFF"] {
            other.execute_batch(&format!("PRAGMA foreign_keys = {foreign_keys}")).unwrap();
            let error = other.execute_batch(sql).expect_err(sql).to_string();
            assert!(error.contains(words), "{sql}: {error}");
        }
    };
    refused("UPDATE movements SET amount = 1 WHERE movement = 1", "never changed");
    refused("UPDATE movements SET movement = 9 WHERE movement = 1", "never changed");
    refused("DELETE FROM movements", "never deleted");
    refused("UPDATE acts SET recorded_at = '2020-01-01T00:00:00Z'", "never changed");
    refused("DELETE FROM acts WHERE act = 2", "never deleted");
    refused("DELETE FROM lot_balances", "a balance stays");
    refused("REPLACE INTO acts VALUES (1, 'count', '', '2020-01-01T00:00:00Z', NULL, NULL, '')", "written once");
    refused("REPLACE INTO acts VALUES (9, 'undo', '', '2020-01-01T00:00:00Z', 9, NULL, '')", "CHECK");
    refused("UPDATE pieces SET pieces = 1 WHERE piece_movement = 1", "never changed");
    refused("DELETE FROM pieces", "never deleted");
    refused("DELETE FROM piece_balances", "a balance stays");
    refused("UPDATE changes SET after = ''", "never changed");
    refused("DELETE FROM changes", "never deleted");
    refused("REPLACE INTO changes SELECT * FROM changes", "written once");
    refused("UPDATE weighings SET weighed = 1", "never changed");
    refused("DELETE FROM weighings", "never deleted");
    refused("REPLACE INTO weighings SELECT * FROM weighings", "written once");
    let pieces = |number: i64, kind: &str, pieces: i64, reverses: &str| {
        format!(
            "REPLACE INTO pieces VALUES ({number}, 1, 'B-2027-0001', '{kind}', {pieces}, '2027-01-01', '', {reverses})"
        )
    };
    refused(&pieces(1, "made", 5, "NULL"), "written once");
    refused(&pieces(3, "sale", -11, "NULL"), "CHECK");
    refused(&pieces(3, "sale", 1, "NULL"), "CHECK");
    refused(&pieces(3, "gift", 1, "2"), "exactly one earlier row");
    refused(&pieces(3, "sale", 2, "2"), "exactly one earlier row");
    let values = |number: i64, kind: &str, amount: i64, cost: i64, reverses: &str| {
        format!(
            "REPLACE INTO movements VALUES ({number}, 1, '{kind}', 'L-0001', {amount}, {cost}, '2027-01-01', '', NULL, {reverses})"
        )
    };
    refused(&values(1, "receipt", 5, 5, "NULL"), "written once");
    // A draw below nothing, a cost of the wrong sign, an amount of the wrong sign, a day that there is not.
    refused(&values(4, "issue", -400_001, 0, "NULL"), "CHECK");
    refused(&values(4, "issue", -1, 1, "NULL"), "CHECK");
    refused(&values(4, "issue", 1, 1, "NULL"), "CHECK");
    refused(&values(4, "receipt", 1, 1, "NULL").replace("2027-01-01", "2027-02-30"), "CHECK");
    refused(&values(4, "receipt", i64::MAX, 0, "NULL"), "cannot store REAL");
    // A reversal that takes back something else, or nothing.
    refused(&values(4, "issue", 99_999, 200, "3"), "exactly one earlier movement");
    refused(&values(4, "issue", 100_000, 200, "99"), "exactly one earlier movement");
    assert_eq!((store.journal().unwrap(), store.standings().unwrap()), before);

    // One that is right is written, once.
    other.execute_batch(&values(4, "issue", 100_000, 200, "3")).unwrap();
    refused(&values(5, "issue", 100_000, 200, "3"), "reversed once at most");
    refused(&values(5, "issue", -100_000, -200, "4"), "exactly one earlier movement");
    let standings = store.standings().unwrap();
    assert_eq!((standings[0].on_hand, standings[0].cost.minor, standings[0].moved), (Quantity(500_000), 1_000, true));
}

#[test]
fn what_is_not_committed_is_not_written() {
    let (_folder, _path, mut store) = new_store();
    let writing = store.writing().unwrap();
    writing.apply(&Default::default(), &small(), &Default::default(), &stamp()).unwrap();
    assert_eq!(writing.book().unwrap(), small());
    drop(writing);
    assert_eq!(store.book().unwrap(), Default::default());
    assert_eq!(store.journal().unwrap().ledger, Vec::new());
}
