//! Rows of tables as typed rows: for each kind its columns, and the function that takes them in that order. Cells are
//! taken by place, since looking each one up by name costs more than reading it.

use super::codec::{Closed, Day};
use crate::book::Standing;
use crate::book::rows::{
    ActRow, BandStart, BatchRow, ChangeRow, FormulaLineRow, LotRow, MaterialRow, MovementRow, OfferRow, OrderRow,
    PackagingRow, PieceRow, PlanRow, PostageRow, PremixRow, ProductRow, RateRow, Share, SupplierRow, WeighingRow,
    WishRow,
};
use crate::plan::model::{PlanAmount, PlanDay};
use crate::plan::quantity::Mass;
use chrono::NaiveDate;
use rusqlite::Row;
use rusqlite::types::FromSql;

/// What reading a row gives.
pub(super) type Read<T> = rusqlite::Result<T>;

/// The cells of a row, from left to right.
pub(super) struct Cells<'row, 'statement> {
    row: &'row Row<'statement>,
    next: usize,
}

impl<'row, 'statement> Cells<'row, 'statement> {
    pub(super) fn of(row: &'row Row<'statement>) -> Self {
        Self { row, next: 0 }
    }

    /// The cells that follow the first so many.
    pub(super) fn after(row: &'row Row<'statement>, cells: usize) -> Self {
        Self { row, next: cells }
    }

    pub(super) fn take<T: FromSql>(&mut self) -> Read<T> {
        self.next += 1;
        self.row.get(self.next - 1)
    }

    /// A text, where it stands.
    fn words(&mut self) -> Read<&'row str> {
        self.next += 1;
        Ok(self.row.get_ref(self.next - 1)?.as_str()?)
    }

    /// A day that may be missing.
    fn day(&mut self) -> Read<Option<NaiveDate>> {
        Ok(self.take::<Option<Day>>()?.map(|day| day.0))
    }

    /// A code that names another row; empty where there is none.
    fn code(&mut self) -> Read<String> {
        Ok(self.take::<Option<String>>()?.unwrap_or_default())
    }
}

/// For [`material`].
pub(super) const MATERIALS: &str =
    "SELECT code, name, inci, unit, density, piece_mass, unopened_life, opened_life, safety_stock, shelf_space,
    max_leave_on, max_rinse_off, storage, caution, always_at_hand
    FROM materials";

pub(super) fn material(row: &Row<'_>) -> Read<MaterialRow> {
    let mut cells = Cells::of(row);
    Ok(MaterialRow {
        code: cells.take()?,
        name: cells.take()?,
        inci: cells.take()?,
        unit: cells.take()?,
        density: cells.take()?,
        piece_mass: cells.take()?,
        unopened_life: cells.take()?,
        opened_life: cells.take()?,
        safety_stock: cells.take()?,
        shelf_space: cells.take()?,
        max_leave_on: cells.take()?,
        max_rinse_off: cells.take()?,
        storage: cells.take()?,
        caution: cells.take()?,
        always_at_hand: cells.take()?,
    })
}

/// For [`supplier`].
pub(super) const SUPPLIERS: &str =
    "SELECT code, name, email, currency, lead_time_days, order_weekdays, closed, minimum_order, postage,
    free_postage_from, duty
    FROM suppliers";

pub(super) fn supplier(row: &Row<'_>) -> Read<SupplierRow> {
    let mut cells = Cells::of(row);
    Ok(SupplierRow {
        code: cells.take()?,
        name: cells.take()?,
        email: cells.take()?,
        currency: cells.take()?,
        lead_time_days: cells.take()?,
        order_weekdays: cells.take()?,
        closed: cells.take::<Closed>()?.0,
        minimum_order: cells.take()?,
        postage: cells.take()?,
        free_postage_from: cells.take()?,
        duty: cells.take()?,
    })
}

/// For [`postage`].
pub(super) const POSTAGE: &str = "SELECT supplier, measure, band_from, fee FROM postage";

