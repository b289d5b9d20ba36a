//! 1 to 5 March: what the month will need, the receiving table, the first batches, a mistake, a free sample.

use crate::{Story, fields, list, of, reads};
use serde_json::json;

const MONDAY: &str = "2027-03-01";
const TUESDAY: &str = "2027-03-02";
const WEDNESDAY: &str = "2027-03-03";
const THURSDAY: &str = "2027-03-04";
const FRIDAY: &str = "2027-03-05";

pub fn go(story: &mut Story) {
    what_the_month_needs(story);
    what_will_spoil(story);
    the_plan_is_cut(story);
    the_receiving_table(story);
    lip_balm_with_a_slip(story);
    bath_salt_taken_back_and_made_again(story);
    a_parcel_with_postage(story);
    salve_from_the_shelf(story);
    a_slip_of_the_pen(story);
    body_butter_in_two_halves(story);
    a_free_sample_and_an_opened_bottle(story);
}

fn what_the_month_needs(story: &Story) {
    let forecast = story.json(MONDAY, &["forecast"]);
    // E09: 20 pcs x 90 g = 1,800 g; / (1 - 3 %) = 1,855.670 g; 48 % of that = 890,721.6 mg, rounded up by largest
    // remainder (.8 cocoa butter, .7 lavender blend, .6 mango butter are the three highest) to 890,722. L2610-3 holds
    // 500,000, so 390,722 are missing. Only Bushel and Pound sells it: 10 March - 16 days = Monday 22 February.
    assert_eq!(
        fields(&list(&forecast, "shortages")[0], ["material", "date", "short", "order_by", "late", "entries"]),
        [json!("mango-butter"), json!("2027-03-10"), json!(390_722), json!("2027-02-22"), json!(true), json!(["E09"])]
    );
    let said = story.says(MONDAY, &["forecast"]);
    reads(&said, &["Wed 10 March Mango butter 390.7 g Mon 22 February (too late) E09 Mango velvet body butter"]);
    let reorder = story.json(MONDAY, &["reorder"]);
    // Ordered today, a working day, it is here on 1 March + 16 days = 17 March.
    let late = list(&reorder, "late");
    assert_eq!(late.len(), 1);
    assert_eq!(
        fields(&late[0], ["material", "short", "needed", "soonest"]),
        [json!("mango-butter"), json!(390_722), json!("2027-03-10"), json!("2027-03-17")]
    );

    // But 6 x 1 lb are on the way, expected on the 14th (B2027-08): E09 can wait for them.
    story.says(MONDAY, &["plan", "move", "E09", "--make-on", "2027-03-15"]);
    let forecast = story.json(MONDAY, &["forecast"]);
    // Rosehip that lasts for skin care: L2701-21 with 646,800 and L2702-10 with 46,200 mg = 693,000 (L2609-1 ends on 20 April,
    // before any make date + minimum life). Wanted up to E37: hand cream 2 % of 2,061,856 (E07, E33) = 41,237 each and of
    // 2,474,227 (E21) = 49,485; mango velvet 10 % of 1,855,670 (E09, E37) = 185,567 each and of 2,061,856 (E23) = 206,186:
    // 2 x 41,237 + 49,485 + 2 x 185,567 + 206,186 = 709,279. Missing: 16,279. Dunmarch needs 5 days and takes orders on
    // Monday and Thursday; 12 April - 5 = Wednesday 7 April, so Monday 5 April.
    assert_eq!(
        fields(&list(&forecast, "shortages")[0], ["material", "date", "short", "order_by", "late", "entries"]),
        [json!("rosehip-oil"), json!("2027-04-12"), json!(16_279), json!("2027-04-05"), json!(false), json!(["E37"])]
    );
}

