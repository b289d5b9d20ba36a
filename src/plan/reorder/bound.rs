//! A figure that no plan can beat: the materials are taken apart, and each gets its share of the postage.
//!
//! Whoever orders from a supplier in a stretch of its order days at all pays its postage at least once, unless the goods reach the
//! free-postage value. That cost is shared out among the materials that could be bought there (the Lagrangian dual of 'a material that
//! buys here pays here'); then each material is bought alone at the least that its packs, breaks and the days of its requirements
//! allow, whatever the order days. Any way of sharing gives a valid bound; a subgradient method looks for a good one. Rounding in the
//! plan's favour (duty and currency once per order, the credit once) is taken off beforehand.

use super::PlannedOrder;
use super::candidates::Case;
use super::evaluate::number;
use super::exact::is_small;
use super::fees::{Bought, fee};
use super::floor::{Effort, bit};
use super::prices::{Prices, Stretch};
use super::sheet::{Sheet, each};

/// How often the shares are adjusted.
const ROUNDS: u32 = 250;
/// How often they are to see whether other prices lift the bound.
const FEW_ROUNDS: u32 = 60;
/// How much may be spent on other prices, in lines of packs that are tried, for each material; and where the proof for small
/// purchases rests on them.
const WORK: (u64, u64) = (12_000, 15_000);
/// No more materials than this, and the days are looked at one by one where the bound is far off.
pub(super) const FEW: usize = 60;
/// How much may be spent on them for all materials.
const MOST_WORK: u64 = 2_400_000;
/// How many rounds are left at the most once the clock has ended all else.
const LAST_ROUNDS: u32 = 40;
/// The adjustments end once their pace has come down to this.
const LAST_PACE: f64 = 1.0 / 512.0;

/// A bound with what it rests on.
#[derive(Clone, Debug)]
pub(super) struct Proof {
    /// What every plan costs at least, rounding aside.
    pub value: f64,
    /// For each material and door its share of the fixed part of the supplier's fee. Where nothing is cut, doors are houses.
    pub shares: Vec<Vec<f64>>,
    /// What was assumed of the orders.
    pub prices: Prices,
}

impl Proof {
    /// The lower bound on the objective, in whole minor units, rounded down.
    #[must_use]
    pub fn bound(&self) -> i64 {
        rounded_down(self.value)
    }
}

/// What every plan costs at least, in whole minor units, where it costs at least so much but for rounding.
pub(super) fn rounded_down(value: f64) -> i64 {
    let margin = 1e-9 * value.abs() + 1e-3;
    // Credit and keeping are rounded once each, half up: half a minor unit in the plan's favour.
    (value - 1.0 - margin).floor() as i64
}

/// What works bounds out.
pub(super) struct Bounds<'a, 'p> {
    case: &'a Case<'p>,
    sheets: Vec<Sheet<'a>>,
    /// How much may still be spent on other prices.
    work: u64,
    /// The best bound so far.
    pub proof: Proof,
}

impl<'a, 'p> Bounds<'a, 'p> {
    /// A first bound. `orders` are those of a good plan, and `objective` what it costs: they only help to choose among
    /// estimates. Once `stop` says yes, the materials that are left get a quick look only.
    pub fn new(case: &'a Case<'p>, orders: &[PlannedOrder], objective: i64, stop: &mut dyn FnMut() -> bool) -> Self {
        // The proof for small purchases knows nothing of weights, nor of an end of discounts.
        let weighs = !is_small(case);
        let own = |supplier: usize| {
            let mut bought = bought(case, orders, supplier, EVER);
            if !weighs {
                bought.weight_mg = 0.0;
            }
            let mut fee = fee(case, supplier, &Bought { times: 1.0, ..bought.clone() }, EVER);
            if !weighs {
                fee.most_off = f64::INFINITY;
            }
            vec![Stretch { first: 0, last: usize::MAX, fee, weighed: bought.goods.into_keys().collect() }]
        };
        let prices = Prices { stretches: (0..case.sells.len()).map(own).collect(), early: Vec::new() };
        let one = |material| {
            let effort = if stop() { Effort::QUICK } else { Effort::of(case, material) };
            Sheet::new(case, material, &prices, effort)
        };
        let sheets: Vec<Sheet<'a>> = case.materials.iter().map(one).collect();
        let shares = sheets.iter().map(|sheet| vec![0.0; sheet.doors.len()]).collect();
        let work = if is_small(case) { WORK.1 } else { WORK.0 } * case.materials.len() as u64;
        // Where the days are looked at one by one afterwards, half of that is left for them.
        let work = if case.materials.len() <= FEW && !is_small(case) { work / 2 } else { work };
        let work = work.min(MOST_WORK);
        let mut bounds = Self { case, sheets, work, proof: Proof { value: f64::NEG_INFINITY, shares, prices } };
        let prices = bounds.proof.prices.clone();
        let (value, shares) = bounds.shared(&prices, bounds.proof.shares.clone(), (objective as f64, ROUNDS), stop);
        bounds.proof = Proof { value, shares, prices };
        bounds
    }

