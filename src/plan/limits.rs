//! Whether a workshop can be counted at all: no sum of it may outgrow 64 bits.
//!
//! Every single amount is bounded where it is entered, but sums, losses, packs and rates multiply. What is looked at here are
//! bounds from above, as if nothing were in stock; a workshop within them has no sum that is cut off anywhere.

use super::explode::Levels;
use super::model::{ItemId, Offer, OpenOrder, PlanAmount, Snapshot};
use super::money::{Currency, Price, Rate};
use super::quantity::{Percent, Unit};

/// The most milligrams, pieces or minor units of money that anything adds up to: 4 million million kilograms, not quite half
/// of what 64 bits hold.
pub const MOST: u128 = 4_000_000_000_000_000_000;

/// The most weighings that a plan may come to. Formulas that share premixes double with every level: forty levels of two are
/// more than any computer holds.
pub const MOST_WEIGHINGS: u128 = 2_000_000;

/// What cannot be counted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Beyond {
    /// Lots and open orders of an item.
    #[error("the lots and open orders of {item} add up to more than can be counted ({})", most(*.unit))]
    Stock {
        /// Its code.
        item: String,
        /// What it is counted in.
        unit: Unit,
    },
    /// What a plan entry makes.
    #[error("plan entry {entry} makes more than can be counted ({})", most(Unit::Milligram))]
    Entry {
        /// Its code.
        entry: String,
    },
    /// What the plan needs of an item, with what is lost on the way.
    #[error("the plan needs more of {item} than can be counted ({})", most(*.unit))]
    Plan {
        /// Its code.
        item: String,
        /// What it is counted in.
        unit: Unit,
    },
    /// What the plan comes to, level by level.
    #[error(
        "the plan comes to more than {MOST_WEIGHINGS} weighings by way of {item}, whose formulas nest in each other"
    )]
    Weighings {
        /// The code of the premix.
        item: String,
    },
    /// What all lots and open orders cost.
    #[error("the lots and open orders cost more than can be counted (4 million million million minor units)")]
    Value,
    /// What it could cost to buy what the plan needs.
    #[error(
        "what the plan needs of {item} could cost more than can be counted (4 million million million minor units)"
    )]
    Purchase {
        /// Its code.
        item: String,
    },
}

impl Beyond {
    /// Where to look, as an instruction.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Stock { .. } => "look at the amounts of its lots and orders",
            Self::Entry { .. } | Self::Plan { .. } => "look at the amounts of the plan, net masses and losses",
            Self::Weighings { .. } => "look at the formulas of premixes that contain each other, or plan fewer entries",
            Self::Value => "look at the costs of lots and orders, and at the rates",
            Self::Purchase { .. } => "look at its packs and prices, the rates and the amounts of the plan",
        }
    }
}

fn most(unit: Unit) -> &'static str {
    match unit {
        Unit::Milligram => "4 million million kg",
        Unit::Piece => "4 million million million pcs",
    }
}

/// Looks at all sums of a workshop.
///
/// # Errors
/// [`Beyond`], the first that is found.
pub fn check(snapshot: &Snapshot) -> Result<(), Beyond> {
    stock(snapshot)?;
    let needs = needs(snapshot)?;
    purchases(snapshot, &needs)
}

fn stock(snapshot: &Snapshot) -> Result<(), Beyond> {
    let mut held = vec![0_u128; snapshot.items.len()];
    let mut value = 0_u128;
    let lots = snapshot.lots.iter().map(|lot| (lot.item, lot.on_hand.0, lot.cost, lot.currency));
    let currency = |order: &OpenOrder| snapshot.suppliers[order.supplier.index()].currency;
    let orders = snapshot.orders.iter();
    let orders = orders.map(|order| (order.item, order.quantity.0, order.price, currency(order)));
    for (item, quantity, cost, currency) in lots.chain(orders) {
        let sum = &mut held[item.index()];
        *sum += natural(quantity);
        if *sum > MOST {
            let item = snapshot.item(item);
            return Err(Beyond::Stock { item: item.code.clone(), unit: item.unit });
        }
        value = value.saturating_add(at_the_most(snapshot, cost, currency));
        if value > MOST {
            return Err(Beyond::Value);
        }
    }
    Ok(())
}

