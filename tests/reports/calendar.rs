//! The calendar file, by the rules of RFC 5545 and the lines that another library wrote.

use chrono::{DateTime, Utc};
use serde_json::Value;
use stillroom::render::ical::{DateEntry, calendar, key};

fn moment(text: &str) -> DateTime<Utc> {
    DateTime::parse_from_rfc3339(text).unwrap().to_utc()
}

fn entry(summary: &str) -> DateEntry {
    DateEntry {
        key: key(&["best-before", "L/1 ñ"]),
        day: "2028-02-29".parse().unwrap(),
        summary: summary.to_owned(),
        detail: "a; b, c\\d".to_owned(),
        withdrawn: false,
    }
}

/// The content lines, unfolded (RFC 5545 3.1), after the lengths of the folded ones were looked at.
fn lines(file: &str) -> Vec<String> {
    assert!(file.ends_with("\r\n") && file.matches('\n').count() == file.matches("\r\n").count());
    assert!(file.split("\r\n").all(|line| line.len() <= 75), "no line has more than 75 octets");
    file.replace("\r\n ", "").split_terminator("\r\n").map(str::to_owned).collect()
}

/// The text of a value: RFC 5545 3.3.11.
fn unescaped(value: &str) -> String {
    let mut text = String::new();
    let mut letters = value.chars();
    while let Some(letter) = letters.next() {
        match letter {
            '\\' => match letters.next() {
                Some('n' | 'N') => text.push('\n'),
                Some(other) => text.push(other),
                None => panic!("a lone backslash in {value}"),
            },
            ';' | ',' => panic!("{letter} stands bare in {value}"),
            letter => text.push(letter),
        }
    }
    text
}

fn value<'a>(lines: &'a [String], name: &str) -> &'a str {
    let mut found = lines.iter().filter_map(|line| line.strip_prefix(name)?.split_once(':').map(|(_, value)| value));
    let value = found.next().unwrap_or_else(|| panic!("no {name} in {lines:#?}"));
    assert!(found.next().is_none(), "{name} twice");
    value
}

#[test]
fn an_entry_is_a_whole_day_with_all_that_the_standard_asks_for() {
    let file = calendar(&[entry("Shea ends")], moment("2027-03-01T06:30:09Z"), "example.org");
    let lines = lines(&file);
    assert_eq!((lines[0].as_str(), lines.last().unwrap().as_str()), ("BEGIN:VCALENDAR", "END:VCALENDAR"));
    assert_eq!((value(&lines, "VERSION"), value(&lines, "PRODID")), ("2.0", "-//Stillroom//Stillroom//EN"));
    assert!(lines.contains(&"DTSTART;VALUE=DATE:20280229".to_owned()), "{lines:#?}");
    assert!(!file.contains("DTEND"), "a day without an end is one day (RFC 5545 3.6.1)");
    assert_eq!(value(&lines, "DTSTAMP"), "20270301T063009Z");
    assert_eq!(value(&lines, "UID"), "best-before.L_2f_1_20__f1_@example.org");
    assert_eq!(unescaped(value(&lines, "DESCRIPTION")), "a; b, c\\d");
}

#[test]
fn a_later_letter_moves_the_entry() {
    let of = |written: &str| calendar(&[entry("Shea ends")], moment(written), "example.org");
    let (first, second) = (of("2027-03-01T06:30:00Z"), of("2027-03-02T06:30:00Z"));
    let (first, second) = (lines(&first), lines(&second));
    assert_eq!(value(&first, "UID"), value(&second, "UID"));
    let sequence = |lines: &[String]| value(lines, "SEQUENCE").parse::<i32>().unwrap();
    assert!(sequence(&first) < sequence(&second));
    assert_eq!(of("2027-03-01T06:30:00Z"), of("2027-03-01T06:30:00Z"), "same moment, same bytes");
}

#[test]
fn a_day_that_no_longer_counts_is_struck_out() {
    let gone = DateEntry { withdrawn: true, ..entry("Shea ends") };
    let file = calendar(&[gone, entry("Shea ends")], moment("2027-03-02T06:30:00Z"), "example.org");
    assert_eq!(value(&lines(&file), "STATUS"), "CANCELLED");
}

/// Source: tests/checks/mime_ical_text.json (Python's icalendar 7.3.2): its folded lines unfold to the same as ours.
#[test]
fn names_of_any_script_arrive() {
    let file: Value = serde_json::from_str(include_str!("../checks/mime_ical_text.json")).unwrap();
    let cases = file["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 20);
    for case in cases {
        let (text, python) = (case["text"].as_str().unwrap(), case["icalendar_folded"].as_str().unwrap());
        let calendar = calendar(&[entry(text)], moment("2027-03-01T06:30:00Z"), "example.org");
        let lines = lines(&calendar);
        assert!(lines.contains(&python.replace("\r\n ", "")), "{text}: {lines:#?}");
        assert_eq!(unescaped(value(&lines, "SUMMARY")), text);
    }
}

#[test]
fn a_name_cannot_add_lines_of_its_own() {
    for name in ["Shea\r\nATTACH:x", "Shea\nEND:VEVENT", "a\u{2028}b", "\u{0}"] {
        let file = calendar(&[entry(name)], moment("2027-03-01T06:30:00Z"), "example.org");
        let lines = lines(&file);
        assert_eq!(lines.iter().filter(|line| line.starts_with("END:VEVENT")).count(), 1, "{name:?}");
        assert!(!lines.iter().any(|line| line.starts_with("ATTACH")), "{name:?}");
    }
}
