//! Small workshops whose best batches can be told by hand.

use super::adopted::{adopt, value_at_risk};
use super::support::day;
use super::support::workshop::Workshop;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::calendar::{OrderCalendar, Span};
use stillroom::plan::model::{ItemId, PlanAmount, ProductId};
use stillroom::plan::money::{Money, Price};
use stillroom::plan::outlook::{Outlook, look_ahead};
use stillroom::plan::quantity::{Mass, Quantity};
use stillroom::plan::rescue::{Batch, Rescue, RescueSettings, rescue, weigh_up};
use stillroom::render::rescue::document;
use stillroom::render::table::Screen;
use stillroom::render::text::terminal;
use stillroom::view::rescue as view;

const HORIZON: u64 = 20;

fn life(days: u32) -> Option<Span> {
    Some(Span { months: 0, days })
}

fn outlook(workshop: &Workshop) -> Outlook {
    look_ahead(&workshop.snapshot, day(0), Some(day(HORIZON)), SearchLimit::default())
}

/// The best batches; whatever they are, in the plan they save what they say and let nobody run short.
fn best(workshop: &Workshop, most_batches: usize) -> Rescue {
    let outlook = outlook(workshop);
    let found = rescue(&workshop.snapshot, &outlook, RescueSettings { most_batches, ..RescueSettings::default() });
    assert!(found.proven, "{found:?}");
    let (lots, orders) = (workshop.snapshot.lots.len(), workshop.snapshot.orders.len());
    let adopted = adopt(&workshop.snapshot, &outlook, &found);
    let after = look_ahead(&adopted, day(0), Some(day(HORIZON)), SearchLimit::default());
    assert_eq!(found.at_risk - found.saved, value_at_risk(&after, lots, orders), "{found:?}");
    assert_eq!(after.shortages, Vec::new(), "{found:?}");
    found
}

/// A lot with a last day and a price.
fn lot(workshop: &mut Workshop, item: ItemId, quantity: i64, cost_minor: i64, through: u64) {
    let lot = workshop.lot(item, quantity);
    lot.cost = Price { minor: cost_minor };
    lot.best_before = Some(day(through));
}

/// A product in moulds of two pieces of 50 mg.
fn in_moulds(workshop: &mut Workshop, code: &str, lines: &[(ItemId, &str)]) -> ProductId {
    let product = workshop.product(code, lines);
    workshop.facts(product).net_mass = Some(Mass { mg: 50 });
    workshop.facts(product).pieces_per_mould = Some(2);
    product
}

/// Oil at risk through day 10 and wax that lasts, in a balm of equal parts; a supplier sells wax.
fn oil_and_wax(wax_there: i64, wax_price_minor: i64) -> (Workshop, ProductId) {
    let mut workshop = Workshop::new();
    let (oil, wax) = (workshop.material("oil"), workshop.material("wax"));
    let balm = in_moulds(&mut workshop, "balm", &[(oil, "50"), (wax, "50")]);
    lot(&mut workshop, oil, 100, 1_000, 10);
    if wax_there > 0 {
        workshop.lot(wax, wax_there);
    }
    let supplier = workshop.supplier(OrderCalendar { lead_time_days: 4, ..OrderCalendar::default() });
    workshop.offer(supplier, wax, 100, wax_price_minor);
    (workshop, balm)
}

#[test]
fn no_more_is_made_than_uses_up_what_is_at_risk() {
    let (workshop, balm) = oil_and_wax(1_000, 1);
    let found = best(&workshop, 1);
    // Two moulds of 100 mg take the 100 mg of oil; a batch is at most two of the least.
    let proposal = &found.proposals[0];
    assert_eq!((proposal.product, proposal.amount, proposal.pieces), (balm, PlanAmount::Moulds(2), 4));
    assert_eq!((found.saved, found.to_buy, proposal.buys.len()), (Money { minor: 1_000 }, Money::ZERO, 0));
    assert_eq!((proposal.make_on, proposal.net), (day(0), Mass { mg: 200 }));
    assert_eq!((proposal.uses[0].item, proposal.uses[0].quantity), (ItemId(0), Quantity(100)));
}

