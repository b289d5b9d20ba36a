//! The only place that asks for the time.

use chrono::{DateTime, Local, NaiveDate, SecondsFormat, Utc};
use chrono_tz::Tz;
use std::time::{Duration, Instant};

/// Tells the day and the moment. The day can be set, so that examples and tests do not age.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    as_of: Option<NaiveDate>,
    zone: Option<Tz>,
}

impl Clock {
    /// A clock in a time zone (the machine's where `None`), standing at a day where one is given.
    #[must_use]
    pub fn new(as_of: Option<NaiveDate>, zone: Option<Tz>) -> Self {
        Self { as_of, zone }
    }

    /// Today in the workshop.
    #[must_use]
    #[allow(clippy::disallowed_methods)]
    pub fn today(&self) -> NaiveDate {
        self.as_of.unwrap_or_else(|| match self.zone {
            Some(zone) => Utc::now().with_timezone(&zone).date_naive(),
            None => Local::now().date_naive(),
        })
    }

    /// This moment.
    #[must_use]
    #[allow(clippy::disallowed_methods)]
    pub fn now(&self) -> DateTime<Utc> {
        Utc::now()
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
