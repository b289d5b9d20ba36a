//! Moves worked out by hand.

use super::support::day;
use super::support::workshop::Workshop;
use stillroom::plan::calendar::OrderCalendar;
use stillroom::plan::model::{EntryId, PlanAmount, PlanDay};
use stillroom::plan::moves::{MoveSettings, moves};
use stillroom::plan::quantity::Mass;

fn calendar(lead_time_days: u32) -> OrderCalendar {
    OrderCalendar { lead_time_days, ..OrderCalendar::default() }
}

#[test]
fn the_late_entry_moves_to_the_day_the_parcel_comes() {
    let mut workshop = Workshop::new();
    let wax = workshop.material("wax");
    let supplier = workshop.supplier(calendar(5));
    workshop.offer(supplier, wax, 100, 100);
    let balm = workshop.product("balm", &[(wax, "100")]);
    workshop.make(balm, 50, day(2));
    let found = moves(&workshop.snapshot, day(0), MoveSettings::default());
    assert!(found.whole && found.proven);
    assert_eq!(found.moves.len(), 1);
    assert_eq!((found.moves[0].entry, found.moves[0].from, found.moves[0].to), (EntryId::new(0), day(2), day(5)));
    assert_eq!(found.late[0].could, Some(found.moves[0]));
}

#[test]
fn one_that_takes_the_stock_of_two_others_moves_in_their_place() {
    let mut workshop = Workshop::new();
    let (wax, oil) = (workshop.material("wax"), workshop.material("oil"));
    workshop.lot(wax, 100);
    workshop.lot(oil, 1_000);
    let supplier = workshop.supplier(calendar(5));
    workshop.offer(supplier, wax, 100, 100);
    let balm = workshop.product("balm", &[(wax, "50"), (oil, "50")]);
    workshop.make(balm, 200, day(1));
    workshop.make(balm, 100, day(2));
    workshop.make(balm, 100, day(3));
    let found = moves(&workshop.snapshot, day(0), MoveSettings::default());
    let told: Vec<_> = found.moves.iter().map(|moved| (moved.entry, moved.to)).collect();
    assert_eq!(told, [(EntryId::new(0), day(5))]);
    assert!(found.whole && found.proven);
    let late: Vec<EntryId> = found.late.iter().map(|late| late.entry).collect();
    assert_eq!(late, [EntryId::new(1), EntryId::new(2)]);
}

#[test]
fn an_infusion_takes_its_days_along_and_a_day_to_be_ready_moves_as_much() {
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    let infusion = workshop.premix("infusion", &[(oil, "100")]);
    workshop.making(infusion).make_ahead_days = 28;
    let supplier = workshop.supplier(calendar(4));
    workshop.offer(supplier, oil, 100, 100);
    let balm = workshop.product("balm", &[(infusion, "100")]);
    workshop.facts(balm).curing_days = 10;
    workshop.plan(balm, PlanAmount::NetMass(Mass { mg: 50 }), PlanDay::ReadyBy(day(30)));
    let found = moves(&workshop.snapshot, day(0), MoveSettings::default());
    let only = found.moves[0];
    assert_eq!((only.from, only.to, only.when), (day(20), day(32), PlanDay::ReadyBy(day(42))));
}

#[test]
fn what_nobody_sells_is_not_mended_by_moving() {
    let mut workshop = Workshop::new();
    let (wax, oil) = (workshop.material("wax"), workshop.material("oil"));
    let supplier = workshop.supplier(calendar(5));
    workshop.offer(supplier, wax, 100, 100);
    let balm = workshop.product("balm", &[(wax, "50"), (oil, "50")]);
    let candle = workshop.product("candle", &[(wax, "100")]);
    workshop.make(balm, 50, day(9));
    workshop.make(candle, 50, day(2));
    let found = moves(&workshop.snapshot, day(0), MoveSettings::default());
    let told: Vec<_> = found.moves.iter().map(|moved| (moved.entry, moved.to)).collect();
    assert_eq!(told, [(EntryId::new(1), day(5))]);
}
