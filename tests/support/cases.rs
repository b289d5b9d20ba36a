//! Random questions to the allocation: supplies, dated needs and a horizon.

use super::{Random, day, day_before};
use chrono::{Days, NaiveDate};
use stillroom::plan::allocate::{Need, Supply};
use stillroom::plan::calendar::Span;
use stillroom::plan::money::Money;
use stillroom::plan::quantity::Quantity;

/// One question to the allocation.
#[derive(Clone, Debug)]
pub struct Case {
    pub supplies: Vec<Supply>,
    pub needs: Vec<Need>,
    pub horizon: NaiveDate,
}

/// How large random cases are.
#[derive(Clone, Copy)]
pub struct Sizes {
    pub supplies: u64,
    pub needs: u64,
    pub most: i64,
    pub days: u64,
    /// Of a hundred supplies, so many have an after-opening life.
    pub with_opening_life: u64,
}

/// A supply without an after-opening life.
pub fn supply(from: NaiveDate, through: NaiveDate, quantity: i64, value_minor: i64) -> Supply {
    let value = Money { minor: value_minor };
    Supply { from, through, quantity: Quantity(quantity), value, life_once_opened: None }
}

/// A dated demand.
pub fn need(day: NaiveDate, through: NaiveDate, quantity: i64) -> Need {
    Need { day, through, quantity: Quantity(quantity) }
}

/// A case of at most these sizes, its needs in order of day.
pub fn random_case(random: &mut Random, sizes: Sizes) -> Case {
    let supplies = (0..random.between(1, sizes.supplies)).map(|_| random_supply(random, sizes)).collect();
    let mut needs: Vec<Need> = (0..random.between(1, sizes.needs)).map(|_| random_need(random, sizes)).collect();
    needs.sort_by_key(|need| need.day);
    Case { supplies, needs, horizon: day(random.between(sizes.days / 2, sizes.days)) }
}

fn random_supply(random: &mut Random, sizes: Sizes) -> Supply {
    let from = if random.percent(60) { day(0) } else { day(random.between(1, sizes.days)) };
    let through = match random.between(0, 9) {
        0 => NaiveDate::MAX,
        // What ended before today; nothing that still has to come ends before it comes.
        1 if from == day(0) => day_before(random.between(1, 3)),
        _ => from + Days::new(random.between(0, sizes.days)),
    };
    let quantity = if random.percent(4) { 0 } else { random.amount(1, sizes.most) };
    // Free samples, equal unit prices and odd ones.
    let value = match random.between(0, 3) {
        0 => 0,
        1 => 7 * quantity,
        _ => random.amount(0, 500),
    };
    let life = random.percent(sizes.with_opening_life);
    let days = u32::try_from(random.between(0, sizes.days)).unwrap();
    Supply { life_once_opened: life.then_some(Span { months: 0, days }), ..supply(from, through, quantity, value) }
}

fn random_need(random: &mut Random, sizes: Sizes) -> Need {
    let needed = random.between(0, sizes.days);
    let lasting = if random.percent(50) { 0 } else { random.between(0, sizes.days / 2) };
    let quantity = if random.percent(4) { 0 } else { random.amount(1, sizes.most) };
    need(day(needed), day(needed + lasting), quantity)
}
