//! Several runs of the program at the same time, and `watch` beside them.

use crate::server::{At, Does, Office, Script};
use crate::shop::{Shop, daily, ids, moment, text};
use chrono::TimeDelta;
use std::collections::BTreeSet;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

#[test]
fn four_at_once_send_each_letter_once() {
    let office =
        Office::open(|_| Script { fault: Some((At::Data, Does::Wait(Duration::from_millis(5)))), ..Script::default() });
    let schedules: String = (0..5).map(|number| daily(&format!("daily {number}"), "07:30")).collect();
    let shop = Shop::new(&schedules, office.port);
    let mut now = moment("2027-03-01T06:30:00Z");
    for _ in 0..6 {
        let started: Vec<Child> = (0..4).map(|_| shop.start_post(&now.to_rfc3339())).collect();
        for mut child in started {
            assert!(child.wait().unwrap().success());
        }
        now += TimeDelta::days(1);
    }
    let letters = shop.letters(now);
    assert_eq!(letters.len(), 30);
    assert!(letters.iter().all(|letter| text(letter, "state") == "sent" && letter["may_be_twice"] == false));
    let taken = ids(&office);
    assert_eq!((taken.len(), taken.iter().collect::<BTreeSet<_>>().len()), (30, 30));
}

#[test]
fn two_watch_and_each_letter_comes_once_at_its_time() {
    let office = Office::open(|_| Script::default());
    let shop = Shop::new(&(daily("first", "07:30") + &daily("second", "07:31")), office.port);
    let watch = || {
        let mut command = shop.program("2027-03-01T07:29:58", &["watch"]);
        command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
    };
    let mut watching = [watch(), watch()];
    let begun = Instant::now();
    while ids(&office).is_empty() && begun.elapsed() < Duration::from_secs(20) {
        std::thread::sleep(Duration::from_millis(50));
    }
    assert!(begun.elapsed() >= Duration::from_millis(1_500), "not before its time");
    // Long enough for the other one to have been at it as well.
    std::thread::sleep(Duration::from_millis(1_500));
    for child in &mut watching {
        assert!(child.try_wait().unwrap().is_none(), "it stays");
        child.kill().unwrap();
        child.wait().unwrap();
    }
    let letters = shop.letters(moment("2027-03-01T06:30:30Z"));
    assert_eq!(letters.len(), 1);
    assert_eq!(ids(&office), [text(&letters[0], "message_id")]);
    assert_eq!((text(&letters[0], "schedule"), text(&letters[0], "run_at")), ("first", "2027-03-01T06:30:00Z"));
}

#[test]
fn watch_asks_for_what_it_needs() {
    let shop = Shop::new("", 25);
    assert!(shop.said("2027-03-01", &["watch"]).contains("`watch` needs a time as well as a day"));
    assert!(shop.said("2027-03-01T07:00", &["watch"]).contains("no schedule is set"));
}
