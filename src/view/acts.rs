//! What was done last.

use crate::book::Deed;
pub use crate::book::act_in_words;
use crate::book::rows::ChangeRow;
use crate::plan::measure::canonical;
use crate::plan::quantity::{Quantity, Unit};
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// The last acts.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ActsView {
    /// The newest first.
    pub acts: Vec<ActView>,
}

/// One act.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ActView {
    /// Its number.
    pub act: i64,
    /// What it was.
    pub kind: String,
    /// The code of what it was about.
    pub subject: String,
    /// The workshop's day.
    pub day: NaiveDate,
    /// When it was written down (UTC).
    pub recorded_at: String,
    /// False where it was undone.
    pub stands: bool,
    /// The act that it undoes.
    pub undoes: Option<i64>,
    /// Who did it; empty where nobody was named.
    pub who: String,
    /// Movements of lots.
    pub movements: usize,
    /// Movements of finished pieces.
    pub piece_movements: usize,
    /// What else it changed: `lot L-0001: state from quarantine to released`, `plan entry E07 taken back`.
    pub changes: Vec<String>,
}

/// Computes the list.
#[must_use]
pub fn acts(deeds: &[Deed]) -> ActsView {
    let view = |deed: &Deed| ActView {
        act: deed.act.act,
        kind: deed.act.kind.clone(),
        subject: deed.act.subject.clone(),
        day: deed.act.day,
        recorded_at: deed.act.recorded_at.clone(),
        stands: deed.stands,
        undoes: deed.act.undoes,
        who: who(deed),
        movements: deed.movements.len(),
        piece_movements: deed.pieces.len(),
        changes: deed.changes.iter().map(change).collect(),
    };
    ActsView { acts: deeds.iter().map(view).collect() }
}

/// Who did it: earlier versions kept that with what the act changed.
fn who(deed: &Deed) -> String {
    let mut named = std::iter::once(&deed.act.who).chain(deed.changes.iter().map(|row| &row.who));
    named.find(|who| !who.is_empty()).cloned().unwrap_or_default()
}

/// What a change says to people: `lot L-0001: place from shelf A to shelf B`, `plan entry E07 taken back`.
fn change(row: &ChangeRow) -> String {
    let thing = match row.what.as_str() {
        "plan" => format!("plan entry {}", row.code),
        "order" => format!("{} in order {}", row.part.split_once(' ').map_or("", |(_, material)| material), row.code),
        "formula" => format!("formula {}, version {}", row.code, row.part),
        "batch" if row.field == "state" => format!("pieces of batch {}", row.code),
        what => format!("{what} {}", row.code),
    };
    let why = if row.reason.is_empty() { String::new() } else { format!(" ({})", row.reason) };
    match (row.field.as_str(), row.after.is_empty()) {
        ("stands", true) => format!("{thing} taken back{why}"),
        ("stands", false) => format!("{thing} written down{why}"),
        (field, _) => {
            let (field, before, after) = (field.replace('_', " "), shown(row, &row.before), shown(row, &row.after));
            match (before.as_str(), after.as_str()) {
                (before, after) if field == "when" => format!("{thing}: to be {after} (before: {before}){why}"),
                ("", after) => format!("{thing}: {field} {after}{why}"),
                (before, "") => format!("{thing}: {field} no longer {before}{why}"),
                (before, after) => format!("{thing}: {field} from {before} to {after}{why}"),
            }
        }
    }
}

/// A value as people say it; the log keeps a day as `make-on 2027-03-09` and an amount as `net-mass 1500000`.
fn shown(row: &ChangeRow, value: &str) -> String {
    let number = |text: &str| text.parse().map_or(Quantity::ZERO, Quantity);
    match (row.field.as_str(), value.split_once(' ')) {
        ("when", Some(("make-on", day))) => format!("made on {day}"),
        ("when", Some((_, day))) => format!("ready by {day}"),
        ("amount", Some(("net-mass", mass))) => canonical(number(mass), Unit::Milligram),
        ("amount", Some((counted, many))) => format!("{many} {counted}"),
        _ => value.to_owned(),
    }
}
