//! Civil dates: how long things last, on which days a supplier takes orders, and when he is closed.

use chrono::{Datelike, Days, Months, NaiveDate, Weekday};
use std::fmt;

/// A day near `today` as people say it: `Thu 4 March`, with its year where that is another one.
#[must_use]
pub fn day_in_words(date: NaiveDate, today: NaiveDate) -> String {
    let pattern = if date.year() == today.year() { "%a %-d %B" } else { "%a %-d %B %Y" };
    date.format(pattern).to_string()
}

/// A date of ISO 8601 in its plain form, `2027-03-09`; the common parser takes many forms, and ten times as long.
#[must_use]
pub fn iso_day(text: &str) -> Option<NaiveDate> {
    let [y1, y2, y3, y4, b'-', m1, m2, b'-', d1, d2] = *text.as_bytes() else { return None };
    let number = |digits: &[u8]| {
        digits.iter().try_fold(0_u32, |sum, digit| digit.is_ascii_digit().then(|| sum * 10 + u32::from(digit - b'0')))
    };
    let year = i32::try_from(number(&[y1, y2, y3, y4])?).ok()?;
    NaiveDate::from_ymd_opt(year, number(&[m1, m2])?, number(&[d1, d2])?)
}

/// A length of time in months and days, as labels and contracts give it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Span {
    /// Calendar months, counted first.
    pub months: u32,
    /// Days, counted after the months.
    pub days: u32,
}

impl Span {
    /// The longest span that may be entered: 100 years.
    pub const MAX_MONTHS: u32 = 1_200;
    /// The same in days.
    pub const MAX_DAYS: u32 = 36_525;

    /// The day this long after `date`: the same day of the month, or the last of it, then so many days.
    /// The calendar's end stands in for a day beyond it.
    #[must_use]
    pub fn after(self, date: NaiveDate) -> NaiveDate {
        date.checked_add_months(Months::new(self.months))
            .and_then(|day| day.checked_add_days(Days::new(u64::from(self.days))))
            .unwrap_or(NaiveDate::MAX)
    }

    /// True for no time at all.
    #[must_use]
    pub fn is_zero(self) -> bool {
        self.months == 0 && self.days == 0
    }
}

impl fmt::Display for Span {
    /// As the files write it: `18 months`, `540 days`, or an ISO 8601 duration where both are needed.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.months, self.days) {
            (0, days) => write!(formatter, "{days} days"),
            (months, 0) => write!(formatter, "{months} months"),
            (months, days) => write!(formatter, "P{months}M{days}D"),
        }
    }
}

/// Days of the week, as a set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Weekdays {
    bits: u8,
}

impl Weekdays {
    /// Adds a day.
    #[must_use]
    pub fn with(self, day: Weekday) -> Self {
        Self { bits: self.bits | (1 << day.num_days_from_monday()) }
    }

    /// True where no day was named, which means every day.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.bits == 0
    }

    /// True where the set holds the day, or names none.
    #[must_use]
    pub fn allows(self, day: Weekday) -> bool {
        self.is_empty() || self.bits & (1 << day.num_days_from_monday()) != 0
    }
}

impl fmt::Display for Weekdays {
    /// `Mon Thu`.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = true;
        let mut day = Weekday::Mon;
        for _ in 0..7 {
            if !self.is_empty() && self.allows(day) {
                write!(formatter, "{}{day}", if first { "" } else { " " })?;
                first = false;
            }
            day = day.succ();
        }
        Ok(())
    }
}

/// Days on which a supplier is closed; both ends belong to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct ClosedPeriod {
    /// First closed day.
    pub from: NaiveDate,
    /// Last closed day.
    pub to: NaiveDate,
}

impl fmt::Display for ClosedPeriod {
    /// An ISO 8601 interval.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{}/{}", self.from, self.to)
    }
}

/// The days on which a supplier takes orders, and how long they take to arrive.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OrderCalendar {
    /// Days of the week on which orders are taken.
    pub weekdays: Weekdays,
    /// When no order is taken at all.
    pub closed: Vec<ClosedPeriod>,
    /// Calendar days from order to arrival.
    pub lead_time_days: u32,
}

