//! What a formula costs today, how many pieces the stock allows, and what sets two versions of it apart.

use super::allocate::SearchLimit;
use super::explode::{Levels, line_masses, size, use_rate_findings};
use super::finding::Finding;
use super::fraction::Fraction;
use super::ingredients::{IngredientList, ingredient_list};
use super::life::usable_through;
use super::model::{
    Formula, FormulaId, ItemId, LotState, PlanAmount, PlanDay, PlanEntry, Product, ProductId, ProductUse, Snapshot,
};
use super::money::Currency;
use super::outlook::{Outlook, look_ahead};
use super::quantity::{Mass, Percent, Quantity};
use super::rounding::clamp;
use super::supply::Source;
use chrono::NaiveDate;

/// Where prices come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PriceBasis {
    /// The released lots on hand that can be used today, first expired first out, at what they cost; the cheapest offer
    /// for what they do not hold.
    Stock,
    /// The offer that is cheapest per unit: its lowest price break and duty, without postage.
    Offers,
}

/// What something costs, and how sure that is.
#[derive(Clone, Debug, Default)]
pub struct Costing {
    /// Home money in minor units, exactly.
    pub cost: Fraction,
    /// What lots did not hold enough of, so that the rest is priced by the cheapest offer. Empty for [`PriceBasis::Offers`].
    pub topped_up: Vec<ItemId>,
    /// What nothing has a price for: it counts as 0.
    pub unpriced: Vec<ItemId>,
    /// Currencies without a rate: their lots count as 0, their offers are left out.
    pub without_rate: Vec<Currency>,
}

/// How many pieces can be made of what is there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Possible {
    /// So many, since one more is short of these.
    Pieces(i64, Vec<ItemId>),
    /// More than anyone makes in a day: nothing runs out.
    NoLimit,
    /// The net mass of a piece or the formula is not known.
    NotKnown,
}

/// A product that is made to the formula.
#[derive(Clone, Debug)]
pub struct ProductCheck {
    /// Which.
    pub product: ProductId,
    /// Pieces in the batch that is priced: a mould, else as its first plan entry says, else one.
    pub batch_pieces: i64,
    /// What the batch costs with its packaging.
    pub batch: Costing,
    /// What a piece of it costs, exactly.
    pub piece: Fraction,
    /// Pieces that the stock allows today, as if nothing else were planned.
    pub possible: Possible,
    /// Pieces that it allows when the plan has taken its part.
    pub possible_after_plan: Possible,
}

/// A premix that is made to the formula.
#[derive(Clone, Debug)]
pub struct PremixCheck {
    /// Which.
    pub premix: ItemId,
    /// What a kilogram of it costs, its loss counted.
    pub kilogram: Costing,
}

/// Everything that can be said of a formula version today.
#[derive(Clone, Debug)]
pub struct FormulaCheck {
    /// Which.
    pub formula: FormulaId,
    /// Where prices come from.
    pub basis: PriceBasis,
    /// The sum of its lines.
    pub total: Percent,
    /// What a kilogram weighed in costs.
    pub kilogram: Costing,
    /// The products of the formula, as if all were made to this version.
    pub products: Vec<ProductCheck>,
    /// The premixes that are made to it.
    pub premixes: Vec<PremixCheck>,
    /// Its ingredient list.
    pub ingredients: IngredientList,
    /// Use rates, circles, formulas that are missing.
    pub findings: Vec<Finding>,
}

/// Two versions side by side.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The one.
    pub left: FormulaId,
    /// The other.
    pub right: FormulaId,
    /// Every ingredient of either: in the order of the left, then what only the right has.
    pub lines: Vec<ComparedLine>,
    /// What a kilogram weighed in of the left costs.
    pub left_kilogram: Costing,
    /// What a kilogram weighed in of the right costs.
    pub right_kilogram: Costing,
}

/// An ingredient in both versions; lines of the same ingredient added up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ComparedLine {
    /// What.
    pub item: ItemId,
    /// Its share and phases in the left; `None` where it is not in it.
    pub left: Option<(Percent, Vec<String>)>,
    /// The same in the right.
    pub right: Option<(Percent, Vec<String>)>,
}

