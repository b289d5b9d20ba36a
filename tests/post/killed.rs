//! The program is killed at every step of `post`, and at random moments: nothing is lost, and nothing comes twice but
//! what the server had taken when nobody could write that down any more.

use crate::server::{At, Does, Hook, Office, Script};
use crate::shop::{Shop, daily, ids, moment, text};
use crate::support::Random;
use chrono::TimeDelta;
use std::collections::BTreeMap;
use std::process::Child;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use stillroom::cli::Command as Verb;

/// Waits until the program has ended, by itself or killed; true where it was killed.
fn ended(child: &Mutex<Option<Child>>) -> bool {
    loop {
        if let Some(child) = child.lock().unwrap().as_mut()
            && let Some(status) = child.try_wait().unwrap()
        {
            return status.code().is_none();
        }
        std::thread::sleep(Duration::from_millis(2));
    }
}

#[test]
fn killed_at_every_step_of_the_conversation() {
    let places = [At::Greeting, At::Mail, At::Rcpt(1), At::Data, At::InLetter(10), At::InLetter(400), At::Letter];
    for at in places {
        let child: Arc<Mutex<Option<Child>>> = Arc::default();
        let killed = Arc::clone(&child);
        let office = Office::open(move |number| {
            let killed = Arc::clone(&killed);
            let kill = move || {
                // The test holds the lock until it has put the child there.
                if let Some(child) = killed.lock().unwrap().as_mut() {
                    child.kill().unwrap();
                    child.wait().unwrap();
                }
            };
            let hook = (number == 0).then(|| Hook(at, Arc::new(kill)));
            // What had been written before the kill is still on its way: the server goes before it has read that.
            let fault = (number == 0 && matches!(at, At::InLetter(_))).then_some((at, Does::Close));
            Script { hook, fault, ..Script::default() }
        });
        let shop = Shop::new(&(daily("one", "07:30") + &daily("two", "07:30")), office.port);
        {
            let mut child = child.lock().unwrap();
            *child = Some(shop.start_post("2027-03-01T06:30:00Z"));
        }
        assert!(ended(&child), "{at:?}: it was to be killed");
        *child.lock().unwrap() = None;

        // Both letters had been queued; the first is claimed still, so only the second goes.
        let soon = moment("2027-03-01T06:31:00Z");
        shop.run(soon, Verb::Post).unwrap();
        let letters = shop.letters(soon);
        let states: Vec<&str> = letters.iter().map(|letter| text(letter, "state")).collect();
        assert_eq!(states, ["waiting", "sent"], "{at:?}");
        let later = moment("2027-03-01T06:50:00Z");
        shop.run(later, Verb::Post).unwrap();
        let letters = shop.letters(later);
        assert_eq!(letters.len(), 2, "{at:?}");
        assert_eq!((text(&letters[0], "state"), &letters[0]["may_be_twice"]), ("sent", &true.into()), "{at:?}");
        assert_eq!(letters[1]["may_be_twice"], false, "{at:?}");
        let copies =
            |letter: usize| ids(&office).iter().filter(|id| *id == text(&letters[letter], "message_id")).count();
        let taken_before = usize::from(at == At::Letter);
        assert_eq!((copies(0), copies(1)), (1 + taken_before, 1), "{at:?}");
        assert!(shop.said("2027-03-01T06:50:00Z", &["outbox", "show", "1"]).contains("may have arrived"), "{at:?}");
    }
}

#[test]
fn killed_at_random_moments() {
    let conversations = Arc::new(AtomicUsize::new(0));
    let counted = Arc::clone(&conversations);
    let office = Office::open(move |_| {
        counted.fetch_add(1, Ordering::SeqCst);
        Script { fault: Some((At::Data, Does::Wait(Duration::from_millis(1)))), ..Script::default() }
    });
    let shop = Shop::new(&(daily("one", "07:30") + &daily("two", "07:30") + &daily("three", "07:30")), office.port);
    let mut random = Random::new(99);
    let (mut kills, mut days) = (0, 0);
    let mut now = moment("2027-03-01T06:30:00Z");
    // How long a whole round takes here, so that the kills fall all over it.
    let begun = std::time::Instant::now();
    shop.start_post(&now.to_rfc3339()).wait().unwrap();
    let round = u64::try_from(begun.elapsed().as_micros()).unwrap();
    while kills < 60 && days < 100 {
        now += TimeDelta::days(1);
        days += 1;
        for attempt in 0..4 {
            // Every attempt comes after the claims of the one before have run out.
            let as_of = (now + TimeDelta::minutes(attempt * 20)).to_rfc3339();
            let mut child = shop.start_post(&as_of);
            std::thread::sleep(Duration::from_micros(random.between(0, round * 2 / 3)));
            child.kill().unwrap();
            kills += usize::from(child.wait().unwrap().code().is_none());
        }
        shop.run(now + TimeDelta::minutes(90), Verb::Post).unwrap();
    }
    let letters = shop.letters(now);
    assert_eq!(letters.len(), 3 * (days + 1), "each day's letters were queued once, whenever the program was killed");
    let mut copies: BTreeMap<String, usize> = BTreeMap::new();
    for id in ids(&office) {
        *copies.entry(id).or_default() += 1;
    }
    let mut second_copies = 0;
    for letter in &letters {
        let (id, count) = (text(letter, "message_id"), copies.remove(text(letter, "message_id")).unwrap_or_default());
        assert_eq!(text(letter, "state"), "sent", "{letter}");
        assert!(count == 1 || (count > 1 && letter["may_be_twice"] == true), "{id} came {count} times: {letter}");
        second_copies += count - 1;
    }
    assert!(copies.is_empty(), "letters that nobody knows of: {copies:?}");
    let marked = letters.iter().filter(|letter| letter["may_be_twice"] == true).count();
    println!("{kills} kills in {days} days, {marked} letters marked, {second_copies} second copies");
    assert!(kills >= 60, "only {kills} kills came in time");
}

#[test]
fn killed_at_the_farewell_nothing_comes_twice() {
    let child: Arc<Mutex<Option<Child>>> = Arc::default();
    let killed = Arc::clone(&child);
    let office = Office::open(move |_| {
        let killed = Arc::clone(&killed);
        let kill = move || {
            if let Some(child) = killed.lock().unwrap().as_mut() {
                child.kill().unwrap();
                child.wait().unwrap();
            }
        };
        Script { hook: Some(Hook(At::Quit, Arc::new(kill))), ..Script::default() }
    });
    let shop = Shop::new(&daily("one", "07:30"), office.port);
    {
        let mut child = child.lock().unwrap();
        *child = Some(shop.start_post("2027-03-01T06:30:00Z"));
    }
    assert!(ended(&child), "it was to be killed");
    *child.lock().unwrap() = None;
    let later = moment("2027-03-01T12:00:00Z");
    shop.run(later, Verb::Post).unwrap();
    let letter = &shop.letters(later)[0];
    assert_eq!((text(letter, "state"), &letter["may_be_twice"]), ("sent", &false.into()), "it was marked before");
    assert_eq!(ids(&office).len(), 1);
}
