//! Amounts: lines that add up to the batch, losses at each level, pieces and packaging.

use super::support::day;
use super::support::workshop::{Workshop, percent};
use super::{explode_from_day_0, total};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use stillroom::plan::explode::{line_masses, size};
use stillroom::plan::model::{FormulaId, Packaging, PlanAmount, PlanDay};
use stillroom::plan::quantity::{Mass, Percent};
use stillroom::plan::rounding::{half_up, largest_remainder};

const CASES: u32 = 3_000;

fn deterministic() -> TestRunner {
    let config = Config { cases: CASES, failure_persistence: None, ..Config::default() };
    let seed = proptest::test_runner::TestRng::deterministic_rng(config.rng_algorithm);
    TestRunner::new_with_rng(config, seed)
}

/// The lines of random formulas add up to the batch to the milligram; each is its quota rounded down or up; nobody with a
/// smaller remainder is rounded up before one with a larger, and of equals the earlier line is.
#[test]
fn line_masses_add_up_to_the_milligram() {
    // Small weights make remainders that are equal.
    let weight = prop_oneof![0_i64..=100_000_000, 0_i64..=6];
    let small = prop::collection::vec(0_i64..=6, 1..40);
    let lines = prop_oneof![prop::collection::vec(weight, 1..40), small];
    deterministic()
        .run(&(lines, 0_i64..=2_000_000_000_000), |(weights, batch)| {
            let mut workshop = Workshop::new();
            let item = workshop.material("oil");
            workshop.formula("soap", &vec![(item, "0"); weights.len()]);
            for (line, &millionths) in workshop.snapshot.formulas[0].lines.iter_mut().zip(&weights) {
                line.percent = Percent { millionths };
            }
            let masses = line_masses(&workshop.snapshot, FormulaId::new(0), Mass { mg: batch });
            prop_assert_eq!(masses.iter().map(|(_, mass)| mass.mg).sum::<i64>(), batch);
            let sum: i128 = weights.iter().map(|&weight| i128::from(weight)).sum();
            prop_assume!(sum > 0);
            let mut last_up = None;
            let mut first_down = None;
            for (line, (&weight, (_, mass))) in weights.iter().zip(&masses).enumerate() {
                let quota = i128::from(batch) * i128::from(weight);
                let up = i128::from(mass.mg) - quota / sum;
                prop_assert!((0..=1).contains(&up), "line {} is off by more than its rounding", line);
                let rank = (std::cmp::Reverse(quota % sum), line);
                if up == 1 {
                    last_up = last_up.max(Some(rank));
                } else {
                    first_down = Some(first_down.map_or(rank, |known: (_, _)| rank.min(known)));
                }
            }
            prop_assert!(last_up.is_none() || first_down.is_none() || last_up < first_down);
            Ok(())
        })
        .unwrap();
    println!("line masses: {CASES} random formulas.");
}

/// Rounding half up against the definition: the integer whose distance is at most a half, the upper of two such.
#[test]
fn half_up_is_the_nearest_and_the_upper_of_two() {
    let operands = (-1_000_000_000_000_i64..1_000_000_000_000, 1_i64..1_000_000);
    deterministic()
        .run(&operands, |(above, below)| {
            let (above, below) = (i128::from(above), i128::from(below));
            let twice_off = 2 * half_up(above, below) * below - 2 * above;
            prop_assert!(-below < twice_off && twice_off <= below);
            Ok(())
        })
        .unwrap();
    assert_eq!(largest_remainder(0, &[3, 0, 1]), vec![0, 0, 0]);
    assert_eq!(largest_remainder(5, &[]), Vec::<i64>::new());
}

