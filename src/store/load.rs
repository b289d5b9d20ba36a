//! Tables to rows: the book, the standings of the lots, the journal.

use super::Reading;
use super::codec::{Closed, Day};
use super::error::{Refusal, StoreError};
use crate::book::rows::{
    ActRow, BandStart, BatchRow, ChangeRow, FormulaLineRow, LotRow, MaterialRow, MovementRow, OfferRow, OrderRow,
    PackagingRow, PieceRow, PlanRow, PostageRow, PremixRow, ProductRow, RateRow, SettingRow, Share, SupplierRow,
    WeighingRow, WishRow,
};
use crate::book::{Book, Journal, Standing};
use crate::plan::model::{PlanAmount, PlanDay};
use crate::plan::money::Currency;
use crate::plan::quantity::Mass;
use chrono::NaiveDate;
use rusqlite::{Connection, OptionalExtension, Params, Row};
use std::collections::BTreeSet;

/// What reading a row gives.
type Read<T> = rusqlite::Result<T>;

/// A day that may be missing.
fn day(row: &Row<'_>, column: &str) -> Read<Option<NaiveDate>> {
    Ok(row.get::<_, Option<Day>>(column)?.map(|day| day.0))
}

/// A code that names another row; empty where there is none.
fn code(row: &Row<'_>, column: &str) -> Read<String> {
    Ok(row.get::<_, Option<String>>(column)?.unwrap_or_default())
}

pub(super) fn all<T>(
    connection: &Connection,
    sql: &str,
    parameters: impl Params,
    read: impl FnMut(&Row<'_>) -> Read<T>,
) -> Read<Vec<T>> {
    connection.prepare_cached(sql)?.query_map(parameters, read)?.collect()
}

/// True where the making of the store was finished.
pub(super) fn has_home(connection: &Connection) -> Result<bool, StoreError> {
    let sql = "SELECT 1 FROM settings WHERE setting = 'home_currency'";
    Ok(connection.query_row(sql, [], |_| Ok(())).optional()?.is_some())
}

/// The first row that names something that is not there.
pub(super) fn first_dangling(connection: &Connection) -> Result<Refusal, StoreError> {
    let sql = "SELECT \"table\", parent FROM pragma_foreign_key_check LIMIT 1";
    Ok(connection.query_row(sql, [], |row| Ok(Refusal::Dangling { table: row.get(0)?, parent: row.get(1)? }))?)
}

impl Reading<'_> {
    /// All rows of the book, each list in the order that [`Book`] gives. Plan entries that were dropped or have been
    /// made are not in it.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn book(&self) -> Result<Book, StoreError> {
        let connection = self.connection();
        Ok(Book {
            materials: all(connection, "SELECT * FROM materials ORDER BY code", [], material)?,
            suppliers: all(connection, "SELECT * FROM suppliers ORDER BY code", [], supplier)?,
            postage: all(connection, "SELECT * FROM postage ORDER BY supplier, measure, band_from", [], postage)?,
            offers: all(connection, "SELECT * FROM offers ORDER BY supplier, material, pack, from_packs", [], offer)?,
            rates: all(connection, "SELECT * FROM rates ORDER BY currency, date", [], rate)?,
            lots: all(connection, "SELECT * FROM lots ORDER BY lot", [], lot)?,
            orders: all(connection, ORDERS, [], order)?,
            formula_lines: all(connection, "SELECT * FROM formula_lines ORDER BY formula, version, place", [], line)?,
            premixes: all(connection, "SELECT * FROM premixes ORDER BY code", [], premix)?,
            products: all(connection, "SELECT * FROM products ORDER BY code", [], product)?,
            packaging: all(connection, "SELECT * FROM packaging ORDER BY product, place", [], packaging)?,
            plan: all(connection, PLAN, [], plan)?,
            wishes: all(connection, "SELECT * FROM wishes ORDER BY wish", [], wish)?,
        })
    }

    /// The book as files tell it: with the plan entries that were dropped or have been made.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn whole_book(&self) -> Result<Book, StoreError> {
        let plan = all(self.connection(), "SELECT * FROM plan ORDER BY rank, entry", [], plan)?;
        Ok(Book { plan, ..self.book()? })
    }

    /// What is left of each lot, in the order of their codes.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn standings(&self) -> Result<Vec<Standing>, StoreError> {
        let sql = "SELECT lots.lot, coalesce(on_hand, 0) AS on_hand, coalesce(lot_balances.cost, 0) AS cost,
            coalesce(moved, 0) AS moved FROM lots LEFT JOIN lot_balances USING (lot) ORDER BY lots.lot";
        Ok(all(self.connection(), sql, [], standing)?)
    }

    /// The whole ledger and all that goes with it, each list in the order of its key. It grows with the years: no plan
    /// needs it.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn journal(&self) -> Result<Journal, StoreError> {
        let connection = self.connection();
        Ok(Journal {
            ledger: all(connection, &format!("{MOVEMENTS} ORDER BY movement"), [], movement)?,
            batches: self.batches()?,
            weighings: all(connection, "SELECT * FROM weighings ORDER BY batch, place", [], weighing)?,
            pieces: all(connection, "SELECT * FROM pieces ORDER BY piece_movement", [], pieces)?,
            acts: all(connection, &format!("{ACTS} ORDER BY act"), [], act)?,
            changes: all(connection, "SELECT * FROM changes ORDER BY change", [], change)?,
            settings: self.settings()?,
        })
    }

    /// The open orders that were placed from a proposal (`order place`), and not written down elsewhere and imported.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn orders_once_proposed(&self) -> Result<BTreeSet<String>, StoreError> {
        let sql = "SELECT DISTINCT order_code FROM order_lines
            WHERE cancelled = 0 AND packs_received < packs
                AND EXISTS (SELECT 1 FROM acts WHERE kind = 'place-order' AND subject = order_code)";
        Ok(all(self.connection(), sql, [], |row| row.get(0))?.into_iter().collect())
    }

    /// The batches, in the order of their numbers.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn batches(&self) -> Result<Vec<BatchRow>, StoreError> {
        Ok(all(self.connection(), "SELECT * FROM batches ORDER BY batch", [], batch)?)
    }

    /// The settings, in the order of their names.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn settings(&self) -> Result<Vec<SettingRow>, StoreError> {
        let read = |row: &Row<'_>| Ok(SettingRow { setting: row.get("setting")?, value: row.get("value")? });
        Ok(all(self.connection(), "SELECT * FROM settings ORDER BY setting", [], read)?)
    }

    /// The currency in which the workshop counts.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn home(&self) -> Result<Currency, StoreError> {
        let sql = "SELECT value FROM settings WHERE setting = 'home_currency'";
        Ok(self.connection().query_row(sql, [], |row| row.get(0))?)
    }
}

