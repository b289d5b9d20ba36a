//! A book and its journal to a folder of CSV files (RFC 4180: comma, CRLF, UTF-8) that read back as they were.

use super::cell::guarded;
use super::columns::SheetKind;
use super::to_cells::{Lookup, book_cells, journal_cells};
use crate::book::{Book, Journal};
use csv::{Terminator, WriterBuilder};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// Why a folder could not be written. Nothing of it is there then.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// A file of the name is there already.
    #[error("{0} is there already; name another folder, or allow to overwrite it")]
    Exists(PathBuf),
    /// The disk refused.
    #[error("cannot write {path} ({source}); look at the folder and at who may write there")]
    Io {
        /// Which file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A row could not be put into the form of CSV.
    #[error("cannot write {file} as CSV ({problem})")]
    Csv {
        /// Which file.
        file: &'static str,
        /// What the library said.
        problem: String,
    },
}

/// Writes all files into the folder, which is made where it is not there, and returns their paths.
///
/// Each file is written under a temporary name first; only when all of them are complete do they take their names.
///
/// # Errors
/// [`WriteError::Exists`] where a file is there and `overwrite` is false, else what the disk says.
pub fn write_folder(
    folder: &Path,
    book: &Book,
    journal: &Journal,
    overwrite: bool,
) -> Result<Vec<PathBuf>, WriteError> {
    let failed = |path: &Path| {
        let path = path.to_owned();
        move |source| WriteError::Io { path, source }
    };
    let is_new_folder = !folder.exists();
    fs::create_dir_all(folder).map_err(failed(folder))?;
    let targets: Vec<PathBuf> = SheetKind::ALL.iter().map(|kind| folder.join(format!("{}.csv", kind.stem()))).collect();
    if !overwrite && let Some(there) = targets.iter().find(|path| path.exists()) {
        return Err(WriteError::Exists(there.clone()));
    }
    let drafts: Vec<PathBuf> =
        SheetKind::ALL.iter().map(|kind| folder.join(format!(".{}.csv.part", kind.stem()))).collect();
    let mut placed: Vec<&PathBuf> = Vec::new();
    let written = (|| {
        for (kind, draft) in SheetKind::ALL.into_iter().zip(&drafts) {
            write_file(draft, kind, book, journal)?;
        }
        for (draft, target) in drafts.iter().zip(&targets) {
            fs::rename(draft, target).map_err(failed(target))?;
            placed.push(target);
        }
        Ok(())
    })();
    if let Err(error) = written {
        // Clearing up is best effort: the first error is the one to tell.
        drafts.iter().for_each(|draft| drop(fs::remove_file(draft)));
        if !overwrite {
            placed.into_iter().for_each(|target| drop(fs::remove_file(target)));
        }
        if is_new_folder {
            drop(fs::remove_dir(folder));
        }
        return Err(error);
    }
    Ok(targets)
}

/// Writes one file, its header first, row by row.
fn write_file(path: &Path, kind: SheetKind, book: &Book, journal: &Journal) -> Result<(), WriteError> {
    let io = |source| WriteError::Io { path: path.to_owned(), source };
    let failed = |error: csv::Error| match error.into_kind() {
        csv::ErrorKind::Io(source) => io(source),
        other => WriteError::Csv { file: kind.stem(), problem: format!("{other:?}") },
    };
    let lookup = Lookup::new(book, journal);
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(File::create(path).map_err(io)?);
    writer.write_record(kind.columns().into_iter().map(|column| column.name)).map_err(failed)?;
    for cells in book_cells(book, kind, &lookup).chain(journal_cells(journal, kind, &lookup)) {
        writer.write_record(cells.into_iter().map(guarded)).map_err(failed)?;
    }
    writer.flush().map_err(io)
}
