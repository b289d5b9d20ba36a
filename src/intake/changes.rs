//! What an import would add and change, row by row, in the words of the files.

use super::columns::SheetKind;
use super::to_cells::{Cells, Lookup, book_cells, journal_cells, share};
use crate::book::rows::FormulaLineRow;
use crate::book::{Book, Journal};
use std::collections::BTreeMap;

/// A row that an import adds or changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Of which file.
    pub file: SheetKind,
    /// Which row: the cells of its key, with `, ` between them. A formula version is one row.
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

/// The differences of two books, and what the journal gains (`gained`), in the order of the files.
pub(super) fn between(old: &Book, new: &Book, journal: &Journal, gained: &Journal) -> Vec<Change> {
    let (old_lookup, new_lookup) = (Lookup::new(old, journal), Lookup::new(new, journal));
    let mut changes = Vec::new();
    for kind in SheetKind::ALL {
        match kind {
            SheetKind::Formulas => formula_changes(old, new, &mut changes),
            kind if kind.is_of_journal() => {
                let before = journal_cells(journal, kind, &old_lookup);
                let after = journal_cells(gained, kind, &new_lookup);
                row_changes(kind, &before, &after, false, &mut changes);
            }
            _ => {
                let before = book_cells(old, kind, &old_lookup);
                row_changes(kind, &before, &book_cells(new, kind, &new_lookup), true, &mut changes);
            }
        }
    }
    changes
}

fn row_changes(kind: SheetKind, before: &[Cells], after: &[Cells], is_whole: bool, changes: &mut Vec<Change>) {
    let columns = kind.columns();
    let key_of = |cells: &Cells| -> String {
        let parts = columns.iter().zip(cells).filter(|(column, _)| column.key).map(|(_, cell)| cell.as_str());
        parts.collect::<Vec<_>>().join(", ")
    };
    let mut old: BTreeMap<String, &Cells> = before.iter().map(|cells| (key_of(cells), cells)).collect();
    for cells in after {
        let key = key_of(cells);
        let change = match old.remove(&key) {
            None => ChangeKind::Added,
            Some(old) if old == cells => continue,
            Some(old) => {
                let pairs = columns.iter().zip(old.iter().zip(cells));
                let differing = pairs.filter(|(_, (old, new))| old != new);
                ChangeKind::Changed(
                    differing
                        .map(|(column, (old, new))| ColumnChange {
                            column: column.name,
                            old: old.clone(),
                            new: new.clone(),
                        })
                        .collect(),
                )
            }
        };
        changes.push(Change { file: kind, key, kind: change });
    }
    if is_whole {
        changes.extend(old.into_keys().map(|key| Change { file: kind, key, kind: ChangeKind::Replaced }));
    }
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
