//! A figure that no plan can beat, where each order day asks for a due of its own.
//!
//! `bound.rs` shares out what a supplier's orders cost in a stretch of days. Here every day on which an order may be sent has its own
//! lines below what sending costs then, and as much of each line is asked for as lifts the bound: of a line a part may be taken, since
//! nothing that is sent costs less than nothing. The shares of the materials in it are the multipliers of a Lagrangian dual; they
//! are adjusted from those that `bound.rs` has found.

use super::bound::{Proof, bought, rounded_down};
use super::candidates::{Case, House, Material};
use super::course::{Course, Due, Stop};
use super::fees::{Bought, Fee, fee};
use super::fresh::Fresh;
use super::prices::Prices;
use super::{Pack, PlannedOrder};
use crate::plan::model::ItemId;

/// So many lines are told apart for each day: that of the bound, and one that suits the day.
const LINES: usize = 2;
/// How often the shares are adjusted.
const ROUNDS: u32 = 100;
/// How often the shares of a day are brought nearer to what may be asked for in all.
const ROUNDS_OF_LEVELLING: u32 = 5;
/// So many parts of a line are told apart.
const STEPS: f64 = 256.0;
/// The adjustments end once their pace has come down to this.
const LAST_PACE: f64 = 1.0 / 256.0;
/// The pace of the first adjustment, and how much faster it becomes with each gain.
const FIRST_PACE: f64 = 0.1;
const FASTER: f64 = 1.1;
/// How much the last round counts in the mean over all.
const NEW: f64 = 0.2;
/// So many rounds may pass without a gain before the pace is halved.
const PATIENCE: u32 = 8;

/// A line below what sending costs on one day.
#[derive(Clone, Debug, Default, PartialEq)]
struct Line {
    fee: Fee,
    /// The items whose weight counts, in order.
    weighed: Vec<ItemId>,
}

/// For each material and house an amount for each line of each slot.
type Shares = Vec<Vec<Vec<f64>>>;

/// The dual.
pub(super) struct Dues<'a, 'p> {
    case: &'a Case<'p>,
    /// For each supplier the lines of its slots, one slot after the other.
    lines: Vec<Vec<Line>>,
    /// For each supplier the share of its goods that rounding leaves, and what of that is left whatever is taken off.
    kept: Vec<(f64, f64)>,
    courses: Vec<Course>,
    /// The same for those whose goods do not last.
    fresh: Vec<Option<Fresh>>,
    shares: Shares,
    /// What rounding could save in all orders whose sending costs nothing.
    loss: f64,
    /// The best bound so far.
    value: f64,
}

impl<'a, 'p> Dues<'a, 'p> {
    /// The bound that is reached from another one, in whole minor units, rounded down. `orders` are those of a good plan, and `objective`
    /// is what it costs: they only help to choose.
    pub fn lifted(
        case: &'a Case<'p>,
        orders: &[PlannedOrder],
        proof: &Proof,
        objective: f64,
        stop: &mut dyn FnMut() -> bool,
    ) -> i64 {
        let mut dues = Self::new(case, orders, proof);
        dues.adjust(objective, ROUNDS, stop);
        rounded_down(dues.value.max(proof.value))
    }

    /// Lays all days out, for a good plan.
    fn new(case: &'a Case<'p>, orders: &[PlannedOrder], proof: &Proof) -> Self {
        let own = |supplier: usize| {
            let slots = 0..case.own_slots[supplier].len();
            slots.flat_map(move |place| lines_of(case, orders, proof, (supplier, place)))
        };
        let lines: Vec<Vec<Line>> = (0..case.sells.len()).map(|supplier| own(supplier).collect()).collect();
        let free = lines.iter().flat_map(|own| own.chunks(LINES)).filter(|own| own[0].fee.fixed <= 0.0);
        let loss = free.map(|own| own[1].fee.loss).sum();
        let kept: Vec<(f64, f64)> = lines.iter().map(|own| kept(own)).collect();
        let courses: Vec<Course> = case.materials.iter().map(|material| Course::new(case, material, &kept)).collect();
        let fresh = |(material, course): (&Material, &Course)| {
            (!material.lasts && course.is_exact()).then(|| Fresh::new(material.needs.len()))
        };
        let fresh = case.materials.iter().zip(&courses).map(fresh).collect();
        let shares = first_shares(case, proof, &lines);
        Self { case, lines, kept, courses, fresh, shares, loss, value: f64::NEG_INFINITY }
    }

