//! After-opening lives, against brute force over all ways to draw whole units and so over all first-use days.

use super::naive::{amounts, best_coverage_by_max_flow, check_rules, coverage, value_lost};
use super::support::cases::{Case, Sizes, need, random_case, supply};
use super::support::{Random, day};
use chrono::{Days, NaiveDate};
use std::collections::HashMap;
use stillroom::plan::allocate::{SearchLimit, Supply, allocate};
use stillroom::plan::calendar::Span;

const TINY: Sizes = Sizes { supplies: 4, needs: 4, most: 3, days: 8, with_opening_life: 75 };
const MANY_NEEDS: Sizes = Sizes { supplies: 3, needs: 6, most: 2, days: 10, with_opening_life: 90 };
const MANY_LOTS: Sizes = Sizes { supplies: 6, needs: 3, most: 2, days: 8, with_opening_life: 90 };

/// Quantities in these cases are at most 3, so that 6 times a value is whole for any part of a supply.
const UNITS: i64 = 6;

#[test]
fn what_is_proven_is_the_best_of_all() {
    let mut random = Random::new(14);
    let (mut count, mut opened, mut proven) = (0, 0, 0);
    for (sizes, cases) in [(TINY, 2_500), (MANY_NEEDS, 600), (MANY_LOTS, 600)] {
        for number in 0..cases {
            let case = random_case(&mut random, sizes);
            let allocation = allocate(&case.supplies, &case.needs, case.horizon, SearchLimit::default());
            let context = format!("case {number} of {cases}: {case:?} {allocation:?}");
            check_rules(&case, &allocation, &context);
            let best = best_by_brute_force(&case);
            let found = (coverage(&case, &allocation), lost(&case, &amounts(&allocation.left), &allocation.through));
            if allocation.proven {
                assert_eq!(found, best, "{context}");
            } else {
                assert!(found.0 < best.0 || (found.0 == best.0 && found.1 >= best.1), "{context}");
            }
            count += 1;
            proven += u32::from(allocation.proven);
            opened += u32::from((0..case.supplies.len()).any(|s| allocation.through[s] < case.supplies[s].through));
        }
    }
    println!("opening: {count} cases against brute force; {opened} shorten a life, {proven} proven.");
    assert!(proven * 100 >= count * 99, "so small a search should end: {proven} of {count}");
}

#[test]
fn a_search_that_is_cut_short_says_so_and_keeps_the_rules() {
    let mut random = Random::new(15);
    let (mut count, mut unproven, mut worse) = (0, 0, 0);
    for number in 0..2_000 {
        let case = random_case(&mut random, TINY);
        let allocation = allocate(&case.supplies, &case.needs, case.horizon, SearchLimit { states: 1 });
        let context = format!("case {number}: {case:?} {allocation:?}");
        check_rules(&case, &allocation, &context);
        count += 1;
        let best = best_by_brute_force(&case);
        let found = (coverage(&case, &allocation), lost(&case, &amounts(&allocation.left), &allocation.through));
        if allocation.proven {
            assert_eq!(found, best, "{context}");
        } else {
            unproven += 1;
            worse += u32::from(found != best);
        }
    }
    println!("opening, one state kept: {count} cases, {unproven} not proven, {worse} of those not the best.");
    assert!(unproven > 0, "the limit was never met, so nothing was tested");
}

/// Sizes of a workshop are beyond brute force: the rules hold, what is proven with little effort stands when more is
/// spent, more effort never finds a worse answer, and no answer covers more than lots without after-opening lives could.
#[test]
fn in_a_workshop_little_effort_finds_what_much_effort_finds() {
    let sizes = Sizes { supplies: 7, needs: 16, most: 900, days: 45, with_opening_life: 60 };
    let mut random = Random::new(16);
    let (mut proven, mut proven_with_more, mut bettered) = (0, 0, 0);
    for number in 0..250 {
        let mut case = random_case(&mut random, sizes);
        // Unopened they last well beyond the horizon, opened they do not: here the search has most to do.
        for supply in &mut case.supplies {
            supply.through = supply.through.checked_add_days(Days::new(70)).unwrap_or(NaiveDate::MAX);
            supply.life_once_opened = Some(Span { months: 0, days: u32::try_from(random.between(10, 50)).unwrap() });
        }
        let answer = |states| allocate(&case.supplies, &case.needs, case.horizon, SearchLimit { states });
        let (little, much) = (answer(20), answer(SearchLimit::default().states));
        let context = format!("case {number}: {case:?}");
        check_rules(&case, &little, &context);
        check_rules(&case, &much, &context);
        let [one, other] = [&little, &much].map(|allocation| coverage(&case, allocation));
        assert!(one <= other && other <= best_coverage_by_max_flow(&case), "{context}");
        let [cost, less] = [&little, &much].map(|found| value_lost(&case, &amounts(&found.left), &found.through));
        let same = one == other && (cost - less).abs() < 1e-4;
        assert!(same || one < other || cost > less, "{context}");
        assert!(same || !little.proven, "{context}");
        proven += u32::from(little.proven);
        proven_with_more += u32::from(much.proven);
        bettered += u32::from(!same);
    }
    println!(
        "opening, a workshop's sizes: of 250 cases {proven} proven with 20 looks, {proven_with_more} with the default; \
         {bettered} were bettered."
    );
    assert!(proven_with_more >= 200, "{proven_with_more}");
}

