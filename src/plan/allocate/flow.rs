//! Flows between supplies and needs whose usable days are fixed: coverage by first expired first out, then the exchange
//! along residual paths that uses up what is worth most.

use super::{Need, Supply, Window};
use std::collections::VecDeque;

/// Who gives how much to whom. Kept by need: few supplies serve one need.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Flow {
    by_need: Vec<Vec<(usize, i64)>>,
    /// What is left of each supply; below 0 only while an exchange is under way.
    pub(super) left: Vec<i64>,
    /// Every change since [`Flow::keep_journal`], so that a try costs no copy of the whole flow.
    journal: Option<Vec<(usize, usize, i64)>>,
}

impl Flow {
    pub(super) fn new(supplies: &[Supply], needs: usize) -> Self {
        let left = supplies.iter().map(|supply| supply.quantity.0).collect();
        Self { by_need: vec![Vec::new(); needs], left, journal: None }
    }

    /// From now on changes can be taken back.
    pub(super) fn keep_journal(&mut self) {
        self.journal = Some(Vec::new());
    }

    pub(super) fn journal_length(&self) -> usize {
        self.journal.as_ref().map_or(0, Vec::len)
    }

    /// Takes back all changes after the journal had this length.
    pub(super) fn undo(&mut self, length: usize) {
        let Some(mut journal) = self.journal.take() else { return };
        for (supply, need, change) in journal.drain(length..).rev() {
            self.shift(supply, need, -change);
        }
        self.journal = Some(journal);
    }

    pub(super) fn of_need(&self, need: usize) -> &[(usize, i64)] {
        &self.by_need[need]
    }

    pub(super) fn given_to(&self, need: usize) -> i64 {
        self.by_need[need].iter().map(|(_, quantity)| quantity).sum()
    }

    /// Changes what a supply gives to a need by `change`, which may be below 0.
    pub(super) fn shift(&mut self, supply: usize, need: usize, change: i64) {
        if let Some(journal) = &mut self.journal {
            journal.push((supply, need, change));
        }
        self.left[supply] -= change;
        let gifts = &mut self.by_need[need];
        match gifts.iter_mut().find(|(giver, _)| *giver == supply) {
            Some(gift) => gift.1 += change,
            None => gifts.push((supply, change)),
        }
        gifts.retain(|(_, quantity)| *quantity != 0);
    }

    /// Gives `need` as much as it can get, first expired first out among the supplies in `order`.
    pub(super) fn serve_first_expired(&mut self, need: usize, wanted: &Need, order: &[usize], windows: &[Window]) {
        let mut missing = wanted.quantity.0 - self.given_to(need);
        for &supply in order {
            if missing == 0 {
                break;
            }
            let quantity = missing.min(self.left[supply]);
            if quantity > 0 && windows[supply].serves(wanted) {
                self.shift(supply, need, quantity);
                missing -= quantity;
            }
        }
    }
}

/// Supplies in order of their last usable day, then the first, then their place.
pub(super) fn first_expired_order(windows: &[Window]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..windows.len()).collect();
    order.sort_by_key(|&supply| (windows[supply].through, windows[supply].from, supply));
    order
}

/// Covers the needs, in their order, as much as possible.
fn cover(supplies: &[Supply], windows: &[Window], needs: &[Need]) -> Flow {
    let order = first_expired_order(windows);
    let mut flow = Flow::new(supplies, needs.len());
    for (place, need) in needs.iter().enumerate() {
        flow.serve_first_expired(place, need, &order, windows);
    }
    flow
}

/// Covers the needs as [`cover`] does and then uses up, of what `expires` by the horizon, as much value as coverage allows.
///
/// What can be used up by full coverage is a polymatroid, so taking the supplies by falling value of a unit, and each as
/// far as the dearer ones allow, is exact. Free samples come after all that is worth something, still before what lasts.
pub(super) fn least_value_lost(supplies: &[Supply], windows: &[Window], needs: &[Need], expires: &[bool]) -> Flow {
    let mut flow = cover(supplies, windows, needs);
    if !(0..supplies.len()).any(|supply| expires[supply] && flow.left[supply] > 0) {
        return flow;
    }
    let rank = value_rank(supplies, expires);
    let mut by_rank: Vec<usize> = (0..supplies.len()).filter(|&supply| rank[supply] < usize::MAX).collect();
    by_rank.sort_by_key(|&supply| rank[supply]);
    let mut residual = Residual::new(supplies.len(), needs.len());
    for supply in by_rank {
        while flow.left[supply] > 0 {
            let network = Network { flow: &flow, windows, needs };
            let worth_less = |other: usize| rank[other] > rank[supply];
            let Some(path) = residual.path(network, 0, &[supply], |_, _| true, worth_less) else { break };
            let most = flow.left[supply];
            push(&mut flow, &path, most);
        }
    }
    flow
}

/// What expires by the horizon, by falling value of a unit; `usize::MAX` for what lasts longer.
fn value_rank(supplies: &[Supply], expires: &[bool]) -> Vec<usize> {
    let mut expiring: Vec<usize> =
        (0..supplies.len()).filter(|&supply| expires[supply] && supplies[supply].quantity.0 > 0).collect();
    let dearer = |left: &usize, right: &usize| {
        let (left, right) = (&supplies[*left], &supplies[*right]);
        let left_value = i128::from(left.value.minor) * i128::from(right.quantity.0);
        let right_value = i128::from(right.value.minor) * i128::from(left.quantity.0);
        right_value.cmp(&left_value)
    };
    expiring.sort_by(|left, right| dearer(left, right).then_with(|| left.cmp(right)));
    let mut rank = vec![usize::MAX; supplies.len()];
    for (place, supply) in expiring.into_iter().enumerate() {
        rank[supply] = place;
    }
    rank
}

