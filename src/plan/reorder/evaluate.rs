//! What a set of orders costs and whether it keeps every rule: exact integers, and nothing of the search.

use super::cover::{self, CreditRule, Delivery, FOREVER, Need};
use super::room::Shelf;
use super::{Pack, PlannedLine, PlannedOrder, Problem, Terms};
use crate::plan::model::{ItemId, Postage};
use crate::plan::money::{Money, Price};
use crate::plan::quantity::{Percent, Quantity};
use crate::plan::rounding::{clamp, half_up_i64};
use chrono::{Datelike, NaiveDate};
use std::collections::BTreeMap;

/// An order as it is chosen: from whom, when, and how many packs of which offers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChosenOrder {
    /// A place in [`Problem::suppliers`].
    pub supplier: usize,
    /// Day of the order.
    pub order_on: NaiveDate,
    /// Places in [`Problem::offers`] and packs, each offer once.
    pub lines: Vec<(usize, i64)>,
}

/// What a set of orders costs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Evaluation {
    /// The orders with their amounts, in order of order day, then supplier.
    pub orders: Vec<PlannedOrder>,
    /// Goods, postage and duty of all orders.
    pub cost: Money,
    /// What left-over is worth, rounded once, half up.
    pub credit: Money,
    /// What keeping and getting rid of left-over cost, rounded once, half up.
    pub keeping: Money,
    /// Cost and keeping less credit.
    pub objective: Money,
    /// What they are counted as dearer by, since not all of it fits on the shelves ([`super::Room`]).
    pub crowding: Money,
}

impl Evaluation {
    /// What plans are compared by: the objective, and what does not fit.
    #[must_use]
    pub fn counted(&self) -> Money {
        self.objective + self.crowding
    }
}

/// A rule that a set of orders breaks.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Violation {
    /// The supplier takes no order on that day, or the day is over.
    #[error("supplier {supplier} takes no order on {order_on}")]
    NoOrderDay {
        /// A place in the problem's suppliers.
        supplier: usize,
        /// The day.
        order_on: NaiveDate,
    },
    /// The same supplier and day twice, an order without lines, or a line that names another supplier's offer or one twice.
    #[error("the order of supplier {supplier} on {order_on} is not one parcel of its own offers")]
    NotOneParcel {
        /// A place in the problem's suppliers.
        supplier: usize,
        /// The day.
        order_on: NaiveDate,
    },
    /// Fewer packs than can be bought.
    #[error("offer {offer} is not sold by {packs} packs")]
    TooFewPacks {
        /// A place in the problem's offers.
        offer: usize,
        /// How many were asked for.
        packs: i64,
    },
    /// The line comes too late or spoils too early for every requirement.
    #[error("offer {offer} ordered on {order_on} can serve no requirement")]
    ServesNothing {
        /// A place in the problem's offers.
        offer: usize,
        /// The day.
        order_on: NaiveDate,
    },
    /// More packs than a line may hold.
    #[error("offer {offer} may not be bought by {packs} packs")]
    TooManyPacks {
        /// A place in the problem's offers.
        offer: usize,
        /// How many were asked for.
        packs: i64,
    },
    /// The supplier's minimum order is not reached.
    #[error("supplier {supplier} wants more goods in the order of {order_on}")]
    BelowMinimum {
        /// A place in the problem's suppliers.
        supplier: usize,
        /// The day.
        order_on: NaiveDate,
    },
    /// A requirement is not covered in full.
    #[error("requirement {requirement} lacks {short:?}")]
    Uncovered {
        /// A place in the problem's requirements.
        requirement: usize,
        /// How much is missing.
        short: Quantity,
    },
}

