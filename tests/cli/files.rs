//! Files in and out: what is imported is exported, twice is once, a dry run is dry.

use crate::workshop::Workshop;
use std::collections::BTreeMap;
use std::path::Path;

fn contents(folder: &Path) -> BTreeMap<String, String> {
    let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let name = |path: &Path| path.file_name().unwrap().to_str().unwrap().to_owned();
    files.map(|path| (name(&path), std::fs::read_to_string(&path).unwrap())).collect()
}

fn example_files() -> String {
    format!("{}/examples/workshop", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn a_second_import_changes_nothing() {
    let workshop = Workshop::example();
    let before = workshop.json(&["stock"]);
    let again = workshop.json(&["import", &example_files()]);
    assert_eq!(again["changes"], serde_json::json!([]));
    assert_eq!(workshop.json(&["stock"]), before);
}

#[test]
fn a_dry_run_writes_nothing() {
    let workshop = Workshop::empty();
    let said = workshop.json(&["import", "--dry-run", &example_files()]);
    assert_eq!(said["written"], false);
    assert!(said["changes"].as_array().unwrap().len() > 400);
    assert!(!workshop.path("workshop.sqlite").exists());
}

#[test]
fn what_was_exported_imports_into_an_equal_workshop() {
    let workshop = Workshop::example();
    workshop.done(&["make", "E01"]);
    workshop.done(&["order", "place", "dunmarch"]);
    workshop.done(&["receive", "B2027-07"]);
    workshop.done(&["count", "L2606-1", "1.4 kg", "--reason", "spilled"]);
    workshop.done(&["plan", "drop", "E55"]);
    workshop.done(&["export", "out"]);
    let copy = Workshop::empty();
    copy.done(&["import", workshop.path("out").to_str().unwrap()]);
    copy.done(&["export", "out"]);
    let (first, second) = (contents(&workshop.path("out")), contents(&copy.path("out")));
    assert!(first.len() >= 15, "{:?}", first.keys());
    for (name, text) in &first {
        assert_eq!(Some(text), second.get(name), "{name}");
    }
    for question in [&["forecast"][..], &["stock"], &["expiring"]] {
        assert_eq!(workshop.json(question), copy.json(question), "{question:?}");
    }
}

#[test]
fn an_export_does_not_write_over_files_unless_asked() {
    let workshop = Workshop::example();
    workshop.done(&["export", "out"]);
    let said = workshop.refused(2, &["export", "out"]);
    assert!(said.contains("is there already") && said.contains("--overwrite"), "{said}");
    workshop.done(&["export", "out", "--overwrite"]);
}

#[test]
fn a_lot_that_was_drawn_from_keeps_its_ledger() {
    let workshop = Workshop::example();
    let batch = workshop.json(&["make", "E01"]);
    let drawn = batch["draws"][0]["lot"].as_str().unwrap();
    let before = workshop.json(&["stock"]);
    let again = workshop.json(&["import", &example_files()]);
    assert_eq!(again["changes"], serde_json::json!([]), "the same files change nothing after a batch either");
    assert_eq!(workshop.json(&["stock"]), before);
    let lots = std::fs::read_to_string(format!("{}/lots.csv", example_files())).unwrap();
    let row = lots.lines().position(|line| line.starts_with(&format!("{drawn},"))).unwrap();
    let line = lots.lines().nth(row).unwrap();
    let amount = line.split(',').nth(2).unwrap();
    let changed = workshop.file("changed/lots.csv", &lots.replace(line, &line.replacen(amount, "9.9 kg", 1)));
    let said = workshop.refused(2, &["import", &changed]);
    let place = format!("lots.csv, row {}, column amount", row + 1);
    assert!(said.contains(&place) && said.contains("stillroom count"), "{said}");
    assert_eq!(workshop.json(&["stock"]), before);
}

#[test]
fn bands_of_postage_of_the_other_kind_take_the_place_of_the_old() {
    let workshop = Workshop::empty();
    let suppliers = workshop.file("suppliers.csv", "code,name,currency,lead_time_days\nhill,Hill,EUR,3\n");
    let by_value = workshop.file("a/postage.csv", "supplier,by,from,fee\nhill,value,0,5.00\nhill,value,50,0\n");
    workshop.done(&["import", &suppliers, &by_value]);
    let by_weight =
        workshop.file("b/postage.csv", "supplier,by,from,fee\nhill,weight,0 g,4.00\nhill,weight,5 kg,9.00\n");
    workshop.done(&["import", &by_weight]);
    workshop.done(&["export", "out"]);
    let postage = std::fs::read_to_string(workshop.path("out/postage.csv")).unwrap();
    let bands: Vec<&str> = postage.lines().skip(1).collect();
    assert_eq!(bands, ["hill,weight,0 g,4.00", "hill,weight,5 kg,9.00"]);
}

#[test]
fn a_density_that_is_put_right_changes_what_a_litre_weighs() {
    let workshop = Workshop::empty();
    workshop.file("all/materials.csv", "code,name,density\noil,Oil,0.912\n");
    workshop.file("all/suppliers.csv", "code,name,currency,lead_time_days\nhill,Hill,EUR,3\n");
    workshop.file("all/offers.csv", "supplier,material,pack,price\nhill,oil,1 l,9.00\n");
    workshop.done(&["import", "all"]);
    let right = workshop.file("right/materials.csv", "code,name,density\noil,Oil,0.91\n");
    workshop.done(&["import", &right]);
    workshop.done(&["export", "out"]);
    let offers = std::fs::read_to_string(workshop.path("out/offers.csv")).unwrap();
    assert!(offers.lines().nth(1).unwrap().starts_with("hill,oil,1 l,9.00"), "{offers}");
    assert_eq!(workshop.json(&["import", &right])["changes"], serde_json::json!([]));
}

#[test]
fn nothing_of_a_long_import_shows_where_nobody_looks_on() {
    let workshop = Workshop::example();
    let lots: String =
        (0..3_000).map(|number| format!("K{number},beeswax,{} g,2027-02-01\n", number % 90 + 10)).collect();
    let file = workshop.file("lots.csv", &format!("lot,material,amount,received\n{lots}"));
    // That nothing stands on standard error is asked of every command.
    let said = workshop.done(&["import", &file]);
    assert!(said.starts_with("lots        3000 new,"), "{said}");
    assert!(!said.contains('\u{1b}') && !said.contains("Writing"), "{said}");
}
