//! `import --map` as a maker uses it: in a terminal of her own, and without one.

use crate::workshop::Workshop;
use serde_json::json;

/// A stock list of an invented maker.
const STOCK: &str = "My shelf\n\nIngredient,Net wt (oz),Expires,Paid,Shelf,Mood\n\
                     Cocoa butter,16,03/04/2028,12.50,A,good\n\
                     Jojoba oil,\"1,250\",05/04/2028,61.00,B,good\n\
                     WAXES\n\
                     Beeswax,8,,9.00,A,\n\
                     Total,,,82.50,,\n";

#[test]
fn without_a_terminal_the_guess_is_kept_and_shown_with_what_is_open() {
    let workshop = Workshop::empty();
    workshop.file("shelf.csv", STOCK);
    let said = workshop.refused(2, &["import", "shelf.csv"]);
    assert!(said.contains("next: for a spreadsheet of your own: stillroom import --map FILE"), "{said}");
    let said = workshop.done(&["import", "--map", "shelf.csv", "--currency", "USD"]);
    for text in [
        "shelf.csv is taken for lots: its header in line 3 has Ingredient, Net wt (oz), Expires, Paid, Shelf.",
        "Net wt (oz)  16 | 1,250 | 8                     lots.amount (oz)  the title is a word for it; oz from the title",
        "Mood         good                               left out          not understood: no column of ours has such a title",
        "  decimal: point (decided by line 4, \"12.50\")",
        "  dates: not decided (line 4, \"03/04/2028\" can be read in two ways)",
        "  currency: USD (no cell names one: your home currency)",
        "Kept as mappings/shelf.toml.",
        "Open that file and decide: dates (write it in place of the ?).",
        "Next: `stillroom import --dry-run shelf.csv` shows what would come of it.",
    ] {
        assert!(said.contains(text), "{text}\n{said}");
    }
    let said = workshop.refused(2, &["import", "shelf.csv"]);
    assert!(said.contains("dates is not decided in the mapping shelf (mappings/shelf.toml)"), "{said}");
    let said = workshop.refused(2, &["import", "--map", "shelf.csv"]);
    assert!(said.contains("there is a mapping for this already: mappings/shelf.toml"), "{said}");

    let path = workshop.path("mappings/shelf.toml");
    let mapping = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, mapping.replace("dates = \"?\"", "dates = \"month-day-year\"")).unwrap();
    let dry = workshop.done(&["import", "--dry-run", "--currency", "USD", "shelf.csv"]);
    assert!(dry.contains("note: shelf.csv: column \"Mood\" left out."), "{dry}");
    assert!(dry.contains("note: shelf.csv: line 6 left out, as the mapping says."), "{dry}");
    assert!(dry.contains("note: shelf.csv: line 8 left out, it looks like a total (Total)."), "{dry}");
    assert!(dry.contains("A dry run: nothing was written"), "{dry}");
    workshop.done(&["import", "--currency", "USD", "shelf.csv"]);
    let lots = workshop.json(&["stock"])["lots"].clone();
    // 16 oz are a pound; 1,250 oz are 1,250 x 28,349.523125 mg = 35,436,903.9 mg.
    let shown: Vec<_> =
        lots.as_array().unwrap().iter().map(|lot| (&lot["lot"], &lot["on_hand"], &lot["usable_through"])).collect();
    assert_eq!(
        shown,
        [
            (&json!("beeswax-1"), &json!(226_796), &json!(null)),
            (&json!("cocoa-butter-1"), &json!(453_592), &json!("2028-03-04")),
            (&json!("jojoba-oil-1"), &json!(35_436_904), &json!("2028-05-04")),
        ]
    );
    // Next time it is read by itself, whatever the file is called.
    workshop.file("later.csv", &STOCK.replace("My shelf", "My shelf in May"));
    assert!(workshop.done(&["import", "later.csv"]).contains("Nothing to change"));
    let said = workshop.refused(2, &["import", "later.csv", "--mapping", "other"]);
    assert!(said.contains("\"other\" is no mapping in mappings; there are shelf"), "{said}");
    std::fs::write(&path, "[[sheet]]\nholds = [\"shelves\"]\n").unwrap();
    let said = workshop.refused(2, &["import", "later.csv"]);
    assert!(said.contains("mappings/shelf.toml: holds names \"shelves\"; write some of materials"), "{said}");
}

