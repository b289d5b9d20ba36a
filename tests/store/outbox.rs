//! The outbox as the store keeps it: mark and letter together, claims, and what may never happen to a letter.

use super::invented::new_store;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use stillroom::plan::reminder::Told;
use stillroom::store::{LetterState, NewLetter, Serving, Setback, SnoozeRow, Store, StoreError};

fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn letter(id: &str) -> NewLetter {
    NewLetter {
        message_id: format!("{id}@example.org"),
        sender: "Tansy Quay <shop@example.org>".to_owned(),
        recipients: vec!["Ilse, at home <ilse@example.net>".to_owned(), "jo@example.net".to_owned()],
        subject: "2 new".to_owned(),
        file_stem: "2027-03-01-list".to_owned(),
        text: "What is new".to_owned(),
        message: b"Subject: 2 new\r\n\r\nWhat is new\r\n".to_vec(),
    }
}

const BEGINNING: &str = "2027-02-28T23:59:59Z";
const RUN: &str = "2027-03-01T06:30:00Z";

fn serving<'a>(letter: Option<&'a NewLetter>, told: &'a [Told]) -> Serving<'a> {
    Serving {
        schedule: "list",
        seen: moment(BEGINNING),
        run_at: moment(RUN),
        day: day("2027-03-01"),
        runs: 1,
        letter,
        told,
        now: moment(RUN),
    }
}

/// A store whose schedule has begun, with `ids` queued at one run after the other.
fn with_letters(store: &mut Store, ids: &[&str]) {
    let writing = store.writing().unwrap();
    writing.mark_schedule("list", moment(BEGINNING)).unwrap();
    let mut seen = moment(BEGINNING);
    for (number, id) in (0..).zip(ids) {
        let run_at = moment(RUN) + TimeDelta::days(number);
        let one = letter(id);
        let queued = writing.serve(&Serving { seen, run_at, ..serving(Some(&one), &[]) }).unwrap();
        assert_eq!(queued, Some(Some(number + 1)));
        seen = run_at;
    }
    writing.commit().unwrap();
}

#[test]
fn mark_letter_and_what_was_told_are_one() {
    let (_folder, path, mut store) = new_store();
    let told = [Told {
        kind: "order".to_owned(),
        subject: "shea".to_owned(),
        state: "ostrel 2 x 1 kg".to_owned(),
        day: Some(day("2027-03-04")),
        amount: 7,
        told_on: day("2027-03-01"),
    }];
    let one = letter("one");
    let writing = store.writing().unwrap();
    writing.mark_schedule("list", moment(BEGINNING)).unwrap();
    writing.commit().unwrap();
    // Not committed, nothing of it is there.
    let writing = store.writing().unwrap();
    assert_eq!(writing.serve(&serving(Some(&one), &told)).unwrap(), Some(Some(1)));
    drop(writing);
    let reading = store.reading().unwrap();
    assert_eq!(reading.served_through("list").unwrap(), Some(moment(BEGINNING)));
    assert!(reading.letters().unwrap().is_empty() && reading.told("list").unwrap().is_empty());
    drop(reading);
    // A message id that is there already takes the mark back with it.
    with_letters(&mut store, &["one"]);
    let writing = store.writing().unwrap();
    let again = Serving { seen: moment(RUN), run_at: moment("2027-03-02T06:30:00Z"), ..serving(Some(&one), &told) };
    assert!(matches!(writing.serve(&again), Err(StoreError::Rule { .. })));
    writing.commit().unwrap();
    assert_eq!(store.reading().unwrap().served_through("list").unwrap(), Some(moment(RUN)));
    // Who made a letter from an older mark, or of a run that was served, comes too late.
    let two = letter("two");
    let writing = store.writing().unwrap();
    assert_eq!(writing.serve(&serving(Some(&two), &told)).unwrap(), None);
    writing.mark_schedule("list", moment(BEGINNING)).unwrap();
    assert_eq!(writing.serve(&serving(Some(&two), &told)).unwrap(), None);
    let quiet = Serving { run_at: moment("2027-03-02T06:30:00Z"), ..serving(None, &told) };
    assert_eq!(writing.serve(&quiet).unwrap(), Some(None));
    writing.commit().unwrap();
    let mut other = Store::open(&path).unwrap();
    let reading = other.reading().unwrap();
    assert_eq!(reading.told("list").unwrap(), told);
    let runs = reading.last_runs("list", 10).unwrap();
    assert_eq!(runs.iter().map(|run| run.letter).collect::<Vec<_>>(), [None, Some(1)]);
}

