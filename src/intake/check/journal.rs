//! What an export holds besides the book: settings, batches, the ledger (`history` reads the rest). What has been
//! written is never changed here.

use super::names::Space;
use super::stock::STATE_WORDS;
use super::{Context, keyed, merge};
use crate::book::rows::{BatchRow, MovementKind, MovementRow, SettingRow};
use crate::intake::cell::{self, Parsed};
use crate::intake::columns::SheetKind;
use crate::intake::fault::Problem;
use crate::intake::row_reader::RowReader;
use crate::plan::decimal::shortest;
use crate::plan::measure::DecimalMark;
use crate::plan::model::LotState;
use crate::plan::money::{Currency, Price};
use crate::plan::quantity::{Quantity, Unit};
use chrono::NaiveDateTime;
use std::collections::BTreeMap;

/// The setting that says in which currency a workshop counts.
const HOME_CURRENCY: &str = "home_currency";
/// Movements and acts are counted up to here.
pub(super) const MOST_MOVEMENTS: i64 = 1_000_000_000_000;

/// Reads `settings`.
pub(super) fn settings(context: &mut Context<'_>) {
    let stored = &context.journal_existing.settings;
    let existing = keyed(stored, |row| row.setting.clone());
    let key_of = |_: &Context<'_>, reader: &mut RowReader<'_>| reader.required_text("setting");
    let merged = merge(context, SheetKind::Settings, existing, key_of, |context, reader, setting, _| {
        let value = reader.required_text("value")?;
        if setting == HOME_CURRENCY && value != context.home.code() {
            let problem = format!("is not the home currency of this store ({})", context.home);
            reader.fault("value", problem, "import into a new store, or take the row out");
        }
        Some(SettingRow { setting: setting.clone(), value })
    });
    context.journal.settings = merged.by_key();
    context.journal.settings.retain(|row| !stored.contains(row));
}

/// Reads `batches`. A batch that is written down already has to stand there as it is.
pub(super) fn batches(context: &mut Context<'_>) {
    let existing = keyed(&context.journal_existing.batches, |row| row.batch.clone());
    let key_of = |_: &Context<'_>, reader: &mut RowReader<'_>| reader.required_text("batch");
    let merged = merge(context, SheetKind::Batches, existing, key_of, |context, reader, batch, base| {
        let row = read_batch(context, reader, batch, base)?;
        // Undone or not, and the state, is what the changes say: the file may be older than the store.
        if base.is_some_and(|base| BatchRow { undone: row.undone, state: row.state, ..base.clone() } != row) {
            let problem = format!("batch {batch} is written down already, and otherwise");
            reader.row_fault(problem, "take the row out: what was made is not changed by an import");
        }
        Some(row)
    });
    context.journal.batches = merged.new_by_key();
}

fn read_batch(
    context: &Context<'_>,
    reader: &mut RowReader<'_>,
    batch: &str,
    base: Option<&BatchRow>,
) -> Option<BatchRow> {
    let product = context.refer_or_empty(reader, "product", base.map_or("", |row| &row.product), Space::Product);
    let premix = context.refer_or_empty(reader, "premix", base.map_or("", |row| &row.premix), Space::Premix);
    if product.is_empty() == premix.is_empty() {
        let problem = if product.is_empty() { "is empty, and premix too" } else { "is filled, and premix too" };
        reader.fault("product", problem, "name the product or the premix that was made, one of the two");
    }
    let formula = context.refer(reader, "formula", Space::Formula);
    let version = reader.required_text("version");
    let made_on = reader.required("made_on", |cell, _| cell::date(cell));
    let mass = reader.required("mass", cell::mass);
    let pieces = reader.required("pieces", |cell, mark| cell::whole(cell, mark, 0, Quantity::MAX_ENTERED.0));
    let entry = reader.text("entry", base.map_or("", |row| &row.entry));
    let was_fulfilled = base.map_or(!entry.is_empty(), |row| row.fulfils_entry);
    let fulfils_entry = reader.or_empty("fulfils_entry", was_fulfilled, false, |cell, _| cell::yes_or_no(cell));
    if fulfils_entry && entry.is_empty() {
        reader.fault("fulfils_entry", "says yes without an entry", "name the plan entry, or leave the cell empty");
    }
    let old_state = base.map_or(LotState::Released, |row| row.state);
    Some(BatchRow {
        batch: batch.to_owned(),
        fulfils_entry,
        best_before: reader.optional("best_before", base.and_then(|row| row.best_before), |cell, _| cell::date(cell)),
        weighed_by: reader.text("weighed_by", base.map_or("", |row| &row.weighed_by)),
        note: reader.text("note", base.map_or("", |row| &row.note)),
        undone: reader.or_empty("undone", base.is_some_and(|row| row.undone), false, |cell, _| cell::yes_or_no(cell)),
        state: reader.or_empty("state", old_state, old_state, |cell, _| cell::word(cell, &STATE_WORDS)),
        entry,
        product,
        premix,
        formula: formula?,
        version: version?,
        made_on: made_on?,
        mass: mass?,
        pieces: pieces?,
    })
}

