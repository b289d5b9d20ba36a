//! Which codes are known, and which of them a person may have meant.

use crate::book::{Book, Journal};
use crate::intake::columns::SheetKind;
use crate::intake::fault::quoted;
use crate::intake::sheet::Sheets;
use hashbrown::HashSet;
use std::cell::{Cell, OnceCell};

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

/// All codes of the store and of the files, whether or not the rest of their row is sound. Those of a kind are gathered when
/// the first row refers to one of them: most imports ask for few kinds.
pub(super) struct Names<'a> {
    sheets: &'a Sheets,
    book: &'a Book,
    journal: &'a Journal,
    codes: [OnceCell<HashSet<&'a str>>; SheetKind::ALL.len()],
    /// How often codes may still be compared for likeness.
    comparisons_left: Cell<usize>,
}

impl<'a> Names<'a> {
    pub(super) fn new(sheets: &'a Sheets, book: &'a Book, journal: &'a Journal) -> Self {
        let comparisons_left = Cell::new(MOST_COMPARISONS);
        Self { sheets, book, journal, codes: Default::default(), comparisons_left }
    }

    /// The codes of a kind.
    fn of(&self, kind: SheetKind) -> &HashSet<&'a str> {
        let place = SheetKind::ALL.into_iter().position(|other| other == kind).unwrap_or_default();
        self.codes[place].get_or_init(|| {
            let mut codes = self.of_store(kind);
            if let Some(key) = kind.columns().into_iter().find(|column| column.key) {
                let cells = self.sheets.rows(kind).map(|(sheet, row)| sheet.cell(row, key.name).unwrap_or_default());
                codes.extend(cells);
            }
            codes
        })
    }

    fn of_store(&self, kind: SheetKind) -> HashSet<&'a str> {
        let book = self.book;
        match kind {
            SheetKind::Materials => book.materials.iter().map(|row| row.code.as_str()).collect(),
            SheetKind::Premixes => book.premixes.iter().map(|row| row.code.as_str()).collect(),
            SheetKind::Suppliers => book.suppliers.iter().map(|row| row.code.as_str()).collect(),
            SheetKind::Formulas => book.formula_lines.iter().map(|row| row.formula.as_str()).collect(),
            SheetKind::Products => book.products.iter().map(|row| row.code.as_str()).collect(),
            SheetKind::Orders => book.orders.iter().map(|row| row.order.as_str()).collect(),
            SheetKind::Lots => book.lots.iter().map(|row| row.lot.as_str()).collect(),
            SheetKind::Batches => self.journal.batches.iter().map(|row| row.batch.as_str()).collect(),
            _ => HashSet::new(),
        }
    }

    /// What to do about a reference to nothing; `None` where the code is known, or may stand in a file that could not
    /// be read.
    pub(super) fn unknown(&self, space: Space, code: &str) -> Option<String> {
        let kinds = space.kinds();
        if kinds.iter().any(|kind| self.sheets.unread.contains(kind) || self.of(*kind).contains(code)) {
            return None;
        }
        let add = format!("add it to {}", kinds.iter().map(|kind| kind.stem()).collect::<Vec<_>>().join(" or "));
        // A file with countless unknown codes does not need a guess for each.
        let count: usize = kinds.iter().map(|kind| self.of(*kind).len()).sum();
        let left = self.comparisons_left.get().checked_sub(count);
        self.comparisons_left.set(left.unwrap_or(0));
        let near = left.and_then(|_| nearest(code, kinds.iter().flat_map(|kind| self.of(*kind)).copied()));
        Some(match near {
            Some(near) => format!("did you mean {}? If not, {add}", quoted(near)),
            None => format!("look at how it is written, or {add}"),
        })
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
