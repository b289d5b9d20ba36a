//! A long life: one store, act after act, killed again and again; what was reported as done stays to the end.

use super::asked_for;
use super::scene::{copy_folder, done, ended, program, state, store};
use super::support::Random;
use std::path::Path;
use std::time::{Duration, Instant};

/// The next act, drawn by lot.
fn act(random: &mut Random, number: usize) -> String {
    match random.between(0, 9) {
        0 | 1 => format!("count L2606-1 {}g --reason spilled", random.between(1, 1_400)),
        2 => "act undo".to_owned(),
        3 => format!(
            "plan add --make-on 2027-04-{:02} --entry K{number} calendula-salve-30 24pcs",
            random.between(1, 30)
        ),
        4 => format!("plan move E5{} --make-on 2027-04-{:02}", random.between(0, 5), random.between(1, 30)),
        5 => format!("make E{:02}", random.between(1, 12)),
        6 => format!("lot move L2606-1 shelf-{number}"),
        7 => "backup".to_owned(),
        8 => "order place dunmarch".to_owned(),
        _ => format!("pieces leave B-2027-000{} 1 --as gift --reason neighbours", random.between(1, 4)),
    }
}

/// One life of so many acts. Returns the kills that came in time, the acts reported as done, and those done unreported.
fn life(acts: usize) -> (usize, usize, usize) {
    let mut random = Random::new(7);
    let home = tempfile::tempdir().unwrap();
    let folder = home.path();
    std::fs::write(folder.join("config.toml"), "time_zone = 'UTC'\n[backup]\nkeep = 3\n").unwrap();
    done(folder, &format!("import {}/examples/workshop", env!("CARGO_MANIFEST_DIR")));
    let mut before = state(&store(folder));
    let (mut kills, mut reported, mut unreported, mut tried) = (0, 0, 0, 0);
    while tried < acts {
        let words = act(&mut random, tried);
        let arguments: Vec<String> = words.split_whitespace().map(str::to_owned).collect();
        // What it does when nothing comes between, on a copy.
        let copy = tempfile::tempdir().unwrap();
        copy_folder(folder, copy.path());
        let begun = Instant::now();
        let undisturbed = ended(program(copy.path(), &arguments, &[]));
        let takes = u64::try_from(begun.elapsed().as_micros()).unwrap();
        let is_refused = !undisturbed.status.success();
        let after = state(&store(copy.path()));
        assert!(!is_refused || after == before, "{words} was refused, and did something: {}", undisturbed.words);
        tried += 1;
        let mut child = program(folder, &arguments, &[]);
        std::thread::sleep(Duration::from_micros(random.between(takes / 3, takes * 11 / 10)));
        child.kill().unwrap();
        let killed = ended(child);
        let found = state(&store(folder));
        let is_done = found == after;
        assert!(is_done || found == before, "act {tried}, {words}: half done");
        assert!(is_done || !killed.status.success(), "act {tried}, {words}: said to be done, and is not");
        let was_killed = killed.status.code().is_none();
        kills += usize::from(was_killed);
        if after != before {
            reported += usize::from(killed.status.success());
            unreported += usize::from(is_done && was_killed);
        }
        before = found;
        all_copies_are_sound(&folder.join("backups"));
    }
    (kills, reported, unreported)
}

fn all_copies_are_sound(folder: &Path) {
    let entries = std::fs::read_dir(folder).into_iter().flatten().map(Result::unwrap);
    for path in entries.map(|entry| entry.path()).filter(|path| path.extension().is_some_and(|end| end == "sqlite")) {
        assert!(!state(&path).is_nothing(), "{}", path.display());
    }
}

#[test]
#[ignore = "long: tests/crash/run"]
fn long_life_of_one_store() {
    let acts = asked_for("ACTS_OF_A_LIFE", 1_000);
    let (kills, reported, unreported) = life(acts);
    println!(
        "one store, {acts} commands one after the other: {kills} killed in time; {reported} acts reported as done and \
         there, {unreported} done and killed before they could be reported, none half done"
    );
    assert!(kills * 3 > acts, "only {kills} of {acts} were killed in time");
}

#[test]
fn a_short_life() {
    let (kills, reported, unreported) = life(40);
    println!("{kills} killed, {reported} reported, {unreported} done unreported");
    assert!(kills > 5 && reported + unreported > 0);
}
