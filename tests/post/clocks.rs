//! Clocks that are wrong and are put right, schedules that are new, renamed or changed.

use crate::server::{At, Does, Office, Script};
use crate::shop::{Shop, daily, ids, moment, schedule, text};
use chrono::{DateTime, Utc};
use stillroom::cli::Command as Verb;

fn open_office() -> Office {
    Office::open(|_| Script::default())
}

/// The moments of the runs whose letters are in the outbox, after `post` was run at these times.
fn runs_after(shop: &Shop, times: &[&str]) -> Vec<String> {
    let mut now: DateTime<Utc> = moment(times[0]);
    for time in times {
        now = moment(time);
        shop.run(now, Verb::Post).unwrap();
    }
    shop.letters(now).iter().map(|letter| text(letter, "run_at").to_owned()).collect()
}

#[test]
fn a_new_schedule_begins_with_today() {
    let office = open_office();
    let shop = Shop::new(&daily("daily", "07:30"), office.port);
    let seen_late = ["2027-03-01T15:00:00Z", "2027-03-01T15:15:00Z"];
    assert_eq!(runs_after(&shop, &seen_late), ["2027-03-01T06:30:00Z"]);
    // Seen before its time, slept through: it is not forgotten.
    let other = Shop::new(&daily("daily", "07:30"), office.port);
    let slept = ["2027-03-01T06:00:00Z", "2027-03-04T06:00:00Z"];
    assert_eq!(runs_after(&other, &slept), ["2027-03-03T06:30:00Z"]);
    // A name of its own is a schedule of its own.
    other.settings(&daily("every day", "07:30"), office.port);
    assert_eq!(runs_after(&other, &["2027-03-04T07:00:00Z"]).len(), 2);
}

#[test]
fn a_changed_time_counts_from_the_last_letter_on() {
    let office = open_office();
    let shop = Shop::new(&daily("daily", "07:30"), office.port);
    runs_after(&shop, &["2027-03-01T06:30:00Z"]);
    shop.settings(&schedule("daily", "Wed", "06:00"), office.port);
    let runs = runs_after(&shop, &["2027-03-01T06:31:00Z", "2027-03-02T12:00:00Z", "2027-03-03T05:00:00Z"]);
    assert_eq!(runs, ["2027-03-01T06:30:00Z", "2027-03-03T05:00:00Z"]);
}

#[test]
fn a_clock_that_is_put_back_an_hour_sends_nothing_twice() {
    let office = open_office();
    let shop = Shop::new(&daily("daily", "07:30"), office.port);
    let times = ["2027-03-01T06:31:00Z", "2027-03-01T05:31:00Z", "2027-03-01T06:30:30Z", "2027-03-01T07:00:00Z"];
    assert_eq!(runs_after(&shop, &times), ["2027-03-01T06:30:00Z"]);
}

#[test]
fn a_clock_that_was_a_year_ahead_silences_nothing() {
    let office = open_office();
    let shop = Shop::new(&daily("daily", "07:30"), office.port);
    let ahead = ["2027-03-01T06:30:00Z", "2028-03-01T06:30:00Z"];
    assert_eq!(runs_after(&shop, &ahead).len(), 2);
    let put_right = [
        "2027-03-01T06:45:00Z",
        "2027-03-02T06:29:00Z",
        "2027-03-02T06:30:00Z",
        "2027-03-03T06:30:00Z",
        "2027-03-03T06:45:00Z",
    ];
    let runs = runs_after(&shop, &put_right);
    let expected = ["2027-03-01T06:30:00Z", "2028-03-01T06:30:00Z", "2027-03-02T06:30:00Z", "2027-03-03T06:30:00Z"];
    assert_eq!(runs, expected, "today's was served already, and the next ones come");
}

#[test]
fn clocks_in_spring_and_autumn_give_each_day_its_letter() {
    let office = open_office();
    let shop = Shop::new(&daily("night", "02:30"), office.port);
    let half_hours = |from: &str, count: i64| {
        let from = moment(from);
        (0..count).map(move |number| (from + chrono::TimeDelta::minutes(30 * number)).to_rfc3339()).collect::<Vec<_>>()
    };
    let spring = half_hours("2027-03-27T22:00:00Z", 12);
    let runs = runs_after(&shop, &spring.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(runs[runs.len() - 1], "2027-03-28T01:30:00Z");
    let count = runs.len();
    let autumn = half_hours("2027-10-30T22:00:00Z", 12);
    let runs = runs_after(&shop, &autumn.iter().map(String::as_str).collect::<Vec<_>>());
    // What was slept through since spring, as one; and the night of the change.
    assert_eq!(runs[count..], ["2027-10-30T00:30:00Z", "2027-10-31T00:30:00Z"]);
}

#[test]
fn a_letter_put_off_by_a_clock_that_was_ahead_goes_out() {
    // A server that is away the first time, when the clock is a year ahead.
    let office = Office::open(|number| Script {
        fault: (number == 0).then_some((At::Greeting, Does::Reply("421 later"))),
        ..Script::default()
    });
    let shop = Shop::new(&daily("daily", "07:30"), office.port);
    let states = |now: &str| -> Vec<String> {
        shop.letters(moment(now)).iter().map(|letter| text(letter, "state").to_owned()).collect()
    };
    runs_after(&shop, &["2028-03-01T06:30:00Z"]);
    assert_eq!(states("2028-03-01T06:30:01Z"), ["waiting"]);
    // Put right: what was put off to a day of next year is tried at once, and not a second time.
    runs_after(&shop, &["2027-03-01T06:29:00Z", "2027-03-01T06:29:30Z"]);
    assert_eq!(states("2027-03-01T06:29:31Z"), ["sent"]);
    assert_eq!(ids(&office).len(), 1);
}
