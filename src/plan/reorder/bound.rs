//! A figure that no plan can beat: the materials are taken apart, and each gets its share of the postage.
//!
//! Whoever orders from a supplier at all pays its postage at least once, unless the goods reach the free-postage value. That cost is
//! shared out among the materials that could be bought there (the Lagrangian dual of 'a material that buys here pays here');
//! then each material is bought alone at the least that its packs, breaks and the days of its requirements allow, whatever the
//! order days. Any way of sharing gives a valid bound; a subgradient method looks for a good one. Rounding in the plan's favour (duty
//! and currency once per order, the credit once) is taken off beforehand.

use super::PlannedOrder;
use super::candidates::{Case, Material};
use super::fees::{Fee, fee};
use super::floor::{Effort, Floor, bit};
use super::totals::Totals;

/// How often the shares are adjusted.
const ROUNDS: u32 = 250;
/// A material with more houses than this is not looked at for every set of them.
const FEW_HOUSES: usize = 5;

/// What one material costs at least where it is bought from these houses, given as bits.
#[derive(Clone, Copy, Debug)]
struct Choice {
    houses: u32,
    least: f64,
}

/// One material as the bound sees it.
#[derive(Clone, Debug, Default)]
struct Sheet {
    suppliers: Vec<usize>,
    choices: Vec<Choice>,
    /// What it costs at least where it is bought from four houses or more that no choice names.
    many: f64,
    /// The houses whose postage is shared out.
    paid: u32,
}

/// What the bound assumes of the orders.
#[derive(Clone, Debug)]
pub(super) struct Prices {
    /// For each supplier.
    pub fees: Vec<Fee>,
    /// What early goods are worth beyond their price, since an early order has a minimum.
    pub early: Vec<Early>,
}

/// Every plan has an order of this supplier by this slot: goods by then may be worth more than their price, up to its minimum.
#[derive(Clone, Copy, Debug)]
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

impl Prices {
    /// The share that is taken off a supplier's goods in one of its slots.
    #[must_use]
    pub fn off(&self, supplier: usize, place: usize) -> f64 {
        let early = self.early.iter().filter(|early| early.supplier == supplier && place <= early.place);
        self.fees[supplier].discount + early.map(|early| early.off).sum::<f64>()
    }

    /// Taken off what the materials come to: rounding, less what early minimums count for.
    #[must_use]
    pub fn loss(&self) -> f64 {
        self.fees.iter().map(|fee| fee.loss).sum::<f64>() - self.early.iter().map(|early| early.gain).sum::<f64>()
    }
}

/// A bound with what it rests on.
#[derive(Clone, Debug)]
pub(super) struct Proof {
    /// What every plan costs at least, rounding aside.
    pub value: f64,
    sheets: Vec<Sheet>,
    /// For each material and house its share of the fixed part of the supplier's fee.
    pub shares: Vec<Vec<f64>>,
    /// What was assumed of the orders.
    pub prices: Prices,
}

impl Proof {
    /// The same with other prices; `touched` are the materials for which they matter. `objective` is what a good plan costs.
    pub fn with(&self, case: &Case<'_>, prices: Prices, touched: &[usize], objective: f64) -> Self {
        let mut sheets = self.sheets.clone();
        for &material in touched {
            sheets[material] = sheet(case, &case.materials[material], &prices);
        }
        Self::of(sheets, prices, Some(&self.shares), objective)
    }

    /// The lower bound on the objective, in whole minor units, rounded down.
    #[must_use]
    pub fn bound(&self) -> i64 {
        let margin = 1e-9 * self.value.abs() + 1e-3;
        // Credit and keeping are rounded once each, half up: half a minor unit in the plan's favour.
        (self.value - 1.0 - margin).floor() as i64
    }

    fn of(sheets: Vec<Sheet>, prices: Prices, shares: Option<&[Vec<f64>]>, objective: f64) -> Self {
        let loss = prices.loss();
        let (value, shares) = dual(&sheets, &prices.fees, shares, objective + loss);
        Self { value: value - loss, sheets, shares, prices }
    }
}

