//! Room on the shelf: what a plan counts as dearer by on each day on which more stands there than there is room for.

use super::cover::{Delivery, Need};
use super::evaluate::{number, usable_through};
use super::{Pack, Problem, Room};
use crate::plan::model::ItemId;
use crate::plan::quantity::Quantity;
use chrono::NaiveDate;

/// The most that is counted, in home minor units: far more than any plan costs, and far less than 64 bits hold.
const MOST: i64 = 1_000_000_000_000_000;

/// The room for one item, in plain numbers.
#[derive(Clone, Debug)]
pub(super) struct Shelf {
    /// The first day.
    start: i32,
    /// For each day from the first to the last of the horizon, how much may have come by then: what fits beside the stock, or
    /// what has to be there whatever fits, and what was needed before.
    limits: Vec<i64>,
    /// For each day the least of these from that day on.
    least: Vec<i64>,
    /// What is too much is counted in steps of this.
    unit: i64,
    /// What each step counts as on each day, in home minor units.
    fine: i64,
}

impl Shelf {
    /// The room for an item with these needs; `None` where it is not limited.
    #[must_use]
    pub fn of(problem: &Problem, item: ItemId, needs: &[Need]) -> Option<Self> {
        let room = problem.rooms.iter().find(|room| room.item == item)?;
        let unit = room.unit.0.max(1);
        let stays: Vec<Stay> = needs.iter().map(|need| Stay::of(problem, item, need)).collect();
        let limit = |day: NaiveDate| {
            let must = whole_packs(stays.iter().map(|stay| stay.on(number(day))).fold(0, i64::saturating_add), unit);
            room.fits(day).0.max(must).saturating_add(needed_before(needs, number(day)))
        };
        let limits = problem.start.iter_days().take_while(|day| *day <= problem.end).map(limit).collect();
        Some(Self::new(number(problem.start), limits, unit, room.fine.minor))
    }

    fn new(start: i32, limits: Vec<i64>, unit: i64, fine: i64) -> Self {
        let mut least = limits.clone();
        for place in (1..least.len()).rev() {
            least[place - 1] = least[place - 1].min(least[place]);
        }
        Self { start, limits, least, unit, fine }
    }

    /// The room that is left beside deliveries that are certain.
    #[must_use]
    pub fn beside(&self, deliveries: &[Delivery]) -> Self {
        let days = self.limits.iter().zip(self.start..);
        let limits = days.map(|(limit, day)| limit.saturating_sub(came_by(deliveries, day)).max(0)).collect();
        Self::new(self.start, limits, self.unit, self.fine)
    }

    /// What is counted from a day until before another (to the end where `None`), if so much has come by the first and nothing comes
    /// on the days after.
    #[must_use]
    pub fn fine(&self, came: i64, from: i32, until: Option<i32>) -> i64 {
        let place = |day: i32| usize::try_from(day.saturating_sub(self.start)).unwrap_or(0).min(self.limits.len());
        let days = place(from)..until.map_or(self.limits.len(), place);
        let is_crowded = |day: &usize| came > self.least[*day];
        days.take_while(is_crowded).map(|day| self.step(came, self.limits[day])).fold(0, add)
    }

    /// What is counted on all days.
    #[must_use]
    pub fn fines(&self, deliveries: &[Delivery]) -> i64 {
        let all = came_by(deliveries, i32::MAX);
        let is_crowded = |place: &usize| all > self.least[*place];
        let days = (0..self.limits.len()).take_while(is_crowded).zip(self.start..);
        days.map(|(place, day)| self.step(came_by(deliveries, day), self.limits[place])).fold(0, add)
    }

    /// What is counted on one day.
    fn step(&self, came: i64, limit: i64) -> i64 {
        let beyond = came.saturating_sub(limit).max(0);
        (beyond / self.unit + i64::from(beyond % self.unit > 0)).saturating_mul(self.fine).min(MOST)
    }
}

impl Room {
    /// What fits beside the stock on a day; less than nothing where the stock alone is too much.
    #[must_use]
    pub fn fits(&self, day: NaiveDate) -> Quantity {
        let from = self.fits.partition_point(|(from, _)| *from <= day);
        self.fits.get(from.saturating_sub(1)).map_or(Quantity(i64::MAX), |(_, fits)| *fits)
    }
}

