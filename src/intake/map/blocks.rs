//! Formulas in wide form: side by side (an ingredient in each line, a formula in each column), or below each other (a line
//! with the name, then its ingredients). Both become plain formula lines.

use super::cells::{split_number, unit};
use super::header::{is_known, title};
use super::lines::{is_skipped, is_total};
use super::raw::{Cell, Line, Table};
use super::{ColumnUse, MappedSheet, Meaning};
use crate::intake::columns::SheetKind;

/// A line of a formula as she wrote it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct WideLine<'a> {
    pub(super) number: usize,
    pub(super) formula: String,
    pub(super) ingredient: &'a str,
    pub(super) amount: &'a Cell,
    pub(super) phase: &'a str,
    pub(super) column_use: ColumnUse,
}

/// Where the cells of a formula's line stand.
struct Places {
    words: usize,
    amount: usize,
    phase: Option<usize>,
}

impl Places {
    fn line<'a>(&self, line: &'a Line, formula: &str, column_use: &ColumnUse) -> WideLine<'a> {
        WideLine {
            number: line.number,
            formula: formula.to_owned(),
            ingredient: line.cell(self.words).text(),
            amount: line.cell(self.amount),
            phase: self.phase.map_or("", |place| line.cell(place).text()),
            column_use: column_use.clone(),
        }
    }
}

/// The formula lines of a sheet, and what is told of the lines that are none.
#[derive(Debug, Default)]
pub(super) struct Wide<'a> {
    pub(super) lines: Vec<WideLine<'a>>,
    pub(super) left_out: Vec<String>,
}

/// What a line of a block is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    Ingredient,
    Header,
    Name,
    Total,
    Other,
}

/// The places of the ingredient and of how much of it.
pub(super) fn block_places(table: &Table) -> Option<(usize, usize)> {
    let width = table.lines.iter().map(|line| line.cells.len()).max().unwrap_or(0);
    let is_number = |cell: &Cell| {
        matches!(cell, Cell::Number(_))
            || split_number(cell.text()).is_some_and(|(_, rest)| rest.is_empty() || unit(rest).is_some())
    };
    let is_words =
        |cell: &Cell| matches!(cell, Cell::Text(text) if text.contains(char::is_alphabetic)) && !is_number(cell);
    let pairs = (0..width).flat_map(|words| (words + 1..width).map(move |number| (words, number)));
    let count = |&(words, number): &(usize, usize)| {
        table.lines.iter().filter(|line| is_words(line.cell(words)) && is_number(line.cell(number))).count()
    };
    pairs.rev().max_by_key(count).filter(|pair| count(pair) >= 2)
}

/// What each line is; `next` lines tell a name from a remark.
pub(super) fn parts(table: &Table, (words, number): (usize, usize)) -> Vec<Part> {
    let plain = |line: &Line| {
        if is_total(line) {
            return Part::Total;
        }
        let (ingredient, amount) = (line.cell(words), line.cell(number));
        if ingredient.is_empty() {
            return if amount.is_empty() && line.filled() == 1 { Part::Name } else { Part::Other };
        }
        let holds_number = split_number(amount.text()).is_some() || super::cells::is_balance(amount.text());
        if holds_number {
            Part::Ingredient
        } else if !amount.is_empty() && is_known(ingredient.text()) && is_known(amount.text()) {
            Part::Header
        } else if amount.is_empty() && !is_known(ingredient.text()) {
            Part::Name
        } else {
            Part::Other
        }
    };
    let mut parts: Vec<Part> = table.lines.iter().map(plain).collect();
    for place in 0..parts.len() {
        let begins = matches!(parts.get(place + 1), Some(Part::Ingredient | Part::Header));
        if parts[place] == Part::Name && !begins {
            parts[place] = Part::Other;
        }
    }
    parts
}

/// The lines of formulas that stand below each other.
pub(super) fn blocks<'a>(table: &'a Table, sheet: &MappedSheet) -> Wide<'a> {
    let place_of = |column: &str| {
        let meant = sheet.columns.iter().find(
            |(_, column_use)| matches!(column_use.meaning, Meaning::Column(SheetKind::Formulas, name) if name == column),
        );
        meant.and_then(|(letter, column_use)| Some((place_of_letter(letter)?, column_use)))
    };
    let mut wide = Wide::default();
    let (Some((words, _)), Some((number, amount_use))) = (place_of("ingredient"), place_of("percent")) else {
        return wide;
    };
    let places = Places { words, amount: number, phase: place_of("phase").map(|(place, _)| place) };
    let mut formula = String::new();
    let mut column_use = amount_use.clone();
    for (line, part) in table.lines.iter().zip(parts(table, (words, number))) {
        let mut leave_out =
            |why: &str| wide.left_out.push(format!("line {} left out, {why} ({})", line.number, line.first()));
        if is_skipped(line, &sheet.skip) {
            leave_out("as the mapping says");
            continue;
        }
        match part {
            Part::Name => {
                line.first().clone_into(&mut formula);
                column_use = amount_use.clone();
            }
            Part::Header => {
                if let Some(unit) = title(line.cell(number).text()).unit {
                    column_use.unit = Some(unit.to_owned());
                }
            }
            Part::Total => leave_out("it looks like a total"),
            Part::Ingredient if formula.is_empty() => leave_out("no formula was named above it"),
            Part::Ingredient => wide.lines.push(places.line(line, &formula, &column_use)),
            Part::Other => leave_out("it is no ingredient and begins no formula"),
        }
    }
    wide
}

/// The lines of formulas that stand side by side; `lines` are those below the header.
pub(super) fn side_by_side<'a>(lines: &[&'a Line], titles: &[String], sheet: &MappedSheet) -> Wide<'a> {
    let mut wide = Wide::default();
    let place = |wanted: &str| {
        let title = sheet.columns.iter().find(
            |(_, column_use)| matches!(column_use.meaning, Meaning::Column(SheetKind::Formulas, name) if name == wanted),
        );
        title.and_then(|(title, _)| titles.iter().position(|own| own == title))
    };
    let Some(words) = place("ingredient") else { return wide };
    let phase = place("phase");
    // In the order of her columns, which the mapping does not keep.
    for (amount, title) in titles.iter().enumerate() {
        let own = sheet.columns.iter().find(|(own, _)| own == title).map(|(_, column_use)| column_use);
        let Some(column_use) = own else { continue };
        let Meaning::Formula(formula) = &column_use.meaning else { continue };
        let places = Places { words, amount, phase };
        for line in lines {
            let is_nothing =
                |cell: &Cell| cell.is_empty() || matches!(cell.text(), "-" | "–" | "0" | "0.0" | "0,0" | "0 %" | "0%");
            if is_nothing(line.cell(amount)) {
                continue;
            }
            wide.lines.push(places.line(line, formula, column_use));
        }
    }
    wide
}

/// The place of a column by its letter.
pub(super) fn place_of_letter(letters: &str) -> Option<usize> {
    let sound = !letters.is_empty() && letters.len() <= 3 && letters.bytes().all(|byte| byte.is_ascii_uppercase());
    let value = |place: usize, byte: u8| place * 26 + usize::from(byte - b'A') + 1;
    sound.then(|| letters.bytes().fold(0, value) - 1)
}
