//! Files over what the store has: what stays, what changes, what is refused.

use crate::workshop::{book, check_new, check_over, messages, sheets, with};
use serde_json::Value;
use stillroom::book::Standing;
use stillroom::book::rows::{BandStart, Share};
use stillroom::intake::{Change, ChangeKind, ColumnChange, SheetKind};
use stillroom::plan::model::PlanDay;
use stillroom::plan::money::Price;
use stillroom::plan::quantity::{Density, Quantity};

fn changed(file: SheetKind, key: &str, columns: &[(&'static str, &str, &str)]) -> Change {
    let one = |&(column, old, new): &(&'static str, &str, &str)| ColumnChange {
        column,
        old: old.to_owned(),
        new: new.to_owned(),
    };
    Change { file, key: key.to_owned(), kind: ChangeKind::Changed(columns.iter().map(one).collect()) }
}

fn added(file: SheetKind, key: &str) -> Change {
    Change { file, key: key.to_owned(), kind: ChangeKind::Added }
}

#[test]
fn the_same_files_again_change_nothing() {
    let book = book();
    let again =
        stillroom::intake::check(&with(&[]), stillroom::plan::money::Currency::EUR, &book, &[], &Default::default());
    let again = again.unwrap();
    assert_eq!(again.changes, []);
    assert_eq!(again.merged, book);
}

#[test]
fn an_absent_column_keeps_and_an_empty_cell_clears() {
    let book = book();
    let checked = check_over(&[("materials", "code,name\noil,Sweet almond oil\nlye,Lye\n")], &book, &[]).unwrap();
    assert_eq!(
        checked.changes,
        [
            added(SheetKind::Materials, "lye"),
            changed(SheetKind::Materials, "oil", &[("name", "Almond oil", "Sweet almond oil")]),
        ]
    );
    let density = |book: &stillroom::book::Book| book.materials.iter().find(|row| row.code == "oil").unwrap().density;
    assert_eq!(density(&checked.merged), Some(Density { micrograms_per_ml: 920_000 }));
    assert_eq!(checked.merged.materials.len(), book.materials.len() + 1);
    let cleared = check_over(&[("materials", "code,name,density\noil,Almond oil,\n")], &book, &[]).unwrap();
    assert_eq!(density(&cleared.merged), None);
    assert_eq!(
        cleared.changes,
        [
            changed(SheetKind::Materials, "oil", &[("density", "0.92", "")]),
            // The pack stays what it was, but cannot be said in litres any more.
            changed(SheetKind::Offers, "north, oil, 920 g, 1", &[]),
        ]
        .into_iter()
        .filter(|change| change.file == SheetKind::Materials)
        .chain([
            added(SheetKind::Offers, "north, oil, 920 g, 1"),
            Change { file: SheetKind::Offers, key: "north, oil, 1 l, 1".to_owned(), kind: ChangeKind::Replaced },
        ])
        .collect::<Vec<_>>()
    );
}

#[test]
fn a_formula_version_is_replaced_whole_and_keeps_its_phases() {
    let book = book();
    let file = "formula,version,ingredient,percent\nsalve,2,wax,25\nsalve,2,oil,75\nsalve,10,oil,100\n";
    let checked = check_over(&[("formulas", file)], &book, &[]).unwrap();
    assert_eq!(
        checked.changes,
        [
            added(SheetKind::Formulas, "salve, 10"),
            changed(
                SheetKind::Formulas,
                "salve, 2",
                &[("ingredient", "infusion 70 (heated), wax 30 (heated)", "wax 25 (heated), oil 75",)]
            ),
        ]
    );
    let lines: Vec<_> = checked
        .merged
        .formula_lines
        .iter()
        .map(|line| format!("{} {} {}", line.formula, line.version, line.ingredient))
        .collect();
    assert_eq!(lines, ["infused 1 oil", "infused 1 water", "salve 10 oil", "salve 2 wax", "salve 2 oil"]);
}

#[test]
fn plan_entries_keep_their_place_and_new_ones_follow() {
    let mut book = book();
    book = check_over(&[("plan", "entry,product,amount,ready_by\nz,balm,1 mould,2027-04-02\n")], &book, &[])
        .unwrap()
        .merged;
    let file = "entry,product,amount\nb,balm,1.5 kg\n";
    assert_eq!(
        messages(check_over(&[("plan", file)], &book, &[])),
        "plan.csv, row 2: has no day; fill in make_on or ready_by"
    );
    let file =
        "entry,product,amount,make_on\nb,balm,1.5 kg,2027-04-03\nz,balm,2 moulds,2027-04-05\na,balm,1 pcs,2027-04-04\n";
    let merged = check_over(&[("plan", file)], &book, &[]).unwrap().merged;
    let order: Vec<_> = merged.plan.iter().map(|row| row.entry.as_str()).collect();
    assert_eq!(order, ["p1", "z", "b", "a"]);
    assert_eq!(merged.plan[1].when, PlanDay::MakeOn("2027-04-05".parse().unwrap()));
    let kept = check_over(&[("plan", "entry,product,amount\nz,balm,3 moulds\n")], &book, &[]).unwrap();
    assert_eq!(kept.changes, [changed(SheetKind::Plan, "z", &[("amount", "1 mould", "3 moulds")])]);
}

#[test]
fn what_was_dropped_or_withdrawn_is_told_by_a_column() {
    let book = book();
    let plan = "entry,product,amount,make_on,dropped\np1,balm,1 mould,2027-04-02,yes\nb,balm,1.5 kg,2027-04-03,\n";
    let merged = check_over(&[("plan", plan)], &book, &[]).unwrap().merged;
    let told: Vec<_> = merged.plan.iter().map(|row| (row.entry.as_str(), row.dropped)).collect();
    assert_eq!(told, [("p1", true), ("b", false)]);
    // A file that only plans puts the entry back.
    let again = check_over(&[("plan", "entry,product,amount,make_on\np1,balm,1 mould,2027-04-02\n")], &merged, &[]);
    assert_eq!(again.unwrap().changes, [changed(SheetKind::Plan, "p1", &[("dropped", "yes", "")])]);

    let half = "formula,version,ingredient,percent,withdrawn\nsalve,9,oil,50,yes\nsalve,9,wax,50,\n";
    assert_eq!(
        messages(check_over(&[("formulas", half)], &book, &[])),
        "formulas.csv, row 2: formula salve, version 9, is withdrawn in some of its lines; write yes in withdrawn in all of its lines, or in none"
    );
}

#[test]
fn a_lot_that_has_moved_keeps_what_it_came_with() {
    let book = book();
    let file = "lot,material,amount,cost,place\nL1,oil,450 g,9.20,shelf\nL2,tin,40 pcs,18,\n";
    let standing = |moved| [Standing { lot: "L1".to_owned(), on_hand: Quantity(1), cost: Price { minor: 1 }, moved }];
    assert_eq!(
        messages(check_over(&[("lots", file)], &book, &standing(true))),
        "lots.csv, row 2, column amount: \"450 g\" is not what lot L1 came with, and the lot has been drawn from; put back what stood there; `stillroom count` writes down what is left now"
    );
    let checked = check_over(&[("lots", file)], &book, &standing(false)).unwrap();
    assert_eq!(
        checked.changes,
        [changed(SheetKind::Lots, "L1", &[("amount", "500 g", "450 g"), ("place", "", "shelf")])]
    );
    let mut opened = book.clone();
    opened.lots[0].opened = "2027-03-05".parse().ok();
    let empty_cell = "lot,material,amount,opened\nL1,oil,500 g,\n";
    assert_eq!(check_over(&[("lots", empty_cell)], &opened, &standing(true)).unwrap().changes, []);
    assert_eq!(check_over(&[("lots", empty_cell)], &opened, &standing(false)).unwrap().changes.len(), 1);
    let only_place = "lot,material,amount,place\nL1,oil,500 g,shelf\n";
    assert_eq!(check_over(&[("lots", only_place)], &book, &standing(true)).unwrap().changes.len(), 1);
}

#[test]
fn a_new_density_restates_a_pack_instead_of_adding_one() {
    let files = [
        ("materials", "code,name,density\noil,Almond oil,0.91\n"),
        ("offers", "supplier,material,pack,price\nnorth,oil,1 l,14.50\n"),
    ];
    let merged = check_over(&files, &book(), &[]).unwrap().merged;
    let packs: Vec<_> = merged.offers.iter().map(|row| (row.material.as_str(), row.pack.0)).collect();
    assert_eq!(packs, [("tin", 50), ("oil", 910_000)]);
}

#[test]
fn bands_of_the_other_kind_make_room() {
    let by_value = check_over(&[("postage", "supplier,from,fee\nnorth,0,5.90\nnorth,50,0\n")], &book(), &[]).unwrap();
    assert_eq!(by_value.merged.postage[1].from, BandStart::Value(Price { minor: 5_000 }));
    let file = "supplier,by,from,fee\nnorth,weight,0,4\nnorth,weight,2 kg,7\n";
    let by_weight = check_over(&[("postage", file)], &by_value.merged, &[]).unwrap();
    assert_eq!(by_weight.merged.postage.len(), 2);
    assert!(by_weight.merged.postage.iter().all(|row| matches!(row.from, BandStart::Weight(_))));
    let gone = by_weight.changes.iter().filter(|change| change.kind == ChangeKind::Replaced).count();
    assert_eq!(gone, 2);
}

#[test]
fn price_breaks_share_what_the_first_row_says() {
    let file = "supplier,material,pack,price,from_packs,life_on_arrival,item_no\nnorth,wax,1 kg,14,,2 years,A1\nnorth,wax,1000 g,13,5,,\n";
    let merged = check_over(&[("offers", file)], &book(), &[]).unwrap().merged;
    let breaks: Vec<_> = merged.offers.iter().filter(|row| row.material == "wax").collect();
    assert_eq!(breaks.len(), 2);
    for row in breaks {
        assert_eq!((row.item_no.as_str(), row.life_on_arrival.map(|life| life.months)), ("A1", Some(24)));
    }
}

#[test]
fn what_would_make_nonsense_of_the_store_is_refused() {
    let check = |file: (&str, &str), expected: &str| assert_eq!(messages(check_over(&[file], &book(), &[])), expected);
    check(
        ("materials", "code,name,kind\noil,Oil,packaging\ninfusion,Infusion,\n"),
        "materials.csv, row 2, column kind: \"packaging\" is not what it was; what has lots, offers or formulas stays of its kind: take a new code\n\
         materials.csv, row 3, column code: \"infusion\" is a premix already; materials and premixes share one list of codes: take another",
    );
    check(
        ("suppliers", "code,name,currency,lead_time_days\nnorth,North Oils,JPY,5\n"),
        "suppliers.csv, row 2, column currency: \"JPY\" has other decimal places than EUR, in which this supplier's prices are kept; take a new code for the supplier",
    );
    check(
        ("products", "code,name,formula,net_mass\nbalm,Balm,salve,\n"),
        "products.csv, row 2: entry p1 is planned in pieces, and product balm has no net_mass; give the product its net_mass, or plan a mass",
    );
    check(
        ("formulas", "formula,version,ingredient,percent\ninfused,2,infusion,100\n"),
        "formulas.csv, row 2: a premix contains itself: infusion -> infusion; take one of them out of the formula of the next",
    );
}

#[test]
fn what_may_be_a_slip_is_noted() {
    let files = [
        ("lots", "lot,material,amount,received,best_before\nL9,oil,1 kg,2027-03-01,2027-02-01\n"),
        ("formulas", "formula,ingredient,percent\nrub,oil,50\nrub,oil,50\n"),
    ];
    assert_eq!(
        check_over(&files, &book(), &[]).unwrap().notes,
        [
            "formulas.csv: formula rub, version 1, has \"oil\" twice in one phase.",
            "lots.csv, row 2: lot L9 was past its best-before date (2027-02-01) when it came (2027-03-01).",
        ]
    );
}

/// tests/checks/formulas.json: 20 nested formulas that add up to 100 % exactly; a hundredth more on one line is a fault.
#[test]
fn formulas_of_an_outside_reference_add_up() {
    let document: Value = serde_json::from_str(include_str!("../checks/formulas.json")).unwrap();
    let cases = document["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 20);
    for case in cases {
        let (mut materials, mut premixes) = (vec!["code,name".to_owned()], vec!["code,formula".to_owned()]);
        let mut lines = vec!["formula,ingredient,percent,phase".to_owned()];
        for (name, ingredients) in case["formulas"].as_object().unwrap() {
            premixes.push(format!("{name},{name}"));
            for line in ingredients.as_array().unwrap() {
                let text = |field: &str| line[field].as_str().unwrap().to_owned();
                if text("item").starts_with('R') && !materials.contains(&format!("{0},{0}", text("item"))) {
                    materials.push(format!("{0},{0}", text("item")));
                }
                lines.push(format!("{name},{},{},{}", text("item"), text("percent"), text("phase")));
            }
        }
        let check = |lines: &[String]| {
            let (materials, premixes, lines) = (materials.join("\n"), premixes.join("\n"), lines.join("\n"));
            check_new(&sheets(&[("materials", &materials), ("premixes", &premixes), ("formulas", &lines)]))
        };
        let checked = check(&lines).unwrap_or_else(|faults| panic!("{}: {}", case["id"], faults[0]));
        let is_percent = |share| matches!(share, Share::Percent(_));
        assert!(checked.merged.formula_lines.iter().all(|line| is_percent(line.share)));
        let fields: Vec<String> = lines[1].split(',').map(str::to_owned).collect();
        let percent: f64 = fields[2].parse().unwrap();
        lines[1] = format!("{},{},{:.2},{}", fields[0], fields[1], percent + 0.01, fields[3]);
        let faults = messages(check(&lines));
        assert!(faults.contains("adds up to 100.01 %"), "{}: {faults}", case["id"]);
    }
}
