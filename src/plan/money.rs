//! Money: currencies and their minor units, home money, a supplier's prices, and the rate between them.
//!
//! Home money and prices are two types, so that the compiler keeps them apart; only a [`Rate`] turns one into the other.

use super::decimal::{Scaled, shortest};
use super::rounding::clamp;
use super::rounding::half_up;
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Sub};

/// Codes whose amounts have no minor unit.
const NO_PLACES: &str = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF";

/// Codes with two places.
const TWO_PLACES: &str = "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE CHF CHW \
    CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF \
    IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK \
    MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP \
    SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD USN UYU UZS VED VES WST XAD XCD XCG \
    YER ZAR ZMW ZWG";

/// Codes with three places.
const THREE_PLACES: &str = "BHD IQD JOD KWD LYD OMR TND";

/// Codes with four places.
const FOUR_PLACES: &str = "CLF UYW";

/// A currency of ISO 4217 (list of 2026-01-01), with the exponent of its minor unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Currency {
    code: [u8; 3],
    exponent: u32,
}

impl Currency {
    /// The euro, the home currency where nothing else is said.
    pub const EUR: Self = Self { code: *b"EUR", exponent: 2 };

    /// The currency of an alphabetic code, in capitals. `None` where ISO 4217 lists no such code, or lists it without
    /// a minor unit (gold, special drawing rights).
    #[must_use]
    pub fn from_code(code: &str) -> Option<Self> {
        let bytes: [u8; 3] = code.as_bytes().try_into().ok()?;
        // Each code takes four bytes, its space included.
        let listed = |codes: &str| codes.as_bytes().chunks(4).any(|listed| listed.starts_with(&bytes));
        let exponent = [(NO_PLACES, 0), (TWO_PLACES, 2), (THREE_PLACES, 3), (FOUR_PLACES, 4)]
            .into_iter()
            .find(|(codes, _)| listed(codes))?
            .1;
        Some(Self { code: bytes, exponent })
    }

    /// The three-letter code.
    #[must_use]
    pub fn code(&self) -> &str {
        std::str::from_utf8(&self.code).unwrap_or("???")
    }

    /// Decimal places of the minor unit.
    #[must_use]
    pub fn exponent(&self) -> u32 {
        self.exponent
    }

    /// A count of minor units as a plain decimal, all places shown: `12.50`.
    #[must_use]
    pub fn decimal(&self, minor: i64) -> String {
        Scaled { scaled: minor, places: self.exponent }.to_string()
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.code())
    }
}

/// Minor units of the home currency.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Money {
    /// Minor units.
    pub minor: i64,
}

impl Money {
    /// Nothing.
    pub const ZERO: Self = Self { minor: 0 };

    /// The share of this money that `part` of `whole` units carries, half up. Nothing where the whole is nothing.
    #[must_use]
    pub fn share(self, part: i64, whole: i64) -> Self {
        if whole <= 0 {
            return Self::ZERO;
        }
        Self { minor: clamp(half_up(i128::from(self.minor) * i128::from(part), i128::from(whole))) }
    }
}

impl Add for Money {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { minor: self.minor.saturating_add(other.minor) }
    }
}
impl Sub for Money {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { minor: self.minor.saturating_sub(other.minor) }
    }
}
impl AddAssign for Money {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}
impl Sum for Money {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        parts.fold(Self::ZERO, Add::add)
    }
}

/// Minor units of a currency that stands beside it: a supplier's, or the one a lot was paid in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Price {
    /// Minor units.
    pub minor: i64,
}

impl Price {
    /// Nothing.
    pub const ZERO: Self = Self { minor: 0 };
    /// The largest price that may be entered, in minor units: 10^13, so that thousands of packs of it still fit.
    pub const MAX_ENTERED: Self = Self { minor: 10_000_000_000_000 };

    /// This price so many times.
    #[must_use]
    pub fn times(self, count: i64) -> Self {
        Self { minor: clamp(i128::from(self.minor) * i128::from(count)) }
    }
}

impl Add for Price {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { minor: self.minor.saturating_add(other.minor) }
    }
}
impl AddAssign for Price {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}
impl Sum for Price {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        parts.fold(Self::ZERO, Add::add)
    }
}

/// An exchange rate: home currency for one unit of another, exact to nine decimal places.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Rate {
    /// Billionths of a home unit for one foreign unit.
    pub billionths: i64,
}

impl Rate {
    /// Decimal places kept.
    pub const PLACES: u32 = 9;
    /// Of the home currency itself.
    pub const ONE: Self = Self { billionths: 1_000_000_000 };

    /// A price in home money, rounded once, half up.
    #[must_use]
    pub fn to_home(self, price: Price, from: Currency, home: Currency) -> Money {
        let (numerator, denominator) = self.ratio(from, home);
        // What outgrows even this is cut off at the largest amount, and `limits` refuses it.
        Money { minor: clamp(half_up(i128::from(price.minor).saturating_mul(numerator), denominator)) }
    }

    /// Home minor units for one foreign minor unit, as an exact fraction of two positive numbers.
    #[must_use]
    pub fn ratio(self, from: Currency, home: Currency) -> (i128, i128) {
        let numerator = i128::from(self.billionths) * 10_i128.pow(home.exponent());
        let denominator = i128::from(Self::ONE.billionths) * 10_i128.pow(from.exponent());
        (numerator, denominator)
    }
}

impl fmt::Display for Rate {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&shortest(self.billionths, Self::PLACES))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minor_units_follow_the_standard() {
        for (code, exponent) in [("EUR", 2), ("JPY", 0), ("KWD", 3), ("CLF", 4)] {
            assert_eq!(Currency::from_code(code).map(|currency| currency.exponent()), Some(exponent), "{code}");
        }
        let codes = [NO_PLACES, TWO_PLACES, THREE_PLACES, FOUR_PLACES].map(str::split_ascii_whitespace);
        let listed: Vec<&str> = codes.into_iter().flatten().collect();
        assert_eq!(listed.len(), 17 + 139 + 7 + 2);
        assert!(listed.iter().all(|code| Currency::from_code(code).is_some_and(|found| found.code() == *code)));
        for code in ["eur", "XAU", "EURO", "", "ZZZ", "ED ", " AE"] {
            assert_eq!(Currency::from_code(code), None, "{code}");
        }
        assert_eq!(Currency::from_code("EUR"), Some(Currency::EUR));
    }

    #[test]
    fn a_price_is_turned_into_home_money_once() {
        let yen = Currency::from_code("JPY").unwrap_or(Currency::EUR);
        let rate = Rate { billionths: 6_150_000 };
        assert_eq!(rate.to_home(Price { minor: 1_000 }, yen, Currency::EUR), Money { minor: 615 });
        assert_eq!(Rate::ONE.to_home(Price { minor: 1_234 }, Currency::EUR, Currency::EUR), Money { minor: 1_234 });
    }

    #[test]
    fn a_share_is_half_up() {
        assert_eq!(Money { minor: 101 }.share(1, 2), Money { minor: 51 });
        assert_eq!(Money { minor: 101 }.share(1, 0), Money::ZERO);
    }
}