/// A figure that no plan can beat. `orders` are those of a good plan, and `objective` what it costs: they only help to choose among
/// estimates. Once `stop` says yes, the materials that are left get a quick look only.
#[must_use]
pub(super) fn proof(case: &Case<'_>, orders: &[PlannedOrder], objective: i64, stop: &mut dyn FnMut() -> bool) -> Proof {
    let goods = |supplier: usize| {
        let own = orders.iter().filter(|order| order.supplier == case.problem.suppliers[supplier].supplier);
        own.fold(0, |sum: i64, order| sum.saturating_add(order.goods.minor))
    };
    let fees = (0..case.sells.len()).map(|supplier| fee(case, supplier, goods(supplier))).collect();
    let prices = Prices { fees, early: Vec::new() };
    let one = |material| if stop() { plain(case, material, &prices) } else { sheet(case, material, &prices) };
    let sheets: Vec<Sheet> = case.materials.iter().map(one).collect();
    Proof::of(sheets, prices, None, objective as f64)
}

/// One material by a quick look at its amounts, whoever sells it.
fn plain(case: &Case<'_>, material: &Material, prices: &Prices) -> Sheet {
    let least = Totals::new(case, material, prices).least_of(u32::MAX, f64::INFINITY, 24);
    Sheet { many: f64::INFINITY, paid: 0, suppliers: Vec::new(), choices: vec![Choice { houses: 0, least }] }
}

/// One material laid out for the bound.
fn sheet(case: &Case<'_>, material: &Material, prices: &Prices) -> Sheet {
    let mut floor = Floor::new(case, material, prices, Effort::of(case.materials.len()));
    let all = floor.least();
    // Houses that send for nothing may always be used.
    let (mut free, mut paid) = (0_u32, Vec::new());
    for (place, house) in material.houses.iter().enumerate() {
        match prices.fees[house.supplier].fixed > 0.0 {
            true => paid.push(bit(place)),
            false => free |= bit(place),
        }
    }
    let mut sets: Vec<u32> = if paid.len() <= FEW_HOUSES {
        let bits =
            |set: u32| (0..paid.len()).filter(|place| set & bit(*place) != 0).fold(free, |bits, at| bits | paid[at]);
        (0..1_u32 << paid.len()).map(bits).collect()
    } else {
        let pairs = paid.iter().flat_map(|one| paid.iter().map(move |other| free | one | other));
        std::iter::once(free).chain(pairs.flat_map(|pair| paid.iter().map(move |third| pair | third))).collect()
    };
    sets.retain(|houses| *houses != 0);
    sets.sort_by_key(|houses| (houses.count_ones(), *houses));
    sets.dedup();
    let mut choices: Vec<Choice> = Vec::new();
    let noise = 1e-9 * all.abs() + 1e-9;
    for houses in sets {
        // Fewer houses that do as well are never worse.
        let within = choices.iter().filter(|choice| choice.houses & !houses == 0);
        let known = within.map(|choice| choice.least).fold(f64::INFINITY, f64::min);
        if known <= all + noise {
            continue;
        }
        let least = floor.least_of(houses, known);
        if least < known - noise {
            choices.push(Choice { houses, least });
        }
    }
    let many = if paid.len() <= FEW_HOUSES { f64::INFINITY } else { all };
    let paid = paid.iter().fold(0, |bits, bit| bits | bit);
    Sheet { suppliers: material.houses.iter().map(|house| house.supplier).collect(), choices, many, paid }
}

impl Sheet {
    /// The least with these shares, and the houses used.
    fn least(&self, shares: &[f64]) -> (f64, u32) {
        let mut best = (f64::INFINITY, 0);
        if self.many < f64::INFINITY {
            let mut sorted: Vec<(f64, usize)> = shares.iter().copied().zip(0..).collect();
            sorted.retain(|entry| self.paid & bit(entry.1) != 0);
            sorted.sort_by(|one, other| one.0.total_cmp(&other.0));
            let four = &sorted[..sorted.len().min(4)];
            best = (
                self.many + four.iter().map(|entry| entry.0).sum::<f64>(),
                four.iter().fold(0, |bits, entry| bits | bit(entry.1)),
            );
        }
        for choice in &self.choices {
            let mut cost = choice.least;
            let mut left = choice.houses;
            while left != 0 {
                cost += shares[left.trailing_zeros() as usize];
                left &= left - 1;
            }
            if cost < best.0 {
                best = (cost, choice.houses);
            }
        }
        best
    }
}

