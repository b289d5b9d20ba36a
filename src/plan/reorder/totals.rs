//! The least that the packs of one material can cost, from below, by the amounts alone.
//!
//! Lives are left aside, and days but for one thing: what is needed before a house can deliver has to come from others. The
//! packs of one offer after the other are gone through, by branch and bound.

use super::bound::Prices;
use super::candidates::{Case, Material, USELESS};
use super::evaluate;
use super::floor::bit;
use crate::plan::money::Price;

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

/// The amounts of one material.
#[derive(Clone, Debug)]
pub(super) struct Totals {
    /// In order of group.
    sold: Vec<Sold>,
    /// For each group what the offers up to it have to bring, since all others come too late for it.
    needed: Vec<f64>,
    demand: f64,
    cap: f64,
    credit: f64,
}

impl Totals {
    /// Lays a material out.
    #[must_use]
    pub fn new(case: &Case<'_>, material: &Material, prices: &Prices) -> Self {
        let mut sold: Vec<(i32, Sold)> = Vec::new();
        for (place, house) in material.houses.iter().enumerate() {
            let terms = &case.problem.suppliers[house.supplier];
            let soonest = terms.calendar.next_order_day(case.problem.start).map(|day| terms.calendar.arrival(day));
            let Some(arrives) = soonest.map(evaluate::number) else { continue };
            let early = prices.early.iter().filter(|early| early.supplier == house.supplier);
            let off = prices.fees[house.supplier].discount + early.map(|early| early.off).sum::<f64>();
            let factor = case.landed(house.supplier) * (1.0 - off).max(0.0);
            for (offer, through) in house.offers.iter().zip(&house.through) {
                if through.iter().all(|&through| through == USELESS) {
                    continue;
                }
                let pack = &case.problem.offers[*offer];
                let mut lowest = f64::INFINITY;
                let breaks = pack.breaks.iter().map(|&(from, Price { minor })| {
                    lowest = lowest.min(minor as f64 * factor);
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
        Self {
            sold: sold.into_iter().map(|entry| entry.1).collect(),
            needed: (0..days.len()).map(|group| before(days.get(group + 1))).collect(),
            demand: material.demand_from[0] as f64,
            cap: material.most_credited,
            credit: material.unit_credit,
        }
    }

    /// The least with some of the houses, given as bits; infinite where they cannot bring enough. So many choices of packs
    /// are looked into before the rest is only estimated (from below).
    #[must_use]
    pub fn least_of(&self, houses: u32, choices: u32) -> f64 {
        let allowed = |sold: &&Sold| houses & bit(sold.house) != 0;
        let sold: Vec<&Sold> = self.sold.iter().filter(allowed).collect();
        Chooser::new(self, sold, choices).least()
    }
}

/// The cheapest choice of packs for one material, by branch and bound.
struct Chooser<'a> {
    sheet: &'a Totals,
    sold: Vec<&'a Sold>,
    /// From each offer on, the lowest price of a unit for each group: of what comes no later than that.
    units: Vec<Vec<f64>>,
    best: f64,
    /// The lowest estimate of what was not looked into.
    unknown: f64,
    choices: u32,
}

impl<'a> Chooser<'a> {
    fn new(sheet: &'a Totals, sold: Vec<&'a Sold>, choices: u32) -> Self {
        let mut units = vec![vec![f64::INFINITY; sheet.needed.len()]; sold.len() + 1];
        for (place, sold) in sold.iter().enumerate().rev() {
            let unit = sold.breaks.last().map_or(0.0, |last| last.1) / sold.quantity;
            units[place] = units[place + 1].clone();
            units[place][sold.group..].iter_mut().for_each(|own| *own = own.min(unit));
        }
        Self { sheet, sold, units, best: f64::INFINITY, unknown: f64::INFINITY, choices }
    }

    /// A figure not above the least cost.
    fn least(mut self) -> f64 {
        self.choose(0, 0.0, 0.0);
        self.best.min(self.unknown)
    }

    /// What a choice may still come to at best.
    fn estimate(&self, place: usize, bought: f64, cost: f64) -> f64 {
        let sheet = self.sheet;
        let units = &self.units[place];
        let credited = (bought - sheet.demand).clamp(0.0, sheet.cap);
        // What is needed early has to come from those who can bring it by then.
        let (mut covered, mut rest) = (bought, 0.0);
        for (&needed, unit) in sheet.needed.iter().zip(units) {
            if needed > covered {
                rest += (needed - covered) * unit;
                covered = needed;
            }
        }
        let unit = units.last().copied().unwrap_or(f64::INFINITY);
        let gain = (sheet.credit - unit).max(0.0) * (sheet.cap - credited);
        cost + rest - sheet.credit * credited - gain
    }

    /// Goes through the packs of one offer after the other.
    fn choose(&mut self, place: usize, bought: f64, cost: f64) {
        let estimate = self.estimate(place, bought, cost);
        if estimate >= self.best || estimate.is_nan() {
            return;
        }
        let Some(&sold) = self.sold.get(place) else {
            if bought >= self.sheet.demand {
                self.best = estimate;
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
            self.take(place, packs, bought, cost);
        }
        for packs in enough + 1..=most {
            self.take(place, packs, bought, cost);
        }
        for &(from, _) in sold.breaks.iter().filter(|entry| entry.0 > most) {
            self.take(place, from, bought, cost);
        }
        self.choose(place + 1, bought, cost);
    }

    /// Takes so many packs of an offer.
    fn take(&mut self, place: usize, packs: i64, bought: f64, cost: f64) {
        let sold = self.sold[place];
        let Some(price) = sold.breaks.iter().rev().find(|entry| entry.0 <= packs).map(|entry| entry.1) else { return };
        self.choose(place + 1, bought + packs as f64 * sold.quantity, cost + packs as f64 * price);
    }
}
