//! The plan with some entries moved, and who then comes too late: asked many times over, so only what decides it is worked out.

use crate::plan::allocate::{Need, SearchLimit, Supply, allocate_for_value};
use crate::plan::explode::{Explosion, Levels, explode, size};
use crate::plan::finding::FindingKind;
use crate::plan::model::{EntryId, ItemId, Offer, PlanDay, Snapshot};
use crate::plan::reorder::requirements::{offers_with_rates, serves_in_time, soonest_delivery};
use crate::plan::supply::supplies;
use chrono::{Days, NaiveDate};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

/// Where an entry stands in a plan that is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Shift {
    /// So many days later than planned; 0 where it stays.
    Later(u32),
    /// Taken out of the way: made after everything else.
    Away,
}

/// Something that comes too late.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Trouble {
    /// The day it is needed.
    pub day: NaiveDate,
    /// For which entry.
    pub entry: EntryId,
    /// What; `None` where the entry itself should have been started before today.
    pub item: Option<ItemId>,
}

/// Whether an offer can serve, in time or at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Service {
    InTime,
    Late,
    Never,
}

/// The workshop, ready for many tries.
pub(super) struct Field<'a> {
    snapshot: &'a Snapshot,
    today: NaiveDate,
    horizon: NaiveDate,
    limit: SearchLimit,
    supplies: Vec<Vec<Supply>>,
    offers: BTreeMap<ItemId, Vec<&'a Offer>>,
    /// For each item the entries that could ask for it, were every premix made anew.
    pub users: Vec<Vec<EntryId>>,
    /// The day on which each entry is made as planned.
    pub made_on: Vec<NaiveDate>,
    /// Entries that lack something that no offer can serve on any day.
    hopeless: BTreeSet<EntryId>,
    served: RefCell<BTreeMap<(ItemId, NaiveDate, NaiveDate), Service>>,
    /// The snapshot whose entries are moved about.
    tried: RefCell<Snapshot>,
    /// How many plans were looked at.
    pub trials: std::cell::Cell<usize>,
    /// False once an answer rests on an allocation that is not proven.
    pub proven: std::cell::Cell<bool>,
}

impl<'a> Field<'a> {
    /// Looks the workshop over. Entries may move up to `furthest_days` later.
    pub fn new(snapshot: &'a Snapshot, today: NaiveDate, furthest_days: u32, limit: SearchLimit) -> Self {
        let make_on = |entry| size(entry, snapshot.product(entry.product)).make_on;
        let made_on: Vec<NaiveDate> = snapshot.entries.iter().map(make_on).collect();
        let last = made_on.iter().copied().max().unwrap_or(today).max(today);
        let mut field = Self {
            snapshot,
            today,
            horizon: last.checked_add_days(Days::new(u64::from(furthest_days))).unwrap_or(NaiveDate::MAX),
            limit,
            supplies: supplies(snapshot, today).supplies,
            offers: offers_with_rates(snapshot, today, &mut Vec::new()),
            users: users(snapshot),
            made_on,
            hopeless: BTreeSet::new(),
            served: RefCell::default(),
            tried: RefCell::new(snapshot.clone()),
            trials: std::cell::Cell::new(0),
            proven: std::cell::Cell::new(true),
        };
        let (hopeless, _) = field.look(&vec![Shift::Later(0); snapshot.entries.len()], true);
        field.hopeless = hopeless.into_iter().map(|trouble| trouble.entry).collect();
        field
    }

    /// How many days later than planned an entry may first stand: not before today.
    pub fn first_shift(&self, entry: EntryId) -> u32 {
        let behind = (self.today - self.made_on[entry.index()]).num_days();
        u32::try_from(behind.max(1)).unwrap_or(1)
    }

    /// Everything that comes too late with the entries so moved, by day, entry, item. What no offer can serve on any day
    /// counts only where its entry lacked such a thing before nothing was moved.
    pub fn troubles(&self, plan: &[Shift]) -> Vec<Trouble> {
        let (never, mut late) = self.look(plan, false);
        late.extend(never.into_iter().filter(|trouble| !self.hopeless.contains(&trouble.entry)));
        late.sort_unstable();
        late.dedup();
        late
    }

    /// What can never come, and what comes too late.
    fn look(&self, plan: &[Shift], only_never: bool) -> (Vec<Trouble>, Vec<Trouble>) {
        self.trials.set(self.trials.get() + 1);
        self.put(plan);
        let tried = self.tried.borrow();
        let explosion = explode(&tried, self.today, self.horizon, &self.supplies, self.limit);
        let (mut never, mut late) = (Vec::new(), Vec::new());
        for place in 0..tried.items.len() {
            self.look_at(ItemId::new(place), &explosion, &mut never, &mut late);
        }
        if !only_never {
            late.extend(self.started_late(plan, &explosion));
        }
        (never, late)
    }

    /// Moves the entries of the snapshot that is tried.
    fn put(&self, plan: &[Shift]) {
        let mut tried = self.tried.borrow_mut();
        // Beyond every horizon, and still with room for lives and make-ahead days on both sides.
        let away = NaiveDate::from_ymd_opt(9_000, 1, 1).unwrap_or(NaiveDate::MAX);
        for ((entry, planned), shift) in tried.entries.iter_mut().zip(&self.snapshot.entries).zip(plan) {
            entry.when = match shift {
                Shift::Later(days) => moved(planned.when, *days),
                Shift::Away => PlanDay::MakeOn(away),
            };
        }
    }

