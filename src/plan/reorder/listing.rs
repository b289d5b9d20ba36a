//! The reorder list as the maker gets it: the cheapest plan around her wishes, within her budget and her shelves, and not
//! turned over for a few cents.

use super::budget::{Budgeted, within};
use super::evaluate::{ChosenOrder, Evaluation, evaluate};
use super::requirements::Requirements;
use super::shelf::{self, Crowded};
use super::{Limits, PlannedOrder, Problem, ReorderPlan, solve, solve_from};
use crate::plan::model::{ItemId, LastList, ListedLine, OfferId, Snapshot, SupplierId};
use crate::plan::money::Money;
use crate::plan::outlook::Outlook;
use crate::plan::quantity::Percent;
use crate::plan::wishes::{self, Want};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// How the list is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ListSettings {
    /// How far the search goes.
    pub limits: Limits,
    /// A new list has to save at least so much of what the last one costs by now; else the last one stays.
    pub change_must_save: Percent,
}

/// The list.
#[derive(Clone, Debug)]
pub struct Listing {
    /// The orders.
    pub plan: ReorderPlan,
    /// What they answer: without what was left out.
    pub requirements: Requirements,
    /// What an excluded material's requirements were left out of.
    pub left_out: Vec<ItemId>,
    /// What came of the budget.
    pub budget: Option<Budgeted>,
    /// Where the last list stays, what a new one would save.
    pub new_would_save: Option<Money>,
    /// What the next list will remember: the list before a budget cut it.
    pub memory: LastList,
    /// Where more comes than there is room for.
    pub crowded: Vec<Crowded>,
}

/// Makes the list. `None` where no set of orders keeps every rule.
///
/// The snapshot is that which the wishes leave ([`wishes::fulfilled`]), the requirements are its own.
#[must_use]
pub fn list(
    snapshot: &Snapshot,
    outlook: &Outlook,
    mut requirements: Requirements,
    settings: &ListSettings,
    stop: &mut dyn FnMut() -> bool,
) -> Option<Listing> {
    let left_out = wishes::settle(snapshot, &mut requirements);
    requirements.problem.rooms = shelf::rooms(snapshot, outlook, &requirements);
    let marks = marks(snapshot, &requirements.problem, settings);
    let (plan, new_would_save) = match as_it_was(snapshot, &requirements.problem, &marks) {
        Some(same) => same,
        None => stable(snapshot, &requirements.problem, &marks, settings, stop)?,
    };
    let memory = LastList {
        lines: lines_of(snapshot, &plan),
        whole_mark: marks.whole,
        lasting_mark: marks.lasting,
        lower_bound: plan.lower_bound,
        simple_objective: plan.simple_objective,
        new_would_save,
    };
    let (plan, requirements, budget) = match wishes::budget(&snapshot.hand.wishes, outlook.today) {
        Some(budget) => {
            let (plan, rest, budgeted) = within(outlook, &requirements, plan, budget, &settings.limits)?;
            (plan, rest, Some(budgeted))
        }
        None => (plan, requirements, None),
    };
    let crowded = shelf::crowded(snapshot, &requirements.problem, &plan);
    let cut = budget.as_ref().is_some_and(|budget| !budget.uncovered.is_empty());
    Some(Listing {
        plan,
        requirements,
        left_out,
        budget,
        new_would_save: new_would_save.filter(|_| !cut),
        memory,
        crowded,
    })
}

/// What tells a purchasing problem from others.
struct Marks {
    /// All of it, with what the list is found by.
    whole: String,
    /// Without the day, the horizon and what left-over is worth, which change from day to day.
    lasting: String,
}

/// FNV-1a of 64 bits (constants from memory) over the printed form: a mark that differs by accident costs a search, and one
/// that agrees by accident (1 in 10^19) shows a list that the rules are checked for all the same.
fn marks(snapshot: &Snapshot, problem: &Problem, settings: &ListSettings) -> Marks {
    let lasting =
        format!("{:?}{:?}{:?}{:?}", problem.requirements, problem.suppliers, problem.offers, snapshot.hand.wishes);
    let whole =
        format!("{lasting}{:?}{:?}{:?}{:?}{settings:?}", problem.start, problem.end, problem.credits, problem.rooms);
    let mark = |text: &str| {
        let step = |hash: u64, byte: u8| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        format!("{:016x}", text.bytes().fold(0xcbf2_9ce4_8422_2325, step))
    };
    Marks { whole: mark(&whole), lasting: mark(&lasting) }
}

