//! The law of the ledger, seen from outside: stock is what the movements add up to, and both are what the story kept by hand;
//! what is drawn takes its part of the cost with it.

use crate::{Story, list, pair};
use std::collections::BTreeMap;

const TODAY: &str = "2027-03-31";

pub fn holds(story: &Story) {
    let kept = story.shelves.all();
    // 75 of the first day, 8 received or made, 1 decanted.
    assert_eq!(kept.len(), 75 + 8 + 1);

    let stock = story.json(TODAY, &["stock"]);
    let shown: BTreeMap<&str, i64> = list(&stock, "lots").iter().map(|lot| pair(lot, "on_hand")).collect();
    let expected: BTreeMap<&str, i64> =
        kept.iter().filter(|(_, amount)| **amount > 0).map(|(lot, amount)| (lot.as_str(), *amount)).collect();
    assert_eq!(shown, expected);

    story.says(TODAY, &["export", "out"]);
    let ledger = std::fs::read_to_string(story.shop.path("out/ledger.csv")).unwrap();
    let mut rows = csv::Reader::from_reader(ledger.as_bytes());
    let headers = rows.headers().unwrap().clone();
    let place = |name: &str| headers.iter().position(|header| header == name).unwrap();
    let mut sums: BTreeMap<String, i64> = BTreeMap::new();
    for row in rows.records() {
        let row = row.unwrap();
        *sums.entry(row[place("lot")].to_owned()).or_default() += row[place("amount")].parse::<i64>().unwrap();
    }
    assert_eq!(&sums, kept);

    let cost = |lot: &str| story.json(TODAY, &["lot", "show", lot])["cost"].clone();
    // What is empty has handed on all that it cost: written off, used up, sent back.
    for empty in ["L2609-1", "L2610-3", "L2702-14"] {
        assert_eq!((kept[empty], cost(empty)), (0, "0.00".into()));
    }
    // 16.05 - 1.53 (E01) - 4.38 (jar) - 5.31 (premix) = 4.83; x 16,410 / 331,164 = 0.239 (test); 4.59 x 103,125 / 314,754 = 1.504
    // (E26).
    assert_eq!(cost("L2608-2"), "3.09");
    // 4.38 - 3.23.
    assert_eq!(cost("WAX-JAR"), "1.15");
    // 18.87 - 1.98 - 11.87 = 5.02; x 471,795 / 478,975 = 4.945.
    assert_eq!(cost("L-0006"), "0.08");
}
