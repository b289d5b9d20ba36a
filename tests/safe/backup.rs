//! `backup`: names, how many stay, others at work meanwhile, a store that is hurt; the copy of the day.

use crate::workshop::Workshop;
use crate::{exported, names, spoil, worked};
use std::sync::atomic::{AtomicBool, Ordering};
use stillroom::store::examine;

const NINE: &str = "2027-03-01T09:00";

#[test]
fn a_copy_bears_the_workshops_day_and_time() {
    let workshop = worked();
    workshop.file("far.toml", "time_zone = 'Pacific/Auckland'\n");
    let said = workshop.done_on(NINE, &["backup"]);
    assert_eq!(said, "The copy is backups/workshop-2027-03-01-0900.sqlite: 3 acts, examined and sound.\n");
    let again = workshop.json_on(NINE, &["backup"]);
    assert_eq!(again["file"], "backups/workshop-2027-03-01-0900-2.sqlite");
    assert_eq!((&again["acts"], &again["removed"]), (&3.into(), &serde_json::json!([])));
    // At nine in the evening in Greenwich it is the next morning there.
    let far = workshop.json_on("2027-03-01T21:00:00Z", &["backup", "--config", "far.toml"]);
    assert_eq!(far["file"], "backups/workshop-2027-03-02-1000.sqlite");
    // One file, readable on a disk that cannot be written: no write-ahead log goes with it.
    assert_eq!(names(&workshop.path("backups")).len(), 3);
    let bytes = std::fs::read(workshop.path("backups/workshop-2027-03-01-0900.sqlite")).unwrap();
    assert_eq!(bytes[18..20], [1, 1], "SQLite, Database File Format, 1.3: 1 is legacy, 2 is WAL");
    assert_eq!(names(&workshop.path("")).iter().filter(|name| name.ends_with(".part")).count(), 0);
}

#[test]
fn a_named_copy_replaces_nothing() {
    let workshop = worked();
    workshop.file("mine.txt", "a letter");
    let said = workshop.refused(2, &["backup", "mine.txt"]);
    assert!(said.contains("mine.txt is there already; nothing was written to it"), "{said}");
    assert_eq!(std::fs::read_to_string(workshop.path("mine.txt")).unwrap(), "a letter");
    workshop.done(&["backup", "mine.sqlite"]);
    assert!(examine(&workshop.path("mine.sqlite")).unwrap().is_sound());
    // In a folder it gets its usual name.
    std::fs::create_dir(workshop.path("stick")).unwrap();
    workshop.done_on(NINE, &["backup", "stick"]);
    assert_eq!(names(&workshop.path("stick")), ["workshop-2027-03-01-0900.sqlite"]);
    let said = workshop.refused(1, &["backup", "nowhere/copy.sqlite"]);
    assert!(said.contains("nowhere"), "{said}");
    let said = Workshop::empty().refused(2, &["backup"]);
    assert!(said.contains("there is no store at"), "{said}");
}

#[test]
fn so_many_stay_and_nothing_else_is_touched() {
    let workshop = worked();
    workshop.file("two.toml", "[backup]\nfolder = 'kept'\nkeep = 2\n");
    workshop.file("kept/workshop-2026-01-01.sqlite", "not ours by its name");
    workshop.file("kept/other-2026-01-01-0900.sqlite", "another store's");
    for day in ["2027-03-01", "2027-03-02", "2027-03-03"] {
        workshop.done_on(&format!("{day}T09:00"), &["backup", "--config", "two.toml"]);
    }
    // The clock was wrong: what was made last stays all the same.
    let said = workshop.json_on("2027-02-01T09:00", &["backup", "--config", "two.toml"]);
    assert_eq!(said["removed"].as_array().unwrap().len(), 1);
    let expected = [
        "other-2026-01-01-0900.sqlite",
        "workshop-2026-01-01.sqlite",
        "workshop-2027-02-01-0900.sqlite",
        "workshop-2027-03-03-0900.sqlite",
    ];
    assert_eq!(names(&workshop.path("kept")), expected);
}

#[test]
fn a_copy_is_whole_while_others_write() {
    let workshop = worked();
    let ready = AtomicBool::new(false);
    let (copies, acts) = std::thread::scope(|scope| {
        let writer = scope.spawn(|| {
            let mut acts = 0;
            while !ready.load(Ordering::SeqCst) {
                let grams = format!("{} g", 1_000 + acts % 300);
                workshop.done(&["count", "L2606-1", &grams, "--reason", "weighed"]);
                acts += 1;
            }
            acts
        });
        let copies: Vec<String> = (0..20)
            .map(|number| {
                workshop.json(&["backup", &format!("copy-{number}.sqlite")])["file"].as_str().unwrap().to_owned()
            })
            .collect();
        ready.store(true, Ordering::SeqCst);
        (copies, writer.join().unwrap())
    });
    let held: Vec<i64> = copies
        .iter()
        .map(|copy| {
            let checkup = examine(&workshop.path(copy)).unwrap();
            assert!(checkup.is_sound(), "{copy}: {:?}", checkup.hurts);
            checkup.acts
        })
        .collect();
    assert!(held.is_sorted(), "{held:?}");
    assert!(acts > 5 && held[0] < held[19], "{acts} acts went on beside the copies: {held:?}");
    assert_eq!(examine(&workshop.path("workshop.sqlite")).unwrap().acts, 3 + acts);
}

#[test]
fn of_a_hurt_store_no_copy_is_made() {
    let workshop = worked();
    workshop.file("one.toml", "[backup]\nkeep = 1\n");
    workshop.done_on(NINE, &["backup", "--config", "one.toml"]);
    spoil(&workshop.path("workshop.sqlite"), 20);
    let said = workshop.refused_on("2027-03-02", 1, &["backup", "--config", "one.toml"]);
    assert!(said.contains("no copy was made") && said.contains("stillroom doctor"), "{said}");
    // The last good one is not given away for it.
    assert_eq!(names(&workshop.path("backups")), ["workshop-2027-03-01-0900.sqlite"]);
}

#[test]
fn post_makes_one_a_day_where_the_settings_ask() {
    let workshop = worked();
    workshop.done_on(NINE, &["post"]);
    assert!(!workshop.path("backups").exists());
    workshop.file("daily.toml", "time_zone = 'Europe/Lisbon'\n[backup]\ndaily = true\nkeep = 2\n");
    let post = |moment: &str| workshop.json_on(moment, &["post", "--config", "daily.toml"])["backup"].clone();
    assert_eq!(post("2027-03-01T09:00")["file"], "backups/workshop-2027-03-01-0900.sqlite");
    assert_eq!(post("2027-03-01T09:15"), serde_json::Value::Null);
    assert_eq!(post("2027-03-01T23:59"), serde_json::Value::Null);
    assert_eq!(post("2027-03-02T00:00")["file"], "backups/workshop-2027-03-02-0000.sqlite");
    assert_eq!(post("2027-03-09T08:00")["removed"].as_array().unwrap().len(), 1);
    let before = exported(&workshop);
    // It cannot be made: that is told, with an exit status, and keeps nothing else from being done.
    workshop.file("blocked.toml", "[backup]\ndaily = true\nfolder = 'workshop.sqlite'\n");
    let said = workshop.refused_on("2027-03-10T08:00", 1, &["post", "--config", "blocked.toml"]);
    assert!(said.contains("The copy of the day: the folder"), "{said}");
    assert_eq!(exported(&workshop), before);
}
