//! The last day on which using a lot still helps.

use super::support::day;
use super::support::workshop::Workshop;
use chrono::NaiveDate;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::calendar::Span;
use stillroom::plan::model::{Packaging, ProductId, Snapshot};
use stillroom::plan::outlook::look_ahead;
use stillroom::plan::rescue::LastDays;
use stillroom::view::expiring::expiring;

fn life(days: u32) -> Option<Span> {
    Some(Span { months: 0, days })
}

fn last_of_first(snapshot: &Snapshot) -> Option<NaiveDate> {
    let outlook = look_ahead(snapshot, day(0), Some(day(60)), SearchLimit::default());
    expiring(snapshot, &outlook).lots[0].last_useful_day
}

/// Oil that ends on day 40, in a balm that asks for so many days more.
fn oil_in_balm(minimum_life: Option<Span>) -> (Workshop, ProductId) {
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    let balm = workshop.product("balm", &[(oil, "100")]);
    workshop.facts(balm).minimum_life = minimum_life;
    workshop.lot(oil, 100).best_before = Some(day(40));
    (workshop, balm)
}

#[test]
fn the_product_with_the_shortest_minimum_life_decides() {
    let (mut workshop, _) = oil_in_balm(life(30));
    assert_eq!(last_of_first(&workshop.snapshot), Some(day(10)));
    let oil = stillroom::plan::model::ItemId(0);
    let soap = workshop.product("soap", &[(oil, "100")]);
    workshop.facts(soap).minimum_life = life(12);
    assert_eq!(last_of_first(&workshop.snapshot), Some(day(28)));
}

#[test]
fn it_may_be_too_late_already() {
    let (workshop, _) = oil_in_balm(life(41));
    assert_eq!(last_of_first(&workshop.snapshot), None);
    let (workshop, _) = oil_in_balm(life(40));
    assert_eq!(last_of_first(&workshop.snapshot), Some(day(0)));
    let mut unused = Workshop::new();
    let dust = unused.material("dust");
    unused.lot(dust, 5).best_before = Some(day(3));
    assert_eq!(last_of_first(&unused.snapshot), None, "no product asks for it");
}

#[test]
fn months_are_those_of_the_calendar() {
    // Day 40 is the 10th of April 2027; a month before is the 10th of March, day 9.
    let (workshop, _) = oil_in_balm(Some(Span { months: 1, days: 0 }));
    assert_eq!(last_of_first(&workshop.snapshot), Some(day(9)));
}

#[test]
fn make_ahead_days_move_the_weighing_not_the_last_make_date() {
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    let infusion = workshop.premix("infusion", &[(oil, "100")]);
    workshop.making(infusion).make_ahead_days = 28;
    let balm = workshop.product("balm", &[(infusion, "100")]);
    workshop.lot(oil, 100).best_before = Some(day(40));
    // Made on day 40 it is steeped from day 12 on, with oil that lasts through day 40.
    assert_eq!(last_of_first(&workshop.snapshot), Some(day(40)));
    workshop.facts(balm).minimum_life = life(12);
    assert_eq!(last_of_first(&workshop.snapshot), Some(day(28)), "steeped from today on");
    workshop.facts(balm).minimum_life = life(13);
    assert_eq!(last_of_first(&workshop.snapshot), None, "it should be steeping already");
}

#[test]
fn packaging_need_not_last() {
    let (mut workshop, balm) = oil_in_balm(life(90));
    let tin = workshop.packaging("tin");
    workshop.facts(balm).packaging.push(Packaging { item: tin, per_piece_millionths: 1_000_000, per_batch: 0 });
    workshop.lot(tin, 10).best_before = Some(day(30));
    let outlook = look_ahead(&workshop.snapshot, day(0), Some(day(60)), SearchLimit::default());
    assert_eq!(LastDays::new(&workshop.snapshot, &outlook).of(tin, 0), Some(day(30)));
}

#[test]
fn what_would_have_to_be_opened_must_last_from_then_on() {
    let (mut workshop, balm) = oil_in_balm(life(10));
    let oil = stillroom::plan::model::ItemId(0);
    workshop.item(oil).opened_life = life(10);
    assert_eq!(last_of_first(&workshop.snapshot), Some(day(30)));
    workshop.item(oil).opened_life = life(9);
    assert_eq!(last_of_first(&workshop.snapshot), None, "opened for the balm it ends before the balm may");
    workshop.facts(balm).minimum_life = life(9);
    assert_eq!(last_of_first(&workshop.snapshot), Some(day(31)));
}
