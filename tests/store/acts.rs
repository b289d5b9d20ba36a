//! Acts: receive, order, plan, count, make, and the codes that they give.

use super::invented::{batch, date, entry, lot, making, order, small, stamp, store_of};
use stillroom::book::rows::{BatchRow, LotRow, OrderRow};
use stillroom::plan::model::{LotState, PlanDay};
use stillroom::plan::money::Price;
use stillroom::plan::quantity::Quantity;
use stillroom::store::{PacksReceived, Refusal, Store, StoreError};

#[track_caller]
fn refusal<T: std::fmt::Debug>(outcome: Result<T, StoreError>) -> String {
    match outcome.unwrap_err() {
        StoreError::Refused(refusal) => refusal.to_string(),
        other => panic!("{other:?}"),
    }
}

fn packs(packs: i64) -> Option<PacksReceived> {
    Some(PacksReceived { pack: Quantity(250_000), packs })
}

fn from_order(code: &str, amount: i64) -> LotRow {
    LotRow { order: "O-2027-0001".to_owned(), ..lot(code, "m00", amount, 999) }
}

fn order_line(store: &mut Store) -> OrderRow {
    store.book().unwrap().orders.remove(0)
}

#[test]
fn a_parcel_is_received_in_part_and_then_in_full() {
    let (_folder, _path, mut store) = store_of(&small());
    let writing = store.writing().unwrap();
    writing.receive(&from_order("L-0003", 250_000), packs(1), &stamp()).unwrap();
    let refused = refusal(writing.receive(&from_order("L-0004", 1_000_000), packs(4), &stamp()));
    assert_eq!(
        refused,
        "of m00 in order O-2027-0001 3 packs are still to come, not 4: receive the others without an order"
    );
    writing.receive(&from_order("L-0004", 740_000), packs(3), &stamp()).unwrap();
    writing.receive(&lot("L-0005", "m01", 24, 0), None, &stamp()).unwrap();
    writing.commit().unwrap();
    assert_eq!(order_line(&mut store).packs_received, 4);
    let book = store.book().unwrap();
    assert_eq!(book.lots[2], from_order("L-0003", 250_000));
    let standings = store.standings().unwrap();
    assert_eq!((standings[3].on_hand, standings[3].cost.minor), (Quantity(740_000), 999));
    let ledger = store.journal().unwrap().ledger;
    assert_eq!(ledger.iter().map(|row| row.act).collect::<Vec<_>>(), [1, 1, 2, 3, 4]);
    let refused = refusal(store.writing().unwrap().cancel_order("O-2027-0001", &stamp()));
    assert_eq!(refused, "nothing of order O-2027-0001 is still to come");
}

#[test]
fn a_parcel_that_does_not_fit_is_refused() {
    let (_folder, _path, mut store) = store_of(&small());
    let writing = store.writing().unwrap();
    let check = |lot: LotRow, packs: Option<PacksReceived>, expected: &str| {
        assert_eq!(refusal(writing.receive(&lot, packs, &stamp())), expected);
    };
    check(from_order("L-0001", 1), packs(1), "lot L-0001 is there already: give it another code");
    check(from_order("L-0003", 0), packs(1), "the amount of lot L-0003 must be above 0");
    check(from_order("L-0003", 1), packs(0), "the number of packs must be above 0");
    check(lot("L-0003", "moonlight", 1, 1), None, "there is no item moonlight");
    let other_pack = Some(PacksReceived { pack: Quantity(1), packs: 1 });
    check(from_order("L-0003", 1), other_pack, "order O-2027-0001 has no line of m00 in packs of 1 mg");
    let stranger = LotRow { supplier: "s1".to_owned(), ..from_order("L-0003", 1) };
    check(stranger, packs(1), "order O-2027-0001 is with s0, not with s1");
    let unknown = LotRow { order: "O-1".to_owned(), ..from_order("L-0003", 1) };
    check(unknown, packs(1), "there is no order O-1");
    writing.cancel_order("O-2027-0001", &stamp()).unwrap();
    check(from_order("L-0003", 1), packs(1), "nothing of order O-2027-0001 is still to come");
    // None of it left a trace.
    assert_eq!(writing.book().unwrap().lots, small().lots);
}

