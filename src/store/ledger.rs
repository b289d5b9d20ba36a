//! Writing to the ledger: an act first, then its movements, each with its part of the lot's cost, the pieces that come
//! and go with it, and what it changes besides.

use super::Stamp;
use super::changes::Spot;
use super::codec::Day;
use super::error::{Refusal, StoreError};
use super::many::{Insert, Values, put};
use super::rows::{self, named};
use crate::book::rows::{ActRow, ChangeRow, LotRow, MovementKind, MovementRow, PieceKind, PieceRow};
use crate::plan::model::LotState;
use crate::plan::money::{Currency, Price};
use crate::plan::quantity::{Quantity, Unit};
use crate::plan::rounding::half_up_i64;
use rusqlite::types::Null;
use rusqlite::{Connection, OptionalExtension};

/// What a lot holds at this moment of the transaction.
#[derive(Clone, Debug)]
pub(super) struct Held {
    pub(super) on_hand: Quantity,
    pub(super) cost: Price,
    pub(super) moved: bool,
    pub(super) state: LotState,
    pub(super) unit: Unit,
    pub(super) currency: Currency,
}

/// What the lot holds; [`Refusal::Unknown`] where there is no such lot.
pub(super) fn held(connection: &Connection, lot: &str) -> Result<Held, StoreError> {
    let sql =
        "SELECT coalesce(on_hand, 0) AS on_hand, coalesce(lot_balances.cost, 0) AS cost, coalesce(moved, 0) AS moved,
            state, coalesce(unit, 'mg') AS unit, currency
        FROM lots LEFT JOIN lot_balances USING (lot) LEFT JOIN materials ON code = lots.material WHERE lots.lot = ?1";
    let found = connection.prepare_cached(sql)?.query_row([lot], |row| {
        Ok(Held {
            on_hand: row.get("on_hand")?,
            cost: row.get("cost")?,
            moved: row.get("moved")?,
            state: row.get("state")?,
            unit: row.get("unit")?,
            currency: row.get("currency")?,
        })
    });
    found.optional()?.ok_or_else(|| Refusal::Unknown { what: "lot", code: lot.to_owned() }.into())
}

/// What a material or premix is counted in: only materials may be counted in pieces.
pub(super) fn unit_of(connection: &Connection, item: &str) -> Result<Unit, StoreError> {
    let sql = "SELECT unit FROM materials WHERE code = ?1";
    let unit = connection.prepare_cached(sql)?.query_row([item], |row| row.get(0)).optional()?;
    Ok(unit.unwrap_or(Unit::Milligram))
}

/// The part of the cost that goes with `taken` of what the lot holds, half up. It is taken of what is left, not of what
/// the lot once cost, so that the last draw takes the rest and all of them add up.
pub(super) fn cost_share(held: &Held, taken: Quantity) -> Price {
    let share = i128::from(held.cost.minor) * i128::from(taken.0);
    Price { minor: half_up_i64(share, i128::from(held.on_hand.0.max(1))) }
}

/// An act that is being written.
pub(super) struct Act<'store> {
    connection: &'store Connection,
    number: i64,
    stamp: &'store Stamp,
}

/// Why something is changed, and who says so.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Because<'a> {
    pub(super) who: &'a str,
    pub(super) reason: &'a str,
}

impl<'store> Act<'store> {
    /// Writes down a new act; `subject` is the code of what it is about.
    pub(super) fn begin(
        connection: &'store Connection,
        kind: &str,
        subject: &str,
        stamp: &'store Stamp,
    ) -> Result<Self, StoreError> {
        Self::begin_undoing(connection, kind, subject, None, stamp)
    }

    /// Writes down a new act that undoes another.
    pub(super) fn begin_undoing(
        connection: &'store Connection,
        kind: &str,
        subject: &str,
        undoes: Option<i64>,
        stamp: &'store Stamp,
    ) -> Result<Self, StoreError> {
        let number = next_number(connection, "SELECT coalesce(max(act), 0) + 1 FROM acts")?;
        let row = ActRow {
            act: number,
            kind: kind.to_owned(),
            subject: subject.to_owned(),
            day: stamp.day,
            recorded_at: stamp.recorded_at.clone(),
            undoes,
            who: stamp.who.trim().to_owned(),
        };
        write_acts(connection, &[&row])?;
        Ok(Self { connection, number, stamp })
    }

