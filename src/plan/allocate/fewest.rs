//! Few lots at a weighing: among allocations that cover as much and lose as little, each need in its order is served from
//! the fewest supplies, those that expire first among equals.
//!
//! Which of the supplies that expire by the horizon are used up, and how far, stays as it is: a supply of equal value
//! is not traded for another to save a weighing.

use super::first_fit::Shelf;
use super::flow::{Flow, Network, Residual};
use super::{Need, Supply, Window};
use chrono::NaiveDate;
use std::ops::Range;

/// So many sets of supplies are looked at for a need, and so many of them tried; after that it stays as it is. Five
/// supplies that can serve a need have 31 sets, so that what a workshop meets is settled exactly.
const SETS_LOOKED_AT: usize = 500;
const SETS_TRIED: usize = 64;

/// Re-arranges the flow, keeping what each need gets and what is used up of each supply that expires by the horizon.
pub(super) fn arrange(flow: Flow, supplies: &[Supply], windows: &[Window], needs: &[Need], horizon: NaiveDate) -> Flow {
    let expires: Vec<bool> = windows.iter().map(|window| window.through <= horizon).collect();
    let kept: Vec<i64> =
        flow.left.iter().zip(&expires).map(|(&left, &expires)| if expires { left } else { 0 }).collect();
    let network = Network { flow: &flow, windows, needs };
    let residual = Residual::new(network);
    let served_last = |supply: usize| Some((residual.last_served(network, supply)?, supply));
    let mut served_last: Vec<(usize, usize)> =
        (0..windows.len()).filter(|&supply| expires[supply]).filter_map(served_last).collect();
    served_last.sort_by_key(|&(need, supply)| (need, windows[supply].through, windows[supply].from));
    let shelf = Shelf::new(windows);
    let mut arranger =
        Arranger { flow, windows, needs, expires, kept, shelf, served_last, residual, givers: Vec::new() };
    for (place, need) in needs.iter().enumerate() {
        arranger.shelf.receive(need.day, windows, |supply| supplies[supply].quantity.0 - arranger.kept[supply]);
        arranger.settle(place);
        for &(supply, quantity) in arranger.flow.of_need(place) {
            arranger.shelf.take(supply, quantity);
        }
    }
    arranger.flow
}

struct Arranger<'a> {
    flow: Flow,
    windows: &'a [Window],
    needs: &'a [Need],
    expires: Vec<bool>,
    /// What must be left of each supply: of what expires just what is left now, of what lasts nothing.
    kept: Vec<i64>,
    /// What each supply may give to the needs that are not settled yet.
    shelf: Shelf,
    /// The last need that each supply that expires can serve, in order of need, then of the shelf.
    served_last: Vec<(usize, usize)>,
    residual: Residual,
    /// Who gave to the need before a try; kept to spare a list for each.
    givers: Vec<(usize, i64)>,
}

