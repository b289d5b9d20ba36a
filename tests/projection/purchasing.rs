//! Order-by days and the requirements of the reorder plan, against scans over every day.

use super::support::workshop::{Workshop, percent};
use super::support::{Random, day, day_before};
use chrono::{Datelike, Days, NaiveDate, Weekday};
use std::collections::BTreeMap;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::calendar::{ClosedPeriod, OrderCalendar, Span, Weekdays};
use stillroom::plan::model::{ItemId, Snapshot};
use stillroom::plan::money::Currency;
use stillroom::plan::outlook::{Outlook, look_ahead};
use stillroom::plan::project::below_safety_stock;
use stillroom::plan::reorder::requirements::{CreditSettings, Requirements, requirements};

/// Nothing in these workshops happens later than so many days after day 0.
const LAST: u64 = 500;

fn random_calendar(random: &mut Random) -> OrderCalendar {
    let mut weekdays = Weekdays::default();
    for weekday in [Weekday::Mon, Weekday::Tue, Weekday::Thu, Weekday::Sat] {
        weekdays = if random.percent(30) { weekdays.with(weekday) } else { weekdays };
    }
    let mut closed = Vec::new();
    for _ in 0..random.between(0, 3) {
        let from = day_before(30) + Days::new(random.between(0, 90));
        closed.push(ClosedPeriod { from, to: from + Days::new(random.between(0, 25)) });
    }
    OrderCalendar { weekdays, closed, lead_time_days: u32::try_from(random.between(0, 25)).unwrap() }
}

/// Three materials with lots, lives and safety stocks; a premix of one of them; offers of all but now and then one.
fn random_workshop(random: &mut Random) -> Snapshot {
    let mut workshop = Workshop::new();
    let materials = ["clay", "oil", "wax"].map(|code| workshop.material(code));
    let premix = workshop.premix("infusion", &[(materials[1], "90"), (materials[0], "10")]);
    workshop.making(premix).make_ahead_days = u32::try_from(random.between(0, 20)).unwrap();
    for _ in 0..random.between(0, 3) {
        let calendar = random_calendar(random);
        let supplier = workshop.supplier(calendar);
        if random.percent(10) {
            // Nobody knows a rate for it: his offers have an order-by day, but no price.
            workshop.snapshot.suppliers[supplier.index()].currency = Currency::from_code("JPY").unwrap();
        }
        for item in materials {
            let offered = random.percent(60);
            let days = u32::try_from(random.between(0, 60)).unwrap();
            let life = random.percent(60).then_some(Span { months: 0, days });
            if !offered {
                continue;
            }
            workshop.offer(supplier, item, 500, 300).life_on_arrival = life;
        }
    }
    for item in materials {
        workshop.item(item).safety_stock.0 = if random.percent(50) { random.amount(1, 900) } else { 0 };
        for _ in 0..random.between(0, 2) {
            workshop.lot(item, random.amount(1, 1_500)).best_before = Some(day(random.between(0, 60)));
        }
    }
    for minimum_life_days in [0, 10, 70] {
        let lines = [(materials[0], "20"), (premix, "50"), (materials[2], "30")];
        let product = workshop.product(&format!("balm {minimum_life_days}"), &lines);
        workshop.facts(product).minimum_life = Some(Span { months: 0, days: minimum_life_days });
        workshop.facts(product).loss = percent("2");
        for _ in 0..random.between(0, 3) {
            workshop.make(product, random.amount(1, 3_000), day(random.between(0, 45)));
        }
    }
    workshop.snapshot
}

/// By its own reading of the calendar.
fn takes_orders(calendar: &OrderCalendar, date: NaiveDate) -> bool {
    let named =
        (0..7_u8).filter_map(|number| Weekday::try_from(number).ok()).any(|weekday| !calendar.weekdays.allows(weekday));
    let weekday_is_right = !named || calendar.weekdays.allows(date.weekday());
    weekday_is_right && calendar.closed.iter().all(|period| date < period.from || date > period.to)
}

