//! Few lots at a weighing: among allocations that cover as much and lose as little, each need in its order is served from
//! the fewest supplies, those that expire first among equals.
//!
//! Which of the supplies that expire by the horizon are used up, and how far, stays as it is: a supply of equal value
//! is not traded for another to save a weighing.

use super::flow::{Flow, Network, Path, Residual, first_expired_order, push};
use super::{Need, Supply, Window};
use chrono::NaiveDate;

/// So many sets of supplies are looked at for a need, and so many of them tried; after that it stays as it is. Five
/// supplies that can serve a need have 31 sets, so that what a workshop meets is settled exactly.
const SETS_LOOKED_AT: usize = 500;
const SETS_TRIED: usize = 64;

/// Re-arranges the flow, keeping what each need gets and what is used up of each supply that expires by the horizon.
pub(super) fn arrange(
    mut flow: Flow,
    supplies: &[Supply],
    windows: &[Window],
    needs: &[Need],
    horizon: NaiveDate,
) -> Flow {
    let order = first_expired_order(windows);
    let expires: Vec<bool> = windows.iter().map(|window| window.through <= horizon).collect();
    let kept: Vec<i64> =
        flow.left.iter().zip(&expires).map(|(&left, &expires)| if expires { left } else { 0 }).collect();
    let open = supplies.iter().zip(&kept).map(|(supply, kept)| supply.quantity.0 - kept).collect();
    let served_last = |window: &Window| {
        let is_served = |need: &usize| flow.given_to(*need) > 0 && window.serves(&needs[*need]);
        (0..needs.len()).rev().find(is_served)
    };
    let last_served = windows.iter().map(served_last).collect();
    flow.keep_journal();
    let residual = Residual::new(supplies.len(), needs.len());
    let mut arranger =
        Arranger { flow, windows, needs, expires, kept, open, last_served, residual, givers: Vec::new() };
    for need in 0..needs.len() {
        arranger.settle(need, &order);
        for &(supply, quantity) in arranger.flow.of_need(need) {
            arranger.open[supply] -= quantity;
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
    open: Vec<i64>,
    /// The last need that each supply can serve.
    last_served: Vec<Option<usize>>,
    residual: Residual,
    /// Who gave to the need before a try; kept to spare a list for each.
    givers: Vec<(usize, i64)>,
}

impl Arranger<'_> {
    /// Serves `need` from the first of the smallest sets of supplies that can. The needs before it are settled.
    fn settle(&mut self, need: usize, order: &[usize]) {
        let wanted = self.flow.given_to(need);
        if wanted == 0 {
            return;
        }
        let (windows, wanting) = (self.windows, &self.needs[need]);
        let serves = |supply: &usize| self.open[*supply] > 0 && windows[*supply].serves(wanting);
        // The usual case, without a list: one supply serves it, and none that ends earlier is large enough.
        let large_enough = |supply: &usize| self.open[*supply] >= wanted && serves(supply);
        let first = order.iter().copied().find(large_enough);
        if first.is_some_and(|first| self.is_served_by(need, &[first])) {
            return;
        }
        let candidates: Vec<usize> = order.iter().copied().filter(serves).collect();
        // What expires and can serve nothing later has to give here all that it still has to give.
        let has_to = |supply: &usize| self.expires[*supply] && self.last_served[*supply] == Some(need);
        let obliged: Vec<usize> = candidates.iter().copied().filter(has_to).collect();
        if !obliged.is_empty() && self.is_served_by(need, &obliged) {
            return;
        }
        let (mut looked_at, mut tried) = (0, 0);
        for size in 1..=self.flow.of_need(need).len().min(candidates.len()) {
            let mut places: Vec<usize> = (0..size).collect();
            let mut set: Vec<usize> = Vec::with_capacity(size);
            loop {
                set.clear();
                set.extend(places.iter().map(|&place| candidates[place]));
                if self.is_served_by(need, &set) {
                    return;
                }
                looked_at += 1;
                let enough = set.iter().map(|&supply| self.open[supply]).sum::<i64>() >= wanted;
                if enough && obliged.iter().all(|supply| set.contains(supply)) {
                    tried += 1;
                    if self.serve_only_from(need, wanted, &set) {
                        return;
                    }
                }
                if looked_at >= SETS_LOOKED_AT || tried >= SETS_TRIED {
                    return;
                }
                if !next_combination(&mut places, candidates.len()) {
                    break;
                }
            }
        }
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
        let start = self.flow.journal_length();
        let mut givers = std::mem::take(&mut self.givers);
        givers.clear();
        givers.extend(self.flow.of_need(need));
        for &(supply, quantity) in &givers {
            self.flow.shift(supply, need, -quantity);
        }
        let mut missing = wanted;
        for &supply in set {
            let quantity = missing.min(self.open[supply]);
            if quantity > 0 {
                self.flow.shift(supply, need, quantity);
                missing -= quantity;
            }
        }
        let mended = self.relieve_overdrawn(need, set) && self.use_up_spared(need, set, &givers);
        self.givers = givers;
        if !mended {
            self.flow.undo(start);
        }
        mended
    }

    /// Others take over from supplies of the set that now give more than they may.
    fn relieve_overdrawn(&mut self, need: usize, set: &[usize]) -> bool {
        for &overdrawn in set {
            while self.flow.left[overdrawn] < self.kept[overdrawn] {
                let has_spare = |supply: &usize| self.flow.left[*supply] > self.kept[*supply];
                let spare: Vec<usize> = (0..self.kept.len()).filter(has_spare).collect();
                let Some(path) = self.path(need, set, &spare, End::At(overdrawn)) else { return false };
                let start = path[0].0;
                let missing = self.kept[overdrawn] - self.flow.left[overdrawn];
                let most = missing.min(self.flow.left[start] - self.kept[start]);
                push(&mut self.flow, &path, most);
            }
        }
        true
    }

    /// What was spared of a former giver that expires is used up in place of what lasts.
    fn use_up_spared(&mut self, need: usize, set: &[usize], givers: &[(usize, i64)]) -> bool {
        for &(supply, _) in givers {
            while self.expires[supply] && self.flow.left[supply] > self.kept[supply] {
                let Some(path) = self.path(need, set, &[supply], End::AtWhatLasts) else { return false };
                let most = self.flow.left[supply] - self.kept[supply];
                push(&mut self.flow, &path, most);
            }
        }
        true
    }

    /// A residual path over the needs from `need` on, which itself takes from the set alone.
    fn path(&mut self, need: usize, set: &[usize], starts: &[usize], end: End) -> Option<Path> {
        let may_serve = |supply: usize, other: usize| other != need || set.contains(&supply);
        let network = Network { flow: &self.flow, windows: self.windows, needs: self.needs };
        let expires = &self.expires;
        let ends_at = |supply: usize| match end {
            End::At(wanted) => supply == wanted,
            End::AtWhatLasts => !expires[supply],
        };
        self.residual.path(network, need, starts, may_serve, ends_at)
    }
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
