//! Lots whose days are fixed: coverage against max-flow, the value lost against a linear programme.

use super::naive::{amounts, best_coverage_by_max_flow, check_rules, coverage, serves, value_lost};
use super::support::Random;
use super::support::cases::{Case, Sizes, random_case};
use microlp::{ComparisonOp, OptimizationDirection, Problem};
use stillroom::plan::allocate::{SearchLimit, allocate};

const SMALL: Sizes = Sizes { supplies: 5, needs: 6, most: 9, days: 12, with_opening_life: 0 };
const WORKSHOP: Sizes = Sizes { supplies: 9, needs: 14, most: 2_000, days: 45, with_opening_life: 0 };

#[test]
fn coverage_is_what_max_flow_finds() {
    let mut random = Random::new(11);
    let mut count = 0;
    for (sizes, cases) in [(SMALL, 3_000), (WORKSHOP, 600)] {
        for number in 0..cases {
            let case = random_case(&mut random, sizes);
            let allocation = allocate(&case.supplies, &case.needs, case.horizon, SearchLimit::default());
            let context = format!("case {number} of {cases}: {case:?}");
            check_rules(&case, &allocation, &context);
            assert!(allocation.proven, "{context}");
            assert_eq!(coverage(&case, &allocation), best_coverage_by_max_flow(&case), "{context}");
            count += 1;
        }
    }
    println!("coverage: {count} cases against max-flow.");
}

#[test]
fn no_cover_loses_less_value() {
    let mut random = Random::new(12);
    let (mut count, mut with_loss) = (0, 0);
    for (sizes, cases) in [(SMALL, 3_000), (WORKSHOP, 400)] {
        for number in 0..cases {
            let case = random_case(&mut random, sizes);
            let allocation = allocate(&case.supplies, &case.needs, case.horizon, SearchLimit::default());
            let lost = value_lost(&case, &amounts(&allocation.left), &allocation.through);
            let least = least_value_by_linear_programme(&case, &coverage(&case, &allocation));
            let context = format!("case {number} of {cases}: {lost} against {least}: {case:?}");
            assert!((lost - least).abs() < 1e-4, "{context}");
            count += 1;
            with_loss += u32::from(least > 1e-4);
        }
    }
    println!("value: {count} cases against a linear programme, {with_loss} of them with a loss.");
}

/// The least value that expires where every need gets just what `covered` says; amounts may be split at will.
fn least_value_by_linear_programme(case: &Case, covered: &[i64]) -> f64 {
    let mut programme = Problem::new(OptimizationDirection::Maximize);
    let mut of_supply = vec![Vec::new(); case.supplies.len()];
    let mut of_need = vec![Vec::new(); case.needs.len()];
    let mut at_stake = 0.0;
    for (place, supply) in case.supplies.iter().enumerate() {
        let expires = supply.through <= case.horizon && supply.quantity.0 > 0;
        let price = if expires { supply.value.minor as f64 / supply.quantity.0 as f64 } else { 0.0 };
        at_stake += if expires { supply.value.minor as f64 } else { 0.0 };
        for number in (0..case.needs.len()).filter(|&number| serves(supply, &case.needs[number])) {
            let variable = programme.add_var(price, (0.0, f64::INFINITY));
            of_supply[place].push((variable, 1.0));
            of_need[number].push((variable, 1.0));
        }
    }
    for (terms, supply) in of_supply.iter().zip(&case.supplies) {
        programme.add_constraint(terms.as_slice(), ComparisonOp::Le, supply.quantity.0 as f64);
    }
    for (terms, &covered) in of_need.iter().zip(covered) {
        programme.add_constraint(terms.as_slice(), ComparisonOp::Eq, covered as f64);
    }
    at_stake - programme.solve().unwrap().solution().unwrap().objective()
}
