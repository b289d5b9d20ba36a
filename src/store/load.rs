//! Tables to rows: the book, the standings of the lots, the journal.

use super::Reading;
use super::codec::Day;
use super::error::{Refusal, StoreError};
use super::read::{self, Read};
use crate::book::rows::{BatchRow, LotRow, ProductRow, SettingRow};
use crate::book::{Book, Journal, Standing};
use crate::plan::money::Currency;
use crate::plan::quantity::Quantity;
use chrono::NaiveDate;
use rusqlite::{Connection, OptionalExtension, Params, Row};
use std::collections::BTreeSet;

pub(super) fn all<T>(
    connection: &Connection,
    sql: &str,
    parameters: impl Params,
    read: impl FnMut(&Row<'_>) -> Read<T>,
) -> Read<Vec<T>> {
    connection.prepare_cached(sql)?.query_map(parameters, read)?.collect()
}

/// Reads rows and keeps none.
fn each<T>(connection: &Connection, sql: &str, read: fn(&Row<'_>) -> Read<T>) -> Result<(), StoreError> {
    for row in connection.prepare_cached(sql)?.query_map([], read)? {
        row?;
    }
    Ok(())
}

/// True where the making of the store was finished.
pub(super) fn has_home(connection: &Connection) -> Result<bool, StoreError> {
    let sql = "SELECT 1 FROM settings WHERE setting = 'home_currency'";
    Ok(connection.query_row(sql, [], |_| Ok(())).optional()?.is_some())
}

/// The first row that names something that is not there.
pub(super) fn first_dangling(connection: &Connection) -> Result<Refusal, StoreError> {
    let sql = "SELECT \"table\", parent FROM pragma_foreign_key_check LIMIT 1";
    Ok(connection.query_row(sql, [], |row| Ok(Refusal::Dangling { table: row.get(0)?, parent: row.get(1)? }))?)
}

impl Reading<'_> {
    /// All rows of the book, each list in the order that [`Book`] gives. Plan entries that were dropped or have been
    /// made are not in it.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn book(&self) -> Result<Book, StoreError> {
        let connection = self.connection();
        Ok(Book {
            rates: all(connection, &sql(read::RATES, "ORDER BY currency, date"), [], read::rate)?,
            lots: all(connection, &sql(read::LOTS, "ORDER BY lot"), [], read::lot)?,
            orders: all(connection, &sql(read::ORDERS, "ORDER BY order_code, material, pack"), [], read::order)?,
            ..self.lasting_rows()?
        })
    }

    /// The book as the plan needs it, and what is left of its lots: without what is over, of which there is more every
    /// year. Lots with nothing left are not in it, nor order lines of which nothing is to come, nor rates older than the one
    /// that counts on `today`. Every list is in the order that [`Book`] gives.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn book_ahead(&self, today: NaiveDate) -> Result<(Book, Vec<Standing>), StoreError> {
        let connection = self.connection();
        let mut standings = Vec::new();
        let lots = all(connection, LOTS_LEFT, [], |row| {
            let lot = read::lot(row)?;
            let mut cells = read::Cells::after(row, read::LOT_CELLS);
            let (on_hand, cost, moved) = (cells.take()?, cells.take()?, cells.take()?);
            standings.push(Standing { lot: lot.lot.clone(), on_hand, cost, moved });
            Ok(lot)
        })?;
        let book = Book {
            rates: all(connection, RATES_AHEAD, [Day(today)], read::rate)?,
            lots,
            orders: all(connection, &sql(read::ORDERS, OPEN), [], read::order)?,
            ..self.lasting_rows()?
        };
        Ok((book, standings))
    }

    /// What does not grow with the ledger: everything of the book but lots, orders and rates, and the plan that is still
    /// to be made.
    fn lasting_rows(&self) -> Result<Book, StoreError> {
        let connection = self.connection();
        let lines = sql(read::FORMULA_LINES, "ORDER BY formula, version, place");
        let offers = sql(read::OFFERS, "ORDER BY supplier, material, pack, from_packs");
        Ok(Book {
            materials: all(connection, &sql(read::MATERIALS, "ORDER BY code"), [], read::material)?,
            suppliers: all(connection, &sql(read::SUPPLIERS, "ORDER BY code"), [], read::supplier)?,
            postage: all(connection, &sql(read::POSTAGE, "ORDER BY supplier, measure, band_from"), [], read::postage)?,
            offers: all(connection, &offers, [], read::offer)?,
            formula_lines: all(connection, &lines, [], read::line)?,
            premixes: all(connection, &sql(read::PREMIXES, "ORDER BY code"), [], read::premix)?,
            products: self.products()?,
            packaging: all(connection, &sql(read::PACKAGING, "ORDER BY product, place"), [], read::packaging)?,
            plan: all(connection, &sql(read::PLAN, TO_MAKE), [], read::plan)?,
            wishes: all(connection, &sql(read::WISHES, "ORDER BY wish"), [], read::wish)?,
            ..Book::default()
        })
    }

    /// The book as files tell it: with the plan entries that were dropped or have been made.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn whole_book(&self) -> Result<Book, StoreError> {
        let plan = all(self.connection(), &sql(read::PLAN, "ORDER BY rank, entry"), [], read::plan)?;
        Ok(Book { plan, ..self.book()? })
    }

    /// What is left of each lot, in the order of their codes.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn standings(&self) -> Result<Vec<Standing>, StoreError> {
        Ok(all(self.connection(), &sql(read::STANDINGS, "ORDER BY lots.lot"), [], read::standing)?)
    }

    /// One lot with what is left of it; `None` where no lot has the code.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn lot(&self, code: &str) -> Result<Option<LotRow>, StoreError> {
        let sql = sql(read::LOTS, "WHERE lots.lot = ?1");
        Ok(self.connection().prepare_cached(&sql)?.query_row([code], read::lot).optional()?)
    }

    /// How much is left of one lot.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn on_hand(&self, lot: &str) -> Result<Quantity, StoreError> {
        let sql = "SELECT on_hand FROM lot_balances WHERE lot = ?1";
        let left = self.connection().prepare_cached(sql)?.query_row([lot], |row| row.get(0)).optional()?;
        Ok(left.unwrap_or_default())
    }

    /// The lots that came under a supplier's lot number, which is plain ASCII, in any case: their codes and the number as
    /// each has it, by code.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn lots_under(&self, number: &str) -> Result<Vec<(String, String)>, StoreError> {
        let sql = "SELECT lot, supplier_lot FROM lots
            WHERE supplier_lot = ?1 COLLATE NOCASE AND supplier_lot <> '' ORDER BY lot";
        Ok(all(self.connection(), sql, [number], |row| Ok((row.get(0)?, row.get(1)?)))?)
    }

    /// Every lot with its supplier's number, by code.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn lot_numbers(&self) -> Result<Vec<(String, String)>, StoreError> {
        let sql = "SELECT lot, supplier_lot FROM lots ORDER BY lot";
        Ok(all(self.connection(), sql, [], |row| Ok((row.get(0)?, row.get(1)?)))?)
    }

    /// The whole ledger and all that goes with it, each list in the order of its key. It grows with the years: no plan
    /// needs it.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn journal(&self) -> Result<Journal, StoreError> {
        let connection = self.connection();
        Ok(Journal {
            ledger: all(connection, &sql(read::MOVEMENTS, "ORDER BY movement"), [], read::movement)?,
            batches: self.batches()?,
            weighings: all(connection, &sql(read::WEIGHINGS, "ORDER BY batch, place"), [], read::weighing)?,
            pieces: all(connection, &sql(read::PIECES, "ORDER BY piece_movement"), [], read::pieces)?,
            acts: all(connection, &sql(read::ACTS, "ORDER BY act"), [], read::act)?,
            changes: all(connection, &sql(read::CHANGES, "ORDER BY change"), [], read::change)?,
            settings: self.settings()?,
        })
    }

    /// Reads every row that [`Reading::journal`] would give, one after the other, and keeps none of them.
    ///
    /// # Errors
    /// Whatever keeps the file from being read, or a row from being understood.
    pub(super) fn read_through_journal(&self) -> Result<(), StoreError> {
        let connection = self.connection();
        each(connection, read::MOVEMENTS, read::movement)?;
        each(connection, read::BATCHES, read::batch)?;
        each(connection, read::WEIGHINGS, read::weighing)?;
        each(connection, read::PIECES, read::pieces)?;
        each(connection, read::ACTS, read::act)?;
        each(connection, read::CHANGES, read::change)?;
        self.settings().map(drop)
    }

    /// The open orders that were placed from a proposal (`order place`), and not written down elsewhere and imported.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn orders_once_proposed(&self) -> Result<BTreeSet<String>, StoreError> {
        Ok(all(self.connection(), ONCE_PROPOSED, [], |row| row.get(0))?.into_iter().collect())
    }

    /// The batches, in the order of their numbers.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn batches(&self) -> Result<Vec<BatchRow>, StoreError> {
        Ok(all(self.connection(), &sql(read::BATCHES, "ORDER BY batch"), [], read::batch)?)
    }

    /// The products, in the order of their codes.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn products(&self) -> Result<Vec<ProductRow>, StoreError> {
        Ok(all(self.connection(), &sql(read::PRODUCTS, "ORDER BY code"), [], read::product)?)
    }

    /// The codes of all orders, also of those of which nothing is still to come.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn order_codes(&self) -> Result<Vec<String>, StoreError> {
        Ok(all(self.connection(), "SELECT code FROM orders ORDER BY code", [], |row| row.get(0))?)
    }

    /// The settings, in the order of their names.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn settings(&self) -> Result<Vec<SettingRow>, StoreError> {
        let read = |row: &Row<'_>| Ok(SettingRow { setting: row.get("setting")?, value: row.get("value")? });
        Ok(all(self.connection(), "SELECT * FROM settings ORDER BY setting", [], read)?)
    }

    /// The currency in which the workshop counts.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn home(&self) -> Result<Currency, StoreError> {
        let sql = "SELECT value FROM settings WHERE setting = 'home_currency'";
        Ok(self.connection().query_row(sql, [], |row| row.get(0))?)
    }
}