/// Looks a formula over. `outlook` is that of the plan as it stands.
#[must_use]
pub fn check(
    snapshot: &Snapshot,
    outlook: &Outlook,
    formula: FormulaId,
    basis: PriceBasis,
    limit: SearchLimit,
) -> FormulaCheck {
    let today = outlook.today;
    let made_to_it = with_version(snapshot, formula);
    let prices = Prices::of(&made_to_it, today, basis);
    let lines = &snapshot.formulas[formula.index()].lines;
    let after_plan = after_plan(&made_to_it, outlook);
    let products = products_of(&made_to_it, formula);
    let mut findings: Vec<Finding> = use_rates(&made_to_it, formula, &products);
    findings.extend(Levels::of(&made_to_it).findings);
    findings.sort();
    findings.dedup();
    FormulaCheck {
        formula,
        basis,
        total: Percent { millionths: lines.iter().map(|line| line.percent.millionths).sum() },
        kilogram: prices.of_formula(formula, Mass { mg: 1_000_000 }),
        products: products
            .into_iter()
            .map(|product| {
                let batch_pieces = batch_pieces(&made_to_it, product);
                let batch = prices.of_product(product, batch_pieces);
                ProductCheck {
                    product,
                    batch_pieces,
                    piece: batch.cost.divided_by(batch_pieces),
                    batch,
                    possible: pieces_possible(&made_to_it, product, today, limit),
                    possible_after_plan: pieces_possible(&after_plan, product, today, limit),
                }
            })
            .collect(),
        premixes: premixes_of(&made_to_it, formula).map(|premix| prices.of_premix(premix)).collect(),
        ingredients: ingredient_list(&made_to_it, formula),
        findings,
    }
}

/// Sets two versions side by side.
#[must_use]
pub fn compare(
    snapshot: &Snapshot,
    left: FormulaId,
    right: FormulaId,
    today: NaiveDate,
    basis: PriceBasis,
) -> Comparison {
    let prices = Prices::of(snapshot, today, basis);
    let (of_left, of_right) = (&snapshot.formulas[left.index()], &snapshot.formulas[right.index()]);
    let mut items: Vec<ItemId> = Vec::new();
    for line in of_left.lines.iter().chain(&of_right.lines) {
        if !items.contains(&line.item) {
            items.push(line.item);
        }
    }
    let line = |item| ComparedLine { item, left: share_in(of_left, item), right: share_in(of_right, item) };
    Comparison {
        left,
        right,
        lines: items.into_iter().map(line).collect(),
        left_kilogram: prices.of_formula(left, Mass { mg: 1_000_000 }),
        right_kilogram: prices.of_formula(right, Mass { mg: 1_000_000 }),
    }
}

fn share_in(formula: &Formula, item: ItemId) -> Option<(Percent, Vec<String>)> {
    let lines: Vec<_> = formula.lines.iter().filter(|line| line.item == item).collect();
    let mut phases: Vec<String> = lines.iter().map(|line| line.phase.clone()).collect();
    phases.dedup();
    let share = Percent { millionths: lines.iter().map(|line| line.percent.millionths).sum() };
    (!lines.is_empty()).then_some((share, phases))
}

/// The workshop with all products of the formula made to this version of it.
fn with_version(snapshot: &Snapshot, formula: FormulaId) -> Snapshot {
    let mut changed = snapshot.clone();
    let code = &snapshot.formulas[formula.index()].code;
    for product in &mut changed.products {
        if product.formula.is_some_and(|id| snapshot.formulas[id.index()].code == *code) {
            product.formula = Some(formula);
        }
    }
    for premix in changed.items.iter_mut().filter_map(|item| item.premix.as_mut()) {
        if premix.formula.is_some_and(|id| snapshot.formulas[id.index()].code == *code) {
            premix.formula = Some(formula);
        }
    }
    changed
}

fn products_of(snapshot: &Snapshot, formula: FormulaId) -> Vec<ProductId> {
    let products = snapshot.products.iter().enumerate().filter(|(_, product)| product.formula == Some(formula));
    products.map(|(place, _)| ProductId::new(place)).collect()
}

fn premixes_of(snapshot: &Snapshot, formula: FormulaId) -> impl Iterator<Item = ItemId> + '_ {
    let made_to_it = move |item: &super::model::Item| item.premix.as_ref().is_some_and(|p| p.formula == Some(formula));
    let places = snapshot.items.iter().enumerate().filter(move |(_, item)| made_to_it(item));
    places.map(|(place, _)| ItemId::new(place))
}

fn batch_pieces(snapshot: &Snapshot, product: ProductId) -> i64 {
    let facts = snapshot.product(product);
    let planned = || {
        let entry = snapshot.entries.iter().find(|entry| entry.product == product)?;
        Some(size(entry, facts).pieces)
    };
    facts.pieces_per_mould.or_else(planned).unwrap_or(1).max(1)
}

/// Use rates of the formula's products; of a formula without products, both as leave-on and as rinse-off.
fn use_rates(snapshot: &Snapshot, formula: FormulaId, products: &[ProductId]) -> Vec<Finding> {
    let mut asked = Snapshot { entries: Vec::new(), ..snapshot.clone() };
    let entry = |product| PlanEntry {
        code: String::new(),
        product,
        amount: PlanAmount::Pieces(1),
        when: PlanDay::MakeOn(NaiveDate::MIN),
    };
    asked.entries = products.iter().copied().map(entry).collect();
    if products.is_empty() {
        for product_use in [ProductUse::LeaveOn, ProductUse::RinseOff] {
            asked.products.push(without_product(snapshot, formula, product_use));
            asked.entries.push(entry(ProductId::new(asked.products.len() - 1)));
        }
    }
    use_rate_findings(&asked)
}

