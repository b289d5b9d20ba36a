//! Which lines of a report are news, and which were told before: reminders that do not nag.
//!
//! A line is news when nobody has told of it, when it changed since, when one of the days that the settings name before
//! its own day has come since, or when its silence has ended since. Everything else stays quiet.

use chrono::{Days, NaiveDate};

/// Something that a report tells of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What kind of line: `order`, `late`, `short`, `lot`.
    pub kind: String,
    /// The code of the material or lot; with the kind it says which line this is. Several lines may share it.
    pub subject: String,
    /// What must not differ for the line to be the same: supplier and packs, say.
    pub state: String,
    /// The day that matters: order by, use by.
    pub day: Option<NaiveDate>,
    /// True where a later day than the one that was told of is no change.
    pub later_is_no_change: bool,
    /// An amount that may fall, or grow by a quarter, without being worth a word; 0 where it does not count.
    pub amount: i64,
    /// On which days before its own it is to be told again.
    pub days_before: Vec<u32>,
    /// Every so many days after its own it is told again while it stands; never where 0.
    pub overdue_every_days: u32,
    /// The line in words.
    pub words: String,
}

/// What was told of a line, and when last.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told {
    /// As [`Line::kind`].
    pub kind: String,
    /// As [`Line::subject`].
    pub subject: String,
    /// As [`Line::state`].
    pub state: String,
    /// As [`Line::day`].
    pub day: Option<NaiveDate>,
    /// As [`Line::amount`].
    pub amount: i64,
    /// The day of the last letter that held it.
    pub told_on: NaiveDate,
}

/// Silence about a material or lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Snooze {
    /// Code of the material or lot.
    pub subject: String,
    /// The day on which it is told of again.
    pub until: NaiveDate,
}

/// Why a line is news.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// Never told of.
    New,
    /// Told of, and other now.
    Changed,
    /// Its day is so many days off, or past where below 0.
    Near(i64),
    /// Its silence has ended.
    Awake,
}

/// What is news.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct News {
    /// Places in the list of lines, each with its reason, in order.
    pub lines: Vec<(usize, Why)>,
    /// How many lines are silenced.
    pub silenced: usize,
    /// What is to be remembered where a letter leaves today.
    pub told_if_sent: Vec<Told>,
    /// What is to be remembered where none does: what is gone is forgotten, so that it is news when it comes back.
    pub told_if_not: Vec<Told>,
}

/// Finds the news among `lines`, given what was told of before and what is silenced, on `today`.
#[must_use]
pub fn news(lines: &[Line], told: &[Told], snoozes: &[Snooze], today: NaiveDate) -> News {
    // A day yet to come was told of by a clock that was wrong: it would keep reminders away until then.
    let told: Vec<Told> = told.iter().map(|row| Told { told_on: row.told_on.min(today), ..row.clone() }).collect();
    let matches = match_up(lines, &told, today);
    let mut news = News { lines: Vec::new(), silenced: 0, told_if_sent: Vec::new(), told_if_not: Vec::new() };
    for (place, (line, matched)) in lines.iter().zip(matches).enumerate() {
        let before = matched.map(|(row, _)| &told[row]);
        news.told_if_not.extend(before.cloned());
        let until = snoozes.iter().filter(|snooze| snooze.subject == line.subject).map(|snooze| snooze.until).max();
        if until.is_some_and(|until| today < until) {
            news.silenced += 1;
            news.told_if_sent.extend(before.cloned());
            continue;
        }
        if let Some(why) = reason(line, matched.map(|(row, same)| (&told[row], same)), until, today) {
            news.lines.push((place, why));
        }
        news.told_if_sent.push(Told {
            kind: line.kind.clone(),
            subject: line.subject.clone(),
            state: line.state.clone(),
            day: day_of(line, before.filter(|told| told.state == line.state), today),
            amount: line.amount,
            told_on: today,
        });
    }
    news
}

/// For each line the row that told of it, and whether that told the same: rows that did come first, then what is left
/// of the same kind and subject, in order.
fn match_up(lines: &[Line], told: &[Told], today: NaiveDate) -> Vec<Option<(usize, bool)>> {
    let mut free = vec![true; told.len()];
    let mut matches = vec![None; lines.len()];
    for exactly in [true, false] {
        for (line, matched) in lines.iter().zip(&mut matches).filter(|(_, matched)| matched.is_none()) {
            let fits = |row: &Told| {
                (&row.kind, &row.subject) == (&line.kind, &line.subject) && (!exactly || same(line, row, today))
            };
            if let Some(row) = (0..told.len()).find(|&row| free[row] && fits(&told[row])) {
                free[row] = false;
                *matched = Some((row, exactly));
            }
        }
    }
    matches
}

