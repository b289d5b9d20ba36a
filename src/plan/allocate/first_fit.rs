//! The first of many places that holds enough, found without looking at all of them.

use super::Window;
use chrono::NaiveDate;

/// Of no more places than these a plain list is gone through faster than any tree.
pub(super) const FEW: usize = 64;

/// Amounts by place, with the largest of each stretch kept beside them (a tournament tree): the first place from another
/// on that holds at least so much is found in as many steps as the logarithm of their number.
pub(super) struct FirstFit {
    /// The whole stretch is at 1, the halves of the one at `node` at `2 node` and `2 node + 1`, the places from `width` on.
    /// Of few places there is nothing but the places: the width is 0.
    largest: Vec<i64>,
    width: usize,
}

impl FirstFit {
    /// What a place holds that is not found by any question.
    pub(super) const NOTHING: i64 = i64::MIN;

    pub(super) fn new(amounts: impl ExactSizeIterator<Item = i64>) -> Self {
        if amounts.len() <= FEW {
            return Self { largest: amounts.collect(), width: 0 };
        }
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

    /// As if nothing was on any place.
    pub(super) fn clear(&mut self) {
        self.largest.fill(Self::NOTHING);
    }

    pub(super) fn get(&self, place: usize) -> i64 {
        self.largest[self.width + place]
    }

    pub(super) fn set(&mut self, place: usize, amount: i64) {
        let mut node = self.width + place;
        self.largest[node] = amount;
        if self.width == 0 {
            return;
        }
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
        if self.width == 0 {
            let found = self.largest.get(from..)?.iter().position(|amount| *amount >= least);
            return found.map(|place| from + place);
        }
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

    /// The last place up to `through`, which is one of the places, that holds at least `least`.
    pub(super) fn last_through(&self, through: usize, least: i64) -> Option<usize> {
        if self.width == 0 {
            return self.largest[..=through].iter().rposition(|amount| *amount >= least);
        }
        let mut node = self.width + through;
        while self.largest[node] < least {
            // What lies left of the left half lies left of the whole.
            while node.is_multiple_of(2) {
                node /= 2;
            }
            if node == 1 {
                return None;
            }
            node -= 1;
        }
        while node < self.width {
            node = if self.largest[2 * node + 1] >= least { 2 * node + 1 } else { 2 * node };
        }
        Some(node - self.width)
    }

    /// The most that a place of these holds.
    pub(super) fn most(&self, from: usize, through: usize) -> i64 {
        if self.width == 0 {
            return self
                .largest
                .get(from..=through)
                .and_then(|some| some.iter().copied().max())
                .unwrap_or(Self::NOTHING);
        }
        let (mut left, mut right) = (self.width + from, self.width + through + 1);
        let mut most = Self::NOTHING;
        while left < right {
            if left % 2 == 1 {
                most = most.max(self.largest[left]);
                left += 1;
            }
            if right % 2 == 1 {
                right -= 1;
                most = most.max(self.largest[right]);
            }
            left /= 2;
            right /= 2;
        }
        most
    }
}

/// What supplies still have to give to one need after the other, first expired first: they are received when their first
/// day has come.
pub(super) struct Shelf {
    /// Supplies in order of their last usable day, then the first, then their place.
    by_last_day: Vec<(NaiveDate, NaiveDate, usize)>,
    /// Where each supply stands in that order.
    standing: Vec<usize>,
    /// Supplies in order of their first day; so many of them have been received.
    arrivals: Vec<(NaiveDate, usize)>,
    received: usize,
    /// What each has that was received, in that order.
    there: FirstFit,
}

impl Shelf {
    pub(super) fn new(windows: &[Window]) -> Self {
        let days = |(supply, window): (usize, &Window)| (window.through, window.from, supply);
        let mut by_last_day: Vec<(NaiveDate, NaiveDate, usize)> = windows.iter().enumerate().map(days).collect();
        by_last_day.sort_unstable();
        let mut standing = vec![0; windows.len()];
        for (place, &(_, _, supply)) in by_last_day.iter().enumerate() {
            standing[supply] = place;
        }
        let mut arrivals: Vec<(NaiveDate, usize)> =
            by_last_day.iter().map(|&(_, from, supply)| (from, supply)).collect();
        arrivals.sort_unstable();
        let there = FirstFit::new((0..windows.len()).map(|_| FirstFit::NOTHING));
        Self { by_last_day, standing, arrivals, received: 0, there }
    }

    /// Empties the shelf: all is received anew.
    pub(super) fn begin_again(&mut self) {
        self.received = 0;
        self.there.clear();
    }

    /// Receives what has come by `day`, each with what it has to give.
    pub(super) fn receive(&mut self, day: NaiveDate, has: impl Fn(usize) -> i64) {
        while let Some(&(from, supply)) = self.arrivals.get(self.received)
            && from <= day
        {
            self.received += 1;
            self.there.set(self.standing[supply], has(supply));
        }
    }

    /// All supplies in their order, those to come as well.
    pub(super) fn in_order(&self) -> impl Iterator<Item = usize> {
        self.by_last_day.iter().map(|(_, _, supply)| *supply)
    }

    /// The supply on a place of the order.
    pub(super) fn supply(&self, place: usize) -> usize {
        self.by_last_day[place].2
    }

    /// Where each supply stands in the order.
    pub(super) fn standing(&self) -> &[usize] {
        &self.standing
    }

    /// What the supply on a place has; it was received.
    pub(super) fn at(&self, place: usize) -> i64 {
        self.there.get(place)
    }

    /// Takes so much of what a place has.
    pub(super) fn take(&mut self, place: usize, quantity: i64) {
        self.there.set(place, self.there.get(place) - quantity);
    }

    /// The most that a place of these has; the order ends before a `through` that is beyond it.
    pub(super) fn most(&self, from: usize, through: usize) -> i64 {
        let last = self.by_last_day.len() - 1;
        self.there.most(from, through.min(last))
    }

    /// The first of the places up to `through` that have the most, with what it has; `None` where none of them has anything.
    pub(super) fn largest(&self, from: usize, through: usize) -> Option<(usize, i64)> {
        let most = self.most(from, through);
        let place = (most > 0).then(|| self.there.first(from, most)).flatten()?;
        Some((place, most))
    }

    /// The first place in the order that lasts through a day.
    pub(super) fn first_lasting(&self, through: NaiveDate) -> usize {
        self.by_last_day.partition_point(|(last_day, ..)| *last_day < through)
    }

    /// The first place from `place` on with at least `least`, which is more than 0.
    pub(super) fn next(&self, place: usize, least: i64) -> Option<usize> {
        self.there.first(place, least)
    }

    /// Takes up to `wanted` of those from the place `first` on, in order; tells how much of which supply. Returns what is lacking.
    pub(super) fn draw(&mut self, first: usize, mut wanted: i64, mut tell: impl FnMut(usize, i64)) -> i64 {
        while wanted > 0
            && let Some(place) = self.there.first(first, 1)
        {
            let has = self.there.get(place);
            let taken = has.min(wanted);
            self.there.set(place, has - taken);
            wanted -= taken;
            tell(self.by_last_day[place].2, taken);
        }
        wanted
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
            if let Some(last) = amounts.len().checked_sub(1) {
                let through = from.min(last);
                prop_assert_eq!(fit.last_through(through, least), (0..=through).rfind(holds));
                prop_assert_eq!(fit.most(through, last), amounts[through..].iter().copied().max().unwrap());
                prop_assert_eq!(fit.most(0, through), amounts[..=through].iter().copied().max().unwrap());
            }
        }
    }
}
