//! tests/checks/costing.json and the IAS 2 example of published.json.
//!
//! Stillroom identifies every lot (IAS 2, paragraph 23), so what these cases can state is their FIFO column: every
//! purchase is a lot, lots are drawn in order of receipt, and each draw costs its part of its lot. The moving and the
//! periodic average belong to workshops that cannot tell their lots apart; they are left aside.

use super::support;
use serde_json::Value;
use stillroom::plan::cost::{BatchCost, stock_value};
use stillroom::plan::fraction::Fraction;
use stillroom::plan::money::{Money, Price};
use stillroom::plan::quantity::Quantity;
use support::workshop::Workshop;

/// Cents of a decimal with up to two places.
fn cents(text: &str) -> i64 {
    text.parse::<stillroom::plan::decimal::Decimal>().unwrap().scaled(2).unwrap()
}

/// `a/b` in whole units as a fraction of cents.
fn exact(text: &str) -> Fraction {
    let (over, under) = text.split_once('/').unwrap_or((text, "1"));
    Fraction::new(&[over.parse().unwrap(), 100], &[under.parse().unwrap()])
}

/// Buys and uses in order; the exact cost of all that was used, the same rounded draw by draw, and what is left.
fn run(events: &[Value]) -> (Fraction, BatchCost, Workshop) {
    let mut shop = Workshop::new();
    let item = shop.material("oil");
    let mut used = Fraction::default();
    let mut draws = Vec::new();
    for event in events {
        let mut quantity = event[1].as_i64().unwrap();
        if event[0] == "buy" {
            let cost = cents(event[2].as_str().unwrap()) * quantity;
            shop.lot(item, quantity).cost = Price { minor: cost };
            continue;
        }
        for lot in &mut shop.snapshot.lots {
            let taken = Quantity(quantity.min(lot.on_hand.0));
            if taken.is_zero() {
                continue;
            }
            let cost = Money { minor: lot.cost.minor };
            used = used.plus(&Fraction::of_cost(cost, taken, lot.on_hand));
            let share = cost.share(taken.0, lot.on_hand.0);
            draws.push(share);
            lot.cost.minor -= share.minor;
            lot.on_hand -= taken;
            quantity -= taken.0;
        }
        assert_eq!(quantity, 0, "the case uses more than there is");
    }
    (used, BatchCost::of(draws, 1), shop)
}

#[test]
fn lot_by_lot_in_order_of_receipt_is_fifo() {
    let cases = support::cases("costing.json");
    assert_eq!(cases.len(), 20);
    for case in cases {
        let (used, cost, shop) = run(case["events"].as_array().unwrap());
        let expected = &case["expected"]["FIFO"];
        let text = |key: &str| expected[key].as_str().unwrap();
        assert_eq!(used, exact(text("cost_of_use")), "{}", case["id"]);
        assert_eq!(cost.total.minor, cents(text("cost_of_use_2dp")), "{}", case["id"]);
        let left = stock_value(&shop.snapshot, support::day(0));
        assert_eq!(Fraction::new(&[left.total.minor], &[1]), exact(text("closing_value")), "{}", case["id"]);
        let quantity: Quantity = left.items.iter().map(|(_, quantity, _)| *quantity).sum();
        assert_eq!(quantity.0, support::whole(&expected["closing_qty"]), "{}", case["id"]);
    }
}

#[test]
fn the_example_of_ias_2() {
    let cases = support::cases("published.json");
    let case = cases.iter().find(|case| case["id"] == "ias2_1400").unwrap();
    let (used, _, shop) = run(case["inputs"]["events"].as_array().unwrap());
    assert_eq!(used, exact(case["expected"]["FIFO"]["cost_of_use"].as_str().unwrap()));
    let closing = stock_value(&shop.snapshot, support::day(0)).total;
    assert_eq!(closing.minor, cents(case["expected"]["FIFO"]["closing"].as_str().unwrap()));
}
