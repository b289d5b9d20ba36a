//! Imports: what is written, what is received, what is refused.

use super::invented::{Home, batch, date, entry, lot, making, new_store, order, small, stamp, store_of};
use stillroom::book::ahead::ahead;
use stillroom::book::rows::{MovementKind, SettingRow, Share};
use stillroom::book::{Book, Journal};
use stillroom::plan::money::{Currency, Price};
use stillroom::plan::quantity::{Percent, Quantity, Unit};
use stillroom::store::{Applied, Refusal, Store, StoreError};

/// Imports a book over what is there.
fn import(store: &mut Store, merged: &Book, journal: &Journal) -> Result<Applied, StoreError> {
    let writing = store.writing()?;
    let applied = writing.apply(&writing.book()?, merged, journal, &stamp())?;
    writing.commit()?;
    Ok(applied)
}

#[track_caller]
fn refusal<T: std::fmt::Debug>(outcome: Result<T, StoreError>) -> Refusal {
    match outcome.unwrap_err() {
        StoreError::Refused(refusal) => refusal,
        other => panic!("{other}"),
    }
}

#[test]
fn new_lots_are_received_in_one_act_on_their_day() {
    let (_folder, _path, mut store) = store_of(&small());
    let ledger = store.journal().unwrap().ledger;
    let told: Vec<_> =
        ledger.iter().map(|row| (row.movement, row.act, row.kind, row.lot.as_str(), row.amount, row.cost)).collect();
    let receipt = MovementKind::Receipt;
    assert_eq!(told, vec![(1, 1, receipt, "L-0001", 500_000, 1_000), (2, 1, receipt, "L-0002", 300_000, 700)]);
    assert_eq!((ledger[0].day, ledger[0].recorded_at.as_str()), (date("2027-02-01"), "2027-03-09T08:15:00Z"));
    assert!(store.standings().unwrap().iter().all(|standing| !standing.moved));
}

/// What an import is judged by at the end is what it would read from the store.
#[test]
fn what_is_ahead_is_known_without_reading_it_again() {
    let mut book = small();
    book.lots.extend([lot("L-0003", "m00", 100_000, 300), lot("L-0004", "m00", 90_000, 200)]);
    book.plan.extend([entry("P-0003", "2027-03-25"), entry("P-0004", "2027-03-26")]);
    book.orders.push(order("O-2027-0002", 1, "m02", 2));
    let (_folder, _path, mut store) = store_of(&book);
    let writing = store.writing().unwrap();
    writing
        .make(&making(batch("B-2027-0001", "P-0002"), &[("L-0001", 200_000), ("L-0002", 80_000)]), &stamp())
        .unwrap();
    writing.count("L-0003", Quantity::ZERO, "spilt all", &stamp()).unwrap();
    writing.commit().unwrap();

    // The files drop an entry, close an order, correct a lot that has not moved, move another, and bring new rows.
    let writing = store.writing().unwrap();
    let (existing, standings) = (writing.whole_book().unwrap(), writing.standings().unwrap());
    let batches = writing.batches().unwrap();
    let mut merged = existing.clone();
    let place =
        |code: &str, lots: &[stillroom::book::rows::LotRow]| lots.iter().position(|row| row.lot == code).unwrap();
    let (unmoved, moved) = (place("L-0004", &merged.lots), place("L-0001", &merged.lots));
    (merged.lots[unmoved].amount, merged.lots[unmoved].cost) = (Quantity(70_000), Price { minor: 150 });
    merged.lots[moved].place = "cellar".to_owned();
    merged.lots.push(lot("L-0005", "m02", 40_000, 90));
    merged.orders[1].cancelled = true;
    merged.plan.iter_mut().find(|row| row.entry == "P-0003").unwrap().dropped = true;
    merged.plan.push(entry("P-0005", "2027-03-30"));
    writing.apply(&existing, &merged, &Journal::default(), &stamp()).unwrap();

    let made = batches.iter().filter(|row| row.fulfils_entry && !row.undone).map(|row| row.entry.as_str()).collect();
    let known = ahead(merged, &standings, &made);
    assert_eq!(known, writing.book_ahead(date("2027-03-09")).unwrap());
    let lots: Vec<_> = known.1.iter().map(|standing| (standing.lot.as_str(), standing.on_hand.0)).collect();
    assert_eq!(lots, [("L-0001", 300_000), ("L-0002", 220_000), ("L-0004", 70_000), ("L-0005", 40_000)]);
    let entries: Vec<_> = known.0.plan.iter().map(|row| row.entry.as_str()).collect();
    assert_eq!((entries, known.0.orders.len()), (vec!["P-0001", "P-0004", "P-0005"], 1));
}

