//! The last list stays where a new one saves little.

use super::list::{Shop, listed_on, orders, shop};
use super::support::day;
use stillroom::plan::model::Snapshot;
use stillroom::plan::money::Price;
use stillroom::plan::quantity::Quantity;
use stillroom::plan::reorder::listing::{Listing, lines_of};

/// The snapshot that remembers a list.
fn remembering(snapshot: &Snapshot, listing: &Listing) -> Snapshot {
    let mut snapshot = snapshot.clone();
    snapshot.hand.last_list = listing.memory.clone();
    snapshot
}

/// The wax of the shop at another price from the far supplier.
fn wax_at(shop: &Shop, minor: i64) -> Snapshot {
    let mut snapshot = shop.workshop.snapshot.clone();
    let offer = snapshot.offers.iter_mut().find(|offer| (offer.supplier, offer.item) == (shop.far, shop.wax)).unwrap();
    offer.breaks[0].1 = Price { minor };
    snapshot
}

#[test]
fn the_same_list_comes_on_the_same_day_and_on_every_day_after() {
    let shop = shop();
    let (_, _, first) = listed_on(&shop.workshop.snapshot, 0);
    let remembered = remembering(&shop.workshop.snapshot, &first);
    for today in 0..=4 {
        let (_, _, again) = listed_on(&remembered, today);
        assert_eq!(orders(&again), orders(&first), "day {today}");
        let lines = |listing: &Listing| lines_of(&shop.workshop.snapshot, &listing.plan);
        assert_eq!(lines(&again), lines(&first), "day {today}");
    }
}

#[test]
fn a_few_cents_do_not_turn_it_over_and_a_real_saving_does() {
    let shop = shop();
    let (_, _, first) = listed_on(&shop.workshop.snapshot, 0);
    assert_eq!(orders(&first), [(1, 4)]);
    // The near supplier's list costs 2040. At 345 for the wax the far one's costs 2050, at 500 it costs 2360.
    let (_, _, cents) = listed_on(&remembering(&wax_at(&shop, 345), &first), 0);
    assert_eq!(orders(&cents), [(1, 4)]);
    assert_eq!(cents.new_would_save.map(|money| money.minor), Some(10));
    let (_, _, fresh) = listed_on(&wax_at(&shop, 345), 0);
    assert_eq!((orders(&fresh), fresh.new_would_save), (vec![(0, 8)], None));
    let (_, _, saving) = listed_on(&remembering(&wax_at(&shop, 500), &first), 0);
    assert_ne!(orders(&saving), [(1, 4)]);
    assert!(saving.plan.objective < first.plan.objective + stillroom::plan::money::Money { minor: 100 });
    assert_eq!(saving.new_would_save, None);
}

#[test]
fn what_was_ordered_drops_out_and_the_rest_stays() {
    let mut shop = shop();
    shop.workshop.make(shop.balm, 2_000, day(60));
    let (_, _, first) = listed_on(&shop.workshop.snapshot, 0);
    let mut snapshot = remembering(&shop.workshop.snapshot, &first);
    let placed = &first.plan.orders[0];
    for line in &placed.lines {
        snapshot.hand.last_list.lines.retain(|own| (own.order_on, own.item) != (placed.order_on, line.item));
        let mut ordered = super::support::workshop::Workshop { snapshot };
        ordered.order(placed.supplier, line.item, line.quantity.0, placed.arrives_on);
        snapshot = ordered.snapshot;
    }
    let (_, _, next) = listed_on(&snapshot, 0);
    assert_eq!(orders(&next), orders(&first)[1..]);
}

#[test]
fn an_order_waits_once_what_it_came_first_for_is_gone() {
    let shop = shop();
    let (_, _, first) = listed_on(&shop.workshop.snapshot, 0);
    let mut snapshot = remembering(&shop.workshop.snapshot, &first);
    // The batch of day 10 is dropped: the same packs are wanted by day 20.
    snapshot.entries.remove(0);
    let (_, _, next) = listed_on(&snapshot, 0);
    assert_eq!(orders(&next), [(1, 14)]);
}

#[test]
fn an_order_that_was_not_placed_on_its_day_goes_out_on_the_next() {
    let mut shop = shop();
    shop.workshop.snapshot.entries.truncate(1);
    let (_, _, first) = listed_on(&shop.workshop.snapshot, 0);
    assert_eq!(orders(&first), [(1, 4)]);
    // On day 5 the far supplier is too late for day 10: the near one is still in time.
    let (_, _, next) = listed_on(&remembering(&shop.workshop.snapshot, &first), 5);
    assert_eq!(orders(&next), [(0, 8)]);
    assert!(next.requirements.late.is_empty());
}

#[test]
fn a_list_made_twice_is_the_same_to_the_pack() {
    let (mut several, mut days) = (0, 0);
    for seed in 40..100 {
        let mut random = super::support::Random::new(7_000 + seed);
        let mut snapshot = super::budget::random_shop(&mut random);
        for supplier in &mut snapshot.suppliers {
            if random.percent(50) {
                supplier.minimum_order = Price { minor: random.amount(100, 700) };
            }
            supplier.free_postage_from = random.percent(50).then(|| Price { minor: random.amount(300, 900) });
        }
        for offer in &mut snapshot.offers {
            if random.percent(30) {
                let (from, price) = (random.amount(2, 4), offer.breaks[0].1.minor * 3 / 4);
                offer.breaks.push((from, Price { minor: price }));
            }
        }
        let (_, _, first) = listed_on(&snapshot, 0);
        several += u32::from(first.plan.orders.len() > 1);
        let (_, _, second) = listed_on(&remembering(&snapshot, &first), 0);
        assert_eq!(second.plan, first.plan, "seed {seed}");
        assert_eq!(second.new_would_save, first.new_would_save, "seed {seed}");
        let (_, _, third) = listed_on(&remembering(&snapshot, &second), 0);
        assert_eq!(third.plan, second.plan, "seed {seed}");
        // On the next day nothing has changed but the day: where no order was due, the list is the same.
        if first.plan.orders.iter().all(|order| order.order_on > day(0)) {
            let (_, _, tomorrow) = listed_on(&remembering(&snapshot, &first), 1);
            if tomorrow.requirements.problem.requirements == first.requirements.problem.requirements {
                let lines = |listing: &Listing| lines_of(&snapshot, &listing.plan);
                assert_eq!(lines(&tomorrow), lines(&first), "seed {seed}");
                days += 1;
            }
        }
    }
    assert!(several > 8 && days > 10, "{several} {days}");
}

#[test]
fn a_shelf_that_became_too_small_turns_the_list_over() {
    let shop = shop();
    let first = listed_on(&shop.workshop.snapshot, 0).2;
    assert_eq!(first.plan.orders.len(), 1);
    let mut snapshot = remembering(&shop.workshop.snapshot, &first);
    snapshot.items[shop.wax.index()].shelf_space = Some(Quantity(100));
    let second = listed_on(&snapshot, 0).2;
    assert!(second.crowded.is_empty(), "{:?}", second.crowded);
    assert_eq!(second.plan.orders.len(), 2);
    // And then it stays.
    let third = listed_on(&remembering(&snapshot, &second), 0).2;
    assert_eq!(orders(&third), orders(&second));
}
