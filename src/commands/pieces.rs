//! `pieces`: finished pieces that are here, leave, or are counted.

use super::names::{batch_names, find};
use super::session::{Session, words};
use crate::book::rows::PieceKind;
use crate::cli::{Leaving, Pieces};
use crate::error::CommandError;
use crate::render::amounts::{count, day};
use crate::render::pieces as render;
use crate::store::Reading;
use crate::view::done::{PiecesCountedView, PiecesGoneView};
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
        Pieces::Leave { batch, pieces, how, reason } => leave(session, batch, *pieces, *how, reason.as_deref()),
        Pieces::Count { batch, pieces, reason } => {
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
    session.answer(&PiecesGoneView { batch, pieces: number, how: name.to_owned(), left }, |_| said)
}

fn known(reading: &Reading<'_>, batch: &str) -> Result<String, CommandError> {
    let batches = reading.batches()?;
    find("batch", batch, batches.iter().map(|row| (batch_names(row), row.batch.clone())))
}
