//! A small sound workshop, of our own invention, in which a test changes what it is about.

use stillroom::book::{Book, Journal, Standing};
use stillroom::intake::{Checked, Fault, SheetKind, Sheets, check};
use stillroom::plan::money::Currency;

const FILES: [(&str, &str); 10] = [
    (
        "materials",
        "code,name,kind,density,always_at_hand\nwater,Water,,1,yes\noil,Almond oil,,0.92,\nwax,Beeswax,raw,,\ntin,Tin,packaging,,\n",
    ),
    ("suppliers", "code,name,currency,lead_time_days\nnorth,North Oils,EUR,5\nisle,Isle Butters,GBP,9\n"),
    ("offers", "supplier,material,pack,price\nnorth,oil,1 l,14.50\nisle,tin,50 pcs,22.00\n"),
    ("rates", "date,currency,rate\n2027-03-01,GBP,1.17\n"),
    (
        "formulas",
        "formula,version,ingredient,percent,phase\ninfused,,oil,95,\ninfused,,water,balance,\nsalve,2,infusion,70,heated\nsalve,2,wax,30,heated\n",
    ),
    ("premixes", "code,formula,make_ahead_days,loss,life\ninfusion,infused,28,2,6 months\n"),
    ("products", "code,name,formula,net_mass,pieces_per_mould\nbalm,Balm,salve,30 g,12\n"),
    ("packaging", "product,material,per_piece\nbalm,tin,1\n"),
    ("lots", "lot,material,amount,cost\nL1,oil,500 g,9.20\nL2,tin,40 pcs,18\n"),
    ("plan", "entry,product,amount,make_on\np1,balm,24 pcs,2027-04-01\n"),
];

/// The tables of some files.
pub fn sheets(files: &[(&str, &str)]) -> Sheets {
    let mut sheets = Sheets::default();
    for (stem, text) in files {
        let kind = SheetKind::of_stem(stem).unwrap();
        sheets.add_csv(kind, &format!("{stem}.csv"), text.as_bytes());
    }
    sheets
}

/// The sound workshop with some of its files in another text.
pub fn with(changed: &[(&str, &str)]) -> Sheets {
    let mut files: Vec<(&str, &str)> = FILES.to_vec();
    for &(stem, text) in changed {
        files.retain(|(known, _)| *known != stem);
        files.push((stem, text));
    }
    sheets(&files)
}

/// Checks tables for a store that has nothing yet.
pub fn check_new(sheets: &Sheets) -> Result<Checked, Vec<Fault>> {
    check(sheets, Currency::EUR, &Book::default(), &[], &Journal::default())
}

/// Checks files over what an earlier import left.
pub fn check_over(files: &[(&str, &str)], book: &Book, standings: &[Standing]) -> Result<Checked, Vec<Fault>> {
    check(&sheets(files), Currency::EUR, book, standings, &Journal::default())
}

/// The book of the sound workshop.
pub fn book() -> Book {
    check_new(&with(&[])).unwrap().merged
}

/// The messages of all faults, one on a line.
pub fn messages(outcome: Result<Checked, Vec<Fault>>) -> String {
    let faults = outcome.err().unwrap_or_default();
    faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

#[test]
fn the_sound_workshop_is_sound() {
    let checked = check_new(&with(&[])).unwrap();
    assert_eq!(checked.notes, Vec::<String>::new());
    assert_eq!(checked.merged.materials.len(), 4);
    assert_eq!(checked.merged.offers[1].pack.0, 920_000);
    assert_eq!(checked.merged.offers[1].pack_text, "1 l");
    assert_eq!(checked.changes.len(), 19 - 2);
}