#[test]
fn a_lot_that_was_not_used_can_be_corrected_and_one_that_was_cannot() {
    let (_folder, _path, mut store) = store_of(&small());
    let mut corrected = small();
    corrected.lots[0].amount = Quantity(450_000);
    corrected.lots[0].cost = Price { minor: 333 };
    let applied = import(&mut store, &corrected, &Journal::default()).unwrap();
    assert_eq!((applied.corrected, applied.received), (vec!["L-0001".to_owned()], Vec::new()));
    let ledger = store.journal().unwrap().ledger;
    let told: Vec<_> = ledger[2..].iter().map(|row| (row.amount, row.cost, row.reverses, row.act)).collect();
    assert_eq!(told, vec![(-500_000, -1_000, Some(1), 2), (450_000, 333, None, 2)]);
    let standing = store.standings().unwrap().remove(0);
    assert_eq!((standing.on_hand, standing.cost.minor, standing.moved), (Quantity(450_000), 333, false));
    // And again, and in another currency.
    corrected.lots[0].currency = Currency::from_code("JPY").unwrap();
    assert_eq!(import(&mut store, &corrected, &Journal::default()).unwrap().corrected.len(), 1);
    assert_eq!(store.standings().unwrap()[0].cost.minor, 333);

    let writing = store.writing().unwrap();
    writing.count("L-0001", Quantity(440_000), "spilt some", &stamp()).unwrap();
    writing.commit().unwrap();
    let before = (store.book().unwrap(), store.journal().unwrap());
    let changes: [fn(&mut stillroom::book::rows::LotRow); 4] = [
        |lot| lot.amount = Quantity(1),
        |lot| lot.cost = Price::ZERO,
        |lot| lot.currency = Currency::EUR,
        |lot| lot.material = "m02".to_owned(),
    ];
    for change in changes {
        let mut changed = corrected.clone();
        change(&mut changed.lots[0]);
        let refused = refusal(import(&mut store, &changed, &Journal::default()));
        assert_eq!(refused, Refusal::Moved { lot: "L-0001".to_owned() });
        assert_eq!((store.book().unwrap(), store.journal().unwrap()), before);
    }
    // What the ledger does not say may change.
    corrected.lots[0].place = "cellar".to_owned();
    import(&mut store, &corrected, &Journal::default()).unwrap();
    assert_eq!(store.book().unwrap(), corrected);
    assert_eq!(store.journal().unwrap(), before.1);
}

#[test]
fn a_formula_version_is_replaced_whole_and_nothing_else_is_deleted() {
    let (_folder, _path, mut store) = store_of(&small());
    let mut merged = small();
    merged.formula_lines.truncate(1);
    merged.formula_lines[0].share = Share::Percent(Percent::HUNDRED);
    merged.plan.clear();
    merged.lots.remove(0);
    import(&mut store, &merged, &Journal::default()).unwrap();
    let book = store.book().unwrap();
    assert_eq!(book.formula_lines, merged.formula_lines);
    assert_eq!((book.plan, book.lots), (small().plan, small().lots));
}

#[test]
fn what_does_not_fit_is_refused_and_nothing_is_written() {
    let (_folder, _path, mut store) = store_of(&small());
    let check = |store: &mut Store, change: &dyn Fn(&mut Book), expected: &str| {
        let before = (store.book().unwrap(), store.journal().unwrap());
        let mut merged = small();
        change(&mut merged);
        let refused = refusal(import(store, &merged, &Journal::default()));
        assert_eq!(refused.to_string(), expected);
        assert_eq!((store.book().unwrap(), store.journal().unwrap()), before);
    };
    check(
        &mut store,
        &|book| book.materials[0].unit = Unit::Piece,
        "material m00 is counted in mg, and cannot become one that is counted otherwise",
    );
    check(
        &mut store,
        &|book| book.formula_lines[0].ingredient = "moonlight".to_owned(),
        "a row of formula_lines names something that items does not have",
    );
    check(
        &mut store,
        &|book| book.lots.push(lot("L-0003", "moonlight", 1, 1)),
        "a row of lots names something that items does not have",
    );
    check(
        &mut store,
        &|book| {
            let premix = super::invented::random(1).premixes.remove(0);
            book.premixes.push(stillroom::book::rows::PremixRow { code: "m00".to_owned(), ..premix });
        },
        "material m00 is there already: give it another code",
    );
    check(
        &mut store,
        &|book| book.orders.push(super::invented::order("O-2027-0001", 1, "m02", 1)),
        "order O-2027-0001 is with s0, not with s1",
    );
}

#[test]
fn the_home_currency_must_be_the_same() {
    let (_folder, _path, mut store) = new_store();
    let of = |value: &str| Journal {
        settings: vec![SettingRow { setting: "home_currency".to_owned(), value: value.to_owned() }],
        ..Journal::default()
    };
    import(&mut store, &small(), &of("EUR")).unwrap();
    let refused = refusal(import(&mut store, &small(), &of("JPY")));
    assert_eq!(refused, Refusal::HomeCurrency { store: Currency::EUR, files: "JPY".to_owned() });
}