fn what_will_spoil(story: &Story) {
    let expiring = story.json(MONDAY, &["expiring"]);
    // Lot, end, used by the plan, at risk, its value in euros, the last day on which making something of it still helps.
    let expected = [
        // 6 months after 5 October would be 5 April; best before 25 March is earlier. E12, 20 pcs x 120 g = 2,400 g; / 0.97 =
        // 2,474.227 g; 13.2 % = 326,598. Left 1,142,202: 6.53 x 1,142,202 / 1,468,800 = 5.078. House soap has no minimum life.
        ("L2606-1", "2027-03-25", 326_598, 1_142_202, "5.08", json!("2027-03-25")),
        // 0.5 % of 6,060,606 (E02, E27: 30,303 each) and of 8,080,808 (E15: 40,404). 14.41 x 1,088,490 / 1,189,500 = 13.186.
        ("L2605-1", "2027-04-12", 101_010, 1_088_490, "13.19", json!("2027-04-12")),
        // E14: 48 pcs x 95 g = 4,560 g; / 0.97 = 4,701.031 g; 3 % = 141,031. 5.58 x 558,969 / 700,000 = 4.456.
        // Oat soap wants a month of life: 18 March + 1 month = 18 April.
        ("L2606-2", "2027-04-18", 141_031, 558_969, "4.46", json!("2027-03-18")),
        // Opened on 20 November, 5 months. 4.84 GBP x 1.172 = 5.672. Hand cream wants 2 months, mango velvet 3: too late.
        ("L2609-1", "2027-04-20", 0, 194_040, "5.67", json!(null)),
        // Opened on 26 January, 3 months. E20: 24 pcs x 80 g = 1,920 g; / 0.97 = 1,979.381 g; 9.4 % = 186,062. 76.16 DKK x
        // 0.134 = 10.21; 10.21 x 331,938 / 518,000 = 6.543. Hair soap wants a month.
        ("L2610-4", "2027-04-26", 186_062, 331_938, "6.54", json!("2027-03-26")),
    ];
    let lots = list(&expiring, "lots");
    assert_eq!(lots.len(), expected.len());
    for (lot, (code, end, used, at_risk, value, last_day)) in lots.iter().zip(expected) {
        assert_eq!(
            fields(lot, ["lot", "usable_through", "planned_use", "at_risk", "at_risk_value", "last_useful_day"]),
            [json!(code), json!(end), json!(used), json!(at_risk), json!(value), last_day]
        );
    }
    // 5.08 + 13.19 + 4.46 + 5.67 + 6.54.
    assert_eq!(expiring["at_risk_value"], "34.94");
    let said = story.says(MONDAY, &["expiring"]);
    reads(
        &said,
        &[
            "34.94 EUR at risk",
            "L2606-2 shelf C4 700 g 141 g 559 g 4.46 Thu 18 March E14",
            "L2609-1 fridge 194 g 0 g 194 g 5.67 too late",
        ],
    );
}

/// Tomas has broken his wrist: no soap and no fizz in March.
fn the_plan_is_cut(story: &Story) {
    let dropped = [
        "E03", "E06", "E07", "E08", "E10", "E12", "E13", "E14", "E15", "E17", "E18", "E20", "E21", "E22", "E23", "E24",
        "E25", "E27",
    ];
    for entry in dropped {
        story.says(MONDAY, &["plan", "drop", entry]);
    }
    // E01, E02, E04, E05, E09, E11, E16, E19 and E26 are left of E01 to E27.
    let plan = story.json(MONDAY, &["plan", "list", "--through", "2027-03-31"]);
    assert_eq!(list(&plan, "entries").len(), 27 - 18);
}

fn the_receiving_table(story: &mut Story) {
    story.says(MONDAY, &["lot", "release", "L2702-16", "--by", "Tomas", "--reason", "smell and colour"]);
    story.says(MONDAY, &["lot", "release", "L2702-17", "--by", "Tomas", "--reason", "smell and melting point"]);
    story.says(MONDAY, &["lot", "reject", "L2702-15", "--reason", "smells of turpentine"]);
    let said = story.refuses(MONDAY, &["lot", "release", "L2702-15", "--by", "Ilse", "--reason", "a second nose"]);
    reads(&said, &["L2702-15"]);
    let acts = story.says(MONDAY, &["act", "list", "--last", "3"]);
    reads(&acts, &["lot rejected L2702-15 lot L2702-15: state from quarantine to rejected"]);
    let forecast = story.json(MONDAY, &["forecast"]);
    let on_hand = |material: &str| of(list(&forecast, "materials"), "material", material)["on_hand"].clone();
    // 2,006,400 + 9,120,000 + 7,296,000, and now 4,560,000.
    assert_eq!(on_hand("olive-oil"), 22_982_400);
    // 1,300,000 + 5,000,000 + 4,535,924, and now 1,000,000.
    assert_eq!(on_hand("shea-butter"), 11_835_924);
    // 106,200 + 283,200; the 44,250 on the receiving table do not count.
    assert_eq!(on_hand("lavender-eo"), 389_400);

    // Three days overdue, and here at last: 30.30 + 11.90 postage, the band of orders below 75 EUR.
    let came = story.json(MONDAY, &["receive", "B2027-07", "--postage-and-duty", "11.90", "--place", "shelf D3"]);
    assert_eq!(
        fields(&list(&came, "lots")[0], ["lot", "material", "amount", "cost", "currency"]),
        [json!("L-0001"), json!("paper-band"), json!(500), json!("42.20"), json!("EUR")]
    );
    story.shelves.new_lot("L-0001", 500);
}

