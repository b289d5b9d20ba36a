//! The problem as the search sees it: for each material its requirements, who sells it, and on which days an order makes sense.
//!
//! An order is only looked at as late as it can be: moving it later, until a line would miss its first requirement, costs
//! nothing and lengthens the life of what it brings. So a supplier's order days are the latest ones in time for each requirement.

use super::cover::{CreditRule, FOREVER, Need};
use super::evaluate::{self, ChosenOrder, number};
use super::mixes::bit;
use super::room::Shelf;
use super::{Pack, Problem, Terms};
use crate::plan::model::{ItemId, Postage};
use crate::plan::quantity::Percent;
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// Marks a pack that may not be ordered on a day, since it could serve nothing.
pub(super) const USELESS: i32 = i32::MIN;

/// A supplier and a day on which he could be sent an order.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slot {
    /// A place in the problem's suppliers.
    pub supplier: usize,
    /// Day of the order.
    pub order_on: NaiveDate,
    /// Day of arrival.
    pub arrives: i32,
    /// Its place among the supplier's slots.
    pub place: u32,
}

/// What one supplier sells of one material.
#[derive(Clone, Debug)]
pub(super) struct House {
    /// A place in the problem's suppliers.
    pub supplier: usize,
    /// Places in the problem's offers.
    pub offers: Vec<usize>,
    /// The supplier's slots, in order of day.
    pub slots: Vec<usize>,
    /// For each offer and slot the last usable day, or [`USELESS`].
    pub through: Vec<Vec<i32>>,
    /// For each slot the last day through which some offer is usable, or [`USELESS`].
    pub longest: Vec<i32>,
    /// For each requirement the place in `slots` of the latest one that serves it.
    pub latest: Vec<Option<usize>>,
    /// True where every offer in every slot lasts through every requirement.
    lasts: bool,
}

impl House {
    /// The offers that, ordered in a slot, last through a day, as bits.
    #[must_use]
    pub fn lasting(&self, place: usize, through: i32) -> u32 {
        if self.lasts {
            return u32::MAX;
        }
        let lasts = |&(_, days): &(usize, &Vec<i32>)| days[place] >= through;
        self.through.iter().enumerate().filter(lasts).fold(0, |bits, (offer, _)| bits | bit(offer))
    }
}

/// One material.
#[derive(Clone, Debug)]
pub(super) struct Material {
    /// Its requirements in order of day.
    pub needs: Vec<Need>,
    /// From each of them on, all that is required; one entry more than there are requirements.
    pub demand_from: Vec<i64>,
    /// For each requirement the lowest price of a unit at any break, disposal counted, of those who can serve it or one before it.
    pub units: Vec<f64>,
    /// From each requirement on, what all that is required costs at those prices.
    pub tail: Vec<f64>,
    /// Who sells it.
    pub houses: Vec<House>,
    /// What may be credited.
    pub rule: CreditRule,
    /// What one unit of left-over is worth, in home minor units.
    pub unit_credit: f64,
    /// What keeping one unit for a day costs, in home minor units.
    pub holding: f64,
    /// What one unit of left-over that is not credited costs, in home minor units.
    pub disposal: f64,
    /// The room that there is for it, where that is limited.
    pub shelf: Option<Shelf>,
    /// The most units that can be credited.
    pub most_credited: f64,
    /// The lowest landed price of one unit at any break, in home minor units.
    pub lowest_price: f64,
    /// True where everything that can be bought lasts through every requirement.
    pub lasts: bool,
}

impl Material {
    /// The least that one more unit can cost, in home minor units.
    #[must_use]
    pub fn unit_floor(&self) -> f64 {
        self.lowest_price + self.disposal
    }

    /// Less than the cheapest lines for all requirements can cost, credit taken off.
    #[must_use]
    pub fn floor(&self) -> f64 {
        self.lowest_price * self.demand_from[0] as f64 - self.unit_worth() * self.most_credited
    }

    /// What one credited unit is worth, in home minor units.
    #[must_use]
    pub fn unit_worth(&self) -> f64 {
        self.unit_credit + self.disposal
    }
}

/// A supplier's terms as numbers that steer the search.
#[derive(Clone, Debug)]
pub(super) struct Factors {
    rate: f64,
    duty: f64,
    minimum: i64,
    free_from: i64,
    by_weight: bool,
    /// From so much goods or weight on, the fee.
    bands: Vec<(i64, i64)>,
}

