//! What is due: which run of a schedule, what is news in it, and its letter, queued together with the mark.

use super::{Round, days};
use crate::commands::report::{by_name, own_templates};
use crate::commands::session::Session;
use crate::config::ScheduledLetter;
use crate::error::CommandError;
use crate::plan::reminder::{Line, News, Snooze, Told, Why, news};
use crate::plan::schedule::{Run, moment_of};
use crate::post::address::Mailbox;
use crate::post::letter::compose;
use crate::post::report::{Envelope, letter};
use crate::post::report_name::ReportName;
use crate::render::amounts::{count, day};
use crate::render::document::{Block, Document};
use crate::render::ical::DateEntry;
use crate::render::report::Report;
use crate::store::{NewLetter, Serving, Store};
use crate::view::outbox::{QueuedView, QuietView};
use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, Utc};
use std::hash::{DefaultHasher, Hash, Hasher};

/// A mark further ahead than this was made by a clock that was wrong.
const CLOCK_WAS_WRONG: TimeDelta = TimeDelta::hours(25);

/// Serves every schedule that is due.
pub fn queue_all(session: &Session, store: &mut Store, round: &mut Round) -> Result<(), CommandError> {
    for schedule in &session.config.schedules {
        match serve(session, store, schedule, round) {
            Ok(()) => {}
            // Without the store there is no outbox either.
            Err(Fault::Store(error)) => return Err(error),
            Err(Fault::Letter(error)) => {
                round.view.faults.push(format!("{}: {}", schedule.name, error.message));
                let hint = error
                    .hint
                    .unwrap_or_else(|| "mend that; the letter is tried again with the next `post`".to_owned());
                round.needs_somebody.get_or_insert(hint);
            }
        }
    }
    Ok(())
}

enum Fault {
    /// The store cannot be read or written.
    Store(CommandError),
    /// This letter cannot be made.
    Letter(CommandError),
}

impl<Error: Into<CommandError>> From<Error> for Fault {
    fn from(error: Error) -> Self {
        Self::Store(error.into())
    }
}

/// Serves a schedule: reads, makes the letter while nobody's writing is held up, and writes mark and letter together,
/// unless somebody else was faster.
fn serve(session: &Session, store: &mut Store, schedule: &ScheduledLetter, round: &mut Round) -> Result<(), Fault> {
    let now = session.clock.due_through();
    let seen = begin(session, store, &schedule.name, now)?;
    let Some((run, runs)) = schedule.schedule.due(seen, now, session.clock.wall()) else {
        return Ok(());
    };
    if store.reading()?.run_was_served(&schedule.name, run.at)? {
        // The clock was put back over it: it was served, and only the mark was not.
        let writing = store.writing()?;
        writing.mark_schedule(&schedule.name, run.at)?;
        return Ok(writing.commit()?);
    }
    let made = make(session, store, schedule, run, runs)?;
    let told = if made.letter.is_some() { &made.news.told_if_sent } else { &made.news.told_if_not };
    let writing = store.writing()?;
    let serving = Serving {
        schedule: &schedule.name,
        seen,
        run_at: run.at,
        day: run.day,
        runs,
        letter: made.letter.as_ref(),
        told,
        now,
    };
    let Some(queued) = writing.serve(&serving)? else {
        tracing::info!("{}: served by another run of the program at the same time", schedule.name);
        return Ok(());
    };
    writing.commit()?;
    let name = schedule.name.clone();
    match queued {
        Some(letter) => {
            let queued = QueuedView { letter, schedule: name, day: run.day, runs, news: made.news.lines.len() };
            round.view.queued.push(queued);
        }
        None => round.view.quiet.push(QuietView { schedule: name, day: run.day }),
    }
    Ok(())
}

