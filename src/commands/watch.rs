//! `watch`: stays, and does what `post` does whenever something is due.

use super::post::{Round, round, shown};
use super::session::Session;
use crate::error::CommandError;
use crate::render::outbox as render;
use chrono::{DateTime, Utc};
use std::io::Write;
use std::time::Duration;

/// It never sleeps longer: a computer that was asleep, a clock that was put right and a letter that somebody retries are
/// noticed within it.
const LONGEST_SLEEP: Duration = Duration::from_secs(60);

/// It never sleeps shorter, whatever the next moment.
const SHORTEST_SLEEP: Duration = Duration::from_secs(1);

/// Watches until the process is ended. That may be done at any moment: it is as safe as ending `post`.
pub fn run(session: &Session) -> Result<String, CommandError> {
    if session.clock.stands_at_a_day() {
        return Err(CommandError::input("`watch` needs a time as well as a day")
            .hint("--as-of 2027-03-09T07:29, or leave --as-of out to go by the computer's clock"));
    }
    if session.config.schedules.is_empty() && !session.config.backup.daily {
        return Err(CommandError::input("there is nothing to watch for: no schedule is set")
            .hint("put a [[schedule]] into the settings; config.example.toml shows how"));
    }
    // A store that is not there is said at once, not every minute.
    drop(session.open()?);
    say("Watching; end it with Ctrl-C at any moment.\n")?;
    let mut said_before = String::new();
    loop {
        let (said, sleep) = match round(session) {
            Ok(round) => (in_words(session, &round), sleep(session, &round)),
            Err(error) => (format!("{error}\n"), LONGEST_SLEEP),
        };
        // The same trouble is not told again every minute.
        if !said.is_empty() && said != said_before {
            say(&said)?;
        }
        said_before = said;
        std::thread::sleep(sleep);
    }
}

fn in_words(session: &Session, round: &Round) -> String {
    let view = &round.view;
    let idle = view.queued.is_empty() && view.quiet.is_empty() && view.sent.is_empty() && view.waiting.is_empty();
    if idle && view.set_aside.is_empty() && view.backup.is_none() && view.faults.is_empty() {
        return String::new();
    }
    let said = render::round(view, &|moment| shown(session, moment));
    let stamp = shown(session, &view.as_of);
    said.lines().map(|line| format!("{stamp}  {line}\n")).collect()
}

fn sleep(session: &Session, round: &Round) -> Duration {
    if round.server_is_away {
        return LONGEST_SLEEP;
    }
    let next = round.view.next.as_ref().and_then(|next| next.parse::<DateTime<Utc>>().ok());
    let wait = next.map(|next| next - session.clock.now()).map(|wait| wait.to_std().unwrap_or_default());
    wait.unwrap_or(LONGEST_SLEEP).clamp(SHORTEST_SLEEP, LONGEST_SLEEP)
}

/// Nobody listening is a reason to end.
fn say(text: &str) -> Result<(), CommandError> {
    let mut out = anstream::stdout();
    let said = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    said.map_err(|error| CommandError::work(format!("the answer could not be written: {error}")))
}
