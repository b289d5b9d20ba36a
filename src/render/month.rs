//! The month ahead in words and as a calendar.

use super::amounts::{amount, count, day, listed, mass, several};
use super::document::{Block, Document};
use super::one_line;
use super::picture::month as picture;
use super::table::{Align, Table};
use crate::view::month::{MakeView, MonthDayView, MonthNeedView, MonthView, WeekView};
use chrono::NaiveDate;
use std::cmp::Ordering;

/// The month as a document.
#[must_use]
pub fn document(view: &MonthView) -> Document {
    let mut document = Document::new("month", headline(view))
        .fact(format!("From {} through {}", day(view.as_of, view.as_of), day(view.through, view.as_of)))
        .section("", vec![Block::Picture(picture::picture(view))]);
    for week in view.weeks.iter().filter(|week| !week.days.is_empty()) {
        document = document.section(
            &format!("Week from {}", day(week.monday, view.as_of)),
            vec![
                Block::list(notes(week, view.as_of)),
                Block::Table(made(week, view.as_of)),
                Block::paragraph(takes(week)),
            ],
        );
    }
    document.noticed(&view.findings)
}

/// The news in a few words.
#[must_use]
pub fn news(view: &MonthView) -> Vec<String> {
    let short = lacking(view);
    let mut news = match entries(view) {
        0 => Vec::new(),
        batches => vec![format!("{} to make", count(batches, "batch", "batches"))],
    };
    if short > 0 {
        news.push(format!("{short} {} something", if short == 1 { "lacks" } else { "lack" }));
    }
    news
}

/// The entries that are made within the month, each once.
fn entries(view: &MonthView) -> usize {
    days(view).map(|day| day.make.iter().filter(|make| make.make_on <= day.date).count()).sum()
}

fn days(view: &MonthView) -> impl Iterator<Item = &MonthDayView> {
    view.weeks.iter().flat_map(|week| &week.days)
}

/// How many entries lack something.
fn lacking(view: &MonthView) -> usize {
    let makes = days(view).flat_map(|day| &day.make);
    let mut short: Vec<&str> = makes.filter(|make| lacks(make)).map(|make| make.entry.as_str()).collect();
    short.sort_unstable();
    short.dedup();
    short.len()
}

pub(super) fn lacks(make: &MakeView) -> bool {
    make.needs.iter().any(|need| need.short > 0)
}

fn headline(view: &MonthView) -> String {
    let through = day(view.through, view.as_of);
    let batches = count(entries(view), "batch", "batches");
    let short = match lacking(view) {
        0 => "everything for them is there or on its way".to_owned(),
        1 => "1 of them lacks something".to_owned(),
        many => format!("{many} of them lack something"),
    };
    let orders: Vec<&str> = days(view).flat_map(|day| &day.order).map(|order| order.name.as_str()).collect();
    let order = if orders.is_empty() { String::new() } else { format!("; {} to order", several(&orders, "material")) };
    if entries(view) == 0 {
        format!("Nothing is made through {through}{order}.")
    } else {
        format!("{batches} through {through}; {short}{order}.")
    }
}

/// What else the week brings, a line each.
fn notes(week: &WeekView, today: NaiveDate) -> Vec<String> {
    let mut notes = Vec::new();
    for on in &week.days {
        let date = day(on.date, today);
        for order in &on.order {
            let when = if order.late { "Too late to order in time".to_owned() } else { format!("Order by {date}") };
            let much = amount(order.short, &order.unit);
            let needed = day(order.needed, today);
            notes.push(format!("{when}: {much} of {}, needed from {needed}.", one_line(&order.name)));
        }
        for comes in &on.comes {
            let names: Vec<String> = comes.names.iter().map(|name| one_line(name)).collect();
            let (order, supplier) = (one_line(&comes.order), one_line(&comes.supplier));
            let names = listed(&names);
            notes.push(if comes.expected < on.date {
                let since = day(comes.expected, today);
                format!(
                    "Order {order} from {supplier} is overdue since {since}; the plan reckons with it from tomorrow on: {names}."
                )
            } else {
                format!("{date}: order {order} comes from {supplier}: {names}.")
            });
        }
        for ends in &on.ends {
            let much = amount(ends.at_risk, &ends.unit);
            notes.push(format!("{date}: {} ends with {much} of {} left.", one_line(&ends.lot), one_line(&ends.name)));
        }
        let ready: Vec<String> = on
            .ready
            .iter()
            .map(|ready| format!("{} {}", one_line(&ready.entry), one_line(&ready.product_name)))
            .collect();
        if !ready.is_empty() {
            let are = if ready.len() == 1 { "is" } else { "are" };
            notes.push(format!("{date}: {} {are} ready.", listed(&ready)));
        }
    }
    notes
}

fn made(week: &WeekView, today: NaiveDate) -> Table {
    let mut table = Table::new(&[
        ("Day", Align::Left),
        ("Entry", Align::Left),
        ("Make", Align::Left),
        ("Amount", Align::Right),
        ("Missing", Align::Left),
        ("Takes", Align::Left),
    ])
    .lead(4);
    for on in &week.days {
        for make in &on.make {
            let much = if make.pieces > 0 { amount(make.pieces, "pcs") } else { mass(make.net_mass) };
            let name = match make.make_on.cmp(&on.date) {
                Ordering::Equal => make.product_name.clone(),
                Ordering::Less => format!("{}, planned for {}", make.product_name, day(make.make_on, today)),
                Ordering::Greater => format!("premix for {} of {}", make.product_name, day(make.make_on, today)),
            };
            let missing: Vec<MonthNeedView> = make
                .needs
                .iter()
                .filter(|need| need.short > 0)
                .map(|need| MonthNeedView { amount: need.short, ..need.clone() })
                .collect();
            table.row([day(on.date, today), make.entry.clone(), name, much, phrase(&missing), phrase(&make.needs)]);
        }
    }
    table
}

fn phrase(needs: &[MonthNeedView]) -> String {
    needs.iter().map(|need| format!("{} {}", amount(need.amount, &need.unit), need.name)).collect::<Vec<_>>().join(", ")
}

fn takes(week: &WeekView) -> String {
    let needs: Vec<String> = week
        .needs
        .iter()
        .map(|need| format!("{} of {}", amount(need.amount, &need.unit), one_line(&need.name)))
        .collect();
    if needs.is_empty() { String::new() } else { format!("The week takes in all: {}.", needs.join("; ")) }
}
