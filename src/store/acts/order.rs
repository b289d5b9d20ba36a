//! Orders: placed, they are scheduled receipts; cancelled, what has not come will not.

use super::super::changes::Spot;
use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Because};
use super::super::load::all;
use super::super::{Stamp, Writing, rows};
use crate::book::rows::OrderRow;
use crate::plan::quantity::Quantity;
use std::collections::BTreeMap;

impl Writing<'_> {
    /// Places orders: all lines of one order, or of several, whose codes are new. Each order is an act.
    ///
    /// # Errors
    /// [`Refusal::Taken`] (also for two lines of the same pack), [`Refusal::Unknown`], [`Refusal::NotAboveZero`],
    /// [`Refusal::OtherSupplier`], and whatever keeps the file from being written.
    pub fn place_order(&self, lines: &[OrderRow], stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            let mut placed: BTreeMap<&str, (&str, Act<'_>)> = BTreeMap::new();
            for line in lines {
                match placed.get(line.order.as_str()) {
                    Some((supplier, _)) if *supplier == line.supplier => {}
                    Some((supplier, _)) => {
                        let (order, given) = (line.order.clone(), line.supplier.clone());
                        return Err(Refusal::OtherSupplier { order, supplier: (*supplier).to_owned(), given }.into());
                    }
                    None => {
                        if self.exists("SELECT 1 FROM orders WHERE code = ?1", &line.order)? {
                            return Err(Refusal::Taken { what: "order", code: line.order.clone() }.into());
                        }
                        self.must_exist("supplier", "SELECT 1 FROM suppliers WHERE code = ?1", &line.supplier)?;
                        let act = Act::begin(self.connection(), "place-order", &line.order, stamp)?;
                        placed.insert(&line.order, (&line.supplier, act));
                    }
                }
                self.must_exist("material", "SELECT 1 FROM materials WHERE code = ?1", &line.material)?;
                if line.packs <= 0 {
                    return Err(Refusal::NotAboveZero { what: format!("the packs of {}", line.material) }.into());
                }
                let same = |other: &&OrderRow| {
                    (&other.order, &other.material, other.pack) == (&line.order, &line.material, line.pack)
                };
                if lines.iter().filter(same).count() > 1 {
                    let code = format!("{} in order {}", line.material, line.order);
                    return Err(Refusal::Taken { what: "line of", code }.into());
                }
                rows::order(self.connection(), line)?;
                if let Some((_, act)) = placed.get(line.order.as_str()) {
                    act.made(
                        Spot::order(&line.order, &rows::order_part(&line.material, line.pack), "stands"),
                        Because::default(),
                    )?;
                }
            }
            Ok(())
        })
    }

    /// Cancels what of an order is still to come; what has been received stays.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::NothingOpen`], and whatever keeps the file from being written.
    pub fn cancel_order(&self, order: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            self.must_exist("order", "SELECT 1 FROM orders WHERE code = ?1", order)?;
            let sql = "SELECT material, pack FROM order_lines
                WHERE order_code = ?1 AND cancelled = 0 AND packs_received < packs ORDER BY material, pack";
            let read = |row: &rusqlite::Row<'_>| Ok((row.get::<_, String>(0)?, row.get::<_, Quantity>(1)?));
            let open = all(self.connection(), sql, [order], read)?;
            if open.is_empty() {
                return Err(Refusal::NothingOpen { order: order.to_owned() }.into());
            }
            let act = Act::begin(self.connection(), "cancel-order", order, stamp)?;
            for (material, pack) in open {
                act.change(Spot::order(order, &rows::order_part(&material, pack), "stands"), "", Because::default())?;
            }
            Ok(())
        })
    }
}
