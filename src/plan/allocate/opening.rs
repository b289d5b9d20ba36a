//! When the plan opens what: a search over first-use days, for items whose after-opening life can matter.
//!
//! First the most that the needs can get is worked out ([`super::coverage`]); from then on they need just that, in full. Which of
//! the ways to that lets the least value expire is searched: with the days fixed, value is solved exactly ([`super::flow`]). A
//! partial answer says between which days each supply is opened, if it is; its bound is what would be lost if each could be
//! used from the first of these days and lasted as if opened on the last. Where the flow of that bound draws from a supply
//! longer than its life from the first draw, the range is cut there: opened by that day, or after it. Partial answers are
//! taken by their bound, the best first (branch and bound), so that the search ends when no other can beat the best answer known.

use super::coverage;
use super::flow::{Flow, least_value_lost_in_full, value_lost};
use super::{Fixed, Need, SearchLimit, Supply, Window};
use crate::plan::calendar::Span;
use crate::plan::quantity::Quantity;
use chrono::NaiveDate;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Looking at so many pairs of supply and need counts as one more state.
const PAIRS_A_STATE: usize = 32;

/// Looking at so many supplies of labels counts as one more.
const PLACES_A_STATE: usize = 256;

/// True where the after-opening life of the supply can matter: opened at its first use it would end too early for a
/// need that it could serve unopened, or by the horizon where it would have lasted beyond.
pub(super) fn binds(supply: &Supply, needs: &[Need], horizon: NaiveDate) -> bool {
    let Some(life) = supply.life_once_opened else { return false };
    let window = Window::unopened(supply);
    let mut served = needs.iter().filter(|need| need.quantity.0 > 0 && window.serves(need));
    let Some(first) = served.next() else { return false };
    let ends = life.after(first.day);
    let ends_by_horizon = ends <= horizon && horizon < supply.through;
    ends < supply.through && (first.through > ends || ends_by_horizon || served.any(|need| need.through > ends))
}

/// What is known of the lives of an item's supplies.
pub(super) struct Lives<'a> {
    pub(super) supplies: &'a [Supply],
    /// For which of them their life once opened can matter.
    pub(super) binding: Vec<bool>,
    /// The last day of what is opened on the day of a need and would last for ever closed, by life.
    opened: Vec<(Span, Vec<NaiveDate>)>,
    /// Where the life of each supply is in that list.
    life: Vec<usize>,
    /// No need asks for more.
    longest: NaiveDate,
}

impl<'a> Lives<'a> {
    fn new(supplies: &'a [Supply], needs: &[Need], horizon: NaiveDate) -> Self {
        let binding = supplies.iter().map(|supply| binds(supply, needs, horizon)).collect();
        let mut opened: Vec<(Span, Vec<NaiveDate>)> = Vec::new();
        let mut life = Vec::with_capacity(supplies.len());
        for supply in supplies {
            let span = supply.life_once_opened.unwrap_or_default();
            let known = opened.iter().position(|(known, _)| *known == span);
            life.push(known.unwrap_or(opened.len()));
            if known.is_none() {
                opened.push((span, needs.iter().map(|need| span.after(need.day)).collect()));
            }
        }
        let longest = needs.iter().map(|need| need.through).max().unwrap_or(NaiveDate::MIN);
        Self { supplies, binding, opened, life, longest }
    }

    /// The last day of a supply that is opened on the day of a need, as far as it matters.
    pub(super) fn ends(&self, supply: usize, need: usize) -> NaiveDate {
        self.as_far_as_it_matters(self.supplies[supply].through.min(self.opened[self.life[supply]].1[need]))
    }

    /// A last day beyond what any need asks for is as good as any other.
    pub(super) fn as_far_as_it_matters(&self, through: NaiveDate) -> NaiveDate {
        through.min(self.longest)
    }

    /// True where a closed supply that is there can do all that another can that is closed too.
    pub(super) fn is_as_good(&self, one: usize, other: usize) -> bool {
        let (mine, theirs) = (&self.supplies[one], &self.supplies[other]);
        let lasts = mine.through >= self.as_far_as_it_matters(theirs.through);
        lasts && self.life[one] == self.life[other] && mine.quantity >= theirs.quantity
    }
}

