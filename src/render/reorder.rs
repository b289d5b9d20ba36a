//! The reorder list in words: every sentence and amount that text and HTML show is worded here, once, so that both
//! parts of a letter say the same. The fields are what templates in `reports/` may use.

use super::amounts::{amount, count, day, listed, money};
use super::one_line;
use super::reorder_hand as hand;
use crate::plan::decimal::{Decimal, Scaled};
use crate::plan::money::Currency;
use crate::plan::rounding::clamp;
use crate::view::reorder::{CoverView, LateView, OrderLineView, OrderView, ReorderView};
use chrono::NaiveDate;
use serde::Serialize;

/// What every list ends with.
pub const FOOTER: &str = "This list is a proposal. Nothing has been ordered.";

/// The list, ready to be read.
#[derive(Clone, Debug, Serialize)]
pub struct ReorderPage {
    /// The news in one line; a letter's subject.
    pub headline: String,
    /// Today.
    pub today: String,
    /// Last day of the horizon.
    pub through: String,
    /// What cannot come in time.
    pub late: Vec<LatePage>,
    /// Entries that could move so that everything comes in time, a phrase each.
    pub moves: Vec<String>,
    /// What these moves would do; empty where nothing is late.
    pub moves_note: String,
    /// What a budget leaves uncovered, a phrase each.
    pub uncovered: Vec<String>,
    /// By day to order on, then as in the view.
    pub orders: Vec<OrderPage>,
    /// Orders that can wait, a line each.
    pub outlook: Vec<String>,
    /// What else is offered of the one material that was asked for: supplier, pack, price, landed price, soonest day, where
    /// it is on the list.
    pub offers: Vec<[String; 6]>,
    /// What shaped the list: wishes, budget, the last list; a sentence each.
    pub notes: Vec<String>,
    /// What all orders cost.
    pub sums: Vec<SumPage>,
    /// How far from the cheapest plan this one can be; empty where there is nothing to order.
    pub gap: String,
    /// What was noticed, a sentence each.
    pub findings: Vec<String>,
    /// That nothing has been ordered.
    pub footer: String,
}

/// Something that comes too late.
#[derive(Clone, Debug, Serialize)]
pub struct LatePage {
    /// The material.
    pub name: String,
    /// `300 g short on Tue 2 March`.
    pub short: String,
    /// When it can be there, and how many days late that is.
    pub soonest: String,
    /// From whom, in which packs, at which price; empty where from nobody.
    pub offer: String,
    /// Which plan entries have to wait, and when they could be made; empty where none.
    pub waits: String,
}

/// One order.
#[derive(Clone, Debug, Serialize)]
pub struct OrderPage {
    /// `Thu 4 March`.
    pub order_on: String,
    /// True where it has to go out today.
    pub order_today: bool,
    /// When it is at the door.
    pub arrives_on: String,
    /// The supplier's name, or the code where there is none.
    pub supplier: String,
    /// Where the order goes; may be empty.
    pub email: String,
    /// What to order.
    pub lines: Vec<LinePage>,
    /// Goods, postage, duty where there is any, total; the total in home money where that is another currency.
    pub sums: Vec<SumPage>,
    /// Why this supplier and this day, what is missing to free postage, what waits; a sentence each.
    pub why: Vec<String>,
}

/// One line of an order.
#[derive(Clone, Debug, Serialize)]
pub struct LinePage {
    /// The material.
    pub name: String,
    /// `3 x 500 g`.
    pub packs: String,
    /// Price of one pack: `12.50 EUR`.
    pub price: String,
    /// Price of all packs; empty where the currency is not known.
    pub sum: String,
    /// All packs together: `1.5 kg`.
    pub amount: String,
    /// The supplier's number; may be empty.
    pub item_no: String,
    /// The shortages behind it, a phrase each.
    pub why: Vec<String>,
    /// What will be left over of it; empty where nothing.
    pub left_over: String,
}

/// A sum with its name.
#[derive(Clone, Debug, Serialize)]
pub struct SumPage {
    /// `Postage`.
    pub label: String,
    /// `4.90 EUR`.
    pub amount: String,
    /// True for the one that counts.
    pub strong: bool,
}