pub(super) fn postage(row: &Row<'_>) -> Read<PostageRow> {
    let mut cells = Cells::of(row);
    let supplier = cells.take()?;
    let from = match cells.words()? {
        "weight" => BandStart::Weight(cells.take()?),
        _ => BandStart::Value(cells.take()?),
    };
    Ok(PostageRow { supplier, from, fee: cells.take()? })
}

/// For [`offer`].
pub(super) const OFFERS: &str =
    "SELECT supplier, material, pack, pack_text, price, from_packs, life_on_arrival, item_no
    FROM offers";

pub(super) fn offer(row: &Row<'_>) -> Read<OfferRow> {
    let mut cells = Cells::of(row);
    Ok(OfferRow {
        supplier: cells.take()?,
        material: cells.take()?,
        pack: cells.take()?,
        pack_text: cells.take()?,
        price: cells.take()?,
        from_packs: cells.take()?,
        life_on_arrival: cells.take()?,
        item_no: cells.take()?,
    })
}

/// For [`rate`].
pub(super) const RATES: &str = "SELECT rates.date, rates.currency, rates.rate FROM rates";

pub(super) fn rate(row: &Row<'_>) -> Read<RateRow> {
    let mut cells = Cells::of(row);
    Ok(RateRow { date: cells.take::<Day>()?.0, currency: cells.take()?, rate: cells.take()? })
}

/// How many cells [`lot`] takes.
pub(super) const LOT_CELLS: usize = 13;

/// For [`lot`].
pub(super) const LOTS: &str =
    "SELECT lots.lot, lots.material, lots.amount, lots.supplier, lots.supplier_lot, lots.received, lots.cost,
    lots.currency, lots.best_before, lots.opened, lots.state, lots.place, lots.order_code
    FROM lots";

pub(super) fn lot(row: &Row<'_>) -> Read<LotRow> {
    let mut cells = Cells::of(row);
    Ok(LotRow {
        lot: cells.take()?,
        material: cells.take()?,
        amount: cells.take()?,
        supplier: cells.code()?,
        supplier_lot: cells.take()?,
        received: cells.day()?,
        cost: cells.take()?,
        currency: cells.take()?,
        best_before: cells.day()?,
        opened: cells.day()?,
        state: cells.take()?,
        place: cells.take()?,
        order: cells.code()?,
    })
}

/// Order lines with the supplier of their order; [`order`] reads them.
pub(super) const ORDERS: &str =
    "SELECT order_code, supplier, material, pack, pack_text, packs, placed, expected, price, packs_received,
    cancelled
    FROM order_lines JOIN orders ON code = order_code";

pub(super) fn order(row: &Row<'_>) -> Read<OrderRow> {
    let mut cells = Cells::of(row);
    Ok(OrderRow {
        order: cells.take()?,
        supplier: cells.take()?,
        material: cells.take()?,
        pack: cells.take()?,
        pack_text: cells.take()?,
        packs: cells.take()?,
        placed: cells.day()?,
        expected: cells.take::<Day>()?.0,
        price: cells.take()?,
        packs_received: cells.take()?,
        cancelled: cells.take()?,
    })
}

/// For [`line()`].
pub(super) const FORMULA_LINES: &str = "SELECT formula, version, ingredient, percent, phase, withdrawn
    FROM formula_lines";

pub(super) fn line(row: &Row<'_>) -> Read<FormulaLineRow> {
    let mut cells = Cells::of(row);
    Ok(FormulaLineRow {
        formula: cells.take()?,
        version: cells.take()?,
        ingredient: cells.take()?,
        share: cells.take::<Option<_>>()?.map_or(Share::Balance, Share::Percent),
        phase: cells.take()?,
        withdrawn: cells.take()?,
    })
}

/// For [`premix`].
pub(super) const PREMIXES: &str = "SELECT code, formula, make_ahead_days, loss, life FROM premixes";

