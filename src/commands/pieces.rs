//! `pieces`: finished pieces that are here, leave, or are counted.

use super::names::{batch_names, find};
use super::session::{Session, words};
use crate::book::rows::PieceKind;
use crate::cli::{Leaving, Pieces};
use crate::error::CommandError;
use crate::render::amounts::count;
use crate::render::pieces as render;
use crate::store::Reading;
use crate::view::done::{PiecesCountedView, PiecesGoneView};
use crate::view::pieces::pieces;

pub fn run(session: &Session, what: &Pieces) -> Result<String, CommandError> {
    match what {
        Pieces::List => {
            let mut store = session.open()?;
            let reading = store.reading()?;
            let (batches, left) = reading.batches_left()?;
            let view = pieces(&batches, &left, &reading.products()?, session.clock.today());
            session.answer(&view, |screen| render::terminal(&view, screen))
        }
        Pieces::Leave { batch, pieces, how, reason } => leave(session, batch, *pieces, *how, reason.as_deref()),
        Pieces::Count { batch, pieces, reason } => {
            let (batch, difference) = session.write(|writing| {
                let batch = known(writing, batch)?;
                let why = session.or_ask(reason.as_deref(), "--reason", "Why does it differ?", None)?;
                let why = words("--reason", &why)?;
                let difference = writing.pieces_count(&batch, *pieces, &why, &session.stamp())?;
                Ok((batch, difference))
            })?;
            let said = format!("Batch {batch} has {pieces} pieces left; the difference is {difference}.\n");
            session.answer(&PiecesCountedView { batch, left: *pieces, difference }, |_| said)
        }
    }
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
    let (batch, number, name, left) = session.write(|writing| {
        let batch = known(writing, batch)?;
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
        Ok((batch, number, name, left))
    })?;
    let gone = count(usize::try_from(number).unwrap_or(0), "piece", "pieces");
    let said = format!("{gone} of batch {batch} left ({name}); {left} are still here.\n");
    session.answer(&PiecesGoneView { batch, pieces: number, how: name.to_owned(), left }, |_| said)
}

fn known(reading: &Reading<'_>, batch: &str) -> Result<String, CommandError> {
    let batches = reading.batches()?;
    find("batch", batch, batches.iter().map(|row| (batch_names(row), row.batch.clone())))
}
