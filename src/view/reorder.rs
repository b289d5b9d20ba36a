//! The reorder list: what to order, from whom, in which packs, by which day, and what cannot come in time.

use super::reorder_hand::{Hand, OrderWhyView, ReorderHand, WayOut, entries};
use super::{FindingView, findings};
use crate::plan::calendar::day_in_words;
use crate::plan::finding::{Finding, FindingKind};
use crate::plan::measure::canonical;
use crate::plan::model::{Lot, LotState, Snapshot};
use crate::plan::money::Currency;
use crate::plan::outlook::Outlook;
use crate::plan::quantity::Quantity;
use crate::plan::reorder::requirements::{Cause, Late, Requirements};
use crate::plan::reorder::shelf::Crowded;
use crate::plan::reorder::{PlannedLine, PlannedOrder, ReorderPlan};
use crate::plan::rounding::half_up_i64;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeSet;

/// The reorder list. Amounts of an order are in its currency, all other money in the home currency.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ReorderView {
    /// Today.
    pub as_of: NaiveDate,
    /// Last day of the horizon.
    pub through: NaiveDate,
    /// Home currency.
    pub currency: String,
    /// In order of order day, then supplier.
    pub orders: Vec<OrderView>,
    /// Goods, postage and duty.
    pub cost: String,
    /// What left-over will still be worth.
    pub credit: String,
    /// Cost less credit.
    pub objective: String,
    /// No plan that keeps as well to the shelf space has a smaller objective.
    pub lower_bound: String,
    /// (objective - lower bound) / objective.
    pub gap: f64,
    /// What buying each material alone at its cheapest would cost.
    pub simple_objective: String,
    /// False where the clock ended the search.
    pub searched_to_the_end: bool,
    /// What cannot come in time; first in every rendering.
    pub late: Vec<LateView>,
    /// What was noticed.
    pub findings: Vec<FindingView>,
    /// Moves, wishes, budget.
    #[serde(flatten)]
    pub hand: ReorderHand,
}

/// One order.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OrderView {
    /// Supplier's code.
    pub supplier: String,
    /// Supplier's name.
    pub supplier_name: String,
    /// Where the order goes; empty where not known.
    pub supplier_email: String,
    /// The day to order on.
    pub order_on: NaiveDate,
    /// The day it is at the door.
    pub arrives_on: NaiveDate,
    /// Currency of the amounts below.
    pub currency: String,
    /// What to order.
    pub lines: Vec<OrderLineView>,
    /// Goods.
    pub goods: String,
    /// Postage.
    pub postage: String,
    /// Duty.
    pub duty: String,
    /// All three.
    pub total: String,
    /// The total in home money.
    pub total_home: String,
    /// Why it is on the list.
    pub why: OrderWhyView,
}

/// One line of an order.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OrderLineView {
    /// Material's code.
    pub material: String,
    /// Material's name.
    pub name: String,
    /// The supplier's number; empty where not known.
    pub item_no: String,
    /// The pack, as in the offer.
    pub pack: String,
    /// How many.
    pub packs: i64,
    /// Price of one.
    pub price: String,
    /// All packs, in `unit`.
    pub amount: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What no requirement takes, in `unit`.
    pub left_over: i64,
    /// The shortages it covers.
    pub covers: Vec<CoverView>,
}

/// A shortage that a line covers.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CoverView {
    /// Needed on.
    pub date: NaiveDate,
    /// How much of it, in the line's unit.
    pub amount: i64,
    /// The plan entries behind it; empty for the safety stock alone.
    pub entries: Vec<String>,
    /// What they make, place by place.
    pub products: Vec<String>,
    /// True where the safety stock is part of it.
    pub safety_stock: bool,
}

/// A requirement that cannot be met in time.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LateView {
    /// Material's code.
    pub material: String,
    /// Material's name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// How much.
    pub short: i64,
    /// When it is needed.
    pub needed: NaiveDate,
    /// When it can be there; `None` where no offer can serve it.
    pub soonest: Option<NaiveDate>,
    /// True where the safety stock is part of it.
    pub safety_stock: bool,
    /// The orders that were placed for it already and come too late; empty where none.
    pub on_order: Vec<String>,
    /// The plan entries that have to wait.
    pub entries: Vec<String>,
    /// What they make, place by place.
    pub products: Vec<String>,
    /// How it could be had, and who could move.
    #[serde(flatten)]
    pub way_out: WayOut,
}

impl ReorderView {
    /// True where there is no lot and no offer of a material to go by, as a finding says.
    #[must_use]
    pub fn is_nothing_on_file(&self, material: &str) -> bool {
        let word = FindingKind::NothingOnFile.word();
        self.findings.iter().any(|finding| finding.kind == word && finding.subject == material)
    }
}

/// Computes the reorder list.
#[must_use]
pub fn reorder(hand: &Hand<'_>) -> ReorderView {
    let (snapshot, outlook) = (hand.snapshot, hand.outlook);
    let (requirements, plan) = (&hand.listing.requirements, &hand.listing.plan);
    let home = snapshot.home;
    let context = Context { snapshot, outlook, requirements, hand };
    let orders: Vec<OrderView> =
        plan.orders.iter().enumerate().map(|(place, order)| context.order(place, order)).collect();
    let late: Vec<LateView> = requirements.late.iter().map(|late| context.late(late)).collect();
    let mut noticed = requirements.findings.clone();
    let wanted: BTreeSet<&str> = orders
        .iter()
        .flat_map(|order| order.lines.iter().map(|line| line.material.as_str()))
        .chain(late.iter().map(|late| late.material.as_str()))
        .collect();
    noticed.extend(quarantined(snapshot, &wanted));
    noticed.extend(hand.listing.crowded.iter().map(|crowded| no_room(snapshot, crowded, outlook.today)));
    noticed.extend(outlook.findings.iter().filter(|finding| finding.kind != FindingKind::UseRate).cloned());
    noticed.sort();
    noticed.dedup();
    ReorderView {
        as_of: outlook.today,
        through: outlook.horizon,
        currency: home.code().to_owned(),
        orders,
        cost: home.decimal(plan.cost.minor),
        credit: home.decimal(plan.credit.minor),
        objective: home.decimal(plan.objective.minor),
        lower_bound: home.decimal(plan.lower_bound.minor),
        gap: gap(plan),
        simple_objective: home.decimal(plan.simple_objective.minor),
        searched_to_the_end: plan.searched_to_the_end,
        late,
        findings: findings(&noticed),
        hand: hand.of_list(),
    }
}

