//! Rows to tables: one function for each kind of row, which adds it or changes the one that has its key.

use super::codec::{Day, closed_text};
use super::error::{Refusal, StoreError};
use super::many::{Insert, put};
use crate::book::rows::{
    BandStart, BatchRow, ChangeRow, FormulaLineRow, LotRow, MaterialRow, OfferRow, OrderRow, PackagingRow, PlanRow,
    PostageRow, PremixRow, ProductRow, RateRow, SettingRow, Share, SupplierRow, WeighingRow, WishRow,
};
use crate::plan::model::{PlanAmount, PlanDay};
use crate::plan::quantity::{Quantity, Unit};
use chrono::NaiveDate;
use rusqlite::{Connection, OptionalExtension, params};

type Done = Result<(), StoreError>;

/// Adds a row, or changes the one that has its key.
macro_rules! upsert {
    ($connection:expr, $table:literal, $keys:expr, $others:expr, $($value:expr),+ $(,)?) => {{
        static ROWS: Insert = Insert::new($table, &$keys, &$others);
        ROWS.write($connection, [()], |values, ()| put!(values, $($value),+))
    }};
}

/// A reference to another row; none where the code is empty.
pub(super) fn named(code: &str) -> Option<&str> {
    Some(code).filter(|code| !code.is_empty())
}

fn item(connection: &Connection, code: &str, kind: &'static str) -> Done {
    let sql = "INSERT INTO items (code, kind) VALUES (?1, ?2) ON CONFLICT (code) DO NOTHING";
    connection.prepare_cached(sql)?.execute(params![code, kind])?;
    let sql = "SELECT kind FROM items WHERE code = ?1";
    let other = connection.prepare_cached(sql)?.query_row([code], |row| row.get::<_, String>(0))?;
    if other == kind {
        return Ok(());
    }
    let what = if other == "premix" { "premix" } else { "material" };
    Err(Refusal::Taken { what, code: code.to_owned() }.into())
}

pub(super) fn material(connection: &Connection, row: &MaterialRow) -> Done {
    item(connection, &row.code, "material")?;
    let sql = "SELECT unit FROM materials WHERE code = ?1";
    let unit: Option<Unit> = connection.prepare_cached(sql)?.query_row([&row.code], |row| row.get(0)).optional()?;
    if let Some(unit) = unit.filter(|&unit| unit != row.unit) {
        return Err(Refusal::UnitChanged { material: row.code.clone(), unit }.into());
    }
    upsert!(
        connection,
        "materials",
        ["code"],
        [
            "name",
            "inci",
            "unit",
            "density",
            "piece_mass",
            "unopened_life",
            "opened_life",
            "safety_stock",
            "shelf_space",
            "max_leave_on",
            "max_rinse_off",
            "storage",
            "caution",
            "always_at_hand"
        ],
        row.code,
        row.name,
        row.inci,
        row.unit,
        row.density,
        row.piece_mass,
        row.unopened_life,
        row.opened_life,
        row.safety_stock,
        row.shelf_space,
        row.max_leave_on,
        row.max_rinse_off,
        row.storage,
        row.caution,
        row.always_at_hand
    )
}

pub(super) fn premix(connection: &Connection, row: &PremixRow) -> Done {
    item(connection, &row.code, "premix")?;
    upsert!(
        connection,
        "premixes",
        ["code"],
        ["formula", "make_ahead_days", "loss", "life"],
        row.code,
        row.formula,
        row.make_ahead_days,
        row.loss,
        row.life
    )
}

pub(super) fn supplier(connection: &Connection, row: &SupplierRow) -> Done {
    upsert!(
        connection,
        "suppliers",
        ["code"],
        [
            "name",
            "email",
            "currency",
            "lead_time_days",
            "order_weekdays",
            "closed",
            "minimum_order",
            "postage",
            "free_postage_from",
            "duty"
        ],
        row.code,
        row.name,
        row.email,
        row.currency,
        row.lead_time_days,
        row.order_weekdays,
        closed_text(&row.closed),
        row.minimum_order,
        row.postage,
        row.free_postage_from,
        row.duty
    )
}

fn band_start(from: BandStart) -> (&'static str, i64) {
    match from {
        BandStart::Value(price) => ("value", price.minor),
        BandStart::Weight(mass) => ("weight", mass.mg),
    }
}

pub(super) fn take_out_postage(connection: &Connection, row: &PostageRow) -> Done {
    let (measure, from) = band_start(row.from);
    let sql = "DELETE FROM postage WHERE supplier = ?1 AND measure = ?2 AND band_from = ?3";
    connection.prepare_cached(sql)?.execute(params![row.supplier, measure, from])?;
    Ok(())
}

pub(super) fn take_out_offer(connection: &Connection, row: &OfferRow) -> Done {
    let sql = "DELETE FROM offers WHERE supplier = ?1 AND material = ?2 AND pack = ?3 AND from_packs = ?4";
    connection.prepare_cached(sql)?.execute(params![row.supplier, row.material, row.pack, row.from_packs])?;
    Ok(())
}

