//! The search against all sets of batches that there are.

use super::random_workshop::{Parts, random_workshop};
use super::support::{Random, day};
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::model::{PlanAmount, ProductId, Snapshot};
use stillroom::plan::outlook::{Outlook, look_ahead};
use stillroom::plan::rescue::{Batch, RescueSettings, rescue, weigh_up};

const DAYS: u64 = 4;

/// Every batch of every product on every day, in order of rank: by product, then by day.
fn every_batch(snapshot: &Snapshot, outlook: &Outlook) -> Vec<Batch> {
    let mut batches = Vec::new();
    for product in (0..snapshot.products.len()).map(ProductId::new) {
        let planned = snapshot.entries.iter().zip(&outlook.sizes).filter(|(entry, _)| entry.product == product);
        let planned: Vec<i64> = planned.map(|(_, size)| size.pieces).collect();
        let (least, most) = (*planned.iter().min().unwrap(), 2 * planned.iter().max().unwrap());
        for make_on in outlook.today.iter_days().take_while(|day| *day <= outlook.horizon) {
            for pieces in least..=most {
                batches.push(Batch { product, make_on, amount: PlanAmount::Pieces(pieces) });
            }
        }
    }
    batches
}

/// The worth of the best set of at most `most` batches, one of a product and day.
fn best_worth(snapshot: &Snapshot, outlook: &Outlook, settings: RescueSettings) -> i128 {
    let every = every_batch(snapshot, outlook);
    // Each batch has to be worth something of its own.
    let worth = |batches: &[Batch]| {
        let answer = weigh_up(snapshot, outlook, settings, batches)?;
        answer.proposals.iter().all(|proposal| proposal.worth > 0).then_some(answer.worth)
    };
    let mut best = 0;
    for (place, first) in every.iter().enumerate() {
        // The first in rank is what it is alone, whatever comes after it.
        let Some(alone) = worth(&[*first]) else { continue };
        best = best.max(alone);
        if settings.most_batches == 1 {
            continue;
        }
        for second in &every[place + 1..] {
            if (second.product, second.make_on) != (first.product, first.make_on) {
                best = best.max(worth(&[*first, *second]).unwrap_or(0));
            }
        }
    }
    best
}

/// Compares so many random workshops; returns how many had something worth making, and how many were not proven.
fn compare(seeds: std::ops::Range<u64>, parts: Parts, most_batches: usize) -> (usize, usize) {
    let (mut helped, mut unproven) = (0, 0);
    for seed in seeds {
        let mut random = Random::new(seed);
        let snapshot = random_workshop(&mut random, parts);
        let outlook = look_ahead(&snapshot, day(0), Some(day(parts.days)), SearchLimit::default());
        let settings = RescueSettings { most_batches, ..RescueSettings::default() };
        let found = rescue(&snapshot, &outlook, settings);
        let best = best_worth(&snapshot, &outlook, settings);
        if found.proven {
            assert_eq!(found.worth, best, "seed {seed}: {found:?}");
        } else {
            unproven += 1;
            assert!(found.worth <= best && best <= i128::from(found.no_more_than.minor) << 20, "seed {seed}");
        }
        helped += usize::from(best > 0);
    }
    (helped, unproven)
}

#[test]
fn no_batch_is_worth_more() {
    for (premix, opening_lives) in [(false, false), (true, false), (false, true), (true, true)] {
        let (helped, unproven) = compare(0..60, Parts { days: 6, premix, opening_lives }, 1);
        assert!(helped >= 12 && unproven == 0, "{premix} {opening_lives}: {helped} helped, {unproven} unproven");
    }
}

#[test]
fn no_two_batches_are_worth_more() {
    let (helped, unproven) = compare(100..160, Parts { days: DAYS, premix: false, opening_lives: false }, 2);
    assert!(helped >= 6 && unproven == 0, "{helped} helped, {unproven} unproven");
}

#[test]
fn no_two_batches_are_worth_more_with_premixes() {
    let (helped, unproven) = compare(2_000..2_070, Parts { days: DAYS, premix: true, opening_lives: false }, 2);
    assert!(helped >= 6 && unproven == 0, "{helped} helped, {unproven} unproven");
}

#[test]
fn no_two_batches_are_worth_more_with_lives_once_opened() {
    let (helped, unproven) = compare(3_000..3_040, Parts { days: DAYS, premix: false, opening_lives: true }, 2);
    assert!(helped >= 4 && unproven == 0, "{helped} helped, {unproven} unproven");
}

#[test]
fn a_search_that_is_cut_short_says_so_and_keeps_its_bound() {
    let mut cut_short = 0;
    for seed in 4_000..4_080 {
        let mut random = Random::new(seed);
        let parts = Parts { days: DAYS, premix: true, opening_lives: false };
        let snapshot = random_workshop(&mut random, parts);
        let outlook = look_ahead(&snapshot, day(0), Some(day(parts.days)), SearchLimit::default());
        let full = rescue(&snapshot, &outlook, RescueSettings::default());
        let short = rescue(&snapshot, &outlook, RescueSettings { steps: 1, ..RescueSettings::default() });
        assert!(full.proven && short.worth <= full.worth, "seed {seed}");
        assert!(full.worth <= i128::from(short.no_more_than.minor) << 20, "seed {seed}");
        assert!(short.proven || short.limit.is_some());
        cut_short += usize::from(!short.proven);
    }
    assert!(cut_short > 5, "{cut_short}");
}
