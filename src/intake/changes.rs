//! What an import would add and change, row by row, in the words of the files.

use super::columns::{Column, SheetKind};
use super::to_cells::{Cells, Lookup, Rows, book_cells, journal_cells, lot, offer, offer_key, plan_entry, share};
use crate::book::rows::{FormulaLineRow, LotRow, PlanRow};
use crate::book::{Book, Journal};
use hashbrown::HashMap;
use std::collections::BTreeMap;

/// A row that an import adds or changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Of which file.
    pub file: SheetKind,
    /// Which row: the cells of its key, with `, ` between them. A formula version is one row. Empty where new rows were
    /// to be counted only.
    pub key: String,
    /// What happens to it.
    pub kind: ChangeKind,
}

/// What happens to a row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ChangeKind {
    /// It is new.
    Added,
    /// These columns differ.
    Changed(Vec<ColumnChange>),
    /// Another row of the files takes its place (a band of postage of the other kind, a pack of the old density).
    Replaced,
}

/// A cell before and after, in canonical text; empty for none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColumnChange {
    /// The column.
    pub column: &'static str,
    /// What the store has.
    pub old: String,
    /// What the file says.
    pub new: String,
}

/// The differences of two books, and what the journal gains, in the order of the files. Where new rows `are_counted`, those of
/// long tables that were empty have no key.
pub(super) fn between(
    (old, journal): (&Book, &Journal),
    (new, gained): (&Book, &Journal),
    are_counted: bool,
) -> Vec<Change> {
    let lookups = (&Lookup::new(old, journal), &Lookup::new(new, journal));
    let mut changes = Vec::new();
    for kind in SheetKind::ALL {
        match kind {
            SheetKind::Formulas => formula_changes(old, new, &mut changes),
            // What a workshop may have many of: cells are made only of rows that differ.
            SheetKind::Offers => {
                let words = Words { key: offer_key, cells: offer, are_counted };
                words.changes(kind, (&old.offers, &new.offers), lookups, &mut changes);
            }
            SheetKind::Lots => {
                let key = |row: &LotRow, _: &Lookup<'_>| row.lot.clone();
                let words = Words { key, cells: lot, are_counted };
                words.changes(kind, (&old.lots, &new.lots), lookups, &mut changes);
            }
            SheetKind::Plan => {
                let cells = |row: &PlanRow, _: &Lookup<'_>| plan_entry(row);
                let words = Words { key: |row: &PlanRow, _: &Lookup<'_>| row.entry.clone(), cells, are_counted };
                words.changes(kind, (&old.plan, &new.plan), lookups, &mut changes);
            }
            kind if kind.is_of_journal() => {
                let before: Vec<Cells> = journal_cells(journal, kind, lookups.0).collect();
                row_changes(kind, &before, journal_cells(gained, kind, lookups.1), false, &mut changes);
            }
            _ => {
                let before: Vec<Cells> = book_cells(old, kind, lookups.0).collect();
                row_changes(kind, &before, book_cells(new, kind, lookups.1), true, &mut changes);
            }
        }
    }
    changes
}

/// How a row is told: by its key, and cell by cell.
struct Words<Key, AsCells> {
    key: Key,
    cells: AsCells,
    are_counted: bool,
}

impl<Key, AsCells> Words<Key, AsCells> {
    fn changes<Row: PartialEq>(
        &self,
        kind: SheetKind,
        (before, after): (&[Row], &[Row]),
        (old_lookup, new_lookup): (&Lookup<'_>, &Lookup<'_>),
        changes: &mut Vec<Change>,
    ) where
        Key: Fn(&Row, &Lookup<'_>) -> String,
        AsCells: Fn(&Row, &Lookup<'_>) -> Cells,
    {
        if self.are_counted && before.is_empty() {
            let added = || Change { file: kind, key: String::new(), kind: ChangeKind::Added };
            return changes.extend(after.iter().map(|_| added()));
        }
        let columns = kind.columns();
        let read_alike = old_lookup.reads_as(new_lookup);
        let mut old: HashMap<String, &Row> = before.iter().map(|row| ((self.key)(row, old_lookup), row)).collect();
        for row in after {
            let key = (self.key)(row, new_lookup);
            let change = match old.remove(&key) {
                None => ChangeKind::Added,
                Some(known) if read_alike && known == row => continue,
                Some(known) => {
                    let (known, cells) = ((self.cells)(known, old_lookup), (self.cells)(row, new_lookup));
                    if known == cells {
                        continue;
                    }
                    differing(&columns, &known, &cells)
                }
            };
            changes.push(Change { file: kind, key, kind: change });
        }
        let mut gone: Vec<String> = old.into_keys().collect();
        gone.sort_unstable();
        changes.extend(gone.into_iter().map(|key| Change { file: kind, key, kind: ChangeKind::Replaced }));
    }
}

fn differing(columns: &[Column], old: &Cells, new: &Cells) -> ChangeKind {
    let pairs = columns.iter().zip(old.iter().zip(new)).filter(|(_, (old, new))| old != new);
    let change = |(column, (old, new)): (&Column, (&String, &String))| ColumnChange {
        column: column.name,
        old: old.clone(),
        new: new.clone(),
    };
    ChangeKind::Changed(pairs.map(change).collect())
}

fn row_changes(kind: SheetKind, before: &[Cells], after: Rows<'_>, is_whole: bool, changes: &mut Vec<Change>) {
    let columns = kind.columns();
    let mut old: BTreeMap<String, &Cells> = before.iter().map(|cells| (key_of(&columns, cells), cells)).collect();
    for cells in after {
        let key = key_of(&columns, &cells);
        let change = match old.remove(&key) {
            None => ChangeKind::Added,
            Some(old) if *old == cells => continue,
            Some(old) => differing(&columns, old, &cells),
        };
        changes.push(Change { file: kind, key, kind: change });
    }
    if is_whole {
        changes.extend(old.into_keys().map(|key| Change { file: kind, key, kind: ChangeKind::Replaced }));
    }
}

/// The cells of a row's key, with `, ` between them.
fn key_of(columns: &[Column], cells: &Cells) -> String {
    let parts = columns.iter().zip(cells).filter(|(column, _)| column.key).map(|(_, cell)| cell.as_str());
    parts.collect::<Vec<_>>().join(", ")
}

fn formula_changes(old: &Book, new: &Book, changes: &mut Vec<Change>) {
    let before = versions(&old.formula_lines);
    for (key, lines) in versions(&new.formula_lines) {
        let kind = match before.get(&key) {
            None => ChangeKind::Added,
            Some(old_lines) if *old_lines == lines => continue,
            Some(old_lines) => ChangeKind::Changed(vec![ColumnChange {
                column: "ingredient",
                old: recipe(old_lines),
                new: recipe(&lines),
            }]),
        };
        let (formula, version) = key;
        changes.push(Change { file: SheetKind::Formulas, key: format!("{formula}, {version}"), kind });
    }
}

fn versions(lines: &[FormulaLineRow]) -> BTreeMap<(&str, &str), Vec<&FormulaLineRow>> {
    let mut versions: BTreeMap<(&str, &str), Vec<&FormulaLineRow>> = BTreeMap::new();
    for line in lines {
        versions.entry((&line.formula, &line.version)).or_default().push(line);
    }
    versions
}

/// `beeswax 20 (heated), almond-oil balance`.
fn recipe(lines: &[&FormulaLineRow]) -> String {
    let one = |line: &&FormulaLineRow| {
        let phase = if line.phase.is_empty() { String::new() } else { format!(" ({})", line.phase) };
        format!("{} {}{phase}", line.ingredient, share(line.share))
    };
    lines.iter().map(one).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::rows::OfferRow;
    use crate::plan::model::{PlanAmount, PlanDay};
    use crate::plan::money::Price;
    use crate::plan::quantity::Quantity;
    use chrono::NaiveDate;

    /// The keys that are made without the other cells are those cells.
    #[test]
    fn a_key_is_made_of_its_cells() {
        let offer_row = OfferRow {
            supplier: "S1".to_owned(),
            material: "shea".to_owned(),
            pack: Quantity(1_500_000),
            pack_text: "1.50 kg".to_owned(),
            price: Price { minor: 900 },
            from_packs: 3,
            life_on_arrival: None,
            item_no: String::new(),
        };
        let other = OfferRow { pack: Quantity(2_000_000), ..offer_row.clone() };
        let book = Book::default();
        let lookup = Lookup::new(&book, &Journal::default());
        for (row, shown) in [(&offer_row, "S1, shea, 1.50 kg, 3"), (&other, "S1, shea, 2 kg, 3")] {
            assert_eq!(offer_key(row, &lookup), shown);
            assert_eq!(key_of(&SheetKind::Offers.columns(), &offer(row, &lookup)), shown);
        }
    }

    /// Counted or named, each new row is a change.
    #[test]
    fn new_rows_are_named_unless_they_are_to_be_counted() {
        let entry = |entry: &str| PlanRow {
            entry: entry.to_owned(),
            product: "salve".to_owned(),
            amount: PlanAmount::Pieces(12),
            when: PlanDay::MakeOn(NaiveDate::MIN),
            dropped: false,
        };
        let (nothing, journal) = (Book::default(), Journal::default());
        let book = Book { plan: vec![entry("P-1"), entry("P-2")], ..Book::default() };
        let more = Book { plan: vec![entry("P-1"), entry("P-2"), entry("P-3")], ..Book::default() };
        let keys = |before: &Book, after: &Book, are_counted: bool| -> Vec<String> {
            let changes = between((before, &journal), (after, &journal), are_counted);
            assert!(changes.iter().all(|change| change.kind == ChangeKind::Added));
            changes.into_iter().map(|change| change.key).collect()
        };
        assert_eq!(keys(&nothing, &book, false), ["P-1", "P-2"]);
        assert_eq!(keys(&nothing, &book, true), ["", ""]);
        assert_eq!(keys(&book, &more, true), ["P-3"]);
    }
}
