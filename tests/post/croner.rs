//! Random schedules in zones with daylight-saving time against croner, a reader of cron patterns that is not ours.
//!
//! Where a time comes twice both take the first. Where it does not exist croner takes the first moment after the gap,
//! and we the time that the offset before the gap gives (RFC 5545, 3.3.5): the same day, at most the gap later.

use crate::support::Random;
use chrono::{DateTime, Datelike, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;
use croner::Cron;
use std::str::FromStr;
use stillroom::plan::schedule::Schedule;

const ZONES: [Tz; 8] = [
    Tz::Europe__Berlin,
    Tz::Europe__Lisbon,
    Tz::America__New_York,
    Tz::America__Santiago,
    Tz::Australia__Sydney,
    // Half an hour of summer time.
    Tz::Australia__Lord_Howe,
    // The clocks change at midnight.
    Tz::Asia__Beirut,
    Tz::Africa__Casablanca,
];

/// Days in our words and in cron's: day of month and day of week.
fn days(random: &mut Random) -> (String, String, String) {
    const NAMES: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
    let name = NAMES[usize::try_from(random.between(0, 6)).unwrap()];
    let other = NAMES[usize::try_from(random.between(0, 6)).unwrap()];
    let number = random.between(1, 28).to_string();
    let upper = name.to_uppercase();
    match random.between(0, 6) {
        0 => ("every day".to_owned(), "*".to_owned(), "*".to_owned()),
        1 => (format!("{name} {other}"), "*".to_owned(), format!("{upper},{}", other.to_uppercase())),
        2 => (number.clone(), number, "*".to_owned()),
        3 => ("last".to_owned(), "L".to_owned(), "*".to_owned()),
        4 => (format!("first {name}"), "*".to_owned(), format!("{upper}#1")),
        5 => (format!("last {name}"), "*".to_owned(), format!("{upper}#L")),
        _ => (format!("{number} {name}"), number, upper),
    }
}

#[test]
fn random_schedules_agree_with_croner() {
    let mut random = Random::new(5_545);
    let (mut compared, mut in_gaps) = (0, 0);
    for _ in 0..160 {
        let zone = ZONES[usize::try_from(random.between(0, 7)).unwrap()];
        let (words, month_day, weekday) = days(&mut random);
        // Half of the times lie in the hours in which clocks are changed.
        let hour = if random.percent(50) { random.between(0, 3) } else { random.between(0, 23) };
        let minute = random.between(0, 59);
        let at = NaiveTime::from_hms_opt(u32::try_from(hour).unwrap(), u32::try_from(minute).unwrap(), 0).unwrap();
        let schedule = Schedule { days: words.parse().unwrap(), at };
        let pattern = format!("{minute} {hour} {month_day} * {weekday}");
        let cron = Cron::from_str(&pattern).unwrap_or_else(|error| panic!("{pattern}: {error}"));
        let start: DateTime<Utc> = "2026-01-01T12:00:00Z".parse().unwrap();
        let end: DateTime<Utc> = "2028-03-31T12:00:00Z".parse().unwrap();
        let first = schedule.next_after(start, &zone);
        let ours: Vec<DateTime<Utc>> = std::iter::successors(first, |run| schedule.next_after(run.at, &zone))
            .map(|run| run.at)
            .take_while(|at| *at < end)
            .collect();
        let theirs: Vec<DateTime<Utc>> = cron
            .iter_after(start.with_timezone(&zone))
            .map(|at| at.with_timezone(&Utc))
            .take_while(|at| *at < end)
            .collect();
        assert_eq!(ours.len(), theirs.len(), "{words} at {at} in {zone} ({pattern})");
        for (our, their) in ours.iter().zip(&theirs) {
            compared += 1;
            if our == their {
                continue;
            }
            let (our_wall, their_wall) =
                (our.with_timezone(&zone).naive_local(), their.with_timezone(&zone).naive_local());
            assert!(our_wall.time() != at, "{words} at {at} in {zone}: {our_wall} and {their_wall}");
            assert_eq!(our_wall.ordinal(), their_wall.ordinal());
            assert!(*our > *their && *our - *their < TimeDelta::hours(1), "{our_wall} and {their_wall}");
            in_gaps += 1;
        }
    }
    assert!(compared > 10_000 && in_gaps > 5, "{compared} {in_gaps}");
}
