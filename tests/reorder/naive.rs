//! The model worked out in the plainest way, apart from the program: is a plan allowed, and what does it cost?

use chrono::NaiveDate;
use stillroom::plan::model::{ItemId, Postage};
use stillroom::plan::reorder::{PlannedOrder, Problem, ReorderPlan};

/// Orders as (supplier's place, day, [(offer's place, packs)]).
pub type Orders = Vec<(usize, NaiveDate, Vec<(usize, i64)>)>;

/// The orders of a plan, by place.
pub fn orders_of(problem: &Problem, plan: &ReorderPlan) -> Orders {
    let supplier = |order: &PlannedOrder| {
        problem.suppliers.iter().position(|terms| terms.supplier == order.supplier).expect("a known supplier")
    };
    let offer = |id| problem.offers.iter().position(|pack| pack.offer == id).expect("a known offer");
    let lines = |order: &PlannedOrder| order.lines.iter().map(|line| (offer(line.offer), line.packs)).collect();
    plan.orders.iter().map(|order| (supplier(order), order.order_on, lines(order))).collect()
}

fn half_up(numerator: i128, denominator: i128) -> i128 {
    (2 * numerator + denominator).div_euclid(2 * denominator)
}

/// The price of a pack where so many are bought.
pub fn price(problem: &Problem, offer: usize, packs: i64) -> Option<i64> {
    let mut found = None;
    for (from, price) in &problem.offers[offer].breaks {
        if *from <= packs {
            found = Some(price.minor);
        }
    }
    found
}

/// Goods, postage, duty and the total in home money of one order; `None` where a rule of ordering is broken.
pub fn amounts(problem: &Problem, supplier: usize, lines: &[(usize, i64)]) -> Option<(i64, i64, i64, i64)> {
    let terms = &problem.suppliers[supplier];
    let mut goods = 0;
    let mut weight = 0;
    for &(offer, packs) in lines {
        if problem.offers[offer].most_packs.is_some_and(|most| packs > most) {
            return None;
        }
        goods += price(problem, offer, packs)? * packs;
        weight += problem.offers[offer].weight_mg * packs;
    }
    if goods < terms.minimum_order.minor {
        return None;
    }
    let mut postage = 0;
    match &terms.postage {
        Postage::Flat(fee) => postage = fee.minor,
        Postage::ByValue(bands) => {
            bands.iter().filter(|band| band.0.minor <= goods).for_each(|band| postage = band.1.minor);
        }
        Postage::ByWeight(bands) => {
            bands.iter().filter(|band| band.0.mg <= weight).for_each(|band| postage = band.1.minor);
        }
    }
    if terms.free_postage_from.is_some_and(|from| goods >= from.minor) {
        postage = 0;
    }
    let duty = half_up(i128::from(goods) * i128::from(terms.duty.millionths), 100_000_000);
    let duty = i64::try_from(duty).unwrap();
    let total = i128::from(goods + postage + duty);
    let home = i64::try_from(half_up(total * terms.to_home.0, terms.to_home.1)).unwrap();
    Some((goods, postage, duty, home))
}

/// Cost, and the exact credit and cost of keeping in home minor units as floats, or why the plan is not allowed.
///
/// The cover is a flow of least cost by augmenting along shortest paths (Bellman and Ford), one unit or one free stretch at a time:
/// nothing of the program's own cover is used.
pub fn value(problem: &Problem, orders: &Orders) -> Result<(i64, f64, f64), String> {
    let mut cost = 0;
    for (place, (supplier, order_on, lines)) in orders.iter().enumerate() {
        let terms = &problem.suppliers[*supplier];
        if *order_on < problem.start || !terms.calendar.takes_orders_on(*order_on) || lines.is_empty() {
            return Err(format!("no order day: {order_on}"));
        }
        if orders[..place].iter().any(|other| (other.0, other.1) == (*supplier, *order_on)) {
            return Err("two parcels of one supplier and day".to_owned());
        }
        if lines.iter().any(|line| problem.offers[line.0].supplier != *supplier || !useful(problem, line.0, *order_on))
        {
            return Err("a line that serves nothing".to_owned());
        }
        let Some((_, _, _, home)) = amounts(problem, *supplier, lines) else { return Err("amounts".to_owned()) };
        cost += home;
    }
    let (mut credit, mut keeping) = (0.0, 0.0);
    for terms in &problem.credits {
        let (worth, kept) = credit_of(problem, orders, terms)?;
        (credit, keeping) = (credit + worth, keeping + kept);
    }
    Ok((cost, credit, keeping))
}

