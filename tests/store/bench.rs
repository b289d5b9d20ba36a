//! The bench act by act: the life of lots, parcels, decanting, premixes, parts of entries, pieces; and every refusal in
//! its words.

use super::invented::{Home, batch, date, entry, lot, making, order, stamp, store_of, weighed};
use super::undoing::workshop;
use stillroom::book::rows::{BatchRow, FormulaLineRow, LotRow, MovementKind, PieceKind};
use stillroom::plan::model::{LotState, PlanAmount, PlanDay};
use stillroom::plan::money::{Currency, Price};
use stillroom::plan::quantity::{Mass, Quantity};
use stillroom::store::{Counted, Making, PacksReceived, Parcel, Stamp, Store, StoreError, Writing};

#[track_caller]
fn refusal<T: std::fmt::Debug>(outcome: Result<T, StoreError>) -> String {
    match outcome.unwrap_err() {
        StoreError::Refused(refusal) => refusal.to_string(),
        other => panic!("{other:?}"),
    }
}

fn opened(writing: &Writing<'_>, code: &str) -> Option<String> {
    lot_row(writing, code).opened.map(|day| day.to_string())
}

fn lot_row(writing: &Writing<'_>, code: &str) -> LotRow {
    writing.book().unwrap().lots.into_iter().find(|row| row.lot == code).unwrap()
}

fn held(writing: &Writing<'_>, code: &str) -> (i64, i64) {
    let standing = writing.standings().unwrap().into_iter().find(|row| row.lot == code).unwrap();
    (standing.on_hand.0, standing.cost.minor)
}

/// Quarantine: L-0003 (12 mg for 1.00), rejected: L-0004, empty: L-0005.
fn stocked() -> (Home, Store) {
    let (folder, _path, mut store) = store_of(&workshop());
    let writing = store.writing().unwrap();
    let row = |code: &str, state| LotRow { state, ..lot(code, "m00", 12, 100) };
    for (code, state) in
        [("L-0003", LotState::Quarantine), ("L-0004", LotState::Rejected), ("L-0005", LotState::Released)]
    {
        writing.receive(&row(code, state), None, &stamp()).unwrap();
    }
    writing.write_off("L-0005", None, "spilt", &stamp()).unwrap();
    writing.commit().unwrap();
    (folder, store)
}

#[test]
fn a_lot_lives_through_its_states() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    writing.release("L-0003", "Ada", "smell and colour as they should be", &stamp()).unwrap();
    writing.open("L-0003", &stamp()).unwrap();
    writing.move_lot("L-0003", " cellar ", &stamp()).unwrap();
    writing.retest_passed("L-0003", date("2028-06-01"), "Bo", "peroxide value 3", &stamp()).unwrap();
    let row = lot_row(&writing, "L-0003");
    assert_eq!((row.state, row.place.as_str()), (LotState::Released, "cellar"));
    assert_eq!((row.opened, row.best_before), (Some(stamp().day), Some(date("2028-06-01"))));
    writing.retest_failed("L-0003", "Bo", "peroxide value 12", &stamp()).unwrap();
    assert_eq!(lot_row(&writing, "L-0003").state, LotState::Rejected);
    writing.reject("L-0001", " smells ", &stamp()).unwrap();
    let told = writing.journal().unwrap().changes.into_iter().map(|row| {
        format!("{} {} {}: {} -> {} ({}; {})", row.act, row.code, row.field, row.before, row.after, row.who, row.reason)
    });
    let told: Vec<String> = told.collect();
    assert_eq!(
        told,
        [
            "6 L-0003 state: quarantine -> released (Ada; smell and colour as they should be)",
            "7 L-0003 opened:  -> 2027-03-09 (; )",
            "8 L-0003 place:  -> cellar (; )",
            "9 L-0003 best_before: 2028-02-01 -> 2028-06-01 (Bo; peroxide value 3)",
            "10 L-0003 state: released -> rejected (Bo; peroxide value 12)",
            "11 L-0001 state: released -> rejected (; smells)",
        ]
    );
    // Nothing moved: stock that is rejected is still there until it is written off or returned.
    assert_eq!(held(&writing, "L-0003"), (12, 100));
    assert_eq!(
        writing.return_to_supplier("L-0003", Some(Quantity(5)), "off", &stamp()).unwrap(),
        (Quantity(5), Price { minor: 42 })
    );
    assert_eq!(writing.write_off("L-0003", None, "off", &stamp()).unwrap(), (Quantity(7), Price { minor: 58 }));
    let kinds: Vec<_> = writing.movements_of_lot("L-0003").unwrap().into_iter().map(|row| row.kind).collect();
    assert_eq!(kinds, [MovementKind::Receipt, MovementKind::Return, MovementKind::WriteOff]);
    let thrown = |from: &str, to: &str| {
        let rows = writing.write_offs(date(from), date(to)).unwrap();
        rows.into_iter().map(|row| (row.lot, row.amount, row.cost)).collect::<Vec<_>>()
    };
    let both = [("L-0005".to_owned(), -12, -100), ("L-0003".to_owned(), -7, -58)];
    assert_eq!(thrown("2027-03-01", "2027-03-09"), both);
    assert_eq!(thrown("2027-03-10", "2027-12-31"), []);
    writing.undo(None, &stamp()).unwrap();
    assert_eq!(thrown("2027-03-09", "2027-03-09"), both[..1]);
}

