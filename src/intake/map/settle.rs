//! What the columns of a sheet cannot say: number style, order of dates, currency, unit, supplier. Each is decided by the
//! cells, or left open.

use super::blocks::{blocks, side_by_side};
use super::cells::{currencies, split_money, split_number};
use super::guess::{HUNDRED, ONE, headings, sum};
use super::header::{self, titles};
use super::lines::body;
use super::raw::{Cell, Line, Table};
use super::{Decision, Layout, MappedSheet, Meaning, Skip, style};
use crate::intake::columns::SheetKind;
use crate::intake::describe::{Shape, of_column};
use std::collections::BTreeMap;

/// What decided the settings of a sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Settled {
    /// By the setting's name.
    pub why: BTreeMap<String, String>,
}

/// The cells of the columns whose shape fits, each with its line's number and whether its column names a unit.
fn cells_of<'a>(table: &'a Table, sheet: &MappedSheet, fits: impl Fn(Shape) -> bool) -> Vec<(usize, &'a Cell, bool)> {
    if sheet.layout == Layout::Blocks {
        let wide = blocks(table, sheet).lines;
        let own = wide.into_iter().map(|line| (line.number, line.amount, line.column_use.unit.is_some()));
        return if fits(Shape::Share) { own.collect() } else { Vec::new() };
    }
    let Some((lines, titles)) = lines_of(table, sheet) else { return Vec::new() };
    let mut cells = Vec::new();
    for (title, column_use) in &sheet.columns {
        let shape = match &column_use.meaning {
            Meaning::Column(kind, column) => of_column(*kind, column).map(|own| own.shape),
            Meaning::Formula(_) => Some(Shape::Share),
            _ => None,
        };
        let Some(place) = titles.iter().position(|own| own == title).filter(|_| shape.is_some_and(&fits)) else {
            continue;
        };
        let has_own = column_use.unit.is_some() || column_use.currency.is_some();
        let own = lines.iter().map(|line| (line.number, line.cell(place), has_own));
        cells.extend(own.filter(|(_, cell, _)| !cell.is_empty()));
    }
    cells
}

fn lines_of<'a>(table: &'a Table, sheet: &MappedSheet) -> Option<(Vec<&'a Line>, Vec<String>)> {
    let place = header::place(table)?;
    let width = table.lines.iter().map(|line| line.cells.len()).max().unwrap_or(0);
    let all: Vec<usize> = (0..width).collect();
    let lines = body(table, Some(place), sheet, &all).lines;
    Some((lines, titles(&table.lines[place], width)))
}

/// Decides the settings of a sheet whose columns are known.
#[must_use]
pub fn settle(table: &Table, sheet: &mut MappedSheet, home: &str) -> Settled {
    let mut settled = Settled::default();
    // Decided anew each time: what was skipped before would hide itself.
    sheet.skip.clear();
    let mut say = |name: &str, why: String| drop(settled.why.insert(name.to_owned(), why));
    if let Some((lines, _)) = lines_of(table, sheet).filter(|_| sheet.layout == Layout::Lines) {
        sheet.skip = headings(&lines, sheet);
        let shown: Vec<String> = sheet
            .skip
            .iter()
            .filter_map(|skip| match skip {
                Skip::Words(words) => Some(words.clone()),
                Skip::Number(_) => None,
            })
            .collect();
        if !shown.is_empty() {
            say("skip", format!("{}: only the first cell is filled, a heading", shown.join(", ")));
        }
    }
    let is_numeric = |shape| {
        matches!(
            shape,
            Shape::Amount
                | Shape::Mass
                | Shape::PlanAmount
                | Shape::Money
                | Shape::Percent
                | Shape::Share
                | Shape::Number
        )
    };
    let numbers = cells_of(table, sheet, is_numeric);
    let decimal = style::decimal(numbers.iter().map(|(line, cell, _)| (*line, *cell)));
    say("decimal", decimal.why);
    sheet.decimal = decimal.decision;
    let days = cells_of(table, sheet, |shape| shape == Shape::Date);
    let dates = style::dates(days.iter().map(|(line, cell, _)| (*line, *cell)));
    say("dates", dates.why);
    sheet.dates = dates.decision;
    let refers = [SheetKind::Lots, SheetKind::Offers, SheetKind::Formulas, SheetKind::Packaging, SheetKind::Orders];
    sheet.add_missing = sheet.holds.iter().any(|kind| refers.contains(kind));
    let (currency, why) = currency(table, sheet, home);
    sheet.currency = currency;
    say("currency", why);
    let (unit, why) = unit(table, sheet);
    sheet.unit = unit;
    say("unit", why);
    let has_supplier =
        [SheetKind::Offers, SheetKind::Lots, SheetKind::Orders].iter().any(|kind| sheet.means(*kind, "supplier"));
    let needs_supplier = sheet.holds.contains(&SheetKind::Offers) && !has_supplier;
    sheet.supplier = if needs_supplier { Decision::Open } else { Decision::NotNeeded };
    if needs_supplier {
        say("supplier", "no column says who sells it".to_owned());
    }
    let lists_suppliers = sheet.holds.contains(&SheetKind::Suppliers);
    let may_add = sheet.add_missing && (has_supplier || needs_supplier);
    let is_missing = lists_suppliers && !sheet.means(SheetKind::Suppliers, "lead_time_days") || may_add;
    sheet.lead_time_days = if is_missing { Decision::Open } else { Decision::NotNeeded };
    if is_missing {
        say("lead_time_days", "no column says how many days a supplier takes".to_owned());
    }
    settled
}

