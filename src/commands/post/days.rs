//! The days that the letters of a schedule have put into calendars, kept with what else they told of, so that the next
//! letter strikes out those that no longer count (RFC 5545 3.8.1.11).

use crate::plan::reminder::Told;
use crate::render::ical::DateEntry;
use chrono::NaiveDate;

/// The kind under which a day is remembered; no line of a report is of this kind.
const CALENDAR: &str = "calendar";

/// What was told of: days for calendars, and everything else.
pub fn apart(told: Vec<Told>) -> (Vec<Told>, Vec<Told>) {
    told.into_iter().partition(|row| row.kind == CALENDAR)
}

/// The days that stand in calendars, are not over, and are in no report any more.
pub fn struck_out(days: &[Told], entries: &[DateEntry], today: NaiveDate) -> Vec<DateEntry> {
    let entry = |row: &Told| {
        let day = row.day.filter(|day| *day >= today)?;
        let gone = entries.iter().all(|entry| entry.key != row.subject);
        gone.then(|| DateEntry {
            key: row.subject.clone(),
            day,
            summary: row.state.clone(),
            detail: "This no longer counts: the plan is another, or it is done.".to_owned(),
            withdrawn: true,
        })
    };
    days.iter().filter_map(entry).collect()
}

/// What is to be remembered of a letter with these days.
pub fn remembered(entries: &[DateEntry], today: NaiveDate) -> Vec<Told> {
    let mut rows: Vec<Told> = Vec::new();
    for entry in entries {
        if rows.iter().all(|row| row.subject != entry.key) {
            rows.push(Told {
                kind: CALENDAR.to_owned(),
                subject: entry.key.clone(),
                state: entry.summary.clone(),
                day: Some(entry.day),
                amount: 0,
                told_on: today,
            });
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(key: &str, day: &str) -> DateEntry {
        let (summary, detail) = (format!("Order {key}"), "2 x 1 kg Shea butter".to_owned());
        DateEntry { key: key.to_owned(), day: day.parse().unwrap(), summary, detail, withdrawn: false }
    }

    #[test]
    fn what_was_told_and_is_gone_is_struck_out_once_and_only_while_it_is_ahead() {
        let date = |text: &str| text.parse::<NaiveDate>().unwrap();
        let first =
            [entry("order.A.1", "2027-03-02"), entry("order.B.1", "2027-03-09"), entry("order.B.2", "2027-03-20")];
        let (days, others) = apart(remembered(&first, date("2027-03-01")));
        assert_eq!((days.len(), others.len()), (3, 0));
        // The first order was placed, so that the second became the first; the third is no longer needed.
        let second = [entry("order.B.1", "2027-03-20")];
        let gone = struck_out(&days, &second, date("2027-03-05"));
        let told: Vec<_> = gone.iter().map(|entry| (entry.key.as_str(), entry.day, entry.withdrawn)).collect();
        assert_eq!(told, [("order.B.2", date("2027-03-20"), true)]);
        let (days, _) = apart(remembered(&second, date("2027-03-05")));
        assert_eq!(struck_out(&days, &second, date("2027-03-06")), []);
    }
}
