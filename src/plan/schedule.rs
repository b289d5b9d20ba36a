//! When something is due: days in plain words, a time of the wall clock, and the moments that follow from both.
//!
//! A run is a day and a moment. Where the clocks go forward over the time of a run, the run is at the moment that the
//! offset before the gap gives it (02:30 becomes 03:30 of summer time); where they go back and the time comes twice, it
//! is the first of the two. Both as RFC 5545, 3.3.5, has it, and either way the run is there exactly once. A day that
//! its month does not have (31 in April, 29 in most Februaries) is the last of that month, as `Span::after` has it.

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, TimeZone, Utc, Weekday};
use std::fmt;
use std::str::FromStr;

/// Every rule names at least one day in so many: two months and a little for the zone.
const SEARCHED_DAYS: u64 = 70;

/// No zone was ever shifted by more than a day at once; two hours are for safety.
const LONGEST_GAP_HOURS: i64 = 26;

/// A wall clock: what it shows at a moment, and at which moments it shows something. Any time zone is one.
pub trait Wall {
    /// What it shows.
    fn shows(&self, moment: DateTime<Utc>) -> NaiveDateTime;
    /// When it shows this for the first time; `None` where it never does.
    fn first(&self, wall: NaiveDateTime) -> Option<DateTime<Utc>>;
    /// When it shows this for the last time; `None` where it never does.
    fn last(&self, wall: NaiveDateTime) -> Option<DateTime<Utc>>;
}

impl<Zone: TimeZone> Wall for Zone {
    fn shows(&self, moment: DateTime<Utc>) -> NaiveDateTime {
        moment.with_timezone(self).naive_local()
    }

    fn first(&self, wall: NaiveDateTime) -> Option<DateTime<Utc>> {
        self.from_local_datetime(&wall).earliest().map(|moment| moment.with_timezone(&Utc))
    }

    fn last(&self, wall: NaiveDateTime) -> Option<DateTime<Utc>> {
        self.from_local_datetime(&wall).latest().map(|moment| moment.with_timezone(&Utc))
    }
}

/// The moment of a wall time: the first of two; with the offset before the gap where there is none (RFC 5545, 3.3.5).
/// `None` at the ends of the calendar only.
#[must_use]
pub fn moment_of(wall: NaiveDateTime, clock: &dyn Wall) -> Option<DateTime<Utc>> {
    if let Some(moment) = clock.first(wall) {
        return Some(moment);
    }
    (1..=LONGEST_GAP_HOURS).map(TimeDelta::hours).find_map(|back| {
        let before = wall.checked_sub_signed(back)?;
        clock.last(before)?.checked_add_signed(back)
    })
}

/// Which of the same weekdays of a month.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Which {
    /// From the first to the fourth.
    Nth(u8),
    /// The fourth or fifth, whichever is the last.
    Last,
}

/// Which days.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum DayRule {
    /// All of them.
    Every,
    /// Each of this weekday.
    Weekday(Weekday),
    /// Of each month this day, 1 to 31, or its last where it is shorter.
    MonthDay(u32),
    /// Of each month the last day.
    LastOfMonth,
    /// Of each month this weekday.
    OfMonth(Which, Weekday),
}

impl DayRule {
    fn holds(self, day: NaiveDate) -> bool {
        match self {
            Self::Every => true,
            Self::Weekday(weekday) => day.weekday() == weekday,
            Self::MonthDay(number) => day.day() == number.min(last_of_month(day)),
            Self::LastOfMonth => day.day() == last_of_month(day),
            Self::OfMonth(Which::Nth(number), weekday) => {
                day.weekday() == weekday && (day.day() - 1) / 7 + 1 == u32::from(number)
            }
            Self::OfMonth(Which::Last, weekday) => day.weekday() == weekday && day.day() + 7 > last_of_month(day),
        }
    }
}

/// The number of the last day of the day's month.
fn last_of_month(day: NaiveDate) -> u32 {
    u32::from(day.num_days_in_month())
}

impl fmt::Display for DayRule {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Every => formatter.write_str("every day"),
            Self::Weekday(weekday) => write!(formatter, "{weekday}"),
            Self::MonthDay(number) => write!(formatter, "{number}"),
            Self::LastOfMonth => formatter.write_str("last"),
            Self::OfMonth(Which::Last, weekday) => write!(formatter, "last {weekday}"),
            Self::OfMonth(Which::Nth(number), weekday) => {
                let word = ["first", "second", "third"].get(usize::from(*number).saturating_sub(1));
                write!(formatter, "{} {weekday}", word.unwrap_or(&"fourth"))
            }
        }
    }
}

/// Days that any of some rules names; at least one rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DaySet {
    rules: Vec<DayRule>,
}

/// A word that names no day.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DaySetError {
    /// Nothing was said.
    #[error("no day is named; write \"every day\", \"Mon Thu\", \"1 15\", \"last\" or \"first Mon\", say")]
    Empty,
    /// A word that is none of ours.
    #[error("{0:?} names no day; write \"every day\", \"Mon Thu\", \"1 15\", \"last\" or \"first Mon\", say")]
    Word(String),
    /// `first`, `second`, ... without a weekday after it.
    #[error("after {0:?} there should be a day of the week: \"{0} Mon\", say")]
    NoWeekday(String),
}

