//! What can go wrong with the store, in words for the maker.

use super::place::network_kind;
use crate::book::act_in_words;
use crate::plan::measure::canonical;
use crate::plan::model::LotState;
use crate::plan::money::Currency;
use crate::plan::quantity::{Quantity, Unit};
use chrono::NaiveDate;
use rusqlite::ErrorCode;
use rusqlite::ffi;
use std::path::{Path, PathBuf};

/// Why the store could not be opened, read or written.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// There is no store at the path, or one whose making was cut short before anything was in it.
    #[error(
        "there is no store at {path}: make one with `stillroom import PATH...`, or look round with `stillroom demo`"
    )]
    NotFound {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// A store was to be made where one is already.
    #[error("there is a store at {path} already")]
    AlreadyThere {
        /// Where it is.
        path: PathBuf,
    },
    /// The file belongs to something else.
    #[error("{path} is not a store of stillroom: it is left as it is; name another file with --store")]
    NotAStore {
        /// The file.
        path: PathBuf,
    },
    /// A later version of the program wrote the store.
    #[error(
        "this workshop's store is at version {found}, this program knows {known}: \
         open {path} with the newer program that wrote it"
    )]
    Newer {
        /// The store.
        path: PathBuf,
        /// Its version.
        found: i64,
        /// The newest version that this program knows.
        known: i64,
    },
    /// The store could not be brought to this program's version. It is as it was.
    #[error("the store at {path} could not be brought from version {found} to {known}, and is as it was: {detail}")]
    Migration {
        /// The store.
        path: PathBuf,
        /// Its version.
        found: i64,
        /// The version that it should get.
        known: i64,
        /// What stood in the way.
        detail: String,
    },
    /// Another program is writing.
    #[error("another program is writing to the store; try again in a moment")]
    Locked,
    /// The file, or its folder, may not be written.
    #[error(
        "the store may not be written or opened: check who owns the file and its folder, and whether the disk is read-only"
    )]
    ReadOnly,
    /// No room on the disk.
    #[error("the disk is full: nothing was changed; make room and try again")]
    Full,
    /// The disk does not do what is asked of it.
    #[error(
        "the disk failed ({detail}): look whether it is full, gone or failing; then `stillroom doctor` examines the store"
    )]
    Disk {
        /// What SQLite says.
        detail: String,
    },
    /// The disk does not lock files, as network folders often do not.
    #[error(
        "the disk does not lock the store as it must ({detail}), which is usual for network folders: keep the store on a \
         disk of this computer; copies may lie elsewhere (`stillroom backup FILE`)"
    )]
    NoLocks {
        /// What SQLite says.
        detail: String,
    },
    /// The file is damaged, or holds something that this program never writes.
    #[error(
        "the store is damaged ({detail}): keep the file; `stillroom doctor` says what is hurt and how to come back"
    )]
    Corrupt {
        /// What was found.
        detail: String,
    },
    /// What was examined does not hold together.
    #[error("{path} is hurt: {first}{}", match more { 0 => String::new(), more => format!(", and {more} more") })]
    Hurt {
        /// The file.
        path: PathBuf,
        /// The first thing that is hurt.
        first: String,
        /// How many more there are.
        more: usize,
    },
    /// Another program has the store open, so it is not replaced.
    #[error(
        "another program has {path} open: end it (`stillroom watch`, a terminal that is asked something) and try again"
    )]
    InUse {
        /// The store.
        path: PathBuf,
    },
    /// A copy was to be written where a file is already.
    #[error("{path} is there already; nothing was written to it")]
    FileThere {
        /// The file.
        path: PathBuf,
    },
    /// A file beside the store could not be read or written.
    #[error("{path} could not be read or written: {source}")]
    File {
        /// Which.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// The act is against the rules of the workshop; nothing was written.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// A rule that the store itself keeps was broken; nothing was written.
    #[error("the store refused a row, and nothing was written: {detail}")]
    Rule {
        /// Which.
        detail: String,
    },
    /// Anything else.
    #[error("the store could not be read or written: {0}")]
    Sqlite(#[source] rusqlite::Error),
}

impl StoreError {
    /// The same, seen where the store lies: on a network folder that refuses locks SQLite waits in vain, as for another program.
    #[must_use]
    pub fn at(self, path: &Path) -> Self {
        match (self, network_kind(path)) {
            (Self::Locked, Some(kind)) => Self::NoLocks { detail: format!("{kind}, and no lock was to be had") },
            (error, _) => error,
        }
    }
}

/// What SQLite answers where a lock, or the shared memory by which locks are told, is refused by the disk.
const LOCKING: [i32; 7] = [
    ffi::SQLITE_IOERR_LOCK,
    ffi::SQLITE_IOERR_RDLOCK,
    ffi::SQLITE_IOERR_UNLOCK,
    ffi::SQLITE_IOERR_CHECKRESERVEDLOCK,
    ffi::SQLITE_IOERR_SHMLOCK,
    ffi::SQLITE_IOERR_SHMMAP,
    ffi::SQLITE_IOERR_SHMOPEN,
];

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        let (failure, message) = match &error {
            rusqlite::Error::SqliteFailure(failure, message) => (*failure, message.clone()),
            rusqlite::Error::FromSqlConversionFailure(..)
            | rusqlite::Error::IntegralValueOutOfRange(..)
            | rusqlite::Error::InvalidColumnType(..) => return Self::Corrupt { detail: error.to_string() },
            _ => return Self::Sqlite(error),
        };
        let detail = message.unwrap_or_else(|| error.to_string());
        match failure.code {
            // The index of the write-ahead log could not grow, the only thing that is not told as a full disk.
            _ if failure.extended_code == ffi::SQLITE_IOERR_SHMSIZE => Self::Full,
            _ if failure.extended_code == ffi::SQLITE_IOERR_SHORT_READ => Self::Corrupt { detail },
            ErrorCode::FileLockingProtocolFailed => Self::NoLocks { detail },
            ErrorCode::SystemIoFailure if LOCKING.contains(&failure.extended_code) => Self::NoLocks { detail },
            ErrorCode::SystemIoFailure => Self::Disk { detail },
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => Self::Locked,
            ErrorCode::ReadOnly | ErrorCode::PermissionDenied | ErrorCode::CannotOpen => Self::ReadOnly,
            ErrorCode::DiskFull => Self::Full,
            ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase => Self::Corrupt { detail },
            ErrorCode::ConstraintViolation => Self::Rule { detail },
            _ => Self::Sqlite(error),
        }
    }
}