/// What the plan needs of each item at the most.
fn needs(snapshot: &Snapshot) -> Result<Vec<u128>, Beyond> {
    // How many demands there can be for each premix, and how many weighings in all.
    let mut demands = vec![0_u128; snapshot.items.len()];
    let mut weighings = 0_u128;
    let mut needs: Vec<u128> = snapshot.items.iter().map(|item| natural(item.safety_stock.0)).collect();
    for entry in &snapshot.entries {
        let product = snapshot.product(entry.product);
        let piece = natural(product.net_mass.map_or(0, |mass| mass.mg));
        let pieces = match entry.amount {
            PlanAmount::Pieces(pieces) => natural(pieces),
            PlanAmount::Moulds(moulds) => natural(moulds) * natural(product.pieces_per_mould.unwrap_or(0)),
            PlanAmount::NetMass(net) => natural(net.mg).checked_div(piece).unwrap_or(0),
        };
        let net = match entry.amount {
            PlanAmount::NetMass(net) => natural(net.mg),
            PlanAmount::Pieces(_) | PlanAmount::Moulds(_) => pieces.saturating_mul(piece),
        };
        let weighed = gross(net.min(MOST + 1), product.loss);
        if pieces > MOST || net > MOST || weighed > MOST {
            return Err(Beyond::Entry { entry: entry.code.clone() });
        }
        if let Some(formula) = product.formula {
            add_lines(snapshot, &mut needs, formula.index(), weighed)?;
            weighings += add_demands(snapshot, &mut demands, formula.index(), 1);
        }
        for packaging in &product.packaging {
            let count = natural(packaging.per_piece_millionths) * pieces / 1_000_000;
            add(snapshot, &mut needs, packaging.item, count + natural(packaging.per_batch))?;
        }
    }
    for premix in Levels::of(snapshot).parents_first {
        let Some(facts) = &snapshot.item(premix).premix else { continue };
        let batch = gross(needs[premix.index()], facts.loss);
        if batch > MOST {
            return Err(beyond_plan(snapshot, premix));
        }
        if let Some(formula) = facts.formula.filter(|_| batch > 0) {
            add_lines(snapshot, &mut needs, formula.index(), batch)?;
            let of_each = demands[premix.index()];
            weighings = weighings.saturating_add(add_demands(snapshot, &mut demands, formula.index(), of_each));
        }
        if weighings > MOST_WEIGHINGS {
            return Err(Beyond::Weighings { item: snapshot.item(premix).code.clone() });
        }
    }
    Ok(needs)
}

fn add_lines(snapshot: &Snapshot, needs: &mut [u128], formula: usize, batch: u128) -> Result<(), Beyond> {
    for line in &snapshot.formulas[formula].lines {
        // Largest remainder gives a line at the most one milligram more than its share.
        let share = batch * natural(line.percent.millionths) / natural(Percent::HUNDRED.millionths) + 1;
        add(snapshot, needs, line.item, share)?;
    }
    Ok(())
}

/// Each line of a formula is weighed so many times; returns how many weighings that are.
fn add_demands(snapshot: &Snapshot, demands: &mut [u128], formula: usize, times: u128) -> u128 {
    let lines = &snapshot.formulas[formula].lines;
    for line in lines {
        demands[line.item.index()] = demands[line.item.index()].saturating_add(times);
    }
    times.saturating_mul(lines.len() as u128)
}

fn add(snapshot: &Snapshot, needs: &mut [u128], item: ItemId, amount: u128) -> Result<(), Beyond> {
    let sum = &mut needs[item.index()];
    *sum = sum.saturating_add(amount);
    if *sum > MOST { Err(beyond_plan(snapshot, item)) } else { Ok(()) }
}

fn beyond_plan(snapshot: &Snapshot, item: ItemId) -> Beyond {
    let item = snapshot.item(item);
    Beyond::Plan { item: item.code.clone(), unit: item.unit }
}

/// What has to be put in so that `net` is left.
fn gross(net: u128, loss: Percent) -> u128 {
    let hundred = natural(Percent::HUNDRED.millionths);
    let kept = hundred.saturating_sub(natural(loss.millionths)).max(1);
    net.saturating_mul(hundred) / kept + u128::from(net > 0)
}

/// What it could cost to buy everything in the dearest packs there are, duty added.
fn purchases(snapshot: &Snapshot, needs: &[u128]) -> Result<(), Beyond> {
    let mut dearest = vec![0_u128; snapshot.items.len()];
    for offer in &snapshot.offers {
        let supplier = &snapshot.suppliers[offer.supplier.index()];
        let price = at_the_most(snapshot, highest(offer), supplier.currency);
        let hundred = natural(Percent::HUNDRED.millionths);
        let landed = price.saturating_mul(hundred + natural(supplier.duty.millionths)) / hundred + 1;
        // A supplier may sell no fewer than so many packs.
        let least = offer.breaks.first().map_or(1, |(packs, _)| natural(*packs));
        let packs = (needs[offer.item.index()] / natural(offer.pack.0).max(1) + 1).max(least);
        let cost = landed.saturating_mul(packs);
        dearest[offer.item.index()] = dearest[offer.item.index()].max(cost);
    }
    let mut sum = 0_u128;
    for (place, cost) in dearest.into_iter().enumerate() {
        sum = sum.saturating_add(cost);
        if sum > MOST {
            return Err(Beyond::Purchase { item: snapshot.items[place].code.clone() });
        }
    }
    Ok(())
}

fn highest(offer: &Offer) -> Price {
    offer.breaks.iter().map(|(_, price)| *price).max().unwrap_or_default()
}

/// A price in home money at the highest rate that there ever was.
fn at_the_most(snapshot: &Snapshot, price: Price, currency: Currency) -> u128 {
    let rates = snapshot.rates.iter().filter(|dated| dated.currency == currency).map(|dated| dated.rate);
    let rate = if currency == snapshot.home { Some(Rate::ONE) } else { rates.max() };
    let (over, under) = rate.unwrap_or(Rate::ONE).ratio(currency, snapshot.home);
    let (over, under) = (over.unsigned_abs(), under.unsigned_abs().max(1));
    natural(price.minor).saturating_mul(over) / under + u128::from(price != Price::ZERO)
}

fn natural(value: i64) -> u128 {
    u128::try_from(value).unwrap_or(0)
}
