//! The first of many places that holds enough, found without looking at all of them.

use super::Window;
use chrono::NaiveDate;

/// Amounts by place, with the largest of each stretch kept beside them (a tournament tree): the first place from another
/// on that holds at least so much is found in as many steps as the logarithm of their number.
pub(super) struct FirstFit {
    /// The whole stretch is at 1, the halves of the one at `node` at `2 node` and `2 node + 1`, the places from `width` on.
    largest: Vec<i64>,
    width: usize,
}

impl FirstFit {
    /// What a place holds that is not found by any question.
    pub(super) const NOTHING: i64 = i64::MIN;

    pub(super) fn new(amounts: impl ExactSizeIterator<Item = i64>) -> Self {
        let width = amounts.len().next_power_of_two();
        let mut largest = Vec::with_capacity(2 * width);
        largest.resize(width, Self::NOTHING);
        largest.extend(amounts);
        largest.resize(2 * width, Self::NOTHING);
        for node in (1..width).rev() {
            largest[node] = largest[2 * node].max(largest[2 * node + 1]);
        }
        Self { largest, width }
    }

    pub(super) fn get(&self, place: usize) -> i64 {
        self.largest[self.width + place]
    }

    pub(super) fn set(&mut self, place: usize, amount: i64) {
        let mut node = self.width + place;
        self.largest[node] = amount;
        while node > 1 {
            node /= 2;
            let largest = self.largest[2 * node].max(self.largest[2 * node + 1]);
            if self.largest[node] == largest {
                return;
            }
            self.largest[node] = largest;
        }
    }

    /// The first place at or after `from` that holds at least `least`.
    pub(super) fn first(&self, from: usize, least: i64) -> Option<usize> {
        if from >= self.width {
            return None;
        }
        let mut node = self.width + from;
        while self.largest[node] < least {
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
            node = if self.largest[2 * node] >= least { 2 * node } else { 2 * node + 1 };
        }
        Some(node - self.width)
    }

    /// The last place that holds at least `least`.
    pub(super) fn last(&self, least: i64) -> Option<usize> {
        let mut node = 1;
        if self.largest[node] < least {
            return None;
        }
        while node < self.width {
            node = if self.largest[2 * node + 1] >= least { 2 * node + 1 } else { 2 * node };
        }
        Some(node - self.width)
    }
}

/// What supplies still have to give to one need after the other, first expired first: they are received when their first
/// day has come.
pub(super) struct Shelf {
    /// Supplies in order of their last usable day, then the first, then their place.
    by_last_day: Vec<(NaiveDate, usize)>,
    /// Where each supply stands in that order.
    standing: Vec<usize>,
    /// Supplies that are still to come, the next one last.
    to_come: Vec<usize>,
    /// What each has that was received, in that order.
    there: FirstFit,
}

impl Shelf {
    pub(super) fn new(windows: &[Window]) -> Self {
        let mut order: Vec<usize> = (0..windows.len()).collect();
        order.sort_unstable_by_key(|&supply| (windows[supply].through, windows[supply].from, supply));
        let mut standing = vec![0; order.len()];
        for (place, &supply) in order.iter().enumerate() {
            standing[supply] = place;
        }
        let by_last_day = order.iter().map(|&supply| (windows[supply].through, supply)).collect();
        let mut to_come = order;
        to_come.sort_unstable_by_key(|&supply| std::cmp::Reverse(windows[supply].from));
        let there = FirstFit::new((0..windows.len()).map(|_| FirstFit::NOTHING));
        Self { by_last_day, standing, to_come, there }
    }

    /// Receives what has come by `day`, each with what it has to give.
    pub(super) fn receive(&mut self, day: NaiveDate, windows: &[Window], has: impl Fn(usize) -> i64) {
        while let Some(&supply) = self.to_come.last().filter(|supply| windows[**supply].from <= day) {
            self.to_come.pop();
            self.there.set(self.standing[supply], has(supply));
        }
    }

    /// What a supply that was received has.
    pub(super) fn has(&self, supply: usize) -> i64 {
        self.there.get(self.standing[supply])
    }

    /// Takes so much of a supply that was received.
    pub(super) fn take(&mut self, supply: usize, quantity: i64) {
        let place = self.standing[supply];
        self.there.set(place, self.there.get(place) - quantity);
    }

    /// The first place in the order that lasts through a day.
    pub(super) fn first_lasting(&self, through: NaiveDate) -> usize {
        self.by_last_day.partition_point(|(last_day, _)| *last_day < through)
    }

    /// The first place from `place` on with at least `least`, which is more than 0, and the supply there.
    pub(super) fn next(&self, place: usize, least: i64) -> Option<(usize, usize)> {
        let place = self.there.first(place, least)?;
        Some((place, self.by_last_day[place].1))
    }

    /// Takes up to `wanted` of those that last through a day, in order; tells how much of which.
    pub(super) fn draw(&mut self, through: NaiveDate, mut wanted: i64, mut tell: impl FnMut(usize, i64)) {
        let first = self.first_lasting(through);
        while wanted > 0
            && let Some(place) = self.there.first(first, 1)
        {
            let has = self.there.get(place);
            let taken = has.min(wanted);
            self.there.set(place, has - taken);
            wanted -= taken;
            tell(self.by_last_day[place].1, taken);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn finds_what_a_walk_finds(
            mut amounts in proptest::collection::vec(-3_i64..9, 0..70),
            changes in proptest::collection::vec((0_usize..70, -3_i64..9), 0..40),
            from in 0_usize..80,
            least in -4_i64..10,
        ) {
            let mut fit = FirstFit::new(amounts.iter().copied());
            for (place, amount) in changes.into_iter().filter(|(place, _)| *place < amounts.len()).collect::<Vec<_>>() {
                amounts[place] = amount;
                fit.set(place, amount);
            }
            let holds = |place: &usize| amounts[*place] >= least;
            prop_assert_eq!(fit.first(from, least), (from..amounts.len()).find(holds));
            prop_assert_eq!(fit.last(least), (0..amounts.len()).rfind(holds));
        }
    }
}
