//! The documentation is true: what its pages show the program saying is what it says, and every command that they name can be typed.
//!
//! A page is run in a folder of its own, from its first line to its last. In a `console` block a line after `$ ` is a command, what
//! follows is its output; a line of three dots stands for any number of lines. A block of `csv NAME` is a file that the reader
//! has; one of `toml NAME` is a line that she changes in a file, or a file that she writes.
//!
//! `DOCS=write cargo test --test docs` writes the output of today into the pages: look at what it changed.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use assert_cmd::Command;
use std::fs;
use std::path::{Path, PathBuf};
use stillroom::cli::examples::{EXAMPLES, command};
use tempfile::TempDir;

/// README and pages, by name.
fn pages() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut pages: Vec<PathBuf> = fs::read_dir(root.join("docs"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "md"))
        .chain(["README.md", "DEVELOPERS.md"].map(|name| root.join(name)))
        .collect();
    pages.sort();
    pages
}

/// A part of a page.
enum Part {
    /// Lines of any kind.
    Words(String),
    /// A command and what should come of it.
    Shown { command: String, output: Vec<String> },
    /// A file, and whether it is one to change.
    File { name: String, text: String, is_change: bool },
}

fn parts(page: &str) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut block = None;
    for line in page.lines() {
        if let Some(kind) = line.strip_prefix("```") {
            block = if block.is_none() { Some(kind.to_owned()) } else { None };
            parts.push(Part::Words(line.to_owned()));
            if let Some((kind @ ("csv" | "toml"), name)) = block.as_deref().and_then(|kind| kind.split_once(' ')) {
                parts.push(Part::File { name: name.to_owned(), text: String::new(), is_change: kind == "toml" });
            }
            continue;
        }
        let shows = block.as_deref() == Some("console");
        match (parts.last_mut(), line.strip_prefix("$ ")) {
            (_, Some(command)) if shows => {
                parts.push(Part::Shown { command: command.to_owned(), output: Vec::new() });
            }
            (Some(Part::Shown { output, .. }), None) if shows => output.push(line.to_owned()),
            (Some(Part::File { text, .. }), _) if block.is_some() => text.push_str(&format!("{line}\n")),
            _ => parts.push(Part::Words(line.to_owned())),
        }
    }
    parts
}

/// Where a page is followed, step by step.
struct Reader {
    folder: TempDir,
    variables: Vec<(String, String)>,
}

impl Reader {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let home = folder.path().to_str().unwrap().to_owned();
        let variables = vec![("HOME".to_owned(), home), ("STILLROOM_STORE".to_owned(), "workshop.sqlite".to_owned())];
        Self { folder, variables }
    }

    /// What comes of a command: its lines, on standard output first.
    fn types(&mut self, command: &str) -> Vec<String> {
        let words = shlex::split(command).unwrap();
        if words[0] == "export" {
            let (name, value) = words[1].split_once('=').unwrap();
            self.variables.push((name.to_owned(), value.to_owned()));
            return Vec::new();
        }
        assert_eq!(words[0], "stillroom", "{command}");
        let mut program = Command::cargo_bin("stillroom").unwrap();
        program.env_clear().envs(self.variables.clone()).current_dir(self.folder.path()).args(&words[1..]);
        let output = program.output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap();
        text.lines().map(|line| line.trim_end().to_owned()).collect()
    }

    /// Writes a file, or changes the one line of it that sets the same thing.
    fn writes(&self, name: &str, text: &str, is_change: bool) {
        let path = self.folder.path().join(name);
        let before = fs::read_to_string(&path).ok().filter(|_| is_change);
        let Some(before) = before else {
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
            return;
        };
        let setting = text.split_once('=').unwrap().0;
        let change = |line: &str| if line.starts_with(setting) { text.trim().to_owned() } else { line.to_owned() };
        let after: Vec<String> = before.lines().map(change).collect();
        assert_ne!(before.trim(), after.join("\n"), "{text} changes nothing in {name}");
        fs::write(path, after.join("\n")).unwrap();
    }
}

