//! Finished pieces, for the terminal.

use super::amounts::{count, day};
use super::paragraph::title;
use super::table::{Align, Screen, Table};
use crate::view::pieces::{PieceBatchView, PiecesView};
use chrono::NaiveDate;

/// That pieces are held back, in words; nothing of those that are released.
#[must_use]
pub fn held(state: &str) -> Option<&str> {
    match state {
        "released" => None,
        "quarantine" => Some("in quarantine"),
        other => Some(other),
    }
}

/// What is left, by product and best-before.
#[must_use]
pub fn terminal(view: &PiecesView, screen: Screen) -> String {
    let left: i64 = view.batches.iter().map(|batch| batch.left).sum();
    if left == 0 {
        return "No finished pieces are on the shelves.\n".to_owned();
    }
    let pieces = count(usize::try_from(left).unwrap_or(0), "piece", "pieces");
    let batches = count(view.batches.len(), "batch", "batches");
    let held_back: i64 = view.batches.iter().filter(|batch| held(&batch.state).is_some()).map(|batch| batch.left).sum();
    let but = if held_back == 0 { String::new() } else { format!(", {held_back} of them held back") };
    let mut text = title(&format!("{pieces} of {batches} on the shelves{but}."), screen);
    let mut table = Table::new(&[
        ("Product", Align::Left),
        ("Batch", Align::Left),
        ("Left", Align::Right),
        ("Of", Align::Right),
        ("Made on", Align::Left),
        ("Ready", Align::Left),
        ("Best before", Align::Left),
    ]);
    for batch in &view.batches {
        table.row([
            &batch.name,
            &batch.batch,
            &batch.left.to_string(),
            &batch.made.to_string(),
            &day(batch.made_on, view.as_of),
            &ready(batch, view.as_of),
            &batch.best_before.map_or_else(|| "no end".to_owned(), |date| day(date, view.as_of)),
        ]);
    }
    text.push('\n');
    text.push_str(&table.render(screen));
    if view.batches.iter().any(|batch| batch.state == "quarantine") {
        text.push_str("\n`stillroom pieces release BATCH` or `stillroom pieces reject BATCH` decides about pieces in quarantine.\n");
    }
    text
}

/// When pieces may leave.
fn ready(batch: &PieceBatchView, today: NaiveDate) -> String {
    match held(&batch.state) {
        Some(held) => held.to_owned(),
        None if batch.ready => "yes".to_owned(),
        None => format!("on {}", day(batch.ready_on, today)),
    }
}