/// The latest day, of all days, on which an order to some supplier with an offer can be there in time.
fn latest_by_scan(snapshot: &Snapshot, item: ItemId, needed: NaiveDate) -> Option<NaiveDate> {
    let offers = snapshot.offers.iter().filter(|offer| offer.item == item);
    let latest = offers.filter_map(|offer| {
        let calendar = &snapshot.suppliers[offer.supplier.index()].calendar;
        let scan = (0..LAST).map(|back| needed - Days::new(back));
        let lead_time = Days::new(u64::from(calendar.lead_time_days));
        let mut scan = scan.filter(|date| takes_orders(calendar, *date));
        scan.find(|date| *date + lead_time <= needed)
    });
    latest.max()
}

#[test]
fn order_by_is_the_latest_day_that_a_scan_finds() {
    let mut random = Random::new(23);
    let (mut count, mut none, mut late) = (0, 0, 0);
    for number in 0..1_200 {
        let snapshot = random_workshop(&mut random);
        for shortage in &look_ahead(&snapshot, day(0), None, SearchLimit::default()).shortages {
            let expected = latest_by_scan(&snapshot, shortage.item, shortage.day);
            assert_eq!(shortage.order_by, expected, "case {number}: {snapshot:?}");
            count += 1;
            none += u32::from(expected.is_none());
            late += u32::from(expected.is_some_and(|date| date < day(0)));
        }
    }
    println!("order-by: {count} shortages, {none} without an offer, {late} too late.");
    assert!(none > 50 && late > 50);
}

/// Amount by item, day and through.
type Grouped = BTreeMap<(ItemId, NaiveDate, NaiveDate), i64>;

#[test]
fn requirements_are_what_a_scan_over_all_order_days_leaves() {
    let mut random = Random::new(24);
    let (mut in_time, mut moved, mut left_out) = (0, 0, 0);
    for number in 0..1_200 {
        let snapshot = random_workshop(&mut random);
        let outlook = look_ahead(&snapshot, day(0), None, SearchLimit::default());
        let found = requirements(&snapshot, &outlook, CreditSettings::default());
        let context = format!("case {number}: {snapshot:?}");
        let (mut expected, mut expected_late) = (Grouped::new(), Vec::new());
        for ((item, needed, through), quantity) in asked_for(&snapshot, &outlook) {
            let soonest = soonest_by_scan(&snapshot, item, needed, through);
            match soonest {
                Some(soonest) if soonest <= needed => {
                    *expected.entry((item, needed, through)).or_default() += quantity;
                    in_time += 1;
                }
                Some(soonest) => {
                    *expected.entry((item, soonest, through.max(soonest))).or_default() += quantity;
                    expected_late.push((needed, item, quantity, Some(soonest)));
                    moved += 1;
                }
                None => {
                    expected_late.push((needed, item, quantity, None));
                    left_out += 1;
                }
            }
        }
        assert_eq!(stated(&found), expected, "{context}");
        expected_late.sort();
        let mut late: Vec<_> =
            found.late.iter().map(|late| (late.needed, late.item, late.quantity.0, late.soonest)).collect();
        late.sort();
        assert_eq!(late, expected_late, "{context}");
        let of_causes = found.causes.iter().map(|causes| causes.iter().map(|(_, part)| part.0).sum::<i64>());
        let amounts = found.problem.requirements.iter().map(|requirement| requirement.quantity.0);
        assert!(of_causes.eq(amounts), "{context}: causes do not add up");
        check_credits(&snapshot, &outlook, &found, &context);
    }
    println!("requirements: {in_time} in time, {moved} moved, {left_out} left out, of 1200 workshops.");
    assert!(in_time > 500 && moved > 500 && left_out > 100);
}

/// Shortages of what is bought and safety stocks, added up.
fn asked_for(snapshot: &Snapshot, outlook: &Outlook) -> Grouped {
    let mut grouped = Grouped::new();
    for (place, part) in outlook.items.iter().enumerate() {
        let (id, item) = (ItemId::new(place), &snapshot.items[place]);
        if item.premix.is_some() {
            continue;
        }
        let allocation = part.allocation.as_ref().unwrap();
        for (demand, short) in part.demands.iter().zip(&allocation.short).filter(|(_, short)| short.0 > 0) {
            *grouped.entry((id, demand.day, demand.through)).or_default() += short.0;
        }
        let (short, safety_stock) = (&allocation.short, item.safety_stock);
        let below =
            below_safety_stock(&part.supplies, &part.needs(), short, safety_stock, outlook.today, outlook.horizon);
        if let Some((date, missing)) = below {
            *grouped.entry((id, date, date)).or_default() += missing.0;
        }
    }
    grouped
}

