//! The last reorder list, the newest act, and what received orders tell of their suppliers.

use super::bench::STANDS;
use super::codec::{Day, Moment};
use super::error::StoreError;
use super::load::all;
use super::{Reading, Writing};
use crate::book::{ListRows, ListedRow, ReceivedOrder};
use chrono::{DateTime, Utc};
use rusqlite::{OptionalExtension, Row, params};

impl Reading<'_> {
    /// The last reorder list; empty where there was none.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn last_list(&self) -> Result<ListRows, StoreError> {
        let read = |row: &Row<'_>| {
            Ok(ListedRow {
                order_on: row.get::<_, Day>("order_on")?.0,
                supplier: row.get("supplier")?,
                material: row.get("material")?,
                pack: row.get("pack")?,
                packs: row.get("packs")?,
            })
        };
        let sql = "SELECT * FROM listed_lines ORDER BY order_on, supplier, material, pack";
        let lines = all(self.connection(), sql, [], read)?;
        let read = |row: &Row<'_>| {
            Ok(ListRows {
                lines: Vec::new(),
                whole_mark: row.get("whole_mark")?,
                lasting_mark: row.get("lasting_mark")?,
                lower_bound: row.get("lower_bound")?,
                simple_objective: row.get("simple_objective")?,
                new_would_save: row.get("new_would_save")?,
            })
        };
        let plan = self.connection().prepare_cached("SELECT * FROM listed_plan")?.query_row([], read).optional()?;
        Ok(ListRows { lines, ..plan.unwrap_or_default() })
    }

    /// The newest act, and when it was written down; `None` before the first.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn newest_act(&self) -> Result<Option<(i64, DateTime<Utc>)>, StoreError> {
        let sql = "SELECT act, recorded_at FROM acts ORDER BY act DESC LIMIT 1";
        let read = |row: &Row<'_>| Ok((row.get(0)?, row.get::<_, Moment>(1)?.0));
        Ok(self.connection().prepare_cached(sql)?.query_row([], read).optional()?)
    }

    /// Orders of which every line has come in full, nothing was cancelled, and the day they were placed is known; by
    /// supplier, then order. What was received and undone does not count.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn received_orders(&self) -> Result<Vec<ReceivedOrder>, StoreError> {
        let sql = format!(
            "SELECT supplier, code, placed, (
                SELECT max(day) FROM movements JOIN lots USING (lot)
                WHERE lots.order_code = code AND movements.kind = 'receipt' AND {STANDS}
            ) AS complete
            FROM orders JOIN (
                SELECT order_code, min(placed) AS placed, min(packs_received >= packs AND cancelled = 0) AS whole
                FROM order_lines GROUP BY order_code
            ) ON order_code = code
            WHERE whole AND placed IS NOT NULL AND complete IS NOT NULL ORDER BY supplier, code"
        );
        let read = |row: &Row<'_>| {
            Ok(ReceivedOrder {
                supplier: row.get("supplier")?,
                order: row.get("code")?,
                placed: row.get::<_, Day>("placed")?.0,
                complete: row.get::<_, Day>("complete")?.0,
            })
        };
        Ok(all(self.connection(), &sql, [], read)?)
    }
}

impl Writing<'_> {
    /// Puts this list in the place of the last one. That is no act: nothing was decided yet.
    ///
    /// # Errors
    /// Whatever keeps the file from being written.
    pub fn keep_list(&self, list: &ListRows) -> Result<(), StoreError> {
        let connection = self.connection();
        connection.execute_batch("DELETE FROM listed_lines; DELETE FROM listed_plan;")?;
        let sql = "INSERT INTO listed_lines (order_on, supplier, material, pack, packs) VALUES (?1, ?2, ?3, ?4, ?5)";
        for line in &list.lines {
            let parameters = params![Day(line.order_on), line.supplier, line.material, line.pack, line.packs];
            connection.prepare_cached(sql)?.execute(parameters)?;
        }
        let sql = "INSERT INTO listed_plan VALUES (1, ?1, ?2, ?3, ?4, ?5)";
        let parameters =
            params![list.whole_mark, list.lasting_mark, list.lower_bound, list.simple_objective, list.new_would_save];
        connection.prepare_cached(sql)?.execute(parameters)?;
        Ok(())
    }
}
