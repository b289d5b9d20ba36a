//! A calendar of the month ahead: a box for each day, in it what is made, has to be ordered, comes and ends.

use super::svg::{ALARM, Anchor, GUIDE, INK, QUIET, SHADE, Sign, Svg};
use super::{Picture, letters};
use crate::render::amounts::{day, listed};
use crate::render::month::lacks;
use crate::render::one_line;
use crate::view::month::{MonthDayView, MonthView};
use chrono::{Datelike, Days, NaiveDate};
use std::collections::BTreeMap;

const LEFT: f64 = 5.0;
/// Width of a day.
const ACROSS: f64 = 50.0;
/// Height of a line of a day.
const LINE: f64 = 14.0;
/// Lines of a day at most, the line of its number not counted.
const MOST_LINES: usize = 6;
const TOP: f64 = 24.0;
const SIZE: f64 = 11.0;

/// The picture.
#[must_use]
pub fn picture(view: &MonthView) -> Picture {
    let days: BTreeMap<NaiveDate, &MonthDayView> =
        view.weeks.iter().flat_map(|week| &week.days).map(|day| (day.date, day)).collect();
    let mut svg = Svg::new(height(view, &days));
    for (column, name) in ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"].iter().enumerate() {
        let x = LEFT + ACROSS * (column as f64 + 0.5);
        svg.words((x, 16.0), name, 12.0, QUIET, Anchor::Middle);
    }
    let mut top = TOP;
    for week in &view.weeks {
        let high = week_height(week.monday, &days);
        for column in 0..7_u32 {
            let Some(date) = week.monday.checked_add_days(Days::new(u64::from(column))) else { continue };
            let corner = (LEFT + ACROSS * f64::from(column), top);
            let outside = date < view.as_of || date > view.through;
            svg.rect(corner, (ACROSS, high), if outside { SHADE } else { "#ffffff" }, GUIDE);
            if !outside {
                number(&mut svg, date, date == view.as_of, corner);
                if let Some(day) = days.get(&date) {
                    lines(&mut svg, day, corner);
                }
            }
        }
        top += high;
    }
    legend(&mut svg, top + 16.0);
    svg.finish("month", "Calendar of the month ahead", &words(view))
}

fn height(view: &MonthView, days: &BTreeMap<NaiveDate, &MonthDayView>) -> f64 {
    TOP + view.weeks.iter().map(|week| week_height(week.monday, days)).sum::<f64>() + LEGEND
}

/// As high as its fullest day.
fn week_height(monday: NaiveDate, days: &BTreeMap<NaiveDate, &MonthDayView>) -> f64 {
    let week = (0..7).filter_map(|column| monday.checked_add_days(Days::new(column)));
    let fullest = week.filter_map(|date| days.get(&date)).map(|day| marks(day).len()).max().unwrap_or(0);
    24.0 + LINE * fullest.clamp(1, MOST_LINES) as f64
}

/// The day's number, with the month's name on its first day; today stands in a dark box.
fn number(svg: &mut Svg, date: NaiveDate, today: bool, (left, top): (f64, f64)) {
    let words = if date.day() == 1 || today { date.format("%-d %b").to_string() } else { date.day().to_string() };
    if today {
        let width = letters::width(&words, 12.0) + 6.0;
        svg.rect((left + 1.0, top + 1.0), (width, 16.0), INK, INK);
    }
    svg.words((left + 4.0, top + 13.0), &words, 12.0, if today { "#ffffff" } else { INK }, Anchor::Start);
}

/// What stands in a day's box. Orders and lots are only counted in: their names are too long for it.
fn marks(day: &MonthDayView) -> Vec<(Sign, &'static str, String)> {
    let mut marks = Vec::new();
    if !day.order.is_empty() {
        marks.push((Sign::Diamond, ALARM, "order".to_owned()));
    }
    for make in &day.make {
        let (sign, colour) = match (lacks(make), make.make_on <= day.date) {
            (true, _) => (Sign::Ring, ALARM),
            (false, true) => (Sign::Dot, INK),
            (false, false) => (Sign::Square, QUIET),
        };
        marks.push((sign, colour, make.entry.clone()));
    }
    if !day.comes.is_empty() {
        marks.push((Sign::Up, INK, "due".to_owned()));
    }
    if !day.ends.is_empty() {
        marks.push((Sign::Cross, ALARM, "ends".to_owned()));
    }
    marks
}

fn lines(svg: &mut Svg, day: &MonthDayView, (left, top): (f64, f64)) {
    let marks = marks(day);
    let shown = if marks.len() > MOST_LINES { MOST_LINES - 1 } else { marks.len() };
    let at = |place: usize| top + 26.0 + LINE * place as f64;
    for (place, (sign, colour, words)) in marks.iter().take(shown).enumerate() {
        svg.sign(*sign, (left + 7.5, at(place) - 1.0), colour);
        let words = letters::fitted(&one_line(words), SIZE, ACROSS - 15.0);
        svg.words((left + 14.0, at(place) + 3.0), &words, SIZE, INK, Anchor::Start);
    }
    if marks.len() > shown {
        let words = format!("+{}", marks.len() - shown);
        svg.words((left + 14.0, at(shown) + 3.0), &words, SIZE, QUIET, Anchor::Start);
    }
}

/// Height of the legend below the days.
const LEGEND: f64 = 66.0;

fn legend(svg: &mut Svg, top: f64) {
    let signs = [
        [(Sign::Dot, INK, "make"), (Sign::Square, QUIET, "start a premix for it")],
        [(Sign::Diamond, ALARM, "last day to order"), (Sign::Ring, ALARM, "something is missing")],
        [(Sign::Up, INK, "an order comes"), (Sign::Cross, ALARM, "a lot ends with a rest")],
    ];
    for (row, signs) in signs.into_iter().enumerate() {
        for (column, (sign, colour, words)) in signs.into_iter().enumerate() {
            let (x, y) = (LEFT + 7.5 + 165.0 * column as f64, top + 18.0 * row as f64);
            svg.sign(sign, (x, y), colour);
            svg.words((x + 10.0, y + 4.0), words, 12.0, QUIET, Anchor::Start);
        }
    }
}

/// What the picture shows, in words.
fn words(view: &MonthView) -> String {
    let mut sentences = Vec::new();
    for on in view.weeks.iter().flat_map(|week| &week.days) {
        let mut parts = Vec::new();
        for order in &on.order {
            parts.push(format!("order {}{}", one_line(&order.name), if order.late { " (too late)" } else { "" }));
        }
        for make in &on.make {
            let lacks = if lacks(make) { " (something is missing)" } else { "" };
            parts.push(format!("make {} {}{lacks}", one_line(&make.entry), one_line(&make.product_name)));
        }
        parts.extend(on.comes.iter().map(|comes| format!("order {} comes", one_line(&comes.order))));
        parts.extend(on.ends.iter().map(|ends| format!("{} of {} ends", one_line(&ends.lot), one_line(&ends.name))));
        if !parts.is_empty() {
            sentences.push(format!("{}: {}.", day(on.date, view.as_of), listed(&parts)));
        }
    }
    if sentences.is_empty() { "Nothing stands in the calendar.".to_owned() } else { sentences.join(" ") }
}