/// The needed day where an order can be there by then and last; else the first day on which one that is placed as soon as
/// can be is there, if it then lasts through `through`, or through that day where that is later. Offers without a known
/// price do not count.
fn soonest_by_scan(snapshot: &Snapshot, item: ItemId, needed: NaiveDate, through: NaiveDate) -> Option<NaiveDate> {
    let mut soonest = None;
    for offer in snapshot.offers.iter().filter(|offer| offer.item == item) {
        let supplier = &snapshot.suppliers[offer.supplier.index()];
        if supplier.currency != Currency::EUR {
            continue;
        }
        let order_days = (0..LAST).map(day).filter(|date| takes_orders(&supplier.calendar, *date));
        for (place, order_day) in order_days.enumerate() {
            let arrival = order_day + Days::new(u64::from(supplier.calendar.lead_time_days));
            let lasts = offer.life_on_arrival.map_or(NaiveDate::MAX, |life| life.after(arrival));
            if arrival <= needed && lasts >= through {
                return Some(needed);
            }
            if place == 0 && arrival > needed && lasts >= through.max(arrival) {
                soonest = Some(soonest.map_or(arrival, |known: NaiveDate| known.min(arrival)));
            }
        }
    }
    soonest
}

fn stated(found: &Requirements) -> Grouped {
    let requirements = found.problem.requirements.iter();
    let stated: Vec<_> = requirements.map(|one| ((one.item, one.day, one.through), one.quantity.0)).collect();
    assert!(stated.windows(2).all(|two| two[0].0 < two[1].0), "requirements stand in order, none twice");
    stated.into_iter().collect()
}

/// One credit for each required item; its gross requirement is all that the plan asks for up to the horizon.
fn check_credits(snapshot: &Snapshot, outlook: &Outlook, found: &Requirements, context: &str) {
    let mut items: Vec<ItemId> = found.problem.requirements.iter().map(|requirement| requirement.item).collect();
    items.dedup();
    assert_eq!(found.problem.credits.iter().map(|credit| credit.item).collect::<Vec<_>>(), items, "{context}");
    for credit in &found.problem.credits {
        let demands = outlook.items[credit.item.index()].demands.iter();
        assert!(demands.clone().all(|demand| demand.day <= outlook.horizon), "{context}");
        assert_eq!(credit.gross.0, demands.map(|demand| demand.quantity.0).sum::<i64>(), "{context}");
        let prices = snapshot.offers.iter().any(|offer| offer.item == credit.item);
        assert_eq!((credit.unit_price, prices), ((3, 5), true), "300 for 500 mg: {context}");
    }
    let priced = |offer: usize| snapshot.suppliers[snapshot.offers[offer].supplier.index()].currency == Currency::EUR;
    assert!(found.problem.offers.iter().all(|pack| priced(pack.offer.index())), "{context}");
}

#[test]
fn what_is_always_at_hand_is_never_short_and_never_bought() {
    let mut workshop = Workshop::new();
    let (oil, water) = (workshop.material("oil"), workshop.material("water"));
    workshop.item(water).always_at_hand = true;
    workshop.item(water).safety_stock.0 = 500;
    let supplier = workshop.supplier(OrderCalendar::default());
    workshop.offer(supplier, oil, 500, 300);
    workshop.offer(supplier, water, 500, 1);
    let cream = workshop.product("cream", &[(oil, "30"), (water, "70")]);
    workshop.make(cream, 1_000, day(5));
    let outlook = look_ahead(&workshop.snapshot, day(0), None, SearchLimit::default());
    let short: Vec<_> = outlook.shortages.iter().map(|shortage| (shortage.item, shortage.quantity.0)).collect();
    assert_eq!(short, [(oil, 300)]);
    let found = requirements(&workshop.snapshot, &outlook, CreditSettings::default());
    assert_eq!(stated(&found), Grouped::from([((oil, day(5), day(5)), 300)]));
}
