//! Names in place of codes: a material called `Shea butter (refined)` in a maker's spreadsheet gets the code
//! `shea-butter-refined`, once and for all, and is found again by either.

use crate::book::Book;
use crate::book::fold::fold;
use std::collections::{BTreeMap, BTreeSet};

/// The longest code that is made from a name.
const LONGEST_CODE: usize = 40;

/// What a name or code stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::intake) enum Space {
    /// Materials and premixes, which share one list of codes.
    Item,
    Supplier,
    Formula,
    Product,
    Lot,
    Entry,
}

/// What was found under a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::intake) enum Found {
    Code(String),
    Several(Vec<String>),
    Nothing,
}

/// A code from a name: `shea-butter-refined`. Empty where the name has no letters or digits of ours.
#[must_use]
pub(in crate::intake) fn code_of(name: &str) -> String {
    let mut code = String::new();
    for word in fold(name).split(' ').filter(|word| !word.is_empty()) {
        if !code.is_empty() && code.len() + word.len() >= LONGEST_CODE {
            break;
        }
        if !code.is_empty() {
            code.push('-');
        }
        code.extend(word.chars().take(LONGEST_CODE));
    }
    code
}

/// All codes and names that are known: of the store, of the files, of the maker's own sheets.
#[derive(Debug, Default)]
pub(in crate::intake) struct Names {
    codes: BTreeSet<(Space, String)>,
    folded: BTreeMap<(Space, String), BTreeSet<String>>,
}

impl Names {
    /// The names of a book.
    pub(in crate::intake) fn of_book(book: &Book) -> Self {
        let mut names = Self::default();
        book.materials.iter().for_each(|row| names.add(Space::Item, &row.code, &row.name));
        book.premixes.iter().for_each(|row| names.add(Space::Item, &row.code, &row.code));
        book.suppliers.iter().for_each(|row| names.add(Space::Supplier, &row.code, &row.name));
        book.formula_lines.iter().for_each(|row| names.add(Space::Formula, &row.formula, &row.formula));
        book.products.iter().for_each(|row| names.add(Space::Product, &row.code, &row.name));
        book.lots.iter().for_each(|row| names.add(Space::Lot, &row.lot, &row.lot));
        book.plan.iter().for_each(|row| names.add(Space::Entry, &row.entry, &row.entry));
        names
    }

    /// Takes a code and its name in.
    pub(in crate::intake) fn add(&mut self, space: Space, code: &str, name: &str) {
        self.codes.insert((space, code.to_owned()));
        for text in [code, name] {
            let folded = fold(text);
            if !folded.is_empty() {
                self.folded.entry((space, folded)).or_default().insert(code.to_owned());
            }
        }
    }

    /// What a text stands for: a code as it is written, else a code or name in any case, with or without accents.
    pub(in crate::intake) fn find(&self, space: Space, text: &str) -> Found {
        if self.codes.contains(&(space, text.to_owned())) {
            return Found::Code(text.to_owned());
        }
        let codes: Vec<String> = self.folded.get(&(space, fold(text))).into_iter().flatten().cloned().collect();
        match codes.as_slice() {
            [] => Found::Nothing,
            [code] => Found::Code(code.clone()),
            _ => Found::Several(codes),
        }
    }

    /// The code of something with this name: the one that it has, else a new one that nothing else has.
    pub(in crate::intake) fn code_for(&mut self, space: Space, name: &str) -> String {
        match self.find(space, name) {
            Found::Code(code) => code,
            Found::Several(codes) => codes.into_iter().next().unwrap_or_default(),
            Found::Nothing => {
                let code = self.unused(space, &code_of(name));
                self.add(space, &code, name);
                code
            }
        }
    }

    /// The code itself, or with a number behind it where it is taken.
    pub(in crate::intake) fn unused(&self, space: Space, wanted: &str) -> String {
        let wanted = if wanted.is_empty() { "no-name" } else { wanted };
        let taken = |code: &str| self.codes.contains(&(space, code.to_owned()));
        if !taken(wanted) {
            return wanted.to_owned();
        }
        let numbered = (2_u32..).map(|number| format!("{wanted}-{number}"));
        numbered.into_iter().find(|code| !taken(code)).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_codes() {
        let check = |name: &str, expected: &str| assert_eq!(code_of(name), expected, "{name}");
        check("Shea butter (refined)", "shea-butter-refined");
        check("  Öl, süß  ", "ol-suss");
        check("Beurre de karité", "beurre-de-karite");
        check("Tin 30 ml", "tin-30-ml");
        check("---", "");
        check("乳木果油", "乳木果油");
        check(&"long name ".repeat(9), "long-name-long-name-long-name-long-name");
    }

    #[test]
    fn a_name_keeps_its_code_and_another_gets_its_own() {
        let mut names = Names::default();
        names.add(Space::Item, "M1", "Shea butter");
        assert_eq!(names.find(Space::Item, "SHEA BUTTER"), Found::Code("M1".to_owned()));
        assert_eq!(names.code_for(Space::Item, "Shea-Butter"), "M1");
        assert_eq!(names.code_for(Space::Item, "Oil A"), "oil-a");
        assert_eq!(names.code_for(Space::Item, "Oil (a)"), "oil-a");
        names.add(Space::Item, "other", "Oil A");
        assert_eq!(names.find(Space::Item, "oil a"), Found::Several(vec!["oil-a".to_owned(), "other".to_owned()]));
        assert_eq!(names.find(Space::Supplier, "oil a"), Found::Nothing);
        assert_eq!(names.unused(Space::Item, "oil-a"), "oil-a-2");
    }
}
