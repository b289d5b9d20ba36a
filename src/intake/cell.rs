//! The text of one cell to a value: numbers, dates, days of the week, closed periods, words, addresses.

use super::fault::Problem;
use super::sheet::NOT_READ;
use crate::plan::calendar::{ClosedPeriod, Span, Weekdays, iso_day};
use crate::plan::decimal::{DecimalError, Scaled};
use crate::plan::measure::{self, DecimalMark, Measure, MeasureError};
use crate::plan::money::{Currency, Price, Rate};
use crate::plan::quantity::{Density, Mass, Percent, Quantity, Unit};
use chrono::{Datelike, NaiveDate, Weekday};
use std::fmt::Display;

pub(super) type Parsed<T> = Result<T, Problem>;

/// True where a spreadsheet would not show the text but run it; a plain number is only a number.
fn is_run(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@', '\t', '\r']) && text.parse::<crate::plan::decimal::Decimal>().is_err()
}

/// The text of a cell that no spreadsheet runs, nor an import takes for an explanation; see the module's page for the rule.
pub(super) fn guarded(text: String) -> String {
    if is_run(&text) || text.starts_with('\'') || text.starts_with(NOT_READ) { format!("'{text}") } else { text }
}

/// The text that [`guarded`] was given.
pub(super) fn without_guard(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if rest.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) || rest.starts_with(NOT_READ) => rest,
        _ => cell,
    }
}

/// A text of one line.
pub(super) fn text(cell: &str) -> Parsed<String> {
    if cell.chars().any(char::is_control) {
        return Err(Problem::new("holds a line break or another control character", "write it in one line"));
    }
    Ok(cell.to_owned())
}

/// What is wrong with a number, in words that fit the cell.
fn number_problem(error: DecimalError, cell: &str, mark: DecimalMark, example: impl Display) -> Problem {
    let remedy = match (error, mark) {
        (DecimalError::NotANumber, DecimalMark::Point) if cell.contains(',') => {
            format!("write a number with a decimal point ({example}): here the comma separates columns")
        }
        (DecimalError::NotANumber, DecimalMark::PointOrClearComma) if cell.contains(',') => {
            format!("write a number with a decimal point ({example}): this comma could mark thousands")
        }
        (DecimalError::NotANumber, _) => format!("write a number ({example})"),
        _ => format!("write fewer digits ({example})"),
    };
    Problem::new(error.to_string(), remedy)
}

/// A decimal of at most so many places as an integer, from 0 to a largest value.
fn scaled(cell: &str, mark: DecimalMark, places: u32, largest: i64, example: impl Display) -> Parsed<i64> {
    let read = mark.parse(cell).and_then(|decimal| decimal.scaled(places));
    let value = read.map_err(|error| number_problem(error, cell, mark, &example))?;
    if value < 0 {
        return Err(Problem::new("is negative", format!("write a number from 0 up ({example})")));
    }
    if value > largest {
        let largest = crate::plan::decimal::shortest(largest, places);
        return Err(Problem::new("is too large", format!("write {largest} at the most")));
    }
    Ok(value)
}

/// A percentage from 0 to `largest`; a percent sign may follow it.
pub(super) fn percent(cell: &str, mark: DecimalMark, largest: i64) -> Parsed<Percent> {
    let number = cell.strip_suffix('%').unwrap_or(cell);
    let millionths = scaled(number, mark, Percent::PLACES, largest * 1_000_000, "12.5")?;
    Ok(Percent { millionths })
}

/// A loss: from 0 to below 100 %.
pub(super) fn loss(cell: &str, mark: DecimalMark) -> Parsed<Percent> {
    let loss = percent(cell, mark, 100)?;
    if loss == Percent::HUNDRED {
        return Err(Problem::new("would leave nothing", "write a loss below 100 %"));
    }
    Ok(loss)
}

/// A density in g/ml, above 0 and up to 25: no known substance is denser than 22.6 (osmium; a value from memory).
pub(super) fn density(cell: &str, mark: DecimalMark) -> Parsed<Density> {
    let micrograms_per_ml = scaled(cell, mark, Density::PLACES, 25_000_000, "0.92")?;
    if micrograms_per_ml == 0 {
        return Err(Problem::new("is nothing", "write the density in g/ml (0.92), or leave the cell empty"));
    }
    Ok(Density { micrograms_per_ml })
}

fn measure_problem(error: MeasureError) -> Problem {
    Problem::new(error.to_string(), error.remedy())
}

