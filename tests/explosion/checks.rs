//! The formula cases of tests/checks (formulas.json, aqueous_cream of published.json) and what mrp.json says of netting.

use super::support::workshop::Workshop;
use super::support::{cases, day, whole};
use super::{explode_from_day_0, total};
use serde_json::Value;
use std::collections::BTreeMap;
use stillroom::plan::allocate::{SearchLimit, Supply};
use stillroom::plan::explode::explode;
use stillroom::plan::model::{FormulaLine, ItemId, ProductId};
use stillroom::plan::money::Money;
use stillroom::plan::quantity::{Percent, Quantity};

/// Percentages through nested premixes. Their convention applies the loss once, at the top: so it is the product's here,
/// and every premix is made without loss. A batch of a tonne shows nine digits of each share.
#[test]
fn nested_percentages_come_out_as_exact_fractions_do() {
    let mut shares = 0;
    for case in cases("formulas.json") {
        let id = case["id"].as_str().unwrap();
        let mut workshop = Workshop::new();
        let made = case["make"].as_str().unwrap();
        let (items, product) = formulas_of(&mut workshop, &case["formulas"], made, |line| {
            (line["item"].as_str().unwrap().to_owned(), line["percent"].as_str().unwrap().to_owned())
        });
        let loss = fraction(&case["process_loss_fraction"]);
        workshop.facts(product).loss = Percent { millionths: (loss * 1e8).round() as i64 };
        workshop.make(product, whole(&case["finished_batch_g"]) * 1_000_000, day(0));
        let explosion = explode_from_day_0(&workshop.snapshot, day(0));
        // Each line is rounded once, by less than a milligram.
        let lines: usize = explosion.demands.iter().map(Vec::len).sum();
        let mut bought = 0;
        for (code, grams) in case["expected"]["grams_by_raw"].as_object().unwrap() {
            let found = total(&explosion, items[code]);
            bought += found;
            let expected = fraction(grams) * 1e6;
            assert!((found as f64 - expected).abs() <= lines as f64, "{id} {code}: {found} against {expected}");
            shares += 1;
        }
        let weighed = explosion.sizes[0].weighed.mg;
        assert_eq!(bought, weighed, "{id}: what is bought adds up to what is weighed, to the milligram");
        assert!((weighed as f64 - fraction(&case["expected"]["total_input_g"]) * 1e6).abs() <= 0.5, "{id}");
    }
    println!("formulas.json: {shares} shares of 20 cases.");
    assert!(shares > 60);
}

#[test]
fn aqueous_cream_has_the_printed_shares() {
    let case = cases("published.json").into_iter().find(|case| case["id"] == "aqueous_cream").unwrap();
    let mut workshop = Workshop::new();
    let (items, product) = formulas_of(&mut workshop, &case["inputs"]["formulas"], "Aqueous Cream BP", |line| {
        (line[0].as_str().unwrap().to_owned(), whole(&line[1]).to_string())
    });
    workshop.make(product, 100_000_000, day(0));
    let explosion = explode_from_day_0(&workshop.snapshot, day(0));
    let expected = case["expected"]["percent_in_aqueous_cream"].as_object().unwrap();
    for (name, share) in expected {
        let share: f64 = share.as_str().unwrap().parse().unwrap();
        assert_eq!(total(&explosion, items[name]), (share * 1e6).round() as i64, "{name}");
    }
    assert_eq!(expected.len(), 5);
}

/// Materials, premixes and the product of a set of formulas; `read` gives ingredient and percent of a line.
fn formulas_of(
    workshop: &mut Workshop,
    formulas: &Value,
    made: &str,
    read: impl Fn(&Value) -> (String, String),
) -> (BTreeMap<String, ItemId>, ProductId) {
    let formulas = formulas.as_object().unwrap();
    let lines_of = |code: &str| formulas[code].as_array().unwrap().iter().map(&read).collect::<Vec<_>>();
    let mut items = BTreeMap::new();
    for code in formulas.keys().filter(|code| *code != made) {
        items.insert(code.clone(), workshop.premix(code, &[]));
    }
    for (ingredient, _) in formulas.keys().flat_map(|code| lines_of(code)) {
        items.entry(ingredient.clone()).or_insert_with(|| workshop.material(&ingredient));
    }
    let formula_of = |code: &str, workshop: &mut Workshop| {
        let lines = lines_of(code);
        let lines: Vec<_> = lines.iter().map(|(ingredient, share)| (items[ingredient], share.as_str())).collect();
        workshop.formula(code, &lines)
    };
    for code in formulas.keys().filter(|code| *code != made) {
        let formula = formula_of(code, workshop);
        workshop.making(items[code]).formula = Some(formula);
    }
    let formula = formula_of(made, workshop);
    let product = workshop.product(made, &[]);
    workshop.facts(product).formula = Some(formula);
    (items, product)
}

fn fraction(value: &Value) -> f64 {
    let text = value.as_str().unwrap();
    let (above, below) = text.split_once('/').unwrap_or((text, "1"));
    above.parse::<f64>().unwrap() / below.parse::<f64>().unwrap()
}

