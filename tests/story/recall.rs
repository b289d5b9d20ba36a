//! 31 March: Leaning Pear Farm recalls its beeswax LP26838. Where is it, and what became of the pieces?

use crate::{Story, fields, list, of, reads};
use serde_json::{Value, json};

const TODAY: &str = "2027-03-31";

pub fn go(story: &Story) {
    where_the_wax_went(story);
    what_the_sheet_says(story);
    back_from_a_tin(story);
    the_wax_is_set_aside(story);
}

fn where_the_wax_went(story: &Story) {
    let trace = story.json(TODAY, &["trace", "LP26838"]);
    assert_eq!(fields(&trace, ["subject", "kind"]), [json!("LP26838"), json!("supplier_lot")]);
    // The block, the jar that was filled from it, and the premix that holds some of it.
    let lots: Vec<_> = list(&trace, "lots").iter().map(|lot| fields(lot, ["lot", "amount", "on_hand"])).collect();
    assert_eq!(
        lots,
        [
            // 188,718 + 1,132,307 + 471,795; 1,800,000 less that.
            [json!("L-0006"), json!(1_792_820), json!(7_180)],
            // 105,200 (E01) + 363,636 (premix) + 16,410 (test) + 103,125 (E26); 1,100,000 less that and the 300,000 in the jar.
            [json!("L2608-2"), json!(588_371), json!(211_629)],
            // E11; 300,000 less that.
            [json!("WAX-JAR"), json!(221_500), json!(78_500)],
        ]
    );
    // Batch, day, pieces, still here, gone, what it drew.
    let expected = [
        // 98 less 40 + 2 + 1 on the 13th and 12 on the 20th.
        ("B-2027-0001", "2027-03-01", 98, 43, 55, ("L2608-2", 105_200)),
        // 24 less 6 sold and 1 not found.
        ("B-2027-0007", "2027-03-11", 24, 17, 7, ("WAX-JAR", 221_500)),
        // The premix.
        ("B-2027-0008", "2027-03-12", 0, 0, 0, ("L2608-2", 363_636)),
        // 4 less 3 samples.
        ("B-2027-0010", "2027-03-17", 4, 1, 3, ("L-0006", 188_718)),
        // 24 less 10.
        ("B-2027-0011", "2027-03-18", 24, 14, 10, ("L-0006", 1_132_307)),
        ("B-2027-0012", "2027-03-22", 20, 20, 0, ("L-0006", 471_795)),
        ("B-2027-0013", "2027-03-24", 2, 2, 0, ("L2608-2", 16_410)),
        ("B-2027-0014", "2027-03-30", 100, 100, 0, ("L2608-2", 103_125)),
    ];
    let batches = list(&trace, "batches");
    assert_eq!(batches.len(), expected.len());
    for (batch, (number, day, pieces, here, gone, (lot, drew))) in batches.iter().zip(expected) {
        assert_eq!(
            fields(batch, ["batch", "made_on", "pieces", "pieces_here", "pieces_gone"]),
            [json!(number), json!(day), json!(pieces), json!(here), json!(gone)]
        );
        assert_eq!(batch["draws"], json!([{"lot": lot, "amount": drew, "unit": "mg"}]), "{number}");
    }
    let went = |batch: &str| -> Vec<[Value; 4]> {
        let gone = list(of(batches, "batch", batch), "gone").iter();
        gone.map(|gone| fields(gone, ["date", "kind", "pieces", "reason"])).collect()
    };
    let mut lip_balm = went("B-2027-0001");
    lip_balm.sort_by_key(|[day, kind, ..]| (day.to_string(), kind.to_string()));
    assert_eq!(
        lip_balm,
        [
            [json!("2027-03-13"), json!("gift"), json!(2), json!("the neighbours")],
            [json!("2027-03-13"), json!("sale"), json!(40), json!("spring market")],
            [json!("2027-03-13"), json!("waste"), json!(1), json!("trodden on")],
            [json!("2027-03-20"), json!("sale"), json!(12), json!("")],
        ]
    );
    assert_eq!(went("B-2027-0011"), [[json!("2027-03-27"), json!("sale"), json!(10), json!("the shop")]]);
    // What was not made of it: the salve of the 3rd (an older base), the bath salt, the body butters, the mango velvet.
}

