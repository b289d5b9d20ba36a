//! The JSON contract: the fields that other programs rely on, and that the figures agree with each other.

use crate::workshop::Workshop;
use serde_json::Value;
use std::collections::BTreeMap;

fn list<'a>(value: &'a Value, field: &str) -> &'a Vec<Value> {
    value[field].as_array().unwrap_or_else(|| panic!("{field} is no list in {value}"))
}

fn whole(value: &Value, field: &str) -> i64 {
    value[field].as_i64().unwrap_or_else(|| panic!("{field} is no integer in {value}"))
}

fn text<'a>(value: &'a Value, field: &str) -> &'a str {
    value[field].as_str().unwrap_or_else(|| panic!("{field} is no text in {value}"))
}

/// Minor units of a decimal string with two places.
fn cents(value: &Value, field: &str) -> i64 {
    let decimal = text(value, field);
    assert_eq!(decimal.split_once('.').map(|(_, places)| places.len()), Some(2), "{field}: {decimal}");
    decimal.replace('.', "").parse().unwrap()
}

#[test]
fn forecast_has_its_fields_and_each_day_adds_up() {
    let forecast = Workshop::example().json(&["forecast"]);
    assert_eq!(text(&forecast, "as_of"), "2027-03-01");
    assert_eq!(text(&forecast, "through"), "2027-04-29");
    let mut days_checked = 0;
    for material in list(&forecast, "materials") {
        assert!(matches!(text(material, "unit"), "mg" | "pcs"));
        let mut balance = whole(material, "on_hand");
        assert!(whole(material, "safety_stock") >= 0);
        for day in list(material, "days") {
            balance += whole(day, "receipts") - (whole(day, "demand") - whole(day, "short")) - whole(day, "expired");
            assert_eq!(whole(day, "balance"), balance, "{} on {day}", material["material"]);
            assert!(balance >= 0);
            days_checked += 1;
        }
        assert_eq!(list(material, "days").len(), 60);
    }
    assert!(days_checked > 2_000, "{days_checked}");
    let shortages = list(&forecast, "shortages");
    assert_eq!(shortages.len(), 12);
    for shortage in shortages {
        for field in ["material", "unit", "date", "order_by"] {
            text(shortage, field);
        }
        assert!(whole(shortage, "short") > 0);
        assert_eq!(list(shortage, "entries").len(), 1);
    }
    let late: Vec<_> = shortages.iter().filter(|shortage| text(shortage, "order_by") < "2027-03-01").collect();
    assert_eq!(late.len(), 1);
    assert_eq!((text(late[0], "material"), whole(late[0], "short")), ("mango-butter", 390_722));
    for finding in list(&forecast, "findings") {
        for field in ["kind", "subject", "message"] {
            text(finding, field);
        }
    }
}

#[test]
fn allocate_gives_each_demand_what_forecast_does_not_call_short() {
    let workshop = Workshop::example();
    let allocate = workshop.json(&["allocate"]);
    let forecast = workshop.json(&["forecast"]);
    let mut drawn: BTreeMap<(String, String), i64> = BTreeMap::new();
    for draw in list(&allocate, "draws") {
        assert!(whole(draw, "amount") > 0);
        for field in ["entry", "lot", "unit"] {
            text(draw, field);
        }
        *drawn.entry((text(draw, "material").to_owned(), text(draw, "date").to_owned())).or_default() +=
            whole(draw, "amount");
    }
    let mut compared = 0;
    for material in list(&forecast, "materials") {
        for day in list(material, "days") {
            let key = (text(material, "material").to_owned(), text(day, "date").to_owned());
            let expected = whole(day, "demand") - whole(day, "short");
            assert_eq!(drawn.get(&key).copied().unwrap_or(0), expected, "{key:?}");
            compared += usize::from(expected > 0);
        }
    }
    assert!(compared > 200, "{compared}");
    let short: i64 = list(&allocate, "short").iter().map(|short| whole(short, "short")).sum();
    let shortages: i64 = list(&forecast, "shortages").iter().map(|shortage| whole(shortage, "short")).sum();
    assert_eq!(short, shortages);
}

