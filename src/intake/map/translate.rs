//! Her mapped sheets to tables of our own files: codes from names, references by name, a row for each thing in a line.
//! What comes out is checked with everything else; nothing is judged here but what only her own sheet can show.

use super::assign::MappedLine;
use super::blocks::{self, Wide, WideLine};
use super::formulas;
use super::header::titles;
use super::lines::{body, numbered};
use super::names::{Found, Names, Space, code_of};
use super::raw::{Line, Table};
use super::share::{filled_down, is_shared, long_line, needed, once, shared};
use super::{ColumnUse, Layout, MappedSheet, Meaning};
use crate::book::Book;
use crate::intake::columns::SheetKind;
use crate::intake::describe::{Shape, of_column};
use crate::intake::fault::Fault;
use std::collections::{BTreeMap, BTreeSet};

/// A sheet of hers and the mapping that reads it.
#[derive(Clone, Debug)]
pub(in crate::intake) struct Foreign {
    pub(in crate::intake) table: Table,
    /// The place of the header among its lines.
    pub(in crate::intake) header: Option<usize>,
    pub(in crate::intake) mapping: String,
    pub(in crate::intake) sheet: MappedSheet,
}

/// One of our rows, made from a line of hers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::intake) struct Row {
    pub(in crate::intake) number: usize,
    pub(in crate::intake) cells: BTreeMap<&'static str, String>,
}

/// Rows of one of our files.
#[derive(Clone, Debug)]
pub(in crate::intake) struct Rows {
    pub(in crate::intake) kind: SheetKind,
    pub(in crate::intake) place: String,
    /// Our columns and her titles for them.
    pub(in crate::intake) titles: Vec<(&'static str, String)>,
    pub(in crate::intake) rows: Vec<Row>,
}

/// All that came of her sheets.
#[derive(Debug, Default)]
pub(in crate::intake) struct Translated {
    pub(in crate::intake) rows: Vec<Rows>,
    pub(in crate::intake) notes: Vec<String>,
    pub(in crate::intake) faults: Vec<Fault>,
}

/// Makes rows of all sheets. `known` are the codes and names of our own files that come with them.
/// `paid_in` are their suppliers' currencies.
pub(in crate::intake) fn translate(
    foreign: &[Foreign],
    known: Vec<(Space, String, String)>,
    paid_in: Vec<(String, String)>,
    book: &Book,
) -> Translated {
    let mut names = Names::of_book(book);
    for (space, code, name) in known {
        names.add(space, &code, &name);
    }
    let mut work = Work {
        names,
        pieces: BTreeSet::new(),
        lots: BTreeMap::new(),
        prices: paid_in,
        book,
        done: Translated::default(),
    };
    let sheets: Vec<Prepared<'_>> = foreign.iter().filter_map(|own| work.prepare(own)).collect();
    for sheet in &sheets {
        work.register(sheet);
    }
    // Suppliers first: their currency is what prices are held against.
    let of_suppliers = |sheet: &&Prepared<'_>| sheet.foreign.sheet.holds.contains(&SheetKind::Suppliers);
    let (first, later): (Vec<_>, Vec<_>) = sheets.iter().partition(of_suppliers);
    for sheet in first.into_iter().chain(later) {
        work.fill(sheet);
    }
    work.done
}

/// A sheet of hers, its lines found.
struct Prepared<'a> {
    foreign: &'a Foreign,
    titles: Vec<String>,
    lines: Vec<Line>,
    wide: Vec<WideLine<'a>>,
}

struct Work<'a> {
    names: Names,
    /// Codes of materials that a line counts by the piece.
    pieces: BTreeSet<String>,
    /// How many lots were made with the same beginning of their code.
    lots: BTreeMap<String, usize>,
    /// Rows with a price: supplier, currency.
    prices: Vec<(String, String)>,
    book: &'a Book,
    done: Translated,
}

impl<'a> Work<'a> {
    fn note(&mut self, foreign: &Foreign, text: &str) {
        self.done.notes.push(format!("{}: {text}.", foreign.table.place));
    }

    fn fault(&mut self, foreign: &Foreign, line: usize, column: &str, value: &str, problem: &str, remedy: &str) {
        let fault = Fault::of_file(&foreign.table.place, problem, remedy).in_row(line);
        let fault = if column.is_empty() { fault } else { fault.in_column(column) };
        self.done.faults.push(if value.is_empty() { fault } else { fault.with_value(value) });
    }

