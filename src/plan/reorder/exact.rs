//! The cheapest plan, proven, where the problem is small enough.
//!
//! For every material all ways to buy it are written down that a plan cheaper than the known one could use. Then it is decided order
//! by order whether it is sent, and what is paid for sending it; each such decision asks for a least or a most of goods or weight.
//! What has not been decided is bounded from below: each material takes its cheapest way, goods that an order still needs being
//! paid for at a price (the Lagrangian dual of the thresholds), and a supplier of whom no order is decided to be sent being paid as the
//! proof of the bound shares its fee out. Ways that this shows to be too dear are left out from there on. Work is counted, so that
//! the result depends on no clock.

use super::Problem;
use super::books::{Column, orders_of};
use super::bound::Proof;
use super::candidates::Case;
use super::evaluate::{evaluate, postage};
use super::fees::rounding;
use super::simple::Filled;
use super::ways::{Costs, Lens, SHARED, Steers, Way, Ways};
use crate::plan::model::Postage;
use crate::plan::money::Price;

/// So much is spent at most on writing the ways down, and on the decisions.
const WORK: (u64, u64) = (14_000_000, 13_000_000);
/// So much of them for each step that the search is granted.
const FOR_A_STEP: (u64, u64) = (10_000, 2_000);
/// Problems with more orders to decide about, or more materials, are not tried.
const MOST_SLOTS: usize = 64;
/// See [`MOST_SLOTS`].
const MOST_MATERIALS: usize = 16;
/// The shares of what a plan may cost beyond the least that are looked at, one after the other.
const SHARES: [f64; 3] = [0.2, 0.5, 1.0];
/// How often the prices are adjusted for one decision.
const ROUNDS: usize = 10;

/// What is paid for sending, and the goods and weight for which that may be so: from the first, below the second.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Mode {
    /// In home minor units, less what rounding could save.
    fee: f64,
    goods: (i64, i64),
    weight: (i64, i64),
}

impl Mode {
    fn allows(&self, goods: i64, weight_mg: i64) -> bool {
        (self.goods.0..self.goods.1).contains(&goods) && (self.weight.0..self.weight.1).contains(&weight_mg)
    }

    /// True where this one can stand in for the other.
    fn contains(&self, other: &Self) -> bool {
        self.fee <= other.fee
            && self.goods.0 <= other.goods.0
            && other.goods.1 <= self.goods.1
            && self.weight.0 <= other.weight.0
            && other.weight.1 <= self.weight.1
    }
}

/// What has been decided.
#[derive(Clone, Debug)]
struct Node {
    /// The orders that may be used, decided or not, as bits.
    allowed: u64,
    /// The orders that are decided.
    decided: u64,
    /// For each order how it is sent.
    modes: Vec<Option<usize>>,
    /// What sending costs so far.
    fees: f64,
    /// What a unit of goods is worth to each order beyond its own cost.
    prices: Vec<f64>,
    /// The suppliers of whom an order is sent, as bits.
    sent: u64,
    /// For each material the places of its ways that may still be used.
    ways: Vec<Vec<u32>>,
}

/// The search for the proof.
struct Exact<'a, 'p> {
    problem: &'p Problem,
    case: &'a Case<'p>,
    steers: Vec<Steers>,
    lenses: [Lens; SHARED],
    proof: &'a Proof,
    ways: Vec<Vec<Way>>,
    /// For each way and each supplier that it uses what the proof of the bound has it pay, if no order of the supplier's is decided.
    dues: Vec<Vec<Vec<(u64, f64)>>>,
    modes: Vec<Vec<Mode>>,
    best: Option<Filled>,
    /// What a plan has to stay below.
    ceiling: f64,
    /// What rounding of credit and keeping could save.
    rounding: f64,
    /// How much may be spent on writing down the ways.
    effort: u64,
    work: u64,
    stop: &'a mut dyn FnMut() -> bool,
}

