//! `outbox`: the letters that come by themselves, and what becomes of them.

use super::post::{shown, written};
use super::session::Session;
use crate::cli::Outbox;
use crate::error::CommandError;
use crate::render::amounts::count;
use crate::render::outbox as render;
use crate::store::{LetterRow, LetterState};
use crate::view::done::LettersStateView;
use crate::view::outbox::{OutboxLetter, OutboxView};

pub fn run(session: &Session, what: &Outbox) -> Result<String, CommandError> {
    match what {
        Outbox::List { all } => list(session, *all),
        Outbox::Show { letter, message } => show(session, *letter, *message),
        Outbox::Retry { letters } => retry(session, letters),
        Outbox::Drop { letters } => give_up(session, letters),
    }
}

fn list(session: &Session, all: bool) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    let rows = if all { reading.letters()? } else { reading.letters_not_out()? };
    let view = OutboxView { as_of: session.clock.today(), letters: rows.into_iter().map(letter_view).collect() };
    session.answer(&view, |screen| render::terminal(&view, &|moment| shown(session, moment), screen))
}

/// A letter as the contract gives it.
pub fn letter_view(row: LetterRow) -> OutboxLetter {
    OutboxLetter {
        letter: row.letter,
        schedule: row.schedule,
        run_at: written(row.run_at),
        state: row.state.word().to_owned(),
        subject: row.subject,
        from: row.sender,
        to: row.recipients,
        message_id: row.message_id,
        tries: row.tries,
        next_try: (row.state == LetterState::Waiting).then(|| written(row.next_try)),
        last_error: row.last_error,
        may_be_twice: row.may_be_twice,
        queued_at: written(row.queued_at),
        sent_at: row.sent_at.map(written),
    }
}

fn show(session: &Session, number: i64, whole: bool) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    let (row, message) = reading.letter(number)?;
    let text = reading.letter_text(number)?;
    if whole {
        return Ok(String::from_utf8_lossy(&message).into_owned());
    }
    let view = letter_view(row);
    let today = session.clock.today();
    session.answer(&view, |_| render::letter(&view, &|moment| shown(session, moment), &text, today))
}

fn retry(session: &Session, numbers: &[i64]) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let writing = store.writing()?;
    let numbers = match numbers {
        [] => {
            let set_aside = writing.letters_not_out()?.into_iter().filter(|row| row.state == LetterState::SetAside);
            set_aside.map(|row| row.letter).collect()
        }
        named => named.to_vec(),
    };
    if numbers.is_empty() {
        return Err(
            CommandError::input("no letter is set aside").hint("name the letters: `stillroom outbox list --all`")
        );
    }
    let now = session.clock.due_through();
    let rows = numbers.iter().map(|&number| writing.retry_letter(number, now)).collect::<Result<Vec<_>, _>>()?;
    writing.commit()?;
    let doubtful: Vec<String> = rows.iter().filter(|row| row.may_be_twice).map(|row| row.letter.to_string()).collect();
    let letters = count(numbers.len(), "letter", "letters");
    session.answer(&LettersStateView { letters: numbers, state: LetterState::Waiting.word().to_owned() }, |_| {
        let mut text = format!("{letters} will be tried with the next `stillroom post`.\n");
        if !doubtful.is_empty() {
            text.push_str(&format!("May have arrived already, look before you send: {}.\n", doubtful.join(", ")));
        }
        text
    })
}

fn give_up(session: &Session, numbers: &[i64]) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let writing = store.writing()?;
    let now = session.clock.due_through();
    for &number in numbers {
        writing.drop_letter(number, now)?;
    }
    writing.commit()?;
    session.answer(
        &LettersStateView { letters: numbers.to_vec(), state: LetterState::Dropped.word().to_owned() },
        |_| {
            let dropped = count(numbers.len(), "letter is", "letters are");
            let first = numbers.first().copied().unwrap_or_default();
            format!("{dropped} dropped. `stillroom outbox retry {first}` brings it back.\n")
        },
    )
}
