//! Nesting that a hostile or careless file may hold: circles, very deep chains, formulas that are not there.

use super::support::day;
use super::support::workshop::Workshop;
use super::support::workshop::percent;
use super::{explode_from_day_0, total};
use std::time::{Duration, Instant};
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::explode::use_rate_findings;
use stillroom::plan::finding::FindingKind;
use stillroom::plan::model::{FormulaLine, ItemId};
use stillroom::plan::outlook::look_ahead;

fn contains(workshop: &mut Workshop, premix: ItemId, ingredients: &[ItemId]) {
    let formula = workshop.making(premix).formula.unwrap();
    let share = percent("50");
    let line = |item: &ItemId| FormulaLine { item: *item, percent: share, phase: String::new() };
    workshop.snapshot.formulas[formula.index()].lines = ingredients.iter().map(line).collect();
}

fn circles(workshop: &Workshop) -> Vec<String> {
    let explosion = explode_from_day_0(&workshop.snapshot, day(0));
    let circles = explosion.findings.iter().filter(|finding| finding.kind == FindingKind::FormulaCircle);
    circles.map(|finding| finding.message.clone()).collect()
}

#[test]
fn a_circle_is_named_with_all_its_members_and_nobody_else() {
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    let [a, b, c, outside, inside] = ["a", "b", "c", "outside", "inside"].map(|code| workshop.premix(code, &[]));
    contains(&mut workshop, outside, &[a, oil]);
    contains(&mut workshop, a, &[oil, b]);
    contains(&mut workshop, b, &[c, inside]);
    contains(&mut workshop, c, &[a]);
    contains(&mut workshop, inside, &[oil, oil]);
    let named = circles(&workshop);
    assert_eq!(named.len(), 1);
    assert!(named[0].contains("a -> b -> c -> a"), "{named:?}");
    // What does not lie in the circle is planned all the same.
    let product = workshop.product("balm", &[(outside, "50"), (inside, "50")]);
    workshop.make(product, 1_000, day(0));
    let explosion = explode_from_day_0(&workshop.snapshot, day(0));
    assert_eq!((total(&explosion, a), total(&explosion, oil), total(&explosion, b)), (250, 750, 0));
}

#[test]
fn a_premix_that_contains_itself_and_two_circles_apart_are_all_named() {
    let mut workshop = Workshop::new();
    let [a, b, c] = ["a", "b", "c"].map(|code| workshop.premix(code, &[]));
    contains(&mut workshop, a, &[a]);
    contains(&mut workshop, b, &[c]);
    contains(&mut workshop, c, &[b]);
    let named = circles(&workshop);
    assert_eq!(named.len(), 2);
    assert!(named[0].contains("a -> a.") && named[1].contains("b -> c -> b."), "{named:?}");
}

#[test]
fn two_circles_through_one_premix_are_both_named() {
    let mut workshop = Workshop::new();
    let [a, b, c] = ["a", "b", "c"].map(|code| workshop.premix(code, &[]));
    contains(&mut workshop, a, &[b, c]);
    contains(&mut workshop, b, &[a]);
    contains(&mut workshop, c, &[a]);
    let named = circles(&workshop);
    assert_eq!(named.len(), 2, "{named:?}");
    assert!(named[0].contains("a -> b -> a.") && named[1].contains("a -> c -> a."), "{named:?}");
}

#[test]
fn ten_thousand_premixes_deep_is_no_trouble() {
    const DEEP: usize = 10_000;
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    workshop.item(oil).use_rates.leave_on = Some(percent("50"));
    let mut inner = oil;
    for depth in 0..DEEP {
        inner = workshop.premix(&format!("p{depth:05}"), &[(inner, "100")]);
    }
    let product = workshop.product("balm", &[(inner, "100")]);
    workshop.facts(product).product_use = Some(stillroom::plan::model::ProductUse::LeaveOn);
    workshop.make(product, 1_000, day(3));
    let (explosion, took) = timed(|| explode_from_day_0(&workshop.snapshot, day(9)));
    assert_eq!(total(&explosion, oil), 1_000);
    assert_eq!(use_rate_findings(&workshop.snapshot).len(), 1);
    // A circle as long as that is found as well.
    contains(&mut workshop, ItemId::new(1), &[inner]);
    let (outlook, took_circle) = timed(|| look_ahead(&workshop.snapshot, day(0), None, SearchLimit::default()));
    assert!(outlook.findings.iter().any(|finding| finding.kind == FindingKind::FormulaCircle));
    println!("{DEEP} premixes deep: {took:?}; as a circle: {took_circle:?}.");
    assert!(took < Duration::from_secs(5) && took_circle < Duration::from_secs(5), "{took:?} {took_circle:?}");
}

#[allow(clippy::disallowed_methods, reason = "a test that watches the time has to look at the clock")]
fn timed<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let start = Instant::now();
    let result = work();
    (result, start.elapsed())
}

#[test]
fn a_missing_formula_is_reported_and_the_rest_is_planned() {
    let mut workshop = Workshop::new();
    let (oil, tin) = (workshop.material("oil"), workshop.packaging("tin"));
    let lost = workshop.premix("lost", &[]);
    workshop.making(lost).formula = None;
    let balm = workshop.product("balm", &[(oil, "50"), (lost, "50")]);
    let nothing = workshop.product("nothing", &[]);
    workshop.facts(nothing).formula = None;
    workshop.facts(nothing).packaging =
        vec![stillroom::plan::model::Packaging { item: tin, per_piece_millionths: 0, per_batch: 1 }];
    workshop.make(balm, 1_000, day(0));
    workshop.make(nothing, 1_000, day(0));
    let outlook = look_ahead(&workshop.snapshot, day(0), None, SearchLimit::default());
    let missing: Vec<_> = outlook
        .findings
        .iter()
        .filter(|finding| finding.kind == FindingKind::FormulaMissing)
        .map(|finding| finding.subject.as_str())
        .collect();
    assert_eq!(missing, ["E2", "lost"]);
    let short: Vec<_> = outlook.shortages.iter().map(|shortage| (shortage.item, shortage.quantity.0)).collect();
    assert_eq!(short, [(oil, 500), (tin, 1), (lost, 500)]);
}
