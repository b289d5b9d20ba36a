//! 15 to 20 March: mango butter in two parcels, salves from the premix, an act that cannot be undone any more, a market, a
//! stocktake.

use crate::{Story, fields, list, of, reads};
use serde_json::json;

const MONDAY: &str = "2027-03-15";
const TUESDAY: &str = "2027-03-16";
const WEDNESDAY: &str = "2027-03-17";
const THURSDAY: &str = "2027-03-18";
const SATURDAY: &str = "2027-03-20";

pub fn go(story: &mut Story) {
    mango_butter_in_part(story);
    mango_velvet_from_two_lots(story);
    mango_butter_in_full(story);
    a_test_batch(story);
    salve_from_the_premix(story);
    what_cannot_be_undone_any_more(story);
    another_market(story);
    a_stocktake(story);
}

fn mango_butter_in_part(story: &mut Story) {
    let facts =
        ["--material", "mango-butter", "--packs", "4", "--supplier-lot", "BP27801", "--best-before", "2028-06-30"];
    // 4 x 6.85 = 27.40 GBP of goods; 18.50 postage and 6.5 % duty, 1.781: 20.28.
    let landed = ["--postage-and-duty", "20.28"];
    let came = story.json(MONDAY, &[&["receive", "B2027-08"], &facts[..], &landed].concat());
    // A pound is 453,592 mg when packs are counted: the pack is rounded to the milligram once, and 4 of them are 1,814,368.
    assert_eq!(
        fields(&list(&came, "lots")[0], ["lot", "amount", "cost", "currency"]),
        [json!("L-0007"), json!(1_814_368), json!("47.68"), json!("GBP")]
    );
    story.shelves.new_lot("L-0007", 1_814_368);
    let open = story.json(MONDAY, &["order", "list"]);
    let line = of(list(&open, "orders"), "order", "B2027-08");
    // 6 - 4 packs.
    assert_eq!(fields(line, ["material", "packs"]), [json!("mango-butter"), json!(2)]);
}

fn mango_velvet_from_two_lots(story: &mut Story) {
    // 20 pcs x 90 g = 1,800 g; / (1 - 3 %) = 1,855,670 mg. 48 % 890,721.6; 14 % 259,793.8; 12 % 222,680.4; 10 % 185,567.0 twice;
    // 4.5 % 83,505.15; 0.5 % 9,278.35; 1 % 18,556.7: three milligrams are left over for .8, .7 and .6. The sheet takes all mango
    // butter from the new lot, in one weighing; she finishes the old one first.
    let took = [
        ("L2610-3", 500_000),
        ("L-0007", 390_722),
        ("L2608-1", 259_794),
        ("L2611-1", 222_680),
        ("L2701-21", 185_567),
        ("L2702-8", 185_567),
        ("L2702-3", 83_505),
        ("L2702-12", 9_278),
        ("L2702-4", 18_557),
        ("L2701-13", 20),
        ("L2611-6", 40),
        ("L2701-17", 1),
    ];
    let instead = ["--took", "L2610-3=500 g", "--took", "L-0007=390722 mg", "--reason", "the old lot first"];
    let made = story.makes(MONDAY, &[&["E09"], &instead[..]].concat(), &took);
    // Rosehip, opened today, 5 months. What was weighed adds up to the sheet's mass.
    assert_eq!(
        fields(&made, ["batch", "weighed_mass", "best_before", "best_before_of"]),
        [json!("B-2027-0009"), json!(1_855_670), json!("2027-08-15"), json!("L2701-21")]
    );
    let shown = story.json(MONDAY, &["batch", "show", "B-2027-0009"]);
    let cost = |lot: &str| of(list(&shown, "draws"), "lot", lot)["cost"].clone();
    assert_eq!(cost("L2610-3"), "8.85"); // all of it: 7.55 GBP x 1.172 = 8.849
    assert_eq!(cost("L-0007"), "12.04"); // 47.68 GBP x 390.722 / 1,814.368 = 10.268, 10.27 GBP; x 1.172 = 12.036
    assert_eq!(cost("L2701-21"), "5.65"); // 16.80 GBP x 185.567 / 646.8 = 4.82 GBP; x 1.172 = 5.649
    // and 3.99 + 7.20 + 0.90 + 0.33 + 0.49 + 1.44 + 14.46 + 1.95 + 0.96: 58.26.
    assert_eq!(shown["cost"], "58.26");
}

