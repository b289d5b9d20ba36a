//! How long a supplier really takes: what received orders teach.
//!
//! A day is counted from the day on which the supplier takes the order up (the day it was placed, or his next order day)
//! to the day on which the last of it came. Of many such counts two are told, both by nearest rank, so that each is a
//! count that really happened: the median, and the one that nine in ten did not exceed.

use super::calendar::OrderCalendar;
use chrono::NaiveDate;

/// The share that is called high, in percent.
const HIGH: usize = 90;

/// What received orders tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LeadTime {
    /// How many orders were counted; more than 0.
    pub orders: usize,
    /// Half of them took no longer.
    pub median_days: u32,
    /// Nine in ten took no longer.
    pub high_days: u32,
    /// What the supplier himself says.
    pub stated_days: u32,
}

impl LeadTime {
    /// The days to reckon with once enough orders are known: nine in ten came in so many days. Never fewer than stated: a
    /// supplier who was quicker than he says has promised nothing, and a day at the bench hangs on it.
    #[must_use]
    pub fn days_to_reckon_with(self) -> u32 {
        self.high_days.max(self.stated_days)
    }
}

/// What orders that were placed and complete on these days tell; `None` where there are none. An order that is said to have
/// come before it was taken up is left out.
#[must_use]
pub fn learned(orders: &[(NaiveDate, NaiveDate)], calendar: &OrderCalendar) -> Option<LeadTime> {
    let days = |&(placed, complete): &(NaiveDate, NaiveDate)| {
        // One that came before the next order day was taken up on the day itself, whatever the calendar says.
        let taken_up = calendar.next_order_day(placed).filter(|day| *day <= complete).unwrap_or(placed);
        u32::try_from((complete - taken_up).num_days()).ok()
    };
    let mut counted: Vec<u32> = orders.iter().filter_map(days).collect();
    counted.sort_unstable();
    let median_days = nearest_rank(&counted, 50)?;
    let high_days = nearest_rank(&counted, HIGH)?;
    Some(LeadTime { orders: counted.len(), median_days, high_days, stated_days: calendar.lead_time_days })
}

/// The smallest of the sorted values that at least so many percent of them do not exceed.
fn nearest_rank(sorted: &[u32], percent: usize) -> Option<u32> {
    let rank = (sorted.len() * percent).div_ceil(100);
    sorted.get(rank.checked_sub(1)?).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::calendar::Weekdays;
    use chrono::{Days, Weekday};

    fn day(number: u64) -> NaiveDate {
        NaiveDate::from_ymd_opt(2027, 3, 1).unwrap_or(NaiveDate::MIN) + Days::new(number)
    }

    #[test]
    fn ranks_are_counts_that_happened() {
        let check = |days: &[u64], median, high| {
            let orders: Vec<_> = days.iter().map(|days| (day(0), day(*days))).collect();
            let told = learned(&orders, &OrderCalendar { lead_time_days: 4, ..OrderCalendar::default() }).unwrap();
            assert_eq!((told.orders, told.median_days, told.high_days), (days.len(), median, high), "{days:?}");
        };
        check(&[5], 5, 5);
        check(&[7, 5], 5, 7);
        check(&[3, 9, 4], 4, 9);
        check(&[1, 2, 3, 4, 5, 6, 7, 8, 9, 30], 5, 9);
        check(&[1, 2, 3, 4, 5, 6, 7, 8, 9, 30, 31], 6, 30);
        assert_eq!(learned(&[], &OrderCalendar::default()), None);
    }

    #[test]
    fn days_count_from_the_day_the_order_is_taken_up() {
        let calendar = OrderCalendar {
            weekdays: Weekdays::default().with(Weekday::Thu),
            lead_time_days: 2,
            ..OrderCalendar::default()
        };
        // Placed on a Monday, taken up on Thursday.
        let told = learned(&[(day(0), day(8))], &calendar).unwrap();
        assert_eq!((told.high_days, told.days_to_reckon_with()), (5, 5));
        // It came before Thursday: somebody took it up.
        assert_eq!(learned(&[(day(0), day(1))], &calendar).unwrap().high_days, 1);
        assert_eq!(learned(&[(day(0), day(1))], &calendar).unwrap().days_to_reckon_with(), 2);
        assert_eq!(learned(&[(day(5), day(1))], &calendar), None);
    }
}