impl DaySet {
    /// True where a rule names the day.
    #[must_use]
    pub fn holds(&self, day: NaiveDate) -> bool {
        self.rules.iter().any(|rule| rule.holds(day))
    }
}

impl fmt::Display for DaySet {
    /// In the words that it is read from.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, rule) in self.rules.iter().enumerate() {
            // After a bare `last` a comma keeps the next word from being taken for its weekday.
            let after_last = place > 0 && self.rules[place - 1] == DayRule::LastOfMonth;
            let gap = if after_last { ", " } else { " " };
            write!(formatter, "{}{rule}", if place == 0 { "" } else { gap })?;
        }
        Ok(())
    }
}

impl FromStr for DaySet {
    type Err = DaySetError;

    /// `every day`; `Mon Thu`; `1 15`; `last` (of the month); `first Mon`; `last Fri`; any of them together.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let mut rules: Vec<DayRule> = Vec::new();
        for part in text.split([',', ';']) {
            let words: Vec<String> = part.split_whitespace().map(str::to_lowercase).collect();
            let mut words = words.iter().map(String::as_str).filter(|word| *word != "and").peekable();
            while let Some(word) = words.next() {
                let next_weekday = words.peek().and_then(|word| word.parse::<Weekday>().ok());
                let nth = ["first", "second", "third", "fourth"].iter().position(|ordinal| *ordinal == word);
                let which = match nth {
                    Some(place) => Some(Which::Nth(place as u8 + 1)),
                    None if word == "last" && next_weekday.is_some() => Some(Which::Last),
                    None => None,
                };
                let rule = match (which, next_weekday) {
                    (Some(which), Some(weekday)) => {
                        words.next();
                        DayRule::OfMonth(which, weekday)
                    }
                    (Some(_), None) => return Err(DaySetError::NoWeekday(word.to_owned())),
                    (None, _) => match word {
                        "last" => DayRule::LastOfMonth,
                        "daily" => DayRule::Every,
                        "every" if words.peek() == Some(&"day") => {
                            words.next();
                            DayRule::Every
                        }
                        _ => plain_day(word)?,
                    },
                };
                if !rules.contains(&rule) {
                    rules.push(rule);
                }
            }
        }
        if rules.is_empty() { Err(DaySetError::Empty) } else { Ok(Self { rules }) }
    }
}

/// A weekday, or a day of the month.
fn plain_day(word: &str) -> Result<DayRule, DaySetError> {
    if let Ok(weekday) = word.parse::<Weekday>() {
        return Ok(DayRule::Weekday(weekday));
    }
    let number = word.parse::<u32>().ok().filter(|number| (1..=31).contains(number));
    number.map(DayRule::MonthDay).ok_or_else(|| DaySetError::Word(word.to_owned()))
}

/// On these days, at this time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Schedule {
    /// On which days of the workshop.
    pub days: DaySet,
    /// At which time of its wall clock.
    pub at: NaiveTime,
}

/// One time at which a schedule is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// The day that it is for.
    pub day: NaiveDate,
    /// The moment.
    pub at: DateTime<Utc>,
}

impl Schedule {
    /// The run of a day; `None` where the schedule does not name it.
    #[must_use]
    pub fn run_on(&self, day: NaiveDate, clock: &dyn Wall) -> Option<Run> {
        if !self.days.holds(day) {
            return None;
        }
        moment_of(day.and_time(self.at), clock).map(|at| Run { day, at })
    }

    /// The first run after a moment; `None` at the end of the calendar only.
    #[must_use]
    pub fn next_after(&self, moment: DateTime<Utc>, clock: &dyn Wall) -> Option<Run> {
        // A run in a gap may be shown a day later than its own: begin a little before.
        let first = clock.shows(moment).date().checked_sub_days(Days::new(2))?;
        let days = (0..=SEARCHED_DAYS).filter_map(|ahead| first.checked_add_days(Days::new(ahead)));
        days.filter_map(|day| self.run_on(day, clock)).find(|run| run.at > moment)
    }

    /// The last run at a moment or before it; `None` at the beginning of the calendar only.
    #[must_use]
    pub fn last_through(&self, moment: DateTime<Utc>, clock: &dyn Wall) -> Option<Run> {
        let last = clock.shows(moment).date().checked_add_days(Days::new(1))?;
        let days = (0..=SEARCHED_DAYS).filter_map(|back| last.checked_sub_days(Days::new(back)));
        days.filter_map(|day| self.run_on(day, clock)).find(|run| run.at <= moment)
    }

