//! The plan: what is to be made, how much and when.

use super::names::Space;
use super::{Context, keyed, merge};
use crate::book::rows::{PlanRow, ProductRow};
use crate::intake::cell::{self, Parsed};
use crate::intake::columns::SheetKind;
use crate::intake::fault::{Problem, quoted};
use crate::intake::row_reader::RowReader;
use crate::plan::measure::{DecimalMark, Measure, MeasureError};
use crate::plan::model::{PlanAmount, PlanDay};
use crate::plan::quantity::Quantity;
use std::collections::BTreeMap;

/// The most pieces or moulds of an entry.
const MOST_PIECES: i64 = 1_000_000_000;

/// Reads `plan`: entries keep their place, new ones come after the others in the order of the file.
pub(super) fn plan(context: &mut Context<'_>) {
    let existing = keyed(&context.existing.plan, |row| row.entry.clone());
    let key_of = |_: &Context<'_>, reader: &mut RowReader<'_>| reader.required_text("entry");
    let merged = merge(context, SheetKind::Plan, existing, key_of, |context, reader, entry, base| {
        let product = context.refer(reader, "product", Space::Product);
        let amount = reader.required("amount", plan_amount);
        let when = plan_day(reader, base.map(|row| row.when));
        // A file that only plans has no such column: what it names is planned.
        let dropped = reader.or_empty("dropped", false, false, |cell, _| cell::yes_or_no(cell));
        Some(PlanRow { entry: entry.clone(), product: product?, amount: amount?, when: when?, dropped })
    });
    context.merged.plan = merged.in_order();
    leave_made(context);
    // Entries that only the store has are judged too: a product may have lost what they are counted by.
    let made = made(context);
    let ahead = context.merged.plan.iter().filter(|row| !row.dropped && !made.contains_key(&row.entry));
    let fault = |row: &PlanRow| Some((row.clone(), misfit(row, context.product(&row.product)?)?));
    let faults: Vec<_> = ahead.filter_map(fault).collect();
    if faults.is_empty() {
        return;
    }
    let entries = context.places(SheetKind::Plan, "entry");
    let products = context.places(SheetKind::Products, "code");
    for (row, (problem, remedy)) in faults {
        match entries.get(&row.entry) {
            Some(place) => context.fault_at(SheetKind::Plan, Some(place), problem, remedy),
            None => context.fault_at(SheetKind::Products, products.get(&row.product), problem, remedy),
        }
    }
}

/// Entries that have been made, each with its batch.
fn made(context: &Context<'_>) -> BTreeMap<String, String> {
    let standing = context.journal_existing.batches.iter().filter(|row| row.fulfils_entry && !row.undone);
    standing.map(|row| (row.entry.clone(), row.batch.clone())).collect()
}

/// An old plan file still names what has been made since: that stays as it was planned, and is not planned again.
fn leave_made(context: &mut Context<'_>) {
    let made = made(context);
    if made.is_empty() {
        return;
    }
    let existing: BTreeMap<&str, &PlanRow> =
        context.existing.plan.iter().map(|row| (row.entry.as_str(), row)).collect();
    for row in &mut context.merged.plan {
        let Some((known, batch)) = existing.get(row.entry.as_str()).zip(made.get(&row.entry)) else { continue };
        if row != *known {
            context.notes.push(format!("plan: {} is left out, it has been made already as batch {batch}.", row.entry));
            row.clone_from(known);
        }
    }
}

/// The amount of one plan entry that a person types, fit for the product.
///
/// # Errors
/// What is wrong with it, and what would be right.
pub fn typed_plan_amount(text: &str, product: &ProductRow) -> Result<PlanAmount, (String, String)> {
    let amount = plan_amount(text.trim(), DecimalMark::PointOrClearComma)
        .map_err(|problem| (format!("{} {}", quoted(text), problem.problem), problem.remedy))?;
    let misfit = amount_misfit(amount, product);
    misfit.map_or(Ok(amount), |(problem, remedy)| Err((format!("{} is in {problem}", quoted(text)), remedy.to_owned())))
}

