//! The house keeps its order: what each layer may import, what each file opens with, how long it may be.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use std::fs;
use std::path::{Path, PathBuf};

/// Words that must not stand in the code of a folder of `src`, with the reason.
const BARRED: &[(&str, &[&str], &str)] = &[
    (
        "plan",
        &[
            "rusqlite",
            "refinery",
            "lettre",
            "clap",
            "tracing",
            "serde",
            "std::fs",
            "std::env",
            "std::io",
            "std::time",
            "crate::book",
            "crate::store",
            "crate::intake",
            "crate::view",
            "crate::render",
            "crate::post",
            "crate::commands",
            "crate::config",
            "crate::clock",
        ],
        "the core is pure and knows no other layer",
    ),
    (
        "book",
        &[
            "rusqlite",
            "refinery",
            "lettre",
            "clap",
            "serde",
            "std::fs",
            "std::env",
            "std::io",
            "crate::store",
            "crate::intake",
            "crate::view",
            "crate::render",
            "crate::post",
            "crate::commands",
            "crate::config",
        ],
        "the book is plain rows over the core",
    ),
    (
        "store",
        &["lettre", "clap", "crate::intake", "crate::view", "crate::render", "crate::post", "crate::commands"],
        "the store knows the book and the core only",
    ),
    (
        "intake",
        &["rusqlite", "refinery", "lettre", "clap", "crate::store", "crate::view", "crate::post", "crate::commands"],
        "files become rows without the store",
    ),
    (
        "view",
        &[
            "rusqlite",
            "refinery",
            "lettre",
            "clap",
            "std::fs",
            "std::env",
            "std::io",
            "minijinja",
            "comfy_table",
            "crate::store",
            "crate::intake",
            "crate::render",
            "crate::post",
            "crate::commands",
        ],
        "a view is plain data made from the plan and the book's rows",
    ),
    (
        "render",
        &[
            "rusqlite",
            "refinery",
            "lettre",
            "clap",
            "crate::store",
            "crate::intake",
            "crate::post",
            "crate::commands",
            "crate::book",
        ],
        "a renderer sees views only",
    ),
    (
        "post",
        &["rusqlite", "refinery", "clap", "crate::store", "crate::intake", "crate::commands", "crate::book"],
        "letters are made from views",
    ),
];

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
    files.sort();
    files
}

/// The lines of a file that are code, with their numbers.
fn code(path: &Path) -> Vec<(usize, String)> {
    let text = fs::read_to_string(path).unwrap();
    let lines = text.lines().enumerate().map(|(number, line)| (number + 1, line.trim().to_owned()));
    lines.filter(|(_, line)| !line.starts_with("//")).collect()
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// True where `word` stands in `line` as a path or a word of its own: `serde` is not in `deserted`.
fn mentions(line: &str, word: &str) -> bool {
    let part_of_a_word = |letter: char| letter.is_alphanumeric() || letter == '_';
    line.match_indices(word).any(|(start, _)| {
        !line[..start].ends_with(part_of_a_word) && !line[start + word.len()..].starts_with(part_of_a_word)
    })
}

#[test]
fn layers_import_only_what_they_may() {
    let mut breaches = Vec::new();
    let mut looked_at = 0;
    for (layer, barred, reason) in BARRED {
        for file in rust_files(&root().join("src").join(layer)) {
            looked_at += 1;
            for (number, line) in code(&file) {
                for word in barred.iter().filter(|word| mentions(&line, word)) {
                    breaches.push(format!("{}:{number}: {word}: {reason}", file.display()));
                }
            }
        }
    }
    assert!(looked_at > 40, "only {looked_at} files were looked at");
    assert!(breaches.is_empty(), "{}", breaches.join("\n"));
}

#[test]
fn sql_lives_in_the_store_only() {
    for file in rust_files(&root().join("src")) {
        if file.starts_with(root().join("src/store")) {
            continue;
        }
        for (number, line) in code(&file) {
            assert!(!mentions(&line, "rusqlite"), "{}:{number}: SQL outside the store", file.display());
        }
    }
}

#[test]
fn only_commands_see_store_and_renderers() {
    for file in rust_files(&root().join("src")) {
        let lines = code(&file);
        let uses = |word: &str| lines.iter().any(|(_, line)| mentions(line, word));
        let in_commands = file.starts_with(root().join("src/commands"));
        assert!(
            in_commands || !(uses("crate::store") && uses("crate::render")) || file.ends_with("error.rs"),
            "{} sees both the store and the renderers",
            file.display()
        );
    }
}

#[test]
fn every_file_says_first_what_lives_in_it() {
    for folder in ["src", "tests"] {
        for file in rust_files(&root().join(folder)) {
            let text = fs::read_to_string(&file).unwrap();
            assert!(text.starts_with("//! "), "{} does not open with `//! `", file.display());
        }
    }
}

#[test]
fn files_and_lines_keep_their_measure() {
    for file in rust_files(&root().join("src")) {
        let text = fs::read_to_string(&file).unwrap();
        let lines = text.lines().count();
        assert!(lines <= 700, "{} has {lines} lines: is it one thing?", file.display());
        for (number, line) in text.lines().enumerate() {
            let width = line.chars().count();
            assert!(width <= 140, "{}:{}: {width} characters", file.display(), number + 1);
        }
    }
}

#[test]
fn no_work_is_left_lying() {
    // Spelled in halves, so that this file does not find itself.
    let words =
        [["TO", "DO"], ["FIX", "ME"], ["XX", "X"], ["todo", "!"], ["unimplemented", "!"]].map(|halves| halves.concat());
    for folder in ["src", "tests", "migrations", "reports"] {
        let folder = root().join(folder);
        let files = if folder.ends_with("src") || folder.ends_with("tests") {
            rust_files(&folder)
        } else {
            fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).filter(|path| path.is_file()).collect()
        };
        for file in files {
            let text = fs::read_to_string(&file).unwrap();
            for word in &words {
                assert!(!text.contains(word.as_str()), "{} holds {word}", file.display());
            }
        }
    }
}

#[test]
fn every_crate_has_its_line_in_the_guide() {
    let manifest = fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let table = guide.split("## Crates, and what each is for").nth(1).unwrap();
    // The first column of each row, without what stands in brackets: features and notes.
    let rows = table.lines().filter_map(|line| line.strip_prefix("| ")?.split(" | ").next());
    let plain = |row: &str| row.split(['(', ')']).step_by(2).collect::<String>();
    let known = |row: &str| -> Vec<(bool, String)> {
        let of_tests = row.starts_with("tests only: ");
        let names = plain(row.trim_start_matches("tests only: "));
        names.split(',').map(|name| (of_tests, name.trim().to_owned())).collect()
    };
    let known: Vec<(bool, String)> = rows.skip(1).flat_map(known).collect();
    let mut part = "";
    let mut used: Vec<(bool, String)> = Vec::new();
    for line in manifest.lines() {
        if line.starts_with('[') {
            part = line;
        } else if let Some((name, _)) = line.split_once(" = ").filter(|_| part.ends_with("dependencies]")) {
            used.push((part.contains("dev-"), name.to_owned()));
        }
    }
    assert!(used.len() > 30, "only {used:?}");
    for one in &used {
        assert!(known.contains(one), "{} has no line of its own kind in DEVELOPERS.md", one.1);
    }
    for one in known.iter().filter(|(_, name)| !name.starts_with('-')) {
        assert!(used.contains(one), "{} stands in DEVELOPERS.md and is not used so", one.1);
    }
}
