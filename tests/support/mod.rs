//! What the tests of the core share: a small random generator with fixed seeds, days by number, a workshop in few words.
#![allow(dead_code, reason = "each test takes what it needs")]

pub mod cases;
pub mod workshop;

use chrono::{Days, NaiveDate};
use serde_json::Value;

/// The day with a number: day 0 is the first of March 2027.
pub fn day(number: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, 3, 1).unwrap() + Days::new(number)
}

/// A day before day 0.
pub fn day_before(number: u64) -> NaiveDate {
    day(0) - Days::new(number)
}

/// Marsaglia's xorshift64*: the same numbers on every machine.
pub struct Random(u64);

impl Random {
    /// A generator that starts from `seed`.
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 16
    }

    /// A number from `low` to `high`, both possible.
    pub fn between(&mut self, low: u64, high: u64) -> u64 {
        low + self.next() % (high - low + 1)
    }

    /// The same as an amount.
    pub fn amount(&mut self, low: i64, high: i64) -> i64 {
        low + i64::try_from(self.next() % u64::try_from(high - low + 1).unwrap()).unwrap()
    }

    /// True so many times in a hundred.
    pub fn percent(&mut self, chance: u64) -> bool {
        self.next() % 100 < chance
    }
}

/// The cases of a file in tests/checks.
pub fn cases(file: &str) -> Vec<Value> {
    let path = format!("{}/tests/checks/{file}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
    let whole: Value = serde_json::from_str(&text).unwrap();
    whole["cases"].as_array().unwrap().clone()
}

/// A date of such a file.
pub fn date(value: &Value) -> NaiveDate {
    value.as_str().unwrap().parse().unwrap()
}

/// A whole number of such a file.
pub fn whole(value: &Value) -> i64 {
    value.as_i64().unwrap()
}
