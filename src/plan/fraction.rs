//! Exact fractions: a sum of many of them is rounded once, at its end.
//!
//! A formula costs the sum over its lots of `cost x drawn / on hand`, each with another denominator: twenty of them
//! outgrow 128 bits, so numerator and denominator are whole numbers of any length.

use super::money::{Currency, Money, Rate};
use super::quantity::{Percent, Quantity};
use super::rounding::clamp;
use std::cmp::Ordering;

/// A whole number of any length, at least 0: digits of base 2^64, the lowest first, no zeros at the high end.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Natural {
    digits: Vec<u64>,
}

impl Natural {
    fn from(value: u64) -> Self {
        Self { digits: if value == 0 { Vec::new() } else { vec![value] } }
    }

    fn times(&self, factor: u64) -> Self {
        let mut digits = Vec::with_capacity(self.digits.len() + 1);
        let mut carry: u128 = 0;
        for &digit in &self.digits {
            carry += u128::from(digit) * u128::from(factor);
            digits.push(low(carry));
            carry >>= 64;
        }
        digits.push(low(carry));
        Self::trimmed(digits)
    }

    fn product(&self, factors: &[u64]) -> Self {
        factors.iter().fold(self.clone(), |product, &factor| product.times(factor))
    }

    fn plus(&self, other: &Self) -> Self {
        let length = self.digits.len().max(other.digits.len());
        let mut digits = Vec::with_capacity(length + 1);
        let mut carry: u128 = 0;
        let digit = |number: &Self, place: usize| u128::from(number.digits.get(place).copied().unwrap_or(0));
        for place in 0..length {
            carry += digit(self, place) + digit(other, place);
            digits.push(low(carry));
            carry >>= 64;
        }
        digits.push(low(carry));
        Self::trimmed(digits)
    }

    fn trimmed(mut digits: Vec<u64>) -> Self {
        while digits.last() == Some(&0) {
            digits.pop();
        }
        Self { digits }
    }
}

impl PartialOrd for Natural {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Natural {
    fn cmp(&self, other: &Self) -> Ordering {
        let by_length = self.digits.len().cmp(&other.digits.len());
        by_length.then_with(|| self.digits.iter().rev().cmp(other.digits.iter().rev()))
    }
}

/// The lowest 64 bits.
fn low(value: u128) -> u64 {
    u64::try_from(value & u128::from(u64::MAX)).unwrap_or(0)
}

fn factor(value: i128) -> u64 {
    u64::try_from(value.max(0)).unwrap_or(u64::MAX)
}

/// A fraction that is at least 0, exactly.
#[derive(Clone, Debug)]
pub struct Fraction {
    numerator: Natural,
    denominator: Natural,
}

impl Default for Fraction {
    fn default() -> Self {
        Self { numerator: Natural::default(), denominator: Natural::from(1) }
    }
}

impl Fraction {
    /// The product of `over` divided by the product of `under`; factors below 0 count as 0. Nothing where `under` holds
    /// a 0: what has no amount has no price.
    #[must_use]
    pub fn new(over: &[i64], under: &[i64]) -> Self {
        let product = |factors: &[i64]| {
            let factors: Vec<u64> = factors.iter().map(|&value| factor(i128::from(value))).collect();
            Natural::from(1).product(&factors)
        };
        let denominator = product(under);
        if denominator == Natural::default() {
            return Self::default();
        }
        Self { numerator: product(over), denominator }
    }

    /// Of `cost` for `whole`, what `part` costs: minor units of home money.
    #[must_use]
    pub fn of_cost(cost: Money, part: Quantity, whole: Quantity) -> Self {
        Self::new(&[cost.minor, part.0], &[whole.0])
    }

    /// The sum of the two.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        if self.denominator == other.denominator {
            let numerator = self.numerator.plus(&other.numerator);
            return Self { numerator, denominator: self.denominator.clone() };
        }
        let left = multiply(&self.numerator, &other.denominator);
        let right = multiply(&other.numerator, &self.denominator);
        Self { numerator: left.plus(&right), denominator: multiply(&self.denominator, &other.denominator) }
    }

    /// The fraction so many times.
    #[must_use]
    pub fn times(&self, count: i64) -> Self {
        let numerator = self.numerator.times(factor(i128::from(count)));
        Self { numerator, denominator: self.denominator.clone() }
    }

    /// The part of it that each of `count` gets; as it is where there are none.
    #[must_use]
    pub fn divided_by(&self, count: i64) -> Self {
        let denominator = self.denominator.times(factor(i128::from(count.max(1))));
        Self { numerator: self.numerator.clone(), denominator }
    }

    /// With a percentage added: `100 % + percent` of it.
    #[must_use]
    pub fn with_percent(&self, percent: Percent) -> Self {
        let hundred = Percent::HUNDRED.millionths;
        let numerator = self.numerator.times(factor(i128::from(hundred) + i128::from(percent.millionths)));
        Self { numerator, denominator: self.denominator.times(factor(i128::from(hundred))) }
    }

    /// Minor units of another currency as minor units of home money.
    #[must_use]
    pub fn at_rate(&self, rate: Rate, from: Currency, home: Currency) -> Self {
        let (over, under) = rate.ratio(from, home);
        let (over, under) = (parts(over), parts(under));
        Self { numerator: self.numerator.product(&over), denominator: self.denominator.product(&under) }
    }

    /// The nearest whole number, half up; the largest that can be kept where it is larger.
    #[must_use]
    pub fn half_up(&self) -> i64 {
        // The largest q with 2 q d <= 2 n + d, found bit by bit.
        let doubled = self.numerator.times(2).plus(&self.denominator);
        let step = self.denominator.times(2);
        let mut quotient: u64 = 0;
        for bit in (0..63).rev() {
            let tried = quotient | (1 << bit);
            if step.times(tried) <= doubled {
                quotient = tried;
            }
        }
        clamp(i128::from(quotient))
    }

    /// Rounded half up to minor units of money.
    #[must_use]
    pub fn money(&self) -> Money {
        Money { minor: self.half_up() }
    }

    /// True for nothing.
    #[must_use]
    pub fn is_zero(&self) -> bool {
        self.numerator == Natural::default()
    }
}

