//! What screens of the bench ask: weighing sheets, pieces, the movements of one lot or batch, what was thrown away, what
//! was delivered, the last acts. All by index: none reads the whole ledger.

use super::Reading;
use super::codec::Day;
use super::error::StoreError;
use super::load::{all, sql};
use super::read::{
    ACTS, BATCHES, CHANGES, LOTS, MOVEMENTS, PIECES, WEIGHINGS, act, batch, change, lot, movement, pieces, weighing,
};
use crate::book::rows::{BatchRow, LotRow, MovementRow, PieceRow, WeighingRow};
use crate::book::{Deed, PieceStanding};
use chrono::NaiveDate;
use rusqlite::{OptionalExtension, params};

/// Of a movement: it is none that reverses another, and none reverses it. The `+` keeps SQLite from looking for it by
/// `reverses`: that index is unique, which makes it seem the best, but almost all rows have nothing there.
pub(super) const STANDS: &str = "+movements.reverses IS NULL AND NOT EXISTS (
    SELECT 1 FROM movements AS later WHERE later.reverses = movements.movement
)";

const PIECES_LEFT: &str = "SELECT batch, on_hand FROM piece_balances WHERE on_hand > 0 ORDER BY batch";

const LAST_PLACE: &str = "SELECT place FROM lots WHERE material = ?1 ORDER BY received DESC, lot DESC LIMIT 1";

/// As [`super::load::of_every_day`].
#[cfg(test)]
pub(super) fn of_every_day() -> Vec<String> {
    vec![PIECES_LEFT.to_owned(), sql(BATCHES, "WHERE batches.batch = ?1"), LAST_PLACE.to_owned()]
}

impl Reading<'_> {
    /// One batch; `None` where no batch has the number.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn batch(&self, number: &str) -> Result<Option<BatchRow>, StoreError> {
        let sql = sql(BATCHES, "WHERE batch = ?1");
        Ok(self.connection().prepare_cached(&sql)?.query_row([number], batch).optional()?)
    }

    /// The weighing sheet of a batch, in its order.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn weighings(&self, batch: &str) -> Result<Vec<WeighingRow>, StoreError> {
        Ok(all(self.connection(), &sql(WEIGHINGS, "WHERE batch = ?1 ORDER BY place"), [batch], weighing)?)
    }

    /// How many finished pieces are left of each batch that ever had any, in the order of the batches.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn piece_balances(&self) -> Result<Vec<PieceStanding>, StoreError> {
        let read =
            |row: &rusqlite::Row<'_>| Ok(PieceStanding { batch: row.get("batch")?, on_hand: row.get("on_hand")? });
        Ok(all(self.connection(), "SELECT batch, on_hand FROM piece_balances ORDER BY batch", [], read)?)
    }

    /// The batches of which finished pieces are left, and how many, in the order of their numbers.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn batches_left(&self) -> Result<(Vec<BatchRow>, Vec<PieceStanding>), StoreError> {
        let standing = |row: &rusqlite::Row<'_>| Ok(PieceStanding { batch: row.get(0)?, on_hand: row.get(1)? });
        let left = all(self.connection(), PIECES_LEFT, [], standing)?;
        let of_them = sql(BATCHES, "WHERE batches.batch = ?1");
        let mut one = self.connection().prepare_cached(&of_them)?;
        let batches = left.iter().map(|standing| one.query_row([&standing.batch], batch));
        let batches = batches.collect::<Result<_, _>>()?;
        Ok((batches, left))
    }

    /// Where a material or premix was put when it last came; empty where it never did.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn last_place(&self, material: &str) -> Result<String, StoreError> {
        let place = self.connection().prepare_cached(LAST_PLACE)?.query_row([material], |row| row.get(0)).optional()?;
        Ok(place.unwrap_or_default())
    }

    /// What became of the pieces of a batch, in the order in which it was written; reversals are in it.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn pieces_of(&self, batch: &str) -> Result<Vec<PieceRow>, StoreError> {
        let sql = sql(PIECES, "WHERE batch = ?1 ORDER BY piece_movement");
        Ok(all(self.connection(), &sql, [batch], pieces)?)
    }

    /// The ledger of one lot, in its order; reversals are in it.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn movements_of_lot(&self, lot: &str) -> Result<Vec<MovementRow>, StoreError> {
        Ok(all(self.connection(), &format!("{MOVEMENTS} WHERE lot = ?1 ORDER BY movement"), [lot], movement)?)
    }

    /// The movements of one batch, in their order; reversals are in it.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn movements_of_batch(&self, batch: &str) -> Result<Vec<MovementRow>, StoreError> {
        Ok(all(self.connection(), &format!("{MOVEMENTS} WHERE batch = ?1 ORDER BY movement"), [batch], movement)?)
    }

    /// What was thrown away from the first to the last of the days, both included, by day; what was undone is left out.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn write_offs(&self, from: NaiveDate, to: NaiveDate) -> Result<Vec<MovementRow>, StoreError> {
        let sql = format!(
            "{MOVEMENTS} WHERE movements.kind = 'write-off' AND movements.day BETWEEN ?1 AND ?2 AND {STANDS}
                ORDER BY movements.day, movement"
        );
        Ok(all(self.connection(), &sql, params![Day(from), Day(to)], movement)?)
    }

    /// The lots of a material or premix that came from outside, as they came, by day: what was made or decanted here,
    /// and what was undone, is left out. This is what its prices were.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn deliveries(&self, material: &str) -> Result<Vec<LotRow>, StoreError> {
        let sql = format!(
            "{LOTS} WHERE material = ?1 AND EXISTS (
                SELECT 1 FROM movements WHERE movements.lot = lots.lot AND kind = 'receipt' AND batch IS NULL AND {STANDS}
                    AND NOT EXISTS (
                        SELECT 1 FROM movements AS source
                        WHERE source.act = movements.act AND source.kind = 'issue' AND source.batch IS NULL
                            AND source.amount = -movements.amount
                    )
            ) ORDER BY received, lot"
        );
        Ok(all(self.connection(), &sql, [material], lot)?)
    }

    /// The last acts, the newest first, each with all that it did.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn acts(&self, limit: usize) -> Result<Vec<Deed>, StoreError> {
        let sql = format!("{ACTS} ORDER BY act DESC LIMIT ?1");
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        all(self.connection(), &sql, [limit], act)?.into_iter().map(|act| self.deed(act)).collect()
    }

    fn deed(&self, act: crate::book::rows::ActRow) -> Result<Deed, StoreError> {
        let connection = self.connection();
        let chain = self.chain(act.act)?;
        let place = chain.iter().position(|row| row.act == act.act).unwrap_or(0);
        let movements = format!("{MOVEMENTS} WHERE act = ?1 ORDER BY movement");
        Ok(Deed {
            stands: (chain.len() - place) % 2 == 1,
            movements: all(connection, &movements, [act.act], movement)?,
            pieces: all(connection, &sql(PIECES, "WHERE act = ?1 ORDER BY piece_movement"), [act.act], pieces)?,
            changes: all(connection, &sql(CHANGES, "WHERE act = ?1 ORDER BY change"), [act.act], change)?,
            act,
        })
    }
}
