//! Random purchasing problems with a fixed seed: tiny ones for exhaustive search, and whole workshops.

use chrono::{Days, NaiveDate, Weekday};
use std::collections::BTreeMap;
use stillroom::plan::calendar::{ClosedPeriod, OrderCalendar, Span, Weekdays};
use stillroom::plan::model::{ItemId, OfferId, Postage, SupplierId};
use stillroom::plan::money::{Currency, Price, Rate};
use stillroom::plan::quantity::{Mass, Percent, Quantity};
use stillroom::plan::reorder::evaluate::usable_through;
use stillroom::plan::reorder::{Credit, Pack, Problem, Requirement, Terms};

/// A generator of numbers with a fixed seed (SplitMix64; constants from memory).
pub struct Dice(pub u64);

impl Dice {
    /// A number from 0 up to below `sides`.
    pub fn below(&mut self, sides: i64) -> i64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^= mixed >> 31;
        i64::try_from(mixed % u64::try_from(sides).unwrap()).unwrap()
    }

    /// A number from `least` to `most`, both counted.
    pub fn between(&mut self, least: i64, most: i64) -> i64 {
        least + self.below(most - least + 1)
    }

    /// True so many times out of a hundred.
    pub fn percent(&mut self, chance: i64) -> bool {
        self.below(100) < chance
    }

    /// One of these.
    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[usize::try_from(self.below(i64::try_from(from.len()).unwrap())).unwrap()]
    }
}

/// A day so long after the start of all made problems, a Monday.
pub fn day(offset: i64) -> NaiveDate {
    let start = NaiveDate::from_ymd_opt(2027, 3, 1).unwrap();
    start.checked_add_days(Days::new(u64::try_from(offset).unwrap())).unwrap()
}

/// Terms of a supplier who sends for nothing, takes orders every day and wants no minimum.
pub fn plain_terms(supplier: usize) -> Terms {
    Terms {
        supplier: SupplierId::new(supplier),
        currency: Currency::EUR,
        to_home: (1, 1),
        calendar: OrderCalendar::default(),
        minimum_order: Price::ZERO,
        postage: Postage::Flat(Price::ZERO),
        free_postage_from: None,
        duty: Percent::ZERO,
    }
}

/// An offer at one price.
pub fn plain_pack(offer: usize, supplier: usize, item: usize, quantity: i64, price: i64) -> Pack {
    Pack {
        offer: OfferId::new(offer),
        supplier,
        item: ItemId::new(item),
        quantity: Quantity(quantity),
        weight_mg: quantity,
        breaks: vec![(1, Price { minor: price })],
        life_on_arrival: None,
        most_packs: None,
    }
}

/// Sets the credits from the gross requirements, moves requirements to where they can be served, and drops those that cannot.
pub fn finish(problem: &mut Problem, gross: &BTreeMap<ItemId, i64>, window_days: u32, worth: Percent) {
    let requirements = std::mem::take(&mut problem.requirements);
    let mut merged: BTreeMap<(ItemId, NaiveDate, NaiveDate), i64> = BTreeMap::new();
    for requirement in requirements {
        let own = problem.offers.iter().filter(|pack| pack.item == requirement.item);
        let soonest = own.filter_map(|pack| {
            let calendar = &problem.suppliers[pack.supplier].calendar;
            let arrival = calendar.arrival(calendar.next_order_day(problem.start)?);
            let day = requirement.day.max(arrival);
            let latest = calendar.arrival(calendar.latest_order_day(day)?);
            let last = usable_through(pack, latest).unwrap_or(NaiveDate::MAX);
            (last >= requirement.through.max(day)).then_some(day)
        });
        if let Some(day) = soonest.min() {
            *merged.entry((requirement.item, day, requirement.through.max(day))).or_default() += requirement.quantity.0;
        }
    }
    problem.requirements = merged
        .into_iter()
        .map(|((item, day, through), quantity)| Requirement { item, day, through, quantity: Quantity(quantity) })
        .collect();
    let mut items: Vec<ItemId> = problem.requirements.iter().map(|requirement| requirement.item).collect();
    items.dedup();
    problem.offers.retain(|pack| items.contains(&pack.item));
    problem.credits = items.iter().map(|&item| credit(problem, item, gross, window_days, worth)).collect();
}

