//! Amounts and lengths of time as people write them: `16 fl oz`, `24 pcs`, `18 months`, and back.
//!
//! A text is read into a [`Measure`] exactly and rounded once, half up, when it becomes milligrams. Factors are those
//! of NIST (Handbook 44, Appendix C; SP 811): 1 lb is 453.59237 g, a US gallon is 231 cubic inches of 16.387064 ml.

use super::calendar::Span;
use super::decimal::{Decimal, DecimalError, shortest};
use super::quantity::{Density, Mass, Quantity, Unit};
use super::rounding::half_up_i64;

/// The units that an amount may have, for messages.
pub const UNITS: &str = "mg, g, kg, oz, lb, ml, l, fl oz, tsp, tbsp, pcs";

/// Which decimal marks a file may use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecimalMark {
    /// Only the point: the comma separates the columns.
    Point,
    /// The point or the comma.
    PointOrComma,
    /// The point, or a comma that cannot be meant to mark thousands: `1,5` but not `1,500`.
    PointOrClearComma,
}

impl DecimalMark {
    /// Reads a number with one of these marks.
    ///
    /// # Errors
    /// [`DecimalError`] where the text is no such number.
    pub fn parse(self, text: &str) -> Result<Decimal, DecimalError> {
        let Some((whole, fraction)) = text.split_once(',') else {
            return Decimal::parse(text, '.');
        };
        let could_be_thousands = fraction.trim_end().len() == 3 && !matches!(whole.trim(), "" | "0" | "-0");
        match self {
            Self::Point => Err(DecimalError::NotANumber),
            Self::PointOrClearComma if could_be_thousands => Err(DecimalError::NotANumber),
            Self::PointOrComma | Self::PointOrClearComma => Decimal::parse(text, ','),
        }
    }
}

/// Why a text is not the amount that was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MeasureError {
    /// No number with a unit that is known.
    #[error("is not an amount")]
    NotAnAmount,
    /// Below nothing.
    #[error("is negative")]
    Negative,
    /// Nothing, where something is needed.
    #[error("is nothing")]
    Zero,
    /// Beyond [`Quantity::MAX_ENTERED`].
    #[error("is too large")]
    TooLarge,
    /// More digits than can be kept exactly.
    #[error("has too many digits")]
    TooManyDigits,
    /// A volume of something without a density.
    #[error("is a volume, and no density is known")]
    NoDensity,
    /// Pieces of something that is weighed.
    #[error("counts pieces")]
    PiecesOfAMass,
    /// A mass or volume of something that is counted.
    #[error("is a mass or a volume")]
    MassOfPieces,
    /// A part of a piece.
    #[error("is not a whole number of pieces")]
    NotWhole,
}

impl MeasureError {
    /// What would be right, as an instruction.
    #[must_use]
    pub fn remedy(self) -> String {
        match self {
            Self::NotAnAmount => format!("write a number and a unit ({UNITS})"),
            Self::Negative => "write an amount from 0 up".to_owned(),
            Self::Zero => "write an amount above 0".to_owned(),
            Self::TooLarge => "write at most 1000000000 kg or 1000000000000000 pcs".to_owned(),
            Self::TooManyDigits => "write fewer digits".to_owned(),
            Self::NoDensity => "give the material a density (a column `density`, g/ml), or write a mass".to_owned(),
            Self::PiecesOfAMass => "write a mass or a volume (mg, g, kg, oz, lb, ml, l, fl oz, tsp, tbsp)".to_owned(),
            Self::MassOfPieces => "write a number of pieces (24 pcs)".to_owned(),
            Self::NotWhole => "write a whole number of pieces (24 pcs)".to_owned(),
        }
    }
}

/// What a unit measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Dimension {
    Mass,
    Volume,
    Pieces,
}

