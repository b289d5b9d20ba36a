//! Wishes, the last list, and what received orders tell.

use super::invented::{date, lot, order, small, stamp, store_of};
use stillroom::book::rows::{LotRow, WishKind, WishRow};
use stillroom::book::{ListRows, ListedRow, ReceivedOrder};
use stillroom::plan::quantity::{Percent, Quantity};
use stillroom::store::{PacksReceived, Refusal, Stamp, StoreError, Writing};

fn wish(code: &str, supplier: &str) -> WishRow {
    WishRow {
        wish: code.to_owned(),
        kind: WishKind::Prefer,
        supplier: supplier.to_owned(),
        material: String::new(),
        pack: None,
        from: None,
        to: None,
        percent: Some(Percent { millionths: 5_000_000 }),
        amount: None,
        reason: "they pack well".to_owned(),
        lifted: false,
    }
}

#[test]
fn a_wish_is_kept_lifted_and_both_can_be_taken_back() {
    let (_folder, _path, mut store) = store_of(&small());
    let writing = store.writing().unwrap();
    assert_eq!(writing.next_wish_code().unwrap(), "W-0001");
    writing.keep_wish(&wish("W-0001", "s0"), &stamp()).unwrap();
    assert_eq!(writing.next_wish_code().unwrap(), "W-0002");
    writing.lift_wish("W-0001", &stamp()).unwrap();
    let lifted = |writing: &Writing<'_>| writing.book().unwrap().wishes[0].lifted;
    assert!(lifted(&writing));
    let undone = writing.undo(None, &stamp()).unwrap();
    assert_eq!((undone.act.kind.as_str(), lifted(&writing)), ("lift-wish", false));
    let undone = writing.undo(None, &stamp()).unwrap();
    assert_eq!((undone.act.kind.as_str(), lifted(&writing)), ("keep-wish", true));
    writing.undo(Some(undone.by), &stamp()).unwrap();
    assert!(!lifted(&writing));
    // A code is given once, also where its wish no longer counts.
    assert_eq!(writing.next_wish_code().unwrap(), "W-0002");
    writing.commit().unwrap();
}

#[test]
fn wishes_about_nothing_are_refused() {
    let (_folder, _path, mut store) = store_of(&small());
    let writing = store.writing().unwrap();
    let refused = |outcome: Result<(), StoreError>| match outcome.unwrap_err() {
        StoreError::Refused(refusal) => refusal,
        other => panic!("{other}"),
    };
    let unknown = refused(writing.keep_wish(&wish("W-0001", "nobody"), &stamp()));
    assert!(matches!(unknown, Refusal::Unknown { what: "supplier", .. }));
    writing.keep_wish(&wish("W-0001", "s0"), &stamp()).unwrap();
    assert!(matches!(refused(writing.keep_wish(&wish("W-0001", "s1"), &stamp())), Refusal::Taken { what: "wish", .. }));
    writing.lift_wish("W-0001", &stamp()).unwrap();
    assert!(matches!(refused(writing.lift_wish("W-0001", &stamp())), Refusal::Unknown { what: "wish", .. }));
}

#[test]
fn the_last_list_is_the_last_one() {
    let (_folder, _path, mut store) = store_of(&small());
    let line = |packs| ListedRow {
        order_on: date("2027-03-12"),
        supplier: "s0".to_owned(),
        material: "m00".to_owned(),
        pack: Quantity(250_000),
        packs,
    };
    let list = |packs| ListRows {
        lines: vec![line(packs)],
        whole_mark: format!("{packs}"),
        lasting_mark: "a".to_owned(),
        lower_bound: 5,
        simple_objective: 9,
        new_would_save: Some(packs),
    };
    for packs in [3, 4] {
        let writing = store.writing().unwrap();
        writing.keep_list(&list(packs)).unwrap();
        writing.commit().unwrap();
    }
    let acts = store.journal().unwrap().acts.len();
    assert_eq!(store.reading().unwrap().last_list().unwrap(), list(4));
    assert_eq!(acts, 1, "a list is no act: only the import is one");
    let writing = store.writing().unwrap();
    writing.keep_list(&ListRows::default()).unwrap();
    assert_eq!(writing.last_list().unwrap(), ListRows::default());
}

#[test]
fn an_order_teaches_once_the_last_of_it_has_come_and_not_when_that_is_undone() {
    let mut book = small();
    let mut more = order("O-2027-0001", 0, "m02", 2);
    more.pack = Quantity(100_000);
    book.orders.push(more);
    let (_folder, _path, mut store) = store_of(&book);
    let receive = |writing: &Writing<'_>, material: &str, pack: i64, packs: i64, day: &str| {
        let stamp = Stamp { day: date(day), ..stamp() };
        let code = writing.next_lot_code().unwrap();
        let received = LotRow {
            order: "O-2027-0001".to_owned(),
            received: Some(date(day)),
            ..lot(&code, material, pack * packs, 900)
        };
        writing.receive(&received, Some(PacksReceived { pack: Quantity(pack), packs }), &stamp)
    };
    let writing = store.writing().unwrap();
    receive(&writing, "m00", 250_000, 4, "2027-03-10").unwrap();
    assert!(writing.received_orders().unwrap().is_empty(), "one line is still to come");
    receive(&writing, "m02", 100_000, 2, "2027-03-14").unwrap();
    let told = ReceivedOrder {
        supplier: "s0".to_owned(),
        order: "O-2027-0001".to_owned(),
        placed: date("2027-03-01"),
        complete: date("2027-03-14"),
    };
    assert_eq!(writing.received_orders().unwrap(), [told]);
    writing.undo(None, &stamp()).unwrap();
    assert!(writing.received_orders().unwrap().is_empty());
}
