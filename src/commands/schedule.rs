//! `schedule`: when letters come next, and what became of the last ones.

use super::post::{shown, written};
use super::session::Session;
use crate::cli::Schedule;
use crate::config::ScheduledLetter;
use crate::error::CommandError;
use crate::render::schedules as render;
use crate::store::{Reading, RunRow};
use crate::view::schedules::{ComingRun, PastRun, ScheduleView, SchedulesView};

pub fn run(session: &Session, arguments: &Schedule) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    let schedules = session.config.schedules.iter().map(|letter| one(session, &reading, letter, arguments));
    let view = SchedulesView {
        as_of: written(session.clock.due_through()),
        today: session.clock.today(),
        time_zone: session.clock.zone_name().map(str::to_owned),
        schedules: schedules.collect::<Result<_, _>>()?,
    };
    session.answer(&view, |screen| render::terminal(&view, &|moment| shown(session, moment), screen))
}

fn one(
    session: &Session,
    reading: &Reading<'_>,
    letter: &ScheduledLetter,
    arguments: &Schedule,
) -> Result<ScheduleView, CommandError> {
    let clock = session.clock.wall();
    let first = letter.schedule.next_after(session.clock.due_through(), clock);
    let coming = std::iter::successors(first, |run| letter.schedule.next_after(run.at, clock));
    let next = coming.take(arguments.next as usize).map(|run| ComingRun {
        day: run.day,
        at: written(run.at),
        local: clock.shows(run.at).format("%Y-%m-%dT%H:%M").to_string(),
    });
    let last = reading.last_runs(&letter.name, arguments.last)?;
    Ok(ScheduleView {
        name: letter.name.clone(),
        reports: letter.reports.iter().map(ToString::to_string).collect(),
        days: letter.schedule.days.to_string(),
        at: letter.schedule.at.format("%H:%M").to_string(),
        when: if letter.always { "always" } else { "news" }.to_owned(),
        to: letter.to.iter().map(ToString::to_string).collect(),
        next: next.collect(),
        last: last.iter().map(|run| past(reading, run)).collect::<Result<_, _>>()?,
    })
}

fn past(reading: &Reading<'_>, run: &RunRow) -> Result<PastRun, CommandError> {
    let outcome = match run.letter {
        Some(letter) => reading.letter(letter)?.0.state.word(),
        None => "no news",
    };
    Ok(PastRun {
        day: run.day,
        at: written(run.run_at),
        served_at: written(run.served_at),
        runs: run.runs,
        letter: run.letter,
        outcome: outcome.to_owned(),
    })
}