/// When what a need takes stands there at the least: from the latest day on which it can come.
struct Stay {
    from: i32,
    through: i32,
    quantity: i64,
}

impl Stay {
    fn of(problem: &Problem, item: ItemId, need: &Need) -> Self {
        let day = problem.requirements[need.place].day;
        let packs = problem.offers.iter().filter(|pack| pack.item == item);
        let arrival = |pack: &Pack| {
            let calendar = &problem.suppliers[pack.supplier].calendar;
            let arrival = calendar.arrival(calendar.latest_order_day(day).filter(|day| *day >= problem.start)?);
            let lasts = usable_through(pack, arrival).is_none_or(|last| number(last) >= need.through);
            lasts.then_some(number(arrival))
        };
        let from = packs.filter_map(arrival).max().unwrap_or(need.day);
        Self { from, through: need.day, quantity: need.quantity }
    }

    fn on(&self, day: i32) -> i64 {
        if (self.from..=self.through).contains(&day) { self.quantity } else { 0 }
    }
}

/// The least that whole packs bring of so much.
fn whole_packs(quantity: i64, unit: i64) -> i64 {
    let rest = quantity % unit;
    if rest > 0 { quantity.saturating_add(unit - rest) } else { quantity }
}

fn add(sum: i64, more: i64) -> i64 {
    sum.saturating_add(more).min(MOST)
}

/// How much of the deliveries has come by a day.
#[must_use]
pub(super) fn came_by(deliveries: &[Delivery], day: i32) -> i64 {
    let came = deliveries.iter().filter(|delivery| delivery.arrives <= day).map(|delivery| delivery.quantity);
    came.fold(0, i64::saturating_add)
}

/// How much was needed before a day.
#[must_use]
pub(super) fn needed_before(needs: &[Need], day: i32) -> i64 {
    needs.iter().filter(|need| need.day < day).map(|need| need.quantity).fold(0, i64::saturating_add)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn delivery(arrives: i32, quantity: i64) -> Delivery {
        Delivery { arrives, through: i32::MAX, quantity }
    }

    /// 10 fit on days 1 to 4, 25 on days 5 to 8; 6 are needed on day 3, 20 on day 6, 9 on day 8. Counted in packs of 4 at 100 each.
    fn shelf() -> Shelf {
        Shelf::new(1, vec![10, 10, 10, 16, 31, 31, 51, 51], 4, 100)
    }

    #[test]
    fn each_day_is_held_against_what_fits_on_it() {
        // Day 2: 10 of 10. Day 5: the 4 that day 3 left and 25 more are 29 of 25, one pack too many, and again on day 6.
        assert_eq!(shelf().fines(&[delivery(2, 10), delivery(5, 25)]), 200);
        // All of it on day 2: 35 of 10 on days 2 and 3 (seven packs), 29 of 10 on day 4 (five), 29 of 25 on days 5 and 6 (one).
        assert_eq!(shelf().fines(&[delivery(2, 20), delivery(2, 15)]), 100 * (7 + 7 + 5 + 1 + 1));
        // As late as can be: 6 of 10, 20 of 25 on day 6, 9 of 25 on day 8.
        assert_eq!(shelf().fines(&[delivery(3, 6), delivery(6, 20), delivery(8, 9)]), 0);
    }

    #[test]
    fn a_stretch_of_days_counts_as_its_days_do() {
        let all = shelf().fines(&[delivery(2, 35)]);
        let parts = shelf().fine(0, 1, Some(2)) + shelf().fine(35, 2, Some(5)) + shelf().fine(35, 5, None);
        assert_eq!(parts, all);
        assert_eq!(shelf().fine(35, 0, Some(3)), shelf().fine(35, 1, Some(3)));
        assert_eq!((shelf().fine(99, 9, None), shelf().fine(99, 5, Some(5))), (0, 0));
    }

    #[test]
    fn what_is_certain_takes_its_room() {
        let rest = shelf().beside(&[delivery(2, 10)]);
        assert_eq!(rest.limits, [10, 0, 0, 6, 21, 21, 41, 41]);
    }
}
