//! What an export tells of acts besides the ledger: the acts themselves, weighing sheets, finished pieces, changes. What
//! has been written is never changed here.

use super::journal::{MOST_MOVEMENTS, signed, timestamp};
use super::names::Space;
use super::stock::STATE_WORDS;
use super::{Context, Key, keyed, merge};
use crate::book::rows::{ActRow, CHANGED_FIELDS, ChangeRow, PieceKind, PieceRow, WeighingRow};
use crate::intake::cell;
use crate::intake::columns::SheetKind;
use crate::intake::row_reader::RowReader;
use crate::plan::quantity::Quantity;
use std::collections::{BTreeMap, BTreeSet};

/// The words of `kind` in `pieces`.
pub(in crate::intake) const PIECE_WORDS: [(&str, PieceKind); 6] = [
    ("made", PieceKind::Made),
    ("sale", PieceKind::Sale),
    ("gift", PieceKind::Gift),
    ("sample", PieceKind::Sample),
    ("waste", PieceKind::Waste),
    ("count", PieceKind::Count),
];

/// Reads `acts`.
pub(super) fn acts(context: &mut Context<'_>) {
    let existing = keyed(&context.journal_existing.acts, |row| row.act);
    context.journal.acts = numbered(context, (SheetKind::Acts, "act"), existing, |_, reader, act| {
        let kind = reader.required_text("kind");
        let recorded_at = reader.required("recorded_at", |cell, _| timestamp(cell));
        let undoes = reader.optional("undoes", None, |cell, mark| cell::whole(cell, mark, 1, MOST_MOVEMENTS));
        if undoes.is_some_and(|undone| undone >= act) {
            reader.fault("undoes", "is not before this act", "write the number of the act that was undone");
        }
        // An export of an earlier version has no days: the date of the moment stands for it.
        let moment = recorded_at.as_deref().and_then(|moment| moment.get(..10)).and_then(|date| date.parse().ok());
        let day = reader.optional("day", moment, |cell, _| cell::date(cell)).or(moment);
        Some(ActRow {
            act,
            subject: reader.text("subject", ""),
            day: day?,
            undoes,
            who: reader.text("who", ""),
            kind: kind?,
            recorded_at: recorded_at?,
        })
    });
}

impl Key for (String, i64) {
    fn shown(&self, _: &RowReader<'_>) -> String {
        format!("{} of batch {}", self.1, self.0)
    }
}

/// Reads `weighings`.
pub(super) fn weighings(context: &mut Context<'_>) {
    let existing = keyed(&context.journal_existing.weighings, |row| (row.batch.clone(), row.place));
    let units = context.lot_units();
    let key_of = |context: &Context<'_>, reader: &mut RowReader<'_>| {
        let batch = context.refer(reader, "batch", Space::Batch);
        let place = reader.required("place", |cell, mark| cell::whole(cell, mark, 1, 1_000_000))?;
        Some((batch?, place))
    };
    let merged = merge(context, SheetKind::Weighings, existing, key_of, |context, reader, key, base| {
        let lot = context.refer(reader, "lot", Space::Lot);
        let item = lot.as_ref().and_then(|lot| units.get(lot)).and_then(|(unit, _)| *unit).map(|unit| (unit, None));
        let target =
            reader.or_empty("target", Quantity::ZERO, Quantity::ZERO, |cell, mark| cell::quantity(cell, mark, item));
        let weighed = reader.required("weighed", |cell, mark| cell::quantity(cell, mark, item));
        let row = WeighingRow {
            batch: key.0.clone(),
            place: key.1,
            target,
            tare: reader.optional("tare", None, cell::mass),
            reason: reader.text("reason", ""),
            lot: lot?,
            weighed: weighed?,
        };
        fault_otherwise(reader, base, &row, &format!("weighing {} of batch {}", key.1, key.0));
        Some(row)
    });
    context.journal.weighings = merged.new_by_key();
}

/// Reads `pieces`.
pub(super) fn pieces(context: &mut Context<'_>) {
    let existing = keyed(&context.journal_existing.pieces, |row| row.piece_movement);
    let acts = known_acts(context);
    let faults_before = context.faults.len();
    let new = numbered(context, (SheetKind::Pieces, "piece_movement"), existing, |context, reader, number| {
        let act = known_act(reader, &acts);
        let batch = context.refer(reader, "batch", Space::Batch);
        let kind = reader.required("kind", |cell, _| cell::word(cell, &PIECE_WORDS));
        let pieces = reader.required("pieces", |cell, mark| signed(cell, mark, 0, Quantity::MAX_ENTERED.0));
        let day = reader.required("day", |cell, _| cell::date(cell));
        let reverses = reader.optional("reverses", None, |cell, mark| cell::whole(cell, mark, 1, MOST_MOVEMENTS));
        if let (Some(kind), Some(pieces)) = (kind, pieces)
            && kind != PieceKind::Count
            && pieces != 0
            && (pieces > 0) != ((kind == PieceKind::Made) == reverses.is_none())
        {
            let remedy =
                "made adds (above 0), sale, gift, sample and waste take (below 0), a reversal does the opposite";
            reader.fault("pieces", "has the wrong sign", remedy);
        }
        Some(PieceRow {
            piece_movement: number,
            reason: reader.text("reason", ""),
            reverses,
            act: act?,
            batch: batch?,
            kind: kind?,
            pieces: pieces?,
            day: day?,
        })
    });
    if context.faults.len() == faults_before {
        fault_pieces(context, &new);
    }
    context.journal.pieces = new;
}

