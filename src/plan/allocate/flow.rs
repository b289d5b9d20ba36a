//! Flows between supplies and needs whose usable days are fixed: coverage by first expired first out, then the exchange
//! along residual paths that uses up what is worth most. Where only the totals are asked for, no flow is made ([`totals`]).

use super::first_fit::{FirstFit, Shelf};
use super::used_up::{Expiring, Free};
use super::{Fixed, Need, Supply, Window};
use chrono::{Datelike, NaiveDate};

/// Who gives how much to whom.
#[derive(Clone, Debug)]
pub(super) struct Flow {
    by_need: Vec<Gifts>,
    /// What is left of each supply; below 0 only while an exchange is under way.
    pub(super) left: Vec<i64>,
}

/// Who gives how much to a need. One or two supplies serve most needs: those are kept without a list of their own.
#[derive(Clone, Debug)]
enum Gifts {
    Few(usize, [(usize, i64); Gifts::FEW]),
    Many(Vec<(usize, i64)>),
}

impl Gifts {
    const FEW: usize = 2;
    const NONE: Self = Self::Few(0, [(0, 0); Self::FEW]);

    fn list(&self) -> &[(usize, i64)] {
        match self {
            Self::Few(count, gifts) => &gifts[..*count],
            Self::Many(gifts) => gifts,
        }
    }

    fn change(&mut self, supply: usize, change: i64) {
        let place = self.list().iter().position(|(giver, _)| *giver == supply);
        match (self, place) {
            (Self::Few(count, gifts), Some(place)) => {
                gifts[place].1 += change;
                if gifts[place].1 == 0 {
                    gifts[place..].rotate_left(1);
                    *count -= 1;
                }
            }
            (Self::Few(count, gifts), None) if *count < Self::FEW => {
                gifts[*count] = (supply, change);
                *count += 1;
            }
            (gifts @ Self::Few(..), None) => {
                let mut many = Vec::with_capacity(2 * Self::FEW);
                many.extend_from_slice(gifts.list());
                many.push((supply, change));
                *gifts = Self::Many(many);
            }
            (Self::Many(gifts), None) => gifts.push((supply, change)),
            (Self::Many(gifts), Some(place)) => {
                gifts[place].1 += change;
                if gifts[place].1 == 0 {
                    gifts.remove(place);
                }
            }
        }
    }
}

impl Flow {
    pub(super) fn new(supplies: &[Supply], needs: usize) -> Self {
        let left = supplies.iter().map(|supply| supply.quantity.0).collect();
        Self { by_need: vec![Gifts::NONE; needs], left }
    }

    pub(super) fn of_need(&self, need: usize) -> &[(usize, i64)] {
        self.by_need[need].list()
    }

    pub(super) fn given_to(&self, need: usize) -> i64 {
        self.of_need(need).iter().map(|(_, quantity)| quantity).sum()
    }

    /// Changes what a supply gives to a need by `change`, which may be below 0 but not 0.
    pub(super) fn shift(&mut self, supply: usize, need: usize, change: i64) {
        self.left[supply] -= change;
        self.by_need[need].change(supply, change);
    }
}

/// Covers the needs in their order, first expired first out. False, and ended there, where one is not covered in full.
fn cover(flow: &mut Flow, fixed: Fixed<'_>) -> bool {
    let mut shelf = Shelf::new(fixed.windows);
    fixed.needs.iter().enumerate().all(|(place, need)| {
        shelf.receive(need.day, |supply| fixed.supplies[supply].quantity.0);
        let first = shelf.first_lasting(need.through);
        shelf.draw(first, need.quantity.0, |supply, quantity| flow.shift(supply, place, quantity)) == 0
    })
}

/// What each need gets and what is left of each supply where as much is covered as can be and then the least value lost, without
/// a flow.
///
/// What can be used up by full coverage is a polymatroid, so taking the supplies by falling value of a unit, and each as
/// far as the dearer ones allow, is exact. Free samples come after all that is worth something, still before what lasts.
/// What is left of supplies that last is not said: it depends on who is served from which.
pub(super) fn totals(shelf: &mut Shelf, fixed: Fixed<'_>, classes: &[usize]) -> (Vec<i64>, Vec<i64>) {
    let Fixed { supplies, windows, needs, .. } = fixed;
    let today = needs.first().map_or(NaiveDate::MAX, |need| need.day);
    let mut left: Vec<i64> = supplies.iter().map(|supply| supply.quantity.0).collect();
    let mut given = Vec::with_capacity(needs.len());
    for (need, &class) in needs.iter().zip(classes) {
        shelf.receive(need.day, |supply| supplies[supply].quantity.0);
        let mut gets = 0;
        shelf.draw(class, need.quantity.0, |supply, quantity| {
            left[supply] -= quantity;
            gets += quantity;
        });
        given.push(gets);
    }
    // What ended before the first need is lost in any case.
    let is_left = |supply: usize| fixed.expires(supply) && left[supply] > 0 && windows[supply].through >= today;
    if !(0..supplies.len()).any(is_left) {
        return (given, left);
    }
    let lot = |supply: usize| Expiring {
        from: windows[supply].from,
        place: shelf.standing()[supply],
        quantity: supplies[supply].quantity.0,
    };
    let expiring: Vec<Expiring> = shelf.in_order().take_while(|supply| fixed.expires(*supply)).map(lot).collect();
    let mut free = Free::new(&expiring, needs, &given, classes);
    for supply in dearest_first(fixed) {
        let lot = lot(supply);
        left[supply] = lot.quantity - free.use_up(lot);
    }
    (given, left)
}

