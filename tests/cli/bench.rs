//! At the bench: lots through their lives, stocktakes, batches as they really went, finished pieces, and taking back.

use crate::workshop::Workshop;
use serde_json::Value;

fn lot(workshop: &Workshop, code: &str) -> Value {
    workshop.json(&["lot", "show", code])
}

fn on_hand(workshop: &Workshop, code: &str) -> i64 {
    lot(workshop, code)["on_hand"].as_i64().unwrap()
}

#[test]
fn a_lot_is_checked_opened_moved_shared_out_and_thrown_away() {
    let workshop = Workshop::example();
    let came = workshop.json(&[
        "receive",
        "--material",
        "olive-oil",
        "--amount",
        "2 kg",
        "--cost",
        "24.00",
        "--quarantine",
        "--supplier-lot",
        "X7",
    ]);
    let code = came["lots"][0]["lot"].as_str().unwrap().to_owned();
    assert_eq!(lot(&workshop, &code)["state"], "quarantine");
    let said = workshop.refused(2, &["lot", "release", &code]);
    assert!(said.contains("--by is missing"), "{said}");
    workshop.done(&["lot", "release", &code, "--by", "Tomas", "--reason", "smell and colour"]);
    assert_eq!(lot(&workshop, &code)["state"], "released");
    workshop.done(&["lot", "open", &code]);
    assert_eq!(lot(&workshop, &code)["opened"], "2027-03-01");
    workshop.done(&["lot", "move", &code, "shelf Z9"]);
    assert_eq!(lot(&workshop, &code)["place"], "shelf Z9");
    workshop.done(&["lot", "retest", &code, "--passed", "2028-01-31", "--by", "Ilse", "--reason", "peroxide value"]);
    assert_eq!(lot(&workshop, &code)["best_before"], "2028-01-31");

    workshop.done(&["lot", "decant", &code, "500 g", "--into", "JAR"]);
    assert_eq!((on_hand(&workshop, &code), on_hand(&workshop, "JAR")), (1_500_000, 500_000));
    let costs = [&code, "JAR"].map(|code| lot(&workshop, code)["cost"].as_str().unwrap().to_owned());
    assert_eq!(costs, ["18.00", "6.00"]);
    let said = workshop.refused(2, &["lot", "write-off", "JAR"]);
    assert!(said.contains("--reason is missing"), "{said}");
    workshop.done(&["lot", "write-off", "JAR", "--amount", "100 g", "--reason", "spilled"]);
    assert_eq!(on_hand(&workshop, "JAR"), 400_000);
    let said = workshop.refused(2, &["lot", "return", "JAR", "--reason", "wrong grade"]);
    assert!(said.contains("supplier"), "{said}");
    workshop.done(&["lot", "reject", "JAR", "--reason", "wrong grade"]);
    assert_eq!(lot(&workshop, "JAR")["state"], "rejected");
    workshop.done(&["act", "undo"]);
    assert_eq!(lot(&workshop, "JAR")["state"], "released");
    // An old file without a state does not release what was rejected since.
    workshop.done(&["act", "undo"]);
    assert_eq!(on_hand(&workshop, "JAR"), 500_000);
}

#[test]
fn an_act_that_others_build_on_is_not_taken_back() {
    let workshop = Workshop::example();
    let came = workshop.json(&["receive", "--material", "olive-oil", "--amount", "1 kg", "--cost", "9"]);
    let code = came["lots"][0]["lot"].as_str().unwrap().to_owned();
    workshop.done(&["lot", "write-off", &code, "--reason", "rancid"]);
    let acts = workshop.json(&["act", "list"]);
    let receipt = acts["acts"].as_array().unwrap().iter().find(|act| act["kind"] == "receive").unwrap();
    let number = receipt["act"].as_i64().unwrap().to_string();
    let said = workshop.refused(2, &["act", "undo", &number]);
    assert!(said.contains("cannot be undone") && said.contains("undo act"), "{said}");
    workshop.done(&["act", "undo"]);
    workshop.done(&["act", "undo", &number]);
    assert_eq!(on_hand(&workshop, &code), 0);
}

