//! Formulas, premixes, products and their packaging.

use super::names::Space;
use super::{Context, Key, keyed, merge};
use crate::book::rows::{FormulaLineRow, PackagingRow, PremixRow, ProductRow, Share};
use crate::intake::cell;
use crate::intake::columns::SheetKind;
use crate::intake::fault::{Fault, quoted};
use crate::intake::row_reader::RowReader;
use crate::plan::decimal::shortest;
use crate::plan::model::ProductUse;
use crate::plan::quantity::{Percent, Unit};
use std::collections::BTreeMap;

/// The version of a formula whose file gives none.
const FIRST_VERSION: &str = "1";
/// The most lines of a formula version.
const MOST_LINES: usize = 1_000;
/// The most pieces in a mould or of packaging for a batch.
const MOST_PIECES: i64 = 1_000_000_000;

/// The lines of one formula version as a file gives them.
struct Version {
    lines: Vec<FormulaLineRow>,
    is_sound: bool,
    file: String,
    first_row: usize,
}

/// Reads `formulas`: a version that the files give takes the place of the one that was there.
pub(super) fn formulas(context: &mut Context<'_>) {
    let mut versions: BTreeMap<(String, String), Vec<FormulaLineRow>> = BTreeMap::new();
    for line in &context.existing.formula_lines {
        versions.entry((line.formula.clone(), line.version.clone())).or_default().push(line.clone());
    }
    let read = read_versions(context, &versions);
    for (key, version) in read {
        if version.is_sound {
            fault_total(context, &key, &version);
            fault_half_withdrawn(context, &key, &version);
            note_repeats(context, &key, &version);
            versions.insert(key, version.lines);
        } else {
            versions.remove(&key);
        }
    }
    context.merged.formula_lines = versions.into_values().flatten().collect();
}

fn read_versions(
    context: &mut Context<'_>,
    existing: &BTreeMap<(String, String), Vec<FormulaLineRow>>,
) -> BTreeMap<(String, String), Version> {
    let sheets = context.sheets;
    let mut read: BTreeMap<(String, String), Version> = BTreeMap::new();
    for (sheet, row) in sheets.rows(SheetKind::Formulas) {
        let mut reader = RowReader::new(sheet, row);
        if let Some(formula) = reader.required_text("formula") {
            let version = reader.text("version", FIRST_VERSION);
            let version = if version.is_empty() { FIRST_VERSION.to_owned() } else { version };
            let key = (formula, version);
            let entry = read.entry(key.clone()).or_insert_with(|| Version {
                lines: Vec::new(),
                is_sound: true,
                file: sheet.file.clone(),
                first_row: row.number,
            });
            if entry.lines.len() >= MOST_LINES {
                reader.row_fault(
                    format!("is more than {MOST_LINES} lines of one formula version"),
                    "split it into premixes",
                );
                entry.is_sound = false;
                context.faults.extend(reader.finish());
                continue;
            }
            let old = existing.get(&key).map_or(&[][..], Vec::as_slice);
            let line = formula_line(context, &mut reader, &key, &entry.lines, old);
            entry.is_sound &= reader.is_sound();
            entry.lines.extend(line);
        }
        context.faults.extend(reader.finish());
    }
    read
}

/// One line. Without a phase column it keeps the phase of the line with the same ingredient, the second one that of
/// the second.
fn formula_line(
    context: &Context<'_>,
    reader: &mut RowReader<'_>,
    (formula, version): &(String, String),
    before: &[FormulaLineRow],
    old: &[FormulaLineRow],
) -> Option<FormulaLineRow> {
    let ingredient = context.refer(reader, "ingredient", Space::Item);
    let share = reader.required("percent", |cell, mark| {
        if cell.eq_ignore_ascii_case("balance") {
            return Ok(Share::Balance);
        }
        let percent = cell::percent(cell, mark, 100).map(Share::Percent);
        percent.map_err(|mut problem| {
            problem.remedy.push_str(", or balance");
            problem
        })
    });
    let ingredient = ingredient?;
    if context.material(&ingredient).is_some_and(|material| material.unit == Unit::Piece) {
        reader.fault(
            "ingredient",
            "is packaging",
            "write a raw material or a premix; packaging belongs into packaging",
        );
    }
    let earlier = before.iter().filter(|line| line.ingredient == ingredient).count();
    let old_phase = old.iter().filter(|line| line.ingredient == ingredient).nth(earlier).map_or("", |line| &line.phase);
    let phase = reader.text("phase", old_phase);
    let was_withdrawn = old.iter().any(|line| line.withdrawn);
    let withdrawn = reader.or_empty("withdrawn", was_withdrawn, false, |cell, _| cell::yes_or_no(cell));
    Some(FormulaLineRow {
        formula: formula.clone(),
        version: version.clone(),
        ingredient,
        share: share?,
        phase,
        withdrawn,
    })
}

