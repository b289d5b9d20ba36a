//! How much later needs leave free: of lots in order of their last day, what a draw may take without harm to what follows.

use super::Need;
use super::first_fit::{FEW, FirstFit};
use chrono::NaiveDate;

/// Values by place, held as their changes from one place to the next: so much more from a place on is one change. The
/// least running sum of each stretch is kept beside them. Few values are held as they are.
pub(super) enum RunningSums {
    Few(Vec<i64>),
    Many(Stretches),
}

impl RunningSums {
    /// Of these values.
    pub(super) fn of(values: Vec<i64>) -> Self {
        if values.len() > FEW { Self::Many(Stretches::new(changes(values))) } else { Self::Few(values) }
    }

    /// Adds an amount to all values from a place on.
    pub(super) fn add_from(&mut self, place: usize, amount: i64) {
        match self {
            Self::Few(values) => values[place..].iter_mut().for_each(|value| *value += amount),
            Self::Many(stretches) => stretches.add_from(place, amount),
        }
    }

    /// The first place at or after `from` with a value below `bound`.
    pub(super) fn first_below(&self, from: usize, bound: i64) -> Option<usize> {
        match self {
            Self::Few(values) => values.get(from..)?.iter().position(|value| *value < bound).map(|place| from + place),
            Self::Many(stretches) => stretches.first_below(from, bound),
        }
    }

    /// True where a value from a place on, before another place, is below `bound`.
    fn any_below(&self, from: usize, end: usize, bound: i64) -> bool {
        match self {
            Self::Few(values) => {
                let end = end.min(values.len());
                values.get(from..end).is_some_and(|values| values.iter().any(|value| *value < bound))
            }
            Self::Many(stretches) => stretches.first_below(from, bound).is_some_and(|place| place < end),
        }
    }

    /// The least value from a place on.
    pub(super) fn least_from(&self, place: usize) -> i64 {
        match self {
            Self::Few(values) => values[place..].iter().copied().min().unwrap_or(i64::MAX),
            Self::Many(stretches) => stretches.least_from(place),
        }
    }
}

pub(super) struct Stretches {
    /// The whole stretch is at 1, the halves of the one at `node` at `2 node` and `2 node + 1`, the places from `width` on.
    nodes: Vec<Stretch>,
    width: usize,
}

#[derive(Clone, Copy)]
struct Stretch {
    sum: i64,
    /// The least sum of what the stretch begins with: one place of it or more.
    least: i64,
}

impl Stretch {
    /// A place that is not there: found by no question.
    const NOWHERE: Self = Self { sum: 0, least: i64::MAX };

    fn then(self, next: Self) -> Self {
        Self { sum: self.sum + next.sum, least: self.least.min(self.sum.saturating_add(next.least)) }
    }
}

impl Stretches {
    fn new(changes: impl ExactSizeIterator<Item = i64>) -> Self {
        let width = changes.len().next_power_of_two();
        let mut nodes = Vec::with_capacity(2 * width);
        nodes.resize(width, Stretch::NOWHERE);
        nodes.extend(changes.map(|change| Stretch { sum: change, least: change }));
        nodes.resize(2 * width, Stretch::NOWHERE);
        for node in (1..width).rev() {
            nodes[node] = nodes[2 * node].then(nodes[2 * node + 1]);
        }
        Self { nodes, width }
    }

    /// Adds an amount to all values from a place on.
    fn add_from(&mut self, place: usize, amount: i64) {
        let mut node = self.width + place;
        self.nodes[node].sum += amount;
        self.nodes[node].least += amount;
        while node > 1 {
            node /= 2;
            self.nodes[node] = self.nodes[2 * node].then(self.nodes[2 * node + 1]);
        }
    }

    /// The sum of all changes before a place.
    fn before(&self, place: usize) -> i64 {
        let mut node = self.width + place;
        let mut sum = 0;
        while node > 1 {
            if node % 2 == 1 {
                sum += self.nodes[node - 1].sum;
            }
            node /= 2;
        }
        sum
    }

