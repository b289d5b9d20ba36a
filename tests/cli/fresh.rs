//! What somebody meets who is new: water that is short, a command under another name, a list that ends with the next step.

use crate::workshop::Workshop;
use serde_json::json;

/// A lotion of oil and water; nobody sells the water and no lot of it is there.
fn lotion() -> Workshop {
    let workshop = Workshop::empty();
    let files = [
        ("materials.csv", "code,name\noil,Olive oil\nwater,Tap water\n"),
        ("suppliers.csv", "code,name,email,currency,lead_time_days\nmill,Old Mill,orders@mill.example,EUR,3\n"),
        ("offers.csv", "supplier,material,pack,price,item_no\nmill,oil,1 kg,8.00,OM-1\n"),
        ("formulas.csv", "formula,ingredient,percent\nlotion,oil,30\nlotion,water,70\n"),
        ("products.csv", "code,name,formula,net_mass\nlotion,Plain lotion,lotion,100 g\n"),
        ("plan.csv", "entry,product,amount,make_on\nE1,lotion,10 pcs,2027-03-09\n"),
    ];
    for (name, text) in files {
        workshop.file(&format!("files/{name}"), text);
    }
    workshop.done(&["import", "files"]);
    workshop
}

#[test]
fn what_is_on_no_file_is_short_with_the_way_on_said_once() {
    let workshop = lotion();
    let way_on = "Of Tap water there is no lot and no offer, so it runs short and cannot be ordered. If it never runs out (tap \
                  water), write yes under always_at_hand in materials.csv";
    for command in ["forecast", "reorder", "month"] {
        let said = workshop.done(&[command]).replace(['\n', ' '], "");
        assert_eq!(said.matches(&way_on.replace(' ', "")).count(), 1, "{command}: {said}");
        let view = workshop.json(&[command]);
        let found: Vec<_> = view["findings"].as_array().unwrap().iter().map(|finding| &finding["kind"]).collect();
        assert_eq!(found, ["nothing-on-file"], "{command}");
    }
    let today = workshop.done(&["today"]);
    assert!(today.contains("there is no lot and no offer of it; E1 (Plain lotion) waits"), "{today}");
    assert_eq!(today.matches("under always_at_hand in materials.csv").count(), 1, "{today}");

    // It is said of nothing that was ever there, or that somebody sells.
    workshop.file("more/lots.csv", "lot,material,amount\nL1,water,100 g\n");
    workshop.done(&["import", "more"]);
    assert!(!workshop.done(&["forecast"]).contains("always_at_hand"));
    let reorder = workshop.json(&["reorder"]);
    assert_eq!(reorder["findings"][0]["kind"], "no-offer");
    let said = reorder["findings"][0]["message"].as_str().unwrap();
    assert!(said.contains("There is no offer of Tap water to choose from") && said.contains("offers.csv"), "{said}");

    // The way on leads somewhere.
    let other = lotion();
    other.file("tap/materials.csv", "code,name,always_at_hand\nwater,Tap water,yes\n");
    other.done(&["import", "tap"]);
    assert_eq!(other.json(&["forecast"])["findings"], json!([]));
    assert!(other.json(&["reorder"])["late"].as_array().unwrap().is_empty());
}

#[test]
fn a_list_ends_with_what_to_do_with_it_and_names_what_it_is_for() {
    let workshop = lotion();
    let list = workshop.done(&["reorder"]);
    let said = list.replace('\n', " ");
    assert!(said.contains("for E1 (Plain lotion)"), "{list}");
    assert!(said.ends_with("When the parcel is there: `stillroom receive ORDER`. "), "{list}");
    assert_eq!(said.matches("stillroom order place SUPPLIER").count(), 1, "{list}");
    workshop.done(&["order", "place", "mill"]);
    assert!(!workshop.done(&["reorder"]).contains("stillroom order place"), "nothing is left to order");
}

#[test]
fn the_lines_of_a_list_say_amounts_as_people_do_and_where_orders_go() {
    let workshop = lotion();
    workshop.done(&["reorder", "--csv", "list.csv"]);
    let text = std::fs::read_to_string(workshop.path("list.csv")).unwrap();
    let mut rows = csv::Reader::from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let titles = rows.headers().unwrap().clone();
    let row = rows.records().next().unwrap().unwrap();
    let cell = |title: &str| &row[titles.iter().position(|one| one == title).unwrap()];
    // 10 x 100 g x 30 % = 300 g of a pack of 1 kg.
    assert_eq!((cell("amount"), cell("unit"), cell("amount_in_words")), ("1000000", "mg", "1 kg"));
    assert_eq!((cell("left_over"), cell("left_over_in_words")), ("700000", "700 g"));
    assert_eq!((cell("supplier_email"), cell("item_no")), ("orders@mill.example", "OM-1"));
}

#[test]
fn a_command_of_a_group_is_found_where_its_name_alone_is_typed() {
    let workshop = Workshop::empty();
    let check = |word: &str, expected: &str| {
        let said = workshop.refused(2, &[word]);
        assert!(said.contains(expected), "{word}: {said}");
    };
    check("undo", "did you mean `stillroom act undo`?");
    check("release", "did you mean `stillroom lot release` or `stillroom pieces release`?");
    let said = workshop.refused(2, &["frobnicate"]);
    assert!(!said.contains("did you mean"), "{said}");
}

#[test]
fn what_is_put_off_is_named_in_words() {
    let workshop = Workshop::example();
    let check = |code: &str, expected: &str| {
        let said = workshop.done(&["snooze", code, "--until", "2027-04-01"]);
        assert!(said.starts_with(expected), "{said}");
    };
    check("shea-butter", "Shea butter is put off until Thu 1 April: ");
    check("L2605-1", "Lot L2605-1 of Sweet almond oil is put off until Thu 1 April: ");
    check("B2027-08", "Order B2027-08 from Bushel and Pound is put off until Thu 1 April: ");
}

#[test]
fn a_stocktake_shows_the_reason_that_holds_for_all() {
    let workshop = Workshop::example();
    let file = workshop.file("count.csv", "lot,unit,counted,reason\nL2606-1,g,1400,\nL2605-1,g,1100,left open\n");
    let said = workshop.done(&["stocktake", "enter", &file, "--reason", "spring stocktake"]);
    let line = |lot: &str| said.lines().find(|line| line.starts_with(lot)).unwrap().to_owned();
    assert!(line("L2606-1").ends_with("spring stocktake") && line("L2605-1").ends_with("left open"), "{said}");
}

#[test]
fn the_lye_solution_on_the_shelf_of_the_example_goes_into_its_soap() {
    let workshop = Workshop::example();
    let made = workshop.json(&["make", "--premix", "lye-solution", "--amount", "1.6 kg", "--as-planned"]);
    let lot = made["lot"].as_str().unwrap().to_owned();
    let draws = workshop.json(&["allocate", "--why", "E03"])["draws"].clone();
    // Harbour soap, 48 x 95 g / 97 % = 4,701,031 mg; 31 % of it is lye solution: 1,457,320 mg, less than was made.
    let lye: Vec<_> = draws.as_array().unwrap().iter().filter(|draw| draw["material"] == "lye-solution").collect();
    assert_eq!((lye.len(), lye[0]["lot"].as_str().unwrap()), (1, lot.as_str()));
    assert!((lye[0]["amount"].as_i64().unwrap() - 1_457_320).abs() <= 1, "{lye:?}");
    assert!(draws.as_array().unwrap().iter().all(|draw| draw["material"] != "lye"));
}
