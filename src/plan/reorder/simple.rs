//! The plain plan: each material bought alone at its cheapest, and minimum orders filled up.

use super::Problem;
use super::books::{Books, Column, Line, Share, credit_of, marginal_of, orders_of, shares_of};
use super::candidates::{Case, USELESS};
use super::cover::{Delivery, Scratch};
use super::evaluate::{ChosenOrder, Evaluation, evaluate};
use super::material::Planner;
use super::mixes::Mixer;

/// A plan with its exact amounts.
#[derive(Clone, Debug)]
pub(super) struct Filled {
    /// What they cost.
    pub evaluation: Evaluation,
}

/// Each material at its cheapest as if nothing else were bought, its postage and minimum order counted.
pub(super) fn each_alone(case: &Case<'_>, planner: &mut Planner) -> Vec<Column> {
    let books = Books::new(case);
    columns(case, &books, planner)
}

/// Each material at its lowest price, as if postage and minimum orders were no matter.
pub(super) fn each_at_lowest_price(case: &Case<'_>, planner: &mut Planner) -> Vec<Column> {
    let mut books = Books::new(case);
    for slot in 0..case.slots.len() {
        books.send_for_nothing(case, slot);
    }
    columns(case, &books, planner)
}

fn columns(case: &Case<'_>, books: &Books, planner: &mut Planner) -> Vec<Column> {
    let found = |material| {
        planner
            .cheapest(case, books, (material, &case.materials[material]), (f64::NEG_INFINITY, f64::INFINITY))
            .map(|(column, _)| column.clone())
    };
    (0..case.materials.len()).map(found).map(Option::unwrap_or_default).collect()
}

/// What the columns cost, minimum orders counted where they are not reached; some money at least.
#[must_use]
pub(super) fn guess(case: &Case<'_>, columns: &[Column]) -> f64 {
    Filler::new(case, columns).books.cost.max(100.0)
}

/// Fills every order up to its supplier's minimum and works out the exact amounts; `None` where the plan breaks a rule.
pub(super) fn filled(problem: &Problem, case: &Case<'_>, mut columns: Vec<Column>) -> Option<Filled> {
    let mut filler = Filler::new(case, &columns);
    let mut is_filled = false;
    for slot in 0..case.slots.len() {
        if filler.books.is_used(slot) && filler.books.goods(slot) < case.terms(slot).minimum_order.minor {
            filler.fill(slot, &mut columns);
            is_filled = true;
        }
    }
    let orders = orders_of(case, &columns);
    let evaluation = evaluate(problem, &orders).ok()?;
    Some(Filled { evaluation: if is_filled { without_the_needless(problem, orders, evaluation) } else { evaluation } })
}

/// What fills one order up may be all that another was to bring: orders that cover nothing are left out, unless that costs more.
fn without_the_needless(problem: &Problem, mut orders: Vec<ChosenOrder>, mut evaluation: Evaluation) -> Evaluation {
    let mut looked_at = 0;
    while let Some(planned) = evaluation.orders.get(looked_at) {
        looked_at += 1;
        if planned.lines.iter().any(|line| !line.covers.is_empty()) {
            continue;
        }
        let is_other = |order: &ChosenOrder| {
            (problem.suppliers[order.supplier].supplier, order.order_on) != (planned.supplier, planned.order_on)
        };
        let rest: Vec<ChosenOrder> = orders.iter().filter(|order| is_other(order)).cloned().collect();
        if let Ok(better) = evaluate(problem, &rest)
            && better.counted() < evaluation.counted()
        {
            (orders, evaluation, looked_at) = (rest, better, 0);
        }
    }
    evaluation
}

/// What filling up needs at hand.
struct Filler<'a, 'p> {
    case: &'a Case<'p>,
    books: Books,
    shares: Vec<Share>,
    deliveries: Vec<Delivery>,
    scratch: Scratch,
}

