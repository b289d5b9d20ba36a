//! Is the store whole? SQLite looks at its pages, keys and constraints; then the ledger's own laws are counted over, and
//! every row is read. Nothing is changed, whatever is found.

use super::changes::Spot;
use super::error::StoreError;
use super::load::{all, has_home};
use super::migrate::{NEWEST, version};
use super::open::{APPLICATION_ID, begins_as_a_store, tables_in, ten_seconds};
use super::{Reading, laws};
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use std::path::Path;

/// Of one law no more breaches are told than this: a hurt page can break a law for every lot.
const MOST_BREACHES: usize = 20;

/// One thing that is hurt.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hurt {
    /// What does not hold: `file`, `pages`, `keys`, `lot-balances` ...
    pub law: &'static str,
    /// Where, and how.
    pub message: String,
}

/// What was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Checkup {
    /// The store's version; 0 where it could not be read.
    pub version: i64,
    /// The newest version that this program knows.
    pub known: i64,
    /// How many acts it holds.
    pub acts: i64,
    /// How many movements.
    pub movements: i64,
    /// How many lots.
    pub lots: i64,
    /// How many batches.
    pub batches: i64,
    /// What is hurt; empty where all is well.
    pub hurts: Vec<Hurt>,
    /// True where every row could be read, so that an export is possible. Not tried for an older version: false then.
    pub readable: bool,
}

impl Checkup {
    /// True where nothing is hurt.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.hurts.is_empty()
    }

    fn hurt(&mut self, law: &'static str, message: impl Into<String>) {
        self.hurts.push(Hurt { law, message: message.into() });
    }
}

/// Examines the store at `path`, as it stands at one moment; others may write meanwhile.
///
/// # Errors
/// [`StoreError::NotFound`], [`StoreError::Newer`], and what keeps the file from being opened or read without saying that
/// it is damaged: it may not be read, another program holds it.
pub fn examine(path: &Path) -> Result<Checkup, StoreError> {
    let mut checkup = Checkup { known: NEWEST, ..Checkup::default() };
    if !begins_as_a_store(path)? {
        checkup.hurt("file", "it does not begin as a store does: it is another file, or its beginning is damaged");
        return Ok(checkup);
    }
    match look_through(path, &mut checkup) {
        Ok(()) => {}
        Err(error) if is_damage(&error) => checkup.hurt("file", plain(&error)),
        Err(error) => return Err(error),
    }
    Ok(checkup)
}

fn look_through(path: &Path, checkup: &mut Checkup) -> Result<(), StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags)?;
    connection.busy_handler(Some(ten_seconds))?;
    connection.pragma_update(None, "trusted_schema", false)?;
    let transaction = Transaction::new(&mut connection, TransactionBehavior::Deferred)?;
    let id: i64 = transaction.query_row("PRAGMA application_id", [], |row| row.get(0))?;
    checkup.version = version(&transaction)?;
    if checkup.version > checkup.known {
        let (found, known) = (checkup.version, checkup.known);
        return Err(StoreError::Newer { path: path.to_owned(), found, known });
    }
    if id == 0 && checkup.version == 0 && tables_in(&transaction)? == 0 {
        // A store whose making was cut short.
        return Err(StoreError::NotFound { path: path.to_owned() });
    }
    if id != APPLICATION_ID && checkup.version == 0 {
        checkup.hurt("file", "it is a database of another program");
        return Ok(());
    }
    if id != APPLICATION_ID {
        checkup.hurt("file", format!("its mark is {id:#x}, that of a store is {APPLICATION_ID:#x}"));
    }
    if checkup.version == 0 || !has_home(&transaction)? {
        return Err(StoreError::NotFound { path: path.to_owned() });
    }
    pages(&transaction, checkup);
    keys(&transaction, checkup);
    let version = checkup.version;
    let reading = Reading { transaction };
    balances(&reading, checkup);
    let transaction = &reading.transaction;
    for law in laws::LAWS.iter().filter(|law| law.since <= version) {
        let found = all(transaction, law.breaches, [], |row| row.get::<_, String>(0));
        tell(checkup, law.name, found);
    }
    if checkup.version >= 2 {
        changes(transaction, checkup);
    }
    counts(transaction, checkup);
    if checkup.version == checkup.known {
        rows(&reading, checkup);
    }
    Ok(())
}

/// Adds the breaches of a law, or that it could not be looked at.
fn tell(checkup: &mut Checkup, law: &'static str, found: rusqlite::Result<Vec<String>>) {
    match found {
        Ok(breaches) => {
            let more = breaches.len().saturating_sub(MOST_BREACHES);
            for breach in breaches.into_iter().take(MOST_BREACHES) {
                checkup.hurt(law, breach);
            }
            if more > 0 {
                checkup.hurt(law, format!("and {more} more"));
            }
        }
        Err(error) => checkup.hurt(law, format!("it could not be looked at: {}", plain(&error.into()))),
    }
}

