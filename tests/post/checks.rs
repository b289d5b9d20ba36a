//! Schedules against outside checks: cron patterns (croniter), recurrence rules (python-dateutil) and the examples of
//! RFC 5545. Each that can be said in a schedule's words is; the others are counted.
//!
//! Two things differ on purpose. A day that its month does not have is its last day here and left out there: such runs
//! are dropped before comparing, after a look that they are just that. And a schedule has no months and no "every
//! second": of rules with these only the moments of their days are compared.

use crate::shop::check_file;
use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use stillroom::plan::schedule::{Run, Schedule};

fn texts(value: &Value) -> Vec<&str> {
    value.as_array().unwrap().iter().map(|item| item.as_str().unwrap()).collect()
}

/// The numbers of a cron field: `*`, `*/15`, `8-17`, `10-20/5`, `1,15`, names.
fn field(text: &str, low: u32, high: u32, names: &[&str]) -> BTreeSet<u32> {
    let number = |word: &str| {
        let name = names.iter().position(|name| *name == word).map(|place| u32::try_from(place).unwrap());
        name.unwrap_or_else(|| word.parse().unwrap())
    };
    let mut numbers = BTreeSet::new();
    for part in text.split(',') {
        let (range, step) = part.split_once('/').map_or((part, 1), |(range, step)| (range, step.parse().unwrap()));
        let (from, to) = match range.split_once('-') {
            _ if range == "*" => (low, high),
            Some((from, to)) => (number(from), number(to)),
            None => (number(range), number(range)),
        };
        numbers.extend((from..=to).step_by(step));
    }
    numbers
}