#[test]
fn what_a_lot_cannot_do_is_said() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    let before = (writing.book().unwrap(), writing.journal().unwrap());
    let day = || date("2028-06-01");
    let amount = |mg| Some(Quantity(mg));
    let cases: Vec<(Result<(), StoreError>, &str)> = vec![
        (writing.open("L-9", &stamp()), "there is no lot L-9"),
        (writing.open("L-0005", &stamp()), "lot L-0005 is empty"),
        (
            writing.open("L-0004", &stamp()),
            "lot L-0004 is rejected: undo that act if it was a mistake, write the lot off or return it",
        ),
        (writing.release("L-0001", "Ada", "", &stamp()), "lot L-0001 is released already"),
        (
            writing.release("L-0004", "Ada", "", &stamp()),
            "lot L-0004 is rejected: undo that act if it was a mistake, write the lot off or return it",
        ),
        (writing.release("L-9", "Ada", "", &stamp()), "there is no lot L-9"),
        (writing.reject("L-0001", " ", &stamp()), "a rejection needs a reason"),
        (writing.reject("L-0004", "smells", &stamp()), "lot L-0004 is rejected already"),
        (writing.retest_passed("L-0001", day(), "", "smell", &stamp()), "a retest needs the name of who did it"),
        (writing.retest_passed("L-0001", day(), "Ada", " ", &stamp()), "a retest needs a reason"),
        (
            writing.retest_passed("L-0001", date("2027-03-08"), "Ada", "smell", &stamp()),
            "the new best-before date 2027-03-08 of lot L-0001 lies before 2027-03-09",
        ),
        (
            writing.retest_passed("L-0001", date("2028-02-01"), "Ada", "smell", &stamp()),
            "lot L-0001 is good until 2028-02-01 already",
        ),
        (writing.retest_passed("L-0005", day(), "Ada", "smell", &stamp()), "lot L-0005 is empty"),
        (writing.retest_failed("L-0004", "Ada", "smell", &stamp()), "lot L-0004 is rejected already"),
        (writing.retest_failed("L-0001", "Ada", "", &stamp()), "a retest needs a reason"),
        (writing.move_lot("L-9", "cellar", &stamp()), "there is no lot L-9"),
        (writing.move_lot("L-0001", " ", &stamp()), "lot L-0001 is without a place already"),
        (writing.write_off("L-0001", amount(1), "", &stamp()).map(drop), "a write-off needs a reason"),
        (
            writing.write_off("L-0001", amount(0), "old", &stamp()).map(drop),
            "what is taken from lot L-0001 must be above 0",
        ),
        (
            writing.write_off("L-0003", amount(13), "old", &stamp()).map(drop),
            "lot L-0003 holds 12 mg, and 13 mg was asked for: count it if there is more",
        ),
        (writing.write_off("L-0005", None, "old", &stamp()).map(drop), "lot L-0005 is empty"),
        (writing.return_to_supplier("L-0001", None, "", &stamp()).map(drop), "a return needs a reason"),
        (
            writing.decant("L-0003", Quantity(13), None, &stamp()).map(drop),
            "lot L-0003 holds 12 mg, and 13 mg was asked for: count it if there is more",
        ),
        (
            writing.decant("L-0003", Quantity(0), None, &stamp()).map(drop),
            "what is decanted from lot L-0003 must be above 0",
        ),
        (
            writing.decant("L-0003", Quantity(1), Some("L-0001"), &stamp()).map(drop),
            "lot L-0001 is there already: give it another code",
        ),
        (writing.stocktake(&[], &stamp()).map(drop), "there is nothing in the stocktake"),
        (writing.receive_parcel(&[], Price::ZERO, &stamp()).map(drop), "there is nothing in the parcel"),
        (writing.undo(Some(99), &stamp()).map(drop), "there is no act 99"),
        (
            writing.undo(Some(1), &stamp()).map(drop),
            "act 1 (files imported) cannot be undone: it took over files; count, write off or import what is right",
        ),
    ];
    for (outcome, expected) in cases {
        assert_eq!(refusal(outcome), expected);
    }
    assert_eq!((writing.book().unwrap(), writing.journal().unwrap()), before);
    writing.open("L-0001", &stamp()).unwrap();
    assert_eq!(refusal(writing.open("L-0001", &stamp())), "lot L-0001 is opened (on 2027-03-09) already");
    writing.receive(&LotRow { supplier: String::new(), ..lot("L-0006", "m00", 1, 1) }, None, &stamp()).unwrap();
    let nobody = refusal(writing.return_to_supplier("L-0006", None, "dented", &stamp()));
    assert_eq!(nobody, "lot L-0006 names no supplier: write it off instead");
}

