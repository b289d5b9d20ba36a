//! Why the list is as it is: for each order why this supplier and this day, what is missing to free postage and what could
//! be brought forward for it, and what waits for a later order.

use super::evaluate::{ChosenOrder, evaluate};
use super::listing::chosen_of;
use super::{Limits, PlannedOrder, Problem, ReorderPlan, solve_from};
use crate::plan::model::{ItemId, SupplierId};
use crate::plan::money::{Money, Price};
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// Why an order is on the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OrderWhy {
    /// What decides its day: the first need that it covers.
    pub first_need: Option<FirstNeed>,
    /// What the list would be without the supplier.
    pub without_supplier: WithoutSupplier,
    /// Where postage is paid and would be free from some value on.
    pub free_postage: Option<FreePostage>,
    /// What the supplier's later orders on the list hold: their days and items.
    pub waits: Vec<(NaiveDate, Vec<ItemId>)>,
}

/// The need that an order comes for first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FirstNeed {
    /// Of what.
    pub item: ItemId,
    /// When.
    pub day: NaiveDate,
    /// True where no later order day of the supplier would be in time for it.
    pub is_last_day: bool,
}

/// What the list would cost more if nothing came from a supplier: by the best list that a short search finds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WithoutSupplier {
    /// So much more (or, where the short search was lucky, no more).
    Costs(Money),
    /// Only he can bring these in time.
    OnlyHe(Vec<ItemId>),
    /// No list was found, or none was looked for: on a large list that is only done for the suppliers of the first order
    /// day, which are the ones to decide about, and on a huge one not at all.
    NotFound,
}

/// How far an order is from free postage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FreePostage {
    /// Goods from which it is free.
    pub from: Price,
    /// Goods that are missing.
    pub missing: Price,
    /// What is paid for sending.
    pub postage: Price,
    /// What it would cost the list in all to bring this item of a later order forward into this one; below 0 it would save.
    /// `None` where nothing on the list reaches the value.
    pub forward: Option<(ItemId, Money)>,
}

/// Steps of the short searches, of a hundred of the list's own.
const SHARE_OF_STEPS: u64 = 4;

/// With more requirements than this a list is large: a search for every supplier would take longer than the list itself.
const LARGE: usize = 120;
/// With more than this, one for any would.
const HUGE: usize = 400;

/// Why each order of the plan is on the list, in their order.
#[must_use]
pub fn why(problem: &Problem, plan: &ReorderPlan) -> Vec<OrderWhy> {
    let chosen = chosen_of(problem, &plan.orders);
    let first_day = plan.orders.iter().map(|order| order.order_on).min();
    let needs = problem.requirements.len();
    let is_asked = |order: &&PlannedOrder| needs <= LARGE || needs <= HUGE && Some(order.order_on) == first_day;
    let asked: BTreeSet<SupplierId> = plan.orders.iter().filter(is_asked).map(|order| order.supplier).collect();
    let suppliers: BTreeSet<SupplierId> = plan.orders.iter().map(|order| order.supplier).collect();
    let without: BTreeMap<SupplierId, WithoutSupplier> = suppliers
        .into_iter()
        .map(|supplier| (supplier, without_supplier(problem, plan, &chosen, (supplier, asked.contains(&supplier)))))
        .collect();
    let of = |(place, order): (usize, &PlannedOrder)| OrderWhy {
        first_need: first_need(problem, order),
        without_supplier: without[&order.supplier].clone(),
        free_postage: free_postage(problem, plan, &chosen, place),
        waits: waits(plan, order),
    };
    plan.orders.iter().enumerate().map(of).collect()
}

fn first_need(problem: &Problem, order: &PlannedOrder) -> Option<FirstNeed> {
    let covered = order.lines.iter().flat_map(|line| line.covers.iter().map(move |(need, _)| (*need, line.item)));
    let (day, item) = covered.map(|(need, item)| (problem.requirements[need].day, item)).min()?;
    let terms = problem.suppliers.iter().find(|terms| terms.supplier == order.supplier)?;
    Some(FirstNeed { item, day, is_last_day: terms.calendar.latest_order_day(day) == Some(order.order_on) })
}