#[test]
fn orders_are_placed_and_cancelled() {
    let (_folder, _path, mut store) = store_of(&small());
    let writing = store.writing().unwrap();
    let code = writing.next_order_code(date("2027-03-09")).unwrap();
    assert_eq!(code, "O-2027-0002");
    let lines = [order(&code, 1, "m00", 2), order(&code, 1, "m02", 1)];
    writing.place_order(&lines, &stamp()).unwrap();
    assert_eq!(
        refusal(writing.place_order(&lines, &stamp())),
        "order O-2027-0002 is there already: give it another code"
    );
    let mixed = [order("O-3", 0, "m00", 2), order("O-3", 1, "m02", 1)];
    assert_eq!(refusal(writing.place_order(&mixed, &stamp())), "order O-3 is with s0, not with s1");
    let twice = [order("O-3", 0, "m00", 2), order("O-3", 0, "m00", 1)];
    assert!(refusal(writing.place_order(&twice, &stamp())).contains("m00 in order O-3"));
    assert_eq!(
        refusal(writing.place_order(&[order("O-3", 0, "m00", 0)], &stamp())),
        "the packs of m00 must be above 0"
    );
    assert_eq!(writing.next_order_code(date("2027-03-09")).unwrap(), "O-2027-0003");
    assert_eq!(writing.next_order_code(date("2028-01-01")).unwrap(), "O-2028-0001");
    writing.receive(&from_order("L-0003", 250_000), packs(1), &stamp()).unwrap();
    writing.cancel_order("O-2027-0001", &stamp()).unwrap();
    writing.commit().unwrap();
    let orders = store.book().unwrap().orders;
    let told: Vec<_> = orders.iter().map(|row| (row.material.as_str(), row.packs_received, row.cancelled)).collect();
    assert_eq!(told, [("m00", 1, true), ("m00", 0, false), ("m02", 0, false)]);
    assert_eq!(refusal(store.writing().unwrap().cancel_order("O-9", &stamp())), "there is no order O-9");
}

#[test]
fn the_plan_is_changed_and_no_code_is_given_twice() {
    let (_folder, _path, mut store) = store_of(&small());
    let writing = store.writing().unwrap();
    assert_eq!(writing.next_entry_code().unwrap(), "P-0003");
    writing.plan_add(&[entry("P-0003", "2027-04-01"), entry("A", "2027-04-02")], &stamp()).unwrap();
    writing.plan_move("P-0001", PlanDay::ReadyBy(date("2027-05-01")), &stamp()).unwrap();
    writing.plan_drop("P-0003", &stamp()).unwrap();
    assert_eq!(writing.next_entry_code().unwrap(), "P-0004");
    let again = refusal(writing.plan_add(&[entry("B", "2027-04-01"), entry("P-0003", "2027-04-01")], &stamp()));
    assert_eq!(again, "plan entry P-0003 is there already: give it another code");
    assert_eq!(refusal(writing.plan_drop("P-0003", &stamp())), "there is no plan entry P-0003");
    let stranger = stillroom::book::rows::PlanRow { product: "p9".to_owned(), ..entry("B", "2027-04-01") };
    assert_eq!(refusal(writing.plan_add(&[stranger], &stamp())), "there is no product p9");
    writing.make(&making(batch("B-2027-0001", "P-0002"), &[]), &stamp()).unwrap();
    assert_eq!(writing.next_batch_number(date("2027-12-31")).unwrap(), "B-2027-0002");
    let made = "plan entry P-0002 has been made already";
    assert_eq!(refusal(writing.plan_move("P-0002", PlanDay::MakeOn(date("2027-05-01")), &stamp())), made);
    assert_eq!(refusal(writing.make(&making(batch("B-2027-0002", "P-0002"), &[]), &stamp())), made);
    writing.commit().unwrap();
    let plan = store.book().unwrap().plan;
    assert_eq!(plan.iter().map(|row| row.entry.as_str()).collect::<Vec<_>>(), ["P-0001", "A"]);
    assert_eq!(plan[0].when, PlanDay::ReadyBy(date("2027-05-01")));
}