/// With the opening days fixed, first expired first out covers the most: so all ways to fix them are tried, in cases of larger
/// amounts and more needs than brute force over draws can go through.
#[test]
fn no_choice_of_opening_days_covers_more() {
    let sizes = Sizes { supplies: 5, needs: 7, most: 60, days: 30, with_opening_life: 90 };
    let mut random = Random::new(17);
    let any = (0..100).map(|_| random_case(&mut random, sizes)).collect::<Vec<_>>();
    let bottles = (0..400).map(|_| case_of_bottles(&mut random)).collect::<Vec<_>>();
    let (mut count, mut proven, mut short) = (0, 0, 0);
    for (number, case) in any.into_iter().chain(bottles).enumerate() {
        let allocation = allocate(&case.supplies, &case.needs, case.horizon, SearchLimit::default());
        let context = format!("case {number}: {case:?} {allocation:?}");
        check_rules(&case, &allocation, &context);
        let best = best_of_opening_days(&case, 0, &mut vec![None; case.supplies.len()]);
        let found = coverage(&case, &allocation);
        assert!(found == best || (!allocation.proven && found < best), "{best:?} {context}");
        count += 1;
        proven += u32::from(allocation.proven);
        short += u32::from(allocation.short.iter().any(|short| short.0 > 0));
    }
    println!("opening days: {count} cases against all choices, {proven} proven, {short} with something short.");
    assert!(proven * 100 >= count * 95 && short >= 200, "{proven} {short}");
}

/// Bottles of one material, all there, that do not last long once opened; hardly more of it is there than is needed.
fn case_of_bottles(random: &mut Random) -> Case {
    let life = Some(Span { months: 0, days: u32::try_from(random.between(3, 14)).unwrap() });
    let bottle = |random: &mut Random| {
        let lot = supply(day(0), day(random.between(8, 45)), random.amount(8, 30), random.amount(0, 90));
        Supply { life_once_opened: life.filter(|_| random.percent(85)), ..lot }
    };
    let wanted = |random: &mut Random| {
        let on = random.between(0, 30);
        need(day(on), day(on + random.between(0, 9)), random.amount(3, 14))
    };
    let supplies = (0..4).map(|_| bottle(random)).collect();
    let mut needs: Vec<_> = (0..8).map(|_| wanted(random)).collect();
    needs.sort_by_key(|need| need.day);
    Case { supplies, needs, horizon: day(32) }
}

/// The greatest coverage over all first-use days of the supplies from `place` on, those before it as they are.
fn best_of_opening_days(case: &Case, place: usize, opened: &mut Vec<Option<NaiveDate>>) -> Vec<i64> {
    if place == opened.len() {
        return covered_first_expired_first_out(case, opened);
    }
    let mut days: Vec<NaiveDate> = case.needs.iter().map(|need| need.day).collect();
    days.dedup();
    if case.supplies[place].life_once_opened.is_none() {
        days.truncate(1);
    }
    let one = |day| {
        opened[place] = Some(day);
        best_of_opening_days(case, place + 1, opened)
    };
    days.into_iter().map(one).max().unwrap_or_default()
}

fn covered_first_expired_first_out(case: &Case, opened: &[Option<NaiveDate>]) -> Vec<i64> {
    let mut left: Vec<i64> = case.supplies.iter().map(|supply| supply.quantity.0).collect();
    let mut order: Vec<usize> = (0..left.len()).collect();
    order.sort_by_key(|&supply| through(case, supply, opened[supply]));
    let given = case.needs.iter().map(|need| {
        let mut missing = need.quantity.0;
        for &supply in &order {
            let has_life = case.supplies[supply].life_once_opened.is_some();
            let is_open = !has_life || opened[supply].is_some_and(|day| day <= need.day);
            let lasts = through(case, supply, opened[supply]) >= need.through;
            if is_open && lasts && case.supplies[supply].from <= need.day {
                let quantity = missing.min(left[supply]);
                left[supply] -= quantity;
                missing -= quantity;
            }
        }
        need.quantity.0 - missing
    });
    given.collect()
}