impl Arranger<'_> {
    /// Serves `need` from the first of the smallest sets of supplies that can. The needs before it are settled.
    fn settle(&mut self, need: usize) {
        let wanted = self.flow.given_to(need);
        if wanted == 0 {
            return;
        }
        let first = self.shelf.first_lasting(self.needs[need].through);
        // The usual case: one supply serves it, and none that ends earlier is large enough.
        let large_enough = self.shelf.next(first, wanted);
        if large_enough.is_some_and(|(_, supply)| self.is_served_by(need, &[supply])) {
            return;
        }
        let obliged = self.obliged(need);
        if !obliged.is_empty() && self.is_served_by(need, &obliged) {
            return;
        }
        let mut search = Search { need, wanted, obliged, looked_at: 0, tried: 0 };
        let mut place = first;
        while let Some((found, supply)) = self.shelf.next(place, 1) {
            place = found + 1;
            // A supply that is too small is looked at in passing.
            if self.shelf.has(supply) < wanted && search.looked_at + 1 < SETS_LOOKED_AT {
                search.looked_at += 1;
            } else if self.look_at(&mut search, &[supply]) {
                return;
            }
        }
        let given = self.flow.of_need(need).len();
        if given > 1 {
            self.look_at_larger(&mut search, first, given);
        }
    }

    /// What expires and can serve nothing later than this need has to give it all that it still has to give.
    fn obliged(&self, need: usize) -> Vec<usize> {
        let first = self.served_last.partition_point(|(last, _)| *last < need);
        let served_last = self.served_last[first..].iter().take_while(|(last, _)| *last == need);
        served_last.map(|(_, supply)| *supply).filter(|&supply| self.shelf.has(supply) > 0).collect()
    }

    /// Looks at the sets of two supplies from the place `first` of the shelf on, of three, up to `most`.
    fn look_at_larger(&mut self, search: &mut Search, first: usize, most: usize) {
        let mut candidates = Vec::new();
        let mut place = first;
        while let Some((found, supply)) = self.shelf.next(place, 1) {
            candidates.push(supply);
            place = found + 1;
        }
        let mut set: Vec<usize> = Vec::with_capacity(most);
        for size in 2..=most.min(candidates.len()) {
            let mut places: Vec<usize> = (0..size).collect();
            loop {
                set.clear();
                set.extend(places.iter().map(|&place| candidates[place]));
                if self.look_at(search, &set) {
                    return;
                }
                if !next_combination(&mut places, candidates.len()) {
                    break;
                }
            }
        }
    }

    /// True where the need is served by this set now, or the search ends at its limit.
    fn look_at(&mut self, search: &mut Search, set: &[usize]) -> bool {
        if self.is_served_by(search.need, set) {
            return true;
        }
        search.looked_at += 1;
        let enough = set.iter().map(|&supply| self.shelf.has(supply)).sum::<i64>() >= search.wanted;
        if enough && search.obliged.iter().all(|supply| set.contains(supply)) {
            search.tried += 1;
            if self.serve_only_from(search.need, search.wanted, set) {
                return true;
            }
        }
        search.looked_at >= SETS_LOOKED_AT || search.tried >= SETS_TRIED
    }

    fn is_served_by(&self, need: usize, set: &[usize]) -> bool {
        let given = self.flow.of_need(need);
        given.len() == set.len() && given.iter().all(|(supply, _)| set.contains(supply))
    }

    /// Serves the need from these supplies alone and mends the later needs; puts everything back where that cannot be.
    ///
    /// Exact: what supplies can give under full coverage, the need held to the set, are the bases of a polymatroid, so
    /// that exchanges along residual paths reach a wanted base from any other.
    fn serve_only_from(&mut self, need: usize, wanted: i64, set: &[usize]) -> bool {
        self.flow.begin();
        let mut givers = std::mem::take(&mut self.givers);
        givers.clear();
        givers.extend(self.flow.of_need(need));
        for &(supply, quantity) in &givers {
            self.flow.shift(supply, need, -quantity);
        }
        let mut missing = wanted;
        for &supply in set {
            let quantity = missing.min(self.shelf.has(supply));
            if quantity > 0 {
                self.flow.shift(supply, need, quantity);
                missing -= quantity;
            }
        }
        let mended = self.relieve_overdrawn(need, set) && self.use_up_spared(need, set, &givers);
        self.givers = givers;
        if !mended {
            self.flow.take_back();
        }
        mended
    }

    /// Others take over from supplies of the set that now give more than they may.
    fn relieve_overdrawn(&mut self, need: usize, set: &[usize]) -> bool {
        for &overdrawn in set {
            let mut first_spare = 0;
            while self.flow.left[overdrawn] < self.kept[overdrawn] {
                // Those before have nothing to spare, and get nothing back while one supply is relieved.
                let has_spare = |supply: &usize| self.flow.left[*supply] > self.kept[*supply];
                let Some(spare) = (first_spare..self.kept.len()).find(has_spare) else { return false };
                first_spare = spare;
                let missing = self.kept[overdrawn] - self.flow.left[overdrawn];
                if !self.exchange(need, set, spare..self.kept.len(), End::At(overdrawn), missing) {
                    return false;
                }
            }
        }
        true
    }

    /// What was spared of a former giver that expires is used up in place of what lasts.
    fn use_up_spared(&mut self, need: usize, set: &[usize], givers: &[(usize, i64)]) -> bool {
        for &(supply, _) in givers {
            while self.expires[supply] && self.flow.left[supply] > self.kept[supply] {
                if !self.exchange(need, set, supply..supply + 1, End::AtWhatLasts, i64::MAX) {
                    return false;
                }
            }
        }
        true
    }

    /// Uses more of one of `starts` that has more left than it must, at most `most`, so that the supply at the `end` of
    /// the way gives less: over the needs from `need` on, which itself takes from the set alone. False where there is no way.
    fn exchange(&mut self, need: usize, set: &[usize], starts: Range<usize>, end: End, most: i64) -> bool {
        let may_serve = |supply: usize, other: usize| other != need || set.contains(&supply);
        let (flow, kept, expires) = (&self.flow, &self.kept, &self.expires);
        let is_start = |supply: usize| starts.contains(&supply) && flow.left[supply] > kept[supply];
        let ends_at = |supply: usize| match end {
            End::At(wanted) => supply == wanted,
            End::AtWhatLasts => !expires[supply],
        };
        let network = Network { flow, windows: self.windows, needs: self.needs };
        let from = starts.clone().filter(|&supply| is_start(supply));
        let Some(end) = self.residual.look(network, need, from, is_start, may_serve, ends_at) else {
            self.residual.forget(self.needs);
            return false;
        };
        let most = |start: usize, flow: &Flow| most.min(flow.left[start] - kept[start]);
        self.residual.push(&mut self.flow, self.needs, end, most);
        true
    }
}

/// The search for the smallest set of supplies that can serve a need.
struct Search {
    need: usize,
    wanted: i64,
    /// Supplies that any set has to hold.
    obliged: Vec<usize>,
    looked_at: usize,
    tried: usize,
}

/// Where a residual path has to end.
#[derive(Clone, Copy)]
enum End {
    At(usize),
    AtWhatLasts,
}

/// The next set of as many places below `count`, in lexicographic order; false after the last.
fn next_combination(places: &mut [usize], count: usize) -> bool {
    let size = places.len();
    let Some(moved) = (0..size).rev().find(|&digit| places[digit] < count - size + digit) else { return false };
    places[moved] += 1;
    for digit in moved + 1..size {
        places[digit] = places[digit - 1] + 1;
    }
    true
}