#[test]
fn draws_share_the_cost_to_the_minor_unit_and_open_the_lot() {
    let (_folder, _path, mut store) = store_of(&small());
    let writing = store.writing().unwrap();
    writing.receive(&lot("L-0003", "m00", 3, 100), None, &stamp()).unwrap();
    let make =
        |number: &str, entry: &str, draws: &[(&str, i64)]| writing.make(&making(batch(number, entry), draws), &stamp());
    // A third of 100 is 33; half of the 67 that are left 34 (half up); the last takes the rest.
    let drawn = make("B-1", "", &[("L-0003", 1), ("L-0003", 1), ("L-0003", 1)]).unwrap();
    assert_eq!(drawn.iter().map(|drawn| drawn.cost.minor).collect::<Vec<_>>(), [33, 34, 33]);

    let refused = make("B-2", "", &[("L-0001", 1), ("L-0002", 300_001)]);
    assert_eq!(refusal(refused), "lot L-0002 holds 300 g, and 300.001 g was asked for: count it if there is more");
    assert_eq!(refusal(make("B-2", "", &[("L-0001", -1)])), "what is drawn from lot L-0001 must be 0 or more");
    assert_eq!(refusal(make("B-1", "", &[])), "batch B-1 is there already: give it another code");
    assert_eq!(refusal(make("B-2", "P-9", &[])), "there is no plan entry P-9");
    let waiting = LotRow { state: LotState::Quarantine, ..lot("L-0004", "m00", 3, 100) };
    writing.receive(&waiting, None, &stamp()).unwrap();
    assert_eq!(refusal(make("B-2", "", &[("L-0004", 1)])), "lot L-0004 is not released: release it first");
    // A caller that goes on after a refusal commits no half of what was refused.
    writing.commit().unwrap();
    let journal = store.journal().unwrap();
    assert_eq!(journal.batches, [batch("B-1", "")]);
    let opened: Vec<_> = store.book().unwrap().lots.into_iter().map(|lot| lot.opened).collect();
    assert_eq!(opened, [None, None, Some(date("2027-03-09")), None]);
    let issues: Vec<_> = journal.ledger.iter().filter(|row| row.batch == "B-1").map(|row| row.cost).collect();
    assert_eq!(issues, [-33, -34, -33]);
    assert!(store.standings().unwrap()[2].on_hand.is_zero());
}

#[test]
fn a_lot_is_opened_once() {
    let (_folder, _path, mut store) = store_of(&small());
    let writing = store.writing().unwrap();
    for (number, made_on) in ["2027-03-09", "2027-03-20"].into_iter().enumerate() {
        let made = BatchRow { made_on: date(made_on), ..batch(&format!("B-{number}"), "") };
        writing.make(&making(made, &[("L-0001", 1)]), &stamp()).unwrap();
    }
    assert_eq!(writing.book().unwrap().lots[0].opened, Some(date("2027-03-09")));
    // Each draw stands on the day of its batch.
    let days: Vec<_> = writing.journal().unwrap().ledger[2..].iter().map(|row| row.day).collect();
    assert_eq!(days, [date("2027-03-09"), date("2027-03-20")]);
}

#[test]
fn a_count_writes_the_difference_and_a_miscount_can_be_counted_right() {
    let (_folder, _path, mut store) = store_of(&small());
    let writing = store.writing().unwrap();
    let count = |counted: i64| writing.count("L-0001", Quantity(counted), " spilt ", &stamp()).unwrap();
    let standing = || writing.standings().unwrap().remove(0);
    assert_eq!(count(500_000), Quantity::ZERO);
    assert!(!standing().moved);
    assert_eq!(count(400_001), Quantity(-99_999));
    assert_eq!((standing().on_hand, standing().cost.minor, standing().moved), (Quantity(400_001), 800, true));
    assert_eq!(count(0), Quantity(-400_001));
    assert_eq!(standing().cost, Price::ZERO);
    // All of it was there after all, and 5 g more, which cost nothing.
    assert_eq!(count(505_000), Quantity(505_000));
    assert_eq!((standing().on_hand, standing().cost.minor), (Quantity(505_000), 1_000));
    assert_eq!(count(510_000), Quantity(5_000));
    assert_eq!(standing().cost.minor, 1_000);
    let ledger = writing.journal().unwrap().ledger;
    assert_eq!(ledger.len(), 6);
    assert!(ledger[2..].iter().all(|row| row.reason == "spilt"));
    let words = "a count needs a reason and an amount of 0 or more";
    assert_eq!(refusal(writing.count("L-0001", Quantity(1), " ", &stamp())), words);
    assert_eq!(refusal(writing.count("L-0001", Quantity(-1), "why", &stamp())), words);
    assert_eq!(refusal(writing.count("L-9", Quantity(1), "why", &stamp())), "there is no lot L-9");
}

#[test]
fn codes_go_on_from_the_highest_and_leave_the_makers_own_alone() {
    let mut book = small();
    for code in ["L-41", "L-0007", "L-x9", "L-1234567890123456789012", "M-0099", "L-"] {
        book.lots.push(lot(code, "m00", 1, 1));
    }
    book.lots.sort_by(|one, other| one.lot.cmp(&other.lot));
    let (_folder, _path, mut store) = store_of(&book);
    assert_eq!(store.reading().unwrap().next_lot_code().unwrap(), "L-0042");
    assert_eq!(store.reading().unwrap().next_batch_number(date("2027-01-01")).unwrap(), "B-2027-0001");
    let taken = Refusal::Taken { what: "lot", code: "L-41".to_owned() };
    let refused = store.writing().unwrap().receive(&lot("L-41", "m00", 1, 1), None, &stamp());
    assert_eq!(refusal(refused), taken.to_string());
}
