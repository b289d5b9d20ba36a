//! The guide to a maker's own spreadsheet is real: its files are written, its settings changed and its commands run, in order.

use crate::workshop::Workshop;
use assert_cmd::Command;

/// True where the lines are as expected; a line of three dots stands for any number of them.
fn matches(expected: &[&str], actual: &[&str]) -> bool {
    match expected.split_first() {
        None => actual.is_empty(),
        Some((&"...", rest)) => (0..=actual.len()).any(|skipped| matches(rest, &actual[skipped..])),
        Some((line, rest)) => {
            actual.first().is_some_and(|first| first.trim_end() == line.trim_end()) && matches(rest, &actual[1..])
        }
    }
}

fn run(workshop: &Workshop, command: &str, expected: &[&str]) {
    let output = Command::cargo_bin("stillroom")
        .unwrap()
        .env_clear()
        .env("HOME", workshop.path(""))
        .env("STILLROOM_STORE", "workshop.sqlite")
        .current_dir(workshop.path(""))
        .args(command.split_whitespace().skip(1))
        .output()
        .unwrap();
    let text = String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap();
    let actual: Vec<&str> = text.lines().collect();
    assert!(matches(expected, &actual), "$ {command}\nis now:\n{text}");
}

#[test]
fn every_step_of_the_guide_is_real() {
    let guide = include_str!("../../docs/guide-import.md");
    let workshop = Workshop::empty();
    let mut blocks = guide.split("```").skip(1).step_by(2);
    let mut commands = 0;
    for block in &mut blocks {
        let (head, body) = block.split_once('\n').unwrap();
        match head.split_once(' ').unwrap_or((head, "")) {
            ("csv", name) => drop(workshop.file(name, body)),
            ("toml", name) => {
                let setting = body.split(" =").next().unwrap();
                let text = std::fs::read_to_string(workshop.path(name)).unwrap();
                let change = |line: &str| {
                    if line.starts_with(&format!("{setting} =")) { body.trim().to_owned() } else { line.to_owned() }
                };
                let changed: Vec<String> = text.lines().map(change).collect();
                assert_ne!(text.trim(), changed.join("\n"), "{body} changes nothing");
                workshop.file(name, &changed.join("\n"));
            }
            ("console", "") => {
                for step in body.split("$ ").skip(1) {
                    let (command, expected) = step.split_once('\n').unwrap();
                    run(&workshop, command, &expected.lines().collect::<Vec<_>>());
                    commands += 1;
                }
            }
            other => panic!("a block of {other:?}"),
        }
    }
    assert_eq!(commands, 14);
}
