//! The balance of a material over the days ahead: what is left at the end of each day against the safety stock, and below
//! it, each in a row of its own, what comes, what is needed, what is missing and what ends unused.

use super::scale::{AmountScale, DayScale};
use super::svg::{ALARM, Anchor, INK, QUIET, SHADE, Sign, Svg};
use super::{Picture, id_of, letters};
use crate::render::amounts::{amount, count, day};
use crate::render::one_line;
use crate::view::forecast::{DayView, MaterialView};
use chrono::NaiveDate;

const LEFT: f64 = 62.0;
const RIGHT: f64 = 344.0;
const TOP: f64 = 42.0;
const BOTTOM: f64 = 132.0;
/// Height of a row of signs.
const ROW: f64 = 17.0;
const SIZE: f64 = 12.0;

/// A row of signs: its name, its sign, what it counts.
type Row = (&'static str, Sign, &'static str, fn(&DayView) -> i64);

/// The rows below the balance, in order.
const ROWS: [Row; 4] = [
    ("comes", Sign::Up, INK, |day| day.receipts),
    ("needed", Sign::Bar, INK, |day| day.demand),
    ("missing", Sign::Square, ALARM, |day| day.short),
    ("ends", Sign::Cross, ALARM, |day| day.expired),
];

/// The picture of a material.
#[must_use]
pub fn picture(material: &MaterialView, today: NaiveDate) -> Picture {
    let name = one_line(letters::drawable(&material.name, &material.material));
    let rows: Vec<&Row> = ROWS.iter().filter(|row| material.days.iter().any(|day| row.3(day) > 0)).collect();
    let signs = BOTTOM + 25.0;
    let height = signs + ROW * rows.len() as f64 + 2.0;
    let mut svg = Svg::new(height);
    svg.words((8.0, 18.0), &letters::fitted(&name, 14.0, 200.0), 14.0, INK, Anchor::Start);
    safety_legend(&mut svg, material);
    if let (Some(first), Some(last)) = (material.days.first(), material.days.last()) {
        let days = DayScale::new(first.date, last.date, LEFT, RIGHT);
        let largest = material.days.iter().map(|day| day.balance).max().unwrap_or(0);
        let largest = largest.max(material.on_hand).max(material.safety_stock);
        let amounts = AmountScale::new(largest, &material.unit, TOP, BOTTOM);
        days.draw(&mut svg, TOP, BOTTOM);
        area(&mut svg, &material.days, &days, &amounts);
        amounts.draw(&mut svg, LEFT, RIGHT);
        curve(&mut svg, &material.days, &days, &amounts);
        if material.safety_stock > 0 {
            let y = amounts.at(material.safety_stock);
            svg.line((LEFT, y), (RIGHT, y), INK, 1.4, "5 4");
        }
        for (place, row) in rows.into_iter().enumerate() {
            let y = signs + ROW * place as f64 + 8.0;
            svg.words((LEFT - 8.0, y + 4.0), row.0, SIZE, QUIET, Anchor::End);
            for day in material.days.iter().filter(|day| row.3(day) > 0) {
                svg.sign(row.1, (days.at(day.date), y), row.2);
            }
        }
    }
    let words = words(material, today);
    let picture = svg.finish(&id_of("balance", &material.material), &format!("Balance of {name}"), &words);
    Picture { caption: words, ..picture }
}

/// The dashed line's name, at the top right where nothing else stands.
fn safety_legend(svg: &mut Svg, material: &MaterialView) {
    if material.safety_stock > 0 {
        let words = format!("safety {}", amount(material.safety_stock, &material.unit));
        svg.words((RIGHT, 18.0), &words, SIZE, QUIET, Anchor::End);
        let left = RIGHT - letters::width(&words, SIZE) - 6.0;
        svg.line((left - 22.0, 14.0), (left, 14.0), INK, 1.4, "5 4");
    }
}

/// The balance as steps: it holds until the next day.
fn steps(days: &[DayView], along: &DayScale, amounts: &AmountScale) -> Vec<(f64, f64)> {
    let mut points: Vec<(f64, f64)> = Vec::new();
    for day in days {
        let (x, y) = (along.at(day.date), amounts.at(day.balance));
        if let Some(&(_, before)) = points.last() {
            points.push((x, before));
        }
        points.push((x, y));
    }
    points
}

fn area(svg: &mut Svg, days: &[DayView], along: &DayScale, amounts: &AmountScale) {
    let mut points = steps(days, along, amounts);
    let floor = amounts.at(0);
    points.insert(0, (LEFT, floor));
    points.push((RIGHT, floor));
    svg.path(&points, SHADE, "none", 0.0);
}

fn curve(svg: &mut Svg, days: &[DayView], along: &DayScale, amounts: &AmountScale) {
    svg.path(&steps(days, along, amounts), "none", INK, 2.0);
}

/// What the picture shows, in words.
fn words(material: &MaterialView, today: NaiveDate) -> String {
    let show = |value: i64| amount(value, &material.unit);
    let mut words = vec![format!("{}: {} on hand", one_line(&material.name), show(material.on_hand))];
    let sum = |part: fn(&DayView) -> i64| material.days.iter().map(part).fold(0_i64, i64::saturating_add);
    let coming: Vec<&DayView> = material.days.iter().filter(|day| day.receipts > 0).collect();
    if let Some(first) = coming.first() {
        let from = if coming.len() == 1 { "on" } else { "from" };
        words.push(format!("{} come {from} {}", show(sum(|day| day.receipts)), day(first.date, today)));
    }
    let needed = material.days.iter().filter(|day| day.demand > 0).count();
    if needed > 0 {
        words.push(format!("{} needed on {}", show(sum(|day| day.demand)), count(needed, "day", "days")));
    }
    if let Some(first) = material.days.iter().find(|day| day.short > 0) {
        let missing = show(sum(|day| day.short));
        words.push(format!("{missing} missing, first on {}", day(first.date, today)));
    }
    if let Some(first) = material.days.iter().find(|day| day.expired > 0) {
        words.push(format!("{} end unused, first on {}", show(sum(|day| day.expired)), day(first.date, today)));
    }
    if let Some(lowest) = material.days.iter().min_by_key(|day| (day.balance, day.date)) {
        words.push(format!("lowest on {}: {}", day(lowest.date, today), show(lowest.balance)));
    }
    let below = material.days.iter().find(|day| day.balance < material.safety_stock);
    if material.safety_stock > 0 {
        words.push(match below {
            Some(first) => {
                format!("below the safety stock of {} from {}", show(material.safety_stock), day(first.date, today))
            }
            None => format!("never below the safety stock of {}", show(material.safety_stock)),
        });
    }
    format!("{}.", words.join("; "))
}
