//! Shares of pieces, the value of the stock, write-offs and prices.

use super::support::{Random, day, workshop::Workshop};
use stillroom::plan::calendar::OrderCalendar;
use stillroom::plan::cost::{BatchCost, Receipt, WriteOff, price_history, stock_value, written_off};
use stillroom::plan::model::{DatedRate, LotState};
use stillroom::plan::money::{Currency, Money, Price, Rate};
use stillroom::plan::quantity::{Percent, Quantity, Unit};
use stillroom::plan::rounding::largest_remainder;
use stillroom::render::cost as words;
use stillroom::render::table::Screen;
use stillroom::render::text::terminal;
use stillroom::view::cost::{PricedDraw, batch_cost, prices, stock_worth, write_offs};

fn euros(minor: i64) -> Money {
    Money { minor }
}

#[test]
fn shares_of_pieces_are_the_largest_remainder_and_add_up() {
    let mut random = Random::new(5);
    for _ in 0..500 {
        let (total, pieces) = (random.amount(0, 100_000), random.amount(1, 200));
        let cost = BatchCost::of([euros(total)], pieces);
        let shares: Vec<i64> = (0..pieces).map(|piece| cost.of_pieces(piece, piece + 1).minor).collect();
        let equal = vec![1; usize::try_from(pieces).unwrap()];
        assert_eq!(shares, largest_remainder(total, &equal), "{total} for {pieces}");
        let cut = random.amount(0, pieces);
        assert_eq!(cost.of_pieces(0, cut).minor + cost.of_pieces(cut, pieces).minor, total);
    }
    assert_eq!(BatchCost::of([euros(5)], 0).of_pieces(0, 3), Money::ZERO);
}

#[test]
fn a_batch_says_what_it_and_a_piece_cost() {
    let draw = |lot: &str, cost: i64| PricedDraw {
        material: "oil".to_owned(),
        name: "Olive oil".to_owned(),
        lot: lot.to_owned(),
        quantity: Quantity(250_000),
        unit: Unit::Milligram,
        cost: euros(cost),
    };
    let view = batch_cost(Currency::EUR, "B1", "soap", day(0), 24, &[draw("L1", 1_000), draw("L2", 252)]);
    // 12.52 over 24 pieces is 0.52166...: 4 pieces at 0.53 and 20 at 0.52 are 2.12 + 10.40.
    assert_eq!((view.cost.as_str(), view.cost_of_piece.as_deref()), ("12.52", Some("0.52")));
    assert_eq!(view.cost_of_piece_fine.as_deref(), Some("0.5217"));
    let shares: Vec<(i64, &str)> = view.shares.iter().map(|share| (share.pieces, share.cost.as_str())).collect();
    assert_eq!(shares, [(4, "0.53"), (20, "0.52")]);
    let text = words::batch(&view, day(0), Screen::default());
    assert!(text.contains("4 pieces at 0.53 EUR and 20 pieces at 0.52 EUR"), "{text}");
}

#[test]
fn the_value_of_the_stock_adds_up_both_ways() {
    let mut shop = Workshop::new();
    let (oil, tin) = (shop.material("oil"), shop.packaging("tin"));
    let pounds = Currency::from_code("GBP").unwrap();
    let yen = Currency::from_code("JPY").unwrap();
    shop.snapshot.rates.push(DatedRate { currency: pounds, date: day(0), rate: Rate { billionths: 1_170_000_000 } });
    let lot = shop.lot(oil, 500_000);
    (lot.cost, lot.currency, lot.place) = (Price { minor: 333 }, pounds, "shelf A".to_owned());
    let lot = shop.lot(oil, 100_000);
    (lot.cost, lot.state) = (Price { minor: 150 }, LotState::Quarantine);
    let lot = shop.lot(tin, 40);
    (lot.cost, lot.place) = (Price { minor: 1_800 }, "shelf A".to_owned());
    let lot = shop.lot(tin, 10);
    (lot.cost, lot.currency) = (Price { minor: 900 }, yen);
    let value = stock_value(&shop.snapshot, day(3));
    // 3.33 GBP at 1.17 is 3.8961: 3.90 EUR.
    assert_eq!(value.items, [(oil, Quantity(600_000), euros(540)), (tin, Quantity(50), euros(1_800))]);
    assert_eq!(value.places, [(String::new(), euros(150)), ("shelf A".to_owned(), euros(2_190))]);
    assert_eq!((value.total, value.not_released), (euros(2_340), euros(150)));
    assert_eq!(value.without_rate, [yen]);
    let text = terminal(&words::stock(&stock_worth(&shop.snapshot, day(3))), Screen::default());
    assert!(text.starts_with("The stock has cost 23.40 EUR.") && text.contains("1.50 EUR is in quarantine"), "{text}");
    assert!(text.contains("JPY"), "{text}");
}