/// The cheapest plan found, and whether it is certain that there is none below `ceiling` that is cheaper. It is not where finding
/// out would take too long, or `stop` said yes. `columns` are good lines for each material.
pub(super) fn cheapest(
    problem: &Problem,
    case: &Case<'_>,
    (ceiling, columns, proof): (f64, &[Column], &Proof),
    steps: u64,
    stop: &mut dyn FnMut() -> bool,
) -> (Option<Filled>, bool) {
    if !is_small(case) {
        return (None, false);
    }
    let roundings: Vec<f64> = problem.suppliers.iter().map(rounding).collect();
    let modes: Vec<Vec<Mode>> =
        (0..problem.suppliers.len()).map(|place| modes(case, place, roundings[place])).collect();
    let lenses = std::array::from_fn(|lens| self::lens(case, &modes, lens as f64 / (SHARED - 1) as f64));
    let mut exact = Exact {
        problem,
        case,
        steers: roundings.iter().enumerate().map(|(place, own)| Steers::of(case, place, *own)).collect(),
        lenses,
        proof,
        ways: Vec::new(),
        dues: Vec::new(),
        modes,
        best: None,
        ceiling,
        rounding: kept_rounding(case),
        effort: WORK.0.min(steps.saturating_mul(FOR_A_STEP.0)),
        work: 0,
        stop,
    };
    let Some(least) = exact.least(columns) else { return (exact.best, false) };
    // A narrow look first: it may find a cheaper plan, and then the whole look has less to see.
    for share in SHARES {
        exact.work = WORK.1.min(steps.saturating_mul(FOR_A_STEP.1));
        let Some(ways) = exact.all_ways(&least, share) else { return (exact.best, false) };
        exact.dues = exact.all_dues(&ways);
        exact.ways = ways;
        let root = exact.root();
        if !exact.decide(root) {
            return (exact.best, false);
        }
    }
    (exact.best, true)
}

/// True where a proof is tried.
pub(super) fn is_small(case: &Case<'_>) -> bool {
    case.slots.len().max(case.problem.suppliers.len()) <= MOST_SLOTS && case.materials.len() <= MOST_MATERIALS
}

/// What rounding of credit and keeping could save.
fn kept_rounding(case: &Case<'_>) -> f64 {
    let materials = || case.materials.iter();
    let credited = materials().any(|material| material.most_credited > 0.0 && material.unit_credit > 0.0);
    let uncredited = materials().any(|material| material.disposal > 0.0 && material.most_credited > 0.0);
    let broken = |part: (i128, i128)| part.0 % part.1 != 0;
    let kept = case.problem.credits.iter().any(|own| broken(own.holding) || broken(own.disposal));
    0.5 * f64::from(u8::from(credited)) + 0.5 * f64::from(u8::from(kept || uncredited))
}

/// What sending costs at least, `depth` of the way from the lowest to the highest fee.
fn lens(case: &Case<'_>, modes: &[Vec<Mode>], depth: f64) -> Lens {
    let mut lens = Lens::default();
    for (supplier, modes) in modes.iter().enumerate() {
        let fees = || modes.iter().map(|mode| mode.fee);
        let (lowest, highest) = (fees().fold(f64::INFINITY, f64::min), fees().fold(f64::NEG_INFINITY, f64::max));
        let fixed = lowest + depth * (highest - lowest);
        let steep = |mode: &Mode| if mode.fee < fixed { (fixed - mode.fee) / mode.goods.0 as f64 } else { 0.0 };
        let slope = modes.iter().map(steep).fold(0.0, f64::max);
        let sound = slope < 0.9 * case.landed(supplier);
        lens.fixed.push(if sound { fixed } else { lowest });
        lens.slope.push(if sound { slope } else { 0.0 });
    }
    lens
}

/// A fee, and from which to below which goods and weight it is due.
type Band = (i64, (i64, i64), (i64, i64));

