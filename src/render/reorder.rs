//! The reorder list in words.

use super::amounts::{amount, count, day, entries_named, listed, money};
use super::document::{Block, Document, OrderLine, Sum};
use super::ical::{DateEntry, key};
use super::one_line;
use super::reorder_hand as hand;
use super::table::{Align, Table};
use crate::plan::decimal::{Decimal, Scaled};
use crate::plan::money::Currency;
use crate::plan::quantity::Unit;
use crate::plan::rounding::clamp;
use crate::view::reorder::{CoverView, LateView, OrderLineView, OrderView, ReorderView};
use chrono::NaiveDate;

/// What every list ends with.
pub const FOOTER: &str = "This list is a proposal. Nothing has been ordered.";

/// What to do with a list that has orders, a line each: short enough that no command is broken in two.
pub const NEXT: [&str; 2] = [
    "Once ordered, write it down: `stillroom order place SUPPLIER`.",
    "When the parcel is there: `stillroom receive ORDER`.",
];

/// The list as a document.
#[must_use]
pub fn document(view: &ReorderView) -> Document {
    let mut orders: Vec<&OrderView> = view.orders.iter().collect();
    orders.sort_by_key(|order| order.order_on);
    let (today, through) = (day(view.as_of, view.as_of), day(view.through, view.as_of));
    let mut document = Document::new("reorder", headline(view))
        .fact(format!("Reorder list of {today}, for the plan through {through}"))
        .warning("Cannot come in time", vec![Block::list(late(view))])
        .warning("What could move", moves(view))
        .warning("Not paid by the budget", vec![Block::list(hand::uncovered(view))]);
    for order in orders {
        let blocks = vec![
            Block::paragraph(arrival(order, view.as_of)),
            order_lines(order, view.as_of),
            Block::Sums { sums: order_sums(order, view) },
            Block::list(hand::why(order, view)),
        ];
        document = document.section(&order_title(order, view.as_of), blocks);
    }
    let together = vec![Block::Sums { sums: plan_sums(view) }, Block::paragraph(gap_sentence(view))];
    let document = document
        .section("Can wait", vec![Block::list(hand::outlook(view))])
        .section("All together", together)
        .section("How this list was made", vec![Block::list(hand::notes(view))])
        .noticed(&view.findings)
        .footer(FOOTER);
    if view.orders.is_empty() { document } else { NEXT.into_iter().fold(document, Document::footer) }
}

/// What cannot come in time.
fn late(view: &ReorderView) -> Vec<String> {
    view.late.iter().map(|late| late_line(late, view)).collect()
}

/// Which entries could move so that all comes in time.
fn moves(view: &ReorderView) -> Vec<Block> {
    let Some(moves) = &view.hand.moves else { return Vec::new() };
    vec![
        Block::list(hand::moves(moves, view.as_of)),
        Block::paragraph(hand::moves_note(moves, view.late.iter().all(|late| late.soonest.is_some()))),
    ]
}

/// What the list holds of one material, and what else is offered of it: no sums, since they are those of whole orders.
#[must_use]
pub fn of_material(view: &ReorderView, name: &str, unit: Unit) -> Document {
    let name = one_line(name);
    if view.orders.is_empty() && view.late.is_empty() {
        let title = format!("{name} is not on the reorder list: what is there and on its way covers it.");
        return Document::new("reorder", title).section("Offers", vec![Block::Table(offers(view, unit))]);
    }
    let mut document = Document::new("reorder", format!("{name} on the reorder list:"))
        .warning("Cannot come in time", vec![Block::list(late(view))])
        .warning("What could move", moves(view))
        .warning("Not paid by the budget", vec![Block::list(hand::uncovered(view))]);
    for order in &view.orders {
        let blocks = vec![
            Block::paragraph(arrival(order, view.as_of)),
            order_lines(order, view.as_of),
            Block::list(hand::why(order, view)),
        ];
        document = document.section(&order_title(order, view.as_of), blocks);
    }
    document.section("Offers", vec![Block::Table(offers(view, unit))])
}

/// What is offered of the one material that was asked for.
fn offers(view: &ReorderView, unit: Unit) -> Table {
    let mut table = Table::new(&[
        ("Supplier", Align::Left),
        ("Pack", Align::Left),
        ("Price", Align::Right),
        ("With duty", Align::Right),
        ("Here on", Align::Left),
        ("List", Align::Left),
    ]);
    let offers = view.hand.offers.as_deref().unwrap_or_default();
    for row in hand::offers(offers, unit == Unit::Milligram, &view.currency, view.as_of) {
        table.row(row);
    }
    table
}