fn what_the_sheet_says(story: &Story) {
    let said = story.says(TODAY, &["trace", "LP26838", "--html", "recall.html"]);
    // 98 + 24 + 4 + 24 + 20 + 2 + 100 = 272; 55 + 7 + 3 + 10 = 75 are gone; 197 are here.
    reads(
        &said,
        &[
            "Supplier's lot LP26838 is in 8 batches: 75 of 272 pieces are gone, 197 are still here.",
            "WAX-JAR Beeswax Leaning Pear Farm LP26838 Sat 29 August 2026 221.5 g 78.5 g shelf A4",
            "10 by sale on Sat 27 March (the shop)",
            "1 not found by counting on Sat 20 March (one is not there)",
            "The recall sheet to print is recall.html.",
        ],
    );
    let page = std::fs::read_to_string(story.shop.path("recall.html")).unwrap();
    reads(
        &page,
        &[
            "Recall sheet: supplier&#x27;s lot LP26838 (Beeswax)",
            // Of the 8 batches one is the premix; three lots have something left.
            "3 lots still on the shelf; 7 batches of finished pieces: 197 still here, 75 have left.",
            "Stop using",
            // 40 + 12 + 6 + 10 sold.
            "68 by sale",
            "40 by sale on Sat 13 March (spring market)",
            "Local rules come first",
        ],
    );
    for must in
        ["L2608-2", "WAX-JAR", "L-0006", "B-2027-0001", "B-2027-0014", "211.6 g", "78.5 g", "7.18 g", "@media print"]
    {
        assert!(page.contains(must), "{must} is not on the sheet");
    }
    for other in ["B-2027-0004", "B-2027-0009", "L2702-13"] {
        assert!(!page.contains(other), "{other} holds none of it and is on the sheet");
    }
}

fn back_from_a_tin(story: &Story) {
    let trace = story.json(TODAY, &["trace", "B-2027-0011"]);
    let lots: Vec<_> = list(&trace, "lots").iter().map(|lot| fields(lot, ["lot", "supplier_lot", "amount"])).collect();
    // E16's own draws, and behind L-0006 what the premix drew; made here, a lot has no number of a supplier.
    assert_eq!(
        lots,
        [
            [json!("L-0006"), json!(""), json!(1_132_307)],
            [json!("L2608-2"), json!("LP26838"), json!(363_636)],
            [json!("L2609-5"), json!("DM26485"), json!(80_000)],
            [json!("L2609-7"), json!("DM26758"), json!(145_455)],
            [json!("L2611-6"), json!("PB26517"), json!(24)],
            [json!("L2701-12"), json!("PB27969"), json!(24)],
            [json!("L2701-17"), json!("PB27199"), json!(1)],
            [json!("L2701-8"), json!(""), json!(1_309_091)],
            [json!("L2702-12"), json!("DM27967"), json!(6_154)],
            [json!("L2702-4"), json!(""), json!(12_308)],
        ]
    );
    let batches: Vec<_> = list(&trace, "batches").iter().map(|batch| batch["batch"].clone()).collect();
    assert!(batches.contains(&json!("B-2027-0008")) && batches.contains(&json!("B-2027-0011")), "{batches:?}");
    assert_eq!(batches.len(), 2);
}

fn the_wax_is_set_aside(story: &Story) {
    for lot in ["L2608-2", "WAX-JAR", "L-0006"] {
        story.says(TODAY, &["lot", "reject", lot, "--reason", "recalled by Leaning Pear Farm"]);
    }
    let forecast = story.json(TODAY, &["forecast"]);
    // Of wax only the parcel of the 12th may be used.
    assert_eq!(of(list(&forecast, "materials"), "material", "beeswax")["on_hand"], 500_000);
    // Of the base what was left of the old one: 1,200,000 - 1,132,307.
    assert_eq!(of(list(&forecast, "materials"), "material", "salve-base")["on_hand"], 67_693);
}