/// What the orders cost, or every rule that they break.
///
/// # Errors
/// All violations, in order of the orders, then of the requirements.
pub fn evaluate(problem: &Problem, chosen: &[ChosenOrder]) -> Result<Evaluation, Vec<Violation>> {
    let mut sorted: Vec<&ChosenOrder> = chosen.iter().collect();
    sorted.sort_by_key(|order| (order.order_on, order.supplier));
    let mut violations = Vec::new();
    let mut orders: Vec<PlannedOrder> = Vec::new();
    for (place, order) in sorted.iter().enumerate() {
        let twice =
            place > 0 && (sorted[place - 1].supplier, sorted[place - 1].order_on) == (order.supplier, order.order_on);
        check_order(problem, order, twice, &mut violations);
        if violations.is_empty() {
            orders.push(priced(problem, order));
        }
    }
    if !violations.is_empty() {
        return Err(violations);
    }
    let (credit, keeping, crowding) = share_out(problem, &sorted, &mut orders, &mut violations);
    if !violations.is_empty() {
        return Err(violations);
    }
    let cost: Money = orders.iter().map(|order| order.total_home).sum();
    Ok(Evaluation { orders, cost, credit, keeping, objective: cost + keeping - credit, crowding })
}

/// Notes the rules of ordering that an order breaks.
fn check_order(problem: &Problem, order: &ChosenOrder, twice: bool, violations: &mut Vec<Violation>) {
    let (supplier, order_on) = (order.supplier, order.order_on);
    let mut offers: Vec<usize> = order.lines.iter().map(|line| line.0).collect();
    offers.sort_unstable();
    offers.dedup();
    let own = |offer: usize| problem.offers.get(offer).is_some_and(|pack| pack.supplier == supplier);
    let known = supplier < problem.suppliers.len() && offers.iter().all(|&offer| own(offer));
    if twice || !known || offers.is_empty() || offers.len() < order.lines.len() {
        violations.push(Violation::NotOneParcel { supplier, order_on });
    }
    if !known {
        return;
    }
    let terms = &problem.suppliers[supplier];
    if order_on < problem.start || !terms.calendar.takes_orders_on(order_on) {
        violations.push(Violation::NoOrderDay { supplier, order_on });
    }
    let mut goods = Price::ZERO;
    for &(offer, packs) in &order.lines {
        match unit_price(&problem.offers[offer], packs) {
            Some(price) => goods += price.times(packs),
            None => violations.push(Violation::TooFewPacks { offer, packs }),
        }
        if problem.offers[offer].most_packs.is_some_and(|most| packs > most) {
            violations.push(Violation::TooManyPacks { offer, packs });
        }
        if !serves_something(problem, &problem.offers[offer], terms.calendar.arrival(order_on)) {
            violations.push(Violation::ServesNothing { offer, order_on });
        }
    }
    if goods < terms.minimum_order {
        violations.push(Violation::BelowMinimum { supplier, order_on });
    }
}

/// The price of one pack where so many are bought: that of the highest break, for all packs. `None` where so few are not sold.
#[must_use]
pub fn unit_price(pack: &Pack, packs: i64) -> Option<Price> {
    pack.breaks.iter().rev().find(|(from, _)| packs >= 1 && *from <= packs).map(|(_, price)| *price)
}

/// What sending an order costs.
#[must_use]
pub fn postage(terms: &Terms, goods: Price, weight_mg: i64) -> Price {
    if terms.free_postage_from.is_some_and(|from| goods >= from) {
        return Price::ZERO;
    }
    let fee = match &terms.postage {
        Postage::Flat(fee) => Some(*fee),
        Postage::ByValue(bands) => bands.iter().rev().find(|(from, _)| *from <= goods).map(|band| band.1),
        Postage::ByWeight(bands) => bands.iter().rev().find(|(from, _)| from.mg <= weight_mg).map(|band| band.1),
    };
    fee.unwrap_or(Price::ZERO)
}

/// Duty on goods, rounded half up to the supplier's minor unit.
#[must_use]
pub fn duty(terms: &Terms, goods: Price) -> Price {
    Price { minor: terms.duty.of(goods.minor) }
}

/// The total of an order in home money, rounded once, half up.
#[must_use]
pub fn total_home(terms: &Terms, total: Price) -> Money {
    Money { minor: half_up_i64(i128::from(total.minor) * terms.to_home.0, terms.to_home.1) }
}