/// The whole problem, laid out for the search.
#[derive(Debug)]
pub(super) struct Case<'p> {
    /// The problem.
    pub problem: &'p Problem,
    /// All slots, in order of day, then supplier.
    pub slots: Vec<Slot>,
    /// All materials, in order of item.
    pub materials: Vec<Material>,
    /// For each supplier its slots, in order of day.
    pub own_slots: Vec<Vec<usize>>,
    /// For each supplier the materials it sells, with the place among their houses.
    pub sells: Vec<Vec<(usize, usize)>>,
    factors: Vec<Factors>,
}

impl<'p> Case<'p> {
    /// Lays the problem out. The days of `given` orders are looked at besides those that make sense.
    #[must_use]
    pub fn new(problem: &'p Problem, given: &[ChosenOrder]) -> Self {
        let factors: Vec<Factors> = problem.suppliers.iter().map(Factors::new).collect();
        let mut items: Vec<ItemId> = problem.requirements.iter().map(|requirement| requirement.item).collect();
        items.sort_unstable();
        items.dedup();
        let mut slots = all_slots(problem, &items, given);
        let mut own_slots = vec![Vec::new(); problem.suppliers.len()];
        for (place, slot) in slots.iter_mut().enumerate() {
            slot.place = own_slots[slot.supplier].len() as u32;
            own_slots[slot.supplier].push(place);
        }
        let materials: Vec<Material> =
            items.iter().map(|&item| material(problem, item, &slots, &own_slots, &factors)).collect();
        let mut case = Self { problem, slots, materials, own_slots, sells: Vec::new(), factors };
        case.close_what_cannot_reach_its_minimum();
        case.sells = vec![Vec::new(); problem.suppliers.len()];
        for (material, content) in case.materials.iter().enumerate() {
            for (house, sold) in content.houses.iter().enumerate() {
                case.sells[sold.supplier].push((material, house));
            }
        }
        case
    }

    /// The terms of a slot's supplier.
    #[must_use]
    pub fn terms(&self, slot: usize) -> &'p Terms {
        &self.problem.suppliers[self.slots[slot].supplier]
    }

    /// What an order costs in home minor units: rounded as the model says, but in floating point. Goods below the minimum
    /// order cost as much as the minimum, and a little more, since what fills it up seldom fits.
    #[must_use]
    pub fn order_cost(&self, supplier: usize, goods: i64, weight_mg: i64) -> f64 {
        let factors = &self.factors[supplier];
        let filled = goods.max(factors.minimum);
        let duty = whole(filled as f64 * factors.duty);
        let lacking = (filled - goods) as f64 * factors.rate * 0.03;
        whole((filled as f64 + factors.postage(filled, weight_mg) as f64 + duty) * factors.rate) + lacking
    }

    /// Home minor units for one of the supplier's.
    #[must_use]
    pub fn rate(&self, supplier: usize) -> f64 {
        self.factors[supplier].rate
    }

    /// Home minor units for one minor unit of goods, duty counted.
    #[must_use]
    pub fn landed(&self, supplier: usize) -> f64 {
        self.factors[supplier].landed()
    }

    /// The most that sending can cost, in home minor units.
    #[must_use]
    pub fn highest_postage(&self, supplier: usize) -> f64 {
        let factors = &self.factors[supplier];
        factors.bands.iter().map(|band| band.1).max().unwrap_or(0) as f64 * factors.rate
    }

    /// Goods from which the supplier sends for nothing and takes the order.
    #[must_use]
    pub fn carefree_goods(&self, supplier: usize) -> i64 {
        let terms = &self.problem.suppliers[supplier];
        terms.minimum_order.max(terms.free_postage_from.unwrap_or_default()).minor
    }

    /// Takes out the slots at which nothing is sold that could fill an order up to the supplier's minimum.
    fn close_what_cannot_reach_its_minimum(&mut self) {
        let mut fillable = vec![false; self.slots.len()];
        for house in self.materials.iter().flat_map(|material| &material.houses) {
            let free = self.problem.suppliers[house.supplier].minimum_order.minor <= 0;
            for (&offer, through) in house.offers.iter().zip(&house.through) {
                let paid = free || self.problem.offers[offer].breaks.last().is_some_and(|last| last.1.minor > 0);
                for (&slot, &through) in house.slots.iter().zip(through) {
                    fillable[slot] |= paid && through != USELESS;
                }
            }
        }
        if fillable.iter().all(|&fillable| fillable) {
            return;
        }
        for material in &mut self.materials {
            material.lasts = false;
            for house in &mut material.houses {
                for (place, &slot) in house.slots.iter().enumerate() {
                    if !fillable[slot] {
                        house.through.iter_mut().for_each(|through| through[place] = USELESS);
                    }
                }
                house.latest = latest(&material.needs, &self.slots, &house.slots, &house.through);
                house.longest = longest(&house.through, house.slots.len());
                house.lasts = false;
            }
        }
    }
}

