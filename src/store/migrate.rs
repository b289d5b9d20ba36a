//! Bringing a store to this program's version, with a copy of the file made first.

use super::copies::keep;
use super::error::StoreError;
use super::open::Terms;
use refinery::{Migration, Runner};
use rusqlite::{Connection, OptionalExtension};
use std::path::{Path, PathBuf};

mod embedded {
    #![allow(clippy::unwrap_used, reason = "the macro writes it; names of migrations are checked when it is compiled")]
    refinery::embed_migrations!("migrations");
}

/// What was done to an older store when it was opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Upgrade {
    /// The version that it had.
    pub from: i64,
    /// The version that it has.
    pub to: i64,
    /// The copy of the store as it was.
    pub copy: PathBuf,
}

/// The migrations of this program.
pub(super) fn embedded() -> Vec<Migration> {
    embedded::migrations::runner().get_migrations().clone()
}

/// The version of the stores of this program, so that opening one does not have to look through the migrations; a test
/// holds it against them.
pub(super) const NEWEST: i64 = 8;

/// The newest version among the migrations.
#[cfg(test)]
pub(super) fn newest(migrations: &[Migration]) -> i64 {
    migrations.iter().map(|migration| i64::from(migration.version())).max().unwrap_or(0)
}

/// The version of the store; 0 where no migration was applied.
pub(super) fn version(connection: &Connection) -> Result<i64, StoreError> {
    const HISTORY: &str = "SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'refinery_schema_history'";
    if connection.query_row(HISTORY, [], |_| Ok(())).optional()?.is_none() {
        return Ok(0);
    }
    Ok(connection.query_row("SELECT coalesce(max(version), 0) FROM refinery_schema_history", [], |row| row.get(0))?)
}

/// Applies what the store at `path`, of the version `found` and no newer than this program, does not have yet: all in one
/// transaction, after a copy where there is something to lose.
pub(super) fn bring_up_to_date(
    connection: &mut Connection,
    path: &Path,
    found: i64,
    terms: &Terms,
) -> Result<Option<Upgrade>, StoreError> {
    let known = terms.known();
    if found >= known {
        return Ok(None);
    }
    let copy = if found == 0 { None } else { Some(copy_beside(connection, path, known)?) };
    let outcome = Runner::new(&terms.migrations()).set_grouped(true).run(connection);
    // Where another program did the same at the same time, one of the two fails, and both find the store ready.
    if let Err(error) = outcome
        && version(connection)? != known
    {
        return Err(migration_error(&error, path, found, known));
    }
    Ok(copy.map(|copy| Upgrade { from: found, to: known, copy }))
}

fn migration_error(error: &refinery::Error, path: &Path, found: i64, known: i64) -> StoreError {
    let mut source: Option<&(dyn std::error::Error + 'static)> = Some(error);
    let mut detail = error.to_string();
    while let Some(cause) = source {
        if let Some(rusqlite::Error::SqliteFailure(failure, message)) = cause.downcast_ref::<rusqlite::Error>() {
            let plain = StoreError::from(rusqlite::Error::SqliteFailure(*failure, message.clone()));
            if matches!(
                plain,
                StoreError::Locked
                    | StoreError::Full
                    | StoreError::ReadOnly
                    | StoreError::Disk { .. }
                    | StoreError::Corrupt { .. }
            ) {
                return plain;
            }
        }
        detail = cause.to_string();
        source = cause.source();
    }
    StoreError::Migration { path: path.to_owned(), found, known, detail }
}

/// Copies the store beside itself as `<name>.before-v<version>.sqlite`, with a number where that name is taken.
/// SQLite's backup interface is used because a plain copy would miss what still stands in the write-ahead log.
fn copy_beside(connection: &Connection, path: &Path, version: i64) -> Result<PathBuf, StoreError> {
    let name = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    keep(connection, path, &path.with_file_name(format!("{name}.before-v{version}.sqlite")))
}