    pub(super) fn number(&self) -> i64 {
        self.number
    }

    /// A movement of this act with the next free number, on the act's day and without batch or reason. It is not
    /// written yet.
    pub(super) fn movement(
        &self,
        kind: MovementKind,
        lot: &str,
        amount: i64,
        cost: i64,
    ) -> Result<MovementRow, StoreError> {
        Ok(MovementRow {
            movement: self.next_movement()?,
            act: self.number,
            kind,
            lot: lot.to_owned(),
            amount,
            cost,
            day: self.stamp.day,
            recorded_at: self.stamp.recorded_at.clone(),
            reason: String::new(),
            batch: String::new(),
            reverses: None,
        })
    }

    /// The next free number of a movement.
    fn next_movement(&self) -> Result<i64, StoreError> {
        next_number(self.connection, "SELECT coalesce(max(movement), 0) + 1 FROM movements")
    }

    /// A row of the ledger of pieces, likewise.
    pub(super) fn pieces(&self, kind: PieceKind, batch: &str, pieces: i64) -> Result<PieceRow, StoreError> {
        Ok(PieceRow {
            piece_movement: next_number(self.connection, "SELECT coalesce(max(piece_movement), 0) + 1 FROM pieces")?,
            act: self.number,
            batch: batch.to_owned(),
            kind,
            pieces,
            day: self.stamp.day,
            reason: String::new(),
            reverses: None,
        })
    }

    /// Puts `after` in a column and writes down what stood there; nothing where it stands there already.
    pub(super) fn change(&self, spot: Spot<'_>, after: &str, because: Because<'_>) -> Result<(), StoreError> {
        let before = spot.current(self.connection)?.unwrap_or_default();
        if before == after { Ok(()) } else { self.put(spot, after, because) }
    }

    /// As [`Act::change`], written down also where it stands there already.
    pub(super) fn put(&self, spot: Spot<'_>, after: &str, because: Because<'_>) -> Result<(), StoreError> {
        let before = spot.current(self.connection)?.unwrap_or_default();
        spot.set(self.connection, after)?;
        self.log(spot, &before, after, because)
    }

    /// Writes down that this act made something that stands from now on.
    pub(super) fn made(&self, spot: Spot<'_>, because: Because<'_>) -> Result<(), StoreError> {
        self.log(spot, "", "yes", because)
    }

    /// Who does the act changes what it changes, where nobody else is named for that.
    fn log(&self, spot: Spot<'_>, before: &str, after: &str, because: Because<'_>) -> Result<(), StoreError> {
        let who = if because.who.is_empty() { &self.stamp.who } else { because.who };
        let row = ChangeRow {
            change: next_number(self.connection, "SELECT coalesce(max(change), 0) + 1 FROM changes")?,
            act: self.number,
            what: spot.what.to_owned(),
            code: spot.code.to_owned(),
            part: spot.part.to_owned(),
            field: spot.field.to_owned(),
            before: before.to_owned(),
            after: after.to_owned(),
            who: who.trim().to_owned(),
            reason: because.reason.trim().to_owned(),
        };
        rows::changes(self.connection, &[&row])
    }
}

fn next_number(connection: &Connection, sql: &str) -> Result<i64, StoreError> {
    Ok(connection.prepare_cached(sql)?.query_row([], |row| row.get(0))?)
}

static ACTS: Insert = Insert::new("acts", &[], &["act", "kind", "subject", "day", "recorded_at", "undoes", "who"]);

pub(super) fn write_acts(connection: &Connection, rows: &[&ActRow]) -> Result<(), StoreError> {
    ACTS.write(connection, rows, |values, row| {
        put!(values, row.act, row.kind, row.subject, Day(row.day), row.recorded_at, row.undoes, row.who)
    })
}