/// Covers all needs in full as [`cover`] does, and then uses up, of what expires by the horizon, as much value as that allows: see
/// [`totals`]. `None` where they cannot be covered in full.
pub(super) fn least_value_lost_in_full(fixed: Fixed<'_>) -> Option<Flow> {
    let mut flow = Flow::new(fixed.supplies, fixed.needs.len());
    cover(&mut flow, fixed).then(|| used_up(flow, fixed))
}

fn used_up(mut flow: Flow, fixed: Fixed<'_>) -> Flow {
    let Fixed { windows, needs, .. } = fixed;
    if !(0..windows.len()).any(|supply| fixed.expires(supply) && flow.left[supply] > 0) {
        return flow;
    }
    let order = dearest_first(fixed);
    let rank = value_rank(&order, windows.len());
    let mut residual = Residual::new(Network { flow: &flow, windows, needs });
    for supply in order {
        while flow.left[supply] > 0 {
            let network = Network { flow: &flow, windows, needs };
            let worth_less = |other: usize| rank[other] > rank[supply];
            // What a search without success has reached leads to nothing that is worth less than this supply, so to
            // nothing that is worth less than those that follow: it stays marked, and no later search looks there again.
            let end = residual.look(network, supply, worth_less);
            let Some(end) = end else { break };
            residual.push(&mut flow, needs, end);
        }
    }
    flow
}

/// What expires by the horizon, by falling value of a unit.
pub(super) fn dearest_first(fixed: Fixed<'_>) -> Vec<usize> {
    let supplies = fixed.supplies;
    let is_there = |supply: &usize| fixed.expires(*supply) && supplies[*supply].quantity.0 > 0;
    let mut expiring: Vec<usize> = (0..supplies.len()).filter(is_there).collect();
    let dearer = |left: &usize, right: &usize| {
        let (left, right) = (&supplies[*left], &supplies[*right]);
        let left_value = i128::from(left.value.minor) * i128::from(right.quantity.0);
        let right_value = i128::from(right.value.minor) * i128::from(left.quantity.0);
        right_value.cmp(&left_value)
    };
    expiring.sort_by(|left, right| dearer(left, right).then_with(|| left.cmp(right)));
    expiring
}

/// The places of so many supplies in an order; `usize::MAX` for those that are not in it.
pub(super) fn value_rank(order: &[usize], supplies: usize) -> Vec<usize> {
    let mut rank = vec![usize::MAX; supplies];
    for (place, &supply) in order.iter().enumerate() {
        rank[supply] = place;
    }
    rank
}

/// A flow with the days and demands that it keeps to.
#[derive(Clone, Copy)]
struct Network<'a> {
    flow: &'a Flow,
    windows: &'a [Window],
    needs: &'a [Need],
}

impl Network<'_> {
    /// The first need that is not before the supply's first day: needs are in order of day.
    fn first_need(&self, supply: usize) -> usize {
        let from = self.windows[supply].from;
        if self.needs.first().is_some_and(|need| need.day >= from) {
            return 0;
        }
        self.needs.partition_point(|need| need.day < from)
    }
}

/// Looks for ways through the residual network of a flow. A look costs as much as what it reaches.
struct Residual {
    came_from: Vec<Option<(usize, usize)>>,
    reached: Vec<bool>,
    /// How soon each supply ends.
    ends: Vec<i64>,
    /// The served needs that were not seen, by how soon what serves them may end.
    waiting: FirstFit,
    /// The supplies that the look has reached, in order.
    takers: Vec<usize>,
    /// The needs that it has seen. Those seen by the taker in hand are not marked yet: most ways are found from the first.
    seen: Vec<usize>,
    marked: usize,
}

