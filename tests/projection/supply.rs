//! What counts as supply, through which day it lasts, and what it is worth.

use super::support::workshop::Workshop;
use super::support::{cases, date, day, day_before};
use chrono::NaiveDate;
use stillroom::plan::calendar::{OrderCalendar, Span};
use stillroom::plan::finding::FindingKind;
use stillroom::plan::life::usable_through;
use stillroom::plan::model::{DatedRate, LotState};
use stillroom::plan::money::{Currency, Money, Price, Rate};
use stillroom::plan::supply::{Source, supplies};

/// Dates of dates_shelf_life.json (checked with python-dateutil). A retest sets a new best-before in our ledger; a
/// retest that is due stands there as a further end, and so the earlier of the two is the lot's best-before here.
#[test]
fn lives_end_on_the_days_of_the_check_values() {
    let mut count = 0;
    for case in cases("dates_shelf_life.json") {
        let id = case["id"].as_str().unwrap();
        let given = |name: &str| case.get(name).filter(|value| !value.is_null()).map(date);
        let after_opening =
            case["pao_months"].as_u64().map(|months| Span { months: u32::try_from(months).unwrap(), days: 0 });
        let mut workshop = Workshop::new();
        let oil = workshop.material("oil");
        workshop.item(oil).opened_life = after_opening;
        let lot = workshop.lot(oil, 1);
        lot.best_before = [given("unopened_expiry"), given("retest_due")].into_iter().flatten().min();
        lot.opened = given("opened_on");
        let expected = &case["expected"];
        let found = usable_through(&workshop.snapshot.lots[0], workshop.snapshot.item(oil));
        assert_eq!(found, date(&expected["effective_last_day"]), "{id}");
        if let Some((life, opened)) = after_opening.zip(given("opened_on")) {
            assert_eq!(life.after(opened), date(&expected["pao_end"]), "{id}");
            assert_eq!(life.after(date(&case["made_on"])), date(&expected["made_plus_pao_months"]), "{id}");
        }
        count += 1;
    }
    assert_eq!(count, 40);
}

#[test]
fn a_life_comes_from_the_label_or_else_from_the_delivery() {
    let span = |days| Some(Span { months: 0, days });
    let check = |best_before, received, opened, unopened_life, opened_life, expected| {
        let mut workshop = Workshop::new();
        let oil = workshop.material("oil");
        (workshop.item(oil).unopened_life, workshop.item(oil).opened_life) = (unopened_life, opened_life);
        let lot = workshop.lot(oil, 1);
        (lot.best_before, lot.received, lot.opened) = (best_before, received, opened);
        assert_eq!(usable_through(&workshop.snapshot.lots[0], workshop.snapshot.item(oil)), expected);
    };
    check(None, Some(day(1)), None, None, None, NaiveDate::MAX);
    check(None, Some(day(1)), None, span(30), None, day(31));
    check(None, None, None, span(30), None, NaiveDate::MAX);
    // The label counts, not the usual life; an open lot ends by both.
    check(Some(day(50)), Some(day(1)), None, span(30), None, day(50));
    check(Some(day(50)), None, Some(day(5)), None, span(20), day(25));
    check(Some(day(50)), None, Some(day(5)), None, span(90), day(50));
    check(Some(day(50)), None, None, None, span(1), day(50));
}

#[test]
fn released_lots_count_from_today_and_open_orders_from_tomorrow_on() {
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    workshop.item(oil).opened_life = Some(Span { months: 6, days: 0 });
    for state in [LotState::Released, LotState::Quarantine, LotState::Rejected] {
        workshop.lot(oil, 100).state = state;
    }
    workshop.lot(oil, 200).opened = Some(day_before(10));
    let supplier = workshop.supplier(OrderCalendar::default());
    for expected in [day_before(4), day(0), day(1), day(9)] {
        workshop.order(supplier, oil, 50, expected).life_on_arrival = Some(Span { months: 0, days: 30 });
    }
    let found = supplies(&workshop.snapshot, day(0));
    let sources =
        [Source::Lot(0), Source::Lot(3), Source::Order(0), Source::Order(1), Source::Order(2), Source::Order(3)];
    assert_eq!(found.sources[oil.index()], sources);
    let days: Vec<_> = found.supplies[oil.index()].iter().map(|supply| (supply.from, supply.through)).collect();
    let half_a_year_open = Span { months: 6, days: 0 }.after(day_before(10));
    let expected = [
        (day(0), NaiveDate::MAX),
        (day(0), half_a_year_open),
        (day(1), day(31)),
        (day(1), day(31)),
        (day(1), day(31)),
        (day(9), day(39)),
    ];
    assert_eq!(days, expected);
    let opens: Vec<_> = found.supplies[oil.index()].iter().map(|supply| supply.life_once_opened.is_some()).collect();
    assert_eq!(opens, [true, false, true, true, true, true], "only the open lot is open");
    let overdue: Vec<_> = found.findings.iter().map(|finding| (finding.kind, finding.subject.as_str())).collect();
    assert_eq!(overdue, [(FindingKind::Overdue, "O1"), (FindingKind::Overdue, "O2")]);
}

#[test]
fn what_is_paid_in_another_currency_counts_at_the_newest_rate() {
    let dollar = Currency::from_code("USD").unwrap();
    let yen = Currency::from_code("JPY").unwrap();
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    for (date, billionths) in [(day_before(9), 900_000_000), (day(0), 925_000_000), (day(1), 2_000_000_000)] {
        workshop.snapshot.rates.push(DatedRate { currency: dollar, date, rate: Rate { billionths } });
    }
    let supplier = workshop.supplier(OrderCalendar::default());
    workshop.snapshot.suppliers[supplier.index()].currency = dollar;
    workshop.order(supplier, oil, 50, day(3)).price = Price { minor: 1_010 };
    for (currency, minor) in [(Currency::EUR, 777), (dollar, 1_010), (yen, 5_000)] {
        let lot = workshop.lot(oil, 10);
        (lot.currency, lot.cost) = (currency, Price { minor });
    }
    let found = supplies(&workshop.snapshot, day(0));
    let values: Vec<Money> = found.supplies[oil.index()].iter().map(|supply| supply.value).collect();
    // 10.10 at 0.925 is 9.3425, rounded once; without a rate it counts as nothing, and that is said.
    assert_eq!(values, [777, 934, 0, 934].map(|minor| Money { minor }));
    let findings: Vec<_> = found.findings.iter().map(|finding| (finding.kind, finding.subject.as_str())).collect();
    assert_eq!(findings, [(FindingKind::NoRate, "JPY")]);
}
