//! Amounts of things: milligrams, pieces, percentages, densities. Integers behind newtypes.

use super::decimal::{Decimal, DecimalError, shortest};
use super::rounding::{clamp, half_up, half_up_i64};
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Sub, SubAssign};

/// What an item is counted in: raw materials and premixes by milligram, packaging by the piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unit {
    /// Milligrams.
    Milligram,
    /// Pieces.
    Piece,
}

impl Unit {
    /// The word of the JSON contract: `mg` or `pcs`.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Milligram => "mg",
            Self::Piece => "pcs",
        }
    }
}

/// An amount of one item in the item's own unit ([`Unit`]).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Quantity(pub i64);

impl Quantity {
    /// Nothing.
    pub const ZERO: Self = Self(0);
    /// The largest amount that may be entered: a million tonnes, or 10^15 pieces. Sums of thousands of them fit.
    pub const MAX_ENTERED: Self = Self(1_000_000_000_000_000);

    /// True for nothing.
    #[must_use]
    pub fn is_zero(self) -> bool {
        self.0 == 0
    }
}

impl Add for Quantity {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}
impl Sub for Quantity {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}
impl AddAssign for Quantity {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}
impl SubAssign for Quantity {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}
impl Sum for Quantity {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        parts.fold(Self::ZERO, Add::add)
    }
}

/// A mass in milligrams.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Mass {
    /// Milligrams.
    pub mg: i64,
}

/// A count of finished pieces.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Pieces(pub i64);

/// A percentage, exact to six decimal places: an integer count of millionths of a percent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Percent {
    /// Millionths of a percent; 100 % is 100,000,000.
    pub millionths: i64,
}

impl Percent {
    /// Decimal places kept.
    pub const PLACES: u32 = 6;
    /// None.
    pub const ZERO: Self = Self { millionths: 0 };
    /// All of it.
    pub const HUNDRED: Self = Self { millionths: 100_000_000 };

    /// Reads an exact decimal.
    ///
    /// # Errors
    /// [`DecimalError`] where it has more than six places or is too large.
    pub fn from_decimal(decimal: Decimal) -> Result<Self, DecimalError> {
        Ok(Self { millionths: decimal.scaled(Self::PLACES)? })
    }

    /// The share of an integer amount, half up.
    #[must_use]
    pub fn of(self, amount: i64) -> i64 {
        half_up_i64(i128::from(amount) * i128::from(self.millionths), i128::from(Self::HUNDRED.millionths))
    }

    /// The mass that has to be put in so that `net` is left after this loss: `net / (1 - loss)`, half up.
    /// A loss of 100 % or more is refused on entry; here it leaves `net` as it is.
    #[must_use]
    pub fn gross_of(self, net: Mass) -> Mass {
        let hundred = i128::from(Self::HUNDRED.millionths);
        let kept = hundred - i128::from(self.millionths);
        if kept <= 0 {
            return net;
        }
        Mass { mg: clamp(half_up(i128::from(net.mg) * hundred, kept)) }
    }
}

impl fmt::Display for Percent {
    /// The shortest decimal, without the sign.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&shortest(self.millionths, Self::PLACES))
    }
}

/// A density, exact to six decimal places of g/ml.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Density {
    /// Micrograms in a millilitre; 1,000,000 of them are 1 g/ml.
    pub micrograms_per_ml: i64,
}

impl Density {
    /// Decimal places kept of g/ml.
    pub const PLACES: u32 = 6;
}

impl fmt::Display for Density {
    /// g/ml as the shortest decimal.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&shortest(self.micrograms_per_ml, Self::PLACES))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loss_is_made_up_for_to_the_nearest_milligram() {
        let loss = Percent { millionths: 2_000_000 };
        assert_eq!(loss.gross_of(Mass { mg: 1_000_000 }), Mass { mg: 1_020_408 });
        assert_eq!(Percent::ZERO.gross_of(Mass { mg: 5 }), Mass { mg: 5 });
    }

    #[test]
    fn percent_shows_what_was_entered() {
        let percent = "12.50".parse::<Decimal>().and_then(Percent::from_decimal);
        assert_eq!(percent.map(|value| value.to_string()), Ok("12.5".to_owned()));
    }
}