const MONTHS: [&str; 13] = ["", "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
const WEEKDAYS: [&str; 7] = ["sun", "mon", "tue", "wed", "thu", "fri", "sat"];

#[test]
fn cron_patterns_are_due_at_the_same_minutes() {
    let file = check_file("cron.json");
    let mut compared = 0;
    for case in file["cases"].as_array().unwrap() {
        let expression = case["expr"].as_str().unwrap();
        let fields: Vec<&str> = expression.split(' ').collect();
        let minutes = field(fields[0], 0, 59, &[]);
        let hours = field(fields[1], 0, 23, &[]);
        let month_days = (fields[2] != "*").then(|| field(fields[2], 1, 31, &[]));
        let months = field(fields[3], 1, 12, &MONTHS);
        let weekdays = (fields[4] != "*").then(|| field(fields[4], 0, 7, &WEEKDAYS));
        let weekdays: Option<BTreeSet<&str>> =
            weekdays.map(|days| days.iter().map(|day| WEEKDAYS[*day as usize % 7]).collect());
        let words: Vec<String> = match (&month_days, &weekdays) {
            (None, None) => vec!["every day".to_owned()],
            (days, names) => {
                let days = days.iter().flatten().map(u32::to_string);
                days.chain(names.iter().flatten().map(|name| (*name).to_owned())).collect()
            }
        };
        let days = words.join(" ");
        let times = hours.iter().flat_map(|hour| minutes.iter().map(move |minute| (*hour, *minute)));
        let schedules: Vec<Schedule> = times
            .map(|(hour, minute)| Schedule {
                days: days.parse().unwrap(),
                at: NaiveTime::from_hms_opt(hour, minute, 0).unwrap(),
            })
            .collect();
        let named = |day: NaiveDate| {
            let by_number = month_days.as_ref().is_some_and(|days| days.contains(&day.day()));
            let by_name = weekdays
                .as_ref()
                .is_some_and(|names| names.contains(WEEKDAYS[day.weekday().num_days_from_sunday() as usize]));
            by_number || by_name || (month_days.is_none() && weekdays.is_none())
        };
        let after = NaiveDateTime::parse_from_str(case["after"].as_str().unwrap(), "%Y-%m-%dT%H:%M").unwrap().and_utc();
        // The next run of each schedule, the soonest taken again and again.
        let mut coming: Vec<Run> = schedules.iter().map(|one| one.next_after(after, &Utc).unwrap()).collect();
        let mut found = Vec::new();
        while found.len() < 8 {
            let (place, run) = coming.iter().copied().enumerate().min_by_key(|(_, run)| run.at).unwrap();
            coming[place] = schedules[place].next_after(run.at, &Utc).unwrap();
            if !named(run.day) {
                assert_eq!(run.day.succ_opt().unwrap().day(), 1, "{expression}: {}", run.day);
                assert!(month_days.as_ref().unwrap().last().unwrap() > &run.day.day());
            } else if months.contains(&run.day.month()) {
                found.push(run.at.format("%Y-%m-%dT%H:%M").to_string());
            }
        }
        assert_eq!(found, texts(&case["expected_next_8"]), "{expression} after {after}");
        compared += 1;
    }
    assert_eq!(compared, 25);
}

/// A recurrence rule in a schedule's words, and whether they say all of it; `None` where words fail.
fn words_of(rule: &BTreeMap<&str, &str>, start: NaiveDateTime) -> Option<(String, bool)> {
    if ["BYSETPOS", "BYYEARDAY", "BYWEEKNO"].iter().any(|key| rule.contains_key(key)) {
        return None;
    }
    let names =
        [("MO", "Mon"), ("TU", "Tue"), ("WE", "Wed"), ("TH", "Thu"), ("FR", "Fri"), ("SA", "Sat"), ("SU", "Sun")];
    let day = |text: &str| {
        let (number, code) = text.split_at(text.len() - 2);
        let name = names.iter().find(|(short, _)| *short == code)?.1;
        let which = match number {
            "" => String::new(),
            "1" => "first ".to_owned(),
            "2" => "second ".to_owned(),
            "3" => "third ".to_owned(),
            "4" => "fourth ".to_owned(),
            "-1" => "last ".to_owned(),
            _ => return None,
        };
        Some(which + name)
    };
    let month_day = |text: &str| match text {
        "-1" => Some("last".to_owned()),
        _ => text.parse::<u32>().ok().map(|number| number.to_string()),
    };
    let frequency = rule["FREQ"];
    let words = match (rule.get("BYDAY"), rule.get("BYMONTHDAY")) {
        (Some(_), Some(_)) => return None,
        (Some(days), None) => days.split(',').map(day).collect::<Option<Vec<_>>>()?.join(" "),
        (None, Some(days)) => days.split(',').map(month_day).collect::<Option<Vec<_>>>()?.join(", "),
        (None, None) => match frequency {
            "DAILY" => "every day".to_owned(),
            "WEEKLY" => start.weekday().to_string(),
            "MONTHLY" | "YEARLY" => start.day().to_string(),
            _ => return None,
        },
    };
    let whole = frequency != "YEARLY" && !rule.contains_key("INTERVAL") && !rule.contains_key("BYMONTH");
    Some((words, whole))
}

fn parsed(rule: &str) -> BTreeMap<&str, &str> {
    rule.trim_start_matches("RRULE:").split(';').map(|part| part.split_once('=').unwrap()).collect()
}

/// The runs from a moment on, without those that are the last day of a month for want of a later one.
fn runs_from(schedule: &Schedule, from: DateTime<Utc>, zone: Tz, count: usize, day_words: &str) -> Vec<Run> {
    let numbers: Vec<u32> = day_words.split([' ', ',']).filter_map(|word| word.parse().ok()).collect();
    let clamped = |day: NaiveDate| {
        let named = numbers.contains(&day.day()) || (day_words.contains("last") && day.succ_opt().unwrap().day() == 1);
        !numbers.is_empty() && !named
    };
    let first = schedule.next_after(from - TimeDelta::seconds(1), &zone);
    let runs = std::iter::successors(first, |run| schedule.next_after(run.at, &zone));
    runs.filter(|run| !clamped(run.day)).take(count).collect()
}

#[test]
fn recurrence_rules_fall_on_the_same_moments() {
    let file = check_file("rrule.json");
    let (mut whole_rules, mut days_only, mut left_out) = (0, 0, 0);
    for case in file["cases"].as_array().unwrap() {
        let id = case["id"].as_str().unwrap();
        let start: NaiveDateTime = case["dtstart_local"].as_str().unwrap().parse().unwrap();
        let zone: Tz = case["tzid"].as_str().unwrap().parse().unwrap();
        let rule = parsed(case["rrule"].as_str().unwrap());
        let Some((words, whole)) = words_of(&rule, start) else {
            left_out += 1;
            continue;
        };
        let schedule = Schedule { days: words.parse().unwrap(), at: start.time() };
        let expected = texts(&case["expected_utc"]);
        let moments: Vec<DateTime<Utc>> = expected.iter().map(|text| text.parse().unwrap()).collect();
        for (moment, local) in moments.iter().zip(texts(&case["expected_local"])) {
            let day: NaiveDateTime = local.parse().unwrap();
            assert_eq!(schedule.run_on(day.date(), &zone).map(|run| run.at), Some(*moment), "{id} on {local}");
        }
        if whole {
            let runs = runs_from(&schedule, moments[0], zone, moments.len(), &words);
            assert_eq!(runs.iter().map(|run| run.at).collect::<Vec<_>>(), moments, "{id}");
            whole_rules += 1;
        } else {
            days_only += 1;
        }
    }
    assert_eq!((whole_rules, days_only, left_out), (6, 10, 4));
}

#[test]
fn the_examples_of_rfc_5545_fall_on_the_same_days() {
    let file = check_file("rfc5545_examples.json");
    let (mut whole_rules, mut days_only, mut left_out) = (0, 0, 0);
    let zone = Tz::America__New_York;
    for case in file["cases"].as_array().unwrap() {
        let start = case["dtstart"].as_str().unwrap().rsplit(':').next().unwrap();
        let start = NaiveDateTime::parse_from_str(start, "%Y%m%dT%H%M%S").unwrap();
        let rule = parsed(texts(&case["rrules"])[0]);
        let dates: Vec<NaiveDateTime> =
            texts(&case["rfc_dates_local"]).iter().map(|text| text.parse().unwrap()).collect();
        let said =
            words_of(&rule, start).filter(|_| case["exdate"].as_array().unwrap().is_empty() && !dates.is_empty());
        let Some((words, whole)) = said else {
            left_out += 1;
            continue;
        };
        let schedule = Schedule { days: words.parse().unwrap(), at: start.time() };
        let shown = |run: &Run| run.at.with_timezone(&zone).naive_local();
        for date in &dates {
            let run = schedule.run_on(date.date(), &zone);
            assert_eq!(run.as_ref().map(shown), Some(*date), "{}", case["description"]);
        }
        if whole {
            let from = dates[0].and_local_timezone(zone).unwrap().with_timezone(&Utc);
            let runs = runs_from(&schedule, from, zone, dates.len(), &words);
            assert_eq!(runs.iter().map(shown).collect::<Vec<_>>(), dates, "{}", case["description"]);
            whole_rules += 1;
        } else {
            days_only += 1;
        }
    }
    assert_eq!((whole_rules, days_only, left_out), (6, 7, 7));
}
