//! From a problem to its plan.

use super::beside::beside;
use super::books::Column;
use super::bound::{Bounds, FEW};
use super::candidates::Case;
use super::cuts::cut;
use super::dues::Dues;
use super::evaluate::ChosenOrder;
use super::exact;
use super::given;
use super::material::Planner;
use super::press::press;
use super::search::Search;
use super::simple::{self, Filled};
use super::{PlannedOrder, Problem, ReorderPlan};
use crate::plan::money::Money;

/// How far the search goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// How many times a material may be planned anew, by the long search; a short one beside it takes no more. The same count gives the
    /// same plan on every machine.
    pub steps: u64,
}

impl Limits {
    /// What a maker may wait for: a step takes longer the more requirements there are, so the more materials, the fewer; but each
    /// material is planned anew a few times.
    #[must_use]
    pub fn for_problem(problem: &Problem) -> Self {
        let mut materials: Vec<_> = problem.requirements.iter().map(|requirement| requirement.item).collect();
        materials.dedup();
        let count = materials.len().max(1) as u64;
        Self { steps: (240_000 / count).max(STEPS_FOR_A_MATERIAL * count).clamp(200, 8_000) }
    }
}

/// The cheapest plan found, with a figure that no plan can beat. It covers every requirement and keeps every rule; it never
/// costs more than buying each material alone.
///
/// `None` for a problem that breaks its promise: a requirement that no offer can serve in time.
///
/// `stop` is asked before each step of the search and of the bound, not while the first plan and the first bound are made; once it
/// says yes, the best plan so far is returned and marked as not searched to the end.
#[must_use]
pub fn solve(problem: &Problem, limits: &Limits, stop: &mut dyn FnMut() -> bool) -> Option<ReorderPlan> {
    solve_from(problem, limits, &[], stop).map(|found| found.best)
}

/// What is found from given orders.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// The cheapest plan found, the given orders among the starts of the search.
    pub best: ReorderPlan,
    /// The given orders as far as they may still be placed and cover something, and the cheapest lines beside them for what
    /// they leave open. It has the bound of the best plan. `None` where that breaks a rule, or no order was given.
    pub kept: Option<ReorderPlan>,
}

/// As [`solve`], with orders that a plan had before: the search starts from them too.
#[must_use]
pub fn solve_from(
    problem: &Problem,
    limits: &Limits,
    given: &[ChosenOrder],
    stop: &mut dyn FnMut() -> bool,
) -> Option<Found> {
    if problem.requirements.is_empty() {
        return Some(Found { best: NOTHING, kept: (!given.is_empty()).then_some(NOTHING) });
    }
    let case = Case::new(problem, given);
    let mut planner = Planner::default();
    planner.is_hasty = true;
    let lowest = simple::each_at_lowest_price(&case, &mut planner);
    let cheap = simple::filled(problem, &case, lowest.clone());
    planner.is_hasty = false;
    let kept = (!given.is_empty()).then(|| given::kept(&case, given, &mut planner));
    let kept_filled = kept.as_ref().and_then(|columns| simple::filled(problem, &case, columns.clone()));
    let mut alone = None;
    let mut first = kept_filled.iter().chain(&cheap).min_by_key(|filled| filled.evaluation.counted()).cloned();
    if first.is_none() {
        let closer = simple::each_at_lowest_price(&case, &mut planner);
        first = simple::filled(problem, &case, closer);
    }
    if first.is_none() {
        let columns = alone.insert(simple::each_alone(&case, &mut planner));
        first = simple::filled(problem, &case, columns.clone());
        first = first.or_else(|| rescued(problem, &case, columns, limits, stop));
    }
    let mut improver = Improver { problem, case: &case, best: first? };
    let mut search = Search::new(&case, planner, limits.steps, stop);
    search.learn(&lowest);
    // A first bound beside the first round of small changes, then a closer one beside the long search: whoever stops early has what
    // there is by then.
    let start = improver.best.evaluation.clone();
    let lowest_alone = lowest.clone();
    let other = |stop: &mut dyn FnMut() -> bool| {
        let quick = Bounds::new(&case, &start.orders, start.objective.minor, &mut || true).proof.bound();
        (quick, other_search(problem, &case, &lowest_alone, limits.steps, stop))
    };
    let kept_starts: Vec<Vec<Column>> = kept.filter(|_| kept_filled.is_some()).into_iter().collect();
    let ((quick, other), (mut columns, simple_objective)) =
        beside(&mut search, other, |search| improver.first_round(search, kept_starts, (alone, lowest, cheap)));
    if let Some((found, filled)) = other
        && filled.evaluation.counted() < improver.best.evaluation.counted()
    {
        (improver.best, columns) = (filled, found);
    }
    let lower = Money { minor: quick };
    let lower = match search.is_stopped() {
        true => lower,
        false => improver.go_on(&mut search, columns, limits).max(lower),
    };
    let best = improver.best;
    let stopped = search.was_stopped();
    let plan = |filled: Filled| {
        let evaluation = filled.evaluation;
        ReorderPlan {
            lower_bound: lower.min(evaluation.objective),
            orders: evaluation.orders,
            cost: evaluation.cost,
            credit: evaluation.credit,
            keeping: evaluation.keeping,
            objective: evaluation.objective,
            crowding: evaluation.crowding,
            simple_objective,
            searched_to_the_end: !stopped,
        }
    };
    Some(Found { kept: kept_filled.map(plan), best: plan(best) })
}

