//! A journal that comes along with an import: what is new of it is written as it is, what is there has to be the same.

use super::apply::import_act;
use super::changes::Spot;
use super::error::{Refusal, StoreError};
use super::ledger::{Act, write_acts, write_many_pieces, write_movements, write_pieces};
use super::load::sql;
use super::read::{
    ACTS, BATCHES, CHANGES, MOVEMENTS, PIECES, WEIGHINGS, act, batch, change, movement, pieces, weighing,
};
use super::{Stamp, Writing, rows};
use crate::book::Journal;
use crate::book::rows::{ActRow, BatchRow, ChangeRow, MovementRow, PieceKind, PieceRow, WeighingRow};
use hashbrown::HashMap;
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

    /// Those of the rows that the store does not have. Of a store that has none of the kind, nothing is asked row by row.
    fn missing<'row, Found>(
        &self,
        table: &str,
        rows: Vec<&'row Found>,
        has: impl Fn(&Found) -> Result<bool, StoreError>,
    ) -> Result<Vec<&'row Found>, StoreError> {
        let sql = format!("SELECT EXISTS (SELECT 1 FROM {table})");
        if !self.connection().query_row(&sql, [], |row| row.get::<_, bool>(0))? {
            return Ok(rows);
        }
        let mut new = Vec::new();
        for row in rows {
            if !has(row)? {
                new.push(row);
            }
        }
        Ok(new)
    }

    fn take_over_acts(&self, acts: &[ActRow]) -> Result<(), StoreError> {
        let mut acts: Vec<&ActRow> = acts.iter().collect();
        acts.sort_by_key(|row| row.act);
        let sql = sql(ACTS, "WHERE act = ?1");
        let has = |row: &ActRow| self.has("act", row.act.to_string(), row, &sql, [row.act], act);
        write_acts(self.connection(), &self.missing("acts", acts, has)?)
    }

    /// Whether a batch was undone, and the state of its pieces, is what the changes say, not the row: files may be older
    /// than the store.
    fn take_over_batches<'row>(&self, journal: &'row Journal) -> Result<Vec<&'row BatchRow>, StoreError> {
        let connection = self.connection();
        let known = sql(BATCHES, "WHERE batch = ?1");
        let has = |row: &BatchRow| {
            let Some(written) = connection.prepare_cached(&known)?.query_row([&row.batch], batch).optional()? else {
                return Ok(false);
            };
            if (BatchRow { undone: row.undone, state: row.state, ..written }) == *row {
                return Ok(true);
            }
            Err(Refusal::Differs { what: "batch", code: row.batch.clone() }.into())
        };
        let new = self.missing("batches", journal.batches.iter().collect(), has)?;
        rows::new_batches(connection, &new)?;
        Ok(new)
    }

    /// Writes the movements whose numbers are new, in their order, and returns the lots that they belong to.
    fn take_over_ledger<'row>(&self, journal: &'row Journal) -> Result<BTreeSet<&'row str>, StoreError> {
        let connection = self.connection();
        let mut ledger: Vec<&MovementRow> = journal.ledger.iter().collect();
        ledger.sort_by_key(|row| row.movement);
        let known = sql(MOVEMENTS, "WHERE movement = ?1");
        let has =
            |row: &MovementRow| self.has("movement", row.movement.to_string(), row, &known, [row.movement], movement);
        let new = self.missing("movements", ledger, has)?;
        // The acts of the journal are written by now, or are there as it has them.
        let told: HashMap<i64, &str> = journal.acts.iter().map(|row| (row.act, row.recorded_at.as_str())).collect();
        for row in &new {
            if told.get(&row.act).is_none_or(|recorded_at| *recorded_at != row.recorded_at) {
                self.have_act(row)?;
            }
        }
        write_movements(connection, &new, || self.told())?;
        Ok(new.into_iter().map(|row| row.lot.as_str()).collect())
    }

    /// Writes an act for a movement that comes without one; refused where it was recorded at another moment.
    fn have_act(&self, row: &MovementRow) -> Result<(), StoreError> {
        let connection = self.connection();
        let sql = "SELECT recorded_at FROM acts WHERE act = ?1";
        let written = connection.prepare_cached(sql)?.query_row([row.act], |act| act.get::<_, String>(0));
        match written.optional()? {
            None => {
                let (kind, subject) = ("ledger".to_owned(), String::new());
                let (day, recorded_at) = (row.day, row.recorded_at.clone());
                let (undoes, who) = (None, String::new());
                write_acts(connection, &[&ActRow { act: row.act, kind, subject, day, recorded_at, undoes, who }])
            }
            Some(recorded_at) if recorded_at == row.recorded_at => Ok(()),
            Some(_) => Err(Refusal::Differs { what: "act", code: row.act.to_string() }.into()),
        }
    }

    fn take_over_weighings(&self, journal: &Journal) -> Result<(), StoreError> {
        let sql = sql(WEIGHINGS, "WHERE batch = ?1 AND place = ?2");
        let has = |row: &WeighingRow| {
            let code = format!("{} of batch {}", row.place, row.batch);
            self.has("weighing", code, row, &sql, params![row.batch, row.place], weighing)
        };
        rows::weighings(self.connection(), &self.missing("weighings", journal.weighings.iter().collect(), has)?)
    }

    fn take_over_pieces(&self, journal: &Journal) -> Result<(), StoreError> {
        let mut ledger: Vec<&PieceRow> = journal.pieces.iter().collect();
        ledger.sort_by_key(|row| row.piece_movement);
        let sql = sql(PIECES, "WHERE piece_movement = ?1");
        let has = |row: &PieceRow| {
            let code = row.piece_movement.to_string();
            self.has("piece movement", code, row, &sql, [row.piece_movement], pieces)
        };
        write_many_pieces(self.connection(), &self.missing("pieces", ledger, has)?)
    }

    fn take_over_changes(&self, journal: &Journal) -> Result<(), StoreError> {
        let mut log: Vec<&ChangeRow> = journal.changes.iter().collect();
        log.sort_by_key(|row| row.change);
        let sql = sql(CHANGES, "WHERE change = ?1");
        let has = |row: &ChangeRow| self.has("change", row.change.to_string(), row, &sql, [row.change], change);
        let new = self.missing("changes", log, has)?;
        rows::changes(self.connection(), &new)?;
        // Lots, orders and plan come with their own files; of a batch that is there only this may change.
        for row in new.into_iter().filter(|row| row.what == "batch") {
            let spot = Spot { what: &row.what, code: &row.code, part: &row.part, field: &row.field };
            spot.set(self.connection(), &row.after)?;
        }
        Ok(())
    }
}
