//! A computer's clock that jumped: it is said, once, and nothing is refused.

use crate::workshop::Workshop;
use std::process::Command;

/// The program by the computer's own clock.
fn by_the_clock(workshop: &Workshop, arguments: &[&str]) -> (i32, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_stillroom"))
        .args(["--store", "workshop.sqlite"])
        .args(arguments)
        .current_dir(workshop.path(""))
        .env_clear()
        .env("HOME", workshop.path(""))
        .output()
        .unwrap();
    (output.status.code().unwrap(), String::from_utf8(output.stderr).unwrap())
}

#[test]
fn an_act_from_a_day_to_come_is_told_until_it_is_undone() {
    let workshop = Workshop::example();
    assert_eq!(by_the_clock(&workshop, &["plan", "list"]), (0, String::new()));
    // Written down when the clock was decades ahead.
    workshop.done_on("2090-03-01T08:00:00Z", &["lot", "move", "L2606-1", "shelf"]);
    let (status, said) = by_the_clock(&workshop, &["lot", "move", "L2606-1", "table"]);
    assert_eq!(status, 0, "{said}");
    assert!(said.contains("this computer's clock shows 20"), "{said}");
    assert!(said.contains("and act 2 was written down at 2090-03-01 0"), "{said}");
    assert!(said.contains("`stillroom act undo 2` takes it back"), "{said}");
    assert_eq!(said.matches("this computer's clock").count(), 1, "{said}");
    // What was done since is the newest act, and its moment is not to come.
    assert_eq!(by_the_clock(&workshop, &["plan", "list"]), (0, String::new()));
    // Who says the day has looked.
    workshop.done(&["plan", "list"]);
}
