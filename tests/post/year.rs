//! A year of schedules with a simulated clock, against a mail server that is late, refuses, drops and forgets: every
//! letter that was due comes exactly once and in order, but for those whose confirmation was lost on the way.

use crate::server::{At, Does, Office, Script};
use crate::shop::{Shop, ids, moment, schedule, text};
use crate::support::Random;
use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, TimeDelta, Utc, Weekday};
use chrono_tz::Tz;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use stillroom::cli::{Command as Verb, Outbox};

const ZONE: Tz = Tz::Europe__Berlin;

/// Name, days, time, and the days as a rule of their own.
type Rule = (&'static str, &'static str, &'static str, fn(NaiveDate) -> bool);

const RULES: [Rule; 7] = [
    ("night", "Sun Mon Wed Fri", "02:30", |day| {
        matches!(day.weekday(), Weekday::Sun | Weekday::Mon | Weekday::Wed | Weekday::Fri)
    }),
    ("other night", "Tue Thu Sat", "02:30", |day| matches!(day.weekday(), Weekday::Tue | Weekday::Thu | Weekday::Sat)),
    ("twice a week", "Mon Thu", "07:30", |day| matches!(day.weekday(), Weekday::Mon | Weekday::Thu)),
    ("month end", "last", "18:00", |day| day.succ_opt().unwrap().day() == 1),
    ("the 31st", "31", "23:59", |day| day.day() == 31 || day.succ_opt().unwrap().day() == 1),
    ("1 and 15", "1 15", "00:00", |day| matches!(day.day(), 1 | 15)),
    ("last Friday", "last Fri", "12:15", |day| {
        day.weekday() == Weekday::Fri && (day + chrono::Days::new(7)).month() != day.month()
    }),
];

/// Every run of a rule in the year, found by looking at the wall clock in every minute of it.
fn runs_by_minutes(rule: &Rule, from: DateTime<Utc>, to: DateTime<Utc>) -> Vec<DateTime<Utc>> {
    let at: chrono::NaiveTime = rule.2.parse().unwrap();
    let mut first_seen: BTreeMap<NaiveDateTime, DateTime<Utc>> = BTreeMap::new();
    let mut minute = from - TimeDelta::days(1);
    while minute <= to + TimeDelta::days(1) {
        let wall = minute.with_timezone(&ZONE).naive_local();
        if wall.time() == at {
            first_seen.entry(wall).or_insert(minute);
        }
        minute += TimeDelta::minutes(1);
    }
    let days = from.with_timezone(&ZONE).date_naive().iter_days().take(367);
    let run = |day: NaiveDate| {
        let wall = day.and_time(at);
        // Where the clock never shows it, it goes by the offset of the day before (RFC 5545, 3.3.5).
        first_seen.get(&wall).copied().unwrap_or_else(|| {
            let offset = wall - TimeDelta::days(1);
            let before = offset.and_local_timezone(ZONE).unwrap().with_timezone(&Utc);
            before + TimeDelta::days(1)
        })
    };
    days.filter(|day| rule.3(*day)).map(run).filter(|run| *run >= from && *run <= to).collect()
}

/// What the server does in a conversation, from harmless to nasty.
fn temper(random: &mut Random, healthy: bool) -> Script {
    if healthy || random.percent(55) {
        return Script::default();
    }
    let place = match random.between(0, 6) {
        0 => At::Greeting,
        1 => At::Mail,
        2 => At::Rcpt(1),
        3 => At::Data,
        4 => At::InLetter(400),
        5 => At::Letter,
        _ => At::Quit,
    };
    let does = match random.between(0, 9) {
        0..=3 if !matches!(place, At::InLetter(_) | At::Quit) => Does::Reply("451 4.3.0 not now"),
        4 if matches!(place, At::Rcpt(_) | At::Letter) => Does::Reply("550 5.7.1 not here"),
        5 if place == At::Letter => Does::KeepAndClose,
        6 if !matches!(place, At::InLetter(_)) => Does::Wait(Duration::from_millis(2)),
        _ => Does::Close,
    };
    Script { fault: Some((place, does)), ..Script::default() }
}

/// What was seen.
#[derive(Debug, Default)]
struct Tally {
    rounds: usize,
    letters: usize,
    slept_over: usize,
    tries: u64,
    faults: usize,
    set_aside: usize,
    second_copies: usize,
}

/// Four workshops, each through the whole year with a server of its own: they mostly wait, and may do so together.
#[test]
fn every_letter_of_a_year_comes_exactly_once_and_in_order() {
    let started = [(&RULES[..1], 1), (&RULES[1..2], 2), (&RULES[2..4], 3), (&RULES[4..], 4)]
        .map(|(rules, seed)| std::thread::spawn(move || live_through(rules, seed)));
    let tallies = started.map(|thread| thread.join().unwrap());
    println!("{tallies:#?}");
    for tally in &tallies {
        assert!(tally.rounds > 600 && tally.faults > 10 && tally.tries > tally.letters as u64, "{tally:?}");
    }
    let sum = |part: fn(&Tally) -> usize| tallies.iter().map(part).sum::<usize>();
    assert!(sum(|tally| tally.letters) > 300 && sum(|tally| tally.slept_over) > 30, "{tallies:?}");
    assert!(sum(|tally| tally.second_copies) > 2 && sum(|tally| tally.set_aside) > 2, "{tallies:?}");
}

fn live_through(rules: &[Rule], seed: u64) -> Tally {
    let healthy = Arc::new(AtomicBool::new(false));
    let (lost, faults) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)));
    let (is_healthy, was_lost, was_faulty) = (Arc::clone(&healthy), Arc::clone(&lost), Arc::clone(&faults));
    let random = Mutex::new(Random::new(20_270_101 + seed));
    let office = Office::open(move |_| {
        let script = temper(&mut random.lock().unwrap(), is_healthy.load(Ordering::SeqCst));
        let closes = matches!(script.fault, Some((At::Letter, Does::KeepAndClose)));
        was_lost.fetch_add(usize::from(closes), Ordering::SeqCst);
        was_faulty.fetch_add(usize::from(script.fault.is_some()), Ordering::SeqCst);
        script
    });
    let settings: String = rules.iter().map(|(name, days, at, _)| schedule(name, days, at)).collect();
    let shop = Shop::new(&settings, office.port);
    let (from, to) = (moment("2027-12-31T23:00:00Z"), moment("2028-12-31T22:59:00Z"));
    let runs: Vec<Vec<DateTime<Utc>>> = rules.iter().map(|rule| runs_by_minutes(rule, from, to)).collect();

    let mut random = Random::new(4_711 + seed);
    let mut expected: Vec<(String, String)> = Vec::new();
    let mut served = vec![0; rules.len()];
    let (mut now, mut last_round, mut rounds, mut slept_over) = (from, from, 0, 0);
    while now < to {
        let _ = shop.run(now, Verb::Post);
        last_round = now;
        rounds += 1;
        let mut due = Vec::new();
        for (place, rule) in rules.iter().enumerate() {
            let passed = runs[place].partition_point(|run| *run <= now);
            if passed > served[place] {
                slept_over += passed - served[place] - 1;
                due.push((rule.0.to_owned(), written(runs[place][passed - 1])));
            }
            served[place] = passed;
        }
        expected.extend(due);
        // A timer that goes off now and then, and a computer that is off for days now and then.
        let pause = if random.percent(3) { random.between(1_440, 10_000) } else { random.between(40, 1_000) };
        now += TimeDelta::minutes(i64::try_from(pause).unwrap());
    }
    // The year is over, the server has come to its senses, and what was refused for good is tried once more.
    healthy.store(true, Ordering::SeqCst);
    let set_aside: BTreeSet<String> = of_state(&shop, now, "set-aside");
    let later = now + TimeDelta::days(1);
    if !set_aside.is_empty() {
        shop.run(later, Verb::Outbox(Outbox::Retry { letters: Vec::new() })).unwrap();
    }
    for hours in 0..40 {
        shop.run(later + TimeDelta::hours(hours), Verb::Post).unwrap();
    }

    // The runs of the last day, which the rounds at the end have served besides.
    let letters = shop.letters(later);
    let queued: Vec<(String, String)> =
        letters.iter().map(|letter| (text(letter, "schedule").to_owned(), text(letter, "run_at").to_owned())).collect();
    let sorted = |list: &[(String, String)]| list.iter().cloned().collect::<BTreeSet<_>>();
    let in_year: Vec<_> =
        queued.iter().filter(|(_, run)| run.as_str() <= written(last_round).as_str()).cloned().collect();
    assert_eq!(in_year.len(), sorted(&in_year).len(), "a run was queued twice");
    let (queued, expected) = (sorted(&in_year), sorted(&expected));
    let apart: Vec<_> = queued.symmetric_difference(&expected).collect();
    assert!(apart.is_empty(), "either due or queued: {apart:?}");
    assert!(letters.iter().all(|letter| text(letter, "state") == "sent"));

    let by_id: BTreeMap<&str, &serde_json::Value> = letters.iter().map(|row| (text(row, "message_id"), row)).collect();
    let taken = ids(&office);
    let mut copies: BTreeMap<&str, usize> = BTreeMap::new();
    let mut order: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for id in &taken {
        let row = by_id[id.as_str()];
        let count = copies.entry(id).or_default();
        *count += 1;
        if *count == 1 && !set_aside.contains(id) {
            order.entry(text(row, "schedule")).or_default().push(text(row, "run_at"));
        }
    }
    assert_eq!(copies.len(), letters.len(), "every letter has come");
    for (id, count) in &copies {
        assert!(*count == 1 || by_id[id]["may_be_twice"] == true, "{id} came {count} times and nobody was told");
    }
    assert_eq!(taken.len() - letters.len(), lost.load(Ordering::SeqCst), "as many second copies as confirmations lost");
    for (name, runs) in &order {
        assert!(runs.is_sorted(), "{name}: {runs:?}");
    }
    let tries: u64 = letters.iter().map(|letter| letter["tries"].as_u64().unwrap()).sum();
    Tally {
        rounds,
        letters: letters.len(),
        slept_over,
        tries,
        faults: faults.load(Ordering::SeqCst),
        set_aside: set_aside.len(),
        second_copies: taken.len() - letters.len(),
    }
}

fn of_state(shop: &Shop, now: DateTime<Utc>, state: &str) -> BTreeSet<String> {
    let letters = shop.letters(now);
    let found = letters.iter().filter(|letter| text(letter, "state") == state);
    found.map(|letter| text(letter, "message_id").to_owned()).collect()
}

fn written(moment: DateTime<Utc>) -> String {
    moment.format("%Y-%m-%dT%H:%M:%SZ").to_string()
}
