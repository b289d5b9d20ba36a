//! The first look of the day in words.

use super::amounts::{amount, count, day, entries_named, listed, mass, money};
use super::csv;
use super::document::{Block, Document};
use super::one_line;
use super::pieces::held;
use crate::view::today::{Matter, TodayLine, TodayView};
use chrono::NaiveDate;

/// The lines under their headings, and what can be done about them.
#[must_use]
pub fn document(view: &TodayView) -> Document {
    let title = format!("{}, and the days through {}.", long(view.as_of), day(view.through, view.as_of));
    let mut document = Document::new("today", title);
    if view.lines.is_empty() {
        return document.section("", vec![Block::paragraph("Nothing is due.")]);
    }
    for lines in view.lines.chunk_by(|one, next| heading_of(&one.matter) == heading_of(&next.matter)) {
        let heading = heading_of(&lines[0].matter);
        let sentences = lines.iter().map(|line| one_line(&sentence(line, view.as_of))).collect();
        let blocks = vec![Block::list(sentences)];
        document = match lines[0].matter {
            Matter::Late { .. } | Matter::Ended { .. } | Matter::Letter { .. } => document.warning(heading, blocks),
            _ => document.section(heading, blocks),
        };
    }
    next_steps(view).into_iter().fold(document, Document::footer)
}

/// The news in a few words: `2 to make; 1 order to place`.
#[must_use]
pub fn news(view: &TodayView) -> Vec<String> {
    let due = |line: &&TodayLine| line.due.is_none_or(|due| due <= view.as_of);
    let number = |is: fn(&Matter) -> bool| view.lines.iter().filter(due).filter(|line| is(&line.matter)).count();
    let parts = [
        (number(|matter| matches!(matter, Matter::Make { .. })), "to make", "to make"),
        (number(|matter| matches!(matter, Matter::Start { .. })), "premix to start", "premixes to start"),
        (number(|matter| matches!(matter, Matter::Order { .. })), "order to place", "orders to place"),
        (number(|matter| matches!(matter, Matter::Parcel { overdue: true, .. })), "parcel overdue", "parcels overdue"),
    ];
    parts.into_iter().filter(|(number, ..)| *number > 0).map(|(number, one, many)| count(number, one, many)).collect()
}

/// The lines as CSV.
#[must_use]
pub fn rows(view: &TodayView) -> Vec<u8> {
    let row = |line: &TodayLine| {
        let due = line.due.map_or_else(String::new, |due| due.to_string());
        vec![heading_of(&line.matter).to_owned(), due, sentence(line, view.as_of)]
    };
    csv::write(&["what", "due", "line"], &view.lines.iter().map(row).collect::<Vec<_>>())
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
        Matter::Letter { .. } => "Letters that did not go out",
    }
}

/// A line as a sentence without its full stop.
#[must_use]
pub fn sentence(line: &TodayLine, today: NaiveDate) -> String {
    let due = line.due.map_or_else(String::new, |due| when(due, today));
    match &line.matter {
        Matter::Late { name, short, unit, soonest, entries, products, nothing_on_file, .. } => {
            let comes = match soonest {
                Some(soonest) => format!("soonest {}", when(*soonest, today)),
                None if *nothing_on_file => "there is no lot and no offer of it".to_owned(),
                None => "no offer can serve it".to_owned(),
            };
            let waits = if entries.is_empty() {
                String::new()
            } else {
                let wait = if entries.len() == 1 { "waits" } else { "wait" };
                format!("; {} {wait}", entries_named(entries, products))
            };
            format!("{} of {name} for {due}: {comes}{waits}", amount(*short, unit))
        }
        Matter::Make { entry, name, pieces, net_mass, lacks } => {
            let much = if *pieces > 0 { amount(*pieces, "pcs") } else { mass(*net_mass) };
            let lacks = if lacks.is_empty() { String::new() } else { format!("; lacks {}", listed(lacks)) };
            format!("{due}: {entry}, {much} of {name}{lacks}")
        }
        Matter::Start { name, mass: mg, entries, products, .. } => {
            format!("{due}: {} of {name}, for {}", mass(*mg), entries_named(entries, products))
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
                Some(last) if last == *usable_through => String::new(),
                Some(_) => format!("; of use until {due}"),
                None => "; no product of yours can use it in time".to_owned(),
            };
            format!("lot {lot}, {left} of {name} ({worth}), ends {}{useful}", when(*usable_through, today))
        }
        Matter::Letter { letter, subject, set_aside, error } => {
            let fate = if *set_aside { "set aside" } else { "is tried again" };
            format!("letter {letter}, {subject}: {fate} ({error})")
        }
        Matter::Ready { batch, name, pieces, state } => {
            let count = count(usize::try_from(*pieces).unwrap_or(0), "piece", "pieces");
            let held = held(state).map(|held| format!(", {held}")).unwrap_or_default();
            format!("{due}: batch {batch}, {count} of {name}{held}")
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

/// The commands that do something about what is shown, a sentence each.
fn next_steps(view: &TodayView) -> Vec<&'static str> {
    let any = |is: fn(&Matter) -> bool| view.lines.iter().any(|line| is(&line.matter));
    let steps = [
        (any(|matter| matches!(matter, Matter::Make { .. })), "`stillroom weigh ENTRY` writes a weighing sheet."),
        (
            any(|matter| matches!(matter, Matter::Order { .. } | Matter::Late { .. })),
            "`stillroom reorder` shows the orders.",
        ),
        (
            any(|matter| matches!(matter, Matter::Late { nothing_on_file: true, .. })),
            "What never runs out (tap water) gets yes under always_at_hand in materials.csv: import that file then.",
        ),
        (any(|matter| matches!(matter, Matter::Parcel { .. })), "`stillroom receive ORDER` takes a parcel in."),
        (
            any(|matter| matches!(matter, Matter::Quarantine { .. })),
            "`stillroom lot release LOT` or `stillroom lot reject LOT` decides about a lot in quarantine.",
        ),
        (
            any(|matter| matches!(matter, Matter::Ended { .. })),
            "`stillroom lot retest LOT` or `stillroom lot write-off LOT` decides about one that has ended.",
        ),
        (any(|matter| matches!(matter, Matter::UseFirst { .. })), "`stillroom use-up` finds what to make of it."),
        (
            any(|matter| matches!(matter, Matter::Letter { .. })),
            "`stillroom outbox show LETTER` shows a letter, `stillroom outbox retry LETTER` tries it again.",
        ),
    ];
    steps.into_iter().filter(|(shown, _)| *shown).map(|(_, step)| step).collect()
}