const ORDERS: &str = "SELECT order_lines.*, supplier FROM order_lines JOIN orders ON code = order_code
    ORDER BY order_code, material, pack";

const PLAN: &str = "SELECT * FROM plan
    WHERE dropped = 0 AND NOT EXISTS (
        SELECT 1 FROM batches
        WHERE batches.entry = plan.entry AND batches.entry <> '' AND fulfils_entry = 1 AND undone = 0
    )
    ORDER BY rank, entry";

/// Acts; [`act`] reads it. Those of the first versions have no day of their own.
pub(super) const ACTS: &str =
    "SELECT act, kind, subject, coalesce(day, substr(recorded_at, 1, 10)) AS day, recorded_at, undoes FROM acts";

/// Movements with the time of their act; [`movement`] reads it.
pub(super) const MOVEMENTS: &str = "SELECT movements.*, recorded_at FROM movements JOIN acts USING (act)";

fn material(row: &Row<'_>) -> Read<MaterialRow> {
    Ok(MaterialRow {
        code: row.get("code")?,
        name: row.get("name")?,
        inci: row.get("inci")?,
        unit: row.get("unit")?,
        density: row.get("density")?,
        piece_mass: row.get("piece_mass")?,
        unopened_life: row.get("unopened_life")?,
        opened_life: row.get("opened_life")?,
        safety_stock: row.get("safety_stock")?,
        shelf_space: row.get("shelf_space")?,
        max_leave_on: row.get("max_leave_on")?,
        max_rinse_off: row.get("max_rinse_off")?,
        storage: row.get("storage")?,
        caution: row.get("caution")?,
        always_at_hand: row.get("always_at_hand")?,
    })
}