fn fault_total(context: &mut Context<'_>, (formula, version): &(String, String), read: &Version) {
    let balances = read.lines.iter().filter(|line| line.share == Share::Balance).count();
    let total: i64 = read
        .lines
        .iter()
        .map(|line| match line.share {
            Share::Percent(percent) => percent.millionths,
            Share::Balance => 0,
        })
        .fold(0, i64::saturating_add);
    let shown = shortest(total, Percent::PLACES);
    let hundred = Percent::HUNDRED.millionths;
    let (problem, remedy) = match balances {
        0 if total == hundred / 100 => (
            format!("adds up to {shown} %"),
            "write percent, not fractions (a percent cell of a spreadsheet holds 0.05 for 5 %: make it a number)",
        ),
        0 if total != hundred => {
            (format!("adds up to {shown} %"), "make it 100 %, or write balance for one of the ingredients")
        }
        1 if total > hundred => {
            (format!("adds up to {shown} % without its balance"), "leave room for the balance: 100 % at the most")
        }
        0 | 1 => return,
        _ => (format!("has {balances} balance lines"), "write balance for one ingredient and a percent for the others"),
    };
    let problem = format!("formula {formula}, version {version}, {problem}");
    context.faults.push(Fault::of_file(&read.file, problem, remedy).in_row(read.first_row));
}

/// A version is taken back whole.
fn fault_half_withdrawn(context: &mut Context<'_>, (formula, version): &(String, String), read: &Version) {
    if read.lines.iter().any(|line| line.withdrawn) && !read.lines.iter().all(|line| line.withdrawn) {
        let problem = format!("formula {formula}, version {version}, is withdrawn in some of its lines");
        let fault = Fault::of_file(&read.file, problem, "write yes in withdrawn in all of its lines, or in none");
        context.faults.push(fault.in_row(read.first_row));
    }
}

/// The same ingredient twice in one phase is no fault, but may be a slip.
fn note_repeats(context: &mut Context<'_>, (formula, version): &(String, String), read: &Version) {
    for (place, line) in read.lines.iter().enumerate() {
        let is_repeat =
            |earlier: &&FormulaLineRow| earlier.ingredient == line.ingredient && earlier.phase == line.phase;
        if read.lines[..place].iter().filter(is_repeat).count() == 1 {
            let ingredient = quoted(&line.ingredient);
            let sentence = format!("formula {formula}, version {version}, has {ingredient} twice in one phase.");
            context.notes.push(format!("{}: {sentence}", read.file));
        }
    }
}

/// Reads `premixes`.
pub(super) fn premixes(context: &mut Context<'_>) {
    let existing = keyed(&context.existing.premixes, |row| row.code.clone());
    let key_of = |context: &Context<'_>, reader: &mut RowReader<'_>| {
        let code = reader.required_text("code")?;
        if context.material(&code).is_some() && !context.existing.premixes.iter().any(|premix| premix.code == code) {
            reader.fault(
                "code",
                "is a material already",
                "materials and premixes share one list of codes: take another",
            );
        }
        Some(code)
    };
    let merged = merge(context, SheetKind::Premixes, existing, key_of, |context, reader, code, base| {
        let formula = context.refer(reader, "formula", Space::Formula);
        let make_ahead_days =
            reader.or_empty("make_ahead_days", base.map_or(0, |row| row.make_ahead_days), 0, cell::days);
        let old_loss = base.map_or(Percent::ZERO, |row| row.loss);
        let loss = reader.or_empty("loss", old_loss, Percent::ZERO, cell::loss);
        let life = reader.optional("life", base.and_then(|row| row.life), |cell, _| cell::span(cell));
        Some(PremixRow { code: code.clone(), formula: formula?, make_ahead_days, loss, life })
    });
    context.merged.premixes = merged.by_key();
}

/// Reads `products`.
pub(super) fn products(context: &mut Context<'_>) {
    let existing = keyed(&context.existing.products, |row| row.code.clone());
    let key_of = |_: &Context<'_>, reader: &mut RowReader<'_>| reader.required_text("code");
    let merged = merge(context, SheetKind::Products, existing, key_of, |context, reader, code, base| {
        product(context, reader, code, base)
    });
    context.merged.products = merged.by_key();
}

