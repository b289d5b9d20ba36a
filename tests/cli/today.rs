//! `today` on the example workshop; what it has to show is read off the example's files.

use crate::workshop::Workshop;
use serde_json::{Value, json};

/// The lines of one kind.
fn of_kind<'a>(view: &'a Value, kind: &str) -> Vec<&'a Value> {
    view["lines"].as_array().unwrap().iter().filter(|line| line["kind"] == kind).collect()
}

fn texts<'a>(lines: &[&'a Value], field: &str) -> Vec<&'a str> {
    lines.iter().map(|line| line[field].as_str().unwrap_or("nothing")).collect()
}

#[test]
fn the_first_day_of_the_example() {
    let workshop = Workshop::example();
    let view = workshop.json(&["today"]);
    assert_eq!((&view["as_of"], &view["through"]), (&json!("2027-03-01"), &json!("2027-03-08")));
    // plan.csv: E01 to E07 are made from 1 to 8 March, E08 on the 9th.
    let make = of_kind(&view, "make");
    assert_eq!(texts(&make, "entry"), ["E01", "E02", "E03", "E04", "E05", "E06", "E07"]);
    assert_eq!(
        (&make[0]["due"], &make[0]["pieces"], &make[0]["net_mass"]),
        (&json!("2027-03-01"), &json!(100), &json!(450_000))
    );
    // orders.csv: the bands should have come on 26 February; castor and coconut oil come on 2 March; mango butter on the
    // 14th is too far off.
    let parcels = of_kind(&view, "parcel");
    assert_eq!(texts(&parcels, "order"), ["B2027-07", "B2027-09"]);
    assert_eq!((&parcels[0]["overdue"], &parcels[1]["overdue"]), (&json!(true), &json!(false)));
    assert_eq!(parcels[1]["materials"], json!(["Castor oil", "Coconut oil"]));
    // lots.csv: three lots in quarantine.
    assert_eq!(texts(&of_kind(&view, "quarantine"), "lot"), ["L2702-15", "L2702-16", "L2702-17"]);
    // The same figures as the commands that go into detail.
    let reorder = workshop.json(&["reorder"]);
    let due: Vec<_> = reorder["orders"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|order| order["order_on"].as_str() <= Some("2027-03-08"))
        .collect();
    let order = of_kind(&view, "order");
    assert!(!due.is_empty());
    assert_eq!(texts(&order, "supplier"), texts(&due, "supplier"));
    assert_eq!(texts(&order, "total"), texts(&due, "total_home"));
    assert_eq!(of_kind(&view, "late").len(), reorder["late"].as_array().unwrap().len());
    let expiring = workshop.json(&["expiring"]);
    for line in of_kind(&view, "use-first") {
        let lot = expiring["lots"].as_array().unwrap().iter().find(|lot| lot["lot"] == line["lot"]).unwrap();
        assert_eq!((&lot["at_risk"], &lot["at_risk_value"]), (&line["at_risk"], &line["value"]));
    }
    // Only the day itself.
    let narrow = workshop.json(&["today", "--days", "0"]);
    assert_eq!(texts(&of_kind(&narrow, "make"), "entry"), ["E01", "E02"]);
}

#[test]
fn what_is_done_is_gone_and_what_comes_of_it_appears() {
    let workshop = Workshop::example();
    workshop.done(&["make", "E01", "--as-planned"]);
    workshop.done(&["lot", "release", "L2702-15", "--by", "Mara", "--reason", "smell and colour"]);
    let view: Value = serde_json::from_str(&workshop.done_on("2027-03-02", &["today", "--json"])).unwrap();
    // E02 was to be made yesterday.
    let make = of_kind(&view, "make");
    assert_eq!((texts(&make, "entry")[0], &make[0]["due"]), ("E02", &json!("2027-03-01")));
    assert!(!texts(&of_kind(&view, "quarantine"), "lot").contains(&"L2702-15"));
    // The lip balm needs neither setting nor curing.
    let ready = of_kind(&view, "ready");
    assert_eq!((texts(&ready, "batch"), &ready[0]["pieces"]), (vec!["B-2027-0001"], &json!(100)));
    let shown = workshop.done_on("2027-03-02", &["today"]);
    assert!(shown.starts_with("Tuesday 2 March 2027, and the days through Tue 9 March.\n"), "{shown}");
    assert!(
        shown.contains(
            "\nTo make\n- yesterday: E02, 24 pcs of Lavender bath salt\n- today: E03, 48 pcs of Harbour soap\n"
        ),
        "{shown}"
    );
    assert!(
        shown.contains("\n- overdue since Fri 26 February: B2027-07 from Pillowby Packaging (Paper band for soap)\n"),
        "{shown}"
    );
    // A year on, lots have ended with something left.
    let later: Value = serde_json::from_str(&workshop.done_on("2028-03-02", &["today", "--json"])).unwrap();
    let ended = of_kind(&later, "ended");
    assert!(texts(&ended, "lot").contains(&"L2605-1"), "{ended:?}");
    assert!(of_kind(&later, "use-first").iter().all(|line| line["usable_through"].as_str() >= Some("2028-03-02")));
}
