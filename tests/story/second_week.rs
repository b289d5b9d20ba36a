//! 8 to 13 March: retests, a way to use things up, wax that goes back and wax that is ordered, a jar, a balm, a premix, a market.

use crate::{Story, fields, list, of, reads};
use serde_json::json;

const MONDAY: &str = "2027-03-08";
const TUESDAY: &str = "2027-03-09";
const WEDNESDAY: &str = "2027-03-10";
const THURSDAY: &str = "2027-03-11";
const FRIDAY: &str = "2027-03-12";
const SATURDAY: &str = "2027-03-13";

pub fn go(story: &mut Story) {
    retests(story);
    what_could_be_used_up(story);
    wax_that_smells(story);
    wax_is_ordered(story);
    wax_goes_back_and_into_a_jar(story);
    balm_from_the_jar(story);
    the_wax_comes(story);
    a_premix_for_the_shelf(story);
    the_market(story);
}

fn retests(story: &mut Story) {
    story
        .says(MONDAY, &["lot", "retest", "L2606-2", "--passed", "2027-06-18", "--by", "Ilse", "--reason", "no clumps"]);
    // Oat flour has no after-opening life, so the new date counts.
    assert_eq!(story.json(MONDAY, &["lot", "show", "L2606-2"])["usable_through"], "2027-06-18");
    story.says(MONDAY, &["lot", "retest", "L2609-1", "--failed", "--by", "Ilse", "--reason", "smells of paint"]);
    assert_eq!(story.json(MONDAY, &["lot", "show", "L2609-1"])["state"], "rejected");
    let said = story.says(MONDAY, &["lot", "write-off", "L2609-1", "--reason", "rancid"]);
    // All of it: 210 ml x 0.924 = 194.04 g.
    reads(&said, &["Lot L2609-1 has lost 194.04 g: rancid."]);
    story.shelves.take("L2609-1", 194_040);
}

fn what_could_be_used_up(story: &Story) {
    let expiring = story.json(MONDAY, &["expiring"]);
    // With the soaps and the salts gone nothing uses these three: 6.53 + 14.41 + (76.16 DKK x 0.134 = 10.205) 10.21.
    let lots: Vec<_> =
        list(&expiring, "lots").iter().map(|lot| fields(lot, ["lot", "at_risk", "at_risk_value"])).collect();
    assert_eq!(
        lots,
        [
            [json!("L2606-1"), json!(1_468_800), json!("6.53")],
            [json!("L2605-1"), json!(1_189_500), json!("14.41")],
            [json!("L2610-4"), json!(518_000), json!("10.21")],
        ]
    );
    assert_eq!(expiring["at_risk_value"], "31.15");

    // Hemp seed oil: hair soap takes 9.4 %; 48 pieces (twice the largest that is planned, E44 with 24) weigh 3,840 / 0.97 =
    // 3,958.763 g and take 372.124, so that two batches of it use up all 518 g. Sunflower oil: house soap takes 13.2 %; 80
    // pieces (twice E31) weigh 9,600 / 0.97 = 9,896.907 g and take 1,306,392 of it: 6.53 x 1,306,392 / 1,468,800 = 5.808.
    // That is three batches. Of almond oil only the salt could take any: 0.5 % of 2 x 10 kg is less than any of these.
    let use_up = story.json(MONDAY, &["use-up"]);
    let saved = |lot: &str| -> i64 {
        let uses = list(&use_up, "proposals").iter().flat_map(|proposal| list(proposal, "uses"));
        uses.filter(|used| used["lot"] == lot).map(|used| used["amount"].as_i64().unwrap()).sum()
    };
    assert_eq!((saved("L2610-4"), saved("L2606-1"), saved("L2605-1")), (518_000, 1_306_392, 0));
    // Coconut oil is then short. There are 2,400,000 - 111,340 - 155,876 + 5,000,000 + 5,000,000 = 12,132,784. The plan takes
    // 12 % of the whips (E28, E53: 267,216 each; E41: 334,021), 39.5 % of the house soaps (E31: 1,954,639; E55: 977,320),
    // 16.6 % of the oat soaps (E32: 390,185; E50: 780,371), 16.8 % of the harbour soaps (E38: 789,773; E51: 394,887), 18.3 %
    // of the rose soap (E43: 860,289), 18.8 % of the hair soap (E44: 372,124): 7,388,041. The three batches take 18.8 % of
    // 3,958,763 and of 1,979,381 (744,248 + 372,124) and 39.5 % of 9,896,907 (3,909,278). 12,413,691 - 12,132,784 = 280,907.
    let buys: Vec<_> = list(&use_up, "proposals").iter().flat_map(|proposal| list(proposal, "buy")).collect();
    assert_eq!(buys.len(), 1);
    assert_eq!(fields(buys[0], ["material", "amount", "unit"]), [json!("coconut-oil"), json!(280_907), json!("mg")]);
    // Thyrefjord sells 10 kg for 345 DKK x 0.134 = 46.23 EUR: 0.280907 kg cost 1.299. Ordered today it is here on the 16th.
    assert_eq!(
        fields(&use_up, ["at_risk_value", "saved", "to_buy", "net"]),
        [json!("31.15"), json!("16.02"), json!("1.30"), json!("14.72")] // 10.21 + 5.81; 16.02 - 1.30
    );
    assert_eq!(of(list(&use_up, "proposals"), "product", "house-soap")["make_on"], "2027-03-16");
}