fn lip_balm_with_a_slip(story: &mut Story) {
    // 100 pcs x 4.5 g = 450 g; / (1 - 4 %) = 468.75 g. 34 % 159,375; 22 % 103,125; 20 % 93,750; 14 % 65,625; 9.5 % 44,531.25;
    // 0.5 % 2,343.75, which gets the milligram that is left over.
    let sheet = story.json(MONDAY, &["weigh", "E01"]);
    assert_eq!(fields(&sheet, ["net_mass", "weighed_mass"]), [json!(450_000), json!(468_750)]);
    let heated = list(&list(&sheet, "phases")[0], "lines");
    // To the 0.1 g of the scale.
    let targets: Vec<i64> = heated.iter().map(|line| line["target"].as_i64().unwrap()).collect();
    assert_eq!(targets, [159_400, 103_100, 93_800, 65_600, 44_500]);
    // Of two beeswax lots that nothing ends, the older one.
    assert_eq!(list(of(heated, "material", "beeswax"), "take")[0]["lot"], "L2608-2");

    // 105.2 g of beeswax instead of 103.125: 2.01 % more, and the tolerance is 2 %.
    let slip = ["make", "E01", "--took", "L2608-2=105.2 g", "--pieces", "98", "--by", "Ilse"];
    reads(
        &story.refuses(MONDAY, &slip),
        &["--reason is missing. Why does L2608-2 differ by more than 2 % from the sheet?"],
    );
    let took = [
        ("L2612-5", 159_375),
        ("L2608-2", 105_200),
        ("L2608-1", 93_750),
        ("L2609-5", 65_625),
        ("L2609-7", 44_531),
        ("L2702-12", 2_344),
        ("L2611-4", 100),
        ("L2611-7", 100),
        ("L2701-17", 1),
    ];
    let made = story.makes(MONDAY, &[&slip[1..], &["--reason", "the scale jumped"]].concat(), &took);
    // Really weighed in: 468,750 + 105,200 - 103,125. The almond oil, unopened until now, is good through 31 October
    // (8 months from today would be 1 November); the balm's own 12 months are longer.
    assert_eq!(
        fields(&made, ["batch", "pieces", "weighed_mass", "best_before", "best_before_of"]),
        [json!("B-2027-0001"), json!(98), json!(470_825), json!("2027-10-31"), json!("L2612-5")]
    );

    let shown = story.json(MONDAY, &["batch", "show", "B-2027-0001"]);
    let cost = |lot: &str| of(list(&shown, "draws"), "lot", lot)["cost"].clone();
    assert_eq!(cost("L2612-5"), "1.89"); // 162.00 DKK x 159,375 / 1,830,000 = 14.109, 14.11 DKK; x 0.134 = 1.891
    assert_eq!(cost("L2608-2"), "1.53"); // 16.05 x 105.2 / 1,100 = 1.535 (1.53496)
    assert_eq!(cost("L2608-1"), "1.44"); // 13.82 x 93.75 / 900 = 1.4396
    assert_eq!(cost("L2609-5"), "0.66"); // 13.10 x 65.625 / 1,300 = 0.6613
    assert_eq!(cost("L2609-7"), "0.42"); // 5.78 x 44.531 / 613.76 = 0.4194
    assert_eq!(cost("L2702-12"), "0.12"); // 17.29 x 2.344 / 330 = 0.1228
    assert_eq!(cost("L2611-4"), "19.90"); // 127.36 x 100 / 640
    assert_eq!(cost("L2611-7"), "4.88"); // 48.80 x 100 / 1,000
    assert_eq!(cost("L2701-17"), "0.96"); // 57.48 / 60 = 0.958
    // 1.89 + 1.53 + 1.44 + 0.66 + 0.42 + 0.12 + 19.90 + 4.88 + 0.96 = 31.80. 98 x 0.32 = 31.36, 44 cents are left.
    assert_eq!(shown["cost"], "31.80");
    let said = story.says(MONDAY, &["batch", "show", "B-2027-0001"]);
    reads(
        &said,
        &[
            "44 pieces at 0.33 EUR and 54 pieces at 0.32 EUR",
            "470.8 g weighed in by Ilse",
            "Beeswax L2608-2 103.1 g 105.2 g the scale jumped",
        ],
    );
}

