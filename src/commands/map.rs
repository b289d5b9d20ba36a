//! `import --map`: what each column of a maker's own spreadsheet means, found out with her in a terminal, guessed and laid
//! before her elsewhere, and kept as a file beside the store.

use super::page::{write_new, write_over};
use super::session::Session;
use crate::cli::Import;
use crate::error::CommandError;
use crate::intake::map::file::meaning_text;
use crate::intake::map::{ColumnGuess, Decision, Mapping, Meaning, SheetGuess, Table, guess, read_tables, write_text};
use crate::plan::money::Currency;
use crate::render::table::{Align, Screen, Table as Shown};
use crate::store::{Store, StoreError};
use crate::view::done::{MappedColumnView, MappedSheetView, MappingView, MappingsView};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The folder of the mappings: beside the store.
///
/// # Errors
/// Where no store is named and the platform has no data folder.
pub fn folder(session: &Session) -> Result<PathBuf, CommandError> {
    let beside = session.store_file()?.parent().map(Path::to_owned).unwrap_or_default();
    Ok(beside.join("mappings"))
}

/// A sheet of hers, and what is known of it.
pub(super) struct Sheet {
    pub(super) table: Table,
    pub(super) guess: SheetGuess,
}

pub fn run(session: &Session, arguments: &Import) -> Result<String, CommandError> {
    let home = home(session, arguments.currency.as_deref())?;
    let mut answers = Vec::new();
    for path in &arguments.paths {
        answers.push(map_file(session, path, home, arguments.overwrite)?);
    }
    let (mappings, texts): (Vec<MappingView>, Vec<String>) = answers.into_iter().unzip();
    session.answer(&MappingsView { mappings }, |_| texts.concat())
}

/// The home currency: the store's, else what is asked for, else that of the settings.
fn home(session: &Session, asked: Option<&str>) -> Result<Currency, CommandError> {
    match Store::open(session.store_file()?) {
        Ok(mut store) => Ok(store.reading()?.home()?),
        Err(StoreError::NotFound { .. }) => {
            let asked = asked.map(super::import::currency).transpose()?;
            Ok(asked.unwrap_or(session.config.home_currency))
        }
        Err(error) => Err(error.into()),
    }
}

/// Makes the mapping of one file: as JSON and as text.
fn map_file(
    session: &Session,
    path: &Path,
    home: Currency,
    overwrite: bool,
) -> Result<(MappingView, String), CommandError> {
    let target = target(session, path)?;
    let is_there = target.symlink_metadata().is_ok();
    if is_there && !overwrite {
        return Err(CommandError::input(format!("there is a mapping for this already: {}", target.display())).hint(
            "edit that file; or make it anew with --overwrite added; or import with the mapping as it is: leave --map out",
        ));
    }
    let tables = read_tables(path).map_err(CommandError::input)?;
    let mut sheets = Vec::new();
    let mut unread = Vec::new();
    for (_, table) in tables {
        match table {
            Ok(table) if table.lines.is_empty() => {}
            Ok(table) => sheets.push(Sheet { guess: guess(&table, home.code()), table }),
            Err(problem) => unread.push(problem),
        }
    }
    if sheets.is_empty() {
        let why = if unread.is_empty() { format!("{} holds nothing", path.display()) } else { unread.join("; ") };
        return Err(CommandError::input(why).hint("name a CSV file or an XLSX workbook with your own lists"));
    }
    if session.can_ask {
        for sheet in &mut sheets {
            super::map_ask::ask(session, sheet, home)?;
        }
    }
    let name = target.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let mapping = Mapping { name, file, sheets: sheets.iter().map(|sheet| sheet.guess.sheet.clone()).collect() };
    let why: Vec<BTreeMap<String, String>> = sheets.iter().map(why).collect();
    let written = write_text(&mapping, &why);
    if let Some(folder) = target.parent() {
        std::fs::create_dir_all(folder)
            .map_err(|error| CommandError::work(format!("cannot make the folder {} ({error})", folder.display())))?;
    }
    if is_there {
        write_over(&target, written.as_bytes())?
    } else {
        write_new(&target, written.as_bytes())?
    }
    let words = text(session, &sheets, &unread, path, &target);
    let view = MappingView {
        file: path.display().to_string(),
        mapping: target.display().to_string(),
        sheets: sheets.iter().map(sheet_view).collect(),
        unread,
    };
    Ok((view, words))
}

/// The file of the mapping: named after the maker's file.
fn target(session: &Session, path: &Path) -> Result<PathBuf, CommandError> {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let name: String = stem.chars().map(|letter| if letter.is_alphanumeric() { letter } else { '-' }).collect();
    let name = name.to_lowercase();
    let words: Vec<&str> = name.split('-').filter(|word| !word.is_empty()).collect();
    let name = if words.is_empty() { "own-sheet".to_owned() } else { words.join("-") };
    Ok(folder(session)?.join(format!("{name}.toml")))
}

/// What decided each setting and column, for the comments of the file.
fn why(sheet: &Sheet) -> BTreeMap<String, String> {
    let mut why = sheet.guess.settled.why.clone();
    why.insert("holds".to_owned(), sheet.guess.why.clone());
    for column in &sheet.guess.columns {
        why.insert(column.title.clone(), format!("{} ({})", column.sample.join(" | "), column.why));
    }
    why
}

