//! Materials and lots.

use super::names::Space;
use super::{Context, keyed, merge};
use crate::book::rows::{LotRow, MaterialRow};
use crate::intake::cell;
use crate::intake::columns::SheetKind;
use crate::intake::fault::Problem;
use crate::intake::row_reader::RowReader;
use crate::plan::measure::Measure;
use crate::plan::model::LotState;
use crate::plan::money::Price;
use crate::plan::quantity::{Quantity, Unit};
use chrono::NaiveDate;

/// Reads `materials`.
pub(super) fn materials(context: &mut Context<'_>) {
    let existing = keyed(&context.existing.materials, |row| row.code.clone());
    let key_of = |_: &Context<'_>, reader: &mut RowReader<'_>| reader.required_text("code");
    let merged = merge(context, SheetKind::Materials, existing, key_of, |context, reader, code, base| {
        if context.existing.premixes.iter().any(|premix| premix.code == *code) {
            reader.fault("code", "is a premix already", "materials and premixes share one list of codes: take another");
        }
        material(context, reader, code, base)
    });
    context.merged.materials = merged.by_key();
}

fn new_material(code: &str) -> MaterialRow {
    MaterialRow {
        code: code.to_owned(),
        name: String::new(),
        inci: String::new(),
        unit: Unit::Milligram,
        density: None,
        piece_mass: None,
        unopened_life: None,
        opened_life: None,
        safety_stock: Quantity::ZERO,
        max_leave_on: None,
        max_rinse_off: None,
        storage: String::new(),
        caution: String::new(),
        always_at_hand: false,
        shelf_space: None,
    }
}

fn material(
    context: &Context<'_>,
    reader: &mut RowReader<'_>,
    code: &str,
    base: Option<&MaterialRow>,
) -> Option<MaterialRow> {
    let is_new = base.is_none();
    let base = base.cloned().unwrap_or_else(|| new_material(code));
    let name = reader.required_text("name");
    let kinds = [("raw", Unit::Milligram), ("packaging", Unit::Piece)];
    let unit = reader.or_empty("kind", base.unit, Unit::Milligram, |cell, _| cell::word(cell, &kinds));
    if unit != base.unit && !is_new && is_used(context, code) {
        reader.fault(
            "kind",
            "is not what it was",
            "what has lots, offers or formulas stays of its kind: take a new code",
        );
    }
    let density = reader.optional("density", base.density, cell::density);
    let item = Some((unit, density));
    Some(MaterialRow {
        code: code.to_owned(),
        name: name?,
        inci: reader.text("inci", &base.inci),
        unit,
        density,
        piece_mass: reader.optional("piece_mass", base.piece_mass, cell::mass),
        unopened_life: reader.optional("unopened_life", base.unopened_life, |cell, _| cell::span(cell)),
        opened_life: reader.optional("opened_life", base.opened_life, |cell, _| cell::span(cell)),
        safety_stock: reader.or_empty("safety_stock", base.safety_stock, Quantity::ZERO, |cell, mark| {
            if cell == "0" { Ok(Quantity::ZERO) } else { cell::quantity(cell, mark, item) }
        }),
        max_leave_on: reader.optional("max_leave_on", base.max_leave_on, |cell, mark| cell::percent(cell, mark, 100)),
        max_rinse_off: reader
            .optional("max_rinse_off", base.max_rinse_off, |cell, mark| cell::percent(cell, mark, 100)),
        storage: reader.text("storage", &base.storage),
        caution: reader.text("caution", &base.caution),
        always_at_hand: reader.or_empty("always_at_hand", base.always_at_hand, false, |cell, _| cell::yes_or_no(cell)),
        shelf_space: reader.optional("shelf_space", base.shelf_space, |cell, mark| cell::pack(cell, mark, item)),
    })
}

/// True where the store has amounts or lines of a material that a change of its unit would make nonsense of.
fn is_used(context: &Context<'_>, code: &str) -> bool {
    let book = context.existing;
    book.lots.iter().any(|row| row.material == code)
        || book.offers.iter().any(|row| row.material == code)
        || book.orders.iter().any(|row| row.material == code)
        || book.formula_lines.iter().any(|row| row.ingredient == code)
        || book.packaging.iter().any(|row| row.material == code)
}

