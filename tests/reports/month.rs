//! The month ahead, by hand.

use super::support::day;
use super::support::workshop::Workshop;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::calendar::{OrderCalendar, Span};
use stillroom::plan::outlook::look_ahead;
use stillroom::render::table::Screen;
use stillroom::render::{month as words, text};
use stillroom::view::month::{MonthView, month, month_end};

/// Monday 1 March 2027: 500 mg of oil, of which 400 mg end on day 3; 300 mg are made on day 2 and 500 mg on day 9, for which
/// a premix is started on day 7.
fn shop() -> Workshop {
    let mut shop = Workshop::new();
    let oil = shop.material("oil");
    let blend = shop.premix("blend", &[(oil, "100")]);
    shop.making(blend).make_ahead_days = 2;
    let balm = shop.product("balm", &[(oil, "100")]);
    let cream = shop.product("cream", &[(blend, "100")]);
    shop.facts(balm).curing_days = 3;
    shop.lot(oil, 400).best_before = Some(day(3));
    shop.lot(oil, 100);
    shop.make(balm, 300, day(2));
    shop.make(cream, 500, day(9));
    shop
}

fn view(shop: &Workshop, through: u64) -> MonthView {
    let outlook = look_ahead(&shop.snapshot, day(0), None, SearchLimit::default());
    month(&shop.snapshot, &outlook, day(through))
}

#[test]
fn every_day_has_what_happens_on_it() {
    let view = view(&shop(), 30);
    let of = |week: usize| &view.weeks[week];
    assert_eq!((view.weeks.len(), of(0).week.as_str(), of(0).monday), (5, "2027-W09", day(0)));
    let dates: Vec<_> = view.weeks.iter().flat_map(|week| &week.days).map(|day| day.date).collect();
    assert_eq!(dates, [day(2), day(3), day(5), day(7), day(9)]);
    let made = &of(0).days[0].make[0];
    assert_eq!((made.product.as_str(), made.make_on), ("balm", day(2)));
    assert_eq!((made.needs[0].material.as_str(), made.needs[0].amount, made.needs[0].short), ("oil", 300, 0));
    assert_eq!((of(0).days[1].ends[0].at_risk, of(0).days[1].ends[0].material.as_str()), (100, "oil"));
    assert_eq!(of(0).days[2].ready[0].product_name, "balm");
    let started = &of(1).days[0].make[0];
    assert_eq!((started.product.as_str(), started.make_on), ("cream", day(9)));
    assert_eq!(
        (started.needs[0].material.as_str(), started.needs[0].amount, started.needs[0].short),
        ("oil", 500, 400)
    );
    let used = &of(1).days[1].make[0].needs[0];
    assert_eq!((used.material.as_str(), used.amount, used.short), ("blend", 500, 0), "a premix is made, not bought");
    assert_eq!(of(1).needs.iter().map(|need| need.amount).collect::<Vec<_>>(), [500, 500], "blend and oil, by name");
}

#[test]
fn what_is_to_be_ordered_within_the_month_is_told_though_it_is_needed_later() {
    let mut shop = shop();
    let supplier = shop.supplier(OrderCalendar::default());
    shop.offer(supplier, stillroom::plan::model::ItemId(0), 1_000, 100);
    shop.snapshot.suppliers[0].calendar = OrderCalendar { lead_time_days: 4, ..OrderCalendar::default() };
    let view = view(&shop, 5);
    let orders: Vec<_> = view
        .weeks
        .iter()
        .flat_map(|week| &week.days)
        .flat_map(|on| on.order.iter().map(|order| (on.date, order)))
        .collect();
    assert_eq!(orders.len(), 1);
    assert_eq!((orders[0].0, orders[0].1.needed, orders[0].1.short, orders[0].1.late), (day(3), day(7), 400, false));
}

#[test]
fn a_month_ends_before_the_same_day_of_the_next() {
    let check = |today: &str, last: &str| assert_eq!(month_end(today.parse().unwrap()).to_string(), last, "{today}");
    check("2027-03-01", "2027-03-31");
    check("2027-03-15", "2027-04-14");
    check("2027-01-31", "2027-02-27");
    check("2028-01-30", "2028-02-28");
    assert_eq!(Span { months: 1, days: 0 }.after("2028-01-30".parse().unwrap()).to_string(), "2028-02-29");
}

#[test]
fn it_reads_as_a_maker_would_say_it() {
    let view = view(&shop(), 30);
    assert_eq!(words::news(&view), ["2 batches to make", "1 lacks something"]);
    let text = text::terminal(&words::document(&view), Screen::default());
    assert!(text.starts_with("2 batches through Wed 31 March; 1 of them lacks something.\n"), "{text}");
    for told in [
        "Thu 4 March: L0001 ends with 100 mg of oil left.",
        " is ready.",
        "premix for cream of Wed 10 March",
        "400 mg oil",
        "The week takes in all: 500 mg of blend; 500 mg of oil.",
    ] {
        assert!(text.contains(told), "{told} is not in\n{text}");
    }
    let nothing = month(
        &Workshop::new().snapshot,
        &look_ahead(&Workshop::new().snapshot, day(0), None, SearchLimit::default()),
        day(30),
    );
    assert_eq!(
        text::terminal(&words::document(&nothing), Screen::default()).lines().next(),
        Some("Nothing is made through Wed 31 March.")
    );
    assert!(words::news(&nothing).is_empty());
}
