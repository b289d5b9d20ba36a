//! Tables of text to typed rows, checked together with what the store already has. Every fault is reported at once.
//!
//! Files are checked in the order in which they refer to each other. A row with a fault is left out of what later
//! files see, but its code still counts as known, so that one slip does not make a hundred faults.

mod agenda;
pub use agenda::typed_plan_amount;
mod circles;
mod history;
pub(super) use history::PIECE_WORDS;
mod journal;
pub(super) use journal::MOVEMENT_WORDS;
mod names;
mod recipes;
mod stock;
mod trade;
mod wishes;

use super::changes::{self, Change};
use super::columns::SheetKind;
use super::fault::{Fault, quoted};
use super::row_reader::RowReader;
use super::sheet::Sheets;
use crate::book::rows::{LotRow, MaterialRow, PremixRow, ProductRow, SupplierRow};
use crate::book::{Book, Journal, Standing};
use crate::plan::money::Currency;
use crate::plan::quantity::{Density, Unit};
use hashbrown::{DefaultHashBuilder, HashTable};
use names::{Names, Space};
use std::collections::{BTreeMap, BTreeSet};
use std::hash::{BuildHasher, Hash};

/// What passed the check.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Checked {
    /// The whole book as it will be: what was there, with the files' rows added and changed.
    pub merged: Book,
    /// The movements, batches and settings of the files that the store does not have yet, or (settings) has otherwise.
    pub journal: Journal,
    /// What the files add and change, in the order of the files; empty where importing would change nothing.
    pub changes: Vec<Change>,
    /// What was left out or is worth a second look, as sentences.
    pub notes: Vec<String>,
    /// True where no file has a row below its titles.
    pub has_no_row: bool,
}

/// Checks all tables against each other and against what the store has.
///
/// `home` is the home currency of the store (of a new one: see [`Sheets::home_currency`]); `standings` say which lots
/// have moved, `journal_existing` what has happened so far.
///
/// # Errors
/// Every fault of every file, those of reading first.
pub fn check(
    sheets: &Sheets,
    home: Currency,
    existing: &Book,
    standings: &[Standing],
    journal_existing: &Journal,
) -> Result<Checked, Vec<Fault>> {
    let mut context = Context {
        sheets,
        home,
        existing,
        standings: standings.iter().map(|standing| (standing.lot.as_str(), standing)).collect(),
        journal_existing,
        names: Names::new(sheets, existing, journal_existing),
        merged: Book::default(),
        journal: Journal::default(),
        faults: sheets.faults.clone(),
        notes: sheets.notes.clone(),
    };
    stock::materials(&mut context);
    trade::suppliers(&mut context);
    trade::postage(&mut context);
    trade::offers(&mut context);
    trade::rates(&mut context);
    recipes::formulas(&mut context);
    recipes::premixes(&mut context);
    circles::find(&mut context);
    recipes::products(&mut context);
    recipes::packaging(&mut context);
    trade::orders(&mut context);
    stock::lots(&mut context);
    agenda::plan(&mut context);
    wishes::wishes(&mut context);
    journal::settings(&mut context);
    history::acts(&mut context);
    journal::batches(&mut context);
    history::weighings(&mut context);
    journal::ledger(&mut context);
    history::pieces(&mut context);
    history::changes(&mut context);
    if !context.faults.is_empty() {
        return Err(one_for_each_cell(context.faults, &sheets.faults));
    }
    let (before, after) = ((existing, journal_existing), (&context.merged, &context.journal));
    let changes = changes::between(before, after, sheets.are_new_rows_counted);
    let has_no_row = SheetKind::ALL.into_iter().all(|kind| sheets.rows(kind).next().is_none());
    Ok(Checked { merged: context.merged, journal: context.journal, changes, notes: context.notes, has_no_row })
}

/// A cell that could not even be read is faulted once, not again for what it seems to say.
fn one_for_each_cell(faults: Vec<Fault>, of_reading: &[Fault]) -> Vec<Fault> {
    let place = |fault: &Fault| (fault.file.clone(), fault.row, fault.column.clone());
    let read: BTreeSet<_> = of_reading.iter().filter(|fault| fault.value.is_some()).map(place).collect();
    let (first, later) = faults.split_at(of_reading.len());
    let later = later.iter().filter(|fault| fault.column.is_none() || !read.contains(&place(fault)));
    first.iter().chain(later).cloned().collect()
}

/// What the check knows while it goes through the files.
struct Context<'a> {
    sheets: &'a Sheets,
    home: Currency,
    existing: &'a Book,
    standings: BTreeMap<&'a str, &'a Standing>,
    journal_existing: &'a Journal,
    names: Names<'a>,
    merged: Book,
    journal: Journal,
    faults: Vec<Fault>,
    notes: Vec<String>,
}

