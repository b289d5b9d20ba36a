//! How typed values stand in columns: integers as they are, enumerations as words, days and spans as text.

use super::letters::LetterState;
use crate::book::rows::{MovementKind, PieceKind, WishKind};
use crate::plan::calendar::{ClosedPeriod, Span, Weekdays, iso_day};
use crate::plan::model::{LotState, ProductUse};
use crate::plan::money::{Currency, Price, Rate};
use crate::plan::quantity::{Density, Mass, Percent, Quantity, Unit};
use chrono::{DateTime, NaiveDate, SecondsFormat, Utc, Weekday};
use rusqlite::Result;
use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};

/// A text in a column that this program never writes there.
#[derive(Debug, thiserror::Error)]
#[error("{text:?} is no {what}")]
struct Unreadable {
    what: &'static str,
    text: String,
}

fn unreadable(what: &'static str, text: &str) -> FromSqlError {
    FromSqlError::Other(Box::new(Unreadable { what, text: text.to_owned() }))
}

/// Newtypes of one integer.
macro_rules! integer_columns {
    ($($kind:ident . $field:tt),+) => {$(
        impl ToSql for $kind {
            fn to_sql(&self) -> Result<ToSqlOutput<'_>> {
                Ok(self.$field.into())
            }
        }
        impl FromSql for $kind {
            fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
                Ok(Self { $field: value.as_i64()? })
            }
        }
    )+};
}

integer_columns!(Quantity.0, Mass.mg, Percent.millionths, Density.micrograms_per_ml, Price.minor, Rate.billionths);

/// Enumerations, each variant with its word.
macro_rules! word_columns {
    ($($kind:ident { $($variant:ident => $word:literal),+ })+) => {$(
        impl ToSql for $kind {
            fn to_sql(&self) -> Result<ToSqlOutput<'_>> {
                Ok(match self { $(Self::$variant => $word),+ }.into())
            }
        }
        impl FromSql for $kind {
            fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
                match value.as_str()? {
                    $($word => Ok(Self::$variant),)+
                    other => Err(unreadable(stringify!($kind), other)),
                }
            }
        }
    )+};
}

word_columns! {
    Unit { Milligram => "mg", Piece => "pcs" }
    LotState { Released => "released", Quarantine => "quarantine", Rejected => "rejected" }
    ProductUse { LeaveOn => "leave-on", RinseOff => "rinse-off" }
    MovementKind {
        Receipt => "receipt", Issue => "issue", Count => "count", WriteOff => "write-off", Return => "return"
    }
    LetterState { Waiting => "waiting", Sent => "sent", SetAside => "set-aside", Dropped => "dropped" }
    PieceKind {
        Made => "made", Sale => "sale", Gift => "gift", Sample => "sample", Waste => "waste", Count => "count"
    }
    WishKind { Exclude => "exclude", Pin => "pin", Prefer => "prefer", Budget => "budget" }
}

/// A civil date as `2027-03-09`.
#[derive(Clone, Copy)]
pub(super) struct Day(pub(super) NaiveDate);

impl ToSql for Day {
    fn to_sql(&self) -> Result<ToSqlOutput<'_>> {
        Ok(self.0.to_string().into())
    }
}

impl FromSql for Day {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let text = value.as_str()?;
        iso_day(text).or_else(|| text.parse().ok()).map(Self).ok_or_else(|| unreadable("day", text))
    }
}

/// A moment as `2027-03-09T08:15:00Z`: whole seconds, so that the texts sort as the moments do.
#[derive(Clone, Copy)]
pub(super) struct Moment(pub(super) DateTime<Utc>);

impl ToSql for Moment {
    fn to_sql(&self) -> Result<ToSqlOutput<'_>> {
        Ok(self.0.to_rfc3339_opts(SecondsFormat::Secs, true).into())
    }
}

impl FromSql for Moment {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let text = value.as_str()?;
        text.parse().map(Self).map_err(|_| unreadable("moment", text))
    }
}

impl ToSql for Span {
    /// `P18M0D`: months and days both, since a month is not a number of days.
    fn to_sql(&self) -> Result<ToSqlOutput<'_>> {
        Ok(format!("P{}M{}D", self.months, self.days).into())
    }
}

impl FromSql for Span {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let text = value.as_str()?;
        let parts =
            text.strip_prefix('P').and_then(|rest| rest.strip_suffix('D')).and_then(|rest| rest.split_once('M'));
        let span =
            parts.and_then(|(months, days)| Some(Self { months: months.parse().ok()?, days: days.parse().ok()? }));
        span.ok_or_else(|| unreadable("span of time", text))
    }
}

impl ToSql for Currency {
    fn to_sql(&self) -> Result<ToSqlOutput<'_>> {
        Ok(self.code().into())
    }
}

impl FromSql for Currency {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let text = value.as_str()?;
        Self::from_code(text).ok_or_else(|| unreadable("currency", text))
    }
}

impl ToSql for Weekdays {
    fn to_sql(&self) -> Result<ToSqlOutput<'_>> {
        Ok(self.to_string().into())
    }
}

impl FromSql for Weekdays {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let text = value.as_str()?;
        text.split_ascii_whitespace().try_fold(Self::default(), |days, word| {
            word.parse::<Weekday>().map(|day| days.with(day)).map_err(|_| unreadable("day of the week", word))
        })
    }
}

/// Closed periods as ISO 8601 intervals with `;` between.
pub(super) struct Closed(pub(super) Vec<ClosedPeriod>);

/// The text of closed periods.
pub(super) fn closed_text(periods: &[ClosedPeriod]) -> String {
    periods.iter().map(ToString::to_string).collect::<Vec<_>>().join(";")
}

impl FromSql for Closed {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let text = value.as_str()?;
        let period = |part: &str| {
            let (from, to) = part.split_once('/')?;
            Some(ClosedPeriod { from: from.parse().ok()?, to: to.parse().ok()? })
        };
        let periods = text.split(';').filter(|part| !part.is_empty()).map(period).collect::<Option<Vec<_>>>();
        periods.map(Self).ok_or_else(|| unreadable("list of closed periods", text))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_never_written_is_not_read() {
        fn refused<T: FromSql>(text: &str) -> bool {
            T::column_result(ValueRef::from(text)).is_err()
        }
        assert!(refused::<Span>("18 months") && refused::<Span>("P18M") && refused::<Span>("P-1M0D"));
        assert!(refused::<Day>("2027-02-30") && refused::<Currency>("eur") && refused::<Unit>("kg"));
        assert!(refused::<Weekdays>("Mon Xyz") && refused::<Closed>("2027-01-01"));
    }
}
