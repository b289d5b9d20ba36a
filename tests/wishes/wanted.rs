//! Wishes about suppliers, offers, materials and days.

use super::list::{listed, listed_on, orders, shop, wishing};
use super::support::day;
use stillroom::plan::money::Price;
use stillroom::plan::quantity::Percent;
use stillroom::plan::wishes::{Target, Want};

#[test]
fn without_wishes_the_cheapest_serves() {
    let shop = shop();
    let listing = listed(&shop.workshop.snapshot);
    assert_eq!(orders(&listing), [(1, 4)]);
    assert_eq!(listing.plan.cost.minor, 2 * 480 + 2 * 300 + 400);
}

#[test]
fn an_excluded_supplier_sells_nothing() {
    let shop = shop();
    let wanted = wishing(&shop.workshop.snapshot, &[Want::Exclude(Target::Supplier(shop.far))]);
    assert_eq!(orders(&listed(&wanted)), [(0, 8)]);
}

#[test]
fn an_excluded_offer_is_not_bought_and_its_supplier_still_is() {
    let shop = shop();
    let mut snapshot = shop.workshop.snapshot.clone();
    // Without wax from there, buying the oil there as well costs one more postage; so make it worth that.
    snapshot.offers[2].breaks[0].1 = Price { minor: 90 };
    let wanted = wishing(&snapshot, &[Want::Exclude(Target::Offer(shop.far, shop.wax, None))]);
    let (snapshot, _, listing) = listed_on(&wanted, 0);
    assert!(listing.plan.orders.iter().any(|order| order.supplier == shop.far));
    for order in listing.plan.orders.iter().filter(|order| order.supplier == shop.far) {
        assert!(order.lines.iter().all(|line| line.item == shop.oil), "{order:?}");
    }
    assert!(snapshot.offers.iter().all(|offer| (offer.supplier, offer.item) != (shop.far, shop.wax)));
}

#[test]
fn a_pack_that_is_named_goes_and_others_of_the_offer_stay() {
    let mut shop = shop();
    shop.workshop.offer(shop.far, shop.wax, 1_000, 1_500);
    let small = stillroom::plan::quantity::Quantity(100);
    let target = Target::Offer(shop.far, shop.wax, Some(small));
    let (snapshot, _, _) = listed_on(&wishing(&shop.workshop.snapshot, &[Want::Exclude(target)]), 0);
    let left: Vec<i64> = snapshot
        .offers
        .iter()
        .filter(|offer| (offer.supplier, offer.item) == (shop.far, shop.wax))
        .map(|offer| offer.pack.0)
        .collect();
    assert_eq!(left, [1_000]);
}

#[test]
fn an_excluded_material_is_left_out_and_told_and_not_called_late() {
    let mut shop = shop();
    shop.workshop.make(shop.balm, 200, day(1));
    let before = listed(&shop.workshop.snapshot);
    assert!(before.requirements.late.iter().any(|late| late.item == shop.wax));
    let listing = listed(&wishing(&shop.workshop.snapshot, &[Want::Exclude(Target::Material(shop.wax))]));
    assert_eq!(listing.left_out, [shop.wax]);
    assert!(listing.plan.orders.iter().flat_map(|order| &order.lines).all(|line| line.item == shop.oil));
    assert!(listing.requirements.late.iter().all(|late| late.item == shop.oil));
    assert!(listing.requirements.findings.is_empty());
}

#[test]
fn a_pinned_supplier_gets_what_he_sells_and_others_keep_the_rest() {
    let shop = shop();
    let mut snapshot = shop.workshop.snapshot.clone();
    let pinned = wishing(&snapshot, &[Want::Pin(Target::Supplier(shop.near))]);
    assert_eq!(orders(&listed(&pinned)), [(0, 8)]);
    // He no longer sells oil: that comes from the other.
    snapshot.offers.retain(|offer| (offer.supplier, offer.item) != (shop.near, shop.oil));
    let pinned = wishing(&snapshot, &[Want::Pin(Target::Supplier(shop.near))]);
    let listing = listed(&pinned);
    let bought: Vec<_> = listing
        .plan
        .orders
        .iter()
        .flat_map(|order| order.lines.iter().map(|line| (order.supplier, line.item)))
        .collect();
    assert!(bought.contains(&(shop.near, shop.wax)) && bought.contains(&(shop.far, shop.oil)), "{bought:?}");
    assert!(!bought.contains(&(shop.far, shop.wax)));
}

#[test]
fn a_pinned_offer_is_the_only_one_of_its_material() {
    let shop = shop();
    let wanted = wishing(&shop.workshop.snapshot, &[Want::Pin(Target::Offer(shop.near, shop.wax, None))]);
    let listing = listed(&wanted);
    let wax = listing.plan.orders.iter().filter(|order| order.lines.iter().any(|line| line.item == shop.wax));
    assert!(wax.clone().count() > 0);
    assert!(wax.clone().all(|order| order.supplier == shop.near));
}

#[test]
fn a_pinned_material_comes_as_soon_as_it_can() {
    let shop = shop();
    let listing = listed(&wishing(&shop.workshop.snapshot, &[Want::Pin(Target::Material(shop.wax))]));
    for order in &listing.plan.orders {
        if order.lines.iter().any(|line| line.item == shop.wax) {
            assert_eq!((order.order_on, order.supplier), (day(0), shop.near));
        }
    }
    assert!(listing.requirements.problem.requirements.iter().any(|need| need.item == shop.wax && need.day == day(2)));
}

#[test]
fn excluded_days_take_no_orders_and_pinned_ones_take_all() {
    let shop = shop();
    let snapshot = &shop.workshop.snapshot;
    let excluded = wishing(snapshot, &[Want::Exclude(Target::Days(day(3), day(5)))]);
    assert_eq!(orders(&listed(&excluded)), [(1, 2)]);
    let pinned = wishing(snapshot, &[Want::Pin(Target::Days(day(1), day(1)))]);
    assert_eq!(orders(&listed(&pinned)), [(1, 1)]);
    // What a day makes late is found anew: nothing can be ordered before day 9, for what is made on day 10.
    let late = wishing(snapshot, &[Want::Exclude(Target::Days(day(0), day(8)))]);
    let listing = listed(&late);
    assert_eq!(listing.requirements.late.len(), 2);
    assert!(listing.requirements.late.iter().all(|late| late.needed == day(10) && late.soonest == Some(day(11))));
    // A pinned day that is over pins nothing.
    let (_, _, over) = listed_on(&wishing(snapshot, &[Want::Pin(Target::Days(day(0), day(0)))]), 1);
    assert_eq!(orders(&over), [(1, 4)]);
}

#[test]
fn a_preferred_supplier_may_cost_so_much_more_and_no_more() {
    let shop = shop();
    let dearer = 2 * 500 + 2 * 320 + 400;
    let cheaper = 2 * 480 + 2 * 300 + 400;
    // 2040 against 1960: 4.08 % more.
    let check = |percent: i64, expected: (usize, i64), cost: i64| {
        let prefer = Want::Prefer(shop.near, Percent { millionths: percent * 1_000_000 });
        let listing = listed(&wishing(&shop.workshop.snapshot, &[prefer]));
        assert_eq!(orders(&listing), [expected], "{percent}");
        assert_eq!(listing.plan.cost.minor, cost, "told at its true cost");
        assert!(listing.plan.lower_bound <= listing.plan.objective);
        assert_eq!(listing.plan.simple_objective.minor, listed(&shop.workshop.snapshot).plan.simple_objective.minor);
    };
    check(4, (1, 4), cheaper);
    check(5, (0, 8), dearer);
}
