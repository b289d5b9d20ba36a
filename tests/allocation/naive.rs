//! The rules that every allocation keeps, and naive models to compare with.

use super::support::cases::Case;
use chrono::NaiveDate;
use pathfinding::directed::edmonds_karp::{DenseCapacity, edmonds_karp};
use stillroom::plan::allocate::{Allocation, Need, Supply};
use stillroom::plan::quantity::Quantity;

/// Every rule that an allocation keeps, whatever it optimises; `context` names the case in a failure.
pub fn check_rules(case: &Case, allocation: &Allocation, context: &str) {
    let mut left: Vec<i64> = case.supplies.iter().map(|supply| supply.quantity.0).collect();
    let mut missing: Vec<i64> = case.needs.iter().map(|need| need.quantity.0).collect();
    let mut through: Vec<NaiveDate> = case.supplies.iter().map(|supply| supply.through).collect();
    let mut opened = vec![false; left.len()];
    let mut pairs = Vec::new();
    for draw in &allocation.draws {
        let (supply, need) = (&case.supplies[draw.supply], &case.needs[draw.need]);
        if !opened[draw.supply] {
            opened[draw.supply] = true;
            let ends = supply.life_once_opened.map_or(NaiveDate::MAX, |life| life.after(need.day));
            through[draw.supply] = supply.through.min(ends);
        }
        assert!(draw.quantity.0 > 0, "{context}: an empty draw {draw:?}");
        assert!(supply.from <= need.day, "{context}: drawn before it is there {draw:?}");
        assert!(through[draw.supply] >= need.through, "{context}: does not last {draw:?}");
        left[draw.supply] -= draw.quantity.0;
        missing[draw.need] -= draw.quantity.0;
        pairs.push((draw.need, draw.supply));
    }
    let in_order = allocation.draws.windows(2).all(|two| two[0].need <= two[1].need);
    assert!(in_order, "{context}: draws are not in order of need");
    pairs.sort_unstable();
    pairs.dedup();
    assert_eq!(pairs.len(), allocation.draws.len(), "{context}: a pair is drawn twice");
    assert!(left.iter().chain(&missing).all(|&amount| amount >= 0), "{context}: something is below zero");
    assert_eq!(left, amounts(&allocation.left), "{context}: left");
    assert_eq!(missing, amounts(&allocation.short), "{context}: short");
    assert_eq!(through, allocation.through, "{context}: through");
}

pub fn amounts(quantities: &[Quantity]) -> Vec<i64> {
    quantities.iter().map(|quantity| quantity.0).collect()
}

/// What each need gets.
pub fn coverage(case: &Case, allocation: &Allocation) -> Vec<i64> {
    case.needs.iter().zip(&allocation.short).map(|(need, short)| need.quantity.0 - short.0).collect()
}

/// True where the supply can serve the need as long as nothing has opened it.
pub fn serves(supply: &Supply, need: &Need) -> bool {
    supply.from <= need.day && supply.through >= need.through
}

/// The value that expires by the horizon, in minor units.
pub fn value_lost(case: &Case, left: &[i64], through: &[NaiveDate]) -> f64 {
    let lost = |((supply, &left), &through): ((&Supply, &i64), &NaiveDate)| {
        if through > case.horizon || supply.quantity.0 == 0 {
            return 0.0;
        }
        supply.value.minor as f64 * left as f64 / supply.quantity.0 as f64
    };
    case.supplies.iter().zip(left).zip(through).map(lost).sum()
}

/// The most that the needs can get in their order, days fixed: max-flow over a growing prefix of needs, each fixed to
/// what it got. Solved by the crate `pathfinding` (Edmonds and Karp).
pub fn best_coverage_by_max_flow(case: &Case) -> Vec<i64> {
    let mut got: Vec<i64> = Vec::new();
    for last in 0..case.needs.len() {
        let wanted = |place: usize| if place == last { case.needs[place].quantity.0 } else { got[place] };
        let total = max_flow(case, last + 1, wanted);
        got.push(total - got.iter().sum::<i64>());
    }
    got
}

fn max_flow(case: &Case, needs: usize, wanted: impl Fn(usize) -> i64) -> i64 {
    let supplies = case.supplies.len();
    let (source, sink) = (supplies + needs, supplies + needs + 1);
    let vertices: Vec<usize> = (0..=sink).collect();
    let mut edges = Vec::new();
    for (place, supply) in case.supplies.iter().enumerate() {
        edges.push(((source, place), supply.quantity.0));
        for (number, need) in case.needs[..needs].iter().enumerate().filter(|(_, need)| serves(supply, need)) {
            edges.push(((place, supplies + number), supply.quantity.0.min(need.quantity.0)));
        }
    }
    edges.extend((0..needs).map(|number| ((supplies + number, sink), wanted(number))));
    edges.retain(|(_, capacity)| *capacity > 0);
    type Solver = DenseCapacity<i64>;
    let (_, total, _) = edmonds_karp::<usize, i64, _, Solver>(&vertices, &source, &sink, edges);
    total
}