#[test]
fn what_is_short_is_bought_in_time_or_nothing_is_made() {
    // 100 mg of wax for 6.00; the oil saved is worth 10.00. It takes four days to come.
    let (workshop, _) = oil_and_wax(0, 600);
    let found = best(&workshop, 1);
    assert_eq!((found.saved, found.to_buy), (Money { minor: 1_000 }, Money { minor: 600 }));
    assert_eq!(found.proposals[0].make_on, day(4));
    assert_eq!(found.proposals[0].buys[0].quantity, Quantity(100));
    let (dear, _) = oil_and_wax(0, 1_001);
    assert_eq!(best(&dear, 1).proposals, Vec::new(), "the wax costs more than the oil is worth");
    let (mut slow, _) = oil_and_wax(0, 1);
    slow.snapshot.suppliers[0].calendar.lead_time_days = 11;
    assert_eq!(best(&slow, 1).proposals, Vec::new(), "the wax would come a day late");
    slow.snapshot.suppliers[0].calendar.lead_time_days = 10;
    assert_eq!(best(&slow, 1).proposals.len(), 1);
    slow.snapshot.offers.clear();
    assert_eq!(best(&slow, 1).proposals, Vec::new(), "nobody sells wax");
}

#[test]
fn the_plan_comes_first_even_where_it_is_later() {
    let (mut workshop, _) = oil_and_wax(100, 600);
    let candle = workshop.product("candle", &[(ItemId(1), "100")]);
    workshop.make(candle, 80, day(20));
    let found = best(&workshop, 1);
    // 20 mg of wax are free; 80 mg have to be bought.
    assert_eq!(found.proposals[0].buys[0].quantity, Quantity(80));
    assert_eq!((found.saved, found.to_buy), (Money { minor: 1_000 }, Money { minor: 480 }));
}

#[test]
fn nothing_is_proposed_where_nothing_helps() {
    let (mut workshop, balm) = oil_and_wax(1_000, 1);
    workshop.facts(balm).minimum_life = life(11);
    assert_eq!(best(&workshop, 3).proposals, Vec::new(), "the balm must last longer than the oil");
    workshop.facts(balm).minimum_life = life(10);
    assert_eq!(best(&workshop, 3).proposals[0].make_on, day(0), "made today it may");
    workshop.snapshot.lots[0].best_before = None;
    let found = best(&workshop, 3);
    assert_eq!((found.proposals.len(), found.at_risk), (0, Money::ZERO), "nothing is at risk");
    workshop.snapshot.lots[0].best_before = Some(day(0) - chrono::Days::new(1));
    let found = best(&workshop, 3);
    assert_eq!((found.proposals.len(), found.at_risk), (0, Money { minor: 1_000 }), "it is over already");
}

#[test]
fn a_premix_that_will_expire_counts_as_well() {
    let mut workshop = Workshop::new();
    let (oil, wax) = (workshop.material("oil"), workshop.material("wax"));
    let base = workshop.premix("base", &[(oil, "100")]);
    workshop.making(base).make_ahead_days = 5;
    in_moulds(&mut workshop, "balm", &[(base, "60"), (wax, "40")]);
    lot(&mut workshop, base, 60, 700, 3);
    workshop.lot(wax, 500);
    workshop.lot(oil, 500);
    let found = best(&workshop, 3);
    // One mould takes 60 mg of the base, all there is; for a second the base should have been started days ago.
    assert_eq!((found.proposals.len(), found.saved), (1, Money { minor: 700 }));
    assert_eq!((found.proposals[0].amount, found.proposals[0].uses[0].item), (PlanAmount::Moulds(1), base));
    let two = Batch { product: ProductId(0), make_on: day(0), amount: PlanAmount::Moulds(2) };
    assert_eq!(weigh_up(&workshop.snapshot, &outlook(&workshop), RescueSettings::default(), &[two]), None);
}

#[test]
fn an_ingredient_is_used_through_a_premix_that_takes_days() {
    let mut workshop = Workshop::new();
    let (oil, wax) = (workshop.material("oil"), workshop.material("wax"));
    let infusion = workshop.premix("infusion", &[(oil, "100")]);
    workshop.making(infusion).make_ahead_days = 7;
    let balm = in_moulds(&mut workshop, "balm", &[(infusion, "50"), (wax, "50")]);
    lot(&mut workshop, oil, 50, 400, 9);
    workshop.lot(wax, 500);
    let found = best(&workshop, 1);
    // Steeped from today it is made on day 7; the oil must last through that day.
    assert_eq!((found.proposals[0].make_on, found.saved), (day(7), Money { minor: 400 }));
    workshop.facts(balm).minimum_life = life(3);
    assert_eq!(best(&workshop, 1).proposals, Vec::new(), "the oil ends two days after the balm is made");
}

#[test]
fn what_the_plan_opens_is_used_before_its_life_once_opened_ends() {
    let mut workshop = Workshop::new();
    let oil = workshop.material("oil");
    workshop.item(oil).opened_life = life(3);
    let balm = in_moulds(&mut workshop, "balm", &[(oil, "100")]);
    workshop.lot(oil, 300).cost = Price { minor: 900 };
    workshop.make(balm, 100, day(6));
    // Opened on day 6 it ends on day 9 with 200 mg in it; unopened it lasted for ever.
    let found = best(&workshop, 1);
    assert_eq!((found.at_risk, found.saved), (Money { minor: 600 }, Money { minor: 600 }));
    let proposal = &found.proposals[0];
    assert_eq!(proposal.amount, PlanAmount::Moulds(2));
    assert!((day(3)..=day(9)).contains(&proposal.make_on), "{}", proposal.make_on);
}