/// The last list as it was, where it answered the very same problem: the same question has the same answer.
fn as_it_was(snapshot: &Snapshot, problem: &Problem, marks: &Marks) -> Option<(ReorderPlan, Option<Money>)> {
    let last = &snapshot.hand.last_list;
    if last.whole_mark != marks.whole {
        return None;
    }
    let evaluation = evaluate(problem, &last_orders(problem, &last.lines)).ok()?;
    let plan = ReorderPlan {
        lower_bound: last.lower_bound.min(evaluation.objective),
        orders: evaluation.orders,
        cost: evaluation.cost,
        credit: evaluation.credit,
        keeping: evaluation.keeping,
        objective: evaluation.objective,
        crowding: evaluation.crowding,
        simple_objective: last.simple_objective,
        searched_to_the_end: true,
    };
    Some((plan, last.new_would_save))
}

/// The last list where it still does and a new one would not save enough, else the new one. With a preferred supplier both
/// are compared as he counts, and then told at their true costs.
fn stable(
    snapshot: &Snapshot,
    problem: &Problem,
    marks: &Marks,
    settings: &ListSettings,
    stop: &mut dyn FnMut() -> bool,
) -> Option<(ReorderPlan, Option<Money>)> {
    let preferring = wishes::preferring(problem, &snapshot.hand.wishes);
    let searched = preferring.as_ref().unwrap_or(problem);
    let last = last_orders(searched, &snapshot.hand.last_list.lines);
    let found = solve_from(searched, &settings.limits, &last, stop)?;
    let (best, kept) =
        (as_late_as_can_be(searched, found.best), found.kept.map(|kept| as_late_as_can_be(searched, kept)));
    let saves = |kept: &ReorderPlan| kept.counted() - best.counted();
    let is_unchanged = snapshot.hand.last_list.lasting_mark == marks.lasting;
    let stays = |kept: &ReorderPlan| {
        // Where nothing has changed but the day, a longer search is no reason to turn the list over.
        let is_as_it_was = is_unchanged && chosen_of(searched, &kept.orders) == last;
        if is_as_it_was && kept.crowding <= best.crowding {
            return true;
        }
        let least = settings.change_must_save.of(kept.objective.minor.max(0));
        saves(kept).minor < least.max(1)
    };
    let (chosen, new_would_save) = match kept.filter(stays) {
        Some(kept) => {
            let saves = saves(&kept);
            (kept, (saves.minor > 0).then_some(saves))
        }
        None => (best, None),
    };
    if preferring.is_none() {
        return Some((chosen, new_would_save));
    }
    let evaluation = evaluate(problem, &chosen_of(problem, &chosen.orders)).ok()?;
    let simple_objective = solve(problem, &Limits { steps: 0 }, &mut || true)?.simple_objective;
    Some((ReorderPlan { simple_objective, ..with_costs(evaluation, &chosen) }, new_would_save))
}

/// The plan with each order moved to the last day that is in time for all that it covers, where that costs no more: what it
/// was needed for first may have been met otherwise since the list was made. An order that meets another of its supplier
/// becomes one with it.
fn as_late_as_can_be(problem: &Problem, mut plan: ReorderPlan) -> ReorderPlan {
    let mut place = plan.orders.len();
    while place > 0 {
        place -= 1;
        if let Some(later) = moved_later(problem, &plan, place) {
            // Orders stand in order of day: the one that moved is further back now, and those before it are still to come.
            plan = with_costs(later, &plan);
            place = place.min(plan.orders.len());
        }
    }
    plan
}

