//! Makes a store to measure with, always the same: the example workshop, or a made one, with years of work behind it.

#![allow(missing_docs, reason = "a program for developers")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "it may fail loudly")]

#[path = "../benches/support/mod.rs"]
#[allow(dead_code, reason = "the benches use more of it")]
mod support;

use std::path::Path;
use support::past::{add_batches_of_one_lot, add_past};
use support::workshops::{Size, example, made, today};

const HELP: &str = "\
cargo run --release --example synthetic -- STORE [--lines N] [--made MATERIALS,LOTS,ENTRIES] [--seed N] [--one-lot BATCHES]
Without --made it is the example workshop. --lines: so many ledger lines lie behind it. --one-lot: besides, lot T-0001 went
into so many batches. It stands on 2027-03-01.";

fn main() {
    let mut arguments = std::env::args().skip(1);
    let (mut store, mut lines, mut size, mut seed, mut one_lot) = (None, 0, None, 1, None);
    while let Some(argument) = arguments.next() {
        let mut value = || arguments.next().expect(HELP);
        match argument.as_str() {
            "--lines" => lines = value().parse().expect(HELP),
            "--seed" => seed = value().parse().expect(HELP),
            "--one-lot" => one_lot = Some(value().parse().expect(HELP)),
            "--made" => {
                let numbers: Vec<usize> = value().split(',').map(|part| part.parse().expect(HELP)).collect();
                let [materials, lots, entries] = numbers[..] else { panic!("{HELP}") };
                size = Some(Size { materials, lots, entries });
            }
            _ => store = Some(argument),
        }
    }
    let store = store.expect(HELP);
    let path = Path::new(&store);
    match size {
        Some(size) => made(path, size, seed),
        None => example(path),
    }
    if lines > 0 {
        println!("{} ledger lines lie behind {store}.", add_past(path, lines, today(), seed));
    }
    if let Some(batches) = one_lot {
        println!("Lot {} went into {batches} batches.", add_batches_of_one_lot(path, batches, today()));
    }
}
