//! The flow worked out the plain way, every supply and every need looked at each time: what the fast one is held against.

use super::fewest::{Settled, arrange};
use super::first_fit::Shelf;
use super::flow::{Flow, coverage, dearest_first, least_value_lost_in_full, totals, value_rank};
use super::{Fixed, Need, Supply, Window};
use crate::plan::calendar::Span;
use crate::plan::money::Money;
use crate::plan::quantity::Quantity;
use chrono::{Days, NaiveDate};
use proptest::prelude::*;
use std::collections::VecDeque;

/// First expired first out, over all supplies for each need.
fn cover(supplies: &[Supply], windows: &[Window], needs: &[Need]) -> Flow {
    let mut order: Vec<usize> = (0..windows.len()).collect();
    order.sort_by_key(|&supply| (windows[supply].through, windows[supply].from, supply));
    let mut flow = Flow::new(supplies, needs.len());
    for (place, need) in needs.iter().enumerate() {
        let mut missing = need.quantity.0;
        for &supply in order.iter().filter(|supply| windows[**supply].serves(need)) {
            let quantity = missing.min(flow.left[supply]);
            if quantity > 0 {
                flow.shift(supply, place, quantity);
                missing -= quantity;
            }
        }
    }
    flow
}

/// The least value lost, with a new search through all that can be reached for each exchange.
fn plain_least_value_lost(fixed: Fixed<'_>) -> Flow {
    let Fixed { supplies, windows, needs, .. } = fixed;
    let mut flow = cover(supplies, windows, needs);
    let by_rank = dearest_first(fixed);
    let rank = value_rank(&by_rank, supplies.len());
    for supply in by_rank {
        while flow.left[supply] > 0 {
            let Some(way) = way(&flow, windows, needs, supply, |other| rank[other] > rank[supply]) else { break };
            let carried = |&(_, need, giver): &(usize, usize, usize)| {
                flow.of_need(need).iter().find(|gift| gift.0 == giver).map_or(0, |gift| gift.1)
            };
            let quantity = way.iter().map(carried).min().unwrap_or(0).min(flow.left[supply]);
            for (taker, need, giver) in way {
                flow.shift(giver, need, -quantity);
                flow.shift(taker, need, quantity);
            }
        }
    }
    flow
}

/// Breadth first: the taker, the need it takes over and from whom, at each step.
fn way(
    flow: &Flow,
    windows: &[Window],
    needs: &[Need],
    start: usize,
    ends_at: impl Fn(usize) -> bool,
) -> Option<Vec<(usize, usize, usize)>> {
    let mut ways: Vec<Option<Vec<_>>> = vec![None; windows.len()];
    ways[start] = Some(Vec::new());
    let mut queue = VecDeque::from([start]);
    while let Some(taker) = queue.pop_front() {
        for (place, _) in needs.iter().enumerate().filter(|(_, need)| windows[taker].serves(need)) {
            for &(giver, _) in flow.of_need(place) {
                if ways[giver].is_some() {
                    continue;
                }
                let mut longer = ways[taker].clone()?;
                longer.push((taker, place, giver));
                if ends_at(giver) {
                    return Some(longer);
                }
                ways[giver] = Some(longer);
                queue.push_back(giver);
            }
        }
    }
    None
}

fn day(number: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, 3, 1).unwrap() + Days::new(number)
}

prop_compose! {
    fn some_supply()(from in 0_u64..20, lasts in 0_u64..30, quantity in 0_i64..40, minor in 0_i64..60, ever in 0..6) -> Supply {
        let through = if ever == 0 { NaiveDate::MAX } else { day(from + lasts) };
        let from = day(if from < 12 { 0 } else { from });
        Supply { from, through, quantity: Quantity(quantity), value: Money { minor }, life_once_opened: None::<Span> }
    }
}

