//! Which codes are known, and which of them a person may have meant.

use crate::book::{Book, Journal};
use crate::intake::columns::SheetKind;
use crate::intake::fault::quoted;
use crate::intake::sheet::Sheets;
use std::cell::Cell;
use std::collections::{BTreeMap, BTreeSet};

/// So many pairs of codes are compared for likeness in one check: well under a second.
const MOST_COMPARISONS: usize = 1_000_000;
/// Codes longer than this are not compared for likeness.
const LONGEST_COMPARED: usize = 60;

/// A set of codes that a cell may refer to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Space {
    Material,
    /// A material or a premix.
    Item,
    Supplier,
    Formula,
    Premix,
    Product,
    Order,
    Lot,
    Batch,
}

impl Space {
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Material => "material",
            Self::Item => "material or premix",
            Self::Supplier => "supplier",
            Self::Formula => "formula",
            Self::Premix => "premix",
            Self::Product => "product",
            Self::Order => "order",
            Self::Lot => "lot",
            Self::Batch => "batch",
        }
    }

    fn kinds(self) -> &'static [SheetKind] {
        match self {
            Self::Material => &[SheetKind::Materials],
            Self::Item => &[SheetKind::Materials, SheetKind::Premixes],
            Self::Supplier => &[SheetKind::Suppliers],
            Self::Formula => &[SheetKind::Formulas],
            Self::Premix => &[SheetKind::Premixes],
            Self::Product => &[SheetKind::Products],
            Self::Order => &[SheetKind::Orders],
            Self::Lot => &[SheetKind::Lots],
            Self::Batch => &[SheetKind::Batches],
        }
    }
}

/// All codes of the store and of the files, whether or not the rest of their row is sound.
pub(super) struct Names {
    codes: BTreeMap<SheetKind, BTreeSet<String>>,
    unread: BTreeSet<SheetKind>,
    /// How often codes may still be compared for likeness.
    comparisons_left: Cell<usize>,
}

impl Names {
    pub(super) fn new(sheets: &Sheets, book: &Book, journal: &Journal) -> Self {
        let mut codes: BTreeMap<SheetKind, BTreeSet<String>> = BTreeMap::new();
        let mut add = |kind, code: &str| {
            codes.entry(kind).or_default().insert(code.to_owned());
        };
        book.materials.iter().for_each(|row| add(SheetKind::Materials, &row.code));
        book.premixes.iter().for_each(|row| add(SheetKind::Premixes, &row.code));
        book.suppliers.iter().for_each(|row| add(SheetKind::Suppliers, &row.code));
        book.formula_lines.iter().for_each(|row| add(SheetKind::Formulas, &row.formula));
        book.products.iter().for_each(|row| add(SheetKind::Products, &row.code));
        book.orders.iter().for_each(|row| add(SheetKind::Orders, &row.order));
        book.lots.iter().for_each(|row| add(SheetKind::Lots, &row.lot));
        journal.batches.iter().for_each(|row| add(SheetKind::Batches, &row.batch));
        for kind in SheetKind::ALL {
            let Some(key) = kind.columns().into_iter().find(|column| column.key) else { continue };
            for (sheet, row) in sheets.rows(kind) {
                add(kind, sheet.cell(row, key.name).unwrap_or_default());
            }
        }
        Self { codes, unread: sheets.unread.clone(), comparisons_left: Cell::new(MOST_COMPARISONS) }
    }

    /// What to do about a reference to nothing; `None` where the code is known, or may stand in a file that could not
    /// be read.
    pub(super) fn unknown(&self, space: Space, code: &str) -> Option<String> {
        let kinds = space.kinds();
        if kinds.iter().any(|kind| self.unread.contains(kind) || self.has(*kind, code)) {
            return None;
        }
        let add = format!("add it to {}", kinds.iter().map(|kind| kind.stem()).collect::<Vec<_>>().join(" or "));
        // A file with countless unknown codes does not need a guess for each.
        let count: usize = kinds.iter().filter_map(|kind| self.codes.get(kind)).map(BTreeSet::len).sum();
        let left = self.comparisons_left.get().checked_sub(count);
        self.comparisons_left.set(left.unwrap_or(0));
        let near = left.and_then(|_| nearest(code, kinds.iter().flat_map(|kind| self.of(*kind))));
        Some(match near {
            Some(near) => format!("did you mean {}? If not, {add}", quoted(near)),
            None => format!("look at how it is written, or {add}"),
        })
    }

    fn has(&self, kind: SheetKind, code: &str) -> bool {
        self.codes.get(&kind).is_some_and(|codes| codes.contains(code))
    }

    fn of(&self, kind: SheetKind) -> impl Iterator<Item = &str> {
        self.codes.get(&kind).into_iter().flatten().map(String::as_str)
    }
}

/// The code that takes the fewest slips of the hand (a letter too many, too few or another, two neighbours swapped), where it
/// is near enough to be meant: a third of the letters at the most.
fn nearest<'a>(code: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let wanted = code.to_lowercase();
    let length = wanted.chars().count();
    if length > LONGEST_COMPARED {
        return None;
    }
    let limit = (length / 3).max(1);
    let near = candidates.filter(|candidate| !candidate.is_empty()).filter_map(|candidate| {
        let candidate_small = candidate.to_lowercase();
        if candidate_small.chars().count().abs_diff(length) > limit {
            return None;
        }
        let distance = strsim::osa_distance(&wanted, &candidate_small);
        (distance <= limit).then_some((distance, candidate))
    });
    near.min().map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_code_is_named_where_it_is_near() {
        let codes = ["beeswax", "shea-butter", "cocoa-butter"];
        assert_eq!(nearest("shea-buter", codes.into_iter()), Some("shea-butter"));
        assert_eq!(nearest("BEESWAX", codes.into_iter()), Some("beeswax"));
        assert_eq!(nearest("beeswxa", codes.into_iter()), Some("beeswax"));
        assert_eq!(nearest("lye", codes.into_iter()), None);
    }
}
