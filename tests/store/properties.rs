//! Properties: random books come back as they went in; whatever is done, the ledger adds up.

use super::invented::{Chance, batch, lot, making, new_store, order, random, small, stamp, store_of};
use proptest::prelude::*;
use rusqlite::Connection;
use std::collections::BTreeMap;
use stillroom::book::rows::{LotRow, MovementKind, PlanRow};
use stillroom::book::{Book, Journal, Standing};
use stillroom::plan::quantity::Quantity;
use stillroom::store::{PacksReceived, Refusal, Store, StoreError};

/// The rows of `newer` over those of `older`, by key and in the order of the keys.
fn over<Row: Clone, Key: Ord>(older: &[Row], newer: &[Row], key: impl Fn(&Row) -> Key) -> Vec<Row> {
    let rows: BTreeMap<Key, Row> = older.iter().chain(newer).map(|row| (key(row), row.clone())).collect();
    rows.into_values().collect()
}

/// The groups of `newer` over those of `older`, each whole.
fn groups_over<Row: Clone, Key: Ord>(older: &[Row], newer: &[Row], key: impl Fn(&Row) -> Key) -> Vec<Row> {
    let mut groups: BTreeMap<Key, Vec<Row>> = BTreeMap::new();
    for row in older.iter().filter(|row| newer.iter().all(|other| key(other) != key(row))).chain(newer) {
        groups.entry(key(row)).or_default().push(row.clone());
    }
    groups.into_values().flatten().collect()
}

/// As an import merges: the plan of the file goes after what it does not name.
fn merged(older: &Book, newer: &Book) -> Book {
    let named = |row: &&PlanRow| newer.plan.iter().all(|other| other.entry != row.entry);
    Book {
        materials: over(&older.materials, &newer.materials, |row| row.code.clone()),
        suppliers: over(&older.suppliers, &newer.suppliers, |row| row.code.clone()),
        postage: over(&older.postage, &newer.postage, |row| (row.supplier.clone(), row.from)),
        offers: over(&older.offers, &newer.offers, |row| {
            (row.supplier.clone(), row.material.clone(), row.pack, row.from_packs)
        }),
        rates: over(&older.rates, &newer.rates, |row| (row.currency, row.date)),
        lots: over(&older.lots, &newer.lots, |row| row.lot.clone()),
        orders: over(&older.orders, &newer.orders, |row| (row.order.clone(), row.material.clone(), row.pack)),
        formula_lines: groups_over(&older.formula_lines, &newer.formula_lines, |row| {
            (row.formula.clone(), row.version.clone())
        }),
        premixes: over(&older.premixes, &newer.premixes, |row| row.code.clone()),
        products: over(&older.products, &newer.products, |row| row.code.clone()),
        packaging: groups_over(&older.packaging, &newer.packaging, |row| row.product.clone()),
        plan: older.plan.iter().filter(named).chain(&newer.plan).cloned().collect(),
        wishes: over(&older.wishes, &newer.wishes, |row| row.wish.clone()),
    }
}

fn import(store: &mut Store, book: &Book) {
    let writing = store.writing().unwrap();
    writing.apply(&writing.book().unwrap(), book, &Journal::default(), &stamp()).unwrap();
    writing.commit().unwrap();
}