/// What small changes and a little chance make of another start, on a coarse look. `None` where it would take longer than what is
/// done beside it, and where nothing whole comes of it.
fn other_search(
    problem: &Problem,
    case: &Case<'_>,
    start: &[Column],
    steps: u64,
    stop: &mut dyn FnMut() -> bool,
) -> Option<(Vec<Column>, Filled)> {
    if exact::is_small(case) || case.materials.len() > MANY {
        return None;
    }
    let count = case.materials.len() as u64;
    let mut planner = Planner::default();
    planner.is_hasty = true;
    let mut search = Search::new(case, planner, steps, stop);
    search.learn(start);
    search.start_from(start);
    search.pause_after(Some(FIRST_ROUND * count));
    search.descend();
    search.pause_after(Some(HASTY_ROUND * count));
    search.shake();
    let columns = search.columns().to_vec();
    simple::filled(problem, case, columns.clone()).map(|filled| (columns, filled))
}

/// Some plan where no plain one keeps every rule, since caps and minimum orders are in each other's way: the cheapest one that costs
/// no more than some multiple of the plain one, as far as that can be found.
fn rescued(
    problem: &Problem,
    case: &Case<'_>,
    plain: &[Column],
    limits: &Limits,
    stop: &mut dyn FnMut() -> bool,
) -> Option<Filled> {
    let guess = simple::guess(case, plain);
    let proof = Bounds::new(case, &[], guess as i64, stop).proof;
    [2.0, 8.0, 32.0]
        .iter()
        .find_map(|times| exact::cheapest(problem, case, (guess * times, plain, &proof), limits.steps, stop).0)
}

/// So often each material may be planned anew at the least, on average.
const STEPS_FOR_A_MATERIAL: u64 = 8;

/// Where the bound is further off than this share, it is made once more for the plan that has been found since.
const WIDE: f64 = 0.01;

/// So often each material is planned anew with chance and a coarse look.
const HASTY_ROUND: u64 = 6;

/// Of more materials than this there is no search from another start: it would take longer than the first round.
const MANY: usize = 200;

/// So often each material is planned anew before the bound is worked out.
const FIRST_ROUND: u64 = 12;

/// So often each material is planned anew while the bound is worked out.
const SECOND_ROUND: u64 = 30;

/// The orders of a plan, and what it costs.
type Known = (Vec<PlannedOrder>, f64);

/// Lifts a bound by all that helps fast.
fn lift(case: &Case<'_>, (orders, objective): &Known, bounds: &mut Bounds<'_, '_>, stop: &mut dyn FnMut() -> bool) {
    cut(case, orders, bounds, *objective, stop);
    press(case, orders, bounds, *objective, stop);
    bounds.settle(*objective, stop);
}

/// True where it pays to look closer at the bound.
fn is_wide(case: &Case<'_>, objective: f64, lower: i64) -> bool {
    case.materials.len() <= FEW && (lower as f64) < (1.0 - WIDE) * objective
}