/// True where what was told still holds. A day that has come moves on in a list, to today or to the next day on which
/// something can be done: that is time passing and no change. So is a lot's end that is put off.
fn same(line: &Line, told: &Told, today: NaiveDate) -> bool {
    let moved_on = told.day.is_some_and(|day| day <= today) && line.day.is_some();
    let put_off = line.later_is_no_change && line.day > told.day;
    let same_day = line.day == told.day || moved_on || put_off;
    let grown = i128::from(line.amount) * 4 > i128::from(told.amount) * 5;
    line.state == told.state && same_day && !grown
}

fn reason(line: &Line, before: Option<(&Told, bool)>, until: Option<NaiveDate>, today: NaiveDate) -> Option<Why> {
    let Some((told, unchanged)) = before else {
        return Some(Why::New);
    };
    if !unchanged {
        return Some(Why::Changed);
    }
    if until.is_some_and(|until| told.told_on < until && until <= today) {
        return Some(Why::Awake);
    }
    let day = day_of(line, Some(told), today)?;
    let since = |reminder: NaiveDate| told.told_on < reminder && reminder <= today;
    let before = |days: &u32| day.checked_sub_days(Days::new(u64::from(*days))).is_some_and(since);
    let near = line.days_before.iter().any(before) || overdue_again(line, day, told.told_on, today);
    near.then(|| Why::Near((day - today).num_days()))
}

/// The day that is remembered of a line and counted from. One that was told of and has come stays what it was, although
/// the line moves on with today: so it is known for how long it is overdue.
fn day_of(line: &Line, told: Option<&Told>, today: NaiveDate) -> Option<NaiveDate> {
    let come = told.and_then(|told| told.day).filter(|day| *day <= today);
    line.day.map(|day| come.unwrap_or(day))
}

