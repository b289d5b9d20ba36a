//! The cost of a kilogram and of a piece, from lots in order of expiry and from offers; versions side by side.

use super::support::workshop::percent;
use super::support::{day, workshop::Workshop};
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::calendar::OrderCalendar;
use stillroom::plan::formula::{FormulaCheck, PriceBasis, check, compare};
use stillroom::plan::fraction::Fraction;
use stillroom::plan::model::{DatedRate, FormulaId, ItemId, LotState, Packaging, ProductUse};
use stillroom::plan::money::{Currency, Price, Rate};
use stillroom::plan::outlook::look_ahead;
use stillroom::plan::quantity::Mass;
use stillroom::render::formula as words;
use stillroom::render::table::Screen;
use stillroom::view::formula as view;

pub fn looked_over(shop: &Workshop, formula: FormulaId, basis: PriceBasis) -> FormulaCheck {
    let outlook = look_ahead(&shop.snapshot, day(0), None, SearchLimit::default());
    check(&shop.snapshot, &outlook, formula, basis, SearchLimit::default())
}

/// A salve: 70 % infusion (80 % oil, 20 % petals, loss 20 %), 30 % wax; 25 g in a tin, loss 0, with a carton a batch.
fn salve() -> (Workshop, FormulaId) {
    let mut shop = Workshop::new();
    let (oil, petals, wax) = (shop.material("oil"), shop.material("petals"), shop.material("wax"));
    let (tin, carton) = (shop.packaging("tin"), shop.packaging("carton"));
    let infusion = shop.premix("infusion", &[(oil, "80"), (petals, "20")]);
    shop.making(infusion).loss = percent("20");
    let salve = shop.product("salve", &[(infusion, "70"), (wax, "30")]);
    shop.facts(salve).net_mass = Some(Mass { mg: 25_000 });
    shop.facts(salve).pieces_per_mould = Some(40);
    shop.facts(salve).packaging = vec![
        Packaging { item: tin, per_piece_millionths: 1_000_000, per_batch: 0 },
        Packaging { item: carton, per_piece_millionths: 0, per_batch: 1 },
    ];
    let supplier = shop.supplier(OrderCalendar::default());
    shop.snapshot.suppliers[supplier.index()].duty = percent("5");
    shop.offer(supplier, petals, 100_000, 400);
    shop.offer(supplier, petals, 1_000_000, 3_000);
    shop.offer(supplier, wax, 1_000_000, 1_500);
    // The dearer oil ends first, so it is taken first; one lot is rejected, one has ended.
    let mut lot = |item, quantity, cost, ends: Option<u64>| {
        let lot = shop.lot(item, quantity);
        lot.cost = Price { minor: cost };
        lot.best_before = ends.map(day);
        shop.snapshot.lots.len() - 1
    };
    lot(oil, 3_000_000, 2_100, Some(200));
    lot(oil, 300_000, 900, Some(90));
    let rejected = lot(oil, 900_000, 1, Some(30));
    lot(infusion, 200_000, 1_000, Some(40));
    lot(tin, 500, 10_000, None);
    lot(carton, 1, 77, None);
    shop.snapshot.lots[rejected].state = LotState::Rejected;
    shop.lot(oil, 500_000).best_before = Some(super::support::day_before(1));
    let formula = shop.facts(salve).formula.unwrap();
    (shop, formula)
}

#[test]
fn a_kilogram_is_drawn_from_lots_in_order_of_expiry() {
    let (shop, formula) = salve();
    let check = looked_over(&shop, formula, PriceBasis::Stock);
    // 700 g infusion: 200 g from its lot (10.00); 500 g made of 625 g: 500 g oil, 125 g petals.
    // Oil: 300 g at 9.00, 200 g of 3 kg at 21.00 = 1.40. Petals by the cheapest offer: 125 g at 31.50 a kg = 3.9375.
    // Wax: 300 g at 15.75 a kg = 4.725. Together 10 + 9 + 1.4 + 3.9375 + 4.725 = 29.0625.
    assert_eq!(check.kilogram.cost, Fraction::new(&[290_625], &[100]));
    assert_eq!(check.kilogram.cost.half_up(), 2_906);
    let names = |items: &[stillroom::plan::model::ItemId]| -> Vec<String> {
        items.iter().map(|item| shop.snapshot.item(*item).code.clone()).collect()
    };
    assert_eq!(names(&check.kilogram.topped_up), ["petals", "wax"]);
    assert!(check.kilogram.unpriced.is_empty());
    // A mould of 40 is the same kilogram, with 40 tins at 0.20 and the carton at 0.77: 29.0625 + 8.77 = 37.8325.
    let product = &check.products[0];
    assert_eq!((product.batch_pieces, product.batch.cost.clone()), (40, Fraction::new(&[378_325], &[100])));
    assert_eq!(product.piece, Fraction::new(&[378_325], &[4_000]));
    let view = view::check(&shop.snapshot, &check, day(0));
    assert_eq!((view.kilogram.cost.as_str(), view.products[0].cost_of_piece.as_str()), ("29.06", "0.95"));
    assert_eq!(view.products[0].cost_of_piece_fine, "0.9458");
    let text = words::check(&view, Screen::default());
    assert!(text.contains("Priced from the lots on hand, first expired first"), "{text}");
    assert!(text.contains("Stock does not reach for petals and wax"), "{text}");
}

