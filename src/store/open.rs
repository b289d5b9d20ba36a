//! From a path to a store that is known to be one: what may be opened, the pragmas, and the making of a new store.

use super::Store;
use super::error::StoreError;
use super::load;
use super::migrate::{NEWEST, bring_up_to_date, embedded, version};
use crate::plan::money::Currency;
use refinery::Migration;
use rusqlite::{Connection, OpenFlags, params};
use std::fs::{self, File};
use std::io::{ErrorKind, Read};
use std::path::Path;
use std::time::Duration;

/// `Stil` in ASCII; the first migration writes it into the file.
pub(super) const APPLICATION_ID: i64 = 0x5374_696c;

/// How every SQLite file begins. Source: SQLite, Database File Format, 1.3.
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// How a store is opened: a test shortens the wait and brings migrations of its own.
pub(super) struct Terms {
    /// Waits a little for another program's write; false where it has waited often enough, and gives up.
    pub(super) wait: fn(i32) -> bool,
    /// Migrations after those of this program.
    pub(super) later: Vec<Migration>,
}

impl Terms {
    /// The newest version there is.
    pub(super) fn known(&self) -> i64 {
        self.later.iter().map(|migration| i64::from(migration.version())).fold(NEWEST, i64::max)
    }

    /// All migrations. Reading them takes its time: it is done only where one is to be applied.
    pub(super) fn migrations(&self) -> Vec<Migration> {
        let mut migrations = embedded();
        migrations.extend(self.later.iter().cloned());
        migrations
    }
}

impl Default for Terms {
    fn default() -> Self {
        Self { wait: ten_seconds, later: Vec::new() }
    }
}

/// Looks a hundred times a second whether the other one has written. SQLite's own wait looks ever more seldom, down to ten
/// times a second: where many write, one that is unlucky may then miss every gap.
pub(super) fn ten_seconds(looks: i32) -> bool {
    std::thread::sleep(Duration::from_millis(10));
    looks < 1_000
}

/// What stands at a path.
enum Found {
    /// No file, or one without a byte.
    Nothing,
    /// A file without any table, or a store whose making was cut short.
    Unfinished,
    /// A store of this version, opened.
    Ours(Connection, i64),
}