/// That what is wanted is here already, and waits to be released: who does not know it orders it twice.
fn quarantined<'a>(snapshot: &'a Snapshot, wanted: &'a BTreeSet<&str>) -> impl Iterator<Item = Finding> + 'a {
    let waits = |lot: &&Lot| lot.state == LotState::Quarantine && lot.on_hand.0 > 0;
    snapshot.lots.iter().filter(waits).filter_map(|lot| {
        let item = snapshot.item(lot.item);
        wanted.contains(item.code.as_str()).then(|| Finding {
            kind: FindingKind::Quarantine,
            subject: lot.code.clone(),
            message: format!(
                "{} of {} is in quarantine (lot {}) and not counted: release or reject it before you order more.",
                canonical(lot.on_hand, item.unit),
                item.name,
                lot.code
            ),
        })
    })
}

/// That more comes than there is room for.
fn no_room(snapshot: &Snapshot, crowded: &Crowded, today: NaiveDate) -> Finding {
    let item = snapshot.item(crowded.item);
    let there = canonical(crowded.there, item.unit);
    let space = item.shelf_space.map_or_else(String::new, |space| canonical(space, item.unit));
    Finding {
        kind: FindingKind::ShelfSpace,
        subject: item.code.clone(),
        message: format!(
            "On {} there will be {there} of {}, and the shelf has room for {space}: what the plan needs has to come all the \
             same.",
            day_in_words(crowded.day, today),
            item.name
        ),
    }
}

/// (objective - lower bound) / objective, to a millionth; 0 where nothing is ordered.
fn gap(plan: &ReorderPlan) -> f64 {
    let (objective, bound) = (plan.objective.minor, plan.lower_bound.minor);
    if objective <= 0 {
        return 0.0;
    }
    let millionths = half_up_i64((i128::from(objective) - i128::from(bound)) * 1_000_000, i128::from(objective));
    // A statistic for people, not an amount.
    millionths as f64 / 1_000_000.0
}

struct Context<'a> {
    snapshot: &'a Snapshot,
    outlook: &'a Outlook,
    requirements: &'a Requirements,
    hand: &'a Hand<'a>,
}

impl Context<'_> {
    fn order(&self, place: usize, order: &PlannedOrder) -> OrderView {
        let supplier = &self.snapshot.suppliers[order.supplier.index()];
        let currency = supplier.currency;
        OrderView {
            supplier: supplier.code.clone(),
            supplier_name: supplier.name.clone(),
            supplier_email: supplier.email.clone(),
            order_on: order.order_on,
            arrives_on: order.arrives_on,
            currency: currency.code().to_owned(),
            lines: order.lines.iter().map(|line| self.line(line, currency)).collect(),
            goods: currency.decimal(order.goods.minor),
            postage: currency.decimal(order.postage.minor),
            duty: currency.decimal(order.duty.minor),
            total: currency.decimal(order.total.minor),
            total_home: self.snapshot.home.decimal(order.total_home.minor),
            why: self.hand.of_order(place),
        }
    }

    fn line(&self, line: &PlannedLine, currency: Currency) -> OrderLineView {
        let item = self.snapshot.item(line.item);
        let offer = &self.snapshot.offers[line.offer.index()];
        OrderLineView {
            material: item.code.clone(),
            name: item.name.clone(),
            item_no: offer.item_no.clone(),
            pack: offer.pack_text.clone(),
            packs: line.packs,
            price: currency.decimal(line.price.minor),
            amount: line.quantity.0,
            unit: item.unit.symbol().to_owned(),
            left_over: line.left_over.0,
            covers: line.covers.iter().map(|&(requirement, amount)| self.cover(requirement, amount)).collect(),
        }
    }

    fn cover(&self, requirement: usize, amount: Quantity) -> CoverView {
        let causes = &self.requirements.causes[requirement];
        let (entries, products) = self.entries(causes);
        CoverView {
            date: self.requirements.problem.requirements[requirement].day,
            amount: amount.0,
            entries,
            products,
            safety_stock: causes.iter().any(|(cause, _)| *cause == Cause::SafetyStock),
        }
    }

    fn late(&self, late: &Late) -> LateView {
        let item = self.snapshot.item(late.item);
        let (entries, products) = self.entries(&late.causes);
        LateView {
            material: item.code.clone(),
            name: item.name.clone(),
            unit: item.unit.symbol().to_owned(),
            short: late.quantity.0,
            needed: late.needed,
            soonest: late.soonest,
            safety_stock: late.causes.iter().any(|(cause, _)| *cause == Cause::SafetyStock),
            on_order: late.on_order.iter().map(|order| self.snapshot.orders[*order].code.clone()).collect(),
            entries,
            products,
            way_out: self.hand.way_out(late),
        }
    }

    /// The plan entries behind some causes, each once, in the order of the plan; and what they make.
    fn entries(&self, causes: &[(Cause, Quantity)]) -> (Vec<String>, Vec<String>) {
        entries(self.snapshot, self.outlook, causes)
    }
}
