//! Random workshops of any size with a fixed seed, as the core takes them: premixes, minimum lives, after-opening lives,
//! lots of differing cost, some in quarantine, free or past their day, open orders.

use super::support::workshop::Workshop;
use super::support::{Random, day, day_before};
use chrono::{Days, NaiveDate};
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::calendar::{OrderCalendar, Span};
use stillroom::plan::decimal::Decimal;
use stillroom::plan::explode::explode;
use stillroom::plan::model::{ItemId, LotState, Packaging, PlanAmount, PlanDay, ProductId, Snapshot};
use stillroom::plan::money::Price;
use stillroom::plan::outlook::natural_horizon;
use stillroom::plan::quantity::{Mass, Percent};

/// How large a workshop is.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    pub materials: usize,
    pub products: usize,
    pub entries: usize,
    /// Over so many days the plan is spread.
    pub days: u64,
    /// So many lots there are, of all materials together.
    pub lots: usize,
    /// Of a hundred materials, so many have an after-opening life.
    pub with_opening_life: u64,
}

impl Size {
    /// The large workshop: a year, 13,000 demands and 3,000 lots.
    pub const LARGE: Self =
        Self { materials: 400, products: 60, entries: 1_200, days: 364, lots: 3_000, with_opening_life: 2 };

    /// The workshop of a single material.
    pub fn one_material(entries: usize, lots: usize, days: u64) -> Self {
        Self { materials: 1, products: 8, entries, days, lots, with_opening_life: 0 }
    }
}

/// Makes the workshop with this seed. Its today is [`day`] 0.
pub fn workshop(seed: u64, size: Size) -> Snapshot {
    let mut maker = Maker { random: Random::new(seed), shop: Workshop::new(), size };
    let materials = maker.materials();
    let premixes = if size.materials > 20 { maker.premixes(&materials) } else { Vec::new() };
    let products = maker.products(&materials, &premixes);
    maker.plan(&products);
    maker.stock();
    maker.shop.snapshot
}

struct Maker {
    random: Random,
    shop: Workshop,
    size: Size,
}

