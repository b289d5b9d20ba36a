//! The smallest set of moves: first which entries, by taking them out of the way, then to which days.
//!
//! Both steps branch on the first thing that comes too late: as long as none of those who use it moves (further), it stays
//! so, since what an item lacks depends on nobody else. An entry that is out of the way takes nothing from the others, so
//! whoever is late then is late wherever the entry moves. (With fixed days the demands that are covered one after the other
//! are the greedy basis of a matroid; without one of them the others are covered no less.)

use super::MoveSettings;
use super::field::{Field, Shift, Trouble};
use crate::plan::model::EntryId;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

/// What was found.
pub(super) struct Found {
    /// Entries, in the order of the plan, and by how many days each moves; `None` where no set was found.
    pub shifts: Option<Vec<(EntryId, u32)>>,
    /// True where the search came to its end.
    pub proven: bool,
}

/// A set of moves as it is compared: all days together, then entry by entry.
type Ranked = (u32, Vec<(EntryId, u32)>);

/// The smallest set of moves that makes the plan whole.
pub(super) fn smallest(field: &Field<'_>, settings: MoveSettings) -> Found {
    let plain = one_after_the_other(field, settings);
    let entries = field.made_on.len();
    let most = plain.as_ref().map_or(entries, |(_, moves)| moves.len());
    let mut search = Search {
        field,
        settings,
        plan: vec![Shift::Later(0); entries],
        out_of_the_way: BTreeMap::new(),
        seen: BTreeSet::new(),
        best: None,
        ended: false,
    };
    for count in 1..=most {
        search.seen.clear();
        // With as many moves as the plain way takes, it is a set to beat.
        search.best = plain.clone().filter(|(_, moves)| moves.len() == count);
        search.sets(&mut Vec::new(), count);
        if search.ended {
            // The clean answer is not to be had: the plain one, or a better one of the same number, stands unproven.
            return Found { shifts: search.best.or(plain).map(|(_, moves)| moves), proven: false };
        }
        if let Some((_, moves)) = search.best.take() {
            return Found { shifts: Some(moves), proven: true };
        }
    }
    Found { shifts: None, proven: true }
}

/// The fewest days by which an entry can move so that nothing that it needs is late, and nobody else who was not before.
pub(super) fn first_possible(
    field: &Field<'_>,
    entry: EntryId,
    late: &[EntryId],
    settings: MoveSettings,
) -> Option<u32> {
    let mut plan = vec![Shift::Later(0); field.made_on.len()];
    let first = field.first_shift(entry);
    for days in first..=last_shift(field, entry, settings) {
        if field.trials.get() >= 2 * settings.trials {
            return None;
        }
        plan[entry.index()] = Shift::Later(days);
        let troubles = field.troubles(&plan);
        if troubles.iter().all(|trouble| trouble.entry != entry && late.contains(&trouble.entry)) {
            return Some(days);
        }
    }
    None
}

fn last_shift(field: &Field<'_>, entry: EntryId, settings: MoveSettings) -> u32 {
    let first = field.first_shift(entry);
    if first > 1 { first.saturating_add(settings.furthest_days) } else { settings.furthest_days }
}

/// Moves whoever is late, one after the other, until nobody is: a set, though seldom the smallest.
fn one_after_the_other(field: &Field<'_>, settings: MoveSettings) -> Option<Ranked> {
    let mut days: BTreeMap<EntryId, u32> = BTreeMap::new();
    let mut plan = vec![Shift::Later(0); field.made_on.len()];
    loop {
        let Some(trouble) = field.troubles(&plan).first().copied() else {
            return Some(only_those_it_takes(field, plan, days));
        };
        let entry = trouble.entry;
        let next = days.get(&entry).map_or_else(|| field.first_shift(entry), |days| days + 1);
        if next > last_shift(field, entry, settings) || field.trials.get() >= settings.trials / 2 {
            return None;
        }
        days.insert(entry, next);
        plan[entry.index()] = Shift::Later(next);
    }
}

/// Leaves out the moves without which the plan is whole too: those who moved early may have moved for nothing.
fn only_those_it_takes(field: &Field<'_>, mut plan: Vec<Shift>, mut days: BTreeMap<EntryId, u32>) -> Ranked {
    let entries: Vec<EntryId> = days.keys().copied().collect();
    for entry in entries {
        let moved = std::mem::replace(&mut plan[entry.index()], Shift::Later(0));
        if field.troubles(&plan).is_empty() {
            days.remove(&entry);
        } else {
            plan[entry.index()] = moved;
        }
    }
    (days.values().sum(), days.into_iter().collect())
}

