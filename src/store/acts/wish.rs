//! Wishes about the reorder list: kept until they are lifted.

use super::super::changes::Spot;
use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Because};
use super::super::{Stamp, Writing, rows};
use crate::book::rows::WishRow;

impl Writing<'_> {
    /// Keeps a wish; its code is new.
    ///
    /// # Errors
    /// [`Refusal::Taken`], [`Refusal::Unknown`], and whatever keeps the file from being written.
    pub fn keep_wish(&self, wish: &WishRow, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            if self.exists("SELECT 1 FROM wishes WHERE wish = ?1", &wish.wish)? {
                return Err(Refusal::Taken { what: "wish", code: wish.wish.clone() }.into());
            }
            if !wish.supplier.is_empty() {
                self.must_exist("supplier", "SELECT 1 FROM suppliers WHERE code = ?1", &wish.supplier)?;
            }
            if !wish.material.is_empty() {
                self.must_exist("material", "SELECT 1 FROM materials WHERE code = ?1", &wish.material)?;
            }
            rows::wish(self.connection(), wish)?;
            let act = Act::begin(self.connection(), "keep-wish", &wish.wish, stamp)?;
            act.made(Spot::wish(&wish.wish), Because { who: "", reason: &wish.reason })
        })
    }

    /// Lifts a wish: it no longer counts.
    ///
    /// # Errors
    /// [`Refusal::Unknown`] where no such wish is kept, and whatever keeps the file from being written.
    pub fn lift_wish(&self, wish: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            self.must_exist("wish", "SELECT 1 FROM wishes WHERE wish = ?1 AND lifted = 0", wish)?;
            let act = Act::begin(self.connection(), "lift-wish", wish, stamp)?;
            act.change(Spot::wish(wish), "", Because::default())
        })
    }
}
