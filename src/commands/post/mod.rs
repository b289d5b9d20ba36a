//! `post`: the letters that are due are queued, then everything that waits is sent.

mod days;
mod due;
mod send;

use super::backup;
use super::session::Session;
use crate::error::CommandError;
use crate::render::outbox as render;
use crate::store::Store;
use crate::view::outbox::PostView;
use chrono::{DateTime, SecondsFormat, Utc};

pub fn run(session: &Session) -> Result<String, CommandError> {
    let round = round(session)?;
    let said = render::round(&round.view, &|moment| shown(session, moment));
    match round.needs_somebody {
        Some(hint) => Err(CommandError::work(said.trim_end().to_owned()).hint(hint)),
        None => session.answer(&round.view, |_| said),
    }
}

/// One round: what it did, and what it found.
pub struct Round {
    /// What it did.
    pub view: PostView,
    /// What somebody has to do; `None` where all went well or will by itself.
    pub needs_somebody: Option<String>,
    /// True where the mail server cannot be spoken to for now.
    pub server_is_away: bool,
}

/// Queues what is due and sends what waits. What goes wrong with one schedule or letter does not keep the others.
///
/// # Errors
/// Where the store cannot be read or written.
pub fn round(session: &Session) -> Result<Round, CommandError> {
    let mut store = session.open()?;
    let view = PostView { as_of: written(session.clock.due_through()), ..PostView::default() };
    let mut round = Round { view, needs_somebody: None, server_is_away: false };
    due::queue_all(session, &mut store, &mut round)?;
    send::send_all(session, &mut store, &mut round)?;
    keep_a_copy(session, &mut round);
    round.view.next = next(session, &mut store)?.map(written);
    Ok(round)
}

/// The copy of the day, where the settings ask for it. That it cannot be made keeps no letter.
fn keep_a_copy(session: &Session, round: &mut Round) {
    match backup::daily(session) {
        Ok(copy) => round.view.backup = copy,
        Err(error) => {
            round.view.faults.push(format!("The copy of the day: {}", error.message));
            let hint = error.hint.unwrap_or_else(|| "look at [backup] in the settings".to_owned());
            round.needs_somebody.get_or_insert(hint);
        }
    }
}

/// The next moment at which there is something to do.
///
/// # Errors
/// Where the store cannot be read.
pub fn next(session: &Session, store: &mut Store) -> Result<Option<DateTime<Utc>>, CommandError> {
    let now = session.clock.due_through();
    let runs = session.config.schedules.iter().filter_map(|letter| {
        let run = letter.schedule.next_after(now, session.clock.wall())?;
        Some(run.at)
    });
    // A letter that could not even be tried is due since then: it is tried with the next round.
    let letters = store.reading()?.next_try()?.map(|next| next.max(now));
    Ok(runs.chain(letters).min())
}

/// A moment as JSON gives it: `2027-03-09T08:15:00Z`.
pub fn written(moment: DateTime<Utc>) -> String {
    moment.to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// A moment as a maker reads it, on the workshop's wall clock: `Thu 4 March, 07:30`.
pub fn shown(session: &Session, moment: &str) -> String {
    let Ok(moment) = moment.parse::<DateTime<Utc>>() else { return moment.to_owned() };
    let wall = session.clock.wall().shows(moment);
    let day = crate::render::amounts::day(wall.date(), session.clock.today());
    format!("{day}, {}", wall.format("%H:%M"))
}
