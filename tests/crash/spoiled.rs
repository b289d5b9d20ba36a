//! Flipped bits, wiped sectors, cut files: what `doctor` finds of them.

use super::asked_for;
use super::scene::{done, state, store};
use super::support::Random;
use rusqlite::Connection;
use std::collections::BTreeMap;
use std::path::Path;
use stillroom::store::{Checkup, examine};

/// A way to spoil a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Way {
    BitFlipped,
    SectorWiped,
    Cut,
}

fn spoil(whole: &[u8], way: Way, random: &mut Random) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    let length = bytes.len() as u64;
    let mut place = || usize::try_from(random.between(0, length - 1)).unwrap();
    match way {
        Way::BitFlipped => {
            let at = place();
            bytes[at] ^= 1 << (place() % 8);
        }
        Way::SectorWiped => {
            let at = place() / 512 * 512;
            bytes[at..at + 512].fill(0);
        }
        Way::Cut => bytes.truncate(place()),
    }
    bytes
}

/// All that stands in a store, table by table, without asking whether it is sound.
fn content(path: &Path) -> Option<BTreeMap<String, Vec<String>>> {
    let connection = Connection::open(path).ok()?;
    let mut statement = connection.prepare("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name").ok()?;
    let names: Vec<String> = statement.query_map([], |row| row.get(0)).ok()?.map(Result::ok).collect::<Option<_>>()?;
    let mut tables = BTreeMap::new();
    for name in names {
        let mut rows = connection.prepare(&format!("SELECT * FROM \"{name}\"")).ok()?;
        let width = rows.column_count();
        let lines = rows.query_map([], |row| {
            let cells: rusqlite::Result<Vec<_>> =
                (0..width).map(|cell| row.get::<_, rusqlite::types::Value>(cell)).collect();
            cells.map(|cells| format!("{cells:?}"))
        });
        tables.insert(name, lines.ok()?.map(Result::ok).collect::<Option<_>>()?);
    }
    Some(tables)
}

fn found(path: &Path) -> Option<Checkup> {
    examine(path).ok().filter(|checkup| checkup.is_sound())
}

fn spoiled(files: usize) {
    let home = tempfile::tempdir().unwrap();
    std::fs::write(home.path().join("config.toml"), "").unwrap();
    done(home.path(), &format!("import {}/examples/workshop", env!("CARGO_MANIFEST_DIR")));
    for act in ["make E01", "make E02", "order place dunmarch", "receive B2027-07", "act undo"] {
        done(home.path(), act);
    }
    let path = store(home.path());
    assert!(!state(&path).is_nothing());
    let (whole, sound) = (std::fs::read(&path).unwrap(), content(&path).unwrap());
    let mut random = Random::new(8);
    for way in [Way::BitFlipped, Way::SectorWiped, Way::Cut] {
        let (mut told, mut harmless) = (0, 0);
        let mut unnoticed: BTreeMap<String, usize> = BTreeMap::new();
        for _ in 0..files {
            let bytes = spoil(&whole, way, &mut random);
            std::fs::write(&path, &bytes).unwrap();
            if found(&path).is_none() {
                told += 1;
                continue;
            }
            let now = content(&path).unwrap();
            if now == sound {
                harmless += 1;
                continue;
            }
            let differing = sound.iter().find(|(table, rows)| now.get(*table) != Some(*rows));
            *unnoticed.entry(differing.map_or_else(String::new, |(table, _)| table.clone())).or_default() += 1;
        }
        let missed: usize = unnoticed.values().sum();
        println!(
            "{way:?}: {files} files, {told} found by doctor, {harmless} without effect, {missed} unnoticed {unnoticed:?}"
        );
        assert!(told > 0 && !unnoticed.contains_key("lot_balances"), "{unnoticed:?}");
        assert!(way != Way::Cut || told == files, "a cut file passed");
    }
}

#[test]
#[ignore = "long: tests/crash/run"]
fn long_spoiled_files() {
    spoiled(asked_for("SPOILED", 2_000));
}

#[test]
fn some_spoiled_files() {
    spoiled(40);
}
