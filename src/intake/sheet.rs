//! A table of text with its header understood: which column stands where, and the rows that say something.

use super::cell::without_guard;
use super::columns::SheetKind;
use super::csv_text;
use super::fault::{Fault, Problem, one_line, quoted};
use super::map::names::Space;
use super::map::{Foreign, Rows, translate};
use super::row_cells::RowCells;
use super::workbook;
use crate::book::Book;
use crate::plan::measure::DecimalMark;
use crate::plan::money::Currency;
use std::collections::{BTreeMap, BTreeSet};

/// The most bytes of a file that are read.
pub(super) const MAX_BYTES: usize = 64 << 20;
/// The most rows of a table.
pub(super) const MAX_ROWS: usize = 1_000_000;
/// The most cells of a table.
pub(super) const MAX_CELLS: usize = 5_000_000;
/// The most columns of a table: a header beyond it is no header.
pub(super) const MAX_COLUMNS: usize = 200;
/// A row whose first cell begins so explains or shows an example, and is not read.
pub(super) const NOT_READ: &str = "# ";
/// The most characters of a cell: what spreadsheets hold.
const MAX_CELL: usize = 32_767;

/// A row of text.
#[derive(Clone, Debug)]
pub(super) struct TableRow {
    /// As a spreadsheet shows it.
    pub(super) number: usize,
    pub(super) cells: RowCells,
}

/// A table of text as it stands in a file.
#[derive(Debug)]
pub(super) struct Table {
    pub(super) rows: Vec<TableRow>,
    pub(super) mark: DecimalMark,
    /// Row and column index of cells that hold an error of the spreadsheet, and which.
    pub(super) error_cells: Vec<(usize, usize, String)>,
    /// True where rows end with their last filled cell (workbooks); a short row of a CSV file is a fault.
    pub(super) may_be_short: bool,
}

/// One table whose columns are known.
#[derive(Debug)]
pub(crate) struct Sheet {
    pub(super) kind: SheetKind,
    pub(super) file: String,
    /// Name and place of the columns that were found.
    columns: Vec<(&'static str, usize)>,
    pub(super) rows: Vec<TableRow>,
    pub(super) mark: DecimalMark,
    /// What the columns are called in a maker's own sheet.
    own_titles: Vec<(&'static str, String)>,
}

impl Sheet {
    /// The column's name, and what the maker calls it where the sheet is her own.
    pub(super) fn shown_column(&self, column: &str) -> String {
        match self.own_titles.iter().find(|(name, _)| *name == column) {
            Some((_, title)) => format!("{column} (your \"{title}\")"),
            None => column.to_owned(),
        }
    }

    /// The trimmed cell of a row; `None` where the file has no such column.
    pub(super) fn cell<'a>(&self, row: &'a TableRow, column: &str) -> Option<&'a str> {
        let &(_, place) = self.columns.iter().find(|(name, _)| *name == column)?;
        Some(row.cells.get(place).unwrap_or_default())
    }
}

/// All tables that were read, and what was noticed and wrong on the way. Nothing is judged by content yet:
/// [`check`](super::check::check) does that and reports these faults with its own.
#[derive(Debug, Default)]
pub struct Sheets {
    pub(super) sheets: Vec<Sheet>,
    pub(super) notes: Vec<String>,
    pub(super) faults: Vec<Fault>,
    /// Files that were there and could not be read: references to their rows cannot be judged.
    pub(super) unread: BTreeSet<SheetKind>,
    /// A maker's own sheets, to be read by their mappings once the names of the store are known.
    pub(super) foreign: Vec<Foreign>,
    /// True where something was refused because it is in none of our forms: a mapping would help.
    pub(super) wants_mapping: bool,
    /// How many rows began with `# `.
    pub(super) not_read: usize,
    /// True where new rows need no names.
    pub(super) are_new_rows_counted: bool,
}