#[test]
fn a_parcel_shares_postage_and_duty_by_the_value_of_the_goods() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    let part = |code: &str, cost| Parcel { lot: lot(code, "m00", 10, cost), packs: None };
    // 10.00 over goods of 1.00, 1.00 and 4.00: quotas 166.67, 166.67 and 666.67, two cents over: to the first two.
    let landed =
        writing.receive_parcel(&[part("A", 100), part("B", 100), part("C", 400)], Price { minor: 1_000 }, &stamp());
    let costs: Vec<i64> = landed.unwrap().iter().map(|row| row.cost.minor).collect();
    assert_eq!(costs, [267, 267, 1_066]);
    assert_eq!((held(&writing, "A"), held(&writing, "C")), ((10, 267), (10, 1_066)));
    // Samples share alike.
    let free = writing.receive_parcel(&[part("D", 0), part("E", 0)], Price { minor: 5 }, &stamp()).unwrap();
    assert_eq!(free.iter().map(|row| row.cost.minor).collect::<Vec<_>>(), [3, 2]);
    let deeds = writing.acts(1).unwrap();
    assert_eq!((deeds[0].act.kind.as_str(), deeds[0].movements.len(), deeds[0].stands), ("receive", 2, true));
    // Two lots of one line of an order: the packs add up, and one undoing takes both back.
    let packs = Some(PacksReceived { pack: Quantity(250_000), packs: 1 });
    let of_order = |code: &str| Parcel {
        lot: LotRow { order: "O-2027-0001".to_owned(), ..lot(code, "m00", 250_000, 900) },
        packs,
    };
    writing.receive_parcel(&[of_order("F"), of_order("G")], Price::ZERO, &stamp()).unwrap();
    assert_eq!(writing.book().unwrap().orders[0].packs_received, 2);
    writing.receive_parcel(&[of_order("H")], Price::ZERO, &stamp()).unwrap();
    writing.undo(Some(8), &stamp()).unwrap();
    assert_eq!(writing.book().unwrap().orders[0].packs_received, 1);
    assert_eq!((held(&writing, "F"), held(&writing, "H")), ((0, 0), (250_000, 900)));

    let yen = Currency::from_code("JPY").unwrap();
    let mixed = [part("I", 1), Parcel { lot: LotRow { currency: yen, ..lot("J", "m00", 1, 1) }, packs: None }];
    let words = "the lots of a parcel are paid in one currency: lot J is in JPY, the others in EUR";
    assert_eq!(refusal(writing.receive_parcel(&mixed, Price::ZERO, &stamp())), words);
    let below = refusal(writing.receive_parcel(&[part("I", 1)], Price { minor: -1 }, &stamp()));
    assert_eq!(below, "postage and duty must be 0 or more");
    let twice = refusal(writing.receive_parcel(&[part("I", 1), part("I", 1)], Price::ZERO, &stamp()));
    assert_eq!(twice, "lot I is there already: give it another code");
}

