//! Proposals in the plan: what they save is what the value at risk falls by, and the plan's own entries lack nothing for it.

use super::random_workshop::{Parts, random_workshop};
use super::support::{Random, day};
use chrono::NaiveDate;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::model::{ItemId, Lot, LotState, OpenOrder, PlanDay, PlanEntry, Snapshot, SupplierId};
use stillroom::plan::money::{Money, Price};
use stillroom::plan::outlook::{Outlook, look_ahead};
use stillroom::plan::quantity::Quantity;
use stillroom::plan::rescue::{Rescue, RescueSettings, rescue};
use stillroom::plan::supply::Source;

/// The value at risk of what was there before anything was bought.
pub fn value_at_risk(outlook: &Outlook, lots: usize, orders: usize) -> Money {
    let mut sum = Money::ZERO;
    for part in &outlook.items {
        let Some(allocation) = &part.allocation else { continue };
        for (supply, source) in part.sources.iter().enumerate() {
            let was_there = match source {
                Source::Lot(place) => *place < lots,
                Source::Order(place) => *place < orders,
            };
            if was_there && allocation.through[supply] <= outlook.horizon {
                sum += part.value_of(supply, allocation.left[supply]);
            }
        }
    }
    sum
}

/// So much is there on a day, for nothing and for ever.
pub fn bring(snapshot: &mut Snapshot, today: NaiveDate, item: ItemId, quantity: Quantity, on: NaiveDate) {
    if on > today {
        snapshot.orders.push(OpenOrder {
            code: format!("X{}", snapshot.orders.len()),
            pack_text: String::new(),
            packs: 1,
            was_proposed: false,
            supplier: SupplierId::new(0),
            item,
            quantity,
            price: Price::ZERO,
            expected: on,
            life_on_arrival: None,
        });
        return;
    }
    snapshot.lots.push(Lot {
        code: format!("X{}", snapshot.lots.len()),
        item,
        on_hand: quantity,
        cost: Price::ZERO,
        currency: snapshot.home,
        received: None,
        best_before: None,
        opened: None,
        state: LotState::Released,
        place: String::new(),
    });
}

/// The workshop with the proposals in its plan and everything bought: for them on their day, for the plan as it is short.
pub fn adopt(snapshot: &Snapshot, outlook: &Outlook, found: &Rescue) -> Snapshot {
    let mut adopted = snapshot.clone();
    if adopted.suppliers.is_empty() {
        // Orders name a supplier; this one sells nothing else.
        let mut workshop = super::support::workshop::Workshop::new();
        workshop.supplier(stillroom::plan::calendar::OrderCalendar::default());
        adopted.suppliers = workshop.snapshot.suppliers;
    }
    for shortage in &outlook.shortages {
        bring(&mut adopted, outlook.today, shortage.item, shortage.quantity, shortage.day);
    }
    for (place, proposal) in found.proposals.iter().enumerate() {
        for buy in &proposal.buys {
            bring(&mut adopted, outlook.today, buy.item, buy.quantity, proposal.make_on);
        }
        adopted.entries.push(PlanEntry {
            code: format!("R{place}"),
            product: proposal.product,
            amount: proposal.amount,
            when: PlanDay::MakeOn(proposal.make_on),
        });
    }
    adopted
}

#[test]
fn the_value_at_risk_falls_by_what_is_saved_and_nobody_gets_less() {
    let (mut proposals, mut bought) = (0, 0);
    for seed in 0..700 {
        let mut random = Random::new(seed);
        let parts = Parts { days: 8, premix: false, opening_lives: false };
        let snapshot = random_workshop(&mut random, parts);
        let horizon = Some(day(parts.days));
        let outlook = look_ahead(&snapshot, day(0), horizon, SearchLimit::default());
        let found = rescue(&snapshot, &outlook, RescueSettings::default());
        let (lots, orders) = (snapshot.lots.len(), snapshot.orders.len());
        assert_eq!(found.at_risk, value_at_risk(&outlook, lots, orders), "seed {seed}");
        let adopted = adopt(&snapshot, &outlook, &found);
        let after = look_ahead(&adopted, day(0), horizon, SearchLimit::default());
        assert_eq!(found.at_risk - found.saved, value_at_risk(&after, lots, orders), "seed {seed}: {found:#?}");
        assert_eq!(after.shortages, Vec::new(), "seed {seed}");
        proposals += found.proposals.len();
        bought += found.proposals.iter().filter(|proposal| !proposal.buys.is_empty()).count();
        let one_by_one: Money = found.proposals.iter().flat_map(|one| &one.uses).map(|used| used.value).sum();
        assert_eq!(one_by_one, found.saved, "seed {seed}");
    }
    assert!(proposals > 150 && bought > 50, "{proposals} proposals, {bought} with something to buy");
}

#[test]
fn what_a_proposal_has_bought_is_the_least_that_lets_all_be_made() {
    let mut looked_at = 0;
    for seed in 2_000..2_300 {
        let mut random = Random::new(seed);
        let parts = Parts { days: 8, premix: false, opening_lives: false };
        let snapshot = random_workshop(&mut random, parts);
        let horizon = Some(day(parts.days));
        let outlook = look_ahead(&snapshot, day(0), horizon, SearchLimit::default());
        let mut found = rescue(&snapshot, &outlook, RescueSettings::default());
        for place in 0..found.proposals.len() {
            let Some(buy) = found.proposals[place].buys.first_mut() else { continue };
            // Of the first thing to buy a milligram less.
            buy.quantity -= Quantity(1);
            let after = look_ahead(&adopt(&snapshot, &outlook, &found), day(0), horizon, SearchLimit::default());
            let short: Quantity = after.shortages.iter().map(|shortage| shortage.quantity).sum();
            assert_eq!(short, Quantity(1), "seed {seed}");
            looked_at += 1;
            break;
        }
    }
    assert!(looked_at > 20, "{looked_at}");
}