impl Sheets {
    /// New rows of a table that was empty are to be counted only: a long first import then need not name each of them.
    pub fn count_new_rows(&mut self) {
        self.are_new_rows_counted = true;
    }

    /// True where a file was refused that a mapping could read.
    #[must_use]
    pub fn wants_mapping(&self) -> bool {
        self.wants_mapping
    }

    /// Turns the maker's own sheets into tables of our files, with the codes and names that the book knows.
    pub fn translate(&mut self, book: &Book) {
        let foreign = std::mem::take(&mut self.foreign);
        if foreign.is_empty() {
            return;
        }
        let spaces = [
            (SheetKind::Materials, Space::Item),
            (SheetKind::Premixes, Space::Item),
            (SheetKind::Suppliers, Space::Supplier),
            (SheetKind::Formulas, Space::Formula),
            (SheetKind::Products, Space::Product),
        ];
        let mut known = Vec::new();
        for (kind, space) in spaces {
            let key = if kind == SheetKind::Formulas { "formula" } else { "code" };
            let text =
                |sheet: &Sheet, row: &TableRow, column: &str| sheet.cell(row, column).unwrap_or_default().to_owned();
            known.extend(self.rows(kind).map(|(sheet, row)| (space, text(sheet, row, key), text(sheet, row, "name"))));
        }
        let currency = |(sheet, row): (&Sheet, &TableRow)| {
            Some((sheet.cell(row, "code")?.to_owned(), sheet.cell(row, "currency")?.to_ascii_uppercase()))
        };
        let paid_in = self.rows(SheetKind::Suppliers).filter_map(currency).collect();
        let done = translate(&foreign, known, paid_in, book);
        self.notes.extend(done.notes);
        self.faults.extend(done.faults);
        for made in done.rows {
            self.add_made(made);
        }
    }