    /// Adjusts the shares so often. The way uphill is a mean over the rounds, since the last one alone leads astray where the best
    /// shares are an edge between many ways to buy; each step starts from the best shares so far.
    fn adjust(&mut self, objective: f64, rounds: u32, stop: &mut dyn FnMut() -> bool) {
        let (mut pace, mut without_gain) = (FIRST_PACE, 0);
        let mut best = self.shares.clone();
        let mut mean: Option<Shares> = None;
        for _ in 0..rounds {
            if stop() || pace < LAST_PACE {
                break;
            }
            let (value, uphill) = self.look();
            let mean = match &mut mean {
                None => mean.insert(uphill),
                Some(mean) => {
                    let each = mean.iter_mut().flatten().flatten().zip(uphill.iter().flatten().flatten());
                    each.for_each(|(mean, up)| *mean += NEW * (up - *mean));
                    mean
                }
            };
            if value > self.value + 1e-9 * value.abs() {
                (self.value, without_gain) = (value, 0);
                best.clone_from(&self.shares);
                pace *= FASTER;
            } else {
                without_gain += 1;
                if without_gain == PATIENCE {
                    (pace, without_gain) = (pace / 2.0, 0);
                }
                self.shares.clone_from(&best);
            }
            if !self.step(mean.clone(), pace * (objective - self.value).max(0.0)) {
                break;
            }
        }
        self.shares = best;
    }

    /// The bound with the shares as they are, and for each share how much a unit more of it lifts it.
    fn look(&mut self) -> (f64, Shares) {
        let case = self.case;
        let parts = self.parts();
        let mut value = -self.loss;
        let mut stops: Vec<Stop> = Vec::new();
        let mut uphill = self.shares.clone();
        uphill.iter_mut().flatten().for_each(|own| own.fill(0.0));
        let mut beside: Vec<Vec<f64>> = self.lines.iter().map(|own| vec![0.0; own.len()]).collect();
        let mut dues: Vec<Vec<Due>> = Vec::new();
        for (place, material) in case.materials.iter().enumerate() {
            dues.clear();
            for (house, shares) in material.houses.iter().zip(&self.shares[place]) {
                dues.push(self.dues_of(house, shares, &parts[house.supplier]));
            }
            let mut least = self.courses[place].least(&dues, &mut stops);
            if let Some(fresh) = &mut self.fresh[place] {
                least = least.max(fresh.least(case, (material, &self.courses[place]), &dues, &mut stops));
            }
            value += least;
            for stop in &stops {
                let house = &material.houses[stop.house];
                for at in stop.slot * LINES..(stop.slot + 1) * LINES {
                    let line = &self.lines[house.supplier][at];
                    if line.fee.fixed > 0.0 {
                        uphill[place][stop.house][at] += 1.0;
                        let whole = due(case, house, line, self.kept[house.supplier].0, (1.0, 0.0));
                        beside[house.supplier][at] += whole.asked(stop) / line.fee.fixed;
                    }
                }
            }
        }
        for (material, uphill) in case.materials.iter().zip(&mut uphill) {
            for (house, uphill) in material.houses.iter().zip(uphill) {
                uphill.iter_mut().zip(&beside[house.supplier]).for_each(|(own, beside)| *own += beside);
            }
        }
        (value, uphill)
    }

    /// What a material is asked for in each slot of one of its houses.
    fn dues_of(&self, house: &House, shares: &[f64], parts: &[f64]) -> Vec<Due> {
        let lines = self.lines[house.supplier].chunks(LINES);
        let asked = shares.chunks(LINES).zip(parts.chunks(LINES));
        let both = |(lines, (shares, parts)): (&[Line], (&[f64], &[f64]))| {
            let each = lines.iter().zip(shares.iter().zip(parts));
            let kept = self.kept[house.supplier].0;
            let own = each.map(|(line, (share, part))| due(self.case, house, line, kept, (*part, *share)));
            own.fold(Due::default(), |one, other| one.and(&other))
        };
        lines.zip(asked).map(both).collect()
    }

