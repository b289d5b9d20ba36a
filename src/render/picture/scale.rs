//! The two axes: days along, amounts up.

use super::letters;
use super::svg::{Anchor, GUIDE, INK, QUIET, Svg};
use chrono::{Days, NaiveDate};

/// Size of the words at the axes.
const SIZE: f64 = 12.0;
/// Room between the days' names.
const BETWEEN: f64 = 14.0;

/// The days of a picture, from left to right.
pub struct DayScale {
    first: NaiveDate,
    days: f64,
    left: f64,
    right: f64,
}

impl DayScale {
    /// From the first day at `left` through the last at `right`.
    pub fn new(first: NaiveDate, last: NaiveDate, left: f64, right: f64) -> Self {
        // A picture: days are few, and what is lost below a tenth of a unit is not seen.
        let days = (last - first).num_days().max(1) as f64;
        Self { first, days, left, right }
    }

    /// Where the middle of a day is; days outside stand at the edge.
    pub fn at(&self, day: NaiveDate) -> f64 {
        let passed = (day - self.first).num_days() as f64;
        self.left + (self.right - self.left) * (passed / self.days).clamp(0.0, 1.0)
    }

    /// Draws the days' names at a height: as many as stand apart from each other, at even distances.
    pub fn draw(&self, svg: &mut Svg, top: f64, bottom: f64) {
        let name = |day: NaiveDate| day.format("%-d %b").to_string();
        let widest = letters::width("28 May", SIZE) + BETWEEN;
        let each = (self.right - self.left) / self.days;
        let steps = [1_u32, 2, 7, 14, 28, 56, 112, 364];
        let step = steps.into_iter().find(|step| f64::from(*step) * each >= widest).unwrap_or(728);
        let mut day = self.first;
        while (day - self.first).num_days() as f64 <= self.days {
            let (x, words) = (self.at(day), name(day));
            svg.line((x, top), (x, bottom), GUIDE, 1.0, "");
            let half = letters::width(&words, SIZE) / 2.0;
            // The first stands clear of the amounts at the left.
            let x = x.clamp(self.left - 4.0 + half, f64::from(super::WIDTH) - half - 2.0);
            svg.words((x, bottom + 15.0), &words, SIZE, QUIET, Anchor::Middle);
            let Some(next) = day.checked_add_days(Days::new(u64::from(step))) else { break };
            day = next;
        }
    }
}

/// The amounts of a picture, from 0 at the bottom up.
pub struct AmountScale {
    unit: &'static str,
    /// Amounts of the contract for one of the unit.
    of_unit: i64,
    step: i64,
    top_amount: i64,
    top: f64,
    bottom: f64,
}

impl AmountScale {
    /// A scale that holds `largest`, with round steps, in g, kg or pieces.
    pub fn new(largest: i64, unit: &str, top: f64, bottom: f64) -> Self {
        let largest = largest.max(1);
        let (unit, of_unit) = match unit {
            "mg" if largest >= 1_000_000 => ("kg", 1_000_000),
            "mg" => ("g", 1_000),
            _ => ("pcs", 1),
        };
        let mut step: i64 = of_unit.min(1_000);
        for factor in [2, 5, 10].into_iter().cycle() {
            if step.saturating_mul(4) >= largest {
                break;
            }
            // 1, 2, 5, 10: each step follows from the one before.
            step = match factor {
                2 => step * 2,
                5 => step / 2 * 5,
                _ => step * 2,
            };
        }
        let steps = largest / step + i64::from(largest % step > 0);
        Self { unit, of_unit, step, top_amount: step.saturating_mul(steps.max(1)), top, bottom }
    }

    /// Where an amount is.
    pub fn at(&self, amount: i64) -> f64 {
        // A picture: a share of the height, not an amount.
        let share = amount.max(0) as f64 / self.top_amount as f64;
        self.bottom - (self.bottom - self.top) * share.min(1.0)
    }

    /// Draws the steps with their names left of `left`.
    pub fn draw(&self, svg: &mut Svg, left: f64, right: f64) {
        for number in 0..=self.top_amount / self.step {
            let amount = self.step.saturating_mul(number);
            let y = self.at(amount);
            svg.line((left, y), (right, y), if amount == 0 { INK } else { GUIDE }, 1.0, "");
            let unit = if amount == 0 { String::new() } else { format!(" {}", self.unit) };
            let name = format!("{}{unit}", self.of(amount));
            // Amounts of tons do not fit at the usual size.
            let size = SIZE * ((left - 10.0) / letters::width(&name, SIZE)).min(1.0);
            svg.words((left - 6.0, y + 4.0), &name, size, QUIET, Anchor::End);
        }
    }

    fn of(&self, amount: i64) -> String {
        let places = match self.of_unit {
            1_000_000 => 6,
            1_000 => 3,
            _ => 0,
        };
        crate::plan::decimal::shortest(amount, places)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_few() {
        for largest in [1, 7, 24, 100, 999, 1_000, 8_500, 390_700, 999_999, 1_628_000, 11_000_000, i64::MAX / 4] {
            for unit in ["mg", "pcs"] {
                let scale = AmountScale::new(largest, unit, 0.0, 100.0);
                assert!(scale.top_amount >= largest && scale.top_amount / scale.step <= 4, "{largest} {unit}");
                let first = scale.step.to_string();
                assert!(first.trim_end_matches('0').len() == 1 && "125".contains(&first[..1]), "{first}");
                assert!(scale.at(largest) >= -0.001 && scale.at(0) == 100.0);
            }
        }
    }

    #[test]
    fn days_run_from_edge_to_edge() {
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        let scale = DayScale::new(day("2027-03-01"), day("2027-03-11"), 10.0, 110.0);
        assert_eq!((scale.at(day("2027-03-01")), scale.at(day("2027-03-06"))), (10.0, 60.0));
        assert_eq!((scale.at(day("2027-02-01")), scale.at(day("2028-01-01"))), (10.0, 110.0));
    }
}
