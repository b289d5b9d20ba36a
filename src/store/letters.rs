//! The outbox: letters from the moment they are queued until they are sent, set aside or dropped.
//!
//! A letter is claimed in one short transaction, sent while no transaction is open, and settled in another one. Who finds
//! a claim that has run out knows that somebody stopped in between, and that the letter may have left.

use super::codec::Moment;
use super::error::{Refusal, StoreError};
use super::load::all;
use super::{Reading, Writing};
use chrono::{DateTime, TimeDelta, Utc};
use rusqlite::{OptionalExtension, Row, params};

/// What has become of a letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LetterState {
    /// It is to be sent.
    Waiting,
    /// The server has it, or it lies in the folder.
    Sent,
    /// It was refused for good, or tried often enough.
    SetAside,
    /// The maker does not want it sent.
    Dropped,
}

impl LetterState {
    /// `waiting`, `sent`, `set-aside`, `dropped`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Sent => "sent",
            Self::SetAside => "set-aside",
            Self::Dropped => "dropped",
        }
    }
}

/// A letter that is to be queued.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewLetter {
    /// Without brackets; the same for all tries.
    pub message_id: String,
    /// The sender, with name.
    pub sender: String,
    /// The recipients, with names; at least one.
    pub recipients: Vec<String>,
    /// The subject.
    pub subject: String,
    /// Name of the file that it would become in an outbox folder.
    pub file_stem: String,
    /// Its text part, to be looked at.
    pub text: String,
    /// The whole message.
    pub message: Vec<u8>,
}

/// A letter of the outbox, without its message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LetterRow {
    /// Its number, in the order of queueing.
    pub letter: i64,
    /// As [`NewLetter::message_id`].
    pub message_id: String,
    /// The schedule that it is of.
    pub schedule: String,
    /// The run that it is of.
    pub run_at: DateTime<Utc>,
    /// The sender.
    pub sender: String,
    /// The recipients.
    pub recipients: Vec<String>,
    /// The subject.
    pub subject: String,
    /// As [`NewLetter::file_stem`].
    pub file_stem: String,
    /// What has become of it.
    pub state: LetterState,
    /// How often it was tried.
    pub tries: u32,
    /// When it may be tried next, where it waits.
    pub next_try: DateTime<Utc>,
    /// What the last try failed with; empty for nothing.
    pub last_error: String,
    /// True where a try may have reached the server without our hearing of it.
    pub may_be_twice: bool,
    /// When it was queued.
    pub queued_at: DateTime<Utc>,
    /// When it was sent.
    pub sent_at: Option<DateTime<Utc>>,
}

/// A letter that this run of the program alone may send for a while.
#[derive(Clone, Debug)]
pub struct Claim {
    /// The letter.
    pub row: LetterRow,
    /// Its message.
    pub message: Vec<u8>,
    /// True where somebody claimed it before and never said what came of it.
    pub left_behind: bool,
}

/// What a try that failed means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setback {
    /// In words.
    pub error: String,
    /// When to try again; `None` sets the letter aside.
    pub next_try: Option<DateTime<Utc>>,
    /// True where the letter may have arrived all the same.
    pub may_have_arrived: bool,
}

const COLUMNS: &str =
    "SELECT letter, message_id, schedule, run_at, sender, recipients, subject, file_stem, state, tries,
    next_try, last_error, may_be_twice, queued_at, sent_at FROM letters";

/// Letters that are still here.
const NOT_OUT: &str = "WHERE state IN ('waiting', 'set-aside') ORDER BY letter";

/// As [`super::load::of_every_day`].
#[cfg(test)]
pub(super) fn of_every_day() -> Vec<String> {
    vec![format!("{COLUMNS} {NOT_OUT}")]
}

/// No try is put off for longer, and no claim lasts longer: what lies further ahead was written by a clock that was wrong.
const CLOCK_WAS_WRONG: TimeDelta = TimeDelta::hours(25);

