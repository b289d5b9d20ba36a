//! An import: the rows that differ are written, new lots are received, a ledger that came along is taken over.

use super::bench::STANDS;
use super::error::{Refusal, StoreError};
use super::ledger::{Act, held, write_movement, write_receipts};
use super::load::all;
use super::read::{MOVEMENTS, movement};
use super::{Stamp, Writing, rows};
use crate::book::rows::{LotRow, MovementKind, MovementRow, OfferRow, OrderRow};
use crate::book::{Book, Journal};
use hashbrown::{HashMap, HashSet};
use rusqlite::Connection;
use std::collections::{BTreeMap, BTreeSet};
use std::hash::Hash;

/// What an import did besides what the two books tell.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Applied {
    /// New lots that were received, in the order of their codes.
    pub received: Vec<String>,
    /// Lots, not used so far, whose receipt was reversed and written anew.
    pub corrected: Vec<String>,
    /// Plan entries that have been made, and so were left as they are.
    pub made: Vec<String>,
}

impl Writing<'_> {
    /// Brings the store from `existing`, the whole book as this transaction reads it, to `merged`, and takes over what is new
    /// of `journal`. Only rows that differ are written. Lines of a formula version and of a product's packaging are
    /// replaced whole; bands of postage, offers and order lines that `merged` no longer holds are taken out; nothing
    /// else is deleted. A new lot is received with its whole amount and cost, all in one
    /// act, unless the journal brings movements of it.
    ///
    /// # Errors
    /// [`Refusal::HomeCurrency`], [`Refusal::Moved`], [`Refusal::UnitChanged`], [`Refusal::Differs`],
    /// [`Refusal::HoldsLess`], and whatever keeps the file from being written.
    pub fn apply(
        &self,
        existing: &Book,
        merged: &Book,
        journal: &Journal,
        stamp: &Stamp,
    ) -> Result<Applied, StoreError> {
        self.whole(|| {
            self.apply_settings(journal)?;
            self.apply_static_rows(existing, merged)?;
            let changed_lots = changed(&existing.lots, &merged.lots, |row| row.lot.as_str());
            rows::lots(self.connection(), &changed_lots)?;
            let mut act = None;
            let brought = self.take_over(journal, stamp, &mut act)?;
            let made = self.apply_plan(existing, merged)?;
            let mut applied = Applied { made, ..Applied::default() };
            self.receive_changed(existing, &changed_lots, &brought, (stamp, &mut act), &mut applied)?;
            Ok(applied)
        })
    }

    fn apply_settings(&self, journal: &Journal) -> Result<(), StoreError> {
        for row in &journal.settings {
            if row.setting == "home_currency" {
                let store = self.home()?;
                if row.value != store.code() {
                    return Err(Refusal::HomeCurrency { store, files: row.value.clone() }.into());
                }
            } else {
                rows::setting(self.connection(), row)?;
            }
        }
        Ok(())
    }

    /// Everything of the book but lots and plan.
    fn apply_static_rows<'row>(&self, existing: &'row Book, merged: &'row Book) -> Result<(), StoreError> {
        let connection = self.connection();
        self.take_out_replaced(existing, merged)?;
        for row in changed(&existing.materials, &merged.materials, |row| &row.code) {
            rows::material(connection, row)?;
        }
        for row in changed(&existing.premixes, &merged.premixes, |row| &row.code) {
            rows::premix(connection, row)?;
        }
        for row in changed(&existing.suppliers, &merged.suppliers, |row| &row.code) {
            rows::supplier(connection, row)?;
        }
        for row in changed(&existing.postage, &merged.postage, |row| (&row.supplier, row.from)) {
            rows::postage(connection, row)?;
        }
        let key = |row: &'row OfferRow| (&row.supplier, &row.material, row.pack, row.from_packs);
        rows::offers(connection, &changed(&existing.offers, &merged.offers, key), || self.told())?;
        for row in changed(&existing.rates, &merged.rates, |row| (row.currency, row.date)) {
            rows::rate(connection, row)?;
        }
        one_supplier_each(&merged.orders)?;
        for row in changed(&existing.orders, &merged.orders, |row| (&row.order, &row.material, row.pack)) {
            rows::order(connection, row)?;
        }
        for row in changed(&existing.wishes, &merged.wishes, |row| &row.wish) {
            rows::wish(connection, row)?;
        }
        let version = changed_groups(&existing.formula_lines, &merged.formula_lines, |row| {
            (row.formula.as_str(), row.version.as_str())
        });
        for (key, lines) in version {
            rows::formula_version(connection, key, lines.into_iter())?;
        }
        for row in changed(&existing.products, &merged.products, |row| &row.code) {
            rows::product(connection, row)?;
        }
        for (product, lines) in changed_groups(&existing.packaging, &merged.packaging, |row| row.product.as_str()) {
            rows::product_packaging(connection, product, lines.into_iter())?;
        }
        Ok(())
    }

    /// What the files have put something else in the place of: bands of postage of the other kind, a pack whose amount
    /// is another one since the material's density was put right.
    fn take_out_replaced(&self, existing: &Book, merged: &Book) -> Result<(), StoreError> {
        let connection = self.connection();
        for row in gone(&existing.postage, &merged.postage, |row| (&row.supplier, row.from)) {
            rows::take_out_postage(connection, row)?;
        }
        for row in
            gone(&existing.offers, &merged.offers, |row| (&row.supplier, &row.material, row.pack, row.from_packs))
        {
            rows::take_out_offer(connection, row)?;
        }
        for row in gone(&existing.orders, &merged.orders, |row| (&row.order, &row.material, row.pack)) {
            rows::take_out_order_line(connection, row)?;
        }
        Ok(())
    }

    /// Writes the plan so that it reads in the order of `merged`: an entry keeps its rank where the order allows it,
    /// so that a plan that grows at its end is not written anew. Returns the entries that have been made.
    fn apply_plan(&self, existing: &Book, merged: &Book) -> Result<Vec<String>, StoreError> {
        let connection = self.connection();
        let read = |row: &rusqlite::Row<'_>| Ok((row.get::<_, String>(0)?, row.get::<_, i64>(1)?));
        let ranks: HashMap<_, _> = all(connection, "SELECT entry, rank FROM plan", [], read)?.into_iter().collect();
        let known: HashMap<_, _> = existing.plan.iter().map(|row| (row.entry.as_str(), row)).collect();
        let (mut made, mut written) = (Vec::new(), Vec::new());
        let mut last = 0;
        for row in &merged.plan {
            let before = ranks.get(&row.entry).copied();
            let rank = before.unwrap_or(0).max(last + 1);
            last = rank;
            let known = known.get(row.entry.as_str()).copied();
            self.told();
            if before == Some(rank) && known == Some(row) {
                continue;
            }
            // What has been made stays as it was planned; of a store that was lost it comes back with its batch.
            if before.is_some() && known != Some(row) && self.is_made(&row.entry)? {
                made.push(row.entry.clone());
            } else {
                written.push((row, rank));
            }
        }
        rows::plan(connection, &written)?;
        Ok(made)
    }

    /// True where a batch that stands fulfils the plan entry.
    pub(super) fn is_made(&self, entry: &str) -> Result<bool, StoreError> {
        let sql = "SELECT EXISTS (
            SELECT 1 FROM batches WHERE entry = ?1 AND entry <> '' AND fulfils_entry = 1 AND undone = 0
        )";
        Ok(self.connection().prepare_cached(sql)?.query_row([entry], |row| row.get(0))?)
    }

    /// Receives the new ones among `lots`, and corrects the receipts of those whose amount or cost changed, but for
    /// those whose movements the import brought along.
    fn receive_changed<'row>(
        &'row self,
        existing: &Book,
        lots: &[&LotRow],
        brought: &BTreeSet<&str>,
        (stamp, act): (&'row Stamp, &mut Option<Act<'row>>),
        applied: &mut Applied,
    ) -> Result<(), StoreError> {
        let connection = self.connection();
        let known: HashMap<_, _> = existing.lots.iter().map(|row| (row.lot.as_str(), row)).collect();
        let mut new = Vec::new();
        for lot in lots.iter().filter(|lot| !brought.contains(lot.lot.as_str())) {
            let Some(before) = known.get(lot.lot.as_str()) else {
                new.push(*lot);
                continue;
            };
            let is_worth_the_same = worth(before) == worth(lot);
            if is_worth_the_same && before.material == lot.material {
                continue;
            }
            if held(connection, &lot.lot)?.moved {
                return Err(Refusal::Moved { lot: lot.lot.clone() }.into());
            }
            if is_worth_the_same {
                continue;
            }
            let act = import_act(connection, act, stamp)?;
            reverse_receipts(connection, act, &lot.lot)?;
            // A correction is of today.
            write_movement(connection, &act.movement(MovementKind::Receipt, &lot.lot, lot.amount.0, lot.cost.minor)?)?;
            self.told();
            applied.corrected.push(lot.lot.clone());
        }
        if !new.is_empty() {
            let act = import_act(connection, act, stamp)?;
            write_receipts(connection, act, &new, || self.told())?;
            applied.received.extend(new.iter().map(|lot| lot.lot.clone()));
        }
        Ok(())
    }
}

