//! What several reports show in the same way.

use crate::plan::finding::Finding;
use crate::plan::model::{EntryId, Snapshot};
use crate::plan::supply::Source;
use schemars::JsonSchema;
use serde::Serialize;

/// Something that was noticed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FindingView {
    /// Its kind.
    pub kind: String,
    /// What it is about.
    pub subject: String,
    /// A sentence.
    pub message: String,
}

/// Findings as the contract shows them.
#[must_use]
pub fn findings(findings: &[Finding]) -> Vec<FindingView> {
    let view = |finding: &Finding| FindingView {
        kind: finding.kind.word().to_owned(),
        subject: finding.subject.clone(),
        message: finding.message.clone(),
    };
    findings.iter().map(view).collect()
}

/// The code of a lot or of an open order.
pub(super) fn source_code(snapshot: &Snapshot, source: Source) -> String {
    match source {
        Source::Lot(place) => snapshot.lots[place].code.clone(),
        Source::Order(place) => snapshot.orders[place].code.clone(),
    }
}

/// Code and product name of a plan entry.
pub(super) fn entry_names(snapshot: &Snapshot, entry: EntryId) -> (String, String) {
    let entry = snapshot.entry(entry);
    (entry.code.clone(), snapshot.product(entry.product).name.clone())
}
