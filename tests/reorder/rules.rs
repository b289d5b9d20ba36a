//! Each rule of the model on a problem that can be worked out by hand.

use super::maker::{day, plain_pack, plain_terms};
use super::naive;
use chrono::{NaiveDate, Weekday};
use stillroom::plan::calendar::{ClosedPeriod, Span, Weekdays};
use stillroom::plan::model::{ItemId, Postage};
use stillroom::plan::money::{Currency, Money, Price, Rate};
use stillroom::plan::quantity::{Mass, Percent, Quantity};
use stillroom::plan::reorder::evaluate::{ChosenOrder, Violation, duty, evaluate, postage, total_home, unit_price};
use stillroom::plan::reorder::{Credit, Limits, Problem, ReorderPlan, Requirement, solve};

fn price(minor: i64) -> Price {
    Price { minor }
}

/// One item, one supplier, one offer of 10 for 100; 10 are needed on day 9.
fn one() -> Problem {
    Problem {
        start: day(0),
        end: day(9),
        home: Currency::EUR,
        requirements: vec![Requirement { item: ItemId(0), day: day(9), through: day(9), quantity: Quantity(10) }],
        suppliers: vec![plain_terms(0)],
        offers: vec![plain_pack(0, 0, 0, 10, 100)],
        credits: vec![Credit {
            item: ItemId(0),
            gross: Quantity(10),
            window_days: 0,
            worth: Percent::ZERO,
            unit_price: (10, 1),
            holding: (0, 1),
            disposal: (0, 1),
        }],
        rooms: Vec::new(),
    }
}

fn solved(problem: &Problem) -> ReorderPlan {
    let plan = solve(problem, &Limits { steps: 200 }, &mut || false).unwrap();
    naive::check(problem, &plan).unwrap();
    plan
}

fn packs(plan: &ReorderPlan) -> Vec<i64> {
    plan.orders.iter().flat_map(|order| order.lines.iter().map(|line| line.packs)).collect()
}

#[test]
fn a_break_holds_for_all_packs_from_its_count_on() {
    let mut pack = plain_pack(0, 0, 0, 10, 100);
    pack.breaks = vec![(2, price(100)), (5, price(70))];
    for (count, expected) in [(0, None), (1, None), (2, Some(100)), (4, Some(100)), (5, Some(70)), (9, Some(70))] {
        assert_eq!(unit_price(&pack, count), expected.map(price), "{count} packs");
    }
    let mut problem = one();
    problem.offers[0].breaks = vec![(2, price(100)), (5, price(70))];
    for (needed, bought, cost) in [(10, 2, 200), (20, 2, 200), (31, 5, 350), (40, 5, 350), (51, 6, 420)] {
        problem.requirements[0].quantity = Quantity(needed);
        let plan = solved(&problem);
        assert_eq!((packs(&plan), plan.objective.minor), (vec![bought], cost), "{needed} needed");
    }
}

#[test]
fn an_order_is_filled_up_to_the_minimum() {
    let mut problem = one();
    for (minimum, bought) in [(100, 1), (101, 2), (350, 4)] {
        problem.suppliers[0].minimum_order = price(minimum);
        assert_eq!(packs(&solved(&problem)), [bought], "minimum {minimum}");
    }
    let chosen = ChosenOrder { supplier: 0, order_on: day(9), lines: vec![(0, 3)] };
    assert_eq!(evaluate(&problem, &[chosen]), Err(vec![Violation::BelowMinimum { supplier: 0, order_on: day(9) }]));
}

#[test]
fn postage_is_that_of_the_band_and_nothing_from_the_free_value() {
    let mut terms = plain_terms(0);
    let check = |terms: &_, rows: &[(i64, i64, i64)]| {
        for &(goods, weight, expected) in rows {
            assert_eq!(postage(terms, price(goods), weight), price(expected), "goods {goods}, weight {weight}");
        }
    };
    terms.postage = Postage::Flat(price(590));
    check(&terms, &[(0, 0, 590), (99_999, 5, 590)]);
    terms.postage = Postage::ByValue(vec![(price(0), price(590)), (price(5_000), price(390))]);
    check(&terms, &[(4_999, 0, 590), (5_000, 0, 390)]);
    terms.postage = Postage::ByWeight(vec![(Mass { mg: 0 }, price(400)), (Mass { mg: 2_000 }, price(700))]);
    terms.free_postage_from = Some(price(6_000));
    check(&terms, &[(5_999, 1_999, 400), (5_999, 2_000, 700), (6_000, 2_000, 0)]);
    let mut problem = one();
    problem.suppliers[0].postage = Postage::Flat(price(150));
    problem.suppliers[0].free_postage_from = Some(price(200));
    let plan = solved(&problem);
    assert_eq!((packs(&plan), plan.objective.minor), (vec![2], 200));
}

