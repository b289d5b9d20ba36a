//! A made-up reorder list, and what the tests need to make letters of it.

use chrono::{DateTime, NaiveDate, Utc};
use stillroom::post::address::Mailbox;
use stillroom::post::letter::{Composed, Letter, compose};
use stillroom::post::report::{Envelope, letter};
use stillroom::render::report::Report;
use stillroom::render::{csv, reorder};
use stillroom::view::FindingView;
use stillroom::view::reorder::{CoverView, LateView, OrderLineView, OrderView, ReorderView};
use stillroom::view::reorder_hand::{
    CouldMoveView, FirstNeedView, FreePostageView, MoveView, MovesView, OrderWhyView, ReorderHand, SoonestOfferView,
    WaitsView, WayOut,
};
use stillroom::view::wishes::WishView;

pub fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn cover(day: &str, amount: i64, entries: &[&str], safety_stock: bool) -> CoverView {
    let products = entries.iter().map(|&entry| made(entry).to_owned()).collect();
    let entries = entries.iter().map(|&entry| entry.to_owned()).collect();
    CoverView { date: date(day), amount, entries, products, safety_stock }
}

/// What a plan entry makes.
fn made(entry: &str) -> &'static str {
    match entry {
        "P05" => "Lavender soap",
        "P06" => "Oat soap",
        "P07" | "P09" => "Shea balm",
        "P15" | "P17" => "Salve",
        "P16" => "Wax polish",
        _ => "Bath oil",
    }
}

/// `(material, name, item number, pack, packs, price, amount, unit, left over)`.
type Line<'a> = (&'a str, &'a str, &'a str, &'a str, i64, &'a str, i64, &'a str, i64);

fn line(line: Line<'_>, covers: Vec<CoverView>) -> OrderLineView {
    let (material, name, item_no, pack, packs, price, amount, unit, left_over) = line;
    OrderLineView {
        material: material.to_owned(),
        name: name.to_owned(),
        item_no: item_no.to_owned(),
        pack: pack.to_owned(),
        packs,
        price: price.to_owned(),
        amount,
        unit: unit.to_owned(),
        left_over,
        covers,
    }
}

fn oils() -> OrderView {
    let shea = ("SHEA", "Shea butter, unrefined", "OS-114", "1 kg", 2, "14.20", 2_000_000, "mg", 640_000);
    let almond = ("ALMO", "Sweet almond oil", "OS-031", "500 ml", 1, "9.80", 457_500, "mg", 0);
    let lavender = ("LAVE", "Lavender oil", "", "10 ml", 3, "6.50", 26_700, "mg", 8_500);
    let cocoa = ("COCO", "Cocoa butter, chips", "OS-118", "500 g", 1, "11.60", 500_000, "mg", 0);
    OrderView {
        supplier: "OSTREL".to_owned(),
        supplier_name: "Ostrel Oils & Butters".to_owned(),
        supplier_email: "orders@ostrel.example".to_owned(),
        order_on: date("2027-03-04"),
        arrives_on: date("2027-03-09"),
        currency: "EUR".to_owned(),
        lines: vec![
            line(
                shea,
                vec![cover("2027-03-09", 1_060_000, &["P07", "P09"], false), cover("2027-03-12", 300_000, &[], true)],
            ),
            line(almond, vec![cover("2027-03-10", 457_500, &["P08"], false)]),
            line(lavender, vec![cover("2027-03-11", 18_200, &["P07", "P10", "P12"], true)]),
            line(cocoa, vec![cover("2027-03-19", 500_000, &["P14"], false)]),
        ],
        goods: "69.30".to_owned(),
        postage: "5.90".to_owned(),
        duty: "0.00".to_owned(),
        total: "75.20".to_owned(),
        total_home: "75.20".to_owned(),
        why: OrderWhyView {
            lead_time_days: 5,
            lead_time: "learned".to_owned(),
            first_need: Some(FirstNeedView {
                name: "Shea butter, unrefined".to_owned(),
                material: "SHEA".to_owned(),
                date: date("2027-03-09"),
                is_last_day: true,
            }),
            without_supplier_costs_more: Some("12.30".to_owned()),
            only_here: Vec::new(),
            free_postage: Some(FreePostageView {
                from: "80.00".to_owned(),
                missing: "10.70".to_owned(),
                postage: "5.90".to_owned(),
                bring_forward: Some("WAXY".to_owned()),
                bring_forward_name: Some("Beeswax, yellow".to_owned()),
                costs_more: Some("2.10".to_owned()),
            }),
            waits: vec![WaitsView {
                order_on: date("2027-03-18"),
                materials: vec!["COCO".to_owned()],
                names: vec!["Cocoa butter, chips".to_owned()],
            }],
        },
    }
}

