//! The program is killed, and its disk fails it: whatever happens, the store is sound and each act is there whole or not
//! at all. The short form runs with all tests; `tests/crash/run` runs the long one and prints its figures.

#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]
#![allow(clippy::disallowed_methods, reason = "it is measured how long a command takes, to kill it within that")]

mod calls;
mod life;
mod scene;
mod scenes;
mod spoiled;
#[path = "../support/mod.rs"]
mod support;

use scene::Scene;
use std::collections::BTreeMap;
use support::Random;

/// Kills the command of a scene at random moments; returns how many kills came in time, and how often all was done.
fn killed_at_random(scene: &Scene, kills: usize, random: &mut Random) -> (usize, usize) {
    let (mut came_in_time, mut done) = (0, 0);
    // The moments fall evenly over a little more than the time that it takes.
    let longest = u64::try_from(scene.takes.as_micros()).unwrap() * 11 / 10;
    for _ in 0..kills {
        let folder = scene.fresh();
        let delay = random.between(0, longest);
        let mut child = scene::program(folder.path(), &scene.arguments, &[]);
        std::thread::sleep(std::time::Duration::from_micros(delay));
        child.kill().unwrap();
        let ended = scene::ended(child);
        came_in_time += usize::from(ended.status.code().is_none());
        done += usize::from(scene.check(folder.path(), ended.status.success(), &format!("killed after {delay} us")));
    }
    (came_in_time, done)
}

#[test]
fn killed_at_random_moments() {
    let mut random = Random::new(6);
    let mut kills = 0;
    for scene in scenes::few() {
        kills += killed_at_random(&scene, 12, &mut random).0;
    }
    println!("{kills} kills at random moments");
    assert!(kills > 10, "only {kills} kills came in time");
}

/// The number that the script gives.
fn asked_for(variable: &str, usual: usize) -> usize {
    std::env::var(variable).ok().and_then(|number| number.parse().ok()).unwrap_or(usual)
}

#[test]
#[ignore = "long: tests/crash/run"]
fn long_kills_at_random_moments() {
    let mut random = Random::new(66);
    let each = asked_for("KILLS_EACH", 100);
    let mut totals = (0, 0, 0);
    println!(
        "| killed at random moments | runs | killed in time | of them and the others, done whole |\n| --- | --- | --- | --- |"
    );
    for scene in scenes::all() {
        let (kills, done) = killed_at_random(&scene, each, &mut random);
        println!("| {} | {each} | {kills} | {done} |", scene.name);
        totals = (totals.0 + each, totals.1 + kills, totals.2 + done);
    }
    println!("| all | {} | {} | {} |", totals.0, totals.1, totals.2);
    assert!(totals.1 * 2 > totals.0, "fewer than half of the kills came in time");
}

#[test]
#[ignore = "long, and needs strace: tests/crash/run"]
fn long_kills_at_every_call() {
    let mut totals = (0, 0);
    println!("| killed at every call | kills | of them done whole |\n| --- | --- | --- |");
    let mut by_call: BTreeMap<&str, usize> = BTreeMap::new();
    for scene in scenes::all() {
        let (kills, done) = calls::killed_at_every(&scene, &mut by_call);
        println!("| {} | {kills} | {done} |", scene.name);
        totals = (totals.0 + kills, totals.1 + done);
    }
    println!("| all | {} | {} |", totals.0, totals.1);
    println!("by call: {by_call:?}");
    assert!(totals.0 > 500, "only {} kills", totals.0);
}

#[test]
#[ignore = "long, and needs strace: tests/crash/run"]
fn long_disk_failures_at_every_call() {
    let mut said: BTreeMap<String, usize> = BTreeMap::new();
    let mut all = 0;
    println!("| disk fails from a call on | failures | done all the same |\n| --- | --- | --- |");
    for scene in scenes::all() {
        let (failures, done) = calls::failed_at_every(&scene, &mut said);
        println!("| {} | {failures} | {done} |", scene.name);
        all += failures;
    }
    println!("| all | {all} | |\nWhat was said:");
    for (words, times) in &said {
        println!("  {times} times: {words}");
    }
    assert!(all > 200, "only {all} failures");
}
