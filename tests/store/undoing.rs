//! Undoing: whatever was done, taking it back restores every balance and column, and doing it again restores those.

use super::invented::{Chance, batch, date, entry, lot, making, new_store, order, small, stamp, store_of, weighed};
use proptest::prelude::*;
use std::collections::BTreeMap;
use stillroom::book::rows::{BatchRow, LotRow, MovementKind, PieceKind, PremixRow};
use stillroom::book::{Book, PieceStanding, Standing};
use stillroom::intake::{check, read_paths, write_folder};
use stillroom::plan::model::{LotState, PlanAmount, PlanDay};
use stillroom::plan::money::{Currency, Price};
use stillroom::plan::quantity::{Percent, Quantity};
use stillroom::store::{Counted, Making, PacksReceived, Parcel, Refusal, Stamp, Store, StoreError, Writing};

/// The small workshop, and a premix of its oil.
pub fn workshop() -> Book {
    let mut book = small();
    book.premixes.push(PremixRow {
        code: "x0".to_owned(),
        formula: "salve".to_owned(),
        make_ahead_days: 0,
        loss: Percent::ZERO,
        life: None,
    });
    book
}

/// All that a maker sees: what undoing has to bring back.
#[derive(Debug, PartialEq)]
struct Sight {
    book: Book,
    standings: Vec<Standing>,
    pieces: Vec<PieceStanding>,
    undone: Vec<(String, bool)>,
}

impl Sight {
    fn of(store: &mut Store) -> Self {
        let reading = store.reading().unwrap();
        Self {
            book: reading.book().unwrap(),
            standings: reading.standings().unwrap(),
            pieces: reading.piece_balances().unwrap(),
            undone: reading.batches().unwrap().into_iter().map(|row| (row.batch, row.undone)).collect(),
        }
    }

    /// What was not there in `before` and is nothing now: lots without stock, cancelled orders, batches that were undone
    /// keep their codes. That a lot has moved cannot be unsaid.
    fn without_what_is_gone(mut self, before: &Self) -> Self {
        let known = |lot: &str| before.book.lots.iter().any(|row| row.lot == lot);
        for standing in self.standings.iter_mut() {
            let old = before.standings.iter().find(|row| row.lot == standing.lot);
            standing.moved = old.is_some_and(|row| row.moved);
        }
        self.standings.retain(|row| known(&row.lot) || !row.on_hand.is_zero() || row.cost != Price::ZERO);
        self.book.lots.retain(|row| known(&row.lot) || self.standings.iter().any(|standing| standing.lot == row.lot));
        self.book.orders.retain(|row| !row.cancelled || before.book.orders.iter().any(|old| old.order == row.order));
        self.undone.retain(|(batch, undone)| !undone || before.undone.iter().any(|(old, _)| old == batch));
        self.pieces.retain(|row| row.on_hand != 0 || before.pieces.iter().any(|old| old.batch == row.batch));
        self
    }
}

/// What always holds, told from the rows of the ledgers alone.
fn check_ledgers(store: &mut Store) {
    let journal = store.journal().unwrap();
    let mut sums: BTreeMap<String, (i128, i128)> = BTreeMap::new();
    let mut found: BTreeMap<String, i128> = BTreeMap::new();
    for row in &journal.ledger {
        let sum = sums.entry(row.lot.clone()).or_default();
        *sum = (sum.0 + i128::from(row.amount), sum.1 + i128::from(row.cost));
        assert!(sum.0 >= 0 && sum.1 >= 0, "lot {} went below nothing", row.lot);
        if row.kind == MovementKind::Count {
            *found.entry(row.lot.clone()).or_default() += i128::from(row.cost);
        }
    }
    for standing in store.standings().unwrap() {
        let (amount, cost) = sums[&standing.lot];
        assert_eq!((i128::from(standing.on_hand.0), i128::from(standing.cost.minor)), (amount, cost));
        // All that was drawn from a lot adds up to its cost once it is empty, and counts never make it worth more.
        assert!(amount > 0 || cost == 0, "lot {} is empty and worth {cost}", standing.lot);
        assert!(found.get(&standing.lot).is_none_or(|&found| found <= 0), "counts of {} gave too much", standing.lot);
    }
    let mut left: BTreeMap<String, i64> = BTreeMap::new();
    for row in &journal.pieces {
        let left = left.entry(row.batch.clone()).or_default();
        *left += row.pieces;
        assert!(*left >= 0);
    }
    let told = store.reading().unwrap().piece_balances().unwrap();
    assert_eq!(told.into_iter().map(|row| (row.batch, row.on_hand)).collect::<BTreeMap<_, _>>(), left);
}

