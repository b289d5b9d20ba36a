//! All the ways to buy one material that a plan below a given cost could make use of.
//!
//! Packs are added order by order, in order of arrival; a set of packs is given up once what it still lacks, at the lowest price,
//! would lift it above the limit. Of two ways that serve the orders' thresholds alike only the cheaper one is kept.

use super::books::{Column, Line, Share, shares_of};
use super::bound::Proof;
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
    /// Goods with duty, and keeping and crowding less credit, in home minor units; no postage.
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

/// How many ways there are to look at what sending costs.
pub(super) const LENSES: usize = 4;
/// The last of them looks through the proof of the bound: each material pays its share of each supplier's fee.
pub(super) const SHARED: usize = LENSES - 1;

/// What sending an order costs at least, for each supplier: a fixed part, less so much for each unit of goods. Both in home minor
/// units. Any such look gives a limit of its own, and a way has to stay below all of them.
#[derive(Clone, Debug, Default)]
pub(super) struct Lens {
    /// The fixed part.
    pub fixed: Vec<f64>,
    /// What is taken off for a minor unit of goods.
    pub slope: Vec<f64>,
}

/// Costs by lens.
pub(super) type Costs = [f64; LENSES];

/// An offer in one order.
#[derive(Clone, Copy, Debug)]
struct Buy {
    line: Line,
    supplier: usize,
    delivery: Delivery,
    /// The place in the problem's offers.
    offer: usize,
    /// The lowest price of a pack in the supplier's minor units.
    lowest: i64,
    /// Home minor units for one of goods.
    landed: Costs,
    /// What sending costs, if nothing is in the order yet.
    fixed: Costs,
}

/// The enumeration for one material.
pub(super) struct Ways<'a, 'p> {
    case: &'a Case<'p>,
    material: &'a Material,
    steers: &'a [Steers],
    buys: Vec<Buy>,
    /// From each buy on, the lowest price of a unit.
    unit_from: Vec<Costs>,
    limits: Costs,
    /// Through which lens the cheapest way is looked for, sending left aside; all ways below the limits are where there is none.
    cheapest: Option<usize>,
    column: Column,
    deliveries: Vec<Delivery>,
    found: Vec<Way>,
}

impl<'a, 'p> Ways<'a, 'p> {
    /// Lays a material out.
    #[must_use]
    pub fn new(case: &'a Case<'p>, place: usize, steers: &'a [Steers], lenses: &[Lens; SHARED], proof: &Proof) -> Self {
        let material = &case.materials[place];
        let shares = &proof.shares[place];
        let mut buys = Vec::new();
        for (house_place, house) in material.houses.iter().enumerate() {
            let supplier = house.supplier;
            for (offer_place, &offer) in house.offers.iter().enumerate() {
                let pack = &case.problem.offers[offer];
                for (place, &slot) in house.slots.iter().enumerate() {
                    let through = house.through[offer_place][place];
                    if through == USELESS {
                        continue;
                    }
                    let arrives = case.slots[slot].arrives;
                    let slope = |lens: usize| match lens {
                        SHARED => case.landed(supplier) * proof.prices.off(supplier, place),
                        _ => lenses[lens].slope[supplier],
                    };
                    let fixed = |lens: usize| match lens {
                        SHARED => shares.get(house_place).copied().unwrap_or(0.0),
                        _ => lenses[lens].fixed[supplier],
                    };
                    buys.push(Buy {
                        line: Line { house: house_place, place, offer: offer_place, packs: 0 },
                        supplier,
                        delivery: Delivery { arrives, through, quantity: pack.quantity.0 },
                        offer,
                        lowest: pack.breaks.iter().map(|entry| entry.1.minor).min().unwrap_or(0),
                        landed: std::array::from_fn(|lens| case.landed(supplier) - slope(lens)),
                        fixed: std::array::from_fn(fixed),
                    });
                }
            }
        }
        buys.sort_by_key(|buy| (buy.delivery.arrives, buy.offer, buy.line.place));
        let mut unit_from = vec![[f64::INFINITY; LENSES]; buys.len() + 1];
        for (place, buy) in buys.iter().enumerate().rev() {
            let unit = |lens: usize| buy.lowest as f64 * buy.landed[lens] / buy.delivery.quantity as f64;
            unit_from[place] = std::array::from_fn(|lens| unit_from[place + 1][lens].min(unit(lens)));
        }
        Self {
            case,
            material,
            steers,
            buys,
            unit_from,
            limits: [f64::INFINITY; LENSES],
            cheapest: None,
            column: Column::new(),
            deliveries: Vec::new(),
            found: Vec::new(),
        }
    }

