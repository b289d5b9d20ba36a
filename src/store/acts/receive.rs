//! A parcel becomes lots.

use super::super::changes::Spot;
use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Because, unit_of, write_movement};
use super::super::{Stamp, Writing, rows};
use crate::book::rows::{LotRow, MovementKind, MovementRow};
use crate::plan::money::Price;
use crate::plan::quantity::Quantity;
use crate::plan::rounding::largest_remainder;
use rusqlite::{OptionalExtension, params};

/// Packs of an order line that have come with a lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PacksReceived {
    /// The size of the pack, as in the order line, in the material's unit.
    pub pack: Quantity,
    /// How many have come; above 0.
    pub packs: i64,
}

/// A lot of a parcel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Parcel {
    /// The lot; its cost is what the goods alone cost.
    pub lot: LotRow,
    /// The packs of its order's line that have come with it.
    pub packs: Option<PacksReceived>,
}

impl Writing<'_> {
    /// Receives a new lot with its whole amount and cost. With `packs`, they are part or all of what is still to come
    /// on the line of the lot's material in the lot's order; a lot may name its order without.
    ///
    /// # Errors
    /// [`Refusal::Taken`], [`Refusal::Unknown`], [`Refusal::NotAboveZero`], [`Refusal::NoSuchLine`],
    /// [`Refusal::NothingOpen`], [`Refusal::MorePacks`], [`Refusal::OtherSupplier`], and whatever keeps the file from
    /// being written.
    pub fn receive(&self, lot: &LotRow, packs: Option<PacksReceived>, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            let act = Act::begin(self.connection(), "receive", &lot.lot, stamp)?;
            self.receive_one(&act, lot, packs, stamp)
        })
    }

    /// Receives the lots of a parcel in one act, each with its landed cost: what its goods cost, and its share of
    /// `postage_and_duty` by that value (largest remainder). Where all goods were free, the lots share alike. Returns
    /// the lots as they were written.
    ///
    /// # Errors
    /// As [`Writing::receive`], [`Refusal::NothingNamed`], [`Refusal::OtherCurrency`], [`Refusal::Negative`].
    pub fn receive_parcel(
        &self,
        parcel: &[Parcel],
        postage_and_duty: Price,
        stamp: &Stamp,
    ) -> Result<Vec<LotRow>, StoreError> {
        self.whole(|| {
            let Some(first) = parcel.first() else {
                return Err(Refusal::NothingNamed { what: "parcel" }.into());
            };
            if postage_and_duty < Price::ZERO {
                return Err(Refusal::Negative { what: "postage and duty".to_owned() }.into());
            }
            let currency = first.lot.currency;
            if let Some(other) = parcel.iter().find(|part| part.lot.currency != currency) {
                let (lot, given) = (other.lot.lot.clone(), other.lot.currency);
                return Err(Refusal::OtherCurrency { lot, given, currency }.into());
            }
            let goods: Vec<i64> = parcel.iter().map(|part| part.lot.cost.minor).collect();
            let weights = if goods.iter().all(|&cost| cost == 0) { vec![1; goods.len()] } else { goods };
            let shares = largest_remainder(postage_and_duty.minor, &weights);
            let act = Act::begin(self.connection(), "receive", &first.lot.lot, stamp)?;
            let landed = parcel.iter().zip(shares).map(|(part, share)| {
                let cost = Price { minor: part.lot.cost.minor.saturating_add(share) };
                let lot = LotRow { cost, ..part.lot.clone() };
                self.receive_one(&act, &lot, part.packs, stamp)?;
                Ok(lot)
            });
            landed.collect()
        })
    }

    fn receive_one(
        &self,
        act: &Act<'_>,
        lot: &LotRow,
        packs: Option<PacksReceived>,
        stamp: &Stamp,
    ) -> Result<(), StoreError> {
        self.check_new_lot(lot)?;
        if !lot.order.is_empty() {
            self.check_supplier(lot)?;
        }
        if let Some(packs) = packs {
            self.take_packs(act, lot, packs)?;
        }
        rows::lots(self.connection(), &[lot])?;
        let receipt = act.movement(MovementKind::Receipt, &lot.lot, lot.amount.0, lot.cost.minor)?;
        let day = lot.received.unwrap_or(stamp.day);
        write_movement(self.connection(), &MovementRow { day, ..receipt })
    }

    /// Refuses a lot whose code is taken, that is of nothing known, or of nothing at all.
    pub(super) fn check_new_lot(&self, lot: &LotRow) -> Result<(), StoreError> {
        if self.exists("SELECT 1 FROM lots WHERE lot = ?1", &lot.lot)? {
            return Err(Refusal::Taken { what: "lot", code: lot.lot.clone() }.into());
        }
        self.must_exist("item", "SELECT 1 FROM items WHERE code = ?1", &lot.material)?;
        if !lot.supplier.is_empty() {
            self.must_exist("supplier", "SELECT 1 FROM suppliers WHERE code = ?1", &lot.supplier)?;
        }
        if lot.amount <= Quantity::ZERO {
            return Err(Refusal::NotAboveZero { what: format!("the amount of lot {}", lot.lot) }.into());
        }
        if lot.cost < Price::ZERO {
            return Err(Refusal::Negative { what: format!("the cost of lot {}", lot.lot) }.into());
        }
        Ok(())
    }

    fn check_supplier(&self, lot: &LotRow) -> Result<(), StoreError> {
        let sql = "SELECT supplier FROM orders WHERE code = ?1";
        let supplier = self.connection().prepare_cached(sql)?.query_row([&lot.order], |row| row.get::<_, String>(0));
        match supplier.optional()? {
            None => Err(Refusal::Unknown { what: "order", code: lot.order.clone() }.into()),
            Some(supplier) if supplier == lot.supplier => Ok(()),
            Some(supplier) => {
                Err(Refusal::OtherSupplier { order: lot.order.clone(), supplier, given: lot.supplier.clone() }.into())
            }
        }
    }

    fn take_packs(
        &self,
        act: &Act<'_>,
        lot: &LotRow,
        PacksReceived { pack, packs }: PacksReceived,
    ) -> Result<(), StoreError> {
        if packs <= 0 {
            return Err(Refusal::NotAboveZero { what: "the number of packs".to_owned() }.into());
        }
        let (order, material) = (lot.order.clone(), lot.material.clone());
        let sql = "SELECT packs - packs_received, cancelled, packs_received FROM order_lines
            WHERE order_code = ?1 AND material = ?2 AND pack = ?3";
        let line = self.connection().prepare_cached(sql)?.query_row(params![order, material, pack], |row| {
            Ok((row.get::<_, i64>(0)?, row.get::<_, bool>(1)?, row.get::<_, i64>(2)?))
        });
        let before = match line.optional()? {
            None => {
                let unit = unit_of(self.connection(), &material)?;
                return Err(Refusal::NoSuchLine { order, material, pack, unit }.into());
            }
            Some((_, true, _)) => return Err(Refusal::NothingOpen { order }.into()),
            Some((open, false, _)) if packs > open => {
                return Err(Refusal::MorePacks { order, material, open, asked: packs }.into());
            }
            Some((_, false, received)) => received,
        };
        let part = rows::order_part(&material, pack);
        let after = before.saturating_add(packs).to_string();
        act.change(Spot::order(&order, &part, "packs_received"), &after, Because::default())
    }

    /// True where the query finds the code.
    pub(super) fn exists(&self, sql: &str, code: &str) -> Result<bool, StoreError> {
        Ok(self.connection().prepare_cached(sql)?.exists([code])?)
    }

    /// Refuses a code that the query does not find.
    pub(super) fn must_exist(&self, what: &'static str, sql: &str, code: &str) -> Result<(), StoreError> {
        if self.exists(sql, code)? {
            return Ok(());
        }
        Err(Refusal::Unknown { what, code: code.to_owned() }.into())
    }
}