/// How a supplier's order may be sent.
fn modes(case: &Case<'_>, supplier: usize, rounding: f64) -> Vec<Mode> {
    let terms = &case.problem.suppliers[supplier];
    let (minimum, free) =
        (terms.minimum_order.minor.max(0), terms.free_postage_from.map_or(i64::MAX, |from| from.minor));
    let by_band = |bands: &[(i64, Price)]| -> Vec<(i64, i64, i64)> {
        let end = |place: usize| bands.get(place + 1).map_or(i64::MAX, |next| next.0);
        bands
            .iter()
            .enumerate()
            .map(|(place, band)| (if place == 0 { 0 } else { band.0 }, end(place), band.1.minor))
            .collect()
    };
    let everything = (0, i64::MAX);
    let mut found: Vec<Band> = match &terms.postage {
        Postage::Flat(fee) => vec![(fee.minor, everything, everything)],
        Postage::ByValue(bands) => {
            let bands: Vec<(i64, Price)> = bands.iter().map(|band| (band.0.minor, band.1)).collect();
            by_band(&bands).into_iter().map(|(from, end, fee)| (fee, (from, end), everything)).collect()
        }
        Postage::ByWeight(bands) => {
            let bands: Vec<(i64, Price)> = bands.iter().map(|band| (band.0.mg, band.1)).collect();
            by_band(&bands).into_iter().map(|(from, end, fee)| (fee, everything, (from, end))).collect()
        }
    };
    if found.is_empty() {
        found.push((0, everything, everything));
    }
    if free < i64::MAX {
        found.push((0, (free, i64::MAX), everything));
    }
    // Paying more than is asked for is never needed, so a mode may reach as far as only cheaper ones follow.
    let reach = |&(fee, goods, weight): &Band| {
        let dearer = |test: &dyn Fn(&Band) -> bool| found.iter().any(|own| own.0 > fee && test(own));
        let goods_from = if dearer(&|own| own.1.0 < goods.0) { goods.0 } else { 0 };
        let goods_end = if dearer(&|own| own.1.0 >= goods.1) { goods.1 } else { i64::MAX };
        let weight_from = if dearer(&|own| own.2.0 < weight.0) { weight.0 } else { 0 };
        let weight_end = if dearer(&|own| own.2.0 >= weight.1) { weight.1 } else { i64::MAX };
        let goods = (goods_from.max(minimum), goods_end);
        Mode { fee: fee as f64 * case.rate(supplier) - rounding, goods, weight: (weight_from, weight_end) }
    };
    let mut modes: Vec<Mode> = found.iter().map(reach).filter(|mode| mode.goods.0 < mode.goods.1).collect();
    modes.sort_by(|one, other| one.fee.total_cmp(&other.fee));
    let mut kept: Vec<Mode> = Vec::new();
    for mode in modes {
        if !kept.iter().any(|other| other.contains(&mode)) {
            kept.push(mode);
        }
    }
    kept
}

impl Exact<'_, '_> {
    /// What a plan has to stay below to be cheaper than the best: amounts are whole.
    fn upper(&self) -> f64 {
        self.ceiling - 1.0 + 1e-6 + self.rounding
    }

    /// What each material costs at least through each lens, sending left aside.
    fn least(&self, columns: &[Column]) -> Option<Vec<Costs>> {
        let mut work = self.effort;
        let own = |(material, column)| self.ways_of(material).least(column, &mut work);
        columns.iter().enumerate().map(own).collect()
    }

    fn ways_of(&self, material: usize) -> Ways<'_, '_> {
        Ways::new(self.case, material, &self.steers, &self.lenses, self.proof)
    }

    /// The ways to buy each material that a plan cheaper than the best could use, or those that keep to a share of what that leaves.
    fn all_ways(&self, least: &[Costs], share: f64) -> Option<Vec<Vec<Way>>> {
        let mut work = self.effort;
        // Only an order that no material's way pays for could be rounded below nothing.
        let saved =
            |lens: &Lens| -> f64 { self.case.slots.iter().map(|slot| lens.fixed[slot.supplier].min(0.0)).sum() };
        let spare: Costs = std::array::from_fn(|lens| {
            let sum: f64 = least.iter().map(|own| own[lens]).sum();
            let saved = if lens == SHARED { -self.proof.prices.loss() } else { saved(&self.lenses[lens]) };
            self.upper() - sum - saved
        });
        let limits = |own: &Costs| std::array::from_fn(|lens| own[lens] + spare[lens] * share + 1e-6);
        let one = |(material, own)| self.ways_of(material).below(limits(own), &mut work);
        least.iter().enumerate().map(one).collect()
    }

    fn all_dues(&self, ways: &[Vec<Way>]) -> Vec<Vec<Vec<(u64, f64)>>> {
        let own = |(material, ways): (usize, &Vec<Way>)| ways.iter().map(|way| self.dues_of(material, way)).collect();
        ways.iter().enumerate().map(own).collect()
    }

