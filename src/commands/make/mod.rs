//! `make`: something has been made, and its ingredients leave their lots.
//!
//! What is made is put first in a plan of its own (`subject`), so that the allocation says which lots to take; what was
//! really taken is then set against it (`weighed`), and all of it is written as one act.

mod subject;
mod weighed;

use super::session::{Session, has_come, home_money, words};
use crate::book::rows::{BatchRow, LotRow};
use crate::cli::Make;
use crate::error::CommandError;
use crate::plan::model::{LotState, Snapshot};
use crate::plan::money::Price;
use crate::render::amounts::{amount, count};
use crate::render::one_line;
use crate::store::{Drawn, Making, Writing};
use crate::view::done::{MadeDrawView, MadeView};
use chrono::NaiveDate;
use subject::Subject;
use weighed::Sheet;

pub fn run(session: &Session, arguments: &Make) -> Result<String, CommandError> {
    let made = session.write(|writing| make(session, arguments, writing))?;
    answer(session, &made)
}

/// What was made, as it was written down.
struct Made {
    subject: Subject,
    making: Making,
    drawn: Vec<Drawn>,
    /// The first end among its lots, and the lot.
    last_day: Option<(NaiveDate, String)>,
}

fn make(session: &Session, arguments: &Make, writing: &Writing<'_>) -> Result<Made, CommandError> {
    let today = session.clock.today();
    let subject = Subject::of(arguments, session.snapshot_of(writing)?, &writing.book()?, today)?;
    let outlook = session.look_ahead(&subject.snapshot, None)?;
    let sheet = Sheet::of(&subject, &outlook);
    let weighings = weighed::ask(session, arguments, &sheet, writing)?;
    for lot in subject.snapshot.lots.iter().filter(|lot| weighings.iter().any(|weighing| weighing.lot == lot.code)) {
        has_come(&lot.code, lot.received, today)?;
    }
    let pieces = pieces(session, arguments, &subject, outlook.sizes[0].pieces)?;
    let drawn = writing.draws(&weighings)?;
    let last_day = weighed::last_day(&weighings, &subject.snapshot, today);
    let batch = BatchRow {
        batch: writing.next_batch_number(today)?,
        mass: weighed::mass(outlook.sizes[0].weighed, &weighings, &subject.snapshot),
        pieces,
        best_before: best_before(&subject, today, last_day.as_ref().map(|(day, _)| *day)),
        weighed_by: session.by.clone(),
        note: arguments.note.as_deref().map(|note| words("--note", note)).transpose()?.unwrap_or_default(),
        ..subject.batch(today)?
    };
    let becomes = becomes(arguments, &subject, writing, &drawn, &batch, today)?;
    let making = Making { batch, weighings, rest: subject.rest, becomes };
    writing.make(&making, &session.stamp())?;
    Ok(Made { subject, making, drawn, last_day })
}

/// What came out: as planned unless the maker says otherwise.
fn pieces(session: &Session, arguments: &Make, subject: &Subject, planned: i64) -> Result<i64, CommandError> {
    if subject.premix.is_some() {
        return match arguments.pieces {
            None | Some(0) => Ok(0),
            Some(_) => Err(CommandError::input("a premix becomes a lot, and no pieces").hint("leave --pieces out")),
        };
    }
    let given = arguments.pieces.or(arguments.as_planned.then_some(planned)).map(|pieces| pieces.to_string());
    let answer =
        session.or_ask(given.as_deref(), "--pieces", "How many pieces came out?", Some(&planned.to_string()))?;
    match answer.trim().parse::<i64>() {
        Ok(pieces) if pieces < 0 => Err(CommandError::input(format!("--pieces {pieces} is negative"))),
        Ok(pieces) if pieces > planned.saturating_mul(10).max(100) => {
            Err(CommandError::input(format!("--pieces {pieces} cannot be: {planned} were planned"))
                .hint("say how much was made with --amount, if it was so much more"))
        }
        Ok(pieces) => Ok(pieces),
        Err(_) => Err(CommandError::input(format!("{answer:?} is no number of pieces"))),
    }
}