/// `24 pcs`, `2 moulds` or a mass.
fn plan_amount(cell: &str, mark: DecimalMark) -> Parsed<PlanAmount> {
    let wrong = |problem: &str, remedy: &str| Err(Problem::new(problem, remedy));
    let lower = cell.to_ascii_lowercase();
    if let Some(number) = lower.strip_suffix("moulds").or_else(|| lower.strip_suffix("mould")) {
        return cell::whole(number, mark, 1, MOST_PIECES).map(PlanAmount::Moulds).map_err(|problem| {
            Problem::new(format!("is not a number of moulds: it {}", problem.problem), "write whole moulds (2 moulds)")
        });
    }
    let amount = Measure::parse(cell, mark).and_then(|measure| {
        if measure.is_pieces() {
            return measure.pieces().map(PlanAmount::Pieces);
        }
        measure.mass(None).map(PlanAmount::NetMass)
    });
    match amount {
        Ok(PlanAmount::Pieces(0)) => wrong("is nothing", "write an amount above 0"),
        Ok(PlanAmount::NetMass(mass)) if mass.mg == 0 => wrong("is nothing", "write an amount above 0"),
        Ok(PlanAmount::Pieces(pieces)) if pieces > MOST_PIECES => wrong("is too large", "write fewer pieces"),
        Ok(amount) => Ok(amount),
        Err(MeasureError::NotAnAmount) => {
            wrong("is not an amount", "write pieces (24 pcs), moulds (2 moulds) or a mass (1.5 kg)")
        }
        Err(MeasureError::NoDensity) => {
            wrong("is a volume", "write pieces (24 pcs), moulds (2 moulds) or a mass (1.5 kg)")
        }
        Err(error) => Err(Problem::new(error.to_string(), error.remedy())),
    }
}

/// One of `make_on` and `ready_by`. Where the file has neither column an entry keeps its day.
fn plan_day(reader: &mut RowReader<'_>, base: Option<PlanDay>) -> Option<PlanDay> {
    let has_column = reader.cell("make_on").is_some() || reader.cell("ready_by").is_some();
    match (reader.filled("make_on"), reader.filled("ready_by"), base) {
        (Some(_), Some(_), _) => {
            reader.fault(
                "ready_by",
                "stands beside a make_on",
                "write one of the two: the day it is made, or the day it is ready",
            );
            None
        }
        (Some(_), None, _) => reader.required("make_on", |cell, _| cell::date(cell)).map(PlanDay::MakeOn),
        (None, Some(_), _) => reader.required("ready_by", |cell, _| cell::date(cell)).map(PlanDay::ReadyBy),
        (None, None, Some(day)) if !has_column => Some(day),
        (None, None, _) => {
            reader.row_fault("has no day", "fill in make_on or ready_by");
            None
        }
    }
}

/// Why an entry's amount cannot become a mass with this product.
fn misfit(row: &PlanRow, product: &ProductRow) -> Option<(String, &'static str)> {
    let (problem, remedy) = amount_misfit(row.amount, product)?;
    Some((format!("entry {} is planned in {problem}", row.entry), remedy))
}

fn amount_misfit(amount: PlanAmount, product: &ProductRow) -> Option<(String, &'static str)> {
    let (unit, pieces) = match amount {
        PlanAmount::NetMass(_) => return None,
        PlanAmount::Pieces(pieces) => ("pieces", Some(i128::from(pieces))),
        PlanAmount::Moulds(moulds) => {
            ("moulds", product.pieces_per_mould.map(|per_mould| i128::from(moulds) * i128::from(per_mould)))
        }
    };
    let Some(pieces) = pieces else {
        let problem = format!("moulds, and product {} has no pieces_per_mould", product.code);
        return Some((problem, "give the product its pieces_per_mould, or plan pieces or a mass"));
    };
    let Some(net_mass) = product.net_mass else {
        let problem = format!("{unit}, and product {} has no net_mass", product.code);
        return Some((problem, "give the product its net_mass, or plan a mass"));
    };
    if pieces.saturating_mul(i128::from(net_mass.mg)) > i128::from(Quantity::MAX_ENTERED.0) {
        return Some((format!("{unit}, more of them than can be weighed"), "plan fewer"));
    }
    None
}