fn wax_that_smells(story: &Story) {
    story.says(TUESDAY, &["lot", "reject", "L2702-14", "--reason", "smells of smoke"]);
    let reorder = story.json(TUESDAY, &["reorder", "--through", "2027-03-22"]);
    // Left: L2608-2 with 1,100,000 - 105,200 = 994,800. The plan up to the 22nd: E11, 18 % of 1,230,769 = 221,538; E16 wants
    // 1,132,307 of salve base, of which 1,200,000 - 1,132,307 = 67,693 stand there, so 1,064,614 / (1 - 1 %) = 1,075,368 are
    // made the day before, 20 % wax = 215,074; E19 1,132,307 / 0.99 = 1,143,744, 20 % = 228,749, weighed on the 21st. That
    // leaves 329,439, which is 70,561 below the safety stock of 400 g.
    let order = &list(&reorder, "orders")[0];
    let line = &list(order, "lines")[0];
    assert_eq!((list(&reorder, "orders").len(), list(order, "lines").len()), (1, 1));
    // Leaning Pear: 500 g for 8.20 + 3.00 postage. Dunmarch's 9.05 would need 30 EUR of goods. 1 kg would cost 7.00 more and
    // bring at most 500 g x 0.5 x 15.20 / kg = 3.80 of credit. Wax comes within 2 days, on orders of Wednesday and Saturday:
    // by Wednesday the 17th it is here on Friday the 19th, by Saturday the 20th only on the 22nd.
    assert_eq!(
        fields(order, ["supplier", "order_on", "arrives_on", "goods", "postage", "total"]),
        [json!("leaning-pear"), json!("2027-03-17"), json!("2027-03-19"), json!("8.20"), json!("3.00"), json!("11.20")]
    );
    assert_eq!(
        fields(line, ["material", "pack", "packs", "left_over"]),
        [json!("beeswax"), json!("500 g"), json!(1), json!(429_439)]
    );
    assert_eq!(
        list(line, "covers")[0],
        json!({"date": "2027-03-21", "amount": 70_561, "entries": [], "products": [], "safety_stock": true})
    );
    // Left over 429.439 g x 0.5 x 15.20 / kg = 3.264; the plan uses 665,361 mg in 14 days, so 60 days would use much more.
    assert_eq!(fields(&reorder, ["cost", "credit", "objective"]), [json!("11.20"), json!("3.26"), json!("7.94")]);
}

