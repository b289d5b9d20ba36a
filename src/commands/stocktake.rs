//! `stocktake`: the counting sheet, and the differences that a filled one brings.

use super::session::{Session, words};
use super::sheet::counting_sheet;
use crate::book::Book;
use crate::cli::Stocktake;
use crate::error::CommandError;
use crate::intake::{CountedLine, read_counts};
use crate::plan::model::Snapshot;
use crate::plan::money::Price;
use crate::plan::quantity::Unit;
use crate::render::stocktake as render;
use crate::store::{Counted, Difference};
use crate::view::stocktake::{DifferenceView, StocktakeView};
use std::path::Path;

pub fn run(session: &Session, what: &Stocktake) -> Result<String, CommandError> {
    match what {
        Stocktake::Sheet { place, amounts, sheet, csv } => {
            counting_sheet(session, place.as_deref(), *amounts, sheet.html.as_deref(), csv.as_deref())
        }
        Stocktake::Enter { file, reason, yes, .. } => enter(session, file, reason.as_deref(), *yes),
    }
}

/// Shows the differences, asks, and writes all of them in one act.
fn enter(session: &Session, file: &Path, reason: Option<&str>, yes: bool) -> Result<String, CommandError> {
    let view = session.write(|writing| {
        let book = writing.book()?;
        let lines = read_counts(file, &book).map_err(|faults| CommandError::faults(&faults))?;
        let counted: Vec<Counted> = lines.iter().map(as_counted).collect();
        let differences = writing.differences(&counted)?;
        let snapshot = session.snapshot_of(writing)?;
        let mut view = view(session, &book, &snapshot, &lines, &differences);
        if view.differences.is_empty() {
            return Ok(view);
        }
        if session.can_ask && !yes {
            // The question comes after what it is about: shown now, not at the end.
            eprint!("{}", render::terminal(&view, session.screen));
        }
        if session.can_ask && !session.is_sure(yes, "Write these differences?")? {
            return Err(CommandError::input("the stocktake was not entered; nothing was written"));
        }
        let counted = with_reasons(session, reason, counted, &differences)?;
        for shown in &mut view.differences {
            if let Some(count) = counted.iter().find(|count| count.lot == shown.lot) {
                shown.reason.clone_from(&count.reason);
            }
        }
        writing.stocktake(&counted, &session.stamp())?;
        view.written = true;
        Ok(view)
    })?;
    session.answer(&view, |screen| render::terminal(&view, screen))
}

fn as_counted(line: &CountedLine) -> Counted {
    Counted { lot: line.lot.clone(), counted: line.counted, reason: line.reason.clone() }
}

/// Every difference has a reason: its own, or the one for all.
fn with_reasons(
    session: &Session,
    reason: Option<&str>,
    mut counted: Vec<Counted>,
    differences: &[Difference],
) -> Result<Vec<Counted>, CommandError> {
    let differs = |lot: &str| differences.iter().any(|one| one.lot == lot && !one.difference.is_zero());
    let mut for_all = reason.map(|text| words("--reason", text)).transpose()?;
    for count in counted.iter_mut().filter(|count| count.reason.trim().is_empty() && differs(&count.lot)) {
        if for_all.is_none() {
            let answer = session.or_ask(None, "--reason", "Why do the lots differ?", None)?;
            for_all = Some(words("--reason", &answer)?);
        }
        count.reason = for_all.clone().unwrap_or_default();
    }
    Ok(counted)
}

fn view(
    session: &Session,
    book: &Book,
    snapshot: &Snapshot,
    lines: &[CountedLine],
    differences: &[Difference],
) -> StocktakeView {
    let today = session.clock.today();
    let mut total = crate::plan::money::Money::ZERO;
    let mut shown = Vec::new();
    for (line, difference) in lines.iter().zip(differences).filter(|(_, difference)| !difference.difference.is_zero()) {
        let Some(lot) = book.lots.iter().find(|row| row.lot == line.lot) else { continue };
        let material = book.materials.iter().find(|row| row.code == lot.material);
        let value = snapshot.to_home(Price { minor: difference.cost }, lot.currency, today);
        total += value.unwrap_or(crate::plan::money::Money::ZERO);
        shown.push(DifferenceView {
            lot: line.lot.clone(),
            material: lot.material.clone(),
            name: material.map_or(&lot.material, |row| &row.name).clone(),
            unit: material.map_or(Unit::Milligram, |row| row.unit).symbol().to_owned(),
            before: difference.before.0,
            counted: line.counted.0,
            difference: difference.difference.0,
            value: value.map(|value| snapshot.home.decimal(value.minor)),
            reason: line.reason.clone(),
        });
    }
    StocktakeView {
        as_of: today,
        currency: snapshot.home.code().to_owned(),
        counted: lines.len(),
        differences: shown,
        value: snapshot.home.decimal(total.minor),
        written: false,
    }
}