/// True where the lines are as expected, three dots standing for any number of them.
fn matches(expected: &[String], actual: &[String]) -> bool {
    match expected.split_first() {
        None => actual.is_empty(),
        Some((dots, rest)) if dots == "..." => (0..=actual.len()).any(|skipped| matches(rest, &actual[skipped..])),
        Some((line, rest)) => {
            actual.first().is_some_and(|first| first.trim_end() == line.trim_end()) && matches(rest, &actual[1..])
        }
    }
}

/// The output of today, cut as the page cut the one of before: so many lines before the first dots, so many after the last, and
/// between two the lines from the one that is as it was.
fn cut(expected: &[String], actual: &[String]) -> Vec<String> {
    let parts: Vec<&[String]> = expected.split(|line| line == "...").collect();
    let [first, between @ .., last] = parts.as_slice() else { return actual.to_vec() };
    let mut kept = actual[..first.len().min(actual.len())].to_vec();
    for part in between {
        if let Some(place) = part.first().and_then(|line| actual.iter().position(|one| one == line)) {
            kept.push("...".to_owned());
            kept.extend_from_slice(&actual[place..(place + part.len()).min(actual.len())]);
        }
    }
    kept.push("...".to_owned());
    kept.extend_from_slice(&actual[actual.len() - last.len().min(actual.len())..]);
    kept
}

/// What came of following a page.
struct Followed {
    /// How many commands it shows.
    shown: usize,
    /// Those that say something else now.
    faults: Vec<String>,
    /// The page with the output of today.
    anew: String,
}

fn follow(page: &Path, text: &str) -> Followed {
    let name = page.file_name().unwrap().to_string_lossy();
    let mut reader = Reader::new();
    let (mut shown, mut faults, mut anew) = (0, Vec::new(), Vec::new());
    for part in parts(text) {
        match part {
            Part::Words(line) => anew.push(line),
            Part::File { name, text, is_change } => {
                reader.writes(&name, &text, is_change);
                anew.extend(text.lines().map(str::to_owned));
            }
            Part::Shown { command, output } => {
                shown += 1;
                let actual = reader.types(&command);
                let is_right = matches(&output, &actual);
                if !is_right {
                    faults.push(format!("{name}: $ {command}\nis now:\n{}", actual.join("\n")));
                }
                anew.push(format!("$ {command}"));
                anew.extend(if is_right { output } else { cut(&output, &actual) });
            }
        }
    }
    Followed { shown, faults, anew: anew.join("\n") + "\n" }
}

#[test]
fn what_the_pages_show_is_real_output() {
    let is_written_anew = std::env::var("DOCS").is_ok_and(|what| what == "write");
    let pages: Vec<(PathBuf, String)> =
        pages().into_iter().map(|page| (page.clone(), fs::read_to_string(page).unwrap())).collect();
    let followed: Vec<Followed> = std::thread::scope(|scope| {
        let readers: Vec<_> = pages.iter().map(|(page, text)| scope.spawn(|| follow(page, text))).collect();
        readers.into_iter().map(|reader| reader.join().unwrap()).collect()
    });
    for ((page, text), Followed { faults, anew, .. }) in pages.iter().zip(&followed) {
        if is_written_anew && anew != text {
            fs::write(page, anew).unwrap();
        }
        assert!(!faults.is_empty() || anew == text, "{} was not read whole", page.display());
    }
    let faults: Vec<&str> = followed.iter().flat_map(|page| &page.faults).map(String::as_str).collect();
    assert!(
        is_written_anew || faults.is_empty(),
        "{}\n\nDOCS=write cargo test --test docs writes what is said today",
        faults.join("\n\n")
    );
    let shown: usize = followed.iter().map(|page| page.shown).sum();
    assert!(shown >= 60, "only {shown} commands are shown");
}

/// Words in capitals stand for something of the reader's own.
const STAND_FOR: [(&str, &str); 4] = [("DATE", "2027-04-01"), ("DAY", "2027-04-01"), ("N", "3"), ("LETTER", "1")];