/// The act of this import, begun where nothing was done in it so far.
pub(super) fn import_act<'act, 'store>(
    connection: &'store Connection,
    act: &'act mut Option<Act<'store>>,
    stamp: &'store Stamp,
) -> Result<&'act mut Act<'store>, StoreError> {
    match act {
        Some(act) => Ok(act),
        none => Ok(none.insert(Act::begin(connection, "import", "", stamp)?)),
    }
}

/// What the receipt of a lot says.
fn worth(lot: &LotRow) -> (i64, i64, &str) {
    (lot.amount.0, lot.cost.minor, lot.currency.code())
}

/// Takes back every receipt of the lot that stands.
fn reverse_receipts(connection: &Connection, act: &Act<'_>, lot: &str) -> Result<(), StoreError> {
    let sql = format!("{MOVEMENTS} WHERE lot = ?1 AND movements.kind = 'receipt' AND {STANDS} ORDER BY movement");
    for receipt in all(connection, &sql, [lot], movement)? {
        let reversal = act.movement(MovementKind::Receipt, lot, -receipt.amount, -receipt.cost)?;
        let reason = "corrected by an import".to_owned();
        write_movement(connection, &MovementRow { reverses: Some(receipt.movement), reason, ..reversal })?;
    }
    Ok(())
}

