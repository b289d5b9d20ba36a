//! How fast the reorder solver comes near the best plan known, and how near its bound comes. Run by hand, never in CI:
//! `cargo bench --bench reorder -- --help`.

#![allow(missing_docs, reason = "a program for developers")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "it may fail loudly")]
#![allow(clippy::disallowed_methods, reason = "it measures time")]

/// As in the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[path = "../tests/reorder/maker.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod maker;

use chrono::NaiveDate;
use maker::{Size, workshop};
use std::path::Path;
use std::time::Instant;
use stillroom::book::link::link;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::outlook::look_ahead;
use stillroom::plan::reorder::requirements::{CreditSettings, requirements};
use stillroom::plan::reorder::{Limits, Problem, ReorderPlan, solve};
use stillroom::store::Store;

const HELP: &str = "\
cargo bench --bench reorder -- [--size small|middle|large] [--count N] [--first SEED] [--long SECONDS]
                               [--best CENTS] [STORE AS_OF]...
Without stores, workshops are made (tests/reorder/maker.rs). It prints the table of docs/reorder-speed.md: for each workshop how far
the plan lies above the best one known, and the gap that is printed with it, both in percent, for each time that the solver is
given, for its default effort and for a run of --long seconds (default 10). Time is that of the clock on the wall, since the solver uses two
threads: two processors should have nothing else to do. What a run really took is told where it is more than a tenth above what it was given.";

/// The budgets of each size, in milliseconds.
fn budgets(name: &str) -> &'static [u64] {
    match name {
        "small" => &[20, 100, 300],
        "middle" => &[150, 1_000, 2_000],
        _ => &[5_000, 10_000],
    }
}

fn size(name: &str) -> Size {
    match name {
        "small" => Size { materials: 40, entries: 42, days: 42, suppliers: 8 },
        "middle" => Size { materials: 150, entries: 150, days: 91, suppliers: 12 },
        "large" => Size { materials: 400, entries: 1_200, days: 365, suppliers: 16 },
        other => panic!("no size is called {other}\n{HELP}"),
    }
}

/// A plan found in so many seconds, and what it took in all.
fn run(problem: &Problem, limits: Limits, allowed: f64) -> (ReorderPlan, f64) {
    let clock = Instant::now();
    let plan = solve(problem, &limits, &mut || clock.elapsed().as_secs_f64() >= allowed).expect("a plan");
    (plan, clock.elapsed().as_secs_f64())
}

fn stored(store: &str, day: &str) -> Problem {
    let day: NaiveDate = day.parse().expect("a day");
    let mut store = Store::open(Path::new(store)).expect("a store");
    let reading = store.reading().expect("a reading");
    let (book, home) = (reading.book().expect("a book"), reading.home().expect("a home"));
    let snapshot = link(&book, home, &reading.standings().expect("standings")).expect("a snapshot");
    let outlook = look_ahead(&snapshot, day, None, SearchLimit::default());
    requirements(&snapshot, &outlook, CreditSettings::default()).problem
}

/// One instance: a line of what was found with each budget.
fn report(name: &str, size: &str, problem: &Problem, long: f64, best: Option<i64>) {
    let (found, spent) = run(problem, Limits { steps: u64::MAX }, long);
    let budgets = budgets(size);
    let runs: Vec<_> = budgets.iter().map(|&ms| run(problem, Limits { steps: u64::MAX }, ms as f64 / 1e3)).collect();
    let by_steps = run(problem, Limits::for_problem(problem), f64::INFINITY);
    let least = runs.iter().map(|run| run.0.objective.minor).min().unwrap_or(i64::MAX);
    let best = best.unwrap_or(i64::MAX).min(least).min(found.objective.minor).min(by_steps.0.objective.minor);
    let over = |plan: &ReorderPlan| 100.0 * (plan.objective.minor as f64 / best.max(1) as f64 - 1.0);
    let gap = |plan: &ReorderPlan| 100.0 * (1.0 - plan.lower_bound.minor as f64 / plan.objective.minor.max(1) as f64);
    let cell = |(plan, spent): &(ReorderPlan, f64), allowed: f64| {
        let late = if *spent > 1.1 * allowed { format!(", took {:.0} ms", spent * 1e3) } else { String::new() };
        format!(" +{:.2}, gap {:.2}{late} |", over(plan), gap(plan))
    };
    let simple = 100.0 * (found.simple_objective.minor as f64 / best.max(1) as f64 - 1.0);
    print!("| {name} | {best} | +{simple:.2} |");
    for (ms, run) in budgets.iter().zip(&runs) {
        print!("{}", cell(run, *ms as f64 / 1e3));
    }
    print!("{}", cell(&by_steps, by_steps.1).trim_end_matches('|'));
    println!("in {:.2} s |{}", by_steps.1, cell(&(found, spent), long));
}

/// The head of the table.
fn head(size: &str, long: f64) {
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("Load of the machine (1, 5, 15 minutes): {}\n", load.split(' ').take(3).collect::<Vec<_>>().join(", "));
    let times: Vec<String> = budgets(size).iter().map(|ms| format!(" {ms} ms |")).collect();
    println!("| workshop | best known, cents | simple way |{} default | {long:.0} s |", times.concat());
    println!("|{}", " --- |".repeat(5 + times.len()));
}

fn main() {
    let mut arguments = std::env::args().skip(1).filter(|argument| argument != "--bench");
    let (mut name, mut count, mut first, mut long, mut best) = ("small".to_owned(), 5, 1, 10.0, None);
    let mut stores = Vec::new();
    while let Some(argument) = arguments.next() {
        let mut value = || arguments.next().expect(HELP);
        match argument.as_str() {
            "--size" => name = value(),
            "--count" => count = value().parse().expect(HELP),
            "--first" => first = value().parse().expect(HELP),
            "--long" => long = value().parse().expect(HELP),
            "--best" => best = Some(value().parse().expect(HELP)),
            "--help" => return println!("{HELP}"),
            _ => stores.push((argument.clone(), value())),
        }
    }
    head(&name, long);
    for (store, day) in &stores {
        report(store, &name, &stored(store, day), long, best);
    }
    if stores.is_empty() {
        for seed in first..first + count {
            report(&format!("{name}:{seed}"), &name, &workshop(seed, size(&name)), long, best);
        }
    }
}