/// An amount of what is counted in `unit`; where that is not known only the writing of it is looked at.
pub(super) fn quantity(cell: &str, mark: DecimalMark, item: Option<(Unit, Option<Density>)>) -> Parsed<Quantity> {
    let read = match item {
        Some((unit, density)) => {
            Measure::parse_of(cell, mark, unit).and_then(|measure| measure.quantity(unit, density))
        }
        None => Measure::parse(cell, mark).map(|_| Quantity(1)),
    };
    read.map_err(measure_problem)
}

/// As [`quantity`], and more than nothing.
pub(super) fn pack(cell: &str, mark: DecimalMark, item: Option<(Unit, Option<Density>)>) -> Parsed<Quantity> {
    let quantity = quantity(cell, mark, item)?;
    if quantity.is_zero() { Err(measure_problem(MeasureError::Zero)) } else { Ok(quantity) }
}

/// A mass of something without a density.
pub(super) fn mass(cell: &str, mark: DecimalMark) -> Parsed<Mass> {
    let read = Measure::parse(cell, mark).and_then(|measure| measure.mass(None));
    read.map_err(|error| match error {
        MeasureError::NoDensity => Problem::new("is a volume", "write a mass (mg, g, kg, oz, lb)"),
        MeasureError::PiecesOfAMass => Problem::new("counts pieces", "write a mass (mg, g, kg, oz, lb)"),
        other => measure_problem(other),
    })
}

/// A mass above nothing.
pub(super) fn some_mass(cell: &str, mark: DecimalMark) -> Parsed<Mass> {
    let mass = mass(cell, mark)?;
    if mass.mg == 0 { Err(measure_problem(MeasureError::Zero)) } else { Ok(mass) }
}

/// A length of time.
pub(super) fn span(cell: &str) -> Parsed<Span> {
    measure::span(cell).map_err(|error| Problem::new(error.to_string(), error.remedy()))
}

/// A date of ISO 8601 in the years 1900 to 9999: what spreadsheets and calendars agree on.
pub(super) fn date(cell: &str) -> Parsed<NaiveDate> {
    iso_day(cell)
        .filter(|date| date.year() >= 1900)
        .ok_or_else(|| Problem::new("is not a date", "write year-month-day (2027-03-09)"))
}

/// A price in a currency's own minor unit; where the currency is not known, any number that could be one.
pub(super) fn price(cell: &str, mark: DecimalMark, currency: Option<Currency>) -> Parsed<Price> {
    let Some(currency) = currency else {
        return scaled(cell, mark, 4, i64::MAX, "12.50").map(|minor| Price { minor });
    };
    let places = currency.exponent();
    let example = Scaled { scaled: 1_250, places };
    let minor = scaled(cell, mark, places, Price::MAX_ENTERED.minor, example).map_err(|problem| {
        if problem.problem.starts_with("has more than") {
            let remedy = format!("write at most {places} decimal places for {currency} ({example})");
            Problem::new(problem.problem, remedy)
        } else {
            problem
        }
    })?;
    Ok(Price { minor })
}

/// An exchange rate, above 0.
pub(super) fn rate(cell: &str, mark: DecimalMark) -> Parsed<Rate> {
    let billionths = scaled(cell, mark, Rate::PLACES, 1_000_000_000_000_000, "0.92")?;
    if billionths == 0 {
        return Err(Problem::new("is nothing", "write how much home currency one unit costs (0.92)"));
    }
    Ok(Rate { billionths })
}

/// A currency of ISO 4217, in small or capital letters.
pub(super) fn currency(cell: &str) -> Parsed<Currency> {
    Currency::from_code(&cell.to_ascii_uppercase())
        .ok_or_else(|| Problem::new("is not a currency", "write its three letters of ISO 4217 (EUR)"))
}

/// A whole number between two bounds.
pub(super) fn whole(cell: &str, mark: DecimalMark, least: i64, most: i64) -> Parsed<i64> {
    let remedy = || format!("write a whole number from {least} to {most}");
    let decimal = mark.parse(cell).map_err(|error| Problem::new(error.to_string(), remedy()))?;
    let value = decimal.scaled(0).map_err(|_| Problem::new("is not a whole number", remedy()))?;
    match value {
        _ if value < least => Err(Problem::new("is too small", remedy())),
        _ if value > most => Err(Problem::new("is too large", remedy())),
        _ => Ok(value),
    }
}

/// A number of days, up to 100 years.
pub(super) fn days(cell: &str, mark: DecimalMark) -> Parsed<u32> {
    let days = whole(cell, mark, 0, i64::from(Span::MAX_DAYS))?;
    u32::try_from(days).map_err(|_| Problem::new("is too large", "write fewer days"))
}

/// A number of pieces for a piece, in millionths.
pub(super) fn millionths(cell: &str, mark: DecimalMark) -> Parsed<i64> {
    scaled(cell, mark, 6, 1_000_000_000_000, "1")
}

