//! `restore`: there and back again, what it keeps, what it refuses, from what it comes back.

use crate::workshop::Workshop;
use crate::{exported, names, spoil, worked};
use rusqlite::Connection;
use std::path::Path;
use stillroom::store::examine;

const NINE: &str = "2027-03-01T09:00";

#[test]
fn there_and_back_again() {
    let workshop = worked();
    let first = exported(&workshop);
    workshop.done(&["backup", "good.sqlite"]);
    let copy = std::fs::read(workshop.path("good.sqlite")).unwrap();
    workshop.done(&["plan", "drop", "E55"]);
    workshop.done(&["act", "undo", "2"]);
    let second = exported(&workshop);
    assert_ne!(first, second);

    let said = workshop.done_on(NINE, &["restore", "good.sqlite"]);
    assert_eq!(
        said,
        "The store workshop.sqlite is now as in good.sqlite: 3 acts.\n\
         What it replaced is kept as workshop.replaced-2027-03-01-0900.sqlite.\n"
    );
    assert_eq!(exported(&workshop), first);
    assert_eq!(std::fs::read(workshop.path("good.sqlite")).unwrap(), copy, "the copy stays as it is");
    // Work goes on, and what was replaced can come back as well.
    workshop.done(&["count", "L2606-1", "1.3 kg", "--reason", "spilled"]);
    let said = workshop.json_on(NINE, &["restore", "workshop.replaced-2027-03-01-0900.sqlite"]);
    assert_eq!(said["replaced"], "workshop.replaced-2027-03-01-0900-2.sqlite");
    assert_eq!(exported(&workshop), second);
    workshop.done(&["restore", "workshop.replaced-2027-03-01-0900-2.sqlite"]);
    assert_eq!(examine(&workshop.path("workshop.sqlite")).unwrap().acts, 4);
}

#[test]
fn a_bad_copy_changes_nothing() {
    let workshop = worked();
    let before = exported(&workshop);
    workshop.done(&["backup", "good.sqlite"]);
    std::fs::copy(workshop.path("good.sqlite"), workshop.path("bad.sqlite")).unwrap();
    spoil(&workshop.path("bad.sqlite"), 20);
    let cut = std::fs::read(workshop.path("good.sqlite")).unwrap();
    std::fs::write(workshop.path("cut.sqlite"), &cut[..cut.len() / 2]).unwrap();
    workshop.file("text.sqlite", "lot,material\n");
    // Sound to SQLite, and against the ledger's own laws.
    std::fs::copy(workshop.path("good.sqlite"), workshop.path("wrong.sqlite")).unwrap();
    let wrong = Connection::open(workshop.path("wrong.sqlite")).unwrap();
    wrong.execute("UPDATE lot_balances SET on_hand = on_hand + 1 WHERE lot = 'L2606-1'", []).unwrap();
    drop(wrong);
    for copy in ["bad.sqlite", "cut.sqlite", "text.sqlite", "wrong.sqlite"] {
        let said = workshop.refused(1, &["restore", copy]);
        assert!(said.contains("nothing was changed") && said.contains(&format!("doctor {copy}")), "{said}");
    }
    assert!(workshop.refused(2, &["restore", "none.sqlite"]).contains("there is no copy of a store at none.sqlite"));
    assert!(workshop.refused(2, &["restore", "./workshop.sqlite"]).contains("is the store itself"));
    assert_eq!(exported(&workshop), before);
    assert!(names(&workshop.path("")).iter().all(|name| !name.contains("replaced") && !name.ends_with(".part")));
}