/// Does one thing at random; true where something was written.
fn act(writing: &Writing<'_>, chance: &mut Chance, number: usize) -> bool {
    let lots: Vec<String> = writing.standings().unwrap().into_iter().map(|row| row.lot).collect();
    let some_lot = |chance: &mut Chance| lots[chance.below(lots.len() as i64) as usize].clone();
    let batches: Vec<String> = writing.batches().unwrap().into_iter().map(|row| row.batch).collect();
    let lot_code = some_lot(chance);
    let stamp = Stamp { day: date("2027-03-09") + chrono::Days::new(chance.below(20) as u64), ..stamp() };
    let amount = Quantity(1 + chance.below(9));
    let some = if chance.coin() { Some(amount) } else { None };
    let outcome = match chance.below(18) {
        0 => writing.open(&lot_code, &stamp),
        1 => writing.release(&lot_code, "Ada", "", &stamp),
        2 => writing.reject(&lot_code, "smells", &stamp),
        3 => writing.retest_passed(&lot_code, stamp.day + chrono::Days::new(90), "Ada", "peroxide value", &stamp),
        4 => writing.move_lot(&lot_code, &format!("shelf {}", chance.below(3)), &stamp),
        5 => writing.write_off(&lot_code, some, "rancid", &stamp).map(drop),
        6 => writing.return_to_supplier(&lot_code, some, "dented", &stamp).map(drop),
        7 => writing.decant(&lot_code, amount, None, &stamp).map(drop),
        8 => {
            let state = if chance.below(3) == 0 { LotState::Quarantine } else { LotState::Released };
            let row = |code: &str, chance: &mut Chance| LotRow {
                state,
                order: "O-2027-0001".to_owned(),
                ..lot(code, "m00", 1 + chance.below(20), chance.below(500))
            };
            let packs = if chance.coin() { Some(PacksReceived { pack: Quantity(250_000), packs: 1 }) } else { None };
            let parcel =
                [format!("N{number}"), format!("M{number}")].map(|code| Parcel { lot: row(&code, chance), packs });
            writing.receive_parcel(&parcel, Price { minor: chance.below(99) }, &stamp).map(drop)
        }
        9 => {
            let counted = |lot: &String, chance: &mut Chance| Counted {
                lot: lot.clone(),
                counted: Quantity(chance.below(30)),
                reason: "stocktake".to_owned(),
            };
            let rows: Vec<Counted> = lots.iter().take(2).map(|lot| counted(lot, chance)).collect();
            writing.stocktake(&rows, &stamp).map(drop)
        }
        10 => writing.place_order(&[order(&format!("Q{number}"), 0, "m00", 3)], &stamp),
        11 => writing.cancel_order("O-2027-0001", &stamp),
        12 => match chance.below(3) {
            0 => writing.plan_add(&[entry(&format!("E{number}"), "2027-04-01")], &stamp),
            1 => writing.plan_move("P-0001", PlanDay::ReadyBy(date("2027-05-01")), &stamp),
            _ => writing.plan_drop("P-0002", &stamp),
        },
        13 if !batches.is_empty() => {
            let batch = &batches[chance.below(batches.len() as i64) as usize];
            let kinds = [PieceKind::Sale, PieceKind::Gift, PieceKind::Sample, PieceKind::Waste];
            let kind = kinds[chance.below(4) as usize];
            writing.pieces_leave(batch, kind, 1 + chance.below(8), "market", &stamp).map(drop)
        }
        14 if !batches.is_empty() => {
            let batch = &batches[chance.below(batches.len() as i64) as usize];
            writing.pieces_count(batch, chance.below(14), "shelf count", &stamp).map(drop)
        }
        _ => return make(writing, chance, number, &lots, &stamp),
    };
    settle(outcome)
}

