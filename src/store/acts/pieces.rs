//! Finished pieces: they leave, or are counted.

use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, pieces_held, write_pieces};
use super::super::{Stamp, Writing};
use super::lot::must_say;
use crate::book::rows::{PieceKind, PieceRow};

impl Writing<'_> {
    /// Finished pieces of a batch leave by sale, gift, sample or waste. `reason` says to whom or why; only waste has to
    /// have one. Returns how many are left.
    ///
    /// # Errors
    /// [`Refusal::NoWayOut`], [`Refusal::NoReason`], [`Refusal::Unknown`], [`Refusal::NotAboveZero`],
    /// [`Refusal::FewerPieces`], and whatever keeps the file from being written.
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

    /// Refuses a batch that is not there, or was undone.
    fn must_stand(&self, batch: &str) -> Result<(), StoreError> {
        self.must_exist("batch", "SELECT 1 FROM batches WHERE batch = ?1 AND undone = 0", batch)
    }
}
