//! A budget for the next order days: what is left uncovered where it does not reach, the least harmful first.
//!
//! What has to be ordered through the budget's last day is what no order after it can bring in time. Plan entries and
//! safety stocks among that are given up until the rest is affordable: as few entries as possible, of those the ones made
//! latest; then as few safety stocks as possible. A safety stock is always given up before an entry.

use super::evaluate::{ChosenOrder, evaluate, usable_through};
use super::listing::{chosen_of, with_costs};
use super::requirements::{Cause, Requirements};
use super::{Limits, Problem, ReorderPlan, solve};
use crate::plan::model::{EntryId, ItemId};
use crate::plan::money::Money;
use crate::plan::outlook::Outlook;
use crate::plan::quantity::{Percent, Quantity};
use chrono::NaiveDate;
use std::collections::BTreeSet;

/// So many lists are priced at the most.
const MOST_TRIALS: u32 = 160;

/// What can be given up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum GivenUp {
    /// An item's safety stock.
    SafetyStock(ItemId),
    /// Everything that a plan entry lacks and that has to be ordered now.
    Entry(EntryId),
}

/// Something that the budget does not pay.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Uncovered {
    /// Of what.
    pub item: ItemId,
    /// When it is needed.
    pub day: NaiveDate,
    /// How much.
    pub quantity: Quantity,
    /// What it comes from.
    pub causes: Vec<(Cause, Quantity)>,
}

/// What a budget comes to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Budgeted {
    /// The budget.
    pub amount: Money,
    /// The last day whose orders it pays.
    pub through: NaiveDate,
    /// What the orders through that day cost.
    pub spent: Money,
    /// What is left uncovered, in the order of the requirements.
    pub uncovered: Vec<Uncovered>,
    /// False where the search for the least harm was cut short, or a list was not proven to cost more than the budget.
    pub proven: bool,
}

/// What the orders through a day cost.
#[must_use]
pub fn spent_through(plan: &ReorderPlan, through: NaiveDate) -> Money {
    plan.orders.iter().filter(|order| order.order_on <= through).map(|order| order.total_home).sum()
}

/// A plan within the budget, and the requirements that it answers.
///
/// `plan` is the one without a budget. `None` where no set of orders was found.
pub(super) fn within(
    outlook: &Outlook,
    requirements: &Requirements,
    plan: ReorderPlan,
    (amount, through): (Money, NaiveDate),
    limits: &Limits,
) -> Option<(ReorderPlan, Requirements, Budgeted)> {
    let spent = spent_through(&plan, through);
    if spent <= amount {
        let budgeted = Budgeted { amount, through, spent, uncovered: Vec::new(), proven: true };
        return Some((plan, requirements.clone(), budgeted));
    }
    let mut search = Search {
        outlook,
        requirements,
        through,
        amount,
        now: (0..requirements.problem.requirements.len())
            .map(|place| !can_wait(&requirements.problem, place, through))
            .collect(),
        trials: 0,
        proven: true,
    };
    let given_up = search.least_harm();
    let (rest, uncovered) = search.without(&given_up, false);
    let (plan, spent) = search.final_plan(&rest, limits)?;
    let budgeted = Budgeted { amount, through, spent, uncovered, proven: search.proven };
    Some((plan, rest, budgeted))
}

/// True where an order placed after the day can still serve the requirement.
fn can_wait(problem: &Problem, place: usize, through: NaiveDate) -> bool {
    let need = &problem.requirements[place];
    problem.offers.iter().filter(|pack| pack.item == need.item).any(|pack| {
        let calendar = &problem.suppliers[pack.supplier].calendar;
        let latest = calendar.latest_order_day(need.day).filter(|day| *day > through);
        latest.is_some_and(|day| usable_through(pack, calendar.arrival(day)).is_none_or(|last| last >= need.through))
    })
}

struct Search<'a> {
    outlook: &'a Outlook,
    requirements: &'a Requirements,
    through: NaiveDate,
    amount: Money,
    /// Which requirements cannot wait.
    now: Vec<bool>,
    trials: u32,
    proven: bool,
}

