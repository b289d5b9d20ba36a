//! The issuing cases of tests/checks: fefo.json and allocation_cases.json.
//!
//! fefo_grades.json is not stated here: there a demand takes lots of one grade only while others take any. In our model a
//! grade is a material of its own, and no demand is served from two materials.

use super::naive::{amounts, check_rules, coverage, value_lost};
use super::support::cases::{Case, need, supply};
use super::support::{cases, date, day, whole};
use chrono::Days;
use serde_json::Value;
use stillroom::plan::allocate::{Allocation, Need, SearchLimit, Supply, allocate};
use stillroom::plan::calendar::Span;

fn solve(case: &Case, context: &str) -> Allocation {
    let allocation = allocate(&case.supplies, &case.needs, case.horizon, SearchLimit::default());
    check_rules(case, &allocation, context);
    assert!(allocation.proven, "{context}");
    allocation
}

#[test]
fn issuing_reaches_what_max_flow_allows() {
    let mut count = 0;
    for given in cases("fefo.json") {
        let id = given["id"].as_str().unwrap();
        let lots = given["lots"].as_array().unwrap().iter().filter(|lot| lot["status"] == "released");
        // A quantity is worth a minor unit a gram, so that the value lost is the grams lost.
        let supplies = lots.map(|lot| {
            supply(date(&lot["released_on"]), date(&lot["usable_until"]), whole(&lot["qty_g"]), whole(&lot["qty_g"]))
        });
        let mut demands: Vec<&Value> = given["demands"].as_array().unwrap().iter().collect();
        demands.sort_by_key(|demand| (date(&demand["day"]), demand["demand"].as_str().unwrap()));
        let needs = demands.iter().map(|demand| {
            let lasting = Days::new(u64::try_from(whole(&demand["min_remaining_days"])).unwrap());
            need(date(&demand["day"]), date(&demand["day"]) + lasting, whole(&demand["qty_g"]))
        });
        // Theirs expires before the end of the horizon, ours by its last day.
        let horizon = date(&given["horizon_end"]) - Days::new(1);
        let case = Case { supplies: supplies.collect(), needs: needs.collect(), horizon };
        let allocation = solve(&case, id);
        let expected = &given["expected"];
        let served: Vec<i64> = demands
            .iter()
            .map(|demand| whole(&expected["fefo_served_g"][demand["demand"].as_str().unwrap()]))
            .collect();
        let covered = coverage(&case, &allocation);
        assert_eq!(covered, served, "{id}");
        assert_eq!(covered.iter().sum::<i64>(), whole(&expected["max_possible_total_g"]), "{id}");
        let expired = value_lost(&case, &amounts(&allocation.left), &allocation.through);
        assert!(expired <= expired_by_fefo(&given, &case) as f64 + 1e-9, "{id}: {expired}");
        count += 1;
    }
    println!("fefo.json: {count} cases.");
    assert_eq!(count, 40);
}

/// What the file's own first-expired-first-out leaves of the released lots that end by the horizon.
fn expired_by_fefo(given: &Value, case: &Case) -> i64 {
    let lots = given["lots"].as_array().unwrap().iter();
    let ended = lots.filter(|lot| lot["status"] == "released" && date(&lot["usable_until"]) <= case.horizon);
    ended.map(|lot| whole(&given["expected"]["left_g"][lot["lot"].as_str().unwrap()])).sum()
}

/// The smallest cases where simple rules go wrong. `one-lot-per-batch` forbids to split a demand over lots, which our
/// model only avoids where it costs no coverage: it is stated without that rule. `rank-before-date` ranks against the
/// days: our order of demands is by day, and so it is stated; the ranks change nothing in what can be covered.
#[test]
fn simple_rules_go_wrong_where_this_does_not() {
    let given = cases("allocation_cases.json");
    let number = |value: &Value| u64::try_from(whole(value)).unwrap();
    for case in &given {
        let id = case["id"].as_str().unwrap();
        let life =
            case.get("after_opening_days").map(|days| Span { months: 0, days: u32::try_from(number(days)).unwrap() });
        let supplies = case["lots"].as_array().unwrap().iter().map(|lot| {
            let value = lot.get("c").map_or(0, whole) * whole(&lot["q"]);
            let supply = supply(day(number(&lot["a"])), day(number(&lot["e"])), whole(&lot["q"]), value);
            Supply { life_once_opened: life, ..supply }
        });
        let demands = case["demands"].as_array().unwrap().iter();
        let mut needs: Vec<Need> = demands
            .map(|demand| need(day(number(&demand["d"])), day(number(&demand["h"])), whole(&demand["q"])))
            .collect();
        needs.sort_by_key(|need| need.day);
        let horizon = day(case.get("horizon_end").map_or(200, number));
        let stated = Case { supplies: supplies.collect(), needs, horizon };
        let allocation = solve(&stated, id);
        if let Some(short) = case.get("expected_short") {
            assert_eq!(amounts(&allocation.short).iter().sum::<i64>(), whole(short), "{id}");
        }
        if let Some(wasted) = case.get("expected_wasted_value") {
            let lost = value_lost(&stated, &amounts(&allocation.left), &allocation.through);
            assert!((lost - whole(wasted) as f64).abs() < 1e-9, "{id}: {lost}");
        }
    }
    assert_eq!(given.len(), 5);
}
