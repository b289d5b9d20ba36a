//! `manual`: a page for each command in a folder, as `man` shows it, from the same words as `--help`.

use super::session::Session;
use crate::cli::{Manual, examples};
use crate::error::CommandError;
use crate::view::done::ManualView;

pub fn run(session: &Session, arguments: &Manual) -> Result<String, CommandError> {
    let folder = &arguments.folder;
    let unwritten = |error: std::io::Error| {
        CommandError::work(format!("the manual cannot be written to {}: {error}", folder.display()))
            .hint("name a folder that you may write to")
    };
    std::fs::create_dir_all(folder).map_err(unwritten)?;
    clap_mangen::generate_to(examples::command(), folder).map_err(unwritten)?;
    session.answer(&ManualView { folder: folder.display().to_string() }, |_| {
        let first = folder.join("stillroom.1");
        format!("The manual is in {}; `man {}` shows its first page.\n", folder.display(), first.display())
    })
}