/// The credit of an item, with the lowest landed price at the first break.
fn credit(problem: &Problem, item: ItemId, gross: &BTreeMap<ItemId, i64>, window_days: u32, worth: Percent) -> Credit {
    let landed = |pack: &Pack| {
        let terms = &problem.suppliers[pack.supplier];
        let hundred = i128::from(Percent::HUNDRED.millionths);
        let numerator =
            i128::from(pack.breaks[0].1.minor) * terms.to_home.0 * (hundred + i128::from(terms.duty.millionths));
        reduced(numerator, i128::from(pack.quantity.0) * terms.to_home.1 * hundred)
    };
    let own = problem.offers.iter().filter(|pack| pack.item == item).map(landed);
    let unit_price = own.min_by(|one, other| (one.0 * other.1).cmp(&(other.0 * one.1))).unwrap();
    let required: i64 = problem.requirements.iter().filter(|own| own.item == item).map(|own| own.quantity.0).sum();
    let gross = Quantity(gross.get(&item).copied().unwrap_or(0).max(required));
    Credit { item, gross, window_days, worth, unit_price, holding: (0, 1), disposal: (0, 1) }
}

fn reduced(numerator: i128, denominator: i128) -> (i128, i128) {
    let (mut one, mut other) = (numerator, denominator);
    while other != 0 {
        (one, other) = (other, one % other);
    }
    (numerator / one.max(1), denominator / one.max(1))
}

/// A tiny problem: 1 to 3 items, 1 to 3 suppliers, few requirements, small packs, every rule now and then.
pub fn tiny(seed: u64) -> Problem {
    let mut dice = Dice(seed);
    let items = dice.between(1, 3);
    let suppliers: Vec<Terms> =
        (0..dice.between(1, 3)).map(|place| tiny_terms(&mut dice, usize::try_from(place).unwrap())).collect();
    let mut offers = Vec::new();
    for item in 0..items {
        for supplier in 0..suppliers.len() {
            for _ in 0..dice.between(0, 2).max(i64::from(supplier == 0)) {
                let quantity = dice.pick(&[1, 2, 3, 5, 8]);
                let item = usize::try_from(item).unwrap();
                let mut pack = plain_pack(offers.len(), supplier, item, quantity, 40 * quantity + dice.below(90));
                if dice.percent(30) {
                    pack.breaks.push((dice.between(2, 3), Price { minor: pack.breaks[0].1.minor * 8 / 10 }));
                }
                if dice.percent(10) {
                    pack.breaks.remove(0);
                    if pack.breaks.is_empty() {
                        pack.breaks.push((2, Price { minor: 35 * quantity }));
                    }
                }
                if dice.percent(50) {
                    pack.life_on_arrival = Some(Span { months: 0, days: u32::try_from(dice.between(3, 20)).unwrap() });
                }
                pack.weight_mg = quantity * dice.between(0, 2);
                offers.push(pack);
            }
        }
    }
    let mut problem = Problem {
        start: day(0),
        end: day(14),
        home: Currency::EUR,
        requirements: Vec::new(),
        suppliers,
        offers,
        credits: Vec::new(),
        rooms: Vec::new(),
    };
    let mut gross = BTreeMap::new();
    for item in 0..items {
        let item = ItemId::new(usize::try_from(item).unwrap());
        for _ in 0..dice.between(1, if items == 1 { 3 } else { 2 }) {
            let needed = dice.between(1, 13);
            let through = needed + if dice.percent(40) { dice.below(8) } else { 0 };
            let quantity = Quantity(dice.between(1, 5));
            problem.requirements.push(Requirement { item, day: day(needed), through: day(through), quantity });
            *gross.entry(item).or_default() += quantity.0 + dice.below(4);
        }
    }
    let worth = Percent { millionths: dice.pick(&[0, 50_000_000, 50_000_000, 90_000_000]) };
    finish(&mut problem, &gross, u32::try_from(dice.pick(&[0, 7, 30])).unwrap(), worth);
    problem
}

