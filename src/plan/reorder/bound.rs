//! A figure that no plan can beat: the materials are taken apart, and each gets its share of the postage.
//!
//! Whoever orders from a supplier at all pays its postage at least once, unless the goods reach the free-postage value. That cost is
//! shared out among the materials that could be bought there (the Lagrangian dual of 'a material that buys here pays here');
//! then each material is bought alone at the least that its packs, breaks and the days of its requirements allow, whatever the
//! order days. Any way of sharing gives a valid bound; a subgradient method looks for a good one. Rounding in the plan's favour (duty
//! and currency once per order, the credit once) is taken off beforehand.

use super::candidates::{Case, Material, USELESS};
use super::evaluate;
use crate::plan::model::Postage;
use crate::plan::money::Price;

/// How often the shares are adjusted.
const ROUNDS: u32 = 45;
/// How many choices of packs are looked into for one material, before the rest is only estimated (from below).
const CHOICES: u32 = 300;
/// The same for the last look, with the best shares.
const LAST_CHOICES: u32 = 30_000;

/// What one supplier's orders cost beside the goods, from below: at least `fixed - discount x landed goods` in home minor
/// units, if anything is ordered from it.
#[derive(Clone, Copy, Debug, Default)]
struct Fee {
    fixed: f64,
    discount: f64,
}

/// An offer as the bound sees it.
#[derive(Clone, Debug)]
struct Sold {
    house: usize,
    quantity: f64,
    /// Packs and the lowest landed price of one pack where so many are bought in all.
    breaks: Vec<(i64, f64)>,
    /// The first day on which it can arrive, as a place among the days of its material.
    group: usize,
}

/// One material as the bound sees it.
#[derive(Clone, Debug)]
struct Sheet {
    /// In order of group.
    sold: Vec<Sold>,
    suppliers: Vec<usize>,
    /// For each group what the offers up to it have to bring, since all others come too late for it.
    needed: Vec<f64>,
    demand: f64,
    cap: f64,
    credit: f64,
}

/// The lower bound on the objective, in whole minor units, rounded down. `goods` tells what a good plan buys from each supplier:
/// that only helps to choose which estimate of its postage is the better one.
#[must_use]
pub(super) fn lower_bound(case: &Case<'_>, goods: &[i64], objective: i64) -> i64 {
    let fees: Vec<Fee> = (0..case.sells.len()).map(|supplier| fee(case, supplier, goods[supplier])).collect();
    let sheets: Vec<Sheet> = case.materials.iter().map(|material| sheet(case, material)).collect();
    let best = dual(&sheets, &fees, objective as f64);
    let margin = 1e-9 * (objective.unsigned_abs() as f64) + 1e-3;
    // Credit and keeping are rounded once each, half up: half a minor unit in the plan's favour.
    (best - 1.0 - margin).floor() as i64
}

/// The cost of a supplier's orders beside their goods, from below.
fn fee(case: &Case<'_>, supplier: usize, goods: i64) -> Fee {
    let terms = &case.problem.suppliers[supplier];
    let (rate, landed) = (case.rate(supplier), case.landed(supplier));
    let loss = 0.5 * rate + 0.5;
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
        return Fee { fixed: fixed * rate - loss, discount: slope * rate / landed };
    }
    let smallest = smallest_order(case, supplier).max(minimum).max(1.0);
    Fee { fixed: 0.0, discount: (loss / (smallest * rate)).min(1.0) }
}

/// The least that a line of a supplier with any price can cost.
fn smallest_order(case: &Case<'_>, supplier: usize) -> f64 {
    let own = case.problem.offers.iter().filter(|pack| pack.supplier == supplier);
    let line = own.flat_map(|pack| pack.breaks.iter().map(|&(from, price)| price.times(from.max(1)).minor));
    line.filter(|&goods| goods > 0).min().map_or(1.0, |goods| goods as f64)
}

