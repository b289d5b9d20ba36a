//! Which lines of a maker's sheet are read: below the header, without totals, titles and what the mapping skips. What is
//! left out is told by its number and why.

use super::raw::{Line, Table};
use super::{MappedSheet, Skip};
use crate::book::fold::fold;

/// The lines that are read, and what is told of the others.
pub(super) struct Body<'a> {
    pub(super) lines: Vec<&'a Line>,
    pub(super) left_out: Vec<String>,
}

/// Every word of a totals line's first cell is one of these, and one of the first group is among them.
const TOTALS: &[&str] = &[
    "total",
    "totals",
    "subtotal",
    "sum",
    "sums",
    "summe",
    "gesamt",
    "gesamtsumme",
    "gesamtmenge",
    "gesamtgewicht",
    "gesamtwert",
    "insgesamt",
    "zwischensumme",
    "endsumme",
    "somme",
    "totaux",
    "totale",
    "totali",
    "somma",
    "suma",
    "totales",
    "subtotale",
    "totaal",
    "totalen",
    "zusammen",
];
const BESIDE_TOTALS: &[&str] = &[
    "grand", "sub", "sous", "general", "generale", "overall", "in", "all", "of", "the", "weight", "value", "cost",
    "stock", "batch", "amount", "net", "g", "kg", "mg", "oz", "lb", "ml", "l", "eur", "gbp", "usd", "chf", "percent",
    "gewicht", "wert", "poids", "peso", "valeur", "valore", "prozent",
];

/// True where a line adds others up, by the words of its first filled cell.
pub(super) fn is_total(line: &Line) -> bool {
    let words = fold(line.first());
    let words: Vec<&str> = words.split(' ').filter(|word| !word.bytes().all(|byte| byte.is_ascii_digit())).collect();
    words.iter().any(|word| TOTALS.contains(word))
        && words.iter().all(|word| TOTALS.contains(word) || BESIDE_TOTALS.contains(word))
}

/// True where the mapping says that a line is not read.
pub(super) fn is_skipped(line: &Line, skip: &[Skip]) -> bool {
    skip.iter().any(|skip| match skip {
        Skip::Number(number) => *number == line.number,
        Skip::Words(words) => fold(words) == fold(line.first()) && !words.is_empty(),
    })
}

/// The lines below the header; `places` are the columns that mean something.
pub(super) fn body<'a>(table: &'a Table, header: Option<usize>, sheet: &MappedSheet, places: &[usize]) -> Body<'a> {
    let mut body = Body { lines: Vec::new(), left_out: Vec::new() };
    // With the number of the first line that each is about.
    let mut told: Vec<(usize, String)> = Vec::new();
    let first = header.map_or(0, |place| place + 1);
    if header.is_some_and(|place| place > 0) {
        let above: Vec<usize> = table.lines[..first - 1].iter().map(|line| line.number).collect();
        told.push((0, format!("{} left out, above the header", numbered(&above))));
    }
    let titles = header.map(|place| &table.lines[place].cells);
    let mut skipped = Vec::new();
    let mut without = Vec::new();
    for line in &table.lines[first.min(table.lines.len())..] {
        let shown = || format!("line {}", line.number);
        if is_skipped(line, &sheet.skip) {
            skipped.push(line.number);
        } else if line.first().starts_with('#') {
            told.push((line.number, format!("{} left out, it begins with #", shown())));
        } else if titles == Some(&line.cells) {
            told.push((line.number, format!("{} left out, it is the header again", shown())));
        } else if is_total(line) {
            told.push((line.number, format!("{} left out, it looks like a total ({})", shown(), line.first())));
        } else if places.iter().all(|&place| line.cell(place).is_empty()) {
            without.push(line.number);
        } else {
            body.lines.push(line);
        }
    }
    if !skipped.is_empty() {
        told.push((skipped[0], format!("{} left out, as the mapping says", numbered(&skipped))));
    }
    if !without.is_empty() {
        told.push((without[0], format!("{} left out, nothing stands in a column that is read", numbered(&without))));
    }
    let empty = empty_lines(table, first);
    if !empty.is_empty() {
        told.push((empty[0], format!("{} left out, nothing stands there", numbered(&empty))));
    }
    told.sort();
    body.left_out = told.into_iter().map(|(_, text)| text).collect();
    body
}

/// The numbers of the empty lines between the header and the last line.
fn empty_lines(table: &Table, first: usize) -> Vec<usize> {
    let from = if first == 0 { 1 } else { table.lines[first - 1].number + 1 };
    let mut next = from;
    let mut empty = Vec::new();
    for line in &table.lines[first.min(table.lines.len())..] {
        // A file may claim that its second line stands a million lines below.
        empty.extend((next..line.number).take(1_000));
        next = line.number + 1;
    }
    empty
}

/// `line 4`, `lines 4, 5 and 9`.
pub(super) fn numbered(numbers: &[usize]) -> String {
    const SHOWN: usize = 12;
    let shown: Vec<String> = numbers.iter().take(SHOWN).map(usize::to_string).collect();
    match shown.as_slice() {
        [only] => format!("line {only}"),
        _ if numbers.len() > SHOWN => format!("lines {} and {} more", shown.join(", "), numbers.len() - SHOWN),
        [first @ .., last] => format!("lines {} and {last}", first.join(", ")),
        [] => "no lines".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::map::raw::text_cell;

    #[test]
    fn totals_are_known_by_their_words() {
        let check = |text: &str, expected| {
            let line = Line { number: 9, cells: vec![text_cell(""), text_cell(text), text_cell("100")] };
            assert_eq!(is_total(&line), expected, "{text}");
        };
        for text in [
            "Total",
            "TOTAL:",
            "Grand total",
            "Summe",
            "Gesamt",
            "Totale",
            "Sub-total",
            "Total (g)",
            "Total weight",
            "Somme",
        ] {
            check(text, true);
        }
        for text in ["Total repair oil", "Summer balm", "Sum-it oil", "Weight", "", "Totally clear base"] {
            check(text, false);
        }
        assert_eq!(numbered(&[4]), "line 4");
        assert_eq!(numbered(&[4, 5, 9]), "lines 4, 5 and 9");
    }
}