fn as_received(lots: &[LotRow]) -> Vec<Standing> {
    let standing = |lot: &LotRow| Standing { lot: lot.lot.clone(), on_hand: lot.amount, cost: lot.cost, moved: false };
    lots.iter().map(standing).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_random_book_comes_back_and_a_second_import_changes_nothing(first: u64, second: u64) {
        let (_folder, path, mut store) = new_store();
        let watch = Connection::open(&path).unwrap();
        let version = || watch.query_row("PRAGMA data_version", [], |row| row.get::<_, i64>(0)).unwrap();
        let mut book = Book::default();
        for seed in [first, second] {
            book = merged(&book, &random(seed));
            let before = version();
            import(&mut store, &book);
            let after = version();
            prop_assert_ne!(before, after);
            prop_assert_eq!(&store.book().unwrap(), &book);
            prop_assert_eq!(store.standings().unwrap(), as_received(&book.lots));
            let journal = store.journal().unwrap();
            import(&mut store, &book);
            prop_assert_eq!(version(), after, "the second import wrote something");
            prop_assert_eq!(store.journal().unwrap(), journal);
        }
    }

    #[test]
    fn whatever_is_done_the_ledger_adds_up(seed: u64, acts in 1_usize..40) {
        let (_folder, _path, mut store) = store_of(&small());
        let mut chance = Chance(seed);
        let mut model = Model::default();
        for lot in &small().lots {
            model.lots.insert(lot.lot.clone(), (i128::from(lot.amount.0), i128::from(lot.cost.minor)));
        }
        for number in 0..acts {
            model.act(&mut store, &mut chance, number);
        }
        let standings = store.standings().unwrap();
        prop_assert_eq!(&model.standings(), &told(&standings));
        let journal = store.journal().unwrap();
        let mut sums: BTreeMap<String, (i128, i128)> = BTreeMap::new();
        for (row, expected) in journal.ledger.iter().zip(1..) {
            prop_assert_eq!(row.movement, expected);
            let sum = sums.entry(row.lot.clone()).or_default();
            *sum = (sum.0 + i128::from(row.amount), sum.1 + i128::from(row.cost));
            prop_assert!(sum.0 >= 0 && sum.1 >= 0, "lot {} went below nothing", row.lot);
            // All draws of a lot add up to its cost: what is used up is paid for.
            prop_assert!(sum.0 > 0 || sum.1 == 0, "lot {} is empty and still worth {}", row.lot, sum.1);
        }
        prop_assert_eq!(&sums, &told(&standings));
        let moved: BTreeMap<_, _> = standings.iter().map(|standing| (standing.lot.clone(), standing.moved)).collect();
        for (lot, moved) in moved {
            let used = journal.ledger.iter().any(|row| row.lot == lot && row.kind != MovementKind::Receipt);
            prop_assert_eq!(moved, used);
        }
        // What is exported imports into an empty store as an equal one.
        let book = store.book().unwrap();
        let (_other_folder, _other_path, mut other) = new_store();
        let writing = other.writing().unwrap();
        writing.apply(&Book::default(), &book, &journal, &stamp()).unwrap();
        writing.commit().unwrap();
        prop_assert_eq!(other.book().unwrap(), book);
        prop_assert_eq!(other.journal().unwrap(), journal);
        prop_assert_eq!(other.standings().unwrap(), standings);
    }
}

fn told(standings: &[Standing]) -> BTreeMap<String, (i128, i128)> {
    let told = |standing: &Standing| (i128::from(standing.on_hand.0), i128::from(standing.cost.minor));
    standings.iter().map(|standing| (standing.lot.clone(), told(standing))).collect()
}

/// A naive model of the stock: amount and cost of each lot, without a database.
#[derive(Default)]
struct Model {
    lots: BTreeMap<String, (i128, i128)>,
    /// What counts have taken of each lot, amount and cost, less what they gave back.
    lost: BTreeMap<String, (i128, i128)>,
    used: Vec<String>,
}

impl Model {
    fn standings(&self) -> BTreeMap<String, (i128, i128)> {
        self.lots.clone()
    }

    /// `part` of `whole` of the cost, to the nearest, half up: in rational numbers, twice the share is compared.
    fn share(cost: i128, part: i128, whole: i128) -> i128 {
        let floor = cost * part / whole;
        if 2 * (cost * part - floor * whole) >= whole { floor + 1 } else { floor }
    }

    fn some_lot(&self, chance: &mut Chance) -> String {
        self.lots.keys().nth(chance.below(self.lots.len() as i64) as usize).unwrap().clone()
    }

    fn act(&mut self, store: &mut Store, chance: &mut Chance, number: usize) {
        match chance.below(6) {
            0 => self.receive(store, chance),
            1 | 2 => self.make(store, chance, number),
            3 => self.count(store, chance),
            4 => self.correct(store, chance),
            _ => {
                let writing = store.writing().unwrap();
                writing.place_order(&[order(&format!("N{number}"), 0, "m00", 3)], &stamp()).unwrap();
                // Dropped, it leaves nothing.
                if chance.coin() {
                    writing.commit().unwrap();
                }
            }
        }
    }