/// A batch never has less than no pieces, and a reversal names a row before it.
fn fault_pieces(context: &mut Context<'_>, new: &[PieceRow]) {
    let places = context.places(SheetKind::Pieces, "piece_movement");
    let mut left: BTreeMap<String, i64> = BTreeMap::new();
    let mut known = BTreeSet::new();
    for row in &context.journal_existing.pieces {
        let left = left.entry(row.batch.clone()).or_default();
        *left = left.saturating_add(row.pieces);
        known.insert(row.piece_movement);
    }
    for row in new {
        let left = left.entry(row.batch.clone()).or_default();
        *left = left.saturating_add(row.pieces);
        let place = places.get(&row.piece_movement.to_string());
        if *left < 0 {
            let problem = format!("{} takes more pieces from batch {} than it has", row.piece_movement, row.batch);
            let remedy = "look for a row of made or count that is missing before it";
            context.fault_at(SheetKind::Pieces, place, problem, remedy);
        }
        if row.reverses.is_some_and(|reversed| !known.contains(&reversed)) {
            let problem = format!("{} reverses one that is not before it", row.piece_movement);
            context.fault_at(SheetKind::Pieces, place, problem, "write the number of the row that was wrong");
        }
        known.insert(row.piece_movement);
    }
}

/// Reads `changes`.
pub(super) fn changes(context: &mut Context<'_>) {
    let existing = keyed(&context.journal_existing.changes, |row| row.change);
    let acts = known_acts(context);
    context.journal.changes = numbered(context, (SheetKind::Changes, "change"), existing, |_, reader, change| {
        let act = known_act(reader, &acts);
        let whats = CHANGED_FIELDS.map(|(what, fields)| (what, (what, fields)));
        let what = reader.required("what", |cell, _| cell::word(cell, &whats));
        let field = reader.required("field", |cell, _| {
            let fields: Vec<(&str, &str)> =
                what.map_or(&[][..], |(_, fields)| fields).iter().map(|&field| (field, field)).collect();
            if fields.is_empty() { Ok("") } else { cell::word(cell, &fields) }
        });
        let code = reader.required_text("code");
        if (what.map(|(what, _)| what), field) == (Some("batch"), Some("state")) {
            reader.required("after", |cell, _| cell::word(cell, &STATE_WORDS));
        }
        Some(ChangeRow {
            change,
            part: reader.text("part", ""),
            before: reader.text("before", ""),
            after: reader.text("after", ""),
            who: reader.text("who", ""),
            reason: reader.text("reason", ""),
            act: act?,
            what: what?.0.to_owned(),
            code: code?,
            field: field?.to_owned(),
        })
    });
}

/// The numbers of all acts that the store and the files tell of.
fn known_acts(context: &Context<'_>) -> BTreeSet<i64> {
    let (old, new) = (context.journal_existing, &context.journal);
    let acts = old.acts.iter().chain(&new.acts).map(|row| row.act);
    acts.chain(old.ledger.iter().chain(&new.ledger).map(|row| row.act)).collect()
}

fn known_act(reader: &mut RowReader<'_>, acts: &BTreeSet<i64>) -> Option<i64> {
    let act = reader.required("act", |cell, mark| cell::whole(cell, mark, 1, MOST_MOVEMENTS))?;
    if !acts.contains(&act) {
        reader.fault("act", "is no known act", "add it to acts");
    }
    Some(act)
}

/// Reads a file whose rows are numbered as they were written, and gives the new ones in their order.
fn numbered<R: Clone + PartialEq>(
    context: &mut Context<'_>,
    (kind, column): (SheetKind, &'static str),
    existing: impl Iterator<Item = (i64, R)>,
    read: impl Fn(&Context<'_>, &mut RowReader<'_>, i64) -> Option<R>,
) -> Vec<R> {
    let existing: Vec<(i64, R)> = existing.collect();
    let last = existing.iter().map(|&(number, _)| number).max().unwrap_or(0);
    let key_of = |_: &Context<'_>, reader: &mut RowReader<'_>| {
        reader.required(column, |cell, mark| cell::whole(cell, mark, 1, MOST_MOVEMENTS))
    };
    let word = column.replace('_', " ");
    let merged = merge(context, kind, existing, key_of, |context, reader, &number, base| {
        let row = read(context, reader, number)?;
        fault_otherwise(reader, base, &row, &format!("{word} {number}"));
        if base.is_none() && number <= last {
            let problem = format!("comes before {word} {last}, which is written down");
            reader.row_fault(problem, "import into a new store");
        }
        Some(row)
    });
    merged.new_by_key()
}

fn fault_otherwise<R: PartialEq>(reader: &mut RowReader<'_>, base: Option<&R>, row: &R, what: &str) {
    if base.is_some_and(|base| base != row) {
        let problem = format!("{what} is written down already, and otherwise");
        reader.row_fault(problem, "take the row out: what has happened is never changed");
    }
}