type UnitRow = (&'static str, Dimension, i128, i128);

/// Names in small letters, and the exact size in milligrams, millilitres or pieces as numerator and denominator.
const UNIT_TABLE: [UnitRow; 13] = [
    ("mg", Dimension::Mass, 1, 1),
    ("g", Dimension::Mass, 1_000, 1),
    ("kg", Dimension::Mass, 1_000_000, 1),
    ("oz", Dimension::Mass, 45_359_237, 1_600),
    ("lb", Dimension::Mass, 45_359_237, 100),
    ("ml", Dimension::Volume, 1, 1),
    ("l", Dimension::Volume, 1_000, 1),
    ("fl oz", Dimension::Volume, 473_176_473, 16_000_000),
    ("floz", Dimension::Volume, 473_176_473, 16_000_000),
    ("tbsp", Dimension::Volume, 473_176_473, 32_000_000),
    ("tsp", Dimension::Volume, 473_176_473, 96_000_000),
    ("pcs", Dimension::Pieces, 1, 1),
    ("pc", Dimension::Pieces, 1, 1),
];

/// A number and its unit, as written and not yet rounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measure {
    number: Decimal,
    dimension: Dimension,
    numerator: i128,
    denominator: i128,
}

impl Measure {
    /// Reads `1.5 kg`, `16 fl oz`, `24pcs`. Letters may be small or capital, but `Mg` and `Ml` are refused: they are
    /// the signs of the tonne and of a million litres.
    ///
    /// # Errors
    /// [`MeasureError`] where the text is no amount, or a negative one.
    pub fn parse(text: &str, mark: DecimalMark) -> Result<Self, MeasureError> {
        let text = text.trim();
        let is_number = |letter: char| letter.is_ascii_digit() || matches!(letter, '.' | ',' | '-' | '+');
        let (number_text, unit_text) = text.split_at(text.find(|letter| !is_number(letter)).unwrap_or(text.len()));
        let unit_words: Vec<&str> = unit_text.split_whitespace().collect();
        let unit = unit_words.join(" ");
        if unit == "Mg" || unit == "Ml" {
            return Err(MeasureError::NotAnAmount);
        }
        let unit = unit.to_ascii_lowercase();
        let known = UNIT_TABLE.into_iter().find(|&(name, ..)| name == unit);
        let (_, dimension, numerator, denominator) = known.ok_or(MeasureError::NotAnAmount)?;
        let number = mark.parse(number_text).map_err(|error| match error {
            DecimalError::NotANumber => MeasureError::NotAnAmount,
            DecimalError::TooLong | DecimalError::TooFine(_) | DecimalError::TooLarge => MeasureError::TooManyDigits,
        })?;
        if number.digits < 0 {
            return Err(MeasureError::Negative);
        }
        Ok(Self { number, dimension, numerator, denominator })
    }

    /// As [`Measure::parse`], of something that is counted in `unit`: where that is pieces, a number alone is enough.
    ///
    /// # Errors
    /// As [`Measure::parse`].
    pub fn parse_of(text: &str, mark: DecimalMark, unit: Unit) -> Result<Self, MeasureError> {
        let is_alone = text.trim_end().ends_with(|letter: char| letter.is_ascii_digit());
        if unit == Unit::Piece && is_alone {
            return Self::parse(&format!("{text} pcs"), mark);
        }
        Self::parse(text, mark)
    }

    /// True where it counts pieces.
    #[must_use]
    pub fn is_pieces(self) -> bool {
        self.dimension == Dimension::Pieces
    }

    /// True where it measures a volume.
    #[must_use]
    pub fn is_volume(self) -> bool {
        self.dimension == Dimension::Volume
    }

    /// The mass, a volume by way of the density: rounded half up to the milligram, once.
    ///
    /// # Errors
    /// [`MeasureError::NoDensity`] for a volume without one, and where it counts pieces or is too large.
    pub fn mass(self, density: Option<Density>) -> Result<Mass, MeasureError> {
        let (density_numerator, density_denominator) = match self.dimension {
            Dimension::Mass => (1, 1),
            Dimension::Volume => (i128::from(density.ok_or(MeasureError::NoDensity)?.micrograms_per_ml), 1_000),
            Dimension::Pieces => return Err(MeasureError::PiecesOfAMass),
        };
        let mg = self.rounded(self.numerator * density_numerator, self.denominator * density_denominator)?;
        Ok(Mass { mg })
    }

    /// The number of pieces.
    ///
    /// # Errors
    /// [`MeasureError`] where it is a mass or a volume, not whole, or too large.
    pub fn pieces(self) -> Result<i64, MeasureError> {
        if self.dimension != Dimension::Pieces {
            return Err(MeasureError::MassOfPieces);
        }
        if self.number.places > 0 {
            return Err(MeasureError::NotWhole);
        }
        self.rounded(1, 1)
    }

