//! The example workshop on paper: its sheets are whole pages that need nothing from outside.

use super::support::day;
use std::path::PathBuf;
use stillroom::book::link::link;
use stillroom::book::{Book, Journal, Standing};
use stillroom::intake::{check, read_paths};
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::model::{EntryId, Snapshot};
use stillroom::plan::money::Currency;
use stillroom::plan::outlook::look_ahead;
use stillroom::render::{counting as counting_words, html, weigh as weigh_words};
use stillroom::view::counting::counting;
use stillroom::view::weigh::weigh;

/// The example workshop as its files say, nothing drawn yet.
pub fn snapshot() -> Snapshot {
    let files = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples/workshop");
    let sheets = read_paths(&[files]);
    let book = check(&sheets, Currency::EUR, &Book::default(), &[], &Journal::default()).unwrap().merged;
    let standing = |lot: &stillroom::book::rows::LotRow| Standing {
        lot: lot.lot.clone(),
        on_hand: lot.amount,
        cost: lot.cost,
        moved: false,
    };
    let standings: Vec<Standing> = book.lots.iter().map(standing).collect();
    link(&book, Currency::EUR, &standings).unwrap()
}

/// Keeps a page for a person to look at, where `STILLROOM_PAGES` names a folder.
fn keep(name: &str, page: &str) {
    if let Ok(folder) = std::env::var("STILLROOM_PAGES") {
        std::fs::write(PathBuf::from(folder).join(name), page).unwrap();
    }
}

#[test]
fn the_sheets_of_the_example_are_whole() {
    let snapshot = snapshot();
    let outlook = look_ahead(&snapshot, day(0), None, SearchLimit::default());
    let mut cautioned = 0;
    for (place, entry) in snapshot.entries.iter().enumerate() {
        let view = weigh(&snapshot, &outlook, EntryId::new(place), 100);
        let page = weigh_words::page(&view);
        let html = html::render(weigh_words::WEIGHING, &page, None).unwrap().html;
        let boxes = html.matches("type=\"checkbox\"").count();
        let lines: usize = page.pots.iter().flat_map(|pot| &pot.phases).map(|phase| phase.lines.len()).sum();
        assert_eq!(boxes, lines + page.packaging.len(), "{}", entry.code);
        assert!(
            !html.contains("http:") && !html.contains("https:") && !html.contains("src="),
            "{}: the page needs no network",
            entry.code
        );
        assert_eq!(page.cautions.is_empty(), !html.contains("Local rules"), "{}", entry.code);
        cautioned += usize::from(!page.cautions.is_empty());
        keep(&format!("weighing-{}.html", entry.code), &html);
    }
    assert!(cautioned > 20, "only {cautioned} entries have cautions");
    for with_amounts in [false, true] {
        let page = counting_words::page(&counting(&snapshot, day(0), None, with_amounts));
        let html = html::render(counting_words::COUNTING, &page, None).unwrap().html;
        assert_eq!(html.matches("type=\"checkbox\"").count(), snapshot.lots.len());
        assert_eq!(html.contains("should be"), with_amounts);
        keep(&format!("counting-{with_amounts}.html"), &html);
    }
}
