//! The flow worked out the plain way, every supply and every need looked at each time: what the fast one is held against.

use super::flow::{Flow, least_value_lost, value_rank};
use super::{Need, Supply, Window};
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
fn plain_least_value_lost(supplies: &[Supply], windows: &[Window], needs: &[Need], expires: &[bool]) -> Flow {
    let mut flow = cover(supplies, windows, needs);
    let rank = value_rank(supplies, expires);
    let mut by_rank: Vec<usize> = (0..supplies.len()).filter(|&supply| rank[supply] < usize::MAX).collect();
    by_rank.sort_by_key(|&supply| rank[supply]);
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
        let expires: Vec<bool> = windows.iter().map(|window| window.through <= day(horizon)).collect();
        let fast = least_value_lost(&supplies, &windows, &needs, &expires);
        let plain = plain_least_value_lost(&supplies, &windows, &needs, &expires);
        prop_assert_eq!(&fast.left, &plain.left);
        for need in 0..needs.len() {
            prop_assert_eq!(fast.of_need(need), plain.of_need(need), "need {}", need);
        }
    }
}