fn tiny_terms(dice: &mut Dice, supplier: usize) -> Terms {
    let mut terms = plain_terms(supplier);
    terms.calendar.lead_time_days = u32::try_from(dice.below(5)).unwrap();
    if dice.percent(40) {
        terms.calendar.weekdays = Weekdays::default().with(Weekday::Mon).with(Weekday::Thu);
    }
    if dice.percent(20) {
        terms.calendar.closed.push(ClosedPeriod { from: day(3), to: day(6) });
    }
    if dice.percent(30) {
        terms.currency = Currency::from_code("GBP").unwrap();
        terms.to_home = Rate { billionths: 1_163_700_000 }.ratio(terms.currency, Currency::EUR);
        terms.duty = Percent { millionths: 6_500_000 };
    }
    let fee = dice.pick(&[0, 150, 300, 590]);
    terms.postage = match dice.below(4) {
        0 => Postage::ByValue(vec![
            (Price::ZERO, Price { minor: fee }),
            (Price { minor: 400 }, Price { minor: fee / 2 }),
        ]),
        1 => {
            Postage::ByWeight(vec![(Mass { mg: 0 }, Price { minor: fee / 2 }), (Mass { mg: 6 }, Price { minor: fee })])
        }
        _ => Postage::Flat(Price { minor: fee }),
    };
    if dice.percent(40) {
        terms.free_postage_from = Some(Price { minor: dice.between(400, 1200) });
    }
    if dice.percent(30) {
        terms.minimum_order = Price { minor: dice.between(200, 800) };
    }
    terms
}

/// The size of a made workshop.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    /// Materials.
    pub materials: i64,
    /// Plan entries.
    pub entries: i64,
    /// Days of plan.
    pub days: i64,
    /// Suppliers.
    pub suppliers: i64,
}

/// A workshop: materials of very different use, sold by several suppliers each, a plan of entries that share them.
pub fn workshop(seed: u64, size: Size) -> Problem {
    let mut dice = Dice(seed);
    let currencies: Vec<(&str, i64)> = vec![
        ("EUR", 1_000_000_000),
        ("GBP", 1_163_700_000),
        ("USD", 921_300_000),
        ("CHF", 1_052_100_000),
        ("JPY", 6_150_000),
    ];
    let kinds = usize::try_from(dice.between(3, 5)).unwrap();
    let suppliers: Vec<Terms> = (0..size.suppliers)
        .map(|place| {
            let currency = if place < 2 { currencies[0] } else { dice.pick(&currencies[..kinds]) };
            shop(&mut dice, usize::try_from(place).unwrap(), currency)
        })
        .collect();
    let mut offers = Vec::new();
    for item in 0..size.materials {
        assortment(&mut dice, usize::try_from(item).unwrap(), &suppliers, &mut offers);
    }
    let mut problem = Problem {
        start: day(0),
        end: day(size.days),
        home: Currency::EUR,
        requirements: Vec::new(),
        suppliers,
        offers,
        credits: Vec::new(),
        rooms: Vec::new(),
    };
    let gross = plan(&mut dice, size, &mut problem);
    finish(&mut problem, &gross, 60, Percent { millionths: 50_000_000 });
    problem
}

fn shop(dice: &mut Dice, supplier: usize, (code, billionths): (&str, i64)) -> Terms {
    let mut terms = plain_terms(supplier);
    terms.currency = Currency::from_code(code).unwrap();
    terms.to_home = Rate { billionths }.ratio(terms.currency, Currency::EUR);
    let euro = |cents: i64| Price { minor: if code == "JPY" { cents * 160 / 100 } else { cents } };
    terms.calendar.lead_time_days = u32::try_from(dice.pick(&[2, 3, 4, 5, 7, 10, 14, 21])).unwrap();
    if dice.percent(50) {
        let days = [Weekday::Mon, Weekday::Tue, Weekday::Wed, Weekday::Thu, Weekday::Fri];
        terms.calendar.weekdays = Weekdays::default().with(dice.pick(&days)).with(dice.pick(&days));
    }
    if dice.percent(25) {
        let from = dice.between(5, 40);
        terms.calendar.closed.push(ClosedPeriod { from: day(from), to: day(from + dice.between(3, 14)) });
    }
    if code != "EUR" {
        terms.duty = Percent { millionths: dice.pick(&[0, 2_500_000, 4_700_000, 6_500_000]) };
    }
    let fee = dice.between(390, 1_490);
    terms.postage = match dice.below(6) {
        0 | 1 => Postage::ByWeight(vec![
            (Mass { mg: 0 }, euro(fee)),
            (Mass { mg: 2_000_000 }, euro(fee * 14 / 10)),
            (Mass { mg: 5_000_000 }, euro(fee * 2)),
            (Mass { mg: 10_000_000 }, euro(fee * 3)),
        ]),
        2 => Postage::ByValue(vec![
            (Price::ZERO, euro(fee)),
            (euro(5_000), euro(fee * 7 / 10)),
            (euro(10_000), euro(fee * 4 / 10)),
        ]),
        _ => Postage::Flat(euro(fee)),
    };
    if dice.percent(50) {
        terms.free_postage_from = Some(euro(dice.pick(&[4_900, 6_000, 7_500, 10_000, 15_000])));
    }
    if dice.percent(50) {
        terms.minimum_order = euro(dice.pick(&[1_500, 2_500, 4_000, 5_000]));
    }
    terms
}