    /// The amount of an item that is counted in `unit`.
    ///
    /// # Errors
    /// As [`Measure::mass`] and [`Measure::pieces`].
    pub fn quantity(self, unit: Unit, density: Option<Density>) -> Result<Quantity, MeasureError> {
        match unit {
            Unit::Milligram => self.mass(density).map(|mass| Quantity(mass.mg)),
            Unit::Piece => self.pieces().map(Quantity),
        }
    }

    /// The number times a fraction, half up, held to what may be entered.
    fn rounded(self, numerator: i128, denominator: i128) -> Result<i64, MeasureError> {
        let divisor = 10_i128.pow(self.number.places).checked_mul(denominator).ok_or(MeasureError::TooManyDigits)?;
        let product = self.number.digits.checked_mul(numerator);
        // Half up doubles the numerator: leave room for it.
        let product = product.filter(|&value| value < i128::MAX / 4).ok_or(MeasureError::TooManyDigits)?;
        if divisor >= i128::MAX / 4 {
            return Err(MeasureError::TooManyDigits);
        }
        let rounded = half_up_i64(product, divisor);
        if rounded > Quantity::MAX_ENTERED.0 { Err(MeasureError::TooLarge) } else { Ok(rounded) }
    }
}

/// The text that reads back to the same amount, to the milligram: `1.2 kg`, `8.5 g`, `40 mg`, `24 pcs`.
#[must_use]
pub fn canonical(quantity: Quantity, unit: Unit) -> String {
    let amount = quantity.0;
    match (unit, amount.unsigned_abs()) {
        (Unit::Piece, _) => format!("{amount} pcs"),
        (Unit::Milligram, 1_000_000..) => format!("{} kg", shortest(amount, 6)),
        (Unit::Milligram, 1_000..) => format!("{} g", shortest(amount, 3)),
        (Unit::Milligram, 0) => "0 g".to_owned(),
        (Unit::Milligram, _) => format!("{amount} mg"),
    }
}

/// Why a text is no length of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SpanError {
    /// Neither a number of days, weeks, months or years nor an ISO 8601 duration of such.
    #[error("is not a length of time")]
    NotASpan,
    /// More than 100 years.
    #[error("is more than 100 years")]
    TooLong,
}

impl SpanError {
    /// What would be right, as an instruction.
    #[must_use]
    pub fn remedy(self) -> &'static str {
        match self {
            Self::NotASpan => "write 540 days, 6 weeks, 18 months, 2 years or an ISO 8601 duration (P18M)",
            Self::TooLong => "write 100 years at the most, or leave the cell empty for what does not expire",
        }
    }
}

/// Reads `18 months`, `540 days`, `6 weeks`, `2 years`, or an ISO 8601 duration of whole years, months, weeks and days
/// (`P18M`, `P1Y6M`, `P2W`, `P540D`).
///
/// # Errors
/// [`SpanError`] where the text is neither, or longer than may be entered.
pub fn span(text: &str) -> Result<Span, SpanError> {
    let text = text.trim().to_ascii_lowercase();
    if let Some(rest) = text.strip_prefix('p') {
        return iso_duration(rest);
    }
    let (number, word) = text.split_at(text.find(|letter: char| !letter.is_ascii_digit()).unwrap_or(text.len()));
    let letter = match word.trim() {
        "day" | "days" => 'd',
        "week" | "weeks" => 'w',
        "month" | "months" => 'm',
        "year" | "years" => 'y',
        _ => return Err(SpanError::NotASpan),
    };
    bounded_span(&[(span_number(number)?, letter)])
}

/// The part of an ISO 8601 duration after its `P`, in small letters.
fn iso_duration(mut rest: &str) -> Result<Span, SpanError> {
    let mut parts = Vec::new();
    let mut allowed = "ymwd";
    while !rest.is_empty() {
        let end = rest.find(|letter: char| !letter.is_ascii_digit()).ok_or(SpanError::NotASpan)?;
        let letter = rest[end..].chars().next().ok_or(SpanError::NotASpan)?;
        let place = allowed.find(letter).ok_or(SpanError::NotASpan)?;
        parts.push((span_number(&rest[..end])?, letter));
        allowed = &allowed[place + 1..];
        rest = &rest[end + letter.len_utf8()..];
    }
    if parts.is_empty() { Err(SpanError::NotASpan) } else { bounded_span(&parts) }
}

