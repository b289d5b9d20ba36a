//! The next free codes of lots, orders, batches, plan entries and wishes. No code is given twice, also not one that was
//! dropped or cancelled: rows of these kinds are never deleted.

use super::Reading;
use super::error::StoreError;
use super::load::all;
use chrono::{Datelike, NaiveDate};

impl Reading<'_> {
    /// `L-0042`.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn next_lot_code(&self) -> Result<String, StoreError> {
        self.next("L-", "SELECT lot FROM lots WHERE lot >= ?1 AND lot < ?2")
    }

    /// `O-2027-0007`, with the year of `day`.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn next_order_code(&self, day: NaiveDate) -> Result<String, StoreError> {
        self.next(&format!("O-{}-", day.year()), "SELECT code FROM orders WHERE code >= ?1 AND code < ?2")
    }

    /// `B-2027-0012`, with the year of `day`.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn next_batch_number(&self, day: NaiveDate) -> Result<String, StoreError> {
        self.next(&format!("B-{}-", day.year()), "SELECT batch FROM batches WHERE batch >= ?1 AND batch < ?2")
    }

    /// `P-0061`. Entries that batches name count as well: their plan may not have been imported.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn next_entry_code(&self) -> Result<String, StoreError> {
        let sql = "SELECT entry FROM plan WHERE entry >= ?1 AND entry < ?2
            UNION ALL SELECT entry FROM batches WHERE entry <> '' AND entry >= ?1 AND entry < ?2";
        self.next("P-", sql)
    }

    /// `W-0003`.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn next_wish_code(&self) -> Result<String, StoreError> {
        self.next("W-", "SELECT wish FROM wishes WHERE wish >= ?1 AND wish < ?2")
    }

    /// One more than the highest number after the prefix, which ends with a hyphen, among the codes that `sql` lists.
    /// A maker's own codes that go on otherwise than with digits do not count.
    fn next(&self, prefix: &str, sql: &str) -> Result<String, StoreError> {
        // '.' follows '-': the bounds let the index find the codes with the prefix.
        let end = format!("{}.", prefix.trim_end_matches('-'));
        let used = all(self.connection(), sql, [prefix, &end], |row| row.get::<_, String>(0))?;
        let highest = used.iter().filter_map(|code| number_of(code.strip_prefix(prefix)?)).max().unwrap_or(0);
        Ok(format!("{prefix}{:04}", highest + 1))
    }
}

/// Eighteen digits are more than any workshop counts to, and one more still fits.
fn number_of(digits: &str) -> Option<u64> {
    let plain = !digits.is_empty() && digits.len() <= 18 && digits.bytes().all(|byte| byte.is_ascii_digit());
    if plain { digits.parse().ok() } else { None }
}
