//! The first minutes: `init`, and the program called without a word.

use crate::workshop::Workshop;
use std::process::{Command, Output};

/// The program as somebody without settings and store runs it.
fn run(workshop: &Workshop, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stillroom"))
        .env_clear()
        .env("HOME", workshop.path("home"))
        .current_dir(workshop.path(""))
        .args(arguments)
        .output()
        .unwrap()
}

fn said(output: &Output) -> (i32, String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn without_a_word_the_way_in_is_named_and_later_the_day_is_shown() {
    let workshop = Workshop::empty();
    let (status, out, err) = said(&run(&workshop, &[]));
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.starts_with("error: there is no workshop yet at "), "{err}");
    assert!(err.contains("next: `stillroom init` begins one, `stillroom demo` shows an example"), "{err}");
    let (status, _, err) = said(&run(&workshop, &["init", "--currency", "gbp", "--time-zone", "Europe/London"]));
    assert_eq!((status, err.as_str()), (0, ""));
    let (status, out, err) = said(&run(&workshop, &[]));
    assert_eq!((status, err.as_str()), (0, ""), "{out}");
    assert_eq!(said(&run(&workshop, &["today"])).1, out);
}

#[test]
fn init_writes_settings_and_store_once_and_never_over_anything() {
    let workshop = Workshop::empty();
    let words = ["init", "--config", "my/settings.toml", "--store", "my/shop.sqlite"];
    let answers = ["--currency", "GBP", "--time-zone", "Europe/London", "--to", "Mara Vale <mara@example.org>"];
    let (status, out, err) = said(&run(&workshop, &[&words[..], &answers].concat()));
    assert_eq!((status, err.as_str()), (0, ""));
    assert!(out.starts_with("Your settings are in my/settings.toml; every line there says what it is for.\n"), "{out}");
    assert!(out.contains("stillroom import --map FILE"), "{out}");
    let written = std::fs::read_to_string(workshop.path("my/settings.toml")).unwrap();
    for line in ["home_currency = \"GBP\"", "time_zone = \"Europe/London\"", "to = [\"Mara Vale <mara@example.org>\"]"]
    {
        assert!(written.lines().any(|written| written == line), "{line}");
    }
    // The settings lead to the store, which counts in pounds.
    let stock = said(&run(&workshop, &["stock", "--config", "my/settings.toml", "--json"]));
    assert_eq!(stock.0, 0, "{}", stock.2);
    let view: serde_json::Value = serde_json::from_str(&stock.1).unwrap();
    assert_eq!(view["currency"], "GBP", "{view}");

    let again = said(&run(&workshop, &[&words[..], &["--currency", "EUR"]].concat()));
    assert_eq!(again.0, 0, "{}", again.2);
    assert!(again.1.contains("were there already and stay as they are"), "{}", again.1);
    assert!(again.1.contains("was there already and stays as it is"), "{}", again.1);
    assert_eq!(std::fs::read_to_string(workshop.path("my/settings.toml")).unwrap(), written);
}

#[test]
fn empty_sheets_are_written_at_the_beginning_or_later_and_imported_as_they_are() {
    let workshop = Workshop::empty();
    let (status, out, err) = said(&run(&workshop, &["init", "--sheets", "--json"]));
    assert_eq!((status, err.as_str()), (0, ""), "{out}");
    let view: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!((&view["settings_written"], &view["store_made"]), (&true.into(), &true.into()));
    assert_eq!(view["sheets"]["workbook"], "stillroom-sheets/workshop.xlsx");
    let files = view["sheets"]["files"].as_array().unwrap();
    assert_eq!(files.len(), 12);
    assert!(files.iter().all(|file| workshop.path(file.as_str().unwrap()).is_file()), "{files:?}");
    for path in ["stillroom-sheets", "stillroom-sheets/workshop.xlsx", "stillroom-sheets/csv"] {
        let (status, out, err) = said(&run(&workshop, &["import", path]));
        assert_eq!((status, err.as_str()), (0, ""), "{path}");
        assert!(out.contains("Nothing to take in: below the titles no row is filled in yet."), "{out}");
    }

    // Settings and store are there already: they stay, and the sheets come.
    let (status, out, err) = said(&run(&workshop, &["init", "--sheets", "once more"]));
    assert_eq!((status, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("Empty sheets are in once more/workshop.xlsx"), "{out}");
    assert!(out.contains("stillroom import --dry-run \"once more/workshop.xlsx\""), "{out}");
    let (status, out, err) = said(&run(&workshop, &["init", "--sheets", "once more"]));
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("once more/workshop.xlsx is there already; no sheet was written"), "{err}");
}

#[test]
fn what_is_still_missing_is_named_before_any_good_news() {
    let workshop = Workshop::empty();
    assert_eq!(said(&run(&workshop, &["init"])).0, 0);
    let check = |arguments: &[&str], words: &str| {
        let (status, out, err) = said(&run(&workshop, arguments));
        assert_eq!((status, err.as_str()), (0, ""), "{arguments:?}");
        assert!(out.contains(words), "{arguments:?}: {out}");
    };
    check(&["forecast"], "There are no materials yet.");
    workshop.file("materials.csv", "code,name\noil,Olive oil\n");
    workshop.file("formulas.csv", "formula,ingredient,percent\nbody-oil,oil,100\n");
    check(&["import", "materials.csv", "formulas.csv"], "There is no product yet:");
    for report in ["forecast", "reorder", "month", "today"] {
        check(&[report], "There is no product yet:");
    }
    let (status, _, err) = said(&run(&workshop, &["plan", "add", "body oil", "9 pcs", "--make-on", "2099-01-01"]));
    assert_eq!(status, 2);
    assert!(err.contains("body-oil is a formula; a product says how much of it is in a piece."), "{err}");
    workshop.file("products.csv", "code,name,formula,net_mass\nbottle,Body oil,body-oil,50 g\n");
    check(&["import", "products.csv"], "Nothing is planned, so nothing can run short.");
    check(&["plan", "list"], "`stillroom plan add PRODUCT");
}

#[test]
fn what_cannot_be_understood_makes_nothing() {
    let workshop = Workshop::empty();
    let check = |arguments: &[&str], expected: &str| {
        let (status, out, err) = said(&run(&workshop, arguments));
        assert_eq!((status, out.as_str(), err.as_str()), (2, "", expected), "{arguments:?}");
        assert!(!workshop.path("home").exists(), "{arguments:?} made something");
    };
    check(
        &["init", "--currency", "pounds"],
        "error: \"pounds\" is no currency\nnext: give its three letters of ISO 4217: EUR, GBP, DKK\n",
    );
    check(
        &["init", "--time-zone", "London"],
        "error: \"London\" is no time zone\nnext: give its name in the IANA list: Europe/Lisbon\n",
    );
    assert!(said(&run(&workshop, &["init", "--to", "mara"])).2.starts_with("error: "));
    assert!(!workshop.path("home").exists());
}