#[test]
fn expiring_adds_up() {
    let expiring = Workshop::example().json(&["expiring"]);
    let mut total = 0;
    for lot in list(&expiring, "lots") {
        assert_eq!(whole(lot, "on_hand"), whole(lot, "planned_use") + whole(lot, "at_risk"), "{lot}");
        assert!(text(lot, "usable_through") <= text(&expiring, "through"));
        total += cents(lot, "at_risk_value");
    }
    assert_eq!(cents(&expiring, "at_risk_value"), total);
    assert_eq!(total, 3_494);
}

#[test]
fn reorder_adds_up_and_keeps_its_promises() {
    let reorder = Workshop::example().json(&["reorder"]);
    let mut cost = 0;
    for order in list(&reorder, "orders") {
        let goods: i64 = list(order, "lines").iter().map(|line| cents(line, "price") * whole(line, "packs")).sum();
        assert_eq!(cents(order, "goods"), goods);
        assert_eq!(cents(order, "total"), goods + cents(order, "postage") + cents(order, "duty"));
        assert!(text(order, "order_on") >= "2027-03-01" && text(order, "arrives_on") >= text(order, "order_on"));
        cost += cents(order, "total_home");
        for line in list(order, "lines") {
            for field in ["material", "pack", "unit"] {
                text(line, field);
            }
            let covered: i64 = list(line, "covers").iter().map(|cover| whole(cover, "amount")).sum();
            assert_eq!(whole(line, "amount"), covered + whole(line, "left_over"));
        }
    }
    assert_eq!(cents(&reorder, "cost"), cost);
    assert_eq!(cents(&reorder, "objective"), cost - cents(&reorder, "credit"));
    assert!(cents(&reorder, "lower_bound") <= cents(&reorder, "objective"));
    assert!(cents(&reorder, "objective") <= cents(&reorder, "simple_objective"));
    let gap = reorder["gap"].as_f64().unwrap();
    assert!((0.0..1.0).contains(&gap), "{gap}");
    let late = list(&reorder, "late");
    assert_eq!(late.len(), 1);
    assert_eq!(text(&late[0], "material"), "mango-butter");
    assert_eq!((text(&late[0], "needed"), text(&late[0], "soonest")), ("2027-03-10", "2027-03-17"));
    assert_eq!(whole(&late[0], "short"), 390_722);
}

#[test]
fn the_same_question_gets_the_same_bytes() {
    let workshop = Workshop::example();
    for arguments in [&["forecast"][..], &["allocate"], &["expiring"], &["reorder"], &["stock"], &["plan", "list"]] {
        for json in [&[][..], &["--json"]] {
            let asked = [arguments, json].concat();
            assert_eq!(workshop.done(&asked), workshop.done(&asked), "{asked:?}");
        }
    }
}

#[test]
fn why_leads_from_a_figure_to_what_is_behind_it() {
    let workshop = Workshop::example();
    let mango = workshop.json(&["forecast", "--why", "mango-butter"]);
    let short: Vec<&str> = list(&mango, "events")
        .iter()
        .filter(|event| whole(event, "short") > 0)
        .map(|event| text(event, "subject"))
        .collect();
    assert_eq!(short, ["E09", "E49"]);
    let lot = workshop.json(&["expiring", "--why", "L2605-1"]);
    assert_eq!(lot["at_risk"], true);
    let users: Vec<&str> = list(&lot, "uses").iter().map(|used| text(used, "entry")).collect();
    assert_eq!(users, ["E02", "E15", "E27"]);
    let entry = workshop.json(&["allocate", "--why", "E09"]);
    assert!(list(&entry, "draws").iter().all(|draw| text(draw, "entry") == "E09"));
    assert_eq!(text(&list(&entry, "short")[0], "material"), "mango-butter");
    let line = workshop.json(&["reorder", "--why", "epsom-salt"]);
    let covers = list(&list(&list(&line, "orders")[0], "lines")[0], "covers");
    assert!(covers.iter().any(|cover| cover["safety_stock"] == true));
}

#[test]
fn through_shortens_the_view() {
    let workshop = Workshop::example();
    let forecast = workshop.json(&["forecast", "--through", "2027-03-31"]);
    assert_eq!(text(&forecast, "through"), "2027-03-31");
    assert_eq!(list(&forecast, "shortages").len(), 1);
    assert_eq!(list(&list(&forecast, "materials")[0], "days").len(), 31);
}
