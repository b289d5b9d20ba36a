//! Small random workshops in which something is at risk.

use super::support::workshop::{Workshop, percent};
use super::support::{Random, day};
use stillroom::plan::calendar::{OrderCalendar, Span};
use stillroom::plan::model::{ItemId, PlanAmount, PlanDay, ProductId, Snapshot};
use stillroom::plan::money::Price;
use stillroom::plan::quantity::Mass;

/// What may be in a random workshop.
#[derive(Clone, Copy)]
pub struct Parts {
    pub days: u64,
    pub premix: bool,
    pub opening_lives: bool,
}

fn lots(workshop: &mut Workshop, random: &mut Random, item: ItemId, parts: Parts) {
    for _ in 0..random.between(0, 3) {
        let quantity = random.amount(1, 120);
        let cost = if random.percent(15) { 0 } else { random.amount(1, 900) };
        let ends = if random.percent(60) { Some(day(random.between(0, parts.days))) } else { None };
        let lot = workshop.lot(item, quantity);
        lot.cost = Price { minor: cost };
        lot.best_before = ends.or(random.percent(40).then(|| day(parts.days + random.between(1, 9))));
    }
}

/// Three materials, perhaps a premix, two products counted in pieces, offers of most materials, a few plan entries.
pub fn random_workshop(random: &mut Random, parts: Parts) -> Snapshot {
    let mut workshop = Workshop::new();
    let mut items: Vec<ItemId> = ["clay", "oil", "wax"].map(|code| workshop.material(code)).to_vec();
    for item in items.clone() {
        lots(&mut workshop, random, item, parts);
        if parts.opening_lives && random.percent(50) {
            let days = u32::try_from(random.between(1, parts.days)).unwrap();
            workshop.item(item).opened_life = Some(Span { months: 0, days });
        }
    }
    if parts.premix {
        let premix = workshop.premix("blend", &[(items[1], "63.3"), (items[2], "36.7")]);
        workshop.making(premix).make_ahead_days = u32::try_from(random.between(0, 2)).unwrap();
        workshop.making(premix).loss = percent(["0", "1", "12.5"][usize::try_from(random.between(0, 2)).unwrap()]);
        lots(&mut workshop, random, premix, parts);
        items.push(premix);
    }
    for _ in 0..random.between(0, 2) {
        let lead_time_days = u32::try_from(random.between(1, 3)).unwrap();
        let supplier = workshop.supplier(OrderCalendar { lead_time_days, ..OrderCalendar::default() });
        for item in &items[..3] {
            if random.percent(70) {
                let life = random.percent(30).then_some(Span { months: 0, days: 4 });
                let (pack, price) = (random.amount(10, 90), random.amount(1, 400));
                workshop.offer(supplier, *item, pack, price).life_on_arrival = life;
            }
        }
    }
    for code in ["balm", "soap"] {
        let first = items[usize::try_from(random.between(0, items.len() as u64 - 1)).unwrap()];
        let second = items[usize::try_from(random.between(0, items.len() as u64 - 1)).unwrap()];
        let product = workshop.product(code, &[(first, "41.7"), (second, "58.3")]);
        workshop.facts(product).net_mass = Some(Mass { mg: random.amount(3, 40) });
        let days = u32::try_from(random.between(0, 3)).unwrap();
        workshop.facts(product).minimum_life = random.percent(40).then_some(Span { months: 0, days });
        for _ in 0..random.between(1, 2) {
            plan(&mut workshop, random, product, parts);
        }
    }
    workshop.snapshot
}

fn plan(workshop: &mut Workshop, random: &mut Random, product: ProductId, parts: Parts) {
    let pieces = PlanAmount::Pieces(random.amount(1, 3));
    workshop.plan(product, pieces, PlanDay::MakeOn(day(random.between(0, parts.days))));
}