/// Reads `ledger`. A movement that is written down already has to stand there as it is; new ones come after it.
pub(super) fn ledger(context: &mut Context<'_>) {
    let existing = keyed(&context.journal_existing.ledger, |row| row.movement);
    let last = context.journal_existing.ledger.iter().map(|row| row.movement).max().unwrap_or(0);
    let lots = context.lot_units();
    let key_of = |_: &Context<'_>, reader: &mut RowReader<'_>| {
        reader.required("movement", |cell, mark| cell::whole(cell, mark, 1, MOST_MOVEMENTS))
    };
    let faults_before = context.faults.len();
    let merged = merge(context, SheetKind::Ledger, existing, key_of, |context, reader, &movement, base| {
        let row = read_movement(context, reader, movement, &lots)?;
        match base {
            Some(base) if *base != row => {
                let problem = format!("movement {movement} is written down already, and otherwise");
                reader.row_fault(problem, "take the row out: the ledger is never changed");
            }
            None if movement <= last => {
                reader.row_fault(
                    format!("comes before movement {last}, which is written down"),
                    "import into a new store",
                );
            }
            _ => {}
        }
        Some(row)
    });
    // A movement that is left out for a fault would make others look wrong.
    if context.faults.len() == faults_before {
        fault_course(context, &merged.iter().map(|(&movement, row)| (movement, row)).collect());
    }
    context.journal.ledger = merged.new_by_key();
}

fn read_movement(
    context: &Context<'_>,
    reader: &mut RowReader<'_>,
    movement: i64,
    lots: &BTreeMap<String, (Option<Unit>, Currency)>,
) -> Option<MovementRow> {
    let kinds = MOVEMENT_WORDS;
    let lot = context.refer(reader, "lot", Space::Lot);
    let facts = lot.as_ref().and_then(|lot| lots.get(lot)).copied();
    let unit = reader.required("unit", |cell, _| cell::word(cell, &[("mg", Unit::Milligram), ("pcs", Unit::Piece)]));
    if let (Some(unit), Some((Some(own), _))) = (unit, facts)
        && unit != own
    {
        reader.fault("unit", "is not the unit of this lot", format!("write {}", own.symbol()));
    }
    let places = facts.map_or(Currency::EUR, |(_, currency)| currency).exponent();
    let act = reader.required("act", |cell, mark| cell::whole(cell, mark, 1, MOST_MOVEMENTS));
    let kind = reader.required("kind", |cell, _| cell::word(cell, &kinds));
    let amount = reader.required("amount", |cell, mark| signed(cell, mark, 0, Quantity::MAX_ENTERED.0));
    let cost = reader.required("cost", |cell, mark| signed(cell, mark, places, Price::MAX_ENTERED.minor));
    let day = reader.required("day", |cell, _| cell::date(cell));
    let recorded_at = reader.required("recorded_at", |cell, _| timestamp(cell));
    let reverses = reader.optional("reverses", None, |cell, mark| cell::whole(cell, mark, 1, MOST_MOVEMENTS));
    if let (Some(kind), Some(amount), None) = (kind, amount, reverses) {
        let takes = matches!(kind, MovementKind::Issue | MovementKind::WriteOff | MovementKind::Return);
        if takes && amount > 0 || kind == MovementKind::Receipt && amount < 0 {
            let remedy = "a receipt adds (above 0), an issue, a write-off and a return take (below 0)";
            reader.fault("amount", "has the wrong sign", remedy);
        }
    }
    Some(MovementRow {
        movement,
        reason: reader.text("reason", ""),
        batch: context.refer_or_empty(reader, "batch", "", Space::Batch),
        reverses,
        act: act?,
        kind: kind?,
        lot: lot?,
        amount: amount?,
        cost: cost?,
        day: day?,
        recorded_at: recorded_at?,
    })
}

/// The words of `kind`.
pub(in crate::intake) const MOVEMENT_WORDS: [(&str, MovementKind); 5] = [
    ("receipt", MovementKind::Receipt),
    ("issue", MovementKind::Issue),
    ("count", MovementKind::Count),
    ("write-off", MovementKind::WriteOff),
    ("return", MovementKind::Return),
];

/// A decimal of either sign as an integer.
pub(super) fn signed(cell: &str, mark: DecimalMark, places: u32, largest: i64) -> Parsed<i64> {
    let read = mark.parse(cell).and_then(|decimal| decimal.scaled(places));
    let value = read.map_err(|error| {
        let remedy = format!("write a number with at most {places} decimal places");
        Problem::new(error.to_string(), remedy)
    })?;
    if value.unsigned_abs() > largest.unsigned_abs() {
        return Err(Problem::new("is too large", format!("keep to {}", shortest(largest, places))));
    }
    Ok(value)
}

/// A moment in UTC, to the second.
pub(super) fn timestamp(cell: &str) -> Parsed<String> {
    let shape = "%Y-%m-%dT%H:%M:%SZ";
    let read = NaiveDateTime::parse_from_str(cell, shape).ok().map(|moment| moment.format(shape).to_string());
    read.filter(|written| written == cell)
        .ok_or_else(|| Problem::new("is not a moment in UTC", "write it as 2027-03-09T08:15:00Z"))
}

/// A lot never holds less than nothing, and a reversal names a movement before it.
fn fault_course(context: &mut Context<'_>, rows: &BTreeMap<i64, &MovementRow>) {
    let places = context.places(SheetKind::Ledger, "movement");
    let mut balances: BTreeMap<&str, i64> = BTreeMap::new();
    for row in rows.values() {
        let balance = balances.entry(&row.lot).or_default();
        *balance = balance.saturating_add(row.amount);
        let place = places.get(&row.movement.to_string());
        if *balance < 0 {
            let problem = format!("movement {} takes more from lot {} than it holds", row.movement, row.lot);
            context.fault_at(
                SheetKind::Ledger,
                place,
                problem,
                "look for a receipt or a count that is missing before it",
            );
        }
        if row.reverses.is_some_and(|reversed| reversed >= row.movement || !rows.contains_key(&reversed)) {
            let problem = format!("movement {} reverses one that is not before it", row.movement);
            context.fault_at(SheetKind::Ledger, place, problem, "write the number of the movement that was wrong");
        }
    }
}
