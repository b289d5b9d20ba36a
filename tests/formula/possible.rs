//! How many pieces the stock allows: by hand, and against trying one size after the other.

use super::cost::looked_over;
use super::support::workshop::{Workshop, percent};
use super::support::{Random, day};
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::calendar::Span;
use stillroom::plan::formula::{Possible, PriceBasis, pieces_possible};
use stillroom::plan::model::{Packaging, PlanAmount, PlanDay, PlanEntry, ProductId};
use stillroom::plan::outlook::look_ahead;
use stillroom::plan::quantity::Mass;

fn possible(shop: &Workshop, product: ProductId) -> Possible {
    pieces_possible(&shop.snapshot, product, day(0), SearchLimit::default())
}

#[test]
fn packaging_premixes_and_lives_limit_it() {
    let mut shop = Workshop::new();
    let (oil, wax, tin, water) =
        (shop.material("oil"), shop.material("wax"), shop.packaging("tin"), shop.material("water"));
    shop.item(water).always_at_hand = true;
    let base = shop.premix("base", &[(oil, "50"), (wax, "50")]);
    let balm = shop.product("balm", &[(base, "90"), (water, "10")]);
    shop.facts(balm).net_mass = Some(Mass { mg: 10_000 });
    shop.facts(balm).packaging = vec![Packaging { item: tin, per_piece_millionths: 1_000_000, per_batch: 2 }];
    shop.lot(tin, 60);
    shop.lot(oil, 100_000);
    shop.lot(wax, 45_000).best_before = Some(day(30));
    shop.lot(base, 27_000);
    // 9 g base a piece: 27 g are there, 90 g can be made of 45 g wax: 13 pieces.
    assert_eq!(possible(&shop, balm), Possible::Pieces(13, vec![wax]));
    shop.facts(balm).minimum_life = Some(Span { months: 2, days: 0 });
    assert_eq!(possible(&shop, balm), Possible::Pieces(3, vec![wax]));
    shop.facts(balm).minimum_life = None;
    shop.lot(wax, 1_000_000);
    shop.lot(oil, 1_000_000);
    assert_eq!(possible(&shop, balm), Possible::Pieces(58, vec![tin]));
    shop.facts(balm).packaging.clear();
    shop.facts(balm).net_mass = None;
    assert_eq!(possible(&shop, balm), Possible::NotKnown);
    let steam = shop.product("steam", &[(water, "100")]);
    shop.facts(steam).net_mass = Some(Mass { mg: 1_000 });
    assert_eq!(possible(&shop, steam), Possible::NoLimit);
}

#[test]
fn the_plan_takes_its_part_first() {
    let mut shop = Workshop::new();
    let (oil, wax) = (shop.material("oil"), shop.material("wax"));
    let balm = shop.product("balm", &[(oil, "60"), (wax, "40")]);
    shop.facts(balm).net_mass = Some(Mass { mg: 10_000 });
    shop.lot(oil, 600_000);
    shop.lot(wax, 300_000);
    shop.plan(balm, PlanAmount::Pieces(30), PlanDay::MakeOn(day(9)));
    let formula = shop.facts(balm).formula.unwrap();
    let check = looked_over(&shop, formula, PriceBasis::Stock);
    // 4 g wax a piece: 75 pieces; the plan takes 120 g of it.
    assert_eq!(check.products[0].possible, Possible::Pieces(75, vec![wax]));
    assert_eq!(check.products[0].possible_after_plan, Possible::Pieces(45, vec![wax]));
    assert_eq!(check.products[0].batch_pieces, 30);
}

/// Tries every size up to the limit on a small random workshop with two levels of premixes and lots that end.
#[test]
fn it_is_the_largest_size_that_fits() {
    let mut random = Random::new(77);
    let mut seen = Vec::new();
    for _ in 0..60 {
        let mut shop = Workshop::new();
        let materials: Vec<_> = (0..4).map(|number| shop.material(&format!("m{number}"))).collect();
        let tin = shop.packaging("tin");
        let share = random.between(1, 99).to_string();
        let rest = (100 - share.parse::<u64>().unwrap()).to_string();
        let inner = shop.premix("inner", &[(materials[0], &share), (materials[1], &rest)]);
        let outer = shop.premix("outer", &[(inner, "40"), (materials[2], "60")]);
        shop.making(outer).loss = percent("7.5");
        let product = shop.product("balm", &[(outer, "55"), (inner, "25"), (materials[3], "20")]);
        shop.facts(product).net_mass = Some(Mass { mg: random.amount(900, 9_000) });
        shop.facts(product).loss = percent("2.5");
        shop.facts(product).minimum_life = Some(Span { months: 0, days: 20 });
        shop.facts(product).packaging = vec![Packaging { item: tin, per_piece_millionths: 1_500_000, per_batch: 1 }];
        shop.lot(tin, random.amount(1, 90));
        for item in materials.into_iter().chain([inner, outer]) {
            for _ in 0..random.between(1, 2) {
                let quantity = random.amount(1_000, 60_000);
                shop.lot(item, quantity).best_before = random.percent(70).then(|| day(random.between(10, 60)));
            }
        }
        let Possible::Pieces(pieces, short) = possible(&shop, product) else { panic!("nothing limits it") };
        assert!(!short.is_empty());
        let fits = |pieces: i64| {
            let mut alone = shop.snapshot.clone();
            let (amount, when) = (PlanAmount::Pieces(pieces), PlanDay::MakeOn(day(0)));
            alone.entries.push(PlanEntry { code: "E1".to_owned(), product, amount, when });
            look_ahead(&alone, day(0), None, SearchLimit::default()).shortages.is_empty()
        };
        let largest = (0..=130).rev().find(|pieces| fits(*pieces)).unwrap();
        assert_eq!(pieces, largest);
        seen.push(pieces);
    }
    assert!(seen.iter().filter(|pieces| **pieces > 0).count() > 20, "{seen:?}");
}

/// Shares of 6, 6 and 2 of 14 in batches of whole milligrams: of 10 mg the third gets 2, of 11 mg only 1 (the paradox of
/// the largest remainder), so 11 pieces fit where 10 do not.
#[test]
fn a_line_that_steps_back_is_not_missed() {
    let mut shop = Workshop::new();
    let (one, two, three) = (shop.material("one"), shop.material("two"), shop.material("three"));
    let dust = shop.product("dust", &[(one, "42.857143"), (two, "42.857143"), (three, "14.285714")]);
    shop.facts(dust).net_mass = Some(Mass { mg: 1 });
    shop.lot(one, 1_000);
    shop.lot(two, 1_000);
    shop.lot(three, 1);
    assert_eq!(possible(&shop, dust), Possible::Pieces(11, vec![three]));
}
