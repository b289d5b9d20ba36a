//! What the sheet asked for and what was weighed: targets from the allocation, amounts from the maker.

use super::Subject;
use crate::cli::Make;
use crate::commands::names::{find, lot_names};
use crate::commands::session::{Session, quantity, words};
use crate::error::CommandError;
use crate::plan::life::usable_through;
use crate::plan::measure::canonical;
use crate::plan::model::{EntryId, ItemId, Lot, LotState, Snapshot};
use crate::plan::outlook::Outlook;
use crate::plan::quantity::{Density, Mass, Quantity, Unit};
use crate::plan::rounding::half_up_i64;
use crate::plan::supply::Source;
use crate::render::amounts::{amount, listed};
use crate::store::{Weighing, Writing};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// What to take from which lot, in the order of the formula.
pub struct Sheet {
    lines: Vec<SheetLine>,
    /// What nothing is there for, in words.
    missing: Vec<String>,
    entry: String,
}

struct SheetLine {
    lot: String,
    name: String,
    place: String,
    unit: Unit,
    density: Option<Density>,
    target: Quantity,
}

impl Sheet {
    /// What the allocation takes for the first entry of the plan.
    #[must_use]
    pub fn of(subject: &Subject, outlook: &Outlook) -> Self {
        let snapshot = &subject.snapshot;
        let mut lines = Vec::new();
        let mut missing: BTreeMap<(usize, String), Quantity> = BTreeMap::new();
        for (place, part) in outlook.items.iter().enumerate() {
            let Some(allocation) = &part.allocation else { continue };
            let item = &snapshot.items[place];
            for draw in allocation.draws.iter().filter(|draw| part.demands[draw.need].entry == EntryId(0)) {
                match part.sources[draw.supply] {
                    Source::Lot(lot) => {
                        let line = SheetLine {
                            lot: snapshot.lots[lot].code.clone(),
                            name: item.name.clone(),
                            place: snapshot.lots[lot].place.clone(),
                            unit: item.unit,
                            density: item.density,
                            target: draw.quantity,
                        };
                        lines.push((part.demands[draw.need].line, place, line));
                    }
                    Source::Order(order) => {
                        let why = format!("is still to come with order {}", snapshot.orders[order].code);
                        *missing.entry((place, why)).or_default() += draw.quantity;
                    }
                }
            }
        }
        for shortage in outlook.shortages.iter().filter(|shortage| shortage.entry == EntryId(0)) {
            let why = format!("is short{}", in_quarantine(snapshot, shortage.item));
            *missing.entry((shortage.item.index(), why)).or_default() += shortage.quantity;
        }
        lines.sort_by_key(|(line, place, _)| (*line, *place));
        let words = |((place, why), quantity): ((usize, String), Quantity)| {
            let item = &snapshot.items[place];
            format!("{} of {} {why}", amount(quantity.0, item.unit.symbol()), item.name)
        };
        Self {
            lines: merged(lines.into_iter().map(|(.., line)| line)),
            missing: missing.into_iter().map(words).collect(),
            entry: snapshot.entries[0].code.clone(),
        }
    }
}

/// The lots of a material that only wait to be released, in brackets.
fn in_quarantine(snapshot: &Snapshot, item: ItemId) -> String {
    let waits = |lot: &&Lot| lot.item == item && lot.state == LotState::Quarantine && lot.on_hand.0 > 0;
    let codes: Vec<&str> = snapshot.lots.iter().filter(waits).map(|lot| lot.code.as_str()).collect();
    if codes.is_empty() { String::new() } else { format!(" (in quarantine: {})", codes.join(", ")) }
}

/// The earliest last day among the raw materials that were taken, and the lot that has it. Packaging gets old, but it does
/// not end what is in it.
#[must_use]
pub fn last_day(weighings: &[Weighing], snapshot: &Snapshot, today: NaiveDate) -> Option<(NaiveDate, String)> {
    let ends = weighings.iter().filter(|weighing| !weighing.weighed.is_zero()).filter_map(|weighing| {
        let lot = snapshot.lots.iter().find(|lot| lot.code == weighing.lot)?;
        let item = snapshot.item(lot.item);
        let opened = lot.opened.or(Some(today));
        let through = usable_through(&Lot { opened, ..lot.clone() }, item);
        (item.unit == Unit::Milligram).then(|| (through, lot.code.clone()))
    });
    ends.filter(|(through, _)| *through < NaiveDate::MAX).min()
}

/// What was really weighed in: the mass of the sheet and every deviation from it, packaging apart.
#[must_use]
pub fn mass(planned: Mass, weighings: &[Weighing], snapshot: &Snapshot) -> Mass {
    let is_weighed = |weighing: &&Weighing| {
        let lot = snapshot.lots.iter().find(|lot| lot.code == weighing.lot);
        lot.is_some_and(|lot| snapshot.item(lot.item).unit == Unit::Milligram)
    };
    let deviations = weighings.iter().filter(is_weighed).map(|weighing| weighing.weighed.0 - weighing.target.0);
    Mass { mg: planned.mg + deviations.sum::<i64>() }
}

/// Lines of the same lot are weighed in one go.
fn merged(lines: impl Iterator<Item = SheetLine>) -> Vec<SheetLine> {
    let mut merged: Vec<SheetLine> = Vec::new();
    for line in lines {
        match merged.iter_mut().find(|other| other.lot == line.lot) {
            Some(other) => other.target += line.target,
            None => merged.push(line),
        }
    }
    merged
}