impl<'a, 'p> Filler<'a, 'p> {
    fn new(case: &'a Case<'p>, columns: &[Column]) -> Self {
        let mut books = Books::new(case);
        let mut shares = Vec::new();
        for (material, column) in case.materials.iter().zip(columns) {
            shares_of(case, material, column, &mut shares);
            books.add(case, &shares);
        }
        Self { case, books, shares, deliveries: Vec::new(), scratch: Scratch::default() }
    }

    /// Buys more of the one offer that reaches the minimum at the least cost, left-over credited.
    fn fill(&mut self, slot: usize, columns: &mut [Column]) {
        let case = self.case;
        let mut best: Option<(f64, usize, Column)> = None;
        for &(material, house_place) in &case.sells[case.slots[slot].supplier] {
            let house = &case.materials[material].houses[house_place];
            let Some(place) = house.slots.iter().position(|&own| own == slot) else { continue };
            for offer in (0..house.offers.len()).filter(|&offer| house.through[offer][place] != USELESS) {
                let old = &columns[material];
                let Some(new) = self.with_more(material, old, (house_place, place, offer), slot) else { continue };
                let cost = self.difference(material, old, &new);
                if best.as_ref().is_none_or(|(least, _, _)| cost < *least) {
                    best = Some((cost, material, new));
                }
            }
        }
        if let Some((_, material, column)) = best {
            self.replace(material, &columns[material], &column);
            columns[material] = column;
        }
    }

    /// The column with as many more packs of an offer as the order's minimum asks for.
    fn with_more(
        &self,
        material: usize,
        column: &[Line],
        (house_place, place, offer): (usize, usize, usize),
        slot: usize,
    ) -> Option<Column> {
        let house = &self.case.materials[material].houses[house_place];
        let same = |line: &&Line| (line.house, line.place, line.offer) == (house_place, place, offer);
        let old = column.iter().find(same);
        let pack = &self.case.problem.offers[house.offers[offer]];
        let packs = old.map_or(0, |line| line.packs);
        let own = super::evaluate::unit_price(pack, packs).map_or(0, |price| price.times(packs).minor);
        let lacking = self.case.terms(slot).minimum_order.minor - (self.books.goods(slot) - own);
        let mixer = Mixer { problem: self.case.problem, offers: &house.offers };
        let amount = pack.quantity.0.saturating_mul(packs + 1);
        let mix = mixer.reaching(offer, amount, lacking)?;
        let packs = mix.lines().next()?.1;
        let mut new: Column = column.iter().filter(|line| !same(line)).copied().collect();
        new.push(Line { house: house_place, place, offer, packs });
        new.sort_unstable();
        Some(new)
    }

    /// What the new column costs more than the old one beside all others, credit taken off.
    fn difference(&mut self, material: usize, old: &[Line], new: &[Line]) -> f64 {
        let content = &self.case.materials[material];
        let credit = |column: &[Line], deliveries: &mut Vec<Delivery>, scratch: &mut Scratch| {
            credit_of(self.case, content, column, deliveries, scratch).unwrap_or(0.0)
        };
        let lost = credit(old, &mut self.deliveries, &mut self.scratch);
        let won = credit(new, &mut self.deliveries, &mut self.scratch);
        let mut old_shares = Vec::new();
        shares_of(self.case, content, old, &mut old_shares);
        self.books.remove(self.case, &old_shares);
        let saved = marginal_of(self.case, &self.books, &old_shares);
        shares_of(self.case, content, new, &mut self.shares);
        let spent = marginal_of(self.case, &self.books, &self.shares);
        self.books.add(self.case, &old_shares);
        spent - won - saved + lost
    }

    fn replace(&mut self, material: usize, old: &[Line], new: &[Line]) {
        let content = &self.case.materials[material];
        shares_of(self.case, content, old, &mut self.shares);
        self.books.remove(self.case, &self.shares);
        shares_of(self.case, content, new, &mut self.shares);
        self.books.add(self.case, &self.shares);
    }
}
