//! `pieces`: finished pieces that are here, leave, are counted, held back or released.

use super::names::{batch_names, find};
use super::session::{Session, words};
use crate::book::rows::PieceKind;
use crate::cli::{Leaving, Pieces};
use crate::error::CommandError;
use crate::plan::model::LotState;
use crate::render::amounts::{count, day};
use crate::render::pieces as render;
use crate::store::{Reading, Writing};
use crate::view::done::{PiecesCountedView, PiecesGoneView, PiecesStateView};
use crate::view::pieces::{pieces, ready_on};

pub fn run(session: &Session, what: &Pieces) -> Result<String, CommandError> {
    match what {
        Pieces::List => {
            let mut store = session.open()?;
            let reading = store.reading()?;
            let (batches, left) = reading.batches_left()?;
            let view = pieces(&batches, &left, &reading.products()?, session.clock.today());
            session.answer(&view, |screen| render::terminal(&view, screen))
        }
        Pieces::Leave { batch, pieces, how, reason, .. } => leave(session, batch, *pieces, *how, reason.as_deref()),
        Pieces::Count { batch, pieces, reason, .. } => {
            let (batch, difference) = session.write(|writing| {
                let batch = known(writing, batch)?;
                let why = session.or_ask(reason.as_deref(), "--reason", "Why does it differ?", None)?;
                let why = words("--reason", &why)?;
                let difference = writing.pieces_count(&batch, *pieces, &why, &session.stamp())?;
                Ok((batch, difference))
            })?;
            let shown = count(usize::try_from(*pieces).unwrap_or(0), "piece", "pieces");
            let said = format!(
                "Batch {batch} has {shown} left; the difference is {difference}. `stillroom act undo` takes it back.\n"
            );
            session.answer(&PiecesCountedView { batch, left: *pieces, difference }, |_| said)
        }
        Pieces::Hold { batch, reason, .. } => {
            decide(session, batch, reason.as_deref(), "Why are they held back?", |writing, batch, why| {
                writing.pieces_hold(batch, why, &session.stamp())?;
                Ok((LotState::Quarantine, "in quarantine, and none leaves but as waste"))
            })
        }
        Pieces::Release { batch, reason, by } => {
            decide(session, batch, reason.as_deref(), "What was checked?", |writing, batch, why| {
                let who = words("--by", &session.or_ask(by.name.as_deref(), "--by", "Who checked it?", None)?)?;
                writing.pieces_release(batch, why, &session.stamp_of(&who))?;
                Ok((LotState::Released, "released, and may leave"))
            })
        }
        Pieces::Reject { batch, reason, .. } => {
            decide(session, batch, reason.as_deref(), "Why are they rejected?", |writing, batch, why| {
                writing.pieces_reject(batch, why, &session.stamp())?;
                Ok((LotState::Rejected, "rejected, and only to be thrown away"))
            })
        }
    }
}

/// Decides about the pieces of a batch in one transaction, and says what became of them.
fn decide(
    session: &Session,
    batch: &str,
    reason: Option<&str>,
    question: &str,
    act: impl Fn(&Writing<'_>, &str, &str) -> Result<(LotState, &'static str), CommandError>,
) -> Result<String, CommandError> {
    let (batch, left, state, done) = session.write(|writing| {
        let batch = known(writing, batch)?;
        let why = words("--reason", &session.or_ask(reason, "--reason", question, None)?)?;
        let (state, done) = act(writing, &batch, &why)?;
        let left = writing.batches_left()?.1.into_iter().find(|standing| standing.batch == batch);
        Ok((batch, left.map_or(0, |standing| standing.on_hand), state, done))
    })?;
    let pieces = count(usize::try_from(left).unwrap_or(0), "piece", "pieces");
    let said = format!("Batch {batch}, {pieces} left: {done}. `stillroom act undo` takes it back.\n");
    session.answer(&PiecesStateView { batch, left, state: state.word().to_owned() }, |_| said)
}

fn leave(
    session: &Session,
    batch: &str,
    pieces: Option<i64>,
    how: Option<Leaving>,
    reason: Option<&str>,
) -> Result<String, CommandError> {
    const WAYS: [(Leaving, PieceKind, &str); 4] = [
        (Leaving::Sale, PieceKind::Sale, "sale"),
        (Leaving::Gift, PieceKind::Gift, "gift"),
        (Leaving::Sample, PieceKind::Sample, "sample"),
        (Leaving::Waste, PieceKind::Waste, "waste"),
    ];
    let today = session.clock.today();
    let (batch, number, name, left, ready) = session.write(|writing| {
        let batch = known(writing, batch)?;
        let made = writing.batches()?.into_iter().find(|row| row.batch == batch);
        let ready = made.map_or(Ok(today), |made| Ok::<_, CommandError>(ready_on(&made, &writing.products()?)))?;
        let given = pieces.map(|pieces| pieces.to_string());
        let number = session.or_ask(given.as_deref(), "PIECES", "How many pieces leave?", None)?;
        let number: i64 =
            number.trim().parse().map_err(|_| CommandError::input(format!("{number:?} is no number of pieces")))?;
        let names: Vec<String> = WAYS.iter().map(|(.., name)| (*name).to_owned()).collect();
        let given = how.and_then(|how| WAYS.iter().position(|(way, ..)| *way == how));
        let (_, kind, name) = WAYS[session.or_pick(given, "--as", "How do they leave?", &names)?];
        let default = if kind == PieceKind::Waste { None } else { Some("") };
        let why = session.or_ask(reason, "--reason", "To whom, or why?", default)?;
        let why = if why.trim().is_empty() { String::new() } else { words("--reason", &why)? };
        let left = writing.pieces_leave(&batch, kind, number, &why, &session.stamp())?;
        Ok((batch, number, name, left, ready))
    })?;
    let gone = count(usize::try_from(number).unwrap_or(0), "piece", "pieces");
    let mut said = format!("{gone} of batch {batch} left ({name}); {left} are still here.\n");
    if ready > today {
        let ready = day(ready, today);
        said.push_str(&format!("note: they still set or cure, and are ready on {ready} at the earliest.\n"));
    }
    said.push_str("`stillroom act undo` takes it back.\n");
    let view = PiecesGoneView { batch, pieces: number, how: name.to_owned(), left, ready_on: ready };
    session.answer(&view, |_| said)
}

fn known(reading: &Reading<'_>, batch: &str) -> Result<String, CommandError> {
    let batches = reading.batches()?;
    find("batch", batch, batches.iter().map(|row| (batch_names(row), row.batch.clone())))
}
