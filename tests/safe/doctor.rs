//! `doctor`: every law has a store that breaks it, and what it says leads back.

use crate::workshop::Workshop;
use crate::{spoil, worked};
use rusqlite::Connection;
use serde_json::Value;
use std::path::Path;

fn doctor(workshop: &Workshop) -> (i32, Value, String) {
    let answer = workshop.run_on("2027-03-01", &["doctor", "--json"]);
    let view = serde_json::from_str(&answer.out).unwrap_or_else(|_| panic!("{}{}", answer.out, answer.err));
    (answer.status, view, answer.err)
}

#[test]
fn a_sound_store_is_called_sound() {
    let workshop = worked();
    let (status, view, _) = doctor(&workshop);
    assert_eq!((status, &view["sound"], &view["readable"]), (0, &true.into(), &true.into()));
    assert_eq!((&view["acts"], &view["lots"], &view["batches"]), (&3.into(), &75.into(), &1.into()));
    assert_eq!((&view["hurts"], &view["copies"]), (&serde_json::json!([]), &serde_json::json!([])));
    assert!(workshop.done(&["doctor"]).ends_with("There is no copy of it: `stillroom backup` makes one.\n"));
    workshop.done_on("2027-03-01T09:00", &["backup"]);
    workshop.done_on("2027-03-02T09:00", &["backup"]);
    let said = workshop.done(&["doctor"]);
    assert!(said.ends_with("There are 2 copies; the newest is backups/workshop-2027-03-02-0900.sqlite.\n"), "{said}");
    let said = workshop.done(&["doctor", "backups/workshop-2027-03-02-0900.sqlite"]);
    assert!(said.starts_with("The copy is sound"), "{said}");
    assert!(workshop.refused(2, &["doctor", "nowhere.sqlite"]).contains("there is no store at nowhere.sqlite"));
}

/// Does `sql` to the store behind the back of all triggers and keys, and asks that just `law` is told, with `words`.
fn check(law: &str, sql: &str, words: &str) {
    let workshop = worked();
    workshop.done(&["act", "undo", "3"]);
    let connection = Connection::open(workshop.path("workshop.sqlite")).unwrap();
    let triggers = "SELECT 'DROP TRIGGER ' || name || ';' FROM sqlite_schema WHERE type = 'trigger'";
    let drops: Vec<String> =
        connection.prepare(triggers).unwrap().query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    connection
        .execute_batch(&format!("PRAGMA ignore_check_constraints = 1; PRAGMA foreign_keys = 0; {}", drops.concat()))
        .unwrap();
    assert_eq!(doctor(&workshop).0, 0, "{law}: without triggers it is sound still");
    connection.execute_batch(sql).unwrap();
    drop(connection);
    let (status, view, said) = doctor(&workshop);
    assert_eq!((status, &view["sound"]), (1, &false.into()), "{law}: {sql}");
    let hurts = view["hurts"].as_array().unwrap();
    let told = hurts.iter().find(|hurt| hurt["law"] == law).unwrap_or_else(|| panic!("{law} is not among {hurts:?}"));
    assert!(told["message"].as_str().unwrap().contains(words), "{law}: {told}");
    assert!(said.contains(&format!("{law}: ")) && said.contains("next: "), "{said}");
}