/// What does not fit on the shelves counts as, day by day: whatever has come and was not needed before the day stands there.
pub fn crowding(problem: &Problem, orders: &Orders) -> i64 {
    let mut counted = 0;
    for room in &problem.rooms {
        for day in problem.start.iter_days().take_while(|day| *day <= problem.end) {
            let mut stands = 0;
            for (_, order_on, lines) in orders {
                let own = lines.iter().filter(|line| problem.offers[line.0].item == room.item);
                let came = own.filter(|line| through(problem, line.0, *order_on).0 <= day);
                stands += came.map(|&(offer, packs)| problem.offers[offer].quantity.0 * packs).sum::<i64>();
            }
            let own = problem.requirements.iter().filter(|own| own.item == room.item && own.day < day);
            stands -= own.map(|own| own.quantity.0).sum::<i64>();
            let fits = room.fits.iter().rev().find(|(from, _)| *from <= day).unwrap_or(&room.fits[0]).1.0;
            let fits = fits.max(has_to_be_there(problem, room.item, day, room.unit.0));
            if stands > fits {
                let steps = (stands - fits) as f64 / room.unit.0 as f64;
                counted += steps.ceil() as i64 * room.fine.minor;
            }
        }
    }
    counted
}

/// In whole units, what has to be there on a day: all whose latest delivery has come by then, and that is needed on the day or later.
fn has_to_be_there(problem: &Problem, item: ItemId, day: NaiveDate, unit: i64) -> i64 {
    let mut sum = 0;
    for need in problem.requirements.iter().filter(|own| own.item == item && own.day >= day) {
        let mut latest = None;
        for offer in (0..problem.offers.len()).filter(|offer| problem.offers[*offer].item == item) {
            let calendar = &problem.suppliers[problem.offers[offer].supplier].calendar;
            for order_on in problem.start.iter_days().take_while(|day| *day <= need.day) {
                let (arrival, last) = through(problem, offer, order_on);
                if calendar.takes_orders_on(order_on) && arrival <= need.day && need.through <= last {
                    latest = latest.max(Some(arrival));
                }
            }
        }
        if latest.is_some_and(|latest| latest <= day) {
            sum += need.quantity.0;
        }
    }
    (sum + unit - 1) / unit * unit
}

fn through(problem: &Problem, offer: usize, order_on: NaiveDate) -> (NaiveDate, NaiveDate) {
    let pack = &problem.offers[offer];
    let arrival = problem.suppliers[pack.supplier].calendar.arrival(order_on);
    (arrival, pack.life_on_arrival.map_or(NaiveDate::MAX, |life| life.after(arrival)))
}

fn useful(problem: &Problem, offer: usize, order_on: NaiveDate) -> bool {
    let (arrival, last) = through(problem, offer, order_on);
    let item = problem.offers[offer].item;
    problem.requirements.iter().any(|own| own.item == item && arrival <= own.day && own.through <= last)
}

/// What the left-over of one item is worth where it is shared out as well as can be, and what keeping it costs where of
/// all such ways the last arrived is taken first.
fn credit_of(
    problem: &Problem,
    orders: &Orders,
    terms: &stillroom::plan::reorder::Credit,
) -> Result<(f64, f64), String> {
    let mut supply = Vec::new();
    for (_, order_on, lines) in orders {
        for &(offer, packs) in lines.iter().filter(|line| problem.offers[line.0].item == terms.item) {
            let (arrival, last) = through(problem, offer, *order_on);
            supply.push((arrival, last, problem.offers[offer].quantity.0 * packs));
        }
    }
    let needs: Vec<_> = problem.requirements.iter().filter(|own| own.item == terms.item).collect();
    let days = (problem.end - problem.start).num_days() + 1;
    let cap = |last: NaiveDate| {
        let beyond = (last - problem.end).num_days().clamp(0, i64::from(terms.window_days));
        terms.gross.0 as f64 * beyond as f64 / days as f64
    };
    let mut flow = vec![vec![0_i64; needs.len()]; supply.len()];
    for need in 0..needs.len() {
        while flow.iter().map(|row| row[need]).sum::<i64>() < needs[need].quantity.0 {
            if !augment(&supply, &needs, &mut flow, need, (&cap, terms.holding.0 > 0)) {
                return Err(format!("requirement of {} is not covered", needs[need].day));
            }
        }
    }
    let left = |line: usize| supply[line].2 - flow[line].iter().sum::<i64>();
    let lines: f64 = (0..supply.len()).map(|line| (left(line) as f64).min(cap(supply[line].1))).sum();
    let most = terms.gross.0 as f64 * f64::from(terms.window_days) / days as f64;
    let unit = terms.worth.millionths as f64 / 1e8 * (terms.unit_price.0 as f64 / terms.unit_price.1 as f64);
    let mut keeping = 0.0;
    for (line, row) in flow.iter().enumerate() {
        for (need, &amount) in needs.iter().zip(row) {
            keeping += (amount * (need.day - supply[line].0).num_days()) as f64;
        }
    }
    keeping *= terms.holding.0 as f64 / terms.holding.1 as f64;
    let left_over: i64 = (0..supply.len()).map(left).sum();
    let disposal = (left_over as f64 - lines.min(most)) * terms.disposal.0 as f64 / terms.disposal.1 as f64;
    Ok((lines.min(most) * unit, keeping + disposal))
}

