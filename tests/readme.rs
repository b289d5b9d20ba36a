//! The README's tour is real: every command in it is run, in order, and its output compared.
//!
//! In a `console` block a line after `$ ` is a command, what follows is its output; a line of three dots stands for any
//! number of lines.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use assert_cmd::Command;
use std::path::Path;

/// The commands of the README with their expected outputs.
fn tour() -> Vec<(String, Vec<String>)> {
    let readme = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let mut commands: Vec<(String, Vec<String>)> = Vec::new();
    let mut inside = false;
    for line in readme.lines() {
        if line.starts_with("```") {
            inside = line == "```console";
            continue;
        }
        match line.strip_prefix("$ ").filter(|_| inside) {
            Some(command) => commands.push((command.to_owned(), Vec::new())),
            None if inside => commands.last_mut().unwrap().1.push(line.to_owned()),
            None => {}
        }
    }
    commands
}

/// True where the lines are as expected, three dots standing for any number of them.
fn matches(expected: &[String], actual: &[&str]) -> bool {
    match expected.split_first() {
        None => actual.is_empty(),
        Some((dots, rest)) if dots == "..." => (0..=actual.len()).any(|skipped| matches(rest, &actual[skipped..])),
        Some((line, rest)) => {
            actual.first().is_some_and(|first| first.trim_end() == line.trim_end()) && matches(rest, &actual[1..])
        }
    }
}

#[test]
fn the_tour_is_real_output() {
    let folder = tempfile::tempdir().unwrap();
    let tour = tour();
    assert!(tour.len() >= 8, "the README shows only {} commands", tour.len());
    let mut variables = vec![("HOME".to_owned(), folder.path().to_str().unwrap().to_owned())];
    for (command, expected) in tour {
        let words: Vec<String> = words(&command);
        let mut words = words.iter().map(String::as_str);
        let program = words.next().unwrap();
        if program == "export" {
            let (name, value) = words.next().unwrap().split_once('=').unwrap();
            variables.push((name.to_owned(), value.to_owned()));
            continue;
        }
        assert_eq!(program, "stillroom", "{command}");
        let output = Command::cargo_bin("stillroom")
            .unwrap()
            .env_clear()
            .envs(variables.clone())
            .current_dir(folder.path())
            .args(words)
            .output()
            .unwrap();
        let text = String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap();
        let actual: Vec<&str> = text.lines().collect();
        assert!(matches(&expected, &actual), "$ {command}\nis now:\n{text}");
    }
}

/// The words of a command, those in double quotes together.
fn words(command: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (place, part) in command.split('"').enumerate() {
        if place % 2 == 1 {
            words.push(part.to_owned());
        } else {
            words.extend(part.split_whitespace().map(str::to_owned));
        }
    }
    words
}

#[test]
fn dots_stand_for_any_lines() {
    let lines = |text: &[&str]| text.iter().map(|line| (*line).to_owned()).collect::<Vec<_>>();
    assert!(matches(&lines(&["a", "...", "c"]), &["a", "b", "b", "c"]));
    assert!(matches(&lines(&["a", "..."]), &["a"]));
    assert!(!matches(&lines(&["a", "...", "d"]), &["a", "b", "c"]));
    assert!(!matches(&lines(&["a"]), &["a", "b"]));
}