pub(super) fn take_out_order_line(connection: &Connection, row: &OrderRow) -> Done {
    let sql = "DELETE FROM order_lines WHERE order_code = ?1 AND material = ?2 AND pack = ?3";
    connection.prepare_cached(sql)?.execute(params![row.order, row.material, row.pack])?;
    Ok(())
}

pub(super) fn postage(connection: &Connection, row: &PostageRow) -> Done {
    let (measure, from) = band_start(row.from);
    upsert!(connection, "postage", ["supplier", "measure", "band_from"], ["fee"], row.supplier, measure, from, row.fee)
}

static OFFERS: Insert = Insert::new(
    "offers",
    &["supplier", "material", "pack", "from_packs"],
    &["pack_text", "price", "life_on_arrival", "item_no"],
);

/// `told` is called for each.
pub(super) fn offers(connection: &Connection, rows: &[&OfferRow], told: impl Fn()) -> Done {
    OFFERS.write(connection, rows, |values, row| {
        told();
        put!(
            values,
            row.supplier,
            row.material,
            row.pack,
            row.from_packs,
            row.pack_text,
            row.price,
            row.life_on_arrival,
            row.item_no
        )
    })
}

pub(super) fn rate(connection: &Connection, row: &RateRow) -> Done {
    upsert!(connection, "rates", ["currency", "date"], ["rate"], row.currency, Day(row.date), row.rate)
}

static LOTS: Insert = Insert::new(
    "lots",
    &["lot"],
    &[
        "material",
        "amount",
        "supplier",
        "supplier_lot",
        "received",
        "cost",
        "currency",
        "best_before",
        "opened",
        "state",
        "place",
        "order_code",
    ],
);

pub(super) fn lots(connection: &Connection, rows: &[&LotRow]) -> Done {
    LOTS.write(connection, rows, |values, row| {
        put!(
            values,
            row.lot,
            row.material,
            row.amount,
            named(&row.supplier),
            row.supplier_lot,
            row.received.map(Day),
            row.cost,
            row.currency,
            row.best_before.map(Day),
            row.opened.map(Day),
            row.state,
            row.place,
            named(&row.order),
        )
    })
}

pub(super) fn order(connection: &Connection, row: &OrderRow) -> Done {
    upsert!(connection, "orders", ["code"], ["supplier"], row.order, row.supplier)?;
    upsert!(
        connection,
        "order_lines",
        ["order_code", "material", "pack"],
        ["pack_text", "packs", "placed", "expected", "price", "packs_received", "cancelled"],
        row.order,
        row.material,
        row.pack,
        row.pack_text,
        row.packs,
        row.placed.map(Day),
        Day(row.expected),
        row.price,
        row.packs_received,
        row.cancelled
    )
}

/// Puts these lines in the place of all lines of their formula version. A version is one recipe: a line of the old one
/// that stayed would spoil it.
pub(super) fn formula_version<'row>(
    connection: &Connection,
    (formula, version): (&str, &str),
    lines: impl Iterator<Item = &'row FormulaLineRow>,
) -> Done {
    let sql = "DELETE FROM formula_lines WHERE formula = ?1 AND version = ?2";
    connection.prepare_cached(sql)?.execute([formula, version])?;
    for (place, line) in (1_i64..).zip(lines) {
        let percent = match line.share {
            Share::Percent(percent) => Some(percent),
            Share::Balance => None,
        };
        let sql = "INSERT INTO formula_lines (formula, version, place, ingredient, percent, phase, withdrawn)
            VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)";
        let parameters = params![formula, version, place, line.ingredient, percent, line.phase, line.withdrawn];
        connection.prepare_cached(sql)?.execute(parameters)?;
    }
    Ok(())
}

pub(super) fn product(connection: &Connection, row: &ProductRow) -> Done {
    upsert!(
        connection,
        "products",
        ["code"],
        [
            "name",
            "formula",
            "version",
            "product_use",
            "net_mass",
            "pieces_per_mould",
            "loss",
            "setting_days",
            "curing_days",
            "shelf_life",
            "minimum_life"
        ],
        row.code,
        row.name,
        row.formula,
        row.version,
        row.product_use,
        row.net_mass,
        row.pieces_per_mould,
        row.loss,
        row.setting_days,
        row.curing_days,
        row.shelf_life,
        row.minimum_life
    )
}

/// Puts these lines in the place of the product's packaging: their places are only known together.
pub(super) fn product_packaging<'row>(
    connection: &Connection,
    product: &str,
    lines: impl Iterator<Item = &'row PackagingRow>,
) -> Done {
    connection.prepare_cached("DELETE FROM packaging WHERE product = ?1")?.execute([product])?;
    for (place, line) in (1_i64..).zip(lines) {
        let sql = "INSERT INTO packaging (product, place, material, per_piece, per_batch) VALUES (?1, ?2, ?3, ?4, ?5)";
        let parameters = params![product, place, line.material, line.per_piece_millionths, line.per_batch];
        connection.prepare_cached(sql)?.execute(parameters)?;
    }
    Ok(())
}