fn make(writing: &Writing<'_>, chance: &mut Chance, number: usize, lots: &[String], stamp: &Stamp) -> bool {
    let of_premix = chance.below(3) == 0;
    let entry_code = ["", "", "P-0001", "P-0002"][chance.below(4) as usize];
    let entry_code = if of_premix { "" } else { entry_code };
    let row = BatchRow { made_on: stamp.day, ..batch(&format!("B{number}"), entry_code) };
    let weighings = (0..=chance.below(3))
        .map(|_| {
            let mut line = weighed(&lots[chance.below(lots.len() as i64) as usize], chance.below(9));
            line.count_first = if chance.coin() { Some("more than thought".to_owned()) } else { None };
            line
        })
        .collect();
    let mut making = Making { weighings, ..making(row, &[]) };
    if !entry_code.is_empty() && chance.coin() {
        making.batch.fulfils_entry = false;
        making.rest = Some(PlanAmount::Pieces(1 + chance.below(9)));
    }
    if of_premix {
        let Ok(drawn) = writing.draws(&making.weighings) else { return false };
        let cost = Price { minor: drawn.iter().map(|drawn| drawn.cost.minor).sum() };
        making.becomes = Some(LotRow { cost, supplier: String::new(), ..lot(&format!("X{number}"), "x0", 9, 0) });
        (making.batch.product, making.batch.premix) = (String::new(), "x0".to_owned());
        making.batch.pieces = 0;
    }
    settle(writing.make(&making, stamp).map(drop))
}

fn settle(outcome: Result<(), StoreError>) -> bool {
    match outcome {
        Ok(()) => true,
        Err(StoreError::Refused(_)) => false,
        Err(other) => panic!("{other}"),
    }
}

/// Lots of a few grams, so that acts meet; texts that files keep as they are.
fn scarce() -> Book {
    let mut book = workshop();
    for row in &mut book.materials {
        (row.name, row.inci) = (row.code.clone(), String::new());
        (row.storage, row.caution) = ("dry".to_owned(), String::new());
        (row.density, row.piece_mass) = (None, None);
    }
    for row in &mut book.suppliers {
        (row.name, row.email) = (row.code.clone(), String::new());
        row.closed.clear();
    }
    for row in &mut book.products {
        (row.name, row.version) = (row.code.clone(), "1".to_owned());
    }
    book.lots[0].amount = Quantity(20);
    book.lots[1].amount = Quantity(15);
    book.lots.push(LotRow { state: LotState::Quarantine, ..lot("L-0003", "m00", 12, 100) });
    book
}

