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
//! makes the days depend on the plan itself: that is hard in general, and searched, for what is covered need by need
//! (`coverage`), for what expires by first-use days (`opening`).

mod coverage;
mod fewest;
mod first_fit;
mod flow;
mod opening;
#[cfg(test)]
mod plain;
mod slack;
mod used_up;

use super::calendar::Span;
use super::money::Money;
use super::quantity::Quantity;
use chrono::NaiveDate;
use first_fit::Shelf;

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
    /// Partial answers that are looked at for one item, so that least expires, and as much effort again so that most is covered;
    /// in proportion fewer where it has many pairs of supply and need.
    pub states: usize,
}

impl Default for SearchLimit {
    fn default() -> Self {
        Self { states: 400 }
    }
}

/// Allocates `supplies` to `needs`, which are in their order of rank: by day.
#[must_use]
pub fn allocate(supplies: &[Supply], needs: &[Need], horizon: NaiveDate, limit: SearchLimit) -> Allocation {
    let totals = totals(supplies, needs, horizon, limit);
    let mut draws: Vec<Draw> = Vec::with_capacity(needs.len() + supplies.len());
    let mut opened = Opened::new(supplies);
    let settled = fewest::Settled { given: &totals.given, left: &totals.left };
    let mut left: Vec<Quantity> = supplies.iter().map(|supply| supply.quantity).collect();
    let (shelf, classes) = totals.shelf.unwrap_or_else(|| shelf_for(&totals.windows, needs));
    let fixed = Fixed { supplies, windows: &totals.windows, needs, horizon };
    fewest::arrange(settled, shelf, fixed, &classes, |need, supply, quantity| {
        let quantity = Quantity(quantity);
        if left[supply] == supplies[supply].quantity {
            opened.open(supply, &supplies[supply], needs[need].day);
        }
        left[supply] -= quantity;
        draws.push(Draw { need, supply, quantity });
    });
    // All that draws on a day opens has been opened when the next need draws, but maybe not when the first draw is told.
    if opened.any {
        for draws in draws.chunk_by_mut(|one, other| one.need == other.need).filter(|draws| draws.len() > 1) {
            draws.sort_unstable_by_key(|draw| (opened.through[draw.supply], draw.supply));
        }
    }
    let short = short(needs, &totals.given);
    Allocation { draws, short, through: opened.through, left, proven: totals.proven }
}

/// As [`allocate`], but without the third step: what is covered and what expires are the same. There are no draws, and how
/// much is left of each supply is told of those alone that end by the horizon. For whoever only asks what would be
/// lost, many times over.
pub(super) fn allocate_for_value(
    supplies: &[Supply],
    needs: &[Need],
    horizon: NaiveDate,
    limit: SearchLimit,
) -> Allocation {
    let totals = totals(supplies, needs, horizon, limit);
    let short = short(needs, &totals.given);
    let left = totals.left.into_iter().map(Quantity).collect();
    Allocation { draws: Vec::new(), short, through: totals.through, left, proven: totals.proven }
}

/// What needs get and supplies have left, before it is settled who gives to whom.
struct Totals {
    /// What each need gets.
    given: Vec<i64>,
    /// What is left of each supply that ends by the horizon.
    left: Vec<i64>,
    windows: Vec<Window>,
    /// The last day of each supply; where after-opening lives do not matter, as if it was not opened: whether that is
    /// before the horizon comes to the same.
    through: Vec<NaiveDate>,
    proven: bool,
    /// The shelf of these windows and the class of each need, where they have been set up already.
    shelf: Option<(Shelf, Vec<usize>)>,
}

impl Totals {
    fn of_flow(flow: flow::Flow, windows: Vec<Window>, supplies: &[Supply], needs: &[Need], proven: bool) -> Self {
        let mut opened = Opened::new(supplies);
        let mut closed = vec![true; supplies.len()];
        for (place, need) in needs.iter().enumerate() {
            for &(supply, _) in flow.of_need(place) {
                if std::mem::replace(&mut closed[supply], false) {
                    opened.open(supply, &supplies[supply], need.day);
                }
            }
        }
        let given = flow::coverage(&flow, needs.len());
        Self { given, left: flow.left, windows, through: opened.through, proven, shelf: None }
    }
}

fn short(needs: &[Need], given: &[i64]) -> Vec<Quantity> {
    needs.iter().zip(given).map(|(need, given)| Quantity(need.quantity.0 - given)).collect()
}

/// Supplies in order of their last days, and for each need the first place there that lasts long enough.
fn shelf_for(windows: &[Window], needs: &[Need]) -> (Shelf, Vec<usize>) {
    let shelf = Shelf::new(windows);
    let classes = needs.iter().map(|need| shelf.first_lasting(need.through)).collect();
    (shelf, classes)
}

fn totals(supplies: &[Supply], needs: &[Need], horizon: NaiveDate, limit: SearchLimit) -> Totals {
    let windows: Vec<Window> = supplies.iter().map(Window::unopened).collect();
    let opening_matters = supplies.iter().any(|supply| opening::binds(supply, needs, horizon));
    if opening_matters {
        let (flow, windows, proven) = opening::search(supplies, needs, horizon, limit);
        return Totals::of_flow(flow, windows, supplies, needs, proven);
    }
    let fixed = Fixed { supplies, windows: &windows, needs, horizon };
    let (mut shelf, classes) = shelf_for(&windows, needs);
    let (given, left) = flow::totals(&mut shelf, fixed, &classes);
    let through = supplies.iter().map(|supply| supply.through).collect();
    Totals { given, left, windows, through, proven: true, shelf: Some((shelf, classes)) }
}

/// How long supplies last after draws have opened them.
struct Opened {
    through: Vec<NaiveDate>,
    any: bool,
}

impl Opened {
    fn new(supplies: &[Supply]) -> Self {
        Self { through: supplies.iter().map(|supply| supply.through).collect(), any: false }
    }

    /// The first draw opens a supply.
    fn open(&mut self, place: usize, supply: &Supply, day: NaiveDate) {
        if let Some(life) = supply.life_once_opened {
            self.through[place] = self.through[place].min(life.after(day));
            self.any = true;
        }
    }
}

/// Supplies whose usable days are fixed, and what is asked of them.
#[derive(Clone, Copy)]
struct Fixed<'a> {
    supplies: &'a [Supply],
    windows: &'a [Window],
    needs: &'a [Need],
    horizon: NaiveDate,
}

impl Fixed<'_> {
    /// True where what is left of a supply at the end is lost.
    fn expires(&self, supply: usize) -> bool {
        self.windows[supply].through <= self.horizon
    }
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