/// Through three levels of premixes with losses of their own: at each level, what goes in is the rest / (1 - loss) to the
/// nearest milligram, and its lines add up to it.
#[test]
fn each_level_makes_up_for_its_own_loss() {
    let mut workshop = Workshop::new();
    let (oil, herb) = (workshop.material("oil"), workshop.material("herb"));
    let infused = workshop.premix("infused", &[(oil, "83.3"), (herb, "16.7")]);
    workshop.making(infused).loss = percent("12.5");
    let blend = workshop.premix("blend", &[(infused, "60"), (oil, "40")]);
    workshop.making(blend).loss = percent("1.5");
    workshop.lot(blend, 100_001);
    let product = workshop.product("balm", &[(blend, "100")]);
    workshop.facts(product).loss = percent("3");
    workshop.make(product, 1_000_000, day(0));
    let explosion = explode_from_day_0(&workshop.snapshot, day(0));
    // 1,000,000 / 0.97 = 1,030,927.8; less the lot; / 0.985 = 945,103.6; 60 % of it / 0.875 = 648,071.3.
    assert_eq!(explosion.sizes[0].weighed, Mass { mg: 1_030_928 });
    assert_eq!(explosion.made[blend.index()], vec![Mass { mg: 945_104 }]);
    assert_eq!(total(&explosion, infused), 567_062);
    assert_eq!(explosion.made[infused.index()], vec![Mass { mg: 648_071 }]);
    assert_eq!(total(&explosion, oil) + total(&explosion, herb), 945_104 - 567_062 + 648_071);
}

#[test]
fn pieces_moulds_and_mass_come_to_the_same_batch() {
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    let soap = workshop.product("soap", &[(oil, "100")]);
    workshop.facts(soap).net_mass = Some(Mass { mg: 90_000 });
    workshop.facts(soap).pieces_per_mould = Some(12);
    workshop.facts(soap).loss = percent("4");
    let on = PlanDay::MakeOn(day(0));
    let check = |amount: PlanAmount, net_mg: i64, weighed_mg: i64, pieces: i64, workshop: &mut Workshop| {
        workshop.plan(soap, amount, on);
        let size = size(workshop.snapshot.entries.last().unwrap(), workshop.snapshot.product(soap));
        assert_eq!((size.net.mg, size.weighed.mg, size.pieces), (net_mg, weighed_mg, pieces), "{amount:?}");
    };
    check(PlanAmount::Pieces(24), 2_160_000, 2_250_000, 24, &mut workshop);
    check(PlanAmount::Moulds(2), 2_160_000, 2_250_000, 24, &mut workshop);
    // The whole pieces in a mass: one milligram less is one piece less.
    check(PlanAmount::NetMass(Mass { mg: 2_160_000 }), 2_160_000, 2_250_000, 24, &mut workshop);
    check(PlanAmount::NetMass(Mass { mg: 2_159_999 }), 2_159_999, 2_249_999, 23, &mut workshop);
}

#[test]
fn packaging_of_pieces_is_rounded_down_and_that_of_the_batch_added() {
    let mut workshop = Workshop::new();
    let (oil, label, carton) = (workshop.material("oil"), workshop.packaging("label"), workshop.packaging("carton"));
    let soap = workshop.product("soap", &[(oil, "100")]);
    workshop.facts(soap).net_mass = Some(Mass { mg: 100_000 });
    workshop.facts(soap).minimum_life = Some(stillroom::plan::calendar::Span { months: 6, days: 0 });
    let of = |item, per_piece_millionths, per_batch| Packaging { item, per_piece_millionths, per_batch };
    workshop.facts(soap).packaging = vec![of(label, 1_000_000, 2), of(carton, 83_333, 0)];
    workshop.make(soap, 2_399_999, day(3));
    workshop.plan(soap, PlanAmount::Pieces(24), PlanDay::MakeOn(day(4)));
    workshop.plan(soap, PlanAmount::Pieces(11), PlanDay::MakeOn(day(5)));
    let explosion = explode_from_day_0(&workshop.snapshot, day(9));
    assert_eq!(super::dated(&explosion, label), vec![(day(3), 25), (day(4), 26), (day(5), 13)]);
    // 23, 24 and 11 pieces at 0.083333: 1.9, 1.99 and 0.9; what comes to nothing is not asked for.
    assert_eq!(super::dated(&explosion, carton), vec![(day(3), 1), (day(4), 1)]);
    assert!(explosion.demands[label.index()].iter().all(|demand| demand.through == demand.day), "h = d");
}