/// The bound as far as it can be lifted in a while, for a plan that was found since the bound was made.
fn closer(case: &Case<'_>, known: &Known, bounds: &Bounds<'_, '_>, stop: &mut dyn FnMut() -> bool) -> i64 {
    let (orders, objective) = known;
    let mut lower = bounds.proof.bound();
    if is_wide(case, *objective, lower) && !stop() {
        lower = lower.max(Dues::lifted(case, orders, &bounds.proof, *objective, stop));
    }
    if is_wide(case, *objective, lower) && !stop() {
        // The better plan may suit other prices better than the one that the first were chosen for.
        let mut again = Bounds::new(case, orders, *objective as i64, stop);
        cut(case, orders, &mut again, *objective, stop);
        press(case, orders, &mut again, *objective, stop);
        lower = lower.max(again.proof.bound());
        if again.proof.value > bounds.proof.value && is_wide(case, *objective, lower) && !stop() {
            lower = lower.max(Dues::lifted(case, orders, &again.proof, *objective, stop));
        }
    }
    lower
}

/// Keeps the best plan that a search finds.
struct Improver<'a, 'p> {
    problem: &'p Problem,
    case: &'a Case<'p>,
    best: Filled,
}

impl Improver<'_, '_> {
    /// Small changes to what is at hand, coarsely and then closely. What the best of it is, and what the simple way costs.
    fn first_round(
        &mut self,
        search: &mut Search<'_, '_>,
        mut starts: Vec<Vec<Column>>,
        simple_ways: (Option<Vec<Column>>, Vec<Column>, Option<Filled>),
    ) -> (Vec<Column>, Money) {
        let round = Some(FIRST_ROUND * self.case.materials.len() as u64);
        search.pause_after(round);
        search.hurry(true);
        starts.extend(search.built());
        let hasty = self.descend(search, starts);
        let hasty = self.hasten(search, hasty);
        search.hurry(false);
        search.pause_after(round);
        let mut columns = self.descend(search, hasty);
        let (starts, simple_objective) = self.simply(search, simple_ways);
        // Elsewhere the other search begins with that; of very many materials it takes longer than it gains.
        if search.is_for_little() || columns.is_empty() {
            columns.extend(self.descend(search, starts));
        }
        let columns = columns.into_iter().min_by(|one, other| one.0.total_cmp(&other.0)).map(|found| found.1);
        (columns.unwrap_or_default(), simple_objective)
    }

    /// The bound beside a longer search, then each again with what the other has found. Returns the bound.
    fn go_on(&mut self, search: &mut Search<'_, '_>, columns: Vec<Column>, limits: &Limits) -> Money {
        let (case, known) = (self.case, self.known());
        let is_small = exact::is_small(case);
        let first = |stop: &mut dyn FnMut() -> bool| {
            let mut bounds = Bounds::new(case, &known.0, known.1 as i64, stop);
            if !is_small {
                lift(case, &known, &mut bounds, stop);
            }
            bounds
        };
        let (mut bounds, columns) = beside(search, first, |search| self.second_round(search, columns));
        if is_small {
            let known = self.known();
            press(case, &known.0, &mut bounds, known.1, &mut || search.is_stopped());
            let counted = self.best.evaluation.counted().minor as f64;
            let start = (counted, &columns[..], &bounds.proof);
            let (found, proven) = exact::cheapest(self.problem, case, start, limits.steps, &mut || search.is_stopped());
            if let Some(found) = found {
                self.best = found;
            }
            if proven {
                return self.best.evaluation.objective;
            }
            lift(case, &known, &mut bounds, &mut || search.is_stopped());
        }
        let mut lower = bounds.proof.bound();
        search.pause_after(None);
        let known = self.known();
        if is_wide(case, known.1, lower) && !search.is_stopped() {
            let closer = |stop: &mut dyn FnMut() -> bool| closer(case, &known, &bounds, stop);
            let (found, ()) = beside(search, closer, |search| self.shake(search, &columns));
            lower = lower.max(found);
        } else {
            self.shake(search, &columns);
        }
        Money { minor: lower }
    }