/// What is left of a batch.
pub(super) fn pieces_held(connection: &Connection, batch: &str) -> Result<i64, StoreError> {
    let sql = "SELECT on_hand FROM piece_balances WHERE batch = ?1";
    let held = connection.prepare_cached(sql)?.query_row([batch], |row| row.get(0)).optional()?;
    Ok(held.unwrap_or(0))
}

/// Writes a row of the ledger of pieces. What would leave less than nothing is refused here, before the CHECK would.
pub(super) fn write_pieces(connection: &Connection, row: &PieceRow) -> Result<(), StoreError> {
    let held = pieces_held(connection, &row.batch)?;
    if held.saturating_add(row.pieces) < 0 {
        let asked = row.pieces.saturating_neg();
        return Err(Refusal::FewerPieces { batch: row.batch.clone(), held, asked }.into());
    }
    PIECES.write(connection, [row], put_pieces)
}

static PIECES: Insert =
    Insert::new("pieces", &[], &["piece_movement", "act", "batch", "kind", "pieces", "day", "reason", "reverses"]);

fn put_pieces(values: &mut Values<'_, '_>, row: &PieceRow) -> rusqlite::Result<()> {
    put!(values, row.piece_movement, row.act, row.batch, row.kind, row.pieces, Day(row.day), row.reason, row.reverses)
}

/// As [`write_pieces`], for many rows in their order.
pub(super) fn write_many_pieces(connection: &Connection, rows: &[&PieceRow]) -> Result<(), StoreError> {
    PIECES.write_or_tell(connection, rows, put_pieces, |row| write_pieces(connection, row))
}

/// Writes a movement of an act that is written. What would leave less than nothing of its lot is refused here, before
/// the CHECK would do so in words of its own.
pub(super) fn write_movement(connection: &Connection, row: &MovementRow) -> Result<(), StoreError> {
    let held = held(connection, &row.lot)?;
    if i128::from(held.on_hand.0) + i128::from(row.amount) < 0 {
        let asked = Quantity(row.amount.saturating_neg());
        return Err(Refusal::HoldsLess { lot: row.lot.clone(), held: held.on_hand, asked, unit: held.unit }.into());
    }
    MOVEMENTS.write(connection, [row], put_movement)
}

fn put_movement(values: &mut Values<'_, '_>, row: &MovementRow) -> rusqlite::Result<()> {
    put!(
        values,
        row.movement,
        row.act,
        row.kind,
        row.lot,
        row.amount,
        row.cost,
        Day(row.day),
        row.reason,
        named(&row.batch),
        row.reverses
    )
}

/// As [`write_movement`], for many rows in their order; `told` is called for each.
pub(super) fn write_movements(
    connection: &Connection,
    rows: &[&MovementRow],
    told: impl Fn(),
) -> Result<(), StoreError> {
    let bind = |values: &mut Values<'_, '_>, row: &MovementRow| {
        told();
        put_movement(values, row)
    };
    MOVEMENTS.write_or_tell(connection, rows, bind, |row| write_movement(connection, row))
}

static MOVEMENTS: Insert = Insert::new(
    "movements",
    &[],
    &["movement", "act", "kind", "lot", "amount", "cost", "day", "reason", "batch", "reverses"],
);

/// Receives lots that this transaction has just written, each whole and on the day that it came, where that is not to come.
/// `told` is called for each.
pub(super) fn write_receipts(
    connection: &Connection,
    act: &Act<'_>,
    lots: &[&LotRow],
    told: impl Fn(),
) -> Result<(), StoreError> {
    let numbered = lots.iter().zip(act.next_movement()?..).collect::<Vec<_>>();
    let today = act.stamp.day;
    MOVEMENTS.write(connection, numbered, |values, (lot, movement)| {
        told();
        let day = lot.received.filter(|day| *day <= today).unwrap_or(today);
        let (kind, reason, none) = (MovementKind::Receipt, "", Null);
        put!(values, movement, act.number, kind, lot.lot, lot.amount, lot.cost, Day(day), reason, none, none)
    })
}
