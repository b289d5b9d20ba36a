//! A scene: a folder as it stands before a command, the command, and what the folder must look like after it was killed
//! or a disk failed it.

use rusqlite::Connection;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use stillroom::plan::money::Currency;
use stillroom::store::{Store, StoreError, examine};
use tempfile::TempDir;

/// The moment at which everything happens.
const MOMENT: &str = "2027-03-01T09:00:00Z";

/// All that stands in a store, table by table; empty where there is none.
#[derive(Clone, PartialEq, Eq)]
pub struct State(String);

/// What a command may do, and how a folder looks before and after.
pub struct Scene {
    /// What it is called.
    pub name: String,
    /// The folder before the command; copied for every run.
    pub start: TempDir,
    /// The command.
    pub arguments: Vec<String>,
    /// The store before it.
    pub before: State,
    /// The store after it.
    pub after: State,
    /// A new store with nothing in it, where the command makes one first: that is a step of its own.
    pub empty_store: Option<State>,
    /// How often it was looked whether the command can be run again.
    pub checks: AtomicUsize,
    /// How long it takes when nothing comes between.
    pub takes: Duration,
}

/// How a run ended.
pub struct Ended {
    pub status: ExitStatus,
    pub words: String,
}

/// Runs the program in a folder.
pub fn program(folder: &Path, arguments: &[String], through: &[&str]) -> Child {
    // The long run may be given a program that is not built anew meanwhile.
    let stillroom = std::env::var("STILLROOM_PROGRAM").unwrap_or_else(|_| env!("CARGO_BIN_EXE_stillroom").to_owned());
    let mut words: Vec<&str> = through.iter().copied().chain([stillroom.as_str()]).collect();
    words.extend(["--store", "workshop.sqlite", "--config", "config.toml", "--as-of", MOMENT]);
    words.extend(arguments.iter().map(String::as_str));
    let mut command = Command::new(words[0]);
    command.args(&words[1..]).current_dir(folder).env_clear().env("HOME", folder);
    if !through.is_empty() {
        command.env("PATH", std::env::var_os("PATH").unwrap_or_default());
    }
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

/// Waits for the program.
pub fn ended(child: Child) -> Ended {
    let output = child.wait_with_output().unwrap();
    let words = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    Ended { status: output.status, words }
}

/// Runs a command that has to succeed.
pub fn done(folder: &Path, words: &str) -> String {
    let arguments: Vec<String> = words.split_whitespace().map(str::to_owned).collect();
    let ended = ended(program(folder, &arguments, &[]));
    assert!(ended.status.success(), "{words}: {}", ended.words);
    ended.words
}

/// Copies the files of a folder, and of those in it, into another.
pub fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_folder(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// The store of a folder.
pub fn store(folder: &Path) -> PathBuf {
    folder.join("workshop.sqlite")
}

/// All that stands in a store. It has to be sound.
pub fn state(path: &Path) -> State {
    match examine(path) {
        Err(StoreError::NotFound { .. }) => return State(String::new()),
        Err(error) => panic!("{}: {error}", path.display()),
        Ok(checkup) => assert!(checkup.is_sound(), "{}: {:?}", path.display(), checkup.hurts),
    }
    let connection = Connection::open(path).unwrap();
    let tables = "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name";
    let mut statement = connection.prepare(tables).unwrap();
    let names: Vec<String> = statement.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    let mut text = String::new();
    for name in names {
        // When a migration was applied is the computer's own time, and which tries were made, a program's number.
        let columns = match name.as_str() {
            "refinery_schema_history" => "version, name, checksum",
            _ => "*",
        };
        let mut rows = connection
            .prepare(&format!("SELECT {columns} FROM {name} ORDER BY 1, 2"))
            .unwrap_or_else(|_| connection.prepare(&format!("SELECT {columns} FROM {name}")).unwrap());
        let width = rows.column_count();
        let lines = rows.query_map([], |row| {
            let cells: rusqlite::Result<Vec<_>> =
                (0..width).map(|cell| row.get::<_, rusqlite::types::Value>(cell)).collect();
            cells.map(|cells| format!("{name} {cells:?}\n"))
        });
        text.extend(lines.unwrap().map(Result::unwrap));
    }
    State(text)
}

impl State {
    /// True where there is no store.
    pub fn is_nothing(&self) -> bool {
        self.0.is_empty()
    }

    /// The lines in which two differ, to be shown.
    fn against(&self, other: &Self) -> String {
        let mine: Vec<&str> = self.0.lines().collect();
        let others: Vec<&str> = other.0.lines().collect();
        let only = |one: &[&str], other: &[&str]| -> Vec<String> {
            one.iter().filter(|line| !other.contains(line)).take(8).map(|line| (*line).to_owned()).collect()
        };
        format!("{:#?}\ninstead of\n{:#?}", only(&mine, &others), only(&others, &mine))
    }
}

fn empty_store() -> State {
    let folder = tempfile::tempdir().unwrap();
    drop(Store::create(&store(folder.path()), Currency::EUR).unwrap());
    state(&store(folder.path()))
}

/// The files of a folder, and of those in it.
fn files_under(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { found.extend(files_under(&path)) } else { found.push(path) }
    }
    found.sort();
    found
}

/// Those that bear the name of a store, but for the store.
fn other_stores(folder: &Path) -> Vec<PathBuf> {
    let named =
        |path: &PathBuf| path.extension().is_some_and(|end| end == "sqlite") && !path.ends_with("workshop.sqlite");
    files_under(folder).into_iter().filter(named).collect()
}

impl Scene {
    /// A scene in a folder that `prepare` fills; runs the command once to see what it does.
    pub fn new(name: &str, command: &str, prepare: impl FnOnce(&Path)) -> Self {
        let start = tempfile::tempdir().unwrap();
        fs::write(start.path().join("config.toml"), "time_zone = 'UTC'\n").unwrap();
        prepare(start.path());
        let arguments: Vec<String> = command.split_whitespace().map(str::to_owned).collect();
        let before = state(&store(start.path()));
        let work = tempfile::tempdir().unwrap();
        copy_folder(start.path(), work.path());
        let begun = Instant::now();
        let ended = ended(program(work.path(), &arguments, &[]));
        let takes = begun.elapsed();
        assert!(ended.status.success(), "{name}: {}", ended.words);
        let after = state(&store(work.path()));
        let empty_store = (before.is_nothing() && name.starts_with("import")).then(empty_store);
        let scene = Self {
            name: name.to_owned(),
            start,
            arguments,
            before,
            after,
            empty_store,
            checks: AtomicUsize::new(0),
            takes,
        };
        // The same once more is the same: else nothing could be compared.
        let again = scene.fresh();
        assert!(scene.run(again.path(), &[]).status.success());
        assert!(state(&store(again.path())) == scene.after, "{name} is not the same twice");
        scene
    }

    /// A fresh copy of the folder as it stands before the command.
    pub fn fresh(&self) -> TempDir {
        let folder = tempfile::tempdir().unwrap();
        copy_folder(self.start.path(), folder.path());
        folder
    }

    /// Runs the command in a folder.
    pub fn run(&self, folder: &Path, through: &[&str]) -> Ended {
        ended(program(folder, &self.arguments, through))
    }

    /// What has to hold in a folder, however the command ended there. Returns true where it was done.
    ///
    /// The store is sound and is as before or as after, nothing between; it is as after where the command said so. What
    /// bears the name of a copy is sound and whole. Where nothing was done the command can be run again and does all of it
    /// (tried every fourth time: it takes longer than all the rest).
    pub fn check(&self, folder: &Path, said_done: bool, told: &str) -> bool {
        let here = format!("{}, {told}", self.name);
        let found = state(&store(folder));
        let is_done = found == self.after;
        let is_begun = self.empty_store.as_ref() == Some(&found);
        assert!(is_done || is_begun || found == self.before, "{here}: half done: {}", found.against(&self.after));
        assert!(is_done || !said_done, "{here}: it was said to be done, and is not");
        for copy in other_stores(folder) {
            let was_there = self.start.path().join(copy.strip_prefix(folder).unwrap()).exists();
            let whole = state(&copy);
            assert!(
                was_there || whole == self.before,
                "{here}: {} is no copy of what was there: {}",
                copy.display(),
                whole.against(&self.before)
            );
        }
        // A second run has to find its way through whatever the first left lying about.
        if (!is_done || self.after == self.before) && self.checks.fetch_add(1, Ordering::SeqCst).is_multiple_of(4) {
            let again = self.run(folder, &[]);
            assert!(again.status.success(), "{here}: run again: {}", again.words);
            assert!(state(&store(folder)) == self.after, "{here}: run again, it did something else");
            let parts =
                files_under(folder).into_iter().filter(|path| path.extension().is_some_and(|end| end == "part"));
            // Where the copy of the day is there already, the next day's sweeps.
            assert!(self.name.starts_with("post") || parts.count() == 0, "{here}: run again, it left parts of copies");
        }
        is_done
    }
}