#[test]
fn of_lots_that_nothing_ends_the_oldest_receipt_gives_the_price() {
    let (mut shop, formula) = salve();
    let wax = shop.snapshot.items.iter().position(|item| item.code == "wax").map(ItemId::new).unwrap();
    // The code of the newer lot comes first. 300 g of 1 kg at 10.00 are 3.00, in place of 4.725 by the offer.
    for (days, cost) in [(1, 9_000), (30, 1_000)] {
        let lot = shop.lot(wax, 1_000_000);
        (lot.received, lot.cost) = (Some(super::support::day_before(days)), Price { minor: cost });
    }
    let check = looked_over(&shop, formula, PriceBasis::Stock);
    // 29.0625 - 4.725 + 3.00.
    assert_eq!(check.kilogram.cost, Fraction::new(&[273_375], &[100]));
}

#[test]
fn from_offers_nothing_of_the_stock_counts() {
    let (shop, formula) = salve();
    let check = looked_over(&shop, formula, PriceBasis::Offers);
    // 700 g infusion of 875 g: 700 g oil, which nobody offers, and 175 g petals at 31.50 a kg; wax as before.
    assert_eq!(check.kilogram.cost, Fraction::new(&[55_125 + 47_250], &[100]));
    assert_eq!(check.kilogram.unpriced.len(), 1);
    assert!(check.kilogram.topped_up.is_empty());
    let text = words::check(&view::check(&shop.snapshot, &check, day(0)), Screen::default());
    assert!(text.contains("cheapest offers of today") && text.contains("Nothing has a price for oil"), "{text}");
}

#[test]
fn lots_and_offers_in_another_currency_need_a_rate() {
    let mut shop = Workshop::new();
    let oil = shop.material("oil");
    let soap = shop.product("soap", &[(oil, "100")]);
    let pounds = Currency::from_code("GBP").unwrap();
    let lot = shop.lot(oil, 3_000_000);
    (lot.cost, lot.currency) = (Price { minor: 1_000 }, pounds);
    let formula = shop.facts(soap).formula.unwrap();
    let check = looked_over(&shop, formula, PriceBasis::Stock);
    assert!(check.kilogram.cost.is_zero());
    assert_eq!(check.kilogram.without_rate, [pounds]);
    shop.snapshot.rates.push(DatedRate { currency: pounds, date: day(0), rate: Rate { billionths: 1_170_000_001 } });
    let check = looked_over(&shop, formula, PriceBasis::Stock);
    assert_eq!(check.kilogram.cost, Fraction::new(&[1_000, 1_170_000_001], &[3, 1_000_000_000]));
}

#[test]
fn use_rates_are_those_of_the_version_that_is_looked_at() {
    let mut shop = Workshop::new();
    let (oil, mint) = (shop.material("oil"), shop.material("mint"));
    shop.item(mint).use_rates.leave_on = Some(percent("1"));
    let balm = shop.product("balm", &[(oil, "99"), (mint, "1")]);
    shop.facts(balm).product_use = Some(ProductUse::LeaveOn);
    let old = shop.facts(balm).formula.unwrap();
    let new = shop.formula("balm", &[(oil, "98.5"), (mint, "1.5")]);
    let alone = shop.formula("draft", &[(oil, "90"), (mint, "10")]);
    let findings = |formula| -> Vec<String> {
        let check = looked_over(&shop, formula, PriceBasis::Stock);
        check.findings.into_iter().map(|finding| finding.message).collect()
    };
    assert!(findings(old).is_empty());
    assert_eq!(findings(new), ["mint is 1.5 % of balm (leave-on); the highest rate entered for it is 1 %."]);
    // A formula without a product is held against both kinds.
    assert_eq!(findings(alone), ["mint is 10 % of draft (leave-on); the highest rate entered for it is 1 %."]);
}

#[test]
fn two_versions_side_by_side() {
    let mut shop = Workshop::new();
    let (oil, wax, mint, shea) =
        (shop.material("oil"), shop.material("wax"), shop.material("mint"), shop.material("shea"));
    shop.lot(oil, 1_000_000).cost = Price { minor: 1_000 };
    shop.lot(shea, 1_000_000).cost = Price { minor: 3_000 };
    shop.lot(wax, 1_000_000).cost = Price { minor: 2_000 };
    let old = shop.formula("balm", &[(oil, "50"), (wax, "30"), (oil, "18"), (mint, "2")]);
    let new = shop.formula("balm", &[(wax, "30"), (oil, "60.5"), (shea, "9.5")]);
    shop.snapshot.formulas[new.index()].version = "2".to_owned();
    shop.snapshot.formulas[new.index()].lines[0].phase = "heated".to_owned();
    let comparison = compare(&shop.snapshot, old, new, day(0), PriceBasis::Stock);
    let view = view::compare(&shop.snapshot, &comparison, PriceBasis::Stock, day(0));
    let lines: Vec<_> = view
        .lines
        .iter()
        .map(|line| {
            let (left, right) = (line.left.as_deref(), line.right.as_deref());
            (line.material.as_str(), left, right, line.difference.as_str(), line.changed)
        })
        .collect();
    assert_eq!(
        lines,
        [
            ("oil", Some("68"), Some("60.5"), "-7.5", true),
            ("wax", Some("30"), Some("30"), "0", true),
            ("mint", Some("2"), None, "-2", true),
            ("shea", None, Some("9.5"), "+9.5", true),
        ]
    );
    // 6.80 + 6.00, mint has no price; 6.05 + 6.00 + 2.85.
    assert_eq!((view.left.kilogram.cost.as_str(), view.right.kilogram.cost.as_str()), ("12.80", "14.90"));
    assert_eq!((view.cost_difference.as_str(), view.left.kilogram.unpriced.len()), ("2.10", 1));
    let text = words::compare(&view, Screen::default());
    assert!(text.starts_with("balm and balm 2: 4 lines differ.") && text.contains("+9.5"), "{text}");
}