impl Search<'_> {
    /// The least harmful set to give up so that the rest is affordable.
    fn least_harm(&mut self) -> BTreeSet<GivenUp> {
        let (mut entries, mut stocks) = (BTreeSet::new(), BTreeSet::new());
        for (place, causes) in self.requirements.causes.iter().enumerate().filter(|(place, _)| self.now[*place]) {
            for (cause, _) in causes {
                match self.unit(*cause, place) {
                    unit @ GivenUp::Entry(_) => entries.insert(unit),
                    unit @ GivenUp::SafetyStock(_) => stocks.insert(unit),
                };
            }
        }
        // Those made latest are given up first: there is most time to find another way.
        let mut entries: Vec<GivenUp> = entries.into_iter().collect();
        entries.sort_by_key(|unit| std::cmp::Reverse(self.made_on(*unit)));
        let stocks: Vec<GivenUp> = stocks.into_iter().collect();
        for count in 0..=entries.len() {
            let mut sets = Subsets::new(entries.len(), count);
            while let Some(places) = sets.next() {
                let set: BTreeSet<GivenUp> = places.iter().map(|place| entries[*place]).collect();
                let with_stocks = set.iter().chain(&stocks).copied().collect();
                if self.is_affordable(&with_stocks) {
                    return self.fewest_stocks(set, &stocks);
                }
                if self.trials >= MOST_TRIALS {
                    return self.one_after_the_other(&entries, &stocks);
                }
            }
        }
        entries.into_iter().chain(stocks).collect()
    }

    fn unit(&self, cause: Cause, place: usize) -> GivenUp {
        match cause {
            Cause::Shortage(shortage) => GivenUp::Entry(self.outlook.shortages[shortage].entry),
            Cause::SafetyStock => GivenUp::SafetyStock(self.requirements.problem.requirements[place].item),
        }
    }

    fn made_on(&self, unit: GivenUp) -> Option<(NaiveDate, EntryId)> {
        match unit {
            GivenUp::Entry(entry) => Some((self.outlook.sizes[entry.index()].make_on, entry)),
            GivenUp::SafetyStock(_) => None,
        }
    }

    /// As few safety stocks beside the entries as will do.
    fn fewest_stocks(&mut self, entries: BTreeSet<GivenUp>, stocks: &[GivenUp]) -> BTreeSet<GivenUp> {
        for count in 0..stocks.len() {
            let mut sets = Subsets::new(stocks.len(), count);
            while let Some(places) = sets.next() {
                let set: BTreeSet<GivenUp> =
                    entries.iter().copied().chain(places.iter().map(|place| stocks[*place])).collect();
                if self.is_affordable(&set) {
                    return set;
                }
                if self.trials >= 2 * MOST_TRIALS {
                    self.proven = false;
                    return entries.into_iter().chain(stocks.iter().copied()).collect();
                }
            }
        }
        entries.into_iter().chain(stocks.iter().copied()).collect()
    }

    /// All safety stocks, then the entries made latest, until the rest is affordable: where there are too many sets to try.
    fn one_after_the_other(&mut self, entries: &[GivenUp], stocks: &[GivenUp]) -> BTreeSet<GivenUp> {
        self.proven = false;
        let mut set: BTreeSet<GivenUp> = stocks.iter().copied().collect();
        for entry in entries {
            if self.is_affordable(&set) {
                break;
            }
            set.insert(*entry);
        }
        set
    }

    /// True where a list within the budget was found for what is left and cannot wait.
    fn is_affordable(&mut self, given_up: &BTreeSet<GivenUp>) -> bool {
        self.trials += 1;
        let (rest, _) = self.without(given_up, true);
        let Some(plan) = least_paid(&rest.problem) else { return false };
        if plan.cost <= self.amount {
            return true;
        }
        if plan.lower_bound <= self.amount {
            self.proven = false;
        }
        false
    }

    /// The requirements without what is given up (all of them, or only those that cannot wait), and what was taken off.
    fn without(&self, given_up: &BTreeSet<GivenUp>, only_now: bool) -> (Requirements, Vec<Uncovered>) {
        let mut rest = self.requirements.clone();
        rest.problem.requirements.clear();
        rest.causes.clear();
        let mut uncovered = Vec::new();
        for (place, causes) in self.requirements.causes.iter().enumerate() {
            let mut need = self.requirements.problem.requirements[place];
            if only_now && !self.now[place] {
                continue;
            }
            let (gone, kept): (Vec<_>, Vec<_>) = causes
                .iter()
                .copied()
                .partition(|(cause, _)| self.now[place] && given_up.contains(&self.unit(*cause, place)));
            let quantity = |causes: &[(Cause, Quantity)]| causes.iter().map(|(_, quantity)| *quantity).sum();
            if !gone.is_empty() {
                uncovered.push(Uncovered { item: need.item, day: need.day, quantity: quantity(&gone), causes: gone });
            }
            if !kept.is_empty() {
                need.quantity = quantity(&kept);
                rest.problem.requirements.push(need);
                rest.causes.push(kept);
            }
        }
        crate::plan::wishes::drop_what_is_not_required(&mut rest.problem);
        (rest, uncovered)
    }

    /// The cheapest of two ways to keep within the budget: the whole list planned at once, where it does; what cannot wait
    /// now, and the rest after the budget's last day.
    fn final_plan(&mut self, rest: &Requirements, limits: &Limits) -> Option<(ReorderPlan, Money)> {
        let whole = solve(&rest.problem, limits, &mut || false)?;
        let spent = spent_through(&whole, self.through);
        if spent <= self.amount {
            return Some((whole, spent));
        }
        let mut now = rest.problem.clone();
        let mut later = rest.problem.clone();
        let waits: Vec<bool> =
            (0..now.requirements.len()).map(|place| can_wait(&rest.problem, place, self.through)).collect();
        keep(&mut now, &waits, false);
        keep(&mut later, &waits, true);
        later.start = self.through.succ_opt().unwrap_or(self.through);
        let mut chosen: Vec<ChosenOrder> = Vec::new();
        // The first part is the list that was found affordable; its bounds and credits do not matter: the whole is priced
        // below.
        chosen.extend(chosen_of(&rest.problem, &least_paid(&now)?.orders));
        chosen.extend(chosen_of(&rest.problem, &solve(&later, limits, &mut || false)?.orders));
        let evaluation = evaluate(&rest.problem, &chosen).ok()?;
        let plan = with_costs(evaluation, &whole);
        let spent = spent_through(&plan, self.through);
        Some((plan, spent))
    }
}