    /// Adds rows that were made from a maker's own sheet.
    fn add_made(&mut self, made: Rows) {
        let mut columns: Vec<&'static str> = made.kind.columns().iter().map(|column| column.name).collect();
        let required = |name: &str| made.kind.columns().iter().any(|column| column.required && column.name == name);
        columns.retain(|name| required(name) || made.rows.iter().any(|row| row.cells.contains_key(name)));
        let header = TableRow { number: 1, cells: columns.iter().collect() };
        let cells = |row: &BTreeMap<&'static str, String>| {
            columns.iter().map(|name| row.get(name).map_or("", String::as_str)).collect()
        };
        let rows = made.rows.iter().map(|row| TableRow { number: row.number, cells: cells(&row.cells) });
        let rows = [header].into_iter().chain(rows).collect();
        let before = self.sheets.len();
        self.add_table(
            made.kind,
            &made.place,
            Table { rows, mark: DecimalMark::Point, error_cells: Vec::new(), may_be_short: true },
        );
        for sheet in &mut self.sheets[before..] {
            sheet.own_titles.clone_from(&made.titles);
        }
    }

    /// Adds the bytes of a CSV file.
    pub fn add_csv(&mut self, kind: SheetKind, file: &str, bytes: &[u8]) {
        if bytes.len() > MAX_BYTES {
            return self.refuse(Some(kind), too_large(file));
        }
        match csv_text::read_table(bytes, kind) {
            Ok(table) => self.add_table(kind, file, table),
            Err(Problem { problem, remedy }) => self.refuse(Some(kind), Fault::of_file(file, problem, remedy)),
        }
    }

    /// Adds the bytes of an XLSX workbook; its sheets are taken by their names.
    pub fn add_workbook(&mut self, file: &str, bytes: Vec<u8>) {
        self.add_workbook_without(file, bytes, &BTreeSet::new());
    }

    /// The same, but for some of its sheets.
    pub(super) fn add_workbook_without(&mut self, file: &str, bytes: Vec<u8>, without: &BTreeSet<String>) {
        if bytes.len() > MAX_BYTES {
            return self.refuse(None, too_large(file));
        }
        let mut found = 0;
        match workbook::read_tables(bytes) {
            Err(Problem { problem, remedy }) => self.refuse(None, Fault::of_file(file, problem, remedy)),
            Ok(tables) => {
                for (name, table) in tables.into_iter().filter(|(name, _)| !without.contains(name)) {
                    let place = format!("{file}, sheet {}", one_line(&name));
                    match (SheetKind::of_stem(&name), table) {
                        (None, _) => {
                            self.notes.push(format!("{place}: left out, it is none of the files of a workshop."))
                        }
                        (Some(kind), Ok(table)) => {
                            found += 1;
                            self.add_table(kind, &place, table);
                        }
                        (Some(kind), Err(Problem { problem, remedy })) => {
                            found += 1;
                            self.refuse(Some(kind), Fault::of_file(&place, problem, remedy));
                        }
                    }
                }
                if found == 0 && without.is_empty() {
                    self.wants_mapping = true;
                    let remedy = format!("name them {}", SheetKind::all_stems());
                    self.faults.push(Fault::of_file(file, "has no sheet of a workshop", remedy));
                }
            }
        }
    }

    /// What was left out, as sentences.
    #[must_use]
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// True where a file tells what has happened: movements, batches and what goes with them.
    #[must_use]
    pub fn bring_journal(&self) -> bool {
        self.sheets.iter().any(|sheet| sheet.kind.is_of_journal())
    }

    /// The home currency that a settings file names, so that an export can come back into a new store.
    #[must_use]
    pub fn home_currency(&self) -> Option<Currency> {
        let settings = self.sheets.iter().filter(|sheet| sheet.kind == SheetKind::Settings);
        settings
            .flat_map(|sheet| sheet.rows.iter().map(move |row| (sheet, row)))
            .find(|(sheet, row)| sheet.cell(row, "setting") == Some("home_currency"))
            .and_then(|(sheet, row)| Currency::from_code(sheet.cell(row, "value")?))
    }

    /// The rows of one file, wherever they stand.
    pub(super) fn rows(&self, kind: SheetKind) -> impl Iterator<Item = (&Sheet, &TableRow)> {
        let sheets = self.sheets.iter().filter(move |sheet| sheet.kind == kind);
        sheets.flat_map(|sheet| sheet.rows.iter().map(move |row| (sheet, row)))
    }

    /// Notes a fault of a whole file. A workbook that cannot be read may have held any of them.
    pub(super) fn refuse(&mut self, kind: Option<SheetKind>, fault: Fault) {
        self.faults.push(fault);
        match kind {
            Some(kind) => self.unread.extend([kind]),
            None => self.unread.extend(SheetKind::ALL),
        }
    }

    fn add_table(&mut self, kind: SheetKind, file: &str, mut table: Table) {
        clean(&mut table);
        let errors = std::mem::take(&mut table.error_cells);
        if table.rows.is_empty() {
            return self.refuse(Some(kind), Fault::of_file(file, "is empty", "start it with a header row"));
        }
        let header = table.rows.remove(0);
        let columns = match self.read_header(kind, file, &header) {
            Ok(columns) => columns,
            Err(faults) => {
                self.faults.extend(faults);
                self.unread.insert(kind);
                return;
            }
        };
        for (row, place, error) in errors {
            if let Some((name, _)) = columns.iter().find(|(_, own)| *own == place) {
                let fault =
                    Fault::of_file(file, "is an error of the spreadsheet", "mend the formula, or write the value");
                self.faults.push(fault.in_row(row).in_column(name).with_value(&error));
            }
        }
        let mut rows = table.rows;
        let before = rows.len();
        rows.retain(|row| !row.cells.first().is_some_and(|cell| cell.starts_with(NOT_READ)));
        self.not_read += before - rows.len();
        rows.retain(|row| {
            let fault = row_fault(file, &header, row, table.may_be_short);
            let sound = fault.is_none();
            self.faults.extend(fault);
            // Codes of a ragged row cannot be told, so that references to them must not be called unknown.
            if !sound {
                self.unread.insert(kind);
            }
            sound
        });
        self.sheets.push(Sheet {
            kind,
            file: file.to_owned(),
            columns,
            rows,
            mark: table.mark,
            own_titles: Vec::new(),
        });
    }

    fn read_header(
        &mut self,
        kind: SheetKind,
        file: &str,
        header: &TableRow,
    ) -> Result<Vec<(&'static str, usize)>, Vec<Fault>> {
        if header.cells.len() > MAX_COLUMNS {
            let problem = format!("has {} columns", header.cells.len());
            return Err(vec![
                Fault::of_file(file, problem, format!("keep to {MAX_COLUMNS} at the most")).in_row(header.number),
            ]);
        }
        let mut columns: Vec<(&'static str, usize)> = Vec::new();
        let mut faults = Vec::new();
        let mut notes = Vec::new();
        for (place, cell) in header.cells.iter().enumerate() {
            match kind.column(cell) {
                Some(name) if columns.iter().any(|(known, _)| *known == name) => {
                    let fault = Fault::of_file(file, "stands twice in the header", "keep one of the two columns");
                    faults.push(fault.in_row(header.number).with_value(name));
                }
                Some(name) => columns.push((name, place)),
                None if cell.is_empty() => {}
                None => {
                    notes.push(format!("{file}: column {} left out, it is none of this file's columns.", quoted(cell)))
                }
            }
        }
        for column in kind.columns() {
            if column.required && !columns.iter().any(|(name, _)| *name == column.name) {
                let found: Vec<&str> = header.cells.iter().filter(|name| !name.is_empty()).take(20).collect();
                let remedy = format!("add it to the header, which has {}", quoted(&found.join(", ")));
                faults.push(Fault::of_file(file, "is missing", remedy).in_row(header.number).in_column(column.name));
            }
        }
        self.notes.extend(notes);
        if faults.is_empty() { Ok(columns) } else { Err(faults) }
    }
}

