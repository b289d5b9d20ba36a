//! The plan: entries are added at its end, moved to another day, dropped.

use super::super::changes::Spot;
use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Because};
use super::super::{Stamp, Writing, rows};
use crate::book::rows::PlanRow;
use crate::plan::model::PlanDay;

impl Writing<'_> {
    /// Adds entries at the end of the plan, in their order. Their codes are new: a dropped entry's is not given again.
    ///
    /// # Errors
    /// [`Refusal::Taken`], [`Refusal::Unknown`], and whatever keeps the file from being written.
    pub fn plan_add(&self, entries: &[PlanRow], stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            for entry in entries {
                let used = "SELECT 1 FROM plan WHERE entry = ?1 UNION ALL SELECT 1 FROM batches WHERE entry = ?1";
                if self.exists(used, &entry.entry)? {
                    return Err(Refusal::Taken { what: "plan entry", code: entry.entry.clone() }.into());
                }
                self.must_exist("product", "SELECT 1 FROM products WHERE code = ?1", &entry.product)?;
                let sql = "SELECT coalesce(max(rank), 0) + 1 FROM plan";
                let rank = self.connection().prepare_cached(sql)?.query_row([], |row| row.get(0))?;
                rows::plan(self.connection(), &[(entry, rank)])?;
                let act = Act::begin(self.connection(), "plan-add", &entry.entry, stamp)?;
                act.made(Spot::plan(&entry.entry, "stands"), Because::default())?;
            }
            Ok(())
        })
    }

    /// Moves an entry to another day; its place among the others of that day stays.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::Made`], and whatever keeps the file from being written.
    pub fn plan_move(&self, entry: &str, when: PlanDay, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            self.must_be_planned(entry)?;
            let (day, day_kind) = rows::plan_day(when);
            let act = Act::begin(self.connection(), "plan-move", entry, stamp)?;
            act.change(Spot::plan(entry, "when"), &format!("{day_kind} {day}"), Because::default())
        })
    }

    /// Takes an entry out of the plan.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::Made`], and whatever keeps the file from being written.
    pub fn plan_drop(&self, entry: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            self.must_be_planned(entry)?;
            let act = Act::begin(self.connection(), "plan-drop", entry, stamp)?;
            act.change(Spot::plan(entry, "stands"), "", Because::default())
        })
    }

    /// Refuses an entry that the plan does not have, or no longer.
    pub(super) fn must_be_planned(&self, entry: &str) -> Result<(), StoreError> {
        if self.is_made(entry)? {
            return Err(Refusal::Made { entry: entry.to_owned() }.into());
        }
        self.must_exist("plan entry", "SELECT 1 FROM plan WHERE entry = ?1 AND dropped = 0", entry)
    }
}
