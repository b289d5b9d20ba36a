//! Rows written by the hundred. What SQLite does anew for every statement (a savepoint that copies each page it touches, small tables
//! for lists in checks) is done once for a hundred rows: that is most of what a row by itself costs.

use super::error::StoreError;
use rusqlite::{Connection, Statement, ToSql};
use std::sync::OnceLock;

/// So many rows are written by one statement.
const TOGETHER: usize = 100;

/// How rows of a table are added.
pub(super) struct Insert {
    table: &'static str,
    /// A row that has these columns alike is changed; none is where there are no keys.
    keys: &'static [&'static str],
    others: &'static [&'static str],
    /// The statement for one row, and that for [`TOGETHER`].
    sql: [OnceLock<String>; 2],
}

/// The values of one row after the other, as they are handed to a statement.
pub(super) struct Values<'a, 'store> {
    statement: &'a mut Statement<'store>,
    next: usize,
}

impl Values<'_, '_> {
    /// Hands the next value over.
    pub(super) fn put(&mut self, value: impl ToSql) -> rusqlite::Result<()> {
        self.statement.raw_bind_parameter(self.next, value)?;
        self.next += 1;
        Ok(())
    }
}

/// Hands values over in the order of the columns.
macro_rules! put {
    ($values:expr, $($value:expr),+ $(,)?) => {{
        $($values.put(&$value)?;)+
        Ok(())
    }};
}
pub(super) use put;

