//! Commands that ask for what was left out, in a terminal of their own: what they ask, what Enter means, and that nothing
//! is written where the maker goes away in the middle.

use crate::workshop::{FIRST_DAY, Workshop};
use rexpect::session::{PtySession, spawn_command};
use serde_json::{Value, json};
use std::process::Command;

/// What `receive` offers last.
const LAST_CHOICE: &str = "goods without an order";

/// The program, begun in a terminal. An answer that does not come within half a minute fails the test.
fn begin(workshop: &Workshop, day: &str, arguments: &[&str]) -> PtySession {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("stillroom"));
    command.env_clear().env("HOME", workshop.path("")).env("TERM", "xterm").env("NO_COLOR", "1");
    command.current_dir(workshop.path("")).args(["--store", "workshop.sqlite", "--as-of", day]).args(arguments);
    spawn_command(command, Some(30_000)).unwrap()
}

/// Waits for each question and answers it.
fn answer(session: &mut PtySession, dialogue: &[(&str, &str)]) {
    for (question, reply) in dialogue {
        session.exp_string(question).unwrap_or_else(|error| panic!("no question {question:?}: {error}"));
        session.send_line(reply).unwrap();
    }
}

/// What is printed after the last answer.
fn rest(session: &mut PtySession) -> String {
    session.exp_eof().unwrap()
}

/// One lot as `stock` shows it.
fn lot(workshop: &Workshop, code: &str) -> Value {
    let lots = workshop.json(&["stock"])["lots"].clone();
    lots.as_array().unwrap().iter().find(|lot| lot["lot"] == code).cloned().unwrap_or(Value::Null)
}

/// Goes down the list to what is wanted and takes it. Each key waits until the one before has been drawn.
fn pick(session: &mut PtySession, question: &str, above: &[&str], wanted: &str) {
    session.exp_string(question).unwrap();
    for shown in above.iter().chain([&wanted]) {
        session.exp_string(&format!("> {shown}")).unwrap();
        session.exp_string(LAST_CHOICE).unwrap();
        session.send(if *shown == wanted { "\r" } else { "\x1b[B" }).unwrap();
        session.flush().unwrap();
    }
}

#[test]
fn a_parcel_is_asked_for_line_by_line() {
    let workshop = Workshop::example();
    let mut session = begin(&workshop, FIRST_DAY, &["receive"]);
    pick(
        &mut session,
        "What came?",
        &["B2027-07 from Pillowby Packaging", "B2027-08 from Bushel and Pound"],
        "B2027-09 from Dunmarch Oils and Butters",
    );
    answer(
        &mut session,
        &[
            ("Castor oil, 1 x 500 ml: how many packs came? [1]", "0"),
            ("Coconut oil, 1 x 5 kg: how many packs came? [1]", ""),
            ("Coconut oil: supplier's lot number?", "DM-4471"),
            ("Coconut oil: best before (2027-03-09; empty: the material's own life)?", "2028-08-31"),
            ("Coconut oil: where is it put?", "shelf A2"),
        ],
    );
    let said = rest(&mut session);
    assert!(said.contains("5 kg of Coconut oil, 26.80 EUR."), "{said}");
    let code = said.split("Lot ").nth(1).unwrap().split(':').next().unwrap();
    let lot = lot(&workshop, code);
    assert_eq!(
        (&lot["on_hand"], &lot["usable_through"], &lot["place"]),
        (&json!(5_000_000), &json!("2028-08-31"), &json!("shelf A2"))
    );
    // The castor oil is still to come.
    let open = workshop.json(&["order", "list"])["orders"].clone();
    let left: Vec<_> = open.as_array().unwrap().iter().filter(|line| line["order"] == "B2027-09").collect();
    assert_eq!(left.iter().map(|line| &line["material"]).collect::<Vec<_>>(), ["castor-oil"]);
}

