//! Makes the bound see that a supplier has to be paid more than once.
//!
//! Where a plan has several orders with a supplier, its order days are cut between them: whoever orders before the cut pays there, and
//! whoever orders after it pays again. Each stretch gets the line for its fee that suits what the plan buys in it. Every cut gives a
//! valid bound; those that do not lift it are taken back.

use super::PlannedOrder;
use super::bound::{Bounds, bought};
use super::candidates::Case;
use super::fees::{fee, line};
use super::prices::{Prices, Stretch};

/// The parts of the discounts that are tried, one after the other.
const PARTS: [f64; 2] = [1.0, 0.4];

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
        let touched: Vec<usize> = case.sells[supplier].iter().map(|sold| sold.0).collect();
        let steep = stretches(case, orders, supplier, &places);
        for part in PARTS {
            let mut prices = bounds.proof.prices.clone();
            prices.stretches[supplier] = steep.iter().map(|stretch| flatter(case, supplier, stretch, part)).collect();
            let is_new = prices.stretches[supplier] != bounds.proof.prices.stretches[supplier];
            let is_flat = prices.stretches[supplier].iter().all(|stretch| stretch.fee.discount == 0.0);
            if !is_new || bounds.attempt(prices, &touched, objective, stop) || is_flat {
                break;
            }
        }
    }
}

/// A stretch with a part of the discount.
fn flatter(case: &Case<'_>, supplier: usize, stretch: &Stretch, part: f64) -> Stretch {
    let fee = stretch.fee;
    let line = line(case, supplier, fee.discount * part, (fee.by_weight, fee.heaviest));
    let fee = if part < 1.0 && fee.discount > 0.0 { line.unwrap_or(fee) } else { fee };
    Stretch { fee, ..stretch.clone() }
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

/// The order days cut after each order but the last.
fn stretches(case: &Case<'_>, orders: &[PlannedOrder], supplier: usize, places: &[usize]) -> Vec<Stretch> {
    let count = case.own_slots[supplier].len();
    let before = places.iter().filter_map(|place| place.checked_sub(1));
    let mut ends: Vec<usize> = before.chain(places.iter().copied()).filter(|&end| end + 1 < count).collect();
    ends.push(usize::MAX);
    ends.sort_unstable();
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