/// To the nearest whole number, half up; for amounts of at least 0.
fn whole(amount: f64) -> f64 {
    (amount + 0.5) as i64 as f64
}

impl Factors {
    fn new(terms: &Terms) -> Self {
        let rate = terms.to_home.0 as f64 / terms.to_home.1 as f64;
        let (by_weight, bands) = match &terms.postage {
            Postage::Flat(fee) => (false, vec![(i64::MIN, fee.minor)]),
            Postage::ByValue(bands) => (false, bands.iter().map(|band| (band.0.minor, band.1.minor)).collect()),
            Postage::ByWeight(bands) => (true, bands.iter().map(|band| (band.0.mg, band.1.minor)).collect()),
        };
        Self {
            rate,
            duty: terms.duty.millionths as f64 / Percent::HUNDRED.millionths as f64,
            minimum: terms.minimum_order.minor,
            free_from: terms.free_postage_from.map_or(i64::MAX, |from| from.minor),
            by_weight,
            bands,
        }
    }

    /// What sending costs, in the supplier's minor units.
    fn postage(&self, goods: i64, weight_mg: i64) -> i64 {
        if goods >= self.free_from {
            return 0;
        }
        let measure = if self.by_weight { weight_mg } else { goods };
        let mut fee = 0;
        for &(from, own) in &self.bands {
            if from > measure {
                break;
            }
            fee = own;
        }
        fee
    }

    fn landed(&self) -> f64 {
        self.rate * (1.0 + self.duty)
    }
}

/// Every supplier and order day that is the latest in time for some requirement.
fn all_slots(problem: &Problem, items: &[ItemId], given: &[ChosenOrder]) -> Vec<Slot> {
    let mut days: BTreeSet<(NaiveDate, usize)> = BTreeSet::new();
    let mut known: BTreeMap<(usize, NaiveDate), Option<NaiveDate>> = BTreeMap::new();
    let mut offers: BTreeMap<ItemId, Vec<&Pack>> = items.iter().map(|&item| (item, Vec::new())).collect();
    for pack in &problem.offers {
        if let Some(own) = offers.get_mut(&pack.item) {
            own.push(pack);
        }
    }
    for requirement in &problem.requirements {
        for pack in &offers[&requirement.item] {
            let calendar = &problem.suppliers[pack.supplier].calendar;
            let latest = known
                .entry((pack.supplier, requirement.day))
                .or_insert_with(|| calendar.latest_order_day(requirement.day));
            let Some(day) = latest.filter(|day| *day >= problem.start) else { continue };
            let last = evaluate::usable_through(pack, calendar.arrival(day)).unwrap_or(NaiveDate::MAX);
            if requirement.through <= last {
                days.insert((day, pack.supplier));
            }
        }
    }
    for order in given.iter().filter(|order| order.order_on >= problem.start) {
        let terms = problem.suppliers.get(order.supplier);
        if terms.is_some_and(|terms| terms.calendar.takes_orders_on(order.order_on)) {
            days.insert((order.order_on, order.supplier));
        }
    }
    let slot = |(order_on, supplier): (NaiveDate, usize)| Slot {
        supplier,
        order_on,
        arrives: number(problem.suppliers[supplier].calendar.arrival(order_on)),
        place: 0,
    };
    days.into_iter().map(slot).collect()
}

/// One material with its houses.
fn material(
    problem: &Problem,
    item: ItemId,
    slots: &[Slot],
    own_slots: &[Vec<usize>],
    factors: &[Factors],
) -> Material {
    let needs = evaluate::needs_of(problem, item);
    let mut by_supplier: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    let mut lowest_price = f64::INFINITY;
    for (place, pack) in problem.offers.iter().enumerate().filter(|(_, pack)| pack.item == item) {
        by_supplier.entry(pack.supplier).or_default().push(place);
        for (_, price) in &pack.breaks {
            let unit = price.minor as f64 * factors[pack.supplier].landed() / pack.quantity.0 as f64;
            lowest_price = lowest_price.min(unit);
        }
    }
    let house = |(supplier, mut offers): (usize, Vec<usize>)| {
        offers.sort_by_key(|&offer| (std::cmp::Reverse(problem.offers[offer].quantity), offer));
        house(problem, supplier, offers, &needs, slots, &own_slots[supplier])
    };
    let houses: Vec<House> = by_supplier.into_iter().map(house).collect();
    let houses: Vec<House> = houses.into_iter().filter(|house| house.latest.iter().any(Option::is_some)).collect();
    let rule = evaluate::credit_rule(problem, item);
    let shelf = Shelf::of(problem, item, &needs);
    let credit = problem.credits.iter().find(|credit| credit.item == item);
    let unit_credit = credit.map_or(0.0, |credit| {
        let worth = credit.worth.millionths as f64 / Percent::HUNDRED.millionths as f64;
        worth * credit.unit_price.0 as f64 / credit.unit_price.1 as f64
    });
    let ratio = |(over, under): (i128, i128)| over as f64 / under as f64;
    let (holding, disposal) = credit.map_or((0.0, 0.0), |credit| (ratio(credit.holding), ratio(credit.disposal)));
    let mut demand_from = vec![0_i64; needs.len() + 1];
    for (place, need) in needs.iter().enumerate().rev() {
        demand_from[place] = demand_from[place + 1].saturating_add(need.quantity);
    }
    let units = units(problem, &houses, factors, needs.len(), disposal);
    let tail = tail(&needs, &units);
    let most_credited = rule.item_cap() as f64 / rule.days as f64;
    let lasts = houses.iter().all(|house| house.lasts);
    Material {
        lasts,
        needs,
        demand_from,
        units,
        tail,
        houses,
        rule,
        unit_credit,
        holding,
        disposal,
        shelf,
        most_credited,
        lowest_price,
    }
}