    /// Finds the lines of a sheet and tells what of it is left out; nothing where it may not be read yet.
    fn prepare(&mut self, foreign: &'a Foreign) -> Option<Prepared<'a>> {
        let sheet = &foreign.sheet;
        if sheet.holds.is_empty() {
            self.note(foreign, &format!("left out, as the mapping {} says", foreign.mapping));
            return None;
        }
        self.note(foreign, &format!("read by the mapping {}", foreign.mapping));
        if self.fault_mapping(foreign) {
            return None;
        }
        let width = foreign.table.lines.iter().map(|line| line.cells.len()).max().unwrap_or(0);
        if sheet.layout == Layout::Blocks {
            let wide = blocks::blocks(&foreign.table, sheet);
            return Some(self.with_wide(foreign, Vec::new(), wide));
        }
        let header = foreign.header.and_then(|place| foreign.table.lines.get(place))?;
        let titles = titles(header, width);
        let mapped = |title: &String| {
            sheet.columns.iter().find(|(own, _)| own == title).is_some_and(|(_, own)| own.meaning != Meaning::LeftOut)
        };
        let places: Vec<usize> = (0..titles.len()).filter(|&place| mapped(&titles[place])).collect();
        let left: Vec<String> = titles
            .iter()
            .enumerate()
            .filter(|(place, title)| !mapped(title) && has_cells(foreign, *place))
            .map(|(_, title)| format!("\"{title}\""))
            .collect();
        if !left.is_empty() {
            let word = if left.len() == 1 { "column" } else { "columns" };
            self.note(foreign, &format!("{word} {} left out", left.join(", ")));
        }
        let body = body(&foreign.table, foreign.header, sheet, &places);
        for text in &body.left_out {
            self.note(foreign, text);
        }
        if sheet.layout == Layout::FormulaPerColumn {
            let wide = blocks::side_by_side(&body.lines, &titles, sheet);
            return Some(self.with_wide(foreign, titles, wide));
        }
        let lines = filled_down(&body.lines, &titles, sheet);
        Some(Prepared { foreign, titles, lines, wide: Vec::new() })
    }

    fn with_wide(&mut self, foreign: &'a Foreign, titles: Vec<String>, wide: Wide<'a>) -> Prepared<'a> {
        for text in &wide.left_out {
            self.note(foreign, text);
        }
        Prepared { foreign, titles, lines: Vec::new(), wide: wide.lines }
    }

    /// Faults what the mapping leaves open, and what its sheet has no column for.
    fn fault_mapping(&mut self, foreign: &Foreign) -> bool {
        let sheet = &foreign.sheet;
        let before = self.done.faults.len();
        for open in sheet.open() {
            let problem =
                format!("{open} is not decided in the mapping {name} (mappings/{name}.toml)", name = foreign.mapping);
            let remedy = format!("write it in place of the ? behind {open} (what is possible stands beside it)");
            self.done.faults.push(Fault::of_file(&foreign.table.place, problem, remedy));
        }
        let has = |kind, column| sheet.means(kind, column);
        for &kind in &sheet.holds {
            let missing: Vec<&str> = needed(kind)
                .iter()
                .filter(|any| !any.iter().any(|column| has(kind, column) || is_shared(sheet, kind, column)))
                .filter(|_| sheet.layout == Layout::Lines)
                .map(|any| any[0])
                .collect();
            for column in missing {
                let problem = format!("has no column for {}.{column}", kind.stem());
                let remedy = format!(
                    "give one of its columns this meaning in the mapping {}, or take {} out of holds",
                    foreign.mapping,
                    kind.stem()
                );
                self.done.faults.push(Fault::of_file(&foreign.table.place, problem, remedy));
            }
        }
        self.done.faults.len() > before
    }

    /// Gives codes to what the sheet is about, before anything refers to it.
    fn register(&mut self, prepared: &Prepared<'a>) {
        let kinds = [
            (SheetKind::Materials, Space::Item),
            (SheetKind::Suppliers, Space::Supplier),
            (SheetKind::Products, Space::Product),
        ];
        for (kind, space) in kinds.into_iter().filter(|(kind, _)| prepared.foreign.sheet.holds.contains(kind)) {
            for line in &prepared.lines {
                let mapped = MappedLine::new(&prepared.foreign.sheet, &prepared.titles, line);
                let (code, name) = (mapped.words(kind, "code"), mapped.words(kind, "name"));
                if !code.is_empty() {
                    self.names.add(space, code, name);
                } else if !name.is_empty() {
                    self.names.code_for(space, name);
                }
            }
        }
        for line in &prepared.wide {
            self.names.code_for(Space::Formula, &line.formula);
        }
        if prepared.foreign.sheet.holds.contains(&SheetKind::Formulas) {
            for line in &prepared.lines {
                let mapped = MappedLine::new(&prepared.foreign.sheet, &prepared.titles, line);
                let formula = mapped.words(SheetKind::Formulas, "formula");
                if !formula.is_empty() {
                    self.names.code_for(Space::Formula, formula);
                }
            }
        }
    }

