//! Room on the shelf.

use super::list::{listed_on, shop};
use super::support::day;
use stillroom::plan::quantity::Quantity;

#[test]
fn no_more_packs_come_than_fit_beside_what_is_there() {
    let mut shop = shop();
    // A cheap big pack that the window's credit makes worth buying.
    shop.workshop.offer(shop.far, shop.wax, 1_000, 600);
    let (_, _, free) = listed_on(&shop.workshop.snapshot, 0);
    let wax = |listing: &stillroom::plan::reorder::listing::Listing| -> i64 {
        let lines = listing.plan.orders.iter().flat_map(|order| &order.lines);
        lines.filter(|line| line.item == shop.wax).map(|line| line.quantity.0).sum()
    };
    assert_eq!(wax(&free), 1_000);
    let mut snapshot = shop.workshop.snapshot.clone();
    snapshot.items[shop.wax.index()].shelf_space = Some(Quantity(999));
    let (_, _, capped) = listed_on(&snapshot, 0);
    // The line of the big pack may hold the one that a need takes alone.
    assert_eq!(capped.requirements.problem.offers.iter().filter(|pack| pack.most_packs == Some(1)).count(), 1);
    let small = capped.requirements.problem.offers.iter().find(|pack| pack.quantity.0 == 100 && pack.item == shop.wax);
    assert_eq!(small.unwrap().most_packs, Some(9));
}

#[test]
fn what_stands_there_when_the_parcel_comes_takes_room() {
    let mut shop = shop();
    shop.workshop.lot(shop.wax, 150);
    shop.workshop.item(shop.wax).shelf_space = Some(Quantity(400));
    let (_, _, listing) = listed_on(&shop.workshop.snapshot, 0);
    // On hand 150, of which day 10 takes 100: 50 are short on day 20, and 50 stand there before: room for three packs.
    let caps: Vec<_> = listing
        .requirements
        .problem
        .offers
        .iter()
        .filter(|pack| pack.item == shop.wax)
        .map(|pack| pack.most_packs)
        .collect();
    assert_eq!(caps, [Some(3), Some(3)]);
    assert!(listing.crowded.is_empty());
}

#[test]
fn what_a_need_takes_comes_and_is_told_where_it_does_not_fit() {
    let mut shop = shop();
    shop.workshop.item(shop.wax).shelf_space = Some(Quantity(50));
    shop.workshop.make(shop.balm, 800, day(30));
    let (_, _, listing) = listed_on(&shop.workshop.snapshot, 0);
    let crowded: Vec<_> = listing.crowded.iter().map(|crowded| crowded.item).collect();
    assert_eq!(crowded, [shop.wax]);
    assert!(listing.crowded[0].there > Quantity(50));
}
