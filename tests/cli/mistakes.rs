//! What a slip of the user gets: exit status 2, what is wrong, what would be right, and an untouched store.

use crate::workshop::Workshop;

#[test]
fn each_slip_has_its_message() {
    let workshop = Workshop::example();
    let check = |arguments: &[&str], expected: &str| {
        let said = workshop.refused(2, arguments);
        assert!(said.contains(expected), "{arguments:?} said\n{said}");
    };
    check(
        &["forecast", "--why", "mangobuter"],
        "there is no material or premix \"mangobuter\"\nnext: did you mean mango-butter (Mango butter)?",
    );
    check(&["forecast", "--through", "2027-02-01"], "--through 2027-02-01 lies before today, 2027-03-01");
    check(&["expiring", "--why", "nothing"], "there is no lot");
    check(&["allocate", "--why", "E999"], "there is no plan entry \"E999\"");
    check(&["order", "place", "nobody"], "there is no supplier \"nobody\"");
    check(&["receive", "O-1"], "there is no order \"O-1\"");
    check(&["receive"], "what came is not said");
    check(&["receive", "--material", "lye", "--amount", "2 pcs", "--cost", "0"], "\"2 pcs\" counts pieces");
    check(&["receive", "--material", "lye", "--amount", "2 kg"], "--cost is missing");
    check(&["count", "L2606-1", "1 kg", "--reason", " "], "--reason is empty");
    check(&["count", "L2606-1", "much", "--reason", "x"], "\"much\" is not an amount");
    check(&["plan", "add", "lip-balm-plain", "3", "--make-on", "2027-05-01"], "\"3\" is not an amount");
    check(
        &["plan", "add", "sope", "3 pcs", "--make-on", "2027-05-01"],
        "there is no product \"sope\"\nnext: did you mean",
    );
    check(&["plan", "add", "lip-balm-plain", "3 pcs"], "--make-on");
    check(&["plan", "repeat", "E01", "--every", "week", "--until", "2027-03-02"], "no repetition of E01");
    check(&["count", "L2606-1", "1 kg", "--reason", "a\u{1b}[31m"], "--reason holds a line break or another control");
    check(&["plan", "add", "lip-balm-plain", "3 pcs", "--make-on", "2027-05-01", "--entry", ""], "--entry is empty");
    check(&["plan", "add", "lip-balm-plain", "3 pcs", "--make-on", "9999-12-31"], "more than ten years ahead");
    check(&["forecast", "--as-of", "+262142-12-31"], "write year-month-day");
    check(&["stocktake", "enter", "nowhere.csv"], "mend what is named");
    check(&["mail", "reorder"], "nobody is named who gets the letter");
    check(&["mail", "reorder", "--to", "not an address"], "not an address");
    check(&["import", "nowhere.csv"], "nowhere.csv");
    check(&["forecast", "--as-of", "2027-13-01"], "2027-13-01");
    check(&["reorder", "--seconds", "-1"], "--seconds");
}

#[test]
fn without_a_store_the_first_step_is_named() {
    let workshop = Workshop::empty();
    for arguments in [&["forecast"][..], &["stock"], &["reorder"], &["plan", "list"], &["export", "out"]] {
        let said = workshop.refused(2, arguments);
        assert!(said.contains("there is no store at workshop.sqlite") && said.contains("stillroom import"), "{said}");
    }
    assert!(!workshop.path("workshop.sqlite").exists());
}

#[test]
fn all_faults_come_at_once_and_nothing_is_written() {
    let workshop = Workshop::empty();
    let materials = workshop.file("materials.csv", "code,name,kind\nshea,Shea butter,oil\n,Nameless,raw\n");
    let lots = workshop.file("lots.csv", "lot,material,amount\nL1,shea,5 kgs\nL2,sheo,1 kg\n");
    let said = workshop.refused(2, &["import", &materials, &lots]);
    assert!(said.contains("the files have 4 faults; nothing was written"), "{said}");
    for place in ["materials.csv, row 2, column kind", "materials.csv, row 3", "lots.csv, row 2", "lots.csv, row 3"] {
        assert!(said.contains(place), "{place} in\n{said}");
    }
    assert!(!workshop.path("workshop.sqlite").exists());
}

#[test]
fn a_currency_without_a_rate_is_named() {
    let without = Workshop::empty();
    let files = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/workshop");
    for entry in std::fs::read_dir(files).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        if name != "rates.csv" {
            without.file(&format!("files/{name}"), &std::fs::read_to_string(&path).unwrap());
        }
    }
    without.done(&["import", "files"]);
    let said = without.refused(2, &["reorder"]);
    assert!(said.contains("no rate for DKK is known") || said.contains("no rate for GBP is known"), "{said}");
    assert!(said.contains("rates.csv"), "{said}");
    without.done(&["forecast"]);
}

#[test]
fn a_store_of_something_else_is_left_alone() {
    let workshop = Workshop::empty();
    workshop.file(
        "workshop.sqlite",
        "not a database at all, but longer than a header of one hundred bytes would be, surely so",
    );
    let said = workshop.refused(2, &["forecast"]);
    assert!(said.contains("is not a store of stillroom"), "{said}");
}

#[test]
fn a_demo_is_made_once() {
    let workshop = Workshop::empty();
    workshop.done(&["demo"]);
    assert!(workshop.path("stillroom-demo/workshop.sqlite").exists());
    assert!(workshop.path("stillroom-demo/outbox/2027-03-01-reorder.eml").exists());
    assert!(workshop.refused(2, &["demo"]).contains("is there already"));
}
