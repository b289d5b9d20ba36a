//! Undoing: an act is taken back by an act of its own, with reversing movements, and what it changed is put back.
//!
//! To undo an undoing is to do the first thing again: its movements are written anew, with the amounts and costs they
//! had. Either is refused where something that was done later builds on it; then all that stands in the way is told.

use super::super::bench::STANDS;
use super::super::changes::Spot;
use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Because, held, pieces_held, write_movement, write_pieces};
use super::super::load::{all, sql};
use super::super::read::{ACTS, CHANGES, MOVEMENTS, PIECES, act as read_act, change, movement, pieces};
use super::super::{Reading, Stamp, Writing};
use crate::book::rows::{ActRow, ChangeRow, MovementKind, MovementRow, PieceKind, PieceRow};
use crate::plan::measure::canonical;
use crate::plan::model::LotState;
use crate::plan::quantity::Quantity;
use rusqlite::{OptionalExtension, params};
use std::collections::BTreeSet;

/// Why a lot is open from a day that no act wrote: the log says so, and later undoings look for it.
const FIRST_DRAW: &str = "from the first draw that stands";

/// What an undoing did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Undone {
    /// The act that it took back, or did again.
    pub act: ActRow,
    /// The number of the act that did so.
    pub by: i64,
    /// True where the act stands again.
    pub again: bool,
}

/// What is to be taken back.
struct Target {
    /// What was done at first.
    root: ActRow,
    /// The last act of the chain of undoings from there: its movements and changes are reversed.
    tail: i64,
    /// True where that makes the first act stand again.
    again: bool,
}

impl Reading<'_> {
    /// An act and those that undo each other after it, the first thing done first.
    pub(in crate::store) fn chain(&self, act: i64) -> Result<Vec<ActRow>, StoreError> {
        let connection = self.connection();
        let mut chain = Vec::new();
        let by_number = &format!("{ACTS} WHERE act = ?1");
        let mut earlier = connection.prepare_cached(by_number)?.query_row([act], read_act).optional()?;
        while let Some(row) = earlier {
            earlier = match row.undoes {
                Some(undone) => connection.prepare_cached(by_number)?.query_row([undone], read_act).optional()?,
                None => None,
            };
            chain.insert(0, row);
        }
        let by_undone = &format!("{ACTS} WHERE undoes = ?1");
        while let Some(last) = chain.last() {
            match connection.prepare_cached(by_undone)?.query_row([last.act], read_act).optional()? {
                Some(later) => chain.push(later),
                None => break,
            }
        }
        Ok(chain)
    }

    /// The last act after `after` of which movements of the lot stand, but for the undoing that is being written.
    fn later_act_on_lot(&self, lot: &str, after: i64, kinds: &str) -> Result<Option<i64>, StoreError> {
        let sql = format!(
            "SELECT max(act) FROM movements WHERE lot = ?1 AND act > ?2
                AND act < (SELECT max(act) FROM acts) AND {kinds} AND {STANDS}"
        );
        Ok(self.connection().prepare_cached(&sql)?.query_row(params![lot, after], |row| row.get(0))?)
    }
}