    /// The shortages of one item that no order can meet in time.
    fn look_at(&self, item: ItemId, explosion: &Explosion, never: &mut Vec<Trouble>, late: &mut Vec<Trouble>) {
        let facts = self.snapshot.item(item);
        let place = item.index();
        let stock = explosion.premix_stock[place].as_ref();
        let is_made = stock.is_some() && facts.premix.as_ref().is_some_and(|premix| premix.formula.is_some());
        let demands = &explosion.demands[place];
        if is_made || facts.always_at_hand && stock.is_none() {
            return;
        }
        let service: Vec<Service> =
            demands.iter().map(|demand| self.service(item, demand.day, demand.through)).collect();
        let Some(last) = service.iter().rposition(|service| *service != Service::InTime) else { return };
        // An order of opening that serves an earlier demand at the cost of one that cannot be bought would break what
        // the bounds of the search rest on; without such lives it cannot happen.
        let opens = self.supplies[place].iter().any(|supply| supply.life_once_opened.is_some());
        if opens && service[..last].contains(&Service::InTime) {
            self.proven.set(false);
        }
        let short = match stock {
            Some(allocation) => allocation.short.clone(),
            None => {
                // What ranks after the last demand that matters takes nothing from it.
                let needs: Vec<Need> = demands[..=last].iter().map(Need::from).collect();
                let allocation = allocate_for_value(&self.supplies[place], &needs, self.horizon, self.limit);
                if !allocation.proven {
                    self.proven.set(false);
                }
                allocation.short
            }
        };
        for ((demand, service), short) in demands.iter().zip(service).zip(short) {
            let trouble = Trouble { day: demand.day, entry: demand.entry, item: Some(item) };
            match service {
                Service::InTime => {}
                _ if short.is_zero() => {}
                Service::Late => late.push(trouble),
                Service::Never => never.push(trouble),
            }
        }
    }

    /// Moved entries that would still have to be started before today.
    fn started_late(&self, plan: &[Shift], explosion: &Explosion) -> Vec<Trouble> {
        let late = explosion.findings.iter().filter(|finding| finding.kind == FindingKind::StartedLate);
        let codes: BTreeSet<&str> = late.map(|finding| finding.subject.as_str()).collect();
        let moved = plan.iter().enumerate().filter(|(_, shift)| !matches!(shift, Shift::Later(0)));
        let moved = moved.filter(|(place, _)| codes.contains(self.snapshot.entries[*place].code.as_str()));
        moved.map(|(place, _)| Trouble { day: self.today, entry: EntryId::new(place), item: None }).collect()
    }

    fn service(&self, item: ItemId, day: NaiveDate, through: NaiveDate) -> Service {
        *self.served.borrow_mut().entry((item, day, through)).or_insert_with(|| {
            let offers = self.offers.get(&item).map_or(&[][..], Vec::as_slice);
            if offers.iter().any(|offer| serves_in_time(self.snapshot, offer, self.today, day, through)) {
                Service::InTime
            } else if offers.iter().any(|offer| soonest_delivery(self.snapshot, offer, self.today, through).is_some()) {
                Service::Late
            } else {
                Service::Never
            }
        })
    }
}

/// The day of an entry so many days later, said as the maker said it.
pub(super) fn moved(when: PlanDay, days: u32) -> PlanDay {
    let later = |day: NaiveDate| day.checked_add_days(Days::new(u64::from(days))).unwrap_or(NaiveDate::MAX);
    match when {
        PlanDay::MakeOn(day) => PlanDay::MakeOn(later(day)),
        PlanDay::ReadyBy(day) => PlanDay::ReadyBy(later(day)),
    }
}

/// For each item the entries that could ask for it.
fn users(snapshot: &Snapshot) -> Vec<Vec<EntryId>> {
    let parents_first = Levels::of(snapshot).parents_first;
    let mut of_product: BTreeMap<_, Vec<ItemId>> = BTreeMap::new();
    let mut users = vec![Vec::new(); snapshot.items.len()];
    for (place, entry) in snapshot.entries.iter().enumerate() {
        let items = of_product.entry(entry.product).or_insert_with(|| {
            let product = snapshot.product(entry.product);
            let lines = |formula: Option<crate::plan::model::FormulaId>| {
                formula.map_or(&[][..], |formula| &snapshot.formulas[formula.index()].lines)
            };
            let mut used: BTreeSet<ItemId> = lines(product.formula).iter().map(|line| line.item).collect();
            for premix in &parents_first {
                if used.contains(premix) {
                    let formula = snapshot.item(*premix).premix.as_ref().and_then(|facts| facts.formula);
                    used.extend(lines(formula).iter().map(|line| line.item));
                }
            }
            used.extend(product.packaging.iter().map(|packaging| packaging.item));
            used.into_iter().collect()
        });
        for item in items {
            users[item.index()].push(EntryId::new(place));
        }
    }
    users
}