    /// For each line the part of it that is asked for.
    fn parts(&self) -> Vec<Vec<f64>> {
        let mut sums: Vec<Vec<f64>> = self.lines.iter().map(|own| vec![0.0; own.len()]).collect();
        for (material, shares) in self.case.materials.iter().zip(&self.shares) {
            for (house, shares) in material.houses.iter().zip(shares) {
                sums[house.supplier].iter_mut().zip(shares).for_each(|(sum, share)| *sum += share);
            }
        }
        for (sum, line) in sums.iter_mut().flatten().zip(self.lines.iter().flatten()) {
            *sum = if line.fee.fixed > 0.0 { *sum / line.fee.fixed } else { 0.0 };
        }
        sums
    }

    /// Moves the shares uphill; false where that is not possible.
    fn step(&mut self, mut uphill: Shares, distance: f64) -> bool {
        let is_full: Vec<Vec<bool>> =
            self.asked().iter().map(|own| own.iter().map(|all| *all > 1.0 - 1e-6).collect()).collect();
        // Where a whole line is asked for, one share can only grow as another becomes less, and none below nothing.
        let mut excess: Vec<Vec<f64>> = is_full.iter().map(|own| vec![0.0; own.len()]).collect();
        for _ in 0..ROUNDS_OF_LEVELLING {
            let mut sums: Vec<Vec<(f64, f64)>> = is_full.iter().map(|own| vec![(0.0, 0.0); own.len()]).collect();
            self.each(&mut uphill, |supplier, slot, weight, share, up| {
                if *share > 0.0 || *up > excess[supplier][slot] * weight {
                    let sum = &mut sums[supplier][slot];
                    *sum = (sum.0 + *up * weight, sum.1 + weight * weight);
                }
            });
            for (excess, sum) in excess.iter_mut().flatten().zip(sums.iter().flatten()) {
                *excess = if sum.1 > 0.0 { (sum.0 / sum.1).max(0.0) } else { 0.0 };
            }
        }
        let mut length = 0.0;
        self.each(&mut uphill, |supplier, slot, weight, share, up| {
            if is_full[supplier][slot] {
                *up -= excess[supplier][slot] * weight;
            }
            if weight == 0.0 || *up < 0.0 && *share <= 0.0 {
                *up = 0.0;
            }
            length += *up * *up;
        });
        if length < 1e-12 {
            return false;
        }
        self.each(&mut uphill, |_, _, _, share, up| *share += distance / length * *up);
        self.level(&mut uphill);
        true
    }

    /// Asks for no more than one whole line on each day, and for nothing below nothing: the shares that lie nearest.
    fn level(&mut self, scratch: &mut Shares) {
        self.each(scratch, |_, _, _, share, wished| *wished = *share);
        let mut less: Vec<Vec<f64>> = self.lines.iter().map(|own| vec![0.0; own.len() / LINES]).collect();
        for _ in 0..ROUNDS_OF_LEVELLING {
            let mut sums: Vec<Vec<(f64, f64)>> = less.iter().map(|own| vec![(0.0, 0.0); own.len()]).collect();
            self.each(scratch, |supplier, slot, weight, share, wished| {
                *share = (*wished - less[supplier][slot] * weight).max(0.0);
                if *share > 0.0 {
                    let sum = &mut sums[supplier][slot];
                    *sum = (sum.0 + *share * weight, sum.1 + weight * weight);
                }
            });
            for (less, sum) in less.iter_mut().flatten().zip(sums.iter().flatten()) {
                *less += if sum.0 > 1.0 { (sum.0 - 1.0) / sum.1 } else { 0.0 };
            }
        }
        let asked = self.asked();
        self.each(scratch, |supplier, slot, _, share, _| {
            // A hair less than all of it, so that rounding of the sum never asks for too much.
            *share *= (1.0 - 1e-12) / asked[supplier][slot].max(1.0);
        });
    }

    /// How many lines are asked for on each day.
    fn asked(&self) -> Vec<Vec<f64>> {
        let parts = self.parts();
        parts.iter().map(|own| own.chunks(LINES).map(|own| own.iter().sum()).collect()).collect()
    }