fn wax_is_ordered(story: &Story) {
    // She will not wait until the 17th: placed on Tuesday, taken up on Wednesday, here on Friday.
    let said = story.says(TUESDAY, &["order", "place", "leaning-pear", "--through", "2027-03-22"]);
    reads(
        &said,
        &["Order O-2027-0001 to Leaning Pear Farm is written down: 1 line, 11.20 EUR, expected on Fri 12 March."],
    );
    let again = story.json(TUESDAY, &["reorder", "--through", "2027-03-22"]);
    assert_eq!(again["orders"], json!([]));
}

fn wax_goes_back_and_into_a_jar(story: &mut Story) {
    let said = story.says(WEDNESDAY, &["lot", "return", "L2702-14", "--reason", "smells of smoke"]);
    reads(&said, &["Lot L2702-14 went back to Leaning Pear Farm with 2 kg."]);
    story.shelves.take("L2702-14", 2_000_000);

    story.says(WEDNESDAY, &["lot", "decant", "L2608-2", "300 g", "--into", "WAX-JAR"]);
    story.shelves.take("L2608-2", 300_000);
    story.shelves.new_lot("WAX-JAR", 300_000);
    // 16.05 - 1.53 = 14.52 for 994.8 g; 300 g of that: 4.3788. It keeps the supplier's lot number.
    let jar = story.json(WEDNESDAY, &["lot", "show", "WAX-JAR"]);
    assert_eq!(fields(&jar, ["on_hand", "cost", "supplier_lot"]), [json!(300_000), json!("4.38"), json!("LP26838")]);
    let rest = story.json(WEDNESDAY, &["lot", "show", "L2608-2"]);
    assert_eq!(fields(&rest, ["on_hand", "cost"]), [json!(694_800), json!("10.14")]);
}

fn balm_from_the_jar(story: &mut Story) {
    // 24 pcs x 50 g = 1,200 g; / (1 - 2.5 %) = 1,230,769 mg. 20 % 246,153.8; 22 % 270,769.18 twice; 16 % 196,923.04; 18 %
    // 221,538.42; 0.6 % 7,384.614 twice; 0.8 % 9,846.152: three milligrams are left over for .8, .614 and .614.
    let sheet = story.says(THURSDAY, &["weigh", "E11", "--html", "e11.html"]);
    reads(
        &sheet,
        &[
            "24 pieces of Gardener’s balm",
            "5 heated Beeswax 221.5 g 1206.2 g L2608-2 shelf A4", // 246.2 + 270.8 + 270.8 + 196.9 + 221.5
            "Tin with screw lid, 60 ml 24 pcs L2701-12 shelf D1",
        ],
    );
    let page = std::fs::read_to_string(story.shop.path("e11.html")).unwrap();
    assert!(page.contains("L2608-2") && page.contains("221.5 g"), "{page}");

    // The jar stands nearer than the block. Two lots differ from the sheet, for one reason.
    let took = [
        ("L2701-8", 246_154),
        ("L2702-11", 270_769),
        ("L2609-6", 270_769),
        ("L2609-5", 196_923),
        ("WAX-JAR", 221_500),
        ("L2702-12", 7_385),
        ("L2701-6", 9_846),
        ("L2612-2", 7_385),
        ("L2701-12", 24),
        ("L2611-6", 24),
        ("L2701-17", 1),
    ];
    let jar = ["E11", "--took", "L2608-2=0 g", "--took", "WAX-JAR=221.5 g", "--reason", "the jar was nearer"];
    let made = story.makes(THURSDAY, &jar, &took);
    // 1,230,769 - 221,538 + 221,500. The hemp seed oil was opened on 5 March, 3 months.
    assert_eq!(
        fields(&made, ["batch", "weighed_mass", "best_before", "best_before_of"]),
        [json!("B-2027-0007"), json!(1_230_731), json!("2027-06-05"), json!("L2702-11")]
    );
    let shown = story.json(THURSDAY, &["batch", "show", "B-2027-0007"]);
    let cost = |lot: &str| of(list(&shown, "draws"), "lot", lot)["cost"].clone();
    assert_eq!(cost("WAX-JAR"), "3.23"); // 4.38 x 221.5 / 300 = 3.2339
    assert_eq!(cost("L2701-8"), "2.29"); // 14.90 x 246.154 / 1,600 = 2.2923
    assert_eq!(cost("L2702-11"), "5.44"); // 22.32 x 270.769 / 1,110 = 5.4447
    assert_eq!(cost("L2609-6"), "2.15"); // 15.95 x 270.769 / 2,006.4 = 2.1525
    assert_eq!(cost("L2609-5"), "1.98"); // 13.10 - 0.66 - 0.81 - 5.80 = 5.83, x 196.923 / 579.117 = 1.9824
    // and 0.39 + 0.67 + 0.33 + 10.18 + 1.17 + 0.96: 28.79. 24 x 1.19 = 28.56, 23 cents are left.
    assert_eq!(shown["cost"], "28.79");
    assert_eq!(shown["shares"], json!([{"pieces": 23, "cost": "1.20"}, {"pieces": 1, "cost": "1.19"}]));
}

