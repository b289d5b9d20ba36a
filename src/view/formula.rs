//! A formula looked over, and two versions of one side by side.

use super::cost::fine;
use super::{FindingView, findings};
use crate::plan::formula::{Comparison, Costing, FormulaCheck, Possible, PriceBasis, ProductCheck};
use crate::plan::ingredients::Ingredient;
use crate::plan::model::{FormulaId, ItemId, Snapshot};
use crate::plan::quantity::Percent;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// What stands below every ingredient list.
pub const DRAFT: &str = "This list is a draft to be checked: it orders what was entered by weight (Regulation (EC) No \
    1223/2009, Article 19(1)(g)). The rules for perfume, allergens, nanomaterials and colourants are not covered, and it \
    says nothing about safety.";

/// What stands below the list of a soap.
pub const SOAP: &str = "Lye is in it: the list names what goes in before saponification, as entered, and not the salts \
    that come of it.";

/// A formula looked over. Money is in the home currency.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FormulaCheckView {
    /// Today.
    pub as_of: NaiveDate,
    /// Code.
    pub formula: String,
    /// Version.
    pub version: String,
    /// Sum of its lines, in percent.
    pub total: String,
    /// True where that is 100 %.
    pub total_is_right: bool,
    /// Home currency.
    pub currency: String,
    /// `stock` or `offers`: where prices come from.
    pub priced_from: String,
    /// A kilogram weighed in.
    pub kilogram: CostingView,
    /// The products made to it.
    pub products: Vec<ProductCheckView>,
    /// The premixes made to it: a kilogram with its loss.
    pub premixes: Vec<PremixCheckView>,
    /// The ingredient list, above 1 %.
    pub ingredients: Vec<IngredientView>,
    /// The ingredients at 1 % or below, which may stand in any order after the others.
    pub ingredients_at_most_one_percent: Vec<IngredientView>,
    /// Materials without an INCI name.
    pub without_inci: Vec<NamedShareView>,
    /// What has to be known of the list.
    pub notes: Vec<String>,
    /// Use rates above the highest, circles, formulas that are missing.
    pub findings: Vec<FindingView>,
}

/// A cost and how sure it is.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CostingView {
    /// Rounded half up to the minor unit.
    pub cost: String,
    /// Materials that stock did not hold enough of: the rest is priced by the cheapest offer.
    pub topped_up: Vec<String>,
    /// Materials without a price; they count as 0.
    pub unpriced: Vec<String>,
    /// Currencies without a rate.
    pub without_rate: Vec<String>,
}

/// A product of the formula.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ProductCheckView {
    /// Code.
    pub product: String,
    /// Name.
    pub name: String,
    /// Pieces in the batch that is priced.
    pub batch_pieces: i64,
    /// What that batch costs, with packaging.
    pub batch: CostingView,
    /// A piece of it, rounded half up.
    pub cost_of_piece: String,
    /// The same with two places more.
    pub cost_of_piece_fine: String,
    /// Pieces that the stock allows today; `None` where nothing limits it or it cannot be told.
    pub possible: Option<i64>,
    /// What one piece more is short of.
    pub limited_by: Vec<String>,
    /// Pieces that it allows when the plan has taken its part.
    pub possible_after_plan: Option<i64>,
    /// What limits that.
    pub limited_after_plan_by: Vec<String>,
    /// True where nothing limits it.
    pub no_limit: bool,
}

/// A premix of the formula.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PremixCheckView {
    /// Code.
    pub premix: String,
    /// A kilogram of it.
    pub kilogram: CostingView,
}

/// A name of the ingredient list.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct IngredientView {
    /// INCI name.
    pub name: String,
    /// Share of the whole, in percent.
    pub percent: String,
    /// Codes of the materials that bring it.
    pub materials: Vec<String>,
}

/// Something with its share.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct NamedShareView {
    /// Code of the material.
    pub material: String,
    /// Name.
    pub name: String,
    /// Share of the whole, in percent.
    pub percent: String,
}