impl Store {
    /// Opens the store at `path`, and brings an older one up to date after making a copy of it ([`Store::upgrade`]).
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::NotAStore`], [`StoreError::Newer`] and whatever keeps it from being read.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        Self::open_on(path, &Terms::default())
    }

    /// Makes a new store that counts its money in `home`, and the folder for it where there is none.
    ///
    /// # Errors
    /// [`StoreError::AlreadyThere`], [`StoreError::NotAStore`] and whatever keeps it from being written.
    pub fn create(path: &Path, home: Currency) -> Result<Self, StoreError> {
        Self::create_on(path, home, &Terms::default())
    }

    /// Opens the store at `path`, or makes a new one in `home`. A store that is there keeps its own home currency.
    ///
    /// # Errors
    /// As [`Store::open`] and [`Store::create`].
    pub fn open_or_create(path: &Path, home: Currency) -> Result<Self, StoreError> {
        match Self::open(path) {
            Err(StoreError::NotFound { .. }) => Self::create(path, home),
            outcome => outcome,
        }
    }

    pub(super) fn open_on(path: &Path, terms: &Terms) -> Result<Self, StoreError> {
        match look(path, terms)? {
            Found::Nothing | Found::Unfinished => Err(StoreError::NotFound { path: path.to_owned() }),
            Found::Ours(mut connection, found) => {
                let upgrade = bring_up_to_date(&mut connection, path, found, terms)?;
                set_pragmas(&connection)?;
                Ok(Self { connection, path: path.to_owned(), upgrade })
            }
        }
    }

    pub(super) fn create_on(path: &Path, home: Currency, terms: &Terms) -> Result<Self, StoreError> {
        if matches!(look(path, terms)?, Found::Ours(..)) {
            return Err(StoreError::AlreadyThere { path: path.to_owned() });
        }
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(|error| file_error(folder, error))?;
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        let mut connection = connect(path, terms, flags)?;
        set_pragmas(&connection)?;
        let found = version(&connection)?;
        bring_up_to_date(&mut connection, path, found, terms)?;
        let mut store = Self { connection, path: path.to_owned(), upgrade: None };
        let writing = store.writing()?;
        let sql = "INSERT INTO settings (setting, value) VALUES ('home_currency', ?1) ON CONFLICT (setting) DO NOTHING";
        if writing.connection().execute(sql, params![home])? == 0 {
            // Another program made it while this one was at it.
            return Err(StoreError::AlreadyThere { path: path.to_owned() });
        }
        writing.commit()?;
        Ok(store)
    }
}

/// True where the file begins as SQLite's do. One without a byte is a store whose making was cut short: not found.
pub(super) fn begins_as_a_store(path: &Path) -> Result<bool, StoreError> {
    let mut head = Vec::new();
    match File::open(path).and_then(|file| file.take(MAGIC.len() as u64).read_to_end(&mut head)) {
        Ok(0) => Err(StoreError::NotFound { path: path.to_owned() }),
        Ok(_) => Ok(head == MAGIC),
        Err(error) if error.kind() == ErrorKind::NotFound => Err(StoreError::NotFound { path: path.to_owned() }),
        Err(error) if error.kind() == ErrorKind::IsADirectory => Err(StoreError::NotAStore { path: path.to_owned() }),
        Err(error) => Err(file_error(path, error)),
    }
}

/// Says what stands at the path, without changing it.
fn look(path: &Path, terms: &Terms) -> Result<Found, StoreError> {
    match begins_as_a_store(path) {
        Ok(true) => {}
        Ok(false) => return Err(StoreError::NotAStore { path: path.to_owned() }),
        Err(StoreError::NotFound { .. }) => return Ok(Found::Nothing),
        Err(error) => return Err(error),
    }
    let connection = connect(path, terms, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    let id: i64 = connection.query_row("PRAGMA application_id", [], |row| row.get(0))?;
    if id != APPLICATION_ID {
        let is_empty = id == 0 && tables_in(&connection)? == 0;
        return if is_empty { Ok(Found::Unfinished) } else { Err(StoreError::NotAStore { path: path.to_owned() }) };
    }
    let (found, known) = (version(&connection)?, terms.known());
    if found > known {
        return Err(StoreError::Newer { path: path.to_owned(), found, known });
    }
    if load::has_home(&connection)? { Ok(Found::Ours(connection, found)) } else { Ok(Found::Unfinished) }
}

/// How many tables and indexes there are besides the list of migrations, which comes before the first of them.
pub(super) fn tables_in(connection: &Connection) -> Result<i64, StoreError> {
    let sql = "SELECT count(*) FROM sqlite_schema WHERE name NOT LIKE '%refinery_schema_history%'";
    Ok(connection.query_row(sql, [], |row| row.get(0))?)
}

fn connect(path: &Path, terms: &Terms, flags: OpenFlags) -> Result<Connection, StoreError> {
    let mut connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    connection.busy_handler(Some(terms.wait))?;
    // An import uses about thirty statements again and again.
    connection.set_prepared_statement_cache_capacity(64);
    Ok(connection)
}

/// What holds for every connection. Foreign keys cannot be set inside a transaction, so it is done here once.
fn set_pragmas(connection: &Connection) -> Result<(), StoreError> {
    // Says nothing where the file is in the mode already. Writers then do not wait for readers.
    connection.query_row("PRAGMA journal_mode = WAL", [], |_| Ok(()))?;
    // A movement that was told of as written is on the disk, also after a power cut.
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    // What an act would have to take back is kept in memory, not in a file beside the store.
    connection.pragma_update(None, "temp_store", "MEMORY")?;
    // A file that someone else prepared must not run functions by way of its schema.
    connection.pragma_update(None, "trusted_schema", false)?;
    Ok(())
}

pub(super) fn file_error(path: &Path, error: std::io::Error) -> StoreError {
    match error.kind() {
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => StoreError::ReadOnly,
        ErrorKind::StorageFull => StoreError::Full,
        _ => StoreError::File { path: path.to_owned(), source: error },
    }
}