/// The last day on which what arrives on `arrives` is usable; `None` for ever.
#[must_use]
pub fn usable_through(pack: &Pack, arrives: NaiveDate) -> Option<NaiveDate> {
    pack.life_on_arrival.map(|life| life.after(arrives))
}

/// A day as a plain number.
pub(super) fn number(day: NaiveDate) -> i32 {
    day.num_days_from_ce()
}

/// What so much of an offer brings.
fn delivery(pack: &Pack, arrives: NaiveDate, quantity: i64) -> Delivery {
    Delivery { arrives: number(arrives), through: usable_through(pack, arrives).map_or(FOREVER, number), quantity }
}

/// The requirements of an item in order of day, as the cover needs them.
pub(super) fn needs_of(problem: &Problem, item: ItemId) -> Vec<Need> {
    let own = problem.requirements.iter().enumerate().filter(|(_, requirement)| requirement.item == item);
    let mut needs: Vec<Need> = own
        .map(|(place, requirement)| Need {
            place,
            day: number(requirement.day),
            through: number(requirement.through),
            quantity: requirement.quantity.0,
        })
        .collect();
    needs.sort_by_key(|need| (need.day, need.through, need.place));
    needs
}

/// True where a delivery of the offer on that day can serve at least one requirement.
fn serves_something(problem: &Problem, pack: &Pack, arrives: NaiveDate) -> bool {
    let last = usable_through(pack, arrives).unwrap_or(NaiveDate::MAX);
    let mut own = problem.requirements.iter().filter(|requirement| requirement.item == pack.item);
    own.any(|requirement| arrives <= requirement.day && requirement.through <= last)
}

/// An order with its amounts; the covers are not yet known.
fn priced(problem: &Problem, order: &ChosenOrder) -> PlannedOrder {
    let terms = &problem.suppliers[order.supplier];
    let line = |&(offer, packs): &(usize, i64)| {
        let pack = &problem.offers[offer];
        let quantity = Quantity(clamp(i128::from(pack.quantity.0) * i128::from(packs)));
        let price = unit_price(pack, packs).unwrap_or_default();
        let (offer, item) = (pack.offer, pack.item);
        PlannedLine { offer, item, packs, price, quantity, covers: Vec::new(), left_over: quantity }
    };
    let mut chosen = order.lines.clone();
    chosen.sort_by_key(|&(offer, _)| (problem.offers[offer].item, problem.offers[offer].quantity, offer));
    let lines: Vec<PlannedLine> = chosen.iter().map(line).collect();
    let goods: Price = lines.iter().map(|line| line.price.times(line.packs)).sum();
    let weight = chosen.iter().map(|&(offer, packs)| problem.offers[offer].weight_mg.saturating_mul(packs));
    let postage = postage(terms, goods, weight.fold(0, i64::saturating_add));
    let duty = duty(terms, goods);
    let total = goods + postage + duty;
    PlannedOrder {
        supplier: terms.supplier,
        order_on: order.order_on,
        arrives_on: terms.calendar.arrival(order.order_on),
        lines,
        goods,
        postage,
        duty,
        total,
        total_home: total_home(terms, total),
    }
}