/// Shows a formula that was looked over.
#[must_use]
pub fn check(snapshot: &Snapshot, check: &FormulaCheck, today: NaiveDate) -> FormulaCheckView {
    let formula = &snapshot.formulas[check.formula.index()];
    let ingredient = |ingredient: &Ingredient| IngredientView {
        name: ingredient.name.clone(),
        percent: ingredient.share.to_string(),
        materials: codes(snapshot, &ingredient.items),
    };
    let missing = |&(item, share): &(ItemId, Percent)| NamedShareView {
        material: snapshot.item(item).code.clone(),
        name: snapshot.item(item).name.clone(),
        percent: share.to_string(),
    };
    FormulaCheckView {
        as_of: today,
        formula: formula.code.clone(),
        version: formula.version.clone(),
        total: check.total.to_string(),
        total_is_right: check.total == Percent::HUNDRED,
        currency: snapshot.home.code().to_owned(),
        priced_from: basis_word(check.basis).to_owned(),
        kilogram: costing(snapshot, &check.kilogram),
        products: check.products.iter().map(|product| product_view(snapshot, product)).collect(),
        premixes: check
            .premixes
            .iter()
            .map(|premix| PremixCheckView {
                premix: snapshot.item(premix.premix).code.clone(),
                kilogram: costing(snapshot, &premix.kilogram),
            })
            .collect(),
        ingredients: check.ingredients.above.iter().map(ingredient).collect(),
        ingredients_at_most_one_percent: check.ingredients.at_most_one.iter().map(ingredient).collect(),
        without_inci: check.ingredients.missing.iter().map(missing).collect(),
        notes: notes(check),
        findings: findings(&check.findings),
    }
}

fn notes(check: &FormulaCheck) -> Vec<String> {
    let list = &check.ingredients;
    let mut notes = Vec::new();
    if list.soap {
        notes.push(SOAP.to_owned());
    }
    for mixture in list.above.iter().chain(&list.at_most_one).filter(|ingredient| ingredient.mixture) {
        notes.push(format!(
            "\"{}\" names several ingredients in one material: ask the supplier for their shares, so that each stands in \
             its own place.",
            mixture.name
        ));
    }
    notes.push(DRAFT.to_owned());
    notes
}

fn basis_word(basis: PriceBasis) -> &'static str {
    match basis {
        PriceBasis::Stock => "stock",
        PriceBasis::Offers => "offers",
    }
}

fn codes(snapshot: &Snapshot, items: &[ItemId]) -> Vec<String> {
    items.iter().map(|item| snapshot.item(*item).code.clone()).collect()
}

fn names(snapshot: &Snapshot, items: &[ItemId]) -> Vec<String> {
    items.iter().map(|item| snapshot.item(*item).name.clone()).collect()
}

fn costing(snapshot: &Snapshot, costing: &Costing) -> CostingView {
    CostingView {
        cost: snapshot.home.decimal(costing.cost.half_up()),
        topped_up: names(snapshot, &costing.topped_up),
        unpriced: names(snapshot, &costing.unpriced),
        without_rate: costing.without_rate.iter().map(|currency| currency.code().to_owned()).collect(),
    }
}

fn product_view(snapshot: &Snapshot, check: &ProductCheck) -> ProductCheckView {
    let product = snapshot.product(check.product);
    let pieces = |possible: &Possible| match possible {
        Possible::Pieces(pieces, short) => (Some(*pieces), names(snapshot, short)),
        Possible::NoLimit | Possible::NotKnown => (None, Vec::new()),
    };
    let (possible, limited_by) = pieces(&check.possible);
    let (possible_after_plan, limited_after_plan_by) = pieces(&check.possible_after_plan);
    ProductCheckView {
        product: product.code.clone(),
        name: product.name.clone(),
        batch_pieces: check.batch_pieces,
        batch: costing(snapshot, &check.batch),
        cost_of_piece: snapshot.home.decimal(check.piece.half_up()),
        cost_of_piece_fine: fine(snapshot.home, &check.piece),
        possible,
        limited_by,
        possible_after_plan,
        limited_after_plan_by,
        no_limit: check.possible == Possible::NoLimit,
    }
}

