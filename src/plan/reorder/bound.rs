//! A figure that no plan can beat: the materials are taken apart, and each gets its share of the postage.
//!
//! Whoever orders from a supplier at all pays its postage at least once, unless the goods reach the free-postage value. That cost is
//! shared out among the materials that could be bought there (the Lagrangian dual of 'a material that buys here pays here');
//! then each material is bought alone at the least that its packs, breaks and the days of its requirements allow, whatever the
//! order days. Any way of sharing gives a valid bound; a subgradient method looks for a good one. Rounding in the plan's favour (duty
//! and currency once per order, the credit once) is taken off beforehand.

use super::Terms;
use super::candidates::{Case, Material};
use super::floor::{Effort, Floor, bit};
use super::totals::Totals;
use crate::plan::model::Postage;

/// How often the shares are adjusted.
const ROUNDS: u32 = 250;
/// A material with more houses than this is not looked at for every set of them.
const FEW_HOUSES: usize = 5;

/// What one supplier's orders cost beside the goods, from below: at least `fixed - discount x landed goods` in home minor
/// units, if anything is ordered from it.
#[derive(Clone, Copy, Debug, Default)]
struct Fee {
    fixed: f64,
    discount: f64,
    /// Taken off whatever is ordered: what rounding could save in all orders together.
    loss: f64,
}

/// What one material costs at least where it is bought from these houses, given as bits.
#[derive(Clone, Copy, Debug)]
struct Choice {
    houses: u32,
    least: f64,
}

/// One material as the bound sees it.
#[derive(Clone, Debug, Default)]
struct Sheet {
    suppliers: Vec<usize>,
    choices: Vec<Choice>,
    /// What it costs at least where it is bought from four houses or more that no choice names.
    many: f64,
    /// The houses whose postage is shared out.
    paid: u32,
}

/// The lower bound on the objective, in whole minor units, rounded down. `goods` tells what a good plan buys from each supplier:
/// that only helps to choose which estimate of its postage is the better one.
///
/// Once `stop` says yes, the materials that are left get a quick look only.
#[must_use]
pub(super) fn lower_bound(case: &Case<'_>, goods: &[i64], objective: i64, stop: &mut dyn FnMut() -> bool) -> i64 {
    let fees: Vec<Fee> = (0..case.sells.len()).map(|supplier| fee(case, supplier, goods[supplier])).collect();
    let discount: Vec<f64> = fees.iter().map(|fee| fee.discount).collect();
    let sheets: Vec<Sheet> = case
        .materials
        .iter()
        .map(|material| if stop() { plain(case, material, &discount) } else { sheet(case, material, &fees, &discount) })
        .collect();
    let loss: f64 = fees.iter().map(|fee| fee.loss).sum();
    let best = dual(&sheets, &fees, objective as f64 + loss) - loss;
    let margin = 1e-9 * (objective.unsigned_abs() as f64) + 1e-3;
    // Credit and keeping are rounded once each, half up: half a minor unit in the plan's favour.
    (best - 1.0 - margin).floor() as i64
}

/// The cost of a supplier's orders beside their goods, from below.
fn fee(case: &Case<'_>, supplier: usize, goods: i64) -> Fee {
    let terms = &case.problem.suppliers[supplier];
    let (rate, landed) = (case.rate(supplier), case.landed(supplier));
    let loss = rounding(terms);
    let mut points: Vec<(f64, f64)> = match &terms.postage {
        Postage::Flat(fee) => vec![(0.0, fee.minor as f64)],
        Postage::ByValue(bands) => bands.iter().map(|band| (band.0.minor as f64, band.1.minor as f64)).collect(),
        Postage::ByWeight(bands) => {
            bands.iter().map(|band| band.1.minor).min().map(|fee| (0.0, fee as f64)).into_iter().collect()
        }
    };
    // Orders below the minimum do not exist: only the band of the minimum and those above it count.
    let minimum = terms.minimum_order.minor as f64;
    let first = points.iter().rposition(|point| point.0 <= minimum).unwrap_or(0);
    points.drain(..first);
    if let Some(point) = points.first_mut() {
        point.0 = point.0.max(minimum);
    }
    if let Some(from) = terms.free_postage_from {
        points.retain(|point| point.0 < from.minor as f64);
        points.push((from.minor.max(terms.minimum_order.minor) as f64, 0.0));
    }
    let highest = points.first().map_or(0.0, |point| point.1);
    let line = |fixed: f64| {
        let steepest = points.iter().map(|&(from, fee)| if fee < fixed { (fixed - fee) / from.max(1e-9) } else { 0.0 });
        (fixed, steepest.fold(0.0, f64::max))
    };
    let lowest = points.iter().map(|point| point.1).fold(f64::INFINITY, f64::min).min(highest);
    let choices = [line(highest), line(lowest)];
    let reach = |&(fixed, slope): &(f64, f64)| fixed - slope * goods as f64;
    let (fixed, slope) =
        choices.into_iter().max_by(|one, other| reach(one).total_cmp(&reach(other))).unwrap_or_default();
    if slope < 1.0 && fixed * rate > loss {
        return Fee { fixed: fixed * rate - loss, discount: slope * rate / landed, loss: 0.0 };
    }
    let smallest = smallest_order(case, supplier).max(minimum).max(1.0);
    let discount = (loss / (smallest * landed)).min(1.0);
    let all_orders = loss * order_days(case, supplier) as f64;
    if discount * goods as f64 * landed < all_orders {
        return Fee { fixed: 0.0, discount, loss: 0.0 };
    }
    Fee { fixed: 0.0, discount: 0.0, loss: all_orders }
}

