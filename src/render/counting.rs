//! The counting sheet as a page to print and as rows to fill in.

use super::amounts::{amount, count, day};
use super::csv;
use super::one_line;
use super::table::{Align, Screen, Table, strong};
use crate::view::counting::{CountingLotView, CountingView};
use serde::Serialize;

/// Name of the page.
pub const COUNTING: &str = "counting.html";

/// Column titles of [`rows`]; what is filled in is read back by them.
pub const COUNTING_COLUMNS: [&str; 5] = ["lot", "material", "place", "unit", "counted"];

/// The sheet, ready to be printed.
#[derive(Clone, Debug, Serialize)]
pub struct CountingPage {
    /// `Counting sheet of Mon 1 March`.
    pub headline: String,
    /// How many lots in how many places.
    pub facts: String,
    /// True where the sheet says what should be there.
    pub with_amounts: bool,
    /// Place by place.
    pub places: Vec<CountingPlacePage>,
}

/// A place.
#[derive(Clone, Debug, Serialize)]
pub struct CountingPlacePage {
    /// Its name.
    pub name: String,
    /// Its lots.
    pub lots: Vec<CountingLotPage>,
}

/// A lot.
#[derive(Clone, Debug, Serialize)]
pub struct CountingLotPage {
    /// Code.
    pub lot: String,
    /// The material.
    pub name: String,
    /// `g` or `pcs`.
    pub unit: String,
    /// What should be there; empty where the sheet does not say.
    pub on_hand: String,
    /// `quarantine` or `rejected`; empty for a released lot.
    pub state: String,
}

/// Words the view.
#[must_use]
pub fn page(view: &CountingView) -> CountingPage {
    let lots: usize = view.places.iter().map(|place| place.lots.len()).sum();
    CountingPage {
        headline: format!("Counting sheet of {}", day(view.as_of, view.as_of)),
        facts: format!("{} in {}", count(lots, "lot", "lots"), count(view.places.len(), "place", "places")),
        with_amounts: view.places.iter().flat_map(|place| &place.lots).any(|lot| lot.on_hand.is_some()),
        places: view
            .places
            .iter()
            .map(|place| CountingPlacePage {
                name: place_name(&place.place),
                lots: place.lots.iter().map(lot_page).collect(),
            })
            .collect(),
    }
}

fn place_name(place: &str) -> String {
    if place.is_empty() { "No place noted".to_owned() } else { one_line(place) }
}

/// The unit in which a lot is counted by hand: grams or pieces.
fn counted_in(unit: &str) -> &str {
    if unit == "mg" { "g" } else { "pcs" }
}

fn lot_page(lot: &CountingLotView) -> CountingLotPage {
    CountingLotPage {
        lot: one_line(&lot.lot),
        name: one_line(&lot.name),
        unit: counted_in(&lot.unit).to_owned(),
        on_hand: lot.on_hand.map(|on_hand| amount(on_hand, &lot.unit)).unwrap_or_default(),
        state: if lot.state == "released" { String::new() } else { lot.state.clone() },
    }
}

/// One row for each lot, in the order of the sheet, with `counted` left empty: a number in `unit` (`g` or `pcs`).
#[must_use]
pub fn rows(view: &CountingView) -> Vec<u8> {
    let row = |place: &str, lot: &CountingLotView| {
        let unit = counted_in(&lot.unit).to_owned();
        vec![lot.lot.clone(), lot.material.clone(), place.to_owned(), unit, String::new()]
    };
    let places = view.places.iter();
    let rows: Vec<Vec<String>> = places.flat_map(|place| place.lots.iter().map(|lot| row(&place.place, lot))).collect();
    csv::write(&COUNTING_COLUMNS, &rows)
}

/// The sheet for the terminal.
#[must_use]
pub fn terminal(view: &CountingView, screen: Screen) -> String {
    let page = page(view);
    let mut text = format!("{}\n{}.\n\n", strong(&page.headline, screen.colour), page.facts);
    let mut table = Table::new(&[
        ("Place", Align::Left),
        ("Lot", Align::Left),
        ("Material", Align::Left),
        ("State", Align::Left),
        ("Should be", Align::Right),
        ("Counted", Align::Left),
    ]);
    for place in &page.places {
        for lot in &place.lots {
            let blank = format!("________ {}", lot.unit);
            table.row([&place.name, &lot.lot, &lot.name, &lot.state, &lot.on_hand, &blank]);
        }
    }
    text.push_str(&table.render(screen));
    text
}