/// The best flow found, its windows, and whether it is proven to be the best.
pub(super) fn search(
    supplies: &[Supply],
    needs: &[Need],
    horizon: NaiveDate,
    limit: SearchLimit,
) -> (Flow, Vec<Window>, bool) {
    let lives = Lives::new(supplies, needs, horizon);
    let covered = coverage::most(&lives, needs, limit.states.saturating_mul(PLACES_A_STATE));
    let in_full = |(need, given): (&Need, &i64)| Need { quantity: Quantity(*given), ..*need };
    let needs: Vec<Need> = needs.iter().zip(&covered.given).map(in_full).collect();
    let searcher = Searcher { lives: &lives, supplies, needs: &needs, horizon };
    let mut best = searcher.nothing();
    for way in &covered.ways {
        searcher.learn(way, &mut best);
    }
    let anything = vec![Range { first: NaiveDate::MIN, last: NaiveDate::MAX }; supplies.len()];
    let mut open: BinaryHeap<Partial> = searcher.look_at(anything, &mut best).into_iter().collect();
    // A look takes longer where there are more lots and needs: a large item gets fewer, so that none holds up the others.
    let look = 1 + supplies.len().saturating_mul(needs.len()) / PAIRS_A_STATE;
    let (mut number, mut effort) = (0, look);
    while let Some(partial) = open.pop() {
        if partial.bound >= best.lost {
            break;
        }
        if effort >= limit.states {
            return (best.flow, best.windows, false);
        }
        for range in partial.cut.halves(&partial.ranges[partial.cut.supply]) {
            let mut ranges = partial.ranges.clone();
            ranges[partial.cut.supply] = range;
            effort += look;
            if let Some(mut child) = searcher.look_at(ranges, &mut best) {
                number += 1;
                child.number = number;
                open.push(child);
            }
        }
    }
    (best.flow, best.windows, covered.proven)
}

struct Answer {
    flow: Flow,
    windows: Vec<Window>,
    lost: i128,
}

/// The days between which a supply is opened. That it is not opened at all counts as being opened on the last of all days,
/// so that of two halves of a range always the later one holds it.
#[derive(Clone, Copy)]
struct Range {
    first: NaiveDate,
    last: NaiveDate,
}

/// Where the range of a supply is cut.
#[derive(Clone, Copy)]
struct Cut {
    supply: usize,
    /// The last day of the earlier half.
    day: NaiveDate,
}

impl Cut {
    fn halves(self, range: &Range) -> [Range; 2] {
        let after = self.day.succ_opt().unwrap_or(NaiveDate::MAX);
        [Range { last: self.day, ..*range }, Range { first: after, ..*range }]
    }
}

struct Partial {
    ranges: Vec<Range>,
    /// No answer within the ranges loses less.
    bound: i128,
    cut: Cut,
    number: usize,
}

impl Ord for Partial {
    /// By bound; of equals the one found last, so that the search goes deep before it goes wide.
    fn cmp(&self, other: &Self) -> Ordering {
        other.bound.cmp(&self.bound).then(self.number.cmp(&other.number))
    }
}
impl PartialOrd for Partial {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl PartialEq for Partial {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Partial {}

struct Searcher<'a> {
    lives: &'a Lives<'a>,
    supplies: &'a [Supply],
    /// Each needs just what it can get.
    needs: &'a [Need],
    horizon: NaiveDate,
}

impl Searcher<'_> {
    /// The bound of these ranges; `None` where they hold no answer that is better than the best known. That is replaced where the
    /// one that opens each supply when the flow of the bound first draws from it is better.
    fn look_at(&self, ranges: Vec<Range>, best: &mut Answer) -> Option<Partial> {
        let windows: Vec<Window> = (0..ranges.len()).map(|supply| self.window(supply, &ranges[supply])).collect();
        let fixed = self.fixed(&windows);
        let flow = least_value_lost_in_full(fixed)?;
        let bound = value_lost(&flow, fixed);
        if bound >= best.lost {
            return None;
        }
        let first_draws = self.first_draws(&flow);
        self.learn(&first_draws, best);
        let cut = self.cut(&flow, &first_draws, fixed).filter(|_| bound < best.lost)?;
        Some(Partial { ranges, bound, cut, number: 0 })
    }