    /// The first place at or after `from` with a value below `bound`.
    fn first_below(&self, from: usize, bound: i64) -> Option<usize> {
        if from >= self.width {
            return None;
        }
        let mut before = self.before(from);
        let below = |node: usize, before: i64| before.saturating_add(self.nodes[node].least) < bound;
        let mut node = self.width + from;
        while !below(node, before) {
            before += self.nodes[node].sum;
            // What lies right of the right half lies right of the whole.
            while node % 2 == 1 {
                node /= 2;
            }
            if node == 0 {
                return None;
            }
            node += 1;
        }
        while node < self.width {
            node *= 2;
            if !below(node, before) {
                before += self.nodes[node].sum;
                node += 1;
            }
        }
        Some(node - self.width)
    }

    /// The least value from a place on.
    fn least_from(&self, place: usize) -> i64 {
        let mut node = self.width + place;
        let mut from_here = self.nodes[node];
        while node > 1 {
            if node.is_multiple_of(2) {
                from_here = from_here.then(self.nodes[node + 1]);
            }
            node /= 2;
        }
        self.before(place).saturating_add(from_here.least)
    }
}

/// What may still be drawn, for needs that are settled one after the other, each from lots that are there.
///
/// Lots that are there and last through a need's day are those from a place on, its class, in order of their last day. So
/// what is left for later needs is enough where, from each place on, as much lasts as needs of the classes from there on
/// want (Hall); and what expires can all be used up where, up to each place, as much is wanted by needs of the classes up to
/// there as expires. Each can be seen to without regard for the other: lots and needs that can each be served can be served
/// at once (Mendelsohn and Dulmage 1958, cited from memory). For both, of what a need takes at least so much has to come from
/// the lots up to each place as it wants more than is free there.
///
/// Lots that are still to come serve the needs after their day: of these, whichever are served by the last lot to come, it
/// is best that they ask for the longest life that it has, for all other lots are there by then. So what the lots to come
/// leave to those that are there is settled from the last to the first.
pub(super) struct Slack {
    /// By place: what lasts beyond it, less what is wanted that has to last beyond it.
    covered: RunningSums,
    /// By place of what expires: what is wanted up to there, less what expires up to there. `None` where nothing
    /// is to come: then both change alike, and the lesser is kept in `covered`.
    used_up: Option<RunningSums>,
    expiring: usize,
    /// Those to come, the next one last.
    to_come: Vec<ToCome>,
}

/// A lot that is still to come.
struct ToCome {
    from: NaiveDate,
    place: usize,
    quantity: i64,
    /// How much it covers, by class.
    covers: Vec<(usize, i64)>,
    /// The wants that use it up, by class.
    uses_up: Vec<(usize, i64)>,
}

/// A lot on its place in the order of last days.
#[derive(Clone, Copy)]
pub(super) struct Placed {
    pub(super) from: NaiveDate,
    /// What it has to give; where it expires it must give all of it.
    pub(super) quantity: i64,
}