/// For each requirement the lowest price of a unit among those who can serve it or one before it, disposal added.
fn units(problem: &Problem, houses: &[House], factors: &[Factors], needs: usize, disposal: f64) -> Vec<f64> {
    let mut lowest = f64::INFINITY;
    let own = |house: &House| {
        let packs = house.offers.iter().map(|&offer| &problem.offers[offer]);
        let prices = packs.flat_map(|pack| pack.breaks.iter().map(|entry| (entry.1.minor, pack.quantity.0)));
        let unit = prices.map(|(minor, quantity)| minor as f64 * factors[house.supplier].landed() / quantity as f64);
        unit.fold(f64::INFINITY, f64::min)
    };
    let prices: Vec<f64> = houses.iter().map(own).collect();
    let able = |need: usize| houses.iter().zip(&prices).filter(move |(house, _)| house.latest[need].is_some());
    (0..needs)
        .map(|need| {
            lowest = able(need).map(|(_, price)| *price).fold(lowest, f64::min);
            lowest + disposal
        })
        .collect()
}

/// From each requirement on, what all that is required costs at the price of a unit for each.
#[must_use]
pub(super) fn tail(needs: &[Need], units: &[f64]) -> Vec<f64> {
    let mut tail = vec![0.0; needs.len() + 1];
    for (place, (need, unit)) in needs.iter().zip(units).enumerate().rev() {
        tail[place] = tail[place + 1] + need.quantity as f64 * unit;
    }
    tail
}

/// What a supplier sells of a material, with the table of usable days.
fn house(
    problem: &Problem,
    supplier: usize,
    offers: Vec<usize>,
    needs: &[Need],
    slots: &[Slot],
    own: &[usize],
) -> House {
    let usable = |&offer: &usize| -> Vec<i32> {
        let pack = &problem.offers[offer];
        let last = |&slot: &usize| {
            let arrival = problem.suppliers[supplier].calendar.arrival(slots[slot].order_on);
            let through = evaluate::usable_through(pack, arrival).map_or(FOREVER, number);
            let serves = needs.iter().any(|need| slots[slot].arrives <= need.day && need.through <= through);
            if serves { through } else { USELESS }
        };
        own.iter().map(last).collect()
    };
    let through: Vec<Vec<i32>> = offers.iter().map(usable).collect();
    let latest = latest(needs, slots, own, &through);
    let last = needs.iter().map(|need| need.through).max().unwrap_or(USELESS);
    // A slot that comes too late for everything does not count; one offer that does not last where others do counts.
    let all_last = |place: usize| through.iter().all(|days| days[place] >= last);
    let is_late = |place: usize| needs.iter().all(|need| slots[own[place]].arrives > need.day);
    let lasts = (0..own.len()).all(|place| is_late(place) || all_last(place));
    let longest = longest(&through, own.len());
    House { supplier, offers, slots: own.to_vec(), through, longest, latest, lasts }
}

/// For each slot the last day through which some offer is usable.
fn longest(through: &[Vec<i32>], slots: usize) -> Vec<i32> {
    (0..slots).map(|place| through.iter().map(|days| days[place]).max().unwrap_or(USELESS)).collect()
}

/// For each requirement the latest slot that serves it.
fn latest(needs: &[Need], slots: &[Slot], own: &[usize], through: &[Vec<i32>]) -> Vec<Option<usize>> {
    let serves = |need: &Need, place: usize| {
        slots[own[place]].arrives <= need.day && through.iter().any(|days| days[place] >= need.through)
    };
    needs.iter().map(|need| (0..own.len()).rev().find(|&place| serves(need, place))).collect()
}