/// The formulas on file.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FormulaListView {
    /// By code.
    pub formulas: Vec<ListedFormulaView>,
}

/// A formula on file.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ListedFormulaView {
    /// Code.
    pub formula: String,
    /// Its versions, from the oldest to the newest.
    pub versions: Vec<ListedVersionView>,
}

/// A version on file.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ListedVersionView {
    /// Version.
    pub version: String,
    /// True for the newest: it counts where no version is named.
    pub newest: bool,
    /// How many lines it has.
    pub lines: usize,
    /// Codes of the products and premixes that are made to it today.
    pub made_to_it: Vec<String>,
    /// The day on which it was made as a copy of the one before, where that is on file.
    pub revised_on: Option<NaiveDate>,
    /// Why; empty where that is not on file.
    pub reason: String,
}

/// Two versions side by side. Money is in the home currency.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ComparisonView {
    /// Today.
    pub as_of: NaiveDate,
    /// The one.
    pub left: VersionView,
    /// The other.
    pub right: VersionView,
    /// Home currency.
    pub currency: String,
    /// `stock` or `offers`.
    pub priced_from: String,
    /// Every ingredient of either.
    pub lines: Vec<ComparedLineView>,
    /// A kilogram of the right less one of the left, each rounded.
    pub cost_difference: String,
}

/// A version.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct VersionView {
    /// Code of the formula.
    pub formula: String,
    /// Version.
    pub version: String,
    /// A kilogram weighed in.
    pub kilogram: CostingView,
}

/// An ingredient in both versions.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ComparedLineView {
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// Percent in the left; `None` where it is not in it.
    pub left: Option<String>,
    /// Percent in the right.
    pub right: Option<String>,
    /// Right less left, signed: `+0.5`, `-2`; `0` where equal.
    pub difference: String,
    /// Phases in the left.
    pub left_phases: Vec<String>,
    /// Phases in the right.
    pub right_phases: Vec<String>,
    /// True where share or phase differ.
    pub changed: bool,
}

/// Shows a comparison.
#[must_use]
pub fn compare(snapshot: &Snapshot, comparison: &Comparison, basis: PriceBasis, today: NaiveDate) -> ComparisonView {
    let version = |id: FormulaId, cost: &Costing| {
        let formula = &snapshot.formulas[id.index()];
        VersionView {
            formula: formula.code.clone(),
            version: formula.version.clone(),
            kilogram: costing(snapshot, cost),
        }
    };
    let minor = |cost: &Costing| cost.cost.half_up();
    let difference = minor(&comparison.right_kilogram).saturating_sub(minor(&comparison.left_kilogram));
    ComparisonView {
        as_of: today,
        left: version(comparison.left, &comparison.left_kilogram),
        right: version(comparison.right, &comparison.right_kilogram),
        currency: snapshot.home.code().to_owned(),
        priced_from: basis_word(basis).to_owned(),
        lines: comparison.lines.iter().map(|line| compared_line(snapshot, line)).collect(),
        cost_difference: snapshot.home.decimal(difference),
    }
}

fn compared_line(snapshot: &Snapshot, line: &crate::plan::formula::ComparedLine) -> ComparedLineView {
    let item = snapshot.item(line.item);
    let share = |side: &Option<(Percent, Vec<String>)>| side.as_ref().map_or(Percent::ZERO, |(share, _)| *share);
    let phases =
        |side: &Option<(Percent, Vec<String>)>| side.as_ref().map_or_else(Vec::new, |(_, phases)| phases.clone());
    let difference = Percent { millionths: share(&line.right).millionths - share(&line.left).millionths };
    let sign = if difference > Percent::ZERO { "+" } else { "" };
    ComparedLineView {
        material: item.code.clone(),
        name: item.name.clone(),
        left: line.left.as_ref().map(|(share, _)| share.to_string()),
        right: line.right.as_ref().map(|(share, _)| share.to_string()),
        difference: format!("{sign}{difference}"),
        left_phases: phases(&line.left),
        right_phases: phases(&line.right),
        changed: line.left != line.right,
    }
}