    /// Small changes to these columns until none helps, then chance, as long as a round goes; what they have become.
    fn second_round(&mut self, search: &mut Search<'_, '_>, columns: Vec<Column>) -> Vec<Column> {
        let count = self.case.materials.len() as u64;
        // Of no more materials than that the bound takes as long as two rounds.
        let is_long = count <= FEW as u64 && !search.is_for_little();
        let rounds = if is_long { 2 * SECOND_ROUND } else { SECOND_ROUND };
        search.pause_after(Some(rounds * count));
        let columns = self.descend(search, vec![columns]).pop().map(|found| found.1).unwrap_or_default();
        self.shake(search, &columns);
        search.columns().to_vec()
    }

    /// The orders of the best plan, and what it costs.
    fn known(&self) -> Known {
        let evaluation = &self.best.evaluation;
        (evaluation.orders.clone(), evaluation.objective.minor as f64)
    }

    /// Looks closely at the two simple ways: each material alone, and each at its lowest price. What they are, and the lower of what
    /// they cost.
    fn simply(
        &mut self,
        search: &mut Search<'_, '_>,
        (mut alone, mut lowest, cheap): (Option<Vec<Column>>, Vec<Column>, Option<Filled>),
    ) -> (Vec<Vec<Column>>, Money) {
        let mut ways: Vec<Filled> = cheap.into_iter().collect();
        if !search.is_stopped() {
            lowest = simple::each_at_lowest_price(self.case, search.planner());
            search.learn(&lowest);
            ways.extend(simple::filled(self.problem, self.case, lowest.clone()));
        }
        // Made this late, since it seldom leads anywhere: but it may be the simpler of the two. Whoever stops before has the other.
        if alone.is_none() && (ways.is_empty() || !search.is_stopped()) {
            alone = Some(simple::each_alone(self.case, search.planner()));
        }
        ways.extend(alone.iter().filter_map(|alone| simple::filled(self.problem, self.case, alone.clone())));
        let simplest = ways.into_iter().min_by_key(|filled| filled.evaluation.counted());
        let objective = simplest.as_ref().map_or(self.best.evaluation.objective, |filled| filled.evaluation.objective);
        if let Some(simplest) = simplest {
            self.improve(simplest);
        }
        (alone.into_iter().chain(std::iter::once(lowest)).collect(), objective)
    }

    /// Goes on from the cheapest with chance for a while; what that leads to, with the others.
    fn hasten(&mut self, search: &mut Search<'_, '_>, mut found: Vec<(f64, Vec<Column>)>) -> Vec<Vec<Column>> {
        found.sort_by(|one, other| one.0.total_cmp(&other.0));
        if let Some(first) = found.first_mut() {
            search.pause_after(Some(HASTY_ROUND * self.case.materials.len() as u64));
            self.shake(search, &first.1);
            first.1 = search.columns().to_vec();
        }
        found.into_iter().map(|found| found.1).collect()
    }

    fn keep(&mut self, columns: &[Column]) {
        if let Some(filled) = simple::filled(self.problem, self.case, columns.to_vec()) {
            self.improve(filled);
        }
    }

    /// Takes another plan where it counts as cheaper.
    fn improve(&mut self, other: Filled) {
        if other.evaluation.counted() < self.best.evaluation.counted() {
            self.best = other;
        }
    }

    /// Makes small changes to each start until none helps or the steps are used up; what that leads to, with its cost.
    fn descend(&mut self, search: &mut Search<'_, '_>, starts: Vec<Vec<Column>>) -> Vec<(f64, Vec<Column>)> {
        let mut found = Vec::new();
        for start in starts {
            if !found.is_empty() && search.over() {
                break;
            }
            search.start_from(&start);
            search.descend();
            self.keep(search.columns());
            found.push((search.total(), search.columns().to_vec()));
        }
        found
    }

    /// Goes on from there with chance, until the steps are used up.
    fn shake(&mut self, search: &mut Search<'_, '_>, columns: &[Column]) {
        search.start_from(columns);
        search.shake();
        self.keep(search.columns());
    }
}

/// The plan without orders.
const NOTHING: ReorderPlan = ReorderPlan {
    orders: Vec::new(),
    cost: Money::ZERO,
    credit: Money::ZERO,
    keeping: Money::ZERO,
    objective: Money::ZERO,
    crowding: Money::ZERO,
    lower_bound: Money::ZERO,
    simple_objective: Money::ZERO,
    searched_to_the_end: true,
};
