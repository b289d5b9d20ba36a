//! The maker's hand: wishes, what is due, late entries that could move, a list that stays, lead times that are learned.

use crate::workshop::{FIRST_DAY, Workshop};
use serde_json::{Value, json};

fn texts<'a>(list: &'a Value, key: &str) -> Vec<&'a str> {
    list.as_array().unwrap().iter().map(|each| each[key].as_str().unwrap()).collect()
}

#[test]
fn what_is_late_says_from_whom_at_which_price_and_who_could_move() {
    let workshop = Workshop::example();
    let list = workshop.json(&["reorder"]);
    let late = &list["late"][0];
    assert_eq!(late["material"], "mango-butter");
    let offer = &late["soonest_offer"];
    assert_eq!(
        (offer["supplier"].as_str(), offer["arrives_on"].as_str()),
        (Some("bushel-and-pound"), Some("2027-03-17"))
    );
    // 6.85 GBP and 6.5 % duty (0.45) at 1.1719: 8.555 EUR. 18.50 GBP postage: 21.68 EUR.
    assert_eq!((offer["landed"].as_str(), offer["postage_alone"].as_str()), (Some("8.56"), Some("21.68")));
    assert_eq!(late["could_move"][0]["entry"], "E09");
    let moves = &list["moves"];
    assert_eq!((moves["whole"].as_bool(), moves["proven"].as_bool()), (Some(true), Some(true)));
    assert_eq!(texts(&moves["moves"], "entry"), ["E09"]);
    // The move does what it says.
    let option: Vec<&str> = moves["moves"][0]["option"].as_str().unwrap().split(' ').collect();
    workshop.done(&["plan", "move", "E09", option[0], option[1]]);
    let whole = workshop.json(&["reorder"]);
    assert_eq!(whole["late"].as_array().unwrap().len(), 0);
    assert!(whole["moves"].is_null());
}

#[test]
fn wishes_are_kept_for_every_list_until_they_are_lifted() {
    let workshop = Workshop::example();
    assert_eq!(
        workshop.done(&["wish", "list"]),
        "No wish is kept. `stillroom wish exclude|pin|prefer|budget` keeps one.\n"
    );
    let before = workshop.json(&["reorder"]);
    assert!(texts(&before["orders"], "supplier").contains(&"greyfell"));
    let kept = workshop.done(&["wish", "exclude", "greyfell", "--reason", "they closed"]);
    assert!(kept.starts_with("Kept as W-0001: nothing from Greyfell Botanicals.\n"), "{kept}");
    let after = workshop.json(&["reorder"]);
    assert!(!texts(&after["orders"], "supplier").contains(&"greyfell"));
    assert_eq!(after["wishes"][0]["what"], "nothing from Greyfell Botanicals");
    // Letters and orders heed it too; a list may leave it out.
    let letter = workshop.json(&["mail", "reorder", "--to", "ilse@tansy-quay.example"]);
    let letter = std::fs::read_to_string(workshop.path(letter["file"].as_str().unwrap())).unwrap();
    assert!(!letter.contains("hello@greyfell.example"), "{letter}");
    let without = workshop.json(&["reorder", "--without-wishes"]);
    assert!(texts(&without["orders"], "supplier").contains(&"greyfell"));
    // Export and import bring it to another store.
    workshop.done(&["export", "files-out"]);
    let written = std::fs::read_to_string(workshop.path("files-out/wishes.csv")).unwrap();
    assert!(written.ends_with("W-0001,exclude,greyfell,,,,,,,they closed,\r\n"), "{written}");
    let other = Workshop::empty();
    other.done(&["import", workshop.path("files-out").to_str().unwrap()]);
    let listed = other.json(&["wish", "list"]);
    let told = (listed["wishes"][0]["wish"].as_str(), listed["wishes"][0]["reason"].as_str());
    assert_eq!(told, (Some("W-0001"), Some("they closed")));
    // Lifted, and kept again by undoing that.
    workshop.done(&["wish", "lift", "w-0001"]);
    assert_eq!(workshop.json(&["wish", "list"])["wishes"].as_array().unwrap().len(), 0);
    assert!(texts(&workshop.json(&["reorder"])["orders"], "supplier").contains(&"greyfell"));
    workshop.done(&["act", "undo"]);
    assert_eq!(workshop.json(&["wish", "list"])["wishes"].as_array().unwrap().len(), 1);
}