#[test]
fn a_decanted_lot_has_the_facts_and_its_part_of_the_cost() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    // A third of 12 for 1.00 is 33 cents.
    let new = writing.decant("L-0003", Quantity(4), None, &stamp()).unwrap();
    let first = lot_row(&writing, "L-0003");
    assert_eq!(first.opened, Some(stamp().day));
    let expected = LotRow { lot: "L-0006".to_owned(), amount: Quantity(4), cost: Price { minor: 33 }, ..first };
    assert_eq!((&new, &lot_row(&writing, "L-0006")), (&expected, &expected));
    assert_eq!((held(&writing, "L-0003"), held(&writing, "L-0006")), ((8, 67), (4, 33)));
    let act = writing.acts(1).unwrap().remove(0);
    assert_eq!(
        act.movements.iter().map(|row| (row.kind, row.amount)).collect::<Vec<_>>(),
        [(MovementKind::Issue, -4), (MovementKind::Receipt, 4)]
    );
    // A later decanting is open from the same day.
    let later = Stamp { day: date("2027-04-01"), ..stamp() };
    let named = writing.decant("L-0003", Quantity(8), Some("jar"), &later).unwrap();
    assert_eq!((named.opened, named.cost.minor), (Some(stamp().day), 67));
    // It is no delivery, and no import may restate it.
    let delivered: Vec<String> = writing.deliveries("m00").unwrap().into_iter().map(|row| row.lot).collect();
    assert_eq!(delivered, ["L-0001", "L-0003", "L-0004", "L-0005"]);
    assert!(writing.standings().unwrap().iter().find(|row| row.lot == "jar").unwrap().moved);
    writing.write_off("jar", Some(Quantity(1)), "spilt", &stamp()).unwrap();
    let words =
        "act 7 (lot decanted) cannot be undone: lot jar holds 7 mg, and 8 mg would be taken from it: undo act 8 first";
    assert_eq!(refusal(writing.undo(Some(7), &stamp())), words);
}

/// A batch of premix x0, which becomes lot X of 9 mg at `cost`.
fn infusion(number: &str, draws: &[(&str, i64)], cost: i64) -> Making {
    let row = BatchRow { product: String::new(), premix: "x0".to_owned(), pieces: 0, ..batch(number, "") };
    Making { becomes: Some(lot("X", "x0", 9, cost)), ..making(row, draws) }
}

