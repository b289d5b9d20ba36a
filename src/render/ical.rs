//! Days as an iCalendar file (RFC 5545): order-by and best-before dates for the maker's own calendar.
//!
//! An entry keeps its UID from letter to letter, and its SEQUENCE grows with the moment of writing: a calendar that takes in
//! a later letter moves the entry instead of adding a second one (RFC 5545 3.8.4.7, 3.8.7.4).

use super::one_line;
use chrono::{DateTime, NaiveDate, Utc};
use icalendar::{Calendar, Component, Event, EventLike, EventStatus, Property};

/// A day for a calendar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DateEntry {
    /// What it is, the same in every letter: `order.VEY.1`, `best-before.L2605-1`. See [`key`].
    pub key: String,
    /// The day.
    pub day: NaiveDate,
    /// What stands in the calendar.
    pub summary: String,
    /// More of it.
    pub detail: String,
    /// True where an earlier letter told of the day and it no longer counts: the calendar strikes it out (RFC 5545 3.8.1.11).
    pub withdrawn: bool,
}

/// A key of words and codes: letters, digits, hyphens; whatever else a code holds is written as its number.
#[must_use]
pub fn key(parts: &[&str]) -> String {
    let part = |part: &&str| -> String {
        let letter = |letter: char| {
            if letter.is_ascii_alphanumeric() || letter == '-' {
                letter.to_string()
            } else {
                format!("_{:x}_", u32::from(letter))
            }
        };
        part.chars().map(letter).collect()
    };
    parts.iter().map(part).collect::<Vec<_>>().join(".")
}

/// The file. `written`: the moment of the letter; `workshop`: what tells this workshop's entries from those of others, a
/// domain name.
#[must_use]
pub fn calendar(entries: &[DateEntry], written: DateTime<Utc>, workshop: &str) -> String {
    let mut calendar = Calendar::empty();
    calendar
        .append_property(Property::new("VERSION", "2.0"))
        .append_property(Property::new("PRODID", "-//Stillroom//Stillroom//EN"))
        .append_property(Property::new("CALSCALE", "GREGORIAN"));
    // Minutes since 1970: they grow, and fit the 32 bits of an integer (RFC 5545 3.3.8) until the year 6053.
    let sequence = u32::try_from((written.timestamp() / 60).clamp(0, i64::from(i32::MAX))).unwrap_or(0);
    for entry in entries {
        let mut event = Event::new();
        event
            .uid(&format!("{}@{workshop}", entry.key))
            .timestamp(written)
            .sequence(sequence)
            .starts(entry.day)
            .summary(&one_line(&entry.summary))
            .description(&one_line(&entry.detail))
            .add_property("TRANSP", "TRANSPARENT");
        if entry.withdrawn {
            event.status(EventStatus::Cancelled);
        }
        calendar.push(event.done());
    }
    calendar.to_string()
}
