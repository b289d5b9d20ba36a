//! What the bound assumes of the orders: what they cost beside their goods, and which of them are paid for apart.

use super::Pack;
use super::candidates::{Case, Material, USELESS};
use super::fees::Fee;
use crate::plan::model::ItemId;

/// What the bound assumes of the orders.
#[derive(Clone, Debug)]
pub(super) struct Prices {
    /// For each supplier the stretches of its order days, in order. Whoever orders in a stretch at all pays there at least once,
    /// whatever is ordered in the others.
    pub stretches: Vec<Vec<Stretch>>,
    /// What early goods are worth beyond their price, since an early order has a minimum.
    pub early: Vec<Early>,
}

/// Order days of a supplier: those after the last slot of the stretch before, through the last slot of this one.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stretch {
    /// The first slot's place among the supplier's.
    pub first: usize,
    /// The last slot's place.
    pub last: usize,
    /// What its orders cost beside their goods.
    pub fee: Fee,
    /// The items whose weight counts, in order.
    pub weighed: Vec<ItemId>,
}

/// Every plan has an order of this supplier by this slot: goods by then may be worth more than their price, up to its minimum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Early {
    /// A place in the problem's suppliers.
    pub supplier: usize,
    /// A place among the supplier's slots.
    pub place: usize,
    /// The share of the landed goods that is taken off.
    pub off: f64,
    /// What the minimum then counts for, in home minor units.
    pub gain: f64,
}

/// A house in one stretch of its supplier's order days.
#[derive(Clone, Copy, Debug)]
pub(super) struct Door {
    /// Which of the material's houses.
    pub house: usize,
    /// Which stretch of which supplier: the first ones of all, then the second ones, so that what is done to one supplier leaves the
    /// others' numbers as they are.
    pub number: usize,
    /// The first slot's place among the supplier's.
    pub first: usize,
    /// The last slot's place.
    pub last: usize,
}

/// What is taken off the landed goods of a material.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Offs {
    fee: Fee,
    early: Vec<Early>,
}

impl Offs {
    /// What so much costs once that is taken off, and whether all has been taken off then that a fee leaves to one material. Where
    /// that `is_spent` already, nothing more is.
    #[must_use]
    pub fn left(&self, goods: f64, is_spent: bool) -> (f64, bool) {
        let early = self.early.iter().map(|early| (early.off * goods).min(early.gain));
        let off = if is_spent { 0.0 } else { (self.fee.discount * goods).min(self.fee.most_off) };
        let spent = is_spent || self.fee.discount > 0.0 && off >= self.fee.most_off;
        ((goods - off - self.fee.rounding * goods - early.sum::<f64>()).max(0.0), spent)
    }

    /// True where what a fee takes off has no end.
    #[must_use]
    pub fn are_plain(&self) -> bool {
        self.fee.discount == 0.0
    }

    /// The least that one unit of money's worth costs, however much is bought.
    #[must_use]
    pub fn least(&self) -> f64 {
        let early = self.early.iter().map(|early| early.off).sum::<f64>();
        (1.0 - self.fee.discount - self.fee.rounding - early).max(0.0)
    }
}

impl Prices {
    /// The stretch of a supplier that a slot is in.
    #[must_use]
    pub fn stretch(&self, supplier: usize, place: usize) -> &Stretch {
        let own = &self.stretches[supplier];
        &own[own.partition_point(|stretch| stretch.last < place).min(own.len() - 1)]
    }

    /// The share that is taken off a supplier's goods in one of its slots.
    #[must_use]
    pub fn off(&self, supplier: usize, place: usize) -> f64 {
        let early = self.early.iter().filter(|early| early.supplier == supplier && place <= early.place);
        let fee = &self.stretch(supplier, place).fee;
        fee.discount + fee.rounding + early.map(|early| early.off).sum::<f64>()
    }

    /// The same, with the most that it comes to for one material.
    #[must_use]
    pub fn offs(&self, supplier: usize, place: usize) -> Offs {
        let early = self.early.iter().filter(|early| early.supplier == supplier && place <= early.place);
        Offs { fee: self.stretch(supplier, place).fee, early: early.copied().collect() }
    }

    /// What sending one unit of a pack's content costs in a slot, in home minor units.
    #[must_use]
    pub fn charge(&self, pack: &Pack, place: usize) -> f64 {
        let stretch = self.stretch(pack.supplier, place);
        let counts = stretch.weighed.binary_search(&pack.item).is_ok();
        if counts { stretch.fee.by_weight * pack.weight_mg as f64 / pack.quantity.0 as f64 } else { 0.0 }
    }

    /// Taken off what the materials come to, if anything is ordered from a supplier: what rounding could save.
    #[must_use]
    pub fn loss_of(&self, supplier: usize) -> f64 {
        self.stretches[supplier].iter().map(|stretch| stretch.fee.loss).sum()
    }

    /// Taken off what the materials come to: rounding, less what early minimums count for.
    #[must_use]
    pub fn loss(&self) -> f64 {
        let losses = (0..self.stretches.len()).map(|supplier| self.loss_of(supplier));
        losses.sum::<f64>() - self.early.iter().map(|early| early.gain).sum::<f64>()
    }

    /// For each stretch of each supplier the fixed part of its fee, as the doors number them.
    #[must_use]
    pub fn fixed(&self) -> Vec<f64> {
        let most = self.stretches.iter().map(Vec::len).max().unwrap_or(0);
        let own = |part: usize| self.stretches.iter().map(move |own| own.get(part).map_or(0.0, |own| own.fee.fixed));
        (0..most).flat_map(own).collect()
    }

    /// The doors through which a material can be bought, house by house, in order of day.
    #[must_use]
    pub fn doors(&self, material: &Material) -> Vec<Door> {
        let mut doors = Vec::new();
        for (house, sold) in material.houses.iter().enumerate() {
            for (part, stretch) in self.stretches[sold.supplier].iter().enumerate() {
                let own = stretch.first..=stretch.last.min(sold.slots.len() - 1);
                // Where nothing is cut, doors are houses.
                let is_whole = self.stretches[sold.supplier].len() == 1;
                if is_whole || sold.through.iter().any(|days| days[own.clone()].iter().any(|&day| day != USELESS)) {
                    let (first, last) = (*own.start(), *own.end());
                    doors.push(Door { house, number: part * self.stretches.len() + sold.supplier, first, last });
                }
            }
        }
        doors
    }

    /// The days of a stretch: after the first, through the second; none where it is the first stretch, or the last one.
    #[must_use]
    pub fn days(case: &Case<'_>, supplier: usize, first: usize, last: usize) -> (i32, i32) {
        let slots = &case.own_slots[supplier];
        let day = |place: usize| slots.get(place).map(|&slot| super::evaluate::number(case.slots[slot].order_on));
        let after = first.checked_sub(1).and_then(day).unwrap_or(i32::MIN);
        let through = if last >= slots.len().saturating_sub(1) { None } else { day(last) };
        (after, through.unwrap_or(i32::MAX))
    }
}
