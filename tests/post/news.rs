//! What is news, from outside: the example workshop, its reorder list and what ends, day after day.

use crate::shop::text;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;

struct Workshop {
    folder: TempDir,
}

impl Workshop {
    fn example(reports: &str) -> Self {
        let workshop = Self { folder: tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap() };
        let settings = format!(
            "store = \"workshop.sqlite\"\ntime_zone = \"Europe/Lisbon\"\n[mail]\nto = [\"ilse@example.net\"]\n\
             [[schedule]]\nname = \"News\"\nreports = [{reports}]\ndays = \"every day\"\nat = \"07:30\"\n"
        );
        std::fs::write(workshop.path("config.toml"), settings).unwrap();
        let files = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/workshop");
        workshop.done("2027-03-01", &["import", files.to_str().unwrap()]);
        workshop
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn done(&self, as_of: &str, arguments: &[&str]) -> String {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stillroom"));
        command.env_clear().env("HOME", self.folder.path()).current_dir(self.folder.path());
        let output = command.args(["--config", "config.toml", "--as-of", as_of]).args(arguments).output().unwrap();
        let (out, err) = (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
        assert!(output.status.success(), "{arguments:?}: {out}{err}");
        out
    }

    fn refused(&self, as_of: &str, arguments: &[&str]) -> String {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stillroom"));
        command.env_clear().env("HOME", self.folder.path()).current_dir(self.folder.path());
        let output = command.args(["--config", "config.toml", "--as-of", as_of]).args(arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        String::from_utf8(output.stderr).unwrap()
    }

    /// Posts at half past seven of a day in March 2027; the number of news, 0 where no letter came.
    fn news_on(&self, day: u32) -> u64 {
        let said = self.done(&format!("2027-03-{day:02}T07:30"), &["post", "--json"]);
        let view: Value = serde_json::from_str(&said).unwrap();
        let queued = view["queued"].as_array().unwrap();
        assert_eq!(queued.len() + view["quiet"].as_array().unwrap().len(), 1, "{view}");
        queued.first().map_or(0, |letter| letter["news"].as_u64().unwrap())
    }

    /// The days in the calendar of the letter of a day in March 2027: key, sequence, whether it is struck out, description.
    fn calendar(&self, day: u32) -> Vec<(String, i64, bool, String)> {
        let message = std::fs::read(self.path(&format!("outbox/2027-03-{day:02}-news.eml"))).unwrap();
        let parsed = mail_parser::MessageParser::default().parse(&message).unwrap();
        let is_calendar = |part: &&mail_parser::MessagePart<'_>| {
            mail_parser::MimeHeaders::attachment_name(*part).is_some_and(|name| name.ends_with(".ics"))
        };
        let file = parsed.attachments().find(is_calendar).unwrap().contents();
        let file = String::from_utf8(file.to_vec()).unwrap().replace("\r\n ", "");
        let event = |event: &str| {
            let value = |name: &str| {
                event.lines().find_map(|line| line.strip_prefix(name)).unwrap_or_default().trim_end().to_owned()
            };
            let key = value("UID:").split('@').next().unwrap().to_owned();
            (key, value("SEQUENCE:").parse().unwrap(), value("STATUS:") == "CANCELLED", value("DESCRIPTION:"))
        };
        file.split("BEGIN:VEVENT").skip(1).map(event).collect()
    }

    /// The lines of news at the head of the newest letter.
    fn newest(&self) -> Vec<String> {
        let said = self.done("2027-04-30", &["outbox", "list", "--all", "--json"]);
        let view: Value = serde_json::from_str(&said).unwrap();
        let number = view["letters"].as_array().unwrap().last().unwrap()["letter"].to_string();
        let shown = self.done("2027-04-30", &["outbox", "show", &number]);
        let letter = shown.split_once("\n\n").unwrap().1.split("\n====").next().unwrap().replace("\n  ", " ");
        letter.lines().filter(|line| !line.is_empty()).map(str::to_owned).collect()
    }
}

#[test]
fn each_thing_is_told_once_until_it_changes_or_comes_near() {
    let workshop = Workshop::example("\"reorder\", \"expiring\"");
    assert_eq!(workshop.news_on(1), 18, "the first letter tells of everything");
    assert_eq!(workshop.newest()[0], "All that is new: this is the first letter");
    // Nobody ordered; the proposal moves on from day to day, and that alone is no news.
    let days: Vec<u64> = (2..=5).map(|day| workshop.news_on(day)).collect();
    assert_eq!(days, [0, 0, 0, 0]);
    // A placed order takes its lines off the list without a word.
    workshop.done("2027-03-05", &["order", "place"]);
    assert_eq!(workshop.news_on(6), 0);
    // Cancelled, they are news again: the two lines of that order.
    workshop.done("2027-03-06", &["order", "cancel", "O-2027-0001"]);
    let lines_back = workshop.news_on(7);
    let newest = workshop.newest();
    assert!(lines_back == 2 && newest[0].starts_with("New since the letter of Mon 1 March"), "{newest:?}");
    assert!(
        newest.iter().filter(|line| line.contains("Bushel and Pound") && line.ends_with("(new)")).count() >= 2,
        "{newest:?}"
    );
}

#[test]
fn the_calendar_of_a_later_letter_strikes_out_what_no_longer_counts() {
    let workshop = Workshop::example("\"reorder\"");
    let settings = std::fs::read_to_string(workshop.path("config.toml")).unwrap();
    std::fs::write(workshop.path("config.toml"), settings + "when = \"always\"\n").unwrap();
    workshop.news_on(1);
    let first = workshop.calendar(1);
    assert!(first.len() > 3 && first.iter().all(|(_, _, struck_out, _)| !struck_out), "{first:?}");
    assert!(first[0].3.contains("2 x 1 lb Mango butter (no. BP-114)"), "{first:?}");
    // The order of 30 March is placed early: its day no longer counts.
    workshop.done("2027-03-02", &["order", "place", "greyfell"]);
    workshop.news_on(3);
    let second = workshop.calendar(3);
    let gone: Vec<&str> = second.iter().filter(|(_, _, out, _)| *out).map(|(key, ..)| key.as_str()).collect();
    assert_eq!(gone, ["order.greyfell.1"], "{second:?}");
    let sequence = |calendar: &[(String, i64, bool, String)]| {
        calendar.iter().find(|(key, ..)| key == "order.greyfell.1").unwrap().1
    };
    assert!(sequence(&second) > sequence(&first));
    // Once is enough.
    workshop.news_on(4);
    let third = workshop.calendar(4);
    assert!(third.iter().all(|(key, _, struck_out, _)| !struck_out && key != "order.greyfell.1"), "{third:?}");
}

#[test]
fn a_snooze_silences_until_its_day_and_can_be_taken_back() {
    let workshop = Workshop::example("\"expiring\"");
    workshop.done("2027-03-01", &["snooze", "L2606-1", "--until", "2027-03-04", "--reason", "soap day is coming"]);
    workshop.done("2027-03-01", &["snooze", "l2605-1", "--until", "2027-03-20"]);
    assert_eq!(workshop.news_on(1), 3, "two of five lots are silenced");
    assert!(workshop.newest().iter().all(|line| !line.contains("L2606-1") && !line.contains("L2605-1")));
    assert_eq!((workshop.news_on(2), workshop.news_on(3)), (0, 0));
    assert_eq!(workshop.news_on(4), 1);
    let newest = workshop.newest();
    assert!(newest[1].contains("L2606-1") && newest[1].ends_with("(new)"), "{newest:?}");
    let listed = workshop.done("2027-03-04", &["snooze"]);
    assert!(listed.contains("L2605-1") && !listed.contains("L2606-1"), "{listed}");
    // Taken back, it speaks at once.
    workshop.done("2027-03-05", &["snooze", "L2605-1", "--end"]);
    assert_eq!(workshop.news_on(5), 1);
    assert!(workshop.refused("2027-03-05", &["snooze", "L2605-1", "--end"]).contains("there is no snooze of"));
    assert!(
        workshop
            .refused("2027-03-05", &["snooze", "nosuch", "--until", "2027-04-01"])
            .contains("no material, lot or order")
    );
    assert!(
        workshop.refused("2027-03-05", &["snooze", "L2605-1", "--until", "2027-03-05"]).contains("not after today")
    );
    assert!(workshop.refused("2027-03-05", &["snooze", "L2605-1"]).contains("until when"));
}

#[test]
fn what_was_slept_through_comes_once_and_says_so() {
    let workshop = Workshop::example("\"expiring\"");
    assert_eq!(workshop.news_on(1), 5);
    let said = workshop.done("2027-03-20T12:00", &["post"]);
    assert!(said.contains("for 19 that were due"), "{said}");
    let again = workshop.done("2027-03-20T12:01", &["post"]);
    assert_eq!(again, "Nothing is due. The next letter is due on Sun 21 March, 07:30.\n");
    let view: Value = serde_json::from_str(&workshop.done("2027-03-20T12:02", &["schedule", "--json"])).unwrap();
    let schedule = &view["schedules"][0];
    assert_eq!(text(&schedule["last"][0], "at"), "2027-03-20T07:30:00Z");
    assert_eq!((&schedule["last"][0]["runs"], text(&schedule["last"][0], "outcome")), (&19.into(), "sent"));
    assert_eq!(text(&schedule["next"][0], "local"), "2027-03-21T07:30");
}

#[test]
fn a_report_that_cannot_be_made_says_why_and_keeps_the_others_coming() {
    let workshop = Workshop::example("\"reorder\", \"expiring\"");
    assert_eq!(workshop.news_on(1), 18);
    // The rates were given for a day to come only: no total can be said.
    let said = workshop.done("2026-01-01T07:30", &["schedule"]);
    assert!(said.contains("News"), "{said}");
    let before_rates = Workshop::example("\"reorder\", \"expiring\"");
    let said = before_rates.done("2025-06-02T07:30", &["post"]);
    assert!(said.contains("letter 1 is written"), "{said}");
    let shown = before_rates.done("2025-06-02T07:31", &["outbox", "show", "1"]);
    assert!(shown.contains("The report reorder could not be made.\n\nno rate for"), "{shown}");
}

#[test]
fn a_dropped_letter_does_not_leave_and_can_be_brought_back() {
    let workshop = Workshop::example("\"expiring\"");
    // Somebody put a file where the outbox folder should be: letters cannot leave.
    std::fs::write(workshop.path("outbox"), "").unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillroom"));
    command.env_clear().env("HOME", workshop.folder.path()).current_dir(workshop.folder.path());
    let output = command.args(["--config", "config.toml", "--as-of", "2027-03-01T07:30", "post"]).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8(output.stderr).unwrap().contains("Letter 1 waits until Mon 1 March, 07:31"));
    workshop.done("2027-03-01T07:31", &["outbox", "drop", "1"]);
    std::fs::remove_file(workshop.path("outbox")).unwrap();
    assert!(workshop.done("2027-03-01T08:00", &["post"]).starts_with("Nothing is due."));
    assert!(workshop.refused("2027-03-01T08:00", &["outbox", "drop", "1"]).contains("letter 1 is dropped already"));
    assert!(workshop.refused("2027-03-01T08:00", &["outbox", "show", "7"]).contains("there is no letter 7"));
    workshop.done("2027-03-01T08:01", &["outbox", "retry", "1"]);
    assert!(workshop.done("2027-03-01T08:02", &["post"]).starts_with("Letter 1 lies in "));
    let message = workshop.done("2027-03-01T08:03", &["outbox", "show", "1", "--message"]);
    assert!(message.contains("Subject: 5 new; 5 lots at risk") && message.contains("Message-ID: <20270301T073000Z."));
}