#[test]
fn who_goes_away_in_the_middle_has_written_nothing() {
    let workshop = Workshop::example();
    let before = workshop.json(&["act", "list"]);
    let mut session = begin(&workshop, FIRST_DAY, &["receive", "B2027-09"]);
    answer(&mut session, &[("Castor oil, 1 x 500 ml: how many packs came? [1]", "")]);
    session.exp_string("Castor oil: supplier's lot number?").unwrap();
    session.send_control('c').unwrap();
    rest(&mut session);
    let ended = format!("{:?}", session.process().wait().unwrap());
    // A key that comes before the terminal is the question's own is a signal, one that comes later an answer that breaks off.
    assert!(ended.contains("SIGINT") || ended.contains("Exited") && ended.ends_with("2)"), "{ended}");
    assert_eq!(workshop.json(&["act", "list"]), before);

    let mut session = begin(&workshop, FIRST_DAY, &["receive", "B2027-09"]);
    answer(&mut session, &[("Castor oil, 1 x 500 ml: how many packs came? [1]", "many")]);
    let said = rest(&mut session);
    assert!(said.contains("error: \"many\" is no number of packs above 0"), "{said}");
    assert_eq!(workshop.json(&["act", "list"]), before);
}

#[test]
fn weighing_asks_lot_by_lot_and_for_the_reason_of_what_is_off() {
    let workshop = Workshop::example();
    let sheet = workshop.json(&["weigh", "E01"]);
    let lines = sheet["phases"].as_array().unwrap().iter().flat_map(|phase| phase["lines"].as_array().unwrap());
    let lots: Vec<&str> = lines.map(|line| line["take"][0]["lot"].as_str().unwrap()).collect();
    let mut session = begin(&workshop, FIRST_DAY, &["make", "E01", "--by", "Ilse"]);
    // 100 pcs x 4.5 g / (1 - 4 %) = 468.75 g; 34 % of it is 159.375 g. The maker has 165 g of it, and takes the rest as it is.
    // The question shows it as the scale does. What cannot be understood is asked again; what the scale shows needs no unit.
    let almond = "Sweet almond oil from lot L2612-5 (shelf B3) [159.4 g]: ";
    answer(&mut session, &[(almond, "a lot")]);
    session.exp_string("is not an amount").unwrap();
    answer(&mut session, &[(almond, "165")]);
    for lot in &lots[1..] {
        answer(&mut session, &[(&format!("from lot {lot} "), "")]);
    }
    // And what is counted by the piece.
    for _ in sheet["packaging"].as_array().unwrap() {
        answer(&mut session, &[("from lot ", "")]);
    }
    // 2 % of 159.375 g are 3.1875 g; it is off by 5.625 g.
    answer(
        &mut session,
        &[
            ("Why does L2612-5 differ by more than 2 % from the sheet?", "the bowl was not dry"),
            ("How many pieces came out? [100] ", "98"),
        ],
    );
    let said = rest(&mut session);
    assert!(said.contains("Batch B-2027-0001"), "{said}");
    let batch = workshop.json(&["batch", "show", "B-2027-0001"]);
    // 2 l x 0.915 g/ml = 1,830 g came for 162 DKK: 165 g of it are 14.61 DKK, at 0.134 that is 1.958 EUR, half up.
    let almond = &batch["draws"][0];
    assert_eq!(
        (&almond["lot"], &almond["amount"], &almond["cost"]),
        (&json!("L2612-5"), &json!(165_000), &json!("1.96"))
    );
    let weighed = &batch["weighings"];
    assert_eq!((&weighed[0]["target"], &weighed[0]["reason"]), (&json!(159_375), &json!("the bowl was not dry")));
    assert!(
        weighed.as_array().unwrap()[1..].iter().all(|line| line["target"] == line["weighed"] && line["reason"] == "")
    );
    assert_eq!((&batch["pieces"], &batch["weighed_by"]), (&json!(98), &json!("Ilse")));
}