    /// What the cheapest way costs through each lens, sending left aside; `None` where `work` is used up before that is certain.
    /// It starts from a column that is known.
    pub fn least(&mut self, known: &Column, work: &mut u64) -> Option<Costs> {
        let mut least = [0.0; LENSES];
        for (lens, least) in least.iter_mut().enumerate() {
            self.cheapest = Some(lens);
            self.limits = [f64::INFINITY; LENSES];
            let mut goods = [0.0; LENSES];
            for line in known {
                let same = |buy: &&Buy| Line { packs: line.packs, ..buy.line } == *line;
                let buy = self.buys.iter().find(same)?;
                let price = unit_price(&self.case.problem.offers[buy.offer], line.packs)?.times(line.packs);
                goods[lens] += self.opening(buy)[lens] + price.minor as f64 * buy.landed[lens];
                let quantity = buy.delivery.quantity.saturating_mul(line.packs);
                self.column.push(*line);
                self.deliveries.push(Delivery { quantity, ..buy.delivery });
            }
            if cover::uncovered(&self.material.needs, &self.deliveries).iter().all(|short| *short == 0) {
                self.note(&goods);
            }
            self.column.clear();
            self.deliveries.clear();
            self.go(0, [0.0; LENSES], work);
            *least = self.limits[lens];
        }
        self.cheapest = None;
        (*work > 0 && least.iter().all(|least| least.is_finite())).then_some(least)
    }

