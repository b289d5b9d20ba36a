//! The trace as JSON, on the terminal and as a recall sheet: an oil in an infusion in two salves.

use super::support::day;
use super::{batch, draw, lot, stocked};
use stillroom::plan::quantity::Quantity;
use stillroom::plan::trace::{Genealogy, PiecesGone};
use stillroom::render::table::Screen;
use stillroom::render::{html, trace as words};
use stillroom::view::trace::trace;

/// OIL goes into batch INF, which becomes lot INFL, which goes into B2; B1 takes OIL itself; WAX goes into both salves.
fn salves() -> Genealogy {
    let gone = |batch: &str, kind: &str, on: u64, pieces: i64| PiecesGone {
        batch: batch.to_owned(),
        kind: kind.to_owned(),
        day: day(on),
        reason: if kind == "gift" { "the neighbours".to_owned() } else { String::new() },
        pieces,
    };
    let mut oil = lot("OIL");
    oil.on_hand = Quantity(120_000);
    oil.name = "Olive <b>oil</b>".to_owned();
    let mut infused = lot("INFL");
    infused.on_hand = Quantity::ZERO;
    infused.supplier = String::new();
    infused.supplier_name = String::new();
    infused.supplier_lot = String::new();
    Genealogy {
        lots: vec![infused, oil, lot("WAX")],
        batches: vec![batch("INF", 2, 0), batch("B1", 4, 24), batch("B2", 30, 50)],
        draws: vec![
            draw("OIL", "INF", 880_000),
            draw("OIL", "B1", 200_000),
            draw("WAX", "B1", 50_000),
            draw("INFL", "B2", 700_000),
            draw("WAX", "B2", 90_000),
        ],
        stocked: vec![stocked("INF", "INFL")],
        decanted: Vec::new(),
        gone: vec![
            gone("B1", "sale", 40, 10),
            gone("B1", "sale", 40, 2),
            gone("B1", "gift", 41, 1),
            gone("B2", "sale", 45, 20),
            gone("B2", "sale", 47, -1),
        ],
    }
}

#[test]
fn a_lot_leads_to_its_batches_and_their_pieces() {
    let genealogy = salves();
    let view = serde_json::to_value(trace(&genealogy.index(), "OIL", day(50)).unwrap()).unwrap();
    assert_eq!(view["subject"], "OIL");
    let list = |name: &str, key: &str| -> Vec<String> {
        view[name].as_array().unwrap().iter().map(|each| each[key].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(list("lots", "lot"), ["INFL", "OIL"]);
    assert_eq!(list("batches", "batch"), ["INF", "B1", "B2"]);
    let oil = &view["lots"][1];
    // 880 g for the infusion and 200 g for B1.
    assert_eq!((oil["amount"].as_i64(), oil["supplier"].as_str()), (Some(1_080_000), Some("north")));
    assert_eq!((oil["material"].as_str(), oil["supplier_lot"].as_str()), (Some("oil"), Some("N-OIL")));
    let (first, second) = (&view["batches"][1], &view["batches"][2]);
    assert_eq!((first["made_on"].as_str(), first["product"].as_str()), (Some("2027-03-05"), Some("b1")));
    // 24 made, 12 sold on one day, 1 given away; 50 made, 20 sold, 1 came back.
    assert_eq!((first["pieces"].as_i64(), first["pieces_here"].as_i64()), (Some(24), Some(11)));
    assert_eq!(first["gone"][0], serde_json::json!({"date": "2027-04-10", "kind": "sale", "pieces": 12, "reason": ""}));
    assert_eq!((second["pieces_gone"].as_i64(), second["pieces_here"].as_i64()), (Some(19), Some(31)));
    // The wax of the same batches is not what was asked for.
    assert_eq!(first["draws"], serde_json::json!([{"lot": "OIL", "amount": 200_000, "unit": "mg"}]));
    assert_eq!(view["also"], serde_json::json!({"lots": [], "batches": []}));
}

#[test]
fn a_batch_leads_to_its_lots_and_a_premix_both_ways() {
    let genealogy = salves();
    let index = genealogy.index();
    let view = trace(&index, "B2", day(50)).unwrap();
    let lots: Vec<(&str, i64)> = view.lots.iter().map(|lot| (lot.lot.as_str(), lot.amount)).collect();
    assert_eq!(lots, [("INFL", 700_000), ("OIL", 880_000), ("WAX", 90_000)]);
    let batches: Vec<&str> = view.batches.iter().map(|batch| batch.batch.as_str()).collect();
    assert_eq!(batches, ["INF", "B2"]);
    let premix = trace(&index, "INFL", day(50)).unwrap();
    assert_eq!(premix.batches.iter().map(|batch| batch.batch.as_str()).collect::<Vec<_>>(), ["B2"]);
    assert_eq!(premix.also.lots.iter().map(|lot| lot.lot.as_str()).collect::<Vec<_>>(), ["OIL"]);
    assert_eq!(premix.also.batches.iter().map(|batch| batch.batch.as_str()).collect::<Vec<_>>(), ["INF"]);
    assert!(trace(&index, "nothing", day(50)).is_none());
}

#[test]
fn the_terminal_says_the_news_first() {
    let genealogy = salves();
    let view = trace(&genealogy.index(), "OIL", day(50)).unwrap();
    let text = words::terminal(&view, Screen::default());
    assert!(text.starts_with("Lot OIL is in 3 batches: 32 of 74 pieces are gone, 42 are still here.\n"), "{text}");
    for phrase in [
        "12 by sale on Sat 10 April",
        "1 by gift on Sun 11 April (the neighbours)",
        "1 came back (sale) on Sat 17 April",
        "880 g of OIL",
        "N-OIL",
    ] {
        assert!(text.contains(phrase), "{phrase} is missing:\n{text}");
    }
}

#[test]
fn the_recall_sheet_counts_what_left_and_what_is_here() {
    let genealogy = salves();
    let index = genealogy.index();
    let page = words::recall(&trace(&index, "OIL", day(50)).unwrap());
    assert_eq!(page.stop.iter().map(|lot| lot.lot.as_str()).collect::<Vec<_>>(), ["INFL", "OIL"]);
    assert_eq!(page.stop[1].remains, "120 g left, shelf A");
    assert_eq!(page.stop[0].remains, "none left");
    assert_eq!(page.sums.iter().map(|sum| sum.pieces).collect::<Vec<_>>(), [74, 42, 32]);
    assert_eq!(page.by_kind, "1 by gift and 31 by sale");
    assert_eq!(page.premixes.len(), 1);
    let rendered = html::render(words::RECALL, &page, None).unwrap();
    if let Ok(folder) = std::env::var("STILLROOM_PAGES") {
        std::fs::write(std::path::Path::new(&folder).join("recall.html"), &rendered.html).unwrap();
    }
    assert!(rendered.html.contains("Olive &lt;b&gt;oil") && !rendered.html.contains("<b>oil"));
    assert!(rendered.html.contains("Local rules come first") && rendered.html.contains("Signature"));
    assert!(!rendered.html.contains("http:") && !rendered.html.contains("https:"), "the page needs no network");
    // A batch that is recalled takes along what it became: the lot of the infusion and the salve that holds it.
    let page = words::recall(&trace(&index, "INF", day(50)).unwrap());
    assert_eq!(page.stop.iter().map(|lot| lot.lot.as_str()).collect::<Vec<_>>(), ["INFL"]);
    assert_eq!(page.batches.iter().map(|batch| batch.batch.as_str()).collect::<Vec<_>>(), ["B2"]);
}
