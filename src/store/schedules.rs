//! How far each schedule is served, what came of its runs, what it has told of, and what is silenced.

use super::codec::{Day, Moment};
use super::error::{Refusal, StoreError};
use super::letters::NewLetter;
use super::load::all;
use super::{Reading, Writing};
use crate::plan::reminder::Told;
use chrono::{DateTime, NaiveDate, Utc};
use rusqlite::{OptionalExtension, Row, params};

/// A run that is to be marked as served.
#[derive(Clone, Debug)]
pub struct Serving<'a> {
    /// The schedule's name.
    pub schedule: &'a str,
    /// How far it was served when the letter was made: if it is further by now, somebody else was faster.
    pub seen: DateTime<Utc>,
    /// The moment of the run.
    pub run_at: DateTime<Utc>,
    /// The day of the run.
    pub day: NaiveDate,
    /// How many runs it stands for.
    pub runs: usize,
    /// The letter; `None` where there is no news.
    pub letter: Option<&'a NewLetter>,
    /// What the schedule has told of now.
    pub told: &'a [Told],
    /// Now.
    pub now: DateTime<Utc>,
}

/// A run that was served.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunRow {
    /// Its moment.
    pub run_at: DateTime<Utc>,
    /// Its day.
    pub day: NaiveDate,
    /// When it was served.
    pub served_at: DateTime<Utc>,
    /// How many runs it stands for.
    pub runs: usize,
    /// Its letter; `None` where there was no news.
    pub letter: Option<i64>,
}

/// Something that is silenced.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SnoozeRow {
    /// Code of the material or lot.
    pub subject: String,
    /// The day on which it is told of again.
    pub until: NaiveDate,
    /// Since when it is silenced.
    pub since: NaiveDate,
    /// Why; may be empty.
    pub reason: String,
}

fn run(row: &Row<'_>) -> rusqlite::Result<RunRow> {
    Ok(RunRow {
        run_at: row.get::<_, Moment>("run_at")?.0,
        day: row.get::<_, Day>("day")?.0,
        served_at: row.get::<_, Moment>("served_at")?.0,
        runs: row.get::<_, u32>("runs")? as usize,
        letter: row.get("letter")?,
    })
}

fn told(row: &Row<'_>) -> rusqlite::Result<Told> {
    Ok(Told {
        kind: row.get("kind")?,
        subject: row.get("subject")?,
        state: row.get("state")?,
        day: row.get::<_, Option<Day>>("day")?.map(|day| day.0),
        amount: row.get("amount")?,
        told_on: row.get::<_, Day>("told_on")?.0,
    })
}

fn snooze(row: &Row<'_>) -> rusqlite::Result<SnoozeRow> {
    Ok(SnoozeRow {
        subject: row.get("subject")?,
        until: row.get::<_, Day>("until")?.0,
        since: row.get::<_, Day>("since")?.0,
        reason: row.get("reason")?,
    })
}

impl Reading<'_> {
    /// How far a schedule is served; `None` where it was never seen.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn served_through(&self, schedule: &str) -> Result<Option<DateTime<Utc>>, StoreError> {
        let sql = "SELECT served_through FROM schedule_marks WHERE schedule = ?1";
        let mark: Option<Moment> =
            self.connection().prepare_cached(sql)?.query_row([schedule], |row| row.get(0)).optional()?;
        Ok(mark.map(|mark| mark.0))
    }

    /// The last runs of a schedule that were served, the latest first.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn last_runs(&self, schedule: &str, most: u32) -> Result<Vec<RunRow>, StoreError> {
        let sql = "SELECT * FROM schedule_runs WHERE schedule = ?1 ORDER BY run_at DESC LIMIT ?2";
        Ok(all(self.connection(), sql, params![schedule, most], run)?)
    }

    /// True where this very run was served.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn run_was_served(&self, schedule: &str, run_at: DateTime<Utc>) -> Result<bool, StoreError> {
        let sql = "SELECT 1 FROM schedule_runs WHERE schedule = ?1 AND run_at = ?2";
        let found = self
            .connection()
            .prepare_cached(sql)?
            .query_row(params![schedule, Moment(run_at)], |_| Ok(()))
            .optional()?;
        Ok(found.is_some())
    }

    /// What a schedule has told of.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn told(&self, schedule: &str) -> Result<Vec<Told>, StoreError> {
        Ok(all(self.connection(), "SELECT * FROM told WHERE schedule = ?1 ORDER BY place", [schedule], told)?)
    }

    /// What is silenced, also where its day has come.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn snoozes(&self) -> Result<Vec<SnoozeRow>, StoreError> {
        Ok(all(self.connection(), "SELECT * FROM snoozes ORDER BY subject", [], snooze)?)
    }
}