impl Writing<'_> {
    /// Takes back an act, or with `None` the last one that stands: its movements and pieces are reversed, and what it
    /// changed besides is put back where it still is as the act left it (of what an order has received, the act's own
    /// packs are taken off). Undoing an act that undid another does that one again.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::NothingToUndo`], [`Refusal::UndoneAlready`], [`Refusal::NotUndone`],
    /// [`Refusal::InTheWay`], and whatever keeps the file from being written.
    pub fn undo(&self, act: Option<i64>, stamp: &Stamp) -> Result<Undone, StoreError> {
        self.whole(|| {
            let target = match act {
                Some(act) => self.named_target(act)?,
                None => self.last_target()?,
            };
            self.refuse_what_is_not_undone(&target)?;
            let subject = &target.root.subject;
            let by = Act::begin_undoing(self.connection(), "undo", subject, Some(target.tail), stamp)?;
            let mut obstacles = Vec::new();
            let drawn = self.reverse_movements(&by, &target, &mut obstacles)?;
            self.reverse_pieces(&by, &target, &mut obstacles)?;
            self.put_back(&by, &target, &mut obstacles)?;
            for lot in &drawn {
                self.settle_opening(&by, lot)?;
            }
            if !obstacles.is_empty() {
                let (act, kind) = (target.root.act, target.root.kind.clone());
                return Err(Refusal::InTheWay { act, kind, again: target.again, obstacles }.into());
            }
            Ok(Undone { by: by.number(), again: target.again, act: target.root })
        })
    }

    fn named_target(&self, act: i64) -> Result<Target, StoreError> {
        let chain = self.chain(act)?;
        let (Some(root), Some(last)) = (chain.first(), chain.last()) else {
            return Err(Refusal::Unknown { what: "act", code: act.to_string() }.into());
        };
        // Of a chain, every second act says the same: it stands, or it does not.
        let place = chain.iter().position(|row| row.act == act).unwrap_or(0);
        if (chain.len() - 1 - place) % 2 == 1 {
            return Err(Refusal::UndoneAlready { act, by: last.act }.into());
        }
        Ok(Target { root: root.clone(), tail: last.act, again: chain.len().is_multiple_of(2) })
    }

    /// The last act that stands and is no undoing, by when it was done or done again.
    fn last_target(&self) -> Result<Target, StoreError> {
        let sql = "SELECT act FROM acts WHERE NOT EXISTS (SELECT 1 FROM acts AS later WHERE later.undoes = acts.act)
            ORDER BY act DESC";
        let mut statement = self.connection().prepare_cached(sql)?;
        let mut tails = statement.query([])?;
        while let Some(row) = tails.next()? {
            let target = self.named_target(row.get(0)?)?;
            if !target.again {
                return Ok(target);
            }
        }
        Err(Refusal::NothingToUndo.into())
    }

    fn refuse_what_is_not_undone(&self, target: &Target) -> Result<(), StoreError> {
        let (act, kind) = (target.root.act, target.root.kind.clone());
        let why = match kind.as_str() {
            "import" => "it took over files; count, write off or import what is right",
            "ledger" => "it came with a ledger that did not say what it was",
            "upgrade" => "it brought the store up to date",
            _ => {
                let sql = "SELECT EXISTS (SELECT 1 FROM acts WHERE kind = 'upgrade' AND act > ?1)";
                if !self.connection().prepare_cached(sql)?.query_row([act], |row| row.get::<_, bool>(0))? {
                    return Ok(());
                }
                "it was written by a version that did not keep what it changed"
            }
        };
        Err(Refusal::NotUndone { act, kind, why }.into())
    }

    /// Returns the lots whose draws came or went.
    fn reverse_movements(
        &self,
        by: &Act<'_>,
        target: &Target,
        obstacles: &mut Vec<String>,
    ) -> Result<BTreeSet<String>, StoreError> {
        let connection = self.connection();
        // Backwards: what a count has found in an act, the same act may have used.
        let of_act = format!("{MOVEMENTS} WHERE act = ?1 ORDER BY movement DESC");
        let (mut lots, mut drawn) = (BTreeSet::new(), BTreeSet::new());
        for row in all(connection, &of_act, [target.tail], movement)? {
            let blank = by.movement(row.kind, &row.lot, -row.amount, -row.cost)?;
            let batch = row.batch.clone();
            let next = match row.reverses {
                None => {
                    let reason = format!("act {} undone", target.root.act);
                    MovementRow { batch, reason, reverses: Some(row.movement), ..blank }
                }
                Some(first) => {
                    let sql = format!("{MOVEMENTS} WHERE movement = ?1");
                    let first = connection.prepare_cached(&sql)?.query_row([first], movement)?;
                    MovementRow { batch, reason: first.reason, day: first.day, ..blank }
                }
            };
            if row.kind == MovementKind::Issue {
                drawn.insert(row.lot.clone());
            }
            lots.insert(row.lot);
            if self.fits(&next, row.reverses, target, obstacles)? {
                write_movement(connection, &next)?;
            }
        }
        // Where something was left out, the costs say nothing.
        if obstacles.is_empty() {
            for lot in &lots {
                self.check_cost(lot, target, obstacles)?;
            }
        }
        Ok(drawn)
    }

    /// True where a movement can be written; else what stands in its way is told.
    /// `first` is the movement that it writes anew. A count says how much there was: it is only done again from what
    /// the lot held then.
    fn fits(
        &self,
        next: &MovementRow,
        first: Option<i64>,
        target: &Target,
        obstacles: &mut Vec<String>,
    ) -> Result<bool, StoreError> {
        let held = held(self.connection(), &next.lot)?;
        let held_then = match first.filter(|_| next.kind == MovementKind::Count) {
            Some(first) => {
                let sql = "SELECT coalesce(sum(amount), 0) FROM movements WHERE lot = ?1 AND movement < ?2";
                let before =
                    self.connection().prepare_cached(sql)?.query_row(params![next.lot, first], |row| row.get(0));
                Some(Quantity(before?))
            }
            None => None,
        };
        let before = obstacles.len();
        if next.kind == MovementKind::Count
            && let Some(later) = self.later_act_on_lot(&next.lot, target.tail, "kind = 'count'")?
        {
            obstacles.push(format!("lot {} was counted again: undo act {later} first", next.lot));
        } else if held_then.is_some_and(|then| then != held.on_hand) {
            obstacles.push(format!("lot {} does not hold what it did before that count: count it anew", next.lot));
        } else if i128::from(held.on_hand.0) + i128::from(next.amount) < 0 {
            let (left, taken) = (canonical(held.on_hand, held.unit), canonical(Quantity(-next.amount), held.unit));
            let first = self.first_undo(&next.lot, target.tail)?;
            obstacles.push(format!("lot {} holds {left}, and {taken} would be taken from it{first}", next.lot));
        } else if i128::from(held.cost.minor) + i128::from(next.cost) < 0 {
            obstacles.push(self.cost_obstacle(&next.lot, target)?);
        }
        if next.kind == MovementKind::Receipt
            && first.is_none()
            && obstacles.len() == before
            && let Some(later) = self.later_act_on_lot(&next.lot, target.tail, "1")?
        {
            // What never came cannot have been used, nor counted.
            obstacles.push(format!("lot {} has moved since: undo act {later} first", next.lot));
        }
        let uses = next.kind == MovementKind::Issue && next.reverses.is_none() && !next.batch.is_empty();
        if uses && held.state != LotState::Released {
            obstacles.push(format!("lot {} is not released any more", next.lot));
        }
        Ok(obstacles.len() == before)
    }

    /// What is used up is paid for, and counts give back no more than they took.
    fn check_cost(&self, lot: &str, target: &Target, obstacles: &mut Vec<String>) -> Result<(), StoreError> {
        let held = held(self.connection(), lot)?;
        let sql = "SELECT coalesce(sum(cost), 0) FROM movements WHERE lot = ?1 AND kind = 'count'";
        let found: i64 = self.connection().prepare_cached(sql)?.query_row([lot], |row| row.get(0))?;
        if held.on_hand.is_zero() && held.cost.minor != 0 || found > 0 {
            obstacles.push(self.cost_obstacle(lot, target)?);
        }
        Ok(())
    }

    fn cost_obstacle(&self, lot: &str, target: &Target) -> Result<String, StoreError> {
        let first = self.first_undo(lot, target.tail)?;
        Ok(format!("the cost of lot {lot} would not add up any more{first}"))
    }

    fn first_undo(&self, lot: &str, tail: i64) -> Result<String, StoreError> {
        let later = self.later_act_on_lot(lot, tail, "1")?;
        Ok(later.map_or_else(String::new, |act| format!(": undo act {act} first")))
    }

    fn reverse_pieces(&self, by: &Act<'_>, target: &Target, obstacles: &mut Vec<String>) -> Result<(), StoreError> {
        let connection = self.connection();
        let of_act = sql(PIECES, "WHERE act = ?1 ORDER BY piece_movement DESC");
        for row in all(connection, &of_act, [target.tail], pieces)? {
            let blank = by.pieces(row.kind, &row.batch, -row.pieces)?;
            let next = match row.reverses {
                None => {
                    let reason = format!("act {} undone", target.root.act);
                    PieceRow { reason, reverses: Some(row.piece_movement), ..blank }
                }
                Some(first) => {
                    let of_number = sql(PIECES, "WHERE piece_movement = ?1");
                    let first = connection.prepare_cached(&of_number)?.query_row([first], pieces)?;
                    PieceRow { reason: first.reason, day: first.day, ..blank }
                }
            };
            let sql = "SELECT max(act) FROM pieces WHERE batch = ?1 AND act > ?2 AND +reverses IS NULL
                AND (?3 OR kind = 'count') AND NOT EXISTS (
                    SELECT 1 FROM pieces AS later WHERE later.reverses = pieces.piece_movement
                )";
            let is_count = next.kind == PieceKind::Count;
            let leaves = matches!(next.kind, PieceKind::Sale | PieceKind::Gift | PieceKind::Sample);
            let later: Option<i64> = connection
                .prepare_cached(sql)?
                .query_row(params![next.batch, target.tail, !is_count], |row| row.get(0))?;
            let first = later.map_or_else(String::new, |act| format!(": undo act {act} first"));
            let left = pieces_held(connection, &next.batch)?;
            let left_then: Option<i64> = match row.reverses.filter(|_| is_count) {
                Some(first) => {
                    let sql = "SELECT coalesce(sum(pieces), 0) FROM pieces WHERE batch = ?1 AND piece_movement < ?2";
                    Some(connection.prepare_cached(sql)?.query_row(params![next.batch, first], |row| row.get(0))?)
                }
                None => None,
            };
            if leaves && row.reverses.is_some() && self.state_of_pieces(&next.batch)? != LotState::Released {
                obstacles.push(format!("the pieces of batch {} are held back now", next.batch));
            } else if is_count && later.is_some() {
                obstacles.push(format!("the pieces of batch {} were counted again{first}", next.batch));
            } else if left_then.is_some_and(|then| then != left) {
                let batch = &next.batch;
                obstacles.push(format!("batch {batch} does not have what it had before that count: count it anew"));
            } else if left.saturating_add(next.pieces) < 0 {
                let taken = -next.pieces;
                obstacles.push(format!(
                    "batch {} has {left} pieces left, and {taken} would be taken from it{first}",
                    next.batch
                ));
            } else if let Some(later) = later.filter(|_| next.kind == PieceKind::Made && row.reverses.is_none()) {
                // What was never made cannot have left, nor been counted.
                obstacles.push(format!("the pieces of batch {} have moved since: undo act {later} first", next.batch));
            } else {
                write_pieces(connection, &next)?;
            }
        }
        Ok(())
    }

    fn put_back(&self, by: &Act<'_>, target: &Target, obstacles: &mut Vec<String>) -> Result<(), StoreError> {
        let of_act = sql(CHANGES, "WHERE act = ?1 ORDER BY change DESC");
        for row in all(self.connection(), &of_act, [target.tail], change)? {
            let spot = Spot { what: &row.what, code: &row.code, part: &row.part, field: &row.field };
            let Some(current) = spot.current(self.connection())? else {
                obstacles.push(format!("{} is not in the store", spot.named()));
                continue;
            };
            if row.field == "packs_received" {
                self.put_back_packs(by, spot, &row, &current, obstacles)?;
                continue;
            }
            // An opening that was only derived gives way to one that an act wrote.
            let gives_way = row.field == "opened" && (current.is_empty() || self.is_derived(&row.code, &current)?);
            if current != row.after && !gives_way {
                let first = self.later_change(&row)?;
                let shown = |value: &str| if value.is_empty() { "empty".to_owned() } else { value.to_owned() };
                obstacles.push(format!(
                    "{} has been changed since ({} is {}, not {}){first}",
                    spot.named(),
                    row.field,
                    shown(&current),
                    shown(&row.after)
                ));
                continue;
            }
            if let Some(obstacle) = self.builds_on(target, &row)? {
                obstacles.push(obstacle);
                continue;
            }
            if row.field == "opened" && !target.again {
                // The act opened a closed lot. Others may have drawn from it since: it stays open from the first of
                // these draws on.
                by.put(spot, &self.first_draw(&row.code)?, Because { who: "", reason: FIRST_DRAW })?;
                continue;
            }
            let reason = format!("act {} {}", target.root.act, if target.again { "done again" } else { "undone" });
            by.change(spot, &row.before, Because { who: "", reason: &reason })?;
        }
        Ok(())
    }

    /// Takes off what the act added: other parcels of the same line may have come since.
    fn put_back_packs(
        &self,
        by: &Act<'_>,
        spot: Spot<'_>,
        row: &ChangeRow,
        current: &str,
        obstacles: &mut Vec<String>,
    ) -> Result<(), StoreError> {
        let number = |text: &str| text.parse::<i64>().unwrap_or(0);
        let value = number(current) - (number(&row.after) - number(&row.before));
        let sql = "SELECT packs FROM order_lines WHERE order_code = ?1 AND material = substr(?2, instr(?2, ' ') + 1)
            AND pack = CAST(substr(?2, 1, instr(?2, ' ') - 1) AS INTEGER)";
        let packs: i64 = self.connection().prepare_cached(sql)?.query_row([spot.code, spot.part], |row| row.get(0))?;
        if value < 0 || value > packs.max(number(current)) {
            obstacles.push(format!("of {} {current} of {packs} packs have come", spot.named()));
            return Ok(());
        }
        by.change(spot, &value.to_string(), Because::default())
    }

    /// The day of the first draw from a lot that stands; empty where there is none.
    fn first_draw(&self, lot: &str) -> Result<String, StoreError> {
        let sql =
            format!("SELECT coalesce(min(day), '') FROM movements WHERE lot = ?1 AND kind = 'issue' AND {STANDS}");
        Ok(self.connection().prepare_cached(&sql)?.query_row([lot], |row| row.get(0))?)
    }

    /// A lot is opened by the first draw that stands, also where the draw that opened it at first was undone while
    /// others stood, and these were undone after it. What an act or a file said of the opening stays.
    fn settle_opening(&self, by: &Act<'_>, lot: &str) -> Result<(), StoreError> {
        let spot = Spot::lot(lot, "opened");
        let Some(current) = spot.current(self.connection())? else { return Ok(()) };
        if current.is_empty() || self.is_derived(lot, &current)? && !self.was_opened_itself(lot)? {
            by.change(spot, &self.first_draw(lot)?, Because { who: "", reason: FIRST_DRAW })?;
        }
        Ok(())
    }

    /// True where an undoing has put this day of opening there because it was that of the first draw.
    fn is_derived(&self, lot: &str, opened: &str) -> Result<bool, StoreError> {
        let sql = "SELECT after, reason FROM changes WHERE what = 'lot' AND code = ?1 AND field = 'opened'
            ORDER BY change DESC LIMIT 1";
        let read = |row: &rusqlite::Row<'_>| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?));
        let last = self.connection().prepare_cached(sql)?.query_row([lot], read).optional()?;
        Ok(last.is_some_and(|(after, reason)| after == opened && reason == FIRST_DRAW))
    }

    /// True where an act of opening the lot stands.
    fn was_opened_itself(&self, lot: &str) -> Result<bool, StoreError> {
        let sql = "SELECT act FROM changes JOIN acts USING (act)
            WHERE what = 'lot' AND code = ?1 AND field = 'opened' AND kind = 'open'";
        for act in all(self.connection(), sql, [lot], |row| row.get(0))? {
            let chain = self.chain(act)?;
            if chain.len() % 2 == 1 {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// What later acts rest on a change that is about to be put back.
    fn builds_on(&self, target: &Target, row: &ChangeRow) -> Result<Option<String>, StoreError> {
        let code = &row.code;
        let found = |sql: &str| -> Result<Option<String>, StoreError> {
            Ok(self.connection().prepare_cached(sql)?.query_row([code], |row| row.get(0)).optional()?)
        };
        match (row.what.as_str(), row.field.as_str()) {
            ("lot", "state") if row.after == LotState::Released.word() => {
                let later = self.later_act_on_lot(code, target.tail, "kind = 'issue' AND batch IS NOT NULL")?;
                Ok(later.map(|act| format!("lot {code} was used since it was released: undo act {act} first")))
            }
            ("batch", "state") => {
                let sql =
                    "SELECT max(act) FROM pieces WHERE batch = ?1 AND act > ?2 AND kind IN ('sale', 'gift', 'sample')
                    AND +reverses IS NULL
                    AND NOT EXISTS (SELECT 1 FROM pieces AS later WHERE later.reverses = pieces.piece_movement)";
                let mut statement = self.connection().prepare_cached(sql)?;
                let later: Option<i64> = statement.query_row(params![code, target.tail], |found| found.get(0))?;
                let later = later.filter(|_| row.after == LotState::Released.word());
                Ok(later.map(|act| format!("pieces of batch {code} have left since: undo act {act} first")))
            }
            ("batch", _) if row.before == "yes" => {
                let sql = "SELECT other.batch FROM batches AS other JOIN batches AS this ON other.entry = this.entry
                    WHERE this.batch = ?1 AND this.fulfils_entry = 1 AND other.fulfils_entry = 1 AND other.undone = 0";
                Ok(found(sql)?.map(|other| format!("its plan entry has been made since, as batch {other}")))
            }
            ("plan", "stands") if row.before.is_empty() => {
                // An entry may be dropped after parts of it were made, but what was made for it was planned once.
                let parts = if target.root.kind == "plan-add" { "" } else { "AND fulfils_entry = 1" };
                let sql =
                    format!("SELECT batch FROM batches WHERE entry = ?1 AND undone = 0 {parts} ORDER BY batch LIMIT 1");
                Ok(found(&sql)?.map(|batch| format!("plan entry {code} was made, as batch {batch}")))
            }
            ("formula", _) if row.before.is_empty() => {
                let sql = "SELECT 'batch ' || batch || ' was made to it' FROM batches
                    WHERE formula = ?1 AND version = ?2 AND undone = 0
                    UNION ALL SELECT 'product ' || code || ' asks for it' FROM products
                    WHERE formula = ?1 AND version = ?2 LIMIT 1";
                let mut statement = self.connection().prepare_cached(sql)?;
                let found: Option<String> = statement.query_row([code, &row.part], |found| found.get(0)).optional()?;
                Ok(found.map(|why| format!("formula {code}, version {}, is in use: {why}", row.part)))
            }
            ("order", "stands") if row.before.is_empty() && target.root.kind == "place-order" => {
                let sql = "SELECT order_code FROM order_lines WHERE order_code = ?1 AND packs_received > 0 LIMIT 1";
                Ok(found(sql)?.map(|_| format!("some of order {code} has been received")))
            }
            _ => Ok(None),
        }
    }

    /// Which act has changed the same thing since, where one has.
    fn later_change(&self, row: &ChangeRow) -> Result<String, StoreError> {
        let sql = "SELECT max(act) FROM changes
            WHERE what = ?1 AND code = ?2 AND part = ?3 AND field = ?4 AND change > ?5";
        let parameters = params![row.what, row.code, row.part, row.field, row.change];
        let later: Option<i64> = self.connection().prepare_cached(sql)?.query_row(parameters, |row| row.get(0))?;
        Ok(later.map_or_else(String::new, |act| format!(": undo act {act} first")))
    }
}
