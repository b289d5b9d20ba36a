//! Finished pieces: they leave, are counted, held back and released.

use super::super::changes::Spot;
use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Because, pieces_held, write_pieces};
use super::super::{Reading, Stamp, Writing};
use super::lot::must_say;
use crate::book::rows::{PieceKind, PieceRow};
use crate::plan::model::LotState;
use rusqlite::OptionalExtension;

impl Reading<'_> {
    /// The state of the finished pieces of a batch; released where there is no such batch.
    pub(super) fn state_of_pieces(&self, batch: &str) -> Result<LotState, StoreError> {
        let sql = "SELECT state FROM batches WHERE batch = ?1";
        let state = self.connection().prepare_cached(sql)?.query_row([batch], |row| row.get(0)).optional()?;
        Ok(state.unwrap_or(LotState::Released))
    }
}

impl Writing<'_> {
    /// Finished pieces of a batch leave by sale, gift, sample or waste. `reason` says to whom or why; only waste has to
    /// have one. Returns how many are left.
    ///
    /// # Errors
    /// [`Refusal::NoWayOut`], [`Refusal::NoReason`], [`Refusal::Unknown`], [`Refusal::PiecesHeld`],
    /// [`Refusal::NotAboveZero`], [`Refusal::FewerPieces`], and whatever keeps the file from being written.
    pub fn pieces_leave(
        &self,
        batch: &str,
        kind: PieceKind,
        pieces: i64,
        reason: &str,
        stamp: &Stamp,
    ) -> Result<i64, StoreError> {
        self.whole(|| {
            if matches!(kind, PieceKind::Made | PieceKind::Count) {
                return Err(Refusal::NoWayOut.into());
            }
            if kind == PieceKind::Waste {
                must_say("waste", reason)?;
            }
            self.must_stand(batch)?;
            let state = self.state_of_pieces(batch)?;
            if state != LotState::Released && kind != PieceKind::Waste {
                return Err(Refusal::PiecesHeld { batch: batch.to_owned(), state }.into());
            }
            if pieces <= 0 {
                return Err(Refusal::NotAboveZero { what: "the number of pieces".to_owned() }.into());
            }
            let act = Act::begin(self.connection(), "pieces-leave", batch, stamp)?;
            let row = PieceRow { reason: reason.trim().to_owned(), ..act.pieces(kind, batch, -pieces)? };
            write_pieces(self.connection(), &row)?;
            pieces_held(self.connection(), batch)
        })
    }

    /// Writes the difference between the pieces of a batch that were counted and what the ledger says, and returns it.
    /// Where they agree, nothing is written.
    ///
    /// # Errors
    /// [`Refusal::NoReason`], [`Refusal::Unknown`], [`Refusal::Negative`], and whatever keeps the file from being
    /// written.
    pub fn pieces_count(&self, batch: &str, counted: i64, reason: &str, stamp: &Stamp) -> Result<i64, StoreError> {
        self.whole(|| {
            must_say("a count", reason)?;
            self.must_stand(batch)?;
            if counted < 0 {
                return Err(Refusal::Negative { what: "the number of pieces".to_owned() }.into());
            }
            let difference = counted - pieces_held(self.connection(), batch)?;
            if difference != 0 {
                let act = Act::begin(self.connection(), "pieces-count", batch, stamp)?;
                let row = act.pieces(PieceKind::Count, batch, difference)?;
                write_pieces(self.connection(), &PieceRow { reason: reason.trim().to_owned(), ..row })?;
            }
            Ok(difference)
        })
    }

    /// Puts what is left of a batch into quarantine: none of it leaves, but as waste, until it is released.
    ///
    /// # Errors
    /// [`Refusal::NoReason`], [`Refusal::Unknown`], [`Refusal::PiecesHeld`] where the pieces are rejected,
    /// [`Refusal::PiecesAlready`], and whatever keeps the file from being written.
    pub fn pieces_hold(&self, batch: &str, reason: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            must_say("holding pieces back", reason)?;
            self.set_state_of_pieces("pieces-hold", batch, LotState::Quarantine, reason, stamp)
        })
    }

    /// Releases the pieces of a batch from quarantine.
    ///
    /// # Errors
    /// [`Refusal::NoReason`], [`Refusal::Unknown`], [`Refusal::PiecesHeld`] where the pieces are rejected,
    /// [`Refusal::PiecesAlready`], and whatever keeps the file from being written.
    pub fn pieces_release(&self, batch: &str, reason: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            must_say("a release", reason)?;
            self.set_state_of_pieces("pieces-release", batch, LotState::Released, reason, stamp)
        })
    }

    /// Rejects the pieces of a batch: what is left of it can only be thrown away.
    ///
    /// # Errors
    /// [`Refusal::NoReason`], [`Refusal::Unknown`], [`Refusal::PiecesAlready`], and whatever keeps the file from being
    /// written.
    pub fn pieces_reject(&self, batch: &str, reason: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            must_say("a rejection", reason)?;
            self.set_state_of_pieces("pieces-reject", batch, LotState::Rejected, reason, stamp)
        })
    }

    /// Rejected pieces stay so, as rejected lots do.
    fn set_state_of_pieces(
        &self,
        kind: &str,
        batch: &str,
        state: LotState,
        reason: &str,
        stamp: &Stamp,
    ) -> Result<(), StoreError> {
        let sql = "SELECT 1 FROM batches WHERE batch = ?1 AND undone = 0 AND product IS NOT NULL";
        self.must_exist("batch of finished pieces", sql, batch)?;
        match self.state_of_pieces(batch)? {
            before if before == state => Err(Refusal::PiecesAlready { batch: batch.to_owned(), state }.into()),
            LotState::Rejected => {
                Err(Refusal::PiecesHeld { batch: batch.to_owned(), state: LotState::Rejected }.into())
            }
            LotState::Released | LotState::Quarantine => {
                let act = Act::begin(self.connection(), kind, batch, stamp)?;
                act.change(Spot::pieces_of(batch), state.word(), Because { who: "", reason })
            }
        }
    }

    /// Refuses a batch that is not there, or was undone.
    fn must_stand(&self, batch: &str) -> Result<(), StoreError> {
        self.must_exist("batch", "SELECT 1 FROM batches WHERE batch = ?1 AND undone = 0", batch)
    }
}