fn sheet_view(sheet: &Sheet) -> MappedSheetView {
    let column = |column: &ColumnGuess| MappedColumnView {
        title: column.title.clone(),
        sample: column.sample.clone(),
        meaning: meaning_text(&column.column_use.meaning),
        unit: column.column_use.unit.clone(),
        currency: column.column_use.currency.clone(),
        why: column.why.clone(),
    };
    MappedSheetView {
        sheet: sheet.guess.sheet.sheet.clone(),
        holds: sheet.guess.sheet.holds.iter().map(|kind| kind.stem().to_owned()).collect(),
        why: sheet.guess.why.clone(),
        columns: sheet.guess.columns.iter().map(column).collect(),
        settings: sheet.guess.settled.why.clone(),
        open: sheet.guess.sheet.open().into_iter().map(str::to_owned).collect(),
    }
}

/// The columns of a sheet: hers, some cells, ours, and why.
pub(super) fn table(sheet: &Sheet, screen: Screen) -> String {
    let mut shown = Shown::new(&[
        ("Your column", Align::Left),
        ("Some of its cells", Align::Left),
        ("What it means", Align::Left),
        ("Why", Align::Left),
    ]);
    for column in &sheet.guess.columns {
        let column_use = &column.column_use;
        let beside = column_use.unit.as_ref().or(column_use.currency.as_ref());
        let meaning = match (&column_use.meaning, beside) {
            (Meaning::LeftOut, _) => "left out".to_owned(),
            (meaning, Some(beside)) => format!("{} ({beside})", meaning_text(meaning)),
            (meaning, None) => meaning_text(meaning),
        };
        shown.row([column.title.clone(), column.sample.join(" | "), meaning, column.why.clone()]);
    }
    shown.render(screen)
}

/// What a sheet is taken for, in a line.
pub(super) fn taken_for(sheet: &Sheet) -> String {
    let place = if sheet.table.sheet.is_empty() {
        sheet.table.file.clone()
    } else {
        format!("Sheet \"{}\"", sheet.table.sheet)
    };
    let holds: Vec<&str> = sheet.guess.sheet.holds.iter().map(|kind| kind.stem()).collect();
    if holds.is_empty() {
        return format!("{place} is left out: {}.\n", sheet.guess.why);
    }
    format!("{place} is taken for {}: {}.\n", holds.join(" and "), sheet.guess.why)
}

/// The settings of a sheet and what decided them.
pub(super) fn settings(sheet: &Sheet) -> String {
    let own = &sheet.guess.sheet;
    let mut text = String::new();
    let mut line = |name: &str, value: String| {
        let why = sheet.guess.settled.why.get(name).map_or(String::new(), |why| format!(" ({why})"));
        text.push_str(&format!("  {name}: {value}{why}\n"));
    };
    let words = crate::intake::map::file::DECIMALS;
    let decimal =
        |sign: &_| words.into_iter().find(|(_, own)| own == sign).map_or(String::new(), |(word, _)| word.to_owned());
    let orders = crate::intake::map::file::DATE_ORDERS;
    let dates =
        |order: &_| orders.into_iter().find(|(_, own)| own == order).map_or(String::new(), |(word, _)| word.to_owned());
    let mut put = |name: &str, value: Option<String>| {
        if let Some(value) = value {
            line(name, value);
        }
    };
    put("decimal", shown(&own.decimal, decimal));
    put("dates", shown(&own.dates, dates));
    put("currency", shown(&own.currency, String::clone));
    put("unit", shown(&own.unit, String::clone));
    put("supplier", shown(&own.supplier, String::clone));
    put("lead_time_days", shown(&own.lead_time_days, String::clone));
    if !own.skip.is_empty() {
        put("skip", Some(format!("{} left out", if own.skip.len() == 1 { "1 line" } else { "some lines" })));
    }
    text
}

fn shown<T>(decision: &Decision<T>, word: impl Fn(&T) -> String) -> Option<String> {
    match decision {
        Decision::NotNeeded => None,
        Decision::Open => Some("not decided".to_owned()),
        Decision::Is(value) => Some(word(value)),
    }
}

fn text(session: &Session, sheets: &[Sheet], unread: &[String], path: &Path, target: &Path) -> String {
    let mut text = String::new();
    for problem in unread {
        text.push_str(&format!("{problem}.\n"));
    }
    for sheet in sheets {
        text.push_str(&taken_for(sheet));
        if !sheet.guess.sheet.holds.is_empty() {
            // Who was asked has seen it.
            if !session.can_ask {
                text.push_str(&table(sheet, session.screen));
            }
            text.push_str(&settings(sheet));
        }
        text.push('\n');
    }
    text.push_str(&format!("Kept as {}.\n", target.display()));
    let open: Vec<String> = sheets.iter().flat_map(|sheet| sheet.guess.sheet.open()).map(str::to_owned).collect();
    if !open.is_empty() {
        let mut open = open;
        open.dedup();
        text.push_str(&format!("Open that file and decide: {} (write it in place of the ?).\n", open.join(", ")));
    } else if !session.can_ask {
        text.push_str("Look at the table above; what is not right you can change in that file.\n");
    }
    text.push_str(&format!("Next: `stillroom import --dry-run {}` shows what would come of it.\n", path.display()));
    text
}
