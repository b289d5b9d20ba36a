//! A formula is carried on as a new version, with a reason.

use super::super::changes::Spot;
use super::super::codec::Day;
use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Because};
use super::super::{Reading, Stamp, Writing, rows};
use crate::book::rows::FormulaLineRow;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// The day and the reason of each version that was made of another one; keys are formula and version.
pub type Revisions = BTreeMap<(String, String), (NaiveDate, String)>;

impl Writing<'_> {
    /// Writes down a version that is new: `lines` are all of it.
    ///
    /// # Errors
    /// [`Refusal::Taken`] where there is such a version already, also one that was taken back, and whatever keeps the
    /// file from being written.
    pub fn revise(&self, lines: &[FormulaLineRow], reason: &str, stamp: &Stamp) -> Result<(), StoreError> {
        let Some(FormulaLineRow { formula, version, .. }) = lines.first() else { return Ok(()) };
        self.whole(|| {
            let spot = Spot::formula(formula, version);
            if spot.current(self.connection())?.is_some() {
                return Err(Refusal::Taken { what: "version", code: format!("{version} of {formula}") }.into());
            }
            rows::formula_version(self.connection(), (formula, version), lines.iter())?;
            Act::begin(self.connection(), "revise", formula, stamp)?.made(spot, Because { who: "", reason })
        })
    }
}

impl Reading<'_> {
    /// When each version was made of another one, and why, as far as that was done here.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn revisions(&self) -> Result<Revisions, StoreError> {
        let sql = "SELECT code, part, reason, coalesce(day, substr(recorded_at, 1, 10)) AS day
            FROM changes JOIN acts USING (act) WHERE what = 'formula' AND kind = 'revise' ORDER BY change";
        let mut statement = self.connection().prepare_cached(sql)?;
        let found = statement.query_map([], |row| {
            Ok(((row.get("code")?, row.get("part")?), (row.get::<_, Day>("day")?.0, row.get("reason")?)))
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }
}