#[test]
fn a_premix_becomes_a_lot_that_names_its_batch() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    let infusion = infusion("B-1", &[("L-0001", 250_000), ("L-0002", 100_000)], 733);
    let told = writing.draws(&infusion.weighings).unwrap();
    assert_eq!(
        told.iter().map(|drawn| (drawn.cost.minor, drawn.currency)).collect::<Vec<_>>(),
        [(500, Currency::EUR), (233, Currency::EUR)]
    );
    assert_eq!(writing.make(&infusion, &stamp()).unwrap(), told);
    let row = writing.movements_of_batch("B-1").unwrap().pop().unwrap();
    assert_eq!((row.kind, row.lot.as_str(), row.amount, row.cost), (MovementKind::Receipt, "X", 9, 733));
    assert_eq!(writing.batch("B-1").unwrap().unwrap(), infusion.batch);
    assert_eq!(writing.weighings("B-1").unwrap().len(), 2);
    assert_eq!(writing.deliveries("x0").unwrap(), []);
    // What has gone on into a product has to come back first.
    writing.make(&making(batch("B-2", "P-0001"), &[("X", 9)]), &stamp()).unwrap();
    writing.pieces_leave("B-2", PieceKind::Sale, 3, "market", &stamp()).unwrap();
    let words =
        "act 6 (batch made) cannot be undone: lot X holds 0 g, and 9 mg would be taken from it: undo act 7 first";
    assert_eq!(refusal(writing.undo(Some(6), &stamp())), words);
    let words = "act 7 (batch made) cannot be undone: batch B-2 has 9 pieces left, and 12 would be taken from it: undo act 8 first";
    assert_eq!(refusal(writing.undo(Some(7), &stamp())), words);
    for expected in ["pieces-leave", "make", "make"] {
        assert_eq!(writing.undo(None, &stamp()).unwrap().act.kind, expected);
    }
    assert_eq!((held(&writing, "X"), held(&writing, "L-0001")), ((0, 0), (500_000, 1_000)));
    assert!(writing.batches().unwrap().iter().all(|row| row.undone));
    assert_eq!(writing.book().unwrap().plan.len(), 2);
    assert_eq!(opened(&writing, "L-0001"), None);

    let no_lot = Making { becomes: None, ..infusion.clone() };
    let check = |making: &Making, expected: &str| assert_eq!(refusal(writing.make(making, &stamp())), expected);
    let renamed = |making: &Making| Making {
        batch: BatchRow { batch: "B-9".to_owned(), ..making.batch.clone() },
        ..making.clone()
    };
    check(&infusion, "batch B-1 is there already: give it another code");
    check(&renamed(&no_lot), "batch B-9 is of the premix x0: it becomes a lot of it, and no pieces");
    let both = BatchRow { product: "p0".to_owned(), ..renamed(&infusion).batch };
    check(&Making { batch: both, ..infusion.clone() }, "batch B-9 is of a product or of a premix: name one of the two");
    let product = Making { becomes: infusion.becomes.clone(), ..making(batch("B-9", ""), &[]) };
    check(&product, "batch B-9 is of the product p0: it becomes pieces, and no lot");
    let unknown = BatchRow { premix: "x9".to_owned(), ..renamed(&infusion).batch };
    check(&Making { batch: unknown, ..infusion.clone() }, "there is no premix x9");
    check(&renamed(&infusion), "lot X is there already: give it another code");
}

#[test]
fn a_part_of_an_entry_leaves_the_rest_in_the_plan() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    let part = |number: &str, pieces| {
        let row = BatchRow { fulfils_entry: false, pieces, ..batch(number, "P-0001") };
        Making { rest: Some(PlanAmount::Pieces(12 - pieces)), ..making(row, &[]) }
    };
    let amount = || writing.book().unwrap().plan.into_iter().find(|row| row.entry == "P-0001").map(|row| row.amount);
    writing.make(&part("B-1", 5), &stamp()).unwrap();
    assert_eq!(amount(), Some(PlanAmount::Pieces(7)));
    writing.make(&making(batch("B-2", "P-0001"), &[]), &stamp()).unwrap();
    assert_eq!(amount(), None);
    writing.undo(None, &stamp()).unwrap();
    assert_eq!(amount(), Some(PlanAmount::Pieces(7)));
    writing.make(&making(batch("B-3", "P-0001"), &[]), &stamp()).unwrap();
    let again = refusal(writing.undo(Some(8), &stamp()));
    assert_eq!(again, "act 7 (batch made) cannot be done again: its plan entry has been made since, as batch B-3");
    let none_left = Making { rest: Some(PlanAmount::Pieces(0)), ..part("B-4", 5) };
    let none_left = Making { batch: BatchRow { entry: "P-0002".to_owned(), ..none_left.batch }, ..none_left };
    assert_eq!(refusal(writing.make(&none_left, &stamp())), "what is left of P-0002 must be above 0");
    let outside = Making { rest: Some(PlanAmount::Moulds(1)), ..making(batch("B-4", ""), &[]) };
    assert_eq!(
        refusal(writing.make(&outside, &stamp())),
        "batch B-4 names no plan entry that it could fulfil or be a part of"
    );
}