#[test]
fn no_lot_is_opened_that_would_then_be_lost() {
    // The balm would use up the oil at risk, 10.00, but opens wax worth 90.00 of which nearly all would end by day 15.
    let (mut workshop, _) = oil_and_wax(5_000, 2_000);
    workshop.item(ItemId(1)).opened_life = life(3);
    workshop.snapshot.lots[1].cost = Price { minor: 9_000 };
    assert_eq!(best(&workshop, 2).proposals, Vec::new());
    workshop.item(ItemId(1)).opened_life = life(60);
    assert_eq!(best(&workshop, 2).saved, Money { minor: 1_000 }, "what is opened lasts");
}

#[test]
fn two_batches_do_not_save_the_same_oil_twice() {
    let (mut workshop, balm) = oil_and_wax(1_000, 1);
    let clay = workshop.material("clay");
    workshop.lot(clay, 1_000);
    lot(&mut workshop, clay, 40, 200, 5);
    lot(&mut workshop, ItemId(0), 60, 600, 10);
    workshop.lot(ItemId(0), 1_000);
    let mask = in_moulds(&mut workshop, "mask", &[(ItemId(0), "60"), (clay, "40")]);
    // 160 mg of oil for 16.00 and 40 mg of clay for 2.00 are at risk. Two moulds of the mask, the most there may be in a
    // batch, take the clay and 120 mg of the oil; a mould of the balm takes the last 40 mg, and 10 mg that last.
    let alone = best(&workshop, 1);
    assert_eq!((alone.proposals[0].product, alone.saved), (mask, Money { minor: 1_400 }));
    let found = best(&workshop, 3);
    assert_eq!(found.saved, Money { minor: 1_800 });
    let oil = |proposal: &stillroom::plan::rescue::Proposal| -> Quantity {
        proposal.uses.iter().filter(|used| used.item == ItemId(0)).map(|used| used.quantity).sum()
    };
    assert_eq!(found.proposals.iter().map(oil).sum::<Quantity>(), Quantity(160));
    let products: Vec<ProductId> = found.proposals.iter().map(|proposal| proposal.product).collect();
    assert_eq!(products, [balm, mask]);
}

#[test]
fn it_reads_as_a_maker_would_say_it() {
    let (mut workshop, _) = oil_and_wax(40, 600);
    workshop.snapshot.items[0].name = "Almond oil".to_owned();
    workshop.snapshot.items[1].name = "Beeswax".to_owned();
    let outlook = outlook(&workshop);
    let found = rescue(&workshop.snapshot, &outlook, RescueSettings::default());
    let view = view::rescue(&workshop.snapshot, &outlook, &found);
    let expected = "\
1 extra batch saves 10.00 EUR of the 10.00 EUR that is at risk through Sun 21 March.

On Fri 5 March make 4 pieces (200 mg) of balm.
It uses up 100 mg of Almond oil (L0001), worth 10.00 EUR.
To buy: 60 mg of Beeswax, about 3.60 EUR.
It is worth 6.40 EUR all told.
To plan it: stillroom plan add balm \"4 pcs\" --make-on 2027-03-05

All together: 10.00 EUR saved, 3.60 EUR to buy, 6.40 EUR to the good. No entry of the plan gets
less; postage, whole packs and your work are not counted.
No other such batches are worth more.
";
    assert_eq!(terminal(&document(&view), Screen::default()), expected);
    let json = serde_json::to_value(&view).unwrap();
    let proposal = &json["proposals"][0];
    assert_eq!((json["proven"].as_bool(), json["net"].as_str()), (Some(true), Some("6.40")));
    assert_eq!((proposal["make_on"].as_str(), proposal["amount"].as_i64()), (Some("2027-03-05"), Some(200)));
    assert_eq!((proposal["buy"][0]["unit"].as_str(), proposal["buy"][0]["amount"].as_i64()), (Some("mg"), Some(60)));
    workshop.snapshot.lots[0].best_before = None;
    let outlook = look_ahead(&workshop.snapshot, day(0), Some(day(HORIZON)), SearchLimit::default());
    let nothing = rescue(&workshop.snapshot, &outlook, RescueSettings::default());
    let text = terminal(&document(&view::rescue(&workshop.snapshot, &outlook, &nothing)), Screen::default());
    assert!(text.starts_with("0.00 EUR is at risk through Sun 21 March; no extra batch"), "{text}");
}