    /// What a way pays by the proof of the bound: a share of each supplier's fee, less what goods are worth beyond their price.
    fn dues_of(&self, material: usize, way: &Way) -> Vec<(u64, f64)> {
        let mut dues: Vec<(u64, f64)> = Vec::new();
        for share in &way.shares {
            let slot = &self.case.slots[share.slot];
            let off = self.proof.prices.off(slot.supplier, slot.place as usize);
            let worth = share.goods as f64 * self.case.landed(slot.supplier) * off;
            let bit = 1_u64 << slot.supplier;
            match dues.iter_mut().find(|due| due.0 == bit) {
                Some(due) => due.1 -= worth,
                None => {
                    let house =
                        self.case.materials[material].houses.iter().position(|house| house.supplier == slot.supplier);
                    let charge = house.and_then(|house| self.proof.shares[material].get(house)).copied();
                    dues.push((bit, charge.unwrap_or(0.0) - worth));
                }
            }
        }
        dues
    }

    /// What the proof of the bound counts beside what the materials come to, for suppliers of whom no order is decided to be sent.
    fn unsent(&self, sent: u64) -> f64 {
        let prices = &self.proof.prices;
        let gains = prices.early.iter().filter(|early| sent & 1 << early.supplier == 0).map(|early| early.gain);
        let unsent = (0..prices.stretches.len()).filter(|place| sent & 1 << place == 0);
        let losses = unsent.map(|supplier| prices.loss_of(supplier));
        gains.sum::<f64>() - losses.sum::<f64>()
    }

    /// Nothing is decided, but for those who send anything for nothing: they are always there.
    fn root(&self) -> Node {
        let slots = self.case.slots.len();
        let mut node = Node {
            allowed: if slots == 64 { u64::MAX } else { (1 << slots) - 1 },
            decided: 0,
            modes: vec![None; slots],
            fees: 0.0,
            prices: vec![0.0; slots],
            sent: 0,
            ways: self.ways.iter().map(|ways| (0..ways.len() as u32).collect()).collect(),
        };
        for (place, slot) in self.case.slots.iter().enumerate() {
            let own = &self.modes[slot.supplier];
            let always = Mode { fee: 0.0, goods: (0, i64::MAX), weight: (0, i64::MAX) };
            if let Some(free) = own.iter().position(|mode| mode.contains(&always)) {
                node.decided |= 1 << place;
                node.modes[place] = Some(free);
                node.sent |= 1 << slot.supplier;
                node.fees += own[free].fee;
            }
        }
        node
    }

    /// Searches everything below a decision; false where the work ran out.
    fn decide(&mut self, mut node: Node) -> bool {
        if self.work == 0 || (self.stop)() {
            return false;
        }
        let undecided = !node.decided & node.allowed;
        let joins = |slot: &usize| node.sent & 1 << self.case.slots[*slot].supplier != 0;
        let saved: f64 = self.each(undecided).filter(joins).map(|slot| self.least_fee(slot).min(0.0)).sum();
        let saved = saved + self.unsent(node.sent);
        let Some(picks) = self.bound(&mut node, saved) else { return self.work > 0 };
        let used = picks.iter().enumerate().fold(0, |bits, (material, &way)| bits | self.ways[material][way].slots);
        let fee = |slot: &usize| self.least_fee(*slot);
        let dearest = self.each(used & undecided).max_by(|one, other| fee(one).total_cmp(&fee(other)));
        let Some(slot) = dearest.or_else(|| self.each(undecided).next()) else { return self.combine(&node) };
        node.decided |= 1 << slot;
        let modes = self.modes[self.case.slots[slot].supplier].clone();
        for (place, mode) in modes.iter().enumerate() {
            let mut open = node.clone();
            open.modes[slot] = Some(place);
            open.sent |= 1 << self.case.slots[slot].supplier;
            open.fees += mode.fee;
            if !self.decide(open) {
                return false;
            }
        }
        node.allowed &= !(1 << slot);
        node.prices[slot] = 0.0;
        self.decide(node)
    }

    fn each(&self, bits: u64) -> impl Iterator<Item = usize> + use<> {
        (0..self.case.slots.len()).filter(move |slot| bits & 1 << slot != 0)
    }

    fn least_fee(&self, slot: usize) -> f64 {
        self.modes[self.case.slots[slot].supplier].iter().map(|mode| mode.fee).fold(f64::INFINITY, f64::min)
    }

