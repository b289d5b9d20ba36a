//! Random genealogies against a naive walk over the raw lists, and shapes that break careless walks.

use super::support::Random;
use super::{batch, codes, draw, lot, stocked};
use std::collections::BTreeSet;
use stillroom::plan::trace::{Decanted, Genealogy, Subject, Way};

/// Everything that hangs on a lot or batch, by looking through all lists again and again until nothing is new.
fn naive(genealogy: &Genealogy, start: &str, is_lot: bool, forward: bool) -> (Vec<String>, Vec<String>) {
    let mut lots: BTreeSet<String> = BTreeSet::new();
    let mut batches: BTreeSet<String> = BTreeSet::new();
    let (mut in_lots, mut in_batches) = (BTreeSet::new(), BTreeSet::new());
    if is_lot {
        in_lots.insert(start.to_owned())
    } else {
        in_batches.insert(start.to_owned())
    };
    loop {
        let before = in_lots.len() + in_batches.len();
        for draw in &genealogy.draws {
            if forward && in_lots.contains(&draw.lot) && in_batches.insert(draw.batch.clone()) {
                batches.insert(draw.batch.clone());
            }
            if !forward && in_batches.contains(&draw.batch) && in_lots.insert(draw.lot.clone()) {
                lots.insert(draw.lot.clone());
            }
        }
        for made in &genealogy.stocked {
            if forward && in_batches.contains(&made.batch) && in_lots.insert(made.lot.clone()) {
                lots.insert(made.lot.clone());
            }
            if !forward && in_lots.contains(&made.lot) && in_batches.insert(made.batch.clone()) {
                batches.insert(made.batch.clone());
            }
        }
        for poured in &genealogy.decanted {
            let (from, to) = if forward { (&poured.from, &poured.to) } else { (&poured.to, &poured.from) };
            if in_lots.contains(from) && in_lots.insert(to.clone()) {
                lots.insert(to.clone());
            }
        }
        if in_lots.len() + in_batches.len() == before {
            return (lots.into_iter().collect(), batches.into_iter().collect());
        }
    }
}

fn random_genealogy(random: &mut Random) -> Genealogy {
    let (lots, batches) = (random.between(1, 14), random.between(1, 14));
    let any_lot = |random: &mut Random| format!("L{:02}", random.between(1, lots));
    let any_batch = |random: &mut Random| format!("B{:02}", random.between(1, batches));
    let mut genealogy = Genealogy {
        lots: (1..=lots).map(|number| lot(&format!("L{number:02}"))).collect(),
        batches: (1..=batches).map(|number| batch(&format!("B{number:02}"), number, 10)).collect(),
        ..Genealogy::default()
    };
    for _ in 0..random.between(0, 20) {
        let (lot, batch) = (any_lot(random), any_batch(random));
        genealogy.draws.push(draw(&lot, &batch, random.amount(1, 1_000)));
    }
    for _ in 0..random.between(0, 8) {
        let (batch, lot) = (any_batch(random), any_lot(random));
        genealogy.stocked.push(stocked(&batch, &lot));
    }
    for _ in 0..random.between(0, 3) {
        genealogy.decanted.push(Decanted { from: any_lot(random), to: any_lot(random) });
    }
    // A link that leads nowhere is left out.
    genealogy.draws.push(draw("L99", "B01", 5));
    genealogy
}

#[test]
fn every_walk_finds_what_the_naive_walk_finds() {
    let mut random = Random::new(31);
    let mut reached = 0;
    for _ in 0..600 {
        let genealogy = random_genealogy(&mut random);
        let index = genealogy.index();
        for (way, forward) in [(Way::Forward, true), (Way::Backward, false)] {
            for place in 0..genealogy.lots.len() {
                let code = &genealogy.lots[place].code;
                let found = codes(&genealogy, &index.walk(Subject::Lot(place), way));
                reached += found.0.len() + found.1.len();
                assert_eq!(found, naive_without(naive(&genealogy, code, true, forward)), "{genealogy:?}");
            }
            for place in 0..genealogy.batches.len() {
                let code = &genealogy.batches[place].code;
                let found = codes(&genealogy, &index.walk(Subject::Batch(place), way));
                assert_eq!(found, naive_without(naive(&genealogy, code, false, forward)), "{genealogy:?}");
            }
        }
    }
    assert!(reached > 10_000, "only {reached} were reached: the genealogies are too thin");
}

/// The lot that is listed nowhere is no finding.
fn naive_without((lots, batches): (Vec<String>, Vec<String>)) -> (Vec<String>, Vec<String>) {
    (lots.into_iter().filter(|lot| lot != "L99").collect(), batches)
}

#[test]
fn draws_of_one_lot_for_one_batch_add_up() {
    let genealogy = Genealogy {
        lots: vec![lot("L1")],
        batches: vec![batch("B1", 1, 4)],
        draws: vec![draw("L1", "B1", 30), draw("L1", "B1", 12)],
        ..Genealogy::default()
    };
    let index = genealogy.index();
    assert_eq!(index.drawn_for(0)[&0].0, 42);
}

/// 100,000 premixes, each made of the one before, and a circle at the end: no call stack, no endless loop.
#[test]
fn a_long_chain_and_a_circle_end() {
    const LENGTH: usize = 100_000;
    let mut genealogy = Genealogy::default();
    for number in 0..LENGTH {
        let code = format!("{number:06}");
        genealogy.lots.push(lot(&code));
        genealogy.batches.push(batch(&code, 0, 0));
        genealogy.draws.push(draw(&code, &code, 1));
        genealogy.stocked.push(stocked(&code, &format!("{:06}", (number + 1) % LENGTH)));
    }
    let index = genealogy.index();
    let forward = index.walk(Subject::Lot(5), Way::Forward);
    assert_eq!((forward.lots.len(), forward.batches.len()), (LENGTH - 1, LENGTH));
    let backward = index.walk(Subject::Batch(0), Way::Backward);
    assert_eq!((backward.lots.len(), backward.batches.len()), (LENGTH, LENGTH - 1));
}