fn bath_salt_taken_back_and_made_again(story: &mut Story) {
    // 6 kg / (1 - 1 %) = 6,060,606 mg. 58 % 3,515,151.48 (rounded up: the highest two remainders are .98 and .48); 33 %
    // 1,999,999.98; 6 % 363,636.36; 1.5 % 90,909.09; 0.5 % 30,303.03; 1 % 60,606.06. 24 pouches of 250 g.
    let before = story.json(MONDAY, &["stock"]);
    let made = story.json(MONDAY, &["make", "E02", "--as-planned"]);
    // The plan wants to save the old almond oil; that ends the salt in six weeks. She takes that back.
    assert_eq!(fields(&made, ["best_before", "best_before_of"]), [json!("2027-04-12"), json!("L2605-1")]);
    reads(&story.says(MONDAY, &["act", "undo"]), &["(batch made B-2027-0002) is taken back."]);
    assert_eq!(story.json(MONDAY, &["stock"]), before);

    let instead = ["--took", "L2605-1=0 g", "--took", "L2612-5=30.3 g", "--reason", "the old bottle ends in April"];
    let took = [
        ("L2701-2", 3_515_152),
        ("L2701-3", 2_000_000),
        ("L2702-2", 363_636),
        ("L2609-4", 90_909),
        ("L2612-5", 30_300),
        ("L2702-4", 60_606),
        ("L2701-11", 24),
        ("L2611-7", 24),
        ("L2701-17", 1),
    ];
    let made = story.makes(MONDAY, &[&["E02"], &instead[..]].concat(), &took);
    // 6,060,606 - 30,303 + 30,300. The number of the batch that was taken back is not given again.
    assert_eq!(
        fields(&made, ["batch", "pieces", "weighed_mass", "best_before"]),
        [json!("B-2027-0003"), json!(24), json!(6_060_603), json!("2027-10-31")]
    );
    // 6.41 salt, 3.18 sea salt, 0.88 soda, 1.97 GBP = 2.31 buds, 4.70 blend, 0.36 oil (147.89 DKK are left of 1,670,625 mg:
    // x 30,300 = 2.68 DKK), 56.40 DKK = 7.56 pouches, 43.92 x 24 / 900 = 1.17 labels, 56.52 / 59 = 0.96 carton.
    assert_eq!(story.json(MONDAY, &["batch", "show", "B-2027-0003"])["cost"], "27.53");
}

fn a_parcel_with_postage(story: &mut Story) {
    let parcel = ["receive", "B2027-09", "--postage-and-duty", "7.90"];
    // Two materials came: a number has to say of which.
    let said = story.refuses(TUESDAY, &[&parcel[..], &["--supplier-lot", "DM27401"]].concat());
    reads(&said, &["--supplier-lot DM27401 does not say which material", "castor-oil or coconut-oil"]);
    let numbers = ["--supplier-lot", "castor-oil=DM27402", "--supplier-lot", "coconut-oil=DM27401"];
    let facts = ["--best-before", "coconut-oil=2028-08-31"];
    let came = story.json(TUESDAY, &[&parcel[..], &numbers, &facts].concat());
    // Goods 4.70 + 26.80 = 31.50. Of 7.90, castor oil carries 7.90 x 4.70 / 31.50 = 1.1787 and coconut oil 6.7213: 1.17 and
    // 6.72, and the cent that is left goes to the larger remainder. 500 ml x 0.959 = 479.5 g.
    let lots: Vec<_> =
        list(&came, "lots").iter().map(|lot| fields(lot, ["lot", "material", "amount", "cost"])).collect();
    assert_eq!(
        lots,
        [
            [json!("L-0002"), json!("castor-oil"), json!(479_500), json!("5.88")],
            [json!("L-0003"), json!("coconut-oil"), json!(5_000_000), json!("33.52")],
        ]
    );
    story.shelves.new_lot("L-0002", 479_500);
    story.shelves.new_lot("L-0003", 5_000_000);
    let known = |lot: &str| fields(&story.json(TUESDAY, &["lot", "show", lot]), ["supplier_lot", "usable_through"]);
    // No date was given for the castor oil: 24 months unopened.
    assert_eq!(known("L-0002"), [json!("DM27402"), json!("2029-03-02")]);
    assert_eq!(known("L-0003"), [json!("DM27401"), json!("2028-08-31")]);
}

