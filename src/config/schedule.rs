//! The `[[schedule]]` parts of the config: which reports, when, to whom; and the `[reminders]` part.

use super::{ConfigError, Source};
use crate::plan::schedule::{DaySet, Schedule};
use crate::post::address::Mailbox;
use crate::post::report_name::ReportName;
use chrono::NaiveTime;
use serde::Deserialize;
use toml::Spanned;

/// A letter that comes by itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScheduledLetter {
    /// What the maker calls it; no two are called the same.
    pub name: String,
    /// What is in it, in order; at least one.
    pub reports: Vec<ReportName>,
    /// When it is due.
    pub schedule: Schedule,
    /// To whom; at least one.
    pub to: Vec<Mailbox>,
    /// True where it comes also without news.
    pub always: bool,
}

/// On which days before its own a line is told again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reminders {
    /// Before the day to order by.
    pub order_days_before: Vec<u32>,
    /// Before the last day that a lot can be used.
    pub expiry_days_before: Vec<u32>,
    /// Every so many days what is overdue is told again; never where 0.
    pub overdue_every_days: u32,
}

impl Default for Reminders {
    fn default() -> Self {
        Self { order_days_before: vec![7, 2, 0], expiry_days_before: vec![30, 7], overdue_every_days: 7 }
    }
}

/// Longest name of a schedule, in characters: it stands in subjects and file names.
const LONGEST_NAME: usize = 60;

/// One part as written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Written {
    name: Spanned<String>,
    reports: Spanned<Vec<Spanned<String>>>,
    days: Spanned<String>,
    at: Spanned<String>,
    to: Option<Spanned<Vec<Spanned<String>>>>,
    when: Option<Spanned<String>>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WrittenReminders {
    order_days_before: Option<Spanned<Vec<i64>>>,
    expiry_days_before: Option<Spanned<Vec<i64>>>,
    overdue_every_days: Option<Spanned<i64>>,
}

/// Checks the parts. `usual_to` is who gets letters where a part does not say.
pub(super) fn read(
    file: &Source<'_>,
    written: &[Spanned<Written>],
    usual_to: &[Mailbox],
) -> Result<Vec<ScheduledLetter>, ConfigError> {
    let mut letters: Vec<ScheduledLetter> = Vec::new();
    for part in written {
        let letter = one(file, part, usual_to)?;
        if letters.iter().any(|other| other.name.to_lowercase() == letter.name.to_lowercase()) {
            let message = format!("there is a schedule {:?} already; give this one another name", letter.name);
            return Err(file.wrong(part.get_ref().name.span(), message));
        }
        letters.push(letter);
    }
    Ok(letters)
}

fn one(file: &Source<'_>, part: &Spanned<Written>, usual_to: &[Mailbox]) -> Result<ScheduledLetter, ConfigError> {
    let written = part.get_ref();
    let reports = reports(file, &written.reports)?;
    let days = written.days.get_ref().parse::<DaySet>();
    let days = days.map_err(|error| file.wrong(written.days.span(), error.to_string()))?;
    let at = ["%H:%M", "%H:%M:%S"].iter().find_map(|form| NaiveTime::parse_from_str(written.at.get_ref(), form).ok());
    let at = at.ok_or_else(|| {
        file.wrong(written.at.span(), format!("at is {:?}; write hours and minutes: \"07:30\"", written.at.get_ref()))
    })?;
    let to = match &written.to {
        Some(to) => recipients(file, to)?,
        None => usual_to.to_vec(),
    };
    if to.is_empty() {
        let message = "nobody gets this letter; set `to` here or in the [mail] part";
        return Err(file.wrong(written.to.as_ref().map_or(part.span(), Spanned::span), message));
    }
    let always = match written.when.as_ref().map(|when| (when.get_ref().as_str(), when.span())) {
        None | Some(("news", _)) => false,
        Some(("always", _)) => true,
        Some((other, span)) => {
            return Err(file.wrong(span, format!("when is {other:?}; it should be \"news\" or \"always\"")));
        }
    };
    if !always && !reports.iter().any(|report| report.tells_news()) {
        let message = "none of these reports tells news, so this letter would never come; set when = \"always\"";
        return Err(file.wrong(written.reports.span(), message));
    }
    Ok(ScheduledLetter { name: name(file, &written.name)?, reports, schedule: Schedule { days, at }, to, always })
}

fn name(file: &Source<'_>, name: &Spanned<String>) -> Result<String, ConfigError> {
    let text = name.get_ref().trim();
    let length = text.chars().count();
    if length == 0 || length > LONGEST_NAME || text.chars().any(char::is_control) {
        let message = format!("name is {:?}; it should be one line of 1 to {LONGEST_NAME} characters", name.get_ref());
        return Err(file.wrong(name.span(), message));
    }
    Ok(text.to_owned())
}

fn reports(file: &Source<'_>, written: &Spanned<Vec<Spanned<String>>>) -> Result<Vec<ReportName>, ConfigError> {
    let mut reports = Vec::new();
    for name in written.get_ref() {
        let report =
            name.get_ref().parse::<ReportName>().map_err(|error| file.wrong(name.span(), error.to_string()))?;
        if reports.contains(&report) {
            return Err(file.wrong(name.span(), format!("the report {report} is in this letter already")));
        }
        reports.push(report);
    }
    if reports.is_empty() {
        return Err(file.wrong(written.span(), format!("reports is empty; name some of {}", ReportName::all_names())));
    }
    Ok(reports)
}

fn recipients(file: &Source<'_>, written: &Spanned<Vec<Spanned<String>>>) -> Result<Vec<Mailbox>, ConfigError> {
    let address = |text: &Spanned<String>| {
        text.get_ref().parse::<Mailbox>().map_err(|error| file.wrong(text.span(), error.to_string()))
    };
    written.get_ref().iter().map(address).collect()
}

/// Checks the `[reminders]` part.
pub(super) fn reminders(file: &Source<'_>, written: &WrittenReminders) -> Result<Reminders, ConfigError> {
    let usual = Reminders::default();
    let days = |written: &Option<Spanned<Vec<i64>>>, usual: Vec<u32>, key: &str| {
        let Some(list) = written else { return Ok(usual) };
        let day = |day: &i64| u32::try_from(*day).ok().filter(|day| *day <= 365);
        list.get_ref().iter().map(day).collect::<Option<Vec<u32>>>().ok_or_else(|| {
            file.wrong(list.span(), format!("{key} is {:?}; each should be 0 to 365 days", list.get_ref()))
        })
    };
    let overdue_every_days = match &written.overdue_every_days {
        Some(days) => u32::try_from(*days.get_ref()).ok().filter(|days| *days <= 365).ok_or_else(|| {
            file.wrong(days.span(), format!("overdue_every_days is {}; it should be 0 to 365", days.get_ref()))
        })?,
        None => usual.overdue_every_days,
    };
    Ok(Reminders {
        overdue_every_days,
        order_days_before: days(&written.order_days_before, usual.order_days_before, "order_days_before")?,
        expiry_days_before: days(&written.expiry_days_before, usual.expiry_days_before, "expiry_days_before")?,
    })
}
