//! What an extra batch saves and costs on top of the plan and of the extra batches before it, exactly; and a bound on what
//! a range of amounts could.

use super::{Batch, RescueSettings};
use crate::plan::allocate::{Allocation, Need, SearchLimit, Supply, allocate_for_value};
use crate::plan::explode::{Demand, ExtraDemands, Levels, explode_extra};
use crate::plan::model::{ItemId, Offer, PlanDay, PlanEntry, Product, ProductId, Snapshot};
use crate::plan::money::Money;
use crate::plan::outlook::Outlook;
use crate::plan::quantity::Quantity;
use crate::plan::reorder::requirements::{lowest_unit_price, offers_with_rates, serves_in_time};
use crate::plan::rounding::{clamp, half_up};
use chrono::NaiveDate;
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;

/// Values are weighed in 2^-20 of a minor unit, so that rounding to cents decides nothing.
const FINE: u32 = 20;

/// Looking at so many lots and needs counts as a step of the search.
const LOTS_AND_NEEDS_A_STEP: usize = 256;

/// Such a value as money, half up.
pub(super) fn money(fine: i128) -> Money {
    Money { minor: clamp(half_up(fine, 1 << FINE)) }
}

/// Such a value as money, rounded up: for bounds.
pub(super) fn money_up(fine: i128) -> Money {
    Money { minor: clamp(-(-fine).div_euclid(1 << FINE)) }
}

/// Home minor units for one unit of an item, as a fraction.
pub(super) type UnitPrice = (i128, i128);

/// So much that has to be bought for an extra batch.
#[derive(Clone, Copy, Debug)]
pub(super) struct Buy {
    pub(super) item: ItemId,
    pub(super) quantity: Quantity,
    pub(super) price: UnitPrice,
}

impl Buy {
    /// Its value, finely, rounded down.
    pub(super) fn fine(&self) -> i128 {
        fine_cost(self.quantity.0, self.price)
    }
}

fn fine_cost(quantity: i64, (numerator, denominator): UnitPrice) -> i128 {
    (i128::from(quantity) << FINE).saturating_mul(numerator) / denominator.max(1)
}

/// An item, the day it is weighed, and the day it must last through.
type Window = (ItemId, NaiveDate, NaiveDate);

/// What all extra batches are weighed against: the plan as it stands.
pub(super) struct Bench<'a> {
    pub(super) snapshot: &'a Snapshot,
    pub(super) outlook: &'a Outlook,
    /// Products that could use something at risk, and how they reach each item.
    pub(super) reaches: Vec<super::candidates::Reaches>,
    /// Items whose after-opening life can matter: what is opened earlier is lost earlier, so that the bounds of the
    /// others do not hold for them.
    pub(super) opening_matters: Vec<bool>,
    /// Steps that went into searching for opening days, and into lots and needs beyond the usual number.
    pub(super) effort: Cell<usize>,
    /// False once the allocation could not settle which lots to open.
    pub(super) proven: Cell<bool>,
    levels: Levels,
    settled_by_explosion: Vec<bool>,
    /// What the plan's demands get: that much they keep.
    kept: Vec<Vec<Need>>,
    at_risk: Vec<i128>,
    /// For items whose after-opening life can matter: their supplies as if it did not. Whatever can be done with the
    /// supplies can be done with these as well, and loses no more, so that they serve for bounds.
    unhurried: Vec<Option<Vec<Supply>>>,
    offers: BTreeMap<ItemId, Vec<&'a Offer>>,
    prices: RefCell<BTreeMap<Window, Option<UnitPrice>>>,
    pub(super) limit: SearchLimit,
}

/// The plan with some extra batches.
#[derive(Clone, Default)]
pub(super) struct Standing {
    /// What lots give to the extra batches.
    extras: BTreeMap<ItemId, Vec<Need>>,
    /// Value at risk of the items that they use.
    at_risk: BTreeMap<ItemId, i128>,
    /// Value saved, less what has to be bought.
    pub(super) net: i128,
    /// What one more need of a window could get, of supplies that do not hurry.
    room: RefCell<BTreeMap<Window, i64>>,
    /// Value at risk of supplies that do not hurry, for the items where that differs.
    unhurried: RefCell<BTreeMap<ItemId, i128>>,
}

