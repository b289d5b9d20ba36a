//! Copies, coming back from them, what `doctor` finds, and disks that are full, closed or held.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]
#![allow(clippy::disallowed_methods, reason = "how long something takes is asked of the computer's own clock")]

mod at_once;
mod backup;
mod clock;
mod disks;
mod doctor;
mod restore;
#[path = "../cli/workshop.rs"]
#[allow(dead_code, reason = "shared with the tests of the command line")]
mod workshop;

use std::collections::BTreeMap;
use std::path::Path;
use workshop::Workshop;

/// Everything that an export of the store holds.
fn exported(workshop: &Workshop) -> BTreeMap<String, String> {
    let folder = workshop.path("exported");
    workshop.done(&["export", "exported", "--overwrite"]);
    let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    files.map(|path| (path.display().to_string(), std::fs::read_to_string(&path).unwrap())).collect()
}

/// The names in a folder, in order.
fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).into_iter().flatten();
    let mut names: Vec<String> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// The example workshop with a batch and a count.
fn worked() -> Workshop {
    let workshop = Workshop::example();
    workshop.done(&["make", "E01"]);
    workshop.done(&["count", "L2606-1", "1.4 kg", "--reason", "spilled"]);
    workshop
}

/// Turns over bits in the middle of the store, from page `first` on.
fn spoil(path: &Path, first: usize) {
    let mut bytes = std::fs::read(path).unwrap();
    bytes.iter_mut().skip(first * 4_096).take(20 * 4_096).for_each(|byte| *byte ^= 0x5a);
    std::fs::write(path, bytes).unwrap();
}
