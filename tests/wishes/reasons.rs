//! Why an order is on the list.

use super::list::{listed, shop};
use super::support::day;
use stillroom::plan::money::{Money, Price};
use stillroom::plan::reorder::why::{WithoutSupplier, why};

#[test]
fn the_day_is_the_last_for_the_first_need_and_the_other_supplier_costs_more() {
    let shop = shop();
    let listing = listed(&shop.workshop.snapshot);
    let told = why(&listing.requirements.problem, &listing.plan);
    assert_eq!(told.len(), 1);
    let need = told[0].first_need.unwrap();
    assert_eq!((need.item, need.day, need.is_last_day), (shop.oil, day(10), true));
    // 2040 against 1960.
    assert_eq!(told[0].without_supplier, WithoutSupplier::Costs(Money { minor: 80 }));
    assert_eq!(told[0].free_postage, None);
    assert!(told[0].waits.is_empty());
}

#[test]
fn what_only_one_can_bring_is_named() {
    let shop = shop();
    let mut snapshot = shop.workshop.snapshot.clone();
    snapshot.offers.retain(|offer| (offer.supplier, offer.item) != (shop.near, shop.wax));
    let listing = listed(&snapshot);
    let told = why(&listing.requirements.problem, &listing.plan);
    let far = listing.plan.orders.iter().position(|order| order.supplier == shop.far).unwrap();
    assert_eq!(told[far].without_supplier, WithoutSupplier::OnlyHe(vec![shop.wax]));
}

#[test]
fn what_is_missing_to_free_postage_and_what_could_come_forward() {
    let mut shop = shop();
    // Lives make two orders necessary: what comes for day 10 does not last to day 40.
    shop.workshop.snapshot.entries.truncate(1);
    shop.workshop.make(shop.balm, 200, day(40));
    for offer in &mut shop.workshop.snapshot.offers {
        offer.breaks[0].1 = Price { minor: if offer.item == shop.oil { 500 } else { 300 } };
        if offer.item == shop.wax {
            offer.life_on_arrival = Some(stillroom::plan::calendar::Span { months: 0, days: 20 });
        }
    }
    let far = &mut shop.workshop.snapshot.suppliers[shop.far.index()];
    far.free_postage_from = Some(Price { minor: 1_400 });
    let mut snapshot = shop.workshop.snapshot.clone();
    snapshot.offers.retain(|offer| offer.supplier == shop.far);
    let listing = listed(&snapshot);
    let told = why(&listing.requirements.problem, &listing.plan);
    for (order, told) in listing.plan.orders.iter().zip(&told) {
        match told.free_postage {
            Some(free) => {
                assert!(order.postage > Price::ZERO && order.goods < free.from);
                assert_eq!(free.missing.minor, 1_400 - order.goods.minor);
                assert_eq!(free.postage, order.postage);
            }
            None => assert_eq!(order.postage, Price::ZERO),
        }
    }
    // The search finds for itself that both oils together are sent for nothing.
    let first = &listing.plan.orders[0];
    assert_eq!((first.goods.minor >= 1_300, listing.plan.orders.len()), (true, 2), "{:?}", listing.plan.orders);
    assert!(told[0].waits.iter().any(|(_, items)| items.contains(&shop.wax)));
}