#[test]
fn duty_and_currency_are_rounded_half_up_once_for_an_order() {
    let mut terms = plain_terms(0);
    terms.duty = Percent { millionths: 2_500_000 };
    for (goods, expected) in [(19, 0), (20, 1), (59, 1), (60, 2)] {
        assert_eq!(duty(&terms, price(goods)), price(expected), "goods {goods}");
    }
    terms.to_home = Rate { billionths: 500_000_000 }.ratio(Currency::EUR, Currency::EUR);
    for (total, expected) in [(1, 1), (2, 1), (3, 2), (6, 3)] {
        assert_eq!(total_home(&terms, price(total)), Money { minor: expected }, "total {total}");
    }
    // Two lines of 1 each come to 1 in home money, not to 2: the order is turned into home money as a whole.
    let mut problem = one();
    problem.suppliers[0].to_home = terms.to_home;
    problem.offers = vec![plain_pack(0, 0, 0, 10, 1), plain_pack(1, 0, 1, 10, 1)];
    problem.requirements.push(Requirement { item: ItemId(1), ..problem.requirements[0] });
    problem.credits.push(Credit { item: ItemId(1), ..problem.credits[0] });
    assert_eq!(solved(&problem).cost, Money { minor: 1 });
}

#[test]
fn orders_keep_to_weekdays_and_closed_periods() {
    let mut problem = one();
    problem.suppliers[0].calendar.lead_time_days = 2;
    let check = |problem: &Problem, expected: NaiveDate| {
        let plan = solved(problem);
        assert_eq!((plan.orders[0].order_on, plan.orders.len()), (expected, 1));
    };
    check(&problem, day(7));
    problem.suppliers[0].calendar.weekdays = Weekdays::default().with(Weekday::Tue).with(Weekday::Fri);
    check(&problem, day(4));
    problem.suppliers[0].calendar.closed = vec![ClosedPeriod { from: day(4), to: day(6) }];
    check(&problem, day(1));
    let chosen = |order_on| ChosenOrder { supplier: 0, order_on, lines: vec![(0, 1)] };
    for closed in [day(0), day(4), day(5)] {
        let expected = vec![Violation::NoOrderDay { supplier: 0, order_on: closed }];
        assert_eq!(evaluate(&problem, &[chosen(closed)]), Err(expected), "{closed}");
    }
}

#[test]
fn a_delivery_serves_from_its_arrival_through_its_last_day() {
    let mut problem = one();
    problem.offers[0].life_on_arrival = Some(Span { months: 0, days: 3 });
    problem.requirements[0] = Requirement { day: day(6), through: day(8), ..problem.requirements[0] };
    let chosen = |order_on| [ChosenOrder { supplier: 0, order_on, lines: vec![(0, 1)] }];
    for (order_on, allowed) in [(4, false), (5, true), (6, true), (7, false)] {
        assert_eq!(evaluate(&problem, &chosen(day(order_on))).is_ok(), allowed, "day {order_on}");
    }
}

#[test]
fn left_over_is_credited_up_to_its_caps() {
    // r = 10 a day; bought 100, 10 of it needed: 90 left.
    let mut problem = one();
    problem.credits[0] = Credit {
        gross: Quantity(100),
        window_days: 5,
        worth: Percent { millionths: 50_000_000 },
        ..problem.credits[0]
    };
    let chosen = [ChosenOrder { supplier: 0, order_on: day(9), lines: vec![(0, 10)] }];
    for (life, expected) in [(None, 250), (Some(0), 0), (Some(2), 100), (Some(5), 250), (Some(9), 250)] {
        problem.offers[0].life_on_arrival = life.map(|days| Span { months: 0, days });
        let credit = evaluate(&problem, &chosen).unwrap().credit;
        assert_eq!(credit, Money { minor: expected }, "life {life:?}");
    }
}
