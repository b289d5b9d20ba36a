//! Which set of extra batches saves the most, less what it costs: branch and bound over products and days, with the
//! amounts halved until a range is settled.
//!
//! Batches are added in order of rank, so that what stands is not changed by what is added. What a batch can add is at the
//! most what it could add alone to what stands (`weigh`): a supply that others have used up cannot be used up again, and
//! what is short for others is not less short. So no set within a range is worth more than what stands, the range's
//! bound, and the best bounds of as many others as may follow; nor more than what stands and all that is still at risk.
//! Each batch has to be worth something of its own, so that one whose bound is not above nothing is left out at once.

use super::candidates::Candidate;
use super::weigh::{Bench, Standing};
use super::{Batch, Limit, RescueSettings};
use crate::plan::model::ItemId;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// A candidate's place and a count.
pub(super) type Pick = (usize, i64);

/// What was found.
pub(super) struct Found {
    /// In order of rank.
    pub(super) picks: Vec<Pick>,
    pub(super) proven: bool,
    pub(super) limit: Option<Limit>,
    pub(super) steps: usize,
    /// No set is worth more.
    pub(super) bound: i128,
}

/// Counts `least..=most` of a candidate with their bound; ordered by bound, the smallest counts first among equals.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Range {
    bound: i128,
    least: Reverse<i64>,
    most: Reverse<i64>,
    /// What is left of a saved value after what has to be bought for it, at the most: in parts of `WHOLE`.
    yields: i128,
}

/// The whole of a value saved.
const WHOLE: i128 = 1 << 20;

/// The ranges of a candidate's counts, the best bound on top.
type Ranges = BinaryHeap<Range>;

pub(super) struct Search<'a> {
    bench: &'a Bench<'a>,
    candidates: &'a [Candidate],
    settings: RescueSettings,
    steps: usize,
    best_net: i128,
    best: Vec<Pick>,
    /// Sets of so many batches are searched now.
    most: usize,
}

/// What can be added to a standing.
#[derive(Clone)]
struct Outset {
    /// Candidates with a bound above 0, the best first.
    ranges: Vec<(usize, i128, Ranges)>,
    /// For each candidate, what it and all that come after it can save together, less what has to be bought for that:
    /// of each item all that is at risk, at the best yield of any of them.
    together: Vec<i128>,
    /// By how much less would be at risk if no after-opening life mattered: the bounds are as if it did not.
    opening: i128,
    /// All that is at risk.
    all: i128,
}

/// A range is halved so many times before its candidate is compared with others.
const HALVINGS: usize = 16;

impl<'a> Search<'a> {
    pub(super) fn new(bench: &'a Bench<'a>, candidates: &'a [Candidate], settings: RescueSettings) -> Self {
        Self { bench, candidates, settings, steps: 0, best_net: 0, best: Vec::new(), most: 1 }
    }

    pub(super) fn run(mut self) -> Found {
        let nothing = Standing::default();
        let outset = self.outset(&nothing, 0, &[]);
        let root_bound = self.bound(0, &outset, 0, None, self.settings.most_batches);
        // The best single batch first, then the best two: each gives the next a good answer to beat.
        let mut ended = true;
        for most in 1..=self.settings.most_batches {
            self.most = most;
            self.add_one();
            ended = ended && self.below(&nothing, &mut Vec::new(), outset.clone());
        }
        self.fewest();
        Found {
            bound: if ended && self.bench.proven.get() { self.best_net } else { root_bound.max(self.best_net) },
            picks: self.best,
            proven: ended,
            limit: (!ended).then_some(Limit::Steps),
            steps: self.steps,
        }
    }

    fn used_up(&self) -> bool {
        self.steps + self.bench.effort.get() >= self.settings.steps
    }

