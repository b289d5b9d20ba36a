//! What a supplier's orders cost beside their goods, from below: a fixed part, less a share of the goods.
//!
//! Any straight line that lies below the postage of every order that may be sent gives such a figure. A flat line counts postage
//! alone. One that rises counts some of the weight. A steep one starts higher: it says that whoever orders there at all has to buy
//! so much, for a minimum order or for free postage, and that goods are worth more there than their price until that is reached.

use super::Terms;
use super::candidates::Case;
use super::evaluate::number;
use crate::plan::model::{ItemId, Postage};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// What one supplier's orders cost beside the goods, from below: at least `fixed + by_weight x weight - discount x landed goods` in
/// home minor units, if anything is ordered from it. Of the weight only that of some materials counts, as far as they are required.
/// What the discount takes off one material ends where sending costs no less whatever is bought: more goods than that of all materials
/// together only make up for it sooner.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Fee {
    /// In home minor units.
    pub fixed: f64,
    /// A share of the landed goods.
    pub discount: f64,
    /// The most that it takes off one material.
    pub most_off: f64,
    /// A share of the landed goods that has no such end: what rounding could save where nothing is paid for sending.
    pub rounding: f64,
    /// In home minor units for a milligram.
    pub by_weight: f64,
    /// More than what counts can weigh.
    pub heaviest: f64,
    /// Taken off whatever is ordered: what rounding could save in all orders together.
    pub loss: f64,
}

impl Fee {
    /// What is taken off so much landed goods of one material.
    #[must_use]
    pub fn off(&self, goods: f64) -> f64 {
        (self.discount * goods).min(self.most_off) + self.rounding * goods
    }
}

/// What a good plan has from a supplier.
#[derive(Clone, Debug, Default)]
pub(super) struct Bought {
    /// How many orders.
    pub times: f64,
    /// What covers requirements, in milligrams.
    pub weight_mg: f64,
    /// What is bought, in order, and its goods in the supplier's minor units.
    pub goods: BTreeMap<ItemId, i64>,
}

/// The cost of a supplier's orders beside their goods, from below. What is `bought` only helps to choose the best line.
pub(super) fn fee(case: &Case<'_>, supplier: usize, bought: &Bought, days: (i32, i32)) -> Fee {
    let terms = &case.problem.suppliers[supplier];
    let landed = case.landed(supplier);
    let loss = rounding(terms);
    let worth = |fee: &Fee| {
        let off = |&goods: &i64| fee.off(goods as f64 * landed);
        bought.times.max(1.0) * fee.fixed + fee.by_weight * bought.weight_mg
            - bought.goods.values().map(off).sum::<f64>()
    };
    let heaviest = heaviest(case, supplier, &bought.goods);
    let best = lines(case, supplier, heaviest).into_iter().max_by(|one, other| worth(one).total_cmp(&worth(other)));
    if let Some(best) = best.filter(|best| worth(best) > 0.0) {
        return best;
    }
    let smallest = smallest_order(case, supplier).max(terms.minimum_order.minor as f64).max(1.0);
    let discount = (loss / (smallest * landed)).min(1.0);
    let all_orders = loss * order_days(case, supplier, days) as f64;
    if discount * bought.goods.values().sum::<i64>() as f64 * landed < all_orders {
        return Fee { rounding: discount, ..Fee::default() };
    }
    Fee { loss: all_orders, ..Fee::default() }
}

/// The lines that may be good ones: flat and steep ones, and those that rise with the weight.
fn lines(case: &Case<'_>, supplier: usize, heaviest: f64) -> Vec<Fee> {
    let points = points(&case.problem.suppliers[supplier], heaviest);
    let (rate, landed) = (case.rate(supplier), case.landed(supplier));
    let mut found = Vec::new();
    let highest = points.first().map_or(0.0, |point| point.fee);
    let lowest = points.iter().map(|point| point.fee).fold(highest, f64::min);
    for fixed in [highest, lowest] {
        let steep = |point: &Point| if point.fee < fixed { (fixed - point.fee) / point.goods.max(1e-9) } else { 0.0 };
        let slope = points.iter().map(steep).fold(0.0, f64::max);
        found.extend(line(case, supplier, slope * rate / landed, (0.0, heaviest)));
    }
    for (place, one) in points.iter().enumerate() {
        for other in points[place + 1..].iter().filter(|other| other.weight_mg > one.weight_mg && other.fee > one.fee) {
            let by_weight = (other.fee - one.fee) / (other.weight_mg - one.weight_mg);
            // Free postage must not bring the line down: goods then count for as much.
            let from = points.first().map_or(0.0, |point| point.goods);
            let sent =
                points.iter().filter(|point| point.fee > 0.0).map(|point| point.fee - by_weight * point.weight_mg);
            let sent = sent.fold(f64::INFINITY, f64::min);
            let steep = |point: &Point| (sent + by_weight * point.weight_mg) / (point.goods - from).max(1e-9);
            let slope = points.iter().filter(|point| point.fee <= 0.0).map(steep).fold(0.0, f64::max);
            found.extend(line(case, supplier, slope * rate / landed, (by_weight * rate, heaviest)));
        }
    }
    found
}