/// `yes` or `no`.
pub(super) fn yes_or_no(cell: &str) -> Parsed<bool> {
    word(cell, &[("yes", true), ("no", false)])
}

/// One of some words, in small or capital letters.
pub(super) fn word<T: Copy>(cell: &str, words: &[(&str, T)]) -> Parsed<T> {
    let found = words.iter().find(|(word, _)| word.eq_ignore_ascii_case(cell)).map(|&(_, value)| value);
    found.ok_or_else(|| {
        let known: Vec<&str> = words.iter().map(|&(word, _)| word).collect();
        Problem::new("is not known here", format!("write {}", listed(&known)))
    })
}

/// `a, b or c`.
fn listed(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}

/// Days of the week: English names or their first three letters, between them spaces or commas.
pub(super) fn weekdays(cell: &str) -> Parsed<Weekdays> {
    let words = cell.split(|letter: char| letter.is_whitespace() || letter == ',').filter(|word| !word.is_empty());
    words.into_iter().try_fold(Weekdays::default(), |days, word| {
        let day: Option<Weekday> = word.parse().ok();
        day.map(|day| days.with(day))
            .ok_or_else(|| Problem::new("is not a list of weekdays", "write days such as Mon Thu"))
    })
}

/// Closed periods: ISO 8601 intervals with `;` between them.
pub(super) fn closed(cell: &str) -> Parsed<Vec<ClosedPeriod>> {
    cell.split(';').map(str::trim).filter(|interval| !interval.is_empty()).map(interval).collect()
}

/// `2027-08-01/2027-08-15`, both days in it, or a start and a duration (`2027-08-01/P2W`: 14 days from the start on).
fn interval(interval: &str) -> Parsed<ClosedPeriod> {
    let wrong = || {
        let remedy = "write first day/last day (2027-08-01/2027-08-15), with ; between several";
        Problem::new("is not a list of intervals", remedy)
    };
    let (from, to) = interval.split_once('/').ok_or_else(wrong)?;
    let from = date(from.trim()).map_err(|_| wrong())?;
    let to = to.trim();
    let to = if to.starts_with(['P', 'p']) {
        measure::span(to).ok().and_then(|span| span.after(from).pred_opt()).ok_or_else(wrong)?
    } else {
        date(to).map_err(|_| wrong())?
    };
    if to < from {
        return Err(Problem::new("ends before it starts", "write the first day first (2027-08-01/2027-08-15)"));
    }
    Ok(ClosedPeriod { from, to })
}