prop_compose! {
    fn some_need()(on in 0_u64..25, lasts in 0_u64..8, quantity in 0_i64..25) -> Need {
        Need { day: day(on), through: day(on + lasts.saturating_sub(3)), quantity: Quantity(quantity) }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn the_fast_flow_is_the_plain_one_to_the_last_draw(
        supplies in proptest::collection::vec(some_supply(), 0..14),
        mut needs in proptest::collection::vec(some_need(), 0..24),
        horizon in 0_u64..30,
    ) {
        needs.sort_by_key(|need| need.day);
        let windows: Vec<Window> = supplies.iter().map(Window::unopened).collect();
        let fixed = Fixed { supplies: &supplies, windows: &windows, needs: &needs, horizon: day(horizon) };
        let plain = plain_least_value_lost(fixed);
        let in_full = needs.iter().enumerate().all(|(place, need)| plain.given_to(place) == need.quantity.0);
        prop_assert_eq!(least_value_lost_in_full(fixed).is_some(), in_full);
        // Needs that ask for just what they can get.
        for (place, need) in needs.iter_mut().enumerate() {
            need.quantity = Quantity(plain.given_to(place));
        }
        let fixed = Fixed { supplies: &supplies, windows: &windows, needs: &needs, horizon: day(horizon) };
        let fast = least_value_lost_in_full(fixed).unwrap();
        prop_assert_eq!(&fast.left, &plain.left);
        for need in 0..needs.len() {
            prop_assert_eq!(fast.of_need(need), plain.of_need(need), "need {}", need);
        }
    }

    #[test]
    fn totals_without_a_flow_are_those_of_the_flow(
        supplies in proptest::collection::vec(some_supply(), 0..14),
        mut needs in proptest::collection::vec(some_need(), 0..24),
        horizon in 0_u64..30,
        come_later in any::<bool>(),
    ) {
        needs.sort_by_key(|need| need.day);
        let here = |supply: &Supply| Supply { from: day(0).min(supply.through), ..supply.clone() };
        let supplies: Vec<Supply> = if come_later { supplies } else { supplies.iter().map(here).collect() };
        let windows: Vec<Window> = supplies.iter().map(Window::unopened).collect();
        let fixed = Fixed { supplies: &supplies, windows: &windows, needs: &needs, horizon: day(horizon) };
        let flow = plain_least_value_lost(fixed);
        let mut shelf = Shelf::new(&windows);
        let classes: Vec<usize> = needs.iter().map(|need| shelf.first_lasting(need.through)).collect();
        let (given, left) = totals(&mut shelf, fixed, &classes);
        prop_assert_eq!(given, coverage(&flow, needs.len()));
        for supply in (0..supplies.len()).filter(|supply| fixed.expires(*supply)) {
            prop_assert_eq!(left[supply], flow.left[supply], "supply {}", supply);
        }
    }

    #[test]
    fn each_need_draws_from_the_first_of_the_smallest_sets_that_leave_enough(
        supplies in proptest::collection::vec(some_supply(), 0..7),
        mut needs in proptest::collection::vec(some_need(), 0..10),
        horizon in 0_u64..30,
    ) {
        needs.sort_by_key(|need| need.day);
        let windows: Vec<Window> = supplies.iter().map(Window::unopened).collect();
        let fixed = Fixed { supplies: &supplies, windows: &windows, needs: &needs, horizon: day(horizon) };
        let flow = plain_least_value_lost(fixed);
        let given = coverage(&flow, needs.len());
        let mut draws = vec![Vec::new(); needs.len()];
        let settled = Settled { given: &given, left: &flow.left };
        let shelf = Shelf::new(&windows);
        let classes: Vec<usize> = needs.iter().map(|need| shelf.first_lasting(need.through)).collect();
        arrange(settled, shelf, fixed, &classes, |need, supply, quantity| {
            draws[need].push((supply, quantity));
        });
        let expires: Vec<bool> = (0..supplies.len()).map(|supply| fixed.expires(supply)).collect();
        let has = |supply: usize| supplies[supply].quantity.0 - if expires[supply] { flow.left[supply] } else { 0 };
        let mut has: Vec<i64> = (0..supplies.len()).map(has).collect();
        let mut order: Vec<usize> = (0..supplies.len()).collect();
        order.sort_by_key(|&supply| (windows[supply].through, windows[supply].from, supply));
        for need in 0..needs.len() {
            let rest = Rest { windows: &windows, needs: &needs[need..], given: &given[need..], expires: &expires, has: &has };
            let expected = rest.first_smallest_set(&order);
            let drawn: Vec<usize> = draws[need].iter().map(|draw| draw.0).collect();
            prop_assert_eq!(Some(drawn), expected, "need {}", need);
            prop_assert_eq!(draws[need].iter().map(|draw| draw.1).sum::<i64>(), given[need]);
            for &(supply, quantity) in &draws[need] {
                has[supply] -= quantity;
            }
        }
    }
}

/// What is not settled yet: the first of `needs` is the next.
struct Rest<'a> {
    windows: &'a [Window],
    needs: &'a [Need],
    given: &'a [i64],
    expires: &'a [bool],
    has: &'a [i64],
}

