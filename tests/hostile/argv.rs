//! The command line: words in any order, through the real parser and through the real program.

use super::program::{FIRST_DAY, Workshop};
use clap::{CommandFactory, Parser};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use std::collections::BTreeSet;
use std::ffi::OsString;
use std::os::unix::ffi::OsStringExt;
use stillroom::cli::Cli;

/// Values at the edges, and what is no value.
const VALUES: [&str; 36] = [
    "",
    " ",
    "-",
    "--",
    "0",
    "-1",
    "1",
    "9223372036854775807",
    "9223372036854775808",
    "1e308",
    "NaN",
    "1 kg",
    "-1 g",
    "999999999 kg",
    "1000000000000000 pcs",
    "0 g",
    "2027-03-01",
    "2027-02-30",
    "0000-00-00",
    "9999-12-31",
    "999999-01-01",
    "18 months",
    "every day",
    "Mon",
    "E01",
    "shea-butter",
    "L2605-1",
    "dunmarch",
    "<script>",
    "=cmd()",
    "\u{202e}x",
    "a\r\nBcc: a@b",
    "../../x",
    "{{ x }}",
    "乳木果油",
    "a@b.example",
];

/// Every word that the program knows, but for those that go on for ever, and the values.
fn words() -> Vec<String> {
    fn collect(command: &clap::Command, words: &mut BTreeSet<String>) {
        words.insert(command.get_name().to_owned());
        for argument in command.get_arguments() {
            words.extend(argument.get_long().map(|long| format!("--{long}")));
            words.extend(argument.get_short().map(|short| format!("-{short}")));
        }
        command.get_subcommands().for_each(|command| collect(command, words));
    }
    let mut words = BTreeSet::new();
    collect(&Cli::command(), &mut words);
    words.remove("watch");
    words.into_iter().chain(VALUES.map(str::to_owned)).collect()
}

/// A subcommand and what may come after it.
fn line() -> impl Strategy<Value = Vec<String>> {
    let verbs: Vec<Vec<String>> = Cli::command()
        .get_subcommands()
        .filter(|command| command.get_name() != "watch")
        .flat_map(|command| {
            let own = vec![vec![command.get_name().to_owned()]];
            let inner =
                command.get_subcommands().map(|inner| vec![command.get_name().to_owned(), inner.get_name().to_owned()]);
            own.into_iter().chain(inner).collect::<Vec<_>>()
        })
        .collect();
    (prop::sample::select(verbs), prop::collection::vec(prop::sample::select(words()), 0..6))
        .prop_map(|(verb, rest)| [verb, rest].concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn the_parser_answers(line in line(), odd in prop::collection::vec(any::<u8>(), 0..8), place in any::<prop::sample::Index>()) {
        let mut words: Vec<OsString> = std::iter::once("stillroom".to_owned()).chain(line).map(OsString::from).collect();
        // Arguments are bytes on Unix: not all of them are text.
        words.insert(1 + place.index(words.len()), OsString::from_vec(odd));
        let _ = Cli::try_parse_from(words);
    }
}

/// How many lines the real program is run with: each is a process and, in a debug build, a quarter of a second.
fn lines_to_run() -> usize {
    std::env::var("HOSTILE_LINES").ok().and_then(|count| count.parse().ok()).unwrap_or(40)
}

#[test]
fn the_program_answers_with_words_and_a_status() {
    let workshop = Workshop::example();
    let mut runner = TestRunner::deterministic();
    let mut statuses = BTreeSet::new();
    for _ in 0..lines_to_run() {
        let line = line().new_tree(&mut runner).unwrap().current();
        let line: Vec<&str> = line.iter().map(String::as_str).collect();
        let answer = workshop.run_on(FIRST_DAY, &line);
        assert!((0..=2).contains(&answer.status), "{line:?} ended with {}\n{}", answer.status, answer.err);
        assert!(!answer.err.contains("panicked"), "{line:?}: {}", answer.err);
        assert!(answer.status == 0 || !answer.err.is_empty(), "{line:?} says nothing");
        statuses.insert(answer.status);
    }
    assert!(statuses.len() > 1, "only {statuses:?}");
    workshop.done(&["doctor"]);
}

#[test]
fn dates_at_the_ends_of_the_calendar() {
    let workshop = Workshop::example();
    for day in ["1000-01-01T00:00", "9999-12-31T23:59"] {
        for words in [&["today"][..], &["forecast"], &["month"], &["expiring"], &["reorder"], &["plan", "list"]] {
            let answer = workshop.run_on(day, words);
            assert!(
                (0..=2).contains(&answer.status) && !answer.err.contains("panicked"),
                "{day} {words:?}: {}",
                answer.err
            );
        }
    }
}