/// The fault of a file beyond [`MAX_BYTES`].
pub(super) fn too_large(file: &str) -> Fault {
    let problem = format!("is larger than {} MB", MAX_BYTES >> 20);
    Fault::of_file(file, problem, "split it into several files")
}

/// Takes the white space round cells, the apostrophe of a guarded text and rows without anything away.
fn clean(table: &mut Table) {
    fn plain(cell: &str) -> &str {
        without_guard(cell.trim())
    }
    for row in &mut table.rows {
        if row.cells.iter().any(|cell| plain(cell).len() != cell.len()) {
            let cells: RowCells = row.cells.iter().map(plain).collect();
            row.cells = cells;
        }
    }
    table.rows.retain(|row| row.cells.iter().any(|cell| !cell.is_empty()));
}

/// What is wrong with the shape of a row.
fn row_fault(file: &str, header: &TableRow, row: &TableRow, may_be_short: bool) -> Option<Fault> {
    let place = |problem: String, remedy: &str| Some(Fault::of_file(file, problem, remedy).in_row(row.number));
    if let Some(long) = row.cells.iter().find(|cell| cell.len() > MAX_CELL && cell.chars().count() > MAX_CELL) {
        let fault = place(format!("is longer than {MAX_CELL} characters"), "look for a quote that is not closed");
        return fault.map(|fault| fault.with_value(long));
    }
    let (wide, wanted) = (row.cells.len(), header.cells.len());
    if may_be_short && wide > wanted {
        return place(
            "has a value in a column without a name".to_owned(),
            "name the column in the header, or empty the cell",
        );
    }
    if !may_be_short && wide != wanted {
        let cells = if wide == 1 { "1 cell".to_owned() } else { format!("{wide} cells") };
        let remedy = "look for a delimiter too many or too few, or a quote that is not closed";
        return place(format!("has {cells} where the header has {wanted}"), remedy);
    }
    None
}