fn assortment(dice: &mut Dice, item: usize, suppliers: &[Terms], offers: &mut Vec<Pack>) {
    let per_kilogram = dice.pick(&[450, 700, 900, 1_300, 1_900, 2_800, 4_500, 9_000, 24_000]);
    let big = per_kilogram < 3_000;
    let life = if dice.percent(75) { dice.pick(&[6, 9, 12, 18, 24, 36]) } else { 0 };
    let mut sellers: Vec<usize> = (0..suppliers.len()).collect();
    let count = dice.between(2, 5).min(i64::try_from(sellers.len()).unwrap());
    for _ in 0..count {
        let supplier = sellers.remove(usize::try_from(dice.below(i64::try_from(sellers.len()).unwrap())).unwrap());
        let terms = &suppliers[supplier];
        let level = dice.between(80, 125);
        let sizes: &[i64] =
            if big { &[100, 250, 500, 1_000, 5_000, 10_000] } else { &[10, 25, 50, 100, 250, 500, 1_000] };
        let first = usize::try_from(dice.below(3)).unwrap();
        for &grams in sizes.iter().skip(first).take(usize::try_from(dice.between(1, 3)).unwrap()) {
            let discount = match grams {
                0..=50 => 180,
                51..=100 => 150,
                101..=250 => 130,
                251..=500 => 115,
                501..=1_000 => 100,
                _ => 82,
            };
            let home = per_kilogram * level * discount * grams / 10_000_000 + 60;
            let minor = i64::try_from(i128::from(home) * terms.to_home.1 / terms.to_home.0).unwrap().max(1);
            let mut pack = plain_pack(offers.len(), supplier, item, grams * 1_000, minor);
            if dice.percent(33) {
                pack.breaks.push((dice.between(2, 4), Price { minor: minor * 93 / 100 }));
                pack.breaks.push((dice.between(5, 10), Price { minor: minor * 86 / 100 }));
            }
            if dice.percent(4) {
                pack.breaks.remove(0);
                if pack.breaks.is_empty() {
                    pack.breaks.push((2, Price { minor }));
                }
            }
            if life > 0 {
                pack.life_on_arrival = Some(Span { months: u32::try_from(life).unwrap(), days: 0 });
            }
            offers.push(pack);
        }
    }
}

/// Entries draw materials; stock covers the first part of each material's use.
fn plan(dice: &mut Dice, size: Size, problem: &mut Problem) -> BTreeMap<ItemId, i64> {
    let mut draws: BTreeMap<(ItemId, i64, i64), i64> = BTreeMap::new();
    let mut gross: BTreeMap<ItemId, i64> = BTreeMap::new();
    let formulas: Vec<(Vec<(i64, i64)>, i64)> = (0..(size.entries / 3).clamp(4, 60))
        .map(|_| {
            let parts =
                (0..dice.between(5, 12)).map(|_| (dice.below(size.materials), dice.pick(&[5, 20, 60, 150, 300])));
            (parts.collect(), dice.pick(&[0, 0, 60, 90, 180]))
        })
        .collect();
    for _ in 0..size.entries {
        let (parts, minimum_life) =
            &formulas[usize::try_from(dice.below(i64::try_from(formulas.len()).unwrap())).unwrap()];
        let needed = dice.between(1, size.days);
        let batch = dice.between(2, 10);
        for &(material, grams) in parts {
            let item = ItemId::new(usize::try_from(material).unwrap());
            let amount = grams * batch * 500 + dice.below(500);
            *gross.entry(item).or_default() += amount;
            *draws.entry((item, needed, needed + minimum_life)).or_default() += amount;
        }
    }
    let mut stock: BTreeMap<ItemId, i64> =
        gross.iter().map(|(&item, &total)| (item, total * dice.between(0, 60) / 100)).collect();
    for ((item, needed, through), amount) in draws {
        let left = stock.entry(item).or_default();
        let covered = amount.min(*left);
        *left -= covered;
        if amount > covered {
            let quantity = Quantity(amount - covered);
            problem.requirements.push(Requirement { item, day: day(needed), through: day(through), quantity });
        }
    }
    gross
}
