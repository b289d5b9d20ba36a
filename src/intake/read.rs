//! Paths to tables: CSV files, folders of them, workbooks.

use super::columns::SheetKind;
use super::fault::{Fault, one_line};
use super::map::file::Fit;
use super::map::raw::Line;
use super::map::{Foreign, Mappings, read_tables};
use super::sheet::{MAX_BYTES, Sheets, too_large};
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// What a path holds, by its ending.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Ending {
    Csv,
    Workbook,
    Silent,
    Other,
}

/// Reads all files at the paths. What cannot be read is a fault among the others: they are reported together by
/// [`check`](super::check::check). Order does not matter; a path that is named twice is read once.
#[must_use]
pub fn read_paths(paths: &[PathBuf]) -> Sheets {
    read_paths_with(paths, &Mappings::default())
}

/// The same, with the mappings by which a maker's own sheets are read.
#[must_use]
pub fn read_paths_with(paths: &[PathBuf], mappings: &Mappings) -> Sheets {
    let mut sheets = Sheets::default();
    let mut seen: Vec<PathBuf> = Vec::new();
    for path in paths {
        let identity = path.canonicalize().unwrap_or_else(|_| path.clone());
        if seen.contains(&identity) {
            continue;
        }
        seen.push(identity);
        if path.is_dir() { read_folder(&mut sheets, path, mappings) } else { read_named(&mut sheets, path, mappings) }
    }
    if sheets.not_read > 0 {
        let rows = if sheets.not_read == 1 { "1 row" } else { &format!("{} rows", sheets.not_read) };
        sheets.notes.push(format!("{rows} left out that begin with # (explanations and examples)."));
    }
    sheets
}

/// A file that the user named: anything that is not of ours is a fault.
fn read_named(sheets: &mut Sheets, path: &Path, mappings: &Mappings) {
    let file = file_name(path);
    if !path.exists() {
        return sheets.faults.push(Fault::of_file(&file, "is not there", "look at the path"));
    }
    let is_readable = matches!(ending(path), Ending::Workbook | Ending::Csv);
    let mapped = if is_readable { take_mapped(sheets, path, mappings) } else { BTreeSet::new() };
    match (ending(path), SheetKind::of_stem(&stem(path))) {
        (Ending::Workbook, _) => read_workbook(sheets, path, &mapped),
        (Ending::Csv, _) if !mapped.is_empty() => {}
        (Ending::Csv, Some(kind)) => read_csv(sheets, path, kind),
        (Ending::Csv, None) => {
            sheets.wants_mapping = true;
            let remedy = format!("name it after what it holds ({})", SheetKind::all_stems());
            sheets.faults.push(Fault::of_file(&file, "is none of the files of a workshop", remedy));
        }
        (Ending::Silent | Ending::Other, _) => {
            let remedy = "give CSV files, a folder of them or an XLSX workbook";
            sheets.faults.push(Fault::of_file(&file, "is neither CSV nor XLSX", remedy));
        }
    }
}

/// Takes the sheets that a mapping reads, and returns their names. A sheet that has all the columns of ours is ours.
fn take_mapped(sheets: &mut Sheets, path: &Path, mappings: &Mappings) -> BTreeSet<String> {
    let mut taken = BTreeSet::new();
    if mappings.names().is_empty() {
        return taken;
    }
    // What cannot be read at all is told where our own files are read.
    let Ok(tables) = read_tables(path) else { return taken };
    for (name, table) in tables {
        let Ok(table) = table else { continue };
        let named = if name.is_empty() { stem(path) } else { name.clone() };
        if SheetKind::of_stem(&named).is_some_and(|kind| table.lines.first().is_some_and(|line| is_ours(kind, line))) {
            continue;
        }
        let place = table.place.clone();
        match mappings.fit(&table) {
            Fit::Is(mapping, sheet, header) => {
                let (mapping, sheet) = (mapping.name.clone(), sheet.clone());
                sheets.foreign.push(Foreign { table, header, mapping, sheet });
            }
            Fit::Several(names) => {
                let problem = format!("fits several mappings: {}", names.join(", "));
                let remedy = "say which one with --mapping NAME";
                sheets.faults.push(Fault::of_file(&place, problem, remedy));
            }
            Fit::Near(name, new, gone) => {
                sheets.wants_mapping = true;
                let problem =
                    format!("has other columns than the mapping {name}{}{}", told("new", &new), told("gone", &gone));
                let remedy = "put the titles right in the file or the mapping, or make the mapping anew (import --map FILE --overwrite)";
                sheets.faults.push(Fault::of_file(&place, problem, remedy));
            }
            Fit::None => continue,
        }
        taken.insert(name);
    }
    taken
}

fn told(what: &str, titles: &[String]) -> String {
    let shown: Vec<String> = titles.iter().map(|title| format!("\"{title}\"")).collect();
    if shown.is_empty() { String::new() } else { format!("; {what}: {}", shown.join(", ")) }
}

