//! The files and lines that docs/running.md gives to paste: as far as they can be tried on this computer.

use clap::Parser;
use croner::Cron;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::str::FromStr;
use stillroom::cli::{Cli, Command as Verb};

fn root(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn read(path: &str) -> String {
    std::fs::read_to_string(root(path)).unwrap()
}

/// The line in the block after a mark in docs/running.md.
fn line_after(mark: &str) -> String {
    let page = read("docs/running.md");
    let (_, rest) = page.split_once(&format!("<!-- {mark} -->\n```\n")).unwrap();
    rest.lines().next().unwrap().to_owned()
}

/// The command line of the program is understood.
fn is_understood(words: &str) -> Verb {
    Cli::try_parse_from(words.split_whitespace()).unwrap_or_else(|error| panic!("{words}: {error}")).command.unwrap()
}

#[test]
fn the_cron_line_is_a_pattern_and_a_command() {
    let line = line_after("cron line");
    let (pattern, command) = line.split_at(line.match_indices(' ').nth(4).unwrap().0);
    let cron = Cron::from_str(pattern).unwrap();
    let start: chrono::DateTime<chrono::Utc> = "2027-03-01T07:29:00Z".parse().unwrap();
    let next: Vec<String> = cron.iter_after(start).take(3).map(|at| at.format("%H:%M").to_string()).collect();
    assert_eq!(next, ["07:30", "07:45", "08:00"]);
    assert!(matches!(is_understood(command), Verb::Post));
    assert!(!line.contains('%'), "cron takes a percent sign for a line break");
}

#[test]
fn the_task_scheduler_line_runs_post() {
    let line = line_after("task scheduler line");
    let (_, run) = line.split_once("/TR ").unwrap();
    let command = run.strip_prefix('"').and_then(|run| run.strip_suffix('"')).unwrap().replace("\\\"", "");
    assert!(matches!(is_understood(&command), Verb::Post));
    assert!(line.contains("/SC MINUTE /MO 15"));
}

/// Sections and keys of a unit file.
fn unit(name: &str) -> BTreeMap<String, String> {
    let mut section = String::new();
    let mut keys = BTreeMap::new();
    for line in
        read(&format!("contrib/systemd/{name}")).lines().filter(|line| !line.starts_with('#') && !line.is_empty())
    {
        if let Some(name) = line.strip_prefix('[').and_then(|line| line.strip_suffix(']')) {
            section = name.to_owned();
        } else {
            let (key, value) = line.split_once('=').unwrap_or_else(|| panic!("{name}: {line}"));
            assert!(keys.insert(format!("{section}.{key}"), value.to_owned()).is_none(), "{name}: {line} stands twice");
        }
    }
    keys
}

#[test]
fn the_unit_files_run_the_program() {
    let post = unit("stillroom-post.service");
    assert!(matches!(is_understood(&post["Service.ExecStart"]), Verb::Post));
    assert_eq!(post["Service.Type"], "oneshot");
    let watch = unit("stillroom-watch.service");
    assert!(matches!(is_understood(&watch["Service.ExecStart"]), Verb::Watch));
    let timer = unit("stillroom-post.timer");
    assert_eq!((timer["Timer.Persistent"].as_str(), timer["Install.WantedBy"].as_str()), ("true", "timers.target"));
}

/// What systemd says of unit files; `None` where it is not installed, or cannot work here.
fn verified(folder: &Path, paths: &[PathBuf]) -> Option<String> {
    let mut command = Command::new("systemd-analyze");
    command.env("XDG_RUNTIME_DIR", folder).args(["verify", "--user", "--man=no"]).args(paths);
    let output = command.output().ok()?;
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (!said.contains("Failed to initialize manager")).then_some(said)
}

/// systemd's own opinion, where it is installed: its check wants the program to be there, so the copies name this one.
#[test]
fn systemd_finds_nothing_wrong_with_the_unit_files() {
    let folder = tempfile::tempdir().unwrap();
    let copy = |name: &str, from: &str, to: &str| {
        let text = read(&format!("contrib/systemd/{name}"));
        let path = folder.path().join(format!("{to}{name}"));
        let here = text.replace("%h/.cargo/bin/stillroom", env!("CARGO_BIN_EXE_stillroom"));
        std::fs::write(&path, here.replace(from, to)).unwrap();
        path
    };
    let names = ["stillroom-post.service", "stillroom-post.timer", "stillroom-watch.service"];
    let paths: Vec<PathBuf> = names.iter().map(|name| copy(name, "", "")).collect();
    let Some(said) = verified(folder.path(), &paths) else {
        println!("systemd-analyze is not here: the unit files were only read");
        return;
    };
    // Only what is about these files counts: a bare machine may lack other units.
    let about: Vec<&str> = said.lines().filter(|line| line.contains("stillroom")).collect();
    assert!(about.is_empty(), "{}", about.join("\n"));
    // That it says nothing means something: a slip is noticed.
    let slip = verified(folder.path(), &[copy("stillroom-post.service", "Type", "slip")]).unwrap();
    assert!(slip.contains("Unknown key"), "{slip}");
    let timer = unit("stillroom-post.timer");
    let calendar = Command::new("systemd-analyze").args(["calendar", &timer["Timer.OnCalendar"]]).output().unwrap();
    assert!(calendar.status.success(), "{}", String::from_utf8_lossy(&calendar.stderr));
    assert!(String::from_utf8_lossy(&calendar.stdout).contains("*-*-* *:00/15:00"));
}