/// A whole number of some unit of time; one with more than nine digits is longer than any that may be entered.
fn span_number(digits: &str) -> Result<u64, SpanError> {
    if digits.is_empty() {
        return Err(SpanError::NotASpan);
    }
    let significant = digits.trim_start_matches('0');
    if significant.len() > 9 {
        return Err(SpanError::TooLong);
    }
    Ok(significant.bytes().fold(0, |number, byte| number * 10 + u64::from(byte - b'0')))
}

fn bounded_span(parts: &[(u64, char)]) -> Result<Span, SpanError> {
    let sum = |long: char, factor: u64, short: char| -> u64 {
        parts
            .iter()
            .map(|&(number, letter)| match letter {
                _ if letter == long => number * factor,
                _ if letter == short => number,
                _ => 0,
            })
            .sum()
    };
    let months = u32::try_from(sum('y', 12, 'm')).map_err(|_| SpanError::TooLong)?;
    let days = u32::try_from(sum('w', 7, 'd')).map_err(|_| SpanError::TooLong)?;
    if months > Span::MAX_MONTHS || days > Span::MAX_DAYS {
        return Err(SpanError::TooLong);
    }
    Ok(Span { months, days })
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveDate;
    use proptest::prelude::*;
    use serde_json::Value;

    fn mass(text: &str, density: Option<i64>) -> Result<i64, MeasureError> {
        let density = density.map(|micrograms_per_ml| Density { micrograms_per_ml });
        Measure::parse(text, DecimalMark::Point)?.mass(density).map(|mass| mass.mg)
    }

    #[test]
    fn masses_and_volumes_become_milligrams() {
        let check = |text: &str, density, expected| assert_eq!(mass(text, density), Ok(expected), "{text}");
        check("500 g", None, 500_000);
        check("500g", None, 500_000);
        check("1.5 KG", None, 1_500_000);
        check(" 1 lb ", None, 453_592);
        check("1 oz", None, 28_350);
        check("16 fl oz", Some(920_000), 435_322);
        check("16 floz", Some(920_000), 435_322);
        check("2 tbsp", Some(1_000_000), 29_574);
        check("1 tsp", Some(1_000_000), 4_929);
        check("250 mL", Some(1_000_000), 250_000);
        check("1 l", Some(915_500), 915_500);
        check("0.5 mg", None, 1);
        check("0.4 mg", None, 0);
        check("1000000000 kg", None, Quantity::MAX_ENTERED.0);
    }

    #[test]
    fn a_number_alone_counts_pieces_of_what_is_counted() {
        let check = |text: &str, unit, expected| {
            let read = Measure::parse_of(text, DecimalMark::Point, unit);
            assert_eq!(read.and_then(|measure| measure.quantity(unit, None)).map(|read| read.0), expected, "{text}");
        };
        check("40", Unit::Piece, Ok(40));
        check(" 40 ", Unit::Piece, Ok(40));
        check("40 pcs", Unit::Piece, Ok(40));
        check("40.5", Unit::Piece, Err(MeasureError::NotWhole));
        check("-4", Unit::Piece, Err(MeasureError::Negative));
        check("", Unit::Piece, Err(MeasureError::NotAnAmount));
        check("40 g", Unit::Piece, Err(MeasureError::MassOfPieces));
        check("40", Unit::Milligram, Err(MeasureError::NotAnAmount));
    }

    #[test]
    fn what_is_no_amount_is_refused() {
        let check = |text: &str, expected| assert_eq!(mass(text, None), Err(expected), "{text}");
        for text in
            ["", "5", "g", "5 kgs", "NaN g", "1e308 g", "1,5 kg", "5 Mg", "5 stone", "1 500 g", "1.2.3 g", "٣ g"]
        {
            check(text, MeasureError::NotAnAmount);
        }
        check("-5 g", MeasureError::Negative);
        check("5 ml", MeasureError::NoDensity);
        check("5 pcs", MeasureError::PiecesOfAMass);
        check("1000000000.001 kg", MeasureError::TooLarge);
        check("999999999999999999 lb", MeasureError::TooLarge);
        check("9999999999999999999 g", MeasureError::TooManyDigits);
        check("999999999999999999.999999999999999999 lb", MeasureError::TooManyDigits);
    }

    #[test]
    fn pieces_are_whole() {
        let pieces = |text: &str| Measure::parse(text, DecimalMark::Point).and_then(Measure::pieces);
        assert_eq!(pieces("24 pcs"), Ok(24));
        assert_eq!(pieces("1 pc"), Ok(1));
        assert_eq!(pieces("24.0PCS"), Ok(24));
        assert_eq!(pieces("1.5 pcs"), Err(MeasureError::NotWhole));
        assert_eq!(pieces("5 g"), Err(MeasureError::MassOfPieces));
    }

    #[test]
    fn the_decimal_mark_is_that_of_the_file() {
        let check = |mark: DecimalMark, text: &str, expected: Option<i64>| {
            let read = Measure::parse(text, mark).and_then(|measure| measure.mass(None)).ok().map(|mass| mass.mg);
            assert_eq!(read, expected, "{text} {mark:?}");
        };
        check(DecimalMark::PointOrComma, "1,5 kg", Some(1_500_000));
        check(DecimalMark::PointOrComma, "1.5 kg", Some(1_500_000));
        check(DecimalMark::PointOrComma, "1,250 kg", Some(1_250_000));
        check(DecimalMark::PointOrComma, "1.250,5 g", None);
        check(DecimalMark::PointOrClearComma, "1,250 kg", None);
        check(DecimalMark::PointOrClearComma, "0,250 kg", Some(250_000));
        check(DecimalMark::PointOrClearComma, "1,25 kg", Some(1_250_000));
        check(DecimalMark::Point, "1,5 kg", None);
    }

    #[test]
    fn lengths_of_time_are_read() {
        let check = |text: &str, months, days| assert_eq!(span(text), Ok(Span { months, days }), "{text}");
        check("18 months", 18, 0);
        check("1 month", 1, 0);
        check("540 Days", 0, 540);
        check("2 years", 24, 0);
        check("6 weeks", 0, 42);
        check("6weeks", 0, 42);
        check("P18M", 18, 0);
        check("P1Y6M", 18, 0);
        check("P2W", 0, 14);
        check("P540D", 0, 540);
        check("p1y2m3d", 14, 3);
        check("0 days", 0, 0);
        for text in ["", "P", "18", "months", "1.5 years", "-3 days", "PT5H", "P1D2M", "P1M1M", "18 moons", "P5", "Pä"]
        {
            assert_eq!(span(text), Err(SpanError::NotASpan), "{text}");
        }
        for text in ["101 years", "36526 days", "99999999999999999999 days", "999999999 weeks"] {
            assert_eq!(span(text), Err(SpanError::TooLong), "{text}");
        }
    }

    /// tests/checks/units.json: exact fractions from pint, for those of its units that Stillroom has.
    #[test]
    fn conversions_agree_with_an_exact_reference() {
        let document: Value =
            serde_json::from_str(include_str!("../../tests/checks/units.json")).expect("the check file is JSON");
        let own = |name: &str| match name {
            "mg" | "g" | "kg" | "oz" | "lb" => Some(name.to_owned()),
            "mL" => Some("ml".to_owned()),
            "L" => Some("l".to_owned()),
            "fl_oz_us" => Some("fl oz".to_owned()),
            "tbsp_us" => Some("tbsp".to_owned()),
            "tsp_us" => Some("tsp".to_owned()),
            _ => None,
        };
        let is_mass = |unit: &str| matches!(unit, "mg" | "g" | "kg" | "oz" | "lb");
        let mut compared = 0;
        for case in document["cases"].as_array().expect("cases") {
            let text = |field: &str| case[field].as_str().unwrap_or_default();
            let (Some(from), Some(into)) = (own(text("unit_from")), own(text("unit_to"))) else { continue };
            let density = text("density_g_per_mL").parse::<Decimal>().ok();
            let density = density.map(|decimal| Density {
                micrograms_per_ml: decimal.scaled(Density::PLACES).expect("a density of the check file"),
            });
            // A volume as the target: compare by way of the mass at 1 g/ml or the density of the case.
            let density = density.or(Some(Density { micrograms_per_ml: 1_000_000 }));
            let given = format!("{} {from}", text("qty"));
            let milligrams = Measure::parse(&given, DecimalMark::Point).and_then(|measure| measure.mass(density));
            let (numerator, denominator) = fraction(case["expected"]["exact_fraction"].as_str().unwrap_or_default());
            let (_, _, unit_numerator, unit_denominator) =
                UNIT_TABLE.into_iter().find(|&(name, ..)| name == into).expect("a unit of ours");
            let by_density = if is_mass(&into) { (1, 1) } else { (density.map_or(0, |d| d.micrograms_per_ml), 1_000) };
            // The JSON fractions can be too wide for 128 bits once multiplied: divide by common factors first.
            let over = reduce(numerator, unit_denominator * i128::from(by_density.1));
            let under = reduce(unit_numerator * i128::from(by_density.0), denominator);
            let first = reduce(over.0, under.1);
            let second = reduce(under.0, over.1);
            let expected = half_up_i64(first.0 * second.0, first.1 * second.1);
            assert_eq!(milligrams, Ok(Mass { mg: expected }), "{}", text("id"));
            compared += 1;
        }
        assert!(compared >= 8, "only {compared} cases have units of ours");
    }

    fn fraction(text: &str) -> (i128, i128) {
        let (numerator, denominator) = text.split_once('/').unwrap_or((text, "1"));
        (numerator.parse().expect("a number"), denominator.parse().expect("a number"))
    }

    fn reduce(left: i128, right: i128) -> (i128, i128) {
        let (mut a, mut b) = (left, right);
        while b != 0 {
            (a, b) = (b, a % b);
        }
        (left / a, right / a)
    }

    /// tests/checks/units_exact.csv: sizes in grams or millilitres as the standards print them.
    #[test]
    fn factors_are_those_of_the_standard() {
        let mut compared = 0;
        for line in include_str!("../../tests/checks/units_exact.csv").lines().skip(1) {
            let fields: Vec<&str> = line.split(',').collect();
            let Some((_, dimension, numerator, denominator)) =
                UNIT_TABLE.into_iter().find(|&(name, ..)| name == fields[1])
            else {
                continue;
            };
            let listed: Decimal = fields[2].parse().expect("a number");
            let to_listed = if dimension == Dimension::Mass { 1_000 } else { 1 };
            assert_eq!(numerator * 10_i128.pow(listed.places), listed.digits * denominator * to_listed, "{line}");
            compared += 1;
        }
        assert_eq!(compared, 7);
    }

    /// tests/checks/dates_shelf_life.json: month arithmetic of python-dateutil.
    #[test]
    fn spans_end_on_the_day_of_an_outside_reference() {
        let document: Value =
            serde_json::from_str(include_str!("../../tests/checks/dates_shelf_life.json")).expect("JSON");
        let mut compared = 0;
        for case in document["cases"].as_array().expect("cases") {
            let day = |value: &Value| value.as_str().and_then(|text| text.parse::<NaiveDate>().ok());
            let months = case["pao_months"].as_u64();
            let (Some(made), Some(months), Some(expected)) =
                (day(&case["made_on"]), months, day(&case["expected"]["made_plus_pao_months"]))
            else {
                continue;
            };
            let read = span(&format!("{months} months")).expect("a span");
            assert_eq!(read.after(made), expected, "{}", case["id"]);
            compared += 1;
        }
        assert!(compared >= 20, "only {compared} cases were compared");
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back_to_the_milligram(amount in 0..=Quantity::MAX_ENTERED.0, pieces: bool) {
            let unit = if pieces { Unit::Piece } else { Unit::Milligram };
            let text = canonical(Quantity(amount), unit);
            let read = Measure::parse(&text, DecimalMark::Point).and_then(|measure| measure.quantity(unit, None));
            prop_assert_eq!(read, Ok(Quantity(amount)), "{}", text);
        }

        #[test]
        fn a_span_that_is_shown_reads_back(months in 0..=Span::MAX_MONTHS, days in 0..=Span::MAX_DAYS) {
            let written = Span { months, days };
            prop_assert_eq!(span(&written.to_string()), Ok(written));
        }

        #[test]
        fn no_text_makes_it_panic(text in "\\PC*", odd in "[P0-9.,+-]{0,40} ?(lb|fl oz|tsp|pcs|Y|M|D)?") {
            for text in [text, odd] {
                for mark in [DecimalMark::Point, DecimalMark::PointOrComma, DecimalMark::PointOrClearComma] {
                    if let Ok(measure) = Measure::parse(&text, mark) {
                        let _ = measure.mass(Some(Density { micrograms_per_ml: 20_000_000 }));
                        let _ = measure.pieces();
                    }
                }
                let _ = span(&text);
            }
        }
    }
}
