//! How much of what expires can be used up, what each need gets being settled.
//!
//! A lot serves the needs from its first day on that ask for no longer a life than it has. Lots of which so much is used up can
//! all be served if, and only if, no *staircase* asks for less than it is to take (Hall's theorem for these sets): for the needs of
//! each stretch of days between two first days a class, which falls from the last stretch to the first, and with it all needs up to
//! that class, and all lots that come at the beginning of the stretch and end no later. What a lot can use beside the others is
//! the least that is free in a staircase that holds it. Most lots are there from the first need on: of them the last stretch
//! but one is asked alone, with the least of all staircases above it kept by class.

use super::Need;
use super::slack::RunningSums;
use chrono::NaiveDate;

/// What is wanted and not yet used up of what expires.
pub(super) struct Free {
    /// The stretches that begin with lots that come later, the last one first.
    later: Vec<Stretch>,
    /// By class: what is wanted before all of those, less what is used up of the lots that are there.
    there: Vec<i64>,
    /// By class: the least that is free in a staircase that reaches so far among the lots that are there.
    free: RunningSums,
}

/// Days from which on lots come, up to the next such days.
struct Stretch {
    from: NaiveDate,
    /// By class: what is wanted on these days, less what is used up of the lots that come with them.
    open: Vec<i64>,
}

/// A lot in the order of last days, among those that expire.
#[derive(Clone, Copy)]
pub(super) struct Expiring {
    pub(super) from: NaiveDate,
    pub(super) place: usize,
    pub(super) quantity: i64,
}

impl Free {
    /// `lots` are those that expire, in order of their last day; `wanted` says how much each need gets, `classes` the first lot that
    /// lasts long enough for it.
    pub(super) fn new(lots: &[Expiring], needs: &[Need], wanted: &[i64], classes: &[usize]) -> Self {
        let today = needs.first().map_or(NaiveDate::MAX, |need| need.day);
        let mut days: Vec<NaiveDate> = lots.iter().map(|lot| lot.from).filter(|from| *from > today).collect();
        days.sort_unstable_by(|one, other| other.cmp(one));
        days.dedup();
        let mut later: Vec<Stretch> =
            days.into_iter().map(|from| Stretch { from, open: vec![0; lots.len()] }).collect();
        let mut there = vec![0; lots.len()];
        // Needs are in order of day: the stretch of one is that of the one before, or a later one, further ahead in the list.
        let mut stretch = later.len();
        for ((need, &wanted), &class) in needs.iter().zip(wanted).zip(classes) {
            while stretch > 0 && later[stretch - 1].from <= need.day {
                stretch -= 1;
            }
            let open = later.get_mut(stretch).map_or(&mut there, |stretch| &mut stretch.open);
            if let Some(open) = open.get_mut(class) {
                *open += wanted;
            }
        }
        let mut free = Self { later, there, free: RunningSums::of(Vec::new()) };
        free.ask_again();
        free
    }

    /// Uses up as much of a lot as can be, the others as they are; returns how much.
    pub(super) fn use_up(&mut self, lot: Expiring) -> i64 {
        match self.later.iter().position(|stretch| stretch.from == lot.from) {
            None => {
                let used = lot.quantity.min(self.free.least_from(lot.place));
                self.there[lot.place] -= used;
                self.free.add_from(lot.place, -used);
                used
            }
            Some(stretch) => {
                let used = lot.quantity.min(self.free_of_later(stretch, lot.place));
                if used > 0 {
                    self.later[stretch].open[lot.place] -= used;
                    self.ask_again();
                }
                used
            }
        }
    }

    /// The least that is free in a staircase that holds a lot of a stretch.
    fn free_of_later(&self, stretch: usize, place: usize) -> i64 {
        let above = above(&self.later[..stretch], self.there.len());
        let below = below(self.later[stretch + 1..].iter().map(|stretch| &stretch.open[..]), &self.there);
        let sums = sums(&self.later[stretch].open);
        let all = sums.zip(above).zip(below).map(|((own, above), below)| own + above + below);
        all.skip(place).min().unwrap_or(0)
    }

    /// Works out anew what is free to the lots that are there.
    fn ask_again(&mut self) {
        let above = above(&self.later, self.there.len());
        self.free = RunningSums::of(sums(&self.there).zip(above).map(|(own, above)| own + above).collect());
    }
}

/// By class: the least of the staircases through these stretches, the last one first, of which the lowest step reaches so far or
/// further.
fn above(stretches: &[Stretch], classes: usize) -> Vec<i64> {
    let mut least = vec![0; classes];
    for stretch in stretches {
        for (least, sum) in least.iter_mut().zip(sums(&stretch.open)) {
            *least += sum;
        }
        for class in (1..classes).rev() {
            least[class - 1] = least[class - 1].min(least[class]);
        }
    }
    least
}

/// By class: the least of the staircases through these stretches, the last one first, and the lots that are there, of which the
/// highest step reaches no further; it may be no step at all.
fn below<'a>(stretches: impl DoubleEndedIterator<Item = &'a [i64]>, there: &'a [i64]) -> Vec<i64> {
    let mut least = vec![0; there.len()];
    for open in std::iter::once(there).chain(stretches.rev()) {
        let mut lowest = 0;
        for (least, sum) in least.iter_mut().zip(sums(open)) {
            lowest = (sum + *least).min(lowest);
            *least = lowest;
        }
    }
    least
}

fn sums(changes: &[i64]) -> impl Iterator<Item = i64> {
    changes.iter().scan(0, |sum, change| {
        *sum += change;
        Some(*sum)
    })
}