/// One more stretch of flow to a need along the path that costs the least credit.
fn augment(
    supply: &[(NaiveDate, NaiveDate, i64)],
    needs: &[&stillroom::plan::reorder::Requirement],
    flow: &mut [Vec<i64>],
    need: usize,
    (cap, holds): (&impl Fn(NaiveDate) -> f64, bool),
) -> bool {
    let serves = |line: usize, need: usize| supply[line].0 <= needs[need].day && needs[need].through <= supply[line].1;
    let left: Vec<i64> = (0..supply.len()).map(|line| supply[line].2 - flow[line].iter().sum::<i64>()).collect();
    // The credit lost by taking one more unit from a line, and how many units cost that much.
    let price = |line: usize| -> (f64, i64) {
        let cap = cap(supply[line].1).min(supply[line].2 as f64);
        let spare = left[line] - cap.ceil() as i64;
        if spare > 0 {
            (0.0, spare)
        } else if left[line] as f64 > cap {
            (cap - (left[line] - 1) as f64, 1)
        } else {
            (1.0, left[line])
        }
    };
    // Of equal prices the line that arrived last; the share of a day is smaller than any difference of prices.
    let last = supply.iter().map(|line| line.0).max().unwrap_or_default();
    let early = |line: usize| if holds { (last - supply[line].0).num_days() as f64 * 1e-7 } else { 0.0 };
    let mut distance: Vec<f64> = (0..supply.len())
        .map(|line| if left[line] > 0 { price(line).0 + early(line) } else { f64::INFINITY })
        .collect();
    let mut from: Vec<Option<(usize, usize)>> = vec![None; supply.len()];
    // Reaching a line through another: the other serves a need in its place.
    for _ in 0..supply.len() {
        for giver in 0..supply.len() {
            for (other, _) in needs.iter().enumerate() {
                if distance[giver].is_finite() && serves(giver, other) {
                    for freed in 0..supply.len() {
                        if flow[freed][other] > 0 && distance[giver] + 1e-9 < distance[freed] {
                            distance[freed] = distance[giver];
                            from[freed] = Some((giver, other));
                        }
                    }
                }
            }
        }
    }
    let open = needs[need].quantity.0 - flow.iter().map(|row| row[need]).sum::<i64>();
    let able = (0..supply.len()).filter(|&line| serves(line, need) && distance[line].is_finite());
    let Some(last) = able.min_by(|&one, &other| distance[one].total_cmp(&distance[other])) else { return false };
    let (mut line, mut amount) = (last, open);
    while let Some((giver, other)) = from[line] {
        amount = amount.min(flow[line][other]);
        line = giver;
    }
    amount = amount.min(price(line).1);
    flow[last][need] += amount;
    let mut line = last;
    while let Some((giver, other)) = from[line] {
        flow[line][other] -= amount;
        flow[giver][other] += amount;
        line = giver;
    }
    true
}

/// Everything that a plan promises, checked against the problem; returns the objective.
pub fn check(problem: &Problem, plan: &ReorderPlan) -> Result<i64, String> {
    let orders = orders_of(problem, plan);
    let (cost, credit, keeping) = value(problem, &orders)?;
    let same = |what: &str, one: i64, other: i64| {
        if one == other { Ok(()) } else { Err(format!("{what}: {one} is not {other}")) }
    };
    same("cost", plan.cost.minor, cost)?;
    if (plan.credit.minor as f64 - credit).abs() > 0.5 + 1e-6 {
        return Err(format!("credit: {} is not {credit}", plan.credit.minor));
    }
    if (plan.keeping.minor as f64 - keeping).abs() > 0.5 + 1e-6 {
        return Err(format!("keeping: {} is not {keeping}", plan.keeping.minor));
    }
    same("objective", plan.objective.minor, plan.cost.minor + plan.keeping.minor - plan.credit.minor)?;
    let mut covered = vec![0; problem.requirements.len()];
    for (order, (supplier, order_on, lines)) in plan.orders.iter().zip(&orders) {
        let (goods, postage, duty, home) = amounts(problem, *supplier, lines).ok_or("amounts")?;
        same("goods", order.goods.minor, goods)?;
        same("postage", order.postage.minor, postage)?;
        same("duty", order.duty.minor, duty)?;
        same("total", order.total.minor, goods + postage + duty)?;
        same("home", order.total_home.minor, home)?;
        for (line, (offer, packs)) in order.lines.iter().zip(lines) {
            let (arrival, last) = through(problem, *offer, *order_on);
            let mut left = problem.offers[*offer].quantity.0 * packs;
            same("amount", line.quantity.0, left)?;
            for (place, amount) in &line.covers {
                let own = &problem.requirements[*place];
                if own.item != line.item || arrival > own.day || own.through > last || amount.0 <= 0 {
                    return Err("a cover that cannot be".to_owned());
                }
                covered[*place] += amount.0;
                left -= amount.0;
            }
            same("left over", line.left_over.0, left)?;
            if left < 0 {
                return Err("more covered than bought".to_owned());
            }
        }
    }
    for (own, covered) in problem.requirements.iter().zip(covered) {
        same("covered", covered, own.quantity.0)?;
    }
    // The simple way minds no shelf.
    let is_dearer = plan.objective > plan.simple_objective && problem.rooms.is_empty();
    if is_dearer || plan.lower_bound > plan.objective {
        return Err(format!("{:?} {:?} {:?}", plan.lower_bound, plan.objective, plan.simple_objective));
    }
    Ok(plan.objective.minor)
}