/// A way to take more of the first supply: at each step the supply takes the need over from the next one.
/// The last supply of the path gives less in the end; all between give as much as before.
pub(super) type Path = Vec<(usize, usize, usize)>;

/// A flow with the days and demands that it keeps to.
#[derive(Clone, Copy)]
pub(super) struct Network<'a> {
    pub(super) flow: &'a Flow,
    pub(super) windows: &'a [Window],
    pub(super) needs: &'a [Need],
}

/// Looks for ways through the residual network of a flow. Kept from one look to the next, so that its lists are made once.
pub(super) struct Residual {
    came_from: Vec<Option<(usize, usize)>>,
    reached: Vec<bool>,
    unseen: Unseen,
    queue: VecDeque<usize>,
}

impl Residual {
    pub(super) fn new(supplies: usize, needs: usize) -> Self {
        Self {
            came_from: vec![None; supplies],
            reached: vec![false; supplies],
            unseen: Unseen { next: Vec::with_capacity(needs + 2) },
            queue: VecDeque::with_capacity(supplies),
        }
    }

    /// The shortest path from one of `starts` to a supply that `ends_at`, over needs from `first_need` on, each of which
    /// takes only from supplies that `may_serve` it.
    pub(super) fn path(
        &mut self,
        Network { flow, windows, needs }: Network<'_>,
        first_need: usize,
        starts: &[usize],
        may_serve: impl Fn(usize, usize) -> bool,
        ends_at: impl Fn(usize) -> bool,
    ) -> Option<Path> {
        self.came_from.fill(None);
        self.reached.fill(false);
        self.unseen.forget(needs.len());
        self.queue.clear();
        self.queue.extend(starts);
        for &start in starts {
            self.reached[start] = true;
        }
        while let Some(taker) = self.queue.pop_front() {
            let window = &windows[taker];
            // Needs are in order of day, so that only a part of them lies within the window.
            let first = needs.partition_point(|need| need.day < window.from).max(first_need);
            let mut need = self.unseen.at_or_after(first);
            while need < needs.len() && needs[need].day <= window.through {
                if window.serves(&needs[need]) && may_serve(taker, need) {
                    self.unseen.remove(need);
                    for &(giver, _) in flow.of_need(need) {
                        if self.reached[giver] {
                            continue;
                        }
                        self.reached[giver] = true;
                        self.came_from[giver] = Some((taker, need));
                        if ends_at(giver) {
                            return Some(walk_back(&self.came_from, giver));
                        }
                        self.queue.push_back(giver);
                    }
                }
                need = self.unseen.at_or_after(need + 1);
            }
        }
        None
    }
}

/// Places that were not seen yet, in which the next one is found without walking over those that were: otherwise a
/// search would look at every need once for every supply.
struct Unseen {
    next: Vec<usize>,
}

impl Unseen {
    fn forget(&mut self, count: usize) {
        self.next.clear();
        self.next.extend(0..=count + 1);
    }

    fn remove(&mut self, place: usize) {
        self.next[place] = place + 1;
    }

    fn at_or_after(&mut self, place: usize) -> usize {
        let mut found = place;
        while self.next[found] != found {
            found = self.next[found];
        }
        let mut behind = place;
        while self.next[behind] != behind {
            let next = self.next[behind];
            self.next[behind] = found;
            behind = next;
        }
        found
    }
}

fn walk_back(came_from: &[Option<(usize, usize)>], end: usize) -> Path {
    let mut path = Vec::new();
    let mut giver = end;
    while let Some((taker, need)) = came_from[giver] {
        path.push((taker, need, giver));
        giver = taker;
    }
    path.reverse();
    path
}

/// Moves as much as `most` and the path allow.
pub(super) fn push(flow: &mut Flow, path: &Path, most: i64) {
    let carried = |&(_, need, giver): &(usize, usize, usize)| {
        flow.of_need(need).iter().find(|(other, _)| *other == giver).map_or(0, |(_, quantity)| *quantity)
    };
    let quantity = path.iter().map(carried).fold(most, i64::min);
    for &(taker, need, giver) in path {
        flow.shift(giver, need, -quantity);
        flow.shift(taker, need, quantity);
    }
}

/// The value that expires unused, in millionths (2^-20) of a minor unit, each supply's part rounded down: for comparing.
pub(super) fn value_lost(flow: &Flow, supplies: &[Supply], expires: &[bool]) -> i128 {
    let lost = |(supply, left): (usize, &i64)| {
        let whole = i128::from(supplies[supply].quantity.0);
        if !expires[supply] || whole == 0 {
            return 0;
        }
        // Whole units and the rest apart, so that even the largest numbers stay within 128 bits.
        let value = i128::from(supplies[supply].value.minor) * i128::from(*left);
        ((value / whole) << 20) + ((value % whole) << 20) / whole
    };
    flow.left.iter().enumerate().map(lost).sum()
}

/// What each need gets, for comparing coverage: greater is better, the first need first.
pub(super) fn coverage(flow: &Flow, needs: usize) -> Vec<i64> {
    (0..needs).map(|need| flow.given_to(need)).collect()
}