#[test]
fn what_is_said_with_the_list_holds_for_it_alone() {
    let workshop = Workshop::example();
    let plain = workshop.done(&["reorder"]);
    let list = workshop.json(&["reorder", "--exclude", "epsom-salt"]);
    assert_eq!(list["left_out"], serde_json::json!(["epsom-salt"]));
    assert!(!texts(&list["orders"], "supplier").contains(&"saltmarrow"));
    let list = workshop.json(&["reorder", "--pin", "2027-03-01"]);
    assert!(texts(&list["orders"], "order_on").iter().all(|day| *day == "2027-03-01"));
    let list = workshop.json(&["reorder", "--prefer", "dunmarch=40"]);
    assert_eq!(list["wishes"][0]["what"], "Dunmarch Oils and Butters may cost 40 % more");
    let list = workshop.json(&["reorder", "--budget", "50", "--budget-through", "2027-03-07"]);
    let budget = &list["budget"];
    assert_eq!((budget["amount"].as_str(), budget["spent"].as_str()), (Some("50.00"), Some("0.00")));
    assert_eq!(texts(&budget["uncovered"], "material"), ["mango-butter"]);
    assert_eq!(budget["uncovered"][0]["entries"], serde_json::json!(["E09"]));
    let words = workshop.done(&["reorder", "--budget", "50", "--budget-through", "2027-03-07"]);
    assert!(words.contains("Not paid by the budget"), "{words}");
    assert_eq!(workshop.done(&["reorder"]), plain);
}

#[test]
fn only_what_is_due_and_the_rest_in_a_line() {
    let workshop = Workshop::example();
    let whole = workshop.json(&["reorder"]);
    let due = workshop.json(&["reorder", "--due"]);
    assert_eq!(texts(&due["orders"], "order_on"), ["2027-03-01"]);
    let (orders, waits) = (due["orders"].as_array().unwrap(), due["outlook"].as_array().unwrap());
    let all: Vec<&Value> = orders.iter().chain(waits).collect();
    assert_eq!(all, whole["orders"].as_array().unwrap().iter().collect::<Vec<_>>());
    let config = workshop.file("own.toml", "[reorder]\nnext_look_days = 30\n");
    let due = workshop.json(&["reorder", "--due", "--config", &config]);
    assert_eq!(texts(&due["orders"], "order_on"), ["2027-03-01", "2027-03-30"]);
    let later = workshop.done_on("2027-03-02", &["reorder", "--due"]);
    assert!(later.contains("\nCan wait\n- "), "{later}");
}

#[test]
fn the_list_stays_the_same_until_its_orders_are_placed() {
    let workshop = Workshop::example();
    let first = workshop.done(&["reorder"]);
    assert_eq!(workshop.done(&["reorder"]), first);
    let orders = |list: &Value| -> Vec<(String, String)> {
        let order = |order: &Value| (order["supplier"].to_string(), order["lines"].to_string());
        list["orders"].as_array().unwrap().iter().map(order).collect()
    };
    let today = orders(&workshop.json(&["reorder"]));
    workshop.done(&["order", "place"]);
    let rest = orders(&workshop.json(&["reorder"]));
    assert_eq!(rest, today[1..], "the placed order is gone, the others stay");
    let tomorrow = workshop.done_on("2027-03-02", &["reorder", "--json"]);
    let tomorrow = orders(&serde_json::from_str(&tomorrow).unwrap());
    assert_eq!(tomorrow, rest);
}

