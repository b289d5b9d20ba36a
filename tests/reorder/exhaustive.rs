//! The least objective, shelves that are too full counted in, by trying every order day and every number of packs.

use super::naive::{self, Orders, amounts};
use chrono::NaiveDate;
use std::collections::BTreeMap;
use stillroom::plan::model::Postage;
use stillroom::plan::reorder::Problem;

/// So many plans are tried at the most; problems with more are left out.
const MOST: f64 = 60_000.0;

/// The least objective, or `None` where there is too much to try.
///
/// Every order day from start to end is a possible one: the rule that late days are enough is not used. For days of one supplier between which no
/// requirement's fate changes (same lines can serve the same requirements) only the latest is tried, since life ends later then.
pub fn optimum(problem: &Problem) -> Option<i64> {
    let choices = choices(problem);
    let plans: f64 = choices.iter().map(|choice| choice.2 as f64 + 1.0).product();
    if plans > MOST {
        return None;
    }
    let mut packs = vec![0_i64; choices.len()];
    let mut best: Option<i64> = None;
    loop {
        if let Some(objective) = objective(problem, &choices, &packs, best) {
            best = Some(best.map_or(objective, |best| best.min(objective)));
        }
        let Some(place) = (0..packs.len()).find(|&place| packs[place] < choices[place].2) else { break };
        packs[place] += 1;
        packs[..place].iter_mut().for_each(|packs| *packs = 0);
    }
    best
}

/// Offers, order days and the most packs that can be worth buying.
fn choices(problem: &Problem) -> Vec<(usize, NaiveDate, i64)> {
    let mut found = Vec::new();
    for (supplier, terms) in problem.suppliers.iter().enumerate() {
        let mut last_served: Option<Vec<usize>> = None;
        let mut days: Vec<NaiveDate> = problem.start.iter_days().take_while(|day| *day <= problem.end).collect();
        days.reverse();
        for day in days.into_iter().filter(|day| terms.calendar.takes_orders_on(*day)) {
            let arrival = terms.calendar.arrival(day);
            let in_time: Vec<usize> =
                (0..problem.requirements.len()).filter(|&place| arrival <= problem.requirements[place].day).collect();
            if last_served.as_ref() == Some(&in_time) || in_time.is_empty() {
                continue;
            }
            for (offer, pack) in problem.offers.iter().enumerate().filter(|(_, pack)| pack.supplier == supplier) {
                let last = pack.life_on_arrival.map_or(NaiveDate::MAX, |life| life.after(arrival));
                let own = in_time.iter().map(|&place| &problem.requirements[place]);
                if own.clone().any(|own| own.item == pack.item && own.through <= last) {
                    found.push((offer, day, most_packs(problem, offer)));
                }
            }
            last_served = Some(in_time);
        }
    }
    found
}

/// Enough for all requirements and all credit, for the highest break, and for the minimum order and free postage.
fn most_packs(problem: &Problem, offer: usize) -> i64 {
    let pack = &problem.offers[offer];
    let terms = &problem.suppliers[pack.supplier];
    let credit = problem.credits.iter().find(|credit| credit.item == pack.item).unwrap();
    let days = (problem.end - problem.start).num_days() + 1;
    let required: i64 = problem.requirements.iter().filter(|own| own.item == pack.item).map(|own| own.quantity.0).sum();
    let credited = credit.gross.0 * i64::from(credit.window_days) / days + 1;
    let lowest = pack.breaks.iter().map(|entry| entry.1.minor).min().unwrap();
    let band = match &terms.postage {
        Postage::ByValue(bands) => bands.last().unwrap().0.minor,
        _ => 0,
    };
    let goal = terms.minimum_order.max(terms.free_postage_from.unwrap_or_default()).minor.max(band);
    let useful = (required + if credit.worth.millionths > 0 { credited } else { 0 }) / pack.quantity.0 + 1;
    let most = useful.max(pack.breaks.last().unwrap().0).max(goal / lowest + 1);
    pack.most_packs.map_or(most, |cap| most.min(cap))
}

/// The objective of one choice, or `None` where it is not allowed or cannot beat the best.
fn objective(problem: &Problem, choices: &[(usize, NaiveDate, i64)], packs: &[i64], best: Option<i64>) -> Option<i64> {
    for credit in &problem.credits {
        let own = problem.requirements.iter().filter(|own| own.item == credit.item).map(|own| own.quantity.0);
        let bought = choices.iter().zip(packs).filter(|(choice, _)| problem.offers[choice.0].item == credit.item);
        if bought.map(|(choice, packs)| problem.offers[choice.0].quantity.0 * packs).sum::<i64>() < own.sum() {
            return None;
        }
    }
    let mut by_order: BTreeMap<(usize, NaiveDate), Vec<(usize, i64)>> = BTreeMap::new();
    for (&(offer, day, _), &packs) in choices.iter().zip(packs).filter(|(_, packs)| **packs > 0) {
        by_order.entry((problem.offers[offer].supplier, day)).or_default().push((offer, packs));
    }
    let mut cost = 0;
    for ((supplier, _), lines) in &by_order {
        cost += amounts(problem, *supplier, lines)?.3;
    }
    let most: f64 = problem
        .credits
        .iter()
        .map(|credit| {
            let days = (problem.end - problem.start).num_days() + 1;
            let units = credit.gross.0 as f64 * f64::from(credit.window_days) / days as f64;
            units * credit.worth.millionths as f64 / 1e8 * credit.unit_price.0 as f64 / credit.unit_price.1 as f64
        })
        .sum();
    if best.is_some_and(|best| cost as f64 - most - 1.0 > best as f64) {
        return None;
    }
    let orders: Orders = by_order.into_iter().map(|((supplier, day), lines)| (supplier, day, lines)).collect();
    let (cost, credit, keeping) = naive::value(problem, &orders).ok()?;
    let whole = |amount: f64| (amount + 0.5 + 1e-9).floor() as i64;
    Some(cost + whole(keeping) - whole(credit) + naive::crowding(problem, &orders))
}
