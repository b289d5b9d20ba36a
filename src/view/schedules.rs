//! The schedules with their coming and past letters, and what is silenced, as plain data.

use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// All schedules. Moments are UTC, `local` is the workshop's wall clock.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SchedulesView {
    /// Now.
    pub as_of: String,
    /// Today.
    pub today: NaiveDate,
    /// The zone's name; `None` where it is the computer's own.
    pub time_zone: Option<String>,
    /// In the order of the settings.
    pub schedules: Vec<ScheduleView>,
}

/// One schedule.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ScheduleView {
    /// Its name.
    pub name: String,
    /// What is in its letters.
    pub reports: Vec<String>,
    /// On which days.
    pub days: String,
    /// At which time of the workshop.
    pub at: String,
    /// `news` or `always`.
    pub when: String,
    /// To whom.
    pub to: Vec<String>,
    /// The coming runs.
    pub next: Vec<ComingRun>,
    /// The past ones, the latest first.
    pub last: Vec<PastRun>,
}

/// A run to come.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ComingRun {
    /// Its day.
    pub day: NaiveDate,
    /// Its moment.
    pub at: String,
    /// What the workshop's clock shows then: `2027-03-09T07:30`.
    pub local: String,
}

/// A run that was served.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PastRun {
    /// Its day.
    pub day: NaiveDate,
    /// Its moment.
    pub at: String,
    /// When it was served.
    pub served_at: String,
    /// How many runs it stands for.
    pub runs: usize,
    /// Its letter; `None` where there was no news.
    pub letter: Option<i64>,
    /// What has become of the letter; `no news` where there is none.
    pub outcome: String,
}

/// What is silenced.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SnoozesView {
    /// Today.
    pub as_of: NaiveDate,
    /// In the order of their codes.
    pub snoozes: Vec<SnoozeView>,
}

/// Something that is silenced.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SnoozeView {
    /// Code of the material or lot.
    pub subject: String,
    /// The day on which it may be news again.
    pub until: NaiveDate,
    /// Since when.
    pub since: NaiveDate,
    /// Why; may be empty.
    pub reason: String,
}
