//! Stores of each earlier version, filled by that version's program with the example workshop, are brought up to date. In the
//! first: three batches, a count, a parcel and some changes of plan and orders. In the second: three batches, one of them
//! a part of its entry, a formula's new version, a lot that was moved twice and once back, an entry that was dropped and one
//! that was moved, an order, pieces that were sold. In the sixth: two batches, a lot released and one rejected, a sale that was
//! taken back, a wish and an order. In the seventh: a batch that fulfils its entry, one that is a part of it, one that was taken
//! back, pieces held back, an entry that was dropped, a count.

use super::invented::{making, new_store, stamp};
use std::path::Path;
use stillroom::book::Book;
use stillroom::book::rows::PieceKind;
use stillroom::plan::model::LotState;
use stillroom::store::{Stamp, Store, StoreError};

fn first_version() -> (tempfile::TempDir, Store) {
    version(1)
}

fn version(number: u8) -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("workshop.sqlite");
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/store/fixtures");
    std::fs::copy(fixtures.join(format!("v{number}.sqlite")), &path).unwrap();
    let store = Store::open(&path).unwrap();
    (folder, store)
}

/// The store comes back whole from its own files.
fn comes_back(store: &mut Store) {
    let whole = |store: &mut Store| {
        let reading = store.reading().unwrap();
        (reading.whole_book().unwrap(), reading.journal().unwrap())
    };
    let (book, journal) = whole(store);
    let (_folder, _path, mut other) = new_store();
    let writing = other.writing().unwrap();
    writing.apply(&Book::default(), &book, &journal, &stamp()).unwrap();
    writing.commit().unwrap();
    assert_eq!(whole(&mut other), (book, journal));
    assert_eq!(other.book().unwrap(), store.book().unwrap());
}

#[test]
fn a_filled_store_of_the_second_version_is_brought_up_to_date() {
    let (_folder, mut store) = version(2);
    // Sums read from the file with the sqlite3 shell, before.
    let journal = store.journal().unwrap();
    assert_eq!((journal.ledger.len(), journal.pieces.len(), journal.settings.len()), (100, 4, 1));
    assert_eq!(journal.pieces.iter().map(|row| row.pieces).sum::<i64>(), 137);
    let standings = store.standings().unwrap();
    let sum = |part: fn(&stillroom::book::Standing) -> i64| standings.iter().map(part).sum::<i64>();
    assert_eq!((standings.len(), sum(|row| row.on_hand.0), sum(|row| row.cost.minor)), (75, 167_212_097, 355_076));
    // Eleven acts with 23 changes, and the twelfth for the note among the settings: `2027-03-03 less wax, ...`.
    assert_eq!((journal.acts.len(), journal.changes.len()), (12, 24));
    let revision = journal.acts.last().unwrap();
    assert_eq!((revision.act, revision.kind.as_str(), revision.subject.as_str()), (12, "revise", "calendula-salve"));
    assert_eq!(revision.day, "2027-03-03".parse().unwrap());
    let change = journal.changes.last().unwrap();
    assert_eq!((change.act, change.what.as_str(), change.part.as_str()), (12, "formula", "2"));
    assert_eq!(change.reason, "less wax, it was too hard in winter");
    // An act of that version has no day: the date of its moment stands for it.
    assert_eq!(journal.acts[0].day, journal.acts[0].recorded_at[..10].parse().unwrap());

    // All of it can be undone as before.
    let writing = store.writing().unwrap();
    let undone = writing.undo(None, &stamp()).unwrap();
    assert_eq!((undone.act.act, undone.act.kind.as_str()), (12, "revise"));
    let dropped = writing.acts(20).unwrap().into_iter().find(|deed| deed.act.kind == "plan-drop").unwrap();
    writing.undo(Some(dropped.act.act), &stamp()).unwrap();
    assert!(writing.book().unwrap().plan.iter().any(|row| row.entry == "E07"));
    writing.commit().unwrap();
    comes_back(&mut store);
    // Nobody rewrites the log that was moved to a table of its own.
    let other = rusqlite::Connection::open(store.path()).unwrap();
    for sql in ["UPDATE changes SET reason = 'x'", "DELETE FROM changes", "REPLACE INTO changes SELECT * FROM changes"]
    {
        let refused = other.execute(sql, []).unwrap_err().to_string();
        assert!(refused.contains("a change"), "{refused}");
    }
}

