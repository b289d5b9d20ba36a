//! What went into what: the links that the store follows by index are those of a naive walk over the whole ledger, and
//! in a ledger of 100,000 batches they are found at once.

use super::invented::{Chance, batch, lot, making, stamp, store_of};
use super::undoing::workshop;
use proptest::prelude::*;
use rusqlite::Connection;
use std::collections::BTreeSet;
use std::time::{Duration, Instant};
use stillroom::book::rows::{BatchRow, LotRow, MovementKind, MovementRow};
use stillroom::book::{Book, Decanting, Draw, Genealogy, Yield};
use stillroom::plan::quantity::Quantity;
use stillroom::store::{Making, TraceFrom, Writing};

/// A link from one node to the next; lots are `(false, code)`, batches `(true, code)`.
type Node = (bool, String);

/// All links of a ledger: movements that stand, put together act by act.
fn links(ledger: &[MovementRow]) -> Vec<(Node, Node, i64)> {
    let reversed: BTreeSet<i64> = ledger.iter().filter_map(|row| row.reverses).collect();
    let stands = |row: &&MovementRow| row.reverses.is_none() && !reversed.contains(&row.movement);
    let mut links = Vec::new();
    for row in ledger.iter().filter(stands) {
        let (lot, batch) = ((false, row.lot.clone()), (true, row.batch.clone()));
        match row.kind {
            MovementKind::Issue if !row.batch.is_empty() => links.push((lot, batch, -row.amount)),
            MovementKind::Receipt if !row.batch.is_empty() => links.push((batch, lot, row.amount)),
            MovementKind::Issue => {
                let into = ledger.iter().filter(|other| other.act == row.act && other.kind == MovementKind::Receipt);
                links.extend(into.map(|other| (lot.clone(), (false, other.lot.clone()), -row.amount)));
            }
            _ => {}
        }
    }
    links
}

/// What can be reached from a node, one way and then the other, by walking the whole list until nothing is new.
fn naive(ledger: &[MovementRow], start: &Node) -> Genealogy {
    let links = links(ledger);
    let mut found = Vec::new();
    for onwards in [true, false] {
        let mut reached = BTreeSet::from([start.clone()]);
        loop {
            let next = |(from, to, _): &(Node, Node, i64)| {
                let (here, there) = if onwards { (from, to) } else { (to, from) };
                (reached.contains(here) && !reached.contains(there)).then(|| there.clone())
            };
            let new: Vec<Node> = links.iter().filter_map(next).collect();
            if new.is_empty() {
                break;
            }
            reached.extend(new);
        }
        found.extend(links.iter().filter(|(from, to, _)| reached.contains(if onwards { from } else { to })).cloned());
    }
    let mut sums = std::collections::BTreeMap::new();
    let mut decantings = Vec::new();
    for (from, to, amount) in found {
        if from.0 || to.0 {
            *sums.entry((from, to)).or_insert(0) += amount;
        } else {
            decantings.push(Decanting { from: from.1, into: to.1, amount: Quantity(amount) });
        }
    }
    decantings.sort();
    let mut genealogy = Genealogy { decantings, ..Genealogy::default() };
    for ((from, to), amount) in sums {
        let amount = Quantity(amount);
        if to.0 {
            genealogy.draws.push(Draw { lot: from.1, batch: to.1, amount });
        } else {
            genealogy.yields.push(Yield { batch: from.1, lot: to.1, amount });
        }
    }
    genealogy.draws.sort();
    genealogy.yields.sort();
    genealogy
}

fn scarce() -> Book {
    let mut book = workshop();
    book.lots = (0..4).map(|number| lot(&format!("L{number}"), "m00", 40, 100)).collect();
    book
}

/// Makes a batch of the product or of the premix, decants, or undoes something.
fn happen(writing: &Writing<'_>, chance: &mut Chance, number: usize) {
    let lots: Vec<String> = writing.standings().unwrap().into_iter().map(|row| row.lot).collect();
    let some = |chance: &mut Chance| lots[chance.below(lots.len() as i64) as usize].clone();
    let _ = match chance.below(6) {
        0 => writing.decant(&some(chance), Quantity(1 + chance.below(9)), None, &stamp()).map(drop),
        1 => writing.undo(Some(1 + chance.below(number as i64 + 1)), &stamp()).map(drop),
        of => {
            let draws: Vec<_> = (0..=chance.below(3)).map(|_| (some(chance), 1 + chance.below(6))).collect();
            let draws: Vec<(&str, i64)> = draws.iter().map(|(lot, mg)| (lot.as_str(), *mg)).collect();
            let mut making = making(batch(&format!("B{number}"), ""), &draws);
            if of < 4 {
                let row = LotRow { supplier: String::new(), ..lot(&format!("X{number}"), "x0", 20, 5) };
                making.becomes = Some(row);
                let (product, premix, pieces) = (String::new(), "x0".to_owned(), 0);
                making.batch = BatchRow { product, premix, pieces, ..making.batch };
            }
            writing.make(&making, &stamp()).map(drop)
        }
    };
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_trace_finds_what_a_naive_walk_finds(seed: u64, acts in 1_usize..40) {
        let (_folder, _path, mut store) = store_of(&scarce());
        let writing = store.writing().unwrap();
        let mut chance = Chance(seed);
        for number in 0..acts {
            happen(&writing, &mut chance, number);
        }
        let ledger = writing.journal().unwrap().ledger;
        for lot in writing.standings().unwrap() {
            let found = writing.genealogy(TraceFrom::Lot(&lot.lot)).unwrap();
            prop_assert_eq!(found, naive(&ledger, &(false, lot.lot)));
        }
        for row in writing.batches().unwrap() {
            let found = writing.genealogy(TraceFrom::Batch(&row.batch)).unwrap();
            prop_assert_eq!(found, naive(&ledger, &(true, row.batch)));
        }
        prop_assert_eq!(writing.genealogy(TraceFrom::Lot("nowhere")).unwrap(), Genealogy::default());
    }
}

