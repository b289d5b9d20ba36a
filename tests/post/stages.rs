//! What the program makes of every answer and every end of a conversation, and that nobody waits for the store while
//! the mail server is spoken to.

use crate::server::{At, Does, Hook, Office, Script};
use crate::shop::{Shop, daily, ids, moment, text};
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use stillroom::cli::{Command as Verb, Outbox};
use stillroom::store::Store;

const PLACES: [At; 6] = [At::Greeting, At::Mail, At::Rcpt(1), At::Data, At::InLetter(400), At::Letter];

/// A shop whose one letter is due, and a server that does this in its first conversation.
fn with_fault(at: At, does: Does) -> (Shop, Office) {
    let office = Office::open(move |number| Script { fault: (number == 0).then_some((at, does)), ..Script::default() });
    (Shop::new(&daily("daily", "07:30"), office.port), office)
}

#[test]
fn not_now_is_tried_again_later() {
    for at in PLACES {
        if matches!(at, At::InLetter(_)) {
            continue;
        }
        let (shop, office) = with_fault(at, Does::Reply("451 4.3.0 come back later"));
        let now = moment("2027-03-01T06:30:00Z");
        shop.run(now, Verb::Post).unwrap();
        let letter = &shop.letters(now)[0];
        assert_eq!((text(letter, "state"), text(letter, "next_try")), ("waiting", "2027-03-01T06:31:00Z"), "{at:?}");
        assert!(text(letter, "last_error").contains("451"), "{letter}");
        assert_eq!(letter["may_be_twice"], false);
        // Before its time it is left alone.
        shop.run(moment("2027-03-01T06:30:59Z"), Verb::Post).unwrap();
        assert_eq!(ids(&office).len(), 0);
        shop.run(moment("2027-03-01T06:31:00Z"), Verb::Post).unwrap();
        assert_eq!(ids(&office), [text(letter, "message_id")], "{at:?}");
    }
}

#[test]
fn no_for_good_sets_aside_until_somebody_says_again() {
    for at in [At::Mail, At::Rcpt(1), At::Data, At::Letter] {
        let (shop, office) = with_fault(at, Does::Reply("550 5.7.1 we do not know you"));
        let now = moment("2027-03-01T06:30:00Z");
        let error = shop.run(now, Verb::Post).unwrap_err();
        assert!(error.message.contains("Letter 1 is set aside") && error.message.contains("550"), "{}", error.message);
        assert_eq!(error.exit_status(), 1);
        assert_eq!(text(&shop.letters(now)[0], "state"), "set-aside");
        let later = moment("2027-03-01T20:00:00Z");
        shop.run(later, Verb::Post).unwrap();
        assert!(ids(&office).is_empty(), "nobody has asked for another try");
        shop.run(later, Verb::Outbox(Outbox::Retry { letters: Vec::new() })).unwrap();
        shop.run(later, Verb::Post).unwrap();
        assert_eq!(ids(&office).len(), 1);
        let again = shop.run(later, Verb::Outbox(Outbox::Retry { letters: vec![1] })).unwrap_err();
        assert!(again.message.contains("letter 1 was sent already"), "{}", again.message);
    }
}

#[test]
fn a_server_that_refuses_everybody_keeps_all_letters_waiting() {
    let schedules = daily("one", "07:30") + &daily("two", "07:30");
    let office = Office::open(|_| Script {
        fault: Some((At::Greeting, Does::Reply("554 5.3.2 no service"))),
        ..Script::default()
    });
    let shop = Shop::new(&schedules, office.port);
    let now = moment("2027-03-01T06:30:00Z");
    shop.run(now, Verb::Post).unwrap_err();
    let letters = shop.letters(now);
    let told: Vec<_> = letters.iter().map(|row| (text(row, "state"), row["tries"].as_u64().unwrap())).collect();
    assert_eq!(
        told,
        [("waiting", 1), ("waiting", 0)],
        "the second is not tried where the first shows that it is no use"
    );
}