/// A positive number of up to 126 bits as two factors that fit 64 each: rates are below 2^63, powers of ten split off.
fn parts(value: i128) -> [u64; 2] {
    let mut rest = value;
    let mut tens: i128 = 1;
    while rest > i128::from(u64::MAX) && rest % 10 == 0 {
        rest /= 10;
        tens *= 10;
    }
    [factor(rest), factor(tens)]
}

/// The product of two long numbers.
fn multiply(left: &Natural, right: &Natural) -> Natural {
    let mut product = Natural::default();
    for (place, &digit) in right.digits.iter().enumerate() {
        let mut shifted = vec![0; place];
        shifted.extend(left.times(digit).digits);
        product = product.plus(&Natural::trimmed(shifted));
    }
    product
}

impl PartialEq for Fraction {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Fraction {}
impl PartialOrd for Fraction {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Fraction {
    fn cmp(&self, other: &Self) -> Ordering {
        multiply(&self.numerator, &other.denominator).cmp(&multiply(&other.numerator, &self.denominator))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::rounding;
    use proptest::prelude::*;

    #[test]
    fn a_sum_is_rounded_once() {
        // A third and a sixth are exactly a half, which goes up; rounded one by one they would be nothing.
        let sum = Fraction::new(&[1], &[3]).plus(&Fraction::new(&[1], &[6]));
        assert_eq!(sum.half_up(), 1);
        let below = Fraction::new(&[333_333_333], &[1_000_000_000]).plus(&Fraction::new(&[1], &[6]));
        assert_eq!(below.half_up(), 0);
        assert_eq!(Fraction::new(&[5], &[0]), Fraction::default());
        assert!(Fraction::new(&[1], &[3]) < Fraction::new(&[2], &[5]));
    }

    #[test]
    fn thirty_odd_denominators_stay_exact() {
        // 1/p for thirty primes of seven digits, each p times: thirty in all, to the last digit.
        let odd: Vec<i64> = (0..30).map(|place| 1_000_003 + 2 * place * 7_919).collect();
        let sum = odd.iter().fold(Fraction::default(), |sum, &under| {
            let part = Fraction::new(&[1], &[under]);
            sum.plus(&part.times(under - 1)).plus(&part)
        });
        assert_eq!(sum, Fraction::new(&[30], &[1]));
    }

    #[test]
    fn money_of_another_currency_with_duty() {
        let pounds = Currency::from_code("GBP").unwrap();
        let price = Fraction::new(&[1_000], &[1]).with_percent(Percent { millionths: 6_500_000 });
        let home = price.at_rate(Rate { billionths: 1_170_000_000 }, pounds, Currency::EUR);
        // 10.00 GBP and 6.5 % at 1.17: 12.4605 EUR.
        assert_eq!((home.half_up(), home.times(100).half_up()), (1_246, 124_605));
        let dinars = Currency::from_code("KWD").unwrap();
        let home = Fraction::new(&[1_000], &[1]).at_rate(Rate { billionths: i64::MAX }, dinars, Currency::EUR);
        assert_eq!(home.half_up(), rounding::half_up_i64(i128::from(i64::MAX) * 100, 1_000_000_000));
    }

    proptest! {
        #[test]
        fn agrees_with_128_bits_where_those_suffice(
            a in 0_i64..1 << 40, b in 1_i64..1 << 30, c in 0_i64..1 << 40, d in 1_i64..1 << 30,
        ) {
            let (a, b, c, d) = (i128::from(a), i128::from(b), i128::from(c), i128::from(d));
            let expected = rounding::half_up_i64(a * d + c * b, b * d);
            let fraction = |over: i128, under: i128| Fraction::new(&[over as i64], &[under as i64]);
            let sum = fraction(a, b).plus(&fraction(c, d));
            prop_assert_eq!(sum.half_up(), expected);
            prop_assert_eq!(fraction(a, b).cmp(&fraction(c, d)), (a * d).cmp(&(c * b)));
        }
    }
}