    /// All ways that cost less than the limits, cheap ones first; `None` where `work` is used up before they are found.
    pub fn below(mut self, limits: Costs, work: &mut u64) -> Option<Vec<Way>> {
        self.limits = limits;
        self.go(0, [0.0; LENSES], work);
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
    fn go(&mut self, from: usize, goods: Costs, work: &mut u64) {
        *work = work.saturating_sub(1 + self.deliveries.len() as u64);
        let short = cover::uncovered(&self.material.needs, &self.deliveries);
        let lacking: i64 = short.iter().sum();
        let brought: i64 = self.deliveries.iter().map(|delivery| delivery.quantity).sum();
        if *work == 0 || !self.hopes(from, &goods, lacking, brought, self.crowding()) {
            return;
        }
        if lacking == 0 {
            self.note(&goods);
        }
        let first_lack =
            self.material.needs.iter().zip(&short).find(|(_, short)| **short > 0).map(|(need, _)| need.day);
        for place in from..self.buys.len() {
            let buy = &self.buys[place];
            if first_lack.is_some_and(|day| day < buy.delivery.arrives) {
                return;
            }
            // Where all is covered, more packs are of use for a threshold or for credit alone.
            let idle = !self.steers[buy.supplier].more_goods && self.material.most_credited <= 0.0;
            if !(lacking == 0 && idle) {
                self.packs(place, &goods, (lacking, brought), work);
            }
        }
    }

    /// Adds any number of packs of one offer in one order.
    fn packs(&mut self, place: usize, goods: &Costs, (lacking, brought): (i64, i64), work: &mut u64) {
        let buy = self.buys[place];
        let pack = &self.case.problem.offers[buy.offer];
        let most = pack.most_packs.unwrap_or(i64::MAX);
        let first = pack.breaks.first().map_or(1, |lowest| lowest.0).max(1);
        let useful = self.material.demand_from[0].saturating_add(self.material.most_credited as i64 + 1);
        let fixed = self.opening(&buy);
        let with = |paid: i64| -> Costs {
            std::array::from_fn(|lens| goods[lens] + fixed[lens] + paid as f64 * buy.landed[lens])
        };
        for packs in first..=most {
            let quantity = buy.delivery.quantity.saturating_mul(packs);
            let (lacks, brings) = ((lacking - quantity).max(0), brought.saturating_add(quantity));
            self.deliveries.push(Delivery { quantity, ..buy.delivery });
            // More packs are never less in the way.
            let crowding = self.crowding();
            self.deliveries.pop();
            if *work == 0 || !self.hopes(place, &with(buy.lowest.saturating_mul(packs)), lacks, brings, crowding) {
                return;
            }
            // What costs nothing is not bought for ever.
            if buy.lowest <= 0 && quantity - buy.delivery.quantity > useful {
                return;
            }
            let Some(price) = unit_price(pack, packs) else { return };
            let paid = with(price.times(packs).minor);
            *work = work.saturating_sub(1);
            if !self.hopes(place, &paid, lacks, brings, crowding) {
                continue;
            }
            self.column.push(Line { packs, ..buy.line });
            self.deliveries.push(Delivery { quantity, ..buy.delivery });
            self.go(place + 1, paid, work);
            self.column.pop();
            self.deliveries.pop();
        }
    }

    /// What sending costs if a first line joins an order, or, for the shares, a supplier's orders.
    fn opening(&self, buy: &Buy) -> Costs {
        let mut known = self.column.iter().filter(|line| line.house == buy.line.house).peekable();
        let paid = known.peek().is_some();
        let sent = self.cheapest.is_some() || known.any(|line| line.place == buy.line.place);
        std::array::from_fn(|lens| {
            let free = if lens == SHARED { paid } else { sent };
            if free { 0.0 } else { buy.fixed[lens] }
        })
    }

    /// True where a way with these packs and so much lacking may stay below the limits.
    fn hopes(&self, from: usize, goods: &Costs, lacking: i64, brought: i64, crowding: f64) -> bool {
        let material = self.material;
        let left_over = (brought + lacking - material.demand_from[0]) as f64;
        (0..LENSES).all(|lens| {
            let unit = self.unit_from[from][lens];
            let rest = if lacking > 0 { unit * lacking as f64 } else { 0.0 };
            // Where a unit costs more than its credit, none is bought for it.
            let most = material.most_credited;
            let credited = if material.unit_credit <= unit { left_over.min(most) } else { most };
            let disposed = material.disposal * (left_over - credited).max(0.0);
            goods[lens] + rest + disposed + crowding - material.unit_credit * credited < self.limits[lens]
        })
    }

    /// Writes a way down that has these costs beside keeping.
    fn note(&mut self, goods: &Costs) {
        let kept = self.kept();
        if let Some(lens) = self.cheapest {
            self.limits[lens] = self.limits[lens].min(goods[lens] + kept);
            return;
        }
        if (0..LENSES).any(|lens| goods[lens] + kept >= self.limits[lens]) {
            return;
        }
        let mut column = self.column.clone();
        column.sort_unstable();
        let mut shares = Vec::new();
        shares_of(self.case, self.material, &column, &mut shares);
        let slots = shares.iter().fold(0, |bits, share| bits | 1_u64 << share.slot);
        let landed = |share: &Share| share.goods as f64 * self.case.landed(self.case.slots[share.slot].supplier);
        let cost = shares.iter().map(landed).sum::<f64>() + kept;
        self.found.push(Way { column, slots, cost, shares });
    }

    /// What keeping and disposal cost, and what does not fit counts as, less the credit.
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
        unit_days as f64 * material.holding + disposed + self.crowding() - credited * material.unit_credit
    }

    /// What does not fit counts as, of the packs so far.
    fn crowding(&self) -> f64 {
        self.material.shelf.as_ref().map_or(0.0, |shelf| shelf.fines(&self.deliveries) as f64)
    }
}
