//! Few lots at a weighing, against brute force.
//!
//! Claimed: needs are settled in their order. With what the needs before it draw as given, with what every need gets, and
//! with what is used up of each supply that expires by the horizon, no need could be served from fewer supplies; and a
//! need that one supply serves has, of all that could, the one that expires first.

use super::naive::serves;
use super::support::Random;
use super::support::cases::{Case, Sizes, random_case};
use std::collections::HashSet;
use stillroom::plan::allocate::{Allocation, SearchLimit, allocate};

const TINY: Sizes = Sizes { supplies: 5, needs: 4, most: 5, days: 9, with_opening_life: 0 };

#[test]
fn no_need_could_be_served_from_fewer_lots() {
    let mut random = Random::new(13);
    let (mut needs, mut split) = (0, [0; 6]);
    for number in 0..4_000 {
        let case = random_case(&mut random, TINY);
        let allocation = allocate(&case.supplies, &case.needs, case.horizon, SearchLimit::default());
        for need in 0..case.needs.len() {
            let drawn = drawn_from(&allocation, need);
            needs += 1;
            split[drawn.len()] += 1;
            let fewest = (0..=drawn.len()).find_map(|count| {
                subsets(case.supplies.len(), count).into_iter().find(|set| can_serve(&case, &allocation, need, set))
            });
            let fewest = fewest.expect("the allocation itself is a way");
            let context =
                format!("case {number}, need {need}: {drawn:?}, {fewest:?} would do: {case:?} {allocation:?}");
            assert_eq!(drawn.len(), fewest.len(), "{context}");
            if drawn.len() == 1 {
                assert_eq!(drawn, first_expired_single(&case, &allocation, need), "{context}");
            }
        }
    }
    println!("fewest lots: {needs} needs of 4000 cases against brute force; served from 0, 1, 2, ... lots: {split:?}.");
}

fn drawn_from(allocation: &Allocation, need: usize) -> Vec<usize> {
    let mut drawn: Vec<usize> =
        allocation.draws.iter().filter(|draw| draw.need == need).map(|draw| draw.supply).collect();
    drawn.sort_unstable();
    drawn
}

fn first_expired_single(case: &Case, allocation: &Allocation, need: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..case.supplies.len()).collect();
    order.sort_by_key(|&supply| (case.supplies[supply].through, case.supplies[supply].from, supply));
    let first = order.into_iter().find(|&supply| can_serve(case, allocation, need, &[supply]));
    first.into_iter().collect()
}

fn subsets(of: usize, count: usize) -> Vec<Vec<usize>> {
    let all = (0_u32..1 << of).filter(|bits| bits.count_ones() as usize == count);
    all.map(|bits| (0..of).filter(|place| bits & (1 << place) != 0).collect()).collect()
}

/// True where the need can be served from just these supplies, the needs before it as they are, those after it at will.
fn can_serve(case: &Case, allocation: &Allocation, need: usize, allowed: &[usize]) -> bool {
    let mut left: Vec<i64> = case.supplies.iter().map(|supply| supply.quantity.0).collect();
    for draw in allocation.draws.iter().filter(|draw| draw.need < need) {
        left[draw.supply] -= draw.quantity.0;
    }
    let search = Search { case, allocation, need, allowed };
    let mut states = HashSet::from([left]);
    for place in need..case.needs.len() {
        let missing = case.needs[place].quantity.0 - allocation.short[place].0;
        let mut next = HashSet::new();
        for left in &states {
            search.split(place, missing, 0, &mut left.clone(), &mut next);
        }
        states = next;
    }
    states.iter().any(|left| search.ends_well(left))
}

struct Search<'a> {
    case: &'a Case,
    allocation: &'a Allocation,
    need: usize,
    allowed: &'a [usize],
}

impl Search<'_> {
    /// All ways to serve a need from the supplies from `supply` on.
    fn split(&self, place: usize, missing: i64, supply: usize, left: &mut Vec<i64>, found: &mut HashSet<Vec<i64>>) {
        if missing == 0 {
            found.insert(left.clone());
            return;
        }
        if supply == left.len() {
            return;
        }
        let can = serves(&self.case.supplies[supply], &self.case.needs[place])
            && (place != self.need || self.allowed.contains(&supply));
        let most = if can { missing.min(left[supply]) } else { 0 };
        for quantity in 0..=most {
            left[supply] -= quantity;
            self.split(place, missing - quantity, supply + 1, left, found);
            left[supply] += quantity;
        }
    }

    fn ends_well(&self, left: &[i64]) -> bool {
        let kept = |supply: usize| {
            self.case.supplies[supply].through > self.case.horizon || left[supply] == self.allocation.left[supply].0
        };
        (0..left.len()).all(kept)
    }
}
