//! The projected available balance of an item, day by day.

use super::allocate::{Allocation, Need, Supply};
use super::quantity::Quantity;
use chrono::NaiveDate;
use std::collections::BTreeSet;

/// One day of the projection. `balance` = the balance before + `receipts` - (`demand` - `short`) - `expired`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ProjectedDay {
    /// The day.
    pub date: NaiveDate,
    /// What arrives.
    pub receipts: Quantity,
    /// What is asked for.
    pub demand: Quantity,
    /// What of that nothing covers.
    pub short: Quantity,
    /// What can no longer be used from this day on: its last day was yesterday.
    pub expired: Quantity,
    /// What is there at the end of the day and can be used on it.
    pub balance: Quantity,
}

impl ProjectedDay {
    /// A day on which nothing happens and nothing is there.
    const EMPTY: Self = Self {
        date: NaiveDate::MIN,
        receipts: Quantity::ZERO,
        demand: Quantity::ZERO,
        short: Quantity::ZERO,
        expired: Quantity::ZERO,
        balance: Quantity::ZERO,
    };
}

/// Usable stock at the start of the first day.
#[must_use]
pub fn on_hand(supplies: &[Supply], today: NaiveDate) -> Quantity {
    supplies.iter().filter(|supply| supply.from <= today && supply.through >= today).map(|supply| supply.quantity).sum()
}

/// The balance of every day from `today` to `horizon`, drawn as the allocation says.
#[must_use]
pub fn project(
    supplies: &[Supply],
    needs: &[Need],
    allocation: &Allocation,
    today: NaiveDate,
    horizon: NaiveDate,
) -> Vec<ProjectedDay> {
    let receipts = supplies.iter().filter(|supply| supply.from > today);
    let mut receipts = Dated::new(receipts.map(|supply| (supply.from, supply.quantity)).collect());
    let ends = allocation.through.iter().zip(&allocation.left);
    // What ended before today was never in the balance; what nothing ends stays in it.
    let ends = ends.filter(|(through, left)| **through >= today && **through < NaiveDate::MAX && !left.is_zero());
    let mut expired = Dated::new(ends.map(|(through, left)| (day_after(*through), *left)).collect());
    let mut need = needs.partition_point(|need| need.day < today);
    let mut balance = on_hand(supplies, today);
    let count = usize::try_from((horizon - today).num_days() + 1).unwrap_or(0);
    let mut days = Vec::with_capacity(count);
    let mut date = today;
    while days.len() < count {
        let mut day = ProjectedDay { date, receipts: receipts.take(date), ..ProjectedDay::EMPTY };
        while needs.get(need).is_some_and(|need| need.day == date) {
            day.demand += needs[need].quantity;
            day.short += allocation.short[need];
            need += 1;
        }
        day.expired = expired.take(date);
        balance = balance + day.receipts - (day.demand - day.short) - day.expired;
        day.balance = balance;
        days.push(day);
        date = day_after(date);
        // Most days are quiet: the balance stays until something happens again.
        let next_need = needs.get(need).map_or(NaiveDate::MAX, |need| need.day);
        let eventful = next_need.min(receipts.next_day()).min(expired.next_day());
        while date < eventful && days.len() < count {
            days.push(ProjectedDay { date, balance, ..ProjectedDay::EMPTY });
            date = day_after(date);
        }
    }
    days
}

/// Quantities by day, taken as the days come.
struct Dated {
    /// The last day first.
    to_come: Vec<(NaiveDate, Quantity)>,
}

impl Dated {
    fn new(mut quantities: Vec<(NaiveDate, Quantity)>) -> Self {
        quantities.sort_unstable_by(|one, other| other.cmp(one));
        Self { to_come: quantities }
    }

    /// The day of the next; the calendar's last day where there is none.
    fn next_day(&self) -> NaiveDate {
        self.to_come.last().map_or(NaiveDate::MAX, |next| next.0)
    }

    /// All of a day.
    fn take(&mut self, day: NaiveDate) -> Quantity {
        let mut taken = Quantity::ZERO;
        while let Some((_, quantity)) = self.to_come.pop_if(|next| next.0 == day) {
            taken += quantity;
        }
        taken
    }
}

/// Where the balance is below the safety stock: the first day, and by how much at its lowest up to the horizon.
///
/// The balance of this question is what is on hand at the end of a day after the covered demands, drawn first expired
/// first out among what is usable on the day, whatever it must last through. It does not go below zero.
#[must_use]
pub fn below_safety_stock(
    supplies: &[Supply],
    needs: &[Need],
    short: &[Quantity],
    safety_stock: Quantity,
    today: NaiveDate,
    horizon: NaiveDate,
) -> Option<(NaiveDate, Quantity)> {
    if safety_stock.is_zero() {
        return None;
    }
    let mut shelf = Shelf::new(supplies, needs, today);
    let mut first = None;
    let mut most_missing = Quantity::ZERO;
    let mut next_need = 0;
    while let Some(day) = shelf.next_day.pop_first().filter(|day| *day <= horizon) {
        while let Some(need) = needs.get(next_need).filter(|need| need.day <= day) {
            shelf.draw(need.day, need.quantity - short[next_need]);
            next_need += 1;
        }
        let missing = safety_stock - shelf.balance(day);
        if missing > Quantity::ZERO {
            first = first.or(Some(day));
            most_missing = most_missing.max(missing);
        }
    }
    first.map(|day| (day, most_missing))
}

/// Stock that is drawn first expired first out, day after day.
struct Shelf<'a> {
    supplies: &'a [Supply],
    through: Vec<NaiveDate>,
    left: Vec<Quantity>,
    /// The days ahead on which the balance can change: those of needs and receipts, those after a lot has ended.
    next_day: BTreeSet<NaiveDate>,
}

impl<'a> Shelf<'a> {
    fn new(supplies: &'a [Supply], needs: &[Need], today: NaiveDate) -> Self {
        let changes = supplies.iter().flat_map(|supply| [supply.from, day_after(supply.through)]);
        let changes = changes.chain(needs.iter().map(|need| need.day)).filter(|day| *day >= today);
        Self {
            supplies,
            through: supplies.iter().map(|supply| supply.through).collect(),
            left: supplies.iter().map(|supply| supply.quantity).collect(),
            next_day: changes.chain([today]).collect(),
        }
    }

    fn draw(&mut self, day: NaiveDate, mut quantity: Quantity) {
        while quantity > Quantity::ZERO {
            let usable = |&supply: &usize| {
                self.supplies[supply].from <= day && self.through[supply] >= day && !self.left[supply].is_zero()
            };
            let first = (0..self.left.len()).filter(usable).min_by_key(|&supply| (self.through[supply], supply));
            let Some(supply) = first else { return };
            let taken = quantity.min(self.left[supply]);
            if self.left[supply] == self.supplies[supply].quantity
                && let Some(life) = self.supplies[supply].life_once_opened
            {
                self.through[supply] = self.through[supply].min(life.after(day));
                self.next_day.insert(day_after(self.through[supply]));
            }
            self.left[supply] -= taken;
            quantity -= taken;
        }
    }

    fn balance(&self, day: NaiveDate) -> Quantity {
        let usable = |supply: &usize| self.supplies[*supply].from <= day && self.through[*supply] >= day;
        (0..self.left.len()).filter(usable).map(|supply| self.left[supply]).sum()
    }
}

/// The next day; the calendar's last day stands in for the one beyond it.
fn day_after(day: NaiveDate) -> NaiveDate {
    day.succ_opt().unwrap_or(day)
}
