//! The empty sheets to fill in, written into a folder: a CSV file for each, and one workbook with all of them.

use super::page::write_new;
use crate::error::CommandError;
use crate::intake::sheets::{MAKERS, csv_bytes, workbook_bytes};
use std::path::{Path, PathBuf};

/// The workbook's name.
const WORKBOOK: &str = "workshop.xlsx";

/// What was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WrittenSheets {
    /// The workbook with all sheets.
    pub workbook: PathBuf,
    /// The CSV files, in the order in which they refer to each other.
    pub files: Vec<PathBuf>,
}

/// Writes the empty sheets into a folder, which is made where there is none: `workshop.xlsx`, and the same as CSV files in
/// its folder `csv`, so that an import of either reads everything once.
///
/// # Errors
/// Where one of the files is there already (it may have been filled in), or cannot be written. Nothing is written then
/// but, where the disk gives up in the middle, the files before.
pub fn write_sheets(folder: &Path) -> Result<WrittenSheets, CommandError> {
    let csv_folder = folder.join("csv");
    let mut drafts = vec![(folder.join(WORKBOOK), workbook_bytes().map_err(unmade)?)];
    for kind in MAKERS {
        drafts.push((csv_folder.join(format!("{}.csv", kind.stem())), csv_bytes(kind).map_err(unmade)?));
    }
    if let Some((path, _)) = drafts.iter().find(|(path, _)| path.symlink_metadata().is_ok()) {
        return Err(CommandError::input(format!("{} is there already; no sheet was written", path.display()))
            .hint("name another folder, or move the file away if you do not need it"));
    }
    std::fs::create_dir_all(&csv_folder).map_err(|error| {
        CommandError::work(format!("cannot make the folder {} ({error})", csv_folder.display()))
            .hint("name a folder that you may write to")
    })?;
    for (path, bytes) in &drafts {
        write_new(path, bytes)?;
    }
    let mut paths = drafts.into_iter().map(|(path, _)| path);
    let workbook = paths.next().unwrap_or_default();
    Ok(WrittenSheets { workbook, files: paths.collect() })
}

fn unmade(error: impl std::fmt::Display) -> CommandError {
    CommandError::work(format!("the sheets could not be made ({error})"))
}
