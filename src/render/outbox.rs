//! The outbox, and what a round of posting did, for the terminal. `shown` turns a moment into words of the workshop's
//! wall clock.

use super::amounts::{count, day, listed};
use super::paragraph::title;
use super::table::{Align, Screen, Table};
use crate::view::outbox::{OutboxLetter, OutboxView, PostView};

/// How a moment is shown.
pub type Shown<'a> = &'a dyn Fn(&str) -> String;

/// What one round did: a sentence each.
#[must_use]
pub fn round(view: &PostView, shown: Shown<'_>) -> String {
    let mut text = String::new();
    for queued in &view.queued {
        let news = match queued.news {
            0 => "nothing new".to_owned(),
            news => format!("{news} new"),
        };
        let missed = match queued.runs {
            0 | 1 => String::new(),
            runs => format!(", for {runs} that were due"),
        };
        text.push_str(&format!("{}: letter {} is written, {news}{missed}.\n", queued.schedule, queued.letter));
    }
    for quiet in &view.quiet {
        text.push_str(&format!("{}: nothing new, so no letter.\n", quiet.schedule));
    }
    for sent in &view.sent {
        let place = match &sent.file {
            Some(file) => format!("lies in {file}"),
            None => format!("is with the mail server, for {}", listed(&sent.to)),
        };
        let twice = if sent.may_be_twice { " It may come twice." } else { "" };
        text.push_str(&format!("Letter {} {place}.{twice}\n", sent.letter));
    }
    for waiting in &view.waiting {
        let when = waiting.next_try.as_deref().map(shown).unwrap_or_default();
        text.push_str(&format!("Letter {} waits until {when}: {}.\n", waiting.letter, waiting.error));
    }
    for failed in &view.set_aside {
        text.push_str(&format!("Letter {} is set aside: {}.\n", failed.letter, failed.error));
    }
    if let Some(copy) = &view.backup {
        text.push_str(&super::safe::backup(copy));
    }
    for fault in &view.faults {
        text.push_str(&format!("{fault}.\n"));
    }
    if text.is_empty() {
        text.push_str("Nothing is due.");
        match &view.next {
            Some(next) => text.push_str(&format!(" The next letter is due on {}.\n", shown(next))),
            None => text.push_str(
                " No schedule is set: put a [[schedule]] into the settings (config.example.toml shows how).\n",
            ),
        }
    }
    text
}

/// The outbox.
#[must_use]
pub fn terminal(view: &OutboxView, shown: Shown<'_>, screen: Screen) -> String {
    let not_out = view.letters.iter().filter(|letter| matches!(letter.state.as_str(), "waiting" | "set-aside")).count();
    let heading = match not_out {
        0 => "No letter waits, and none was set aside.".to_owned(),
        _ => format!("{} did not go out.", count(not_out, "letter", "letters")),
    };
    let mut text = title(&heading, screen);
    if view.letters.is_empty() {
        return text;
    }
    let columns =
        [("Letter", Align::Right), ("Schedule", Align::Left), ("Written", Align::Left), ("State", Align::Left)];
    let more = [("Tries", Align::Right), ("What it says", Align::Left)];
    let mut table = Table::new(&[&columns[..], &more].concat());
    for letter in &view.letters {
        table.row([
            letter.letter.to_string(),
            letter.schedule.clone(),
            shown(&letter.queued_at),
            state(letter, shown),
            letter.tries.to_string(),
            letter.subject.clone(),
        ]);
    }
    text.push('\n');
    text.push_str(&table.render(screen));
    if view.letters.iter().any(|letter| letter.state == "set-aside") {
        text.push_str("\nSet aside is what was refused for good. `stillroom outbox show LETTER` says why.\n");
    }
    text
}

fn state(letter: &OutboxLetter, shown: Shown<'_>) -> String {
    let state = match (letter.state.as_str(), &letter.next_try, &letter.sent_at) {
        ("waiting", Some(next), _) => format!("waits until {}", shown(next)),
        (_, _, Some(sent)) => format!("sent {}", shown(sent)),
        ("set-aside", ..) => "set aside".to_owned(),
        (other, ..) => other.to_owned(),
    };
    if letter.may_be_twice { format!("{state}, may come twice") } else { state }
}

/// One letter.
#[must_use]
pub fn letter(letter: &OutboxLetter, shown: Shown<'_>, text_part: &str, today: chrono::NaiveDate) -> String {
    let mut text = String::new();
    let mut line = |label: &str, value: &str| text.push_str(&format!("{label:<11}{value}\n"));
    line("Letter", &format!("{}, of {} for {}", letter.letter, letter.schedule, shown(&letter.run_at)));
    line("Subject", &letter.subject);
    line("From", &letter.from);
    line("To", &letter.to.join(", "));
    line("Written", &shown(&letter.queued_at));
    line("State", &state(letter, shown));
    line("Tries", &letter.tries.to_string());
    if !letter.last_error.is_empty() {
        line("Last error", &letter.last_error);
    }
    line("Message-ID", &letter.message_id);
    if letter.may_be_twice {
        text.push_str(
            "\nA try ended before the server's answer was written down: the letter may have arrived, and a copy of it \
             with the same Message-ID may follow.\n",
        );
    }
    match text_part {
        "" => text.push_str(&format!("\nWhat it said is no longer kept on {}.\n", day(today, today))),
        words => text.push_str(&format!("\n{words}")),
    }
    text
}