fn supplier(row: &Row<'_>) -> Read<SupplierRow> {
    Ok(SupplierRow {
        code: row.get("code")?,
        name: row.get("name")?,
        email: row.get("email")?,
        currency: row.get("currency")?,
        lead_time_days: row.get("lead_time_days")?,
        order_weekdays: row.get("order_weekdays")?,
        closed: row.get::<_, Closed>("closed")?.0,
        minimum_order: row.get("minimum_order")?,
        postage: row.get("postage")?,
        free_postage_from: row.get("free_postage_from")?,
        duty: row.get("duty")?,
    })
}

fn postage(row: &Row<'_>) -> Read<PostageRow> {
    let from = match row.get::<_, String>("measure")?.as_str() {
        "weight" => BandStart::Weight(row.get("band_from")?),
        _ => BandStart::Value(row.get("band_from")?),
    };
    Ok(PostageRow { supplier: row.get("supplier")?, from, fee: row.get("fee")? })
}

fn offer(row: &Row<'_>) -> Read<OfferRow> {
    Ok(OfferRow {
        supplier: row.get("supplier")?,
        material: row.get("material")?,
        pack: row.get("pack")?,
        pack_text: row.get("pack_text")?,
        price: row.get("price")?,
        from_packs: row.get("from_packs")?,
        life_on_arrival: row.get("life_on_arrival")?,
        item_no: row.get("item_no")?,
    })
}

fn rate(row: &Row<'_>) -> Read<RateRow> {
    Ok(RateRow { date: row.get::<_, Day>("date")?.0, currency: row.get("currency")?, rate: row.get("rate")? })
}

pub(super) fn lot(row: &Row<'_>) -> Read<LotRow> {
    Ok(LotRow {
        lot: row.get("lot")?,
        material: row.get("material")?,
        amount: row.get("amount")?,
        supplier: code(row, "supplier")?,
        supplier_lot: row.get("supplier_lot")?,
        received: day(row, "received")?,
        cost: row.get("cost")?,
        currency: row.get("currency")?,
        best_before: day(row, "best_before")?,
        opened: day(row, "opened")?,
        state: row.get("state")?,
        place: row.get("place")?,
        order: code(row, "order_code")?,
    })
}

fn order(row: &Row<'_>) -> Read<OrderRow> {
    Ok(OrderRow {
        order: row.get("order_code")?,
        supplier: row.get("supplier")?,
        material: row.get("material")?,
        pack: row.get("pack")?,
        pack_text: row.get("pack_text")?,
        packs: row.get("packs")?,
        placed: day(row, "placed")?,
        expected: row.get::<_, Day>("expected")?.0,
        price: row.get("price")?,
        packs_received: row.get("packs_received")?,
        cancelled: row.get("cancelled")?,
    })
}

fn line(row: &Row<'_>) -> Read<FormulaLineRow> {
    Ok(FormulaLineRow {
        formula: row.get("formula")?,
        version: row.get("version")?,
        ingredient: row.get("ingredient")?,
        share: row.get::<_, Option<_>>("percent")?.map_or(Share::Balance, Share::Percent),
        phase: row.get("phase")?,
        withdrawn: row.get("withdrawn")?,
    })
}

fn premix(row: &Row<'_>) -> Read<PremixRow> {
    Ok(PremixRow {
        code: row.get("code")?,
        formula: row.get("formula")?,
        make_ahead_days: row.get("make_ahead_days")?,
        loss: row.get("loss")?,
        life: row.get("life")?,
    })
}

fn product(row: &Row<'_>) -> Read<ProductRow> {
    Ok(ProductRow {
        code: row.get("code")?,
        name: row.get("name")?,
        formula: row.get("formula")?,
        version: row.get("version")?,
        product_use: row.get("product_use")?,
        net_mass: row.get("net_mass")?,
        pieces_per_mould: row.get("pieces_per_mould")?,
        loss: row.get("loss")?,
        setting_days: row.get("setting_days")?,
        curing_days: row.get("curing_days")?,
        shelf_life: row.get("shelf_life")?,
        minimum_life: row.get("minimum_life")?,
    })
}

fn packaging(row: &Row<'_>) -> Read<PackagingRow> {
    Ok(PackagingRow {
        product: row.get("product")?,
        material: row.get("material")?,
        per_piece_millionths: row.get("per_piece")?,
        per_batch: row.get("per_batch")?,
    })
}