    fn fill(&mut self, prepared: &Prepared<'a>) {
        let sheet = &prepared.foreign.sheet;
        let mut missing = Missing::default();
        let mut made: BTreeMap<SheetKind, Vec<Row>> = BTreeMap::new();
        if sheet.holds.contains(&SheetKind::Formulas) {
            made.insert(SheetKind::Formulas, self.formulas(prepared, &mut missing));
        }
        // What a line counts decides what its material is, so materials come last.
        let others = sheet.holds.iter().filter(|kind| !matches!(kind, SheetKind::Formulas | SheetKind::Materials));
        for &kind in others.chain(sheet.holds.iter().filter(|kind| **kind == SheetKind::Materials)) {
            let mut rows = Vec::new();
            let mut without = Vec::new();
            for line in &prepared.lines {
                let mapped = MappedLine::new(sheet, &prepared.titles, line);
                match self.row(prepared.foreign, &mapped, kind, &mut missing) {
                    Some(row) => rows.push(row),
                    None => without.push(line.number),
                }
            }
            if !without.is_empty() {
                let what = match kind {
                    SheetKind::Lots => "no amount, so no lot",
                    SheetKind::Packaging => "no packaging",
                    _ => "no pack and no price, so no offer",
                };
                let have = if without.len() == 1 { "has" } else { "have" };
                self.note(prepared.foreign, &format!("{} {have} {what}", numbered(&without)));
            }
            made.insert(kind, if kind == SheetKind::Materials { once(rows) } else { rows });
        }
        self.add_missing(prepared.foreign, missing, &mut made);
        for (kind, rows) in made.into_iter().filter(|(_, rows)| !rows.is_empty()) {
            let titles = sheet.columns.iter().filter_map(|(title, column_use)| match column_use.meaning {
                Meaning::Column(own, column) if own == kind => Some((column, title.clone())),
                _ => None,
            });
            let titles = titles.collect();
            self.done.rows.push(Rows { kind, place: prepared.foreign.table.place.clone(), titles, rows });
        }
    }

    /// The row of one of our files in a line; nothing where the line has none.
    fn row(
        &mut self,
        foreign: &Foreign,
        mapped: &MappedLine<'_>,
        kind: SheetKind,
        missing: &mut Missing,
    ) -> Option<Row> {
        let number = mapped.line.number;
        let mut row = Row { number, cells: BTreeMap::new() };
        let mut money = None;
        for (title, column_use) in &foreign.sheet.columns {
            let Meaning::Column(own, column) = column_use.meaning else { continue };
            if own != kind {
                continue;
            }
            let Some(described) = of_column(kind, column) else { continue };
            let cell = mapped.cell(title);
            let value = mapped.value(cell, column_use, described.shape);
            if value.is_month {
                let text = format!(
                    "line {number}, \"{title}\": {} is taken as the last day of the month, {}",
                    cell.text(),
                    value.text
                );
                self.note(foreign, &text);
            }
            if described.shape == Shape::Money && !cell.is_empty() {
                money = self.currency(foreign, mapped, (title, column_use), &value.currencies).or(money);
            }
            row.cells.insert(column, value.text);
        }
        self.complete(foreign, mapped, kind, &mut row, missing)?;
        self.pay(foreign, kind, &mut row, money);
        Some(row)
    }

    /// In which currency a cell of money is; faults one that contradicts its column.
    fn currency(
        &mut self,
        foreign: &Foreign,
        mapped: &MappedLine<'_>,
        (title, column_use): (&str, &ColumnUse),
        written: &[String],
    ) -> Option<String> {
        let expected = mapped.currency_of(column_use);
        match (written, expected) {
            ([], expected) => expected,
            (written, Some(expected)) if written.contains(&expected) => Some(expected),
            ([only], _) => Some(only.clone()),
            (several, _) => {
                let problem = format!("may be {}", several.join(" or "));
                let remedy = "write the currency of this column in the mapping";
                self.fault(foreign, mapped.line.number, title, mapped.cell(title).text(), &problem, remedy);
                None
            }
        }
    }

