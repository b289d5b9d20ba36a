//! A workshop in a temporary folder, and the program run on it.

use assert_cmd::Command;
use serde_json::Value;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// The first day of the example workshop.
pub const FIRST_DAY: &str = "2027-03-01";

/// A folder with a store in it.
pub struct Workshop {
    folder: TempDir,
}

/// What the program said.
pub struct Answer {
    pub status: i32,
    pub out: String,
    pub err: String,
}

impl Workshop {
    /// An empty folder.
    pub fn empty() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    /// The example workshop, imported.
    pub fn example() -> Self {
        let workshop = Self::empty();
        let files = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/workshop");
        workshop.done(&["import", files.to_str().unwrap()]);
        workshop
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes a file into the folder.
    pub fn file(&self, name: &str, text: &str) -> String {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    }

    /// Runs the program on the store of the folder, on a day.
    pub fn run_on(&self, day: &str, arguments: &[&str]) -> Answer {
        let output = Command::cargo_bin("stillroom")
            .unwrap()
            .env_clear()
            .env("HOME", self.folder.path())
            .current_dir(self.folder.path())
            .args(["--store", "workshop.sqlite", "--as-of", day])
            .args(arguments)
            .output()
            .unwrap();
        Answer {
            status: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// Runs the program and asks that it succeeds.
    pub fn done(&self, arguments: &[&str]) -> String {
        self.done_on(FIRST_DAY, arguments)
    }

    /// The same on another day.
    pub fn done_on(&self, day: &str, arguments: &[&str]) -> String {
        let answer = self.run_on(day, arguments);
        assert_eq!(answer.status, 0, "{arguments:?} in {}\n{}{}", self.folder.path().display(), answer.out, answer.err);
        assert_eq!(answer.err, "", "{arguments:?}");
        answer.out
    }

    /// Runs the program with `--json`.
    pub fn json(&self, arguments: &[&str]) -> Value {
        self.json_on(FIRST_DAY, arguments)
    }

    /// The same on another day.
    pub fn json_on(&self, day: &str, arguments: &[&str]) -> Value {
        serde_json::from_str(&self.done_on(day, &[arguments, &["--json"]].concat())).unwrap()
    }

    /// Runs the program and asks that it refuses with this status; returns what it said.
    pub fn refused(&self, status: i32, arguments: &[&str]) -> String {
        self.refused_on(FIRST_DAY, status, arguments)
    }

    /// The same on another day.
    pub fn refused_on(&self, day: &str, status: i32, arguments: &[&str]) -> String {
        let answer = self.run_on(day, arguments);
        assert_eq!(answer.status, status, "{arguments:?}\n{}{}", answer.out, answer.err);
        assert_eq!(answer.out, "", "{arguments:?}");
        answer.err
    }
}
