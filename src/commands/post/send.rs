//! The outbox is emptied: each letter is claimed, sent while the store is free for everybody, and settled.

use super::{Round, written};
use crate::clock::run_token;
use crate::commands::session::Session;
use crate::error::CommandError;
use crate::post::address::{AddressError, Mailbox};
use crate::post::letter::Composed;
use crate::post::send::{Method, SendError, Sent};
use crate::post::smtp::{SmtpError, Step};
use crate::render::one_line;
use crate::store::{Claim, Setback, Store};
use crate::view::outbox::{FailedView, SentView};
use chrono::TimeDelta;

/// Minutes between the tries of a letter; the last of them from there on.
const PAUSES_MINUTES: [i64; 9] = [1, 5, 15, 30, 60, 120, 240, 480, 720];

/// After so many tries, in six days and a half, a letter is set aside.
const MOST_TRIES: u32 = 20;

/// A claim holds at least so long.
const SHORTEST_CLAIM: TimeDelta = TimeDelta::minutes(15);

/// A conversation waits for no more answers than this: a dozen steps, and an answer for each recipient.
const ANSWERS_WAITED_FOR: u32 = 40;

/// How often a busy store is waited for, five seconds each, before a letter that was taken is left unmarked.
const MOST_MARKINGS: u32 = 10;

/// The message of a letter that was sent is kept for so long.
const KEPT: TimeDelta = TimeDelta::days(90);

/// Sends what may be tried, until nothing is left or the server is away.
pub fn send_all(session: &Session, store: &mut Store, round: &mut Round) -> Result<(), CommandError> {
    if !store.reading()?.letter_is_ready(session.clock.due_through())? {
        return Ok(());
    }
    let (method, warnings) = match session.way() {
        Ok(way) => way,
        Err(error) => {
            round.view.faults.push(error.message);
            round.server_is_away = true;
            round.needs_somebody.get_or_insert_with(|| "the letters wait; look at [mail] in the settings".to_owned());
            return Ok(());
        }
    };
    for warning in warnings {
        tracing::warn!("{warning}");
    }
    let token = run_token();
    while !round.server_is_away {
        let now = session.clock.due_through();
        let writing = store.writing()?;
        let claim = writing.claim_letter(now, now + claim_time(&method), &token)?;
        writing.commit()?;
        let Some(claim) = claim else { break };
        if claim.left_behind {
            tracing::warn!(
                "letter {} was being sent when the program was stopped: it may have left then, and come twice now",
                claim.row.letter
            );
        }
        let mut written_down = Ok(true);
        let outcome = send(&method, &claim, &mut || written_down = mark_sent(session, store, &claim, &token));
        match outcome {
            Ok(sent) => tell_sent(round, &claim, &sent, written_down?),
            Err(error) => settle_failed(session, store, round, &claim, &token, &error)?,
        }
    }
    Ok(())
}

/// Longer than any conversation that is not given up.
fn claim_time(method: &Method) -> TimeDelta {
    let answers = match method {
        Method::Folder(_) => TimeDelta::zero(),
        Method::Smtp(server) => TimeDelta::from_std(server.timeout * ANSWERS_WAITED_FOR).unwrap_or_default(),
    };
    answers.max(SHORTEST_CLAIM)
}

/// Why a try came to nothing.
enum TryError {
    /// It was sent and refused, or not taken.
    Send(SendError),
    /// An address in the outbox is none.
    Address(AddressError),
}

fn send(method: &Method, claim: &Claim, taken: &mut dyn FnMut()) -> Result<Sent, TryError> {
    let address = |text: &String| text.parse::<Mailbox>().map_err(TryError::Address);
    let letter = Composed {
        from: address(&claim.row.sender)?,
        to: claim.row.recipients.iter().map(address).collect::<Result<_, _>>()?,
        message: claim.message.clone(),
        file_stem: claim.row.file_stem.clone(),
    };
    method.send_and(&letter, &mut |_| taken()).map_err(TryError::Send)
}

/// Writes down that the letter was taken: from the server's word to the end of this, and only there, a crash leads to a
/// second copy. False where the claim had been taken over.
/// A store that is busy is waited for.
fn mark_sent(session: &Session, store: &mut Store, claim: &Claim, token: &str) -> Result<bool, CommandError> {
    let mut outcome = try_to_mark(session, store, claim, token);
    for _ in 0..MOST_MARKINGS {
        if outcome.is_ok() {
            break;
        }
        outcome = try_to_mark(session, store, claim, token);
    }
    if outcome.is_err() {
        tracing::warn!("letter {} was taken, but that could not be written down: it may come twice", claim.row.letter);
    }
    outcome
}

