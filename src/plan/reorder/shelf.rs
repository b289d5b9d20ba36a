//! Room on the shelf: never more packs of a line than fit beside what stands there when they come.

use super::{Pack, Problem, ReorderPlan};
use crate::plan::model::{ItemId, Snapshot};
use crate::plan::outlook::Outlook;
use crate::plan::project::project;
use crate::plan::quantity::Quantity;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// What stands on the shelf at the end of each day, by item, for those whose room is known.
type Balances = BTreeMap<ItemId, Vec<(NaiveDate, Quantity)>>;

/// Caps the packs of a line at what fits beside the projected stock on every day on which an order would come as late as
/// it can. What a need takes alone is always allowed: it has to come, whatever room there is.
pub fn cap(snapshot: &Snapshot, outlook: &Outlook, problem: &mut Problem) {
    let balances = balances(snapshot, outlook, problem);
    for place in 0..problem.offers.len() {
        let pack = &problem.offers[place];
        if let (Some(space), Some(days)) = (snapshot.item(pack.item).shelf_space, balances.get(&pack.item)) {
            problem.offers[place].most_packs = Some(most_packs(problem, pack, space, days));
        }
    }
}

fn balances(snapshot: &Snapshot, outlook: &Outlook, problem: &Problem) -> Balances {
    let mut items: Vec<ItemId> = problem.requirements.iter().map(|requirement| requirement.item).collect();
    items.dedup();
    items.retain(|item| snapshot.item(*item).shelf_space.is_some());
    let balance = |item: ItemId| {
        let part = &outlook.items[item.index()];
        let allocation = part.allocation.as_ref()?;
        let days = project(&part.supplies, &part.needs(), allocation, outlook.today, outlook.horizon);
        Some((item, days.into_iter().map(|day| (day.date, day.balance)).collect()))
    };
    items.into_iter().filter_map(balance).collect()
}

fn most_packs(problem: &Problem, pack: &Pack, space: Quantity, days: &[(NaiveDate, Quantity)]) -> i64 {
    let calendar = &problem.suppliers[pack.supplier].calendar;
    // Needs by the day on which what is ordered for them as late as possible comes.
    let mut arrivals: BTreeMap<NaiveDate, Quantity> = BTreeMap::new();
    for need in problem.requirements.iter().filter(|requirement| requirement.item == pack.item) {
        if let Some(order_on) = calendar.latest_order_day(need.day).filter(|day| *day >= problem.start) {
            *arrivals.entry(calendar.arrival(order_on)).or_insert(Quantity::ZERO) += need.quantity;
        }
    }
    let fits = |arrival: NaiveDate| space - there_before(days, arrival);
    let room = arrivals.keys().map(|arrival| fits(*arrival)).min().unwrap_or(space);
    let most_needed = arrivals.values().copied().max().unwrap_or(Quantity::ZERO);
    let first_break = pack.breaks.first().map_or(1, |(from, _)| *from);
    let needed = (i128::from(most_needed.0) + i128::from(pack.quantity.0) - 1) / i128::from(pack.quantity.0);
    (room.0 / pack.quantity.0).max(i64::try_from(needed).unwrap_or(i64::MAX)).max(first_break).max(1)
}

/// What stands there on the evening before a day; on the first day, what stands there then.
fn there_before(days: &[(NaiveDate, Quantity)], arrival: NaiveDate) -> Quantity {
    let before = days.iter().rev().find(|(day, _)| *day < arrival).or(days.first());
    before.map_or(Quantity::ZERO, |(_, balance)| *balance)
}

/// An item of which more stands there than there is room for, by the list: the first day, and how much does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Crowded {
    /// What.
    pub item: ItemId,
    /// When the parcel comes.
    pub day: NaiveDate,
    /// How much is there then.
    pub there: Quantity,
}

/// Where the orders of a plan bring more than there is room for all the same: what a need takes has to come.
#[must_use]
pub fn crowded(snapshot: &Snapshot, outlook: &Outlook, problem: &Problem, plan: &ReorderPlan) -> Vec<Crowded> {
    let mut crowded = Vec::new();
    for (item, days) in balances(snapshot, outlook, problem) {
        let Some(space) = snapshot.item(item).shelf_space else { continue };
        let lines = || plan.orders.iter().flat_map(|order| order.lines.iter().map(move |line| (order, line)));
        let own = || lines().filter(|(_, line)| line.item == item);
        let first = own().map(|(order, _)| order.arrives_on).filter_map(|arrival| {
            // What came before and its need has not taken yet stands there too.
            let bought = own().filter(|(order, _)| order.arrives_on <= arrival).map(|(_, line)| {
                let taken = line.covers.iter().filter(|(need, _)| problem.requirements[*need].day < arrival);
                line.quantity - taken.map(|(_, quantity)| *quantity).sum()
            });
            let there = there_before(&days, arrival) + bought.sum();
            (there > space).then_some(Crowded { item, day: arrival, there })
        });
        crowded.extend(first.min_by_key(|crowded| crowded.day));
    }
    crowded
}
