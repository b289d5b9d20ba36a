//! Shelf space: how much of an item fits beside what stands there, and where a list brings more all the same.

use super::cover::{Delivery, FOREVER};
use super::evaluate::{needs_of, number};
use super::requirements::{Cause, Requirements};
use super::room::{came_by, needed_before};
use super::{Pack, Problem, ReorderPlan, Room};
use crate::plan::model::{ItemId, Postage, Snapshot};
use crate::plan::money::{Money, Price};
use crate::plan::outlook::Outlook;
use crate::plan::project::project;
use crate::plan::quantity::Quantity;
use crate::plan::rounding::half_up_i64;
use chrono::{Days, NaiveDate};
use std::collections::{BTreeMap, BTreeSet};

/// The room for each item that has to be bought and whose shelf space is known.
#[must_use]
pub fn rooms(snapshot: &Snapshot, outlook: &Outlook, requirements: &Requirements) -> Vec<Room> {
    let problem = &requirements.problem;
    let mut items: Vec<ItemId> = problem.requirements.iter().map(|requirement| requirement.item).collect();
    items.dedup();
    let room = |item: ItemId| {
        let space = snapshot.item(item).shelf_space?;
        let part = &outlook.items[item.index()];
        let days = project(&part.supplies, &part.needs(), part.allocation.as_ref()?, outlook.today, outlook.horizon);
        let evenings: Vec<(NaiveDate, Quantity)> = days.into_iter().map(|day| (day.date, day.balance)).collect();
        let packs = || problem.offers.iter().filter(|pack| pack.item == item);
        Some(Room {
            item,
            fits: fits(problem.start, space, &evenings, &safety_stock(requirements, item)),
            unit: packs().map(|pack| pack.quantity).min()?,
            fine: packs().map(|pack| parcel(problem, pack)).max()?,
        })
    };
    items.into_iter().filter_map(room).collect()
}

/// From each day on, what fits beside what stood there on the evening before, and beside what was bought for the safety stock:
/// nobody takes that away. On the first day, beside what stands there then.
fn fits(
    start: NaiveDate,
    space: Quantity,
    evenings: &[(NaiveDate, Quantity)],
    safety_stock: &[(NaiveDate, Quantity)],
) -> Vec<(NaiveDate, Quantity)> {
    let changes = evenings.iter().chain(safety_stock).map(|(day, _)| *day + Days::new(1));
    let days: BTreeSet<NaiveDate> = std::iter::once(start).chain(changes).collect();
    let stock = |day: NaiveDate| {
        let before = evenings.iter().rev().find(|(evening, _)| *evening < day).or(evenings.first());
        before.map_or(Quantity::ZERO, |(_, balance)| *balance)
    };
    let kept = |day: NaiveDate| -> Quantity {
        safety_stock.iter().filter(|(from, _)| *from < day).map(|(_, quantity)| *quantity).sum()
    };
    let mut fits: Vec<_> = days.into_iter().map(|day| (day, space - stock(day) - kept(day))).collect();
    fits.dedup_by_key(|(_, quantity)| *quantity);
    fits
}

/// What has to be bought of an item for its safety stock, and by when.
fn safety_stock(requirements: &Requirements, item: ItemId) -> Vec<(NaiveDate, Quantity)> {
    let own = requirements.problem.requirements.iter().zip(&requirements.causes);
    let own = own.filter(|(requirement, _)| requirement.item == item);
    let kept = |causes: &[(Cause, Quantity)]| -> Quantity {
        causes.iter().filter(|(cause, _)| *cause == Cause::SafetyStock).map(|(_, quantity)| *quantity).sum()
    };
    own.map(|(requirement, causes)| (requirement.day, kept(causes))).filter(|(_, kept)| !kept.is_zero()).collect()
}

/// What one pack too many counts as on each day: twice the dearest parcel in which it could come by itself, so that a parcel more is always
/// better. Home money.
fn parcel(problem: &Problem, pack: &Pack) -> Money {
    let terms = &problem.suppliers[pack.supplier];
    let fee = match &terms.postage {
        Postage::Flat(fee) => Some(*fee),
        Postage::ByValue(bands) => bands.iter().map(|band| band.1).max(),
        Postage::ByWeight(bands) => bands.iter().map(|band| band.1).max(),
    };
    let goods = pack.breaks.first().map_or(Price::ZERO, |(packs, price)| price.times(*packs));
    let minor = [goods, fee.unwrap_or(Price::ZERO), terms.minimum_order].map(|price| i128::from(price.minor));
    let home = half_up_i64(2 * minor.iter().sum::<i128>() * terms.to_home.0, terms.to_home.1);
    Money { minor: home.max(1) }
}

/// An item of which more stands there than there is room for, by the list: the first day, and how much does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Crowded {
    /// What.
    pub item: ItemId,
    /// When.
    pub day: NaiveDate,
    /// How much is there then.
    pub there: Quantity,
}

/// Where the orders of a plan bring more than there is room for all the same: what is needed has to come.
#[must_use]
pub fn crowded(snapshot: &Snapshot, problem: &Problem, plan: &ReorderPlan) -> Vec<Crowded> {
    let mut brought: BTreeMap<ItemId, Vec<Delivery>> = BTreeMap::new();
    for order in &plan.orders {
        for line in &order.lines {
            let delivery = Delivery { arrives: number(order.arrives_on), through: FOREVER, quantity: line.quantity.0 };
            brought.entry(line.item).or_default().push(delivery);
        }
    }
    let crowded = |room: &Room| {
        let space = snapshot.item(room.item).shelf_space?;
        let (deliveries, needs) = (brought.get(&room.item)?, needs_of(problem, room.item));
        let days = problem.start.iter_days().take_while(|day| *day <= problem.end);
        let mut standing = days.map(|day| {
            let came = came_by(deliveries, number(day));
            (day, Quantity((came - needed_before(&needs, number(day))).max(0)))
        });
        let too_much = |(day, stands): &(NaiveDate, Quantity)| !stands.is_zero() && *stands > room.fits(*day);
        let (day, stands) = standing.find(too_much)?;
        Some(Crowded { item: room.item, day, there: space - room.fits(day) + stands })
    };
    problem.rooms.iter().filter_map(crowded).collect()
}
