//! Who did what is kept with every act; finished pieces that are held back do not leave.

use crate::small;
use crate::workshop::Workshop;
use serde_json::{Value, json};

fn state(workshop: &Workshop) -> Value {
    workshop.json(&["pieces", "list"])["batches"][0]["state"].clone()
}

#[test]
fn pieces_in_quarantine_stay_until_they_are_released() {
    let workshop = small::workshop();
    let hold = ["pieces", "hold", "B-2", "--reason", "set too soft", "--by", "Ilse"];
    let held = workshop.json(&hold);
    assert_eq!(held, json!({"batch": "B-2", "left": 4, "state": "quarantine"}));
    workshop.done(&["act", "undo"]);
    let said = workshop.done(&hold);
    assert!(said.starts_with("Batch B-2, 4 pieces left: in quarantine, and none leaves but as waste."), "{said}");
    assert!(workshop.refused(2, &hold).contains("the pieces of batch B-2 are in quarantine already"));
    for how in ["sale", "gift", "sample"] {
        let said = workshop.refused(2, &["pieces", "leave", "B-2", "1", "--as", how]);
        let expected = "the pieces of batch B-2 are in quarantine: `stillroom pieces release` lets them leave";
        assert!(said.contains(expected), "{how}: {said}");
    }
    assert_eq!(workshop.json(&["pieces", "list"])["batches"][0]["left"], 4);
    let list = workshop.done(&["pieces", "list"]);
    assert!(list.starts_with("4 pieces of 1 batch on the shelves, 4 of them held back.\n"), "{list}");
    assert!(list.contains("in quarantine") && list.contains("stillroom pieces release BATCH"), "{list}");
    let shown = workshop.done(&["batch", "show", "B-2"]);
    assert!(shown.contains("4 pieces still here, in quarantine;"), "{shown}");
    let list = workshop.done(&["batch", "list"]);
    assert!(list.contains("4 (in quarantine)"), "{list}");
    // What is broken may be thrown away all the same.
    assert_eq!(workshop.json(&["pieces", "leave", "B-2", "1", "--as", "waste", "--reason", "broken"])["left"], 3);

    let release = ["pieces", "release", "B-2", "--reason", "firm after a week"];
    assert!(workshop.refused(2, &release).contains("--by is missing"));
    workshop.done(&[&release[..], &["--by", "Ada"]].concat());
    assert_eq!(state(&workshop), "released");
    assert_eq!(workshop.json(&["pieces", "leave", "B-2", "2", "--as", "sale"])["left"], 1);
    let list = workshop.done(&["pieces", "list"]);
    assert!(list.starts_with("1 piece of 1 batch on the shelves.\n") && !list.contains("quarantine"), "{list}");
}

#[test]
fn rejected_pieces_are_only_thrown_away() {
    let workshop = small::workshop();
    assert!(workshop.refused(2, &["pieces", "reject", "B-2"]).contains("--reason is missing"));
    workshop.done(&["pieces", "reject", "B-2", "--reason", "rancid oil"]);
    let said = workshop.refused(2, &["pieces", "leave", "B-2", "1", "--as", "sale"]);
    assert!(said.contains("the pieces of batch B-2 are rejected: they leave as waste only"), "{said}");
    for again in ["hold", "release"] {
        let said = workshop.refused(2, &["pieces", again, "B-2", "--reason", "after all", "--by", "Ilse"]);
        assert!(said.contains("are rejected"), "{said}");
    }
    workshop.done(&["pieces", "leave", "B-2", "4", "--as", "waste", "--reason", "rancid oil"]);
    // A premix becomes a lot: it has no pieces to hold back.
    let said = workshop.refused(2, &["pieces", "hold", "B-1", "--reason", "x"]);
    assert!(said.contains("there is no batch of finished pieces B-1"), "{said}");
}

#[test]
fn a_recall_sees_what_is_held_back() {
    let workshop = small::workshop();
    workshop.done(&["pieces", "hold", "B-2", "--reason", "lot X-17 is called back"]);
    let traced = workshop.json(&["trace", "X-17"]);
    let salve = traced["batches"].as_array().unwrap().iter().find(|batch| batch["batch"] == "B-2").unwrap();
    assert_eq!(salve["state"], "quarantine");
    let words = workshop.done(&["trace", "X-17", "--html", "recall.html"]);
    assert!(words.contains("4 (in quarantine)") && words.contains("`stillroom pieces hold BATCH`"), "{words}");
    let sheet = std::fs::read_to_string(workshop.path("recall.html")).unwrap();
    assert!(sheet.contains("What is here is in quarantine."), "{sheet}");
}

