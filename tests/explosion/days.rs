//! Days: make-ahead, what should have been started already, how long ingredients must last, ready-by, the horizon.

use super::support::workshop::Workshop;
use super::support::{day, day_before};
use super::{dated, explode_from_day_0, total};
use chrono::NaiveDate;
use stillroom::plan::calendar::Span;
use stillroom::plan::finding::FindingKind;
use stillroom::plan::model::{ItemId, PlanAmount, PlanDay, ProductId};
use stillroom::plan::quantity::Mass;

/// A balm of an infusion that steeps 28 days, of a maceration that stands 5 days before that.
fn balm(workshop: &mut Workshop) -> (ItemId, ItemId, ItemId, ProductId) {
    let herb = workshop.material("herb");
    let maceration = workshop.premix("maceration", &[(herb, "100")]);
    workshop.making(maceration).make_ahead_days = 5;
    let infusion = workshop.premix("infusion", &[(maceration, "100")]);
    workshop.making(infusion).make_ahead_days = 28;
    let product = workshop.product("balm", &[(infusion, "100")]);
    (herb, maceration, infusion, product)
}

#[test]
fn make_ahead_days_add_up_on_the_way_down() {
    let mut workshop = Workshop::new();
    let (herb, maceration, infusion, balm) = balm(&mut workshop);
    workshop.make(balm, 1_000, day(40));
    let explosion = explode_from_day_0(&workshop.snapshot, day(40));
    assert_eq!(dated(&explosion, infusion), vec![(day(40), 1_000)]);
    assert_eq!(dated(&explosion, maceration), vec![(day(12), 1_000)]);
    assert_eq!(dated(&explosion, herb), vec![(day(7), 1_000)]);
    assert!(explosion.findings.is_empty());
}

#[test]
fn what_should_have_been_started_is_dated_today_and_reported_with_its_true_day() {
    let mut workshop = Workshop::new();
    let (herb, maceration, _, balm) = balm(&mut workshop);
    workshop.make(balm, 1_000, day(10));
    workshop.make(balm, 2_000, day(30));
    workshop.make(balm, 4_000, day_before(3));
    let explosion = explode_from_day_0(&workshop.snapshot, day(30));
    assert_eq!(dated(&explosion, maceration), vec![(day(0), 1_000), (day(0), 4_000), (day(2), 2_000)]);
    assert_eq!(dated(&explosion, herb), vec![(day(0), 1_000), (day(0), 2_000), (day(0), 4_000)]);
    let late: Vec<_> = explosion.findings.iter().map(|finding| (finding.kind, finding.subject.as_str())).collect();
    assert_eq!(late, ["E1", "E2", "E3"].map(|entry| (FindingKind::StartedLate, entry)));
    for (finding, start) in explosion.findings.iter().zip(["Sat 6 February", "Fri 26 February", "Sun 24 January"]) {
        assert!(finding.message.contains(&format!("started on {start};")), "{start}: {}", finding.message);
    }
}

#[test]
fn stock_of_a_premix_needs_no_start() {
    let mut workshop = Workshop::new();
    let (herb, maceration, infusion, balm) = balm(&mut workshop);
    workshop.make(balm, 1_000, day(10));
    workshop.lot(infusion, 600);
    workshop.lot(maceration, 300);
    let explosion = explode_from_day_0(&workshop.snapshot, day(10));
    assert_eq!(
        (total(&explosion, infusion), total(&explosion, maceration), total(&explosion, herb)),
        (1_000, 400, 100)
    );
    let made: Vec<_> = [infusion, maceration].iter().map(|item| explosion.made[item.index()].clone()).collect();
    assert_eq!(made, vec![vec![Mass { mg: 400 }], vec![Mass { mg: 100 }]]);
}

#[test]
fn premix_stock_that_does_not_last_is_not_used() {
    let mut workshop = Workshop::new();
    let (herb, _, infusion, balm) = balm(&mut workshop);
    workshop.facts(balm).minimum_life = Some(Span { months: 3, days: 0 });
    workshop.make(balm, 1_000, day(40));
    workshop.lot(infusion, 600).best_before = Some(day(41));
    let explosion = explode_from_day_0(&workshop.snapshot, day(40));
    assert_eq!(total(&explosion, herb), 1_000);
    // The whole way down must last as long as the balm's ingredients must: through made-on + 3 months.
    let made_on = day(40);
    let lasts = Span { months: 3, days: 0 }.after(made_on);
    assert_eq!(lasts, NaiveDate::from_ymd_opt(2027, 7, 10).unwrap());
    assert!(explosion.demands.iter().flatten().all(|demand| demand.through == lasts));
    assert_eq!(explosion.demands.iter().flatten().count(), 3);
}

#[test]
fn what_must_last_no_longer_than_its_day_is_never_before_it() {
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    let soap = workshop.product("soap", &[(oil, "100")]);
    workshop.facts(soap).minimum_life = Some(Span { months: 0, days: 2 });
    workshop.make(soap, 1_000, day_before(5));
    let explosion = explode_from_day_0(&workshop.snapshot, day(0));
    let demand = explosion.demands[oil.index()][0];
    assert_eq!((demand.day, demand.through), (day(0), day(0)));
}

#[test]
fn ready_by_counts_back_over_setting_and_curing() {
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    let soap = workshop.product("soap", &[(oil, "100")]);
    workshop.facts(soap).setting_days = 2;
    workshop.facts(soap).curing_days = 28;
    workshop.plan(soap, PlanAmount::NetMass(Mass { mg: 5 }), PlanDay::ReadyBy(day(45)));
    let explosion = explode_from_day_0(&workshop.snapshot, day(45));
    assert_eq!((explosion.sizes[0].make_on, explosion.sizes[0].ready_on), (day(15), day(45)));
    assert_eq!(dated(&explosion, oil), vec![(day(15), 5)]);
}

#[test]
fn demands_after_the_horizon_are_left_out_but_not_what_they_need_before_it() {
    let mut workshop = Workshop::new();
    let (herb, maceration, infusion, balm) = balm(&mut workshop);
    workshop.lot(infusion, 100);
    workshop.make(balm, 1_000, day(40));
    workshop.make(balm, 2_000, day(80));
    let explosion = explode_from_day_0(&workshop.snapshot, day(12));
    assert!(explosion.demands[infusion.index()].is_empty());
    assert_eq!(dated(&explosion, maceration), vec![(day(12), 900)]);
    assert_eq!(dated(&explosion, herb), vec![(day(7), 900)]);
    let stock = explosion.premix_stock[infusion.index()].as_ref().unwrap();
    assert_eq!((stock.draws.len(), stock.left[0].0), (0, 100), "what is drawn after the horizon is still there");
}

#[test]
fn demands_stand_in_order_of_day_then_entry_then_line_and_packaging_last() {
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    let premix = workshop.premix("premix", &[(oil, "50"), (oil, "50")]);
    let balm = workshop.product("balm", &[(oil, "10"), (premix, "60"), (oil, "30")]);
    workshop.make(balm, 100_000, day(7));
    workshop.make(balm, 1_000, day(5));
    workshop.make(balm, 1_000_000, day(5));
    let explosion = explode_from_day_0(&workshop.snapshot, day(9));
    let amounts: Vec<i64> = explosion.demands[oil.index()].iter().map(|demand| demand.quantity.0).collect();
    let one = [100, 300, 300, 300];
    let expected: Vec<i64> = [1, 1_000, 100].iter().flat_map(|factor| one.map(|amount| amount * factor)).collect();
    assert_eq!(amounts, expected);
}
