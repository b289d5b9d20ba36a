//! `export`: the workshop as CSV files, ledger and all.

use super::session::Session;
use crate::cli::Export;
use crate::error::CommandError;
use crate::intake::{WriteError, write_folder};
use crate::render::amounts::count;
use crate::view::done::ExportView;

pub fn run(session: &Session, arguments: &Export) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    let written = write_folder(&arguments.folder, &reading.whole_book()?, &reading.journal()?, arguments.overwrite)
        .map_err(|error| match error {
            WriteError::Exists(path) => CommandError::input(format!("{} is there already", path.display()))
                .hint("name another folder, or add --overwrite"),
            WriteError::Io { .. } | WriteError::Csv { .. } => CommandError::work(error.to_string()),
        })?;
    let files: Vec<String> = written.iter().map(|file| file.display().to_string()).collect();
    let count = count(files.len(), "file", "files");
    session.answer(&ExportView { files }, |_| {
        format!("{count} written to {}. `stillroom import` reads them back.\n", arguments.folder.display())
    })
}