    fn receive(&mut self, store: &mut Store, chance: &mut Chance) {
        let writing = store.writing().unwrap();
        let code = writing.next_lot_code().unwrap();
        let (amount, cost) = (1 + chance.below(40), chance.below(1_000));
        let mut row = lot(&code, "m00", amount, cost);
        let open = writing.book().unwrap().orders.into_iter().find(|row| row.packs > row.packs_received);
        let packs = open.map(|line| {
            row.order = line.order;
            PacksReceived { pack: line.pack, packs: 1 }
        });
        writing.receive(&row, packs, &stamp()).unwrap();
        writing.commit().unwrap();
        assert!(self.lots.insert(code, (amount.into(), cost.into())).is_none());
    }

    /// Draws from up to three lots; where one holds less, nothing happens at all.
    fn make(&mut self, store: &mut Store, chance: &mut Chance, number: usize) {
        let draws: Vec<_> = (0..=chance.below(3))
            .map(|_| {
                let lot = self.some_lot(chance);
                let held = self.lots[&lot].0 as i64;
                let taken = if chance.below(4) == 0 { held } else { chance.below(held + 2) }.max(1);
                (lot, Quantity(taken))
            })
            .collect();
        let mut after = self.lots.clone();
        let enough = draws.iter().all(|(lot, taken)| {
            let (amount, cost) = after[lot];
            let taken = i128::from(taken.0);
            if taken > amount {
                return false;
            }
            after.insert(lot.clone(), (amount - taken, cost - Self::share(cost, taken, amount)));
            true
        });
        let writing = store.writing().unwrap();
        let listed: Vec<(&str, i64)> = draws.iter().map(|(lot, taken)| (lot.as_str(), taken.0)).collect();
        let outcome = writing.make(&making(batch(&format!("B{number}"), ""), &listed), &stamp());
        match outcome {
            Ok(costs) => {
                assert!(enough && costs.len() == draws.len());
                self.used.extend(draws.into_iter().map(|(lot, _)| lot));
                self.lots = after;
            }
            Err(StoreError::Refused(Refusal::HoldsLess { .. })) => assert!(!enough),
            Err(other) => panic!("{other}"),
        }
        writing.commit().unwrap();
    }

    fn count(&mut self, store: &mut Store, chance: &mut Chance) {
        let lot = self.some_lot(chance);
        let (amount, cost) = self.lots[&lot];
        let counted = i128::from(chance.below(2 * amount as i64 + 2));
        let writing = store.writing().unwrap();
        writing.count(&lot, Quantity(counted as i64), "stocktake", &stamp()).unwrap();
        writing.commit().unwrap();
        if counted == amount {
            return;
        }
        self.used.push(lot.clone());
        let lost = self.lost.entry(lot.clone()).or_default();
        let taken = if counted < amount {
            Self::share(cost, amount - counted, amount)
        } else if lost.0 > 0 && lost.1 > 0 {
            -Self::share(lost.1, (counted - amount).min(lost.0), lost.0)
        } else {
            0
        };
        *lost = (lost.0 + amount - counted, lost.1 + taken);
        self.lots.insert(lot, (counted, cost - taken));
    }

    /// An import that changes a lot: taken over where the lot was not used, refused where it was.
    fn correct(&mut self, store: &mut Store, chance: &mut Chance) {
        let lot = self.some_lot(chance);
        let mut book = store.book().unwrap();
        let row = book.lots.iter_mut().find(|row| row.lot == lot).unwrap();
        row.amount = Quantity(row.amount.0 + 1);
        row.cost.minor = chance.below(1_000);
        let expected = (i128::from(row.amount.0), i128::from(row.cost.minor));
        let writing = store.writing().unwrap();
        let outcome = writing.apply(&writing.book().unwrap(), &book, &Journal::default(), &stamp());
        if self.used.contains(&lot) {
            assert!(matches!(outcome, Err(StoreError::Refused(Refusal::Moved { .. }))));
        } else {
            assert_eq!(outcome.unwrap().corrected, std::slice::from_ref(&lot));
            self.lots.insert(lot, expected);
        }
        writing.commit().unwrap();
    }
}