/// The line of a supplier that takes such a share off the goods and adds so much for the weight, as high as it may lie; `None` where it
/// counts for nothing.
pub(super) fn line(case: &Case<'_>, supplier: usize, discount: f64, (by_weight, heaviest): (f64, f64)) -> Option<Fee> {
    let terms = &case.problem.suppliers[supplier];
    let (rate, landed) = (case.rate(supplier), case.landed(supplier));
    let saved = rounding(terms);
    let points = points(terms, heaviest);
    let least = |value: &dyn Fn(&Point) -> f64| points.iter().map(value).fold(f64::INFINITY, f64::min);
    let fixed =
        least(&|point| point.fee * rate + discount * landed * point.goods - by_weight * point.weight_mg) - saved;
    let most_off = fixed + by_weight * heaviest - (least(&|point| point.fee * rate) - saved).max(0.0);
    // Orders for whose sending next to nothing is paid hold so much at least.
    let free = least(&|point| if point.fee * rate < saved { point.goods * landed } else { f64::INFINITY });
    let rounding = saved / free.max(1e-9);
    let counts = fixed > 0.0 && fixed.is_finite() && discount + rounding < 1.0;
    counts.then_some(Fee { fixed, discount, most_off, rounding, by_weight, heaviest, loss: 0.0 })
}

/// From so much goods on, and up to so much weight, what sending costs at least.
#[derive(Clone, Copy, Debug)]
struct Point {
    goods: f64,
    weight_mg: f64,
    fee: f64,
}

/// The corners of what sending costs; orders below the minimum do not exist.
fn points(terms: &Terms, heaviest: f64) -> Vec<Point> {
    let minimum = terms.minimum_order.minor as f64;
    let by_goods = |bands: &[(f64, f64)]| -> Vec<Point> {
        // Only the band of the minimum and those above it count.
        let first = bands.iter().rposition(|band| band.0 <= minimum).unwrap_or(0);
        let point = |&(goods, fee): &(f64, f64)| Point { goods: goods.max(minimum), weight_mg: heaviest, fee };
        bands[first..].iter().map(point).collect()
    };
    let mut points = match &terms.postage {
        Postage::Flat(fee) => by_goods(&[(0.0, fee.minor as f64)]),
        Postage::ByValue(bands) => {
            let bands: Vec<(f64, f64)> = bands.iter().map(|band| (band.0.minor as f64, band.1.minor as f64)).collect();
            by_goods(&bands)
        }
        Postage::ByWeight(bands) => {
            let ends = bands.iter().skip(1).map(|band| band.0.mg as f64).chain(std::iter::once(f64::INFINITY));
            let lowest = |place: usize| bands[place..].iter().map(|band| band.1.minor).min().unwrap_or(0) as f64;
            let own = ends.enumerate().take(bands.len());
            own.map(|(place, end)| Point { goods: minimum, weight_mg: end.min(heaviest), fee: lowest(place) }).collect()
        }
    };
    if let Some(from) = terms.free_postage_from {
        points.retain(|point| point.goods < from.minor as f64);
        let goods = from.minor.max(terms.minimum_order.minor) as f64;
        points.push(Point { goods, weight_mg: heaviest, fee: 0.0 });
    }
    points
}

/// More than all that is required of some of what a supplier sells can weigh, in milligrams.
fn heaviest(case: &Case<'_>, supplier: usize, items: &BTreeMap<ItemId, i64>) -> f64 {
    let own = |&(material, house): &(usize, usize)| {
        let content = &case.materials[material];
        let packs = content.houses[house].offers.iter().map(|&offer| &case.problem.offers[offer]);
        let counted = packs.filter(|pack| items.contains_key(&pack.item));
        let unit = counted.map(|pack| pack.weight_mg as f64 / pack.quantity.0 as f64).fold(0.0, f64::max);
        unit * content.demand_from[0] as f64
    };
    case.sells[supplier].iter().map(own).sum::<f64>() * (1.0 + 1e-9)
}

/// What rounding can save in one order, in home minor units: duty is rounded to the supplier's unit, the total to the home unit.
#[must_use]
pub(super) fn rounding(terms: &Terms) -> f64 {
    let exact = terms.to_home.1 > 0 && terms.to_home.0 % terms.to_home.1 == 0;
    let duty = if terms.duty.millionths == 0 { 0.0 } else { 0.5 * terms.to_home.0 as f64 / terms.to_home.1 as f64 };
    duty + if exact { 0.0 } else { 0.5 }
}

/// How many days there are, after the first and through the second, on which a supplier could be sent an order that comes in time.
fn order_days(case: &Case<'_>, supplier: usize, (after, through): (i32, i32)) -> usize {
    let calendar = &case.problem.suppliers[supplier].calendar;
    let last = case.problem.requirements.iter().map(|requirement| requirement.day).max();
    let days = case.problem.start.iter_days().take_while(|&day| last.is_some_and(|last| calendar.arrival(day) <= last));
    let within = |day: &NaiveDate| after < number(*day) && number(*day) <= through;
    days.filter(within).filter(|&day| calendar.takes_orders_on(day)).count()
}

/// The least that a line of a supplier with any price can cost.
fn smallest_order(case: &Case<'_>, supplier: usize) -> f64 {
    let own = case.problem.offers.iter().filter(|pack| pack.supplier == supplier);
    let line = own.flat_map(|pack| pack.breaks.iter().map(|&(from, price)| price.times(from.max(1)).minor));
    line.filter(|&goods| goods > 0).min().map_or(1.0, |goods| goods as f64)
}
