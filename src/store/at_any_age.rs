//! Tests that a store answers after ten years as on its first day: no question of the day looks through a table that
//! grows with the years, only through an index of what is not over.

use super::load::all;
use super::{Store, bench, codes, letters, load};
use crate::plan::money::Currency;
use rusqlite::Connection;
use rusqlite::types::Value;

/// What there is more of every year.
const GROWING: [&str; 15] = [
    "movements",
    "lots",
    "lot_balances",
    "batches",
    "weighings",
    "pieces",
    "piece_balances",
    "acts",
    "changes",
    "plan",
    "orders",
    "order_lines",
    "letters",
    "schedule_runs",
    "rates",
];

/// Indexes that hold only what is not over.
const OF_WHAT_IS_LEFT: [&str; 5] = ["lots_left", "pieces_left", "plan_to_make", "order_lines_open", "letters_not_out"];

/// Lines of the query's plan that look through the whole of a growing table.
fn scans(connection: &Connection, sql: &str) -> Vec<String> {
    let nothing = vec![Value::Null; connection.prepare(sql).unwrap().parameter_count()];
    let explain = format!("EXPLAIN QUERY PLAN {sql}");
    let told: Vec<String> =
        all(connection, &explain, rusqlite::params_from_iter(nothing), |row| row.get("detail")).unwrap();
    let looks_through = |line: &String| {
        let mut words = line.split(' ');
        words.next() == Some("SCAN")
            && words.next().is_some_and(|table| GROWING.contains(&table))
            && !OF_WHAT_IS_LEFT.iter().any(|index| line.ends_with(&format!(" {index}")))
    };
    told.into_iter().filter(looks_through).collect()
}

fn store() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::create(&folder.path().join("workshop.sqlite"), Currency::EUR).unwrap();
    (folder, store)
}

#[test]
fn no_question_of_the_day_looks_through_the_years() {
    let (_folder, store) = store();
    let mut questions = load::of_every_day();
    questions.extend(bench::of_every_day());
    questions.extend(letters::of_every_day());
    let codes = [codes::LOTS_OF_LENGTH, codes::ENTRIES_OF_LENGTH, codes::MADE_ENTRIES_OF_LENGTH];
    questions.extend(codes.map(str::to_owned));
    assert!(questions.len() >= 13);
    for sql in questions {
        assert_eq!(scans(&store.connection, &sql), Vec::<String>::new(), "{sql}");
    }
}

#[test]
fn a_look_through_the_ledger_would_be_found() {
    let (_folder, store) = store();
    let found = scans(&store.connection, "SELECT sum(amount) FROM movements");
    assert!(found.len() == 1 && found[0].starts_with("SCAN movements"), "{found:?}");
    // Also one by an index that holds everything.
    assert_eq!(scans(&store.connection, "SELECT lot, count(*) FROM movements GROUP BY lot").len(), 1);
    assert_eq!(scans(&store.connection, "SELECT 1 FROM lots WHERE amount = ?1").len(), 1);
}