/// The commands that the words of a page name: in a line of their own, or between backquotes.
fn named(page: &str) -> Vec<String> {
    let mut named = Vec::new();
    let mut block = None;
    for line in page.lines() {
        if let Some(kind) = line.strip_prefix("```") {
            block = if block.is_none() { Some(kind.to_owned()) } else { None };
        } else if block.is_none() {
            let own_line = line.strip_prefix("    ").filter(|line| line.starts_with("stillroom"));
            // What stands after several spaces explains the command.
            named.extend(own_line.map(|line| line.split("   ").next().unwrap().to_owned()));
        }
        if block.is_none() && !line.starts_with("    ") {
            let between = line.split('`').skip(1).step_by(2).filter(|words| words.starts_with("stillroom "));
            // What follows `>` is for the shell.
            named.extend(between.map(|words| words.split(" > ").next().unwrap().to_owned()));
        }
    }
    named
}

#[test]
fn every_command_that_the_pages_name_can_be_typed() {
    let (mut found, mut faults) = (0, Vec::new());
    for page in pages() {
        for line in named(&fs::read_to_string(&page).unwrap()) {
            found += 1;
            let plain = line.replace(['[', ']'], "").replace("...", "");
            let words = shlex::split(&plain).unwrap_or_else(|| panic!("{line} in {}", page.display()));
            let given = words.iter().map(|word| {
                STAND_FOR.iter().find(|(capitals, _)| capitals == word).map_or(word.as_str(), |(_, value)| value)
            });
            if let Err(error) = command().try_get_matches_from(given) {
                // `--help` is an answer, the name of a group asks for it, and that of a command may stand for all that it does.
                let names_it = EXAMPLES.iter().any(|(name, _)| *name == words[1..].join(" "));
                let is_group = error.kind() == clap::error::ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand;
                if error.exit_code() != 0 && !is_group && !names_it {
                    faults.push(format!("{}: {line}\n{error}", page.display()));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(found >= 60, "only {found} commands are named");
}

/// Pages and pictures that a page leads to, without what is on the web or further down on the page.
fn links(page: &str) -> Vec<String> {
    let after = |part: &str| part.split(')').next().unwrap().split('#').next().unwrap().to_owned();
    let links = page.split("](").skip(1).map(after);
    links.filter(|link| !link.is_empty() && !link.contains("://") && !link.contains(' ')).collect()
}

#[test]
fn every_link_leads_somewhere_and_every_page_can_be_found() {
    let readme = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let mut faults = Vec::new();
    for page in pages() {
        let text = fs::read_to_string(&page).unwrap();
        let folder = page.parent().unwrap();
        let dead = links(&text).into_iter().filter(|link| !folder.join(link).exists());
        faults.extend(dead.map(|link| format!("{} leads to {link}, which is not there", page.display())));
        if folder.ends_with("docs") {
            let name = format!("docs/{}", page.file_name().unwrap().to_string_lossy());
            if !links(&readme).contains(&name) {
                faults.push(format!("README.md does not lead to {name}"));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn dots_stand_for_any_lines_and_are_kept() {
    let lines = |text: &[&str]| text.iter().map(|line| (*line).to_owned()).collect::<Vec<_>>();
    assert!(matches(&lines(&["a", "...", "c"]), &lines(&["a", "b", "b", "c"])));
    assert!(matches(&lines(&["a", "..."]), &lines(&["a"])));
    assert!(!matches(&lines(&["a", "...", "d"]), &lines(&["a", "b", "c"])));
    assert!(!matches(&lines(&["a"]), &lines(&["a", "b"])));
    assert_eq!(cut(&lines(&["a", "...", "c"]), &lines(&["x", "b", "b", "y"])), lines(&["x", "...", "y"]));
    assert_eq!(cut(&lines(&["a"]), &lines(&["x", "y"])), lines(&["x", "y"]));
    let (before, today) = (["a", "...", "b", "c", "...", "d"], ["w", "v", "b", "x", "u", "y"]);
    assert_eq!(cut(&lines(&before), &lines(&today)), lines(&["w", "...", "b", "x", "...", "y"]));
}

#[test]
fn commands_are_found_where_they_are_named() {
    let page = "Type `stillroom today`, or\n\n    stillroom doctor    what is hurt\n\n```sh\nstillroom nothing\n```\n";
    assert_eq!(named(page), ["stillroom today", "stillroom doctor"]);
}
