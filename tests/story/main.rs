//! One month in the life of the example workshop, through the command line alone: the program as built, a store of its
//! own in a temporary folder, each day given with `--as-of`. It ends in a recall.
//!
//! Every figure is worked out by hand beside the assertion, from the files in `examples/workshop/` and `docs/model.md`; the
//! shelves are kept a second time in a small book of sums (`shelves`), which is held against the ledger at the end.
//!
//! Rounding, where nothing else is said: the mass to be weighed half up to the milligram; the lines of a formula by
//! largest remainder; the cost of a draw is what the lot's rest cost x taken / rest, half up to the cent of the lot's
//! currency, then half up to the cent of a euro at the newest rate (22 February: 1.172 for a pound, 0.134 for a krone).

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

mod first_week;
mod fourth_week;
mod law;
mod opening;
mod recall;
mod second_week;
mod shelves;
mod third_week;
#[path = "../cli/workshop.rs"]
#[allow(dead_code, reason = "the tests of single commands use all of it")]
mod workshop;

use serde_json::Value;
use shelves::Shelves;
use workshop::Workshop;

/// The workshop, and what should stand on its shelves.
pub struct Story {
    shop: Workshop,
    shelves: Shelves,
}

impl Story {
    /// What a command says in figures.
    fn json(&self, day: &str, arguments: &[&str]) -> Value {
        self.shop.json_on(day, arguments)
    }

    /// What a command says to the maker.
    fn says(&self, day: &str, arguments: &[&str]) -> String {
        self.shop.done_on(day, arguments)
    }

    /// What a command answers that refuses what the maker asks for.
    fn refuses(&self, day: &str, arguments: &[&str]) -> String {
        self.shop.refused_on(day, 2, arguments)
    }

    /// Makes something, asks that it took just these amounts of these lots, and takes them off the hand-kept shelves.
    fn makes(&mut self, day: &str, arguments: &[&str], took: &[(&str, i64)]) -> Value {
        let made = self.json(day, &[&["make"], arguments].concat());
        let mut drawn: Vec<(&str, i64)> = list(&made, "draws").iter().map(|draw| pair(draw, "amount")).collect();
        let mut expected = took.to_vec();
        drawn.sort_unstable();
        expected.sort_unstable();
        assert_eq!(drawn, expected, "make {arguments:?} on {day}");
        for (lot, amount) in took {
            self.shelves.take(lot, *amount);
        }
        made
    }
}

/// The items of a list in an answer.
fn list<'a>(answer: &'a Value, name: &str) -> &'a [Value] {
    answer[name].as_array().unwrap_or_else(|| panic!("no list {name} in {answer}"))
}

/// The lot and one of the amounts of an item.
fn pair<'a>(item: &'a Value, amount: &str) -> (&'a str, i64) {
    (item["lot"].as_str().unwrap(), item[amount].as_i64().unwrap())
}

/// The item of a list of which a field has this text.
fn of<'a>(items: &'a [Value], field: &str, text: &str) -> &'a Value {
    items.iter().find(|item| item[field] == text).unwrap_or_else(|| panic!("no {field} {text} in {items:?}"))
}

/// Several fields of an item, as the JSON writes them.
fn fields<const N: usize>(item: &Value, names: [&str; N]) -> [Value; N] {
    names.map(|name| item[name].clone())
}

/// Asks for lines that the maker reads, word for word, however wide the columns are.
fn reads(said: &str, lines: &[&str]) {
    let squeezed = said.split_whitespace().collect::<Vec<_>>().join(" ");
    for line in lines {
        assert!(squeezed.contains(line), "{line:?} is not in\n{said}");
    }
}

#[test]
fn a_month_at_the_bench_that_ends_in_a_recall() {
    let mut story = Story { shop: Workshop::example(), shelves: Shelves::opening() };
    first_week::go(&mut story);
    second_week::go(&mut story);
    third_week::go(&mut story);
    fourth_week::go(&mut story);
    recall::go(&story);
    law::holds(&story);
}