    /// Takes other prices if they lift the bound; `touched` are the materials for which they matter.
    pub fn attempt(
        &mut self,
        prices: Prices,
        touched: &[usize],
        objective: f64,
        stop: &mut dyn FnMut() -> bool,
    ) -> bool {
        let mut shares = self.proof.shares.clone();
        let mut sheets = Vec::with_capacity(touched.len());
        for &material in touched {
            if self.work == 0 || stop() {
                return false;
            }
            let old = &self.sheets[material];
            let content = &self.case.materials[material];
            let new = Sheet::new(self.case, content, &prices, Effort::of(self.case, content));
            // A part of a stretch asks for as much as the whole did.
            let same = |first: usize, house: usize| {
                let own = old.doors.iter().zip(&self.proof.shares[material]);
                own.rev().find(|own| own.0.house == house && own.0.first <= first).map(|own| *own.1)
            };
            shares[material] = new.doors.iter().map(|door| same(door.first, door.house).unwrap_or(0.0)).collect();
            sheets.push(new);
        }
        self.try_sheets(prices, touched, sheets, shares, objective, stop)
    }

    /// Adjusts the shares once more, for longer.
    pub fn settle(&mut self, objective: f64, stop: &mut dyn FnMut() -> bool) {
        let prices = self.proof.prices.clone();
        let (value, shares) = self.shared(&prices, self.proof.shares.clone(), (objective, ROUNDS), stop);
        if value > self.proof.value {
            self.proof = Proof { value, shares, prices };
        }
    }

    fn try_sheets(
        &mut self,
        prices: Prices,
        touched: &[usize],
        mut sheets: Vec<Sheet<'a>>,
        shares: Vec<Vec<f64>>,
        objective: f64,
        stop: &mut dyn FnMut() -> bool,
    ) -> bool {
        let swap = |own: &mut Self, sheets: &mut Vec<Sheet<'a>>| {
            for (&material, sheet) in touched.iter().zip(sheets) {
                std::mem::swap(&mut own.sheets[material], sheet);
            }
        };
        swap(self, &mut sheets);
        let rounds = if is_small(self.case) { ROUNDS } else { FEW_ROUNDS };
        // What was spent is told by the new sheets, whether they stay or not.
        let spent = |own: &Self| touched.iter().map(|&material| own.sheets[material].work).sum::<u64>();
        let (value, shares) = self.shared(&prices, shares, (objective, rounds), stop);
        self.work = self.work.saturating_sub(spent(self));
        if value <= self.proof.value {
            swap(self, &mut sheets);
            return false;
        }
        self.proof = Proof { value, shares, prices };
        true
    }

    /// The best bound over the rounds of sharing, and the shares that give it; they start from those given, equal ones where there
    /// are none.
    fn shared(
        &mut self,
        prices: &Prices,
        mut shares: Vec<Vec<f64>>,
        (objective, mut rounds): (f64, u32),
        stop: &mut dyn FnMut() -> bool,
    ) -> (f64, Vec<Vec<f64>>) {
        let (loss, fixed) = (prices.loss(), prices.fixed());
        let mut buyers = vec![0.0_f64; fixed.len()];
        for door in self.sheets.iter().flat_map(|sheet| &sheet.doors) {
            buyers[door.number] += 1.0;
        }
        level(&self.sheets, &fixed, &mut shares);
        let mut best = (f64::NEG_INFINITY, shares.clone());
        let (mut pace, mut without_gain) = (1.0, 0);
        let mut used = vec![0_u64; self.sheets.len()];
        while rounds > 0 {
            let mut is_closed = stop();
            rounds = if is_closed { rounds.min(LAST_ROUNDS) } else { rounds } - 1;
            let mut value = 0.0;
            let mut users = vec![0.0_f64; fixed.len()];
            for ((sheet, shares), used) in self.sheets.iter_mut().zip(&shares).zip(&mut used) {
                is_closed = is_closed || stop();
                sheet.is_closed = is_closed;
                let (least, paid) = sheet.least(shares);
                (value, *used) = (value + least, paid);
                each(paid).filter_map(|door| sheet.doors.get(door)).for_each(|door| users[door.number] += 1.0);
            }
            if value > best.0 + 1e-9 * value.abs() {
                (best.0, without_gain) = (value, 0);
                best.1.clone_from(&shares);
            } else {
                without_gain += 1;
                if without_gain == 6 {
                    (pace, without_gain) = (pace / 2.0, 0);
                }
            }
            let distance = pace * (objective + loss - value).max(0.0);
            if pace < LAST_PACE || !adjust(&self.sheets, &fixed, &mut shares, &used, (&users, &buyers), distance) {
                break;
            }
        }
        (best.0 - loss, best.1)
    }
}