#[test]
fn every_law_is_kept_an_eye_on() {
    check(
        "lot-balances",
        "UPDATE lot_balances SET on_hand = on_hand + 5 WHERE lot = 'L2606-1'",
        "lot L2606-1: its balance says",
    );
    check("lot-balances", "UPDATE lot_balances SET cost = cost + 1 WHERE lot = 'L2606-1'", "L2606-1");
    check("lot-balances", "DELETE FROM movements WHERE movement = 1", "its movements add up to 0");
    check(
        "plan-made",
        "UPDATE plan SET made = 1 WHERE entry = 'E20'",
        "plan entry E20 is marked as made, and no batch fulfils it",
    );
    check("lots-used", "UPDATE lot_balances SET moved = 0 WHERE lot = 'L2606-1'", "lot L2606-1 has been used");
    check(
        "never-below-nothing",
        "UPDATE movements SET movement = 9000 WHERE lot = 'L2608-1' AND kind = 'receipt'",
        "lot L2608-1 holds -",
    );
    check(
        "empty-costs-nothing",
        "UPDATE movements SET amount = -(SELECT amount FROM movements WHERE lot = 'L2608-1' AND kind = 'receipt')
            WHERE lot = 'L2608-1' AND kind = 'issue';
         UPDATE lot_balances SET on_hand = 0 WHERE lot = 'L2608-1'",
        "lot L2608-1 is empty, and still worth",
    );
    check("reversals", "UPDATE movements SET kind = 'issue' WHERE reverses IS NOT NULL", "and does not");
    check("piece-balances", "UPDATE piece_balances SET on_hand = 3", "batch B-2027-0001: its balance says 3 pieces");
    check(
        "pieces-never-below-nothing",
        "INSERT INTO pieces VALUES (7, 2, 'B-2027-0001', 'gift', -5000, '2027-03-01', '', NULL)",
        "batch B-2027-0001 has -",
    );
    check(
        "piece-reversals",
        "INSERT INTO pieces VALUES (7, 2, 'B-2027-0001', 'gift', 1, '2027-03-01', '', 1)",
        "row 7 of the pieces should take back row 1",
    );
    check("pieces-made", "UPDATE batches SET pieces = 7", "says that it became 7 pieces");
    check("changes", "UPDATE batches SET undone = 1", "change ");
    check(
        "changes",
        "INSERT INTO changes VALUES (99, 2, 'lot', 'NONE', '', 'place', '', 'shelf', '', '')",
        "change 99, lot NONE (place): there is no such thing",
    );
    check("keys", "DELETE FROM acts WHERE act = 2", "a row of movements names something that acts does not have");
    check("pages", "UPDATE lots SET state = 'lost' WHERE lot = 'L2606-1'", "CHECK constraint failed in lots");
    check("rows", "UPDATE lots SET currency = 'ZZZ' WHERE lot = 'L2606-1'", "ZZZ");
    check("file", "PRAGMA application_id = 7", "its mark is 0x7");
}

#[test]
fn a_later_version_is_not_judged() {
    let workshop = worked();
    let other = Connection::open(workshop.path("workshop.sqlite")).unwrap();
    other.execute("INSERT INTO refinery_schema_history VALUES (77, 'later', '2031-01-01T00:00:00Z', '1')", []).unwrap();
    let said = workshop.refused(1, &["doctor"]);
    assert!(said.contains("at version 77"), "{said}");
}

#[test]
fn it_says_which_copies_are_sound_and_how_to_come_back() {
    let workshop = worked();
    workshop.done_on("2027-03-01T09:00", &["backup"]);
    workshop.done_on("2027-03-02T09:00", &["backup"]);
    spoil(&workshop.path("backups/workshop-2027-03-02-0900.sqlite"), 30);
    spoil(&workshop.path("workshop.sqlite"), 30);
    let said = workshop.refused(1, &["doctor"]);
    assert!(said.contains("  backups/workshop-2027-03-02-0900.sqlite: hurt or not readable"), "{said}");
    assert!(said.contains("`stillroom restore backups/workshop-2027-03-01-0900.sqlite` puts that copy back"), "{said}");
    // Whoever meets the damage at work is sent here.
    let at_work = workshop.run_on("2027-03-01", &["export", "out"]);
    assert!(at_work.status == 1 && at_work.err.contains("stillroom doctor"), "{}", at_work.err);
    // Without a copy it does not promise one.
    std::fs::remove_dir_all(workshop.path("backups")).unwrap();
    let said = workshop.refused(1, &["doctor"]);
    assert!(said.contains("no sound copy was found"), "{said}");
}

#[test]
fn stores_of_every_version_are_judged_as_they_are() {
    for version in [1, 2] {
        let workshop = Workshop::empty();
        let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/store/fixtures/v{version}.sqlite"));
        std::fs::copy(fixture, workshop.path("workshop.sqlite")).unwrap();
        let before = std::fs::read(workshop.path("workshop.sqlite")).unwrap();
        let said = workshop.done(&["doctor"]);
        assert!(said.contains(&format!("version {version}.\nIt is of an earlier version")), "{said}");
        assert_eq!(std::fs::read(workshop.path("workshop.sqlite")).unwrap(), before, "it changes nothing");
    }
}
