//! Every report on the terminal, as page, text, CSV and JSON, asked for in one way.

use super::program::{FIRST_DAY, Workshop};

/// The words of every report's command, and of what stands in its JSON.
const REPORTS: [(&[&str], &str); 12] = [
    (&["month"], "weeks"),
    (&["forecast"], "shortages"),
    (&["forecast", "--why", "rosehip-oil"], "events"),
    (&["reorder"], "orders"),
    (&["reorder", "--why", "mango-butter"], "orders"),
    (&["expiring", "--use-up"], "use_up"),
    (&["expiring", "--why", "L2605-1"], "uses"),
    (&["stock"], "lots"),
    (&["stock", "--value"], "materials"),
    (&["weigh", "E04"], "phases"),
    (&["use-up"], "proposals"),
    (&["prices"], "materials"),
];

#[test]
fn every_report_comes_in_every_form() {
    let workshop = Workshop::example();
    for (number, (words, field)) in REPORTS.into_iter().enumerate() {
        let plain = workshop.done(words);
        let names = ["page.html".to_owned(), format!("{number}.txt"), format!("{number}.csv")];
        let files = ["--html", &names[0], "--text", &names[1], "--csv", &names[2]];
        let said = workshop.done(&[words, &files].concat());
        assert!(said.starts_with(plain.trim_end()), "{words:?}: files change nothing of what is said");
        let [page, text, csv] = names.map(|name| std::fs::read_to_string(workshop.path(&name)).unwrap());
        assert!(page.starts_with("<!DOCTYPE html>") && page.contains("default-src 'none'"), "{words:?}");
        assert!(!page.contains("http:") && !page.contains("https:") && !page.contains("src="), "{words:?}");
        let title = plain.lines().next().unwrap();
        assert!(text.starts_with(&title[..title.len().min(40)]), "{words:?}: {text}");
        assert!(text.lines().all(|line| line.chars().count() <= 72), "{words:?}: {text}");
        let rows = csv.strip_prefix('\u{feff}').unwrap();
        let mut reader = csv::Reader::from_reader(rows.as_bytes());
        let columns = reader.headers().unwrap().len();
        let mut filled = vec![false; columns];
        for row in reader.records() {
            for (filled, cell) in filled.iter_mut().zip(&row.unwrap()) {
                *filled |= !cell.is_empty();
            }
        }
        let names: Vec<_> = csv.lines().next().unwrap().split(',').zip(&filled).collect();
        // Of the prices and lots of the example, all columns are known of some; a lot that is not yet opened has no day.
        assert!(filled.iter().all(|filled| *filled), "{words:?} never fills a column: {names:?}");
        assert!(workshop.json(words).get(field).is_some(), "{words:?} has no {field}");
    }
}

#[test]
fn a_report_of_what_was_done_comes_in_every_form() {
    let workshop = Workshop::example();
    workshop.done(&["make", "E01", "--pieces", "98"]);
    workshop.done(&["lot", "write-off", "L2606-1", "--amount", "120 g", "--reason", "smells of paint"]);
    for words in [&["batch", "show", "B-2027-0001"][..], &["write-offs"], &["prices", "shea-butter"]] {
        let [text, table] = ["txt", "csv"].map(|ending| format!("{}.{ending}", words[0]));
        workshop.done(&[words, &["--html", "p.html", "--text", &text, "--csv", &table]].concat());
        let csv = std::fs::read_to_string(workshop.path(&table)).unwrap();
        assert!(csv.lines().count() > 1, "{words:?}: {csv}");
    }
    assert!(std::fs::read_to_string(workshop.path("p.html")).unwrap().contains("Shea butter"));
}

#[test]
fn a_file_of_another_kind_is_never_replaced() {
    let workshop = Workshop::example();
    let before = std::fs::read(workshop.path("workshop.sqlite")).unwrap();
    for option in ["--html", "--text", "--csv"] {
        let said = workshop.refused(2, &["stock", option, "workshop.sqlite"]);
        assert!(said.contains("is there already"), "{said}");
        let said = workshop.refused(1, &["stock", option, "no-folder/x.csv"]);
        assert!(said.contains("cannot be written"), "{said}");
    }
    assert_eq!(std::fs::read(workshop.path("workshop.sqlite")).unwrap(), before);
    // An older table of the same report is; one that is kept by hand is not, nor is a text.
    workshop.done(&["stock", "--csv", "stock.csv", "--text", "stock.txt"]);
    workshop.done(&["stock", "--csv", "stock.csv"]);
    assert!(workshop.refused(2, &["stock", "--text", "stock.txt"]).contains("is there already"));
    let own = workshop.file("lots.csv", "lot,material\nL1,shea\n");
    assert!(workshop.refused(2, &["stock", "--csv", "lots.csv"]).contains("is there already"));
    assert_eq!(std::fs::read_to_string(own).unwrap(), "lot,material\nL1,shea\n");
}

#[test]
fn a_broken_template_is_named_with_its_line_and_does_no_harm() {
    let workshop = Workshop::example();
    workshop.done(&["stock", "--html", "before.html"]);
    workshop.file(
        "reports/report.html",
        "{% extends \"base.html\" %}\n{% block content %}\n{{ no_such_thing }}{% endblock %}",
    );
    let answer = workshop.run_on(FIRST_DAY, &["stock", "--html", "after.html"]);
    assert_eq!(answer.status, 0);
    assert!(answer.err.contains("report.html, line 3"), "{}", answer.err);
    let [before, after] = ["before.html", "after.html"].map(|name| std::fs::read(workshop.path(name)).unwrap());
    assert!(before == after);
}
