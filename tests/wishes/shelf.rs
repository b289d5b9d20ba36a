//! Room on the shelf.

use super::list::{Shop, listed_on, shop};
use super::support::day;
use stillroom::plan::model::{ItemId, Snapshot};
use stillroom::plan::money::Money;
use stillroom::plan::quantity::Quantity;
use stillroom::plan::reorder::listing::Listing;

fn with_room(shop: &Shop, item: ItemId, room: i64) -> Snapshot {
    let mut snapshot = shop.workshop.snapshot.clone();
    snapshot.items[item.index()].shelf_space = Some(Quantity(room));
    snapshot
}

/// The days from today on which some of an item comes, and how much.
fn arrivals(listing: &Listing, item: ItemId) -> Vec<(i64, i64)> {
    let mut found = Vec::new();
    for order in &listing.plan.orders {
        let own = order.lines.iter().filter(|line| line.item == item).map(|line| line.quantity.0);
        found.push(((order.arrives_on - day(0)).num_days(), own.sum::<i64>()));
    }
    found.retain(|(_, quantity)| *quantity > 0);
    found.sort_unstable();
    found
}

#[test]
fn no_more_packs_come_than_fit_beside_what_is_there() {
    let mut shop = shop();
    // A cheap big pack that the window's credit makes worth buying.
    shop.workshop.offer(shop.far, shop.wax, 1_000, 600);
    let (_, _, free) = listed_on(&shop.workshop.snapshot, 0);
    assert_eq!(arrivals(&free, shop.wax), [(10, 1_000)]);
    let (_, _, capped) = listed_on(&with_room(&shop, shop.wax, 999), 0);
    assert_eq!(arrivals(&capped, shop.wax), [(10, 200)]);
    assert!(capped.crowded.is_empty());
}

#[test]
fn what_would_stand_there_for_later_comes_later() {
    let shop = shop();
    // One parcel for both days is cheapest; it brings 200.
    let (_, _, free) = listed_on(&shop.workshop.snapshot, 0);
    assert_eq!(arrivals(&free, shop.wax), [(10, 200)]);
    // With room for 100 the second hundred comes once the first is used up, in a parcel of its own. The oil need not wait.
    let (_, _, listing) = listed_on(&with_room(&shop, shop.wax, 100), 0);
    assert_eq!(arrivals(&listing, shop.wax), [(10, 100), (20, 100)]);
    assert!(listing.plan.objective > free.plan.objective);
    assert_eq!((listing.plan.crowding, listing.crowded.len()), (Money::ZERO, 0));
    assert!(listing.plan.lower_bound <= listing.plan.objective);
}

#[test]
fn what_stands_there_when_the_parcel_comes_takes_room() {
    let mut shop = shop();
    shop.workshop.lot(shop.wax, 150);
    // On hand 150, of which day 10 takes 100: 50 are short on day 20, and 50 stand there when a pack of 100 comes.
    let (_, _, fits) = listed_on(&with_room(&shop, shop.wax, 150), 0);
    assert_eq!((arrivals(&fits, shop.wax), fits.crowded.len()), (vec![(20, 100)], 0));
    let (_, _, crowded) = listed_on(&with_room(&shop, shop.wax, 149), 0);
    assert_eq!(arrivals(&crowded, shop.wax), [(20, 100)]);
    let told: Vec<_> = crowded.crowded.iter().map(|own| (own.item, own.day, own.there)).collect();
    assert_eq!(told, [(shop.wax, day(20), Quantity(150))]);
}

#[test]
fn what_was_bought_for_the_safety_stock_stays_there() {
    let mut shop = shop();
    shop.workshop.item(shop.wax).safety_stock = Quantity(100);
    // 100 to keep from the first parcel on, 100 for day 10 and 100 for day 20: those that are kept stand beside them.
    let (_, _, fits) = listed_on(&with_room(&shop, shop.wax, 200), 0);
    assert_eq!((arrivals(&fits, shop.wax), fits.crowded.len()), (vec![(2, 200), (20, 100)], 0));
    let (_, _, crowded) = listed_on(&with_room(&shop, shop.wax, 199), 0);
    let told: Vec<_> = crowded.crowded.iter().map(|own| (own.day, own.there)).collect();
    assert_eq!(told, [(day(10), Quantity(200))]);
}

#[test]
fn what_a_need_takes_comes_and_is_told_where_it_does_not_fit() {
    let mut shop = shop();
    shop.workshop.item(shop.wax).shelf_space = Some(Quantity(50));
    shop.workshop.make(shop.balm, 800, day(30));
    let (_, _, listing) = listed_on(&shop.workshop.snapshot, 0);
    // Each day's need comes by itself, and the first is what is told.
    assert_eq!(arrivals(&listing, shop.wax), [(10, 100), (20, 100), (30, 400)]);
    let told: Vec<_> = listing.crowded.iter().map(|own| (own.item, own.day, own.there)).collect();
    assert_eq!(told, [(shop.wax, day(10), Quantity(100))]);
}