impl<'a> Bench<'a> {
    pub(super) fn new(snapshot: &'a Snapshot, outlook: &'a Outlook, settings: RescueSettings) -> Self {
        let levels = Levels::of(snapshot);
        let mut settled_by_explosion = vec![false; snapshot.items.len()];
        for premix in &levels.parents_first {
            settled_by_explosion[premix.index()] = true;
        }
        let kept: Vec<Vec<Need>> = outlook.items.iter().map(kept_needs).collect();
        let reaches = super::candidates::reaches(snapshot, outlook, &levels);
        let opening_matters = super::candidates::opening_matters(snapshot, outlook, &kept, &reaches);
        let unhurried = outlook.items.iter().zip(&opening_matters).map(|(part, matters)| {
            let without_hurry = |supply: &Supply| Supply { life_once_opened: None, ..supply.clone() };
            matters.then(|| part.supplies.iter().map(without_hurry).collect())
        });
        let unhurried = unhurried.collect();
        let offers = offers_with_rates(snapshot, outlook.today, &mut Vec::new());
        let mut bench = Self {
            snapshot,
            outlook,
            reaches,
            opening_matters,
            effort: Cell::new(0),
            proven: Cell::new(true),
            levels,
            settled_by_explosion,
            kept,
            at_risk: Vec::new(),
            unhurried,
            offers,
            prices: RefCell::default(),
            limit: settings.allocation,
        };
        let lost = |place| bench.lost(ItemId::new(place), bench.supplies(ItemId::new(place)), &[]);
        bench.at_risk = (0..snapshot.items.len()).map(lost).collect();
        let could_help = |reach: &super::candidates::Reach| {
            bench.at_risk[reach.item.index()] > 0 || bench.opening_matters[reach.item.index()]
        };
        let mut reaches = std::mem::take(&mut bench.reaches);
        reaches.retain(|one| one.reaches.iter().any(could_help));
        bench.reaches = reaches;
        bench
    }

    /// An extra batch as a plan entry; its code is shown nowhere.
    pub(super) fn entry(batch: &Batch) -> PlanEntry {
        let when = PlanDay::MakeOn(batch.make_on);
        PlanEntry { code: String::new(), product: batch.product, amount: batch.amount, when }
    }

    /// The supplies of an item.
    pub(super) fn supplies(&self, item: ItemId) -> &[Supply] {
        &self.outlook.items[item.index()].supplies
    }

    /// The plan's needs and the extra ones, by day.
    pub(super) fn needs(&self, item: ItemId, extras: &[Need]) -> Vec<Need> {
        let mut needs = self.kept[item.index()].clone();
        needs.extend_from_slice(extras);
        needs.sort_by_key(|need| need.day);
        needs
    }

    /// The supplies of an item as if no after-opening life mattered.
    fn unhurried(&self, item: ItemId) -> &[Supply] {
        self.unhurried[item.index()].as_deref().unwrap_or_else(|| self.supplies(item))
    }

    fn allocate(&self, supplies: &[Supply], needs: &[Need]) -> Allocation {
        let allocation = allocate_for_value(supplies, needs, self.outlook.horizon, self.limit);
        // Where there are thousands of lots, weighing up a batch takes as long as many batches do elsewhere.
        self.effort.set(self.effort.get() + (supplies.len() + needs.len()) / LOTS_AND_NEEDS_A_STEP);
        if !allocation.proven {
            self.proven.set(false);
            self.effort.set(self.effort.get() + self.limit.states / 4);
        }
        allocation
    }

    /// The value of an item that is lost by the horizon, finely, without what had ended before today.
    fn lost(&self, item: ItemId, supplies: &[Supply], extras: &[Need]) -> i128 {
        if self.snapshot.item(item).always_at_hand {
            return 0;
        }
        let allocation = self.allocate(supplies, &self.needs(item, extras));
        let ends = supplies.iter().enumerate().filter(|(place, supply)| {
            allocation.through[*place] <= self.outlook.horizon && supply.through >= self.outlook.today
        });
        ends.map(|(place, supply)| fine_share(supply, allocation.left[place])).sum()
    }