/// True where a header has all the columns that one of our files needs.
fn is_ours(kind: SheetKind, header: &Line) -> bool {
    let has = |name: &str| header.cells.iter().any(|cell| kind.column(cell.text()) == Some(name));
    kind.columns().iter().all(|column| !column.required || has(column.name))
}

/// All CSV files of a folder that are ours or that a mapping reads, or its only workbook where there are none; the rest is noted
/// or, where it is plain text or hidden, passed over.
fn read_folder(sheets: &mut Sheets, folder: &Path, mappings: &Mappings) {
    let listed = fs::read_dir(folder)
        .and_then(|entries| entries.map(|entry| entry.map(|entry| entry.path())).collect::<io::Result<Vec<_>>>());
    let mut paths = match listed {
        Ok(paths) => paths,
        Err(error) => return sheets.refuse(None, unreadable(folder, &error)),
    };
    paths.sort();
    let mut found = 0;
    let mut workbooks = Vec::new();
    for path in paths.iter().filter(|path| !path.is_dir()) {
        match (ending(path), SheetKind::of_stem(&stem(path))) {
            (Ending::Csv, Some(kind)) => {
                found += 1;
                if take_mapped(sheets, path, mappings).is_empty() {
                    read_csv(sheets, path, kind);
                }
            }
            (Ending::Csv, None) if !take_mapped(sheets, path, mappings).is_empty() => found += 1,
            (Ending::Silent, _) => {}
            (Ending::Workbook, _) => workbooks.push(path),
            _ => sheets.notes.push(format!("{}: left out, it is none of the files of a workshop.", file_name(path))),
        }
    }
    if let (0, [only]) = (found, workbooks.as_slice()) {
        sheets.notes.push(format!("{}: read, the only workbook in {}.", file_name(only), file_name(folder)));
        for inner in paths.iter().filter(|path| path.is_dir()) {
            sheets.notes.push(format!("{}: a folder within the folder, left out.", file_name(inner)));
        }
        return read_named(sheets, only, mappings);
    }
    for path in workbooks {
        sheets.notes.push(format!("{}: left out, name a workbook itself to read it.", file_name(path)));
    }
    if found == 0 {
        let remedy = format!("name them {} (.csv)", SheetKind::all_stems());
        sheets.faults.push(Fault::of_file(&file_name(folder), "has no file of a workshop", remedy));
    }
}

fn read_csv(sheets: &mut Sheets, path: &Path, kind: SheetKind) {
    match read_bytes(path) {
        Ok(bytes) => sheets.add_csv(kind, &file_name(path), &bytes),
        Err(error) => sheets.refuse(Some(kind), unreadable(path, &error)),
    }
}

fn read_workbook(sheets: &mut Sheets, path: &Path, mapped: &BTreeSet<String>) {
    match read_bytes(path) {
        Ok(bytes) => sheets.add_workbook_without(&file_name(path), bytes, mapped),
        Err(error) => sheets.refuse(None, unreadable(path, &error)),
    }
}

/// The bytes of a file that is not too large.
pub(super) fn read_bytes(path: &Path) -> io::Result<Vec<u8>> {
    let too_large = || Err(io::ErrorKind::FileTooLarge.into());
    let file = File::open(path)?;
    // What says of itself that it is too large is not read at all; a pipe says nothing.
    let told = usize::try_from(file.metadata()?.len()).unwrap_or(usize::MAX);
    if told > MAX_BYTES {
        return too_large();
    }
    // With room for the end of the file, which has to be met.
    let mut bytes = Vec::with_capacity(told + 1);
    if file.take(MAX_BYTES as u64 + 1).read_to_end(&mut bytes)? > MAX_BYTES {
        return too_large();
    }
    Ok(bytes)
}

/// The fault of a file that cannot be read.
pub(super) fn unreadable(path: &Path, error: &io::Error) -> Fault {
    let (problem, remedy) = match error.kind() {
        io::ErrorKind::NotFound => ("is not there".to_owned(), "look at the path"),
        io::ErrorKind::FileTooLarge => return too_large(&file_name(path)),
        _ => (format!("cannot be read ({error})"), "look at the path and who may read it"),
    };
    Fault::of_file(&file_name(path), problem, remedy)
}

pub(super) fn file_name(path: &Path) -> String {
    one_line(&path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned()))
}

fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

fn ending(path: &Path) -> Ending {
    if file_name(path).starts_with(['.', '~']) || stem(path).eq_ignore_ascii_case("readme") {
        return Ending::Silent;
    }
    let extension = path.extension().unwrap_or_default().to_string_lossy().to_ascii_lowercase();
    match extension.as_str() {
        "csv" | "tsv" => Ending::Csv,
        "xlsx" => Ending::Workbook,
        "md" | "txt" => Ending::Silent,
        _ => Ending::Other,
    }
}