impl Slack {
    /// `lots` are in order of their last day, the first `expiring` of them expire. `wanted` says how much each need gets,
    /// `classes` the first lot that lasts long enough for it.
    pub(super) fn new(lots: &[Placed], expiring: usize, needs: &[Need], wanted: &[i64], classes: &[usize]) -> Self {
        let today = needs.first().map_or(NaiveDate::MAX, |need| need.day);
        let mut wants = vec![0; lots.len() + 1];
        for (&wanted, &class) in wanted.iter().zip(classes) {
            wants[class] += wanted;
        }
        let is_to_come = |lot: &Placed| lot.from > today && lot.quantity > 0;
        if !lots.iter().any(is_to_come) {
            return Self::of_lots_there(lots, expiring, &wants);
        }
        let mut order: Vec<usize> = (0..lots.len()).filter(|&place| is_to_come(&lots[place])).collect();
        order.sort_unstable_by_key(|&place| (std::cmp::Reverse(lots[place].from), place));
        let any_expires = order.iter().any(|&place| place < expiring);
        let mut to_cover = FirstFit::new((0..lots.len()).map(|_| 0));
        let mut to_use_up = any_expires.then(|| FirstFit::new((0..expiring).map(|_| 0)));
        let mut to_come = Vec::with_capacity(order.len());
        let mut unseen = needs.len();
        for place in order {
            let Placed { from, quantity } = lots[place];
            while unseen > 0 && needs[unseen - 1].day >= from {
                unseen -= 1;
                let (class, wanted) = (classes[unseen], wanted[unseen]);
                if wanted > 0 {
                    to_cover.set(class, to_cover.get(class) + wanted);
                    if let Some(to_use_up) = to_use_up.as_mut().filter(|_| class < expiring) {
                        to_use_up.set(class, to_use_up.get(class) + wanted);
                    }
                }
            }
            let covers = longest_first(&mut to_cover, place, quantity);
            let uses_up = to_use_up.as_mut().filter(|_| place < expiring);
            let uses_up = uses_up.map_or_else(Vec::new, |to_use_up| longest_first(to_use_up, place, quantity));
            to_come.push(ToCome { from, place, quantity, covers, uses_up });
        }
        Self::before_those(to_come, lots, expiring, wants, today)
    }

    fn of_lots_there(lots: &[Placed], expiring: usize, wants: &[i64]) -> Self {
        let quantities = || lots.iter().map(|lot| lot.quantity);
        let mut least = covered(quantities(), wants);
        for (least, used_up) in least.iter_mut().zip(used_up(quantities(), wants)).take(expiring) {
            *least = (*least).min(used_up);
        }
        Self { covered: RunningSums::of(least), used_up: None, expiring, to_come: Vec::new() }
    }

    fn before_those(to_come: Vec<ToCome>, lots: &[Placed], expiring: usize, wants: Vec<i64>, today: NaiveDate) -> Self {
        let there = || lots.iter().map(|lot| if lot.from > today { 0 } else { lot.quantity });
        let (mut to_cover, mut to_use_up) = (wants.clone(), wants);
        for lot in &to_come {
            for &(class, quantity) in &lot.covers {
                to_cover[class] -= quantity;
            }
            for &(class, quantity) in &lot.uses_up {
                to_use_up[class] -= quantity;
            }
        }
        let covered = RunningSums::of(covered(there(), &to_cover));
        let used_up = (expiring > 0).then(|| RunningSums::of(used_up(there(), &to_use_up).take(expiring).collect()));
        Self { covered, used_up, expiring, to_come }
    }

    /// Receives what has come by a day.
    pub(super) fn receive(&mut self, day: NaiveDate) {
        while let Some(lot) = self.to_come.pop_if(|lot| lot.from <= day) {
            self.covered.add_from(0, lot.quantity);
            self.covered.add_from(lot.place, -lot.quantity);
            for (class, quantity) in lot.covers {
                self.covered.add_from(0, -quantity);
                self.covered.add_from(class, quantity);
            }
            if let Some(used_up) = self.used_up.as_mut().filter(|_| lot.place < self.expiring) {
                used_up.add_from(lot.place, -lot.quantity);
                for (class, quantity) in lot.uses_up {
                    used_up.add_from(class, quantity);
                }
            }
        }
    }

    /// The first place from `class` on up to which a need has to draw more: fewer than `missing` are free there.
    pub(super) fn first_due(&self, class: usize, missing: i64) -> Option<usize> {
        let covered = self.covered.first_below(class, missing);
        let used_up = self.used_up.as_ref().filter(|_| class < self.expiring);
        let used_up = used_up.and_then(|used_up| used_up.first_below(class, missing));
        match (covered, used_up) {
            (Some(covered), Some(used_up)) => Some(covered.min(used_up)),
            (covered, used_up) => covered.or(used_up),
        }
    }