#[test]
fn it_waits_for_nobody_who_is_at_work() {
    let workshop = worked();
    workshop.done(&["backup", "good.sqlite"]);
    workshop.done(&["plan", "drop", "E55"]);
    let other = Connection::open(workshop.path("workshop.sqlite")).unwrap();
    for begin in ["BEGIN IMMEDIATE", "BEGIN"] {
        other.execute_batch(begin).unwrap();
        other.query_row("SELECT count(*) FROM acts", [], |row| row.get::<_, i64>(0)).unwrap();
        let said = workshop.refused(1, &["restore", "good.sqlite"]);
        assert!(said.contains("another program has workshop.sqlite open"), "{begin}: {said}");
        other.execute_batch("COMMIT").unwrap();
    }
    assert_eq!(examine(&workshop.path("workshop.sqlite")).unwrap().acts, 4);
    drop(other);
    workshop.done(&["restore", "good.sqlite"]);
    assert_eq!(examine(&workshop.path("workshop.sqlite")).unwrap().acts, 3);
}

/// Comes back after `harm` was done to the store's file; what was left of it is kept.
fn comes_back(what: &str, harm: impl Fn(&Path)) {
    let workshop = worked();
    let good = exported(&workshop);
    workshop.done_on(NINE, &["backup"]);
    let path = workshop.path("workshop.sqlite");
    harm(&path);
    let harmed = std::fs::read(&path).ok();
    let said = workshop.run_on("2027-03-02", &["doctor"]);
    assert_eq!(said.status, if harmed.is_some() { 1 } else { 2 }, "{what}: {}", said.err);
    if harmed.is_some() {
        assert!(said.err.contains("stillroom restore backups/workshop-2027-03-01-0900.sqlite"), "{what}: {}", said.err);
    }
    let said = workshop.json_on(NINE, &["restore", "backups/workshop-2027-03-01-0900.sqlite"]);
    assert_eq!(exported(&workshop), good, "{what}");
    assert_eq!(said["replaced"].is_string(), harmed.is_some(), "{what}");
    if let (Some(name), Some(harmed)) = (said["replaced"].as_str(), harmed) {
        let kept = std::fs::read(workshop.path(name)).unwrap();
        assert!(kept.len() + 4_096 >= harmed.len(), "{what}: {} of {} kept", kept.len(), harmed.len());
    }
}

#[test]
fn it_comes_back_from_every_harm() {
    comes_back("pages turned over", |path| spoil(path, 20));
    comes_back("the schema turned over", |path| spoil(path, 0));
    comes_back("another beginning", |path| {
        let mut bytes = std::fs::read(path).unwrap();
        bytes[0] = b'X';
        std::fs::write(path, bytes).unwrap();
    });
    comes_back("cut", |path| {
        let bytes = std::fs::read(path).unwrap();
        std::fs::write(path, &bytes[..bytes.len() / 3]).unwrap();
    });
    comes_back("gone", |path| std::fs::remove_file(path).unwrap());
    comes_back("a text in its place", |path| std::fs::write(path, "what was I doing").unwrap());
}

#[test]
fn a_copy_of_an_older_version_comes_back_and_is_brought_up_to_date() {
    let workshop = Workshop::empty();
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/store/fixtures/v2.sqlite");
    let said = workshop.json(&["restore", fixture.to_str().unwrap()]);
    assert_eq!((&said["version"], &said["replaced"]), (&2.into(), &serde_json::Value::Null));
    let opened = workshop.run_on("2027-03-01", &["stock"]);
    assert_eq!(opened.status, 0, "{}", opened.err);
    assert!(opened.err.contains("brought from version 2"), "{}", opened.err);
    assert!(examine(&workshop.path("workshop.sqlite")).unwrap().readable);
}

#[test]
fn another_programs_database_is_left_alone() {
    let workshop = worked();
    workshop.done(&["backup", "good.sqlite"]);
    let path = workshop.path("workshop.sqlite");
    std::fs::remove_file(&path).unwrap();
    Connection::open(&path).unwrap().execute_batch("CREATE TABLE songs (title TEXT)").unwrap();
    let before = std::fs::read(&path).unwrap();
    let said = workshop.refused(2, &["restore", "good.sqlite"]);
    assert!(said.contains("belongs to another program"), "{said}");
    assert_eq!(std::fs::read(&path).unwrap(), before);
}
