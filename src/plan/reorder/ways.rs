//! All the ways to buy one material that a plan below a given cost could make use of.
//!
//! Packs are added order by order, in order of arrival; a set of packs is given up once what it still lacks, at the lowest price,
//! would lift it above the limit. Of two ways that serve the orders' thresholds alike only the cheaper one is kept.

use super::books::{Column, Line, Share, shares_of};
use super::candidates::{Case, Material, USELESS};
use super::cover::{self, Delivery};
use super::evaluate::unit_price;
use crate::plan::model::Postage;
use crate::plan::money::Price;

/// One way to cover all requirements of a material.
#[derive(Clone, Debug)]
pub(super) struct Way {
    /// The packs.
    pub column: Column,
    /// The orders that they are in, as bits.
    pub slots: u64,
    /// Goods with duty, and keeping less credit, in home minor units; no postage.
    pub cost: f64,
    /// Goods and weight in each order.
    pub shares: Vec<Share>,
}

/// Which amounts of a supplier's orders change what sending costs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Steers {
    /// More goods may be better.
    more_goods: bool,
    /// Fewer goods may be better.
    fewer_goods: bool,
    /// Weight matters.
    weight: bool,
    /// What rounding can change in one order, in home minor units.
    rounding: f64,
}

impl Steers {
    /// Those of a supplier.
    #[must_use]
    pub fn of(case: &Case<'_>, supplier: usize, rounding: f64) -> Self {
        let terms = &case.problem.suppliers[supplier];
        let bands: &[(Price, Price)] = match &terms.postage {
            Postage::ByValue(bands) => bands,
            _ => &[],
        };
        let falls = bands.windows(2).any(|pair| pair[1].1 < pair[0].1);
        let rises = bands.windows(2).any(|pair| pair[1].1 > pair[0].1);
        Self {
            more_goods: falls || terms.minimum_order > Price::ZERO || terms.free_postage_from.is_some(),
            fewer_goods: rises,
            weight: matches!(terms.postage, Postage::ByWeight(_)),
            rounding,
        }
    }
}

/// An offer in one order.
#[derive(Clone, Copy, Debug)]
struct Buy {
    line: Line,
    supplier: usize,
    delivery: Delivery,
    /// The place in the problem's offers.
    offer: usize,
    /// The lowest landed price of a pack.
    lowest: f64,
}

/// The enumeration for one material.
pub(super) struct Ways<'a, 'p> {
    case: &'a Case<'p>,
    material: &'a Material,
    steers: &'a [Steers],
    buys: Vec<Buy>,
    /// From each buy on, the lowest price of a unit.
    unit_from: Vec<f64>,
    limit: f64,
    /// True where only the cheapest way is looked for.
    cheapest: bool,
    column: Column,
    deliveries: Vec<Delivery>,
    found: Vec<Way>,
}

impl<'a, 'p> Ways<'a, 'p> {
    /// Lays a material out.
    #[must_use]
    pub fn new(case: &'a Case<'p>, material: &'a Material, steers: &'a [Steers]) -> Self {
        let mut buys = Vec::new();
        for (house_place, house) in material.houses.iter().enumerate() {
            for (offer_place, &offer) in house.offers.iter().enumerate() {
                let pack = &case.problem.offers[offer];
                let lowest = pack.breaks.iter().map(|entry| entry.1.minor).min().unwrap_or(0) as f64;
                for (place, &slot) in house.slots.iter().enumerate() {
                    let through = house.through[offer_place][place];
                    if through == USELESS {
                        continue;
                    }
                    let arrives = case.slots[slot].arrives;
                    buys.push(Buy {
                        line: Line { house: house_place, place, offer: offer_place, packs: 0 },
                        supplier: house.supplier,
                        delivery: Delivery { arrives, through, quantity: pack.quantity.0 },
                        offer,
                        lowest: lowest * case.landed(house.supplier),
                    });
                }
            }
        }
        buys.sort_by_key(|buy| (buy.delivery.arrives, buy.offer, buy.line.place));
        let mut unit_from = vec![f64::INFINITY; buys.len() + 1];
        for (place, buy) in buys.iter().enumerate().rev() {
            unit_from[place] = unit_from[place + 1].min(buy.lowest / buy.delivery.quantity as f64);
        }
        Self {
            case,
            material,
            steers,
            buys,
            unit_from,
            limit: f64::INFINITY,
            cheapest: false,
            column: Column::new(),
            deliveries: Vec::new(),
            found: Vec::new(),
        }
    }