fn the_wax_comes(story: &mut Story) {
    let facts = ["--supplier-lot", "LP27702", "--place", "shelf A4", "--postage-and-duty", "3.00"];
    let came = story.json(FRIDAY, &[&["receive", "O-2027-0001"], &facts[..]].concat());
    // 8.20 + 3.00.
    assert_eq!(
        fields(&list(&came, "lots")[0], ["lot", "amount", "cost"]),
        [json!("L-0005"), json!(500_000), json!("11.20")]
    );
    story.shelves.new_lot("L-0005", 500_000);
    reads(&story.refuses(FRIDAY, &["receive", "O-2027-0001"]), &["nothing of order O-2027-0001 is still to come"]);
}

fn a_premix_for_the_shelf(story: &mut Story) {
    // 1,800 g / (1 - 1 %) = 1,818,182 mg. 72 % 1,309,091.04; 20 % 363,636.40; 8 % 145,454.56, which gets the milligram left over.
    // Of the three wax lots the oldest that holds enough: L2608-2 with 694,800.
    let took = [("L2701-8", 1_309_091), ("L2608-2", 363_636), ("L2609-7", 145_455)];
    let made = story.makes(FRIDAY, &["--premix", "salve-base", "--amount", "1.8 kg", "--place", "shelf C1"], &took);
    // Its own 9 months; the infused oil lasts until 18 January.
    assert_eq!(
        fields(&made, ["batch", "lot", "best_before"]),
        [json!("B-2027-0008"), json!("L-0006"), json!("2027-12-12")]
    );
    story.shelves.new_lot("L-0006", 1_800_000);
    // 14.90 - 2.29 = 12.61, x 1,309.091 / 1,353.846 = 12.19; 10.14 x 363.636 / 694.8 = 5.31; 5.78 - 0.42 = 5.36, x 145.455 /
    // 569.229 = 1.37. Together 18.87.
    assert_eq!(story.json(FRIDAY, &["lot", "show", "L-0006"])["cost"], "18.87");
}

fn the_market(story: &Story) {
    let leave = |pieces: &str, how: &str, reason: &str| {
        story.json(SATURDAY, &["pieces", "leave", "B-2027-0001", pieces, "--as", how, "--reason", reason])["left"]
            .clone()
    };
    assert_eq!(leave("40", "sale", "spring market"), 98 - 40);
    assert_eq!(leave("2", "gift", "the neighbours"), 58 - 2);
    reads(&story.refuses(SATURDAY, &["pieces", "leave", "B-2027-0001", "1", "--as", "waste"]), &["--reason"]);
    assert_eq!(leave("1", "waste", "trodden on"), 56 - 1);
    // The wrong batch, and back.
    story.says(SATURDAY, &["pieces", "leave", "B-2027-0004", "12", "--as", "sale"]);
    story.says(SATURDAY, &["act", "undo"]);
    let here = story.json(SATURDAY, &["pieces", "list"]);
    assert_eq!(of(list(&here, "batches"), "batch", "B-2027-0004")["left"], 48);
}