/// An e-mail address in its plain form: a name, `@`, and a domain with a point in it.
pub(super) fn email(cell: &str) -> Parsed<String> {
    let plain = |part: &str, marks: &str| {
        !part.is_empty() && part.chars().all(|letter| letter.is_ascii_alphanumeric() || marks.contains(letter))
    };
    let label = |label: &str| plain(label, "-") && !label.starts_with('-') && !label.ends_with('-');
    let is_address = cell.len() <= 254
        && cell.split_once('@').is_some_and(|(name, domain)| {
            name.len() <= 64
                && name.split('.').all(|part| plain(part, "!#$%&'*+/=?^_`{|}~-"))
                && domain.contains('.')
                && domain.split('.').all(label)
        });
    if is_address {
        Ok(cell.to_owned())
    } else {
        Err(Problem::new("is not an e-mail address", "write one address (orders@supplier.example)"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn dates_are_iso_and_exist() {
        assert_eq!(date("2028-02-29").ok(), NaiveDate::from_ymd_opt(2028, 2, 29));
        for text in
            ["2027-02-29", "9.3.2027", "2027-3-9", "03/09/2027", "+2027-03-09", "0027-03-09", "2027-03-09T00:00"]
        {
            assert!(date(text).is_err(), "{text}");
        }
    }

    #[test]
    fn weekdays_and_closed_periods_are_read() {
        let shown = |cell: &str| weekdays(cell).map(|days| days.to_string()).ok();
        assert_eq!(shown("Mon Thu").as_deref(), Some("Mon Thu"));
        assert_eq!(shown("thursday, MONDAY").as_deref(), Some("Mon Thu"));
        assert_eq!(shown("Mo"), None);
        let periods =
            |cell: &str| closed(cell).map(|list| list.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "));
        let check = |cell: &str, expected: &str| assert_eq!(periods(cell).as_deref(), Ok(expected), "{cell}");
        check("2027-08-01/2027-08-15; 2027-12-24/2027-12-31", "2027-08-01/2027-08-15; 2027-12-24/2027-12-31");
        check("2027-08-01/P2W;", "2027-08-01/2027-08-14");
        check("2027-08-01/2027-08-01", "2027-08-01/2027-08-01");
        for cell in ["2027-08-01", "2027-08-15/2027-08-01", "a/b", "2027-08-01/P0D", "2027-08-01/2027-08-15/2027-08-20"]
        {
            assert!(closed(cell).is_err(), "{cell}");
        }
    }

    #[test]
    fn prices_keep_to_the_minor_unit() {
        let yen = Currency::from_code("JPY");
        let check = |cell: &str, mark, currency, expected: Option<i64>| {
            assert_eq!(price(cell, mark, currency).ok().map(|price| price.minor), expected, "{cell}");
        };
        check("12.5", DecimalMark::Point, Some(Currency::EUR), Some(1_250));
        check("12,50", DecimalMark::PointOrComma, Some(Currency::EUR), Some(1_250));
        check("12,50", DecimalMark::Point, Some(Currency::EUR), None);
        check("1200", DecimalMark::Point, yen, Some(1_200));
        check("1200.5", DecimalMark::Point, yen, None);
        check("-1", DecimalMark::Point, Some(Currency::EUR), None);
        check("100000000000", DecimalMark::Point, Some(Currency::EUR), Some(10_000_000_000_000));
        check("100000000000.01", DecimalMark::Point, Some(Currency::EUR), None);
        check("1e308", DecimalMark::Point, Some(Currency::EUR), None);
    }

    #[test]
    fn percentages_have_bounds() {
        let check = |cell: &str, expected: Option<i64>| {
            assert_eq!(
                percent(cell, DecimalMark::Point, 100).ok().map(|percent| percent.millionths),
                expected,
                "{cell}"
            );
        };
        check("12.5", Some(12_500_000));
        check("12.5 %", Some(12_500_000));
        check("100", Some(100_000_000));
        check("100.000001", None);
        check("-1", None);
        check("0.0000001", None);
        assert!(loss("100", DecimalMark::Point).is_err());
        assert!(loss("99.999999", DecimalMark::Point).is_ok());
    }

    #[test]
    fn addresses_are_plain() {
        for good in ["a@b.example", "orders.de+soap@mail.supplier.example"] {
            assert!(email(good).is_ok(), "{good}");
        }
        for bad in [
            "",
            "a",
            "a@b",
            "a@@b.example",
            "a b@c.example",
            "a@b.example\nBcc: x@y.example",
            "A <a@b.example>",
            ".a@b.example",
            "a@-b.example",
            "a@b.example, c@d.example",
        ] {
            assert!(email(bad).is_err(), "{bad}");
        }
    }

    /// tests/checks/iso4217_2026-01-01.csv: the list of the standard's maintenance agency.
    #[test]
    fn currencies_are_those_of_the_standard() {
        let mut reader = csv::Reader::from_reader(include_str!("../../tests/checks/iso4217_2026-01-01.csv").as_bytes());
        let mut compared = 0;
        for record in reader.records() {
            let record = record.expect("a record");
            let listed: Option<u32> = record[3].parse().ok();
            let known = Currency::from_code(&record[0]).map(|currency| currency.exponent());
            assert_eq!(known, listed, "{}", &record[0]);
            compared += 1;
        }
        assert!(compared > 150, "only {compared} currencies");
    }

    #[test]
    fn what_a_spreadsheet_would_run_is_guarded() {
        let check = |text: &str, cell: &str| {
            assert_eq!(guarded(text.to_owned()), cell);
            assert_eq!(without_guard(cell), text);
        };
        check("=1+1", "'=1+1");
        check("@home", "'@home");
        check("+49 30", "'+49 30");
        check("-5", "-5");
        check("-5 g", "'-5 g");
        check("'tis", "''tis");
        check("plain", "plain");
        assert_eq!(without_guard("'tis"), "'tis");
    }

    proptest! {
        #[test]
        fn any_text_comes_back(text in "['=+@\t\r-]{0,4}\\PC{0,5}") {
            let cell = guarded(text.clone());
            prop_assert_eq!(without_guard(&cell), text.as_str());
            prop_assert!(!is_run(&cell));
        }

        #[test]
        fn no_cell_makes_a_reader_panic(cell in ".{0,40}") {
            for mark in [DecimalMark::Point, DecimalMark::PointOrComma] {
                let _ = (percent(&cell, mark, 100), density(&cell, mark), mass(&cell, mark), whole(&cell, mark, 0, 9));
                let _ = (price(&cell, mark, None), price(&cell, mark, Some(Currency::EUR)), rate(&cell, mark));
            }
            let _ = (date(&cell), weekdays(&cell), closed(&cell), email(&cell), currency(&cell), text(&cell));
        }
    }
}