    /// What the cheapest way costs, postage left aside; `None` where `work` is used up before that is certain.
    /// It starts from a column that is known.
    pub fn least(&mut self, known: &Column, work: &mut u64) -> Option<f64> {
        self.column.clone_from(known);
        self.deliveries.clear();
        for line in known {
            let same = |buy: &&Buy| (buy.line.house, buy.line.place, buy.line.offer) == (line.house, line.place, line.offer);
            let delivery = self.buys.iter().find(same)?.delivery;
            self.deliveries.push(Delivery { quantity: delivery.quantity.saturating_mul(line.packs), ..delivery });
        }
        self.found.clear();
        self.limit = f64::INFINITY;
        self.cheapest = true;
        self.note();
        self.column.clear();
        self.deliveries.clear();
        self.go(0, 0.0, work);
        self.cheapest = false;
        (*work > 0).then_some(self.limit)
    }

    /// All ways that cost less than the limit, cheap ones first; `None` where `work` is used up before they are found.
    pub fn below(mut self, limit: f64, work: &mut u64) -> Option<Vec<Way>> {
        self.found.clear();
        self.limit = limit;
        self.go(0, 0.0, work);
        let mut kept: Vec<Way> = Vec::new();
        self.found.sort_by(|one, other| one.cost.total_cmp(&other.cost).then_with(|| one.column.cmp(&other.column)));
        for way in std::mem::take(&mut self.found) {
            *work = work.saturating_sub(1 + kept.len() as u64 / 8);
            if *work == 0 {
                return None;
            }
            if !kept.iter().any(|other| self.replaces(other, &way)) {
                kept.push(way);
            }
        }
        (*work > 0).then_some(kept)
    }

    /// True where a way that is no dearer does as well for every order.
    fn replaces(&self, one: &Way, other: &Way) -> bool {
        if one.slots & !other.slots != 0 {
            return false;
        }
        let mut rounding = 0.0;
        for share in &other.shares {
            let own = one.shares.iter().find(|own| own.slot == share.slot);
            let (goods, weight_mg) = own.map_or((0, 0), |own| (own.goods, own.weight_mg));
            let steers = &self.steers[self.case.slots[share.slot].supplier];
            if steers.more_goods && goods < share.goods
                || steers.fewer_goods && goods > share.goods
                || steers.weight && weight_mg != share.weight_mg
            {
                return false;
            }
            if goods != share.goods {
                rounding += 2.0 * steers.rounding;
            }
        }
        one.cost <= other.cost - rounding
    }

    /// Adds packs from this place on.
    fn go(&mut self, from: usize, goods: f64, work: &mut u64) {
        *work = work.saturating_sub(1 + self.deliveries.len() as u64);
        let short = cover::uncovered(&self.material.needs, &self.deliveries);
        let lacking: i64 = short.iter().sum();
        let brought: i64 = self.deliveries.iter().map(|delivery| delivery.quantity).sum();
        if *work == 0 || self.hope(from, goods, lacking, brought) >= self.limit {
            return;
        }
        if lacking == 0 {
            self.note();
        }
        let first_lack = self.material.needs.iter().zip(&short).find(|(_, short)| **short > 0).map(|(need, _)| need.day);
        for place in from..self.buys.len() {
            let buy = self.buys[place];
            if first_lack.is_some_and(|day| day < buy.delivery.arrives) {
                return;
            }
            // Where all is covered, more packs are of use for a threshold or for credit alone.
            let idle = !self.steers[buy.supplier].more_goods && self.material.most_credited <= 0.0;
            if !(lacking == 0 && idle) {
                self.packs(place, goods, (lacking, brought), work);
            }
        }
    }

