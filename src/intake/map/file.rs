//! Mappings as files beside the store: TOML with comments, written once, edited by hand, read at every import.

use super::cells::{DateOrder, DecimalSign, currencies, span_unit, unit};
use super::header::titles;
use super::raw::Table;
use super::{ColumnUse, Decision, Layout, MappedSheet, Mapping, Meaning, Skip};
use crate::intake::columns::SheetKind;
use crate::intake::describe::{described, purpose};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

/// Why a mapping cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{path}: {message}", path = path.display())]
pub struct MappingError {
    /// Which file.
    pub path: PathBuf,
    /// What is wrong, and what would be right.
    pub message: String,
}

/// The mappings of a workshop.
#[derive(Clone, Debug, Default)]
pub struct Mappings {
    list: Vec<Mapping>,
}

/// What the mappings have for a sheet.
#[derive(Clone, Debug)]
pub(in crate::intake) enum Fit<'a> {
    /// This one reads it; the header is in this line.
    Is(&'a Mapping, &'a MappedSheet, Option<usize>),
    /// These do alike.
    Several(Vec<&'a str>),
    /// The mapping of a sheet that looks like it, and the titles that are new and gone.
    Near(&'a str, Vec<String>, Vec<String>),
    /// None.
    None,
}

impl Mappings {
    /// Reads all mappings of a folder; none where there is no such folder.
    ///
    /// # Errors
    /// The first file that cannot be understood.
    pub fn read_folder(folder: &Path) -> Result<Self, MappingError> {
        let failed = |error: std::io::Error| MappingError {
            path: folder.to_owned(),
            message: format!("cannot be read ({error}); look at who may read it"),
        };
        if !folder.exists() {
            return Ok(Self::default());
        }
        let listed = fs::read_dir(folder)
            .and_then(|entries| entries.map(|entry| entry.map(|entry| entry.path())).collect::<Result<Vec<_>, _>>());
        let mut paths = listed.map_err(failed)?;
        paths.retain(|path| path.extension().is_some_and(|extension| extension == "toml"));
        paths.sort();
        let list = paths.iter().map(|path| read_file(path)).collect::<Result<Vec<_>, _>>()?;
        Ok(Self { list })
    }

    /// Only the mapping of this name.
    #[must_use]
    pub fn only(self, name: &str) -> Option<Self> {
        let list: Vec<Mapping> = self.list.into_iter().filter(|mapping| mapping.name == name).collect();
        (!list.is_empty()).then_some(Self { list })
    }

    /// Their names.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        self.list.iter().map(|mapping| mapping.name.as_str()).collect()
    }

    /// The mapping that reads a sheet: it has the same titles. Of several the one that was made with a file of this name.
    pub(in crate::intake) fn fit(&self, table: &Table) -> Fit<'_> {
        let mut fits: Vec<(&Mapping, &MappedSheet, Option<usize>)> = Vec::new();
        let mut near: Option<(usize, Fit<'_>)> = None;
        for mapping in &self.list {
            for sheet in &mapping.sheets {
                match fit_of(sheet, &mapping.file, table) {
                    SheetFit::Is(header) => fits.push((mapping, sheet, header)),
                    SheetFit::Near(new, gone) => {
                        let apart = new.len() + gone.len();
                        if near.as_ref().is_none_or(|(least, _)| apart < *least) {
                            near = Some((apart, Fit::Near(&mapping.name, new, gone)));
                        }
                    }
                    SheetFit::No => {}
                }
            }
        }
        if fits.len() > 1 {
            let of_file = |(mapping, sheet, _): &&(&Mapping, &MappedSheet, Option<usize>)| {
                mapping.file == table.file && sheet.sheet == table.sheet
            };
            if let Some(&(mapping, sheet, header)) = fits.iter().find(of_file) {
                return Fit::Is(mapping, sheet, header);
            }
            return Fit::Several(fits.iter().map(|(mapping, ..)| mapping.name.as_str()).collect());
        }
        match fits.first() {
            Some(&(mapping, sheet, header)) => Fit::Is(mapping, sheet, header),
            None => near.map_or(Fit::None, |(_, fit)| fit),
        }
    }
}

enum SheetFit {
    Is(Option<usize>),
    Near(Vec<String>, Vec<String>),
    No,
}

/// A header is looked for in so many lines.
const LOOKED_AT: usize = 40;