/// Reads `lots`.
pub(super) fn lots(context: &mut Context<'_>) {
    let existing = keyed(&context.existing.lots, |row| row.lot.clone());
    let key_of = |_: &Context<'_>, reader: &mut RowReader<'_>| reader.required_text("lot");
    let merged = merge(context, SheetKind::Lots, existing, key_of, |context, reader, code, base| {
        let row = lot(context, reader, code, base)?;
        if let Some(base) = base {
            fault_moved(context, reader, &row, base);
        }
        if let (Some(received), Some(best_before)) = (row.received, row.best_before)
            && best_before < received
        {
            let place = format!("{}, row {}", reader.sheet.file, reader.row.number);
            context.notes.push(format!(
                "{place}: lot {code} was past its best-before date ({best_before}) when it came ({received})."
            ));
        }
        Some(row)
    });
    context.merged.lots = merged.by_key();
}

fn lot(context: &Context<'_>, reader: &mut RowReader<'_>, code: &str, base: Option<&LotRow>) -> Option<LotRow> {
    let old_text = |field: fn(&LotRow) -> &String| base.map_or("", |row| field(row).as_str());
    let material = context.refer(reader, "material", Space::Item);
    let item = material.as_deref().and_then(|material| context.unit_of(material));
    let is_premix = material.as_deref().is_some_and(|material| context.premix(material).is_some());
    let amount = reader.required("amount", |cell, mark| match cell::quantity(cell, mark, item) {
        Err(_) if is_premix && Measure::parse(cell, mark).is_ok_and(Measure::is_volume) => {
            Err(Problem::new("is a volume", "weigh the premix and write its mass (mg, g, kg, oz, lb)"))
        }
        read => read,
    });
    let old_currency = base.map_or(context.home, |row| row.currency);
    let currency = reader.or_empty("currency", old_currency, context.home, |cell, _| cell::currency(cell));
    // With a currency that is none, a cost can only be looked at for being a number.
    let is_known = reader.filled("currency").is_none_or(|cell| cell::currency(cell).is_ok());
    let cost_currency = is_known.then_some(currency);
    let old_cost = base.map_or(Price::ZERO, |row| row.cost);
    let old_state = base.map_or(LotState::Released, |row| row.state);
    Some(LotRow {
        lot: code.to_owned(),
        supplier: context.refer_or_empty(reader, "supplier", old_text(|row| &row.supplier), Space::Supplier),
        supplier_lot: reader.text("supplier_lot", old_text(|row| &row.supplier_lot)),
        received: reader.optional("received", base.and_then(|row| row.received), |cell, _| cell::date(cell)),
        cost: reader.or_empty("cost", old_cost, Price::ZERO, |cell, mark| cell::price(cell, mark, cost_currency)),
        currency,
        best_before: reader.optional("best_before", base.and_then(|row| row.best_before), |cell, _| cell::date(cell)),
        opened: opened(context, reader, code, base),
        // An old file without a state does not release what was rejected since.
        state: reader.or_empty("state", old_state, old_state, |cell, _| cell::word(cell, &STATE_WORDS)),
        place: reader.text("place", old_text(|row| &row.place)),
        order: context.refer_or_empty(reader, "order", old_text(|row| &row.order), Space::Order),
        material: material?,
        amount: amount?,
    })
}

/// The words of `state`, of lots and of finished pieces.
pub(super) const STATE_WORDS: [(&str, LotState); 3] =
    [("released", LotState::Released), ("quarantine", LotState::Quarantine), ("rejected", LotState::Rejected)];

/// When a lot was opened. An empty cell does not close a lot that has been drawn from: the file was written before.
fn opened(context: &Context<'_>, reader: &mut RowReader<'_>, code: &str, base: Option<&LotRow>) -> Option<NaiveDate> {
    let old = base.and_then(|row| row.opened);
    let read = reader.optional("opened", old, |cell, _| cell::date(cell));
    let has_moved = context.standings.get(code).is_some_and(|standing| standing.moved);
    if has_moved && reader.filled("opened").is_none() { old } else { read }
}

/// What a lot was when it came cannot change once something has been drawn from it: the ledger builds on it.
fn fault_moved(context: &Context<'_>, reader: &mut RowReader<'_>, row: &LotRow, base: &LotRow) {
    if !context.standings.get(row.lot.as_str()).is_some_and(|standing| standing.moved) {
        return;
    }
    let differing = [
        ("material", row.material != base.material),
        ("amount", row.amount != base.amount),
        ("cost", row.cost != base.cost),
        ("currency", row.currency != base.currency),
    ];
    for (column, _) in differing.into_iter().filter(|&(_, differs)| differs) {
        let problem = format!("is not what lot {} came with, and the lot has been drawn from", row.lot);
        reader.fault(column, problem, "put back what stood there; `stillroom count` writes down what is left now");
    }
}