pub(super) fn premix(row: &Row<'_>) -> Read<PremixRow> {
    let mut cells = Cells::of(row);
    Ok(PremixRow {
        code: cells.take()?,
        formula: cells.take()?,
        make_ahead_days: cells.take()?,
        loss: cells.take()?,
        life: cells.take()?,
    })
}

/// For [`product`].
pub(super) const PRODUCTS: &str =
    "SELECT code, name, formula, version, product_use, net_mass, pieces_per_mould, loss, setting_days,
    curing_days, shelf_life, minimum_life
    FROM products";

pub(super) fn product(row: &Row<'_>) -> Read<ProductRow> {
    let mut cells = Cells::of(row);
    Ok(ProductRow {
        code: cells.take()?,
        name: cells.take()?,
        formula: cells.take()?,
        version: cells.take()?,
        product_use: cells.take()?,
        net_mass: cells.take()?,
        pieces_per_mould: cells.take()?,
        loss: cells.take()?,
        setting_days: cells.take()?,
        curing_days: cells.take()?,
        shelf_life: cells.take()?,
        minimum_life: cells.take()?,
    })
}

/// For [`packaging`].
pub(super) const PACKAGING: &str = "SELECT product, material, per_piece, per_batch FROM packaging";

pub(super) fn packaging(row: &Row<'_>) -> Read<PackagingRow> {
    let mut cells = Cells::of(row);
    Ok(PackagingRow {
        product: cells.take()?,
        material: cells.take()?,
        per_piece_millionths: cells.take()?,
        per_batch: cells.take()?,
    })
}

/// For [`plan`].
pub(super) const PLAN: &str = "SELECT entry, product, amount, amount_kind, day, day_kind, dropped FROM plan";

pub(super) fn plan(row: &Row<'_>) -> Read<PlanRow> {
    let mut cells = Cells::of(row);
    let (entry, product) = (cells.take()?, cells.take()?);
    let amount = cells.take()?;
    let amount = match cells.words()? {
        "pieces" => PlanAmount::Pieces(amount),
        "moulds" => PlanAmount::Moulds(amount),
        _ => PlanAmount::NetMass(Mass { mg: amount }),
    };
    let day = cells.take::<Day>()?.0;
    let when = match cells.words()? {
        "ready-by" => PlanDay::ReadyBy(day),
        _ => PlanDay::MakeOn(day),
    };
    Ok(PlanRow { entry, product, amount, when, dropped: cells.take()? })
}

/// For [`wish`].
pub(super) const WISHES: &str =
    "SELECT wish, kind, supplier, material, pack, day_from, day_to, percent, amount, reason, lifted
    FROM wishes";

pub(super) fn wish(row: &Row<'_>) -> Read<WishRow> {
    let mut cells = Cells::of(row);
    Ok(WishRow {
        wish: cells.take()?,
        kind: cells.take()?,
        supplier: cells.code()?,
        material: cells.code()?,
        pack: cells.take()?,
        from: cells.day()?,
        to: cells.day()?,
        percent: cells.take()?,
        amount: cells.take()?,
        reason: cells.take()?,
        lifted: cells.take()?,
    })
}

/// What is left of each lot; [`standing`] reads them.
pub(super) const STANDINGS: &str =
    "SELECT lots.lot, coalesce(on_hand, 0), coalesce(lot_balances.cost, 0), coalesce(moved, 0)
    FROM lots LEFT JOIN lot_balances USING (lot)";

pub(super) fn standing(row: &Row<'_>) -> Read<Standing> {
    let mut cells = Cells::of(row);
    Ok(Standing { lot: cells.take()?, on_hand: cells.take()?, cost: cells.take()?, moved: cells.take()? })
}

/// Movements with the time of their act; [`movement`] reads them.
pub(super) const MOVEMENTS: &str =
    "SELECT movements.movement, movements.act, movements.kind, movements.lot, movements.amount, movements.cost,
    movements.day, recorded_at, movements.reason, movements.batch, movements.reverses
    FROM movements JOIN acts USING (act)";