/// The costs with one order on its last day; `None` where it stands there, or that breaks a rule or costs more.
fn moved_later(problem: &Problem, plan: &ReorderPlan, place: usize) -> Option<Evaluation> {
    let order = &plan.orders[place];
    let terms = problem.suppliers.iter().find(|terms| terms.supplier == order.supplier)?;
    let needs = order.lines.iter().flat_map(|line| line.covers.iter().map(|(need, _)| problem.requirements[*need].day));
    let last = terms.calendar.latest_order_day(needs.min()?).filter(|day| *day > order.order_on)?;
    let mut chosen = chosen_of(problem, &plan.orders);
    let mut moving = chosen.remove(place);
    match chosen.iter_mut().find(|other| (other.supplier, other.order_on) == (moving.supplier, last)) {
        Some(other) => {
            for (offer, packs) in moving.lines {
                match other.lines.iter_mut().find(|(own, _)| *own == offer) {
                    Some((_, own)) => *own += packs,
                    None => other.lines.push((offer, packs)),
                }
            }
        }
        None => {
            moving.order_on = last;
            chosen.push(moving);
        }
    }
    evaluate(problem, &chosen).ok().filter(|later| later.counted() <= plan.counted())
}

/// A plan at its own costs, with bound and search of another whose bound holds for it too.
pub(super) fn with_costs(evaluation: Evaluation, like: &ReorderPlan) -> ReorderPlan {
    ReorderPlan {
        lower_bound: like.lower_bound.min(evaluation.objective),
        orders: evaluation.orders,
        cost: evaluation.cost,
        credit: evaluation.credit,
        keeping: evaluation.keeping,
        objective: evaluation.objective,
        crowding: evaluation.crowding,
        simple_objective: like.simple_objective,
        searched_to_the_end: like.searched_to_the_end,
    }
}

/// The orders of a plan as they are chosen, in the terms of a problem that has their offers.
pub(super) fn chosen_of(problem: &Problem, orders: &[PlannedOrder]) -> Vec<ChosenOrder> {
    let offers: BTreeMap<OfferId, usize> =
        problem.offers.iter().enumerate().map(|(place, pack)| (pack.offer, place)).collect();
    let suppliers: BTreeMap<SupplierId, usize> =
        problem.suppliers.iter().enumerate().map(|(place, terms)| (terms.supplier, place)).collect();
    let order = |order: &PlannedOrder| {
        let line = |line: &super::PlannedLine| Some((*offers.get(&line.offer)?, line.packs));
        Some(ChosenOrder {
            supplier: *suppliers.get(&order.supplier)?,
            order_on: order.order_on,
            lines: order.lines.iter().filter_map(line).collect(),
        })
    };
    orders.iter().filter_map(order).filter(|order| !order.lines.is_empty()).collect()
}

/// The last list in the terms of the problem: what is no longer offered or needed drops out; an order whose day is over
/// goes out on the next order day.
fn last_orders(problem: &Problem, lines: &[ListedLine]) -> Vec<ChosenOrder> {
    let mut orders: BTreeMap<(NaiveDate, usize), BTreeMap<usize, i64>> = BTreeMap::new();
    for line in lines {
        let Some(supplier) = problem.suppliers.iter().position(|terms| terms.supplier == line.supplier) else {
            continue;
        };
        let same = |pack: &super::Pack| (pack.supplier, pack.item, pack.quantity) == (supplier, line.item, line.pack);
        let Some(offer) = problem.offers.iter().position(same) else { continue };
        let calendar = &problem.suppliers[supplier].calendar;
        if let Some(day) = calendar.next_order_day(line.order_on.max(problem.start)) {
            *orders.entry((day, supplier)).or_default().entry(offer).or_insert(0) += line.packs;
        }
    }
    let order = |((order_on, supplier), lines): ((NaiveDate, usize), BTreeMap<usize, i64>)| ChosenOrder {
        supplier,
        order_on,
        lines: lines.into_iter().collect(),
    };
    orders.into_iter().map(order).collect()
}

/// The lines of a plan as the next list will remember them.
#[must_use]
pub fn lines_of(snapshot: &Snapshot, plan: &ReorderPlan) -> Vec<ListedLine> {
    let mut lines = Vec::new();
    for order in &plan.orders {
        lines.extend(order.lines.iter().map(|line| ListedLine {
            order_on: order.order_on,
            supplier: order.supplier,
            item: line.item,
            pack: snapshot.offers[line.offer.index()].pack,
            packs: line.packs,
        }));
    }
    lines
}

/// True where a wish of this kind shapes the list.
#[must_use]
pub fn is_shaped(snapshot: &Snapshot) -> bool {
    snapshot.hand.wishes.iter().any(|wish| !matches!(wish.want, Want::Budget(..)))
}