impl Context<'_> {
    fn material(&self, code: &str) -> Option<&MaterialRow> {
        self.merged.materials.get(self.place_of_material(code)?)
    }

    fn place_of_material(&self, code: &str) -> Option<usize> {
        self.merged.materials.binary_search_by(|row| row.code.as_str().cmp(code)).ok()
    }

    fn supplier(&self, code: &str) -> Option<&SupplierRow> {
        self.merged.suppliers.get(self.place_of_supplier(code)?)
    }

    fn place_of_supplier(&self, code: &str) -> Option<usize> {
        self.merged.suppliers.binary_search_by(|row| row.code.as_str().cmp(code)).ok()
    }

    fn premix(&self, code: &str) -> Option<&PremixRow> {
        let place = self.merged.premixes.binary_search_by(|row| row.code.as_str().cmp(code)).ok()?;
        self.merged.premixes.get(place)
    }

    fn product(&self, code: &str) -> Option<&ProductRow> {
        let place = self.merged.products.binary_search_by(|row| row.code.as_str().cmp(code)).ok()?;
        self.merged.products.get(place)
    }

    /// What an item is counted in, and its density; `None` where its own row has a fault or it is not known.
    fn unit_of(&self, item: &str) -> Option<(Unit, Option<Density>)> {
        match self.material(item) {
            Some(material) => Some((material.unit, material.density)),
            None => self.premix(item).map(|_| (Unit::Milligram, None)),
        }
    }

    fn currency_of(&self, supplier: &str) -> Option<Currency> {
        self.supplier(supplier).map(|supplier| supplier.currency)
    }

    /// In what each lot is counted (`None` where that is not known) and paid.
    fn lot_units(&self) -> BTreeMap<String, (Option<Unit>, Currency)> {
        let units = |row: &LotRow| (self.unit_of(&row.material).map(|(unit, _)| unit), row.currency);
        self.merged.lots.iter().map(|row| (row.lot.clone(), units(row))).collect()
    }

    /// Reads a reference that has to be there, and faults one to nothing.
    fn refer(&self, reader: &mut RowReader<'_>, column: &str, space: Space) -> Option<String> {
        let code = reader.required_text(column)?;
        self.fault_unknown(reader, column, space, &code);
        Some(code)
    }

    /// Reads a reference that may be empty.
    fn refer_or_empty(&self, reader: &mut RowReader<'_>, column: &str, base: &str, space: Space) -> String {
        let code = reader.text(column, base);
        if !code.is_empty() {
            self.fault_unknown(reader, column, space, &code);
        }
        code
    }

    fn fault_unknown(&self, reader: &mut RowReader<'_>, column: &str, space: Space, code: &str) {
        if let Some(remedy) = self.names.unknown(space, code) {
            reader.fault(column, format!("is not a known {}", space.word()), remedy);
        }
    }

    /// Where each value of a column first stands: file and row.
    fn places(&self, kind: SheetKind, column: &str) -> BTreeMap<String, Place> {
        let mut places = BTreeMap::new();
        for (sheet, row) in self.sheets.rows(kind) {
            let value = sheet.cell(row, column).unwrap_or_default().to_owned();
            places.entry(value).or_insert_with(|| Place { file: sheet.file.clone(), row: row.number });
        }
        places
    }

    /// A fault at a place, or of the file as such where the row is in the store only.
    fn fault_at(&mut self, kind: SheetKind, place: Option<&Place>, problem: String, remedy: &str) {
        self.faults.push(match place {
            Some(place) => Fault::of_file(&place.file, problem, remedy).in_row(place.row),
            None => Fault::of_file(kind.stem(), problem, remedy),
        });
    }
}

/// A row of a file.
struct Place {
    file: String,
    row: usize,
}

/// Rows by key as the files leave them: those of the store in their order, then what the files add in theirs.
struct MergedRows<K, R> {
    rows: Vec<Merged<K, R>>,
    /// Where the row of each key is, by the key's hash.
    places: HashTable<usize>,
    hasher: DefaultHashBuilder,
}

/// A key and its row; none where the row that the files have has a fault.
struct Merged<K, R> {
    key: K,
    row: Option<R>,
    is_in_store: bool,
    is_in_files: bool,
}

impl<K: Eq + Hash, R> MergedRows<K, R> {
    /// The row of a key and its place; a new one where there is none.
    fn with_key(&mut self, key: K) -> (usize, &mut Merged<K, R>) {
        let Self { rows, places, hasher } = self;
        let hash = hasher.hash_one(&key);
        let place = match places.find(hash, |place| rows[*place].key == key) {
            Some(place) => *place,
            None => {
                rows.push(Merged { key, row: None, is_in_store: false, is_in_files: false });
                let place = rows.len() - 1;
                places.insert_unique(hash, place, |place| hasher.hash_one(&rows[*place].key));
                place
            }
        };
        (place, &mut rows[place])
    }
}

