//! The least that the packs of one material can cost, from below, by the amounts alone.
//!
//! Lives are left aside, and days but for one thing: what is needed before a house can deliver has to come from others. The
//! packs of one offer after the other are gone through, and what they come to together is remembered.

use super::candidates::{Case, House, Material, USELESS};
use super::evaluate;
use super::floor::{Least, bit, lowest_from};
use super::prices::{Door, Offs, Prices};
use chrono::NaiveDate;

/// An offer as the bound sees it.
#[derive(Clone, Debug)]
struct Sold {
    door: usize,
    /// The place in the problem's offers.
    offer: usize,
    quantity: f64,
    /// What sending a unit costs, as far as it is required.
    charge: f64,
    /// Packs and the lowest landed price of one pack where so many are bought in all.
    breaks: Vec<(i64, f64)>,
    /// What is taken off that.
    offs: Offs,
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
    pub fn new(case: &Case<'_>, material: &Material, prices: &Prices, doors: &[Door]) -> Self {
        let mut sold: Vec<(i32, Sold)> = Vec::new();
        for (place, door) in doors.iter().enumerate() {
            let house = &material.houses[door.house];
            let Some(arrives) = soonest(case, house, door).map(evaluate::number) else { continue };
            for (&offer, through) in house.offers.iter().zip(&house.through) {
                if through.iter().all(|&through| through == USELESS) {
                    continue;
                }
                let pack = &case.problem.offers[offer];
                let breaks = lowest_from(&pack.breaks, case.landed(house.supplier));
                let offs = prices.offs(house.supplier, door.first);
                let (quantity, charge) = (pack.quantity.0 as f64, prices.charge(pack, door.first));
                sold.push((arrives, Sold { door: place, offer, quantity, charge, breaks, offs, group: 0 }));
            }
        }
        sold.sort_by(|one, other| one.0.cmp(&other.0).then(one.1.unit().total_cmp(&other.1.unit())));
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

    /// The least with some of the doors, given as bits; so many amounts are told apart after each offer.
    #[must_use]
    pub fn least_of(&self, doors: u64, amounts: usize) -> Least {
        // The same offer at the same price is of no more use where it comes later.
        let mut sold: Vec<&Sold> = Vec::new();
        for own in self.sold.iter().filter(|sold| doors & bit(sold.door) != 0) {
            if !sold.iter().any(|sooner| sooner.is_no_dearer(own)) {
                sold.push(own);
            }
        }
        let mut chooser = Chooser::new(self, sold);
        // A quick look that only goes on with the best amounts tells what is too dear.
        let quick = chooser.run(QUICK, false);
        chooser.upper = quick.cost + 1e-9 * quick.cost.abs() + 1e-9;
        chooser.run(amounts, true).min(quick)
    }
}

/// How many amounts the quick look goes on with.
const QUICK: usize = 4;
/// More numbers of packs than this are taken in steps.
const COUNTS: i64 = 512;

/// So much bought, and what it costs.
#[derive(Clone, Copy, Debug)]
struct Bought {
    amount: f64,
    cost: f64,
    used: u64,
    /// The doors that take nothing off any more.
    spent: u64,
}

/// The cheapest choice of packs for one material, offer by offer: of two choices the one that costs no more and brings no less
/// goes on. Where too many are left, two become one that costs what the cheaper does and brings what the bigger does, which
/// leaves the least cost a bound.
struct Chooser<'a> {
    sheet: &'a Totals,
    sold: Vec<&'a Sold>,
    /// From each offer on, the lowest price of a unit for each group, sending counted: of what comes no later than that.
    units: Vec<Vec<f64>>,
    /// From each offer on, the lowest price of a unit, sending left aside.
    lowest: Vec<f64>,
    /// What may come to this or more is left out.
    upper: f64,
    next: Vec<Bought>,
}

