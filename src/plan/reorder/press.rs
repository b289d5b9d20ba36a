//! Makes the bound see minimum orders and thresholds that a good plan only just reaches.
//!
//! Where a plan buys more than is needed because an order has to reach an amount, the bound by itself sees nothing of that: each
//! material would rather buy less. So a price is put on goods there: everything costs less by a share, and the amount that has to
//! be reached counts for as much (the Lagrangian dual of 'the order reaches it'). One price after the other is tried, and kept
//! where the bound rises; every price gives a valid bound.

use super::PlannedOrder;
use super::bound::{Early, Prices, Proof};
use super::candidates::Case;
use super::fees::fee_with;

/// The shares that are tried for a price, each as long as the bound rises.
const OFFS: [f64; 6] = [0.15, 0.3, 0.45, 0.6, 0.75, 0.9];
/// How many times a material may be laid out anew.
const WORK: usize = 400;
/// The prices are gone through so often.
const ROUNDS: usize = 2;

/// What a price is put on.
#[derive(Clone, Copy, Debug)]
enum Spot {
    /// All goods of a supplier.
    All(usize),
    /// A supplier's goods by a slot by which something has to come from there.
    By(usize, usize),
}

/// The bound with such prices as lift it. `orders` are those of a good plan.
pub(super) fn press(
    case: &Case<'_>,
    orders: &[PlannedOrder],
    mut proof: Proof,
    objective: f64,
    stop: &mut dyn FnMut() -> bool,
) -> Proof {
    let spots = spots(case, orders);
    let mut work = WORK;
    for _ in 0..ROUNDS {
        let before = proof.value;
        for &spot in &spots {
            let touched = touched(case, spot);
            for off in OFFS {
                if work < touched.len() || stop() {
                    return proof;
                }
                let Some(prices) = changed(case, &proof.prices, spot, off) else { continue };
                work -= touched.len();
                let other = proof.with(case, prices, &touched, objective);
                if other.value <= proof.value {
                    break;
                }
                proof = other;
            }
        }
        if proof.value <= before {
            break;
        }
    }
    proof
}

/// Where a good plan has orders that only just reach what they have to.
fn spots(case: &Case<'_>, orders: &[PlannedOrder]) -> Vec<Spot> {
    let mut found = Vec::new();
    for (supplier, terms) in case.problem.suppliers.iter().enumerate() {
        let own = || orders.iter().filter(|order| order.supplier == terms.supplier);
        let goal = terms.minimum_order.max(terms.free_postage_from.unwrap_or_default()).minor;
        let near = |goods: i64, goal: i64| goods > 0 && goal > 0 && goods < goal.saturating_mul(3) / 2;
        let bought: i64 = own().map(|order| order.goods.minor).sum();
        if near(bought, terms.minimum_order.minor) || near(bought, goal) && bought >= goal {
            found.push(Spot::All(supplier));
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
    let (Spot::All(supplier) | Spot::By(supplier, _)) = spot;
    case.sells[supplier].iter().map(|sold| sold.0).collect()
}

/// The prices with such a share taken off; `None` where it would be too much, or counts for nothing.
fn changed(case: &Case<'_>, prices: &Prices, spot: Spot, off: f64) -> Option<Prices> {
    let mut prices = prices.clone();
    let all = |prices: &Prices, supplier: usize| {
        let early = prices.early.iter().filter(|early| early.supplier == supplier);
        prices.fees[supplier].discount + early.map(|early| early.off).sum::<f64>()
    };
    let (Spot::All(supplier) | Spot::By(supplier, _)) = spot;
    match spot {
        Spot::All(_) => prices.fees[supplier] = fee_with(case, supplier, off)?,
        Spot::By(_, place) => {
            prices.early.retain(|early| (early.supplier, early.place) != (supplier, place));
            let gain = off * case.landed(supplier) * case.problem.suppliers[supplier].minimum_order.minor as f64;
            prices.early.push(Early { supplier, place, off, gain });
        }
    }
    (all(&prices, supplier) < 0.95).then_some(prices)
}
