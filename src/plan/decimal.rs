//! Exact decimal numbers as people write them: a whole number and how many of its digits stand after the point.
//!
//! No arithmetic lives here. A [`Decimal`] is read once and turned into an integer of a named scale.

use std::fmt;
use std::str::FromStr;

/// An exact decimal: `digits / 10^places`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Decimal {
    /// All digits, without the point.
    pub digits: i128,
    /// How many of the digits stand after the point, 0 to 18.
    pub places: u32,
}

/// Why a text is no decimal number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DecimalError {
    /// Not digits with at most one point.
    #[error("is not a number")]
    NotANumber,
    /// More than 18 digits before or after the point.
    #[error("has too many digits")]
    TooLong,
    /// The number has more places than the thing it measures.
    #[error("has more than {0} decimal places")]
    TooFine(u32),
    /// The number does not fit the amounts that can be kept.
    #[error("is too large")]
    TooLarge,
}

impl Decimal {
    /// Reads the number with `point` as its decimal mark (`.` or `,`). White space around it is ignored.
    ///
    /// # Errors
    /// [`DecimalError`] where the text is not such a number.
    pub fn parse(text: &str, point: char) -> Result<Self, DecimalError> {
        let text = text.trim();
        let (negative, digits_text) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text.strip_prefix('+').unwrap_or(text)),
        };
        let (whole, fraction) = digits_text.split_once(point).unwrap_or((digits_text, ""));
        let all_digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
        if whole.is_empty() && fraction.is_empty() || !all_digits(whole) || !all_digits(fraction) {
            return Err(DecimalError::NotANumber);
        }
        let whole = whole.trim_start_matches('0');
        let fraction = fraction.trim_end_matches('0');
        if whole.len() > 18 || fraction.len() > 18 {
            return Err(DecimalError::TooLong);
        }
        let mut digits: i128 = 0;
        for byte in whole.bytes().chain(fraction.bytes()) {
            digits = digits * 10 + i128::from(byte - b'0');
        }
        let places = u32::try_from(fraction.len()).map_err(|_| DecimalError::TooLong)?;
        Ok(Self { digits: if negative { -digits } else { digits }, places })
    }

    /// The number as an integer count of `10^-places`, exactly.
    ///
    /// # Errors
    /// [`DecimalError::TooFine`] where it has more places than that, [`DecimalError::TooLarge`] where it does not fit.
    pub fn scaled(self, places: u32) -> Result<i64, DecimalError> {
        if self.places > places {
            return Err(DecimalError::TooFine(places));
        }
        let factor = 10_i128.pow(places - self.places);
        let scaled = self.digits.checked_mul(factor).ok_or(DecimalError::TooLarge)?;
        i64::try_from(scaled).map_err(|_| DecimalError::TooLarge)
    }
}

impl FromStr for Decimal {
    type Err = DecimalError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::parse(text, '.')
    }
}

/// Writes an integer count of `10^-places` as the shortest decimal that reads back the same.
#[must_use]
pub fn shortest(scaled: i64, places: u32) -> String {
    let text = Scaled { scaled, places }.to_string();
    if places == 0 {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// An integer count of `10^-places`, shown with all its places.
#[derive(Clone, Copy, Debug)]
pub struct Scaled {
    /// The count.
    pub scaled: i64,
    /// How many digits stand after the point.
    pub places: u32,
}

impl fmt::Display for Scaled {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.scaled < 0 { "-" } else { "" };
        let size = self.scaled.unsigned_abs();
        if self.places == 0 {
            return write!(formatter, "{sign}{size}");
        }
        let factor = 10_u64.pow(self.places);
        let width = self.places as usize;
        write!(formatter, "{sign}{}.{:0width$}", size / factor, size % factor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_people_write() {
        let check = |text: &str, digits: i128, places: u32| {
            assert_eq!(text.parse::<Decimal>(), Ok(Decimal { digits, places }), "{text}");
        };
        check("12", 12, 0);
        check(" 012.50 ", 125, 1);
        check("-.5", -5, 1);
        check("7.", 7, 0);
        assert_eq!(Decimal::parse("1,25", ','), Ok(Decimal { digits: 125, places: 2 }));
    }

    #[test]
    fn refuses_what_is_no_number() {
        for text in ["", ".", "1e308", "NaN", "1.2.3", "1,2", "٣", "--1", "1 2"] {
            assert_eq!(text.parse::<Decimal>(), Err(DecimalError::NotANumber), "{text}");
        }
        assert_eq!("1234567890123456789".parse::<Decimal>(), Err(DecimalError::TooLong));
    }

    #[test]
    fn scales_exactly_or_not_at_all() {
        let scaled = |text: &str, places| text.parse::<Decimal>().and_then(|decimal| decimal.scaled(places));
        assert_eq!(scaled("1.25", 2), Ok(125));
        assert_eq!(scaled("1.25", 1), Err(DecimalError::TooFine(1)));
        assert_eq!(scaled("999999999999999999", 6), Err(DecimalError::TooLarge));
        assert_eq!(shortest(125_000, 6), "0.125");
        assert_eq!(shortest(-3_000_000, 6), "-3");
        assert_eq!(shortest(40, 0), "40");
    }
}