/// The best bound over the rounds of sharing, and the shares that give it; they start from those that are known.
fn dual(sheets: &[Sheet], fees: &[Fee], known: Option<&[Vec<f64>]>, objective: f64) -> (f64, Vec<Vec<f64>>) {
    let mut buyers = vec![0.0_f64; fees.len()];
    for supplier in sheets.iter().flat_map(|sheet| &sheet.suppliers) {
        buyers[*supplier] += 1.0;
    }
    let equal = |sheet: &Sheet| -> Vec<f64> {
        sheet.suppliers.iter().map(|&supplier| fees[supplier].fixed / buyers[supplier]).collect()
    };
    let mut shares: Vec<Vec<f64>> = sheets.iter().map(equal).collect();
    if let Some(known) = known {
        shares.clone_from_slice(known);
        level(sheets, fees, &mut shares);
    }
    let mut best = f64::NEG_INFINITY;
    let mut best_shares = shares.clone();
    let mut pace = 1.0;
    let mut without_gain = 0;
    for _ in 0..ROUNDS {
        let mut value = 0.0;
        let mut uses: Vec<Vec<f64>> = Vec::with_capacity(sheets.len());
        let mut users = vec![0.0_f64; fees.len()];
        for (sheet, shares) in sheets.iter().zip(&shares) {
            let (least, used) = sheet.least(shares);
            value += least;
            let own: Vec<f64> = (0..shares.len()).map(|house| f64::from(u8::from(used & bit(house) != 0))).collect();
            for (&supplier, used) in sheet.suppliers.iter().zip(&own) {
                users[supplier] += used;
            }
            uses.push(own);
        }
        if value > best + 1e-9 * value.abs() {
            best = value;
            best_shares.clone_from(&shares);
            without_gain = 0;
        } else {
            without_gain += 1;
            if without_gain == 6 {
                (pace, without_gain) = (pace / 2.0, 0);
            }
        }
        adjust(sheets, fees, &mut shares, &uses, &users, &buyers, pace * (objective - value).max(0.0));
    }
    (best, best_shares)
}

/// Moves the shares towards the materials that would pay them, and keeps their sum.
fn adjust(
    sheets: &[Sheet],
    fees: &[Fee],
    shares: &mut [Vec<f64>],
    uses: &[Vec<f64>],
    users: &[f64],
    buyers: &[f64],
    distance: f64,
) {
    let direction = |supplier: usize, used: f64| used - users[supplier] / buyers[supplier].max(1.0);
    let mut length = 0.0;
    for (sheet, uses) in sheets.iter().zip(uses) {
        for (&supplier, &used) in sheet.suppliers.iter().zip(uses) {
            if fees[supplier].fixed > 0.0 {
                length += direction(supplier, used).powi(2);
            }
        }
    }
    if length < 1e-12 {
        return;
    }
    for ((sheet, uses), shares) in sheets.iter().zip(uses).zip(shares.iter_mut()) {
        for ((&supplier, &used), share) in sheet.suppliers.iter().zip(uses).zip(shares.iter_mut()) {
            *share = (*share + distance / length * direction(supplier, used)).max(0.0);
        }
    }
    level(sheets, fees, shares);
}

/// Brings the shares of each supplier's fee to their sum; equal ones where there were none.
fn level(sheets: &[Sheet], fees: &[Fee], shares: &mut [Vec<f64>]) {
    let (mut sums, mut buyers) = (vec![0.0_f64; fees.len()], vec![0.0_f64; fees.len()]);
    for (sheet, shares) in sheets.iter().zip(shares.iter()) {
        for (&supplier, share) in sheet.suppliers.iter().zip(shares) {
            sums[supplier] += share;
            buyers[supplier] += 1.0;
        }
    }
    for (sheet, shares) in sheets.iter().zip(shares.iter_mut()) {
        for (&supplier, share) in sheet.suppliers.iter().zip(shares.iter_mut()) {
            // A hair less than all of it, so that rounding of the sum never shares out too much.
            let fixed = fees[supplier].fixed * (1.0 - 1e-12);
            *share = if sums[supplier] > 0.0 { *share * fixed / sums[supplier] } else { fixed / buyers[supplier] };
        }
    }
}