/// Of order lines: something is still to come.
const OPEN: &str = "WHERE cancelled = 0 AND packs_received < packs ORDER BY order_code, material, pack";

/// Of the plan: what is still to be made.
const TO_MAKE: &str = "WHERE dropped = 0 AND made = 0 ORDER BY rank, entry";

const ONCE_PROPOSED: &str = "SELECT DISTINCT order_code FROM order_lines
    WHERE cancelled = 0 AND packs_received < packs
        AND EXISTS (SELECT 1 FROM acts WHERE kind = 'place-order' AND subject = order_code)";

/// What commands of every day ask of tables that grow with the years, for the test that none looks through all of one.
#[cfg(test)]
pub(super) fn of_every_day() -> Vec<String> {
    vec![
        LOTS_LEFT.to_owned(),
        RATES_AHEAD.to_owned(),
        ONCE_PROPOSED.to_owned(),
        sql(read::ORDERS, OPEN),
        sql(read::PLAN, TO_MAKE),
        sql(read::LOTS, "WHERE lots.lot = ?1"),
    ]
}

/// Lots in which something is left; after the cells of [`read::lot`] what it is.
const LOTS_LEFT: &str = "SELECT lots.lot, lots.material, lots.amount, lots.supplier, lots.supplier_lot, lots.received,
    lots.cost, lots.currency, lots.best_before, lots.opened, lots.state, lots.place, lots.order_code,
    lot_balances.on_hand, lot_balances.cost, lot_balances.moved
    FROM lot_balances CROSS JOIN lots USING (lot) WHERE on_hand > 0 ORDER BY lot_balances.lot";

/// The rates that may count from the day ?1 on. The currencies are found by jumping through the index.
const RATES_AHEAD: &str = "WITH RECURSIVE used (code) AS (
        SELECT min(currency) FROM rates
        UNION ALL
        SELECT (SELECT min(currency) FROM rates WHERE currency > code) FROM used WHERE code IS NOT NULL
    )
    SELECT rates.date, rates.currency, rates.rate FROM used CROSS JOIN rates ON rates.currency = used.code
        AND rates.date >= coalesce((
            SELECT max(older.date) FROM rates AS older WHERE older.currency = used.code AND older.date <= ?1
        ), '')
    ORDER BY rates.currency, rates.date";

/// A query of the columns of [`read`] with what follows.
pub(super) fn sql(columns: &str, rest: &str) -> String {
    format!("{columns} {rest}")
}
