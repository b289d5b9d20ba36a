//! What every order holds while the search goes on, and what adding to it costs.

use super::candidates::{Case, Material};
use super::cover::{self, Delivery, Scratch};
use super::evaluate::{ChosenOrder, unit_price};
use std::collections::BTreeMap;

/// So many packs of one offer in one order, by places in the material's tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Line {
    /// Which house.
    pub house: usize,
    /// Which of the house's slots.
    pub place: usize,
    /// Which of the house's offers.
    pub offer: usize,
    /// How many packs.
    pub packs: i64,
}

/// All lines of one material, in order, each offer once for a slot.
pub(super) type Column = Vec<Line>;

/// What one order holds.
#[derive(Clone, Copy, Debug, Default)]
struct Content {
    lines: u32,
    goods: i64,
    weight_mg: i64,
    cost: f64,
    /// Goods that the order is said to hold already, to see who would join it; the order then counts as open.
    gift: Option<i64>,
    barred: bool,
}

impl Content {
    /// A number for what matters of the order in a slot; 0 where there is none.
    fn mark(&self, slot: usize) -> u64 {
        if self.lines == 0 && self.gift.is_none() && !self.barred {
            return 0;
        }
        let flags = u64::from(self.lines > 0) | u64::from(self.barred) << 1 | (slot as u64) << 2;
        let amounts = mixed(self.goods.cast_unsigned()) ^ self.weight_mg.cast_unsigned();
        mixed(mixed(mixed(amounts) ^ self.gift.map_or(u64::MAX, i64::cast_unsigned)) ^ flags)
    }
}

/// Stirs the bits of a number (the finish of SplitMix64).
fn mixed(number: u64) -> u64 {
    let mut mixed = number.wrapping_add(0x9E37_79B9_7F4A_7C15);
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    mixed ^ (mixed >> 31)
}

/// All orders.
#[derive(Clone, Debug)]
pub(super) struct Books {
    contents: Vec<Content>,
    /// For each supplier the places of its open orders among its slots, in order.
    open: Vec<Vec<u32>>,
    /// For each supplier a mark that is another one where its orders are.
    marks: Vec<u64>,
    /// What all orders cost, in home minor units.
    pub cost: f64,
}

/// More goods than any threshold asks for.
const MORE_THAN_ENOUGH: i64 = 1_000_000_000;

/// Goods and weight of a column in one slot.
#[derive(Clone, Copy, Debug)]
pub(super) struct Share {
    /// Which slot.
    pub slot: usize,
    lines: u32,
    /// In the supplier's minor units.
    pub goods: i64,
    /// In milligrams.
    pub weight_mg: i64,
}

impl Books {
    /// No orders.
    #[must_use]
    pub fn new(case: &Case<'_>) -> Self {
        let open = vec![Vec::new(); case.own_slots.len()];
        let marks = vec![0; case.own_slots.len()];
        Self { contents: vec![Content::default(); case.slots.len()], open, marks, cost: 0.0 }
    }

    /// A mark that is another one where anything is otherwise in the orders of those who sell a material.
    #[must_use]
    pub fn mark(&self, material: &Material) -> u64 {
        let own = material.houses.iter().map(|house| self.marks[house.supplier]);
        own.fold(0, |mark, own| mixed(mark.rotate_left(7) ^ own))
    }

    /// The places of a supplier's open orders among its slots, in order.
    #[must_use]
    pub fn open_of(&self, supplier: usize) -> &[u32] {
        &self.open[supplier]
    }

    /// Goods, weight and cost of an order as the next line finds them.
    #[must_use]
    pub fn standing(&self, case: &Case<'_>, slot: usize) -> (i64, i64, f64) {
        let content = &self.contents[slot];
        match content.gift {
            Some(gift) => {
                let goods = content.goods.max(gift);
                (goods, content.weight_mg, case.order_cost(case.slots[slot].supplier, goods, content.weight_mg))
            }
            None => (content.goods, content.weight_mg, content.cost),
        }
    }