/// SQLite's own check: the tree of pages, indexes against tables, NOT NULL and CHECK of every row.
fn pages(connection: &Connection, checkup: &mut Checkup) {
    let sql = format!("PRAGMA integrity_check({MOST_BREACHES})");
    let said = all(connection, &sql, [], |row| row.get::<_, String>(0));
    let said = said.map(|lines| lines.into_iter().filter(|line| line != "ok").collect());
    tell(checkup, "pages", said);
}

fn keys(connection: &Connection, checkup: &mut Checkup) {
    let sql = "SELECT 'a row of ' || \"table\" || ' names something that ' || parent || ' does not have'
        FROM pragma_foreign_key_check";
    tell(checkup, "keys", all(connection, sql, [], |row| row.get(0)));
}

/// The balances of the lots, counted over.
fn balances(reading: &Reading<'_>, checkup: &mut Checkup) {
    let mut found = match reading.recount() {
        Ok(hurts) => hurts,
        Err(error) => return checkup.hurt("lot-balances", format!("it could not be looked at: {}", plain(&error))),
    };
    for law in ["lot-balances", "never-below-nothing"] {
        let breaches = found.extract_if(.., |hurt| hurt.law == law).map(|hurt| hurt.message).collect();
        tell(checkup, law, Ok(breaches));
    }
}

/// What acts changed beside the ledger still stands as the last of them left it, and is of a lot or batch that there is.
/// Order lines may be taken out by an import, and a ledger may come without the plan that it was made to.
fn changes(connection: &Connection, checkup: &mut Checkup) {
    tell(checkup, "changes", changed_otherwise(connection));
}

fn changed_otherwise(connection: &Connection) -> rusqlite::Result<Vec<String>> {
    // With a bare max() SQLite takes the other columns from the row that holds it.
    let sql = "SELECT what, code, part, field, after, max(change) FROM changes GROUP BY what, code, part, field
        ORDER BY what, code, part, field";
    let mut statement = connection.prepare(sql)?;
    let mut rows = statement.query([])?;
    let mut breaches = Vec::new();
    // One after the other: the log grows with the years.
    while let Some(row) = rows.next()? {
        let text = |place: usize| row.get::<_, String>(place);
        let (what, code, part, field, after) = (text(0)?, text(1)?, text(2)?, text(3)?, text(4)?);
        let spot = Spot { what: &what, code: &code, part: &part, field: &field };
        if let Some(wrong) = no_longer_so(connection, spot, &after) {
            breaches.push(format!("change {}, {} ({field}): {wrong}", row.get::<_, i64>(5)?, spot.named()));
        }
    }
    Ok(breaches)
}

/// What is wrong where something else stands than was written down last.
fn no_longer_so(connection: &Connection, spot: Spot<'_>, after: &str) -> Option<String> {
    match spot.current(connection) {
        Ok(Some(current)) if current == *after => None,
        Ok(Some(current)) => Some(format!("{after:?} was written down last, and {current:?} stands there")),
        Ok(None) if matches!(spot.what, "lot" | "batch") => Some("there is no such thing".to_owned()),
        Ok(None) => None,
        Err(error) => Some(plain(&error)),
    }
}

fn counts(connection: &Connection, checkup: &mut Checkup) {
    let count = |table: &str| {
        let sql = format!("SELECT count(*) FROM {table}");
        // What cannot be counted was told of already.
        connection.query_row(&sql, [], |row| row.get(0)).unwrap_or(0)
    };
    checkup.acts = count("acts");
    checkup.movements = count("movements");
    checkup.lots = count("lots");
    checkup.batches = count("batches");
}

/// Every row that an export reads, with values that this program could have written.
fn rows(reading: &Reading<'_>, checkup: &mut Checkup) {
    let read = [
        reading.whole_book().map(drop),
        reading.read_through_journal(),
        reading.standings().map(drop),
        reading.home().map(drop),
        reading.last_list().map(drop),
    ];
    checkup.readable = read.iter().take(2).all(Result::is_ok);
    for error in read.into_iter().filter_map(Result::err) {
        checkup.hurt("rows", plain(&error));
    }
}

/// True where an error says that the file itself is hurt.
fn is_damage(error: &StoreError) -> bool {
    match error {
        StoreError::Corrupt { .. } => true,
        // A cut file: what a page should hold is not there.
        StoreError::Sqlite(source) => !matches!(
            source.sqlite_error_code(),
            Some(rusqlite::ErrorCode::OutOfMemory | rusqlite::ErrorCode::OperationInterrupted)
        ),
        _ => false,
    }
}

/// The error without the advice that goes with it elsewhere.
fn plain(error: &StoreError) -> String {
    match error {
        StoreError::Corrupt { detail } => detail.clone(),
        StoreError::Sqlite(source) => source.to_string(),
        other => other.to_string(),
    }
}