    /// Puts the currency where the row has a column for it, and holds it against the supplier's where it has none.
    fn pay(&mut self, foreign: &Foreign, kind: SheetKind, row: &mut Row, currency: Option<String>) {
        if kind == SheetKind::Suppliers {
            let cell = |column: &str| row.cells.get(column).cloned().unwrap_or_default();
            return self.prices.push((cell("code"), cell("currency")));
        }
        let Some(currency) = currency else { return };
        match kind {
            SheetKind::Lots => {
                row.cells.entry("currency").or_insert(currency);
            }
            SheetKind::Offers | SheetKind::Orders => {
                let supplier = row.cells.get("supplier").cloned().unwrap_or_default();
                if let Some(paid_in) = self.paid_in(&supplier).filter(|paid_in| *paid_in != currency) {
                    let price = row.cells.get("price").cloned().unwrap_or_default();
                    let problem = format!("is in {currency}, and the supplier {supplier} is paid in {paid_in}");
                    let remedy = "write the price in the supplier's currency, or mend the currency in the mapping";
                    self.fault(foreign, row.number, "price", &price, &problem, remedy);
                } else {
                    self.prices.push((supplier, currency));
                }
            }
            _ => {}
        }
    }

    fn paid_in(&self, supplier: &str) -> Option<String> {
        let known = self.book.suppliers.iter().find(|row| row.code == supplier);
        let known = known.map(|row| row.currency.code().to_owned());
        let before = || self.prices.iter().find(|(own, _)| own == supplier).map(|(_, currency)| currency.clone());
        known.or_else(before)
    }

    /// Fills in what no cell says: codes, references, what the sheet says for all its lines.
    fn complete(
        &mut self,
        foreign: &Foreign,
        mapped: &MappedLine<'_>,
        kind: SheetKind,
        row: &mut Row,
        missing: &mut Missing,
    ) -> Option<()> {
        let empty = |row: &Row, column: &str| row.cells.get(column).is_none_or(String::is_empty);
        match kind {
            SheetKind::Lots if empty(row, "amount") || is_nothing(&row.cells["amount"]) => return None,
            SheetKind::Offers if empty(row, "pack") && empty(row, "price") => return None,
            SheetKind::Packaging if empty(row, "material") => return None,
            _ => {}
        }
        self.refer(foreign, mapped, kind, row, missing);
        let name = row.cells.get("name").cloned().unwrap_or_default();
        let space = match kind {
            SheetKind::Materials => Some(Space::Item),
            SheetKind::Suppliers => Some(Space::Supplier),
            SheetKind::Products => Some(Space::Product),
            _ => None,
        };
        if let Some(space) = space {
            if empty(row, "code") && !name.is_empty() {
                row.cells.insert("code", self.names.code_for(space, &name));
            }
            if name.is_empty() {
                row.cells.insert("name", row.cells.get("code").cloned().unwrap_or_default());
            }
        }
        match kind {
            SheetKind::Materials => self.say_kind(row),
            SheetKind::Suppliers => supplier_defaults(&foreign.sheet, row),
            SheetKind::Products if empty(row, "formula") => {
                if let Found::Code(code) = self.names.find(Space::Formula, &name) {
                    row.cells.insert("formula", code);
                }
            }
            // One jar for each piece, where a list of products just names the jar.
            SheetKind::Packaging if empty(row, "per_piece") && empty(row, "per_batch") => {
                row.cells.insert("per_piece", "1".to_owned());
            }
            SheetKind::Lots if empty(row, "lot") => {
                let code = self.lot_code(row);
                row.cells.insert("lot", code);
            }
            SheetKind::Plan if empty(row, "entry") => {
                let day =
                    ["make_on", "ready_by"].iter().find_map(|day| row.cells.get(day).filter(|day| !day.is_empty()));
                let wanted = format!(
                    "{}-{}",
                    row.cells.get("product").map_or("", String::as_str),
                    day.map_or("", String::as_str)
                );
                let code = self.numbered_code(&wanted, false);
                row.cells.insert("entry", code);
            }
            _ => {}
        }
        Some(())
    }

