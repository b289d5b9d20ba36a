//! The reorder solver against what was worked out apart from it: exhaustive search on tiny problems, a plain evaluator on big ones,
//! each rule by hand, and problems solved to proven optimality elsewhere.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "helpers of tests may fail loudly")]

mod checks;
mod exhaustive;
mod maker;
mod naive;
mod rules;

use maker::{Size, tiny, workshop};
use stillroom::plan::money::Money;
use stillroom::plan::quantity::Quantity;
use stillroom::plan::reorder::evaluate::ChosenOrder;
use stillroom::plan::reorder::{Limits, Problem, ReorderPlan, Room, solve, solve_from};

/// How many tiny problems are made; those that are small enough are solved by trying everything.
const TINY: u64 = 300;

#[test]
fn tiny_problems_come_out_as_by_trying_everything() {
    let (mut tried, mut proven) = (0_u32, 0_u32);
    for seed in 0..TINY {
        let problem = tiny(seed);
        let Some(optimum) = exhaustive::optimum(&problem) else { continue };
        let plan = solve(&problem, &Limits { steps: 400 }, &mut || false).unwrap();
        let objective = naive::check(&problem, &plan).unwrap_or_else(|why| panic!("seed {seed}: {why}"));
        assert_eq!(objective, optimum, "seed {seed}");
        assert!(plan.lower_bound.minor <= optimum, "seed {seed}: bound {:?} is above {optimum}", plan.lower_bound);
        tried += 1;
        proven += u32::from(plan.lower_bound.minor == optimum);
    }
    assert!(tried > 100, "only {tried} were small enough");
    assert_eq!(proven, tried, "of {tried} so many are proven to be the least");
}

#[test]
fn workshops_keep_every_rule_and_beat_buying_alone() {
    for seed in 0..60 {
        let size = Size { materials: 4 + i64::try_from(seed % 9).unwrap(), entries: 8, days: 42, suppliers: 5 };
        let problem = workshop(1_000 + seed, size);
        let plan = solve(&problem, &Limits { steps: 20 }, &mut || false).unwrap();
        naive::check(&problem, &plan).unwrap_or_else(|why| panic!("seed {seed}: {why}"));
    }
}

#[test]
fn the_same_steps_give_the_same_plan_and_a_stop_is_told() {
    let problem = workshop(7, Size { materials: 14, entries: 20, days: 42, suppliers: 6 });
    let one = solve(&problem, &Limits { steps: 300 }, &mut || false).unwrap();
    let other = solve(&problem, &Limits { steps: 300 }, &mut || false).unwrap();
    assert_eq!(one, other);
    assert!(one.searched_to_the_end);
    let stopped = solve(&problem, &Limits { steps: 300 }, &mut || true).unwrap();
    assert!(!stopped.searched_to_the_end);
    naive::check(&problem, &stopped).unwrap();
    assert!(stopped.objective >= one.objective);
}

#[test]
fn what_is_done_beside_the_search_does_not_depend_on_which_is_faster() {
    let problem = workshop(8, Size { materials: 24, entries: 24, days: 42, suppliers: 6 });
    let limits = Limits { steps: 300 };
    // Three at once, each with two threads, are held up by each other now and then.
    let plans: Vec<_> = std::thread::scope(|scope| {
        let solving: Vec<_> =
            (0..3).map(|_| scope.spawn(|| solve(&problem, &limits, &mut || false).unwrap())).collect();
        solving.into_iter().map(|solving| solving.join().unwrap()).collect()
    });
    assert!(plans.iter().all(|plan| *plan == plans[0] && plan.searched_to_the_end));
    naive::check(&problem, &plans[0]).unwrap();
    // Whenever the clock ends it, both threads end, with a plan and a bound.
    for asked in [0, 1, 40, 300, 900] {
        let mut left = asked;
        let mut stop = || {
            left -= i32::from(left > 0);
            left == 0
        };
        let plan = solve(&problem, &Limits { steps: u64::MAX }, &mut stop).unwrap();
        naive::check(&problem, &plan).unwrap_or_else(|why| panic!("stopped after {asked}: {why}"));
        assert!(!plan.searched_to_the_end && plan.lower_bound <= plan.objective);
        assert!(plan.lower_bound.minor > 0 && plan.objective <= plan.simple_objective, "stopped after {asked}");
    }
}

/// The orders of a plan as they were chosen.
fn chosen(problem: &Problem, plan: &ReorderPlan) -> Vec<ChosenOrder> {
    let orders = naive::orders_of(problem, plan).into_iter();
    orders.map(|(supplier, order_on, lines)| ChosenOrder { supplier, order_on, lines }).collect()
}