fn fit_of(sheet: &MappedSheet, file: &str, table: &Table) -> SheetFit {
    let is_named_so = file == table.file && sheet.sheet == table.sheet;
    if sheet.layout == Layout::Blocks || sheet.columns.is_empty() {
        return if is_named_so { SheetFit::Is(None) } else { SheetFit::No };
    }
    let width = table.lines.iter().map(|line| line.cells.len()).max().unwrap_or(0);
    let wanted: Vec<&String> = sheet.columns.iter().map(|(title, _)| title).collect();
    let mut best: Option<(usize, usize, Vec<String>)> = None;
    for (place, line) in table.lines.iter().take(LOOKED_AT).enumerate() {
        let own: Vec<String> = titles(line, width);
        let common = wanted.iter().filter(|title| own.contains(title)).count();
        if best.as_ref().is_none_or(|(most, ..)| common > *most) {
            best = Some((common, place, own));
        }
    }
    let Some((common, place, own)) = best else { return SheetFit::No };
    let filled = |title: &&String| {
        let column = own.iter().position(|other| other == *title).unwrap_or(0);
        table.lines.iter().any(|line| !line.cell(column).is_empty())
    };
    let new: Vec<String> = own.iter().filter(|title| !wanted.contains(title)).filter(filled).cloned().collect();
    let gone: Vec<String> = wanted.iter().filter(|title| !own.contains(title)).map(|title| (*title).clone()).collect();
    if new.is_empty() && gone.is_empty() {
        SheetFit::Is(Some(place))
    } else if is_named_so && common > 0 || 2 * common > wanted.len() {
        SheetFit::Near(new, gone)
    } else {
        SheetFit::No
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileForm {
    #[serde(default)]
    file: String,
    sheet: Vec<SheetForm>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SheetForm {
    #[serde(default)]
    sheet: String,
    holds: Vec<String>,
    #[serde(default)]
    layout: String,
    decimal: Option<String>,
    dates: Option<String>,
    currency: Option<String>,
    unit: Option<String>,
    supplier: Option<String>,
    lead_time_days: Option<String>,
    #[serde(default)]
    add_missing: bool,
    #[serde(default)]
    skip: Vec<toml::Value>,
    #[serde(default)]
    columns: BTreeMap<String, toml::Value>,
}

fn read_file(path: &Path) -> Result<Mapping, MappingError> {
    let failed = |message: String| MappingError { path: path.to_owned(), message };
    let text = fs::read_to_string(path).map_err(|error| failed(format!("cannot be read ({error})")))?;
    let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    read_text(&name, &text).map_err(failed)
}

/// Reads the text of a mapping.
///
/// # Errors
/// What is wrong, and what would be right.
pub fn read_text(name: &str, text: &str) -> Result<Mapping, String> {
    let form: FileForm = toml::from_str(text).map_err(|error| error.to_string().trim().replace('\n', " "))?;
    let sheets = form.sheet.into_iter().map(read_sheet).collect::<Result<Vec<_>, _>>()?;
    Ok(Mapping { name: name.to_owned(), file: form.file, sheets })
}

fn read_sheet(form: SheetForm) -> Result<MappedSheet, String> {
    let kind = |word: &String| {
        let kind = SheetKind::of_stem(word).filter(|kind| !kind.is_of_journal());
        kind.ok_or_else(|| format!("holds names {word:?}; write some of {}", stems()))
    };
    let layout =
        LAYOUTS.into_iter().find(|(word, _)| *word == form.layout || form.layout.is_empty() && *word == "lines");
    let words = |value: Option<String>| decided(value, |text| Ok(text.to_owned()));
    let mut columns = Vec::new();
    for (title, value) in form.columns {
        let column_use = read_column(&value).map_err(|problem| format!("column {title:?}: {problem}"))?;
        columns.push((title, column_use));
    }
    let skip = |value: toml::Value| match value {
        toml::Value::Integer(number) => {
            usize::try_from(number).map(Skip::Number).map_err(|_| format!("skip has the line {number}"))
        }
        toml::Value::String(words) => Ok(Skip::Words(words)),
        other => Err(format!("skip has {other}; write the numbers of lines, or the words of their first cell")),
    };
    Ok(MappedSheet {
        sheet: form.sheet,
        holds: form.holds.iter().map(kind).collect::<Result<Vec<_>, _>>()?,
        layout: layout
            .map(|(_, layout)| layout)
            .ok_or_else(|| format!("layout is {:?}; write lines, formula-per-column or blocks", form.layout))?,
        decimal: decided(form.decimal, |text| chosen("decimal", text, &DECIMALS))?,
        dates: decided(form.dates, |text| chosen("dates", text, &DATE_ORDERS))?,
        currency: decided(form.currency, |text| match currencies(text).as_slice() {
            [code] => Ok(code.clone()),
            _ => Err(format!("currency is {text:?}; write its three letters of ISO 4217 (EUR)")),
        })?,
        unit: decided(form.unit, |text| {
            unit(text)
                .map(str::to_owned)
                .ok_or_else(|| format!("unit is {text:?}; write g, kg, oz, lb, ml, l, pcs or percent"))
        })?,
        supplier: words(form.supplier)?,
        lead_time_days: words(form.lead_time_days)?,
        add_missing: form.add_missing,
        skip: form.skip.into_iter().map(skip).collect::<Result<Vec<_>, _>>()?,
        columns,
    })
}

const LAYOUTS: [(&str, Layout); 3] =
    [("lines", Layout::Lines), ("formula-per-column", Layout::FormulaPerColumn), ("blocks", Layout::Blocks)];
/// The words of `decimal`.
pub const DECIMALS: [(&str, DecimalSign); 2] = [("point", DecimalSign::Point), ("comma", DecimalSign::Comma)];
/// The words of `dates`.
pub const DATE_ORDERS: [(&str, DateOrder); 3] = [
    ("day-month-year", DateOrder::DayMonthYear),
    ("month-day-year", DateOrder::MonthDayYear),
    ("year-month-day", DateOrder::YearMonthDay),
];

fn stems() -> String {
    let makers = SheetKind::ALL.into_iter().filter(|kind| !kind.is_of_journal());
    makers.map(SheetKind::stem).collect::<Vec<_>>().join(", ")
}

fn decided<T>(value: Option<String>, read: impl Fn(&str) -> Result<T, String>) -> Result<Decision<T>, String> {
    match value.as_deref().map(str::trim) {
        None | Some("") => Ok(Decision::NotNeeded),
        Some("?") => Ok(Decision::Open),
        Some(text) => read(text).map(Decision::Is),
    }
}

fn chosen<T: Copy>(name: &str, text: &str, words: &[(&str, T)]) -> Result<T, String> {
    let found = words.iter().find(|(word, _)| *word == text).map(|(_, value)| *value);
    found.ok_or_else(|| {
        let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        format!("{name} is {text:?}; write {}", known.join(" or "))
    })
}

fn read_column(value: &toml::Value) -> Result<ColumnUse, String> {
    if let toml::Value::String(text) = value {
        return Ok(ColumnUse { meaning: read_meaning(text)?, ..ColumnUse::default() });
    }
    let toml::Value::Table(table) = value else { return Err("write a meaning in quotes".to_owned()) };
    let mut column_use = ColumnUse::default();
    for (key, value) in table {
        match (key.as_str(), value) {
            ("is", toml::Value::String(text)) => column_use.meaning = read_meaning(text)?,
            ("formula", toml::Value::String(text)) => column_use.meaning = Meaning::Formula(text.clone()),
            ("unit", toml::Value::String(text)) => {
                let known = unit(text)
                    .or_else(|| span_unit(text))
                    .ok_or_else(|| format!("{text:?} is no unit; write g, kg, months ..."))?;
                column_use.unit = Some(known.to_owned());
            }
            ("currency", toml::Value::String(text)) => match currencies(text).as_slice() {
                [code] => column_use.currency = Some(code.clone()),
                _ => return Err(format!("{text:?} is no currency; write its three letters of ISO 4217 (EUR)")),
            },
            ("fill_down", toml::Value::Boolean(yes)) => column_use.fill_down = *yes,
            ("fractions", toml::Value::Boolean(yes)) => column_use.fractions = *yes,
            _ => {
                return Err(format!(
                    "{key} = {value} is not known; write is, formula, unit, currency, fill_down or fractions"
                ));
            }
        }
    }
    Ok(column_use)
}

fn read_meaning(text: &str) -> Result<Meaning, String> {
    match text.trim() {
        "left out" => return Ok(Meaning::LeftOut),
        "unit" => return Ok(Meaning::Unit),
        "currency" => return Ok(Meaning::Currency),
        _ => {}
    }
    let known = text.split_once('.').and_then(|(file, column)| {
        let kind = SheetKind::of_stem(file).filter(|kind| !described(*kind).is_empty())?;
        Some(Meaning::Column(kind, kind.column(column)?))
    });
    known.ok_or_else(|| {
        format!(
            "{text:?} is no meaning; write file.column (lots.amount), \
             unit, currency or left out; docs/files.md lists all columns"
        )
    })
}

/// A meaning as it stands in a mapping.
#[must_use]
pub fn meaning_text(meaning: &Meaning) -> String {
    match meaning {
        Meaning::LeftOut => "left out".to_owned(),
        Meaning::Unit => "unit".to_owned(),
        Meaning::Currency => "currency".to_owned(),
        Meaning::Column(kind, column) => format!("{}.{column}", kind.stem()),
        Meaning::Formula(name) => format!("formula {name}"),
    }
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.replace(['\n', '\r'], " ")).to_string()
}

fn column_text(column_use: &ColumnUse) -> String {
    let mut parts = Vec::new();
    if let Some(unit) = &column_use.unit {
        parts.push(format!("unit = {}", quoted(unit)));
    }
    if let Some(currency) = &column_use.currency {
        parts.push(format!("currency = {}", quoted(currency)));
    }
    if column_use.fill_down {
        parts.push("fill_down = true".to_owned());
    }
    if column_use.fractions {
        parts.push("fractions = true".to_owned());
    }
    match &column_use.meaning {
        Meaning::Formula(name) => parts.insert(0, format!("formula = {}", quoted(name))),
        meaning if parts.is_empty() => return quoted(&meaning_text(meaning)),
        meaning => parts.insert(0, format!("is = {}", quoted(&meaning_text(meaning)))),
    }
    format!("{{ {} }}", parts.join(", "))
}

/// The text of a mapping. `why` says for each sheet what decided its settings (by name) and its columns (by title).
#[must_use]
pub fn write_text(mapping: &Mapping, why: &[BTreeMap<String, String>]) -> String {
    let mut text = format!(
        "# How Stillroom reads {file}. Made by `stillroom import --map`; change what is not right, and keep the quotes.\n\
         # It is used by itself for every file whose sheet has the same titles.\n\
         # ? stands for what has to be decided before the sheet can be read.\n\nfile = {quoted}\n",
        file = mapping.file,
        quoted = quoted(&mapping.file)
    );
    let none = BTreeMap::new();
    for (place, sheet) in mapping.sheets.iter().enumerate() {
        text.push_str(&sheet_text(sheet, why.get(place).unwrap_or(&none)));
    }
    text
}

fn comment(why: &BTreeMap<String, String>, name: &str) -> String {
    why.get(name).map_or_else(String::new, |why| format!("   # {}", why.replace(['\n', '\r'], " ")))
}

fn sheet_text(sheet: &MappedSheet, why: &BTreeMap<String, String>) -> String {
    let mut text = "\n[[sheet]]\n".to_owned();
    let mut line = |text_line: String| {
        let _ = writeln!(text, "{}", text_line.trim_end());
    };
    line(format!(
        "sheet = {}{}",
        quoted(&sheet.sheet),
        if sheet.sheet.is_empty() { "   # a CSV file has no sheets" } else { "" }
    ));
    let holds: Vec<String> = sheet.holds.iter().map(|kind| quoted(kind.stem())).collect();
    line("# What its lines hold; [] leaves the sheet out.".to_owned());
    line(format!("holds = [{}]{}", holds.join(", "), comment(why, "holds")));
    for kind in &sheet.holds {
        line(format!("#   {}", purpose(*kind)));
    }
    if sheet.holds.is_empty() {
        return text;
    }
    let layout = LAYOUTS.into_iter().find(|(_, layout)| *layout == sheet.layout).map_or("lines", |(word, _)| word);
    line(
        "# lines: a thing in each line. formula-per-column: formulas side by side. blocks: formulas below each other."
            .to_owned(),
    );
    line(format!("layout = {}", quoted(layout)));
    let word = |words: Option<&str>| words.map(str::to_owned);
    let decimal =
        decision(&sheet.decimal, |sign| word(DECIMALS.into_iter().find(|(_, own)| own == sign).map(|(word, _)| word)));
    let dates = decision(&sheet.dates, |order| {
        word(DATE_ORDERS.into_iter().find(|(_, own)| own == order).map(|(word, _)| word))
    });
    let own = |value: &String| Some(value.clone());
    let settings = [
        ("decimal", decimal, "point (1,234.5) or comma (1.234,5)"),
        ("dates", dates, "day-month-year, month-day-year or year-month-day"),
        ("currency", decision(&sheet.currency, own), "of money that names none"),
        ("unit", decision(&sheet.unit, own), "of amounts that name none; of formulas also percent"),
        ("supplier", decision(&sheet.supplier, own), "of all lines, where no column says"),
        ("lead_time_days", decision(&sheet.lead_time_days, own), "of suppliers that only this sheet names"),
    ];
    for (name, value, meaning) in settings {
        match value {
            Some(value) => line(format!(
                "{name} = {}   # {meaning}{}",
                quoted(&value),
                why.get(name).map_or(String::new(), |why| format!("; {why}"))
            )),
            None => line(format!("# {name} = \"\"   # {meaning}; not needed here")),
        }
    }
    line("# true: materials and suppliers that are named here and known nowhere else are added.".to_owned());
    line(format!("add_missing = {}", sheet.add_missing));
    let skip: Vec<String> = sheet
        .skip
        .iter()
        .map(|skip| match skip {
            Skip::Number(number) => number.to_string(),
            Skip::Words(words) => quoted(words),
        })
        .collect();
    line(
        "# Lines that are not read: their numbers, or the words of their first cell. Totals are known by themselves."
            .to_owned(),
    );
    line(format!("skip = [{}]{}", skip.join(", "), comment(why, "skip")));
    line(String::new());
    line("[sheet.columns]   # your titles = our columns, \"left out\", \"unit\" or \"currency\"".to_owned());
    for (title, column_use) in &sheet.columns {
        line(format!("{} = {}{}", quoted(title), column_text(column_use), comment(why, title)));
    }
    text
}

fn decision<T>(decision: &Decision<T>, shown: impl Fn(&T) -> Option<String>) -> Option<String> {
    match decision {
        Decision::NotNeeded => None,
        Decision::Open => Some("?".to_owned()),
        Decision::Is(value) => shown(value),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet() -> MappedSheet {
        let mut sheet = MappedSheet::new("Rohstoffe \"neu\"");
        sheet.holds = vec![SheetKind::Lots, SheetKind::Materials];
        sheet.decimal = Decision::Is(DecimalSign::Comma);
        sheet.dates = Decision::Open;
        sheet.currency = Decision::Is("EUR".to_owned());
        sheet.add_missing = true;
        sheet.skip = vec![Skip::Number(9), Skip::Words("Öle".to_owned())];
        let unit = ColumnUse {
            meaning: Meaning::Column(SheetKind::Lots, "amount"),
            unit: Some("kg".to_owned()),
            ..ColumnUse::default()
        };
        let name = ColumnUse {
            meaning: Meaning::Column(SheetKind::Materials, "name"),
            fill_down: true,
            ..ColumnUse::default()
        };
        sheet.columns = vec![
            ("Menge (kg)".to_owned(), unit),
            ("Notiz".to_owned(), ColumnUse::default()),
            ("Zutat".to_owned(), name),
        ];
        sheet
    }

    #[test]
    fn what_is_written_reads_back() {
        let mapping = Mapping {
            name: "vorrat".to_owned(),
            file: "vorrat.xlsx".to_owned(),
            sheets: vec![sheet(), MappedSheet::new("Notizen")],
        };
        let why = [("decimal", "decided by line 4"), ("Notiz", "no column of ours\nfits")];
        let why = why.map(|(name, why)| (name.to_owned(), why.to_owned())).into_iter().collect();
        let text = write_text(&mapping, &[why]);
        assert_eq!(read_text("vorrat", &text), Ok(mapping), "{text}");
    }

    #[test]
    fn what_is_wrong_in_a_mapping_is_said() {
        let check = |line: &str, expected: &str| {
            let columns = if line.starts_with('[') { line.to_owned() } else { format!("{line}\n[sheet.columns]") };
            let text = format!("[[sheet]]\nholds = [\"lots\"]\n{columns}\n");
            let said = read_text("x", &text).unwrap_err();
            assert!(said.contains(expected), "{said}");
        };
        check("decimal = \"dot\"", "decimal is \"dot\"; write point or comma");
        check("dates = \"us\"", "month-day-year");
        check("currency = \"$\"", "ISO 4217");
        check("layout = \"wide\"", "formula-per-column");
        check("skip = [true]", "numbers of lines");
        check("colour = 1", "unknown field `colour`");
        check("[sheet.columns]\n\"A\" = \"lots.colour\"", "column \"A\": \"lots.colour\" is no meaning");
        check("[sheet.columns]\n\"A\" = { is = \"lots.amount\", unit = \"stone\" }", "\"stone\" is no unit");
        check("[sheet.columns]\n\"A\" = { is = \"lots.amount\", uint = \"g\" }", "uint");
        let said = read_text("x", "[[sheet]]\nholds = [\"ledger\"]\n").unwrap_err();
        assert!(said.contains("holds names \"ledger\""), "{said}");
    }
}
