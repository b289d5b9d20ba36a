//! The shelves, kept a second time: sums that the story adds up by hand.

use crate::opening::OPENING;
use std::collections::BTreeMap;

/// What every lot should hold, in milligrams or pieces.
pub struct Shelves {
    lots: BTreeMap<String, i64>,
}

impl Shelves {
    /// The first day.
    pub fn opening() -> Self {
        Self { lots: OPENING.iter().map(|(lot, amount)| ((*lot).to_owned(), *amount)).collect() }
    }

    /// A new lot.
    pub fn new_lot(&mut self, lot: &str, amount: i64) {
        assert!(self.lots.insert(lot.to_owned(), amount).is_none(), "lot {lot} is on the shelves already");
    }

    /// Some of a lot leaves.
    pub fn take(&mut self, lot: &str, amount: i64) {
        *self.held(lot) -= amount;
        assert!(*self.held(lot) >= 0, "the story takes more of {lot} than there is");
    }

    /// A lot turns out to hold something else.
    pub fn set(&mut self, lot: &str, amount: i64) {
        *self.held(lot) = amount;
    }

    /// What a lot should hold.
    pub fn of(&self, lot: &str) -> i64 {
        self.lots[lot]
    }

    /// All lots by code.
    pub fn all(&self) -> &BTreeMap<String, i64> {
        &self.lots
    }

    fn held(&mut self, lot: &str) -> &mut i64 {
        self.lots.get_mut(lot).unwrap_or_else(|| panic!("there is no lot {lot}"))
    }
}
