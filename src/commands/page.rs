//! Sheets that go into a file of their own: written beside it first and then moved there, so that nobody finds half a
//! page; what is there already is replaced only where it is a page itself.

use super::report::own_templates;
use super::session::Session;
use crate::error::CommandError;
use crate::render::html::{Rendered, render};
use serde::Serialize;
use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

/// Fills the template `name` and writes the page to `path`. An older page there is replaced.
///
/// # Errors
/// Where something else is there already, or it cannot be written; the message names the path.
pub fn write_page(session: &Session, name: &str, page: &impl Serialize, path: &Path) -> Result<(), CommandError> {
    write_html(&render(name, page, Some(&own_templates(session)?))?, path)
}

/// Writes a page to `path`, and to the log what was wrong with the workshop's own template. An older page there is replaced.
///
/// # Errors
/// Where something else is there already, or it cannot be written; the message names the path.
pub fn write_html(rendered: &Rendered, path: &Path) -> Result<(), CommandError> {
    for warning in &rendered.warnings {
        tracing::warn!("{warning}");
    }
    match is_page(path) {
        Ok(true) => {}
        Ok(false) => return Err(there_already(path)),
        Err(error) if error.kind() == ErrorKind::NotFound => {}
        Err(error) => return Err(unwritten(path, &error)),
    }
    put(path, rendered.html.as_bytes()).map_err(|error| unwritten(path, &error))
}

/// Writes a table to `path`. An older table with the same titles is replaced, and nothing else: a file of that name may be one
/// that somebody keeps by hand.
///
/// # Errors
/// Where something else is there already, or it cannot be written; the message names the path.
pub fn write_table(path: &Path, bytes: &[u8]) -> Result<(), CommandError> {
    let titles = |table: &[u8]| table.split(|&octet| octet == b'\n').next().map(<[u8]>::to_vec);
    match beginning(path) {
        Ok(there) if titles(&there) == titles(bytes) => {}
        Ok(_) => return Err(there_already(path)),
        Err(error) if error.kind() == ErrorKind::NotFound => {}
        Err(_) if path.is_dir() => return Err(there_already(path)),
        Err(error) => return Err(unwritten(path, &error)),
    }
    put(path, bytes).map_err(|error| unwritten(path, &error))
}

/// Enough of a file to hold the titles of any table of ours.
fn beginning(path: &Path) -> std::io::Result<Vec<u8>> {
    let mut start = Vec::new();
    File::open(path)?.take(1 << 16).read_to_end(&mut start)?;
    Ok(start)
}

/// Writes a new file. One that is there already is never replaced: somebody may have filled it in.
///
/// # Errors
/// Where something is there already, or it cannot be written; the message names the path.
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), CommandError> {
    if path.symlink_metadata().is_ok() {
        return Err(there_already(path));
    }
    put(path, bytes).map_err(|error| unwritten(path, &error))
}

/// Writes a file over the one that is there, which the maker has said may go.
///
/// # Errors
/// Where it cannot be written; the message names the path.
pub fn write_over(path: &Path, bytes: &[u8]) -> Result<(), CommandError> {
    put(path, bytes).map_err(|error| unwritten(path, &error))
}

/// True where the file begins as a page does, or is called one and begins with a tag: a workshop's own template may
/// leave out more. Stores, tables and letters do neither.
fn is_page(path: &Path) -> std::io::Result<bool> {
    if !path.metadata()?.is_file() {
        return Ok(false);
    }
    let mut start = Vec::new();
    File::open(path)?.take(64).read_to_end(&mut start)?;
    let start = String::from_utf8_lossy(&start).trim_start().to_ascii_lowercase();
    let called_so = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("html"));
    Ok(start.starts_with("<!doctype html") || start.starts_with("<html") || (called_so && start.starts_with('<')))
}

fn there_already(path: &Path) -> CommandError {
    CommandError::input(format!("{} is there already; nothing was written to it", path.display()))
        .hint("name another file, or move that one away")
}

fn unwritten(path: &Path, error: &std::io::Error) -> CommandError {
    let error = CommandError::work(format!("{} cannot be written: {error}", path.display()));
    error.hint("name a file in a folder that is there and that you may write to")
}

/// Writes a file of another name in the same folder and moves it to its place in one step.
fn put(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    // A link stays a link: what it leads to is replaced.
    let path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let unfinished = unfinished(&path)?;
    let mut file = OpenOptions::new().write(true).create_new(true).open(&unfinished)?;
    let written = file.write_all(bytes).and_then(|()| file.sync_all());
    drop(file);
    let moved = written.and_then(|()| std::fs::rename(&unfinished, &path));
    if moved.is_err() {
        // The first error is the one to tell.
        let _ = std::fs::remove_file(&unfinished);
    }
    moved
}

/// `page.html.4711.part`: no other run of the program writes to it.
fn unfinished(path: &Path) -> std::io::Result<PathBuf> {
    let name = path.file_name().ok_or_else(|| std::io::Error::new(ErrorKind::InvalidInput, "it names no file"))?;
    let mut name = name.to_owned();
    name.push(format!(".{}.part", std::process::id()));
    Ok(path.with_file_name(name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_written_leaves_nothing_behind() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("taken");
        std::fs::create_dir(&place).unwrap();
        std::fs::write(place.join("something"), "in it").unwrap();
        assert!(put(&place, b"page").is_err());
        assert!(put(&folder.path().join("no-folder/page.html"), b"page").is_err());
        assert!(put(Path::new("/"), b"page").is_err());
        let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        assert_eq!(left, ["taken"]);
    }

    #[test]
    fn only_a_page_is_a_page() {
        let folder = tempfile::tempdir().unwrap();
        let check = |name: &str, text: &[u8], expected: bool| {
            let path = folder.path().join(name);
            std::fs::write(&path, text).unwrap();
            assert_eq!(is_page(&path).unwrap(), expected, "{text:?}");
        };
        check("file", b"<!DOCTYPE html>\n<html>", true);
        check("file", b"\n <html lang=en>", true);
        check("file", b"<p>", false);
        check("own.html", b"<p>", true);
        for name in ["file", "own.html"] {
            check(name, b"lot,material\n", false);
            check(name, b"SQLite format 3\0", false);
            check(name, b"", false);
        }
        assert!(!is_page(folder.path()).unwrap());
    }
}
