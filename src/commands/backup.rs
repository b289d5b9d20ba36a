//! `backup`: a copy of the store, examined, under a dated name; the oldest go.

use super::copies;
use super::session::Session;
use crate::cli::Backup;
use crate::error::CommandError;
use crate::render::safe as render;
use crate::store::{StoreError, back_up};
use crate::view::safe::BackupView;
use std::path::PathBuf;

pub fn run(session: &Session, arguments: &Backup) -> Result<String, CommandError> {
    let view = match &arguments.file {
        None => dated(session)?,
        Some(folder) if folder.is_dir() => {
            make(session, folder.join(copies::dated_name(session, "")?), true, Vec::new())?
        }
        Some(file) => {
            if file.file_name().is_none() {
                return Err(CommandError::input(format!("{} names no file", file.display())));
            }
            make(session, file.clone(), false, Vec::new())?
        }
    };
    session.answer(&view, |_| render::backup(&view))
}

/// The backup of today, where the settings ask for one each day and there is none yet.
///
/// # Errors
/// Where it cannot be made.
pub fn daily(session: &Session) -> Result<Option<BackupView>, CommandError> {
    if !session.config.backup.daily {
        return Ok(None);
    }
    match copies::of_day(session.store_file()?, &copies::folder(session)?, session.clock.today()) {
        Some(_) => Ok(None),
        None => dated(session).map(Some),
    }
}

/// A backup in the folder for them, and the oldest removed.
fn dated(session: &Session) -> Result<BackupView, CommandError> {
    let folder = copies::folder(session)?;
    std::fs::create_dir_all(&folder).map_err(|error| {
        CommandError::work(format!("the folder {} cannot be made: {error}", folder.display()))
            .hint("name another one as [backup] folder in the settings, or give a file: `stillroom backup FILE`")
    })?;
    let mut view = make(session, folder.join(copies::dated_name(session, "")?), true, Vec::new())?;
    let made = PathBuf::from(&view.file);
    let removed = copies::prune(session.store_file()?, &folder, session.config.backup.keep, &made)?;
    view.removed = removed.iter().map(|path| path.display().to_string()).collect();
    Ok(view)
}

fn make(session: &Session, to: PathBuf, numbered: bool, removed: Vec<String>) -> Result<BackupView, CommandError> {
    let store = session.store_file()?;
    let (file, checkup) = back_up(store, &to, numbered).map_err(|error| match error {
        StoreError::Hurt { .. } | StoreError::Corrupt { .. } => CommandError::work(format!(
            "no copy was made: {error}"
        ))
        .hint("`stillroom doctor` says all that is hurt and how to come back; earlier copies were left as they are"),
        StoreError::FileThere { .. } => {
            CommandError::from(error).hint("name another file, or leave it out for a dated name")
        }
        StoreError::Full => CommandError::work(format!("the disk with {} is full: no copy was made", to.display()))
            .hint("make room, or name a file on another disk: `stillroom backup FILE`"),
        StoreError::ReadOnly => {
            CommandError::work(format!("{} cannot be written, or the store cannot be read", to.display())).hint(
                "check who owns the file and its folder, and whether the disk is read-only; or name another place",
            )
        }
        other => other.into(),
    })?;
    Ok(BackupView {
        as_of: session.clock.today(),
        store: store.display().to_string(),
        file: file.display().to_string(),
        version: checkup.version,
        acts: checkup.acts,
        removed,
    })
}
