//! What the safety stock asks for, against a simulation that takes every day one after the other.

use super::support::cases::{Case, Sizes, random_case};
use super::support::{Random, day};
use chrono::NaiveDate;
use stillroom::plan::allocate::{SearchLimit, allocate};
use stillroom::plan::project::below_safety_stock;
use stillroom::plan::quantity::Quantity;

const SIZES: Sizes = Sizes { supplies: 5, needs: 7, most: 40, days: 20, with_opening_life: 30 };

#[test]
fn the_first_day_below_and_the_most_that_is_missing() {
    let mut random = Random::new(22);
    let (mut below, mut later) = (0, 0);
    for number in 0..3_000 {
        let case = random_case(&mut random, SIZES);
        let case = Case { needs: case.needs.into_iter().filter(|need| need.day <= case.horizon).collect(), ..case };
        let allocation = allocate(&case.supplies, &case.needs, case.horizon, SearchLimit { states: 50 });
        let safety_stock = Quantity(random.amount(0, 60));
        let found =
            below_safety_stock(&case.supplies, &case.needs, &allocation.short, safety_stock, day(0), case.horizon);
        let expected = simulate(&case, &allocation.short, safety_stock.0);
        let context = format!("case {number}, safety stock {safety_stock:?}: {case:?}");
        assert_eq!(found.map(|(date, missing)| (date, missing.0)), expected, "{context}");
        below += u32::from(expected.is_some());
        later += u32::from(expected.is_some_and(|(date, _)| date > day(0)));
    }
    println!("safety stock: 3000 cases, {below} fall below, {later} of them after the first day.");
    assert!(later > 300);
}

/// Every day: receipts are there, demands take what they were given from the lot that ends first, the rest is counted.
fn simulate(case: &Case, short: &[Quantity], safety_stock: i64) -> Option<(NaiveDate, i64)> {
    let mut lots: Vec<(NaiveDate, i64, bool)> =
        case.supplies.iter().map(|supply| (supply.through, supply.quantity.0, false)).collect();
    let mut first = None;
    let mut most = 0;
    let mut date = day(0);
    while date <= case.horizon {
        for (need, short) in case.needs.iter().zip(short).filter(|(need, _)| need.day == date) {
            for _ in 0..need.quantity.0 - short.0 {
                let usable = (0..lots.len())
                    .filter(|&lot| case.supplies[lot].from <= date && lots[lot].0 >= date && lots[lot].1 > 0);
                let Some(lot) = usable.min_by_key(|&lot| (lots[lot].0, lot)) else { break };
                lots[lot].1 -= 1;
                if let (Some(life), false) = (case.supplies[lot].life_once_opened, lots[lot].2) {
                    lots[lot].0 = lots[lot].0.min(life.after(date));
                }
                lots[lot].2 = true;
            }
        }
        let usable = (0..lots.len()).filter(|&lot| case.supplies[lot].from <= date && lots[lot].0 >= date);
        let missing = safety_stock - usable.map(|lot| lots[lot].1).sum::<i64>();
        if missing > 0 {
            first = first.or(Some(date));
            most = most.max(missing);
        }
        date = date.succ_opt().unwrap();
    }
    first.map(|first| (first, most))
}
