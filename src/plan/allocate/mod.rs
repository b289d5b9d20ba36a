//! Which lots serve which dated demands of one item: coverage first, then what would expire, then few lots a weighing.
//!
//! Among all allocations the one is taken that
//! 1. covers the demands, in their order, lexicographically as much as possible;
//! 2. then lets the least value expire unused by the horizon;
//! 3. then uses the fewest lots for a demand, and first-expired-first-out among equals.
//!
//! First-expired-first-out among the lots that last long enough is exact for 1 while every lot's days are fixed, since of
//! two eligible lots the one that lasts longer can do all that the other can, later. 2 is a linear objective over the
//! polymatroid of what lots can be used up, so that the greedy order by value is exact (`flow`). An after-opening life
//! makes the days depend on the plan itself: that is hard in general, and searched (`opening`).

mod fewest;
mod first_fit;
mod flow;
mod opening;
#[cfg(test)]
mod plain;

use super::calendar::Span;
use super::money::Money;
use super::quantity::Quantity;
use chrono::NaiveDate;

/// Something that can serve demands: a lot on hand or an open order.
#[derive(Clone, Debug)]
pub struct Supply {
    /// First day on which it can be used.
    pub from: NaiveDate,
    /// Last day on which it can be used, if the plan does not open it; [`NaiveDate::MAX`] for ever.
    pub through: NaiveDate,
    /// How much.
    pub quantity: Quantity,
    /// What all of it is worth.
    pub value: Money,
    /// After-opening life that its first use sets running.
    pub life_once_opened: Option<Span>,
}

/// A dated demand.
#[derive(Clone, Copy, Debug)]
pub struct Need {
    /// The day it is weighed.
    pub day: NaiveDate,
    /// What serves it must be usable through this day; not before `day`.
    pub through: NaiveDate,
    /// How much; at least 0.
    pub quantity: Quantity,
}

/// So much of a supply for a demand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Draw {
    /// Place in the list of needs.
    pub need: usize,
    /// Place in the list of supplies.
    pub supply: usize,
    /// How much; more than 0.
    pub quantity: Quantity,
}

/// Who gets what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Allocation {
    /// In order of need, then of the supplies' last days.
    pub draws: Vec<Draw>,
    /// What each need does not get.
    pub short: Vec<Quantity>,
    /// Last usable day of each supply, after what the plan opens.
    pub through: Vec<NaiveDate>,
    /// What is left of each supply.
    pub left: Vec<Quantity>,
    /// False where the search for opening days reached its limit before it had a proof.
    pub proven: bool,
}

impl Allocation {
    /// Forgets the needs from this place on; what they drew goes back to the supplies.
    pub fn leave_out_from(&mut self, need: usize) {
        for draw in self.draws.iter().filter(|draw| draw.need >= need) {
            self.left[draw.supply] += draw.quantity;
        }
        self.draws.retain(|draw| draw.need < need);
        self.short.truncate(need);
    }
}

/// How far the search for opening days may go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SearchLimit {
    /// Partial answers that are looked at for one item; fewer where it has more than a thousand pairs of supply and need.
    pub states: usize,
}

impl Default for SearchLimit {
    fn default() -> Self {
        Self { states: 4_000 }
    }
}

/// Allocates `supplies` to `needs`, which are in their order of rank: by day.
#[must_use]
pub fn allocate(supplies: &[Supply], needs: &[Need], horizon: NaiveDate, limit: SearchLimit) -> Allocation {
    let (flow, windows, proven) = best_flow(supplies, needs, horizon, limit);
    let flow = fewest::arrange(flow, supplies, &windows, needs, horizon);
    finish(flow, supplies, needs, proven)
}

/// As [`allocate`], but without the third step: what is covered and what expires are the same, while the draws are not
/// yet arranged for few lots. For whoever only asks what would be lost, many times over.
pub(super) fn allocate_for_value(
    supplies: &[Supply],
    needs: &[Need],
    horizon: NaiveDate,
    limit: SearchLimit,
) -> Allocation {
    let (flow, _, proven) = best_flow(supplies, needs, horizon, limit);
    finish(flow, supplies, needs, proven)
}

fn best_flow(
    supplies: &[Supply],
    needs: &[Need],
    horizon: NaiveDate,
    limit: SearchLimit,
) -> (flow::Flow, Vec<Window>, bool) {
    let windows: Vec<Window> = supplies.iter().map(Window::unopened).collect();
    let opening_matters = supplies.iter().any(|supply| opening::binds(supply, needs, horizon));
    if opening_matters {
        return opening::search(supplies, needs, horizon, limit);
    }
    let expires: Vec<bool> = windows.iter().map(|window| window.through <= horizon).collect();
    (flow::least_value_lost(supplies, &windows, needs, &expires), windows, true)
}

/// Days on which a supply can be used, once it is settled when the plan opens it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Window {
    from: NaiveDate,
    through: NaiveDate,
}

impl Window {
    fn unopened(supply: &Supply) -> Self {
        Self { from: supply.from, through: supply.through }
    }

    fn serves(&self, need: &Need) -> bool {
        self.from <= need.day && self.through >= need.through
    }
}

fn finish(flow: flow::Flow, supplies: &[Supply], needs: &[Need], proven: bool) -> Allocation {
    let mut draws: Vec<Draw> = Vec::with_capacity(needs.len() + supplies.len());
    let mut through: Vec<NaiveDate> = supplies.iter().map(|supply| supply.through).collect();
    let mut touched = vec![false; supplies.len()];
    let mut short = Vec::with_capacity(needs.len());
    for (need_place, need) in needs.iter().enumerate() {
        let (first, mut given) = (draws.len(), 0);
        for &(supply, quantity) in flow.of_need(need_place) {
            given += quantity;
            if !touched[supply] {
                touched[supply] = true;
                if let Some(life) = supplies[supply].life_once_opened {
                    through[supply] = through[supply].min(life.after(need.day));
                }
            }
            draws.push(Draw { need: need_place, supply, quantity: Quantity(quantity) });
        }
        draws[first..].sort_unstable_by_key(|draw| (through[draw.supply], draw.supply));
        short.push(Quantity(need.quantity.0 - given));
    }
    let left = flow.left.iter().map(|&left| Quantity(left)).collect();
    Allocation { draws, short, through, left, proven }
}