/// How far the schedule is served. One that is seen for the first time begins with today, whatever the time.
fn begin(session: &Session, store: &mut Store, name: &str, now: DateTime<Utc>) -> Result<DateTime<Utc>, Fault> {
    let usable = |mark: Option<DateTime<Utc>>| mark.filter(|mark| *mark <= now + CLOCK_WAS_WRONG);
    if let Some(mark) = usable(store.reading()?.served_through(name)?) {
        return Ok(mark);
    }
    let writing = store.writing()?;
    let mark = writing.served_through(name)?;
    if let Some(mark) = usable(mark) {
        return Ok(mark);
    }
    if let Some(mark) = mark {
        tracing::warn!(
            "{name} was served through {mark}, which is yet to come: the clock was wrong; it begins anew today"
        );
    }
    let midnight = moment_of(session.clock.today().and_time(NaiveTime::MIN), session.clock.wall()).unwrap_or(now);
    let before = midnight - TimeDelta::seconds(1);
    writing.mark_schedule(name, before)?;
    writing.commit()?;
    Ok(before)
}

/// What a run comes to.
struct Made {
    letter: Option<NewLetter>,
    news: News,
}

fn make(
    session: &Session,
    store: &mut Store,
    schedule: &ScheduledLetter,
    run: Run,
    runs: usize,
) -> Result<Made, Fault> {
    let reading = store.reading()?;
    let (days, told) = days::apart(reading.told(&schedule.name)?);
    let snoozes = reading.snoozes()?.into_iter();
    let snoozes: Vec<Snooze> = snoozes.map(|row| Snooze { subject: row.subject, until: row.until }).collect();
    drop(reading);
    let (sections, failed_kinds) = sections(session, schedule).map_err(Fault::Letter)?;
    let lines: Vec<Line> = sections.iter().flat_map(|section| section.lines.iter().cloned()).collect();
    let mut news = news(&lines, &told, &snoozes, session.clock.today());
    // What a report that failed has told of is still told of.
    let kept = told.iter().filter(|row| failed_kinds.contains(&row.kind.as_str())).cloned();
    let kept: Vec<Told> = kept.collect();
    news.told_if_sent.extend(kept.iter().cloned());
    news.told_if_not.extend(kept);
    news.told_if_not.extend(days.iter().cloned());
    if news.lines.is_empty() && !schedule.always {
        return Ok(Made { letter: None, news });
    }
    let last = told.iter().map(|row| row.told_on).max();
    let today = session.clock.today();
    let struck_out = calendar(&mut news, &days, &sections, failed_kinds.is_empty(), today);
    let heading = match (news.lines.is_empty(), last) {
        (false, Some(last)) => format!("New since the letter of {}", day(last, today)),
        (false, None) => "All that is new: this is the first letter".to_owned(),
        (true, Some(last)) => format!("Nothing new since the letter of {}", day(last, today)),
        (true, None) => "Nothing new; this is the first letter".to_owned(),
    };
    let mut reports = vec![news_report(&lines, &news, heading, runs).map_err(Fault::Letter)?.dates(struck_out)];
    reports.extend(sections);
    let letter = composed(session, schedule, run, &reports).map_err(Fault::Letter)?;
    Ok(Made { letter: Some(letter), news })
}

/// The days that calendars have to strike out; those of this letter are to be remembered where it is sent. Where a report
/// could not be made, its days are not known: nothing is struck out then.
fn calendar(
    news: &mut News,
    days: &[Told],
    sections: &[Report],
    all_were_made: bool,
    today: NaiveDate,
) -> Vec<DateEntry> {
    let entries: Vec<DateEntry> = sections.iter().flat_map(|section| section.dates.iter().cloned()).collect();
    news.told_if_sent.extend(days::remembered(&entries, today));
    if all_were_made {
        return days::struck_out(days, &entries, today);
    }
    let still_there = days.iter().filter(|row| entries.iter().all(|entry| entry.key != row.subject));
    news.told_if_sent.extend(still_there.cloned());
    Vec::new()
}

/// The reports, one that cannot be made replaced by the reason; and the kinds of lines of those.
fn sections(session: &Session, schedule: &ScheduledLetter) -> Result<(Vec<Report>, Vec<&'static str>), CommandError> {
    let mut sections = Vec::new();
    let mut failed_kinds = Vec::new();
    for &report in &schedule.reports {
        match by_name(session, report, None) {
            Ok(reports) => sections.extend(reports),
            Err(error) => {
                tracing::warn!("{}: the report {report} could not be made: {}", schedule.name, error.message);
                sections.push(failed(report, &error)?);
                failed_kinds.extend_from_slice(report.line_kinds());
            }
        }
    }
    Ok((sections, failed_kinds))
}

