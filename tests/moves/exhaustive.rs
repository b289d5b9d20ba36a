//! Small random workshops: the moves against every way there is to move the entries, judged by the reorder list itself.

use super::support::workshop::{Workshop, percent};
use super::support::{Random, day};
use chrono::NaiveDate;
use std::collections::BTreeSet;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::calendar::{ClosedPeriod, OrderCalendar, Span, Weekdays};
use stillroom::plan::explode::size;
use stillroom::plan::finding::FindingKind;
use stillroom::plan::model::{EntryId, ItemId, PlanDay, Snapshot};
use stillroom::plan::moves::{MoveSettings, Moves, moves};
use stillroom::plan::outlook::look_ahead;
use stillroom::plan::reorder::requirements::{Cause, CreditSettings, requirements};

/// Entries may move so many days here.
const FURTHEST: u32 = 6;

/// Three materials, perhaps a premix that is made ahead, lots that end, offers that come late, up to four entries.
fn random_workshop(random: &mut Random, opening_lives: bool) -> Snapshot {
    let mut workshop = Workshop::new();
    let mut items: Vec<ItemId> = ["clay", "oil", "wax"].map(|code| workshop.material(code)).to_vec();
    for item in items.clone() {
        for _ in 0..random.between(0, 2) {
            let quantity = random.amount(1, 60);
            let ends = random.percent(40).then(|| day(random.between(0, 9)));
            workshop.lot(item, quantity).best_before = ends;
        }
        if opening_lives && random.percent(40) {
            let days = u32::try_from(random.between(1, 5)).unwrap();
            workshop.item(item).opened_life = Some(Span { months: 0, days });
        }
    }
    if random.percent(50) {
        let premix = workshop.premix("blend", &[(items[1], "63.3"), (items[2], "36.7")]);
        workshop.making(premix).make_ahead_days = u32::try_from(random.between(0, 2)).unwrap();
        workshop.making(premix).loss = percent(["0", "12.5"][usize::try_from(random.between(0, 1)).unwrap()]);
        if random.percent(60) {
            let quantity = random.amount(1, 40);
            workshop.lot(premix, quantity);
        }
        items.push(premix);
    }
    for _ in 0..random.between(1, 2) {
        let lead_time_days = u32::try_from(random.between(1, 5)).unwrap();
        let mut calendar = OrderCalendar { lead_time_days, ..OrderCalendar::default() };
        if random.percent(30) {
            calendar.weekdays = Weekdays::default().with(chrono::Weekday::Tue).with(chrono::Weekday::Fri);
        }
        if random.percent(20) {
            calendar.closed.push(ClosedPeriod { from: day(random.between(0, 3)), to: day(random.between(3, 7)) });
        }
        let supplier = workshop.supplier(calendar);
        for item in &items[..3] {
            if random.percent(80) {
                let life = random.percent(25).then_some(Span { months: 0, days: 4 });
                workshop.offer(supplier, *item, 30, 100).life_on_arrival = life;
            }
        }
        if random.percent(25) {
            let expected = day(random.between(1, 8));
            workshop.order(supplier, items[0], random.amount(5, 40), expected);
        }
    }
    let mut products = Vec::new();
    for code in ["balm", "soap", "scrub"] {
        let first = items[usize::try_from(random.between(0, items.len() as u64 - 1)).unwrap()];
        let second = items[usize::try_from(random.between(0, items.len() as u64 - 1)).unwrap()];
        let product = workshop.product(code, &[(first, "41.7"), (second, "58.3")]);
        let life = u32::try_from(random.between(0, 3)).unwrap();
        workshop.facts(product).minimum_life = random.percent(30).then_some(Span { months: 0, days: life });
        products.push(product);
    }
    for _ in 0..random.between(1, 4) {
        let product = products[usize::try_from(random.between(0, 2)).unwrap()];
        workshop.make(product, random.amount(5, 60), day(random.between(0, 5)));
    }
    workshop.snapshot
}

/// Who is late by the reorder list: entries that wait for something, and those that wait for what no offer ever brings.
fn late(snapshot: &Snapshot) -> (BTreeSet<EntryId>, BTreeSet<EntryId>, BTreeSet<String>) {
    let outlook = look_ahead(snapshot, day(0), None, SearchLimit::default());
    let needed = requirements(snapshot, &outlook, CreditSettings::default());
    let (mut waits, mut never) = (BTreeSet::new(), BTreeSet::new());
    for late in &needed.late {
        for (cause, _) in &late.causes {
            if let Cause::Shortage(place) = cause {
                let entry = outlook.shortages[*place].entry;
                if late.soonest.is_some() {
                    waits.insert(entry)
                } else {
                    never.insert(entry)
                };
            }
        }
    }
    let started = outlook.findings.iter().filter(|finding| finding.kind == FindingKind::StartedLate);
    (waits, never, started.map(|finding| finding.subject.clone()).collect())
}

/// The plan with the entries moved by so many days.
fn moved(snapshot: &Snapshot, days: &[u32]) -> Snapshot {
    let mut changed = snapshot.clone();
    for (entry, days) in changed.entries.iter_mut().zip(days) {
        if let PlanDay::MakeOn(on) = entry.when {
            entry.when = PlanDay::MakeOn(on + chrono::Days::new(u64::from(*days)));
        }
    }
    changed
}

/// True where nobody waits, and nobody lacks what never comes who did not before.
fn is_whole(snapshot: &Snapshot, days: &[u32], hopeless: &BTreeSet<EntryId>) -> bool {
    let (waits, never, started) = late(&moved(snapshot, days));
    let late_start =
        days.iter().enumerate().any(|(place, days)| *days > 0 && started.contains(&snapshot.entries[place].code));
    waits.is_empty() && never.is_subset(hopeless) && !late_start
}