#[test]
fn a_filled_store_of_the_sixth_version_is_brought_up_to_date() {
    let (_folder, mut store) = version(6);
    // Sums read from the file with the sqlite3 shell, before.
    let journal = store.journal().unwrap();
    assert_eq!((journal.acts.len(), journal.changes.len(), journal.ledger.len(), journal.pieces.len()), (9, 15, 93, 4));
    assert_eq!(journal.ledger.iter().map(|row| row.amount).sum::<i64>(), 167_724_959);
    assert_eq!(journal.pieces.iter().map(|row| row.pieces).sum::<i64>(), 124);
    // Who did it stood with what was changed, and stands there.
    assert!(journal.acts.iter().all(|row| row.who.is_empty()));
    let named: Vec<_> =
        journal.changes.iter().filter(|row| !row.who.is_empty()).map(|row| (row.act, row.who.as_str())).collect();
    assert_eq!(named, [(4, "Ilse")]);

    // What was made is free to leave, and can be held back from now on.
    assert!(journal.batches.len() == 2 && journal.batches.iter().all(|row| row.state == LotState::Released));
    let by_ada = Stamp { who: "Ada".to_owned(), ..stamp() };
    let writing = store.writing().unwrap();
    writing.pieces_leave("B-2027-0001", PieceKind::Sale, 1, "", &by_ada).unwrap();
    writing.pieces_hold("B-2027-0001", "soft", &by_ada).unwrap();
    let refused = writing.pieces_leave("B-2027-0001", PieceKind::Sale, 1, "", &stamp()).unwrap_err();
    assert!(refused.to_string().contains("are in quarantine"), "{refused}");
    assert_eq!(writing.acts(1).unwrap()[0].act.who, "Ada");
    writing.commit().unwrap();
    comes_back(&mut store);
}

#[test]
fn a_filled_store_of_the_seventh_version_is_brought_up_to_date() {
    let (_folder, mut store) = version(7);
    // Sums read from the file with the sqlite3 shell, before.
    let journal = store.journal().unwrap();
    assert_eq!(
        (journal.acts.len(), journal.changes.len(), journal.ledger.len(), journal.pieces.len()),
        (8, 22, 110, 4)
    );
    assert_eq!(journal.ledger.iter().map(|row| row.amount).sum::<i64>(), 173_129_183);
    let sums = |store: &mut Store| {
        let standings = store.standings().unwrap();
        let sum = |part: fn(&stillroom::book::Standing) -> i64| standings.iter().map(part).sum::<i64>();
        (sum(|row| row.on_hand.0), sum(|row| row.cost.minor), sum(|row| i64::from(row.moved)))
    };
    assert_eq!(sums(&mut store), (173_129_183, 363_262, 19));
    let is_planned = |store: &mut Store, entry: &str| store.book().unwrap().plan.iter().any(|row| row.entry == entry);
    assert_eq!(["E01", "E02", "E04", "E07"].map(|entry| is_planned(&mut store, entry)), [false, true, true, false]);

    // The triggers that keep the balances are others: what comes adds, what goes takes.
    let writing = store.writing().unwrap();
    writing.undo(None, &stamp()).unwrap();
    writing.undo(Some(2), &stamp()).unwrap();
    writing.commit().unwrap();
    // The count had taken 400,000 and 97 cents, the batch 468,951 and 4,399: read from the ledger with the sqlite3 shell.
    let (on_hand, cost, _) = sums(&mut store);
    assert_eq!((on_hand, cost), (173_129_183 + 400_000 + 468_951, 363_262 + 97 + 4_399));
    assert!(is_planned(&mut store, "E01"));
    let other = rusqlite::Connection::open(store.path()).unwrap();
    let more_than_there_is = "INSERT INTO movements (movement, act, kind, lot, amount, cost, day, reason)
        SELECT 999, 1, 'issue', lot, -on_hand - 1, 0, '2027-03-01', '' FROM lot_balances LIMIT 1";
    let refused = other.execute(more_than_there_is, []).unwrap_err().to_string();
    assert!(refused.contains("on_hand >= 0"), "{refused}");
    comes_back(&mut store);
}