fn sentence(line: &Line, why: Why) -> String {
    let reason = match why {
        Why::New => "new".to_owned(),
        Why::Changed => "changed".to_owned(),
        Why::Near(0) => "that is today".to_owned(),
        Why::Near(days) if days < 0 => format!("overdue by {}", day_count(-days)),
        Why::Near(days) => format!("{} to go", day_count(days)),
        Why::Awake => "was snoozed until now".to_owned(),
    };
    format!("{} ({reason})", line.words)
}

fn day_count(days: i64) -> String {
    count(usize::try_from(days).unwrap_or_default(), "day", "days")
}

fn notes(news: &News, runs: usize) -> Vec<String> {
    let mut notes = Vec::new();
    if news.silenced > 0 {
        let lines = count(news.silenced, "line is", "lines are");
        notes.push(format!("{lines} snoozed; `stillroom snooze` shows which."));
    }
    if runs > 1 {
        notes.push(format!("This letter stands for {runs} that were due while the computer was off or asleep."));
    }
    notes
}

/// What comes first in the letter: what is new since the last.
fn news_report(lines: &[Line], news: &News, heading: String, runs: usize) -> Result<Report, CommandError> {
    let sentences: Vec<String> = news.lines.iter().map(|(place, why)| sentence(&lines[*place], *why)).collect();
    let new = sentences.len();
    let notes = notes(news, runs).into_iter().map(Block::paragraph);
    let document =
        Document::new("news", heading).section("", vec![Block::list(sentences)]).section("", notes.collect());
    let report = Report::new(&serde_json::Value::Null, document)?;
    Ok(if new > 0 { report.news(vec![format!("{new} new")]) } else { report })
}

/// A report that could not be made, told of in its place: the others still go out.
fn failed(name: ReportName, error: &CommandError) -> Result<Report, CommandError> {
    let headline = format!("the report {name} could not be made");
    let mut document = Document::new(name.word(), format!("The report {name} could not be made."))
        .warning("", vec![Block::paragraph(format!("{}.", error.message))]);
    if let Some(hint) = &error.hint {
        document = document.footer(format!("What to do: {hint}."));
    }
    let line = Line {
        kind: "fault".to_owned(),
        subject: name.to_string(),
        state: error.message.clone(),
        day: None,
        later_is_no_change: false,
        amount: 0,
        days_before: Vec::new(),
        overdue_every_days: 0,
        words: format!("{headline}: {}", error.message),
    };
    Ok(Report::new(&serde_json::Value::Null, document)?.news(vec![headline]).lines(vec![line]))
}

fn composed(
    session: &Session,
    schedule: &ScheduledLetter,
    run: Run,
    reports: &[Report],
) -> Result<NewLetter, CommandError> {
    let to = schedule.to.clone();
    let from = session.config.mail.sender(&to).ok_or_else(|| {
        CommandError::input("nobody is named who writes the letter").hint("set `from` under [mail] in the settings")
    })?;
    let message_id = message_id(&from, run, &schedule.name, reports);
    let written = session.clock.due_through();
    let envelope = Envelope { from: from.clone(), to: to.clone(), written, message_id: message_id.clone() };
    let (mut letter, warnings) = letter(reports, &[], session.clock.today(), envelope, Some(&own_templates(session)?))?;
    letter.slug.clone_from(&schedule.name);
    for warning in warnings {
        tracing::warn!("{warning}");
    }
    let composed = compose(&letter)?;
    Ok(NewLetter {
        message_id,
        sender: from.to_string(),
        recipients: to.iter().map(ToString::to_string).collect(),
        subject: letter.subject,
        text: letter.text,
        file_stem: composed.file_stem,
        message: composed.message,
    })
}

/// One for all tries, and another for every other letter: the run's moment, and a digest of what is said to whom.
fn message_id(from: &Mailbox, run: Run, schedule: &str, reports: &[Report]) -> String {
    let mut digest = DefaultHasher::new();
    (from.to_string(), schedule, run.day).hash(&mut digest);
    for report in reports {
        report.text().hash(&mut digest);
    }
    let domain = from.address().rsplit('@').next().unwrap_or("localhost");
    format!("{}.{:016x}@{domain}", run.at.format("%Y%m%dT%H%M%SZ"), digest.finish())
}