/// The earlier of the product's or premix's own life and the first end among its lots.
fn best_before(subject: &Subject, today: NaiveDate, lots: Option<NaiveDate>) -> Option<NaiveDate> {
    let own = subject.own_life().map(|life| life.after(today));
    own.into_iter().chain(lots).min()
}

/// The lot that a premix becomes. It costs what went into it, each draw at the newest rate.
fn becomes(
    arguments: &Make,
    subject: &Subject,
    writing: &Writing<'_>,
    drawn: &[Drawn],
    batch: &BatchRow,
    today: NaiveDate,
) -> Result<Option<LotRow>, CommandError> {
    let Some(premix) = &subject.premix else { return Ok(None) };
    let mut cost = crate::plan::money::Money::ZERO;
    for draw in drawn {
        cost += home_money(&subject.snapshot, draw.cost, draw.currency, today)?;
    }
    Ok(Some(LotRow {
        lot: writing.next_lot_code()?,
        material: premix.clone(),
        amount: subject.made,
        supplier: String::new(),
        supplier_lot: String::new(),
        received: Some(today),
        cost: Price { minor: cost.minor },
        currency: subject.snapshot.home,
        best_before: batch.best_before,
        opened: None,
        state: LotState::Released,
        place: arguments.place.as_deref().map(|place| words("--place", place)).transpose()?.unwrap_or_default(),
        order: String::new(),
    }))
}

fn answer(session: &Session, made: &Made) -> Result<String, CommandError> {
    let Made { subject, making, drawn, last_day } = made;
    let batch = &making.batch;
    let ends_with = last_day.as_ref().filter(|(day, _)| batch.best_before == Some(*day)).map(|(_, lot)| lot);
    let cautions = cautions(&subject.snapshot, drawn);
    let view = MadeView {
        batch: batch.batch.clone(),
        entry: batch.entry.clone(),
        product: batch.product.clone(),
        premix: batch.premix.clone(),
        made_on: batch.made_on,
        pieces: batch.pieces,
        weighed_mass: batch.mass.mg,
        best_before: batch.best_before,
        best_before_of: ends_with.cloned(),
        lot: making.becomes.as_ref().map(|lot| lot.lot.clone()),
        draws: drawn.iter().map(|draw| MadeDrawView { lot: draw.lot.clone(), amount: draw.amount.0 }).collect(),
    };
    session.answer(&view, |_| {
        let what = if batch.premix.is_empty() {
            format!("{} of {}", count(usize::try_from(batch.pieces).unwrap_or(0), "piece", "pieces"), subject.name())
        } else {
            format!("{} of {}", amount(subject.made.0, "mg"), batch.premix)
        };
        let weighed = amount(batch.mass.mg, "mg");
        let mut text = format!(
            "Batch {}: {what}, {weighed} weighed in, from {}.\n",
            batch.batch,
            count(drawn.len(), "draw", "draws")
        );
        if let Some(day) = batch.best_before {
            let why = ends_with.map_or(String::new(), |lot| format!(", since lot {lot} ends then"));
            text.push_str(&format!("Best before {}{why}.\n", crate::render::amounts::day(day, session.clock.today())));
        }
        if let Some(lot) = &making.becomes {
            text.push_str(&format!("It is lot {} now; write that on the vessel.\n", lot.lot));
        }
        for caution in &cautions {
            text.push_str(&format!("Caution, {caution}\n"));
        }
        text.push_str("`stillroom act undo` takes it back.\n");
        text
    })
}

/// What the materials that were drawn are to be handled with, each once.
fn cautions(snapshot: &Snapshot, drawn: &[Drawn]) -> Vec<String> {
    let mut cautions: Vec<String> = Vec::new();
    for draw in drawn {
        let lot = snapshot.lots.iter().find(|lot| lot.code == draw.lot);
        let Some(item) = lot.map(|lot| snapshot.item(lot.item)).filter(|item| !item.caution.is_empty()) else {
            continue;
        };
        let caution = format!("{}: {}", one_line(&item.name), one_line(&item.caution));
        if !cautions.contains(&caution) {
            cautions.push(caution);
        }
    }
    cautions
}