fn product(
    context: &Context<'_>,
    reader: &mut RowReader<'_>,
    code: &str,
    base: Option<&ProductRow>,
) -> Option<ProductRow> {
    let name = reader.required_text("name");
    let formula = context.refer(reader, "formula", Space::Formula);
    let version = reader.text("version", base.map_or("", |row| &row.version));
    if let Some(formula) = &formula {
        fault_unknown_version(context, reader, formula, &version);
    }
    let uses = [("leave-on", ProductUse::LeaveOn), ("rinse-off", ProductUse::RinseOff)];
    let days = |field: fn(&ProductRow) -> u32| base.map_or(0, field);
    Some(ProductRow {
        code: code.to_owned(),
        version,
        product_use: reader.optional("use", base.and_then(|row| row.product_use), |cell, _| cell::word(cell, &uses)),
        net_mass: reader.optional("net_mass", base.and_then(|row| row.net_mass), cell::some_mass),
        pieces_per_mould: reader.optional(
            "pieces_per_mould",
            base.and_then(|row| row.pieces_per_mould),
            |cell, mark| cell::whole(cell, mark, 1, MOST_PIECES),
        ),
        loss: reader.or_empty("loss", base.map_or(Percent::ZERO, |row| row.loss), Percent::ZERO, cell::loss),
        setting_days: reader.or_empty("setting_days", days(|row| row.setting_days), 0, cell::days),
        curing_days: reader.or_empty("curing_days", days(|row| row.curing_days), 0, cell::days),
        shelf_life: reader.optional("shelf_life", base.and_then(|row| row.shelf_life), |cell, _| cell::span(cell)),
        minimum_life: reader
            .optional("minimum_life", base.and_then(|row| row.minimum_life), |cell, _| cell::span(cell)),
        name: name?,
        formula: formula?,
    })
}

/// A version that a product names has to be there; where a version of the formula has a fault, none can be judged.
fn fault_unknown_version(context: &Context<'_>, reader: &mut RowReader<'_>, formula: &str, version: &str) {
    let mut versions: Vec<&str> = Vec::new();
    for line in context.merged.formula_lines.iter().filter(|line| line.formula == formula) {
        if versions.last() != Some(&line.version.as_str()) {
            versions.push(&line.version);
        }
    }
    let in_file = context.sheets.rows(SheetKind::Formulas).any(|(sheet, row)| {
        let named = sheet.cell(row, "version").filter(|cell| !cell.is_empty()).unwrap_or(FIRST_VERSION);
        sheet.cell(row, "formula") == Some(formula) && named == version
    });
    if version.is_empty() || versions.is_empty() || versions.contains(&version) || in_file {
        return;
    }
    let problem = format!("is no version of formula {formula}");
    reader.fault("version", problem, format!("write one of {}, or leave it empty for the newest", versions.join(", ")));
}

impl Key for (String, String) {
    fn shown(&self, _: &RowReader<'_>) -> String {
        format!("{}, {}", self.0, self.1)
    }
}

/// Reads `packaging`.
pub(super) fn packaging(context: &mut Context<'_>) {
    let existing = keyed(&context.existing.packaging, |row| (row.product.clone(), row.material.clone()));
    let key_of = |context: &Context<'_>, reader: &mut RowReader<'_>| {
        let product = context.refer(reader, "product", Space::Product);
        let material = context.refer(reader, "material", Space::Material);
        Some((product?, material?))
    };
    let merged =
        merge(context, SheetKind::Packaging, existing, key_of, |context, reader, (product, material), base| {
            if context.material(material).is_some_and(|material| material.unit == Unit::Milligram) {
                reader.fault("material", "is a raw material", "write a material of kind packaging");
            }
            let per_piece_millionths =
                reader.or_empty("per_piece", base.map_or(0, |row| row.per_piece_millionths), 0, cell::millionths);
            let per_batch = reader.or_empty("per_batch", base.map_or(0, |row| row.per_batch), 0, |cell, mark| {
                cell::whole(cell, mark, 0, MOST_PIECES)
            });
            let says_nothing = reader.filled("per_piece").is_none() && reader.filled("per_batch").is_none();
            if says_nothing && per_piece_millionths == 0 && per_batch == 0 {
                reader.row_fault("says how many neither for a piece nor for a batch", "fill in per_piece or per_batch");
            }
            Some(PackagingRow { product: product.clone(), material: material.clone(), per_piece_millionths, per_batch })
        });
    let mut rows = merged.in_order();
    rows.sort_by(|left, right| left.product.cmp(&right.product));
    context.merged.packaging = rows;
}