fn without_supplier(
    problem: &Problem,
    plan: &ReorderPlan,
    chosen: &[ChosenOrder],
    (supplier, may_search): (SupplierId, bool),
) -> WithoutSupplier {
    let mut other = problem.clone();
    let is_his = |place: usize| problem.suppliers[place].supplier == supplier;
    other.offers.retain(|pack| !is_his(pack.supplier));
    let only_he: BTreeSet<ItemId> = (0..problem.requirements.len())
        .filter(|place| !is_served(&other, *place))
        .map(|place| problem.requirements[place].item)
        .collect();
    if !only_he.is_empty() {
        return WithoutSupplier::OnlyHe(only_he.into_iter().collect());
    }
    if !may_search {
        return WithoutSupplier::NotFound;
    }
    let moved: BTreeMap<_, usize> = other.offers.iter().enumerate().map(|(place, pack)| (pack.offer, place)).collect();
    let rest = chosen.iter().filter(|order| !is_his(order.supplier)).map(|order| ChosenOrder {
        lines: order.lines.iter().map(|(offer, packs)| (moved[&problem.offers[*offer].offer], *packs)).collect(),
        ..order.clone()
    });
    let limits = Limits { steps: Limits::for_problem(problem).steps * SHARE_OF_STEPS / 100 };
    let rest: Vec<ChosenOrder> = rest.collect();
    match solve_from(&other, &limits, &rest, &mut || false) {
        Some(found) => WithoutSupplier::Costs(Money { minor: (found.best.objective - plan.objective).minor.max(0) }),
        None => WithoutSupplier::NotFound,
    }
}

/// True where some offer can serve the requirement in time.
fn is_served(problem: &Problem, place: usize) -> bool {
    let need = &problem.requirements[place];
    problem.offers.iter().filter(|pack| pack.item == need.item).any(|pack| {
        let calendar = &problem.suppliers[pack.supplier].calendar;
        let latest = calendar.latest_order_day(need.day).filter(|day| *day >= problem.start);
        latest.is_some_and(|day| {
            let last = super::evaluate::usable_through(pack, calendar.arrival(day));
            last.is_none_or(|last| last >= need.through)
        })
    })
}

fn free_postage(problem: &Problem, plan: &ReorderPlan, chosen: &[ChosenOrder], place: usize) -> Option<FreePostage> {
    let order = &plan.orders[place];
    let terms = problem.suppliers.iter().find(|terms| terms.supplier == order.supplier)?;
    let from = terms.free_postage_from.filter(|from| order.goods < *from && order.postage > Price::ZERO)?;
    let mut best: Option<(Money, ItemId)> = None;
    for later in place + 1..plan.orders.len() {
        for line in &plan.orders[later].lines {
            let Some(tried) = brought_forward(problem, plan, chosen, (place, later), line.item) else { continue };
            let Ok(evaluation) = evaluate(problem, &tried) else { continue };
            let same = |other: &&PlannedOrder| (other.supplier, other.order_on) == (order.supplier, order.order_on);
            let is_free = evaluation.orders.iter().find(same).is_some_and(|order| order.goods >= from);
            let more = (evaluation.objective - plan.objective, line.item);
            if is_free && best.is_none_or(|best| more < best) {
                best = Some(more);
            }
        }
    }
    Some(FreePostage {
        from,
        missing: Price { minor: from.minor - order.goods.minor },
        postage: order.postage,
        forward: best.map(|(money, item)| (item, money)),
    })
}

/// The orders with an item of a later one moved into an earlier one, as much in packs as it was there, from the supplier's
/// offer that is cheapest for the amount.
fn brought_forward(
    problem: &Problem,
    plan: &ReorderPlan,
    chosen: &[ChosenOrder],
    (into, from): (usize, usize),
    item: ItemId,
) -> Option<Vec<ChosenOrder>> {
    let amount: i64 = plan.orders[from].lines.iter().filter(|line| line.item == item).map(|line| line.quantity.0).sum();
    let supplier = chosen.get(into)?.supplier;
    let price = |offer: usize| {
        let pack = &problem.offers[offer];
        let packs = (amount + pack.quantity.0 - 1) / pack.quantity.0;
        let packs = packs.max(pack.breaks.first().map_or(1, |(from, _)| *from));
        super::evaluate::unit_price(pack, packs).map(|price| (price.times(packs), offer, packs))
    };
    let own = (0..problem.offers.len())
        .filter(|offer| problem.offers[*offer].item == item && problem.offers[*offer].supplier == supplier);
    let (_, offer, packs) = own.filter_map(price).min()?;
    let mut tried = chosen.to_vec();
    tried.get_mut(from)?.lines.retain(|(offer, _)| problem.offers[*offer].item != item);
    let lines = &mut tried.get_mut(into)?.lines;
    match lines.iter_mut().find(|(own, _)| *own == offer) {
        Some((_, own)) => *own += packs,
        None => lines.push((offer, packs)),
    }
    tried.retain(|order| !order.lines.is_empty());
    Some(tried)
}

/// What the same supplier's later orders hold.
fn waits(plan: &ReorderPlan, order: &PlannedOrder) -> Vec<(NaiveDate, Vec<ItemId>)> {
    let later = plan.orders.iter().filter(|other| other.supplier == order.supplier && other.order_on > order.order_on);
    let items = |other: &PlannedOrder| {
        let mut items: Vec<ItemId> = other.lines.iter().map(|line| line.item).collect();
        items.dedup();
        items
    };
    later.map(|other| (other.order_on, items(other))).collect()
}
