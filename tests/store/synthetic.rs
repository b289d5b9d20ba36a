//! Made stores with a past behind them, as the benches measure them: they keep every law, and what is over does not show.

use super::support::past::add_past;
use super::support::workshops::{Size, example, made, today};
use std::path::{Path, PathBuf};
use stillroom::book::link::link;
use stillroom::book::{Book, Journal};
use stillroom::plan::model::Snapshot;
use stillroom::store::{Store, examine};

fn store(make: impl FnOnce(&Path)) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("workshop.sqlite");
    make(&path);
    (folder, path)
}

fn everything(path: &Path) -> (Book, Journal) {
    let mut store = Store::open(path).unwrap();
    let reading = store.reading().unwrap();
    (reading.whole_book().unwrap(), reading.journal().unwrap())
}

/// As commands take it, and as the whole book gives it.
fn snapshots(path: &Path) -> (Snapshot, Snapshot) {
    let mut store = Store::open(path).unwrap();
    let reading = store.reading().unwrap();
    let home = reading.home().unwrap();
    let (ahead, standings) = reading.book_ahead(today()).unwrap();
    let whole = link(&reading.book().unwrap(), home, &reading.standings().unwrap()).unwrap();
    (link(&ahead, home, &standings).unwrap(), whole)
}

#[test]
fn the_example_with_a_past_is_sound() {
    let (_folder, path) = store(|path| {
        example(path);
        assert!(add_past(path, 2_000, today(), 1) >= 2_000);
    });
    let checkup = examine(&path).unwrap();
    assert_eq!(checkup.hurts, []);
    assert!(checkup.movements > 2_000 && checkup.batches > 100 && checkup.lots > 150, "{checkup:?}");
}

#[test]
fn a_made_workshop_with_a_past_is_sound() {
    let (_folder, path) = store(|path| {
        made(path, Size { materials: 60, lots: 200, entries: 40 }, 3);
        add_past(path, 800, today(), 3);
    });
    let checkup = examine(&path).unwrap();
    assert_eq!(checkup.hurts, []);
    assert!(checkup.lots > 200, "{checkup:?}");
}

#[test]
fn the_same_seed_makes_the_same_store() {
    let make = |seed| {
        let (folder, path) = store(|path| {
            made(path, Size { materials: 30, lots: 40, entries: 10 }, seed);
            add_past(path, 300, today(), seed);
        });
        (folder, everything(&path))
    };
    let ((_first, one), (_second, other), (_third, third)) = (make(7), make(7), make(8));
    assert!(one == other, "seed 7 made two stores");
    assert!(one != third, "seeds 7 and 8 made the same store");
}

#[test]
fn what_is_over_does_not_show() {
    let (_folder, young) = store(example);
    let (_other_folder, old) = store(|path| {
        example(path);
        add_past(path, 2_000, today(), 1);
    });
    let (young, young_whole) = snapshots(&young);
    let (old, old_whole) = snapshots(&old);
    // Everything but rates and versions of formulas, in words: values of the core are not compared otherwise.
    let told = |snapshot: &Snapshot| format!("{:?} {:?} {:?}", snapshot.lots, snapshot.entries.len(), snapshot.orders);
    for snapshot in [&young_whole, &old, &old_whole] {
        assert_eq!(told(snapshot), told(&young));
    }
    // Of each currency the rates that may still count: the one of today and those to come.
    let counts = |snapshot: &Snapshot| snapshot.rates.iter().map(|rate| rate.currency).collect::<Vec<_>>();
    assert!(counts(&old).len() < counts(&old_whole).len());
    for rate in &old.rates {
        assert_eq!(old.rate(rate.currency, today()), old_whole.rate(rate.currency, today()));
    }
}
