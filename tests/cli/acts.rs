//! What the maker does: orders, parcels, the plan, batches and counts, each seen again in the answers.

use crate::workshop::{FIRST_DAY, Workshop};
use serde_json::Value;

fn shortages_of(forecast: &Value, material: &str) -> i64 {
    let shortages = forecast["shortages"].as_array().unwrap().iter();
    shortages
        .filter(|shortage| shortage["material"] == material)
        .map(|shortage| shortage["short"].as_i64().unwrap())
        .sum()
}

fn on_hand(workshop: &Workshop, material: &str) -> i64 {
    let stock = workshop.json(&["stock"]);
    let lots = stock["lots"].as_array().unwrap().iter();
    lots.filter(|lot| lot["material"] == material).map(|lot| lot["on_hand"].as_i64().unwrap()).sum()
}

#[test]
fn an_order_is_placed_comes_in_part_and_the_rest_is_cancelled() {
    let workshop = Workshop::example();
    assert_eq!(shortages_of(&workshop.json(&["forecast"]), "epsom-salt"), 2_923_853);
    let placed = workshop.json(&["order", "place", "saltmarrow"]);
    let order = placed["orders"][0]["order"].as_str().unwrap().to_owned();
    assert_eq!(order, "O-2027-0001");
    assert_eq!(shortages_of(&workshop.json(&["forecast"]), "epsom-salt"), 0);
    let proposal = workshop.json(&["reorder"]);
    assert!(proposal["orders"].as_array().unwrap().iter().all(|order| order["supplier"] != "saltmarrow"));

    let open = workshop.json(&["order", "list"]);
    let lines: Vec<&Value> = open["orders"].as_array().unwrap().iter().filter(|line| line["order"] == *order).collect();
    assert!(!lines.is_empty());
    let before = on_hand(&workshop, "epsom-salt");
    let pack = lines[0]["pack"].as_str().unwrap();
    let material = lines[0]["material"].as_str().unwrap();
    assert_eq!(material, "epsom-salt");
    let received = workshop.json(&[
        "receive",
        &order,
        "--material",
        material,
        "--pack",
        pack,
        "--packs",
        "1",
        "--place",
        "shelf A1",
        "--best-before",
        "2029-01-31",
    ]);
    let came = received["lots"][0]["amount"].as_i64().unwrap();
    assert_eq!(on_hand(&workshop, "epsom-salt"), before + came);
    workshop.done(&["order", "cancel", &order]);
    let open = workshop.json(&["order", "list"]);
    assert!(open["orders"].as_array().unwrap().iter().all(|line| line["order"] != *order));
    assert!(workshop.refused(2, &["order", "cancel", &order]).contains(&order));
}

#[test]
fn a_parcel_in_quarantine_is_no_stock_yet() {
    let workshop = Workshop::example();
    let before = workshop.json(&["forecast"]);
    workshop.done(&["receive", "--material", "mango-butter", "--amount", "2 kg", "--cost", "0", "--quarantine"]);
    assert_eq!(shortages_of(&workshop.json(&["forecast"]), "mango-butter"), shortages_of(&before, "mango-butter"));
    workshop.done(&["receive", "--material", "mango-butter", "--amount", "2 kg", "--cost", "31.50"]);
    assert_eq!(shortages_of(&workshop.json(&["forecast"]), "mango-butter"), 0);
}

/// Who does not know that it is here already orders it twice; and a recall begins from the supplier's name and number.
#[test]
fn what_waits_in_quarantine_is_told_where_it_would_be_bought_again() {
    let workshop = Workshop::empty();
    let files = [
        ("materials", "code,name\noil,Olive oil\n"),
        ("suppliers", "code,name,currency,lead_time_days\nmill,Old Mill,EUR,3\n"),
        ("offers", "supplier,material,pack,price\nmill,oil,1 kg,9\n"),
        ("formulas", "formula,ingredient,percent\nbody-oil,oil,100\n"),
        ("products", "code,name,formula,net_mass\nbottle,Body oil,body-oil,50 g\n"),
        ("plan", "entry,product,amount,make_on\nE1,bottle,10 pcs,2027-03-10\n"),
    ];
    for (name, text) in files {
        workshop.file(&format!("files/{name}.csv"), text);
    }
    workshop.done(&["import", "files"]);
    workshop.done(&["order", "place", "mill"]);
    workshop.done(&["receive", "old mill", "--supplier-lot", "OM-7", "--quarantine"]);
    let list = workshop.json(&["reorder"]);
    assert_eq!(list["orders"][0]["lines"][0]["material"], "oil");
    assert_eq!(
        (&list["findings"][0]["kind"], &list["findings"][0]["subject"]),
        (&"quarantine".into(), &"L-0001".into())
    );
    let refused = workshop.run_on(FIRST_DAY, &["make", "E1"]);
    assert_eq!(refused.status, 2);
    assert!(refused.err.contains("500 g of Olive oil is short (in quarantine: L-0001)"), "{}", refused.err);
    workshop.done(&["lot", "release", "L-0001", "--by", "Ilse", "--reason", "papers and smell"]);
    let list = workshop.json(&["reorder"]);
    assert_eq!(
        (list["orders"].as_array().unwrap().len(), list["findings"].as_array().unwrap().len()),
        (0, 0),
        "{list}"
    );
    let traced = workshop.run_on(FIRST_DAY, &["trace", "OM-7"]).out;
    assert!(traced.contains("`stillroom lot reject L-0001` keeps the rest from being used"), "{traced}");
    workshop.done(&["lot", "reject", "L-0001", "--reason", "recalled"]);
    assert!(!workshop.run_on(FIRST_DAY, &["trace", "OM-7"]).out.contains("lot reject"));
}

