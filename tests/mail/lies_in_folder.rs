//! Letters laid into the outbox folder: whole or not at all, and never one over another.

use super::example::composed;
use std::path::{Path, PathBuf};
use stillroom::post::letter::Composed;
use stillroom::post::send::{Method, SendError, Sent};

fn sent(folder: &Path, letter: &Composed) -> Result<PathBuf, SendError> {
    match Method::Folder(folder.to_owned()).send(letter)? {
        Sent::File(path) => Ok(path),
        Sent::Server(words) => panic!("{words}"),
    }
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

fn another(mark: &str) -> Composed {
    let mut letter = composed();
    letter.message.extend_from_slice(mark.as_bytes());
    letter
}

#[test]
fn a_letter_lies_there_whole_and_alone() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("deep").join("outbox");
    let path = sent(&folder, &composed()).unwrap();
    assert_eq!(path, folder.join("2027-03-01-reorder.eml"));
    assert!(std::fs::read(&path).unwrap() == composed().message);
    assert_eq!(names(&folder), ["2027-03-01-reorder.eml"]);
}

#[test]
fn another_letter_gets_another_name_and_the_same_letter_its_own() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path();
    let letters = [composed(), another("a"), another("b")];
    for _ in 0..2 {
        let paths: Vec<PathBuf> = letters.iter().map(|letter| sent(folder, letter).unwrap()).collect();
        for (path, letter) in paths.iter().zip(&letters) {
            assert!(std::fs::read(path).unwrap() == letter.message);
        }
    }
    assert_eq!(names(folder), ["2027-03-01-reorder-2.eml", "2027-03-01-reorder-3.eml", "2027-03-01-reorder.eml"]);
}

#[test]
fn letters_laid_down_at_once_do_not_meet() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path();
    let letters: Vec<Composed> = (0..12).map(|number| another(&format!("letter {number}"))).collect();
    std::thread::scope(|scope| {
        for letter in &letters {
            scope.spawn(|| sent(folder, letter).unwrap());
        }
    });
    let mut held: Vec<Vec<u8>> = names(folder).iter().map(|name| std::fs::read(folder.join(name)).unwrap()).collect();
    let mut expected: Vec<Vec<u8>> = letters.into_iter().map(|letter| letter.message).collect();
    held.sort();
    expected.sort();
    assert!(held == expected, "twelve letters, each whole, and nothing else: {:?}", names(folder));
}

#[test]
fn a_draft_left_by_a_crash_is_no_hindrance() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path();
    std::fs::write(folder.join(format!(".2027-03-01-reorder.{}.0.tmp", std::process::id())), "half").unwrap();
    let path = sent(folder, &composed()).unwrap();
    assert!(std::fs::read(path).unwrap() == composed().message);
}

#[test]
fn a_folder_that_is_none_is_named() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("outbox");
    std::fs::write(&file, "a file").unwrap();
    let error = sent(&file, &composed()).unwrap_err();
    assert!(error.to_string().contains(&file.display().to_string()), "{error}");
    assert!(!error.is_passing());
    assert_eq!(std::fs::read(&file).unwrap(), b"a file");
}