/// Letters that may be tried at ?1: due, claimed by nobody, and with no earlier letter of their schedule still waiting. ?2 is
/// the furthest moment that a right clock can have written.
const READY: &str = "state = 'waiting' AND (next_try <= ?1 OR next_try > ?2)
    AND (claimed_until IS NULL OR claimed_until <= ?1 OR claimed_until > ?2)
    AND NOT EXISTS (
        SELECT 1 FROM letters AS earlier
        WHERE earlier.state = 'waiting' AND earlier.schedule = letters.schedule AND earlier.letter < letters.letter
    )";

/// The parameters of [`READY`].
fn ready_at(now: DateTime<Utc>) -> [Moment; 2] {
    [Moment(now), Moment(now.checked_add_signed(CLOCK_WAS_WRONG).unwrap_or(now))]
}

fn letter(row: &Row<'_>) -> rusqlite::Result<LetterRow> {
    let recipients: String = row.get("recipients")?;
    Ok(LetterRow {
        letter: row.get("letter")?,
        message_id: row.get("message_id")?,
        schedule: row.get("schedule")?,
        run_at: row.get::<_, Moment>("run_at")?.0,
        sender: row.get("sender")?,
        recipients: recipients.lines().map(str::to_owned).collect(),
        subject: row.get("subject")?,
        file_stem: row.get("file_stem")?,
        state: row.get("state")?,
        tries: row.get("tries")?,
        next_try: row.get::<_, Moment>("next_try")?.0,
        last_error: row.get("last_error")?,
        may_be_twice: row.get("may_be_twice")?,
        queued_at: row.get::<_, Moment>("queued_at")?.0,
        sent_at: row.get::<_, Option<Moment>>("sent_at")?.map(|moment| moment.0),
    })
}

impl Reading<'_> {
    /// All letters, in the order in which they were queued.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn letters(&self) -> Result<Vec<LetterRow>, StoreError> {
        Ok(all(self.connection(), &format!("{COLUMNS} ORDER BY letter"), [], letter)?)
    }

    /// The letters that did not go out: those that wait and those that were set aside.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn letters_not_out(&self) -> Result<Vec<LetterRow>, StoreError> {
        let sql = format!("{COLUMNS} {NOT_OUT}");
        Ok(all(self.connection(), &sql, [], letter)?)
    }

    /// A letter with its message, which is empty where it was sent long ago.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], and whatever keeps the file from being read.
    pub fn letter(&self, number: i64) -> Result<(LetterRow, Vec<u8>), StoreError> {
        let sql = format!("{COLUMNS} WHERE letter = ?1");
        let row = self.connection().prepare_cached(&sql)?.query_row([number], letter).optional()?;
        let row = row.ok_or_else(|| Refusal::Unknown { what: "letter", code: number.to_string() })?;
        let sql = "SELECT message FROM letters WHERE letter = ?1";
        let message = self.connection().prepare_cached(sql)?.query_row([number], |row| row.get(0))?;
        Ok((row, message))
    }

    /// The text part of a letter; empty where it was sent long ago.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn letter_text(&self, number: i64) -> Result<String, StoreError> {
        let sql = "SELECT words FROM letters WHERE letter = ?1";
        Ok(self.connection().prepare_cached(sql)?.query_row([number], |row| row.get(0))?)
    }

    /// When the next letter may be tried, or a claim runs out; `None` where no letter waits.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn next_try(&self) -> Result<Option<DateTime<Utc>>, StoreError> {
        let sql = "SELECT min(max(next_try, coalesce(claimed_until, next_try))) FROM letters WHERE state = 'waiting'
            AND NOT EXISTS (SELECT 1 FROM letters AS earlier WHERE earlier.state = 'waiting'
                AND earlier.schedule = letters.schedule AND earlier.letter < letters.letter)";
        let next: Option<Moment> = self.connection().prepare_cached(sql)?.query_row([], |row| row.get(0))?;
        Ok(next.map(|moment| moment.0))
    }

    /// True where a letter may be tried now.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn letter_is_ready(&self, now: DateTime<Utc>) -> Result<bool, StoreError> {
        let sql = format!("SELECT 1 FROM letters WHERE {READY} LIMIT 1");
        let found = self.connection().prepare_cached(&sql)?.query_row(ready_at(now), |_| Ok(())).optional()?;
        Ok(found.is_some())
    }
}