/// What rounding can save in one order, in home minor units: duty is rounded to the supplier's unit, the total to the home unit.
#[must_use]
pub(super) fn rounding(terms: &Terms) -> f64 {
    let exact = terms.to_home.1 > 0 && terms.to_home.0 % terms.to_home.1 == 0;
    let duty = if terms.duty.millionths == 0 { 0.0 } else { 0.5 * terms.to_home.0 as f64 / terms.to_home.1 as f64 };
    duty + if exact { 0.0 } else { 0.5 }
}

/// How many days there are on which a supplier could be sent an order that comes in time for something.
fn order_days(case: &Case<'_>, supplier: usize) -> usize {
    let calendar = &case.problem.suppliers[supplier].calendar;
    let last = case.problem.requirements.iter().map(|requirement| requirement.day).max();
    let days = case.problem.start.iter_days().take_while(|&day| last.is_some_and(|last| calendar.arrival(day) <= last));
    days.filter(|&day| calendar.takes_orders_on(day)).count()
}

/// The least that a line of a supplier with any price can cost.
fn smallest_order(case: &Case<'_>, supplier: usize) -> f64 {
    let own = case.problem.offers.iter().filter(|pack| pack.supplier == supplier);
    let line = own.flat_map(|pack| pack.breaks.iter().map(|&(from, price)| price.times(from.max(1)).minor));
    line.filter(|&goods| goods > 0).min().map_or(1.0, |goods| goods as f64)
}

/// One material by a quick look at its amounts, whoever sells it.
fn plain(case: &Case<'_>, material: &Material, discount: &[f64]) -> Sheet {
    let least = Totals::new(case, material, discount).least_of(u32::MAX, 300);
    Sheet { many: f64::INFINITY, paid: 0, suppliers: Vec::new(), choices: vec![Choice { houses: 0, least }] }
}

/// One material laid out for the bound.
fn sheet(case: &Case<'_>, material: &Material, fees: &[Fee], discount: &[f64]) -> Sheet {
    let mut floor = Floor::new(case, material, discount, Effort::of(case.materials.len()));
    let all = floor.least();
    // Houses that send for nothing may always be used.
    let (mut free, mut paid) = (0_u32, Vec::new());
    for (place, house) in material.houses.iter().enumerate() {
        match fees[house.supplier].fixed > 0.0 {
            true => paid.push(bit(place)),
            false => free |= bit(place),
        }
    }
    let mut sets: Vec<u32> = if paid.len() <= FEW_HOUSES {
        let bits =
            |set: u32| (0..paid.len()).filter(|place| set & bit(*place) != 0).fold(free, |bits, at| bits | paid[at]);
        (0..1_u32 << paid.len()).map(bits).collect()
    } else {
        let pairs = paid.iter().flat_map(|one| paid.iter().map(move |other| free | one | other));
        std::iter::once(free).chain(pairs.flat_map(|pair| paid.iter().map(move |third| pair | third))).collect()
    };
    sets.retain(|houses| *houses != 0);
    sets.sort_by_key(|houses| (houses.count_ones(), *houses));
    sets.dedup();
    let mut choices: Vec<Choice> = Vec::new();
    let noise = 1e-9 * all.abs() + 1e-9;
    for houses in sets {
        // Fewer houses that do as well are never worse.
        let within = choices.iter().filter(|choice| choice.houses & !houses == 0);
        let known = within.map(|choice| choice.least).fold(f64::INFINITY, f64::min);
        if known <= all + noise {
            continue;
        }
        let least = floor.least_of(houses);
        if least < known - noise {
            choices.push(Choice { houses, least });
        }
    }
    let many = if paid.len() <= FEW_HOUSES { f64::INFINITY } else { all };
    let paid = paid.iter().fold(0, |bits, bit| bits | bit);
    Sheet { suppliers: material.houses.iter().map(|house| house.supplier).collect(), choices, many, paid }
}

