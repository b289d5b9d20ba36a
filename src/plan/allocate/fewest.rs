//! Few lots at a weighing: among allocations that cover as much and lose as little, each need in its order is served from
//! the fewest supplies, those that expire first among equals.
//!
//! Which of the supplies that expire by the horizon are used up, and how far, stays as it is: a supply of equal value
//! is not traded for another to save a weighing.
//!
//! What a need may take without harm to those after it is known beforehand (`slack`): so much at least has to come from the
//! supplies up to each place in the order of last days. So a set of supplies can serve it if, drawn from first
//! expired first out, it gives as much in time. The smallest set is found by taking, whenever something is due, the supply
//! that has most of those that are in time.

use super::Fixed;
use super::first_fit::Shelf;
use super::slack::{Placed, Slack};

/// So many supplies are put together for a need, in search of the first among its smallest sets; after that one of the
/// smallest is taken that holds the largest supplies. A workshop's needs take a few.
const STEPS: usize = 300;

/// What stays as it is: what each need gets, and what is left of each supply that expires.
#[derive(Clone, Copy)]
pub(super) struct Settled<'a> {
    pub(super) given: &'a [i64],
    pub(super) left: &'a [i64],
}

/// Tells for each need in its order what it draws from which supplies, first expired first: need, supply, quantity.
/// `classes` are the first places on the shelf that last long enough for each need.
pub(super) fn arrange(
    settled: Settled<'_>,
    mut shelf: Shelf,
    fixed: Fixed<'_>,
    classes: &[usize],
    mut tell: impl FnMut(usize, usize, i64),
) {
    let Fixed { supplies, windows, needs, .. } = fixed;
    let may_give =
        |supply: usize| supplies[supply].quantity.0 - if fixed.expires(supply) { settled.left[supply] } else { 0 };
    shelf.begin_again();
    let placed = |supply: usize| Placed { from: windows[supply].from, quantity: may_give(supply) };
    let lots: Vec<Placed> = shelf.in_order().map(placed).collect();
    let expiring = shelf.in_order().take_while(|supply| fixed.expires(*supply)).count();
    let slack = Slack::new(&lots, expiring, needs, settled.given, classes);
    let mut arranger = Arranger { shelf, slack, draws: Vec::new() };
    for (place, need) in needs.iter().enumerate() {
        let wanted = settled.given[place];
        if wanted == 0 {
            continue;
        }
        arranger.shelf.receive(need.day, may_give);
        arranger.slack.receive(need.day);
        arranger.settle(classes[place], wanted);
        for &(at, quantity) in &arranger.draws {
            tell(place, arranger.shelf.supply(at), quantity);
        }
    }
}

struct Arranger {
    /// What each supply may give to the needs that are not settled yet.
    shelf: Shelf,
    slack: Slack,
    /// What the need in hand draws, by place on the shelf.
    draws: Vec<(usize, i64)>,
}

impl Arranger {
    /// Serves a need that wants so much of what lasts from the place `class` on. The needs before it are settled.
    fn settle(&mut self, class: usize, wanted: i64) {
        self.draws.clear();
        match self.first_alone(class, class, wanted) {
            Some(place) => self.draws.push((place, wanted)),
            None => {
                let mut missing = wanted;
                for place in self.first_of_smallest_sets(class, wanted) {
                    let quantity = missing.min(self.shelf.at(place));
                    self.draws.push((place, quantity));
                    missing -= quantity;
                }
            }
        }
        for &(place, quantity) in &self.draws {
            self.shelf.take(place, quantity);
        }
        self.slack.draw(class, &self.draws);
    }

    /// The first place from `from` on that has all that is missing, where that is in time: what lasts longer would be later.
    fn first_alone(&self, class: usize, from: usize, missing: i64) -> Option<usize> {
        let place = self.shelf.next(from, missing)?;
        self.slack.may_wait(class, place, missing).then_some(place)
    }

    /// The places of the first one, in their order, of the smallest sets that can serve a need.
    fn first_of_smallest_sets(&mut self, class: usize, wanted: i64) -> Vec<usize> {
        let largest = self.smallest_set(class, class, wanted, usize::MAX).unwrap_or_default();
        let mut steps = STEPS;
        let mut chosen = Vec::with_capacity(largest.len());
        let (mut from, mut missing) = (class, wanted);
        while chosen.len() < largest.len() {
            let others = largest.len() - chosen.len() - 1;
            let Some(place) = self.first_that_leads_on(class, from, missing, others, &mut steps) else {
                return largest;
            };
            chosen.push(place);
            missing -= self.shelf.at(place);
            from = place + 1;
        }
        chosen
    }

    /// The first place from `from` on that can serve what is missing together with so many others after it.
    fn first_that_leads_on(
        &mut self,
        class: usize,
        from: usize,
        missing: i64,
        others: usize,
        steps: &mut usize,
    ) -> Option<usize> {
        if others == 0 {
            return self.first_alone(class, from, missing);
        }
        let due = self.slack.first_due(class, missing)?;
        let most = self.shelf.most(from, usize::MAX).saturating_mul(i64::try_from(others).unwrap_or(i64::MAX));
        let mut place = from;
        while let Some(found) =
            self.shelf.next(place, missing.saturating_sub(most).max(1)).filter(|found| *found <= due)
        {
            *steps = steps.checked_sub(others)?;
            place = found + 1;
            if self.smallest_set(class, place, missing - self.shelf.at(found), others).is_some() {
                return Some(found);
            }
        }
        None
    }

    /// The smallest set of places from `from` on that can serve what is missing, in order; `None` where it has more than
    /// `most`. Of each stretch that is due the largest is taken: it does what any other could.
    fn smallest_set(&mut self, class: usize, from: usize, mut missing: i64, most: usize) -> Option<Vec<usize>> {
        let mut taken: Vec<(usize, i64)> = Vec::new();
        while missing > 0 && taken.len() < most {
            let Some(due) = self.slack.first_due(class, missing).filter(|due| *due >= from) else { break };
            let Some((place, largest)) = self.shelf.largest(from, due) else { break };
            missing -= largest;
            self.shelf.take(place, largest);
            taken.push((place, largest));
        }
        for &(place, quantity) in &taken {
            self.shelf.take(place, -quantity);
        }
        let mut places: Vec<usize> = taken.into_iter().map(|(place, _)| place).collect();
        places.sort_unstable();
        (missing <= 0).then_some(places)
    }
}