fn salve_from_the_shelf(story: &mut Story) {
    // 48 pcs x 25 g = 1,200 g; / (1 - 2.5 %) = 1,230,769 mg. 92 % 1,132,307.48; 6.5 % 79,999.99; 0.5 % 6,153.85; 1 % 12,307.69;
    // the three milligrams left over go to the last three.
    let took = [
        ("L2702-13", 1_132_307),
        ("L2609-5", 80_000),
        ("L2702-12", 6_154),
        ("L2702-4", 12_308),
        ("L2611-3", 48),
        ("L2611-6", 48),
        ("L2701-17", 1),
    ];
    let made = story.makes(WEDNESDAY, &["E04", "--as-planned"], &took);
    // The base came on 15 February and lasts 9 months.
    assert_eq!(fields(&made, ["batch", "best_before"]), [json!("B-2027-0004"), json!("2027-11-15")]);
    // 12.83 + 0.81 + 0.32 + 0.95 + 15.34 + 2.34 + 0.96; L2702-13: 13.60 x 1,132.307 / 1,200 = 12.833.
    assert_eq!(story.json(WEDNESDAY, &["batch", "show", "B-2027-0004"])["cost"], "33.55");
}

fn a_slip_of_the_pen(story: &Story) {
    story.says(WEDNESDAY, &["count", "L2605-2", "62 g", "--reason", "weighed after dusting"]);
    assert_eq!(story.json(WEDNESDAY, &["lot", "show", "L2605-2"])["on_hand"], 62_000);
    reads(&story.says(WEDNESDAY, &["act", "undo"]), &["(lot counted L2605-2) is taken back."]);
    let lot = story.json(WEDNESDAY, &["lot", "show", "L2605-2"]);
    assert_eq!(fields(&lot, ["on_hand", "cost"]), [json!(620_000), json!("3.57")]);
}

fn body_butter_in_two_halves(story: &mut Story) {
    // 10 pcs x 90 g = 900 g; / (1 - 3 %) = 927,835 mg. 62 % 575,257.70; 18 % 167,010.30; 12 % 111,340.20; 6 % 55,670.10;
    // 0.5 % 4,639.18; 1.5 % 13,917.52: the two milligrams left over go to the first and the last.
    let took = [
        ("L2609-5", 575_258),
        ("L2612-5", 167_010),
        ("L2610-7", 111_340),
        ("L2702-3", 55_670),
        ("L2702-12", 4_639),
        ("L2702-5", 13_918),
        ("L2701-13", 10),
        ("L2611-6", 20),
        ("L2701-17", 1),
    ];
    let made = story.makes(THURSDAY, &["E05", "--amount", "10 pcs", "--part", "--as-planned"], &took);
    assert_eq!(made["batch"], "B-2027-0005");
    let plan = story.json(THURSDAY, &["plan", "list"]);
    assert_eq!(of(list(&plan, "entries"), "entry", "E05")["pieces"], 24 - 10);

    // The rest: 14 pcs x 90 g = 1,260 g; / 0.97 = 1,298,969 mg. 62 % 805,360.78; 18 % 233,814.42; 12 % 155,876.28; 6 %
    // 77,938.14; 0.5 % 6,494.85; 1.5 % 19,484.53. L2609-5 holds 579,117 only, so that one lot less is weighed with L2612-3.
    let took = [
        ("L2612-3", 805_361),
        ("L2612-5", 233_814),
        ("L2610-7", 155_876),
        ("L2702-3", 77_938),
        ("L2702-12", 6_495),
        ("L2702-5", 19_485),
        ("L2701-13", 14),
        ("L2611-6", 28),
        ("L2701-17", 1),
    ];
    // 1,300,000 - 65,625 - 80,000 - 575,258.
    assert_eq!(story.shelves.of("L2609-5"), 579_117);
    let made = story.makes(FRIDAY, &["E05", "--as-planned"], &took);
    assert_eq!(fields(&made, ["batch", "pieces"]), [json!("B-2027-0006"), json!(14)]);
    assert!(story.refuses(FRIDAY, &["make", "E05"]).contains("E05"));
}

fn a_free_sample_and_an_opened_bottle(story: &mut Story) {
    let sample = ["receive", "--material", "rosehip-oil", "--amount", "50 ml", "--supplier", "greyfell", "--cost", "0"];
    let facts = ["--supplier-lot", "GB27990", "--best-before", "2027-12-31", "--place", "fridge"];
    let came = story.json(FRIDAY, &[&sample[..], &facts].concat());
    // 50 ml x 0.924 = 46.2 g, of no cost.
    assert_eq!(
        fields(&list(&came, "lots")[0], ["lot", "amount", "cost", "currency", "best_before"]),
        [json!("L-0004"), json!(46_200), json!("0.00"), json!("GBP"), json!("2027-12-31")]
    );
    story.shelves.new_lot("L-0004", 46_200);

    story.says(FRIDAY, &["lot", "open", "L2702-11"]);
    // 3 months from 5 March, long before 11 October.
    let lot = story.json(FRIDAY, &["lot", "show", "L2702-11"]);
    assert_eq!(fields(&lot, ["opened", "usable_through"]), [json!("2027-03-05"), json!("2027-06-05")]);
}