impl Writing<'_> {
    /// Sets how far a schedule is served: where it is seen for the first time, or where the computer's clock was ahead.
    ///
    /// # Errors
    /// Whatever keeps the file from being written.
    pub fn mark_schedule(&self, schedule: &str, served_through: DateTime<Utc>) -> Result<(), StoreError> {
        let sql = "INSERT INTO schedule_marks (schedule, served_through) VALUES (?1, ?2)
            ON CONFLICT (schedule) DO UPDATE SET served_through = excluded.served_through";
        self.connection().prepare_cached(sql)?.execute(params![schedule, Moment(served_through)])?;
        Ok(())
    }

    /// Marks a run as served and queues its letter, and returns the letter's number. `None` where somebody else was
    /// faster: then nothing is written.
    ///
    /// # Errors
    /// Whatever keeps the file from being written.
    pub fn serve(&self, serving: &Serving<'_>) -> Result<Option<Option<i64>>, StoreError> {
        let Serving { schedule, seen, run_at, now, .. } = *serving;
        if self.served_through(schedule)? != Some(seen) || self.run_was_served(schedule, run_at)? {
            return Ok(None);
        }
        self.whole(|| {
            let letter = serving.letter.map(|letter| self.queue(letter, schedule, run_at, now)).transpose()?;
            self.mark_schedule(schedule, run_at)?;
            let sql = "INSERT INTO schedule_runs (schedule, run_at, day, served_at, runs, letter)
                VALUES (?1, ?2, ?3, ?4, ?5, ?6)";
            let runs = u32::try_from(serving.runs).unwrap_or(u32::MAX);
            let parameters = params![schedule, Moment(run_at), Day(serving.day), Moment(now), runs, letter];
            self.connection().prepare_cached(sql)?.execute(parameters)?;
            self.connection().prepare_cached("DELETE FROM told WHERE schedule = ?1")?.execute([schedule])?;
            for (place, row) in (0_i64..).zip(serving.told) {
                self.tell(schedule, place, row)?;
            }
            Ok(Some(letter))
        })
    }

    fn tell(&self, schedule: &str, place: i64, row: &Told) -> Result<(), StoreError> {
        let sql = "INSERT INTO told (schedule, place, kind, subject, state, day, amount, told_on)
            VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)";
        let day = row.day.map(Day);
        let parameters = params![schedule, place, row.kind, row.subject, row.state, day, row.amount, Day(row.told_on)];
        self.connection().prepare_cached(sql)?.execute(parameters)?;
        Ok(())
    }

    /// Silences a material or lot until a day; a silence that is there gets the new day.
    ///
    /// # Errors
    /// Whatever keeps the file from being written.
    pub fn snooze(&self, row: &SnoozeRow) -> Result<(), StoreError> {
        let sql = "INSERT INTO snoozes (subject, until, since, reason) VALUES (?1, ?2, ?3, ?4)
            ON CONFLICT (subject) DO UPDATE SET until = excluded.until, reason = excluded.reason";
        let parameters = params![row.subject, Day(row.until), Day(row.since), row.reason];
        self.connection().prepare_cached(sql)?.execute(parameters)?;
        Ok(())
    }

    /// Ends a silence.
    ///
    /// # Errors
    /// [`Refusal::Unknown`] where there is none, and whatever keeps the file from being written.
    pub fn end_snooze(&self, subject: &str) -> Result<(), StoreError> {
        let ended = self.connection().prepare_cached("DELETE FROM snoozes WHERE subject = ?1")?.execute([subject])?;
        if ended == 0 {
            return Err(Refusal::Unknown { what: "snooze of", code: subject.to_owned() }.into());
        }
        Ok(())
    }
}
