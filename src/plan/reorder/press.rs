//! Makes the bound see minimum orders and thresholds that a good plan only just reaches.
//!
//! Where a plan buys more than is needed because an order has to reach an amount, the bound by itself sees nothing of that: each
//! material would rather buy less. So a price is put on goods there: everything costs less by a share, and the amount that has to
//! be reached counts for as much (the Lagrangian dual of 'the order reaches it'). One price after the other is tried, and kept
//! where the bound rises; every price gives a valid bound.

use super::PlannedOrder;
use super::bound::Bounds;
use super::candidates::Case;
use super::evaluate::number;
use super::exact::is_small;
use super::fees::line;
use super::prices::{Early, Prices};

/// The shares that are tried for a price.
const OFFS: [f64; 6] = [0.15, 0.3, 0.45, 0.6, 0.75, 0.9];
/// The parts that are tried of the share at which free postage is worth the postage.
const PARTS: [f64; 4] = [0.25, 0.5, 0.75, 1.0];
/// How many times a material may be laid out anew.
const WORK: usize = 200;
/// The prices are gone through so often.
const ROUNDS: usize = 2;

/// What a price is put on.
#[derive(Clone, Copy, Debug)]
enum Spot {
    /// All goods of a supplier in one of its stretches.
    In(usize, usize),
    /// The same, where a good plan buys nothing.
    Idle(usize, usize),
    /// A supplier's goods by a slot by which something has to come from there.
    By(usize, usize),
}

/// Puts such prices on goods as lift the bound. `orders` are those of a good plan.
pub(super) fn press(
    case: &Case<'_>,
    orders: &[PlannedOrder],
    bounds: &mut Bounds<'_, '_>,
    objective: f64,
    stop: &mut dyn FnMut() -> bool,
) {
    let spots = spots(case, orders, &bounds.proof.prices);
    let mut work = WORK;
    for _ in 0..ROUNDS {
        let before = bounds.proof.value;
        for &spot in &spots {
            let touched = touched(case, spot);
            for off in offs(case, spot) {
                if work < touched.len() || stop() {
                    return;
                }
                let Some(prices) = changed(case, &bounds.proof.prices, spot, off) else { continue };
                work -= touched.len();
                if !bounds.attempt(prices, &touched, objective, stop) {
                    break;
                }
            }
        }
        if bounds.proof.value <= before {
            break;
        }
    }
}

/// The shares that are tried for a price, each as long as the bound rises.
fn offs(case: &Case<'_>, spot: Spot) -> Vec<f64> {
    let (Spot::In(supplier, _) | Spot::Idle(supplier, _) | Spot::By(supplier, _)) = spot;
    let terms = &case.problem.suppliers[supplier];
    let from = terms.free_postage_from.filter(|from| from.minor > 0);
    // Beyond that share, goods count for more than the postage.
    let whole = from.map(|from| case.highest_postage(supplier) / (from.minor as f64 * case.landed(supplier)));
    let parts = whole.into_iter().flat_map(|whole| PARTS.map(|part| part * whole));
    match spot {
        Spot::By(..) => OFFS.to_vec(),
        Spot::In(..) if is_small(case) => OFFS.to_vec(),
        // Nothing is bought there, so the highest share came first.
        Spot::Idle(..) => parts.rev().skip(1).collect(),
        Spot::In(..) => {
            let steep = OFFS.iter().copied().filter(|_| terms.minimum_order.minor > 0 || whole.is_none());
            let mut offs: Vec<f64> = parts.chain(steep).collect();
            offs.sort_by(f64::total_cmp);
            offs
        }
    }
}

/// Where a good plan has orders that only just reach what they have to.
fn spots(case: &Case<'_>, orders: &[PlannedOrder], prices: &Prices) -> Vec<Spot> {
    let mut found = Vec::new();
    for (supplier, terms) in case.problem.suppliers.iter().enumerate() {
        let own = || orders.iter().filter(|order| order.supplier == terms.supplier);
        let goal = terms.minimum_order.max(terms.free_postage_from.unwrap_or_default()).minor;
        let near = |goods: i64, goal: i64| goods > 0 && goal > 0 && goods < goal.saturating_mul(3) / 2;
        for (part, stretch) in prices.stretches[supplier].iter().enumerate() {
            let (after, through) = Prices::days(case, supplier, stretch.first, stretch.last);
            let within = |order: &&PlannedOrder| (after..through).contains(&(number(order.order_on) - 1));
            let bought: i64 = own().filter(within).map(|order| order.goods.minor).sum();
            if bought == 0 && goal > 0 {
                found.push(Spot::Idle(supplier, part));
            } else if own().filter(within).any(|order| near(order.goods.minor, goal)) || near(bought, goal) {
                found.push(Spot::In(supplier, part));
            }
        }
        let mut places = forced(case, supplier);
        places.retain(|&place| {
            let last = case.slots[case.own_slots[supplier][place]].order_on;
            let early: i64 = own().filter(|order| order.order_on <= last).map(|order| order.goods.minor).sum();
            near(early, terms.minimum_order.minor)
        });
        found.extend(places.into_iter().map(|place| Spot::By(supplier, place)));
    }
    found
}

/// The slots by which every plan has an order of a supplier, since nobody else could bring something in time.
fn forced(case: &Case<'_>, supplier: usize) -> Vec<usize> {
    let mut places: Vec<usize> = Vec::new();
    for &(material, house) in &case.sells[supplier] {
        let houses = &case.materials[material].houses;
        for (need, latest) in houses[house].latest.iter().enumerate() {
            let others = houses.iter().enumerate().any(|(other, own)| other != house && own.latest[need].is_some());
            places.extend(latest.filter(|_| !others));
        }
    }
    places.sort_unstable();
    places.dedup();
    places
}

/// The materials for which a price matters.
fn touched(case: &Case<'_>, spot: Spot) -> Vec<usize> {
    let (Spot::In(supplier, _) | Spot::Idle(supplier, _) | Spot::By(supplier, _)) = spot;
    case.sells[supplier].iter().map(|sold| sold.0).collect()
}

/// The prices with such a share taken off; `None` where it would be too much, or counts for nothing.
fn changed(case: &Case<'_>, prices: &Prices, spot: Spot, off: f64) -> Option<Prices> {
    let mut prices = prices.clone();
    let all = |prices: &Prices, supplier: usize| {
        let early = prices.early.iter().filter(|early| early.supplier == supplier);
        let fees = prices.stretches[supplier].iter().map(|stretch| stretch.fee.discount + stretch.fee.rounding);
        fees.fold(0.0, f64::max) + early.map(|early| early.off).sum::<f64>()
    };
    let (Spot::In(supplier, _) | Spot::Idle(supplier, _) | Spot::By(supplier, _)) = spot;
    match spot {
        Spot::In(_, part) | Spot::Idle(_, part) => {
            let fee = &mut prices.stretches[supplier][part].fee;
            *fee = line(case, supplier, off, (fee.by_weight, fee.heaviest))?;
            if is_small(case) {
                fee.most_off = f64::INFINITY;
            }
        }
        Spot::By(_, place) => {
            prices.early.retain(|early| (early.supplier, early.place) != (supplier, place));
            let gain = off * case.landed(supplier) * case.problem.suppliers[supplier].minimum_order.minor as f64;
            prices.early.push(Early { supplier, place, off, gain });
        }
    }
    (all(&prices, supplier) < 0.95).then_some(prices)
}
