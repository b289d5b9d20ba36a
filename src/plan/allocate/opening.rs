//! When the plan opens what: a search over first-use days, for items whose after-opening life can matter.
//!
//! With the days fixed, coverage and value are solved exactly ([`super::flow`]). A partial answer says between which days
//! each supply is opened, if it is; its bound is what could be had if each could be used from the first of these days and
//! lasted as if opened on the last. Where the flow of that bound draws from a supply longer than its life from the
//! first draw, the range is cut there: opened by that day, or after it. Partial answers are taken by their bound, the best
//! first (branch and bound), so that the search ends when no other can beat the best answer known.

use super::flow::{Flow, coverage, least_value_lost, value_lost};
use super::{Need, SearchLimit, Supply, Window};
use chrono::NaiveDate;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Looking at so many pairs of supply and need counts as one more state.
const PAIRS_A_STATE: usize = 32;

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

/// The best flow found, its windows, and whether it is proven to be the best.
pub(super) fn search(
    supplies: &[Supply],
    needs: &[Need],
    horizon: NaiveDate,
    limit: SearchLimit,
) -> (Flow, Vec<Window>, bool) {
    let binding = supplies.iter().map(|supply| binds(supply, needs, horizon)).collect();
    let searcher = Searcher { supplies, needs, horizon, binding };
    let anything = vec![Range { first: NaiveDate::MIN, last: NaiveDate::MAX }; supplies.len()];
    let (root, mut best) = searcher.look_at(anything);
    let mut open = BinaryHeap::from([root]);
    // A look takes longer where there are more lots and needs: a large item gets fewer, so that none holds up the others.
    let look = 1 + supplies.len().saturating_mul(needs.len()) / PAIRS_A_STATE;
    let (mut number, mut effort) = (0, look);
    while let Some(partial) = open.pop() {
        if !partial.bound.beats(&best.worth) {
            return (best.flow, best.windows, true);
        }
        if effort >= limit.states {
            return (best.flow, best.windows, false);
        }
        let Some(cut) = partial.cut else { continue };
        for range in cut.halves(&partial.ranges[cut.supply]) {
            let mut ranges = partial.ranges.clone();
            ranges[cut.supply] = range;
            let (mut child, answer) = searcher.look_at(ranges);
            if answer.worth.beats(&best.worth) {
                best = answer;
            }
            number += 1;
            child.number = number;
            effort += look;
            if child.bound.beats(&best.worth) {
                open.push(child);
            }
        }
    }
    (best.flow, best.windows, true)
}

/// What an answer is judged by.
#[derive(Clone, PartialEq, Eq)]
struct Worth {
    coverage: Vec<i64>,
    lost: i128,
}

impl Worth {
    fn beats(&self, other: &Self) -> bool {
        self.order(other) == Ordering::Greater
    }

    fn order(&self, other: &Self) -> Ordering {
        self.coverage.cmp(&other.coverage).then_with(|| other.lost.cmp(&self.lost))
    }
}

struct Answer {
    flow: Flow,
    windows: Vec<Window>,
    worth: Worth,
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
    /// No answer within the ranges is worth more.
    bound: Worth,
    /// `None` where the bound is reached by an answer.
    cut: Option<Cut>,
    number: usize,
}

impl Ord for Partial {
    /// By bound; of equals the one found last, so that the search goes deep before it goes wide.
    fn cmp(&self, other: &Self) -> Ordering {
        self.bound.order(&other.bound).then(self.number.cmp(&other.number))
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
    supplies: &'a [Supply],
    needs: &'a [Need],
    horizon: NaiveDate,
    binding: Vec<bool>,
}

impl Searcher<'_> {
    /// The bound of these ranges, and the answer that opens each supply when the flow of the bound first draws from it.
    fn look_at(&self, ranges: Vec<Range>) -> (Partial, Answer) {
        let windows: Vec<Window> = (0..ranges.len()).map(|supply| self.window(supply, &ranges[supply])).collect();
        let expires = self.expires(&windows);
        let flow = least_value_lost(self.supplies, &windows, self.needs, &expires);
        let bound = self.worth(&flow, &expires);
        let first_draws = self.first_draws(&flow);
        let answer = self.answer(&first_draws);
        let reached = !bound.beats(&answer.worth);
        let cut = if reached { None } else { self.cut(&flow, &first_draws, &expires) };
        (Partial { ranges, bound, cut, number: 0 }, answer)
    }

    fn expires(&self, windows: &[Window]) -> Vec<bool> {
        windows.iter().map(|window| window.through <= self.horizon).collect()
    }

    fn worth(&self, flow: &Flow, expires: &[bool]) -> Worth {
        Worth { coverage: coverage(flow, self.needs.len()), lost: value_lost(flow, self.supplies, expires) }
    }

    fn window(&self, supply: usize, range: &Range) -> Window {
        let unopened = Window::unopened(&self.supplies[supply]);
        if !self.binding[supply] {
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

    /// The best that can be had where each supply is opened on its day and those without a day stay closed.
    fn answer(&self, opened: &[Option<NaiveDate>]) -> Answer {
        let window = |(supply, opened): (usize, &Option<NaiveDate>)| match (self.binding[supply], opened) {
            (false, _) => Window::unopened(&self.supplies[supply]),
            (true, None) => Window { from: NaiveDate::MAX, through: self.supplies[supply].through },
            (true, Some(day)) => self.window(supply, &Range { first: *day, last: *day }),
        };
        let windows: Vec<Window> = opened.iter().enumerate().map(window).collect();
        let expires = self.expires(&windows);
        let flow = least_value_lost(self.supplies, &windows, self.needs, &expires);
        Answer { worth: self.worth(&flow, &expires), flow, windows }
    }

    /// Where the flow of a bound cannot be had: a supply that is drawn from for longer than it lasts, the earliest such
    /// draw first, or one whose rest was not counted as lost although its first draw makes it end by the horizon.
    fn cut(&self, flow: &Flow, first_draws: &[Option<NaiveDate>], expires: &[bool]) -> Option<Cut> {
        for (place, need) in self.needs.iter().enumerate() {
            for &(supply, _) in flow.of_need(place) {
                let day = first_draws[supply].filter(|_| self.binding[supply]);
                if let Some(day) = day.filter(|day| self.through_if_opened(supply, *day) < need.through) {
                    return Some(Cut { supply, day });
                }
            }
        }
        let ends_unseen = |supply: &usize| {
            let ends = first_draws[*supply].map(|day| self.through_if_opened(*supply, day) <= self.horizon);
            self.binding[*supply] && !expires[*supply] && flow.left[*supply] > 0 && ends == Some(true)
        };
        let supply = (0..expires.len()).find(ends_unseen)?;
        let too_early = |need: &&Need| self.through_if_opened(supply, need.day) <= self.horizon;
        let day = self.needs.iter().filter(too_early).map(|need| need.day).max()?;
        Some(Cut { supply, day })
    }
}