    fn at_risk(&self, standing: &Standing, item: ItemId) -> i128 {
        standing.at_risk.get(&item).copied().unwrap_or(self.at_risk[item.index()])
    }

    /// What would be at risk if no after-opening life mattered: never more.
    pub(super) fn at_risk_unhurried(&self, standing: &Standing, item: ItemId) -> i128 {
        if !self.opening_matters[item.index()] {
            return self.at_risk(standing, item);
        }
        if let Some(known) = standing.unhurried.borrow().get(&item) {
            return *known;
        }
        let extras = standing.extras.get(&item).map_or(&[][..], Vec::as_slice);
        let lost = self.lost(item, self.unhurried(item), extras);
        standing.unhurried.borrow_mut().insert(item, lost);
        lost
    }

    /// What is still at risk of all items; and by how much that is more than if no after-opening life mattered.
    pub(super) fn still_at_risk(&self, standing: &Standing) -> (i128, i128) {
        let mut sums = (0, 0);
        for place in 0..self.at_risk.len() {
            let item = ItemId::new(place);
            let value = self.at_risk(standing, item);
            sums.0 += value;
            sums.1 += value - self.at_risk_unhurried(standing, item);
        }
        sums
    }

    /// True where anything at all is at risk before anything is made.
    pub(super) fn anything_at_risk(&self) -> bool {
        self.at_risk.iter().any(|value| *value > 0)
    }

    /// True where something of the item is at risk before anything is made.
    pub(super) fn is_at_risk(&self, item: ItemId) -> bool {
        self.at_risk[item.index()] > 0
    }

    /// The lowest landed price of a unit among the offers that arrive by `day` and last through `through`.
    pub(super) fn price(&self, window: Window) -> Option<UnitPrice> {
        if let Some(known) = self.prices.borrow().get(&window) {
            return *known;
        }
        let (item, day, through) = window;
        let offers = self.offers.get(&item).map_or(&[][..], Vec::as_slice);
        let today = self.outlook.today;
        let in_time = offers.iter().filter(|offer| serves_in_time(self.snapshot, offer, today, day, through));
        let in_time: Vec<&Offer> = in_time.copied().collect();
        let price = (!in_time.is_empty()).then(|| lowest_unit_price(self.snapshot, today, &in_time));
        self.prices.borrow_mut().insert(window, price);
        price
    }

    /// The most that a need can get while the plan's needs and the `extras` keep what they get; `wanted` at the most.
    fn room(&self, item: ItemId, supplies: &[Supply], extras: &[Need], wanted: Need) -> i64 {
        let serves = |supply: &&Supply| supply.from <= wanted.day && supply.through >= wanted.through;
        let there: Quantity = supplies.iter().filter(serves).map(|supply| supply.quantity).sum();
        let short_of = |quantity: i64| -> i64 {
            let mut extras = extras.to_vec();
            extras.push(Need { quantity: Quantity(quantity), ..wanted });
            self.allocate(supplies, &self.needs(item, &extras)).short.iter().map(|short| short.0).sum()
        };
        let most = there.0.min(wanted.quantity.0);
        if most == 0 {
            return 0;
        }
        let hurries = |supply: &Supply| supply.life_once_opened.is_some();
        if !self.opening_matters[item.index()] || !supplies.iter().any(hurries) {
            // What all needs get together does not depend on who comes first, so that what is missing is this one's.
            return most - short_of(most).min(most);
        }
        // More for this need is never easier on the others; and what cannot be had of supplies that do not hurry cannot be
        // had at all.
        let most = self.room(item, self.unhurried(item), extras, wanted).min(most);
        let (mut fits, mut too_much) = (0, most + 1);
        let mut tried = most;
        while fits + 1 < too_much {
            self.effort.set(self.effort.get() + 1);
            if short_of(tried) == 0 {
                fits = tried;
            } else {
                too_much = tried;
            }
            tried = fits + (too_much - fits) / 2;
        }
        fits
    }