impl<'a> Chooser<'a> {
    fn new(sheet: &'a Totals, sold: Vec<&'a Sold>) -> Self {
        let mut units = vec![vec![f64::INFINITY; sheet.needed.len()]; sold.len() + 1];
        let mut lowest = vec![f64::INFINITY; sold.len() + 1];
        for (place, sold) in sold.iter().enumerate().rev() {
            units[place] = units[place + 1].clone();
            units[place][sold.group..].iter_mut().for_each(|own| *own = own.min(sold.unit() + sold.charge));
            lowest[place] = lowest[place + 1].min(sold.unit());
        }
        Self { sheet, sold, units, lowest, upper: f64::INFINITY, next: Vec::new() }
    }

    /// What a choice may still come to at best.
    fn estimate(&self, place: usize, bought: Bought) -> f64 {
        let sheet = self.sheet;
        let units = &self.units[place];
        let credited = (bought.amount - sheet.demand).clamp(0.0, sheet.cap);
        // What is needed early has to come from those who can bring it by then.
        let (mut covered, mut rest) = (bought.amount, 0.0);
        for (&needed, unit) in sheet.needed.iter().zip(units) {
            if needed > covered {
                rest += (needed - covered) * unit;
                covered = needed;
            }
        }
        let gain = (sheet.credit - self.lowest[place]).max(0.0) * (sheet.cap - credited);
        bought.cost + rest - sheet.credit * credited - gain
    }

    /// The least over all choices; those beyond so many are joined where `together`, else left out.
    fn run(&mut self, amounts: usize, together: bool) -> Least {
        let mut now = vec![Bought { amount: 0.0, cost: 0.0, used: 0, spent: 0 }];
        for place in 0..self.sold.len() {
            let group = self.sold[place].group;
            let due = if group > 0 { self.sheet.needed[group - 1] } else { 0.0 };
            now.retain(|bought| bought.amount >= due);
            for &bought in &now {
                self.keep(place + 1, bought);
                self.take(place, bought);
            }
            self.thin(place + 1, amounts, together);
            std::mem::swap(&mut now, &mut self.next);
            self.next.clear();
        }
        let enough = now.iter().filter(|bought| bought.amount >= self.sheet.demand);
        let least = |&bought: &Bought| Least { cost: self.estimate(self.sold.len(), bought), used: bought.used };
        enough.map(least).fold(Least::NEVER, Least::min)
    }

    /// Goes on with a choice, if it may be cheap enough.
    fn keep(&mut self, place: usize, bought: Bought) -> bool {
        let hopeful = self.estimate(place, bought) < self.upper;
        if hopeful {
            self.next.push(bought);
        }
        hopeful
    }

    /// Takes every sensible number of packs of an offer.
    fn take(&mut self, place: usize, before: Bought) {
        let sold = self.sold[place];
        let used = before.used | bit(sold.door);
        let was_spent = before.spent & bit(sold.door) != 0;
        let spent = |is_spent: bool| before.spent | if is_spent { bit(sold.door) } else { 0 };
        let lacking = (self.sheet.demand - before.amount).max(0.0);
        let enough = (lacking / sold.quantity).ceil() as i64;
        let most = ((lacking + self.sheet.cap) / sold.quantity).ceil() as i64;
        let (first, last) =
            (sold.breaks.first().map_or(1, |lowest| lowest.0), sold.breaks.last().map_or(1, |last| last.0));
        // From there on each pack costs the same, and more than it can be credited.
        let only_dearer = enough.max(last);
        let mut packs = first;
        while packs <= most.max(first) {
            // Of a step the price of its first, and what its last brings.
            let step = (packs / COUNTS).max(1);
            let amount = before.amount + (packs + step - 1) as f64 * sold.quantity;
            let (left, is_spent) = sold.offs.left(packs as f64 * sold.price(packs + step - 1), was_spent);
            let cost = before.cost + left + self.charged(sold, before, packs);
            let kept = self.keep(place + 1, Bought { amount, cost, used, spent: spent(is_spent) });
            if !kept && packs > only_dearer && sold.unit() >= self.sheet.credit {
                break;
            }
            packs += step;
        }
        for &(from, price) in sold.breaks.iter().filter(|entry| entry.0 > most.max(first)) {
            let amount = before.amount + from as f64 * sold.quantity;
            let (left, is_spent) = sold.offs.left(from as f64 * price, was_spent);
            let cost = before.cost + left + self.charged(sold, before, from);
            self.keep(place + 1, Bought { amount, cost, used, spent: spent(is_spent) });
        }
    }