#[test]
fn a_reason_is_asked_for_and_a_stocktake_asks_before_it_writes() {
    let workshop = Workshop::example();
    let mut session = begin(&workshop, FIRST_DAY, &["formula", "revise", "calendula-salve"]);
    answer(&mut session, &[("Why is there a new version?", "less wax")]);
    let said = rest(&mut session);
    assert!(said.contains("Formula calendula-salve, version 2, is a copy of version 1."), "{said}");

    workshop.file("counts.csv", "lot,counted\nL2608-2,900 g\n");
    let mut session = begin(&workshop, FIRST_DAY, &["stocktake", "enter", "counts.csv"]);
    // 1.1 kg came for 16.05 EUR, none was taken: 200 g of it are 2.918 EUR, half up.
    let shown = session.exp_string("Write these differences? [y/N]").unwrap();
    assert!(shown.contains("1 lot counted, 1 differs: -2.92 EUR in all."), "{shown}");
    session.send("n").unwrap();
    session.flush().unwrap();
    let said = rest(&mut session);
    assert!(said.contains("othing"), "{said}");
    assert_eq!(lot(&workshop, "L2608-2")["on_hand"], 1_100_000);

    let mut session = begin(&workshop, FIRST_DAY, &["stocktake", "enter", "counts.csv"]);
    session.exp_string("Write these differences? [y/N]").unwrap();
    session.send("y").unwrap();
    session.flush().unwrap();
    answer(&mut session, &[("Why do the lots differ?", "a candle was poured for the house")]);
    rest(&mut session);
    assert_eq!(lot(&workshop, "L2608-2")["on_hand"], 900_000);
}

#[test]
fn while_the_maker_thinks_others_write_and_she_is_not_asked_twice() {
    let workshop = Workshop::example();
    let mut session = begin(&workshop, FIRST_DAY, &["receive", "B2027-09"]);
    answer(&mut session, &[("Castor oil, 1 x 500 ml: how many packs came? [1]", "")]);
    session.exp_string("Castor oil: supplier's lot number?").unwrap();
    // Meanwhile somebody else takes a lot in: it gets the number that this parcel would have had.
    let other = workshop.json(&["receive", "--material", "beeswax", "--amount", "1 kg", "--cost", "14"]);
    assert_eq!(other["lots"][0]["lot"], "L-0001");
    session.send_line("C-1").unwrap();
    answer(
        &mut session,
        &[
            ("Castor oil: best before (2027-03-09; empty: the material's own life)?", ""),
            ("Castor oil: where is it put?", ""),
            ("Coconut oil, 1 x 5 kg: how many packs came? [1]", "0"),
        ],
    );
    let said = rest(&mut session);
    assert!(said.contains("Lot L-0002: 479.5 g of Castor oil, 4.70 EUR."), "{said}");
    assert!(!said.contains("supplier's lot number?"), "{said}");
    let acts = workshop.json(&["act", "list", "--last", "2"]);
    let kinds: Vec<_> = acts["acts"].as_array().unwrap().iter().map(|act| &act["kind"]).collect();
    assert_eq!(kinds, ["receive", "receive"]);
}

#[test]
fn the_first_run_asks_until_it_understands_and_begins_a_workshop() {
    let workshop = Workshop::empty();
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("stillroom"));
    command.env_clear().env("HOME", workshop.path("")).env("TERM", "xterm").env("NO_COLOR", "1");
    command.current_dir(workshop.path(""));
    let mut session = spawn_command(command, Some(30_000)).unwrap();
    answer(
        &mut session,
        &[
            ("In which currency do you count your money (three letters: EUR, GBP, USD)? [EUR] ", "crowns"),
            ("\"crowns\" is no currency", "dkk"),
            ("In which time zone is the workshop?", "Europe/Copenhagen"),
            ("To which e-mail address do letters go (empty: none yet)?", ""),
        ],
    );
    session.exp_string("Write empty sheets to fill in, into the new folder stillroom-sheets? [y/N]").unwrap();
    session.send("y").unwrap();
    session.flush().unwrap();
    let said = rest(&mut session);
    assert!(said.contains("every line there says what it is for."), "{said}");
    assert!(said.contains("stillroom import stillroom-sheets/workshop.xlsx"), "{said}");
    assert!(workshop.path("stillroom-sheets/workshop.xlsx").exists());
    let settings = std::fs::read_to_string(workshop.path(".config/stillroom/config.toml")).unwrap();
    assert!(
        settings.contains("home_currency = \"DKK\"\n") && settings.contains("\ntime_zone = \"Europe/Copenhagen\"\n")
    );
    assert!(workshop.path(".local/share/stillroom/workshop.sqlite").exists());
}
