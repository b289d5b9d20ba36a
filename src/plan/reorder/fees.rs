//! What a supplier's orders cost beside their goods, from below: a fixed part, less a share of the goods.
//!
//! Any straight line that lies below the postage of every order that may be sent gives such a figure. A flat line counts postage
//! alone. A steep one starts higher: it says that whoever orders there at all has to buy so much, for a minimum order or
//! for free postage, and that goods are worth more there than their price until that is reached.

use super::Terms;
use super::candidates::Case;
use crate::plan::model::Postage;

/// What one supplier's orders cost beside the goods, from below: at least `fixed - discount x landed goods` in home minor
/// units, if anything is ordered from it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Fee {
    /// In home minor units.
    pub fixed: f64,
    /// A share of the landed goods.
    pub discount: f64,
    /// Taken off whatever is ordered: what rounding could save in all orders together.
    pub loss: f64,
}

/// The cost of a supplier's orders beside their goods, from below.
/// `goods` tells what a good plan buys there: that only helps to choose the better line.
pub(super) fn fee(case: &Case<'_>, supplier: usize, goods: i64) -> Fee {
    let terms = &case.problem.suppliers[supplier];
    let (rate, landed) = (case.rate(supplier), case.landed(supplier));
    let loss = rounding(terms);
    let minimum = terms.minimum_order.minor as f64;
    let points = points(terms);
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

/// The line of a supplier that takes such a share off the goods, as high as it may lie; `None` where it counts for nothing.
pub(super) fn fee_with(case: &Case<'_>, supplier: usize, discount: f64) -> Option<Fee> {
    let terms = &case.problem.suppliers[supplier];
    let (rate, landed) = (case.rate(supplier), case.landed(supplier));
    let lowest =
        points(terms).iter().map(|&(from, fee)| fee * rate + discount * landed * from).fold(f64::INFINITY, f64::min);
    let fixed = lowest - rounding(terms);
    (fixed > 0.0 && fixed.is_finite() && discount < 1.0).then_some(Fee { fixed, discount, loss: 0.0 })
}

/// From so much goods on, what sending costs at least; orders below the minimum do not exist.
fn points(terms: &Terms) -> Vec<(f64, f64)> {
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
    points
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