fn without_product(snapshot: &Snapshot, formula: FormulaId, product_use: ProductUse) -> Product {
    let code = &snapshot.formulas[formula.index()].code;
    Product {
        code: code.clone(),
        name: code.clone(),
        formula: Some(formula),
        product_use: Some(product_use),
        net_mass: None,
        pieces_per_mould: None,
        loss: Percent::ZERO,
        setting_days: 0,
        curing_days: 0,
        shelf_life: None,
        minimum_life: None,
        packaging: Vec::new(),
    }
}

/// The stock as the plan leaves it: what it does not draw of the lots, with the days that it opens them on.
#[must_use]
pub fn after_plan(snapshot: &Snapshot, outlook: &Outlook) -> Snapshot {
    let mut after = snapshot.clone();
    for part in &outlook.items {
        let Some(allocation) = &part.allocation else { continue };
        for (supply, source) in part.sources.iter().enumerate() {
            let Source::Lot(place) = *source else { continue };
            let first = allocation.draws.iter().filter(|draw| draw.supply == supply).map(|draw| draw.need).min();
            let Some(first) = first else { continue };
            let lot = &mut after.lots[place];
            lot.on_hand = allocation.left[supply];
            lot.opened = lot.opened.or(Some(part.demands[first].day));
        }
    }
    after.lots.retain(|lot| !lot.on_hand.is_zero());
    after.entries.clear();
    after
}

/// The most pieces of the product for which all ingredients and packaging can be taken from lots on hand today, premixes
/// from stock or made; open orders and other plan entries left out.
///
/// A line's mass may step back by a milligram while the batch grows (largest remainder), so where the search ends, some
/// sizes beyond it are tried as well.
#[must_use]
pub fn pieces_possible(snapshot: &Snapshot, product: ProductId, today: NaiveDate, limit: SearchLimit) -> Possible {
    const BEYOND: i64 = 8;
    const MOST: i64 = 1_000_000_000;
    let facts = snapshot.product(product);
    if facts.formula.is_none() || facts.net_mass.is_none_or(|mass| mass.mg <= 0) {
        return Possible::NotKnown;
    }
    let mut alone = Snapshot { entries: Vec::new(), orders: Vec::new(), ..snapshot.clone() };
    let mut short_of = |pieces: i64| {
        alone.entries = vec![PlanEntry {
            code: String::new(),
            product,
            amount: PlanAmount::Pieces(pieces),
            when: PlanDay::MakeOn(today),
        }];
        let mut items: Vec<ItemId> =
            look_ahead(&alone, today, None, limit).shortages.iter().map(|short| short.item).collect();
        items.dedup();
        items
    };
    let mut fits = 0;
    let mut too_many = 1;
    while short_of(too_many).is_empty() {
        fits = too_many;
        if too_many >= MOST {
            return Possible::NoLimit;
        }
        too_many = (2 * too_many).min(MOST);
    }
    while fits + 1 < too_many {
        let middle = fits + (too_many - fits) / 2;
        if short_of(middle).is_empty() {
            fits = middle;
        } else {
            too_many = middle;
        }
    }
    while let Some(more) = (fits + 2..=fits + 1 + BEYOND).rev().find(|pieces| short_of(*pieces).is_empty()) {
        fits = more;
    }
    Possible::Pieces(fits, short_of(fits + 1))
}

/// Prices of everything on a day.
struct Prices<'a> {
    snapshot: &'a Snapshot,
    today: NaiveDate,
    basis: PriceBasis,
    parents_first: Vec<ItemId>,
    /// Usable lots of each item, first expired first; of those that end on the same day, the oldest receipt first.
    lots: Vec<Vec<usize>>,
}

impl<'a> Prices<'a> {
    fn of(snapshot: &'a Snapshot, today: NaiveDate, basis: PriceBasis) -> Self {
        let mut lots = vec![Vec::new(); snapshot.items.len()];
        for (place, lot) in snapshot.lots.iter().enumerate() {
            let through = usable_through(lot, snapshot.item(lot.item));
            if basis == PriceBasis::Stock && lot.state == LotState::Released && through >= today {
                lots[lot.item.index()].push((through, lot.received, place));
            }
        }
        let in_order = |mut list: Vec<(NaiveDate, Option<NaiveDate>, usize)>| {
            list.sort_unstable();
            list.into_iter().map(|(.., place)| place).collect()
        };
        Self {
            snapshot,
            today,
            basis,
            parents_first: Levels::of(snapshot).parents_first,
            lots: lots.into_iter().map(in_order).collect(),
        }
    }