/// One material laid out for the bound.
fn sheet(case: &Case<'_>, material: &Material) -> Sheet {
    let mut sold: Vec<(i32, Sold)> = Vec::new();
    for (place, house) in material.houses.iter().enumerate() {
        let terms = &case.problem.suppliers[house.supplier];
        let soonest = terms.calendar.next_order_day(case.problem.start).map(|day| terms.calendar.arrival(day));
        let Some(arrives) = soonest.map(evaluate::number) else { continue };
        for (offer, through) in house.offers.iter().zip(&house.through) {
            if through.iter().all(|&through| through == USELESS) {
                continue;
            }
            let pack = &case.problem.offers[*offer];
            let mut lowest = f64::INFINITY;
            let breaks = pack.breaks.iter().map(|&(from, Price { minor })| {
                lowest = lowest.min(minor as f64 * case.landed(house.supplier));
                (from.max(1), lowest)
            });
            let breaks = breaks.collect();
            sold.push((arrives, Sold { house: place, quantity: pack.quantity.0 as f64, breaks, group: 0 }));
        }
    }
    let unit = |sold: &Sold| sold.breaks.last().map_or(0.0, |last| last.1 / sold.quantity);
    sold.sort_by(|one, other| one.0.cmp(&other.0).then(unit(&one.1).total_cmp(&unit(&other.1))));
    let mut days: Vec<i32> = sold.iter().map(|entry| entry.0).collect();
    days.dedup();
    for (day, entry) in &mut sold {
        entry.group = days.iter().position(|own| own == day).unwrap_or(0);
    }
    let before = |day: Option<&i32>| {
        let early = material.needs.iter().filter(|need| day.is_none_or(|day| need.day < *day));
        early.map(|need| need.quantity as f64).sum::<f64>()
    };
    Sheet {
        sold: sold.into_iter().map(|entry| entry.1).collect(),
        suppliers: material.houses.iter().map(|house| house.supplier).collect(),
        needed: (0..days.len()).map(|group| before(days.get(group + 1))).collect(),
        demand: material.demand_from[0] as f64,
        cap: material.most_credited,
        credit: material.unit_credit,
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
    let mut best_shares = shares.clone();
    let mut pace = 1.0;
    let mut without_gain = 0;
    for _ in 0..ROUNDS {
        let mut value = 0.0;
        let mut uses: Vec<Vec<f64>> = Vec::with_capacity(sheets.len());
        let mut users = vec![0.0_f64; fees.len()];
        for (sheet, shares) in sheets.iter().zip(&shares) {
            let (least, used) = Chooser::new(sheet, shares, fees, CHOICES).least();
            value += least;
            let own: Vec<f64> =
                (0..shares.len()).map(|house| f64::from(u8::from(used & (1_u64 << house.min(63)) != 0))).collect();
            for (&supplier, used) in sheet.suppliers.iter().zip(&own) {
                users[supplier] += used;
            }
            uses.push(own);
        }
        if value > best + 1e-9 * value.abs() {
            best = value;
            best_shares.clone_from(&shares);
            without_gain = 0;
        } else {
            without_gain += 1;
            if without_gain == 4 {
                (pace, without_gain) = (pace / 2.0, 0);
            }
        }
        adjust(sheets, fees, &mut shares, &uses, &users, &buyers, pace * (objective - value).max(0.0));
    }
    let last = sheets.iter().zip(&best_shares);
    let last: f64 = last.map(|(sheet, shares)| Chooser::new(sheet, shares, fees, LAST_CHOICES).least().0).sum();
    best.max(last)
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

/// The cheapest choice of packs for one material, by branch and bound.
struct Chooser<'a> {
    sheet: &'a Sheet,
    shares: &'a [f64],
    /// What a pack costs less, by house.
    factor: Vec<f64>,
    /// The lowest price of a unit from each offer on.
    unit_from: Vec<f64>,
    best: f64,
    used: u64,
    /// The lowest estimate of what was not looked into.
    unknown: f64,
    choices: u32,
}

impl<'a> Chooser<'a> {
    fn new(sheet: &'a Sheet, shares: &'a [f64], fees: &[Fee], choices: u32) -> Self {
        let factor: Vec<f64> =
            sheet.suppliers.iter().map(|&supplier| (1.0 - fees[supplier].discount).max(0.0)).collect();
        let mut unit_from = vec![f64::INFINITY; sheet.sold.len() + 1];
        for (place, sold) in sheet.sold.iter().enumerate().rev() {
            let unit = sold.breaks.last().map_or(0.0, |last| last.1 * factor[sold.house] / sold.quantity);
            unit_from[place] = unit_from[place + 1].min(unit);
        }
        Self { sheet, shares, factor, unit_from, best: f64::INFINITY, used: 0, unknown: f64::INFINITY, choices }
    }

    /// A figure not above the least cost, and the houses used where it was found.
    fn least(mut self) -> (f64, u64) {
        self.choose(0, 0.0, 0.0, 0);
        (self.best.min(self.unknown), self.used)
    }

    /// What a choice may still come to at best.
    fn estimate(&self, place: usize, bought: f64, cost: f64) -> f64 {
        let (sheet, unit) = (self.sheet, self.unit_from[place]);
        let lacking = sheet.demand - bought;
        let credited = (-lacking).clamp(0.0, sheet.cap);
        let rest = if lacking > 0.0 { lacking * unit } else { 0.0 };
        let gain = (sheet.credit - unit).max(0.0) * (sheet.cap - credited);
        cost + rest - sheet.credit * credited - gain
    }

    /// Goes through the packs of one offer after the other.
    fn choose(&mut self, place: usize, bought: f64, cost: f64, used: u64) {
        let estimate = self.estimate(place, bought, cost);
        if estimate >= self.best || estimate.is_nan() {
            return;
        }
        let Some(sold) = self.sheet.sold.get(place) else {
            if bought >= self.sheet.demand {
                (self.best, self.used) = (estimate, used);
            }
            return;
        };
        if sold.group > 0 && bought < self.sheet.needed[sold.group - 1] {
            return;
        }
        if self.choices == 0 {
            self.unknown = self.unknown.min(estimate);
            return;
        }
        self.choices -= 1;
        let lacking = (self.sheet.demand - bought).max(0.0);
        let enough = (lacking / sold.quantity).ceil() as i64;
        let most = ((lacking + self.sheet.cap) / sold.quantity).ceil() as i64;
        for packs in (1..=enough).rev() {
            self.take(place, packs, bought, cost, used);
        }
        for packs in enough + 1..=most {
            self.take(place, packs, bought, cost, used);
        }
        for &(from, _) in sold.breaks.iter().filter(|entry| entry.0 > most) {
            self.take(place, from, bought, cost, used);
        }
        self.choose(place + 1, bought, cost, used);
    }

    /// Takes so many packs of an offer.
    fn take(&mut self, place: usize, packs: i64, bought: f64, cost: f64, used: u64) {
        let sold = &self.sheet.sold[place];
        let Some(price) = sold.breaks.iter().rev().find(|entry| entry.0 <= packs).map(|entry| entry.1) else { return };
        let bit = 1_u64 << sold.house.min(63);
        let share = if used & bit == 0 && sold.house < 63 { self.shares[sold.house] } else { 0.0 };
        let cost = cost + share + packs as f64 * price * self.factor[sold.house];
        let bought = bought + packs as f64 * sold.quantity;
        self.choose(place + 1, bought, cost, used | bit);
    }
}