    /// True where a need may wait with so much that it lacks until a place: [`Slack::first_due`] is not before it.
    pub(super) fn may_wait(&self, class: usize, place: usize, missing: i64) -> bool {
        let used_up = self.used_up.as_ref().filter(|_| class < self.expiring);
        !self.covered.any_below(class, place, missing)
            && !used_up.is_some_and(|used_up| used_up.any_below(class, place, missing))
    }

    /// A need of this class draws so much from lots on these places.
    pub(super) fn draw(&mut self, class: usize, draws: &[(usize, i64)]) {
        if let [(place, _)] = draws
            && *place == class
        {
            return;
        }
        let wanted: i64 = draws.iter().map(|draw| draw.1).sum();
        self.covered.add_from(class, -wanted);
        for &(place, quantity) in draws {
            self.covered.add_from(place, quantity);
        }
        if let Some(used_up) = self.used_up.as_mut().filter(|_| class < self.expiring) {
            used_up.add_from(class, -wanted);
            for &(place, quantity) in draws.iter().filter(|(place, _)| *place < self.expiring) {
                used_up.add_from(place, quantity);
            }
        }
    }
}

/// Takes up to `quantity` from the classes up to `place`, the last one first.
fn longest_first(wants: &mut FirstFit, place: usize, mut quantity: i64) -> Vec<(usize, i64)> {
    let mut taken = Vec::new();
    while quantity > 0
        && let Some(class) = wants.last_through(place, 1)
    {
        let piece = wants.get(class).min(quantity);
        wants.set(class, wants.get(class) - piece);
        quantity -= piece;
        taken.push((class, piece));
    }
    taken
}

/// By place, what lasts beyond it less what is wanted of the classes beyond it.
fn covered(lots: impl DoubleEndedIterator<Item = i64> + ExactSizeIterator, wants: &[i64]) -> Vec<i64> {
    let mut beyond = -wants[lots.len()];
    let mut covered = vec![0; lots.len()];
    for (place, quantity) in lots.enumerate().rev() {
        covered[place] = beyond;
        beyond += quantity - wants[place];
    }
    covered
}

/// By place, what is wanted of the classes up to it less what lasts no longer.
fn used_up(lots: impl Iterator<Item = i64>, wants: &[i64]) -> impl Iterator<Item = i64> {
    let mut sum = 0;
    lots.zip(wants).map(move |(quantity, wanted)| {
        sum += wanted - quantity;
        sum
    })
}

fn changes(values: Vec<i64>) -> impl ExactSizeIterator<Item = i64> {
    let mut before = 0;
    values.into_iter().map(move |value| value - std::mem::replace(&mut before, value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn sums_are_those_of_a_plain_list(
            mut values in proptest::collection::vec(-9_i64..9, 0..90),
            changes in proptest::collection::vec((0_usize..90, -5_i64..6), 0..30),
            from in 0_usize..100,
            bound in -12_i64..12,
        ) {
            let mut sums = RunningSums::of(values.clone());
            let count = values.len();
            for &(place, amount) in changes.iter().filter(|(place, _)| *place < count) {
                sums.add_from(place, amount);
                values[place..].iter_mut().for_each(|value| *value += amount);
            }
            prop_assert_eq!(sums.first_below(from, bound), (from..values.len()).find(|place| values[*place] < bound));
            for end in [from, from + 1, from + 7, count, 720] {
                let is_below = |place: usize| values[place] < bound;
                prop_assert_eq!(sums.any_below(from, end, bound), (from..end.min(count)).any(is_below));
            }
            if let Some(rest) = values.get(from..).filter(|rest| !rest.is_empty()) {
                prop_assert_eq!(sums.least_from(from), *rest.iter().min().unwrap());
            }
        }
    }
}