/// What goes with the list: two moves, a wish, the last list that stays.
fn hand() -> ReorderHand {
    let moved = |entry: &str, name: &str, from: &str| MoveView {
        entry: entry.to_owned(),
        name: name.to_owned(),
        from: date(from),
        to: date("2027-03-09"),
        option: "--make-on 2027-03-09".to_owned(),
    };
    ReorderHand {
        moves: Some(MovesView {
            whole: true,
            proven: true,
            moves: vec![moved("P05", "Lavender soap", "2027-03-03"), moved("P06", "Oat soap", "2027-03-04")],
        }),
        wishes: vec![WishView {
            wish: "W-0002".to_owned(),
            kind: "exclude".to_owned(),
            what: "nothing from Ferrow & Daughter".to_owned(),
            reason: String::new(),
        }],
        new_would_save: Some("0.34".to_owned()),
        ..ReorderHand::default()
    }
}

fn tins() -> OrderView {
    let tins = ("TIN60", "Tins, 60 ml, flat", "K/60-F", "50 pcs", 2, "21.00", 100, "pcs", 28);
    let labels = ("LAB60", "Labels for tins", "K/L2", "100 pcs", 1, "8.75", 100, "pcs", 28);
    let wax = ("WAXY", "Beeswax, yellow", "", "250 g", 1, "4.00", 250_000, "mg", 0);
    OrderView {
        supplier: "KETTLE".to_owned(),
        supplier_name: "Kettlewick Tin Works".to_owned(),
        supplier_email: String::new(),
        order_on: date("2027-03-11"),
        arrives_on: date("2027-03-19"),
        currency: "GBP".to_owned(),
        lines: vec![
            line(tins, vec![cover("2027-03-22", 72, &["P15", "P16", "P17"], false)]),
            line(labels, vec![cover("2027-03-22", 72, &["P15", "P16", "P17"], false)]),
            line(wax, vec![cover("2027-03-23", 250_000, &["P16"], true)]),
        ],
        goods: "54.75".to_owned(),
        postage: "4.50".to_owned(),
        duty: "2.19".to_owned(),
        total: "61.44".to_owned(),
        total_home: "71.00".to_owned(),
        why: OrderWhyView::default(),
    }
}

/// Two orders, seven lines, one late material, one finding.
pub fn view() -> ReorderView {
    ReorderView {
        as_of: date("2027-03-01"),
        through: date("2027-04-30"),
        currency: "EUR".to_owned(),
        orders: vec![oils(), tins()],
        cost: "146.20".to_owned(),
        credit: "9.09".to_owned(),
        objective: "137.11".to_owned(),
        lower_bound: "136.01".to_owned(),
        gap: 0.008,
        simple_objective: "171.35".to_owned(),
        searched_to_the_end: true,
        late: vec![LateView {
            material: "LYE".to_owned(),
            name: "Sodium hydroxide".to_owned(),
            unit: "mg".to_owned(),
            short: 412_000,
            needed: date("2027-03-03"),
            soonest: Some(date("2027-03-09")),
            safety_stock: false,
            on_order: Vec::new(),
            entries: vec!["P05".to_owned(), "P06".to_owned()],
            products: vec![made("P05").to_owned(), made("P06").to_owned()],
            way_out: WayOut {
                soonest_offer: Some(SoonestOfferView {
                    supplier: "FERN".to_owned(),
                    supplier_name: "Fernhollow Chemicals".to_owned(),
                    order_on: date("2027-03-02"),
                    arrives_on: date("2027-03-09"),
                    pack: "500 g".to_owned(),
                    packs: 1,
                    landed: "7.40".to_owned(),
                    postage_alone: "4.20".to_owned(),
                    below_minimum: false,
                }),
                could_move: vec![
                    CouldMoveView { entry: "P05".to_owned(), to: Some(date("2027-03-09")) },
                    CouldMoveView { entry: "P06".to_owned(), to: None },
                ],
            },
        }],
        findings: vec![FindingView {
            kind: "no-offer".to_owned(),
            subject: "CALE".to_owned(),
            message: "No supplier offers Calendula petals; 80 g are short on Wed 24 March.".to_owned(),
        }],
        hand: hand(),
    }
}

pub fn envelope() -> Envelope {
    Envelope {
        from: Mailbox::named("Möwe & Co., Seifen", "workshop@example.org").unwrap(),
        to: vec!["Mara Vale <mara@example.org>".parse().unwrap(), "jo@example.net".parse().unwrap()],
        written: DateTime::parse_from_rfc3339("2027-03-01T06:30:00Z").unwrap().with_timezone(&Utc),
        message_id: "2027-03-01.reorder.1@example.org".to_owned(),
    }
}

/// The list as the command `reorder` makes a report of it.
pub fn report_of(view: &ReorderView) -> Report {
    let report = Report::new(view, reorder::document(view)).unwrap();
    let report = report.made_rows(csv::reorder_lines(view)).rows_in_letters();
    report.news(reorder::news(view)).dates(reorder::dates(view))
}

pub fn letter_of(view: &ReorderView) -> Letter {
    let (letter, warnings) = letter(&[report_of(view)], &[], view.as_of, envelope(), None).unwrap();
    assert_eq!(warnings, Vec::<String>::new());
    letter
}

pub fn composed() -> Composed {
    compose(&letter_of(&view())).unwrap()
}