#[test]
fn given_orders_are_kept_and_what_they_lack_is_filled_in() {
    for seed in 0..30 {
        let size = Size { materials: 5 + i64::try_from(seed % 9).unwrap(), entries: 9, days: 42, suppliers: 5 };
        let mut problem = workshop(2_000 + seed, size);
        let before = solve(&problem, &Limits { steps: 60 }, &mut || false).unwrap();
        let given = chosen(&problem, &before);
        let found = solve_from(&problem, &Limits { steps: 60 }, &given, &mut || false).unwrap();
        let kept = found.kept.unwrap();
        naive::check(&problem, &kept).unwrap_or_else(|why| panic!("seed {seed}: {why}"));
        assert!(kept.objective <= before.objective, "seed {seed}: {:?} for {:?}", kept.objective, before.objective);
        assert!(found.best.objective <= kept.objective, "seed {seed}");
        // More of the last item is needed: every line that was given is still there.
        if let Some(last) = problem.requirements.last_mut() {
            last.quantity.0 *= 3;
        }
        let found = solve_from(&problem, &Limits { steps: 60 }, &given, &mut || false).unwrap();
        let kept = found.kept.unwrap();
        naive::check(&problem, &kept).unwrap_or_else(|why| panic!("seed {seed}: {why}"));
        let now = chosen(&problem, &kept);
        for order in &given {
            let same = now.iter().find(|own| (own.supplier, own.order_on) == (order.supplier, order.order_on)).unwrap();
            for &(offer, packs) in &order.lines {
                assert!(same.lines.iter().any(|line| line.0 == offer && line.1 >= packs), "seed {seed}: {order:?}");
            }
        }
    }
}

#[test]
fn bounds_hold_with_caps_and_costs_of_keeping() {
    let mut tried = 0;
    for seed in 0..TINY {
        let mut problem = tiny(10_000 + seed);
        for pack in &mut problem.offers {
            pack.most_packs = (seed % 2 == 0).then_some(3);
        }
        for credit in &mut problem.credits {
            credit.holding = (i128::from(seed % 3), 2);
            credit.disposal = (i128::from(seed % 4) * 7, 1);
        }
        let Some(optimum) = exhaustive::optimum(&problem) else { continue };
        let plan = solve(&problem, &Limits { steps: 200 }, &mut || false);
        let Some(plan) = plan else { panic!("seed {seed}: nothing found, though there is a plan") };
        let objective = naive::check(&problem, &plan).unwrap_or_else(|why| panic!("seed {seed}: {why}"));
        assert_eq!(objective, optimum, "seed {seed}");
        assert!(plan.lower_bound.minor <= optimum, "seed {seed}: bound {:?} is above {optimum}", plan.lower_bound);
        tried += 1;
    }
    assert!(tried > 100, "only {tried} were small enough");
}

#[test]
fn shelves_are_filled_as_by_trying_everything() {
    let (mut tried, mut short_of_room, mut crowded) = (0, 0, 0);
    for seed in 0..TINY {
        let mut problem = tiny(30_000 + seed);
        let Some(free) = exhaustive::optimum(&problem) else { continue };
        add_rooms(&mut problem, seed);
        let optimum = exhaustive::optimum(&problem).unwrap();
        let plan = solve(&problem, &Limits { steps: 400 }, &mut || false).unwrap();
        let objective = naive::check(&problem, &plan).unwrap_or_else(|why| panic!("seed {seed}: {why}"));
        let crowding = naive::crowding(&problem, &naive::orders_of(&problem, &plan));
        assert_eq!((plan.crowding.minor, objective + crowding), (crowding, optimum), "seed {seed}");
        assert!(plan.lower_bound.minor <= objective.min(optimum), "seed {seed}");
        tried += 1;
        short_of_room += u32::from(optimum > free);
        crowded += u32::from(crowding > 0);
    }
    assert!(tried > 100, "only {tried} were small enough");
    assert!(short_of_room > 20 && crowded > 5, "room mattered to {short_of_room}, and was too little for {crowded}");
}

/// Room for a little more than the requirements take, growing with the days; sometimes for less.
fn add_rooms(problem: &mut Problem, seed: u64) {
    for (place, credit) in problem.credits.iter().enumerate() {
        let least = 2 + i64::try_from((seed + place as u64) % 6).unwrap();
        let later = problem.start + chrono::Days::new(4 + seed % 5);
        let fits = vec![(problem.start, Quantity(least)), (later, Quantity(least + 2))];
        let (unit, fine) = (Quantity(1), Money { minor: 5_000 });
        problem.rooms.push(Room { item: credit.item, fits, unit, fine });
    }
}

#[test]
fn bounds_hold_where_nothing_is_proven() {
    let mut tried = 0;
    for seed in 0..TINY {
        let problem = tiny(20_000 + seed);
        let Some(optimum) = exhaustive::optimum(&problem) else { continue };
        // Without steps the proof for small purchases does not even begin, and the bound of big ones is all there is.
        let Some(plan) = solve(&problem, &Limits { steps: 0 }, &mut || false) else { continue };
        naive::check(&problem, &plan).unwrap_or_else(|why| panic!("seed {seed}: {why}"));
        assert!(plan.lower_bound.minor <= optimum, "seed {seed}: bound {:?} is above {optimum}", plan.lower_bound);
        tried += 1;
    }
    assert!(tried > 100, "only {tried} were small enough");
}
