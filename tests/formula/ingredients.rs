//! The ingredient list: order, the line of one percent, names added up, premixes taken apart, what is missing.

use super::cost::looked_over;
use super::support::workshop::Workshop;
use stillroom::plan::formula::PriceBasis;
use stillroom::plan::ingredients::{Ingredient, IngredientList, ingredient_list};
use stillroom::render::formula as words;
use stillroom::render::table::Screen;
use stillroom::view::formula as view;

/// Names with their percentages.
type Shown = Vec<(String, String)>;

fn names(list: &IngredientList) -> (Shown, Shown) {
    let of = |part: &[Ingredient]| -> Shown {
        part.iter().map(|each| (each.name.clone(), each.share.to_string())).collect()
    };
    (of(&list.above), of(&list.at_most_one))
}

#[test]
fn names_stand_by_weight_and_one_percent_is_the_line() {
    let mut shop = Workshop::new();
    let inci = |shop: &mut Workshop, code: &str, inci: &str| {
        let item = shop.material(code);
        shop.item(item).inci = inci.to_owned();
        item
    };
    let olive = inci(&mut shop, "olive", "Olea Europaea Fruit Oil");
    let second = inci(&mut shop, "olive-old", " olea  europaea fruit oil");
    let wax = inci(&mut shop, "wax", "Cera Alba");
    let vitamin = inci(&mut shop, "vitamin", "Tocopherol");
    let mint = inci(&mut shop, "mint", "Mentha Piperita Oil");
    let clay = inci(&mut shop, "clay", "Kaolin, CI 77491");
    let unknown = shop.material("mystery");
    let infusion = shop.premix("infusion", &[(second, "96"), (unknown, "4")]);
    let salve = shop.product(
        "salve",
        &[(olive, "30"), (infusion, "25"), (wax, "41.999999"), (vitamin, "1"), (mint, "1.000001"), (clay, "1")],
    );
    let formula = shop.facts(salve).formula.unwrap();
    let list = ingredient_list(&shop.snapshot, formula);
    let (above, below) = names(&list);
    // 30 % and 24 % of the same name; 1 % of something without a name.
    let text = |name: &str, share: &str| (name.to_owned(), share.to_owned());
    assert_eq!(
        above,
        [
            text("Olea Europaea Fruit Oil", "54"),
            text("Cera Alba", "41.999999"),
            text("Mentha Piperita Oil", "1.000001"),
        ]
    );
    assert_eq!(below, [text("Kaolin, CI 77491", "1"), text("Tocopherol", "1")]);
    assert_eq!(
        list.missing.iter().map(|(item, share)| (*item, share.to_string())).collect::<Vec<_>>(),
        [(unknown, "1".to_owned())]
    );
    assert_eq!(list.above[0].items, [olive, second]);
    assert!(!list.soap && list.at_most_one[0].mixture);
    let check = looked_over(&shop, formula, PriceBasis::Stock);
    let words = words::check(&view::check(&shop.snapshot, &check, super::support::day(0)), Screen::default());
    for phrase in [
        "Olea Europaea Fruit Oil, Cera Alba, Mentha Piperita Oil, Kaolin, CI 77491, Tocopherol",
        "mystery (1 %) has no INCI name",
        "The last 2 stand at 1 % or below",
        "a draft to be checked",
        "names several ingredients",
    ] {
        assert!(words.contains(phrase), "{phrase} is missing:\n{words}");
    }
    assert!(!words.contains("saponification"));
}

#[test]
fn a_soap_says_that_it_names_what_goes_in() {
    let mut shop = Workshop::new();
    let (oil, lye) = (shop.material("oil"), shop.material("lye"));
    shop.item(oil).inci = "Cocos Nucifera Oil".to_owned();
    shop.item(lye).inci = "SODIUM HYDROXIDE".to_owned();
    let solution = shop.premix("solution", &[(lye, "100")]);
    let soap = shop.product("soap", &[(oil, "85"), (solution, "15")]);
    let formula = shop.facts(soap).formula.unwrap();
    assert!(ingredient_list(&shop.snapshot, formula).soap);
    let check = looked_over(&shop, formula, PriceBasis::Stock);
    let view = view::check(&shop.snapshot, &check, super::support::day(0));
    assert_eq!(view.notes, [view::SOAP, view::DRAFT]);
}

/// A thousandth of a thousandth of a thousandth still has its place: shares are not rounded on the way.
#[test]
fn nested_shares_are_exact() {
    let mut shop = Workshop::new();
    let (one, two) = (shop.material("one"), shop.material("two"));
    shop.item(one).inci = "One".to_owned();
    shop.item(two).inci = "Two".to_owned();
    let inner = shop.premix("inner", &[(one, "33.333333"), (two, "66.666667")]);
    let outer = shop.premix("outer", &[(inner, "3.000003"), (two, "96.999997")]);
    // 33.333333 % of 3.000003 % is 1.000000989999 999...: just above 1 % of the outer, and of the product as a whole.
    let product = shop.product("p", &[(outer, "100")]);
    let formula = shop.facts(product).formula.unwrap();
    let list = ingredient_list(&shop.snapshot, formula);
    assert_eq!(list.above.len(), 2);
    assert_eq!(list.above[1].share.to_string(), "1.000001");
    // 33.333334 % of 3 % is 1.00000002 %: above the line, although it reads 1; with one millionth less it is below.
    let inner_formula = shop.snapshot.item(inner).premix.as_ref().unwrap().formula.unwrap();
    let outer_formula = shop.snapshot.item(outer).premix.as_ref().unwrap().formula.unwrap();
    for (part, above) in [(33_333_334, 2), (33_333_333, 1)] {
        let lines = &mut shop.snapshot.formulas[inner_formula.index()].lines;
        (lines[0].percent.millionths, lines[1].percent.millionths) = (part, 100_000_000 - part);
        let lines = &mut shop.snapshot.formulas[outer_formula.index()].lines;
        (lines[0].percent.millionths, lines[1].percent.millionths) = (3_000_000, 97_000_000);
        let list = ingredient_list(&shop.snapshot, formula);
        assert_eq!((list.above.len(), list.at_most_one.len()), (above, 2 - above), "{part}");
        let one = list.above.iter().chain(&list.at_most_one).find(|each| each.name == "One").unwrap();
        assert_eq!(one.share.to_string(), "1", "{part}");
    }
}