    /// A material whose line counts pieces is packaging, where no column says otherwise.
    fn say_kind(&mut self, row: &mut Row) {
        let counts = ["safety_stock", "shelf_space"]
            .iter()
            .any(|column| row.cells.get(column).is_some_and(|cell| is_pieces(cell)));
        let code = row.cells.get("code").cloned().unwrap_or_default();
        if row.cells.get("kind").is_none_or(String::is_empty) && (counts || self.pieces.contains(&code)) {
            row.cells.insert("kind", "packaging".to_owned());
        }
    }

    /// `shea-butter-ho26571`, or `shea-butter-1` where the supplier's lot number is not known.
    fn lot_code(&mut self, row: &Row) -> String {
        let material = row.cells.get("material").map_or("", String::as_str);
        let supplier_lot = code_of(row.cells.get("supplier_lot").map_or("", String::as_str));
        if supplier_lot.is_empty() {
            return self.numbered_code(material, true);
        }
        self.numbered_code(&format!("{material}-{supplier_lot}"), false)
    }

    fn numbered_code(&mut self, wanted: &str, number_the_first: bool) -> String {
        let count = self.lots.entry(wanted.to_owned()).or_insert(0);
        *count += 1;
        if *count == 1 && !number_the_first { wanted.to_owned() } else { format!("{wanted}-{count}") }
    }

    /// Turns names into codes: of materials, suppliers, formulas, products.
    fn refer(
        &mut self,
        foreign: &Foreign,
        mapped: &MappedLine<'_>,
        kind: SheetKind,
        row: &mut Row,
        missing: &mut Missing,
    ) {
        for column in kind.columns() {
            let Some(described) = of_column(kind, column.name) else { continue };
            let (space, what) = match described.shape {
                Shape::Material | Shape::Item => (Space::Item, missing_kind(kind)),
                Shape::Supplier => (Space::Supplier, SheetKind::Suppliers),
                Shape::Formula => (Space::Formula, SheetKind::Formulas),
                Shape::Product => (Space::Product, SheetKind::Products),
                _ => continue,
            };
            let own = row.cells.get(column.name).cloned();
            let text = match own {
                Some(text) => text,
                None => match shared(&foreign.sheet, mapped, kind, described.shape) {
                    Some(text) => text,
                    None => continue,
                },
            };
            let code = self.resolve(foreign, row.number, (space, what), column.name, &text, missing);
            if space == Space::Item && row.cells.values().any(|cell| is_pieces(cell)) {
                self.pieces.insert(code.clone());
            }
            row.cells.insert(column.name, code);
        }
    }

    /// The code for a text; of what is known nowhere a new one, where the mapping says so.
    fn resolve(
        &mut self,
        foreign: &Foreign,
        number: usize,
        (space, what): (Space, SheetKind),
        column: &str,
        text: &str,
        missing: &mut Missing,
    ) -> String {
        if text.is_empty() {
            return String::new();
        }
        match self.names.find(space, text) {
            Found::Code(code) => code,
            Found::Several(codes) => {
                let problem = format!("is the name of several: {}", codes.join(", "));
                self.fault(foreign, number, column, text, &problem, "write the code of the one that is meant");
                codes.into_iter().next().unwrap_or_default()
            }
            Found::Nothing if foreign.sheet.add_missing && matches!(space, Space::Item | Space::Supplier) => {
                let code = self.names.code_for(space, text);
                missing.rows.push((what, code.clone(), text.to_owned(), number));
                code
            }
            Found::Nothing => text.to_owned(),
        }
    }