impl Rest<'_> {
    /// All sets by size, each size in the order of the shelf.
    fn first_smallest_set(&self, order: &[usize]) -> Option<Vec<usize>> {
        let sets = 0_u32..1 << order.len();
        let set = |bits: u32| (0..order.len()).filter(|place| bits & (1 << place) != 0).collect::<Vec<usize>>();
        let mut sets: Vec<Vec<usize>> = sets.map(set).collect();
        sets.sort_by_key(|places| (places.len(), places.clone()));
        let named = |places: Vec<usize>| places.into_iter().map(|place| order[place]).collect::<Vec<usize>>();
        sets.into_iter().map(named).find(|set| self.can_serve_from(set))
    }

    /// True where all needs get what they get, the first of them from this set alone, and all that expires is used up: the
    /// largest flow that tries what expires first, then the rest.
    fn can_serve_from(&self, set: &[usize]) -> bool {
        let mut flow = vec![vec![0; self.has.len()]; self.needs.len()];
        let mut wants = self.given.to_vec();
        let serves = |supply: usize, need: usize| {
            self.windows[supply].serves(&self.needs[need]) && (need > 0 || set.contains(&supply))
        };
        for expiring in [true, false] {
            for supply in (0..self.has.len()).filter(|supply| self.expires[*supply] == expiring) {
                let mut left = self.has[supply];
                while left > 0
                    && let Some(moved) = augment(&mut flow, &mut wants, supply, left, serves)
                {
                    left -= moved;
                }
                if expiring && left > 0 {
                    return false;
                }
            }
        }
        wants.iter().all(|wanted| *wanted == 0)
    }
}

/// Sends more of a supply along a way to a need that wants more; a need that has been reached may be given up to another
/// supply. Returns how much.
fn augment(
    flow: &mut [Vec<i64>],
    wants: &mut [i64],
    start: usize,
    left: i64,
    serves: impl Fn(usize, usize) -> bool,
) -> Option<i64> {
    // From whom each need was reached, and through which need each supply.
    let mut need_from: Vec<Option<usize>> = vec![None; wants.len()];
    let mut supply_from: Vec<Option<usize>> = vec![None; flow.first().map_or(0, Vec::len)];
    let mut queue = VecDeque::from([start]);
    while let Some(supply) = queue.pop_front() {
        for need in 0..wants.len() {
            if need_from[need].is_some() || !serves(supply, need) {
                continue;
            }
            need_from[need] = Some(supply);
            if wants[need] > 0 {
                let mut way = vec![(need, supply)];
                let (mut most, mut at) = (wants[need].min(left), supply);
                while at != start {
                    let through = supply_from[at]?;
                    most = most.min(flow[through][at]);
                    at = need_from[through]?;
                    way.push((through, at));
                }
                wants[need] -= most;
                for (step, &(need, supply)) in way.iter().enumerate() {
                    flow[need][supply] += most;
                    if let Some(&(next, _)) = way.get(step + 1) {
                        flow[next][supply] -= most;
                    }
                }
                return Some(most);
            }
            for giver in 0..supply_from.len() {
                if flow[need][giver] > 0 && giver != start && supply_from[giver].is_none() {
                    supply_from[giver] = Some(need);
                    queue.push_back(giver);
                }
            }
        }
    }
    None
}