    /// What an order has to reach.
    fn goal(&self, node: &Node, slot: usize) -> i64 {
        node.modes[slot].map_or(0, |mode| self.modes[self.case.slots[slot].supplier][mode].goods.0)
    }

    /// The ways that the bound picks; `None` where nothing below the decision can be cheaper than the best.
    fn bound(&mut self, node: &mut Node, saved: f64) -> Option<Vec<usize>> {
        let goals: Vec<(usize, i64)> = (0..node.modes.len())
            .filter(|&slot| node.modes[slot].is_some())
            .map(|slot| (slot, self.goal(node, slot)))
            .filter(|goal| goal.1 > 0)
            .collect();
        let mut prices = node.prices.clone();
        let mut best = (f64::NEG_INFINITY, Vec::new());
        let mut pace = 1.0;
        for _ in 0..ROUNDS {
            let (least, picks) = self.pick(node, &prices)?;
            let goods = self.goods(&picks);
            self.try_plan(&picks);
            let value =
                least + node.fees + saved + goals.iter().map(|&(slot, goal)| prices[slot] * goal as f64).sum::<f64>();
            if value >= self.upper() {
                return None;
            }
            if value > best.0 {
                best = (value, picks);
                node.prices.clone_from(&prices);
            } else {
                pace *= 0.6;
            }
            let lacking = |&(slot, goal): &(usize, i64)| -> f64 {
                let lacks = (goal - goods[slot]) as f64;
                if prices[slot] <= 0.0 { lacks.max(0.0) } else { lacks }
            };
            let length: f64 = goals.iter().map(|goal| lacking(goal).powi(2)).sum();
            if length <= 0.0 {
                break;
            }
            let stride = pace * (self.upper() - value) / length;
            let moved: Vec<(usize, f64)> = goals.iter().map(|goal| (goal.0, stride * lacking(goal))).collect();
            for (slot, change) in moved {
                prices[slot] = (prices[slot] + change).max(0.0);
            }
        }
        self.leave_out(node, best.0);
        Some(best.1)
    }

    /// Leaves out the ways that cannot be in a cheaper plan, where the cheapest ones come to `value` at the node's prices.
    fn leave_out(&mut self, node: &mut Node, value: f64) {
        let upper = self.upper();
        for material in 0..self.ways.len() {
            let able = node.ways[material]
                .iter()
                .copied()
                .filter(|&way| self.ways[material][way as usize].slots & !node.allowed == 0);
            let costs: Vec<(u32, f64)> =
                able.map(|way| (way, self.reduced(material, way, &node.prices, node.sent))).collect();
            self.work = self.work.saturating_sub(costs.len() as u64);
            let least = costs.iter().map(|entry| entry.1).fold(f64::INFINITY, f64::min);
            let kept = costs.into_iter().filter(|entry| value + entry.1 - least < upper);
            node.ways[material] = kept.map(|entry| entry.0).collect();
        }
    }

    /// The cheapest way of each material at these prices, and what they come to.
    fn pick(&mut self, node: &Node, prices: &[f64]) -> Option<(f64, Vec<usize>)> {
        let (mut sum, mut picks) = (0.0, Vec::with_capacity(self.ways.len()));
        for (material, ways) in node.ways.iter().enumerate() {
            self.work = self.work.saturating_sub(ways.len() as u64 + 1);
            let able = ways.iter().filter(|&&way| self.ways[material][way as usize].slots & !node.allowed == 0);
            let cost = |&way: &u32| (self.reduced(material, way, prices, node.sent), way as usize);
            let (cost, place) = able.map(cost).min_by(|one, other| one.0.total_cmp(&other.0))?;
            sum += cost;
            picks.push(place);
        }
        Some((sum, picks))
    }

    /// What a way costs where the orders pay so much for goods.
    fn reduced(&self, material: usize, way: u32, prices: &[f64], sent: u64) -> f64 {
        let (way, dues) = (&self.ways[material][way as usize], &self.dues[material][way as usize]);
        let paid = way.shares.iter().map(|share| prices[share.slot] * share.goods as f64);
        let due = dues.iter().filter(|due| sent & due.0 == 0).map(|due| due.1);
        way.cost - paid.sum::<f64>() + due.sum::<f64>()
    }