type Ranked = (usize, u32, Vec<(EntryId, NaiveDate)>);

/// The smallest set of moves by trying all.
fn by_trying_all(snapshot: &Snapshot, hopeless: &BTreeSet<EntryId>) -> Option<Ranked> {
    let count = snapshot.entries.len();
    let mut best: Option<Ranked> = None;
    let ways = (FURTHEST + 1).pow(u32::try_from(count).unwrap());
    for way in 0..ways {
        let mut rest = way;
        let mut days = Vec::with_capacity(count);
        for _ in 0..count {
            days.push(rest % (FURTHEST + 1));
            rest /= FURTHEST + 1;
        }
        let moves: Vec<(EntryId, NaiveDate)> = days
            .iter()
            .enumerate()
            .filter(|(_, days)| **days > 0)
            .map(|(place, days)| {
                let made = size(&snapshot.entries[place], snapshot.product(snapshot.entries[place].product)).make_on;
                (EntryId::new(place), made + chrono::Days::new(u64::from(*days)))
            })
            .collect();
        let ranked = (moves.len(), days.iter().sum(), moves);
        if best.as_ref().is_none_or(|best| ranked < *best) && is_whole(snapshot, &days, hopeless) {
            best = Some(ranked);
        }
    }
    best
}

fn found(snapshot: &Snapshot) -> Moves {
    let settings = MoveSettings { furthest_days: FURTHEST, trials: 100_000, ..MoveSettings::default() };
    moves(snapshot, day(0), settings)
}

fn check(seeds: std::ops::Range<u64>, opening_lives: bool) -> (u32, u32, u32, u32) {
    let (mut late_ones, mut several, mut impossible, mut unproven) = (0, 0, 0, 0);
    for seed in seeds {
        let snapshot = random_workshop(&mut Random::new(seed), opening_lives);
        let answer = found(&snapshot);
        let (waits, hopeless, _) = late(&snapshot);
        let told: Vec<EntryId> = answer.late.iter().map(|late| late.entry).collect();
        assert_eq!(told, waits.iter().copied().collect::<Vec<_>>(), "seed {seed}");
        if waits.is_empty() {
            assert!(answer.whole && answer.moves.is_empty(), "seed {seed}");
            continue;
        }
        late_ones += 1;
        if !answer.proven {
            assert!(opening_lives, "seed {seed}: a search without a limit is proven");
            unproven += 1;
            continue;
        }
        let best = by_trying_all(&snapshot, &hopeless);
        let moves: Vec<(EntryId, NaiveDate)> = answer.moves.iter().map(|moved| (moved.entry, moved.to)).collect();
        assert_eq!(answer.whole.then_some(moves), best.as_ref().map(|best| best.2.clone()), "seed {seed}");
        several += u32::from(answer.moves.len() > 1);
        impossible += u32::from(best.is_none());
        alone(&snapshot, &answer, &waits, &hopeless, seed);
    }
    (late_ones, several, impossible, unproven)
}

/// The first possible day of each late entry, by trying them.
fn alone(snapshot: &Snapshot, answer: &Moves, waits: &BTreeSet<EntryId>, hopeless: &BTreeSet<EntryId>, seed: u64) {
    for late_entry in &answer.late {
        let place = late_entry.entry.index();
        let possible = (1..=FURTHEST).find(|days| {
            let mut shift = vec![0; snapshot.entries.len()];
            shift[place] = *days;
            let (now, never, started) = late(&moved(snapshot, &shift));
            !now.contains(&late_entry.entry)
                && now.is_subset(waits)
                && never
                    .iter()
                    .all(|entry| hopeless.contains(entry) || entry != &late_entry.entry && waits.contains(entry))
                && !started.contains(&snapshot.entries[place].code)
        });
        let told = late_entry.could.map(|could| u32::try_from((could.to - could.from).num_days()).unwrap());
        assert_eq!(told, possible, "seed {seed}, entry {place}");
    }
}

#[test]
fn the_smallest_set_is_that_of_trying_all() {
    let (late, several, impossible, _) = check(0..260, false);
    println!("{late} late, {several} with several moves, {impossible} impossible");
    assert!(late > 80 && several > 20 && impossible > 5, "{late} {several} {impossible}");
}

#[test]
fn with_opening_lives_what_is_called_proven_is_so() {
    let (late, _, _, unproven) = check(1_000..1_120, true);
    println!("{late} late, {unproven} not proven");
    assert!(late > 30 && unproven < late / 2, "{late} {unproven}");
}

#[test]
fn a_search_that_is_ended_says_so_and_its_moves_still_do() {
    let (mut ended, mut answered) = (0, 0);
    for seed in 0..120 {
        let snapshot = random_workshop(&mut Random::new(seed), false);
        let settings = MoveSettings { furthest_days: FURTHEST, trials: 24, ..MoveSettings::default() };
        let answer = moves(&snapshot, day(0), settings);
        if answer.whole && !answer.proven {
            ended += 1;
        }
        if !answer.moves.is_empty() {
            answered += 1;
            let (_, hopeless, _) = late(&snapshot);
            let mut days = vec![0; snapshot.entries.len()];
            for moved in &answer.moves {
                days[moved.entry.index()] = u32::try_from((moved.to - moved.from).num_days()).unwrap();
            }
            assert!(is_whole(&snapshot, &days, &hopeless), "seed {seed}");
        }
    }
    println!("{ended} ended, {answered} answered");
    assert!(ended > 3 && answered > 20, "{ended} {answered}");
}
