//! What a set of extra batches saves and costs, lot by lot and material by material.

use super::weigh::{Bench, Standing, money, money_up};
use super::{Batch, Limit};
use crate::plan::allocate::allocate;
use crate::plan::explode::size;
use crate::plan::model::{ItemId, PlanAmount, ProductId};
use crate::plan::money::Money;
use crate::plan::quantity::{Mass, Quantity};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// The extra batches to make.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rescue {
    /// By product, then by day.
    pub proposals: Vec<Proposal>,
    /// The value at risk before: as `expiring` shows it.
    pub at_risk: Money,
    /// What all of them save.
    pub saved: Money,
    /// What has to be bought for all of them.
    pub to_buy: Money,
    /// Saved, less what has to be bought, in 2^-20 of a minor unit: by this sets of batches are compared, so that rounding
    /// to cents decides nothing.
    pub worth: i128,
    /// True where no other set of batches within the settings is worth more.
    pub proven: bool,
    /// What hindered the proof.
    pub limit: Option<Limit>,
    /// No set of batches is worth more than this; what is worth as much is rounded up.
    pub no_more_than: Money,
    /// Batches and ranges of batches that were weighed up.
    pub steps: usize,
}

/// One extra batch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proposal {
    /// Of what.
    pub product: ProductId,
    /// When.
    pub make_on: NaiveDate,
    /// How much, as it would stand in the plan.
    pub amount: PlanAmount,
    /// Whole pieces that come out.
    pub pieces: i64,
    /// Net mass before loss.
    pub net: Mass,
    /// What is less at risk by it, by item, then lot. Where it opens a lot whose rest then ends too early, below 0.
    pub uses: Vec<Rescued>,
    /// What has to be bought for it, by item.
    pub buys: Vec<Bought>,
    /// What the value at risk falls by.
    pub saved: Money,
    /// What has to be bought.
    pub to_buy: Money,
    /// The one less the other, in 2^-20 of a minor unit.
    pub worth: i128,
}

impl Proposal {
    /// Saved, less what has to be bought.
    #[must_use]
    pub fn net_value(&self) -> Money {
        self.saved - self.to_buy
    }
}

/// So much of a lot or an open order that is no longer at risk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rescued {
    /// Of what.
    pub item: ItemId,
    /// Which: a place in the outlook's supplies of the item.
    pub supply: usize,
    /// How much.
    pub quantity: Quantity,
    /// What it cost.
    pub value: Money,
}

/// So much that has to be bought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bought {
    /// Of what.
    pub item: ItemId,
    /// How much.
    pub quantity: Quantity,
    /// At the lowest landed price of a unit among the offers that come in time, half up.
    pub value: Money,
}

/// What is at risk of each supply of the items that were touched.
type AtRisk = BTreeMap<ItemId, Vec<Quantity>>;

/// No batch at all.
pub(super) fn nothing(bench: &Bench<'_>) -> Rescue {
    Rescue {
        proposals: Vec::new(),
        at_risk: at_risk_in_all(bench),
        saved: Money::ZERO,
        to_buy: Money::ZERO,
        worth: 0,
        proven: true,
        limit: None,
        no_more_than: Money::ZERO,
        steps: 0,
    }
}

/// The batches in this order of rank; `None` where one cannot be made.
pub(super) fn report(bench: &Bench<'_>, batches: &[Batch]) -> Option<Rescue> {
    let mut rescue = nothing(bench);
    let mut standing = Standing::default();
    let mut before = AtRisk::new();
    for batch in batches {
        let (grown, buys) = bench.add(&standing, batch)?;
        let entry_size = size(&Bench::entry(batch), bench.product(batch));
        let mut bought: BTreeMap<ItemId, (Quantity, i128)> = BTreeMap::new();
        for buy in &buys {
            let sum = bought.entry(buy.item).or_default();
            *sum = (sum.0 + buy.quantity, sum.1 + buy.fine());
        }
        let bought = bought.into_iter().map(|(item, (quantity, fine))| Bought { item, quantity, value: money(fine) });
        let buys: Vec<Bought> = bought.collect();
        let uses = uses(bench, &mut before, &grown);
        let saved = uses.iter().map(|used| used.value).sum();
        let to_buy = buys.iter().map(|buy| buy.value).sum();
        rescue.saved += saved;
        rescue.to_buy += to_buy;
        rescue.proposals.push(Proposal {
            product: batch.product,
            make_on: batch.make_on,
            amount: batch.amount,
            pieces: entry_size.pieces,
            net: entry_size.net,
            uses,
            buys,
            saved,
            to_buy,
            worth: grown.net - standing.net,
        });
        standing = grown;
    }
    rescue.worth = standing.net;
    rescue.no_more_than = money_up(standing.net);
    Some(rescue)
}

/// What is less at risk now than `before`, which is brought up to date.
fn uses(bench: &Bench<'_>, before: &mut AtRisk, standing: &Standing) -> Vec<Rescued> {
    let mut uses = Vec::new();
    for (item, extras) in Bench::extras(standing) {
        let was = before.remove(&item).unwrap_or_else(|| at_risk_of(bench, item, &[]));
        let is = at_risk_of(bench, item, extras);
        let part = &bench.outlook.items[item.index()];
        for (supply, (was, is)) in was.iter().zip(&is).enumerate().filter(|(_, (was, is))| was != is) {
            let value = part.value_of(supply, *was) - part.value_of(supply, *is);
            uses.push(Rescued { item, supply, quantity: *was - *is, value });
        }
        before.insert(item, is);
    }
    uses
}

fn at_risk_of(bench: &Bench<'_>, item: ItemId, extras: &[crate::plan::allocate::Need]) -> Vec<Quantity> {
    let horizon = bench.outlook.horizon;
    if extras.is_empty() {
        // As the outlook shows it.
        let Some(allocation) = &bench.outlook.items[item.index()].allocation else { return Vec::new() };
        let ends = allocation.left.iter().zip(&allocation.through);
        return ends.map(|(left, through)| if *through <= horizon { *left } else { Quantity::ZERO }).collect();
    }
    let allocation = allocate(bench.supplies(item), &bench.needs(item, extras), horizon, bench.limit);
    let ends = allocation.left.iter().zip(&allocation.through);
    ends.map(|(left, through)| if *through <= horizon { *left } else { Quantity::ZERO }).collect()
}

fn at_risk_in_all(bench: &Bench<'_>) -> Money {
    let mut sum = Money::ZERO;
    for (place, part) in bench.outlook.items.iter().enumerate() {
        for (supply, left) in at_risk_of(bench, ItemId::new(place), &[]).into_iter().enumerate() {
            sum += part.value_of(supply, left);
        }
    }
    sum
}
