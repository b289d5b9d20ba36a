//! Stock that leaves without being used: thrown away, or sent back.

use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, cost_share, held, write_movement};
use super::super::{Stamp, Writing};
use super::lot::must_say;
use crate::book::rows::{MovementKind, MovementRow};
use crate::plan::money::Price;
use crate::plan::quantity::Quantity;

impl Writing<'_> {
    /// Throws away some of a lot, or all that is left of it. A lot in any state may be thrown away. Returns how much,
    /// and what it had cost in the lot's currency.
    ///
    /// # Errors
    /// [`Refusal::NoReason`], [`Refusal::Unknown`], [`Refusal::Empty`], [`Refusal::NotAboveZero`],
    /// [`Refusal::HoldsLess`], and whatever keeps the file from being written.
    pub fn write_off(
        &self,
        lot: &str,
        amount: Option<Quantity>,
        reason: &str,
        stamp: &Stamp,
    ) -> Result<(Quantity, Price), StoreError> {
        self.whole(|| {
            must_say("a write-off", reason)?;
            self.take_away("write-off", MovementKind::WriteOff, lot, amount, reason, stamp)
        })
    }

    /// Sends some of a lot, or all that is left of it, back to its supplier. Returns how much, and what it had cost.
    ///
    /// # Errors
    /// As [`Writing::write_off`], and [`Refusal::NoSupplier`].
    pub fn return_to_supplier(
        &self,
        lot: &str,
        amount: Option<Quantity>,
        reason: &str,
        stamp: &Stamp,
    ) -> Result<(Quantity, Price), StoreError> {
        self.whole(|| {
            must_say("a return", reason)?;
            self.must_exist("lot", "SELECT 1 FROM lots WHERE lot = ?1", lot)?;
            if !self.exists("SELECT 1 FROM lots WHERE lot = ?1 AND supplier IS NOT NULL", lot)? {
                return Err(Refusal::NoSupplier { lot: lot.to_owned() }.into());
            }
            self.take_away("return", MovementKind::Return, lot, amount, reason, stamp)
        })
    }

    fn take_away(
        &self,
        act: &str,
        kind: MovementKind,
        lot: &str,
        amount: Option<Quantity>,
        reason: &str,
        stamp: &Stamp,
    ) -> Result<(Quantity, Price), StoreError> {
        let held = held(self.connection(), lot)?;
        if held.on_hand.is_zero() {
            return Err(Refusal::Empty { lot: lot.to_owned() }.into());
        }
        let taken = amount.unwrap_or(held.on_hand);
        if taken <= Quantity::ZERO {
            return Err(Refusal::NotAboveZero { what: format!("what is taken from lot {lot}") }.into());
        }
        // Above what is held this is no share; the movement is refused then.
        let cost = cost_share(&held, taken);
        let act = Act::begin(self.connection(), act, lot, stamp)?;
        let movement = act.movement(kind, lot, -taken.0, -cost.minor)?;
        write_movement(self.connection(), &MovementRow { reason: reason.trim().to_owned(), ..movement })?;
        Ok((taken, cost))
    }
}
