//! Whole copies of a store. Each is written under a passing name, examined, and only then given its own, so that no half
//! copy ever bears a good name; and one is put back in the store's place, with what it replaces kept beside it.

use super::error::StoreError;
use super::health::{Checkup, examine};
use super::open::{APPLICATION_ID, begins_as_a_store, file_error, tables_in};
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use std::ffi::OsString;
use std::fs::{self, File, OpenOptions};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How often a lock is asked for that another program holds, and how long is waited in between: five seconds in all.
const TRIES: u32 = 100;
const PAUSE: Duration = Duration::from_millis(50);

/// What SQLite may keep beside a file.
const COMPANIONS: [&str; 3] = ["-wal", "-journal", "-shm"];

/// What [`put_back`] did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PutBack {
    /// What was found in the copy.
    pub checkup: Checkup,
    /// Where the store lies that it replaced; `None` where there was none.
    pub replaced: Option<PathBuf>,
}

/// Copies the store at `from` to `to` as it stands at one moment, while others may write, and examines the copy. Where the
/// name is taken, a number is put behind it if `numbered`. Returns the copy's name and what was found in it.
///
/// # Errors
/// [`StoreError::Hurt`] where the copy does not pass: none is left then. [`StoreError::FileThere`] where the name is taken,
/// and whatever keeps the store from being read or the copy from being written.
pub fn back_up(from: &Path, to: &Path, numbered: bool) -> Result<(PathBuf, Checkup), StoreError> {
    if !begins_as_a_store(from)? {
        return Err(StoreError::NotAStore { path: from.to_owned() });
    }
    let source = open(from, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    let part = Part::beside(to, from)?;
    part.fill(&source)?;
    let checkup = sound(&part.path, from)?;
    Ok((part.name(to, numbered)?, checkup))
}

/// Copies what a connection sees to `to`, with a number where the name is taken. It is not examined: a store is copied as
/// it is before something is done to it.
pub(super) fn keep(source: &Connection, from: &Path, to: &Path) -> Result<PathBuf, StoreError> {
    let part = Part::beside(to, from)?;
    part.fill(source)?;
    part.name(to, true)
}

/// Puts the copy in the place of the store at `store`. The copy is examined first and stays where it is; what it replaces
/// is kept as `keep_as`, with a number where that name is taken. Either all of it is done or nothing.
///
/// # Errors
/// [`StoreError::Hurt`] where the copy does not pass, [`StoreError::InUse`] where another program has the store open,
/// [`StoreError::NotAStore`] where another program's database lies in the store's place, and whatever keeps a file from being
/// read or written.
pub fn put_back(copy: &Path, store: &Path, keep_as: &Path) -> Result<PutBack, StoreError> {
    sound(copy, copy)?;
    if let Some(folder) = store.parent() {
        fs::create_dir_all(folder).map_err(|error| file_error(folder, error))?;
    }
    let part = Part::beside(store, store)?;
    part.fill(&open(copy, OpenFlags::SQLITE_OPEN_READ_WRITE)?)?;
    // What was examined is what is put back, whatever somebody did to the copy meanwhile.
    let checkup = sound(&part.path, copy)?;
    let replaced = match fs::metadata(store) {
        Err(error) if error.kind() == ErrorKind::NotFound => {
            part.name(store, false)?;
            None
        }
        Err(error) => return Err(file_error(store, error)),
        Ok(_) if begins_as_a_store(store)? => match exchange(&part, store, keep_as) {
            Ok(kept) => Some(kept),
            // It cannot be read any more: the files themselves are moved.
            Err(StoreError::Corrupt { .. } | StoreError::Sqlite(_)) => Some(exchange_files(part, store, keep_as)?),
            Err(error) => return Err(error),
        },
        Ok(_) => Some(exchange_files(part, store, keep_as)?),
    };
    sound(store, store)?;
    Ok(PutBack { checkup, replaced })
}

/// What was found in a file; [`StoreError::Hurt`], told of `told`, where it is not sound.
fn sound(path: &Path, told: &Path) -> Result<Checkup, StoreError> {
    let checkup = examine(path)?;
    match checkup.hurts.first() {
        None => Ok(checkup),
        Some(first) => Err(StoreError::Hurt {
            path: told.to_owned(),
            first: format!("{}: {}", first.law, first.message),
            more: checkup.hurts.len() - 1,
        }),
    }
}

fn open(path: &Path, flags: OpenFlags) -> Result<Connection, StoreError> {
    let connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    connection.busy_timeout(PAUSE * TRIES)?;
    Ok(connection)
}

/// Puts what is in `part` into the store by way of SQLite, in one transaction: whoever opens the store afterwards sees one
/// or the other, also after a crash. Nobody else has it open meanwhile, so that nothing is written between the copy of
/// the old and the new.
fn exchange(part: &Part, store: &Path, keep_as: &Path) -> Result<PathBuf, StoreError> {
    let mut target = open(store, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    target.query_row("PRAGMA locking_mode = EXCLUSIVE", [], |_| Ok(()))?;
    match target.execute_batch("BEGIN EXCLUSIVE; COMMIT;").map_err(StoreError::from) {
        Err(StoreError::Locked) => return Err(StoreError::InUse { path: store.to_owned() }),
        outcome => outcome?,
    }
    let id: i64 = target.query_row("PRAGMA application_id", [], |row| row.get(0))?;
    if id != APPLICATION_ID && tables_in(&target)? > 0 {
        return Err(StoreError::NotAStore { path: store.to_owned() });
    }
    let kept = keep(&target, store, keep_as)?;
    let source = open(&part.path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    all_at_once(&Backup::new(&source, &mut target)?)?;
    Ok(kept)
}

/// Moves the files of a store that SQLite cannot read. The write-ahead log goes first: beside another file it would be
/// played into that.
fn exchange_files(part: Part, store: &Path, keep_as: &Path) -> Result<PathBuf, StoreError> {
    let mut number = 1_u32;
    let kept = loop {
        let name = numbered_name(keep_as, number);
        match fs::hard_link(store, &name) {
            Ok(()) => break name,
            Err(error) if error.kind() == ErrorKind::AlreadyExists => number = number.saturating_add(1),
            Err(_) => {
                fs::copy(store, &name).map_err(|error| file_error(&name, error))?;
                break name;
            }
        }
    };
    for companion in COMPANIONS {
        let (from, to) = (with_end(store, companion), with_end(&kept, companion));
        match fs::rename(&from, to) {
            Err(error) if error.kind() != ErrorKind::NotFound => return Err(file_error(&from, error)),
            _ => {}
        }
    }
    fs::rename(&part.path, store).map_err(|error| file_error(store, error))?;
    sync_folder(store)?;
    Ok(kept)
}

/// Takes all pages in one step: one moment of the source, and no beginning anew when somebody writes to it.
fn all_at_once(backup: &Backup<'_, '_>) -> Result<(), StoreError> {
    for _ in 0..TRIES {
        match backup.step(-1)? {
            StepResult::Done => return Ok(()),
            StepResult::More => {}
            _ => std::thread::sleep(PAUSE),
        }
    }
    Err(StoreError::Locked)
}

/// A copy under its passing name, `workshop-copy.4711.part`; gone when this is dropped. It is locked as long as this
/// program is at it, so that what a program left that was killed can be told from it.
struct Part {
    path: PathBuf,
    _held: File,
}

impl Part {
    /// A new one in the folder of `to`, named after the store at `from`.
    fn beside(to: &Path, from: &Path) -> Result<Self, StoreError> {
        let stem = format!("{}-copy.", stem(from));
        let folder = to.parent().unwrap_or(Path::new(""));
        sweep(folder, &stem);
        for number in 1_u32.. {
            let path = folder.join(format!("{stem}{}-{number}.part", std::process::id()));
            match OpenOptions::new().write(true).create_new(true).open(&path) {
                Ok(file) => {
                    // Where a disk knows no locks, what is left of a killed copy stays.
                    let _ = file.try_lock();
                    return Ok(Self { path, _held: file });
                }
                Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
                Err(error) => return Err(file_error(&path, error)),
            }
        }
        Err(StoreError::FileThere { path: to.to_owned() })
    }

    /// Copies what `source` sees, as one file that needs no other beside it, and sees to it that it is on the disk.
    fn fill(&self, source: &Connection) -> Result<(), StoreError> {
        let mut target = Connection::open(&self.path)?;
        all_at_once(&Backup::new(source, &mut target)?)?;
        drop(target);
        // Its head still says that it has a write-ahead log; a copy on a disk that cannot be written could then not be read.
        let target = open(&self.path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        target.query_row("PRAGMA journal_mode = DELETE", [], |_| Ok(()))?;
        target.close().map_err(|(_, error)| error)?;
        let file = OpenOptions::new().write(true).open(&self.path);
        file.and_then(|file| file.sync_all()).map_err(|error| file_error(&self.path, error))
    }

    /// Gives it its name. What has that name already is never replaced.
    fn name(self, to: &Path, numbered: bool) -> Result<PathBuf, StoreError> {
        let mut number = 1_u32;
        loop {
            let name = if numbered { numbered_name(to, number) } else { to.to_owned() };
            let taken = match fs::hard_link(&self.path, &name) {
                Ok(()) => false,
                Err(error) if error.kind() == ErrorKind::AlreadyExists => true,
                Err(_) if name.symlink_metadata().is_ok() => true,
                // A disk that knows no links, a USB stick say.
                Err(_) => {
                    fs::rename(&self.path, &name).map_err(|error| file_error(&name, error))?;
                    false
                }
            };
            match (taken, numbered) {
                (false, _) => {
                    sync_folder(&name)?;
                    return Ok(name);
                }
                (true, true) => number = number.saturating_add(1),
                (true, false) => return Err(StoreError::FileThere { path: name }),
            }
        }
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        remove(&self.path);
    }
}

fn remove(part: &Path) {
    let _ = fs::remove_file(part);
    for companion in COMPANIONS {
        let _ = fs::remove_file(with_end(part, companion));
    }
}

/// Takes away what copies left that were killed: nobody holds it. Nothing depends on whether that succeeds.
fn sweep(folder: &Path, beginning: &str) {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.filter_map(Result::ok) {
        let name = entry.file_name();
        let Some(middle) = name.to_str().and_then(|name| name.strip_prefix(beginning)?.strip_suffix(".part")) else {
            continue;
        };
        if middle.chars().all(|letter| letter.is_ascii_digit() || letter == '-')
            && let Ok(file) = File::open(entry.path())
            && file.try_lock().is_ok()
        {
            remove(&entry.path());
        }
    }
}

/// `workshop-2027-03-09-0815.sqlite`, `workshop-2027-03-09-0815-2.sqlite` ...
fn numbered_name(path: &Path, number: u32) -> PathBuf {
    if number == 1 {
        return path.to_owned();
    }
    let end = path.extension().map(|end| format!(".{}", end.to_string_lossy())).unwrap_or_default();
    path.with_file_name(format!("{}-{number}{end}", stem(path)))
}

fn stem(path: &Path) -> String {
    path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default()
}

fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut whole = OsString::from(path);
    whole.push(end);
    PathBuf::from(whole)
}

/// A new name is on the disk once its folder is.
fn sync_folder(path: &Path) -> Result<(), StoreError> {
    if cfg!(unix) {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(|error| file_error(folder, error))?;
    }
    Ok(())
}