/// True where a row names another that is not there.
pub(super) fn is_dangling(error: &rusqlite::Error) -> bool {
    error.sqlite_error().is_some_and(|failure| failure.extended_code == ffi::SQLITE_CONSTRAINT_FOREIGNKEY)
}

/// Why an act was refused. Nothing of it was written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// Nothing has this code.
    #[error("there is no {what} {code}")]
    Unknown {
        /// `lot`, `order`, ...
        what: &'static str,
        /// As it was given.
        code: String,
    },
    /// The code is in use, or was.
    #[error("{what} {code} is there already: give it another code")]
    Taken {
        /// `lot`, `order`, ...
        what: &'static str,
        /// As it was given.
        code: String,
    },
    /// A row of the ledger or the batches differs from the one that was written.
    #[error("{what} {code} is written already, with other content: what has happened is never changed")]
    Differs {
        /// `movement`, `act` or `batch`.
        what: &'static str,
        /// Its number.
        code: String,
    },
    /// A row names another that is nowhere.
    #[error("a row of {table} names something that {parent} does not have")]
    Dangling {
        /// Where the row is.
        table: String,
        /// Where the other should be.
        parent: String,
    },
    /// More was asked for than there is.
    #[error("lot {lot} holds {}, and {} was asked for: count it if there is more", canonical(*held, *unit), canonical(*asked, *unit))]
    HoldsLess {
        /// Which lot.
        lot: String,
        /// What it holds.
        held: Quantity,
        /// What was asked for.
        asked: Quantity,
        /// In which both are.
        unit: Unit,
    },
    /// Only released lots are used.
    #[error("lot {lot} is not released: release it first")]
    NotReleased {
        /// Which.
        lot: String,
    },
    /// A lot that has been drawn from or counted keeps its ledger.
    #[error("lot {lot} has been used or counted since it came: its amount, cost and material stay; count it instead")]
    Moved {
        /// Which.
        lot: String,
    },
    /// Amounts of a material would change their meaning.
    #[error("material {material} is counted in {}, and cannot become one that is counted otherwise", unit.symbol())]
    UnitChanged {
        /// Which.
        material: String,
        /// Its unit in the store.
        unit: Unit,
    },
    /// The order has no such line.
    #[error("order {order} has no line of {material} in packs of {}", canonical(*pack, *unit))]
    NoSuchLine {
        /// The order.
        order: String,
        /// The material.
        material: String,
        /// The pack.
        pack: Quantity,
        /// In which it is.
        unit: Unit,
    },
    /// More packs came than were still to come.
    #[error(
        "of {material} in order {order} {open} packs are still to come, not {asked}: receive the others without an order"
    )]
    MorePacks {
        /// The order.
        order: String,
        /// The material.
        material: String,
        /// How many were open.
        open: i64,
        /// How many came.
        asked: i64,
    },
    /// Nothing of the order is still to come.
    #[error("nothing of order {order} is still to come")]
    NothingOpen {
        /// The order.
        order: String,
    },
    /// The supplier of a lot and that of its order, or those of two lines of an order.
    #[error("order {order} is with {supplier}, not with {given}")]
    OtherSupplier {
        /// The order.
        order: String,
        /// Whose it is.
        supplier: String,
        /// Who was named.
        given: String,
    },
    /// The plan entry has been made.
    #[error("plan entry {entry} has been made already")]
    Made {
        /// Which.
        entry: String,
    },
    /// Nobody gets less than none.
    #[error("{what} must be 0 or more")]
    Negative {
        /// Of what.
        what: String,
    },
    /// A batch holds fewer finished pieces than were asked for.
    #[error("batch {batch} has {held} pieces left, and {asked} were asked for: count them if there are more")]
    FewerPieces {
        /// Which.
        batch: String,
        /// How many are left.
        held: i64,
        /// How many were asked for.
        asked: i64,
    },
    /// `made` and `count` have acts of their own.
    #[error("pieces leave by sale, gift, sample or waste")]
    NoWayOut,
    /// A batch is of one thing.
    #[error("batch {batch} is of a product or of a premix: name one of the two")]
    ProductOrPremix {
        /// Which.
        batch: String,
    },
    /// A batch of a premix becomes a lot, a batch of a product pieces.
    #[error("batch {batch} is of {of}: it becomes {becomes}")]
    Becomes {
        /// Which.
        batch: String,
        /// `the product ...` or `the premix ...`.
        of: String,
        /// What it has to become.
        becomes: &'static str,
    },
    /// Only what was planned can be fulfilled.
    #[error("batch {batch} names no plan entry that it could fulfil or be a part of")]
    NoEntry {
        /// Which.
        batch: String,
    },
    /// Something that changes the standing of stock says why.
    #[error("{what} needs a reason")]
    NoReason {
        /// What was to be done.
        what: &'static str,
    },
    /// Who did a retest is part of it.
    #[error("{what} needs the name of who did it")]
    NobodyNamed {
        /// What was to be done.
        what: &'static str,
    },
    /// A lot is what it was to become.
    #[error("lot {lot} is {state} already")]
    StateAlready {
        /// Which.
        lot: String,
        /// `released`, `rejected`, `opened`, at a place.
        state: String,
    },
    /// Rejected lots stay so.
    #[error("lot {lot} is rejected: undo that act if it was a mistake, write the lot off or return it")]
    IsRejected {
        /// Which.
        lot: String,
    },
    /// Pieces that are held back do not leave, but as waste.
    #[error(
        "the pieces of batch {batch} are {}", match state {
            LotState::Quarantine => "in quarantine: `stillroom pieces release` lets them leave, and waste may leave at any time",
            _ => "rejected: they leave as waste only; undo that act if it was a mistake",
        }
    )]
    PiecesHeld {
        /// Which.
        batch: String,
        /// Quarantine or rejected.
        state: LotState,
    },
    /// The pieces of a batch are what they were to become.
    #[error("the pieces of batch {batch} are {} already", match state {
        LotState::Quarantine => "in quarantine",
        state => state.word(),
    })]
    PiecesAlready {
        /// Which.
        batch: String,
        /// What they are.
        state: LotState,
    },
    /// There is nothing left of a lot.
    #[error("lot {lot} is empty")]
    Empty {
        /// Which.
        lot: String,
    },
    /// A retest cannot pass for a time that is over.
    #[error("the new best-before date {best_before} of lot {lot} lies before {today}")]
    PastBestBefore {
        /// Which.
        lot: String,
        /// The date.
        best_before: NaiveDate,
        /// The day of the act.
        today: NaiveDate,
    },
    /// There is nobody to return a lot to.
    #[error("lot {lot} names no supplier: write it off instead")]
    NoSupplier {
        /// Which.
        lot: String,
    },
    /// Postage and duty of a parcel are in one currency.
    #[error("the lots of a parcel are paid in one currency: lot {lot} is in {given}, the others in {currency}")]
    OtherCurrency {
        /// Which.
        lot: String,
        /// Its currency.
        given: Currency,
        /// That of the first.
        currency: Currency,
    },
    /// Nothing was named.
    #[error("there is nothing in the {what}")]
    NothingNamed {
        /// `parcel`, `stocktake`, ...
        what: &'static str,
    },
    /// A lot stands twice in one list.
    #[error("lot {lot} stands twice in the {what}")]
    Twice {
        /// Which.
        lot: String,
        /// `stocktake`, ...
        what: &'static str,
    },
    /// All that was done is undone, or there was nothing yet.
    #[error("there is no act that could be undone")]
    NothingToUndo,
    /// Done once is done.
    #[error("act {act} has been undone by act {by}: undo act {by} to have it again")]
    UndoneAlready {
        /// Which.
        act: i64,
        /// By which.
        by: i64,
    },
    /// Imports and what was written before the log of changes.
    #[error("act {act} ({}) cannot be undone: {why}", act_in_words(kind))]
    NotUndone {
        /// Which.
        act: i64,
        /// What it was.
        kind: String,
        /// Why not.
        why: &'static str,
    },
    /// Later acts build on it.
    #[error("act {act} ({}) cannot be {}: {}", act_in_words(kind), if *again { "done again" } else { "undone" }, obstacles.join("; "))]
    InTheWay {
        /// Which.
        act: i64,
        /// What it was.
        kind: String,
        /// True where it was to be done again.
        again: bool,
        /// All that stands in the way, each a clause.
        obstacles: Vec<String>,
    },
    /// An amount or a number of packs must be above 0.
    #[error("{what} must be above 0")]
    NotAboveZero {
        /// Of what.
        what: String,
    },
    /// A count says why.
    #[error("a count needs a reason and an amount of 0 or more")]
    CountWithoutReason,
    /// A letter that is not in the state for this.
    #[error("letter {letter} {what}")]
    LetterIs {
        /// Its number.
        letter: i64,
        /// `was sent already`, ...
        what: &'static str,
    },
    /// The files were kept in another home currency.
    #[error("the store counts in {store}, the files in {files}: import them into a store of their own")]
    HomeCurrency {
        /// The store's.
        store: Currency,
        /// The files'.
        files: String,
    },
}