#[test]
fn holding_back_is_undone_unless_something_builds_on_it() {
    let workshop = small::workshop();
    workshop.done(&["pieces", "leave", "B-2", "1", "--as", "sale", "--reason", "fair"]);
    workshop.done(&["act", "undo"]);
    workshop.done(&["pieces", "hold", "B-2", "--reason", "set too soft"]);
    // The sale cannot be done again while the pieces are held back.
    let acts = workshop.json(&["act", "list"]);
    let undone = acts["acts"].as_array().unwrap().iter().find(|act| act["kind"] == "undo").unwrap()["act"].to_string();
    let said = workshop.refused(2, &["act", "undo", &undone]);
    assert!(said.contains("the pieces of batch B-2 are held back now"), "{said}");
    workshop.done(&["pieces", "release", "B-2", "--reason", "firm", "--by", "Ada"]);
    let release = workshop.json(&["act", "list"])["acts"][0]["act"].to_string();
    workshop.done(&["pieces", "leave", "B-2", "1", "--as", "sale"]);
    let said = workshop.refused(2, &["act", "undo", &release]);
    assert!(said.contains("pieces of batch B-2 have left since: undo act"), "{said}");
    workshop.done(&["act", "undo"]);
    workshop.done(&["act", "undo", &release]);
    assert_eq!(state(&workshop), "quarantine");
    workshop.done(&["act", "undo"]);
    assert_eq!(state(&workshop), "released");
}

#[test]
fn what_is_held_back_comes_back_from_an_export_and_an_old_file_releases_nothing() {
    let workshop = small::workshop();
    workshop.done(&["export", "before"]);
    workshop.done(&["pieces", "hold", "B-2", "--reason", "set too soft", "--by", "Ilse"]);
    workshop.done(&["export", "after"]);
    workshop.done(&["import", "before"]);
    assert_eq!(state(&workshop), "quarantine");
    let other = Workshop::empty();
    other.done(&["import", workshop.path("after").to_str().unwrap()]);
    assert_eq!(state(&other), "quarantine");
    let act = other.json(&["act", "list"])["acts"][0].clone();
    assert_eq!((&act["kind"], &act["who"]), (&json!("pieces-hold"), &json!("Ilse")));
    // The store that has the file of before takes the newer one in as well.
    let old = Workshop::empty();
    old.done(&["import", workshop.path("before").to_str().unwrap()]);
    old.done(&["import", workshop.path("after").to_str().unwrap()]);
    assert_eq!(state(&old), "quarantine");
    let wrong = old.file(
        "wrong/changes.csv",
        "change,act,what,code,part,field,before,after,who,reason\n99,1,batch,B-2,,state,released,sold,,\n",
    );
    assert!(old.refused(2, &["import", &wrong]).contains("column after"), "a state is one of three words");
}

#[test]
fn every_act_can_say_who_did_it() {
    let workshop = Workshop::example();
    let acts: [&[&str]; 18] = [
        &["lot", "open", "L2701-19"],
        &["lot", "release", "L2702-15", "--reason", "papers"],
        &["lot", "reject", "L2606-1", "--reason", "rancid"],
        &["lot", "retest", "L2606-2", "--passed", "2027-05-01", "--reason", "smell"],
        &["lot", "move", "L2701-1", "top shelf"],
        &["lot", "write-off", "L2701-4", "--amount", "1 g", "--reason", "spilled"],
        &["lot", "return", "L2701-9", "--amount", "1 kg", "--reason", "lumpy"],
        &["lot", "decant", "L2702-7", "1 kg"],
        &["receive", "--material", "olive-oil", "--amount", "1 kg", "--cost", "9"],
        &["count", "L2611-4", "639 pcs", "--reason", "recount"],
        &["make", "E01", "--as-planned"],
        &["pieces", "leave", "B-2027-0001", "1", "--as", "sample"],
        &["pieces", "count", "B-2027-0001", "98", "--reason", "one broken"],
        &["pieces", "hold", "B-2027-0001", "--reason", "soft"],
        &["order", "place", "dunmarch"],
        &["plan", "add", "bath-salt", "6 pcs", "--make-on", "2027-05-03"],
        &["wish", "exclude", "thyrefjord"],
        &["formula", "revise", "shea-whip", "--reason", "less oil"],
    ];
    for words in acts {
        workshop.done(&[words, &["--by", "Ada Lune"]].concat());
        let act = workshop.json(&["act", "list", "--last", "1"])["acts"][0].clone();
        assert_eq!(act["who"], "Ada Lune", "{words:?}: {act}");
    }
    workshop.done(&["act", "undo", "--by", "Ilse"]);
    assert_eq!(workshop.json(&["act", "list", "--last", "1"])["acts"][0]["who"], "Ilse");
    assert_eq!(workshop.json(&["batch", "show", "B-2027-0001"])["weighed_by"], "Ada Lune");
    let list = workshop.done(&["act", "list"]);
    assert!(list.contains("About") && list.contains("By") && list.contains("Ada Lune"), "{list}");
    let said = workshop.refused(2, &["lot", "open", "L2701-9", "--by", " "]);
    assert!(said.contains("--by is empty"), "{said}");
    // Where nobody is named, no column is spent on it.
    assert!(!Workshop::example().done(&["act", "list"]).contains("By"));
}