    /// What each candidate from `first` on could add. `picks` are those that stand.
    fn outset(&mut self, standing: &Standing, first: usize, picks: &[Pick]) -> Outset {
        let (all, opening) = self.bench.still_at_risk(standing);
        let mut ranges = Vec::new();
        for place in first..self.candidates.len() {
            if self.days_left(place, picks) == 0 {
                continue;
            }
            let ranges_of = self.ranges(standing, place);
            let bound = ranges_of.peek().map_or(i128::MIN, |range| range.bound);
            if bound.saturating_add(opening) > 0 {
                ranges.push((place, bound, ranges_of));
            }
        }
        let together = self.together(standing, &ranges);
        ranges.sort_by_key(|(place, bound, _)| (Reverse(*bound), *place));
        Outset { ranges, together, opening, all }
    }

    /// `ranges` are in order of place.
    fn together(&self, standing: &Standing, ranges: &[(usize, i128, Ranges)]) -> Vec<i128> {
        let mut together = vec![0; self.candidates.len()];
        let mut best: BTreeMap<ItemId, (i128, i128)> = BTreeMap::new();
        let mut sum = 0;
        let mut ranges = ranges.iter().rev().peekable();
        for place in (0..self.candidates.len()).rev() {
            if let Some((_, _, own)) = ranges.next_if(|(other, _, _)| *other == place) {
                let yields = own.iter().map(|range| range.yields).max().unwrap_or(0);
                for item in self.bench.items_of(self.candidates[place].product) {
                    let (known, at_risk) =
                        best.entry(item).or_insert_with(|| (0, self.bench.at_risk_unhurried(standing, item)));
                    if yields > *known && *at_risk > 0 {
                        sum += ceiling((yields - *known) * *at_risk, WHOLE);
                        *known = yields;
                    }
                }
            }
            together[place] = sum;
        }
        together
    }

    fn days_left(&self, place: usize, picks: &[Pick]) -> usize {
        self.candidates[place].days.len() - picks.iter().filter(|(picked, _)| *picked == place).count()
    }

    /// A candidate's counts in ranges, halved until the best is a single count or often enough.
    fn ranges(&mut self, standing: &Standing, place: usize) -> Ranges {
        let candidate = &self.candidates[place];
        let mut ranges = Ranges::new();
        ranges.extend(self.range(standing, place, candidate.least, candidate.most));
        for _ in 0..HALVINGS {
            let worth_halving = |top: &Range| top.least != top.most && top.bound > 0 && !self.used_up();
            let Some(top) = ranges.peek().copied().filter(worth_halving) else { break };
            ranges.pop();
            self.halve(standing, place, top, &mut ranges);
        }
        ranges
    }

    fn halve(&mut self, standing: &Standing, place: usize, range: Range, ranges: &mut Ranges) {
        let (Reverse(least), Reverse(most)) = (range.least, range.most);
        let middle = least + (most - least) / 2;
        ranges.extend(self.range(standing, place, least, middle));
        ranges.extend(self.range(standing, place, middle + 1, most));
    }

    fn range(&mut self, standing: &Standing, place: usize, least: i64, most: i64) -> Option<Range> {
        self.steps += 1;
        let candidate = &self.candidates[place];
        let (saved, cost) = self.bench.upper(standing, &candidate.batch(least), &candidate.batch(most))?;
        // Who saves less than that still has to buy as much, so that no more of it is left.
        let yields = if saved > cost { ceiling((saved - cost) * WHOLE, saved) } else { 0 };
        Some(Range { bound: saved - cost, least: Reverse(least), most: Reverse(most), yields })
    }

    /// No set is worth more that adds to a standing of `net` a range with `range_bound` of the candidate `place`, where
    /// one is given, and up to `others` batches of candidates from there on.
    fn bound(&self, net: i128, outset: &Outset, place: usize, range_bound: Option<i128>, others: usize) -> i128 {
        let first = range_bound.unwrap_or(0);
        // The list is in order of bound; a candidate may be taken as often as it has days.
        let mut further = 0_i128;
        let mut left = others;
        for (other, bound, _) in outset.ranges.iter().filter(|(other, bound, _)| *other >= place && *bound > 0) {
            let times = self.candidates[*other].days.len().min(left);
            further += *bound * i128::try_from(times).unwrap_or(0);
            left -= times;
        }
        let together = outset.together.get(place).copied().unwrap_or(0);
        net + (outset.opening + (first + further).min(together)).min(outset.all)
    }

