//! The lines of one formula to percent: as they are written, from fractions, or from weights.
//!
//! Weights become percent exactly where the shares come out within six decimal places; else they are rounded to 0.001 %
//! by largest remainder, so that they add up to 100 %. On a batch of a kilogram that is at most 10 mg a line.

use super::assign::MappedLine;
use super::blocks::WideLine;
use super::cells::{is_balance, split_number, unit};
use super::raw::{Cell, Line};
use super::{ColumnUse, MappedSheet};
use crate::intake::describe::Shape;
use crate::plan::decimal::shortest;
use crate::plan::measure::{DecimalMark, Measure};
use crate::plan::quantity::Percent;
use crate::plan::rounding::largest_remainder;

/// Percent are rounded to so many places where weights do not come out exactly.
const ROUNDED_PLACES: u32 = 3;

/// The shares of a formula, line by line, and what is told of how they came about.
pub(super) struct Shares {
    pub(super) texts: Vec<String>,
    /// Where it was weighed: its name with its weight, and whether its shares are exact.
    pub(super) weighed: Option<(String, bool)>,
    /// What is wrong with a line, by its place.
    pub(super) faults: Vec<(usize, &'static str, &'static str)>,
}

/// True where a line is weighed: its own unit, its column's or the sheet's is one of weight.
fn is_weight(cell: &Cell, column_use: &ColumnUse, sheet: &MappedSheet) -> bool {
    let own = split_number(cell.text()).filter(|(_, rest)| !rest.is_empty()).and_then(|(_, rest)| unit(rest));
    let of_column = column_use.unit.as_deref().and_then(unit);
    let of_sheet = sheet.unit.get();
    let known = own.or(of_column).map(str::to_owned).or(of_sheet);
    known.is_some_and(|unit| unit != "%" && unit != "percent")
}

/// The shares of the lines of one formula.
pub(super) fn shares(sheet: &MappedSheet, lines: &[WideLine<'_>]) -> Shares {
    let here = Line { number: 0, cells: Vec::new() };
    let reader = MappedLine::new(sheet, &[], &here);
    let weighed = lines.iter().filter(|line| is_weight(line.amount, &line.column_use, sheet)).count();
    if weighed == 0 {
        let texts = lines.iter().map(|line| reader.value(line.amount, &line.column_use, Shape::Share).text).collect();
        return Shares { texts, weighed: None, faults: Vec::new() };
    }
    let mut faults = Vec::new();
    let mut weights = Vec::new();
    for (place, line) in lines.iter().enumerate() {
        let mass = reader
            .amount(line.amount, &line.column_use)
            .and_then(|amount| Measure::parse(&amount, DecimalMark::Point).ok())
            .and_then(|measure| measure.mass(None).ok());
        match mass {
            Some(mass) => weights.push(mass.mg),
            None if is_balance(line.amount.text()) => {
                faults.push((place, "stands beside weights", "write how much of it is weighed"));
            }
            None => {
                faults.push((place, "is no weight", "write a weight like the other lines of this formula (12.5 g)"))
            }
        }
    }
    let total = weights.iter().fold(0_i64, |sum, mg| sum.saturating_add(*mg));
    if !faults.is_empty() || total == 0 {
        return Shares {
            texts: lines.iter().map(|line| line.amount.text().to_owned()).collect(),
            weighed: None,
            faults,
        };
    }
    let (texts, is_exact) = percent_of(&weights, total);
    let weighed = (format!("{}: {}", lines[0].formula, mass_text(total)), is_exact);
    Shares { texts, weighed: Some(weighed), faults }
}

/// What is told of the formulas that were weighed: a line for those with exact shares, and one for the others.
pub(super) fn told(weighed: &[(String, bool)]) -> impl Iterator<Item = String> + '_ {
    let ways = [(true, "exactly"), (false, "rounded to 0.001 % so that they add up to 100 %")];
    ways.into_iter().filter_map(|(exact, how)| {
        let own: Vec<&str> =
            weighed.iter().filter(|(_, is_exact)| *is_exact == exact).map(|(text, _)| text.as_str()).collect();
        (!own.is_empty()).then(|| format!("{} in all, turned into percent {how}", own.join(", ")))
    })
}

fn mass_text(mg: i64) -> String {
    crate::plan::measure::canonical(crate::plan::quantity::Quantity(mg), crate::plan::quantity::Unit::Milligram)
}

/// Each weight in percent of all, and whether that is exact.
fn percent_of(weights: &[i64], total: i64) -> (Vec<String>, bool) {
    let hundred = i128::from(Percent::HUNDRED.millionths);
    let is_exact = weights.iter().all(|&mg| i128::from(mg) * hundred % i128::from(total) == 0);
    let (whole, places) = if is_exact {
        (Percent::HUNDRED.millionths, Percent::PLACES)
    } else {
        (100 * 10_i64.pow(ROUNDED_PLACES), ROUNDED_PLACES)
    };
    (largest_remainder(whole, weights).into_iter().map(|share| shortest(share, places)).collect(), is_exact)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_become_percent_that_add_up() {
        let check = |weights: &[i64], expected: &[&str], is_exact| {
            let (texts, exact) = percent_of(weights, weights.iter().sum());
            assert_eq!((texts.iter().map(String::as_str).collect::<Vec<_>>(), exact), (expected.to_vec(), is_exact));
        };
        check(&[600_000, 300_000, 100_000], &["60", "30", "10"], true);
        check(&[1, 31], &["3.125", "96.875"], true);
        // A third each: 33.333 three times is 99.999, and the first line gets the thousandth.
        check(&[1, 1, 1], &["33.334", "33.333", "33.333"], false);
    }
}
