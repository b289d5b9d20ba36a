//! The store: one SQLite file that keeps the workshop's book and its ledger. SQL lives nowhere else.
//!
//! [`Store`] opens the file, [`Reading`] sees it at one moment, [`Writing`] also changes it: what is looked up through
//! a `Writing` and what is then written are one transaction. The ledger is only ever added to; triggers in the schema
//! keep it so and keep each lot's balance, so that no command reads the whole of it. The store never asks for the
//! time: every act brings its [`Stamp`].

mod acts;
mod apply;
#[cfg(test)]
mod at_any_age;
mod bench;
mod changes;
mod codec;
mod codes;
mod copies;
mod error;
mod genealogy;
mod health;
mod laws;
mod ledger;
mod letters;
mod lists;
mod load;
mod many;
mod migrate;
mod open;
mod place;
mod read;
mod recount;
mod rows;
mod schedules;
mod take_over;
#[cfg(test)]
mod tests;

pub use acts::count::{Counted, Difference};
pub use acts::formula::Revisions;
pub use acts::make::{Drawn, Making, Weighing};
pub use acts::receive::{PacksReceived, Parcel};
pub use acts::undo::Undone;
pub use apply::Applied;
pub use copies::{PutBack, back_up, put_back};
pub use error::{Refusal, StoreError};
pub use genealogy::TraceFrom;
pub use health::{Checkup, Hurt, examine};
pub use letters::{Claim, LetterRow, LetterState, NewLetter, Setback};
pub use migrate::Upgrade;
pub use place::network_kind;
pub use schedules::{RunRow, Serving, SnoozeRow};

use crate::book::{Book, Journal, Standing};
use crate::plan::money::Currency;
use chrono::NaiveDate;
use rusqlite::{Connection, Transaction, TransactionBehavior};
use std::ops::Deref;
use std::path::{Path, PathBuf};

/// When something was done, when it was written down, and by whom.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// The civil day on which it happened.
    pub day: NaiveDate,
    /// UTC, in this one form: `2027-03-09T08:15:00Z`.
    pub recorded_at: String,
    /// Who does it; empty where nobody is named.
    pub who: String,
}

/// The open store of a workshop.
#[derive(Debug)]
pub struct Store {
    connection: Connection,
    path: PathBuf,
    upgrade: Option<Upgrade>,
}

/// The store at one moment: what others write meanwhile is not seen.
#[derive(Debug)]
pub struct Reading<'store> {
    transaction: Transaction<'store>,
}

/// The store while this program alone may write. Dropped without [`Writing::commit`] it changes nothing.
#[derive(Debug)]
pub struct Writing<'store> {
    reading: Reading<'store>,
    tell: Teller<'store>,
}

/// Who hears of each row of an import.
#[derive(Clone, Copy, Default)]
struct Teller<'a>(Option<&'a dyn Fn()>);

impl std::fmt::Debug for Teller<'_> {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("Teller")
    }
}

impl Store {
    /// Where the store is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What opening did to an older store, and where its copy is; `None` where it was up to date.
    #[must_use]
    pub fn upgrade(&self) -> Option<&Upgrade> {
        self.upgrade.as_ref()
    }

    /// Begins to read.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn reading(&mut self) -> Result<Reading<'_>, StoreError> {
        Ok(Reading { transaction: Transaction::new(&mut self.connection, TransactionBehavior::Deferred)? })
    }

    /// Begins to write; no other program can until this is over.
    ///
    /// # Errors
    /// [`StoreError::Locked`] where another program writes for longer than the wait, and whatever else keeps the file
    /// from being written.
    pub fn writing(&mut self) -> Result<Writing<'_>, StoreError> {
        let transaction = Transaction::new(&mut self.connection, TransactionBehavior::Immediate)?;
        Ok(Writing { reading: Reading { transaction }, tell: Teller::default() })
    }

    /// Lets much of the file be kept in memory: a long import comes back to every page again and again, and each that had
    /// to make room would be written once more.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn keep_much_in_memory(&self) -> Result<(), StoreError> {
        // In KiB, where it is negative.
        Ok(self.connection.pragma_update(None, "cache_size", -131_072)?)
    }

    /// Begins to write, but keeps nobody else from it before the first row is written. Where another program has written
    /// since this one began to read, that row is refused ([`StoreError::Locked`]): then it is to be done over with
    /// [`Store::writing`].
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn writing_at_last(&mut self) -> Result<Writing<'_>, StoreError> {
        Ok(Writing { reading: self.reading()?, tell: Teller::default() })
    }

    /// All rows of the book, as [`Reading::book`].
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn book(&mut self) -> Result<Book, StoreError> {
        self.reading()?.book()
    }

    /// What is left of each lot, as [`Reading::standings`].
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn standings(&mut self) -> Result<Vec<Standing>, StoreError> {
        self.reading()?.standings()
    }

    /// The ledger, the batches and the settings, as [`Reading::journal`].
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn journal(&mut self) -> Result<Journal, StoreError> {
        self.reading()?.journal()
    }

    /// The currency in which the workshop counts.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn home(&mut self) -> Result<Currency, StoreError> {
        self.reading()?.home()
    }
}

impl Reading<'_> {
    fn connection(&self) -> &Connection {
        &self.transaction
    }
}

impl<'store> Deref for Writing<'store> {
    type Target = Reading<'store>;

    fn deref(&self) -> &Self::Target {
        &self.reading
    }
}

impl<'store> Writing<'store> {
    /// The same; an import then tells of each row that it has written, about as often as [`Writing::apply`] finds changes.
    #[must_use]
    pub fn telling(self, tell: &'store dyn Fn()) -> Self {
        Self { tell: Teller(Some(tell)), ..self }
    }

    /// A row more has been written.
    fn told(&self) {
        if let Some(tell) = self.tell.0 {
            tell();
        }
    }
}

impl Writing<'_> {
    /// Makes everything that was written last.
    ///
    /// # Errors
    /// [`Refusal::Dangling`] where a row names another that is nowhere, and whatever keeps the file from being
    /// written. Nothing is written then.
    pub fn commit(self) -> Result<(), StoreError> {
        match self.connection().execute_batch("COMMIT") {
            Ok(()) => Ok(()),
            // The transaction is still open, so the row can be asked for; dropping it then takes everything back.
            Err(error) if error::is_dangling(&error) => Err(load::first_dangling(self.connection())?.into()),
            Err(error) => Err(error.into()),
        }
    }

    /// Does all of `act` or, where it fails, nothing: a caller that goes on after a refusal commits no half of it.
    fn whole<T>(&self, act: impl FnOnce() -> Result<T, StoreError>) -> Result<T, StoreError> {
        self.connection().execute_batch("SAVEPOINT act")?;
        let outcome = act();
        if outcome.is_ok() {
            self.connection().execute_batch("RELEASE act")?;
        } else {
            // Where SQLite has taken back the whole transaction already (a full disk), this fails, and so will the
            // commit: the first error is the one to tell.
            let _ = self.connection().execute_batch("ROLLBACK TO act; RELEASE act");
        }
        outcome
    }
}
