//! The first look of the day, for the terminal.

use super::amounts::{amount, count, day, listed, mass, money};
use super::paragraph::{title, width, wrapped};
use super::table::{Screen, strong};
use crate::view::today::{Matter, TodayLine, TodayView};
use chrono::NaiveDate;

/// The lines under their headings.
#[must_use]
pub fn terminal(view: &TodayView, screen: Screen) -> String {
    let mut text =
        title(&format!("{}, and the days through {}.", long(view.as_of), day(view.through, view.as_of)), screen);
    if view.lines.is_empty() {
        text.push_str("\nNothing is due.\n");
        return text;
    }
    let mut heading = "";
    for line in &view.lines {
        let own = heading_of(&line.matter);
        if own != heading {
            heading = own;
            text.push_str(&format!("\n{}\n", strong(heading, screen.colour)));
        }
        text.push_str(&wrapped("- ", &sentence(line, view.as_of), width(screen)));
    }
    text.push_str(&next_steps(view));
    text
}

fn long(date: NaiveDate) -> String {
    date.format("%A %-d %B %Y").to_string()
}

/// Under which heading a line stands.
#[must_use]
pub fn heading_of(matter: &Matter) -> &'static str {
    match matter {
        Matter::Late { .. } => "Too late to come in time",
        Matter::Make { .. } => "To make",
        Matter::Start { .. } => "To start",
        Matter::Order { .. } => "To order",
        Matter::Parcel { .. } => "Parcels",
        Matter::Quarantine { .. } => "In quarantine",
        Matter::Ended { .. } => "Ended: test again, or write off",
        Matter::UseFirst { .. } => "To use first",
        Matter::Ready { .. } => "Set and cured",
    }
}

/// A line as a sentence without its full stop.
#[must_use]
pub fn sentence(line: &TodayLine, today: NaiveDate) -> String {
    let due = line.due.map_or_else(String::new, |due| when(due, today));
    match &line.matter {
        Matter::Late { name, short, unit, soonest, entries, .. } => {
            let comes = soonest
                .map_or("no offer can serve it".to_owned(), |soonest| format!("soonest {}", when(soonest, today)));
            let waits = if entries.is_empty() {
                String::new()
            } else {
                format!("; {} {}", listed(entries), if entries.len() == 1 { "waits" } else { "wait" })
            };
            format!("{} of {name} for {due}: {comes}{waits}", amount(*short, unit))
        }
        Matter::Make { entry, name, pieces, net_mass, lacks } => {
            let much = if *pieces > 0 { format!("{pieces} pcs") } else { mass(*net_mass) };
            let lacks = if lacks.is_empty() { String::new() } else { format!("; lacks {}", listed(lacks)) };
            format!("{due}: {entry}, {much} of {name}{lacks}")
        }
        Matter::Start { name, mass: mg, entries, .. } => {
            format!("{due}: {} of {name}, for {}", mass(*mg), listed(entries))
        }
        Matter::Order { name, lines, total, currency, .. } => {
            format!("{due}: {name}, {}, {}", count(*lines, "line", "lines"), money(total, currency))
        }
        Matter::Parcel { order, name, materials, overdue } => {
            let late = if *overdue { "overdue since " } else { "" };
            format!("{late}{due}: {order} from {name} ({})", listed(materials))
        }
        Matter::Quarantine { lot, name, on_hand, unit, place } => {
            let since = line.due.map_or_else(String::new, |_| format!(", since {due}"));
            format!("lot {lot}, {} of {name}{}{since}", amount(*on_hand, unit), standing(place))
        }
        Matter::Ended { lot, name, on_hand, unit, place } => {
            format!("lot {lot}, {} of {name}{}, ended {due}", amount(*on_hand, unit), standing(place))
        }
        Matter::UseFirst { lot, name, at_risk, unit, value, currency, usable_through } => {
            let (left, worth) = (amount(*at_risk, unit), money(value, currency));
            let useful = match line.due {
                Some(_) => format!("of use until {due}"),
                None => "no product of the book can use it in time".to_owned(),
            };
            format!("lot {lot}, {left} of {name} ({worth}), ends {}; {useful}", when(*usable_through, today))
        }
        Matter::Ready { batch, name, pieces } => {
            let count = count(usize::try_from(*pieces).unwrap_or(0), "piece", "pieces");
            format!("{due}: batch {batch}, {count} of {name}")
        }
    }
}

fn standing(place: &str) -> String {
    if place.is_empty() { String::new() } else { format!(", {place}") }
}

/// `today`, `tomorrow`, else the day.
fn when(date: NaiveDate, today: NaiveDate) -> String {
    match (date - today).num_days() {
        0 => "today".to_owned(),
        1 => "tomorrow".to_owned(),
        -1 => "yesterday".to_owned(),
        _ => day(date, today),
    }
}

/// The commands that do something about what is shown.
fn next_steps(view: &TodayView) -> String {
    let any = |is: fn(&Matter) -> bool| view.lines.iter().any(|line| is(&line.matter));
    let steps = [
        (any(|matter| matches!(matter, Matter::Make { .. })), "`stillroom weigh ENTRY` writes a weighing sheet"),
        (
            any(|matter| matches!(matter, Matter::Order { .. } | Matter::Late { .. })),
            "`stillroom reorder` shows the orders",
        ),
        (any(|matter| matches!(matter, Matter::Parcel { .. })), "`stillroom receive ORDER` takes a parcel in"),
        (any(|matter| matches!(matter, Matter::Quarantine { .. })), "`stillroom lot release LOT` or `reject` decides"),
        (any(|matter| matches!(matter, Matter::Ended { .. })), "`stillroom lot retest LOT` or `write-off` decides"),
        (any(|matter| matches!(matter, Matter::UseFirst { .. })), "`stillroom use-up` finds what to make of it"),
    ];
    let steps: Vec<&str> = steps.into_iter().filter(|(shown, _)| *shown).map(|(_, step)| step).collect();
    if steps.is_empty() { String::new() } else { format!("\nNext: {}.\n", steps.join(";\n  ")) }
}