#[test]
fn a_claim_keeps_others_away_until_it_runs_out() {
    let (_folder, path, mut store) = new_store();
    with_letters(&mut store, &["one", "two"]);
    let mut other = Store::open(&path).unwrap();
    let now = moment("2027-03-05T06:30:00Z");
    let claim = |store: &mut Store, now: DateTime<Utc>, token: &str| {
        let writing = store.writing().unwrap();
        let claim = writing.claim_letter(now, now + TimeDelta::minutes(15), token).unwrap();
        writing.commit().unwrap();
        claim
    };
    let first = claim(&mut store, now, "a").unwrap();
    assert_eq!((first.row.letter, first.left_behind, &first.message), (1, false, &letter("one").message));
    assert_eq!(first.row.recipients, letter("one").recipients);
    assert!(claim(&mut other, now + TimeDelta::minutes(14), "b").is_none(), "nor the second one before the first");
    let taken_over = claim(&mut other, now + TimeDelta::minutes(15), "b").unwrap();
    assert_eq!((taken_over.left_behind, taken_over.row.may_be_twice, taken_over.row.tries), (true, true, 1));
    // The first one comes back too late: a failure of his changes nothing, a success counts and is doubtful.
    let writing = store.writing().unwrap();
    let setback = Setback { error: "gone".to_owned(), next_try: None, may_have_arrived: false };
    writing.letter_failed(1, "a", &setback).unwrap();
    assert_eq!(writing.letter(1).unwrap().0.state, LetterState::Waiting);
    assert!(!writing.letter_sent(1, "a", now).unwrap());
    writing.commit().unwrap();
    let row = store.reading().unwrap().letter(1).unwrap().0;
    assert_eq!((row.state, row.may_be_twice), (LetterState::Sent, true));
    let second = claim(&mut other, now + TimeDelta::minutes(15), "b").unwrap();
    let writing = other.writing().unwrap();
    let next_try = Some(now + TimeDelta::hours(1));
    let setback = Setback { error: "not now".to_owned(), next_try, may_have_arrived: false };
    writing.letter_failed(second.row.letter, "b", &setback).unwrap();
    writing.commit().unwrap();
    let reading = store.reading().unwrap();
    assert_eq!(reading.next_try().unwrap(), next_try);
    assert!(!reading.letter_is_ready(now + TimeDelta::minutes(59)).unwrap());
    assert!(reading.letter_is_ready(now + TimeDelta::minutes(60)).unwrap());
}

#[test]
fn a_letter_is_never_deleted_rewritten_or_sent_back() {
    let (_folder, path, mut store) = new_store();
    with_letters(&mut store, &["one", "two"]);
    let now = moment("2027-03-05T06:30:00Z");
    let writing = store.writing().unwrap();
    writing.claim_letter(now, now + TimeDelta::minutes(15), "a").unwrap().unwrap();
    assert!(writing.drop_letter(1, now).unwrap_err().to_string().contains("is being sent at this moment"));
    writing.letter_sent(1, "a", now).unwrap();
    writing.commit().unwrap();
    let raw = rusqlite::Connection::open(&path).unwrap();
    for (sql, words) in [
        ("DELETE FROM letters WHERE letter = 2", "a letter is dropped, never deleted"),
        ("UPDATE letters SET message = x'00' WHERE letter = 2", "a letter keeps its words"),
        ("UPDATE letters SET message = x'' WHERE letter = 2", "a letter keeps its words"),
        ("UPDATE letters SET message_id = 'x' WHERE letter = 1", "a letter keeps its words"),
        ("UPDATE letters SET state = 'waiting', sent_at = NULL WHERE letter = 1", "a letter that was sent stays sent"),
        ("UPDATE letters SET claimed_by = 'a' WHERE letter = 2", "CHECK"),
        ("UPDATE letters SET next_try = '2027-03-01 08:00' WHERE letter = 2", "CHECK"),
    ] {
        let error = raw.execute(sql, []).unwrap_err().to_string();
        assert!(error.contains(words), "{sql}: {error}");
    }
    let writing = store.writing().unwrap();
    assert_eq!(writing.empty_old_letters(now).unwrap(), 0);
    assert_eq!(writing.empty_old_letters(now + TimeDelta::seconds(1)).unwrap(), 1);
    assert_eq!(writing.letter(1).unwrap().1, b"");
    assert_eq!(writing.letter(2).unwrap().1, letter("two").message);
    writing.commit().unwrap();
}

#[test]
fn a_silence_is_kept_moved_and_ended() {
    let (_folder, _path, mut store) = new_store();
    let row = |until: &str, reason: &str| SnoozeRow {
        subject: "shea".to_owned(),
        until: day(until),
        since: day("2027-03-01"),
        reason: reason.to_owned(),
    };
    let writing = store.writing().unwrap();
    writing.snooze(&row("2027-03-09", "fair")).unwrap();
    writing.snooze(&row("2027-04-09", "")).unwrap();
    assert_eq!(writing.snoozes().unwrap(), [row("2027-04-09", "")]);
    writing.end_snooze("shea").unwrap();
    let error = writing.end_snooze("shea").unwrap_err().to_string();
    assert_eq!((error.as_str(), writing.snoozes().unwrap().len()), ("there is no snooze of shea", 0));
}