#[test]
#[expect(clippy::disallowed_methods, reason = "the test is about how long it takes")]
fn a_trace_through_a_hundred_thousand_batches_is_quick() {
    let (folder, path, mut store) = store_of(&scarce());
    folder.is_no_ledger();
    let writing = store.writing().unwrap();
    let premix = BatchRow { product: String::new(), premix: "x0".to_owned(), pieces: 0, ..batch("infusion", "") };
    let becomes = Some(lot("X", "x0", 1_000_000, 5));
    writing.make(&Making { becomes, ..making(premix, &[("L0", 40)]) }, &stamp()).unwrap();
    writing.commit().unwrap();
    // 100,000 batches of another lot, and 1,000 of the infusion, in SQL: the acts would take minutes.
    let other = Connection::open(&path).unwrap();
    other
        .execute_batch(
            "BEGIN;
            WITH RECURSIVE n (n) AS (VALUES (1) UNION ALL SELECT n + 1 FROM n WHERE n < 101000)
            INSERT INTO batches (batch, entry, product, formula, version, made_on, mass, pieces, note)
            SELECT printf('B%06d', n), '', 'p0', 'salve', '1', '2027-03-09', 1, 1, '' FROM n;
            WITH RECURSIVE n (n) AS (VALUES (1) UNION ALL SELECT n + 1 FROM n WHERE n < 101000)
            INSERT INTO acts (act, kind, subject, recorded_at)
            SELECT 100 + n, 'make', printf('B%06d', n), '2027-03-09T08:15:00Z' FROM n;
            UPDATE lot_balances SET on_hand = 1000000 WHERE lot = 'L1';
            WITH RECURSIVE n (n) AS (VALUES (1) UNION ALL SELECT n + 1 FROM n WHERE n < 101000)
            INSERT INTO movements (movement, act, kind, lot, amount, cost, day, reason, batch)
            SELECT 1000 + n, 100 + n, 'issue', iif(n % 101 = 0, 'X', 'L1'), -1, 0, '2027-03-09', '', printf('B%06d', n) FROM n;
            COMMIT;",
        )
        .unwrap();
    let reading = store.reading().unwrap();
    let check = |from: TraceFrom<'_>, draws: usize| {
        let begin = Instant::now();
        let found = reading.genealogy(from).unwrap();
        let took = begin.elapsed();
        assert_eq!((found.draws.len(), found.yields.len()), (draws, 1));
        // Measured in a debug build on two busy cores: 0.13 s for the first, 0.03 s for the second.
        assert!(took < Duration::from_secs(2), "{from:?} took {took:?}");
        println!("{from:?}: {draws} draws in {took:?}");
    };
    check(TraceFrom::Lot("L0"), 1_001);
    check(TraceFrom::Batch("B000101"), 2);
    // Nor does anything else at the bench read the whole ledger.
    let begin = Instant::now();
    assert_eq!(reading.deliveries("m00").unwrap().len(), 4);
    assert_eq!(reading.write_offs(stamp().day, stamp().day).unwrap(), []);
    assert_eq!(reading.movements_of_batch("B000101").unwrap().len(), 1);
    assert_eq!(reading.movements_of_lot("X").unwrap().len(), 1_001);
    assert_eq!(reading.acts(1).unwrap().len(), 1);
    let took = begin.elapsed();
    assert!(took < Duration::from_secs(2), "the reads took {took:?}");
    println!("the other reads: {took:?}");
    drop(reading);
    let writing = store.writing().unwrap();
    let begin = Instant::now();
    writing.make(&making(batch("last", ""), &[("L1", 1), ("X", 1)]), &stamp()).unwrap();
    writing.undo(None, &stamp()).unwrap();
    let took = begin.elapsed();
    assert!(took < Duration::from_secs(2), "making and undoing took {took:?}");
    println!("making and undoing: {took:?}");
}