    /// As [`Bench::room`] after the standing alone, as if no after-opening life mattered; remembered.
    fn room_after(&self, standing: &Standing, item: ItemId, day: NaiveDate, through: NaiveDate) -> i64 {
        let window = (item, day, through);
        if let Some(known) = standing.room.borrow().get(&window) {
            return *known;
        }
        let extras = standing.extras.get(&item).map_or(&[][..], Vec::as_slice);
        let room =
            self.room(item, self.unhurried(item), extras, Need { day, through, quantity: Quantity(i64::MAX / 4) });
        standing.room.borrow_mut().insert(window, room);
        room
    }

    /// Gives the demands what lots can; returns what they do not get. `grown` holds what was given on top of `standing`.
    fn serve(&self, standing: &Standing, grown: &mut Standing, item: ItemId, demands: &[Demand]) -> Vec<Quantity> {
        if self.snapshot.item(item).always_at_hand {
            return vec![Quantity::ZERO; demands.len()];
        }
        let mut short = Vec::with_capacity(demands.len());
        for (place, demand) in demands.iter().enumerate() {
            let (day, through, wanted) = (demand.day, demand.through, demand.quantity.0);
            let extras = grown.extras.entry(item).or_default();
            let room = if place == 0 && !self.opening_matters[item.index()] {
                self.room_after(standing, item, day, through)
            } else {
                self.room(item, self.supplies(item), extras, Need::from(demand))
            };
            let given = room.min(wanted);
            extras.push(Need { day, through, quantity: Quantity(given) });
            short.push(Quantity(wanted - given));
        }
        short
    }

    /// The standing with one more batch, and what has to be bought for it; `None` where it cannot be made.
    pub(super) fn add(&self, standing: &Standing, batch: &Batch) -> Option<(Standing, Vec<Buy>)> {
        let mut grown = Standing {
            extras: standing.extras.clone(),
            at_risk: standing.at_risk.clone(),
            net: standing.net,
            ..Standing::default()
        };
        let mut missing: Vec<(Demand, Quantity)> = Vec::new();
        let extra =
            explode_extra(self.snapshot, &self.levels, self.outlook.today, &Self::entry(batch), |premix, asked| {
                let short = self.serve(standing, &mut grown, premix, asked);
                if !self.is_made(premix) {
                    missing.extend(asked.iter().copied().zip(short.iter().copied()));
                }
                short
            });
        if extra.started_late {
            return None;
        }
        for (item, demands) in self.bought(&extra) {
            let short = self.serve(standing, &mut grown, item, demands);
            missing.extend(demands.iter().copied().zip(short));
        }
        let mut buys = Vec::new();
        for (demand, quantity) in missing.into_iter().filter(|(_, short)| !short.is_zero()) {
            let price = self.price((demand.item, demand.day, demand.through))?;
            buys.push(Buy { item: demand.item, quantity, price });
        }
        for (place, _) in extra.demands.iter().enumerate().filter(|(_, demands)| !demands.is_empty()) {
            let item = ItemId::new(place);
            let before = self.at_risk(standing, item);
            if before == 0 && !self.opening_matters[place] {
                continue;
            }
            let after = self.lost(item, self.supplies(item), grown.extras.get(&item).map_or(&[][..], Vec::as_slice));
            grown.at_risk.insert(item, after);
            grown.net += before - after;
        }
        grown.net -= buys.iter().map(Buy::fine).sum::<i128>();
        Some((grown, buys))
    }

    /// True for a premix with a formula: what lots do not give is made.
    fn is_made(&self, item: ItemId) -> bool {
        let premix = self.snapshot.item(item).premix.as_ref();
        premix.is_some_and(|premix| premix.formula.is_some()) && self.settled_by_explosion[item.index()]
    }

