//! Sums beyond 64 bits: an error with words, and never a number that wrapped or was cut off.

use super::program::{FIRST_DAY, Workshop};

/// A workshop of one raw material, one packaging, one product; files given here stand in place of these.
fn import(files: &[(&str, String)]) -> (Workshop, i32, String) {
    let workshop = Workshop::empty();
    for (name, text) in [
        ("materials", "code,name,kind,unopened_life\noil,Oil,raw,12 months\ntin,Tin,packaging,\n"),
        ("suppliers", "code,name,currency,lead_time_days\nnorth,North,EUR,3\n"),
        ("offers", "supplier,material,pack,price\nnorth,oil,1 kg,10\nnorth,tin,100 pcs,5\n"),
        ("formulas", "formula,ingredient,percent\nf,oil,100\n"),
        ("products", "code,name,formula,net_mass,loss\nbalm,Balm,f,100 g,\n"),
        ("packaging", "product,material,per_piece\nbalm,tin,1\n"),
        ("plan", "entry,product,amount,make_on\nE1,balm,10 pcs,2027-03-10\n"),
        ("lots", "lot,material,amount,cost,received\nL1,oil,1 kg,10,2027-01-01\n"),
    ] {
        workshop.file(&format!("in/{name}.csv"), text);
    }
    for (name, text) in files {
        workshop.file(&format!("in/{name}.csv"), text);
    }
    let answer = workshop.run_on(FIRST_DAY, &["import", "in"]);
    (workshop, answer.status, answer.err)
}

fn refused(files: &[(&str, String)], words: &str) {
    let (workshop, status, said) = import(files);
    assert!(status == 2 && said.contains(words), "{status}: {}", &said[..said.len().min(900)]);
    assert!(said.contains("next: "), "{said}");
    // All or nothing: whatever store there is holds none of it.
    if workshop.path("workshop.sqlite").exists() {
        assert_eq!(workshop.json(&["stock"])["lots"].as_array().map(Vec::len), Some(0));
    }
}

fn lots(count: usize, amount: &str, cost: &str) -> (&'static str, String) {
    let rows: String = (0..count).map(|lot| format!("L{lot},oil,{amount},{cost},2027-01-01\n")).collect();
    ("lots", format!("lot,material,amount,cost,received\n{rows}"))
}

#[test]
fn single_amounts_at_the_edge() {
    for amount in [
        "9223372036854775807 mg",
        "9223372036854775808 mg",
        "4611686018427387903 mg",
        "1e308 kg",
        "NaN g",
        "1000000001 kg",
        "-1 g",
    ] {
        refused(&[lots(1, amount, "0")], "lots.csv, row 2, column amount");
    }
    for cost in ["9223372036854775807", "1e308", "NaN", "100000000000.01", "-0.01"] {
        refused(&[lots(1, "1 g", cost)], "lots.csv, row 2, column cost");
    }
    let plan = |amount: &str| ("plan", format!("entry,product,amount,make_on\nE1,balm,{amount},2027-03-10\n"));
    for amount in ["9000000000000000000 pcs", "9223372036854775808 pcs", "1e308 pcs", "NaN pcs"] {
        refused(&[plan(amount)], "plan.csv, row 2, column amount");
    }
    let loss = |loss: &str| ("products", format!("code,name,formula,net_mass,loss\nbalm,Balm,f,100 g,{loss}\n"));
    for percent in ["1e308", "NaN", "100", "-1", "99.9999999"] {
        refused(&[loss(percent)], "products.csv, row 2, column loss");
    }
}

#[test]
fn thousands_of_lots_of_the_largest_amount() {
    // 4,001 of them are enough.
    refused(&[lots(4_001, "1000000000 kg", "0")], "the lots and open orders of oil add up to more than can be counted");
}

#[test]
fn values_beyond_counting() {
    let rates = ("rates", "date,currency,rate\n2027-01-01,KWD,1000000\n".to_owned());
    // 10^10 dinars at 10^6 euros each, five times.
    let row = |lot| format!("L{lot},oil,1 kg,10000000000,KWD,2027-01-01\n");
    let rows: String = (0..5).map(row).collect();
    let lots = ("lots", format!("lot,material,amount,cost,currency,received\n{rows}"));
    refused(&[rates, lots], "the lots and open orders cost more than can be counted");
}