#[test]
fn a_rejected_lot_stays_rejected_when_the_old_file_comes_again() {
    let workshop = Workshop::example();
    workshop.done(&["lot", "reject", "L2606-1", "--reason", "rancid"]);
    let files = format!("{}/examples/workshop/lots.csv", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(files).unwrap().replace(",released,", ",,");
    let old = workshop.file("old/lots.csv", &text);
    workshop.done(&["import", &old]);
    assert_eq!(lot(&workshop, "L2606-1")["state"], "rejected");
}

#[test]
fn a_filled_counting_sheet_writes_all_differences_as_one_act() {
    let workshop = Workshop::example();
    workshop.done(&["stocktake", "sheet", "--csv", "count.csv"]);
    let sheet = std::fs::read_to_string(workshop.path("count.csv")).unwrap();
    let filled: Vec<String> = sheet
        .lines()
        .map(|line| match line.split(',').next().unwrap() {
            "L2606-1" => format!("{}1400", line.trim_end_matches('\r')),
            "L2605-2" => format!("{}620", line.trim_end_matches('\r')),
            _ => line.trim_end_matches('\r').to_owned(),
        })
        .collect();
    let file = workshop.file("filled.csv", &filled.join("\n"));
    let said = workshop.refused(2, &["stocktake", "enter", &file]);
    assert!(said.contains("--reason is missing"), "{said}");
    let entered = workshop.json(&["stocktake", "enter", &file, "--reason", "spring stocktake"]);
    assert_eq!((&entered["counted"], &entered["written"]), (&Value::from(2), &Value::from(true)));
    let differences = entered["differences"].as_array().unwrap();
    assert_eq!((differences.len(), &differences[0]["lot"]), (1, &Value::from("L2606-1")));
    // 1,468.8 g were there.
    assert_eq!(differences[0]["difference"], -68_800);
    assert_eq!(on_hand(&workshop, "L2606-1"), 1_400_000);
    workshop.done(&["act", "undo"]);
    assert_eq!(on_hand(&workshop, "L2606-1"), 1_468_800);
    let wrong = workshop.file("wrong.csv", "lot,unit,counted\nNOWHERE,g,5\nL2606-1,g,many\n");
    let said = workshop.refused(2, &["stocktake", "enter", &wrong, "--reason", "x"]);
    assert!(said.contains("wrong.csv, row 2, column lot") && said.contains("row 3, column counted"), "{said}");
}

#[test]
fn a_batch_is_written_down_as_it_went() {
    let workshop = Workshop::example();
    let asked = workshop.json(&["allocate", "--why", "E01"]);
    let draw = &asked["draws"][0];
    let (code, target) = (draw["lot"].as_str().unwrap(), draw["amount"].as_i64().unwrap());
    let more = format!("{code}={} mg", target + target / 10);
    let said = workshop.refused(2, &["make", "E01", "--took", &more]);
    assert!(said.contains("--reason is missing") && said.contains("differ"), "{said}");
    let before = on_hand(&workshop, code);
    let made =
        workshop.json(&["make", "E01", "--took", &more, "--reason", "hand slipped", "--by", "Ilse", "--pieces", "97"]);
    let batch = made["batch"].as_str().unwrap();
    let shown = workshop.json(&["batch", "show", batch]);
    assert_eq!(shown["pieces"], 97);
    let drawn = made["draws"].as_array().unwrap().iter().find(|draw| draw["lot"] == code).unwrap();
    assert_eq!(on_hand(&workshop, code), before - drawn["amount"].as_i64().unwrap());
    assert!(drawn["amount"].as_i64().unwrap() >= target + target / 10);
    // 100 pcs x 4.5 g / (1 - 4 %) = 468.75 g, and a tenth of one line more.
    assert_eq!(shown["weighed_mass"], 468_750 + target / 10);
    workshop.done(&["act", "undo"]);
    assert_eq!(on_hand(&workshop, code), before);
    let said = workshop.refused(2, &["make", "E01", "--pieces", "100000"]);
    assert!(said.contains("cannot be"), "{said}");
}

#[test]
fn part_of_an_entry_a_test_batch_and_a_premix_for_the_shelf() {
    let workshop = Workshop::example();
    let planned = |code: &str| {
        let plan = workshop.json(&["plan", "list"]);
        let entry = plan["entries"].as_array().unwrap().iter().find(|entry| entry["entry"] == code).cloned();
        entry.map(|entry| entry["pieces"].as_i64().unwrap())
    };
    assert_eq!(planned("E01"), Some(100));
    workshop.done(&["make", "E01", "--amount", "30 pcs", "--part"]);
    assert_eq!(planned("E01"), Some(70));
    let test = workshop.json(&["make", "--product", "lip-balm-plain", "--amount", "6 pcs"]);
    assert_eq!((&test["entry"], &test["pieces"]), (&Value::from(""), &Value::from(6)));
    let premix = workshop.json(&["make", "--premix", "lavender-blend", "--amount", "20 g", "--place", "fridge"]);
    let code = premix["lot"].as_str().unwrap();
    assert_eq!((on_hand(&workshop, code), &lot(&workshop, code)["place"]), (20_000, &Value::from("fridge")));
    let back = workshop.json(&["trace", code]);
    assert!(!back["also"]["lots"].as_array().unwrap().is_empty(), "{back}");
    assert!(workshop.refused(2, &["make", "--premix", "lavender-blend"]).contains("--amount"));
}

#[test]
fn pieces_leave_and_are_counted() {
    let workshop = Workshop::example();
    let made = workshop.json(&["make", "E01"]);
    let batch = made["batch"].as_str().unwrap();
    workshop.done(&["pieces", "leave", batch, "12", "--as", "sale", "--reason", "spring market"]);
    let said = workshop.refused(2, &["pieces", "leave", batch, "1", "--as", "waste"]);
    assert!(said.contains("reason"), "{said}");
    workshop.done(&["pieces", "leave", batch, "1", "--as", "waste", "--reason", "broken"]);
    let said = workshop.refused(2, &["pieces", "leave", batch, "100", "--as", "gift"]);
    assert!(said.contains("87"), "{said}");
    workshop.done(&["pieces", "count", batch, "86", "--reason", "one is gone"]);
    let left = workshop.json(&["pieces", "list"]);
    assert_eq!(left["batches"][0]["left"], 86);
    workshop.done(&["act", "undo"]);
    assert_eq!(workshop.json(&["pieces", "list"])["batches"][0]["left"], 87);
}

#[test]
fn what_is_late_is_ordered_once() {
    let workshop = Workshop::example();
    workshop.done(&["order", "place"]);
    let said = workshop.refused(2, &["order", "place"]);
    assert!(said.contains("no order is due today"), "{said}");
    let reorder = workshop.json(&["reorder"]);
    let late = &reorder["late"][0];
    assert_eq!((&late["material"], &late["on_order"][0]), (&Value::from("mango-butter"), &Value::from("O-2027-0001")));
}

#[test]
fn postage_and_duty_are_shared_over_the_lots_of_a_parcel() {
    let workshop = Workshop::example();
    let received = workshop.json(&["receive", "B2027-09", "--postage-and-duty", "3.15"]);
    let lots = received["lots"].as_array().unwrap();
    let costs: Vec<&str> = lots.iter().map(|lot| lot["cost"].as_str().unwrap()).collect();
    // Castor oil 4.70 and coconut oil 26.80 of 31.50: 3.15 is a tenth of that, so 0.47 and 2.68.
    assert_eq!(costs, ["5.17", "29.48"]);
}