#[test]
fn write_offs_come_by_month_and_reason() {
    let off = |on: u64, reason: &str, item: &str, mg: i64, cost: i64| WriteOff {
        day: day(on),
        reason: reason.to_owned(),
        item: item.to_owned(),
        name: item.to_uppercase(),
        unit: Unit::Milligram,
        quantity: Quantity(mg),
        money: euros(cost),
    };
    let groups = written_off(&[
        off(40, "rancid", "oil", 100, 70),
        off(2, "Rancid", "oil", 200, 150),
        off(5, " rancid ", "oil", 50, 30),
        off(6, "rancid", "hemp", 10, 5),
        off(3, "spilled", "oil", 1, 1),
    ]);
    let seen: Vec<(String, &str, i64)> =
        groups.iter().map(|group| (group.month.to_string(), group.reason.as_str(), group.money.minor)).collect();
    assert_eq!(
        seen,
        [
            ("2027-03-01".to_owned(), "Rancid", 185),
            ("2027-03-01".to_owned(), "spilled", 1),
            ("2027-04-01".to_owned(), "rancid", 70),
        ]
    );
    assert_eq!(groups[0].materials[1].3, Quantity(250));
    let view = write_offs(Currency::EUR, day(0), day(40), &groups);
    assert_eq!((view.cost.as_str(), view.groups[0].month.as_str()), ("2.56", "2027-03"));
    assert!(terminal(&words::write_offs(&view, day(40)), Screen::default()).contains("all of it"));
}

#[test]
fn prices_are_exact_and_the_cheapest_offer_is_found() {
    let mut shop = Workshop::new();
    let oil = shop.material("oil");
    let near = shop.supplier(OrderCalendar::default());
    let far = shop.supplier(OrderCalendar::default());
    shop.snapshot.suppliers[far.index()].duty = Percent { millionths: 10_000_000 };
    shop.offer(near, oil, 1_000_000, 900);
    shop.offer(far, oil, 3_000_000, 2_400).breaks.push((4, Price { minor: 2_100 }));
    let receipt = |supplier: &str, lot: &str, on: u64, mg: i64, money: i64| Receipt {
        supplier: supplier.to_owned(),
        supplier_name: String::new(),
        lot: lot.to_owned(),
        day: day(on),
        quantity: Quantity(mg),
        money: euros(money),
    };
    let receipts =
        [receipt("S1", "L2", 9, 750_000, 1_000), receipt("S1", "L1", 2, 500_000, 400), receipt("", "L3", 1, 7, 0)];
    let history = price_history(&shop.snapshot, oil, &receipts, day(10));
    assert_eq!(history.iter().map(|prices| prices.supplier.as_str()).collect::<Vec<_>>(), ["S1", "S2"]);
    let view = prices(Currency::EUR, shop.snapshot.item(oil), &history);
    let received: Vec<(&str, &str)> =
        view.suppliers[0].received.iter().map(|point| (point.what.as_str(), point.price.as_str())).collect();
    // 4.00 for 500 g, 10.00 for 750 g: 8.00 and 13.33 a kilogram; the free sample is no price.
    assert_eq!(received, [("L1", "8.00"), ("L2", "13.33")]);
    // 24.00 and 10 % for 3 kg is 8.80; 21.00 from four packs is 7.70.
    let offered: Vec<&str> = view.suppliers[1].offered.iter().map(|point| point.price.as_str()).collect();
    assert_eq!(offered, ["8.80", "7.70"]);
    let cheapest = view.cheapest_offer.as_ref().unwrap();
    assert_eq!((cheapest.supplier.as_str(), cheapest.price.as_str()), ("S2", "7.70"));
    assert!(terminal(&words::prices(&view, day(10)), Screen::default()).contains("from 4 packs"));
}
