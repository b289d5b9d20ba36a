//! The outbox, and what a round of posting did, as plain data.

use super::safe::BackupView;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// The outbox.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OutboxView {
    /// Today.
    pub as_of: NaiveDate,
    /// In the order in which they were queued.
    pub letters: Vec<OutboxLetter>,
}

/// A letter of the outbox. Moments are UTC: `2027-03-09T08:15:00Z`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OutboxLetter {
    /// Its number.
    pub letter: i64,
    /// The schedule that it is of.
    pub schedule: String,
    /// The moment of the run that it is of.
    pub run_at: String,
    /// `waiting`, `sent`, `set-aside` or `dropped`.
    pub state: String,
    /// What it is about.
    pub subject: String,
    /// From whom.
    pub from: String,
    /// To whom.
    pub to: Vec<String>,
    /// One for all its tries.
    pub message_id: String,
    /// How often it was tried.
    pub tries: u32,
    /// When it is tried next; `None` where it does not wait.
    pub next_try: Option<String>,
    /// What the last try failed with; empty for nothing.
    pub last_error: String,
    /// True where it may have reached the server without our hearing of it: it may come twice.
    pub may_be_twice: bool,
    /// When it was queued.
    pub queued_at: String,
    /// When it was sent.
    pub sent_at: Option<String>,
}

/// What one round of posting did.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct PostView {
    /// The moment of the round.
    pub as_of: String,
    /// Letters that were queued.
    pub queued: Vec<QueuedView>,
    /// Schedules that were due and had no news.
    pub quiet: Vec<QuietView>,
    /// Letters that were sent.
    pub sent: Vec<SentView>,
    /// Letters that were tried in vain and are tried again.
    pub waiting: Vec<FailedView>,
    /// Letters that were set aside.
    pub set_aside: Vec<FailedView>,
    /// The copy of the store that was made for the day.
    pub backup: Option<BackupView>,
    /// Everything else that went wrong, a sentence each.
    pub faults: Vec<String>,
    /// When the next letter is due or tried; `None` without schedules and letters.
    pub next: Option<String>,
}

/// A letter that was queued.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct QueuedView {
    /// Its number.
    pub letter: i64,
    /// Its schedule.
    pub schedule: String,
    /// The day that it is for.
    pub day: NaiveDate,
    /// How many runs it stands for: more than one where the computer slept.
    pub runs: usize,
    /// How many lines of it are news.
    pub news: usize,
}

/// A schedule that had no news.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct QuietView {
    /// Its name.
    pub schedule: String,
    /// The day that it was for.
    pub day: NaiveDate,
}

/// A letter that was sent.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SentView {
    /// Its number.
    pub letter: i64,
    /// Its subject.
    pub subject: String,
    /// To whom.
    pub to: Vec<String>,
    /// The file that it lies in; `None` where a server has it.
    pub file: Option<String>,
    /// True where it may have been sent before.
    pub may_be_twice: bool,
}

/// A letter that was not.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FailedView {
    /// Its number.
    pub letter: i64,
    /// Why.
    pub error: String,
    /// When it is tried again; `None` where it was set aside.
    pub next_try: Option<String>,
}