fn lost(case: &Case, left: &[i64], through: &[NaiveDate]) -> i64 {
    let of = |supply: usize| {
        let whole = case.supplies[supply].quantity.0;
        let expires = through[supply] <= case.horizon && whole > 0;
        if expires { case.supplies[supply].value.minor * left[supply] * UNITS / whole } else { 0 }
    };
    (0..left.len()).map(of).sum()
}

/// What is left of each supply and the day on which it was first drawn.
type State = Vec<(i64, Option<NaiveDate>)>;

/// The greatest coverage in the order of the needs and, with it, the least value lost.
fn best_by_brute_force(case: &Case) -> (Vec<i64>, i64) {
    let start: State = case.supplies.iter().map(|supply| (supply.quantity.0, None)).collect();
    let mut known = HashMap::new();
    let (mut coverage, lost) = best_from(case, 0, start, &mut known);
    coverage.reverse();
    (coverage, lost)
}

type Known = HashMap<(usize, State), (Vec<i64>, i64)>;

/// As [`best_by_brute_force`] for the needs from `place` on, the last need first.
fn best_from(case: &Case, place: usize, state: State, known: &mut Known) -> (Vec<i64>, i64) {
    if place == case.needs.len() {
        let left: Vec<i64> = state.iter().map(|(left, _)| *left).collect();
        let through: Vec<NaiveDate> = (0..left.len()).map(|supply| through(case, supply, state[supply].1)).collect();
        return (Vec::new(), lost(case, &left, &through));
    }
    if let Some(best) = known.get(&(place, state.clone())) {
        return best.clone();
    }
    let mut ways = Vec::new();
    split(case, place, case.needs[place].quantity.0, 0, &mut state.clone(), &mut ways);
    let mut best: Option<(Vec<i64>, i64)> = None;
    for (missing, successor) in ways {
        let (mut coverage, lost) = best_from(case, place + 1, successor, known);
        coverage.push(case.needs[place].quantity.0 - missing);
        let better = best.as_ref().is_none_or(|(known_coverage, known_lost)| {
            let (one, other) = (coverage.iter().rev(), known_coverage.iter().rev());
            one.clone().gt(other.clone()) || (one.eq(other) && lost < *known_lost)
        });
        if better {
            best = Some((coverage, lost));
        }
    }
    let best = best.expect("giving nothing is a way");
    known.insert((place, state), best.clone());
    best
}

fn through(case: &Case, supply: usize, opened: Option<NaiveDate>) -> NaiveDate {
    let supply = &case.supplies[supply];
    let ends = supply.life_once_opened.zip(opened).map_or(NaiveDate::MAX, |(life, opened)| life.after(opened));
    supply.through.min(ends)
}

fn split(case: &Case, place: usize, missing: i64, supply: usize, state: &mut State, ways: &mut Vec<(i64, State)>) {
    if supply == state.len() {
        ways.push((missing, state.clone()));
        return;
    }
    let need = &case.needs[place];
    let before = state[supply];
    let first_use = before.1.or(Some(need.day));
    let can = case.supplies[supply].from <= need.day && through(case, supply, first_use) >= need.through;
    split(case, place, missing, supply + 1, state, ways);
    for quantity in 1..=(if can { missing.min(before.0) } else { 0 }) {
        state[supply] = (before.0 - quantity, first_use);
        split(case, place, missing - quantity, supply + 1, state, ways);
    }
    state[supply] = before;
}

#[test]
fn the_wise_lot_is_opened_not_the_first_to_end() {
    // A needs an unopened life past the second need; B would lose nothing by being opened first.
    let mut case = Case { supplies: Vec::new(), needs: Vec::new(), horizon: day(30) };
    let life = Some(Span { months: 0, days: 10 });
    for (through, quantity) in [(100, 1_000), (120, 500)] {
        let lot = supply(day(0), day(through), quantity, 100);
        case.supplies.push(Supply { life_once_opened: life, ..lot });
    }
    case.needs = vec![need(day(1), day(1), 500), need(day(20), day(20), 1_000)];
    let allocation = allocate(&case.supplies, &case.needs, case.horizon, SearchLimit::default());
    assert_eq!((amounts(&allocation.short), allocation.proven), (vec![0, 0], true));
    assert_eq!(allocation.draws.iter().map(|draw| draw.supply).collect::<Vec<_>>(), vec![1, 0]);
}