impl Insert {
    pub(super) const fn new(
        table: &'static str,
        keys: &'static [&'static str],
        others: &'static [&'static str],
    ) -> Self {
        Self { table, keys, others, sql: [const { OnceLock::new() }; 2] }
    }

    /// Writes rows in their order; `bind` hands the values of each over, the keys first.
    ///
    /// # Errors
    /// What SQLite says; nothing of the hundred is written then.
    pub(super) fn write<Row, Rows>(
        &self,
        connection: &Connection,
        rows: Rows,
        mut bind: impl FnMut(&mut Values<'_, '_>, Row) -> rusqlite::Result<()>,
    ) -> Result<(), StoreError>
    where
        Rows: IntoIterator<Item = Row>,
        Rows::IntoIter: ExactSizeIterator,
    {
        let mut rows = rows.into_iter();
        for (sql, count) in [(&self.sql[1], TOGETHER), (&self.sql[0], 1)] {
            if rows.len() < count {
                continue;
            }
            let mut statement = connection.prepare_cached(sql.get_or_init(|| self.statement(count)))?;
            while rows.len() >= count {
                let mut values = Values { statement: &mut statement, next: 1 };
                for row in rows.by_ref().take(count) {
                    bind(&mut values, row)?;
                }
                statement.raw_execute()?;
            }
        }
        Ok(())
    }

    /// As [`Insert::write`], for rows that may break a rule: `one` writes a single row and says which rule that is. It is asked where
    /// a hundred together were refused, and for what is left after the last hundred.
    ///
    /// # Errors
    /// What `one` says, or what SQLite says where that finds nothing.
    pub(super) fn write_or_tell<Row: Copy>(
        &self,
        connection: &Connection,
        rows: &[Row],
        mut bind: impl FnMut(&mut Values<'_, '_>, Row) -> rusqlite::Result<()>,
        mut one: impl FnMut(Row) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        for rows in rows.chunks(TOGETHER) {
            let together = match rows.len() {
                TOGETHER => self.write(connection, rows.iter().copied(), &mut bind),
                _ => rows.iter().try_for_each(|row| one(*row)),
            };
            if let Err(refused) = together {
                // Of a refused statement nothing is written: row by row it is found which one is at fault.
                if rows.len() == TOGETHER && matches!(refused, StoreError::Rule { .. }) {
                    rows.iter().try_for_each(|row| one(*row))?;
                }
                return Err(refused);
            }
        }
        Ok(())
    }

    /// `INSERT ... ON CONFLICT (keys) DO UPDATE`, the columns in the order of the parameters, the keys first.
    fn statement(&self, count: usize) -> String {
        let columns = [self.keys, self.others].concat();
        let row = format!("({})", vec!["?"; columns.len()].join(", "));
        let rows = vec![row.as_str(); count].join(", ");
        let insert = format!("INSERT INTO {} ({}) VALUES {rows}", self.table, columns.join(", "));
        if self.keys.is_empty() {
            return insert;
        }
        let changes: Vec<String> = self.others.iter().map(|column| format!("{column} = excluded.{column}")).collect();
        format!("{insert} ON CONFLICT ({}) DO UPDATE SET {}", self.keys.join(", "), changes.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    static THINGS: Insert = Insert::new("things", &["code"], &["amount"]);

    #[test]
    fn every_row_is_written_once_however_many_there_are() {
        let connection = Connection::open_in_memory().unwrap();
        connection.execute_batch("CREATE TABLE things (code TEXT PRIMARY KEY, amount INTEGER NOT NULL)").unwrap();
        let mut expected = 0_i64;
        for count in [0, 1, 2, 99, 100, 101, 200, 357] {
            let rows: Vec<(String, i64)> = (0..count).map(|place| (format!("{count}-{place}"), place)).collect();
            THINGS.write(&connection, &rows, |values, row| put!(values, row.0, row.1)).unwrap();
            expected += count;
        }
        // The last of two rows that have a key counts, also within one statement.
        let twice = (0..150).map(|place| ("twice", place)).collect::<Vec<_>>();
        THINGS.write(&connection, twice, |values, (code, amount)| put!(values, code, amount)).unwrap();
        let found: (i64, i64, i64) = connection
            .query_row(
                "SELECT count(*), sum(code LIKE '%-' || amount), (SELECT amount FROM things WHERE code = 'twice') FROM things",
                [],
                |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
            )
            .unwrap();
        assert_eq!(found, (expected + 1, expected, 149));
    }

    #[test]
    fn the_row_that_is_refused_is_found() {
        let connection = Connection::open_in_memory().unwrap();
        connection
            .execute_batch("CREATE TABLE things (code TEXT PRIMARY KEY, amount INTEGER CHECK (amount < 150))")
            .unwrap();
        let bind = |values: &mut Values<'_, '_>, amount: i64| put!(values, amount.to_string(), amount);
        let one = |amount: i64| match amount {
            150.. => Err(StoreError::NotAStore { path: amount.to_string().into() }),
            _ => THINGS.write(&connection, [amount], bind),
        };
        for (rows, refused) in
            [((0..100).collect::<Vec<i64>>(), None), ((90..270).collect(), Some("150")), (vec![140, 151], Some("151"))]
        {
            connection.execute_batch("SAVEPOINT act").unwrap();
            let written = THINGS.write_or_tell(&connection, &rows, bind, one);
            match (written, refused) {
                (Ok(()), None) => {
                    let count: i64 = connection.query_row("SELECT count(*) FROM things", [], |row| row.get(0)).unwrap();
                    assert_eq!(count, 100);
                }
                (Err(StoreError::NotAStore { path }), Some(refused)) => assert_eq!(path.to_str(), Some(refused)),
                other => panic!("{other:?}"),
            }
            connection.execute_batch("ROLLBACK TO act; RELEASE act").unwrap();
        }
    }

    #[test]
    fn a_row_that_breaks_a_rule_is_told() {
        let connection = Connection::open_in_memory().unwrap();
        connection
            .execute_batch("CREATE TABLE things (code TEXT PRIMARY KEY, amount INTEGER CHECK (amount < 150))")
            .unwrap();
        let rows: Vec<i64> = (0..200).collect();
        let written = THINGS.write(&connection, rows, |values, amount| put!(values, amount.to_string(), amount));
        assert!(matches!(written, Err(StoreError::Rule { .. })), "{written:?}");
    }
}
