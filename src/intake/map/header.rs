//! The header of a maker's sheet: in which line it stands, what each title says besides (a unit, a currency), and how
//! well it fits a column of ours.

use super::cells::{currencies, span_unit, unit};
use super::raw::{Line, Table};
use crate::book::fold::fold;
use crate::intake::columns::SheetKind;
use crate::intake::describe::{Described, described};
use std::collections::BTreeSet;
use std::sync::OnceLock;

/// A header is looked for in so many lines: titles and notes above it are few.
const LOOKED_AT: usize = 30;

/// What a title says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Title {
    /// Its words, whole and without what was taken as a unit or currency.
    pub(super) words: Vec<String>,
    /// The unit that it names.
    pub(super) unit: Option<&'static str>,
    /// The unit of time that it names.
    pub(super) span: Option<&'static str>,
    /// The currencies that it may name.
    pub(super) currencies: Vec<String>,
    /// The unit that a price is for: `Price / kg`.
    pub(super) price_per: Option<&'static str>,
}

/// Reads a title.
pub(super) fn title(text: &str) -> Title {
    let mut read =
        Title { words: vec![if text.trim() == "%" { "%".to_owned() } else { fold(text) }], ..Title::default() };
    let (outside, inside) = brackets(text);
    let mut rest = outside;
    if !inside.is_empty() && !take(&mut read, inside.trim_start_matches("in ")) {
        // A bracket that is no unit belongs to the title: `Lot (supplier)`.
        rest = text.replace(['(', ')', '[', ']'], " ");
    }
    if let Some(per) = price_per(&rest) {
        read.price_per = Some(per);
    } else {
        for mark in ["/", " in ", ","] {
            if let Some((left, right)) = rest.clone().rsplit_once(mark)
                && take(&mut read, right)
            {
                rest = left.to_owned();
            }
        }
        let words: Vec<&str> = rest.split_whitespace().collect();
        if let [first @ .., last] = words.as_slice()
            && !first.is_empty()
            && take(&mut read, last)
        {
            rest = first.join(" ");
        }
    }
    let plain = fold(&rest);
    if !plain.is_empty() && !read.words.contains(&plain) {
        read.words.push(plain);
    }
    if read.words.iter().all(String::is_empty) || fold(text).is_empty() {
        take(&mut read, text);
    }
    if unit(text).is_some() || span_unit(text).is_some() {
        take(&mut read, text);
    }
    read
}

/// The text outside its first brackets, and what stands in them.
fn brackets(text: &str) -> (String, String) {
    let open = text.find(['(', '[']);
    let close = text.rfind([')', ']']);
    match (open, close) {
        (Some(open), Some(close)) if open < close => {
            (format!("{} {}", &text[..open], &text[close + 1..]), text[open + 1..close].trim().to_owned())
        }
        _ => (text.to_owned(), String::new()),
    }
}

/// Takes a unit, a length of time or a currency.
fn take(read: &mut Title, word: &str) -> bool {
    let word = word.trim();
    if let Some(unit) = unit(word) {
        read.unit = Some(unit);
    } else if !currencies(word).is_empty() {
        read.currencies = currencies(word);
    } else if let Some(span) = span_unit(word) {
        read.span = Some(span);
    } else {
        return false;
    }
    true
}

/// `Price per kg`, `€/kg`, `Preis pro Liter`.
fn price_per(text: &str) -> Option<&'static str> {
    let lower = text.to_lowercase();
    let marks = ["/", " per ", " pro ", " par ", " al ", " por ", " je "];
    marks.into_iter().find_map(|mark| {
        let (left, right) = lower.rsplit_once(mark)?;
        let is_price = !currencies(left).is_empty()
            || fold(left)
                .split(' ')
                .any(|word| ["price", "cost", "preis", "prix", "prezzo", "precio", "kosten"].contains(&word));
        let unit = unit(right.trim().trim_start_matches("1 ")).filter(|unit| *unit != "%")?;
        is_price.then_some(unit)
    })
}

/// How well a title fits a column: 3 for its very words, 2 for some of them, 0 for none; and how far down the list of the
/// column's words that stands, for the first ones are the likeliest.
pub(super) fn fit(title: &Title, column: &Described) -> (u32, usize) {
    if title.price_per.is_some() {
        return (0, 0);
    }
    let own = fold(column.column);
    let known: Vec<&str> =
        column.words.split('|').map(str::trim).chain([own.as_str()]).filter(|word| !word.is_empty()).collect();
    if let Some(rank) = known.iter().position(|word| title.words.iter().any(|words| words == word)) {
        return (3, rank);
    }
    let within = |words: &String, word: &str| word.len() > 3 && format!(" {words} ").contains(&format!(" {word} "));
    let rank = known.iter().position(|word| title.words.iter().any(|words| within(words, word)));
    rank.map_or((0, 0), |rank| (2, rank))
}