pub(super) fn movement(row: &Row<'_>) -> Read<MovementRow> {
    let mut cells = Cells::of(row);
    Ok(MovementRow {
        movement: cells.take()?,
        act: cells.take()?,
        kind: cells.take()?,
        lot: cells.take()?,
        amount: cells.take()?,
        cost: cells.take()?,
        day: cells.take::<Day>()?.0,
        recorded_at: cells.take()?,
        reason: cells.take()?,
        batch: cells.code()?,
        reverses: cells.take()?,
    })
}

/// For [`batch`].
pub(super) const BATCHES: &str =
    "SELECT batches.batch, batches.entry, batches.fulfils_entry, batches.product, batches.premix,
    batches.formula, batches.version, batches.made_on, batches.mass, batches.pieces, batches.best_before,
    batches.weighed_by, batches.note, batches.undone, batches.state
    FROM batches";

pub(super) fn batch(row: &Row<'_>) -> Read<BatchRow> {
    let mut cells = Cells::of(row);
    Ok(BatchRow {
        batch: cells.take()?,
        entry: cells.take()?,
        fulfils_entry: cells.take()?,
        product: cells.code()?,
        premix: cells.code()?,
        formula: cells.take()?,
        version: cells.take()?,
        made_on: cells.take::<Day>()?.0,
        mass: cells.take()?,
        pieces: cells.take()?,
        best_before: cells.day()?,
        weighed_by: cells.take()?,
        note: cells.take()?,
        undone: cells.take()?,
        state: cells.take()?,
    })
}

/// For [`weighing`].
pub(super) const WEIGHINGS: &str = "SELECT batch, place, lot, target, weighed, tare, reason FROM weighings";

pub(super) fn weighing(row: &Row<'_>) -> Read<WeighingRow> {
    let mut cells = Cells::of(row);
    Ok(WeighingRow {
        batch: cells.take()?,
        place: cells.take()?,
        lot: cells.take()?,
        target: cells.take()?,
        weighed: cells.take()?,
        tare: cells.take()?,
        reason: cells.take()?,
    })
}

/// For [`pieces`].
pub(super) const PIECES: &str = "SELECT piece_movement, act, batch, kind, pieces, day, reason, reverses FROM pieces";

pub(super) fn pieces(row: &Row<'_>) -> Read<PieceRow> {
    let mut cells = Cells::of(row);
    Ok(PieceRow {
        piece_movement: cells.take()?,
        act: cells.take()?,
        batch: cells.take()?,
        kind: cells.take()?,
        pieces: cells.take()?,
        day: cells.take::<Day>()?.0,
        reason: cells.take()?,
        reverses: cells.take()?,
    })
}

/// Acts. Those of the first versions have no day of their own; [`act`] reads them.
pub(super) const ACTS: &str =
    "SELECT act, kind, subject, coalesce(day, substr(recorded_at, 1, 10)), recorded_at, undoes, who
    FROM acts";

pub(super) fn act(row: &Row<'_>) -> Read<ActRow> {
    let mut cells = Cells::of(row);
    Ok(ActRow {
        act: cells.take()?,
        kind: cells.take()?,
        subject: cells.take()?,
        day: cells.take::<Day>()?.0,
        recorded_at: cells.take()?,
        undoes: cells.take()?,
        who: cells.take()?,
    })
}

/// For [`change`].
pub(super) const CHANGES: &str = "SELECT change, act, what, code, part, field, before, after, who, reason
    FROM changes";

pub(super) fn change(row: &Row<'_>) -> Read<ChangeRow> {
    let mut cells = Cells::of(row);
    Ok(ChangeRow {
        change: cells.take()?,
        act: cells.take()?,
        what: cells.take()?,
        code: cells.take()?,
        part: cells.take()?,
        field: cells.take()?,
        before: cells.take()?,
        after: cells.take()?,
        who: cells.take()?,
        reason: cells.take()?,
    })
}
