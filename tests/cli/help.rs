//! The examples below each command's help are real: each is run at the example workshop.

use crate::workshop::Workshop;
use assert_cmd::Command;
use std::fs;
use std::path::Path;
use stillroom::cli::examples::{EXAMPLES, command};

/// The commands that do something, by their words.
fn leaves(command: &clap::Command, path: &str, found: &mut Vec<String>) {
    for one in command.get_subcommands() {
        let path = format!("{path} {}", one.get_name()).trim_start().to_owned();
        if one.has_subcommands() {
            leaves(one, &path, found);
        } else {
            found.push(path);
        }
    }
}

#[test]
fn every_command_has_examples_and_every_example_a_command() {
    let mut found = Vec::new();
    leaves(&command(), "", &mut found);
    let mut shown: Vec<&str> = EXAMPLES.iter().map(|(words, _)| *words).collect();
    found.sort();
    shown.sort_unstable();
    assert_eq!(found, shown);
    for (words, examples) in EXAMPLES {
        for (line, purpose) in examples {
            assert!(line.starts_with(&format!("stillroom {words}")) && !purpose.is_empty(), "{line}");
        }
    }
}

/// The example workshop after a few acts, with everything that the examples name.
pub fn prepared() -> Workshop {
    let workshop = Workshop::example();
    let settings = |mail: &str| {
        format!(
            "store = \"workshop.sqlite\"\ntime_zone = \"Europe/Lisbon\"\n[mail]\nto = [\"ilse@tansy-quay.example\"]\n{mail}\n[[schedule]]\n\
             name = \"Monday list\"\nreports = [\"reorder\"]\ndays = \"Mon\"\nat = \"07:30\"\nwhen = \"always\"\n\
             [[schedule]]\nname = \"stock\"\nreports = [\"stock\"]\ndays = \"Mon\"\nat = \"07:30\"\nwhen = \"always\"\n"
        )
    };
    // Nobody listens there: two letters wait.
    let away =
        settings("method = \"smtp\"\nhost = \"127.0.0.1\"\nport = 9\nsecurity = \"none\"\nfrom = \"mara@example.org\"");
    workshop.file("config.toml", &away);
    workshop.run_on("2027-03-01T08:00", &["--config", "config.toml", "post"]);
    workshop.file("config.toml", &settings(""));
    workshop.done(&["make", "E01", "--as-planned"]);
    workshop.done(&["make", "E05", "--as-planned"]);
    workshop.done(&["pieces", "hold", "B-2027-0002", "--reason", "waits for a second look"]);
    workshop.done(&["wish", "exclude", "thyrefjord"]);
    workshop.done(&["receive", "B2027-09", "--material", "castor-oil", "--quarantine"]);
    workshop.done(&["formula", "revise", "shea-whip", "--reason", "a try"]);
    workshop.done(&["backup", "before-the-fair.sqlite"]);
    workshop.done(&["stocktake", "sheet", "--csv", "counts-empty.csv"]);
    let sheet = fs::read_to_string(workshop.path("counts-empty.csv")).unwrap();
    let mut rows = csv::Reader::from_reader(sheet.as_bytes());
    let titles = rows.headers().unwrap().clone();
    let counted = titles.iter().position(|title| title == "counted").unwrap();
    let mut written = csv::Writer::from_writer(Vec::new());
    written.write_record(&titles).unwrap();
    for row in rows.records().map(Result::unwrap) {
        let is_it = row.iter().any(|cell| cell == "L2606-1");
        written
            .write_record(
                row.iter().enumerate().map(|(place, cell)| if is_it && place == counted { "1 kg" } else { cell }),
            )
            .unwrap();
    }
    workshop.file("counted.csv", &String::from_utf8(written.into_inner().unwrap()).unwrap());
    workshop.file("my-stock.csv", "Ingredient,In stock (g),Shelf\nShea butter,2500,A4\nBeeswax,750,A1\n");
    copy_folder(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/workshop"), &workshop.path("my-files"));
    workshop
}

pub fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().map(Result::unwrap) {
        if entry.path().is_dir() {
            copy_folder(&entry.path(), &to.join(entry.file_name()));
        } else {
            fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
        }
    }
}

