//! A letter laid into an outbox folder as an `.eml` file, which every mail program opens.

use super::letter::Composed;
use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

/// Why a letter could not be laid down.
#[derive(Debug, thiserror::Error)]
#[error("the letter cannot be written to {}: {source}", path.display())]
pub struct FolderError {
    /// The file or folder.
    pub path: PathBuf,
    /// Why.
    pub source: io::Error,
}

/// How many letters of the same day and name are told apart by a number.
const MOST_OF_A_NAME: usize = 9_999;

/// Writes the letter as `<stem>.eml`, or `<stem>-2.eml` and so on where that is taken by another letter, and returns the
/// file. The file is there whole or not at all, and never replaces another; one that holds this very letter is kept.
///
/// # Errors
/// [`FolderError`] where folder or file cannot be written.
pub fn lay_down(folder: &Path, letter: &Composed) -> Result<PathBuf, FolderError> {
    let fault = |path: &Path| {
        let path = path.to_owned();
        move |source| FolderError { path, source }
    };
    fs::create_dir_all(folder).map_err(fault(folder))?;
    let mut draft = None;
    for number in 1..=MOST_OF_A_NAME {
        let ending = if number == 1 { String::new() } else { format!("-{number}") };
        let path = folder.join(format!("{}{ending}.eml", letter.file_stem));
        if path.exists() {
            if fs::read(&path).is_ok_and(|there| there == letter.message) {
                return Ok(path);
            }
            continue;
        }
        let temporary = match &draft {
            Some(Draft(temporary)) => temporary.clone(),
            None => draft.insert(write_draft(folder, letter)?).0.clone(),
        };
        match put(&temporary, &path) {
            Ok(()) => {
                sync_folder(folder);
                return Ok(path);
            }
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
            Err(error) => return Err(fault(&path)(error)),
        }
    }
    let full = io::Error::new(ErrorKind::AlreadyExists, "there are too many letters of this name");
    Err(fault(folder)(full))
}

/// A file that goes when the letter lies under its name, or when something fails.
struct Draft(PathBuf);

impl Drop for Draft {
    fn drop(&mut self) {
        // It is gone already where it was renamed.
        let _ = fs::remove_file(&self.0);
    }
}

fn write_draft(folder: &Path, letter: &Composed) -> Result<Draft, FolderError> {
    let mut number = 0;
    loop {
        let path = folder.join(format!(".{}.{}.{number}.tmp", letter.file_stem, std::process::id()));
        match OpenOptions::new().write(true).create_new(true).open(&path) {
            Ok(file) => {
                let draft = Draft(path.clone());
                fill(file, &letter.message).map_err(|source| FolderError { path, source })?;
                return Ok(draft);
            }
            Err(error) if error.kind() == ErrorKind::AlreadyExists && number < MOST_OF_A_NAME => number += 1,
            Err(source) => return Err(FolderError { path, source }),
        }
    }
}

fn fill(mut file: File, message: &[u8]) -> io::Result<()> {
    file.write_all(message)?;
    file.sync_all()
}

/// Gives the draft its name. A link fails where the name is taken, which a rename would not; where the file system knows
/// no links, the name is taken first by an empty file.
fn put(draft: &Path, path: &Path) -> io::Result<()> {
    match fs::hard_link(draft, path) {
        Err(error) if error.kind() != ErrorKind::AlreadyExists => {
            OpenOptions::new().write(true).create_new(true).open(path)?;
            fs::rename(draft, path)
        }
        done => done,
    }
}

/// Makes the new name last. Not every system can do this to a folder; the letter's content is safe already.
fn sync_folder(folder: &Path) {
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
}