fn one_supplier_each(orders: &[OrderRow]) -> Result<(), StoreError> {
    let mut suppliers = BTreeMap::new();
    for row in orders {
        let supplier: &mut &str = suppliers.entry(&row.order).or_insert(&row.supplier);
        if *supplier != row.supplier {
            let (order, supplier, given) = (row.order.clone(), (*supplier).to_owned(), row.supplier.clone());
            return Err(Refusal::OtherSupplier { order, supplier, given }.into());
        }
    }
    Ok(())
}

/// The rows of `after` that `before` does not have, or has otherwise.
fn changed<'row, Row: PartialEq, Key: Eq + Hash>(
    before: &'row [Row],
    after: &'row [Row],
    key: impl Fn(&'row Row) -> Key,
) -> Vec<&'row Row> {
    let known: HashMap<Key, &Row> = before.iter().map(|row| (key(row), row)).collect();
    after.iter().filter(|row| known.get(&key(row)) != Some(row)).collect()
}

/// The rows of `before` whose key `after` does not have.
fn gone<'row, Row, Key: Eq + Hash>(
    before: &'row [Row],
    after: &'row [Row],
    key: impl Fn(&'row Row) -> Key,
) -> Vec<&'row Row> {
    // Most imports find an empty table, of which nothing can go.
    if before.is_empty() {
        return Vec::new();
    }
    let kept: HashSet<Key> = after.iter().map(&key).collect();
    before.iter().filter(|row| !kept.contains(&key(row))).collect()
}

/// The groups of `after` that `before` does not have, or has with other rows or in another order.
fn changed_groups<'row, Row: PartialEq, Key: Ord>(
    before: &'row [Row],
    after: &'row [Row],
    key: impl Fn(&'row Row) -> Key,
) -> BTreeMap<Key, Vec<&'row Row>> {
    let grouped = |rows: &'row [Row]| {
        let mut groups: BTreeMap<Key, Vec<&Row>> = BTreeMap::new();
        for row in rows {
            groups.entry(key(row)).or_default().push(row);
        }
        groups
    };
    let known = grouped(before);
    let mut groups = grouped(after);
    groups.retain(|key, rows| known.get(key) != Some(rows));
    groups
}