fn commit(store: &mut Store, act: impl FnOnce(&Writing<'_>) -> bool) -> bool {
    let writing = store.writing().unwrap();
    let done = act(&writing);
    writing.commit().unwrap();
    done
}

/// Undoes a named act at random, or does one again. Where something stands in the way, nothing may change.
fn undo_some(store: &mut Store, chance: &mut Chance) {
    let last = store.reading().unwrap().acts(1).unwrap()[0].act.act;
    let before = (Sight::of(store), store.journal().unwrap());
    let number = 1 + chance.below(last);
    let writing = store.writing().unwrap();
    let outcome = writing.undo(Some(number), &stamp());
    writing.commit().unwrap();
    match outcome {
        Ok(undone) => assert!(undone.by > last),
        Err(StoreError::Refused(
            Refusal::InTheWay { .. } | Refusal::UndoneAlready { .. } | Refusal::NotUndone { .. },
        )) => assert_eq!((Sight::of(store), store.journal().unwrap()), before),
        Err(other) => panic!("{other}"),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn undoing_restores_and_undoing_that_restores_too(seed: u64, acts in 1_usize..30) {
        let (_folder, _path, mut store) = store_of(&scarce());
        let mut chance = Chance(seed);
        for number in 0..acts {
            let before = Sight::of(&mut store);
            let acts_before = store.reading().unwrap().acts(1).unwrap()[0].act.act;
            commit(&mut store, |writing| act(writing, &mut chance, number));
            let acts_after = store.reading().unwrap().acts(1).unwrap()[0].act.act;
            if acts_after > acts_before && chance.coin() {
                let after = Sight::of(&mut store);
                let undone = commit(&mut store, |writing| writing.undo(None, &stamp()).is_ok());
                prop_assert!(undone, "the last act can always be undone");
                prop_assert_eq!(&Sight::of(&mut store).without_what_is_gone(&before), &before);
                check_ledgers(&mut store);
                if chance.coin() {
                    let again = commit(&mut store, |writing| match writing.undo(Some(acts_after + 1), &stamp()) {
                        Ok(_) => true,
                        Err(error) => panic!("it can be done again at once: {error}"),
                    });
                    prop_assert!(again);
                    let seen = Sight::of(&mut store);
                    prop_assert_eq!((seen.book, seen.pieces, seen.undone), (after.book, after.pieces, after.undone));
                    prop_assert_eq!(seen.standings, after.standings);
                }
            }
            check_ledgers(&mut store);
        }
    }

    #[test]
    fn whatever_is_undone_in_whatever_order_the_ledgers_add_up(seed: u64, acts in 5_usize..40) {
        let (_folder, _path, mut store) = store_of(&scarce());
        let mut chance = Chance(seed);
        let first = Sight::of(&mut store);
        for number in 0..acts {
            commit(&mut store, |writing| act(writing, &mut chance, number));
            if chance.below(3) == 0 {
                undo_some(&mut store, &mut chance);
            }
            check_ledgers(&mut store);
        }
        comes_back_from_its_files(&mut store);
        // Backwards, everything can be undone down to the import.
        let end = loop {
            let writing = store.writing().unwrap();
            match writing.undo(None, &stamp()) {
                Ok(_) => writing.commit().unwrap(),
                Err(error) => break error.to_string(),
            }
            check_ledgers(&mut store);
        };
        prop_assert!(end.starts_with("act 1 (files imported) cannot be undone: it took over files"), "{}", end);
        let last = Sight::of(&mut store).without_what_is_gone(&first);
        prop_assert_eq!(last, first);
    }
}

/// Pieces that were found by counting are no reason to let the batch be undone from which others have left.
#[test]
fn a_batch_whose_pieces_have_moved_is_not_undone_before_they_came_back() {
    let (_folder, _path, mut store) = store_of(&scarce());
    let writing = store.writing().unwrap();
    let made = BatchRow { fulfils_entry: false, ..batch("B-1", "") };
    writing.make(&making(made, &[]), &stamp()).unwrap();
    writing.pieces_leave("B-1", PieceKind::Gift, 9, "", &stamp()).unwrap();
    writing.pieces_count("B-1", 13, "found behind the shelf", &stamp()).unwrap();
    let refused = writing.undo(Some(2), &stamp()).unwrap_err().to_string();
    let words = "act 2 (batch made) cannot be undone: the pieces of batch B-1 have moved since: undo act 4 first";
    assert_eq!(refused, words);
    for expected in ["pieces-count", "pieces-leave", "make"] {
        assert_eq!(writing.undo(None, &stamp()).unwrap().act.kind, expected);
    }
}

/// A lot that was counted up is no reason either to let its receipt be undone.
#[test]
fn a_lot_that_has_moved_is_not_taken_back_before_what_was_drawn_came_back() {
    let (_folder, _path, mut store) = store_of(&scarce());
    let writing = store.writing().unwrap();
    writing.receive(&lot("L-0009", "m00", 20, 0), None, &stamp()).unwrap();
    writing.write_off("L-0009", Some(Quantity(10)), "spilt", &stamp()).unwrap();
    writing.count("L-0009", Quantity(25), "a second jar of it", &stamp()).unwrap();
    let refused = writing.undo(Some(2), &stamp()).unwrap_err().to_string();
    assert!(refused.contains("lot L-0009 has moved since: undo act 4 first"), "{refused}");
    for expected in ["count", "write-off", "receive"] {
        assert_eq!(writing.undo(None, &stamp()).unwrap().act.kind, expected);
    }
}

/// What a store exports makes an equal store, and changes nothing where it comes from.
fn comes_back_from_its_files(store: &mut Store) {
    let folder = tempfile::tempdir().unwrap();
    let reading = store.reading().unwrap();
    let (book, journal) = (reading.whole_book().unwrap(), reading.journal().unwrap());
    drop(reading);
    write_folder(folder.path(), &book, &journal, false).unwrap();
    let sheets = read_paths(&[folder.path().to_owned()]);
    let (_folder, _path, mut other) = new_store();
    let import = |store: &mut Store| {
        let writing = store.writing().unwrap();
        let (before, standings) = (writing.whole_book().unwrap(), writing.standings().unwrap());
        let checked = check(&sheets, Currency::EUR, &before, &standings, &writing.journal().unwrap());
        let checked = checked.map_err(|faults| faults.iter().map(ToString::to_string).collect::<Vec<_>>()).unwrap();
        writing.apply(&before, &checked.merged, &checked.journal, &stamp()).unwrap();
        writing.commit().unwrap();
        checked.changes.len()
    };
    assert!(import(&mut other) > 0);
    assert_eq!(other.journal().unwrap(), journal);
    assert_eq!(Sight::of(&mut other), Sight::of(store));
    assert_eq!((import(&mut other), import(store)), (0, 0));
    assert_eq!(other.journal().unwrap(), journal);
    assert_eq!(store.journal().unwrap(), journal);
}
