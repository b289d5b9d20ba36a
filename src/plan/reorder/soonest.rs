//! The soonest that something late can be at the door, and at what price.

use super::evaluate::{duty, postage, total_home, unit_price, usable_through};
use super::requirements::Late;
use super::{Pack, Problem};
use crate::plan::model::OfferId;
use crate::plan::money::{Money, Price};
use chrono::NaiveDate;

/// The cheapest of the offers that are there first, bought for what is late alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SoonestOffer {
    /// Which.
    pub offer: OfferId,
    /// Ordered on.
    pub order_on: NaiveDate,
    /// At the door on.
    pub arrives_on: NaiveDate,
    /// How many packs what is late takes.
    pub packs: i64,
    /// Goods and duty in home money.
    pub landed: Money,
    /// What the parcel would cost in postage if nothing else were in it, in home money.
    pub postage_alone: Money,
    /// True where the supplier wants more goods in an order.
    pub is_below_minimum: bool,
}

/// The cheapest way to have a late item there on the soonest day; `None` where nobody can bring it, or all of it is on its way.
#[must_use]
pub fn soonest_offer(problem: &Problem, late: &Late) -> Option<SoonestOffer> {
    let soonest = late.soonest?;
    let own = problem.offers.iter().filter(|pack| pack.item == late.item);
    let offers = own.filter_map(|pack| first_delivery(problem, pack, late)).filter(|offer| offer.arrives_on <= soonest);
    offers.min_by_key(|offer| (offer.landed + offer.postage_alone, offer.arrives_on, offer.offer))
}

fn first_delivery(problem: &Problem, pack: &Pack, late: &Late) -> Option<SoonestOffer> {
    let terms = &problem.suppliers[pack.supplier];
    let order_on = terms.calendar.next_order_day(problem.start)?;
    let arrives_on = terms.calendar.arrival(order_on);
    usable_through(pack, arrives_on).is_none_or(|last| last >= arrives_on.max(late.needed)).then_some(())?;
    let whole = (late.quantity.0.saturating_add(pack.quantity.0 - 1)) / pack.quantity.0;
    let packs = whole.max(pack.breaks.first().map_or(1, |(from, _)| *from));
    let goods = unit_price(pack, packs)?.times(packs);
    let sending = postage(terms, goods, pack.weight_mg.saturating_mul(packs));
    Some(SoonestOffer {
        offer: pack.offer,
        order_on,
        arrives_on,
        packs,
        landed: total_home(terms, goods + duty(terms, goods)),
        postage_alone: total_home(terms, Price { minor: sending.minor }),
        is_below_minimum: goods < terms.minimum_order,
    })
}
