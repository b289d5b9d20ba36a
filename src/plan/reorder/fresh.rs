//! The least that one material can cost where each order day asks for its due and goods do not last.
//!
//! `course.rs` leaves lives aside. Here the requirements are gone through by day, and what is left is remembered with its last usable
//! day, as in `floor.rs`. What `course.rs` says of the rest tells which states lead nowhere; where there are still too many, those that
//! are left out count with what is known of them. All of that leaves the least cost a bound.

use super::candidates::{Case, Material, USELESS};
use super::course::{Course, Due, Stop};
use super::floor::{lasting, put};
use super::lots::{LOTS, Lot, draw};

/// How many states are kept for each requirement.
const STATES: usize = 300;
/// How many in the first look.
const FEW_STATES: usize = 4;
/// How many orders are tried for one answer.
const WORK: u32 = 40_000;
/// So many ways are remembered.
const KNOWN: usize = 16;
/// Nothing before.
const NOBODY: u32 = u32::MAX;

/// A way to order for a requirement.
#[derive(Clone, Copy, Debug)]
struct Way {
    house: usize,
    slot: usize,
    through: i32,
    due: Due,
}

/// What has been bought so far.
#[derive(Clone, Copy, Debug)]
struct State {
    cost: f64,
    hope: f64,
    lots: [Lot; LOTS],
    /// Its last order.
    order: u32,
}

/// An order with the one before it.
#[derive(Clone, Copy, Debug)]
struct Order {
    before: u32,
    stop: Stop,
}

/// One material whose goods do not last.
#[derive(Debug)]
pub(super) struct Fresh {
    /// For each requirement the ways to order.
    ways: Vec<Vec<Way>>,
    orders: Vec<Order>,
    next: Vec<State>,
    upper: f64,
    unknown: f64,
    work: u32,
    is_first: bool,
    /// The best ways that were found before, latest last, with what each costs beside what is asked for.
    known: Vec<(f64, Vec<Stop>)>,
}

impl Fresh {
    /// For a material with so many requirements.
    pub fn new(needs: usize) -> Self {
        Self {
            ways: vec![Vec::new(); needs],
            orders: Vec::new(),
            next: Vec::new(),
            upper: f64::INFINITY,
            unknown: f64::INFINITY,
            work: 0,
            is_first: false,
            known: Vec::new(),
        }
    }

    /// The least, and the orders that it is bought by. `course` has just been asked the same.
    pub fn least(
        &mut self,
        case: &Case<'_>,
        (material, course): (&Material, &Course),
        dues: &[Vec<Due>],
        stops: &mut Vec<Stop>,
    ) -> f64 {
        self.list_ways(case, material, dues);
        let asked = |stops: &[Stop]| stops.iter().map(|stop| dues[stop.house][stop.slot].asked(stop)).sum::<f64>();
        if self.known.is_empty() {
            (self.upper, self.is_first, self.work) = (f64::INFINITY, true, u32::MAX);
            if let Some(best) = self.run(material, course, FEW_STATES) {
                let path = self.path(&best);
                self.known.push((best.cost - asked(&path), path));
            }
        }
        let costs = self.known.iter().map(|known| known.0 + asked(&known.1));
        let cheapest = costs.enumerate().min_by(|one, other| one.1.total_cmp(&other.1));
        let Some((place, known)) = cheapest else { return course.start() + course.rest(0) };
        stops.clone_from(&self.known[place].1);
        (self.upper, self.is_first, self.work) = (known + 1e-9 * known.abs() + 1e-6, false, WORK);
        self.unknown = f64::INFINITY;
        let Some(best) = self.run(material, course, STATES) else { return self.upper.min(self.unknown) };
        *stops = self.path(&best);
        if best.cost < known - 1e-6 {
            if self.known.len() == KNOWN {
                self.known.remove(0);
            }
            self.known.push((best.cost - asked(stops), stops.clone()));
        }
        best.cost.min(self.unknown)
    }

    /// For each requirement the ways to order what serves it, those left out that another makes needless.
    fn list_ways(&mut self, case: &Case<'_>, material: &Material, dues: &[Vec<Due>]) {
        for (need, ways) in material.needs.iter().zip(&mut self.ways) {
            ways.clear();
            for (place, house) in material.houses.iter().enumerate() {
                let first = ways.len();
                for (slot, &number) in house.slots.iter().enumerate() {
                    let through = house.longest[slot];
                    if through == USELESS || through < need.through || case.slots[number].arrives > need.day {
                        continue;
                    }
                    let way = Way { house: place, slot, through, due: dues[place][slot] };
                    let better =
                        |one: &Way, other: &Way| one.through >= other.through && one.due.is_no_dearer(&other.due);
                    if ways[first..].iter().any(|other| better(other, &way)) {
                        continue;
                    }
                    let mut at = first;
                    while at < ways.len() {
                        if better(&way, &ways[at]) {
                            ways.remove(at);
                        } else {
                            at += 1;
                        }
                    }
                    ways.push(way);
                }
            }
        }
    }

