//! What was done last.

use crate::book::Deed;
use serde::Serialize;

/// The last acts.
#[derive(Clone, Debug, Serialize)]
pub struct ActsView {
    /// The newest first.
    pub acts: Vec<ActView>,
}

/// One act.
#[derive(Clone, Debug, Serialize)]
pub struct ActView {
    /// Its number.
    pub act: i64,
    /// What it was.
    pub kind: String,
    /// The code of what it was about.
    pub subject: String,
    /// When it was written down (UTC).
    pub recorded_at: String,
    /// False where it was undone.
    pub stands: bool,
    /// The act that it undoes.
    pub undoes: Option<i64>,
    /// Movements of lots.
    pub movements: usize,
    /// Movements of finished pieces.
    pub piece_movements: usize,
    /// What else it changed: `lot L-0001: state from quarantine to released`.
    pub changes: Vec<String>,
}

/// Computes the list.
#[must_use]
pub fn acts(deeds: &[Deed]) -> ActsView {
    let view = |deed: &Deed| ActView {
        act: deed.act.act,
        kind: deed.act.kind.clone(),
        subject: deed.act.subject.clone(),
        recorded_at: deed.act.recorded_at.clone(),
        stands: deed.stands,
        undoes: deed.act.undoes,
        movements: deed.movements.len(),
        piece_movements: deed.pieces.len(),
        changes: deed.changes.iter().map(change).collect(),
    };
    ActsView { acts: deeds.iter().map(view).collect() }
}

fn change(row: &crate::book::rows::ChangeRow) -> String {
    let (what, code, field) = (&row.what, &row.code, row.field.replace('_', " "));
    match (field.as_str(), row.before.as_str(), row.after.as_str()) {
        // Batches and plan entries are never deleted: they stand, or stand no more.
        ("stands", _, "") => format!("{what} {code} is gone"),
        ("stands", ..) => format!("{what} {code} stands"),
        (field, "", after) => format!("{what} {code}: {field} {after}"),
        (field, before, "") => format!("{what} {code}: {field} no longer {before}"),
        (field, before, after) => format!("{what} {code}: {field} from {before} to {after}"),
    }
}
