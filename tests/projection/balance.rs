//! The balance of each day against a recount of the lots, day by day.

use super::support::cases::{Case, Sizes, random_case};
use super::support::{Random, day};
use chrono::NaiveDate;
use stillroom::plan::allocate::{Allocation, SearchLimit, allocate};
use stillroom::plan::project::{on_hand, project};

const SIZES: Sizes = Sizes { supplies: 5, needs: 7, most: 40, days: 20, with_opening_life: 30 };

#[test]
fn every_day_adds_up_and_is_what_the_usable_lots_hold() {
    let mut random = Random::new(21);
    let (mut days, mut with_expiry, mut with_shortage) = (0, 0, 0);
    for number in 0..1_500 {
        let case = random_case(&mut random, SIZES);
        let allocation = allocate(&case.supplies, &case.needs, case.horizon, SearchLimit { states: 50 });
        let projected = project(&case.supplies, &case.needs, &allocation, day(0), case.horizon);
        let context = format!("case {number}: {case:?} {allocation:?}");
        let mut before = on_hand(&case.supplies, day(0));
        let mut date = day(0);
        for projected in &projected {
            assert_eq!(projected.date, date, "{context}");
            let taken = projected.demand - projected.short;
            assert_eq!(projected.balance, before + projected.receipts - taken - projected.expired, "{date} {context}");
            assert_eq!(projected.balance.0, recount(&case, &allocation, date), "{date} {context}");
            let needs = case.needs.iter().zip(&allocation.short).filter(|(need, _)| need.day == date);
            let (demand, short) = needs.fold((0, 0), |sum, (need, short)| (sum.0 + need.quantity.0, sum.1 + short.0));
            assert_eq!((projected.demand.0, projected.short.0), (demand, short), "{date} {context}");
            let coming = case.supplies.iter().filter(|supply| supply.from == date && date > day(0));
            assert_eq!(projected.receipts.0, coming.map(|supply| supply.quantity.0).sum::<i64>(), "{date} {context}");
            before = projected.balance;
            days += 1;
            with_expiry += u32::from(projected.expired.0 > 0);
            with_shortage += u32::from(projected.short.0 > 0);
            date = date.succ_opt().unwrap();
        }
        assert_eq!(date, case.horizon.succ_opt().unwrap(), "{context}");
    }
    println!("balance: {days} days of 1500 cases; {with_expiry} with expiry, {with_shortage} short.");
    assert!(with_expiry > 100 && with_shortage > 100);
}

/// What the lots that can be used on the day hold at its end.
fn recount(case: &Case, allocation: &Allocation, date: NaiveDate) -> i64 {
    let mut held = 0;
    for (place, supply) in case.supplies.iter().enumerate() {
        if supply.from <= date && date <= allocation.through[place] {
            let drawn =
                allocation.draws.iter().filter(|draw| draw.supply == place && case.needs[draw.need].day <= date);
            held += supply.quantity.0 - drawn.map(|draw| draw.quantity.0).sum::<i64>();
        }
    }
    held
}