/// Words the view.
#[must_use]
pub fn page(view: &ReorderView) -> ReorderPage {
    let mut orders: Vec<&OrderView> = view.orders.iter().collect();
    orders.sort_by_key(|order| order.order_on);
    ReorderPage {
        headline: headline(view),
        today: day(view.as_of, view.as_of),
        through: day(view.through, view.as_of),
        late: view.late.iter().map(|late| late_page(late, view)).collect(),
        moves: view.hand.moves.as_ref().map(|moves| hand::moves(moves, view.as_of)).unwrap_or_default(),
        moves_note: view.hand.moves.as_ref().map(hand::moves_note).unwrap_or_default(),
        uncovered: hand::uncovered(view),
        orders: orders.into_iter().map(|order| order_page(order, view)).collect(),
        outlook: hand::outlook(view),
        offers: offers_page(view),
        notes: hand::notes(view),
        sums: plan_sums(view),
        gap: gap_sentence(view),
        findings: view.findings.iter().map(|finding| one_line(&finding.message)).collect(),
        footer: FOOTER.to_owned(),
    }
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

/// The sum of decimals that have the places of `like`.
fn sum_of(decimals: &[&str], like: &str) -> String {
    let places = like.split_once('.').map_or(0, |(_, places)| places.len());
    let places = u32::try_from(places).unwrap_or(0);
    let minor = |decimal: &&str| decimal.parse::<Decimal>().and_then(|decimal| decimal.scaled(places)).unwrap_or(0);
    Scaled { scaled: decimals.iter().map(minor).fold(0, i64::saturating_add), places }.to_string()
}

fn late_page(late: &LateView, view: &ReorderView) -> LatePage {
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
        None => "no offer can serve it: look for another supplier, or a longer life on arrival".to_owned(),
    };
    let (offer, waits) = (hand::soonest_offer(late, view), hand::waits(late, today));
    // What is on its way needs no other offer.
    let offer = if on_order.is_empty() { offer } else { String::new() };
    LatePage { name: named(&late.name, &late.material), short, soonest, offer, waits }
}

fn offers_page(view: &ReorderView) -> Vec<[String; 6]> {
    let Some(offers) = &view.hand.offers else { return Vec::new() };
    let units = view.orders.iter().flat_map(|order| order.lines.iter().map(|line| line.unit.as_str()));
    let mut units = units.chain(view.late.iter().map(|late| late.unit.as_str()));
    hand::offers(offers, units.next() != Some("pcs"), &view.currency, view.as_of)
}

fn order_page(order: &OrderView, view: &ReorderView) -> OrderPage {
    let sum = |label: &str, decimal: &str, strong| SumPage {
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
        sums.push(SumPage { label: format!("Total in {}", view.currency), amount, strong: false });
    }
    OrderPage {
        order_on: day(order.order_on, view.as_of),
        order_today: order.order_on <= view.as_of,
        arrives_on: day(order.arrives_on, view.as_of),
        supplier: named(&order.supplier_name, &order.supplier),
        email: one_line(&order.supplier_email),
        lines: order.lines.iter().map(|line| line_page(line, &order.currency, view.as_of)).collect(),
        sums,
        why: hand::why(order, &view.currency, view.as_of),
    }
}

fn line_page(line: &OrderLineView, currency: &str, today: NaiveDate) -> LinePage {
    LinePage {
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

/// `300 g on Tue 9 March for E12 and E14`.
fn why(cover: &CoverView, unit: &str, today: NaiveDate) -> String {
    let mut behind: Vec<String> = cover.entries.iter().map(|entry| one_line(entry)).collect();
    if cover.safety_stock {
        behind.push("the safety stock".to_owned());
    }
    let reason = if behind.is_empty() { String::new() } else { format!(" for {}", listed(&behind)) };
    format!("{} on {}{reason}", amount(cover.amount, unit), day(cover.date, today))
}

fn plan_sums(view: &ReorderView) -> Vec<SumPage> {
    if view.orders.is_empty() {
        return Vec::new();
    }
    let sum = |label: &str, decimal: &str, strong| SumPage {
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
        format!("No plan is cheaper.{ended}")
    } else {
        format!("This plan is at most {:.1} % above the cheapest possible plan.{ended}", tenths / 10.0)
    }
}

pub(super) fn named(name: &str, code: &str) -> String {
    let name = one_line(name);
    if name.is_empty() { one_line(code) } else { name }
}

fn is_nothing(decimal: &str) -> bool {
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
        let page = page(&empty());
        assert_eq!((page.gap.as_str(), page.sums.len()), ("", 0));
    }

    #[test]
    fn an_order_of_today_says_today() {
        assert_eq!(headline(&with_one_order(0.0)), "Order today, Mon 1 March: 1 order, 1.00 EUR");
        assert_eq!(page(&with_one_order(0.0)).orders[0].supplier, "VEY");
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
    }

    #[test]
    fn a_line_total_has_the_places_of_its_currency() {
        assert_eq!(line_total("12.50", 3, "EUR").as_deref(), Some("37.50"));
        assert_eq!(line_total("1200", 2, "JPY").as_deref(), Some("2400"));
        assert_eq!(line_total("12.50", 3, "???"), None);
        assert_eq!(line_total("many", 3, "EUR"), None);
    }
}