    /// The last run after one moment and through another, with the number of runs between the two; `None` for none.
    #[must_use]
    pub fn due(&self, after: DateTime<Utc>, through: DateTime<Utc>, clock: &dyn Wall) -> Option<(Run, usize)> {
        let last = self.last_through(through, clock).filter(|run| run.at > after)?;
        let following = |run: &Run| self.next_after(run.at, clock);
        let runs = std::iter::successors(self.next_after(after, clock), following);
        Some((last, runs.take_while(|run| run.at <= through).count()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono_tz::Tz;

    fn schedule(days: &str, at: &str) -> Schedule {
        Schedule { days: days.parse().unwrap(), at: at.parse().unwrap() }
    }

    fn moment(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    fn runs(days: &str, at: &str, zone: Tz, after: &str, count: usize) -> Vec<String> {
        let schedule = schedule(days, at);
        let first = schedule.next_after(moment(after), &zone);
        let runs = std::iter::successors(first, |run| schedule.next_after(run.at, &zone));
        runs.take(count).map(|run| run.at.format("%Y-%m-%dT%H:%MZ").to_string()).collect()
    }

    #[test]
    fn words_are_read_and_written() {
        for (text, written) in [
            ("Mon Thu", "Mon Thu"),
            ("monday, Thursday and 15", "Mon Thu 15"),
            ("every day", "every day"),
            ("Daily", "every day"),
            ("1 15 last", "1 15 last"),
            ("last, Mon", "last, Mon"),
            ("last Mon", "last Mon"),
            ("first Mon third mon", "first Mon third Mon"),
            ("Mon Mon", "Mon"),
        ] {
            let days: DaySet = text.parse().unwrap_or_else(|error| panic!("{text}: {error}"));
            assert_eq!(days.to_string(), written);
            assert_eq!(written.parse::<DaySet>().unwrap(), days);
        }
        for (text, error) in [
            ("", DaySetError::Empty),
            (" , ", DaySetError::Empty),
            ("32", DaySetError::Word("32".to_owned())),
            ("0", DaySetError::Word("0".to_owned())),
            ("every", DaySetError::Word("every".to_owned())),
            ("Mo Xx", DaySetError::Word("mo".to_owned())),
            ("first", DaySetError::NoWeekday("first".to_owned())),
            ("second 3", DaySetError::NoWeekday("second".to_owned())),
        ] {
            assert_eq!(text.parse::<DaySet>().unwrap_err(), error, "{text:?}");
        }
    }

    #[test]
    fn a_time_that_does_not_exist_is_once_at_the_old_offset() {
        let berlin = runs("every day", "02:30", Tz::Europe__Berlin, "2027-03-27T12:00:00Z", 3);
        // On 28 March 02:00 becomes 03:00: 02:30 at the offset before is 03:30 of summer time.
        assert_eq!(berlin, ["2027-03-28T01:30Z", "2027-03-29T00:30Z", "2027-03-30T00:30Z"]);
    }

    #[test]
    fn a_time_that_comes_twice_is_once_at_the_first() {
        let berlin = runs("every day", "02:30", Tz::Europe__Berlin, "2027-10-30T12:00:00Z", 2);
        assert_eq!(berlin, ["2027-10-31T00:30Z", "2027-11-01T01:30Z"]);
        // Between the two half past twos nothing more is due.
        let daily = schedule("every day", "02:30");
        assert_eq!(
            daily.due(moment("2027-10-31T00:30:00Z"), moment("2027-10-31T05:00:00Z"), &Tz::Europe__Berlin),
            None
        );
    }

    #[test]
    fn a_day_that_a_zone_leaves_out_is_one_run_with_the_next() {
        // Samoa had no 30 December 2011.
        let samoa = runs("every day", "07:30", Tz::Pacific__Apia, "2011-12-29T00:00:00Z", 3);
        assert_eq!(samoa, ["2011-12-29T17:30Z", "2011-12-30T17:30Z", "2011-12-31T17:30Z"]);
    }

    #[test]
    fn the_end_of_a_month_stands_in_for_days_that_it_does_not_have() {
        let ends = runs("31", "09:00", Tz::UTC, "2028-01-01T00:00:00Z", 4);
        assert_eq!(ends, ["2028-01-31T09:00Z", "2028-02-29T09:00Z", "2028-03-31T09:00Z", "2028-04-30T09:00Z"]);
        let once = runs("29 30 31 last", "09:00", Tz::UTC, "2027-02-01T00:00:00Z", 4);
        assert_eq!(once, ["2027-02-28T09:00Z", "2027-03-29T09:00Z", "2027-03-30T09:00Z", "2027-03-31T09:00Z"]);
    }

    #[test]
    fn what_was_missed_is_counted_and_the_last_of_it_named() {
        let daily = schedule("every day", "07:30");
        let zone = Tz::Europe__Lisbon;
        let due = |after: &str, through: &str| daily.due(moment(after), moment(through), &zone);
        let (run, count) = due("2027-03-01T07:30:00Z", "2027-03-06T07:29:59Z").unwrap();
        assert_eq!((run.day.to_string(), count), ("2027-03-05".to_owned(), 4));
        assert_eq!(due("2027-03-01T07:30:00Z", "2027-03-02T07:29:59Z"), None);
        assert_eq!(due("2027-03-01T07:29:59Z", "2027-03-01T07:30:00Z").map(|(_, count)| count), Some(1));
    }
}