impl<K: Ord, R> MergedRows<K, R> {
    /// The rows in the order of the store, the files' new ones behind them.
    fn in_order(self) -> Vec<R> {
        self.rows.into_iter().filter_map(|merged| merged.row).collect()
    }

    /// The rows in the order of their keys. Places are sorted, not rows: those are large, and of a long file many. Each then goes
    /// to its place by a swap.
    fn by_key(mut self) -> Vec<R> {
        let rows = &mut self.rows;
        if rows.is_sorted_by(|one, other| one.key <= other.key) {
            return self.in_order();
        }
        let mut order: Vec<usize> = (0..rows.len()).collect();
        order.sort_unstable_by(|one, other| rows[*one].key.cmp(&rows[*other].key));
        for first in 0..rows.len() {
            let mut at = first;
            while order[at] != first {
                rows.swap(at, order[at]);
                at = std::mem::replace(&mut order[at], at);
            }
            order[at] = at;
        }
        self.in_order()
    }

    /// The rows that the store does not have, in the order of their keys.
    fn new_by_key(mut self) -> Vec<R> {
        self.rows.retain(|merged| !merged.is_in_store);
        self.by_key()
    }

    /// All rows with their keys.
    fn iter(&self) -> impl Iterator<Item = (&K, &R)> {
        self.rows.iter().filter_map(|merged| Some((&merged.key, merged.row.as_ref()?)))
    }

    /// The rows that the files have.
    fn of_files(&self) -> impl Iterator<Item = &R> {
        self.rows.iter().filter(|merged| merged.is_in_files).filter_map(|merged| merged.row.as_ref())
    }

    /// The rows that the store alone has.
    fn of_store_alone(&mut self) -> impl Iterator<Item = &mut R> {
        self.rows.iter_mut().filter(|merged| !merged.is_in_files).filter_map(|merged| merged.row.as_mut())
    }

    /// Takes out rows that the store alone has.
    fn take_out_of_store(&mut self, is_over: impl Fn(&R) -> bool) {
        self.rows.retain(|merged| merged.is_in_files || !merged.row.as_ref().is_some_and(&is_over));
    }
}

/// What tells the rows of a file apart.
trait Key: Eq + Hash {
    /// How a row with this key, which `reader` reads, is named to a person.
    fn shown(&self, reader: &RowReader<'_>) -> String;
}

impl Key for String {
    fn shown(&self, _: &RowReader<'_>) -> String {
        self.clone()
    }
}

impl Key for i64 {
    fn shown(&self, _: &RowReader<'_>) -> String {
        self.to_string()
    }
}

/// Reads all rows of a file over the existing ones, of which the last counts where several have a key. `key_of` reads the key,
/// `read` the whole row, given the row that has the key so far. Rows with a fault are left out.
fn merge<K: Key, R>(
    context: &mut Context<'_>,
    kind: SheetKind,
    existing: impl IntoIterator<Item = (K, R)>,
    key_of: impl Fn(&Context<'_>, &mut RowReader<'_>) -> Option<K>,
    mut read: impl FnMut(&mut Context<'_>, &mut RowReader<'_>, &K, Option<&R>) -> Option<R>,
) -> MergedRows<K, R> {
    let sheets = context.sheets;
    let count = sheets.rows(kind).count();
    let mut found = MergedRows {
        rows: Vec::with_capacity(count),
        places: HashTable::with_capacity(count),
        hasher: DefaultHashBuilder::default(),
    };
    for (key, row) in existing {
        let merged = found.with_key(key).1;
        (merged.row, merged.is_in_store) = (Some(row), true);
    }
    // Where each key first stands in the files.
    let mut first_places: Vec<Option<(&str, usize)>> = Vec::with_capacity(count);
    for (sheet, row) in sheets.rows(kind) {
        let mut reader = RowReader::new(sheet, row);
        if let Some(key) = key_of(context, &mut reader) {
            let (place, merged) = found.with_key(key);
            if place >= first_places.len() {
                first_places.resize(place + 1, None);
            }
            if let Some((file, number)) = first_places[place] {
                let place = if file == sheet.file { String::new() } else { format!("{file}, ") };
                let problem = format!("{} is in {place}row {number} already", quoted(&merged.key.shown(&reader)));
                reader.row_fault(problem, "keep one of the two rows");
            }
            first_places[place].get_or_insert((&sheet.file, row.number));
            let parsed = read(context, &mut reader, &merged.key, merged.row.as_ref());
            merged.is_in_files = true;
            merged.row = parsed.filter(|_| reader.is_sound());
        }
        context.faults.extend(reader.finish());
    }
    found
}

/// The existing rows of a list with their keys.
fn keyed<K, R: Clone>(rows: &[R], key: impl Fn(&R) -> K) -> impl Iterator<Item = (K, R)> {
    rows.iter().map(move |row| (key(row), row.clone()))
}