    /// The lines of formulas, in whatever form they stand, with their shares in percent.
    fn formulas(&mut self, prepared: &Prepared<'a>, missing: &mut Missing) -> Vec<Row> {
        let sheet = &prepared.foreign.sheet;
        let from_lines: Vec<(WideLine<'_>, String)> =
            prepared.lines.iter().filter_map(|line| long_line(sheet, &prepared.titles, line)).collect();
        let wide = prepared.wide.iter().map(|line| (line.clone(), String::new()));
        let mut groups: Vec<((String, String), Vec<WideLine<'_>>)> = Vec::new();
        for (line, version) in from_lines.into_iter().chain(wide) {
            let key = (self.names.code_for(Space::Formula, &line.formula), version);
            match groups.iter_mut().find(|(own, _)| *own == key) {
                Some((_, lines)) => lines.push(line),
                None => groups.push((key, vec![line])),
            }
        }
        let mut rows = Vec::new();
        let mut weighed = Vec::new();
        for ((formula, version), lines) in groups {
            let shares = formulas::shares(sheet, &lines);
            weighed.extend(shares.weighed);
            for (place, problem, remedy) in &shares.faults {
                let line = &lines[*place];
                let column = format!("formula {}", line.formula);
                self.fault(prepared.foreign, line.number, &column, line.amount.text(), problem, remedy);
            }
            for (line, share) in lines.iter().zip(shares.texts) {
                let reference = (Space::Item, SheetKind::Materials);
                let ingredient =
                    self.resolve(prepared.foreign, line.number, reference, "ingredient", line.ingredient, missing);
                let mut cells =
                    BTreeMap::from([("formula", formula.clone()), ("ingredient", ingredient), ("percent", share)]);
                if !version.is_empty() {
                    cells.insert("version", version.clone());
                }
                if sheet.means(SheetKind::Formulas, "phase") {
                    cells.insert("phase", line.phase.to_owned());
                }
                rows.push(Row { number: line.number, cells });
            }
        }
        for note in formulas::told(&weighed) {
            self.note(prepared.foreign, &note);
        }
        rows
    }

    /// Rows for what the sheet names and nothing else knows.
    fn add_missing(&mut self, foreign: &Foreign, missing: Missing, made: &mut BTreeMap<SheetKind, Vec<Row>>) {
        for kind in [SheetKind::Materials, SheetKind::Packaging, SheetKind::Suppliers] {
            let own: Vec<_> = missing.rows.iter().filter(|(what, ..)| *what == kind).collect();
            if own.is_empty() {
                continue;
            }
            let shown: Vec<&str> = own.iter().map(|(_, _, name, _)| name.as_str()).collect();
            let file = if kind == SheetKind::Packaging { SheetKind::Materials } else { kind };
            let unsaid = match kind {
                SheetKind::Suppliers => {
                    "; their postage and minimum order count as none until a list of suppliers says them"
                }
                _ => "",
            };
            self.note(
                foreign,
                &format!("added to {}, because nothing else knows them: {}{unsaid}", file.stem(), shown.join(", ")),
            );
            for (_, code, name, number) in own {
                if file == SheetKind::Materials && matches!(self.names.find(Space::Formula, name), Found::Code(_)) {
                    let text = format!(
                        "{name} is added as a material and is also the name of a formula: \
                         if you make it yourself, add it to premixes instead"
                    );
                    self.note(foreign, &text);
                }
                let mut row =
                    Row { number: *number, cells: BTreeMap::from([("code", code.clone()), ("name", name.clone())]) };
                match kind {
                    SheetKind::Suppliers => {
                        let paid = self.prices.iter().find(|(supplier, _)| supplier == code);
                        if let Some((_, currency)) = paid {
                            row.cells.insert("currency", currency.clone());
                        }
                        supplier_defaults(&foreign.sheet, &mut row);
                    }
                    SheetKind::Packaging => drop(row.cells.insert("kind", "packaging".to_owned())),
                    _ => self.say_kind(&mut row),
                }
                made.entry(file).or_default().push(row);
            }
        }
    }
}

/// What a sheet names and nothing else knows: of which file (packaging for packaging materials), code, name, line.
#[derive(Debug, Default)]
struct Missing {
    rows: Vec<(SheetKind, String, String, usize)>,
}

fn missing_kind(kind: SheetKind) -> SheetKind {
    if kind == SheetKind::Packaging { SheetKind::Packaging } else { SheetKind::Materials }
}

fn has_cells(foreign: &Foreign, place: usize) -> bool {
    foreign.table.lines.iter().any(|line| !line.cell(place).is_empty())
}

fn is_pieces(cell: &str) -> bool {
    cell.strip_suffix(" pcs").is_some_and(|number| number.starts_with(|letter: char| letter.is_ascii_digit()))
}

/// True for `0 g` and the like.
fn is_nothing(amount: &str) -> bool {
    let number = amount.split(' ').next().unwrap_or_default();
    number.contains('0') && number.chars().all(|letter| matches!(letter, '0' | '.'))
}

fn supplier_defaults(sheet: &MappedSheet, row: &mut Row) {
    let mut put = |column, value: Option<String>| {
        let cell = row.cells.entry(column).or_default();
        if cell.is_empty() {
            *cell = value.unwrap_or_default();
        }
    };
    put("currency", sheet.currency.get());
    put("lead_time_days", sheet.lead_time_days.get());
}
