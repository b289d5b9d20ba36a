//! What to buy for what no lot serves, at the least cost: the problem, and the plan that answers it.
//!
//! A [`Problem`] stands on its own, so that other people's problems can be stated in it as well; it is made from a
//! snapshot by the requirements of the forecast. The model is written down in `docs/model.md`.

mod beside;
mod books;
mod bound;
pub mod budget;
mod candidates;
mod course;
mod cover;
mod cuts;
mod dues;
pub mod evaluate;
mod exact;
mod fees;
mod floor;
mod fresh;
mod given;
pub mod listing;
mod lots;
mod material;
mod memory;
mod mixes;
mod nudge;
mod press;
mod prices;
pub mod requirements;
mod room;
mod search;
mod sheet;
pub mod shelf;
mod simple;
mod solve;
pub mod soonest;
mod tally;
mod totals;
mod ways;
pub mod why;

pub use solve::{Found, Limits, solve, solve_from};

use super::calendar::{OrderCalendar, Span};
use super::model::{ItemId, OfferId, Postage, SupplierId};
use super::money::{Currency, Money, Price};
use super::quantity::{Percent, Quantity};
use chrono::NaiveDate;

/// A purchasing problem.
#[derive(Clone, Debug)]
pub struct Problem {
    /// Today: no order can be placed before.
    pub start: NaiveDate,
    /// Last day of the horizon.
    pub end: NaiveDate,
    /// Home currency.
    pub home: Currency,
    /// What has to be covered, in order of item, day, through. Each can be served by at least one offer in time.
    pub requirements: Vec<Requirement>,
    /// Suppliers, in order of their ids.
    pub suppliers: Vec<Terms>,
    /// Offers of items that are required, in order of their ids. Offers whose currency has no rate are not among them.
    pub offers: Vec<Pack>,
    /// What left-over is worth, one for each item that is required, in order of item.
    pub credits: Vec<Credit>,
    /// Where there is room for so much only, at most one for an item.
    pub rooms: Vec<Room>,
}

/// So much of an item, at the door by a day and lasting through another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Requirement {
    /// Of what.
    pub item: ItemId,
    /// Arrived on this day or before.
    pub day: NaiveDate,
    /// Usable through this day; not before `day`.
    pub through: NaiveDate,
    /// How much; more than 0.
    pub quantity: Quantity,
}

/// A supplier's terms.
#[derive(Clone, Debug)]
pub struct Terms {
    /// Which supplier.
    pub supplier: SupplierId,
    /// Currency of its amounts.
    pub currency: Currency,
    /// Home minor units for one minor unit of its currency: an exact fraction of positive numbers.
    pub to_home: (i128, i128),
    /// When it takes orders, and how long they take.
    pub calendar: OrderCalendar,
    /// Goods of an order are at least this.
    pub minimum_order: Price,
    /// What sending costs.
    pub postage: Postage,
    /// Goods value from which postage is free.
    pub free_postage_from: Option<Price>,
    /// Duty on goods.
    pub duty: Percent,
}

/// An offer.
#[derive(Clone, Debug)]
pub struct Pack {
    /// Which offer.
    pub offer: OfferId,
    /// Whose: a place in [`Problem::suppliers`].
    pub supplier: usize,
    /// Of what.
    pub item: ItemId,
    /// How much is in it; more than 0.
    pub quantity: Quantity,
    /// What it weighs, for postage by weight, in milligrams.
    pub weight_mg: i64,
    /// Price of one pack from so many packs on (all-units), in order; never empty.
    pub breaks: Vec<(i64, Price)>,
    /// Life from arrival; for ever where `None`.
    pub life_on_arrival: Option<Span>,
    /// The most packs of a line; any number where `None`.
    pub most_packs: Option<i64>,
}

/// What left-over of an item is worth, and what it costs to keep an item or to be rid of it.
#[derive(Clone, Copy, Debug)]
pub struct Credit {
    /// Of what.
    pub item: ItemId,
    /// Gross requirement from start to end.
    pub gross: Quantity,
    /// For how many days after the end left-over counts.
    pub window_days: u32,
    /// Share of the lowest landed price that it is worth.
    pub worth: Percent,
    /// The lowest landed price of one unit in home minor units, as an exact fraction: goods and duty at the price of the
    /// first break, among all offers of the item.
    pub unit_price: (i128, i128),
    /// What keeping one unit costs a day, in home minor units, from its arrival until a requirement takes it: an exact
    /// fraction of numbers that are at least 0 and more than 0. Left-over costs nothing to keep.
    pub holding: (i128, i128),
    /// What one unit of left-over that is not credited costs, in home minor units: an exact fraction like the holding.
    pub disposal: (i128, i128),
}

/// How much of an item there is room for beside the stock.
///
/// On each day what has come and was not needed before that day stands there. So far as that is more than fits, the plan is counted
/// as dearer. The fine is no cost: it only has plans that fit come before others. What a requirement takes, in whole units of all that are
/// there on a day, may be there from the latest day on which it can come, whatever fits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Room {
    /// Of what.
    pub item: ItemId,
    /// From each day on, how much fits beside the stock; in order of day, never empty.
    pub fits: Vec<(NaiveDate, Quantity)>,
    /// What is too much is counted in steps of this; more than 0.
    pub unit: Quantity,
    /// What each step counts as on each day, in home money.
    pub fine: Money,
}

/// The answer: orders, what they cost, and how far from the least cost that may be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReorderPlan {
    /// In order of order day, then supplier.
    pub orders: Vec<PlannedOrder>,
    /// Goods, postage and duty of all orders.
    pub cost: Money,
    /// What left-over is worth, rounded once, half up.
    pub credit: Money,
    /// What keeping until use and getting rid of left-over cost, rounded once, half up; nothing unless the problem names it.
    pub keeping: Money,
    /// Cost and keeping less credit.
    pub objective: Money,
    /// What it is counted as dearer by, since not all of it fits on the shelves.
    pub crowding: Money,
    /// No plan that keeps as well to the shelf space has a smaller objective.
    pub lower_bound: Money,
    /// What buying each material alone at its cheapest would have as objective, postage and minimum orders paid as they come.
    pub simple_objective: Money,
    /// False where the clock ended the search before its count of steps.
    pub searched_to_the_end: bool,
}

impl ReorderPlan {
    /// What plans are compared by: the objective, and what does not fit.
    #[must_use]
    pub fn counted(&self) -> Money {
        self.objective + self.crowding
    }
}

/// One parcel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlannedOrder {
    /// From whom.
    pub supplier: SupplierId,
    /// Placed on.
    pub order_on: NaiveDate,
    /// At the door on.
    pub arrives_on: NaiveDate,
    /// In order of item, then pack.
    pub lines: Vec<PlannedLine>,
    /// All packs at their prices, in the supplier's currency, like the next three.
    pub goods: Price,
    /// Sending.
    pub postage: Price,
    /// Duty on goods, rounded half up.
    pub duty: Price,
    /// All three.
    pub total: Price,
    /// The total in home money, rounded once, half up.
    pub total_home: Money,
}

/// One line of an order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlannedLine {
    /// Which offer.
    pub offer: OfferId,
    /// Of what.
    pub item: ItemId,
    /// How many packs.
    pub packs: i64,
    /// Price of one of them.
    pub price: Price,
    /// All packs together.
    pub quantity: Quantity,
    /// How much of which requirement it covers: places in [`Problem::requirements`], in order.
    pub covers: Vec<(usize, Quantity)>,
    /// What no requirement takes.
    pub left_over: Quantity,
}