    fn fixed<'w>(&'w self, windows: &'w [Window]) -> Fixed<'w> {
        Fixed { supplies: self.supplies, windows, needs: self.needs, horizon: self.horizon }
    }

    fn window(&self, supply: usize, range: &Range) -> Window {
        let unopened = Window::unopened(&self.supplies[supply]);
        if !self.lives.binding[supply] {
            return unopened;
        }
        Window { from: unopened.from.max(range.first), through: self.through_if_opened(supply, range.last) }
    }

    fn through_if_opened(&self, supply: usize, day: NaiveDate) -> NaiveDate {
        let supply = &self.supplies[supply];
        supply.life_once_opened.map_or(supply.through, |life| supply.through.min(life.after(day)))
    }

    fn first_draws(&self, flow: &Flow) -> Vec<Option<NaiveDate>> {
        let mut first = vec![None; self.supplies.len()];
        for (place, need) in self.needs.iter().enumerate() {
            for &(supply, _) in flow.of_need(place) {
                first[supply] = first[supply].or(Some(need.day));
            }
        }
        first
    }

    /// The worst answer.
    fn nothing(&self) -> Answer {
        let windows = self.supplies.iter().map(Window::unopened).collect();
        Answer { flow: Flow::new(self.supplies, self.needs.len()), windows, lost: i128::MAX }
    }

    /// Replaces the best answer by that of these openings where that is better.
    fn learn(&self, opened: &[Option<NaiveDate>], best: &mut Answer) {
        if let Some(answer) = self.answer(opened).filter(|answer| answer.lost < best.lost) {
            *best = answer;
        }
    }

    /// The best that can be had where each supply is opened on its day and those without a day stay closed; `None` where
    /// that is not enough for all needs.
    fn answer(&self, opened: &[Option<NaiveDate>]) -> Option<Answer> {
        let window = |(supply, opened): (usize, &Option<NaiveDate>)| match (self.lives.binding[supply], opened) {
            (false, _) => Window::unopened(&self.supplies[supply]),
            (true, None) => Window { from: NaiveDate::MAX, through: self.supplies[supply].through },
            (true, Some(day)) => self.window(supply, &Range { first: *day, last: *day }),
        };
        let windows: Vec<Window> = opened.iter().enumerate().map(window).collect();
        let fixed = self.fixed(&windows);
        let flow = least_value_lost_in_full(fixed)?;
        Some(Answer { lost: value_lost(&flow, fixed), flow, windows })
    }

    /// Where the flow of a bound cannot be had: a supply that is drawn from for longer than it lasts, the earliest such
    /// draw first, or one whose rest was not counted as lost although its first draw makes it end by the horizon.
    fn cut(&self, flow: &Flow, first_draws: &[Option<NaiveDate>], fixed: Fixed<'_>) -> Option<Cut> {
        for (place, need) in self.needs.iter().enumerate() {
            for &(supply, _) in flow.of_need(place) {
                let day = first_draws[supply].filter(|_| self.lives.binding[supply]);
                if let Some(day) = day.filter(|day| self.through_if_opened(supply, *day) < need.through) {
                    return Some(Cut { supply, day });
                }
            }
        }
        let ends_unseen = |supply: &usize| {
            let ends = first_draws[*supply].map(|day| self.through_if_opened(*supply, day) <= self.horizon);
            self.lives.binding[*supply] && !fixed.expires(*supply) && flow.left[*supply] > 0 && ends == Some(true)
        };
        let supply = (0..first_draws.len()).find(ends_unseen)?;
        let too_early = |need: &&Need| self.through_if_opened(supply, need.day) <= self.horizon;
        let day = self.needs.iter().filter(too_early).map(|need| need.day).max()?;
        Some(Cut { supply, day })
    }
}