#[test]
fn a_filled_store_of_the_first_version_is_brought_up_to_date() {
    let (folder, mut store) = first_version();
    let upgrade = store.upgrade().unwrap().clone();
    assert_eq!(upgrade.from, 1);
    assert_eq!(upgrade.copy, folder.path().join(format!("workshop.before-v{}.sqlite", upgrade.to)));

    // What the first version held (sums read from the file with the sqlite3 shell).
    let journal = store.journal().unwrap();
    assert_eq!((journal.ledger.len(), journal.acts.len(), journal.changes.len()), (103, 11, 0));
    let standings = store.standings().unwrap();
    let sum = |part: fn(&stillroom::book::Standing) -> i64| standings.iter().map(part).sum::<i64>();
    assert_eq!((standings.len(), sum(|row| row.on_hand.0), sum(|row| row.cost.minor)), (77, 173_228_970, 359_036));
    let told: Vec<_> = journal.batches.iter().map(|row| (row.entry.as_str(), row.fulfils_entry, row.undone)).collect();
    assert_eq!(told, [("E01", true, false), ("E03", true, false), ("E04", true, false)]);
    let plan = store.book().unwrap().plan;
    assert!(plan.iter().all(|row| !["E01", "E03", "E04", "E40"].contains(&row.entry.as_str())));
    assert_eq!(plan.len(), 51);

    // Its batches have their pieces, in an act that says so.
    let told: Vec<_> = journal.pieces.iter().map(|row| (row.act, row.kind, row.pieces)).collect();
    assert_eq!(told, [(11, PieceKind::Made, 100), (11, PieceKind::Made, 48), (11, PieceKind::Made, 48)]);
    let left = store.reading().unwrap().piece_balances().unwrap();
    assert_eq!(left.iter().map(|row| row.on_hand).collect::<Vec<_>>(), [100, 48, 48]);
}

#[test]
fn an_upgraded_store_goes_on_and_what_was_before_is_not_undone() {
    let (_folder, mut store) = first_version();
    let writing = store.writing().unwrap();
    let refused = |act| match writing.undo(act, &stamp()).unwrap_err() {
        StoreError::Refused(refusal) => refusal.to_string(),
        other => panic!("{other}"),
    };
    assert_eq!(refused(None), "act 11 (upgrade) cannot be undone: it brought the store up to date");
    let words = "it was written by a version that did not keep what it changed";
    assert_eq!(refused(Some(2)), format!("act 2 (batch made) cannot be undone: {words}"));
    let first = writing.batch("B-2027-0001").unwrap().unwrap();
    let next = stillroom::book::rows::BatchRow {
        batch: writing.next_batch_number(stamp().day).unwrap(),
        entry: "E05".to_owned(),
        ..first
    };
    assert_eq!(next.batch, "B-2027-0004");
    writing.make(&making(next, &[("L-0001", 5)]), &stamp()).unwrap();
    writing.pieces_leave("B-2027-0001", PieceKind::Sale, 60, "market", &stamp()).unwrap();
    writing.undo(Some(12), &stamp()).unwrap();
    writing.commit().unwrap();
    comes_back(&mut store);
}

#[test]
fn the_ledger_of_the_first_version_comes_in_without_the_files_that_it_did_not_have() {
    let (_folder, mut store) = first_version();
    let (book, mut journal) = (store.book().unwrap(), store.journal().unwrap());
    (journal.acts, journal.pieces) = (Vec::new(), Vec::new());
    let (_other_folder, _path, mut other) = new_store();
    let writing = other.writing().unwrap();
    writing.apply(&Book::default(), &book, &journal, &stamp()).unwrap();
    let left = writing.piece_balances().unwrap();
    assert_eq!(left.iter().map(|row| row.on_hand).collect::<Vec<_>>(), [100, 48, 48]);
    let acts = writing.acts(20).unwrap();
    assert_eq!((acts[0].act.kind.as_str(), acts[0].pieces.len()), ("import", 3));
    assert!(acts[1..].iter().all(|deed| deed.act.kind == "ledger"));
    let words = "it came with a ledger that did not say what it was";
    let refused = writing.undo(Some(2), &stamp()).unwrap_err().to_string();
    assert_eq!(refused, format!("act 2 (ledger) cannot be undone: {words}"));
    writing.commit().unwrap();
    assert_eq!(other.standings().unwrap(), store.standings().unwrap());
}