#[test]
fn an_end_at_any_place_loses_nothing_and_says_where_a_copy_may_come() {
    for does in [Does::Close, Does::Hang, Does::KeepAndClose] {
        for at in PLACES {
            if matches!(does, Does::KeepAndClose) && at != At::Letter {
                continue;
            }
            let (shop, office) = with_fault(at, does);
            if matches!(does, Does::Hang) {
                shop.settings_with(&daily("daily", "07:30"), office.port, 1);
            }
            let now = moment("2027-03-01T06:30:00Z");
            shop.run(now, Verb::Post).unwrap();
            let letter = &shop.letters(now)[0];
            assert_eq!(text(letter, "state"), "waiting", "{at:?} {does:?}");
            let in_its_hands = matches!(at, At::Data | At::InLetter(_) | At::Letter);
            assert_eq!(letter["may_be_twice"], in_its_hands, "{at:?} {does:?}");
            shop.run(moment("2027-03-01T06:31:00Z"), Verb::Post).unwrap();
            let copies = if matches!(does, Does::KeepAndClose) { 2 } else { 1 };
            assert_eq!(ids(&office), vec![text(letter, "message_id"); copies], "{at:?} {does:?}");
        }
    }
}

#[test]
fn others_can_write_to_the_store_at_every_step_of_a_conversation() {
    let store: Arc<Mutex<Option<PathBuf>>> = Arc::default();
    let times = Arc::new(Mutex::new(0));
    let places = [At::Greeting, At::Mail, At::Rcpt(1), At::Data, At::InLetter(10), At::Letter, At::Quit];
    let (path, counted) = (Arc::clone(&store), Arc::clone(&times));
    let office = Office::open(move |number| {
        let (path, counted) = (Arc::clone(&path), Arc::clone(&counted));
        let write = move || {
            let path = path.lock().unwrap().clone().unwrap();
            let mut store = Store::open(&path).unwrap();
            let begun = std::time::Instant::now();
            let writing = store.writing().unwrap();
            writing.mark_schedule("somebody else's", moment("2027-01-01T00:00:00Z")).unwrap();
            writing.commit().unwrap();
            assert!(begun.elapsed() < Duration::from_secs(4));
            *counted.lock().unwrap() += 1;
        };
        Script { hook: Some(Hook(places[number % places.len()], Arc::new(write))), ..Script::default() }
    });
    let schedules: String = (0..places.len()).map(|number| daily(&format!("daily {number}"), "07:30")).collect();
    let shop = Shop::new(&schedules, office.port);
    *store.lock().unwrap() = Some(shop.path("workshop.sqlite"));
    shop.run(moment("2027-03-01T06:30:00Z"), Verb::Post).unwrap();
    assert_eq!(ids(&office).len(), places.len());
    assert!(
        *times.lock().unwrap() >= places.len(),
        "the store was written to {} times meanwhile",
        times.lock().unwrap()
    );
}

#[test]
fn a_letter_that_nobody_takes_is_set_aside_after_twenty_tries() {
    let office =
        Office::open(|_| Script { fault: Some((At::Rcpt(1), Does::Reply("450 4.2.1 full"))), ..Script::default() });
    let shop = Shop::new(&daily("daily", "07:30"), office.port);
    let mut now = moment("2027-03-01T06:30:00Z");
    shop.run(now, Verb::Post).unwrap();
    let mut waits = Vec::new();
    loop {
        let letter = shop.letters(now)[0].clone();
        if text(&letter, "state") == "set-aside" {
            assert_eq!(letter["tries"], 20);
            break;
        }
        let next = moment(text(&letter, "next_try"));
        waits.push((next - now).num_minutes());
        now = next;
        // The letters of the following days wait for the first: they stay in order.
        let _ = shop.run(now, Verb::Post);
    }
    assert!(waits.is_sorted() && waits.len() == 19, "{waits:?}");
    assert_eq!((now - moment("2027-03-01T06:30:00Z")).num_hours(), 147);
}