/// What was weighed: the targets, unless `--took` or the maker's answers say otherwise.
///
/// # Errors
/// Where something is missing, a lot is not there, or a deviation has no reason.
pub fn ask(
    session: &Session,
    arguments: &Make,
    sheet: &Sheet,
    writing: &Writing<'_>,
) -> Result<Vec<Weighing>, CommandError> {
    if !sheet.missing.is_empty() && arguments.took.is_empty() {
        return Err(CommandError::input(format!("{} cannot be made: {}", sheet.entry, sheet.missing.join("; "))).hint(
            "receive what has come (stillroom receive), release what was checked (stillroom lot release), \
             put a wrong amount right (stillroom count), \
             say what was taken instead (--took LOT=AMOUNT), or make less of it (--amount)",
        ));
    }
    let mut took = took(arguments, sheet, writing)?;
    let tare = arguments.tare.as_deref().map(|text| quantity(text, Unit::Milligram, None)).transpose()?;
    let tare = tare.map(|quantity| Mass { mg: quantity.0 });
    let asks = session.can_ask && arguments.took.is_empty() && !arguments.as_planned;
    let mut weighings = Vec::new();
    for line in &sheet.lines {
        let weighed = match took.remove(&line.lot) {
            Some(weighed) => weighed,
            None if asks => {
                let place = if line.place.is_empty() { String::new() } else { format!(" ({})", line.place) };
                let question = format!("{} from lot {}{place}", line.name, line.lot);
                let shown = on_the_scale(session, line);
                let given = |answer: &str| if answer == shown { Ok(line.target) } else { as_shown(answer, line) };
                session.ask_until(&question, &shown, given)?
            }
            None => line.target,
        };
        weighings.push(weighing(line.lot.clone(), line.target, weighed, tare));
    }
    for (lot, weighed) in took {
        weighings.push(weighing(lot, Quantity::ZERO, weighed, tare));
    }
    let more = arguments.more_was_there.as_deref().map(|text| words("--more-was-there", text)).transpose()?;
    give_reasons(session, arguments, &mut weighings)?;
    for weighing in &mut weighings {
        weighing.count_first.clone_from(&more);
    }
    Ok(weighings)
}

/// A target as the weighing sheet and the scale show it. Who confirms it has taken what the sheet asked for, to the milligram.
fn on_the_scale(session: &Session, line: &SheetLine) -> String {
    let step = session.config.bench.scale_readability.mg;
    let rounded = half_up_i64(i128::from(line.target.0), i128::from(step)).saturating_mul(step);
    let target = if line.unit == Unit::Milligram && rounded > 0 { Quantity(rounded) } else { line.target };
    canonical(target, line.unit)
}

/// What a scale shows needs no unit: a bare number is in grams, or in pieces.
fn as_shown(answer: &str, line: &SheetLine) -> Result<Quantity, CommandError> {
    let unit = if line.unit == Unit::Milligram { "g" } else { "pcs" };
    quantity(&format!("{answer} {unit}"), line.unit, line.density)
        .or_else(|_| quantity(answer, line.unit, line.density))
}

fn weighing(lot: String, target: Quantity, weighed: Quantity, tare: Option<Mass>) -> Weighing {
    Weighing { lot, target, weighed, tare, reason: String::new(), count_first: None }
}

/// What `--took` says, by lot.
fn took(arguments: &Make, sheet: &Sheet, writing: &Writing<'_>) -> Result<BTreeMap<String, Quantity>, CommandError> {
    let mut took = BTreeMap::new();
    if arguments.took.is_empty() {
        return Ok(took);
    }
    let book = writing.book()?;
    for text in &arguments.took {
        let Some((code, amount)) = text.rsplit_once('=') else {
            return Err(CommandError::input(format!("--took {text:?} is not LOT=AMOUNT")).hint("--took L-0042=298.5g"));
        };
        let lot = find("lot", code.trim(), book.lots.iter().map(|row| (lot_names(row), row)))?;
        let material = book.materials.iter().find(|row| row.code == lot.material);
        let line = sheet.lines.iter().find(|line| line.lot == lot.lot);
        let unit = material.map_or(line.map_or(Unit::Milligram, |line| line.unit), |row| row.unit);
        if took.insert(lot.lot.clone(), quantity(amount, unit, material.and_then(|row| row.density))?).is_some() {
            return Err(CommandError::input(format!("--took names lot {} twice", lot.lot)));
        }
    }
    Ok(took)
}

/// A deviation beyond the tolerance has a reason.
fn give_reasons(session: &Session, arguments: &Make, weighings: &mut [Weighing]) -> Result<(), CommandError> {
    let tolerance = session.config.bench.tolerance;
    let beyond = |weighing: &Weighing| (weighing.weighed.0 - weighing.target.0).abs() > tolerance.of(weighing.target.0);
    let lots: Vec<String> =
        weighings.iter().filter(|weighing| beyond(weighing)).map(|weighing| weighing.lot.clone()).collect();
    if lots.is_empty() {
        return Ok(());
    }
    let question = format!("Why does {} differ by more than {tolerance} % from the sheet?", listed(&lots));
    let reason = words("--reason", &session.or_ask(arguments.reason.as_deref(), "--reason", &question, None)?)?;
    for weighing in weighings.iter_mut().filter(|weighing| beyond(weighing)) {
        weighing.reason.clone_from(&reason);
    }
    Ok(())
}