fn currency(table: &Table, sheet: &MappedSheet, home: &str) -> (Decision<String>, String) {
    let money = cells_of(table, sheet, |shape| shape == Shape::Money);
    let lists_suppliers = sheet.holds.contains(&SheetKind::Suppliers) && !sheet.means(SheetKind::Suppliers, "currency");
    let names_suppliers = sheet.add_missing && sheet.means(SheetKind::Lots, "supplier");
    if money.is_empty() && !lists_suppliers && !names_suppliers {
        return (Decision::NotNeeded, "no money in it".to_owned());
    }
    // Where every column names its own, only suppliers that are added may need one.
    let named: Vec<&String> = sheet.columns.iter().filter_map(|(_, column_use)| column_use.currency.as_ref()).collect();
    if let Some(only) = named.first().filter(|first| named.iter().all(|other| other == *first)) {
        return (Decision::Is((*only).clone()), "from the titles".to_owned());
    }
    let mut found: Vec<(usize, &Cell, Vec<String>)> = Vec::new();
    for (line, cell, _) in &money {
        let codes = split_money(cell.text()).map(|(_, sign)| currencies(sign)).unwrap_or_default();
        if !codes.is_empty() && !found.iter().any(|(_, _, own)| *own == codes) {
            found.push((*line, cell, codes));
        }
    }
    match found.as_slice() {
        [] => (Decision::Is(home.to_owned()), "no cell names one: your home currency".to_owned()),
        [(line, cell, codes)] if codes.len() == 1 => {
            (Decision::Is(codes[0].clone()), format!("decided by line {line}, \"{}\"", cell.text()))
        }
        [(line, cell, codes)] if codes.iter().any(|code| code == home) => (
            Decision::Is(home.to_owned()),
            format!("line {line}, \"{}\", may be {}: your home currency", cell.text(), codes.join(", ")),
        ),
        [(line, cell, codes)] => {
            (Decision::Open, format!("line {line}, \"{}\", may be {}", cell.text(), codes.join(", ")))
        }
        several => {
            let shown: Vec<String> =
                several.iter().map(|(line, cell, _)| format!("line {line}, \"{}\"", cell.text())).collect();
            let has_bare =
                money.iter().any(|(_, cell, _)| split_money(cell.text()).is_some_and(|(_, sign)| sign.is_empty()));
            let why = format!("the cells name several ({})", shown.join("; "));
            if has_bare { (Decision::Open, why) } else { (Decision::Is(home.to_owned()), why) }
        }
    }
}

/// The unit of bare amounts. Of formulas it is seen from their sums.
fn unit(table: &Table, sheet: &mut MappedSheet) -> (Decision<String>, String) {
    if sheet.holds.contains(&SheetKind::Formulas) {
        return formula_unit(table, sheet);
    }
    let has_unit_column = sheet.columns.iter().any(|(_, column_use)| column_use.meaning == Meaning::Unit);
    let amounts = cells_of(table, sheet, |shape| matches!(shape, Shape::Amount | Shape::Mass | Shape::PlanAmount));
    let bare = amounts.iter().find(|(_, cell, has_own)| !has_own && is_bare(cell));
    match bare {
        None => (Decision::NotNeeded, "every amount has one".to_owned()),
        Some(_) if has_unit_column => (Decision::NotNeeded, "a column names them".to_owned()),
        Some((line, cell, _)) => (Decision::Open, format!("line {line}, \"{}\", has none", cell.text())),
    }
}