fn try_to_mark(session: &Session, store: &mut Store, claim: &Claim, token: &str) -> Result<bool, CommandError> {
    let now = session.clock.due_through();
    let writing = store.writing()?;
    let ours = writing.letter_sent(claim.row.letter, token, now)?;
    writing.empty_old_letters(now - KEPT)?;
    writing.commit()?;
    Ok(ours)
}

fn tell_sent(round: &mut Round, claim: &Claim, sent: &Sent, ours: bool) {
    let letter = claim.row.letter;
    if !ours {
        tracing::warn!("sending letter {letter} took so long that it was taken over: it may come twice");
    }
    round.view.sent.push(SentView {
        letter,
        subject: claim.row.subject.clone(),
        to: claim.row.recipients.clone(),
        file: match sent {
            Sent::File(file) => Some(file.display().to_string()),
            Sent::Server(_) => None,
        },
        may_be_twice: claim.row.may_be_twice || !ours,
    });
}

fn settle_failed(
    session: &Session,
    store: &mut Store,
    round: &mut Round,
    claim: &Claim,
    token: &str,
    error: &TryError,
) -> Result<(), CommandError> {
    let meaning = meaning(error);
    let tries = claim.row.tries.saturating_add(1);
    let again = meaning.worth_trying && tries < MOST_TRIES;
    let setback = Setback {
        error: one_line(&meaning.words),
        next_try: again.then(|| session.clock.due_through() + pause(tries)),
        may_have_arrived: meaning.may_have_arrived,
    };
    let writing = store.writing()?;
    writing.letter_failed(claim.row.letter, token, &setback)?;
    writing.commit()?;
    tell(round, claim.row.letter, setback, &meaning);
    Ok(())
}

fn tell(round: &mut Round, letter: i64, setback: Setback, meaning: &Meaning) {
    if setback.may_have_arrived {
        tracing::warn!("letter {letter} may have arrived although the server did not say so; it may come twice");
    }
    let failed = FailedView { letter, error: setback.error, next_try: setback.next_try.map(written) };
    round.server_is_away |= meaning.server_is_away;
    if setback.next_try.is_none() {
        round.view.set_aside.push(failed);
        let hint =
            format!("`stillroom outbox show {letter}`; mend what is wrong, then `stillroom outbox retry {letter}`");
        round.needs_somebody.get_or_insert(hint);
    } else {
        round.view.waiting.push(failed);
        if meaning.needs_somebody {
            round.needs_somebody.get_or_insert_with(|| "the letters wait; look at [mail] in the settings".to_owned());
        }
    }
}

/// How long to wait after so many tries.
fn pause(tries: u32) -> TimeDelta {
    let place = usize::try_from(tries.saturating_sub(1)).unwrap_or(usize::MAX);
    TimeDelta::minutes(PAUSES_MINUTES.get(place).copied().unwrap_or(PAUSES_MINUTES[PAUSES_MINUTES.len() - 1]))
}

/// What a failed try means for this letter and the others.
struct Meaning {
    words: String,
    /// The same letter may be taken later.
    worth_trying: bool,
    /// Others will not be taken now either.
    server_is_away: bool,
    /// Waiting alone mends nothing.
    needs_somebody: bool,
    /// Nobody knows whether it was taken.
    may_have_arrived: bool,
}

/// A refusal of this letter or its people is for good; what is wrong with the server, the way to it or the settings is
/// no fault of the letter, which waits.
fn meaning(error: &TryError) -> Meaning {
    let about_this_letter = |step: &Step| matches!(step, Step::Sender | Step::Recipient(_) | Step::Letter);
    let error = match error {
        TryError::Address(error) => {
            let words = error.to_string();
            let (worth_trying, needs_somebody) = (false, true);
            return Meaning { words, worth_trying, server_is_away: false, needs_somebody, may_have_arrived: false };
        }
        TryError::Send(error) => error,
    };
    let refused = matches!(error, SendError::Smtp(SmtpError::Refused { step, .. }) if about_this_letter(step));
    let not_now = matches!(error, SendError::Smtp(SmtpError::TryLater { step, .. }) if about_this_letter(step));
    Meaning {
        words: error.to_string(),
        worth_trying: !refused,
        server_is_away: !refused && !not_now,
        needs_somebody: refused || !error.is_passing(),
        may_have_arrived: error.may_have_arrived(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_grow_and_a_letter_is_tried_for_six_days_and_a_half() {
        let pauses: Vec<i64> = (1..MOST_TRIES).map(|tries| pause(tries).num_minutes()).collect();
        assert_eq!(pauses[..10], [1, 5, 15, 30, 60, 120, 240, 480, 720, 720]);
        assert!(pauses.windows(2).all(|pair| pair[0] <= pair[1]));
        assert_eq!(pauses.iter().sum::<i64>() / 60, 147, "hours");
        assert_eq!(pause(u32::MAX).num_minutes(), 720);
    }
}