#[test]
fn a_new_formula_version_is_an_act_that_can_be_taken_back_until_it_is_used() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    let versions = || {
        let lines = writing.book().unwrap().formula_lines;
        let mut told: Vec<_> = lines.into_iter().map(|line| (line.version, line.withdrawn)).collect();
        told.dedup();
        told
    };
    let lines = writing.book().unwrap().formula_lines;
    let copy: Vec<_> = lines.into_iter().map(|line| FormulaLineRow { version: "2".to_owned(), ..line }).collect();
    writing.revise(&copy, " less wax ", &stamp()).unwrap();
    assert_eq!(versions(), [("1".to_owned(), false), ("2".to_owned(), false)]);
    let revisions = writing.revisions().unwrap();
    let expected = (("salve".to_owned(), "2".to_owned()), (stamp().day, "less wax".to_owned()));
    assert_eq!(revisions.into_iter().collect::<Vec<_>>(), [expected]);
    let taken = "version 2 of salve is there already: give it another code";
    assert_eq!(refusal(writing.revise(&copy, "again", &stamp())), taken);

    let made = BatchRow { formula: "salve".to_owned(), version: "2".to_owned(), ..batch("B-1", "P-0001") };
    writing.make(&making(made, &[]), &stamp()).unwrap();
    let act = writing.acts(9).unwrap().into_iter().find(|deed| deed.act.kind == "revise").unwrap().act.act;
    let words = format!(
        "act {act} (formula revised) cannot be undone: formula salve, version 2, is in use: batch B-1 was made to it"
    );
    assert_eq!(refusal(writing.undo(Some(act), &stamp())), words);
    writing.undo(None, &stamp()).unwrap();
    let by = writing.undo(Some(act), &stamp()).unwrap().by;
    assert_eq!(versions(), [("1".to_owned(), false), ("2".to_owned(), true)]);
    assert_eq!(refusal(writing.revise(&copy, "again", &stamp())), taken);
    writing.undo(Some(by), &stamp()).unwrap();
    assert_eq!(versions(), [("1".to_owned(), false), ("2".to_owned(), false)]);
}

#[test]
fn a_draw_of_more_than_there_is_counts_first() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    writing.count("L-0001", Quantity(100), "spilt", &stamp()).unwrap();
    assert_eq!(held(&writing, "L-0001"), (100, 0));
    let mut line = weighed("L-0001", 250_000);
    line.target = Quantity(250_010);
    line.tare = Some(Mass { mg: 81_000 });
    line.reason = " the scale jumped ".to_owned();
    line.count_first = Some(String::new());
    let make = |line| writing.make(&Making { weighings: vec![line], ..making(batch("B-1", ""), &[]) }, &stamp());
    assert_eq!(refusal(make(line.clone())), "a count needs a reason and an amount of 0 or more");
    line.count_first = Some("the bottle was fuller".to_owned());
    let drawn = make(line).unwrap().remove(0);
    // Counts have taken 499,900 mg and 10.00; half of it is found again, with its 5.00.
    assert_eq!((drawn.found, drawn.cost.minor), (Some((Quantity(249_900), 500)), 500));
    let act = writing.acts(1).unwrap().remove(0);
    let told: Vec<_> = act.movements.iter().map(|row| (row.kind, row.amount, row.reason.as_str())).collect();
    assert_eq!(told, [(MovementKind::Count, 249_900, "the bottle was fuller"), (MovementKind::Issue, -250_000, "")]);
    let sheet = writing.weighings("B-1").unwrap().remove(0);
    assert_eq!(
        (sheet.target, sheet.tare, sheet.reason.as_str()),
        (Quantity(250_010), Some(Mass { mg: 81_000 }), "the scale jumped")
    );
    writing.undo(None, &stamp()).unwrap();
    assert_eq!(held(&writing, "L-0001"), (100, 0));
}

#[test]
fn a_stocktake_is_one_act() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    let counted =
        |lot: &str, mg, reason: &str| Counted { lot: lot.to_owned(), counted: Quantity(mg), reason: reason.to_owned() };
    let rows = [counted("L-0001", 500_000, ""), counted("L-0003", 6, "spilt"), counted("L-0005", 2, "found")];
    let told = writing.differences(&rows).unwrap();
    assert_eq!(told.iter().map(|row| (row.difference.0, row.cost)).collect::<Vec<_>>(), [(0, 0), (-6, -50), (2, 0)]);
    assert_eq!(writing.stocktake(&rows, &stamp()).unwrap(), told);
    let act = writing.acts(1).unwrap().remove(0);
    assert_eq!((act.act.kind.as_str(), act.movements.len()), ("stocktake", 2));
    let words = "a count needs a reason and an amount of 0 or more";
    assert_eq!(refusal(writing.stocktake(&[counted("L-0003", 1, " ")], &stamp())), words);
    assert_eq!(refusal(writing.stocktake(&[counted("L-0003", -1, "x")], &stamp())), words);
    let twice = refusal(writing.stocktake(&[counted("L-0003", 1, "x"), counted("L-0003", 2, "x")], &stamp()));
    assert_eq!(twice, "lot L-0003 stands twice in the stocktake");
    writing.count("L-0003", Quantity(7), "found", &stamp()).unwrap();
    let later = refusal(writing.undo(Some(6), &stamp()));
    assert_eq!(later, "act 6 (stocktake) cannot be undone: lot L-0003 was counted again: undo act 7 first");
}

