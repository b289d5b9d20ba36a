//! What the lines of a maker's sheet share: columns that a file cannot do without, what one column says for several files,
//! what stands once for several lines.

use super::assign::MappedLine;
use super::blocks::WideLine;
use super::raw::{Cell, Line};
use super::translate::Row;
use super::{ColumnUse, MappedSheet, Meaning};
use crate::intake::columns::SheetKind;
use crate::intake::describe::{Shape, of_column};
use std::collections::BTreeMap;

/// The columns that a file cannot do without here: one of each list.
pub(super) fn needed(kind: SheetKind) -> &'static [&'static [&'static str]] {
    match kind {
        SheetKind::Materials | SheetKind::Suppliers | SheetKind::Products => &[&["name", "code"]],
        SheetKind::Offers => &[&["material"], &["supplier"], &["pack"], &["price"]],
        SheetKind::Lots => &[&["material"], &["amount"]],
        SheetKind::Formulas => &[&["formula"], &["ingredient"], &["percent"]],
        SheetKind::Orders => &[&["order"], &["supplier"], &["material"], &["pack"], &["packs"], &["expected"]],
        SheetKind::Packaging => &[&["product"], &["material"]],
        SheetKind::Plan => &[&["product"], &["amount"], &["make_on", "ready_by"]],
        SheetKind::Rates => &[&["date"], &["currency"], &["rate"]],
        SheetKind::Postage => &[&["supplier"], &["from"], &["fee"]],
        SheetKind::Premixes => &[&["code"], &["formula"]],
        SheetKind::Wishes => &[&["wish"], &["kind"]],
        _ => &[],
    }
}

/// True where another column of the sheet says it.
pub(super) fn is_shared(sheet: &MappedSheet, kind: SheetKind, column: &str) -> bool {
    match of_column(kind, column).map(|described| described.shape) {
        Some(Shape::Material | Shape::Item) => sheet.holds.contains(&SheetKind::Materials),
        Some(Shape::Supplier) => {
            sheet.supplier.get().is_some() || supplier_kinds().any(|own| sheet.means(own, "supplier"))
        }
        Some(Shape::Product) => kind == SheetKind::Packaging && sheet.holds.contains(&SheetKind::Products),
        _ => false,
    }
}

pub(super) fn supplier_kinds() -> impl Iterator<Item = SheetKind> {
    [SheetKind::Offers, SheetKind::Lots, SheetKind::Orders].into_iter()
}

/// What another column of the line, or the sheet, says of the material, product or supplier.
pub(super) fn shared(sheet: &MappedSheet, mapped: &MappedLine<'_>, kind: SheetKind, shape: Shape) -> Option<String> {
    match shape {
        Shape::Material | Shape::Item => {
            let of_materials = ["code", "name"].map(|column| mapped.words(SheetKind::Materials, column));
            of_materials.into_iter().find(|text| !text.is_empty()).map(str::to_owned)
        }
        Shape::Supplier if matches!(kind, SheetKind::Offers | SheetKind::Lots | SheetKind::Orders) => {
            let of_others = supplier_kinds().map(|own| mapped.words(own, "supplier"));
            of_others.into_iter().find(|text| !text.is_empty()).map(str::to_owned).or_else(|| sheet.supplier.get())
        }
        Shape::Product if kind == SheetKind::Packaging => {
            let of_products = ["code", "name"].map(|column| mapped.words(SheetKind::Products, column));
            of_products.into_iter().find(|text| !text.is_empty()).map(str::to_owned)
        }
        _ => None,
    }
}

/// A line of formulas in long form: formula, ingredient, how much; and its version.
pub(super) fn long_line<'l>(sheet: &MappedSheet, titles: &[String], line: &'l Line) -> Option<(WideLine<'l>, String)> {
    let place_of = |column: &str| {
        let meant = |use_: &&(String, ColumnUse)| matches!(use_.1.meaning, Meaning::Column(SheetKind::Formulas, name) if name == column);
        let (title, column_use) = sheet.columns.iter().find(meant)?;
        Some((titles.iter().position(|own| own == title)?, column_use))
    };
    let text = |column: &str| place_of(column).map_or("", |(place, _)| line.cell(place).text());
    let (place, column_use) = place_of("percent")?;
    let wide = WideLine {
        number: line.number,
        formula: text("formula").to_owned(),
        ingredient: text("ingredient"),
        amount: line.cell(place),
        phase: text("phase"),
        column_use: column_use.clone(),
    };
    // A line that is about the formula only, its name on a line of its own say, is no ingredient.
    let is_line = !wide.ingredient.is_empty() || !wide.amount.is_empty();
    is_line.then(|| (wide, text("version").to_owned()))
}

/// The lines with what stands once for several of them, filled in.
pub(super) fn filled_down(lines: &[&Line], titles: &[String], sheet: &MappedSheet) -> Vec<Line> {
    let place = |title: &String| titles.iter().position(|own| own == title);
    let places: Vec<usize> =
        sheet.columns.iter().filter(|(_, own)| own.fill_down).filter_map(|(title, _)| place(title)).collect();
    let mut above: BTreeMap<usize, Cell> = BTreeMap::new();
    let mut filled = Vec::new();
    for line in lines {
        let mut line = (*line).clone();
        for &place in &places {
            if line.cells.len() <= place {
                line.cells.resize(place + 1, Cell::Empty);
            }
            if line.cells[place].is_empty() {
                line.cells[place] = above.get(&place).cloned().unwrap_or(Cell::Empty);
            } else {
                above.insert(place, line.cells[place].clone());
            }
        }
        filled.push(line);
    }
    filled
}

/// Materials that stand in several lines, once each, where the lines agree.
pub(super) fn once(rows: Vec<Row>) -> Vec<Row> {
    let mut kept: Vec<Row> = Vec::new();
    for row in rows {
        let agrees = |other: &Row| {
            let same = |(column, cell): (&&str, &String)| {
                cell.is_empty()
                    || *column == "name"
                    || other.cells.get(*column).is_none_or(|own| own == cell || own.is_empty())
            };
            other.cells.get("code") == row.cells.get("code") && row.cells.iter().all(same)
        };
        match kept.iter_mut().find(|other| agrees(other)) {
            Some(other) => {
                for (column, cell) in row.cells {
                    let own = other.cells.entry(column).or_default();
                    if own.is_empty() {
                        *own = cell;
                    }
                }
            }
            None => kept.push(row),
        }
    }
    kept
}