fn is_bare(cell: &Cell) -> bool {
    split_number(cell.text()).is_some_and(|(_, rest)| rest.is_empty())
}

fn formula_unit(table: &Table, sheet: &mut MappedSheet) -> (Decision<String>, String) {
    let amounts = cells_of(table, sheet, |shape| shape == Shape::Share);
    if !amounts.iter().any(|(_, cell, has_own)| !has_own && is_bare(cell)) {
        return (Decision::NotNeeded, "every amount has one".to_owned());
    }
    let sums = formula_sums(table, sheet);
    let all = |wanted: i64| !sums.is_empty() && sums.iter().all(|(_, sum)| *sum == Some(wanted));
    if all(ONE) {
        for (_, column_use) in &mut sheet.columns {
            if matches!(column_use.meaning, Meaning::Formula(_) | Meaning::Column(SheetKind::Formulas, "percent")) {
                column_use.fractions = true;
            }
        }
        return (Decision::Is("%".to_owned()), "every formula adds up to 1: fractions of 1".to_owned());
    }
    if all(HUNDRED) {
        return (Decision::Is("%".to_owned()), "every formula adds up to 100".to_owned());
    }
    // `Ingredient (g)` above the names says it of all the columns beside it.
    let named = sheet.columns.iter().find_map(|(title, column_use)| match column_use.meaning {
        Meaning::Column(SheetKind::Formulas, "ingredient") => Some((title, super::header::title(title).unit?)),
        _ => None,
    });
    if let Some((title, unit)) = named {
        return (Decision::Is(unit.to_owned()), format!("from the title {title:?}"));
    }
    let odd = sums.iter().find(|(_, sum)| *sum != Some(HUNDRED));
    let shown = odd.map(|(name, sum)| match sum {
        Some(sum) => format!("{name} adds up to {}, not to 100", crate::plan::decimal::shortest(*sum, 6)),
        None => format!("the numbers of {name} cannot be added up"),
    });
    (Decision::Open, shown.unwrap_or_else(|| "no formula adds up to 100".to_owned()))
}

/// What each formula adds up to, in millionths; one with a balance is as good as 100.
fn formula_sums(table: &Table, sheet: &MappedSheet) -> Vec<(String, Option<i64>)> {
    let mut groups: BTreeMap<String, Vec<&Cell>> = BTreeMap::new();
    let in_lines = lines_of(table, sheet);
    match (sheet.layout, &in_lines) {
        (Layout::Blocks, _) => {
            for line in blocks(table, sheet).lines {
                groups.entry(line.formula).or_default().push(line.amount);
            }
        }
        (Layout::FormulaPerColumn, Some((lines, titles))) => {
            for line in side_by_side(lines, titles, sheet).lines {
                groups.entry(line.formula).or_default().push(line.amount);
            }
        }
        (Layout::Lines, Some((lines, titles))) => {
            let place = |wanted: &str| {
                let meant = sheet.columns.iter().find(|(_, own)| {
                    own.meaning
                        == Meaning::Column(SheetKind::Formulas, if wanted == "formula" { "formula" } else { "percent" })
                });
                meant.and_then(|(title, _)| titles.iter().position(|own| own == title))
            };
            let (Some(name), Some(amount)) = (place("formula"), place("percent")) else { return Vec::new() };
            let mut current = String::new();
            for line in lines {
                if !line.cell(name).is_empty() {
                    line.cell(name).text().clone_into(&mut current);
                }
                groups.entry(current.clone()).or_default().push(line.cell(amount));
            }
        }
        (_, None) => {}
    }
    let sign = sheet.decimal.get();
    let sum_of = |cells: Vec<&Cell>| {
        let has_balance = cells.iter().any(|cell| super::cells::is_balance(cell.text()));
        if has_balance { Some(HUNDRED) } else { sum(cells.into_iter(), sign) }
    };
    // A formula whose amounts all have their unit needs no other.
    groups.retain(|_, cells| cells.iter().any(|cell| is_bare(cell)));
    groups.into_iter().map(|(name, cells)| (name, sum_of(cells))).collect()
}