/// True where a whole number of the line's steps after its day has come since it was told.
fn overdue_again(line: &Line, day: NaiveDate, told_on: NaiveDate, today: NaiveDate) -> bool {
    let step = i64::from(line.overdue_every_days);
    if step == 0 || today <= day {
        return false;
    }
    let steps = |until: NaiveDate| (until - day).num_days().max(0) / step;
    steps(today) > steps(told_on)
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::Datelike;

    fn date(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn line(subject: &str, state: &str, day: &str) -> Line {
        Line {
            kind: "order".to_owned(),
            subject: subject.to_owned(),
            state: state.to_owned(),
            day: Some(date(day)),
            later_is_no_change: false,
            amount: 0,
            days_before: vec![7, 2, 0],
            overdue_every_days: 7,
            words: String::new(),
        }
    }

    /// Tells day after day, from the first of March 2027 on, and returns the days on which there was news.
    fn days_of_news(days: u64, snoozes: &[Snooze], lines: impl Fn(NaiveDate) -> Vec<Line>) -> Vec<(String, Vec<Why>)> {
        let mut told = Vec::new();
        let mut heard = Vec::new();
        for number in 0..days {
            let today = date("2027-03-01") + Days::new(number);
            let found = news(&lines(today), &told, snoozes, today);
            told = if found.lines.is_empty() { found.told_if_not } else { found.told_if_sent };
            if !found.lines.is_empty() {
                heard.push((today.format("%m-%d").to_string(), found.lines.iter().map(|(_, why)| *why).collect()));
            }
        }
        heard
    }

    fn heard(list: &[(&str, Why)]) -> Vec<(String, Vec<Why>)> {
        list.iter().map(|(day, why)| ((*day).to_owned(), vec![*why])).collect()
    }

    #[test]
    fn a_line_that_stays_is_told_when_new_and_near() {
        let days = days_of_news(30, &[], |today| {
            // Not ordered in time, the proposal says "order today" every day.
            vec![line("shea", "2 x 1 kg from ostrel", "2027-03-15").moved_to(today)]
        });
        let expected = [("03-01", Why::New), ("03-08", Why::Near(7)), ("03-13", Why::Near(2)), ("03-15", Why::Near(0))];
        let overdue = [("03-22", Why::Near(-7)), ("03-29", Why::Near(-14))];
        assert_eq!(days, heard(&[&expected[..], &overdue].concat()));
    }

    impl Line {
        fn moved_to(mut self, today: NaiveDate) -> Self {
            self.day = self.day.map(|day| day.max(today));
            self
        }
    }

    #[test]
    fn what_is_overdue_is_told_once_a_week() {
        // The supplier takes orders on Mondays; nobody orders.
        let days = days_of_news(22, &[], |today| {
            let monday = (0..7).map(|ahead| today.max(date("2027-03-08")) + Days::new(ahead));
            let monday = monday.filter(|day| day.weekday() == chrono::Weekday::Mon).min().unwrap();
            vec![line("shea", "a", &monday.to_string())]
        });
        let near = [("03-01", Why::New), ("03-06", Why::Near(2)), ("03-08", Why::Near(0))];
        let again = [("03-15", Why::Near(-7)), ("03-22", Why::Near(-14))];
        assert_eq!(days, heard(&[&near[..], &again].concat()));
    }

    #[test]
    fn a_lot_that_ends_later_is_no_news_and_one_that_ends_sooner_is() {
        let lot = |day: &str| Line { later_is_no_change: true, days_before: vec![30], ..line("L1", "", day) };
        let told = news(&[lot("2027-06-01")], &[], &[], date("2027-03-01")).told_if_sent;
        assert_eq!(news(&[lot("2027-09-01")], &told, &[], date("2027-05-05")).lines, []);
        assert_eq!(news(&[lot("2027-06-01")], &told, &[], date("2027-05-05")).lines, [(0, Why::Near(27))]);
        assert_eq!(news(&[lot("2027-05-20")], &told, &[], date("2027-03-02")).lines, [(0, Why::Changed)]);
    }

    #[test]
    fn reminders_that_were_slept_through_come_once() {
        let told = news(&[line("shea", "a", "2027-03-15")], &[], &[], date("2027-03-01")).told_if_sent;
        let found =
            news(&[line("shea", "a", "2027-03-20").moved_to(date("2027-03-20"))], &told, &[], date("2027-03-20"));
        assert_eq!(found.lines, [(0, Why::Near(-5))]);
    }

    #[test]
    fn a_change_of_packs_supplier_or_day_is_news_and_a_placed_order_silences() {
        let days = days_of_news(12, &[], |today| match today.format("%d").to_string().as_str() {
            "01" | "02" => vec![line("shea", "2 x 1 kg from ostrel", "2027-04-15")],
            "03" | "04" => vec![line("shea", "3 x 1 kg from ostrel", "2027-04-15")],
            "05" | "06" => vec![line("shea", "3 x 1 kg from ostrel", "2027-04-12")],
            // Placed, then cancelled.
            "07" | "08" => Vec::new(),
            _ => vec![line("shea", "3 x 1 kg from ostrel", "2027-04-12")],
        });
        let expected = [("03-01", Why::New), ("03-03", Why::Changed), ("03-05", Why::Changed), ("03-09", Why::New)];
        assert_eq!(days, heard(&expected));
    }

    #[test]
    fn of_two_lines_of_a_material_only_the_changed_one_is_news() {
        let before = [line("shea", "a", "2027-04-15"), line("shea", "b", "2027-04-20")];
        let told = news(&before, &[], &[], date("2027-03-01")).told_if_sent;
        let now = [line("shea", "c", "2027-04-15"), line("shea", "b", "2027-04-20"), line("cocoa", "a", "2027-04-15")];
        assert_eq!(news(&now, &told, &[], date("2027-03-02")).lines, [(0, Why::Changed), (2, Why::New)]);
    }

    #[test]
    fn what_is_silenced_says_nothing_until_its_day_and_then_speaks() {
        let snoozes = [Snooze { subject: "shea".to_owned(), until: date("2027-03-10") }];
        let known = days_of_news(20, &snoozes, |today| {
            vec![line("shea", "a", "2027-03-05").moved_to(today), line("cocoa", "a", "2027-06-01")]
        });
        let both = [("03-01", Why::New), ("03-10", Why::New), ("03-17", Why::Near(-7))];
        assert_eq!(known, heard(&both), "the other is told at once, the silenced one on the day");
        // One that was told of before it was silenced.
        let told = news(&[line("shea", "a", "2027-05-05")], &[], &[], date("2027-03-01")).told_if_sent;
        let quiet = news(&[line("shea", "b", "2027-05-05")], &told, &snoozes, date("2027-03-09"));
        assert_eq!((quiet.lines.len(), quiet.silenced, &quiet.told_if_sent), (0, 1, &told));
        let awake = news(&[line("shea", "a", "2027-05-05")], &told, &snoozes, date("2027-03-11"));
        assert_eq!(awake.lines, [(0, Why::Awake)]);
        assert_eq!(
            news(&[line("shea", "a", "2027-05-05")], &awake.told_if_sent, &snoozes, date("2027-03-12")).lines,
            []
        );
    }

    #[test]
    fn what_was_told_by_a_clock_that_was_ahead_is_told_again_in_time() {
        let told = news(&[line("shea", "a", "2027-03-15")], &[], &[], date("2028-01-01")).told_if_sent;
        let quiet = news(&[line("shea", "a", "2027-03-15")], &told, &[], date("2027-03-07"));
        assert_eq!(quiet.lines, []);
        let near = news(&[line("shea", "a", "2027-03-15")], &quiet.told_if_not, &[], date("2027-03-08"));
        assert_eq!(near.lines, [(0, Why::Near(7))]);
    }

    #[test]
    fn an_amount_is_news_when_it_grows_by_more_than_a_quarter() {
        let lot = |amount| Line { amount, ..line("L1", "", "2027-06-01") };
        let told = news(&[lot(1_000)], &[], &[], date("2027-03-01")).told_if_sent;
        for (amount, is_news) in [(1_000, false), (10, false), (1_250, false), (1_251, true)] {
            assert_eq!(!news(&[lot(amount)], &told, &[], date("2027-03-02")).lines.is_empty(), is_news, "{amount}");
        }
    }
}