impl Sheet {
    /// The least with these shares, and the houses used.
    fn least(&self, shares: &[f64]) -> (f64, u32) {
        let mut best = (f64::INFINITY, 0);
        if self.many < f64::INFINITY {
            let mut sorted: Vec<(f64, usize)> = shares.iter().copied().zip(0..).collect();
            sorted.retain(|entry| self.paid & bit(entry.1) != 0);
            sorted.sort_by(|one, other| one.0.total_cmp(&other.0));
            let four = &sorted[..sorted.len().min(4)];
            best = (
                self.many + four.iter().map(|entry| entry.0).sum::<f64>(),
                four.iter().fold(0, |bits, entry| bits | bit(entry.1)),
            );
        }
        for choice in &self.choices {
            let mut cost = choice.least;
            let mut left = choice.houses;
            while left != 0 {
                cost += shares[left.trailing_zeros() as usize];
                left &= left - 1;
            }
            if cost < best.0 {
                best = (cost, choice.houses);
            }
        }
        best
    }
}

/// The best bound over the rounds of sharing.
fn dual(sheets: &[Sheet], fees: &[Fee], objective: f64) -> f64 {
    let mut buyers = vec![0.0_f64; fees.len()];
    for supplier in sheets.iter().flat_map(|sheet| &sheet.suppliers) {
        buyers[*supplier] += 1.0;
    }
    let equal = |sheet: &Sheet| -> Vec<f64> {
        sheet.suppliers.iter().map(|&supplier| fees[supplier].fixed / buyers[supplier]).collect()
    };
    let mut shares: Vec<Vec<f64>> = sheets.iter().map(equal).collect();
    let mut best = f64::NEG_INFINITY;
    let mut pace = 1.0;
    let mut without_gain = 0;
    for _ in 0..ROUNDS {
        let mut value = 0.0;
        let mut uses: Vec<Vec<f64>> = Vec::with_capacity(sheets.len());
        let mut users = vec![0.0_f64; fees.len()];
        for (sheet, shares) in sheets.iter().zip(&shares) {
            let (least, used) = sheet.least(shares);
            value += least;
            let own: Vec<f64> = (0..shares.len()).map(|house| f64::from(u8::from(used & bit(house) != 0))).collect();
            for (&supplier, used) in sheet.suppliers.iter().zip(&own) {
                users[supplier] += used;
            }
            uses.push(own);
        }
        if value > best + 1e-9 * value.abs() {
            best = value;
            without_gain = 0;
        } else {
            without_gain += 1;
            if without_gain == 6 {
                (pace, without_gain) = (pace / 2.0, 0);
            }
        }
        adjust(sheets, fees, &mut shares, &uses, &users, &buyers, pace * (objective - value).max(0.0));
    }
    best
}

/// Moves the shares towards the materials that would pay them, and keeps their sum.
fn adjust(
    sheets: &[Sheet],
    fees: &[Fee],
    shares: &mut [Vec<f64>],
    uses: &[Vec<f64>],
    users: &[f64],
    buyers: &[f64],
    distance: f64,
) {
    let direction = |supplier: usize, used: f64| used - users[supplier] / buyers[supplier].max(1.0);
    let mut length = 0.0;
    for (sheet, uses) in sheets.iter().zip(uses) {
        for (&supplier, &used) in sheet.suppliers.iter().zip(uses) {
            if fees[supplier].fixed > 0.0 {
                length += direction(supplier, used).powi(2);
            }
        }
    }
    if length < 1e-12 {
        return;
    }
    let mut sums = vec![0.0_f64; fees.len()];
    for ((sheet, uses), shares) in sheets.iter().zip(uses).zip(shares.iter_mut()) {
        for ((&supplier, &used), share) in sheet.suppliers.iter().zip(uses).zip(shares.iter_mut()) {
            *share = (*share + distance / length * direction(supplier, used)).max(0.0);
            sums[supplier] += *share;
        }
    }
    for (sheet, shares) in sheets.iter().zip(shares.iter_mut()) {
        for (&supplier, share) in sheet.suppliers.iter().zip(shares.iter_mut()) {
            // A hair less than all of it, so that rounding of the sum never shares out too much.
            let factor = fees[supplier].fixed * (1.0 - 1e-12) / sums[supplier].max(f64::MIN_POSITIVE);
            *share = if sums[supplier] > 0.0 { *share * factor } else { 0.0 };
        }
    }
}
