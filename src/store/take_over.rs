//! A journal that comes along with an import: what is new of it is written as it is, what is there has to be the same.

use super::apply::import_act;
use super::changes::Spot;
use super::error::{Refusal, StoreError};
use super::ledger::{Act, write_act, write_movement, write_pieces};
use super::load::sql;
use super::read::{
    ACTS, BATCHES, CHANGES, MOVEMENTS, PIECES, WEIGHINGS, act, batch, change, movement, pieces, weighing,
};
use super::{Stamp, Writing, rows};
use crate::book::Journal;
use crate::book::rows::{ActRow, BatchRow, MovementRow, PieceKind, PieceRow};
use rusqlite::{OptionalExtension, Params, Row, params};
use std::collections::BTreeSet;

impl Writing<'_> {
    /// Takes over everything of a journal but its settings, and returns the lots whose movements it brought. Batches
    /// whose pieces it does not tell of (a ledger of the first version) get them in an act of the import.
    pub(super) fn take_over<'row>(
        &'row self,
        journal: &'row Journal,
        stamp: &'row Stamp,
        import: &mut Option<Act<'row>>,
    ) -> Result<BTreeSet<&'row str>, StoreError> {
        self.take_over_acts(&journal.acts)?;
        let new_batches = self.take_over_batches(journal)?;
        let lots = self.take_over_ledger(journal)?;
        self.take_over_weighings(journal)?;
        self.take_over_pieces(journal)?;
        self.take_over_changes(journal)?;
        let told: BTreeSet<&str> = journal.pieces.iter().map(|row| row.batch.as_str()).collect();
        let untold =
            new_batches.iter().filter(|row| row.pieces > 0 && !row.undone && !told.contains(row.batch.as_str()));
        for row in untold {
            let act = import_act(self.connection(), import, stamp)?;
            let made = act.pieces(PieceKind::Made, &row.batch, row.pieces)?;
            write_pieces(self.connection(), &PieceRow { day: row.made_on, ..made })?;
        }
        Ok(lots)
    }

    /// True where the store has the row already; refused where it has another under this key.
    fn has<Found: PartialEq>(
        &self,
        what: &'static str,
        code: String,
        row: &Found,
        sql: &str,
        key: impl Params,
        read: fn(&Row<'_>) -> rusqlite::Result<Found>,
    ) -> Result<bool, StoreError> {
        match self.connection().prepare_cached(sql)?.query_row(key, read).optional()? {
            None => Ok(false),
            Some(written) if written == *row => Ok(true),
            Some(_) => Err(Refusal::Differs { what, code }.into()),
        }
    }

    fn take_over_acts(&self, acts: &[ActRow]) -> Result<(), StoreError> {
        let mut acts: Vec<&ActRow> = acts.iter().collect();
        acts.sort_by_key(|row| row.act);
        let sql = sql(ACTS, "WHERE act = ?1");
        for row in acts {
            if !self.has("act", row.act.to_string(), row, &sql, [row.act], act)? {
                write_act(self.connection(), row)?;
            }
        }
        Ok(())
    }

    /// Whether a batch was undone, and the state of its pieces, is what the changes say, not the row: files may be older
    /// than the store.
    fn take_over_batches<'row>(&self, journal: &'row Journal) -> Result<Vec<&'row BatchRow>, StoreError> {
        let connection = self.connection();
        let mut new = Vec::new();
        let known = sql(BATCHES, "WHERE batch = ?1");
        for row in &journal.batches {
            match connection.prepare_cached(&known)?.query_row([&row.batch], batch).optional()? {
                None => {
                    rows::new_batch(connection, row)?;
                    new.push(row);
                }
                Some(written) => {
                    if (BatchRow { undone: row.undone, state: row.state, ..written }) != *row {
                        return Err(Refusal::Differs { what: "batch", code: row.batch.clone() }.into());
                    }
                }
            }
        }
        Ok(new)
    }

    /// Writes the movements whose numbers are new, in their order, and returns the lots that they belong to.
    fn take_over_ledger<'row>(&self, journal: &'row Journal) -> Result<BTreeSet<&'row str>, StoreError> {
        let connection = self.connection();
        let mut ledger: Vec<&MovementRow> = journal.ledger.iter().collect();
        ledger.sort_by_key(|row| row.movement);
        let mut lots = BTreeSet::new();
        let known = sql(MOVEMENTS, "WHERE movement = ?1");
        for row in ledger {
            if self.has("movement", row.movement.to_string(), row, &known, [row.movement], movement)? {
                continue;
            }
            let sql = "SELECT recorded_at FROM acts WHERE act = ?1";
            let written = connection.prepare_cached(sql)?.query_row([row.act], |act| act.get::<_, String>(0));
            match written.optional()? {
                None => {
                    let (kind, subject) = ("ledger".to_owned(), String::new());
                    let recorded_at = row.recorded_at.clone();
                    let day = row.day;
                    let (undoes, who) = (None, String::new());
                    write_act(connection, &ActRow { act: row.act, kind, subject, day, recorded_at, undoes, who })?;
                }
                Some(recorded_at) if recorded_at == row.recorded_at => {}
                Some(_) => return Err(Refusal::Differs { what: "act", code: row.act.to_string() }.into()),
            }
            write_movement(connection, row)?;
            self.told();
            lots.insert(row.lot.as_str());
        }
        Ok(lots)
    }

    fn take_over_weighings(&self, journal: &Journal) -> Result<(), StoreError> {
        let sql = sql(WEIGHINGS, "WHERE batch = ?1 AND place = ?2");
        for row in &journal.weighings {
            let code = format!("{} of batch {}", row.place, row.batch);
            if !self.has("weighing", code, row, &sql, params![row.batch, row.place], weighing)? {
                rows::weighing(self.connection(), row)?;
            }
        }
        Ok(())
    }

    fn take_over_pieces(&self, journal: &Journal) -> Result<(), StoreError> {
        let mut ledger: Vec<&PieceRow> = journal.pieces.iter().collect();
        ledger.sort_by_key(|row| row.piece_movement);
        let sql = sql(PIECES, "WHERE piece_movement = ?1");
        for row in ledger {
            let code = row.piece_movement.to_string();
            if !self.has("piece movement", code, row, &sql, [row.piece_movement], pieces)? {
                write_pieces(self.connection(), row)?;
            }
        }
        Ok(())
    }

    fn take_over_changes(&self, journal: &Journal) -> Result<(), StoreError> {
        let mut log: Vec<_> = journal.changes.iter().collect();
        log.sort_by_key(|row| row.change);
        let sql = sql(CHANGES, "WHERE change = ?1");
        for row in log {
            if self.has("change", row.change.to_string(), row, &sql, [row.change], change)? {
                continue;
            }
            rows::change(self.connection(), row)?;
            // Lots, orders and plan come with their own files; of a batch that is there only this may change.
            if row.what == "batch" {
                let spot = Spot { what: &row.what, code: &row.code, part: &row.part, field: &row.field };
                spot.set(self.connection(), &row.after)?;
            }
        }
        Ok(())
    }
}
