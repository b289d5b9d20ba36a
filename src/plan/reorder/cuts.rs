//! Makes the bound see that a supplier has to be paid more than once.
//!
//! Where a plan has several orders with a supplier, its order days are cut between them: whoever orders before the cut pays there, and
//! whoever orders after it pays again. Each stretch gets the line for its fee that suits what the plan buys in it. Every cut gives a
//! valid bound; those that do not lift it are taken back.

use super::PlannedOrder;
use super::bound::{Bounds, bought};
use super::candidates::Case;
use super::fees::fee;
use super::prices::{Prices, Stretch};

/// Cuts order days where that lifts the bound. `orders` are those of a good plan.
pub(super) fn cut(
    case: &Case<'_>,
    orders: &[PlannedOrder],
    bounds: &mut Bounds<'_, '_>,
    objective: f64,
    stop: &mut dyn FnMut() -> bool,
) {
    for supplier in 0..case.problem.suppliers.len() {
        let places = places(case, orders, supplier);
        if places.is_empty() || stop() {
            continue;
        }
        let mut prices = bounds.proof.prices.clone();
        prices.stretches[supplier] = stretches(case, orders, supplier, &places);
        if prices.stretches[supplier] != bounds.proof.prices.stretches[supplier] {
            let touched: Vec<usize> = case.sells[supplier].iter().map(|sold| sold.0).collect();
            bounds.attempt(prices, &touched, objective, stop);
        }
    }
}

/// The slots of a plan's orders, as places among the supplier's.
fn places(case: &Case<'_>, orders: &[PlannedOrder], supplier: usize) -> Vec<usize> {
    let own = orders.iter().filter(|order| order.supplier == case.problem.suppliers[supplier].supplier);
    let slots = &case.own_slots[supplier];
    let place = |order: &PlannedOrder| slots.iter().position(|&slot| case.slots[slot].order_on == order.order_on);
    let mut places: Vec<usize> = own.filter_map(place).collect();
    places.sort_unstable();
    places
}

/// The order days cut after each order but the last, and before each but the first.
fn stretches(case: &Case<'_>, orders: &[PlannedOrder], supplier: usize, places: &[usize]) -> Vec<Stretch> {
    let mut ends: Vec<usize> = places.windows(2).flat_map(|pair| [pair[0], pair[1] - 1]).collect();
    ends.push(usize::MAX);
    ends.dedup();
    let mut first = 0;
    let mut found = Vec::with_capacity(ends.len());
    for last in ends {
        let days = Prices::days(case, supplier, first, last);
        let bought = bought(case, orders, supplier, days);
        let fee = fee(case, supplier, &bought, days);
        found.push(Stretch { first, last, fee, weighed: bought.goods.into_keys().collect() });
        first = last.saturating_add(1);
    }
    found
}
