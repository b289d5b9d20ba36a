//! The next free codes of lots, orders, batches, plan entries and wishes. No code is given twice, also not one that was
//! dropped or cancelled: rows of these kinds are never deleted.

use super::Reading;
use super::error::StoreError;
use super::load::all;
use chrono::{Datelike, NaiveDate};

/// Codes of one length, the highest first. Their conditions are those of the indexes that find them.
pub(super) const LOTS_OF_LENGTH: &str =
    "SELECT lot FROM lots WHERE lot GLOB 'L-[0-9]*' AND length(lot) = ?1 ORDER BY lot DESC";
pub(super) const ENTRIES_OF_LENGTH: &str =
    "SELECT entry FROM plan WHERE entry GLOB 'P-[0-9]*' AND length(entry) = ?1 ORDER BY entry DESC";
pub(super) const MADE_ENTRIES_OF_LENGTH: &str =
    "SELECT entry FROM batches WHERE entry GLOB 'P-[0-9]*' AND length(entry) = ?1 ORDER BY entry DESC";

impl Reading<'_> {
    /// `L-0042`.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn next_lot_code(&self) -> Result<String, StoreError> {
        self.next_of_all("L-", &[LOTS_OF_LENGTH])
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
        self.next_of_all("P-", &[ENTRIES_OF_LENGTH, MADE_ENTRIES_OF_LENGTH])
    }

    /// `W-0003`.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn next_wish_code(&self) -> Result<String, StoreError> {
        self.next("W-", "SELECT wish FROM wishes WHERE wish >= ?1 AND wish < ?2")
    }

    /// One more than the highest number after the prefix among the codes that the queries list, each of which lists those of
    /// the length ?1, the highest first. By index: only the first of each length that ends with digits is read.
    fn next_of_all(&self, prefix: &str, queries: &[&str]) -> Result<String, StoreError> {
        let mut highest = 0;
        for sql in queries {
            let mut statement = self.connection().prepare_cached(sql)?;
            for length in (1..=MOST_DIGITS).map(|digits| prefix.len() + digits) {
                let mut codes = statement.query([i64::try_from(length).unwrap_or(i64::MAX)])?;
                while let Some(row) = codes.next()? {
                    let code: String = row.get(0)?;
                    if let Some(number) = code.strip_prefix(prefix).and_then(number_of) {
                        highest = highest.max(number);
                        break;
                    }
                }
            }
        }
        Ok(numbered(prefix, highest + 1))
    }

    /// One more than the highest number after the prefix, which ends with a hyphen, among the codes that `sql` lists.
    /// A maker's own codes that go on otherwise than with digits do not count.
    fn next(&self, prefix: &str, sql: &str) -> Result<String, StoreError> {
        // '.' follows '-': the bounds let the index find the codes with the prefix.
        let end = format!("{}.", prefix.trim_end_matches('-'));
        let used = all(self.connection(), sql, [prefix, &end], |row| row.get::<_, String>(0))?;
        let highest = used.iter().filter_map(|code| number_of(code.strip_prefix(prefix)?)).max().unwrap_or(0);
        Ok(numbered(prefix, highest + 1))
    }
}

fn numbered(prefix: &str, number: u64) -> String {
    format!("{prefix}{number:04}")
}

/// Eighteen digits are more than any workshop counts to, and one more still fits.
const MOST_DIGITS: usize = 18;

fn number_of(digits: &str) -> Option<u64> {
    let plain = !digits.is_empty() && digits.len() <= MOST_DIGITS && digits.bytes().all(|byte| byte.is_ascii_digit());
    if plain { digits.parse().ok() } else { None }
}