    /// Searches all sets that begin with what stands; false where the steps were used up.
    fn below(&mut self, standing: &Standing, picks: &mut Vec<Pick>, mut outset: Outset) -> bool {
        let slots = self.most.saturating_sub(picks.len());
        if slots == 0 {
            return true;
        }
        for turn in 0..outset.ranges.len() {
            let place = outset.ranges[turn].0;
            let mut ranges = std::mem::take(&mut outset.ranges[turn].2);
            while let Some(range) = ranges.pop() {
                if self.bound(standing.net, &outset, place, Some(range.bound), slots - 1) <= self.best_net {
                    break;
                }
                if self.used_up() {
                    return false;
                }
                if range.least != range.most {
                    self.halve(standing, place, range, &mut ranges);
                    continue;
                }
                self.steps += 1;
                let count = range.least.0;
                let Some((grown, _)) = self.bench.add(standing, &self.candidates[place].batch(count)) else { continue };
                if grown.net <= standing.net {
                    continue;
                }
                picks.push((place, count));
                self.note(grown.net, picks);
                let ended = slots == 1 || {
                    let further = self.outset(&grown, place, picks);
                    self.below(&grown, picks, further)
                };
                picks.pop();
                if !ended {
                    return false;
                }
            }
        }
        true
    }

    fn note(&mut self, net: i128, picks: &[Pick]) {
        if net > self.best_net {
            self.best_net = net;
            self.best = picks.to_vec();
        }
    }

    /// A good answer to begin with: the best one and one more batch, at any rank.
    fn add_one(&mut self) {
        let stands = self.best.clone();
        let Some(standing) = self.stand(&stands) else { return };
        let outset = self.outset(&standing, 0, &stands);
        for (place, _, mut ranges) in outset.ranges.into_iter().take(4) {
            // Only the most promising count of each: the search proper looks at the others.
            let Some(Range { least, .. }) = ranges.pop() else { continue };
            let mut picks = stands.clone();
            picks.push((place, least.0));
            picks.sort_by_key(|(place, _)| *place);
            self.steps += picks.len();
            if let Some(grown) = self.stand(&picks) {
                self.note(grown.net, &picks);
            }
        }
    }

    /// The standing of some picks; `None` where one cannot be made or is worth nothing of its own.
    fn stand(&self, picks: &[Pick]) -> Option<Standing> {
        let mut standing = Standing::default();
        for &(place, count) in picks {
            let (grown, _) = self.bench.add(&standing, &self.candidates[place].batch(count))?;
            if grown.net <= standing.net {
                return None;
            }
            standing = grown;
        }
        Some(standing)
    }

    /// Makes each batch of the best answer as small as it can be without being worth less.
    fn fewest(&mut self) {
        for turn in 0..self.best.len() {
            let (place, count) = self.best[turn];
            let (mut too_few, mut enough) = (self.candidates[place].least - 1, count);
            while too_few + 1 < enough {
                let tried = too_few + (enough - too_few) / 2;
                let mut picks = self.best.clone();
                picks[turn].1 = tried;
                let as_good = self.stand(&picks).is_some_and(|standing| standing.net >= self.best_net);
                if as_good { enough = tried } else { too_few = tried }
            }
            self.best[turn].1 = enough;
        }
    }
}

/// The batches of picks, each batch of a candidate on a day of its own.
pub(super) fn batches(candidates: &[Candidate], picks: &[Pick]) -> Vec<Batch> {
    let mut taken: BTreeMap<usize, usize> = BTreeMap::new();
    let batch = |&(place, count): &Pick| {
        let turn = taken.entry(place).or_default();
        let candidate = &candidates[place];
        let make_on = candidate.days.get(*turn).copied().unwrap_or(candidate.batch(count).make_on);
        *turn += 1;
        Batch { make_on, ..candidate.batch(count) }
    };
    picks.iter().map(batch).collect()
}

fn ceiling(numerator: i128, denominator: i128) -> i128 {
    -(-numerator).div_euclid(denominator)
}
