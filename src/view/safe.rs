//! Backups, and what `doctor` found, as plain data.

use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// A copy that was made.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct BackupView {
    /// Today.
    pub as_of: NaiveDate,
    /// The store.
    pub store: String,
    /// The copy.
    pub file: String,
    /// The store's version.
    pub version: i64,
    /// How many acts it holds.
    pub acts: i64,
    /// Older copies that were removed, the newest first.
    pub removed: Vec<String>,
}

/// A copy that was put back.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct RestoreView {
    /// Today.
    pub as_of: NaiveDate,
    /// The store.
    pub store: String,
    /// The copy.
    pub file: String,
    /// Its version.
    pub version: i64,
    /// How many acts it holds.
    pub acts: i64,
    /// Where the store lies that it replaced; `None` where there was none.
    pub replaced: Option<String>,
}

/// What was found in a store.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DoctorView {
    /// Today.
    pub as_of: NaiveDate,
    /// The file that was examined.
    pub file: String,
    /// True where it is the store and not a copy.
    #[serde(skip)]
    pub is_store: bool,
    /// True where nothing is hurt.
    pub sound: bool,
    /// Its version; 0 where it could not be read.
    pub version: i64,
    /// The newest version that this program knows.
    pub newest_version: i64,
    /// How many acts it holds.
    pub acts: i64,
    /// How many movements.
    pub movements: i64,
    /// How many lots.
    pub lots: i64,
    /// How many batches.
    pub batches: i64,
    /// The kind of network folder that the file lies on (`nfs4`, `cifs`); `None` on a disk of this computer.
    pub network: Option<String>,
    /// What is hurt.
    pub hurts: Vec<HurtView>,
    /// True where every row could be read, so that `export` works.
    pub readable: bool,
    /// Copies by their names, the newest backup first, then what lies beside the store.
    pub copies: Vec<CopyView>,
}

/// One thing that is hurt.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct HurtView {
    /// What does not hold.
    pub law: String,
    /// Where, and how.
    pub message: String,
}

/// A copy.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CopyView {
    /// The file.
    pub file: String,
    /// When it was made, by the workshop's clock; `None` where its name does not say.
    pub made: Option<String>,
    /// Whether it is sound; `None` where it was not asked, because the store is.
    pub sound: Option<bool>,
}