struct Search<'f, 'a> {
    field: &'f Field<'a>,
    settings: MoveSettings,
    plan: Vec<Shift>,
    /// Of sets that are out of the way: what is late for the others.
    out_of_the_way: BTreeMap<Vec<EntryId>, Option<Trouble>>,
    /// Sets that were looked at, of the number of moves that is tried.
    seen: BTreeSet<Vec<EntryId>>,
    best: Option<Ranked>,
    ended: bool,
}

impl Search<'_, '_> {
    /// Looks at every set of `count` entries that contains `set` and could do.
    fn sets(&mut self, set: &mut Vec<EntryId>, count: usize) {
        if self.ended || !self.seen.insert(set.clone()) {
            return;
        }
        let trouble = self.without(set);
        if set.len() == count {
            if trouble.is_none() {
                self.days(set);
            }
            return;
        }
        let more: Vec<EntryId> = match trouble {
            Some(trouble) => self.who_could_help(trouble),
            // The set alone did not do: somebody else has to make room for it.
            None => (0..self.plan.len()).map(EntryId::new).filter(|entry| self.meets(*entry, set)).collect(),
        };
        for entry in more {
            if let Err(place) = set.binary_search(&entry) {
                set.insert(place, entry);
                self.sets(set, count);
                set.remove(place);
            }
        }
    }

    /// Those who use what is late; the late entry alone where it is its own start.
    fn who_could_help(&self, trouble: Trouble) -> Vec<EntryId> {
        match trouble.item {
            Some(item) => self.field.users[item.index()].clone(),
            None => vec![trouble.entry],
        }
    }

    /// True where the entry shares an item with one of the set.
    fn meets(&self, entry: EntryId, set: &[EntryId]) -> bool {
        let both = |users: &Vec<EntryId>| {
            users.binary_search(&entry).is_ok() && set.iter().any(|other| users.binary_search(other).is_ok())
        };
        self.field.users.iter().any(both)
    }

    /// The first thing that is late once these are out of the way.
    fn without(&mut self, set: &[EntryId]) -> Option<Trouble> {
        if let Some(known) = self.out_of_the_way.get(set) {
            return *known;
        }
        self.plan.fill(Shift::Later(0));
        for entry in set {
            self.plan[entry.index()] = Shift::Away;
        }
        let mut troubles = self.look();
        // Those out of the way are never late: what they need can be there long before.
        troubles.retain(|trouble| set.binary_search(&trouble.entry).is_err());
        let first = troubles.first().copied();
        self.out_of_the_way.insert(set.to_vec(), first);
        first
    }

    fn look(&mut self) -> Vec<Trouble> {
        if self.field.trials.get() >= self.settings.trials {
            self.ended = true;
            return Vec::new();
        }
        self.field.troubles(&self.plan)
    }

    /// The fewest days for which the moves of just these entries make the plan whole, where that beats the best.
    fn days(&mut self, set: &[EntryId]) {
        let Some(least) = set.iter().map(|entry| self.alone(set, *entry)).collect::<Option<Vec<u32>>>() else {
            return;
        };
        let mut waiting = BinaryHeap::new();
        let mut pushed = BTreeSet::new();
        let total = |days: &[u32]| days.iter().sum::<u32>();
        pushed.insert(least.clone());
        waiting.push(Reverse((total(&least), least)));
        while let Some(Reverse((sum, days))) = waiting.pop() {
            let ranked: Ranked = (sum, set.iter().copied().zip(days.iter().copied()).collect());
            if self.ended || self.best.as_ref().is_some_and(|best| *best <= ranked) {
                return;
            }
            self.plan.fill(Shift::Later(0));
            for (entry, days) in &ranked.1 {
                self.plan[entry.index()] = Shift::Later(*days);
            }
            let Some(trouble) = self.look().first().copied() else {
                if !self.ended {
                    self.best = Some(ranked);
                }
                return;
            };
            let helpers = self.who_could_help(trouble);
            for (place, entry) in set.iter().enumerate() {
                let further = days[place] + 1;
                if helpers.contains(entry) && further <= last_shift(self.field, *entry, self.settings) {
                    let mut next = days.clone();
                    next[place] = further;
                    if pushed.insert(next.clone()) {
                        waiting.push(Reverse((total(&next), next)));
                    }
                }
            }
        }
    }

    /// The fewest days by which the entry has to move even with the rest of the set out of the way.
    fn alone(&mut self, set: &[EntryId], entry: EntryId) -> Option<u32> {
        for days in self.field.first_shift(entry)..=last_shift(self.field, entry, self.settings) {
            self.plan.fill(Shift::Later(0));
            for other in set {
                self.plan[other.index()] = Shift::Away;
            }
            self.plan[entry.index()] = Shift::Later(days);
            let mut troubles = self.look();
            troubles.retain(|trouble| trouble.entry == entry || set.binary_search(&trouble.entry).is_err());
            if self.ended {
                return None;
            }
            if troubles.is_empty() {
                return Some(days);
            }
        }
        None
    }
}
