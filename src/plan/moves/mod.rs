//! Which plan entries have to move so that everything can come in time: the smallest set of moves, exactly.
//!
//! A plan is whole where nothing that it lacks comes too late. An entry may move to a later day and takes all that it needs
//! with it, through the make-ahead days of its premixes; whoever takes stock away from others may be the one to move. Of
//! all sets of moves that make the plan whole the smallest is taken: by number of entries, then by all days moved together,
//! then by the order of the plan. The model is section 8 of `docs/model.md`.

mod field;
mod search;

use super::allocate::SearchLimit;
use super::model::{EntryId, PlanDay, Snapshot};
use chrono::{Days, NaiveDate};
use field::{Field, Shift};

/// How far the search goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MoveSettings {
    /// An entry moves at most so many days: beyond the day that is planned, or beyond today where that lies before it.
    pub furthest_days: u32,
    /// So many plans are looked at, at the most.
    pub trials: usize,
    /// How far each allocation may search for opening days.
    pub allocation: SearchLimit,
}

impl Default for MoveSettings {
    fn default() -> Self {
        Self { furthest_days: 90, trials: 3_000, allocation: SearchLimit { states: 200 } }
    }
}

/// An entry that moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EntryMove {
    /// Which.
    pub entry: EntryId,
    /// The day it is made as planned.
    pub from: NaiveDate,
    /// The day it would be made.
    pub to: NaiveDate,
    /// The new day as the plan would say it: the day to be ready by moves by as many days.
    pub when: PlanDay,
}

/// A late entry, and the first day on which it could be made if nothing but it moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LateEntry {
    /// Which.
    pub entry: EntryId,
    /// The move after which nothing that it needs is late, and nothing else is late that was not before. `None` where there
    /// is none within the days that are looked at, or the search ended before it was found.
    pub could: Option<EntryMove>,
}

/// How to make the plan whole.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Moves {
    /// Entries for which something comes too late, in the order of the plan.
    pub late: Vec<LateEntry>,
    /// The moves that make the plan whole, in the order of the plan; empty where it is whole, or none were found.
    pub moves: Vec<EntryMove>,
    /// True where the moves (or, with nothing late, none) make the plan whole.
    pub whole: bool,
    /// True where no smaller set makes the plan whole; where there are no moves, that none do within the days looked at.
    pub proven: bool,
}

/// Finds the smallest set of moves, and the first possible day of each late entry.
#[must_use]
pub fn moves(snapshot: &Snapshot, today: NaiveDate, settings: MoveSettings) -> Moves {
    let field = Field::new(snapshot, today, settings.furthest_days, settings.allocation);
    let planned = vec![Shift::Later(0); snapshot.entries.len()];
    let troubles = field.troubles(&planned);
    let mut late: Vec<EntryId> = troubles.iter().map(|trouble| trouble.entry).collect();
    late.sort_unstable();
    late.dedup();
    if late.is_empty() {
        return Moves { whole: true, proven: true, ..Moves::default() };
    }
    let found = search::smallest(&field, settings);
    let moved = |(entry, days): (EntryId, u32)| EntryMove {
        entry,
        from: field.made_on[entry.index()],
        to: field.made_on[entry.index()].checked_add_days(Days::new(u64::from(days))).unwrap_or(NaiveDate::MAX),
        when: field::moved(snapshot.entry(entry).when, days),
    };
    let whole = found.shifts.is_some();
    let one_alone = |entry: EntryId| {
        let could = search::first_possible(&field, entry, &late, settings).map(|days| moved((entry, days)));
        LateEntry { entry, could }
    };
    let alone = late.iter().map(|entry| one_alone(*entry)).collect();
    let proven = found.proven && field.proven.get();
    Moves { late: alone, moves: found.shifts.unwrap_or_default().into_iter().map(moved).collect(), whole, proven }
}
