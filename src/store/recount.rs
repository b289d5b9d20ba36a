//! The ledger counted over: every movement is read once, in its order, and each lot's sum held against its balance.

use super::Reading;
use super::error::StoreError;
use super::health::Hurt;
use hashbrown::HashMap;
use std::collections::BTreeMap;

/// What a lot holds, and what that is worth in minor units.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
struct Sum {
    amount: i128,
    cost: i128,
}

impl Reading<'_> {
    /// Counts the ledger of lots over. Two laws are looked at: `lot-balances`, that each balance is what the movements of
    /// the lot add up to, and `never-below-nothing`, that no lot ever held less than nothing. Returns their breaches, in this
    /// order.
    ///
    /// One pass in the order of the ledger, not one for each law, nor by lot: an index would have to look up every line.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn recount(&self) -> Result<Vec<Hurt>, StoreError> {
        let mut below = Vec::new();
        let summed = self.sum_of_movements(&mut below)?;
        let mut kept: BTreeMap<String, Sum> = BTreeMap::new();
        let sql = "SELECT lots.lot, coalesce(on_hand, 0), coalesce(lot_balances.cost, 0)
            FROM lots LEFT JOIN lot_balances USING (lot)";
        let mut statement = self.connection().prepare_cached(sql)?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let sum = Sum { amount: row.get::<_, i64>(1)?.into(), cost: row.get::<_, i64>(2)?.into() };
            let lot = row.get_ref(0)?.as_bytes().map_err(rusqlite::Error::from)?;
            if summed.get(lot).copied().unwrap_or_default() != sum {
                kept.insert(row.get(0)?, sum);
            }
        }
        let wrong = |(lot, kept): (&String, &Sum)| {
            let sum = summed.get(lot.as_bytes()).copied().unwrap_or_default();
            Hurt {
                law: "lot-balances",
                message: format!(
                    "lot {lot}: its balance says {} worth {}, its movements add up to {} worth {}",
                    kept.amount, kept.cost, sum.amount, sum.cost
                ),
            }
        };
        Ok(kept.iter().map(wrong).chain(below).collect())
    }

    /// What the movements of each lot add up to. The names of lots are taken as bytes: that they are text is for other laws.
    fn sum_of_movements(&self, below: &mut Vec<Hurt>) -> Result<HashMap<Box<[u8]>, Sum>, StoreError> {
        let sql = "SELECT lot, amount, cost, movement FROM movements ORDER BY movement";
        let mut statement = self.connection().prepare_cached(sql)?;
        let mut rows = statement.query([])?;
        let mut sums: HashMap<Box<[u8]>, Sum> = HashMap::new();
        while let Some(row) = rows.next()? {
            let lot = row.get_ref(0)?.as_bytes().map_err(rusqlite::Error::from)?;
            let number = |place| row.get_ref(place)?.as_i64().map_err(rusqlite::Error::from);
            let (amount, cost): (i64, i64) = (number(1)?, number(2)?);
            let sum = match sums.get_mut(lot) {
                Some(sum) => sum,
                None => sums.entry(lot.into()).or_default(),
            };
            sum.amount += i128::from(amount);
            sum.cost += i128::from(cost);
            if sum.amount < 0 || sum.cost < 0 {
                let (held, worth, movement) = (sum.amount, sum.cost, row.get::<_, i64>(3)?);
                let lot = String::from_utf8_lossy(lot);
                let message = format!("lot {lot} holds {held} worth {worth} after movement {movement}");
                below.push(Hurt { law: "never-below-nothing", message });
            }
        }
        Ok(sums)
    }
}