fn order_title(order: &OrderView, today: NaiveDate) -> String {
    let when = if order.order_on <= today { "Order today," } else { "Order by" };
    format!("{when} {}: {}", day(order.order_on, today), named(&order.supplier_name, &order.supplier))
}

fn arrival(order: &OrderView, today: NaiveDate) -> String {
    let email = one_line(&order.supplier_email);
    let to = if email.is_empty() { String::new() } else { format!(" Orders go to {email}.") };
    format!("It should be here on {}.{to}", day(order.arrives_on, today))
}

fn order_lines(order: &OrderView, today: NaiveDate) -> Block {
    let lines = order.lines.iter().map(|line| order_line(line, &order.currency, today)).collect();
    Block::Lines { lines, left_out: 0 }
}

/// The news in one line: `Order today, Mon 1 March: 1 order, 78.59 EUR; 4 orders later; 1 late`.
#[must_use]
pub fn headline(view: &ReorderView) -> String {
    let late = if view.late.is_empty() { String::new() } else { format!("; {} late", view.late.len()) };
    let Some(first) = view.orders.iter().map(|order| order.order_on).min() else {
        return match view.hand.outlook.iter().map(|order| order.order_on).min() {
            Some(next) => format!("Nothing to order yet; the next order is due on {}{late}", day(next, view.as_of)),
            None => format!("Nothing to order through {}{late}", day(view.through, view.as_of)),
        };
    };
    let when = if first <= view.as_of { "Order today," } else { "Order by" };
    let due: Vec<&OrderView> = view.orders.iter().filter(|order| order.order_on == first).collect();
    let totals: Vec<&str> = due.iter().map(|order| order.total_home.as_str()).collect();
    let cost = money(&sum_of(&totals, &view.cost), &view.currency);
    let later = match view.orders.len() - due.len() + view.hand.outlook.len() {
        0 => String::new(),
        later => format!("; {} later", count(later, "order", "orders")),
    };
    format!("{when} {}: {}, {cost}{later}{late}", day(first, view.as_of), count(due.len(), "order", "orders"))
}

/// The news in a few words, for a letter's subject: `3 orders to place by Thursday`, `2 late`.
#[must_use]
pub fn news(view: &ReorderView) -> Vec<String> {
    let mut news = Vec::new();
    if let Some(first) = view.orders.iter().map(|order| order.order_on).min() {
        let due = view.orders.iter().filter(|order| order.order_on == first).count();
        let when = match (first - view.as_of).num_days() {
            ..=0 => "today".to_owned(),
            1..=6 => format!("by {}", first.format("%A")),
            _ => format!("by {}", day(first, view.as_of)),
        };
        news.push(format!("{} {when}", count(due, "order to place", "orders to place")));
    }
    if !view.late.is_empty() {
        news.push(format!("{} late", view.late.len()));
    }
    news
}

/// The days to order on, for a calendar. An entry is known by its supplier and whether it is his first order of the plan,
/// his second and so on: a later list moves it.
#[must_use]
pub fn dates(view: &ReorderView) -> Vec<DateEntry> {
    let mut orders: Vec<&OrderView> = view.orders.iter().collect();
    orders.sort_by_key(|order| order.order_on);
    let mut dates: Vec<DateEntry> = Vec::new();
    for (place, order) in orders.iter().enumerate() {
        let number = 1 + orders[..place].iter().filter(|other| other.supplier == order.supplier).count();
        let lines: Vec<String> = order
            .lines
            .iter()
            .map(|line| {
                let what = format!("{} x {} {}", line.packs, one_line(&line.pack), named(&line.name, &line.material));
                if line.item_no.is_empty() { what } else { format!("{what} (no. {})", one_line(&line.item_no)) }
            })
            .collect();
        dates.push(DateEntry {
            key: key(&["order", &order.supplier, &number.to_string()]),
            day: order.order_on,
            summary: format!("Order from {}", named(&order.supplier_name, &order.supplier)),
            detail: format!(
                "{}. {} in all. A proposal: nothing has been ordered.",
                lines.join("; "),
                money(&order.total, &order.currency)
            ),
            withdrawn: false,
        });
    }
    dates
}

/// The sum of decimals that have the places of `like`.
fn sum_of(decimals: &[&str], like: &str) -> String {
    let places = like.split_once('.').map_or(0, |(_, places)| places.len());
    let places = u32::try_from(places).unwrap_or(0);
    let minor = |decimal: &&str| decimal.parse::<Decimal>().and_then(|decimal| decimal.scaled(places)).unwrap_or(0);
    Scaled { scaled: decimals.iter().map(minor).fold(0, i64::saturating_add), places }.to_string()
}

