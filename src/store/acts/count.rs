//! A stocktake: what was counted of lots, and why it differs.

use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Held, cost_share, held, write_movement};
use super::super::{Reading, Stamp, Writing};
use crate::book::rows::{MovementKind, MovementRow};
use crate::plan::quantity::Quantity;
use crate::plan::rounding::half_up_i64;
use std::collections::BTreeSet;

/// What was counted of a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Counted {
    /// The lot.
    pub lot: String,
    /// What is really there, in the item's unit.
    pub counted: Quantity,
    /// Why it differs; asked for where it does.
    pub reason: String,
}

/// What a stocktake found of a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// The lot.
    pub lot: String,
    /// What the ledger said.
    pub before: Quantity,
    /// Above 0 where more was found.
    pub difference: Quantity,
    /// What that is worth, of the same sign, in minor units of the lot's currency.
    pub cost: i64,
}

impl Reading<'_> {
    /// What a stocktake would write, one for each lot that was counted; nothing is written. Reasons are not asked for.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::CountWithoutReason`] (for an amount below 0), [`Refusal::Twice`], and whatever
    /// keeps the file from being read.
    pub fn differences(&self, counted: &[Counted]) -> Result<Vec<Difference>, StoreError> {
        let mut seen: BTreeSet<String> = BTreeSet::new();
        let difference = |count: &Counted| {
            if count.counted < Quantity::ZERO {
                return Err(Refusal::CountWithoutReason.into());
            }
            if !seen.insert(count.lot.clone()) {
                return Err(Refusal::Twice { lot: count.lot.clone(), what: "stocktake" }.into());
            }
            let held = held(self.connection(), &count.lot)?;
            let difference = count.counted - held.on_hand;
            let cost = self.count_cost(&count.lot, &held, difference, (0, 0))?;
            Ok(Difference { lot: count.lot.clone(), before: held.on_hand, difference, cost })
        };
        counted.iter().map(difference).collect()
    }

    /// The cost that goes with a difference of a lot that holds `held`: what is missing takes its part with it; what is
    /// found brings back its part of what the counts of this lot have taken in sum. `pending` are amount and cost that
    /// counts of the act at work have added and not written yet.
    pub(super) fn count_cost(
        &self,
        lot: &str,
        held: &Held,
        difference: Quantity,
        pending: (i64, i64),
    ) -> Result<i64, StoreError> {
        if difference <= Quantity::ZERO {
            return Ok(-cost_share(held, Quantity(-difference.0)).minor);
        }
        let sql = "SELECT coalesce(-sum(amount), 0), coalesce(-sum(cost), 0) FROM movements
            WHERE lot = ?1 AND kind = 'count'";
        let read = |row: &rusqlite::Row<'_>| Ok((row.get::<_, i64>(0)?, row.get::<_, i64>(1)?));
        let (lost, cost) = self.connection().prepare_cached(sql)?.query_row([lot], read)?;
        let (lost, cost) = (lost - pending.0, cost - pending.1);
        if lost <= 0 || cost <= 0 {
            return Ok(0);
        }
        Ok(half_up_i64(i128::from(cost) * i128::from(difference.0.min(lost)), i128::from(lost)))
    }
}

impl Writing<'_> {
    /// Writes the difference between what was counted of a lot and what the ledger says, and returns it: above 0 where
    /// more was found. Where they agree, nothing is written.
    ///
    /// What is missing takes its part of the cost with it. What is found again brings back the cost that earlier counts
    /// took, so that a miscount can be counted right; what is found beyond that cost nothing.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::CountWithoutReason`], and whatever keeps the file from being written.
    pub fn count(&self, lot: &str, counted: Quantity, reason: &str, stamp: &Stamp) -> Result<Quantity, StoreError> {
        if reason.trim().is_empty() {
            return Err(Refusal::CountWithoutReason.into());
        }
        let row = Counted { lot: lot.to_owned(), counted, reason: reason.to_owned() };
        let found = self.counted("count", lot, &[row], stamp)?;
        Ok(found.first().map_or(Quantity::ZERO, |found| found.difference))
    }

    /// Writes all differences of a stocktake, in one act; none where everything agrees. A reason is asked for where
    /// there is a difference.
    ///
    /// # Errors
    /// As [`Writing::count`], [`Refusal::Twice`] and [`Refusal::NothingNamed`].
    pub fn stocktake(&self, counted: &[Counted], stamp: &Stamp) -> Result<Vec<Difference>, StoreError> {
        if counted.is_empty() {
            return Err(Refusal::NothingNamed { what: "stocktake" }.into());
        }
        self.counted("stocktake", "", counted, stamp)
    }

    fn counted(
        &self,
        kind: &str,
        subject: &str,
        counted: &[Counted],
        stamp: &Stamp,
    ) -> Result<Vec<Difference>, StoreError> {
        self.whole(|| {
            let differences = self.differences(counted)?;
            let mut act = None;
            for (found, row) in differences.iter().zip(counted) {
                if found.difference.is_zero() {
                    continue;
                }
                let reason = row.reason.trim().to_owned();
                if reason.is_empty() {
                    return Err(Refusal::CountWithoutReason.into());
                }
                let act = match &mut act {
                    Some(act) => act,
                    none => none.insert(Act::begin(self.connection(), kind, subject, stamp)?),
                };
                let movement = act.movement(MovementKind::Count, &found.lot, found.difference.0, found.cost)?;
                write_movement(self.connection(), &MovementRow { reason, ..movement })?;
            }
            Ok(differences)
        })
    }
}