    /// Goes through all shares with another figure for each: supplier, slot, what part of the line a unit is, share and figure.
    fn each(&mut self, figures: &mut Shares, mut act: impl FnMut(usize, usize, f64, &mut f64, &mut f64)) {
        for ((material, figures), shares) in self.case.materials.iter().zip(figures).zip(&mut self.shares) {
            for ((house, figures), shares) in material.houses.iter().zip(figures).zip(shares) {
                let lines = &self.lines[house.supplier];
                for (at, (figure, share)) in figures.iter_mut().zip(shares).enumerate() {
                    let fixed = lines[at].fee.fixed;
                    let weight = if fixed > 0.0 { 1.0 / fixed } else { 0.0 };
                    act(house.supplier, at / LINES, weight, share, figure);
                }
            }
        }
    }
}

/// The lines for one slot: that of the bound where it has one, and that which suits what the plan buys there, if any does, else the
/// steepest.
fn lines_of(
    case: &Case<'_>,
    orders: &[PlannedOrder],
    proof: &Proof,
    (supplier, place): (usize, usize),
) -> [Line; LINES] {
    let stretch = proof.prices.stretch(supplier, place);
    let known = match stretch.fee.fixed > 0.0 {
        true => Line { fee: stretch.fee, weighed: stretch.weighed.clone() },
        false => Line::default(),
    };
    let last = if place + 1 == case.own_slots[supplier].len() { usize::MAX } else { place };
    let days = Prices::days(case, supplier, place, last);
    let bought = bought(case, orders, supplier, days);
    let mut own = fee(case, supplier, &bought, days);
    let mut weighed: Vec<ItemId> = bought.goods.into_keys().collect();
    if own.fixed <= 0.0 || (own == known.fee && weighed == known.weighed) {
        own = fee(case, supplier, &Bought::default(), days);
        weighed.clear();
    }
    [known, Line { fee: own, weighed }]
}

/// The share of a supplier's goods that rounding leaves, and what of that is left whatever is taken off.
fn kept(lines: &[Line]) -> (f64, f64) {
    let most = |own: &dyn Fn(&Fee) -> f64| lines.iter().map(|line| own(&line.fee)).fold(0.0, f64::max);
    let rounding = 1.0 - most(&|fee| fee.rounding);
    (rounding, (1.0 - most(&|fee| fee.discount) / rounding).max(0.0))
}

/// What a material is asked for by a part of a line, and a share of it.
fn due(case: &Case<'_>, house: &House, line: &Line, kept: f64, (part, share): (f64, f64)) -> Due {
    let fee = &line.fee;
    if fee.fixed <= 0.0 || part <= 0.0 {
        return Due::default();
    }
    // Days that ask for nearly as much as each other are not told apart: that is quicker.
    let (less, more) = ((part * STEPS + 1e-9).floor() / STEPS, (part * STEPS - 1e-9).ceil() / STEPS);
    let packs = house.offers.iter().map(|&offer| &case.problem.offers[offer]);
    let counted = packs.filter(|pack| line.weighed.binary_search(&pack.item).is_ok());
    let unit = |pack: &Pack| pack.weight_mg as f64 / pack.quantity.0 as f64;
    let lightest = counted.map(unit).fold(f64::INFINITY, f64::min);
    let charge = if lightest.is_finite() { less * fee.by_weight * lightest } else { 0.0 };
    Due { fixed: share, discount: more * fee.discount / kept, most_off: more * fee.most_off, charge }
}

/// The shares that the bound has found for whole stretches, for each day of them.
fn first_shares(case: &Case<'_>, proof: &Proof, lines: &[Vec<Line>]) -> Shares {
    let own = |(material, shares): (&Material, &Vec<f64>)| {
        let doors = proof.prices.doors(material);
        let of_house = |(house, sold): (usize, &House)| {
            let share = |at: usize| {
                let place = at / LINES;
                let opens =
                    |door: &super::prices::Door| door.house == house && door.first <= place && place <= door.last;
                let door = doors.iter().position(opens).filter(|_| at.is_multiple_of(LINES));
                door.map_or(0.0, |door| shares[door] * (1.0 - 1e-12))
            };
            (0..lines[sold.supplier].len()).map(share).collect()
        };
        material.houses.iter().enumerate().map(of_house).collect()
    };
    case.materials.iter().zip(&proof.shares).map(own).collect()
}