/// The list for which the least is paid now, whatever will be left over of it.
fn least_paid(problem: &Problem) -> Option<ReorderPlan> {
    let mut problem = problem.clone();
    problem.credits.iter_mut().for_each(|credit| credit.worth = Percent::ZERO);
    let limits = Limits { steps: Limits::for_problem(&problem).steps / 10 };
    solve(&problem, &limits, &mut || false)
}

fn keep(problem: &mut Problem, waits: &[bool], waiting: bool) {
    let mut place = 0;
    problem.requirements.retain(|_| {
        place += 1;
        waits[place - 1] == waiting
    });
    crate::plan::wishes::drop_what_is_not_required(problem);
}

/// All subsets of `count` out of so many, in lexicographic order.
struct Subsets {
    of: usize,
    places: Option<Vec<usize>>,
    begun: bool,
}

impl Subsets {
    fn new(of: usize, count: usize) -> Self {
        Self { of, places: (count <= of).then(|| (0..count).collect()), begun: false }
    }

    fn next(&mut self) -> Option<&[usize]> {
        if self.begun {
            let places = self.places.as_mut()?;
            let count = places.len();
            match (0..count).rev().find(|&place| places[place] < self.of - count + place) {
                Some(place) => {
                    places[place] += 1;
                    for next in place + 1..count {
                        places[next] = places[next - 1] + 1;
                    }
                }
                None => self.places = None,
            }
        }
        self.begun = true;
        self.places.as_deref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn subsets_come_in_order_and_each_once() {
        let all = |of, count| {
            let mut sets = Subsets::new(of, count);
            let mut told = Vec::new();
            while let Some(places) = sets.next() {
                told.push(places.to_vec());
            }
            told
        };
        assert_eq!(all(4, 2), [[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]]);
        assert_eq!(all(3, 0), [Vec::<usize>::new()]);
        assert_eq!(all(2, 2), [[0, 1]]);
        assert!(all(1, 2).is_empty());
    }
}