#[test]
fn pieces_come_and_go() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    writing.make(&making(batch("B-1", ""), &[]), &stamp()).unwrap();
    assert_eq!(writing.pieces_leave("B-1", PieceKind::Sale, 4, "market", &stamp()).unwrap(), 8);
    assert_eq!(writing.pieces_count("B-1", 7, "one is missing", &stamp()).unwrap(), -1);
    assert_eq!(writing.pieces_count("B-1", 7, "again", &stamp()).unwrap(), 0);
    let told: Vec<_> = writing.pieces_of("B-1").unwrap().into_iter().map(|row| (row.kind, row.pieces)).collect();
    assert_eq!(told, [(PieceKind::Made, 12), (PieceKind::Sale, -4), (PieceKind::Count, -1)]);
    let leave =
        |batch: &str, kind, pieces, reason: &str| refusal(writing.pieces_leave(batch, kind, pieces, reason, &stamp()));
    assert_eq!(leave("B-1", PieceKind::Made, 1, ""), "pieces leave by sale, gift, sample or waste");
    assert_eq!(leave("B-1", PieceKind::Waste, 1, " "), "waste needs a reason");
    assert_eq!(leave("B-1", PieceKind::Gift, 0, ""), "the number of pieces must be above 0");
    assert_eq!(
        leave("B-1", PieceKind::Gift, 8, ""),
        "batch B-1 has 7 pieces left, and 8 were asked for: count them if there are more"
    );
    assert_eq!(leave("B-9", PieceKind::Gift, 8, ""), "there is no batch B-9");
    assert_eq!(refusal(writing.pieces_count("B-1", 1, "", &stamp())), "a count needs a reason");
    assert_eq!(refusal(writing.pieces_count("B-1", -1, "x", &stamp())), "the number of pieces must be 0 or more");
    writing.undo(Some(7), &stamp()).unwrap();
    assert_eq!(writing.piece_balances().unwrap()[0].on_hand, 11);
    writing.pieces_count("B-1", 10, "counted", &stamp()).unwrap();
    let later = refusal(writing.undo(Some(8), &stamp()));
    assert_eq!(
        later,
        "act 8 (pieces counted) cannot be undone: the pieces of batch B-1 were counted again: undo act 10 first"
    );
    for _ in 0..3 {
        writing.undo(None, &stamp()).unwrap();
    }
    assert_eq!(refusal(writing.pieces_count("B-1", 3, "x", &stamp())), "there is no batch B-1");
}

