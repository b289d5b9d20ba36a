//! Paths to tables: CSV files, folders of them, workbooks.

use super::columns::SheetKind;
use super::fault::{Fault, one_line};
use super::sheet::{MAX_BYTES, Sheets, too_large};
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
    let mut sheets = Sheets::default();
    let mut seen: Vec<PathBuf> = Vec::new();
    for path in paths {
        let identity = path.canonicalize().unwrap_or_else(|_| path.clone());
        if seen.contains(&identity) {
            continue;
        }
        seen.push(identity);
        if path.is_dir() { read_folder(&mut sheets, path) } else { read_named(&mut sheets, path) }
    }
    sheets
}

/// A file that the user named: anything that is not of ours is a fault.
fn read_named(sheets: &mut Sheets, path: &Path) {
    let file = file_name(path);
    if !path.exists() {
        return sheets.faults.push(Fault::of_file(&file, "is not there", "look at the path"));
    }
    match (ending(path), SheetKind::of_stem(&stem(path))) {
        (Ending::Workbook, _) => read_workbook(sheets, path),
        (Ending::Csv, Some(kind)) => read_csv(sheets, path, kind),
        (Ending::Csv, None) => {
            let remedy = format!("name it after what it holds ({})", SheetKind::all_stems());
            sheets.faults.push(Fault::of_file(&file, "is none of the files of a workshop", remedy));
        }
        (Ending::Silent | Ending::Other, _) => {
            let remedy = "give CSV files, a folder of them or an XLSX workbook";
            sheets.faults.push(Fault::of_file(&file, "is neither CSV nor XLSX", remedy));
        }
    }
}

/// All CSV files of a folder; the rest is noted or, where it is plain text or hidden, passed over.
fn read_folder(sheets: &mut Sheets, folder: &Path) {
    let listed = fs::read_dir(folder)
        .and_then(|entries| entries.map(|entry| entry.map(|entry| entry.path())).collect::<io::Result<Vec<_>>>());
    let mut paths = match listed {
        Ok(paths) => paths,
        Err(error) => return sheets.refuse(None, unreadable(folder, &error)),
    };
    paths.sort();
    let mut found = 0;
    for path in paths.iter().filter(|path| !path.is_dir()) {
        match (ending(path), SheetKind::of_stem(&stem(path))) {
            (Ending::Csv, Some(kind)) => {
                found += 1;
                read_csv(sheets, path, kind);
            }
            (Ending::Silent, _) => {}
            (Ending::Workbook, _) => {
                sheets.notes.push(format!("{}: left out, name a workbook itself to read it.", file_name(path)));
            }
            _ => sheets.notes.push(format!("{}: left out, it is none of the files of a workshop.", file_name(path))),
        }
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

fn read_workbook(sheets: &mut Sheets, path: &Path) {
    match read_bytes(path) {
        Ok(bytes) => sheets.add_workbook(&file_name(path), bytes),
        Err(error) => sheets.refuse(None, unreadable(path, &error)),
    }
}

/// The bytes of a file that is not too large.
pub(super) fn read_bytes(path: &Path) -> io::Result<Vec<u8>> {
    let file = File::open(path)?;
    let mut bytes = Vec::new();
    // What says of itself that it is too large is not read at all; a pipe says nothing.
    if file.metadata()?.len() > MAX_BYTES as u64 || file.take(MAX_BYTES as u64 + 1).read_to_end(&mut bytes)? > MAX_BYTES
    {
        return Err(io::ErrorKind::FileTooLarge.into());
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