/// Shares all deliveries out to the requirements, writes that into the lines, and returns the credit for what is left,
/// what keeping costs, and what does not fit.
fn share_out(
    problem: &Problem,
    chosen: &[&ChosenOrder],
    orders: &mut [PlannedOrder],
    violations: &mut Vec<Violation>,
) -> (Money, Money, Money) {
    let packs: BTreeMap<_, &Pack> = problem.offers.iter().map(|pack| (pack.offer, pack)).collect();
    let mut items: Vec<ItemId> = problem.requirements.iter().map(|requirement| requirement.item).collect();
    items.sort_unstable();
    items.dedup();
    let mut by_item: BTreeMap<ItemId, Vec<(usize, usize)>> = BTreeMap::new();
    for (order, planned) in orders.iter().enumerate() {
        for (line, content) in planned.lines.iter().enumerate() {
            by_item.entry(content.item).or_default().push((order, line));
        }
    }
    debug_assert_eq!(chosen.len(), orders.len());
    let (mut credit, mut keeping, mut crowding) = (FractionSum::default(), FractionSum::default(), Money::ZERO);
    for item in items {
        let places = by_item.remove(&item).unwrap_or_default();
        let deliveries: Vec<Delivery> = places
            .iter()
            .map(|&(order, line)| {
                let content = &orders[order].lines[line];
                delivery(packs[&content.offer], orders[order].arrives_on, content.quantity.0)
            })
            .collect();
        let needs = needs_of(problem, item);
        let short = cover::uncovered(&needs, &deliveries);
        for (need, short) in needs.iter().zip(short).filter(|(_, short)| *short > 0) {
            violations.push(Violation::Uncovered { requirement: need.place, short: Quantity(short) });
        }
        if let Some(shelf) = Shelf::of(problem, item, &needs) {
            crowding += Money { minor: shelf.fines(&deliveries) };
        }
        let rule = credit_rule(problem, item);
        let mut left: Vec<i64> = deliveries.iter().map(|delivery| delivery.quantity).collect();
        let mut unit_days = 0_i128;
        for (need, delivery, amount) in cover::assign(&needs, &deliveries, &rule) {
            let (order, line) = places[delivery];
            let content = &mut orders[order].lines[line];
            content.covers.push((needs[need].place, Quantity(amount)));
            content.left_over -= Quantity(amount);
            left[delivery] -= amount;
            unit_days += i128::from(amount) * i128::from(needs[need].day - deliveries[delivery].arrives);
        }
        let left_over: i128 = left.iter().map(|&left| i128::from(left)).sum();
        for &(order, line) in &places {
            orders[order].lines[line].covers.sort_unstable();
        }
        let units = rule.credited(deliveries.iter().zip(left).map(|(delivery, left)| (delivery.through, left)));
        add_credit(problem, item, units, rule.days, &mut credit);
        add_keeping(problem, item, unit_days, (left_over * i128::from(rule.days) - units, rule.days), &mut keeping);
    }
    (credit.rounded(), keeping.rounded(), crowding)
}

/// How left-over of an item is credited.
pub(super) fn credit_rule(problem: &Problem, item: ItemId) -> CreditRule {
    let credit = problem.credits.iter().find(|credit| credit.item == item);
    CreditRule {
        gross: credit.map_or(0, |credit| credit.gross.0),
        days: (problem.end - problem.start).num_days() + 1,
        window: credit.map_or(0, |credit| i64::from(credit.window_days)),
        end: number(problem.end),
        holds: credit.is_some_and(|credit| credit.holding.0 > 0),
    }
}

/// Adds what `units / days` of an item are worth.
fn add_credit(problem: &Problem, item: ItemId, units: i128, days: i64, sum: &mut FractionSum) {
    let Some(credit) = problem.credits.iter().find(|credit| credit.item == item) else { return };
    let hundred = i128::from(Percent::HUNDRED.millionths);
    sum.add_product(
        [units, i128::from(credit.worth.millionths), credit.unit_price.0],
        [i128::from(days), hundred, credit.unit_price.1],
    );
}

/// Adds what so many units for a day each cost to keep, and what `uncredited` (a fraction) units cost to be rid of.
fn add_keeping(problem: &Problem, item: ItemId, unit_days: i128, uncredited: (i128, i64), sum: &mut FractionSum) {
    let Some(terms) = problem.credits.iter().find(|credit| credit.item == item) else { return };
    if terms.holding.0 > 0 {
        sum.add_product([unit_days, terms.holding.0, 1], [terms.holding.1, 1, 1]);
    }
    if terms.disposal.0 > 0 {
        sum.add_product([uncredited.0, terms.disposal.0, 1], [i128::from(uncredited.1), terms.disposal.1, 1]);
    }
}

