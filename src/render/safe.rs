//! Backups, and what `doctor` found, for the terminal.

use super::amounts::count;
use crate::view::safe::{BackupView, CopyView, DoctorView, RestoreView};

/// The copy that was made.
#[must_use]
pub fn backup(view: &BackupView) -> String {
    let acts = number(view.acts, "act", "acts");
    let mut text = format!("The copy is {}: {acts}, examined and sound.\n", view.file);
    if !view.removed.is_empty() {
        text.push_str(&format!("{} removed.\n", count(view.removed.len(), "older copy was", "older copies were")));
    }
    text
}

/// The copy that was put back.
#[must_use]
pub fn restore(view: &RestoreView) -> String {
    let acts = number(view.acts, "act", "acts");
    let mut text = format!("The store {} is now as in {}: {acts}.\n", view.store, view.file);
    if let Some(replaced) = &view.replaced {
        text.push_str(&format!("What it replaced is kept as {replaced}.\n"));
    }
    text
}

/// What was found in a store that is sound.
#[must_use]
pub fn doctor(view: &DoctorView) -> String {
    let subject = if view.is_store { "store" } else { "copy" };
    let mut text = format!(
        "The {subject} is sound: its pages, keys and rows are whole, and {}, {} and {} in {} add up.\n{}, version {}.\n",
        number(view.lots, "lot", "lots"),
        number(view.batches, "batch", "batches"),
        number(view.movements, "movement", "movements"),
        number(view.acts, "act", "acts"),
        view.file,
        view.version,
    );
    if view.version < view.newest_version {
        text.push_str(&format!(
            "It is of an earlier version: it is brought to {} when it is next opened, after a copy.\n",
            view.newest_version
        ));
    }
    if !view.is_store {
        return text;
    }
    if let Some(kind) = &view.network {
        text.push_str(&format!("Careful: {}.\n", on_the_network(kind)));
    }
    match view.copies.first() {
        None => text.push_str("There is no copy of it: `stillroom backup` makes one.\n"),
        Some(newest) => text.push_str(&format!(
            "There {}; the newest is {}.\n",
            if view.copies.len() == 1 { "is 1 copy".to_owned() } else { format!("are {} copies", view.copies.len()) },
            newest.file
        )),
    }
    text
}

/// What to say of a store in a network folder.
#[must_use]
pub fn on_the_network(kind: &str) -> String {
    format!(
        "the store lies in a network folder ({kind}), where two programs at once may spoil it: keep it on a disk of this \
         computer, and let only copies lie there (`[backup] folder` in the settings)"
    )
}

/// What is hurt.
#[must_use]
pub fn hurt(view: &DoctorView) -> String {
    let mut text = format!("{} is hurt:", view.file);
    for hurt in &view.hurts {
        text.push_str(&format!("\n  {}: {}", hurt.law, hurt.message));
    }
    if !view.copies.is_empty() {
        text.push_str("\nCopies:");
    }
    for copy in &view.copies {
        let state = if copy.sound == Some(true) { "sound" } else { "hurt or not readable" };
        text.push_str(&format!("\n  {}: {state}", copy.file));
    }
    text
}

/// How to come back.
#[must_use]
pub fn way_back(view: &DoctorView) -> String {
    if !view.is_store {
        return "take another copy; this one is left as it is".to_owned();
    }
    let whole = view.copies.iter().find(|copy: &&CopyView| copy.sound == Some(true));
    let back = match whole {
        Some(copy) => {
            format!("`stillroom restore {}` puts that copy back; what is there now is kept beside it", copy.file)
        }
        None => "no sound copy was found in the usual places: look for one on another disk, and `stillroom restore` it"
            .to_owned(),
    };
    if view.readable {
        format!("every row can still be read: `stillroom export FOLDER` saves what is there. {back}")
    } else {
        format!("keep the file as it is. {back}")
    }
}

fn number(number: i64, singular: &str, plural: &str) -> String {
    count(usize::try_from(number).unwrap_or(0), singular, plural)
}
