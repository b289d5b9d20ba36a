//! The only place that asks for the time.

use crate::plan::schedule::{Wall, moment_of};
use chrono::{DateTime, Datelike, Local, NaiveDate, NaiveDateTime, NaiveTime, SecondsFormat, TimeDelta, Utc};
use chrono_tz::Tz;
use std::str::FromStr;
use std::time::{Duration, Instant};

/// What `--as-of` says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AsOf {
    /// A day of the workshop.
    Day(NaiveDate),
    /// A time of the workshop's wall clock.
    Wall(NaiveDateTime),
    /// A moment.
    Moment(DateTime<Utc>),
}

impl FromStr for AsOf {
    type Err = String;

    /// `2027-03-09`; `2027-03-09T07:30`, with or without seconds; the same with `Z` or an offset.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        let wall = || {
            ["%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M"]
                .iter()
                .find_map(|form| NaiveDateTime::parse_from_str(text, form).ok())
        };
        let read = match text.parse::<NaiveDate>() {
            Ok(day) => Some(Self::Day(day)),
            Err(_) => wall().map(Self::Wall).or_else(|| text.parse::<DateTime<Utc>>().ok().map(Self::Moment)),
        };
        let year = |read: &Self| match read {
            Self::Day(day) => day.year(),
            Self::Wall(wall) => wall.year(),
            Self::Moment(moment) => moment.year(),
        };
        let usual = read.filter(|read| (1_000..=9_999).contains(&year(read)));
        usual.ok_or_else(|| "write year-month-day, 2027-03-09, or with a time, 2027-03-09T07:30".to_owned())
    }
}

/// Tells the day and the moment. Both can be set, so that examples and tests do not age.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    as_of: Option<AsOf>,
    zone: Option<Tz>,
    running_since: Option<Instant>,
}

impl Clock {
    /// A clock in a time zone (the machine's where `None`), standing at a day or moment where one is given.
    #[must_use]
    pub fn new(as_of: Option<AsOf>, zone: Option<Tz>) -> Self {
        Self { as_of, zone, running_since: None }
    }

    /// The same, going on from the moment that it stood at.
    #[must_use]
    #[allow(clippy::disallowed_methods)]
    pub fn running(self) -> Self {
        Self { running_since: Some(Instant::now()), ..self }
    }

    /// Today in the workshop.
    #[must_use]
    pub fn today(&self) -> NaiveDate {
        match self.as_of {
            Some(AsOf::Day(day)) => day,
            Some(_) | None => self.wall().shows(self.now()).date(),
        }
    }

    /// This moment. Where only a day was set, it is the computer's own: a day has no time.
    #[must_use]
    #[allow(clippy::disallowed_methods)]
    pub fn now(&self) -> DateTime<Utc> {
        let set = match self.as_of {
            Some(AsOf::Moment(moment)) => Some(moment),
            Some(AsOf::Wall(wall)) => moment_of(wall, self.wall()),
            Some(AsOf::Day(_)) | None => None,
        };
        let gone = self.running_since.and_then(|since| TimeDelta::from_std(since.elapsed()).ok());
        match set {
            Some(moment) => moment.checked_add_signed(gone.unwrap_or_default()).unwrap_or(moment),
            None => Utc::now(),
        }
    }

    /// The moment up to which runs of schedules are due: now, or the last second of a day that was set.
    #[must_use]
    pub fn due_through(&self) -> DateTime<Utc> {
        let end = NaiveTime::from_hms_opt(23, 59, 59).unwrap_or_default();
        match self.as_of {
            Some(AsOf::Day(day)) => moment_of(day.and_time(end), self.wall()).unwrap_or_else(|| self.now()),
            Some(_) | None => self.now(),
        }
    }

    /// The workshop's wall clock.
    #[must_use]
    pub fn wall(&self) -> &dyn Wall {
        match &self.zone {
            Some(zone) => zone,
            None => &Local,
        }
    }

    /// The zone's name; `None` where it is the computer's own.
    #[must_use]
    pub fn zone_name(&self) -> Option<&'static str> {
        self.zone.map(|zone| zone.name())
    }

    /// True where the day was set without a time.
    #[must_use]
    pub fn stands_at_a_day(&self) -> bool {
        matches!(self.as_of, Some(AsOf::Day(_)))
    }

    /// True where a day or a time was given, so that the computer's own clock is not asked.
    #[must_use]
    pub fn is_set(&self) -> bool {
        self.as_of.is_some()
    }

    /// This moment as the ledger writes it: `2027-03-09T08:15:00Z`.
    #[must_use]
    pub fn recorded_at(&self) -> String {
        self.now().to_rfc3339_opts(SecondsFormat::Secs, true)
    }
}

/// A question that is answered with yes once so many seconds have passed; never where `None`.
#[allow(clippy::disallowed_methods)]
pub fn time_is_up(seconds: Option<f64>) -> impl FnMut() -> bool {
    let started = Instant::now();
    let allowed = seconds.and_then(|seconds| Duration::try_from_secs_f64(seconds).ok());
    move || allowed.is_some_and(|allowed| started.elapsed() >= allowed)
}

/// A word that no other run of the program on this computer has: its process and the moment by the computer's clock.
#[must_use]
#[allow(clippy::disallowed_methods)]
pub fn run_token() -> String {
    format!("{}-{}", std::process::id(), Utc::now().timestamp_micros())
}