fn plan(row: &Row<'_>) -> Read<PlanRow> {
    let amount = row.get("amount")?;
    let amount = match row.get::<_, String>("amount_kind")?.as_str() {
        "pieces" => PlanAmount::Pieces(amount),
        "moulds" => PlanAmount::Moulds(amount),
        _ => PlanAmount::NetMass(Mass { mg: amount }),
    };
    let day = row.get::<_, Day>("day")?.0;
    let when = match row.get::<_, String>("day_kind")?.as_str() {
        "ready-by" => PlanDay::ReadyBy(day),
        _ => PlanDay::MakeOn(day),
    };
    let dropped = row.get("dropped")?;
    Ok(PlanRow { entry: row.get("entry")?, product: row.get("product")?, amount, when, dropped })
}

fn wish(row: &Row<'_>) -> Read<WishRow> {
    Ok(WishRow {
        wish: row.get("wish")?,
        kind: row.get("kind")?,
        supplier: code(row, "supplier")?,
        material: code(row, "material")?,
        pack: row.get("pack")?,
        from: day(row, "day_from")?,
        to: day(row, "day_to")?,
        percent: row.get("percent")?,
        amount: row.get("amount")?,
        reason: row.get("reason")?,
        lifted: row.get("lifted")?,
    })
}

pub(super) fn standing(row: &Row<'_>) -> Read<Standing> {
    Ok(Standing {
        lot: row.get("lot")?,
        on_hand: row.get("on_hand")?,
        cost: row.get("cost")?,
        moved: row.get("moved")?,
    })
}

pub(super) fn movement(row: &Row<'_>) -> Read<MovementRow> {
    Ok(MovementRow {
        movement: row.get("movement")?,
        act: row.get("act")?,
        kind: row.get("kind")?,
        lot: row.get("lot")?,
        amount: row.get("amount")?,
        cost: row.get("cost")?,
        day: row.get::<_, Day>("day")?.0,
        recorded_at: row.get("recorded_at")?,
        reason: row.get("reason")?,
        batch: code(row, "batch")?,
        reverses: row.get("reverses")?,
    })
}

pub(super) fn batch(row: &Row<'_>) -> Read<BatchRow> {
    Ok(BatchRow {
        batch: row.get("batch")?,
        entry: row.get("entry")?,
        fulfils_entry: row.get("fulfils_entry")?,
        product: code(row, "product")?,
        premix: code(row, "premix")?,
        formula: row.get("formula")?,
        version: row.get("version")?,
        made_on: row.get::<_, Day>("made_on")?.0,
        mass: row.get("mass")?,
        pieces: row.get("pieces")?,
        best_before: day(row, "best_before")?,
        weighed_by: row.get("weighed_by")?,
        note: row.get("note")?,
        undone: row.get("undone")?,
    })
}

pub(super) fn weighing(row: &Row<'_>) -> Read<WeighingRow> {
    Ok(WeighingRow {
        batch: row.get("batch")?,
        place: row.get("place")?,
        lot: row.get("lot")?,
        target: row.get("target")?,
        weighed: row.get("weighed")?,
        tare: row.get("tare")?,
        reason: row.get("reason")?,
    })
}

pub(super) fn pieces(row: &Row<'_>) -> Read<PieceRow> {
    Ok(PieceRow {
        piece_movement: row.get("piece_movement")?,
        act: row.get("act")?,
        batch: row.get("batch")?,
        kind: row.get("kind")?,
        pieces: row.get("pieces")?,
        day: row.get::<_, Day>("day")?.0,
        reason: row.get("reason")?,
        reverses: row.get("reverses")?,
    })
}

pub(super) fn act(row: &Row<'_>) -> Read<ActRow> {
    Ok(ActRow {
        act: row.get("act")?,
        kind: row.get("kind")?,
        subject: row.get("subject")?,
        day: row.get::<_, Day>("day")?.0,
        recorded_at: row.get("recorded_at")?,
        undoes: row.get("undoes")?,
    })
}

pub(super) fn change(row: &Row<'_>) -> Read<ChangeRow> {
    Ok(ChangeRow {
        change: row.get("change")?,
        act: row.get("act")?,
        what: row.get("what")?,
        code: row.get("code")?,
        part: row.get("part")?,
        field: row.get("field")?,
        before: row.get("before")?,
        after: row.get("after")?,
        who: row.get("who")?,
        reason: row.get("reason")?,
    })
}