#[test]
fn what_stands_in_the_way_of_undoing_is_named() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    let undo = |act| refusal(writing.undo(Some(act), &stamp()));
    // 6 to 8: a release, a draw from that lot, a move.
    writing.release("L-0003", "Ada", "", &stamp()).unwrap();
    writing.make(&making(batch("B-1", "P-0001"), &[("L-0003", 1), ("L-0001", 1)]), &stamp()).unwrap();
    writing.move_lot("L-0003", "cellar", &stamp()).unwrap();
    assert_eq!(
        undo(6),
        "act 6 (lot released) cannot be undone: lot L-0003 was used since it was released: undo act 7 first"
    );
    writing.move_lot("L-0003", "attic", &stamp()).unwrap();
    assert_eq!(
        undo(8),
        "act 8 (lot moved) cannot be undone: lot L-0003 has been changed since (place is attic, not cellar): undo act 9 first"
    );
    assert_eq!(
        undo(2),
        "act 2 (goods received) cannot be undone: lot L-0003 holds 11 mg, and 12 mg would be taken from it: undo act 7 first"
    );
    // 10 and 11: undone, and then the lot is rejected: the batch cannot be made again.
    writing.undo(Some(7), &stamp()).unwrap();
    assert_eq!(undo(7), "act 7 has been undone by act 10: undo act 10 to have it again");
    writing.reject("L-0001", "smells", &stamp()).unwrap();
    assert_eq!(undo(10), "act 7 (batch made) cannot be done again: lot L-0001 is not released any more");
    // 12 to 15: plan and orders.
    writing.plan_add(&[entry("E1", "2027-04-01")], &stamp()).unwrap();
    writing.make(&making(batch("B-2", "E1"), &[]), &stamp()).unwrap();
    assert_eq!(undo(12), "act 12 (plan entry added) cannot be undone: plan entry E1 was made, as batch B-2");
    writing.place_order(&[order("Q", 0, "m00", 3)], &stamp()).unwrap();
    let packs = Some(PacksReceived { pack: Quantity(250_000), packs: 1 });
    writing.receive(&LotRow { order: "Q".to_owned(), ..lot("N", "m00", 9, 9) }, packs, &stamp()).unwrap();
    assert_eq!(undo(14), "act 14 (order placed) cannot be undone: some of order Q has been received");
    writing.cancel_order("Q", &stamp()).unwrap();
    assert_eq!(
        undo(14),
        "act 14 (order placed) cannot be undone: m00 in order Q has been changed since (stands is empty, not yes): undo act 16 first"
    );
    writing.plan_move("P-0002", PlanDay::ReadyBy(date("2027-05-01")), &stamp()).unwrap();
    writing.undo(None, &stamp()).unwrap();
    assert_eq!(writing.book().unwrap().plan.last().unwrap().when, PlanDay::MakeOn(date("2027-03-15")));
    // All obstacles are told at once.
    writing.write_off("L-0003", None, "old", &stamp()).unwrap();
    writing.undo(Some(11), &stamp()).unwrap();
    writing.write_off("L-0001", None, "old", &stamp()).unwrap();
    let both = undo(10);
    assert_eq!(
        both,
        "act 7 (batch made) cannot be done again: lot L-0003 holds 0 g, and 1 mg would be taken from it: undo act 19 first; \
         lot L-0001 holds 0 g, and 1 mg would be taken from it: undo act 21 first"
    );
    let acts: Vec<(i64, bool)> = writing.acts(100).unwrap().iter().map(|deed| (deed.act.act, deed.stands)).collect();
    let fallen: Vec<i64> = acts.iter().filter(|(_, stands)| !stands).map(|(act, _)| *act).collect();
    assert_eq!(fallen, [17, 11, 7]);
    writing.commit().unwrap();
}

#[test]
fn a_count_is_done_again_only_from_what_was_there_then() {
    let (_folder, mut store) = stocked();
    let writing = store.writing().unwrap();
    writing.make(&making(batch("B-1", ""), &[]), &stamp()).unwrap();
    writing.count("L-0001", Quantity(400_000), "spilt", &stamp()).unwrap();
    writing.pieces_count("B-1", 10, "counted", &stamp()).unwrap();
    writing.undo(Some(7), &stamp()).unwrap();
    writing.undo(Some(8), &stamp()).unwrap();
    writing.write_off("L-0001", Some(Quantity(1_000)), "old", &stamp()).unwrap();
    writing.pieces_leave("B-1", PieceKind::Gift, 1, "", &stamp()).unwrap();
    assert_eq!(
        refusal(writing.undo(Some(9), &stamp())),
        "act 7 (lot counted) cannot be done again: lot L-0001 does not hold what it did before that count: count it anew"
    );
    assert_eq!(
        refusal(writing.undo(Some(10), &stamp())),
        "act 8 (pieces counted) cannot be done again: batch B-1 does not have what it had before that count: count it anew"
    );
    writing.undo(Some(12), &stamp()).unwrap();
    let again = writing.undo(Some(10), &stamp()).unwrap();
    assert!(again.again && again.act.act == 8);
    assert_eq!(writing.piece_balances().unwrap()[0].on_hand, 10);
}