    /// Adds any number of packs of one offer in one order.
    fn packs(&mut self, place: usize, goods: f64, (lacking, brought): (i64, i64), work: &mut u64) {
        let buy = self.buys[place];
        let pack = &self.case.problem.offers[buy.offer];
        let landed = self.case.landed(buy.supplier);
        let most = pack.most_packs.unwrap_or(i64::MAX);
        let first = pack.breaks.first().map_or(1, |lowest| lowest.0).max(1);
        let useful = self.material.demand_from[0].saturating_add(self.material.most_credited as i64 + 1);
        for packs in first..=most {
            let quantity = buy.delivery.quantity.saturating_mul(packs);
            let (lacks, brings) = ((lacking - quantity).max(0), brought.saturating_add(quantity));
            if self.hope(place, goods + buy.lowest * packs as f64, lacks, brings) >= self.limit || *work == 0 {
                return;
            }
            // What costs nothing is not bought for ever.
            if buy.lowest <= 0.0 && quantity - buy.delivery.quantity > useful {
                return;
            }
            let Some(price) = unit_price(pack, packs) else { return };
            let paid = goods + price.times(packs).minor as f64 * landed;
            if self.hope(place, paid, lacks, brings) >= self.limit {
                *work = work.saturating_sub(1);
                continue;
            }
            self.column.push(Line { packs, ..buy.line });
            self.deliveries.push(Delivery { quantity, ..buy.delivery });
            self.go(place + 1, paid, work);
            self.column.pop();
            self.deliveries.pop();
        }
    }

    /// Less than any way can cost that has these packs and so much lacking.
    fn hope(&self, from: usize, goods: f64, lacking: i64, brought: i64) -> f64 {
        let material = self.material;
        let left_over = (brought + lacking - material.demand_from[0]) as f64;
        let unit = self.unit_from[from];
        let rest = if lacking > 0 { unit * lacking as f64 } else { 0.0 };
        // Where a unit costs more than its credit, none is bought for it.
        let credited = if material.unit_credit <= unit { left_over.min(material.most_credited) } else { material.most_credited };
        let most_left = left_over.max(credited);
        goods + rest + material.disposal * (most_left - credited) - material.unit_credit * credited
    }

    /// Writes a way down.
    fn note(&mut self) {
        let material = self.material;
        let goods = |line: &Line| {
            let house = &material.houses[line.house];
            let pack = &self.case.problem.offers[house.offers[line.offer]];
            let price = unit_price(pack, line.packs).unwrap_or_default();
            price.times(line.packs).minor as f64 * self.case.landed(house.supplier)
        };
        let cost = self.column.iter().map(goods).sum::<f64>() + self.kept();
        if cost >= self.limit {
            return;
        }
        if self.cheapest {
            self.limit = cost;
            return;
        }
        let mut column = self.column.clone();
        column.sort_unstable();
        let mut shares = Vec::new();
        shares_of(self.case, material, &column, &mut shares);
        let slots = shares.iter().fold(0, |bits, share| bits | 1_u64 << share.slot);
        self.found.push(Way { column, slots, cost, shares });
    }

    /// What keeping and disposal cost less the credit.
    fn kept(&self) -> f64 {
        let material = self.material;
        let mut left: Vec<i64> = self.deliveries.iter().map(|delivery| delivery.quantity).collect();
        let mut unit_days = 0_i64;
        for (need, delivery, amount) in cover::assign(&material.needs, &self.deliveries, &material.rule) {
            left[delivery] -= amount;
            unit_days += amount * i64::from(material.needs[need].day - self.deliveries[delivery].arrives);
        }
        let left_over: i64 = left.iter().sum();
        let through = self.deliveries.iter().map(|delivery| delivery.through);
        let credited = material.rule.credited(through.zip(left)) as f64 / material.rule.days.max(1) as f64;
        let disposed = (left_over as f64 - credited) * material.disposal;
        unit_days as f64 * material.holding + disposed - credited * material.unit_credit
    }
}