#[test]
fn reasons_of_an_order_and_offers_of_a_material() {
    let workshop = Workshop::example();
    let list = workshop.json(&["reorder", "--why", "rosehip-oil"]);
    let why = &list["orders"][0]["why"];
    assert_eq!(why["first_need"]["is_last_day"], true);
    assert!(why["without_supplier_costs_more"].as_str().unwrap().parse::<f64>().unwrap() >= 0.0);
    let offers = list["offers"].as_array().unwrap();
    assert!(offers.len() >= 2 && offers.iter().any(|offer| offer["on_list"] == true), "{offers:?}");
    let words = workshop.done(&["reorder", "--why", "rosehip-oil"]);
    assert!(words.contains("Offers\n") && words.contains("is the last day to order in time for"), "{words}");
}

#[test]
fn received_orders_teach_the_lead_time_and_order_days_follow_where_the_settings_say_so() {
    let workshop = Workshop::example();
    // Dunmarch states 5 days. Five orders of a Monday each took 6, 7, 8, 9 and 9 days.
    let mut orders = "order,supplier,material,pack,packs,placed,expected,price,packs_received\n".to_owned();
    let mut lots = "lot,material,amount,supplier,received,cost,order\n".to_owned();
    let days = [
        ("2026-11-02", "2026-11-08"),
        ("2026-11-09", "2026-11-16"),
        ("2026-11-16", "2026-11-24"),
        ("2026-11-23", "2026-12-02"),
        ("2026-11-30", "2026-12-09"),
    ];
    for (place, (placed, came)) in days.into_iter().enumerate() {
        orders.push_str(&format!("OLD-{place},dunmarch,coconut-oil,1 kg,1,{placed},{placed},6.40,1\n"));
        lots.push_str(&format!("OLD-{place},coconut-oil,1 g,dunmarch,{came},6.40,OLD-{place}\n"));
    }
    let (orders, lots) = (workshop.file("in/orders.csv", &orders), workshop.file("in/lots.csv", &lots));
    workshop.done(&["import", &orders, &lots]);
    let told = |arguments: &[&str]| {
        let list = workshop.json(&[&["supplier", "list"], arguments].concat());
        let suppliers = list["suppliers"].as_array().unwrap();
        suppliers.iter().find(|supplier| supplier["supplier"] == "dunmarch").unwrap().clone()
    };
    let stated = told(&[]);
    let figures = ["stated_days", "received_orders", "median_days", "high_days", "lead_time_days"];
    let numbers = |told: &Value| figures.map(|figure| told[figure].as_i64().unwrap());
    assert_eq!(numbers(&stated), [5, 5, 8, 9, 5]);
    let config = workshop.file("own.toml", "[reorder]\nlead_time = \"learned\"\n");
    assert_eq!(numbers(&told(&["--config", &config])), [5, 5, 8, 9, 9]);
    let more = workshop.file("more.toml", "[reorder]\nlead_time = \"learned\"\nlead_time_orders = 6\n");
    assert_eq!(numbers(&told(&["--config", &more])), [5, 5, 8, 9, 5]);
    // Orders there go out earlier, and the list says why.
    let list = workshop.json(&["reorder", "--pin", "dunmarch", "--config", &config]);
    let own = list["orders"].as_array().unwrap().iter().find(|order| order["supplier"] == "dunmarch").unwrap();
    assert_eq!((own["why"]["lead_time_days"].as_i64(), own["why"]["lead_time"].as_str()), (Some(9), Some("learned")));
    let words = workshop.done(&["reorder", "--pin", "dunmarch", "--config", &config]);
    assert!(words.contains("9 days from order to parcel, as parcels from there have taken so far."), "{words}");
}