    fn goods(&self, picks: &[usize]) -> Vec<i64> {
        let mut goods = vec![0; self.case.slots.len()];
        for (ways, &pick) in self.ways.iter().zip(picks) {
            ways[pick].shares.iter().for_each(|share| goods[share.slot] += share.goods);
        }
        goods
    }

    /// Takes a choice of ways as the best plan if it is allowed and cheaper.
    fn try_plan(&mut self, picks: &[usize]) {
        let mut weights = vec![0; self.case.slots.len()];
        let (mut cost, mut used) = (0.0, 0_u64);
        for (ways, &pick) in self.ways.iter().zip(picks) {
            ways[pick].shares.iter().for_each(|share| weights[share.slot] += share.weight_mg);
            cost += ways[pick].cost;
            used |= ways[pick].slots;
        }
        let goods = self.goods(picks);
        for slot in self.each(used) {
            let (supplier, terms) = (self.case.slots[slot].supplier, self.case.terms(slot));
            if goods[slot] < terms.minimum_order.minor {
                return;
            }
            let fee = postage(terms, Price { minor: goods[slot] }, weights[slot]).minor as f64;
            cost += fee * self.case.rate(supplier) - rounding(terms);
        }
        if cost >= self.upper() {
            return;
        }
        let columns: Vec<Column> = self.ways.iter().zip(picks).map(|(ways, &pick)| ways[pick].column.clone()).collect();
        if let Ok(evaluation) = evaluate(self.problem, &orders_of(self.case, &columns)) {
            let counted = evaluation.counted().minor as f64;
            if counted < self.ceiling {
                self.ceiling = counted;
                self.best = Some(Filled { evaluation });
            }
        }
    }

    /// Tries the ways together where every order is decided.
    fn combine(&mut self, node: &Node) -> bool {
        let mut sorted: Vec<Vec<(f64, usize)>> = Vec::new();
        for (material, ways) in node.ways.iter().enumerate() {
            self.work = self.work.saturating_sub(ways.len() as u64);
            let able = ways.iter().filter(|&&way| self.ways[material][way as usize].slots & !node.allowed == 0);
            let cost = |&way: &u32| (self.reduced(material, way, &node.prices, node.sent), way as usize);
            let mut own: Vec<(f64, usize)> = able.map(cost).collect();
            own.sort_by(|one, other| one.0.total_cmp(&other.0).then(one.1.cmp(&other.1)));
            if own.is_empty() {
                return true;
            }
            sorted.push(own);
        }
        let goals = self.each(node.decided).map(|slot| node.prices[slot] * self.goal(node, slot) as f64).sum::<f64>();
        let base = sorted.iter().map(|own| own[0].0).sum::<f64>() + goals + node.fees + self.unsent(node.sent);
        let mut picks = Vec::with_capacity(sorted.len());
        self.join(node, &sorted, base, &mut picks)
    }

    /// Chooses a way for the next material.
    fn join(&mut self, node: &Node, sorted: &[Vec<(f64, usize)>], base: f64, picks: &mut Vec<usize>) -> bool {
        let Some(own) = sorted.get(picks.len()) else {
            if self.reaches(node, picks) {
                self.try_plan(picks);
            }
            return self.work > 0;
        };
        for &(cost, way) in own {
            self.work = self.work.saturating_sub(1);
            if self.work == 0 {
                return false;
            }
            let base = base + cost - own[0].0;
            if base >= self.upper() {
                return true;
            }
            picks.push(way);
            let done = self.join(node, sorted, base, picks);
            picks.pop();
            if !done {
                return false;
            }
        }
        true
    }

    /// True where every order has what its way of sending asks for.
    fn reaches(&self, node: &Node, picks: &[usize]) -> bool {
        let mut held = vec![(0, 0); self.case.slots.len()];
        for (ways, &pick) in self.ways.iter().zip(picks) {
            for share in &ways[pick].shares {
                held[share.slot].0 += share.goods;
                held[share.slot].1 += share.weight_mg;
            }
        }
        let fits = |slot: usize| {
            let mode = node.modes[slot].map(|mode| self.modes[self.case.slots[slot].supplier][mode]);
            mode.is_none_or(|mode| held[slot] == (0, 0) || mode.allows(held[slot].0, held[slot].1))
        };
        self.each(node.allowed).all(fits)
    }
}