    /// What sending so many packs costs, as far as they are still required.
    fn charged(&self, sold: &Sold, before: Bought, packs: i64) -> f64 {
        sold.charge * (packs as f64 * sold.quantity).min((self.sheet.demand - before.amount).max(0.0))
    }

    /// Leaves the choices that may lead to the least cost, and no more than so many.
    fn thin(&mut self, place: usize, amounts: usize, together: bool) {
        let mut found = std::mem::take(&mut self.next);
        found.sort_by(|one, other| other.amount.total_cmp(&one.amount).then(one.cost.total_cmp(&other.cost)));
        // For what has been spent the least cost so far: what has more left to be taken off may cost more.
        let mut least: Vec<(u64, f64)> = Vec::new();
        found.retain(|bought| {
            let beats = |own: &(u64, f64)| own.0 & !bought.spent == 0 && own.1 <= bought.cost;
            let is_kept = !least.iter().any(beats);
            match least.iter_mut().find(|own| own.0 == bought.spent) {
                Some(own) => own.1 = own.1.min(bought.cost),
                None => least.push((bought.spent, bought.cost)),
            }
            is_kept
        });
        if found.len() > amounts && !together {
            found.sort_by(|&one, &other| self.estimate(place, one).total_cmp(&self.estimate(place, other)));
            found.truncate(amounts);
        }
        while found.len() > amounts {
            found = self.joined(place, &found, amounts);
        }
        self.next = found;
    }

    /// Joins neighbours, those first that lose the least by it. Bigger amounts, and dearer ones, stand first.
    fn joined(&self, place: usize, found: &[Bought], amounts: usize) -> Vec<Bought> {
        let both = |pair: &[Bought]| {
            let cheaper = if pair[0].cost < pair[1].cost { pair[0] } else { pair[1] };
            Bought { amount: pair[0].amount, spent: pair[0].spent & pair[1].spent, ..cheaper }
        };
        let loss = |pair: &[Bought]| {
            let apart = self.estimate(place, pair[0]).min(self.estimate(place, pair[1]));
            apart - self.estimate(place, both(pair))
        };
        let mut losses: Vec<(f64, usize)> = found.windows(2).map(loss).zip(0..).collect();
        losses.sort_by(|one, other| one.0.total_cmp(&other.0).then(one.1.cmp(&other.1)));
        let mut joins = vec![false; found.len() + 1];
        let mut surplus = found.len() - amounts;
        for (_, at) in losses {
            let is_free = !joins[at] && !joins[at + 1] && (at == 0 || !joins[at - 1]);
            if surplus > 0 && is_free {
                joins[at] = true;
                surplus -= 1;
            }
        }
        let mut kept = Vec::with_capacity(found.len());
        let mut at = 0;
        while at < found.len() {
            kept.push(if joins[at] { both(&found[at..at + 2]) } else { found[at] });
            at += if joins[at] { 2 } else { 1 };
        }
        kept
    }
}

/// The first day on which something that was ordered by the door can arrive.
fn soonest(case: &Case<'_>, house: &House, door: &Door) -> Option<NaiveDate> {
    let calendar = &case.problem.suppliers[house.supplier].calendar;
    let before = door.first.checked_sub(1).map(|place| case.slots[house.slots[place]].order_on);
    let first = before.map_or(Some(case.problem.start), |day| day.succ_opt())?;
    calendar.next_order_day(first).map(|day| calendar.arrival(day))
}

impl Sold {
    /// True where this one makes another needless that comes no sooner.
    fn is_no_dearer(&self, other: &Self) -> bool {
        let same = self.offer == other.offer && self.offs == other.offs;
        same && self.offs.are_plain() && self.charge <= other.charge
    }

    /// The lowest price of a unit.
    fn unit(&self) -> f64 {
        self.breaks.last().map_or(0.0, |last| last.1) * self.offs.least() / self.quantity
    }

    /// The lowest price of a pack where so many are bought.
    fn price(&self, packs: i64) -> f64 {
        self.breaks.iter().rev().find(|entry| entry.0 <= packs).map_or(f64::INFINITY, |entry| entry.1)
    }
}