impl Residual {
    fn new(Network { flow, windows, needs }: Network<'_>) -> Self {
        let soon_enough = |(place, need): (usize, &Need)| {
            if flow.of_need(place).is_empty() { FirstFit::NOTHING } else { soon(need.through) }
        };
        Self {
            came_from: vec![None; flow.left.len()],
            reached: vec![false; flow.left.len()],
            ends: windows.iter().map(|window| soon(window.through)).collect(),
            waiting: FirstFit::new(needs.iter().enumerate().map(soon_enough)),
            takers: Vec::with_capacity(flow.left.len().min(64)),
            seen: Vec::with_capacity(64),
            marked: 0,
        }
    }

    /// Looks for the shortest way to take more of `start`: at each step a supply takes a need over from the next one, until
    /// one `ends_at` that gives less in the end. The end is returned. What was reached stays marked until
    /// [`Residual::push`].
    fn look(&mut self, network: Network<'_>, start: usize, ends_at: impl Fn(usize) -> bool) -> Option<usize> {
        self.takers.clear();
        self.seen.clear();
        self.marked = 0;
        let flow = network.flow;
        // Most ways are a single step: nothing has to be marked to see that.
        let mut place = network.first_need(start);
        while let Some(need) = self.waiting.first(place, self.ends[start]) {
            place = need + 1;
            let gives_up = |giver: &usize| ends_at(*giver) && !self.reached[*giver] && *giver != start;
            if let Some(end) = flow.of_need(need).iter().map(|(giver, _)| *giver).find(gives_up) {
                self.reach(end, start, need);
                return Some(end);
            }
        }
        let mut next_reached = 0;
        let mut taker = Some(start);
        while let Some(from) = taker {
            let mut place = network.first_need(from);
            while let Some(need) = self.waiting.first(place, self.ends[from]) {
                place = need + 1;
                self.seen.push(need);
                for &(giver, _) in flow.of_need(need) {
                    if self.reached[giver] || giver == start {
                        continue;
                    }
                    self.reach(giver, from, need);
                    if ends_at(giver) {
                        return Some(giver);
                    }
                }
            }
            for &need in &self.seen[self.marked..] {
                self.waiting.set(need, FirstFit::NOTHING);
            }
            self.marked = self.seen.len();
            taker = self.takers.get(next_reached).copied();
            next_reached += 1;
        }
        None
    }

    fn reach(&mut self, giver: usize, taker: usize, need: usize) {
        self.reached[giver] = true;
        self.came_from[giver] = Some((taker, need));
        self.takers.push(giver);
    }

    /// Moves along the way that was found to `end` as much as it can carry, at most what is left of its start, and forgets
    /// the look.
    fn push(&mut self, flow: &mut Flow, needs: &[Need], end: usize) {
        let (mut start, mut quantity) = (end, i64::MAX);
        while let Some((taker, need)) = self.came_from[start] {
            let gift = flow.of_need(need).iter().find(|(giver, _)| *giver == start);
            quantity = quantity.min(gift.map_or(0, |gift| gift.1));
            start = taker;
        }
        quantity = quantity.min(flow.left[start]);
        let mut giver = end;
        while let Some((taker, need)) = self.came_from[giver] {
            flow.shift(giver, need, -quantity);
            flow.shift(taker, need, quantity);
            giver = taker;
        }
        self.forget(needs);
    }

    /// Forgets what the last look has reached.
    fn forget(&mut self, needs: &[Need]) {
        for taker in self.takers.drain(..) {
            self.reached[taker] = false;
            self.came_from[taker] = None;
        }
        for need in self.seen.drain(..).take(self.marked) {
            self.waiting.set(need, soon(needs[need].through));
        }
    }
}

/// The greater, the sooner.
fn soon(day: NaiveDate) -> i64 {
    -i64::from(day.num_days_from_ce())
}

/// The value that expires unused, in millionths (2^-20) of a minor unit, each supply's part rounded down: for comparing.
pub(super) fn value_lost(flow: &Flow, fixed: Fixed<'_>) -> i128 {
    let lost = |(supply, left): (usize, &i64)| {
        let whole = i128::from(fixed.supplies[supply].quantity.0);
        if !fixed.expires(supply) || whole == 0 {
            return 0;
        }
        // Whole units and the rest apart, so that even the largest numbers stay within 128 bits.
        let value = i128::from(fixed.supplies[supply].value.minor) * i128::from(*left);
        ((value / whole) << 20) + ((value % whole) << 20) / whole
    };
    flow.left.iter().enumerate().map(lost).sum()
}

/// What each need gets, for comparing coverage: greater is better, the first need first.
pub(super) fn coverage(flow: &Flow, needs: usize) -> Vec<i64> {
    (0..needs).map(|need| flow.given_to(need)).collect()
}
