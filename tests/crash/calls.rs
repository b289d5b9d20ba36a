//! Kills and failures at every call of the system that touches a file, by way of strace: the kernel does it, nothing in the
//! program knows of it.

use super::scene::Scene;
use std::collections::BTreeMap;
use std::process::Command;

/// The calls that change files or make them last, and the one that makes them.
const CALLS: &[&str] = &[
    "write",
    "pwrite64",
    "ftruncate",
    "fsync",
    "fdatasync",
    "rename",
    "renameat",
    "renameat2",
    "link",
    "linkat",
    "unlink",
    "unlinkat",
    "mkdir",
    "openat",
];

/// What a failing disk answers: the call, the error, whether the store may be as after although the program said no.
const FAILURES: &[(&str, &str, bool)] = &[
    ("pwrite64", "ENOSPC", false),
    ("pwrite64", "EIO", false),
    ("ftruncate", "ENOSPC", false),
    // Whether what was written before a failed sync is there can only be known after the next start.
    ("fsync", "EIO", true),
    ("fdatasync", "EIO", true),
    ("link", "EIO", true),
    ("linkat", "EPERM", true),
];

/// More calls of one kind than this no command of the scenes makes.
const MOST_CALLS: usize = 5_000;

fn has_strace() -> bool {
    Command::new("strace").arg("-V").output().is_ok_and(|output| output.status.success())
}

/// Kills the command on entering the first, second, third ... call of every kind, until it ends by itself. Returns how often it
/// was killed, and how often all was done before.
pub fn killed_at_every(scene: &Scene, by_call: &mut BTreeMap<&'static str, usize>) -> (usize, usize) {
    assert!(has_strace(), "strace is missing: apt-get install strace");
    let (mut kills, mut done) = (0, 0);
    for call in CALLS {
        for number in 1..=MOST_CALLS {
            let folder = scene.fresh();
            let (trace, inject) = (format!("trace={call}"), format!("inject={call}:signal=KILL:when={number}"));
            let ended = scene.run(folder.path(), &["strace", "-f", "-o", "/dev/null", "-e", &trace, "-e", &inject]);
            // strace ends itself with the signal that ended the program.
            if ended.status.code().is_some() {
                assert!(ended.status.success(), "{}: {}", scene.name, ended.words);
                break;
            }
            kills += 1;
            *by_call.entry(call).or_default() += 1;
            done += usize::from(scene.check(folder.path(), false, &format!("killed at {call} {number}")));
        }
    }
    (kills, done)
}

/// Lets every call of a kind fail from the first, second, third ... on. Returns how often that made the program give up, and how
/// often it did all the same. What it says is counted in `said`.
pub fn failed_at_every(scene: &Scene, said: &mut BTreeMap<String, usize>) -> (usize, usize) {
    assert!(has_strace(), "strace is missing: apt-get install strace");
    let (mut failures, mut done) = (0, 0);
    for (call, error, may_be_done) in FAILURES {
        let calls = count_of(scene, call);
        for number in 1..=calls {
            let folder = scene.fresh();
            let (trace, inject) = (format!("trace={call}"), format!("inject={call}:error={error}:when={number}+"));
            let ended = scene.run(folder.path(), &["strace", "-f", "-o", "/dev/null", "-e", &trace, "-e", &inject]);
            let told = format!("{call} fails with {error} from {number} on");
            let status = ended.status.code();
            assert!(matches!(status, Some(0 | 1)), "{}, {told}: {status:?} {}", scene.name, ended.words);
            assert!(!ended.words.contains("panicked"), "{}, {told}: {}", scene.name, ended.words);
            let is_done = scene.check(folder.path(), status == Some(0), &told);
            if status == Some(0) {
                done += 1;
                continue;
            }
            failures += 1;
            assert!(
                !is_done || *may_be_done || scene.after == scene.before,
                "{}, {told}: done, and denied",
                scene.name
            );
            *said.entry(in_short(&ended.words)).or_default() += 1;
        }
    }
    (failures, done)
}

/// How many calls of a kind the command makes.
fn count_of(scene: &Scene, call: &str) -> usize {
    let folder = scene.fresh();
    let log = folder.path().join("calls.txt");
    let trace = format!("trace={call}");
    let ended = scene.run(folder.path(), &["strace", "-f", "-o", log.to_str().unwrap(), "-e", &trace]);
    assert!(ended.status.success(), "{}", ended.words);
    let begins = format!("{call}(");
    std::fs::read_to_string(log).unwrap().lines().filter(|line| line.contains(&begins)).count()
}

/// The message without the names of files and their numbers.
fn in_short(words: &str) -> String {
    let error =
        words.lines().find(|line| line.starts_with("error: ")).unwrap_or(words.lines().next().unwrap_or("nothing"));
    let words =
        error.split_whitespace().map(|word| if word.contains(['/', '.']) && word.len() > 3 { "FILE" } else { word });
    words.collect::<Vec<_>>().join(" ")
}