/// What of mrp.json can be stated: an item that is made lot for lot and has no safety stock, one level at a time. Its
/// gross requirements are plan entries, stock and scheduled receipts its supplies, the lead time its make-ahead days.
/// Net requirements are what stock does not cover; releases show in the days and amounts of its components.
///
/// Not stated: lot rules (multiples, minima, periods of supply), since a premix is made as needed; safety stock of what is
/// made, since safety stocks here are for what is bought, and are a requirement of the reorder plan instead.
///
/// A bill of material counts pieces per piece, a formula shares a mass: an item of N component pieces is stated as a
/// premix that loses (N - 1) / N of what goes in.
#[test]
fn made_lot_for_lot_is_netted_as_in_the_records() {
    let (mut records, mut with_components) = (0, 0);
    for case in cases("mrp.json") {
        for (code, item) in case["items"].as_object().unwrap() {
            if item["rule"][0] != "L4L" || whole(&item["ss"]) != 0 {
                continue;
            }
            let id = format!("{} {code}", case["id"].as_str().unwrap());
            let components = case["bom"].get(code).and_then(Value::as_array);
            check_record(&id, item, components.map_or(&[], Vec::as_slice), &case["expected"][code]);
            records += 1;
            with_components += usize::from(components.is_some());
        }
    }
    println!("mrp.json: {records} records of items, {with_components} with components.");
    assert_eq!((records, with_components), (36, 27));
}

fn check_record(id: &str, item: &Value, components: &[Value], record: &Value) {
    let mut workshop = Workshop::new();
    let parts: Vec<ItemId> = components.iter().map(|part| workshop.material(part[0].as_str().unwrap())).collect();
    let made = workshop.premix("made", &[]);
    let pieces: i64 = components.iter().map(|part| whole(&part[1])).sum();
    if !parts.is_empty() {
        let formula = workshop.making(made).formula.unwrap();
        let share = |part: &Value| Percent { millionths: whole(&part[1]) * Percent::HUNDRED.millionths / pieces };
        let line =
            |(part, item): (&Value, &ItemId)| FormulaLine { item: *item, percent: share(part), phase: String::new() };
        workshop.snapshot.formulas[formula.index()].lines = components.iter().zip(&parts).map(line).collect();
        let hundred = Percent::HUNDRED.millionths;
        workshop.making(made).loss = Percent { millionths: hundred - hundred / pieces };
    }
    workshop.making(made).make_ahead_days = u32::try_from(whole(&item["lt"])).unwrap();
    let product = workshop.product("sold", &[(made, "100")]);
    let gross = record["gross"].as_array().unwrap();
    // Period 1 is day 0, today.
    for (period, gross) in gross.iter().enumerate().filter(|(_, gross)| whole(gross) > 0) {
        workshop.make(product, whole(gross), day(period as u64));
    }
    let stock = [(0, whole(&item["oh"]))].into_iter();
    let receipts = item["sr"]
        .as_object()
        .unwrap()
        .iter()
        .map(|(period, amount)| (period.parse::<u64>().unwrap() - 1, whole(amount)));
    let supply = |(from, quantity): (u64, i64)| Supply {
        from: day(from),
        through: chrono::NaiveDate::MAX,
        quantity: Quantity(quantity),
        value: Money::ZERO,
        life_once_opened: None,
    };
    let mut supplies = vec![Vec::new(); workshop.snapshot.items.len()];
    supplies[made.index()] = stock.chain(receipts).map(supply).collect();
    let explosion = explode(&workshop.snapshot, day(0), day(gross.len() as u64), &supplies, SearchLimit::default());
    let net = record["net"].as_array().unwrap().iter().map(whole).filter(|net| *net > 0).collect::<Vec<_>>();
    let stock = explosion.premix_stock[made.index()].as_ref().unwrap();
    let short = stock.short.iter().map(|short| short.0).filter(|short| *short > 0).collect::<Vec<_>>();
    assert_eq!(short, net, "{id}: net requirements");
    for (part, item) in components.iter().zip(parts) {
        let mut expected: BTreeMap<_, i64> = BTreeMap::new();
        for (period, released) in record["releases"].as_array().unwrap().iter().enumerate() {
            *expected.entry(day(period as u64)).or_default() += whole(released) * whole(&part[1]);
        }
        for late in record["late"].as_array().unwrap() {
            *expected.entry(day(0)).or_default() += whole(&late[1]) * whole(&part[1]);
        }
        expected.retain(|_, amount| *amount > 0);
        let mut found: BTreeMap<_, i64> = BTreeMap::new();
        for demand in &explosion.demands[item.index()] {
            *found.entry(demand.day).or_default() += demand.quantity.0;
        }
        assert_eq!(found, expected, "{id}: gross requirement of its component {}", part[0]);
    }
    let late = !record["late"].as_array().unwrap().is_empty();
    assert_eq!(late, !explosion.findings.is_empty(), "{id}: started late");
}