    /// Puts a slot on the list of open ones, or takes it off.
    fn list(&mut self, case: &Case<'_>, slot: usize) {
        let is_open = self.is_open(slot);
        let (supplier, place) = (case.slots[slot].supplier, case.slots[slot].place);
        let open = &mut self.open[supplier];
        match open.binary_search(&place) {
            Ok(found) if !is_open => {
                open.remove(found);
            }
            Err(found) if is_open => open.insert(found, place),
            _ => {}
        }
    }

    /// True where the order exists, or is said to.
    #[must_use]
    pub fn is_open(&self, slot: usize) -> bool {
        let content = &self.contents[slot];
        !content.barred && (content.lines > 0 || content.gift.is_some())
    }

    /// True where nothing may be ordered.
    #[must_use]
    pub fn is_barred(&self, slot: usize) -> bool {
        self.contents[slot].barred
    }

    /// True where the order has lines.
    #[must_use]
    pub fn is_used(&self, slot: usize) -> bool {
        self.contents[slot].lines > 0
    }

    /// Goods of an order.
    #[must_use]
    pub fn goods(&self, slot: usize) -> i64 {
        self.contents[slot].goods
    }

    /// What an order costs now.
    #[must_use]
    pub fn cost_of(&self, slot: usize) -> f64 {
        self.contents[slot].cost
    }

    /// Allows or forbids to order.
    pub fn bar(&mut self, case: &Case<'_>, slot: usize, barred: bool) {
        self.marks[case.slots[slot].supplier] ^= self.contents[slot].mark(slot);
        self.contents[slot].barred = barred;
        self.marks[case.slots[slot].supplier] ^= self.contents[slot].mark(slot);
        self.list(case, slot);
    }

    /// Says that an order holds so much already.
    pub fn give(&mut self, case: &Case<'_>, slot: usize, gift: Option<i64>) {
        self.marks[case.slots[slot].supplier] ^= self.contents[slot].mark(slot);
        self.contents[slot].gift = gift;
        self.marks[case.slots[slot].supplier] ^= self.contents[slot].mark(slot);
        self.list(case, slot);
    }

    /// Says that an order holds so much, and weighs so little, that nothing more is paid for sending it, whatever is added.
    pub fn send_for_nothing(&mut self, case: &Case<'_>, slot: usize) {
        self.contents[slot].weight_mg = i64::MIN / 4;
        self.give(case, slot, Some(MORE_THAN_ENOUGH));
    }

    /// What more goods and weight add to the cost of an order.
    #[must_use]
    pub fn marginal(&self, case: &Case<'_>, slot: usize, goods: i64, weight_mg: i64) -> f64 {
        let (there, weighs, cost) = self.standing(case, slot);
        let supplier = case.slots[slot].supplier;
        case.order_cost(supplier, there.saturating_add(goods), weighs.saturating_add(weight_mg)) - cost
    }

    /// Adds a column's shares.
    pub fn add(&mut self, case: &Case<'_>, shares: &[Share]) {
        for share in shares {
            self.change(case, share, 1);
        }
    }

    /// Takes a column's shares out.
    pub fn remove(&mut self, case: &Case<'_>, shares: &[Share]) {
        for share in shares {
            self.change(case, share, -1);
        }
    }

    fn change(&mut self, case: &Case<'_>, share: &Share, sign: i64) {
        let content = &mut self.contents[share.slot];
        let before = content.mark(share.slot);
        content.goods = content.goods.saturating_add(sign.saturating_mul(share.goods));
        content.weight_mg = content.weight_mg.saturating_add(sign.saturating_mul(share.weight_mg));
        content.lines = if sign > 0 { content.lines + share.lines } else { content.lines - share.lines };
        let supplier = case.slots[share.slot].supplier;
        let cost = if content.lines > 0 { case.order_cost(supplier, content.goods, content.weight_mg) } else { 0.0 };
        self.cost += cost - content.cost;
        content.cost = cost;
        self.marks[supplier] ^= before ^ content.mark(share.slot);
        if content.lines == 0 || sign > 0 && content.lines == share.lines {
            self.list(case, share.slot);
        }
    }
}