impl Writing<'_> {
    /// Queues the letter of an order, to be tried at once, and returns its number.
    ///
    /// # Errors
    /// Whatever keeps the file from being written.
    pub fn queue_order_letter(&self, new: &NewLetter, order: &str, now: DateTime<Utc>) -> Result<i64, StoreError> {
        self.queue(new, &format!("order {order}"), now, now)
    }

    /// Queues a letter of a run, to be tried at once, and returns its number.
    pub(super) fn queue(
        &self,
        new: &NewLetter,
        schedule: &str,
        run_at: DateTime<Utc>,
        now: DateTime<Utc>,
    ) -> Result<i64, StoreError> {
        let sql = "INSERT INTO letters (letter, message_id, schedule, run_at, sender, recipients, subject, file_stem,
                words, message, state, next_try, queued_at)
            SELECT coalesce(max(letter), 0) + 1, ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, 'waiting', ?10, ?10 FROM letters
            RETURNING letter";
        let parameters = params![
            new.message_id,
            schedule,
            Moment(run_at),
            new.sender,
            new.recipients.join("\n"),
            new.subject,
            new.file_stem,
            new.text,
            new.message,
            Moment(now),
        ];
        Ok(self.connection().prepare_cached(sql)?.query_row(parameters, |row| row.get(0))?)
    }

    /// Claims the first letter that may be tried, until `until`, for the one who goes by `token`. A claim that was left
    /// behind is taken over: the letter may have left then, which is written down.
    ///
    /// # Errors
    /// Whatever keeps the file from being written.
    pub fn claim_letter(
        &self,
        now: DateTime<Utc>,
        until: DateTime<Utc>,
        token: &str,
    ) -> Result<Option<Claim>, StoreError> {
        let connection = self.connection();
        let sql = format!("SELECT letter, claimed_by IS NOT NULL FROM letters WHERE {READY} ORDER BY letter LIMIT 1");
        let read = |row: &Row<'_>| Ok((row.get::<_, i64>(0)?, row.get::<_, bool>(1)?));
        let found = connection.prepare_cached(&sql)?.query_row(ready_at(now), read).optional()?;
        let Some((number, left_behind)) = found else {
            return Ok(None);
        };
        // The one who left the claim behind had begun a try.
        let sql = "UPDATE letters SET claimed_by = ?2, claimed_until = ?3, may_be_twice = may_be_twice OR ?4,
            tries = tries + ?4 WHERE letter = ?1";
        connection.prepare_cached(sql)?.execute(params![number, token, Moment(until), left_behind])?;
        let (row, message) = self.letter(number)?;
        Ok(Some(Claim { row, message, left_behind }))
    }

    /// Writes down that a claimed letter was sent. False where the claim was taken over meanwhile: it is sent
    /// all the same, and may go out a second time.
    ///
    /// # Errors
    /// Whatever keeps the file from being written.
    pub fn letter_sent(&self, number: i64, token: &str, now: DateTime<Utc>) -> Result<bool, StoreError> {
        let ours = self.is_claimed_by(number, token)?;
        let sql = "UPDATE letters SET state = 'sent', sent_at = ?2, tries = tries + 1, last_error = '',
            may_be_twice = may_be_twice OR ?3, claimed_by = NULL, claimed_until = NULL
            WHERE letter = ?1 AND state <> 'sent'";
        self.connection().prepare_cached(sql)?.execute(params![number, Moment(now), !ours])?;
        Ok(ours)
    }

    /// Writes down that a try of a claimed letter failed. Nothing changes where the claim was taken over meanwhile.
    ///
    /// # Errors
    /// Whatever keeps the file from being written.
    pub fn letter_failed(&self, number: i64, token: &str, setback: &Setback) -> Result<(), StoreError> {
        let sql = "UPDATE letters SET state = iif(?3 IS NULL, 'set-aside', state), next_try = coalesce(?3, next_try),
            tries = tries + 1, last_error = ?4, may_be_twice = may_be_twice OR ?5, claimed_by = NULL,
            claimed_until = NULL WHERE letter = ?1 AND claimed_by = ?2";
        let next_try = setback.next_try.map(Moment);
        let parameters = params![number, token, next_try, setback.error, setback.may_have_arrived];
        self.connection().prepare_cached(sql)?.execute(parameters)?;
        Ok(())
    }

    fn is_claimed_by(&self, number: i64, token: &str) -> Result<bool, StoreError> {
        let sql = "SELECT 1 FROM letters WHERE letter = ?1 AND claimed_by = ?2";
        Ok(self.connection().prepare_cached(sql)?.query_row(params![number, token], |_| Ok(())).optional()?.is_some())
    }

    /// Lets a letter that waits, was set aside or was dropped be tried at once.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::LetterIs`], and whatever keeps the file from being written.
    pub fn retry_letter(&self, number: i64, now: DateTime<Utc>) -> Result<LetterRow, StoreError> {
        let (row, _) = self.letter(number)?;
        if row.state == LetterState::Sent {
            return Err(Refusal::LetterIs { letter: number, what: "was sent already" }.into());
        }
        self.refuse_claimed(number, now)?;
        let sql = "UPDATE letters SET state = 'waiting', tries = 0, next_try = ?2 WHERE letter = ?1";
        self.connection().prepare_cached(sql)?.execute(params![number, Moment(now)])?;
        Ok(row)
    }

    /// Gives up a letter that waits or was set aside. [`Writing::retry_letter`] brings it back.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::LetterIs`], and whatever keeps the file from being written.
    pub fn drop_letter(&self, number: i64, now: DateTime<Utc>) -> Result<LetterRow, StoreError> {
        let (row, _) = self.letter(number)?;
        let what = match row.state {
            LetterState::Sent => "was sent already",
            LetterState::Dropped => "is dropped already",
            LetterState::Waiting | LetterState::SetAside => {
                self.refuse_claimed(number, now)?;
                let sql =
                    "UPDATE letters SET state = 'dropped', claimed_by = NULL, claimed_until = NULL WHERE letter = ?1";
                self.connection().prepare_cached(sql)?.execute([number])?;
                return Ok(row);
            }
        };
        Err(Refusal::LetterIs { letter: number, what }.into())
    }

    fn refuse_claimed(&self, number: i64, now: DateTime<Utc>) -> Result<(), StoreError> {
        let sql = "SELECT 1 FROM letters WHERE letter = ?1 AND claimed_until > ?2";
        let claimed = self.connection().prepare_cached(sql)?.query_row(params![number, Moment(now)], |_| Ok(()));
        match claimed.optional()? {
            Some(()) => {
                Err(Refusal::LetterIs { letter: number, what: "is being sent at this moment; try again later" }.into())
            }
            None => Ok(()),
        }
    }

    /// Empties the messages of letters that were sent before `before`: their rows stay.
    ///
    /// # Errors
    /// Whatever keeps the file from being written.
    pub fn empty_old_letters(&self, before: DateTime<Utc>) -> Result<usize, StoreError> {
        let sql = "UPDATE letters SET message = x'', words = '' WHERE state = 'sent' AND sent_at < ?1 AND length(message) > 0";
        Ok(self.connection().prepare_cached(sql)?.execute([Moment(before)])?)
    }
}