#[test]
fn shelf_space_is_kept_to() {
    let workshop = Workshop::example();
    let packs = |list: &Value| -> i64 {
        let orders = list["orders"].as_array().unwrap().iter();
        let lines = orders.flat_map(|order| order["lines"].as_array().unwrap());
        lines.filter(|line| line["material"] == "epsom-salt").map(|line| line["amount"].as_i64().unwrap()).sum()
    };
    let before = packs(&workshop.json(&["reorder"]));
    assert_eq!(before, 9_000_000);
    let file = workshop.file("in/materials.csv", "code,name,shelf_space\nepsom-salt,Epsom salt,13 kg\n");
    workshop.done(&["import", &file]);
    // The supplier's minimum order takes more than fits: it comes, and is told.
    let list = workshop.json(&["reorder"]);
    assert!(texts(&list["findings"], "kind").contains(&"shelf-space"), "{list}");
    assert_eq!(list["shelves"], json!(["epsom-salt"]));
    let words = "code,name,currency,lead_time_days,minimum_order\nsaltmarrow,Saltmarrow Minerals,EUR,4,\n";
    let file = workshop.file("in/suppliers.csv", words);
    workshop.done(&["import", &file]);
    let list = workshop.json(&["reorder"]);
    assert!((4_900_000..9_000_000).contains(&packs(&list)), "{list}");
    assert!(!texts(&list["findings"], "kind").contains(&"shelf-space"), "{list}");
    workshop.done(&["export", "out"]);
    let written = std::fs::read_to_string(workshop.path("out/materials.csv")).unwrap();
    assert!(written.lines().any(|line| line.starts_with("epsom-salt,") && line.ends_with(",13 kg")), "{written}");
}

#[test]
fn slips_are_told_with_what_would_be_right() {
    let workshop = Workshop::example();
    let check = |arguments: &[&str], expected: &str| {
        assert_eq!(workshop.refused(2, arguments).trim_end(), expected, "{arguments:?}");
    };
    check(
        &["wish", "exclude", "nobody"],
        "error: there is no supplier or material \"nobody\"\nnext: write a code or name, SUPPLIER/MATERIAL, SUPPLIER/MATERIAL/PACK (VEY/shea/1 kg), DATE or DATE/DATE",
    );
    check(&["wish", "pin", "greyfell/beeswax"], "error: greyfell does not offer beeswax");
    check(
        &["reorder", "--exclude", "2027-03-09/2027-03-01"],
        "error: \"2027-03-09/2027-03-01\" is no day and no days\nnext: write DATE or DATE/DATE",
    );
    check(
        &["reorder", "--prefer", "dunmarch"],
        "error: \"dunmarch\" is not SUPPLIER=PERCENT\nnext: write --prefer VEY=5",
    );
    check(
        &["wish", "prefer", "dunmarch", "five"],
        "error: \"five\" is no percentage from 0 to 100\nnext: write 5 for 5 %",
    );
    check(
        &["wish", "budget", "some"],
        "error: \"some\" is no amount in EUR\nnext: write a number from 0 up: 150 or 149.50",
    );
    check(
        &["wish", "lift", "W-0009"],
        "error: there is no wish \"W-0009\"\nnext: `stillroom wish list` shows what is kept",
    );
    workshop.done(&["wish", "pin", "dunmarch"]);
    check(&["wish", "pin", "Dunmarch"], "error: wish W-0001 says that already");
}

#[test]
fn a_list_is_told_also_while_another_program_writes() {
    let workshop = Workshop::example();
    let first = workshop.done(&["reorder"]);
    workshop.done(&["plan", "drop", "E55"]);
    let other = rusqlite::Connection::open(workshop.path("workshop.sqlite")).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let answer = workshop.run_on(FIRST_DAY, &["reorder"]);
    assert_eq!(answer.status, 0, "{}", answer.err);
    assert!(answer.err.contains("this list is not kept for the next one"), "{}", answer.err);
    assert_ne!(answer.out, first);
}
