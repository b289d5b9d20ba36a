//! Room on the shelf: never more packs of a line than fit beside what stands there when they come.

use super::evaluate::{ChosenOrder, Evaluation, evaluate};
use super::listing::chosen_of;
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

/// How often a crowded shelf is tried to be mended.
const ROUNDS: usize = 4;
/// So many ways to fill one line anew are tried.
const MOST_WAYS: usize = 2_000;

/// The costs with the packs of crowded items chosen anew, so that they fit: caps are those of a line, and an order may have
/// several lines of an item. `None` where nothing is crowded, or nothing fits better.
pub(super) fn made_to_fit(
    snapshot: &Snapshot,
    outlook: &Outlook,
    problem: &Problem,
    plan: &ReorderPlan,
) -> Option<ReorderPlan> {
    let mut fitting: Option<ReorderPlan> = None;
    for _ in 0..ROUNDS {
        let now = fitting.as_ref().unwrap_or(plan);
        let better = crowded(snapshot, outlook, problem, now)
            .iter()
            .find_map(|crowded| refilled(snapshot, problem, now, crowded))
            .map(|evaluation| super::listing::with_costs(evaluation, now));
        match better {
            Some(better) => fitting = Some(better),
            None => break,
        }
    }
    fitting
}

/// The cheapest packs of the crowded item that cover as much in the same order and fit; where none fit, the fewest.
fn refilled(snapshot: &Snapshot, problem: &Problem, plan: &ReorderPlan, crowded: &Crowded) -> Option<Evaluation> {
    let space = snapshot.item(crowded.item).shelf_space?;
    let has = |order: &super::PlannedOrder| {
        order.arrives_on == crowded.day && order.lines.iter().any(|line| line.item == crowded.item)
    };
    let place = plan.orders.iter().position(has)?;
    let order = &plan.orders[place];
    let own = || order.lines.iter().filter(|line| line.item == crowded.item);
    let covers: Quantity = own().flat_map(|line| &line.covers).map(|(_, quantity)| *quantity).sum();
    let brings: Quantity = own().map(|line| line.quantity).sum();
    let room = space - (crowded.there - brings);
    let chosen = chosen_of(problem, &plan.orders);
    let supplier = chosen.get(place)?.supplier;
    let offers: Vec<usize> = (0..problem.offers.len())
        .filter(|offer| problem.offers[*offer].item == crowded.item && problem.offers[*offer].supplier == supplier)
        .collect();
    let mut best: Option<(Quantity, Evaluation)> = None;
    for (lines, brought) in ways(problem, &offers, covers).into_iter().filter(|(_, brought)| *brought < brings) {
        // What fits counts as fitting, however much of the room it takes.
        let beyond = (brought - room).max(Quantity::ZERO);
        let worse =
            |(least, known): &(Quantity, Evaluation), objective| (*least, known.objective) <= (beyond, objective);
        let mut tried: Vec<ChosenOrder> = chosen.clone();
        tried[place].lines.retain(|(offer, _)| problem.offers[*offer].item != crowded.item);
        tried[place].lines.extend(lines);
        if let Ok(evaluation) = evaluate(problem, &tried)
            && !best.as_ref().is_some_and(|best| worse(best, evaluation.objective))
        {
            best = Some((beyond, evaluation));
        }
    }
    best.map(|(_, evaluation)| evaluation)
}

/// Packs of these offers that bring at least so much, none of them too many, and how much that is.
fn ways(problem: &Problem, offers: &[usize], covers: Quantity) -> Vec<(Vec<(usize, i64)>, Quantity)> {
    let mut ways: Vec<(Vec<(usize, i64)>, Quantity)> = vec![(Vec::new(), Quantity::ZERO)];
    for offer in offers {
        let pack = &problem.offers[*offer];
        let mut more = Vec::new();
        for (lines, brought) in &ways {
            more.push((lines.clone(), *brought));
            let lacking = (covers - *brought).max(Quantity::ZERO);
            let enough = lacking.0.saturating_add(pack.quantity.0 - 1) / pack.quantity.0;
            let most = enough.min(pack.most_packs.unwrap_or(i64::MAX));
            for packs in pack.breaks.first().map_or(1, |(from, _)| *from).max(1)..=most {
                let mut lines = lines.clone();
                lines.push((*offer, packs));
                more.push((lines, *brought + Quantity(pack.quantity.0.saturating_mul(packs))));
            }
            if more.len() > MOST_WAYS {
                break;
            }
        }
        ways = more;
    }
    ways.retain(|(_, brought)| *brought >= covers);
    ways
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
