//! A lot is decanted: part of it goes on as a lot of its own.

use super::super::changes::Spot;
use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Because, cost_share, held, write_movement};
use super::super::load::sql;
use super::super::read::{LOTS, lot as read_lot};
use super::super::{Stamp, Writing, rows};
use crate::book::rows::{LotRow, MovementKind, MovementRow};
use crate::plan::quantity::Quantity;

impl Writing<'_> {
    /// Fills `amount` of a lot into a lot of its own and returns that one. It has all the facts of the first and its
    /// exact part of the cost; both are open from then on, the new one from the day on which the first was opened.
    ///
    /// In the ledger this is an issue without a batch and a receipt of the same amount, both of one act: by that a
    /// trace finds the way from one lot to the other.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::Taken`], [`Refusal::NotAboveZero`], [`Refusal::HoldsLess`], and whatever keeps
    /// the file from being written.
    pub fn decant(
        &self,
        lot: &str,
        amount: Quantity,
        new_lot: Option<&str>,
        stamp: &Stamp,
    ) -> Result<LotRow, StoreError> {
        self.whole(|| {
            let held = held(self.connection(), lot)?;
            let new_lot = match new_lot {
                Some(code) if self.exists("SELECT 1 FROM lots WHERE lot = ?1", code)? => {
                    return Err(Refusal::Taken { what: "lot", code: code.to_owned() }.into());
                }
                Some(code) => code.to_owned(),
                None => self.next_lot_code()?,
            };
            if amount <= Quantity::ZERO {
                return Err(Refusal::NotAboveZero { what: format!("what is decanted from lot {lot}") }.into());
            }
            if amount > held.on_hand {
                let (lot, unit) = (lot.to_owned(), held.unit);
                return Err(Refusal::HoldsLess { lot, held: held.on_hand, asked: amount, unit }.into());
            }
            let cost = cost_share(&held, amount);
            let first = sql(LOTS, "WHERE lot = ?1");
            let first = self.connection().prepare_cached(&first)?.query_row([lot], read_lot)?;
            let opened = first.opened.or(Some(stamp.day));
            let row = LotRow { lot: new_lot, amount, cost, opened, ..first };
            rows::lots(self.connection(), &[&row])?;
            let act = Act::begin(self.connection(), "decant", lot, stamp)?;
            if let Some(day) = opened {
                act.change(Spot::lot(lot, "opened"), &day.to_string(), Because::default())?;
            }
            let issue = act.movement(MovementKind::Issue, lot, -amount.0, -cost.minor)?;
            let reason = format!("decanted into {}", row.lot);
            write_movement(self.connection(), &MovementRow { reason, ..issue })?;
            let receipt = act.movement(MovementKind::Receipt, &row.lot, amount.0, cost.minor)?;
            let reason = format!("decanted from {lot}");
            write_movement(self.connection(), &MovementRow { reason, ..receipt })?;
            Ok(row)
        })
    }
}