/// A store in which something was made, counted and corrected.
fn lived_in() -> (Home, Store) {
    let (folder, _path, mut store) = store_of(&small());
    let mut corrected = small();
    corrected.lots[1].cost = Price { minor: 701 };
    import(&mut store, &corrected, &Journal::default()).unwrap();
    let writing = store.writing().unwrap();
    let draws = [("L-0001", 123_456), ("L-0002", 7)];
    writing.make(&making(batch("B-2027-0001", "P-0001"), &draws), &stamp()).unwrap();
    writing.count("L-0001", Quantity(370_000), "spilt", &stamp()).unwrap();
    writing.commit().unwrap();
    (folder, store)
}

#[test]
fn a_ledger_is_taken_over_as_it_is() {
    let (_folder, mut store) = lived_in();
    let (book, journal, standings) = (store.book().unwrap(), store.journal().unwrap(), store.standings().unwrap());
    let (_other_folder, _path, mut other) = new_store();
    let applied = import(&mut other, &book, &journal).unwrap();
    assert_eq!(applied, Applied::default());
    assert_eq!(other.book().unwrap(), book);
    assert_eq!(other.journal().unwrap(), journal);
    assert_eq!(other.standings().unwrap(), standings);

    // A lot beside the ledger is received as ever, after it.
    let mut more = book.clone();
    more.lots.push(lot("L-0003", "m00", 10, 1));
    assert_eq!(import(&mut other, &more, &journal).unwrap().received, vec!["L-0003".to_owned()]);
    let last = other.journal().unwrap().ledger.pop().unwrap();
    assert_eq!((last.movement, last.lot.as_str()), (journal.ledger.len() as i64 + 1, "L-0003"));
    // And the first store's next movement has that number already: histories that part are not mixed.
    let longer = Journal { ledger: vec![last], ..Journal::default() };
    let writing = store.writing().unwrap();
    writing.count("L-0001", Quantity(1), "miscounted", &stamp()).unwrap();
    writing.commit().unwrap();
    let refused = refusal(import(&mut store, &more, &longer));
    let number = (journal.ledger.len() + 1).to_string();
    assert_eq!(refused, Refusal::Differs { what: "movement", code: number });
}

#[test]
fn a_ledger_that_was_tampered_with_is_refused() {
    let (_folder, mut store) = lived_in();
    let (book, journal) = (store.book().unwrap(), store.journal().unwrap());
    let check = |into_the_same: bool, change: &dyn Fn(&mut Journal), expected: &str| {
        let mut changed = journal.clone();
        change(&mut changed);
        let (_folder, _path, mut fresh) = new_store();
        if into_the_same {
            import(&mut fresh, &book, &journal).unwrap();
        }
        let before = (fresh.book().unwrap(), fresh.journal().unwrap());
        let error = import(&mut fresh, &book, &changed).expect_err(expected).to_string();
        assert!(error.contains(expected), "{error}");
        assert_eq!((fresh.book().unwrap(), fresh.journal().unwrap()), before);
    };
    check(true, &|journal| journal.ledger[0].amount += 1, "movement 1 is written already, with other content");
    check(true, &|journal| journal.batches[0].pieces += 1, "batch B-2027-0001 is written already");
    check(false, &|journal| journal.ledger[1].recorded_at.replace_range(0..4, "2026"), "act 1 is written already");
    check(false, &|journal| journal.ledger[0].amount = 5, "lot L-0001 holds 5 mg, and 123.456 g was asked for");
    check(false, &|journal| journal.ledger[0].lot = "L-9999".to_owned(), "there is no lot L-9999");
    check(false, &|journal| journal.ledger[2].reverses = Some(1), "takes back exactly one earlier movement");
    check(false, &|journal| journal.batches.clear(), "names something that batches does not have");
}

#[test]
fn a_plan_entry_that_was_made_is_not_planned_again() {
    let (_folder, mut store) = lived_in();
    let codes = |store: &mut Store| store.book().unwrap().plan.into_iter().map(|row| row.entry).collect::<Vec<_>>();
    assert_eq!(codes(&mut store), ["P-0002"]);
    let applied = import(&mut store, &Book { lots: store_lots(), ..small() }, &Journal::default()).unwrap();
    assert_eq!(applied.made, ["P-0001"]);
    assert_eq!(codes(&mut store), ["P-0002"]);
}

/// The lots as [`lived_in`] has corrected and opened them.
fn store_lots() -> Vec<stillroom::book::rows::LotRow> {
    lived_in().1.book().unwrap().lots
}