impl Maker {
    fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[usize::try_from(self.random.between(0, from.len() as u64 - 1)).unwrap()]
    }

    /// So many different ones of these, or all.
    fn sample<T: Copy>(&mut self, from: &[T], count: usize) -> Vec<T> {
        let mut rest = from.to_vec();
        let draw = |_| {
            let place = usize::try_from(self.random.between(0, rest.len() as u64 - 1)).unwrap();
            rest.swap_remove(place)
        };
        (0..count.min(from.len())).map(draw).collect()
    }

    fn materials(&mut self) -> Vec<ItemId> {
        let mut materials = Vec::new();
        for number in 0..self.size.materials {
            let packaging = number % 5 == 4;
            let code = format!("{}{number:04}", if packaging { "box-" } else { "oil-" });
            let item = if packaging { self.shop.packaging(&code) } else { self.shop.material(&code) };
            if !packaging && self.random.percent(75) {
                let months = self.pick(&[6, 12, 18, 24]);
                self.shop.item(item).unopened_life = Some(Span { months, days: 0 });
            }
            if !packaging && self.random.percent(self.size.with_opening_life) {
                let days = self.pick(&[20, 30, 42, 60, 182, 365]);
                self.shop.item(item).opened_life = Some(Span { months: 0, days });
            }
            materials.push(item);
        }
        materials
    }

    /// Shares of a formula in hundredths of a percent, together 100 %.
    fn lines(&mut self, items: &[ItemId]) -> Vec<(ItemId, String)> {
        let mut left = 10_000;
        let mut lines = Vec::new();
        for (place, &item) in items.iter().enumerate() {
            let last = place + 1 == items.len();
            let share = if last { left } else { self.random.amount(1, left - (items.len() - place) as i64) };
            left -= share;
            lines.push((item, format!("{}.{:02}", share / 100, share % 100)));
        }
        lines
    }

    fn premixes(&mut self, materials: &[ItemId]) -> Vec<ItemId> {
        let raw: Vec<ItemId> = materials.iter().copied().filter(|item| item.index() % 5 != 4).collect();
        let mut premixes: Vec<ItemId> = Vec::new();
        for number in 0..15 {
            let mut items = self.sample(&raw, 3);
            if number > 0 && self.random.percent(60) {
                items.push(self.pick(&premixes));
            }
            let lines = self.lines(&items);
            let lines: Vec<(ItemId, &str)> = lines.iter().map(|(item, share)| (*item, share.as_str())).collect();
            let premix = self.shop.premix(&format!("premix-{number:02}"), &lines);
            let (ahead, loss) = (self.pick(&[0, 0, 1, 3, 14, 28]), self.pick(&["0", "2", "3.5", "12.5"]));
            self.shop.making(premix).make_ahead_days = ahead;
            self.shop.making(premix).loss = Percent::from_decimal(loss.parse::<Decimal>().unwrap()).unwrap();
            premixes.push(premix);
        }
        premixes
    }

    fn products(&mut self, materials: &[ItemId], premixes: &[ItemId]) -> Vec<ProductId> {
        let (boxes, raw): (Vec<ItemId>, Vec<ItemId>) = materials.iter().partition(|item| item.index() % 5 == 4);
        let mut products = Vec::new();
        for number in 0..self.size.products {
            let count = 3 + usize::try_from(self.random.between(0, 6)).unwrap();
            let mut items = self.sample(&raw, count);
            let nested = self.pick(&[0, 1, 1, 2]);
            items.extend(self.sample(premixes, nested));
            let lines = self.lines(&items);
            let lines: Vec<(ItemId, &str)> = lines.iter().map(|(item, share)| (*item, share.as_str())).collect();
            let product = self.shop.product(&format!("product-{number:03}"), &lines);
            let packed_in = self.sample(&boxes, 2);
            let (net, months) = (self.pick(&[25_000, 60_000, 95_000, 113_398]), self.pick(&[0, 0, 0, 1, 2, 3]));
            let facts = self.shop.facts(product);
            facts.net_mass = Some(Mass { mg: net });
            facts.minimum_life = (months > 0).then_some(Span { months, days: 0 });
            facts.loss = Percent { millionths: 2_500_000 };
            let pack = |item| Packaging { item, per_piece_millionths: 1_000_000, per_batch: 1 };
            facts.packaging = packed_in.into_iter().map(pack).collect();
            products.push(product);
        }
        products
    }

    fn plan(&mut self, products: &[ProductId]) {
        for _ in 0..self.size.entries {
            let product = self.pick(products);
            let amount = if self.random.percent(70) {
                PlanAmount::Pieces(self.random.amount(2, 60))
            } else {
                PlanAmount::NetMass(Mass { mg: self.random.amount(200_000, 6_000_000) })
            };
            let made_on = day(self.random.between(0, self.size.days));
            self.shop.plan(product, amount, PlanDay::MakeOn(made_on));
        }
    }

    /// Lots and open orders: of some materials none, of others too little, of most up to twice what the plan uses.
    fn stock(&mut self) {
        let snapshot = &self.shop.snapshot;
        let nothing = vec![Vec::new(); snapshot.items.len()];
        let horizon = natural_horizon(snapshot, day(0));
        let explosion = explode(snapshot, day(0), horizon, &nothing, SearchLimit::default());
        let used = |list: &Vec<_>| list.iter().map(|demand: &stillroom::plan::explode::Demand| demand.quantity.0).sum();
        let used: Vec<i64> = explosion.demands.iter().map(used).collect();
        let supplier = self.shop.supplier(OrderCalendar::default());
        for (place, &used) in used.iter().enumerate() {
            let item = ItemId::new(place);
            let whole = used.max(1_000) / 100 * self.pick(&[20, 60, 90, 110, 150, 200]);
            let mean = self.size.lots / self.size.materials;
            let count = if mean < 20 { self.random.between(1, 2 * mean as u64 - 1) as usize } else { mean };
            for _ in 0..count {
                self.lot(item, whole / count as i64);
            }
            for _ in 0..count / 8 + usize::from(self.random.percent(12)) {
                let expected = day(self.random.between(1, self.size.days));
                let (quantity, price) = (self.random.amount(1, whole / count as i64), self.random.amount(100, 9_000));
                let order = self.shop.order(supplier, item, quantity, expected);
                order.price = Price { minor: price };
                order.life_on_arrival = Some(Span { months: 6, days: 0 });
            }
        }
    }

    fn lot(&mut self, item: ItemId, mean: i64) {
        let quantity = self.random.amount(mean / 2, mean * 3 / 2).max(1);
        // About as much for the same, dearer and cheaper by half; now and then a free sample.
        let cost =
            if self.random.percent(5) { 0 } else { quantity.min(900_000_000) / 1_000 * self.random.amount(3, 9) };
        let received = day_before(self.random.between(2, 300));
        let lasts = self.shop.item(item).unopened_life.is_some() && self.random.percent(75);
        let best_before = match self.random.between(0, 99) {
            0..=3 => day_before(self.random.between(1, 40)),
            4..=70 => day(self.random.between(0, self.size.days * 3 / 2 + 40)),
            _ => day(self.random.between(200, 700)),
        };
        let state = match self.random.between(0, 99) {
            0..=4 => LotState::Quarantine,
            5..=6 => LotState::Rejected,
            _ => LotState::Released,
        };
        let opened = self.random.percent(25).then(|| received + Days::new(20)).filter(|opened| *opened < day(0));
        let lot = self.shop.lot(item, quantity);
        lot.cost = Price { minor: cost };
        lot.received = Some(received);
        lot.best_before = lasts.then_some(best_before);
        lot.state = state;
        lot.opened = opened;
    }
}

/// Today of every made workshop.
pub fn today() -> NaiveDate {
    day(0)
}