fn mango_butter_in_full(story: &mut Story) {
    let facts = ["--supplier-lot", "BP27802", "--postage-and-duty", "0.89"];
    let came = story.json(TUESDAY, &[&["receive", "B2027-08"], &facts[..]].concat());
    // 2 x 6.85 = 13.70, duty 6.5 % = 0.8905, no postage this time. 24 months unopened from 16 March.
    assert_eq!(
        fields(&list(&came, "lots")[0], ["lot", "amount", "cost"]),
        [json!("L-0008"), json!(907_184), json!("14.59")]
    );
    story.shelves.new_lot("L-0008", 907_184);
    assert_eq!(story.json(TUESDAY, &["lot", "show", "L-0008"])["usable_through"], "2029-03-16");
    let open = story.json(TUESDAY, &["order", "list"]);
    assert!(list(&open, "orders").is_empty(), "{open}");
    // What the four pounds have cost, landed: 47.68 GBP x 1.172 = 55.88 EUR for 1.814368 kg, 30.80 a kilogram.
    let prices = story.says(TUESDAY, &["prices", "mango-butter"]);
    reads(&prices, &["L-0007", "30.80"]);
}

fn a_test_batch(story: &mut Story) {
    // 4 pcs x 50 g = 200 g; / (1 - 2.5 %) = 205,128 mg. 92 % 188,717.76; 6.5 % 13,333.32; 0.5 % 1,025.64; 1 % 2,051.28: two
    // milligrams are left over for .76 and .64. L2702-13 holds 67,693 only: one lot is weighed, the new one.
    let took = [
        ("L-0006", 188_718),
        ("L2609-5", 13_333),
        ("L2702-12", 1_026),
        ("L2702-4", 2_051),
        ("L2701-12", 4),
        ("L2611-6", 4),
        ("L2701-17", 1),
    ];
    let test =
        ["--product", "calendula-salve-60", "--amount", "4 pcs", "--as-planned", "--note", "is the base too soft?"];
    let made = story.makes(WEDNESDAY, &test, &took);
    assert_eq!(fields(&made, ["batch", "entry", "pieces"]), [json!("B-2027-0010"), json!(""), json!(4)]);
    let shown = story.json(WEDNESDAY, &["batch", "show", "B-2027-0010"]);
    assert_eq!(shown["note"], "is the base too soft?");
    // 18.87 x 188.718 / 1,800 = 1.98 base, and 0.13 + 0.05 + 0.16 + 1.70 + 0.20 + 0.96: 5.18; 2 x 1.30 + 2 x 1.29.
    assert_eq!(shown["cost"], "5.18");
    assert_eq!(shown["shares"], json!([{"pieces": 2, "cost": "1.30"}, {"pieces": 2, "cost": "1.29"}]));
}

fn salve_from_the_premix(story: &mut Story) {
    // 24 pcs x 50 g = 1,200 g: the masses of the 48 small tins (E04).
    let took = [
        ("L-0006", 1_132_307),
        ("L2609-5", 80_000),
        ("L2702-12", 6_154),
        ("L2702-4", 12_308),
        ("L2701-12", 24),
        ("L2611-6", 24),
        ("L2701-17", 1),
    ];
    let made = story.makes(THURSDAY, &["E16", "--as-planned", "--by", "Ilse"], &took);
    assert_eq!(fields(&made, ["batch", "best_before"]), [json!("B-2027-0011"), json!("2027-12-12")]);
    let shown = story.json(THURSDAY, &["batch", "show", "B-2027-0011"]);
    // 18.87 - 1.98 = 16.89, x 1,132.307 / 1,611.282 = 11.869.
    assert_eq!(of(list(&shown, "draws"), "lot", "L-0006")["cost"], "11.87");
    // and 0.81 + 0.32 + 0.95 + 10.17 + 1.17 + 0.96: 26.25.
    assert_eq!(shown["cost"], "26.25");
}