/// A wish that was lifted counts again by this, where its row says so.
pub(super) fn wish(connection: &Connection, row: &WishRow) -> Done {
    upsert!(
        connection,
        "wishes",
        ["wish"],
        ["kind", "supplier", "material", "pack", "day_from", "day_to", "percent", "amount", "reason", "lifted"],
        row.wish,
        row.kind,
        named(&row.supplier),
        named(&row.material),
        row.pack,
        row.from.map(Day),
        row.to.map(Day),
        row.percent,
        row.amount,
        row.reason,
        row.lifted
    )
}

/// The columns of a plan day.
pub(super) fn plan_day(when: PlanDay) -> (NaiveDate, &'static str) {
    match when {
        PlanDay::MakeOn(day) => (day, "make-on"),
        PlanDay::ReadyBy(day) => (day, "ready-by"),
    }
}

/// The columns of a plan amount.
pub(super) fn plan_amount(amount: PlanAmount) -> (i64, &'static str) {
    match amount {
        PlanAmount::Pieces(pieces) => (pieces, "pieces"),
        PlanAmount::Moulds(moulds) => (moulds, "moulds"),
        PlanAmount::NetMass(mass) => (mass.mg, "net-mass"),
    }
}

static PLAN: Insert =
    Insert::new("plan", &["entry"], &["rank", "product", "amount", "amount_kind", "day", "day_kind", "dropped"]);

/// Entries with their ranks. One may be made already: a ledger may have been imported before the plan that it was made to. Batches
/// that come later see to it by triggers.
pub(super) fn plan(connection: &Connection, rows: &[(&PlanRow, i64)]) -> Done {
    PLAN.write(connection, rows, |values, &(row, rank)| {
        let (amount, amount_kind) = plan_amount(row.amount);
        let (day, day_kind) = plan_day(row.when);
        put!(values, row.entry, rank, row.product, amount, amount_kind, Day(day), day_kind, row.dropped)
    })?;
    if connection.query_row("SELECT EXISTS (SELECT 1 FROM batches)", [], |row| row.get(0))? {
        let mut made = connection.prepare_cached(
            "UPDATE plan SET made = 1 WHERE entry = ?1 AND made = 0 AND EXISTS (
                SELECT 1 FROM batches WHERE batches.entry = ?1 AND batches.entry <> '' AND fulfils_entry = 1 AND undone = 0
            )",
        )?;
        for (row, _) in rows {
            made.execute([&row.entry])?;
        }
    }
    Ok(())
}

/// How the log of changes names a line of an order.
pub(super) fn order_part(material: &str, pack: Quantity) -> String {
    format!("{} {material}", pack.0)
}

static BATCHES: Insert = Insert::new(
    "batches",
    &[],
    &[
        "batch",
        "entry",
        "fulfils_entry",
        "product",
        "premix",
        "formula",
        "version",
        "made_on",
        "mass",
        "pieces",
        "best_before",
        "weighed_by",
        "note",
        "undone",
        "state",
    ],
);

/// Adds batches; their numbers must be new.
pub(super) fn new_batches(connection: &Connection, rows: &[&BatchRow]) -> Done {
    BATCHES.write(connection, rows, |values, row| {
        put!(
            values,
            row.batch,
            row.entry,
            row.fulfils_entry,
            named(&row.product),
            named(&row.premix),
            row.formula,
            row.version,
            Day(row.made_on),
            row.mass,
            row.pieces,
            row.best_before.map(Day),
            row.weighed_by,
            row.note,
            row.undone,
            row.state,
        )
    })
}

static WEIGHINGS: Insert =
    Insert::new("weighings", &[], &["batch", "place", "lot", "target", "weighed", "tare", "reason"]);

/// Adds lines of weighing sheets.
pub(super) fn weighings(connection: &Connection, rows: &[&WeighingRow]) -> Done {
    WEIGHINGS.write(connection, rows, |values, row| {
        put!(values, row.batch, row.place, row.lot, row.target, row.weighed, row.tare, row.reason)
    })
}

static CHANGES: Insert = Insert::new(
    "changes",
    &[],
    &["change", "act", "what", "code", "part", "field", "before", "after", "who", "reason"],
);

/// Writes changes down; what they changed is another statement.
pub(super) fn changes(connection: &Connection, rows: &[&ChangeRow]) -> Done {
    CHANGES.write(connection, rows, |values, row| {
        put!(
            values, row.change, row.act, row.what, row.code, row.part, row.field, row.before, row.after, row.who,
            row.reason
        )
    })
}

/// Writes nothing where the setting has the value.
pub(super) fn setting(connection: &Connection, row: &SettingRow) -> Done {
    let sql = "INSERT INTO settings (setting, value) VALUES (?1, ?2)
        ON CONFLICT (setting) DO UPDATE SET value = excluded.value WHERE value <> excluded.value";
    connection.prepare_cached(sql)?.execute([&row.setting, &row.value])?;
    Ok(())
}