#[test]
fn the_plan_grows_moves_and_shrinks() {
    let workshop = Workshop::example();
    let added = workshop.json(&["plan", "add", "lip-balm-plain", "50 pcs", "--make-on", "2027-05-03"]);
    let entry = added["entries"][0]["entry"].as_str().unwrap().to_owned();
    assert_eq!(workshop.json(&["forecast"])["through"], "2027-05-03");
    let repeated = workshop.json(&["plan", "repeat", &entry, "--every", "two-weeks", "--times", "3"]);
    let days: Vec<&str> =
        repeated["entries"].as_array().unwrap().iter().map(|row| row["day"].as_str().unwrap()).collect();
    assert_eq!(days, ["2027-05-17", "2027-05-31", "2027-06-14"]);
    let last = repeated["entries"][2]["entry"].as_str().unwrap().to_owned();
    workshop.done(&["plan", "move", &last, "--make-on", "2027-06-21"]);
    assert_eq!(workshop.json(&["forecast"])["through"], "2027-06-21");
    for entry in repeated["entries"].as_array().unwrap().iter().chain([&added["entries"][0]]) {
        workshop.done(&["plan", "drop", entry["entry"].as_str().unwrap()]);
    }
    assert_eq!(workshop.json(&["forecast"])["through"], "2027-04-29");
}

#[test]
fn months_end_on_their_last_day() {
    let workshop = Workshop::example();
    let added =
        workshop.json(&["plan", "add", "lip-balm-plain", "5 pcs", "--make-on", "2027-12-31", "--entry", "year-end"]);
    assert_eq!(added["entries"][0]["entry"], "year-end");
    let repeated = workshop.json(&["plan", "repeat", "year-end", "--every", "month", "--until", "2028-03-31"]);
    let days: Vec<&str> =
        repeated["entries"].as_array().unwrap().iter().map(|row| row["day"].as_str().unwrap()).collect();
    assert_eq!(days, ["2028-01-31", "2028-02-29", "2028-03-31"]);
}

#[test]
fn a_batch_takes_what_the_allocation_says() {
    let workshop = Workshop::example();
    let allocated = workshop.json(&["allocate", "--why", "E01"]);
    let planned: i64 = allocated["draws"].as_array().unwrap().iter().map(|draw| draw["amount"].as_i64().unwrap()).sum();
    let batch = workshop.json(&["make", "E01", "--pieces", "98"]);
    let taken: i64 = batch["draws"].as_array().unwrap().iter().map(|draw| draw["amount"].as_i64().unwrap()).sum();
    assert_eq!(taken, planned);
    assert_eq!((&batch["batch"], &batch["pieces"]), (&Value::from("B-2027-0001"), &Value::from(98)));
    assert!(workshop.refused(2, &["make", "E01"]).contains("E01"));
    let listed = workshop.json(&["plan", "list"]);
    assert!(listed["entries"].as_array().unwrap().iter().all(|entry| entry["entry"] != "E01"));
}

#[test]
fn what_is_short_cannot_be_made() {
    let workshop = Workshop::example();
    let before = workshop.json(&["stock"]);
    let said = workshop.refused(2, &["make", "E09"]);
    assert!(said.contains("390.7 g of Mango butter is short"), "{said}");
    assert_eq!(workshop.json(&["stock"]), before);
}

#[test]
fn a_count_puts_the_lot_right() {
    let workshop = Workshop::example();
    let counted = workshop.json(&["count", "L2606-1", "1400 g", "--reason", "spilled while pouring"]);
    assert_eq!(counted["counted"], 1_400_000);
    let stock = workshop.json(&["stock"]);
    let lot = stock["lots"].as_array().unwrap().iter().find(|lot| lot["lot"] == "L2606-1").unwrap();
    assert_eq!(lot["on_hand"], 1_400_000);
}

#[test]
fn the_letter_lies_in_the_outbox_beside_the_store() {
    let workshop = Workshop::example();
    let said = workshop.json(&["mail", "reorder", "--to", "ilse@tansy-quay.example"]);
    let file = workshop.path(said["file"].as_str().unwrap());
    assert!(file.ends_with("outbox/2027-03-01-reorder.eml"), "{}", file.display());
    let bytes = std::fs::read(file).unwrap();
    let letter = mail_parser::MessageParser::default().parse(&bytes).unwrap();
    assert_eq!(letter.to().unwrap().first().unwrap().address(), Some("ilse@tansy-quay.example"));
    assert!(letter.subject().unwrap().contains("1 late"), "{:?}", letter.subject());
    assert!(letter.body_text(0).unwrap().contains("Mango butter"));
    assert!(letter.body_html(0).unwrap().contains("Mango butter"));
    assert_eq!(letter.attachment_count(), 2);
}