/// A sum of fractions, exact as long as a common denominator fits 128 bits, and within 10^-9 beyond that.
#[derive(Clone, Copy, Debug)]
struct FractionSum {
    whole: i128,
    numerator: i128,
    denominator: i128,
    /// What did not fit: 2^-60 units.
    fine: i128,
}

impl Default for FractionSum {
    fn default() -> Self {
        Self { whole: 0, numerator: 0, denominator: 1, fine: 0 }
    }
}

impl FractionSum {
    /// Adds a product of factors over a product of divisors, all at least 0 and the divisors more.
    fn add_product(&mut self, mut factors: [i128; 3], mut divisors: [i128; 3]) {
        for factor in &mut factors {
            for divisor in &mut divisors {
                let common = greatest_common_divisor(*factor, *divisor).max(1);
                *factor /= common;
                *divisor /= common;
            }
        }
        let product = |parts: [i128; 3]| parts[0].checked_mul(parts[1])?.checked_mul(parts[2]);
        if let (Some(numerator), Some(denominator)) = (product(factors), product(divisors)) {
            self.whole += numerator.div_euclid(denominator);
            self.add_part(numerator.rem_euclid(denominator), denominator);
        } else {
            let value = factors.iter().map(|&part| part as f64).product::<f64>()
                / divisors.iter().map(|&part| part as f64).product::<f64>();
            self.fine += (value * (1_i64 << 60) as f64) as i128;
        }
    }

    /// Adds a fraction below 1.
    fn add_part(&mut self, numerator: i128, denominator: i128) {
        let common = greatest_common_divisor(self.denominator, denominator).max(1);
        let scaled = || {
            let shared = self.denominator.checked_mul(denominator / common)?;
            let ours = self.numerator.checked_mul(denominator / common)?;
            let theirs = numerator.checked_mul(self.denominator / common)?;
            Some((ours.checked_add(theirs)?, shared))
        };
        if let Some((sum, shared)) = scaled() {
            let reduced = greatest_common_divisor(sum, shared).max(1);
            self.whole += sum.div_euclid(shared);
            self.numerator = sum.rem_euclid(shared) / reduced;
            self.denominator = shared / reduced;
        } else {
            self.fine += (numerator as f64 / denominator as f64 * (1_i64 << 60) as f64) as i128;
        }
    }

    /// The sum to the nearest minor unit, half up.
    fn rounded(self) -> Money {
        if self.fine == 0 {
            let half = 2 * (self.numerator - self.denominator / 2) >= self.denominator % 2;
            return Money { minor: clamp(self.whole + i128::from(half)) };
        }
        let part = (self.numerator as f64 / self.denominator as f64 * (1_i64 << 60) as f64) as i128;
        Money { minor: clamp(self.whole + (self.fine + part + (1 << 59)).div_euclid(1 << 60)) }
    }
}

/// Euclid's greatest common divisor of numbers that are at least 0.
fn greatest_common_divisor(mut one: i128, mut other: i128) -> i128 {
    while other != 0 {
        (one, other) = (other, one % other);
    }
    one
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fractions_are_added_exactly_and_rounded_once() {
        let rounded = |parts: &[(i128, i128)]| {
            let mut sum = FractionSum::default();
            for &(numerator, denominator) in parts {
                sum.add_product([numerator, 1, 1], [denominator, 1, 1]);
            }
            sum.rounded().minor
        };
        assert_eq!(rounded(&[(1, 3), (1, 6)]), 1);
        assert_eq!(rounded(&[(1, 3), (1, 7)]), 0);
        assert_eq!(rounded(&[(7, 2), (1, 3), (2, 3)]), 5);
        assert_eq!(rounded(&[(1, 3)]), 0);
        assert_eq!(rounded(&[(2, 3)]), 1);
        assert_eq!(rounded(&[]), 0);
        let primes = [1_000_003_i128, 998_244_353, 1_000_000_007, 2_147_483_647, 999_999_937, 999_999_929];
        let parts: Vec<(i128, i128)> = primes.iter().map(|&prime| (prime / 4, prime)).collect();
        assert_eq!(rounded(&parts), 1);
    }
}