/// All days.
const EVER: (i32, i32) = (i32::MIN, i32::MAX);

/// What a plan has from a supplier by orders after a day and through another: how many, goods, and weight of what covers requirements.
pub(super) fn bought(case: &Case<'_>, orders: &[PlannedOrder], supplier: usize, days: (i32, i32)) -> Bought {
    let within = |order: &&PlannedOrder| {
        let day = number(order.order_on);
        order.supplier == case.problem.suppliers[supplier].supplier && days.0 < day && day <= days.1
    };
    let mut bought = Bought::default();
    for order in orders.iter().filter(within) {
        bought.times += 1.0;
        for line in &order.lines {
            let pack = case.problem.offers.iter().find(|pack| pack.offer == line.offer);
            let unit = pack.map_or(0.0, |pack| pack.weight_mg as f64 / pack.quantity.0 as f64);
            bought.weight_mg += unit * (line.quantity - line.left_over).0 as f64;
            *bought.goods.entry(line.item).or_default() += line.price.times(line.packs).minor;
        }
    }
    bought
}

/// Moves the shares towards the materials that would pay them, and keeps their sum; false where they are as they should be.
fn adjust(
    sheets: &[Sheet<'_>],
    fixed: &[f64],
    shares: &mut [Vec<f64>],
    used: &[u64],
    (users, buyers): (&[f64], &[f64]),
    distance: f64,
) -> bool {
    let direction = |place: usize, used: u64, stretch: usize| {
        f64::from(u8::from(used & bit(place) != 0)) - users[stretch] / buyers[stretch].max(1.0)
    };
    let mut length = 0.0;
    for (sheet, &used) in sheets.iter().zip(used) {
        for (place, door) in sheet.doors.iter().enumerate().filter(|own| fixed[own.1.number] > 0.0) {
            length += direction(place, used, door.number).powi(2);
        }
    }
    if length < 1e-12 {
        return false;
    }
    for ((sheet, &used), shares) in sheets.iter().zip(used).zip(shares.iter_mut()) {
        for ((place, door), share) in sheet.doors.iter().enumerate().zip(shares.iter_mut()) {
            *share = (*share + distance / length * direction(place, used, door.number)).max(0.0);
        }
    }
    level(sheets, fixed, shares);
    true
}

/// Brings the shares of each fee to their sum; equal ones where there were none.
fn level(sheets: &[Sheet<'_>], fixed: &[f64], shares: &mut [Vec<f64>]) {
    let (mut sums, mut buyers) = (vec![0.0_f64; fixed.len()], vec![0.0_f64; fixed.len()]);
    for (sheet, shares) in sheets.iter().zip(shares.iter()) {
        for (door, share) in sheet.doors.iter().zip(shares) {
            sums[door.number] += share;
            buyers[door.number] += 1.0;
        }
    }
    for (sheet, shares) in sheets.iter().zip(shares.iter_mut()) {
        for (door, share) in sheet.doors.iter().zip(shares) {
            // A hair less than all of it, so that rounding of the sum never shares out too much.
            let fixed = fixed[door.number].max(0.0) * (1.0 - 1e-12);
            let sum = sums[door.number];
            *share = if sum > 0.0 { *share * fixed / sum } else { fixed / buyers[door.number] };
        }
    }
}
