//! Premixes that contain themselves, by whatever way.

use super::{Context, Place};
use crate::book::rows::PremixRow;
use crate::book::versions::version_order;
use crate::intake::columns::SheetKind;
use std::collections::BTreeMap;

/// Circles that are named; a file with more of them is hostile, and each takes a walk through all rows.
const MOST_CIRCLES: usize = 100;

/// A longer circle is shown by its first and last members.
const MOST_NAMES: usize = 24;

/// How far the search has come with a premix.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Mark {
    New,
    OnTheWay,
    Done,
}

/// Faults every circle that the search meets, each by its whole way: `a -> b -> a`.
pub(super) fn find(context: &mut Context<'_>) {
    let premixes = context.merged.premixes.clone();
    let contents = contents(context, &premixes);
    let mut marks = vec![Mark::New; premixes.len()];
    let mut found = 0;
    for start in 0..premixes.len() {
        if marks[start] != Mark::New {
            continue;
        }
        // An explicit way instead of recursion: a hostile file may nest deeper than the stack.
        let mut way: Vec<(usize, usize)> = vec![(start, 0)];
        marks[start] = Mark::OnTheWay;
        while let Some((current, next)) = way.last_mut() {
            let Some(&inner) = contents[*current].get(*next) else {
                marks[*current] = Mark::Done;
                way.pop();
                continue;
            };
            *next += 1;
            match marks[inner] {
                Mark::New => {
                    marks[inner] = Mark::OnTheWay;
                    way.push((inner, 0));
                }
                Mark::OnTheWay if found < MOST_CIRCLES => {
                    found += 1;
                    let from = way.iter().position(|&(place, _)| place == inner).unwrap_or(0);
                    let circle: Vec<&PremixRow> = way[from..].iter().map(|&(place, _)| &premixes[place]).collect();
                    fault_circle(context, &circle);
                }
                Mark::OnTheWay | Mark::Done => {}
            }
        }
    }
}

/// For each premix the premixes in the newest version of its formula, by their place in the list.
fn contents(context: &Context<'_>, premixes: &[PremixRow]) -> Vec<Vec<usize>> {
    let places: BTreeMap<&str, usize> =
        premixes.iter().enumerate().map(|(place, premix)| (premix.code.as_str(), place)).collect();
    let mut newest: BTreeMap<&str, (&str, Vec<usize>)> = BTreeMap::new();
    for line in &context.merged.formula_lines {
        let entry = newest.entry(&line.formula).or_insert_with(|| (line.version.as_str(), Vec::new()));
        if version_order(&line.version, entry.0).is_gt() {
            *entry = (&line.version, Vec::new());
        }
        if line.version == entry.0 {
            entry.1.extend(places.get(line.ingredient.as_str()));
        }
    }
    let inside =
        |premix: &PremixRow| newest.get(premix.formula.as_str()).map_or_else(Vec::new, |(_, inside)| inside.clone());
    premixes.iter().map(inside).collect()
}

/// The fault stands at a line of a formula that closes the circle, or else at one of its premixes.
fn fault_circle(context: &mut Context<'_>, circle: &[&PremixRow]) {
    let mut codes: Vec<&str> = circle.iter().map(|premix| premix.code.as_str()).collect();
    codes.extend(circle.first().map(|premix| premix.code.as_str()));
    let way = match codes.len().checked_sub(MOST_NAMES).filter(|left_out| *left_out > 0) {
        None => codes.join(" -> "),
        Some(left_out) => {
            let (first, last) = (&codes[..MOST_NAMES / 2], &codes[codes.len() - MOST_NAMES / 2..]);
            format!("{} -> ({left_out} more) -> {}", first.join(" -> "), last.join(" -> "))
        }
    };
    let problem = format!("a premix contains itself: {way}");
    let lines = context.sheets.rows(SheetKind::Formulas).find(|(sheet, row)| {
        circle.iter().zip(&codes[1..]).any(|(premix, inner)| {
            sheet.cell(row, "formula") == Some(&premix.formula) && sheet.cell(row, "ingredient") == Some(inner)
        })
    });
    let mut members = context.sheets.rows(SheetKind::Premixes);
    let member = members.find(|(sheet, row)| codes.iter().any(|code| sheet.cell(row, "code") == Some(code)));
    let place = lines.or(member).map(|(sheet, row)| Place { file: sheet.file.clone(), row: row.number });
    context.fault_at(SheetKind::Premixes, place.as_ref(), problem, "take one of them out of the formula of the next");
}