    fn bought<'e>(&'e self, extra: &'e ExtraDemands) -> impl Iterator<Item = (ItemId, &'e [Demand])> {
        let demands = extra.demands.iter().enumerate();
        let asked = demands.filter(|(place, demands)| !demands.is_empty() && !self.settled_by_explosion[*place]);
        asked.map(|(place, demands)| (ItemId::new(place), demands.as_slice()))
    }

    /// The items that a product asks for, through all premixes.
    pub(super) fn items_of(&self, product: ProductId) -> impl Iterator<Item = ItemId> + '_ {
        let one = self.reaches.iter().find(|one| one.product == product);
        one.into_iter().flat_map(|one| one.reaches.iter().map(|reach| reach.item))
    }

    /// What a batch of `least` to `most` can save of a standing at the most, and what must be bought for it at the least,
    /// whatever else is made between the two, if no after-opening life mattered; `None` where none of them can be made.
    ///
    /// Saved at the most: as if no premix were in stock, so that all is asked of the ingredients, a milligram more of each
    /// for rounding. Bought at the least: as if all premix that is left were for this batch, a milligram less.
    pub(super) fn upper(&self, standing: &Standing, least: &Batch, most: &Batch) -> Option<(i128, i128)> {
        let cost = self.least_cost(standing, least)?;
        let extra = explode_extra(self.snapshot, &self.levels, self.outlook.today, &Self::entry(most), |_, asked| {
            asked.iter().map(|demand| demand.quantity + Quantity(1)).collect()
        });
        let mut saved = 0;
        for (place, demands) in extra.demands.iter().enumerate().filter(|(_, demands)| !demands.is_empty()) {
            let item = ItemId::new(place);
            let before = self.at_risk_unhurried(standing, item);
            if before == 0 {
                continue;
            }
            let mut extras = standing.extras.get(&item).cloned().unwrap_or_default();
            extras.extend(
                demands.iter().map(|demand| Need { quantity: demand.quantity + Quantity(1), ..Need::from(demand) }),
            );
            // Each supply's part is rounded down, which may hide so much.
            let hidden = i128::try_from(2 * self.supplies(item).len()).unwrap_or(0);
            saved += before - self.lost(item, self.unhurried(item), &extras) + hidden;
        }
        Some((saved, cost))
    }

    fn least_cost(&self, standing: &Standing, batch: &Batch) -> Option<i128> {
        let short_of = |demand: &Demand| {
            let item = demand.item;
            if self.snapshot.item(item).always_at_hand {
                return 0;
            }
            let room = self.room_after(standing, item, demand.day, demand.through);
            (demand.quantity.0 - 1 - room).max(0)
        };
        let mut missing: Vec<(Demand, i64)> = Vec::new();
        let extra =
            explode_extra(self.snapshot, &self.levels, self.outlook.today, &Self::entry(batch), |premix, asked| {
                let short: Vec<i64> = asked.iter().map(short_of).collect();
                if !self.is_made(premix) {
                    missing.extend(asked.iter().copied().zip(short.iter().copied()));
                }
                short.into_iter().map(Quantity).collect()
            });
        if extra.started_late {
            return None;
        }
        for (_, demands) in self.bought(&extra) {
            missing.extend(demands.iter().map(|demand| (*demand, short_of(demand))));
        }
        let mut cost = 0;
        for (demand, short) in missing.into_iter().filter(|(_, short)| *short > 0) {
            cost += fine_cost(short, self.price((demand.item, demand.day, demand.through))?);
        }
        Some(cost)
    }

    /// The needs of the extra batches of a standing for an item, and all items that they ask for.
    pub(super) fn extras(standing: &Standing) -> impl Iterator<Item = (ItemId, &[Need])> {
        standing.extras.iter().map(|(item, needs)| (*item, needs.as_slice()))
    }

    /// The product of an extra batch.
    pub(super) fn product(&self, batch: &Batch) -> &Product {
        self.snapshot.product(batch.product)
    }
}

/// What the plan's demands for an item get.
fn kept_needs(part: &crate::plan::outlook::ItemOutlook) -> Vec<Need> {
    let Some(allocation) = &part.allocation else { return Vec::new() };
    let given = part.demands.iter().zip(&allocation.short);
    let given = given.map(|(demand, short)| Need { quantity: demand.quantity - *short, ..Need::from(demand) });
    given.filter(|need| !need.quantity.is_zero()).collect()
}

/// The value of a part of a supply, finely, rounded down.
fn fine_share(supply: &Supply, part: Quantity) -> i128 {
    let whole = i128::from(supply.quantity.0);
    if whole == 0 {
        return 0;
    }
    // Whole units and the rest apart, so that even the largest numbers stay within 128 bits.
    let value = i128::from(supply.value.minor) * i128::from(part.0);
    ((value / whole) << FINE) + ((value % whole) << FINE) / whole
}