/// The goods and weights of a column, slot by slot; the column is in order.
pub(super) fn shares_of(case: &Case<'_>, material: &Material, column: &[Line], shares: &mut Vec<Share>) {
    shares.clear();
    for line in column {
        let house = &material.houses[line.house];
        let (slot, pack) = (house.slots[line.place], &case.problem.offers[house.offers[line.offer]]);
        let price = unit_price(pack, line.packs).unwrap_or_default();
        let goods = price.minor.saturating_mul(line.packs);
        let weight_mg = pack.weight_mg.saturating_mul(line.packs);
        match shares.last_mut().filter(|share| share.slot == slot) {
            Some(share) => {
                share.lines += 1;
                share.goods = share.goods.saturating_add(goods);
                share.weight_mg = share.weight_mg.saturating_add(weight_mg);
            }
            None => shares.push(Share { slot, lines: 1, goods, weight_mg }),
        }
    }
}

/// What a column adds to the cost of the orders.
#[must_use]
pub(super) fn marginal_of(case: &Case<'_>, books: &Books, shares: &[Share]) -> f64 {
    shares.iter().map(|share| books.marginal(case, share.slot, share.goods, share.weight_mg)).sum()
}

/// What the left-over of a column is worth, less what keeping and disposal cost and what does not
/// fit counts as; `None` where the column does not cover everything.
pub(super) fn credit_of(
    case: &Case<'_>,
    material: &Material,
    column: &[Line],
    deliveries: &mut Vec<Delivery>,
    scratch: &mut Scratch,
) -> Option<f64> {
    deliveries.clear();
    for line in column {
        let house = &material.houses[line.house];
        let pack = &case.problem.offers[house.offers[line.offer]];
        deliveries.push(Delivery {
            arrives: case.slots[house.slots[line.place]].arrives,
            through: house.through[line.offer][line.place],
            quantity: pack.quantity.0.saturating_mul(line.packs),
        });
    }
    let units = cover::credited_units(&material.needs, deliveries, &material.rule, scratch)?;
    let crowding = material.shelf.as_ref().map_or(0, |shelf| shelf.fines(deliveries)) as f64;
    if material.holding + material.disposal > 0.0 {
        let brought: i64 = deliveries.iter().map(|delivery| delivery.quantity).sum();
        let left_over = (brought - material.demand_from[0]) as f64;
        let unit_days = if material.holding > 0.0 { unit_days(material, deliveries) } else { 0.0 };
        let keeping = unit_days * material.holding + (left_over - units) * material.disposal;
        return Some(units * material.unit_credit - keeping - crowding);
    }
    Some(units * material.unit_credit - crowding)
}

/// Units times the days that they are kept.
fn unit_days(material: &Material, deliveries: &[Delivery]) -> f64 {
    let shares = cover::assign(&material.needs, deliveries, &material.rule);
    let days = |need: usize, delivery: usize| material.needs[need].day - deliveries[delivery].arrives;
    shares.iter().map(|&(need, delivery, amount)| amount as f64 * f64::from(days(need, delivery))).sum()
}

/// The orders that all columns make up.
#[must_use]
pub(super) fn orders_of(case: &Case<'_>, columns: &[Column]) -> Vec<ChosenOrder> {
    let mut by_slot: BTreeMap<usize, Vec<(usize, i64)>> = BTreeMap::new();
    for (material, column) in case.materials.iter().zip(columns) {
        for line in column {
            let house = &material.houses[line.house];
            by_slot.entry(house.slots[line.place]).or_default().push((house.offers[line.offer], line.packs));
        }
    }
    let order = |(slot, lines): (usize, Vec<(usize, i64)>)| ChosenOrder {
        supplier: case.slots[slot].supplier,
        order_on: case.slots[slot].order_on,
        lines,
    };
    by_slot.into_iter().map(order).collect()
}