fn what_cannot_be_undone_any_more(story: &Story) {
    let acts = story.json(THURSDAY, &["act", "list", "--last", "40"]);
    let premix = of(list(&acts, "acts"), "subject", "B-2027-0008")["act"].to_string();
    let said = story.refuses(THURSDAY, &["act", "undo", &premix]);
    // 1,800,000 - 188,718 - 1,132,307 = 478,975.
    reads(&said, &["cannot be undone: lot L-0006 holds 478.975 g, and 1.8 kg would be taken from it: undo act"]);
    assert_eq!(story.json(THURSDAY, &["lot", "show", "L-0006"])["on_hand"], 478_975);
}

fn another_market(story: &Story) {
    let leave = |batch: &str, pieces: &str, how: &str| {
        story.json(SATURDAY, &["pieces", "leave", batch, pieces, "--as", how])["left"].clone()
    };
    assert_eq!(leave("B-2027-0007", "6", "sale"), 24 - 6);
    assert_eq!(leave("B-2027-0010", "3", "sample"), 4 - 3);
    assert_eq!(leave("B-2027-0001", "12", "sale"), 55 - 12);
    let counted = story.json(SATURDAY, &["pieces", "count", "B-2027-0007", "17", "--reason", "one is not there"]);
    assert_eq!(fields(&counted, ["left", "difference"]), [json!(17), json!(-1)]);
    // Seven are more than there were: 43 are left.
    let said = story.refuses(SATURDAY, &["pieces", "leave", "B-2027-0001", "50", "--as", "sale"]);
    reads(&said, &["43"]);
}

fn a_stocktake(story: &mut Story) {
    story.says(SATURDAY, &["stocktake", "sheet", "--csv", "count.csv"]);
    let sheet = std::fs::read_to_string(story.shop.path("count.csv")).unwrap();
    // What she found; all else she leaves empty.
    let counts =
        [("L2605-2", "600"), ("L2702-12", "285"), ("L2611-4", "533"), ("L2611-3", "255"), ("L2610-6", "162.9")];
    let fill = |line: &str| {
        let found = counts.iter().find(|(lot, _)| line.split(',').next() == Some(lot));
        format!("{}{}", line.trim_end_matches('\r'), found.map_or("", |(_, count)| count))
    };
    let filled: Vec<String> = sheet.lines().map(fill).collect();
    let file = story.shop.file("filled.csv", &filled.join("\n"));
    reads(&story.refuses(SATURDAY, &["stocktake", "enter", &file]), &["--reason is missing"]);
    let entered = story.json(SATURDAY, &["stocktake", "enter", &file, "--reason", "spring stocktake"]);
    assert_eq!(entered["counted"], 5);
    let difference =
        |lot: &str| fields(of(list(&entered, "differences"), "lot", lot), ["before", "difference", "value"]);
    // 3.57 x 20 / 620 = 0.115.
    assert_eq!(difference("L2605-2"), [json!(620_000), json!(-20_000), json!("-0.12")]);
    // 330,000 less what eight batches took: 2,344 + 6,154 + 4,639 + 6,495 + 7,385 + 9,278 + 1,026 + 6,154 = 43,475. Their shares of
    // 17.29 are 0.12, 0.32, 0.24, 0.34, 0.39, 0.49, 0.05 and 0.32: 15.02 are left, x 1.525 / 286.525 = 0.0799.
    assert_eq!(difference("L2702-12"), [json!(286_525), json!(-1_525), json!("-0.08")]);
    // 640 - 100; 127.36 - 19.90 = 107.46, x 7 / 540 = 1.393.
    assert_eq!(difference("L2611-4"), [json!(540), json!(-7), json!("-1.39")]);
    // 300 - 48; nothing had been missing before, so what is found cost nothing.
    assert_eq!(difference("L2611-3"), [json!(252), json!(3), json!("0.00")]);
    // 180 ml x 0.905 = 162.9 g are there, and no difference.
    assert_eq!(list(&entered, "differences").len(), 4);
    // -0.12 - 0.08 - 1.39.
    assert_eq!(fields(&entered, ["value", "written"]), [json!("-1.59"), json!(true)]);
    for (lot, counted) in [("L2605-2", 600_000), ("L2702-12", 285_000), ("L2611-4", 533), ("L2611-3", 255)] {
        story.shelves.set(lot, counted);
    }
    assert_eq!(story.json(SATURDAY, &["lot", "show", "L2611-4"])["cost"], "106.07"); // 107.46 - 1.39
}