fn late_line(late: &LateView, view: &ReorderView) -> String {
    let today = view.as_of;
    // The safety stock alone is no shortage: something is still there.
    let what = if late.entries.is_empty() && late.safety_stock { "below its safety stock" } else { "short" };
    let short = format!("{} {what} on {}", amount(late.short, &late.unit), day(late.needed, today));
    let on_order: Vec<String> = late.on_order.iter().map(|order| one_line(order)).collect();
    let soonest = match late.soonest {
        Some(soonest) if !on_order.is_empty() => {
            format!("on its way with {}, here on {}", listed(&on_order), day(soonest, today))
        }
        Some(soonest) => {
            let days = usize::try_from((soonest - late.needed).num_days()).unwrap_or(0);
            format!("can be here on {} at the soonest, {} late", day(soonest, today), count(days, "day", "days"))
        }
        None if !view.hand.wishes.is_empty() => {
            "no offer that your wishes leave can serve it: lift one (`stillroom wish list`), or look for another supplier"
                .to_owned()
        }
        None if view.is_nothing_on_file(&late.material) => "there is no lot and no offer of it (see below)".to_owned(),
        None => "no offer can serve it: look for another supplier, or a longer life on arrival".to_owned(),
    };
    // What is on its way needs no other offer.
    let offer = if on_order.is_empty() { hand::soonest_offer(late, view) } else { String::new() };
    let more = |words: String| if words.is_empty() { String::new() } else { format!("; {words}") };
    let (offer, waits) = (more(offer), more(hand::waits(late, today)));
    format!("{}: {short}; {soonest}{offer}{waits}.", named(&late.name, &late.material))
}

/// Goods, postage, duty where there is any, total; the total in home money where that is another currency.
fn order_sums(order: &OrderView, view: &ReorderView) -> Vec<Sum> {
    let sum = |label: &str, decimal: &str, strong| Sum {
        label: label.to_owned(),
        amount: money(decimal, &order.currency),
        strong,
    };
    let mut sums = vec![sum("Goods", &order.goods, false), sum("Postage", &order.postage, false)];
    if !is_nothing(&order.duty) {
        sums.push(sum("Duty", &order.duty, false));
    }
    sums.push(sum("Total", &order.total, true));
    if order.currency != view.currency {
        let amount = money(&order.total_home, &view.currency);
        sums.push(Sum { label: format!("Total in {}", view.currency), amount, strong: false });
    }
    sums
}

fn order_line(line: &OrderLineView, currency: &str, today: NaiveDate) -> OrderLine {
    OrderLine {
        name: named(&line.name, &line.material),
        packs: format!("{} x {}", line.packs, one_line(&line.pack)),
        price: money(&line.price, currency),
        sum: line_total(&line.price, line.packs, currency).map(|sum| money(&sum, currency)).unwrap_or_default(),
        amount: amount(line.amount, &line.unit),
        item_no: one_line(&line.item_no),
        why: line.covers.iter().map(|cover| why(cover, &line.unit, today)).collect(),
        left_over: if line.left_over > 0 { amount(line.left_over, &line.unit) } else { String::new() },
    }
}

/// `300 g on Tue 9 March for E12 and E14 (Hand cream)`.
fn why(cover: &CoverView, unit: &str, today: NaiveDate) -> String {
    let behind = behind(&cover.entries, &cover.products, cover.safety_stock);
    let reason = if behind.is_empty() { String::new() } else { format!(" for {behind}") };
    format!("{} on {}{reason}", amount(cover.amount, unit), day(cover.date, today))
}

/// `E12 and E14 (Hand cream), and the safety stock`.
pub(super) fn behind(entries: &[String], products: &[String], safety_stock: bool) -> String {
    match (entries.is_empty(), safety_stock) {
        (_, false) => entries_named(entries, products),
        (true, true) => "the safety stock".to_owned(),
        (false, true) => format!("{}, and the safety stock", entries_named(entries, products)),
    }
}

fn plan_sums(view: &ReorderView) -> Vec<Sum> {
    if view.orders.is_empty() {
        return Vec::new();
    }
    let sum = |label: &str, decimal: &str, strong| Sum {
        label: label.to_owned(),
        amount: money(decimal, &view.currency),
        strong,
    };
    let mut sums = vec![sum("All orders", &view.cost, true)];
    if !is_nothing(&view.credit) {
        sums.push(sum("What is left over is still worth", &view.credit, false));
        sums.push(sum("Cost less that", &view.objective, false));
    }
    sums.push(sum("Each material bought alone, reckoned alike", &view.simple_objective, false));
    sums
}