#[test]
fn the_guess_comes_as_json_too() {
    let workshop = Workshop::empty();
    workshop.file("shelf.csv", STOCK);
    let view = workshop.json(&["import", "--map", "shelf.csv"]);
    let sheet = &view["mappings"][0]["sheets"][0];
    assert_eq!(view["mappings"][0]["mapping"], "mappings/shelf.toml");
    assert_eq!((&sheet["holds"], &sheet["open"]), (&json!(["lots"]), &json!(["dates"])));
    assert_eq!(sheet["columns"][1]["meaning"], "lots.amount");
    assert_eq!(sheet["columns"][1]["unit"], "oz");
}

#[cfg(unix)]
mod terminal {
    use super::STOCK;
    use crate::workshop::{FIRST_DAY, Workshop};
    use rexpect::session::{PtySession, spawn_command};
    use std::process::Command;

    const DOWN: &str = "\x1b[B";

    fn begin(workshop: &Workshop) -> PtySession {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("stillroom"));
        command.env_clear().env("HOME", workshop.path("")).env("TERM", "xterm").env("NO_COLOR", "1");
        command.current_dir(workshop.path("")).args(["--store", "workshop.sqlite", "--as-of", FIRST_DAY]);
        command.args(["import", "--map", "shelf.csv"]);
        spawn_command(command, Some(30_000)).unwrap()
    }

    /// Waits for a question and for the end of its list, then presses keys.
    fn pick(session: &mut PtySession, question: &str, last: &str, keys: &[&str]) {
        session.exp_string(question).unwrap_or_else(|error| panic!("no question {question:?}: {error}"));
        for key in keys {
            session.exp_string(last).unwrap_or_else(|error| panic!("{question:?} without {last:?}: {error}"));
            session.send(key).unwrap();
            session.flush().unwrap();
        }
    }

    #[test]
    fn she_is_asked_what_no_cell_says_and_may_change_a_column() {
        let workshop = Workshop::empty();
        workshop.file("shelf.csv", STOCK);
        let mut session = begin(&workshop);
        pick(&mut session, "What does shelf.csv hold?", "something else ...", &["\r"]);
        pick(&mut session, "Is this right?", "one by one", &[DOWN, "\r"]);
        for title in ["Ingredient", "Net wt (oz)", "Expires", "Paid", "Shelf"] {
            pick(&mut session, &format!("What is \"{title}\"?"), "something else ...", &["\r"]);
        }
        // What is left out gets a meaning from the whole list: the second of it is the material.
        pick(&mut session, "What is \"Mood\"?", "something else ...", &[DOWN, "\r"]);
        pick(&mut session, "Which of these is \"Mood\"?", "leave it out", &[DOWN, "\r"]);
        pick(&mut session, "How do you write dates?", "year, month, day", &[DOWN, "\r"]);
        session.exp_string("In which currency is money that names none?").unwrap();
        session.send_line("lots of them").unwrap();
        session.exp_string("\"lots of them\" is no currency").unwrap();
        session.exp_string("In which currency is money that names none?").unwrap();
        session.send_line("").unwrap();
        pick(&mut session, "What if a line names something that is not known yet?", "stop and show it", &["\r"]);
        pick(&mut session, "Leave lines out that look like headings?", "no, read them", &["\r"]);
        let said = session.exp_eof().unwrap();
        assert!(said.contains("Kept as mappings/shelf.toml."), "{said}");
        let mapping = std::fs::read_to_string(workshop.path("mappings/shelf.toml")).unwrap();
        for line in
            ["dates = \"month-day-year\"", "currency = \"EUR\"", "skip = [\"WAXES\"]", "\"Mood\" = \"lots.material\""]
        {
            assert!(mapping.contains(line), "{line}\n{mapping}");
        }
    }

    #[test]
    fn who_goes_away_in_the_middle_has_no_mapping() {
        let workshop = Workshop::empty();
        workshop.file("shelf.csv", STOCK);
        let mut session = begin(&workshop);
        pick(&mut session, "What does shelf.csv hold?", "something else ...", &["\r"]);
        session.exp_string("Is this right?").unwrap();
        session.send_control('c').unwrap();
        session.exp_eof().unwrap();
        assert!(!workshop.path("mappings").exists());
    }
}