/// What does not end by itself is only understood.
pub fn stays(line: &str) -> bool {
    line.starts_with("stillroom watch")
}

/// Runs a line of the examples in a copy of the prepared workshop.
pub fn run_example(words: &[String], folder: &Path) -> std::process::Output {
    let is_new = words.iter().any(|word| word == "init" || word == "demo");
    let mut program = Command::cargo_bin("stillroom").unwrap();
    program.env_clear().env("HOME", folder).current_dir(folder);
    if !is_new {
        program.env("STILLROOM_CONFIG", folder.join("config.toml"));
    }
    let has_day = words.iter().any(|word| word == "--as-of");
    let day: &[&str] = if is_new || has_day { &[] } else { &["--as-of", "2027-03-01"] };
    let words = words.iter().skip(1).map(|word| word.replace('~', &folder.display().to_string()));
    program.args(words).args(day).output().unwrap()
}

#[test]
fn every_example_does_what_it_says() {
    let prepared = prepared();
    let mut faults = Vec::new();
    for (line, _) in EXAMPLES.iter().flat_map(|(_, examples)| examples) {
        let words: Vec<String> = shlex::split(line).unwrap();
        command().try_get_matches_from(&words).unwrap_or_else(|error| panic!("{line}: {error}"));
        if stays(line) {
            continue;
        }
        let folder = tempfile::tempdir().unwrap();
        copy_folder(&prepared.path(""), folder.path());
        let output = run_example(&words, folder.path());
        if !output.status.success() {
            faults.push(format!("{line}\n{}", String::from_utf8_lossy(&output.stderr)));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn the_manual_has_a_page_for_each_command_with_its_examples() {
    let workshop = Workshop::empty();
    workshop.done(&["manual", "man1"]);
    let page = |name: &str| fs::read_to_string(workshop.path("man1").join(name)).unwrap();
    assert!(page("stillroom.1").contains("stillroom\\-today"), "{}", page("stillroom.1"));
    for (words, [(line, _), _]) in EXAMPLES {
        let page = page(&format!("stillroom-{}.1", words.replace(' ', "-"))).replace("\\-", "-");
        assert!(page.contains(line), "{words}:\n{page}");
    }
}

#[test]
fn a_shell_is_offered_commands_and_what_is_in_the_store() {
    let workshop = Workshop::example();
    let lines = workshop.done(&["completions", "bash"]);
    assert!(lines.contains("STILLROOM_COMPLETE"), "{lines}");
    let said = workshop.refused(2, &["completions", "oyster"]);
    assert!(said.ends_with("next: known are bash, elvish, fish, powershell, zsh\n"), "{said}");
    let offered = |words: &[&str]| -> Vec<String> {
        let output = Command::cargo_bin("stillroom")
            .unwrap()
            .env_clear()
            .env("HOME", workshop.path(""))
            .env("STILLROOM_STORE", workshop.path("workshop.sqlite"))
            .env("STILLROOM_COMPLETE", "fish")
            .args(["--", "stillroom"])
            .args(words)
            .output()
            .unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        text.lines().map(|line| line.split('\t').next().unwrap().to_owned()).collect()
    };
    assert_eq!(offered(&["fore"]), ["forecast"]);
    assert_eq!(offered(&["prices", "mango"]), ["mango-butter"]);
    assert!(offered(&["prices", "butter"]).contains(&"shea-butter".to_owned()));
    assert_eq!(offered(&["weigh", "E0"]).len(), 9);
    assert!(offered(&["order", "cancel", ""]).contains(&"B2027-08".to_owned()));
    assert_eq!(offered(&["trace", "L2606"]), ["L2606-1", "L2606-2"]);
}