    /// One run; the best state at the end.
    fn run(&mut self, material: &Material, course: &Course, states: usize) -> Option<State> {
        let count = material.needs.len();
        self.orders.clear();
        let lots = [Lot::default(); LOTS];
        let (cost, hope) = (course.start(), course.start() + course.rest(0));
        let mut now = vec![State { cost, hope, lots, order: NOBODY }];
        let mut left = self.work;
        for need in 0..count {
            // Each requirement has its part, so that what is left out is what promises least.
            self.work = if self.is_first { u32::MAX } else { left / (count - need) as u32 };
            left = left.saturating_sub(self.work);
            self.next.clear();
            for state in now.drain(..) {
                self.buy(material, course, need, 0, state);
            }
            left = left.saturating_add(self.work);
            self.thin(material, course, need + 1, states);
            std::mem::swap(&mut now, &mut self.next);
        }
        let worth = |state: &State| {
            let useful = state.lots.iter().filter(|lot| lot.through > material.rule.end);
            let left = useful.map(|lot| lot.quantity).sum::<i64>() as f64;
            state.cost - material.unit_credit * left.min(material.most_credited)
        };
        let ends = now.into_iter().map(|state| State { cost: worth(&state), ..state });
        ends.filter(|state| state.cost < self.upper).min_by(|one, other| one.cost.total_cmp(&other.cost))
    }

    /// What is known of what a state comes to: what is left spares only requirements that it lasts through; the rest of it can be
    /// credited at the most.
    fn hope(material: &Material, course: &Course, need: usize, cost: f64, lots: &[Lot; LOTS]) -> f64 {
        let (mut held, mut useful) = (0, 0);
        for lot in lots.iter().filter(|lot| lot.quantity > 0) {
            let open = material.needs[need..].iter().filter(|open| open.through <= lot.through);
            held += lot.quantity;
            useful += lot.quantity.min(open.map(|open| open.quantity).sum());
        }
        let credited = ((held - useful) as f64).min(material.most_credited);
        let there = material.demand_from[0] - material.demand_from[need] + useful;
        cost + course.rest(there) - material.unit_credit * credited
    }

    /// Tries every order from a way on that is sent for a requirement, and then draws what that takes.
    fn buy(&mut self, material: &Material, course: &Course, need: usize, first: usize, state: State) {
        let wanted = material.needs[need];
        let short = wanted.quantity - lasting(&state.lots, wanted.through);
        if short <= 0 {
            let mut after = state;
            if draw(&mut after.lots, wanted.quantity, wanted.through) == 0 {
                self.next.push(after);
            }
        }
        let longest = state.lots.iter().filter(|lot| lot.quantity > 0).map(|lot| lot.through).max();
        for place in first..self.ways[need].len() {
            let way = self.ways[need][place];
            let is_sooner = longest.is_some_and(|longest| way.through < longest);
            if short <= 0 && (self.is_first || !is_sooner) {
                continue;
            }
            // Where more is taken off than is asked for, two orders may cost less than one.
            let again = match way.due.most_off > way.due.fixed {
                _ if self.is_first => usize::MAX,
                true => place,
                false => place + 1,
            };
            let held: i64 = state.lots.iter().map(|lot| lot.quantity).sum();
            let required = (material.demand_from[need] - held).max(0) as f64;
            for (brought, goods) in course.amounts(way.house) {
                if self.is_first && brought < short {
                    continue;
                }
                if self.work == 0 {
                    self.unknown = self.unknown.min(state.hope);
                    return;
                }
                self.work -= 1;
                let charged = (brought as f64).min(required);
                let stop = Stop { house: way.house, slot: way.slot, goods, charged };
                let mut after = state;
                after.cost += goods + way.due.asked(&stop);
                // Nothing that comes after it costs less than what all left-over is worth.
                if after.cost - material.unit_credit * material.most_credited >= self.upper {
                    break;
                }
                put(&mut after.lots, way.through, brought);
                after.hope = Self::hope(material, course, need, after.cost, &after.lots);
                if after.hope >= self.upper {
                    continue;
                }
                after.order = self.orders.len() as u32;
                self.orders.push(Order { before: state.order, stop });
                self.buy(material, course, need, again, after);
            }
        }
    }

    /// Leaves the states that may lead to the least cost, and no more than so many.
    fn thin(&mut self, material: &Material, course: &Course, need: usize, states: usize) {
        let mut found = std::mem::take(&mut self.next);
        for state in &mut found {
            state.hope = Self::hope(material, course, need, state.cost, &state.lots);
        }
        found.sort_by(|one, other| one.hope.total_cmp(&other.hope).then(one.cost.total_cmp(&other.cost)));
        let mut kept: Vec<State> = Vec::with_capacity(states);
        for state in found {
            if state.hope >= self.upper || kept.iter().any(|other| at_least_as_good(other, &state)) {
                continue;
            }
            if kept.len() == states {
                self.unknown = self.unknown.min(state.hope);
                break;
            }
            kept.push(state);
        }
        self.next = kept;
    }

    /// The orders that led to a state.
    fn path(&self, state: &State) -> Vec<Stop> {
        let mut found = Vec::new();
        let mut at = state.order;
        while let Some(order) = self.orders.get(at as usize) {
            found.push(order.stop);
            at = order.before;
        }
        found
    }
}

/// True where one state costs no more and has as much left for every day.
fn at_least_as_good(one: &State, other: &State) -> bool {
    let days = other.lots.iter().filter(|lot| lot.quantity > 0).map(|lot| lot.through);
    one.cost <= other.cost && days.into_iter().all(|day| lasting(&one.lots, day) >= lasting(&other.lots, day))
}