impl OrderCalendar {
    /// True where an order can be placed on the day.
    #[must_use]
    pub fn takes_orders_on(&self, day: NaiveDate) -> bool {
        self.weekdays.allows(day.weekday()) && !self.closed.iter().any(|period| period.from <= day && day <= period.to)
    }

    /// The day on which an order of `order_day` arrives.
    #[must_use]
    pub fn arrival(&self, order_day: NaiveDate) -> NaiveDate {
        Span { months: 0, days: self.lead_time_days }.after(order_day)
    }

    /// The latest order day that arrives on `day` or before. It may lie before today; it is looked for up to ten years back.
    #[must_use]
    pub fn latest_order_day(&self, day: NaiveDate) -> Option<NaiveDate> {
        let mut candidate = day.checked_sub_days(Days::new(u64::from(self.lead_time_days)))?;
        let earliest = candidate.checked_sub_days(Days::new(3_653))?;
        while candidate >= earliest {
            if let Some(period) = self.closed.iter().find(|period| period.from <= candidate && candidate <= period.to) {
                candidate = period.from.pred_opt()?;
            } else if self.weekdays.allows(candidate.weekday()) {
                return Some(candidate);
            } else {
                candidate = candidate.pred_opt()?;
            }
        }
        None
    }

    /// The first order day on or after `day`, looked for up to ten years ahead.
    #[must_use]
    pub fn next_order_day(&self, day: NaiveDate) -> Option<NaiveDate> {
        let mut candidate = day;
        let latest = day.checked_add_days(Days::new(3_653))?;
        while candidate <= latest {
            if let Some(period) = self.closed.iter().find(|period| period.from <= candidate && candidate <= period.to) {
                candidate = period.to.succ_opt()?;
            } else if self.weekdays.allows(candidate.weekday()) {
                return Some(candidate);
            } else {
                candidate = candidate.succ_opt()?;
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(text: &str) -> NaiveDate {
        text.parse().unwrap_or(NaiveDate::MIN)
    }

    #[test]
    fn a_plain_date_is_read_as_by_the_common_parser() {
        for day in NaiveDate::from_ymd_opt(1899, 12, 25).into_iter().flat_map(|first| first.iter_days().take(60_000)) {
            assert_eq!(iso_day(&day.to_string()), Some(day));
        }
        for text in [
            "2027-02-29",
            "2027-13-01",
            "2027-00-10",
            "2027-3-09",
            "2027-03-9",
            "2027/03/09",
            "",
            "+2027-03-09",
            "\u{661}027-03-0",
        ] {
            assert_eq!(iso_day(text), None, "{text}");
        }
    }

    #[test]
    fn a_month_later_is_the_same_day_or_the_last() {
        let check = |from: &str, months, days, expected: &str| {
            assert_eq!(Span { months, days }.after(date(from)), date(expected), "{from}");
        };
        check("2027-01-31", 1, 0, "2027-02-28");
        check("2028-01-31", 1, 0, "2028-02-29");
        check("2027-01-31", 1, 1, "2027-03-01");
        check("2027-03-09", 0, 540, "2028-08-30");
    }

    #[test]
    fn order_days_step_round_weekends_and_holidays() {
        let calendar = OrderCalendar {
            weekdays: Weekdays::default().with(Weekday::Mon).with(Weekday::Thu),
            closed: vec![ClosedPeriod { from: date("2027-03-01"), to: date("2027-03-07") }],
            lead_time_days: 3,
        };
        assert_eq!(calendar.weekdays.to_string(), "Mon Thu");
        assert_eq!(calendar.latest_order_day(date("2027-03-10")), Some(date("2027-02-25")));
        assert_eq!(calendar.latest_order_day(date("2027-03-11")), Some(date("2027-03-08")));
        assert_eq!(calendar.next_order_day(date("2027-02-26")), Some(date("2027-03-08")));
        assert_eq!(calendar.arrival(date("2027-03-08")), date("2027-03-11"));
    }
}
