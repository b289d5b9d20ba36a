//! From orders that somebody has in mind to a plan that keeps them as far as they are still of use.

use super::books::{Books, Column, Line, marginal_of, shares_of};
use super::candidates::{self, Case, Material, USELESS};
use super::cover::{self, Delivery};
use super::evaluate::ChosenOrder;
use super::material::Planner;

/// The lines of the given orders that can still be ordered and cover something, and for what they leave open the
/// cheapest lines beside them.
pub(super) fn kept(case: &Case<'_>, given: &[ChosenOrder], planner: &mut Planner) -> Vec<Column> {
    let mut columns: Vec<Column> = (0..case.materials.len()).map(|material| valid(case, material, given)).collect();
    drop_what_covers_nothing(case, &mut columns);
    let mut books = Books::new(case);
    let mut shares = Vec::new();
    for (material, column) in case.materials.iter().zip(&columns) {
        shares_of(case, material, column, &mut shares);
        books.add(case, &shares);
    }
    for (place, column) in columns.iter_mut().enumerate() {
        let material = &case.materials[place];
        let Some(rest) = uncovered(case, material, column) else { continue };
        let found = planner.cheapest(case, &books, (place, &rest), (f64::NEG_INFINITY, f64::INFINITY));
        let Some(more) = found.map(|(more, _)| more.clone()) else { continue };
        shares_of(case, material, column, &mut shares);
        books.remove(case, &shares);
        column.extend(more);
        tidy(case, material, column);
        shares_of(case, material, column, &mut shares);
        books.add(case, &shares);
    }
    columns
}

/// The lines of one material that may still be ordered.
fn valid(case: &Case<'_>, place: usize, given: &[ChosenOrder]) -> Column {
    let material = &case.materials[place];
    let mut column = Column::new();
    for order in given {
        let Some(house_place) = material.houses.iter().position(|house| house.supplier == order.supplier) else {
            continue;
        };
        let house = &material.houses[house_place];
        let day = |&slot: &usize| case.slots[slot].order_on == order.order_on;
        let Some(place) = house.slots.iter().position(day) else { continue };
        for &(wanted, packs) in &order.lines {
            let Some(offer) = house.offers.iter().position(|&own| own == wanted) else { continue };
            if house.through[offer][place] != USELESS {
                column.push(Line { house: house_place, place, offer, packs });
            }
        }
    }
    tidy(case, material, &mut column);
    column
}

/// Puts lines in order, each offer once for a slot, with packs as they are sold.
fn tidy(case: &Case<'_>, material: &Material, column: &mut Column) {
    column.sort_unstable();
    column.dedup_by(|later, earlier| {
        let same = (later.house, later.place, later.offer) == (earlier.house, earlier.place, earlier.offer);
        if same {
            earlier.packs = earlier.packs.saturating_add(later.packs);
        }
        same
    });
    column.retain_mut(|line| {
        let pack = &case.problem.offers[material.houses[line.house].offers[line.offer]];
        line.packs = pack.most_packs.map_or(line.packs, |most| line.packs.min(most));
        line.packs >= pack.breaks.first().map_or(1, |lowest| lowest.0.max(1))
    });
}

/// What the lines bring.
fn deliveries(case: &Case<'_>, material: &Material, column: &[Line]) -> Vec<Delivery> {
    let delivery = |line: &Line| {
        let house = &material.houses[line.house];
        Delivery {
            arrives: case.slots[house.slots[line.place]].arrives,
            through: house.through[line.offer][line.place],
            quantity: case.problem.offers[house.offers[line.offer]].quantity.0.saturating_mul(line.packs),
        }
    };
    column.iter().map(delivery).collect()
}

/// Takes out the lines that cover no requirement, unless their order would then cost more.
fn drop_what_covers_nothing(case: &Case<'_>, columns: &mut [Column]) {
    let mut books = Books::new(case);
    let mut shares = Vec::new();
    for (material, column) in case.materials.iter().zip(columns.iter()) {
        shares_of(case, material, column, &mut shares);
        books.add(case, &shares);
    }
    for (material, column) in case.materials.iter().zip(columns.iter_mut()) {
        for place in (0..column.len()).rev() {
            let brought = deliveries(case, material, column);
            let covers = cover::assign(&material.needs, &brought, &material.rule);
            if covers.iter().any(|&(_, delivery, amount)| delivery == place && amount > 0) {
                continue;
            }
            shares_of(case, material, &column[place..=place], &mut shares);
            books.remove(case, &shares);
            if marginal_of(case, &books, &shares) < 0.0 {
                books.add(case, &shares);
            } else {
                column.remove(place);
            }
        }
    }
}

/// The material with only those requirements that the lines leave open; `None` where they cover everything.
fn uncovered(case: &Case<'_>, material: &Material, column: &[Line]) -> Option<Material> {
    let kept = deliveries(case, material, column);
    let short = cover::uncovered(&material.needs, &kept);
    let open: Vec<usize> = (0..short.len()).filter(|&place| short[place] > 0).collect();
    if open.is_empty() {
        return None;
    }
    let mut rest = material.clone();
    rest.shelf = material.shelf.as_ref().map(|shelf| shelf.beside(&kept));
    rest.needs = open.iter().map(|&place| cover::Need { quantity: short[place], ..material.needs[place] }).collect();
    rest.units = open.iter().map(|&place| material.units[place]).collect();
    rest.tail = candidates::tail(&rest.needs, &rest.units);
    rest.demand_from = vec![0; open.len() + 1];
    for (place, need) in rest.needs.iter().enumerate().rev() {
        rest.demand_from[place] = rest.demand_from[place + 1].saturating_add(need.quantity);
    }
    for (house, whole) in rest.houses.iter_mut().zip(&material.houses) {
        house.latest = open.iter().map(|&place| whole.latest[place]).collect();
    }
    Some(rest)
}
