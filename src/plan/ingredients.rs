//! The ingredient list of a formula: INCI names by weight as they go in, premixes taken apart. A draft to be checked.

use super::explode::Levels;
use super::model::{FormulaId, ItemId, Snapshot};
use super::quantity::{Percent, Unit};
use super::rounding::{clamp, half_up};

/// The ingredients of a formula by weight as they go in, premixes taken apart: a draft.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct IngredientList {
    /// Above 1 %, in descending order of weight.
    pub above: Vec<Ingredient>,
    /// At 1 % or below: may stand in any order after the others; here in descending order too.
    pub at_most_one: Vec<Ingredient>,
    /// Materials without an INCI name.
    pub missing: Vec<(ItemId, Percent)>,
    /// True where lye is in it: the list then names what goes in before saponification.
    pub soap: bool,
}

/// One name of the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ingredient {
    /// INCI name, as first entered.
    pub name: String,
    /// Its part of the whole, to the nearest millionth of a percent.
    pub share: Percent,
    /// The materials that bring it, in order of code.
    pub items: Vec<ItemId>,
    /// True where the name lists several: their own order cannot be told.
    pub mixture: bool,
}

/// Shares are counted in parts of 10^29, so that percentages of six decimals stay exact through two levels of premixes
/// at least, and twice a share times a percentage fits 127 bits.
const WHOLE: i128 = 10_i128.pow(29);

/// The ingredient list of a formula: INCI names in descending order of weight at the time they go in; those at 1 % or
/// below after the others. Source of the order: Regulation (EC) No 1223/2009, Article 19(1)(g). What it says of perfume,
/// allergens, nanomaterials and colourants is not covered.
#[must_use]
pub fn ingredient_list(snapshot: &Snapshot, formula: FormulaId) -> IngredientList {
    let one_percent = WHOLE / 100;
    let mut list = IngredientList::default();
    let mut found: Vec<(String, i128, Ingredient)> = Vec::new();
    for (place, share) in shares(snapshot, formula).into_iter().enumerate().filter(|(_, share)| *share > 0) {
        let item = &snapshot.items[place];
        let name = item.inci.split_whitespace().collect::<Vec<_>>().join(" ");
        if name.is_empty() || item.unit == Unit::Piece {
            list.missing.push((ItemId::new(place), rounded(share)));
            continue;
        }
        let key = name.to_lowercase();
        list.soap |= ["sodium hydroxide", "potassium hydroxide"].contains(&key.as_str());
        match found.iter_mut().find(|(known, _, _)| *known == key) {
            Some((_, sum, ingredient)) => {
                *sum += share;
                ingredient.items.push(ItemId::new(place));
            }
            None => {
                let mixture = name.contains([',', ';']);
                let items = vec![ItemId::new(place)];
                found.push((key, share, Ingredient { name, share: Percent::ZERO, items, mixture }));
            }
        }
    }
    found.sort_by(|left, right| (right.1, &left.0).cmp(&(left.1, &right.0)));
    for (_, share, ingredient) in found {
        let ingredient = Ingredient { share: rounded(share), ..ingredient };
        if share > one_percent { list.above.push(ingredient) } else { list.at_most_one.push(ingredient) }
    }
    list
}

fn rounded(share: i128) -> Percent {
    Percent { millionths: clamp(half_up(share, WHOLE / i128::from(Percent::HUNDRED.millionths))) }
}

/// The share of each item with premixes taken apart, in parts of [`WHOLE`]. A premix that cannot be taken apart stays.
fn shares(snapshot: &Snapshot, formula: FormulaId) -> Vec<i128> {
    let hundred = i128::from(Percent::HUNDRED.millionths);
    let mut shares = vec![0_i128; snapshot.items.len()];
    let add = |shares: &mut Vec<i128>, formula: FormulaId, whole: i128| {
        for line in &snapshot.formulas[formula.index()].lines {
            shares[line.item.index()] += half_up(whole * i128::from(line.percent.millionths), hundred);
        }
    };
    add(&mut shares, formula, WHOLE);
    for premix in Levels::of(snapshot).parents_first {
        let whole = shares[premix.index()];
        let formula = snapshot.item(premix).premix.as_ref().and_then(|facts| facts.formula);
        if let Some(formula) = formula.filter(|_| whole > 0) {
            shares[premix.index()] = 0;
            add(&mut shares, formula, whole);
        }
    }
    shares
}