#[test]
fn plans_losses_and_nested_losses_beyond_counting() {
    let plan = |amount: &str| ("plan", format!("entry,product,amount,make_on\nE1,balm,{amount},2027-03-10\n"));
    refused(&[plan("1000000000000000 pcs")], "plan.csv, row 2, column amount");
    let loss = ("products", "code,name,formula,net_mass,loss\nbalm,Balm,f,1 kg,99.999999\n".to_owned());
    refused(&[plan("100000000 pcs"), loss], "plan entry E1 makes more than can be counted");
    let nested = [
        ("formulas", "formula,ingredient,percent\nf,p0,100\ng0,p1,100\ng1,p2,100\ng2,oil,100\n".to_owned()),
        (
            "premixes",
            "code,formula,make_ahead_days,loss\np0,g0,0,99.999999\np1,g1,0,99.999999\np2,g2,0,99.999999\n".to_owned(),
        ),
    ];
    refused(&nested, "the plan needs more of");
    let many: String = (0..4_500).map(|entry| format!("E{entry},balm,900000000 pcs,2027-03-10\n")).collect();
    let heavy = ("products", "code,name,formula,net_mass\nbalm,Balm,f,1 kg\n".to_owned());
    refused(
        &[heavy, ("plan", format!("entry,product,amount,make_on\n{many}"))],
        "the plan needs more of oil than can be counted",
    );
}

#[test]
fn prices_times_packs_beyond_counting() {
    let offers =
        ("offers", "supplier,material,pack,price\nnorth,oil,1 mg,100000000000\nnorth,tin,100 pcs,5\n".to_owned());
    refused(&[offers], "what the plan needs of oil could cost more than can be counted");
}

#[test]
fn what_is_typed_is_held_to_the_same() {
    let (workshop, status, said) = import(&[]);
    assert_eq!(status, 0, "{said}");
    for words in [
        &["plan", "add", "balm", "1000000000000000 pcs", "--make-on", "2027-03-11"][..],
        &["plan", "add", "balm", "9223372036854775808 pcs", "--make-on", "2027-03-11"],
        &["receive", "--material", "oil", "--amount", "9223372036854775807 mg", "--cost", "1"],
        &["receive", "--material", "oil", "--amount", "1 kg", "--cost", "1e308"],
        &["count", "L1", "9223372036854775807 mg", "--reason", "x"],
        &["make", "E1", "--pieces", "9223372036854775807"],
        &["make", "E1", "--pieces", "9223372036854775808"],
    ] {
        let answer = workshop.run_on(FIRST_DAY, words);
        assert!(
            answer.status == 2 && !answer.err.contains("panicked"),
            "{words:?}: {} {}{}",
            answer.status,
            answer.out,
            answer.err
        );
    }
    workshop.done(&["doctor"]);
    assert_eq!(workshop.json(&["stock"])["lots"][0]["on_hand"], 1_000_000);
}

/// Just within what can be counted, every report adds up, with overflow checks on.
#[test]
fn everything_at_the_edge_is_counted() {
    let files = [
        lots(3_990, "1000000000 kg", "1000000000"),
        (
            "plan",
            "entry,product,amount,make_on\nE1,balm,1000000000 kg,2027-03-10\nE2,balm,900000000 kg,2028-01-11\n"
                .to_owned(),
        ),
        (
            "offers",
            "supplier,material,pack,price\nnorth,oil,1000000000 kg,1000000\nnorth,tin,1000000000 pcs,100000\n"
                .to_owned(),
        ),
    ];
    let (workshop, status, said) = import(&files);
    assert_eq!(status, 0, "{said}");
    for words in [
        &["today"][..],
        &["stock"],
        &["stock", "--value"],
        &["forecast"],
        &["month"],
        &["expiring"],
        &["allocate"],
        &["reorder"],
        &["weigh", "E1"],
        &["doctor"],
        &["trace", "L1"],
    ] {
        let answer = workshop.run_on(FIRST_DAY, words);
        assert!(answer.status == 0, "{words:?}: {}", answer.err);
    }
    let value = workshop.json(&["stock", "--value"]);
    // 3,990 lots of 10^15 mg at 1,000,000,000.00 each.
    assert!(value.to_string().contains("3990000000000.00"), "{value}");
    let forecast = workshop.json(&["forecast"]);
    assert!(forecast.to_string().contains("\"on_hand\":3990000000000000000,"));
}