/// True where a title is a word for a column of some file.
pub(super) fn is_known(text: &str) -> bool {
    static WORDS: OnceLock<BTreeSet<String>> = OnceLock::new();
    let known = WORDS.get_or_init(|| {
        let columns = SheetKind::ALL.into_iter().flat_map(described);
        columns
            .flat_map(|own| own.words.split('|').map(str::trim).map(str::to_owned).chain([fold(own.column)]))
            .collect()
    });
    let title = title(text);
    title.price_per.is_some() || title.words.iter().any(|words| !words.is_empty() && known.contains(words))
}

/// The place of the header among the lines: where most titles are known words; else the first line with two words and
/// no number.
pub(super) fn place(table: &Table) -> Option<usize> {
    let score = |line: &Line| line.cells.iter().filter(|cell| !cell.is_empty() && is_known(cell.text())).count();
    let looked_at = table.lines.iter().take(LOOKED_AT).enumerate();
    let best = looked_at.map(|(place, line)| (score(line), std::cmp::Reverse(place))).max();
    match best {
        Some((known, std::cmp::Reverse(place))) if known >= 2 || known == 1 && table.lines[place].filled() > 1 => {
            Some(place)
        }
        _ => {
            let is_header = |line: &Line| {
                line.filled() > 1
                    && line.cells.iter().all(|cell| cell.is_empty() || cell.text().contains(char::is_alphabetic))
            };
            table.lines.iter().take(LOOKED_AT).position(is_header)
        }
    }
}

/// The titles of a header line, each once: a title that stands there again gets a number, a column without one its
/// letter.
pub(super) fn titles(header: &Line, width: usize) -> Vec<String> {
    let mut titles: Vec<String> = Vec::new();
    for place in 0..width {
        let text = header.cell(place).text();
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let wanted = if text.is_empty() { letter(place) } else { text };
        let mut own = wanted.clone();
        let mut number = 2;
        while titles.contains(&own) {
            own = format!("{wanted} ({number})");
            number += 1;
        }
        titles.push(own);
    }
    titles
}

/// The letter of a column as spreadsheets name it.
pub(super) fn letter(place: usize) -> String {
    let last = char::from(b'A' + u8::try_from(place % 26).unwrap_or(0));
    if place < 26 { last.to_string() } else { format!("{}{last}", letter(place / 26 - 1)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::describe::of_column;

    #[test]
    fn titles_say_their_unit() {
        let check = |text: &str, unit: Option<&str>, currency: &str, words: &str| {
            let read = title(text);
            assert_eq!(read.unit, unit, "{text}");
            assert_eq!(read.currencies.first().map_or("", String::as_str), currency, "{text}");
            assert!(read.words.iter().any(|own| own == words), "{text}: {:?}", read.words);
        };
        check("Weight (g)", Some("g"), "", "weight");
        check("Menge [kg]", Some("kg"), "", "menge");
        check("net wt / oz", Some("oz"), "", "net wt");
        check("Price (GBP)", None, "GBP", "price");
        check("Preis in €", None, "EUR", "preis");
        check("Gewicht g", Some("g"), "", "gewicht");
        check("%", Some("%"), "", "%");
        check("Grams", Some("g"), "", "grams");
        check("Best before", None, "", "best before");
        check("Lot (supplier)", None, "", "lot supplier");
        assert_eq!(title("Shelf life (months)").span, Some("months"));
        assert_eq!(title("Price / kg").price_per, Some("kg"));
        assert_eq!(title("€/kg").price_per, Some("kg"));
        assert_eq!(title("Preis pro Liter").price_per, Some("l"));
        assert_eq!(
            (letter(0), letter(25), letter(26), letter(702)),
            ("A".into(), "Z".into(), "AA".into(), "AAA".into())
        );
    }

    #[test]
    fn titles_fit_columns() {
        let check = |text: &str, kind, column: &str, expected| {
            assert_eq!(fit(&title(text), of_column(kind, column).unwrap()).0, expected, "{text}");
        };
        check("Haltbar bis", SheetKind::Lots, "best_before", 3);
        check("MHD", SheetKind::Lots, "best_before", 3);
        check("Best before date (supplier)", SheetKind::Lots, "best_before", 2);
        check("Price / kg", SheetKind::Offers, "price", 0);
        check("Colour", SheetKind::Offers, "price", 0);
    }
}