    fn of_formula(&self, formula: FormulaId, batch: Mass) -> Costing {
        let mut needs = self.nothing();
        self.add_lines(&mut needs, formula, batch);
        self.price(needs)
    }

    fn of_premix(&self, premix: ItemId) -> PremixCheck {
        let facts = self.snapshot.item(premix).premix.as_ref();
        let loss = facts.map_or(Percent::ZERO, |facts| facts.loss);
        let batch = loss.gross_of(Mass { mg: 1_000_000 });
        let formula = facts.and_then(|facts| facts.formula);
        let kilogram = formula.map_or_else(Costing::default, |formula| self.of_formula(formula, batch));
        PremixCheck { premix, kilogram }
    }

    fn of_product(&self, product: ProductId, pieces: i64) -> Costing {
        let facts = self.snapshot.product(product);
        let net = Mass { mg: facts.net_mass.map_or(0, |mass| mass.mg).saturating_mul(pieces) };
        let mut needs = self.nothing();
        if let Some(formula) = facts.formula {
            self.add_lines(&mut needs, formula, facts.loss.gross_of(net));
        }
        for packaging in &facts.packaging {
            let for_pieces = i128::from(packaging.per_piece_millionths) * i128::from(pieces) / 1_000_000;
            needs[packaging.item.index()] += Quantity(clamp(for_pieces + i128::from(packaging.per_batch)));
        }
        self.price(needs)
    }

    fn nothing(&self) -> Vec<Quantity> {
        vec![Quantity::ZERO; self.snapshot.items.len()]
    }

    fn add_lines(&self, needs: &mut [Quantity], formula: FormulaId, batch: Mass) {
        for (item, mass) in line_masses(self.snapshot, formula, batch) {
            needs[item.index()] += Quantity(mass.mg);
        }
    }

    /// Draws lots, makes what premixes lack, and prices the rest by offers.
    fn price(&self, mut needs: Vec<Quantity>) -> Costing {
        let mut costing = Costing::default();
        for &premix in &self.parents_first {
            let rest = self.draw(premix, needs[premix.index()], &mut costing);
            needs[premix.index()] = rest;
            let facts = self.snapshot.item(premix).premix.as_ref();
            if let Some((facts, formula)) = facts.and_then(|facts| Some((facts, facts.formula?))) {
                needs[premix.index()] = Quantity::ZERO;
                self.add_lines(&mut needs, formula, facts.loss.gross_of(Mass { mg: rest.0 }));
            }
        }
        for (place, item) in self.snapshot.items.iter().enumerate() {
            let id = ItemId::new(place);
            let rest = if item.premix.is_some() { needs[place] } else { self.draw(id, needs[place], &mut costing) };
            if rest.is_zero() || item.always_at_hand {
                continue;
            }
            match self.cheapest(id, &mut costing) {
                Some(price) => {
                    costing.cost = costing.cost.plus(&price.times(rest.0));
                    if self.basis == PriceBasis::Stock {
                        costing.topped_up.push(id);
                    }
                }
                None => costing.unpriced.push(id),
            }
        }
        costing.without_rate.sort_unstable();
        costing.without_rate.dedup();
        costing
    }

    /// Takes from the lots; returns what they do not hold.
    fn draw(&self, item: ItemId, need: Quantity, costing: &mut Costing) -> Quantity {
        let mut rest = need;
        for &place in &self.lots[item.index()] {
            let lot = &self.snapshot.lots[place];
            let taken = rest.min(lot.on_hand);
            if taken.is_zero() {
                continue;
            }
            rest -= taken;
            let Some(rate) = self.snapshot.rate(lot.currency, self.today) else {
                costing.without_rate.push(lot.currency);
                continue;
            };
            let cost = Fraction::new(&[lot.cost.minor, taken.0], &[lot.on_hand.0]);
            costing.cost = costing.cost.plus(&cost.at_rate(rate, lot.currency, self.snapshot.home));
        }
        rest
    }

    /// The lowest landed price of a unit, duty added, postage left out.
    fn cheapest(&self, item: ItemId, costing: &mut Costing) -> Option<Fraction> {
        let mut prices = Vec::new();
        for offer in self.snapshot.offers.iter().filter(|offer| offer.item == item) {
            let supplier = &self.snapshot.suppliers[offer.supplier.index()];
            let Some(rate) = self.snapshot.rate(supplier.currency, self.today) else {
                costing.without_rate.push(supplier.currency);
                continue;
            };
            let Some((_, price)) = offer.breaks.first() else { continue };
            let unit = Fraction::new(&[price.minor], &[offer.pack.0]).with_percent(supplier.duty);
            prices.push(unit.at_rate(rate, supplier.currency, self.snapshot.home));
        }
        prices.into_iter().min()
    }
}