/// How far from the cheapest plan this one can be, rounded up to a tenth of a percent so that it never promises too much.
fn gap_sentence(view: &ReorderView) -> String {
    if view.orders.is_empty() {
        return String::new();
    }
    let ended = if view.searched_to_the_end { "" } else { " The search was ended by its time limit." };
    let tenths = (view.gap * 1_000.0 - 1e-9).ceil();
    if !tenths.is_finite() || view.objective.starts_with('-') {
        format!("How far this is from the cheapest possible plan is not known.{ended}")
    } else if tenths <= 0.0 {
        let shelves = if view.hand.shelves.is_empty() { "" } else { " that keeps to the shelf space" };
        format!("No plan is cheaper{shelves}.{ended}")
    } else {
        let shelves = if view.hand.shelves.is_empty() { "" } else { ", which would mind no shelf space" };
        format!("This plan is at most {:.1} % above the cheapest possible plan{shelves}.{ended}", tenths / 10.0)
    }
}

pub(super) fn named(name: &str, code: &str) -> String {
    let name = one_line(name);
    if name.is_empty() { one_line(code) } else { name }
}

pub(super) fn is_nothing(decimal: &str) -> bool {
    decimal.parse::<Decimal>().is_ok_and(|value| value.digits == 0)
}

/// Price times packs, with the currency's places. `None` where either is not what the JSON contract promises.
fn line_total(price: &str, packs: i64, currency: &str) -> Option<String> {
    let places = Currency::from_code(currency)?.exponent();
    let minor = price.parse::<Decimal>().ok()?.scaled(places).ok()?;
    Some(Scaled { scaled: clamp(i128::from(minor) * i128::from(packs)), places }.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::view::reorder_hand::{OrderWhyView, ReorderHand};

    fn empty() -> ReorderView {
        let date = |text: &str| text.parse::<NaiveDate>().unwrap();
        ReorderView {
            as_of: date("2027-03-01"),
            through: date("2027-04-30"),
            currency: "EUR".to_owned(),
            orders: Vec::new(),
            cost: "0.00".to_owned(),
            credit: "0.00".to_owned(),
            objective: "0.00".to_owned(),
            lower_bound: "0.00".to_owned(),
            gap: 0.0,
            simple_objective: "0.00".to_owned(),
            searched_to_the_end: true,
            late: Vec::new(),
            findings: Vec::new(),
            hand: ReorderHand::default(),
        }
    }

    fn with_one_order(gap: f64) -> ReorderView {
        let mut view = empty();
        view.gap = gap;
        view.orders.push(OrderView {
            supplier: "VEY".to_owned(),
            supplier_name: String::new(),
            supplier_email: String::new(),
            order_on: view.as_of,
            arrives_on: view.through,
            currency: "EUR".to_owned(),
            lines: Vec::new(),
            goods: "1.00".to_owned(),
            postage: "0.00".to_owned(),
            duty: "0.00".to_owned(),
            total: "1.00".to_owned(),
            total_home: "1.00".to_owned(),
            why: OrderWhyView::default(),
        });
        view
    }

    #[test]
    fn an_empty_list_says_so() {
        assert_eq!(headline(&empty()), "Nothing to order through Fri 30 April");
        assert!(document(&empty()).sections.is_empty());
    }

    #[test]
    fn an_order_of_today_says_today() {
        assert_eq!(headline(&with_one_order(0.0)), "Order today, Mon 1 March: 1 order, 1.00 EUR");
        assert_eq!(document(&with_one_order(0.0)).sections[0].heading, "Order today, Mon 1 March: VEY");
    }

    #[test]
    fn the_gap_is_rounded_up_and_never_made_up() {
        let check = |gap: f64, expected: &str| assert_eq!(gap_sentence(&with_one_order(gap)), expected, "{gap}");
        check(0.0, "No plan is cheaper.");
        check(0.008, "This plan is at most 0.8 % above the cheapest possible plan.");
        check(0.0081, "This plan is at most 0.9 % above the cheapest possible plan.");
        check(0.000_01, "This plan is at most 0.1 % above the cheapest possible plan.");
        check(f64::NAN, "How far this is from the cheapest possible plan is not known.");
        check(f64::INFINITY, "How far this is from the cheapest possible plan is not known.");
        let mut view = with_one_order(0.02);
        view.hand.shelves.push("wax".to_owned());
        let words = "This plan is at most 2.0 % above the cheapest possible plan, which would mind no shelf space.";
        assert_eq!(gap_sentence(&view), words);
        view.gap = 0.0;
        assert_eq!(gap_sentence(&view), "No plan is cheaper that keeps to the shelf space.");
    }

    #[test]
    fn a_line_total_has_the_places_of_its_currency() {
        assert_eq!(line_total("12.50", 3, "EUR").as_deref(), Some("37.50"));
        assert_eq!(line_total("1200", 2, "JPY").as_deref(), Some("2400"));
        assert_eq!(line_total("12.50", 3, "???"), None);
        assert_eq!(line_total("many", 3, "EUR"), None);
    }
}
