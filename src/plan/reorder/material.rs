//! The cheapest lines for one material while all other materials stay as they are.
//!
//! A labelling dynamic programme runs through the requirements by day. A label says what the lines chosen so far have cost and what is
//! left of them; it is extended by a mix of packs from one order that covers the next requirement, or several of them. What a mix costs is
//! exactly what it adds to its order: postage that is due now, or no longer due, and breaks are counted.

use super::books::{Books, Column, Line, Share, credit_of, marginal_of, shares_of};
use super::candidates::{Case, House, Material, USELESS};
use super::cover::{Delivery, Scratch};
use super::mixes::{Mix, Mixer};
use crate::plan::model::Postage;
use crate::plan::money::Price;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// How many lots a label remembers; what comes from more is counted with the one that expires first.
const LOTS: usize = 3;
/// How many open orders of a supplier are looked at for a requirement, latest first.
const OPEN_LOOKED_AT: usize = 3;
/// Materials with more requirements than this are looked at more coarsely, so that a year's plan stays quick.
const FEW: usize = 12;

/// How many mixes may each cover a requirement in part before one covers the rest.
const PARTS: u8 = 2;

/// What is left of a mix.
#[derive(Clone, Copy, Debug, Default)]
struct Lot {
    through: i32,
    quantity: i64,
}

/// The lines chosen so far.
#[derive(Clone, Copy, Debug)]
struct Label {
    cost: f64,
    /// The first requirement that is not covered, and how much of it is.
    next: usize,
    covered: i64,
    lots: [Lot; LOTS],
    surplus: i64,
    parent: Option<usize>,
    house: usize,
    place: usize,
    mix: Mix,
    partial: u8,
}

/// What is reused from one material to the next.
#[derive(Debug, Default)]
pub(super) struct Planner {
    labels: Vec<Label>,
    buckets: Vec<Vec<usize>>,
    open: Vec<Vec<usize>>,
    mixes: Vec<Mix>,
    shares: Vec<Share>,
    deliveries: Vec<Delivery>,
    scratch: Scratch,
    column: Column,
    best: Column,
    /// Labels that cannot become cheaper than this are dropped.
    upper: f64,
    known: HashMap<(usize, usize, i64, u32), Vec<Mix>, BuildHasherDefault<Stir>>,
}

/// A quick hash for small keys that nobody chooses to do harm with; its order is never looked at.
#[derive(Debug, Default)]
struct Stir(u64);

impl Hasher for Stir {
    fn write(&mut self, bytes: &[u8]) {
        bytes.iter().for_each(|&byte| self.write_u64(u64::from(byte)));
    }
    fn write_u64(&mut self, value: u64) {
        self.0 = (self.0.rotate_left(5) ^ value).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }
    fn write_u32(&mut self, value: u32) {
        self.write_u64(u64::from(value));
    }
    fn write_usize(&mut self, value: usize) {
        self.write_u64(value as u64);
    }
    fn write_i64(&mut self, value: i64) {
        self.write_u64(value.cast_unsigned());
    }
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 29)
    }
}

/// What one run of the programme looks at.
struct View<'a, 'p> {
    case: &'a Case<'p>,
    books: &'a Books,
    material: &'a Material,
    /// Which material.
    place: usize,
    /// What reaching free postage or a minimum could still save.
    slack: f64,
    /// The most that left-over can be worth.
    most_credit: f64,
}

impl Planner {
    /// The cheapest column found, with its cost less its credit; `None` where nothing below `upper` was found. The
    /// material's own lines must not be in the books.
    pub fn cheapest(
        &mut self,
        case: &Case<'_>,
        books: &Books,
        place: usize,
        material: &Material,
        upper: f64,
    ) -> Option<(&Column, f64)> {
        let mut view = View {
            case,
            books,
            material,
            place,
            slack: 0.0,
            most_credit: material.unit_credit * material.most_credited,
        };
        self.upper = upper;
        let count = material.needs.len();
        self.labels.clear();
        self.buckets.iter_mut().for_each(Vec::clear);
        self.buckets.resize(self.buckets.len().max(count + 1), Vec::new());
        view.slack = self.find_open(&view);
        let start = Label {
            cost: 0.0,
            next: 0,
            covered: 0,
            lots: [Lot::default(); LOTS],
            surplus: 0,
            parent: None,
            house: 0,
            place: 0,
            mix: Mix::default(),
            partial: 0,
        };
        self.labels.push(start);
        self.buckets[0].push(0);
        let width = if count <= FEW { 6 } else { 3 };
        for next in 0..count {
            // Labels that cover the requirement in part come back to the same bucket: at most twice.
            let waves = if count <= FEW { PARTS } else { 0 };
            for _ in 0..=waves {
                self.prune(&view, next, width);
                let wave = std::mem::take(&mut self.buckets[next]);
                for &label in &wave {
                    self.extend(&view, label);
                }
                if self.buckets[next].is_empty() {
                    break;
                }
            }
        }
        self.pick(&view, count, upper)
    }

    /// Notes each house's open orders, and returns the most that joining one of them could save beside the price of the goods.
    fn find_open(&mut self, view: &View<'_, '_>) -> f64 {
        let houses = &view.material.houses;
        let mut slack = 0.0_f64;
        let within = view.material.demand_from[0] as f64 * view.material.lowest_price * 1.5;
        self.open.resize(self.open.len().max(houses.len()), Vec::new());
        for (house, open) in houses.iter().zip(&mut self.open) {
            open.clear();
            open.extend((0..house.slots.len()).filter(|&place| view.books.is_open(house.slots[place])));
            for &place in open.iter() {
                let goods = view.books.goods(house.slots[place]);
                let lacking = view.case.carefree_goods(house.supplier) - goods;
                if lacking > 0 && lacking as f64 * view.case.landed(house.supplier) <= within {
                    let beside =
                        view.books.cost_of(house.slots[place]) - goods as f64 * view.case.landed(house.supplier);
                    slack = slack.max(beside);
                }
            }
        }
        slack
    }

    /// Keeps the most promising labels of a bucket.
    fn prune(&mut self, view: &View<'_, '_>, next: usize, width: usize) {
        let value = view.material.lowest_price;
        let labels = &self.labels;
        let score = |place: usize| labels[place].cost - value * labels[place].surplus as f64;
        let bucket = &mut self.buckets[next];
        bucket.sort_by(|&one, &other| score(one).total_cmp(&score(other)).then(one.cmp(&other)));
        let mut kept: Vec<usize> = Vec::with_capacity(width);
        for &place in bucket.iter() {
            let label = &labels[place];
            let beaten = kept
                .iter()
                .map(|&other| &labels[other])
                .any(|other| other.cost <= label.cost && other.surplus >= label.surplus && outlasts(other, label));
            if !beaten {
                kept.push(place);
            }
            if kept.len() == width {
                break;
            }
        }
        bucket.clear();
        bucket.extend(kept);
    }

    /// Extends a label by every order that can cover its next requirement.
    fn extend(&mut self, view: &View<'_, '_>, from: usize) {
        if hoped(view.material, &self.labels[from]) - view.slack >= self.upper {
            return;
        }
        let need = &view.material.needs[self.labels[from].next];
        let few = view.material.needs.len() <= FEW;
        for house_place in 0..view.material.houses.len() {
            let house = &view.material.houses[house_place];
            let in_time = |place: usize| view.case.slots[house.slots[place]].arrives <= need.day;
            let open = std::mem::take(&mut self.open[house_place]);
            let mut looked_at = 0;
            for &place in open.iter().rev().filter(|&&place| in_time(place)) {
                if lasts(house, place, need.through) {
                    self.extend_by(view, from, house_place, place);
                    looked_at += 1;
                }
                if looked_at == if few { OPEN_LOOKED_AT } else { OPEN_LOOKED_AT - 1 } {
                    break;
                }
            }
            self.open[house_place] = open;
            let latest = house.latest[self.labels[from].next];
            let closed =
                latest.and_then(|latest| (0..=latest).rev().find(|&place| !view.books.is_barred(house.slots[place])));
            if let Some(place) = closed
                && !view.books.is_open(house.slots[place])
                && lasts(house, place, need.through)
            {
                self.extend_by(view, from, house_place, place);
            }
        }
    }

    /// Extends a label by the mixes of one order: for its next requirement, for that and the one after, and so on.
    fn extend_by(&mut self, view: &View<'_, '_>, from: usize, house_place: usize, place: usize) {
        let house = &view.material.houses[house_place];
        let mixer = Mixer { problem: view.case.problem, offers: &house.offers };
        let usable = |offer: usize| house.through[offer][place];
        let longest = (0..house.offers.len()).map(usable).max().unwrap_or(USELESS);
        let mut lots = self.labels[from].lots;
        let (mut amount, mut through, mut reached, mut looked_up) = (0_i64, i32::MIN, 0_i64, 0_i64);
        let few = view.material.needs.len() <= FEW;
        let first = self.labels[from].next;
        let mut found = std::mem::take(&mut self.mixes);
        for next in first..view.material.needs.len() {
            let need = &view.material.needs[next];
            let covered = if next == first { self.labels[from].covered } else { 0 };
            let open = draw(&mut lots, need.quantity - covered, need.through);
            if open == 0 {
                continue;
            }
            if need.through > longest {
                break;
            }
            through = through.max(need.through);
            amount = amount.saturating_add(open);
            if next == first {
                self.add_partial(view, from, house_place, place, amount, through);
            }
            let last = next + 1 == view.material.needs.len();
            let near = next < first + 4 || few || amount / 5 * 4 >= looked_up;
            if !last && (amount <= reached || !near) {
                continue;
            }
            looked_up = amount;
            self.known_mixes(view, house_place, (amount, through), &usable, &mut found);
            reached = found.first().map_or(reached, |mix| mix.quantity);
            for mix in &found {
                self.add(view, from, house_place, place, *mix, false);
            }
            if last {
                self.add_creditable(view, from, (house_place, place), amount, through);
            }
            if next == first || last {
                self.add_reaching(view, from, (house_place, place), &mixer, amount, through);
            }
        }
        self.mixes = found;
    }

    /// The mixes for an amount, remembered from one run to the next.
    fn known_mixes(
        &mut self,
        view: &View<'_, '_>,
        house: usize,
        (amount, through): (i64, i32),
        usable: &impl Fn(usize) -> i32,
        found: &mut Vec<Mix>,
    ) {
        let offers = &view.material.houses[house].offers;
        let lasting = (0..offers.len()).filter(|&offer| usable(offer) >= through);
        let lasting = lasting.fold(0_u32, |bits, offer| bits | 1_u32.wrapping_shl(u32::try_from(offer).unwrap_or(31)));
        let known = self.known.entry((view.place, house, amount, lasting)).or_insert_with(|| {
            let mut made = Vec::new();
            Mixer { problem: view.case.problem, offers }.mixes(amount, through, usable, &mut made);
            made
        });
        found.clear();
        found.extend(known.iter().map(|mix| {
            let through = mix.lines().map(|(offer, _)| usable(offer)).min().unwrap_or(i32::MAX);
            Mix { through, ..*mix }
        }));
    }

    /// Adds the packs of one offer that bring as much as may be credited beyond what is required.
    fn add_creditable(
        &mut self,
        view: &View<'_, '_>,
        from: usize,
        (house_place, place): (usize, usize),
        amount: i64,
        through: i32,
    ) {
        if view.most_credit <= 0.0 {
            return;
        }
        let house = &view.material.houses[house_place];
        let mixer = Mixer { problem: view.case.problem, offers: &house.offers };
        for (offer, &pack) in
            house.offers.iter().enumerate().filter(|(offer, _)| house.through[*offer][place] >= through)
        {
            let size = view.case.problem.offers[pack].quantity.0;
            let packs = amount.saturating_add(view.material.most_credited as i64).div_euclid(size);
            for packs in [packs, packs.saturating_add(1)] {
                if packs.saturating_mul(size) > amount
                    && let Some(mix) = mixer.single(offer, packs, house.through[offer][place])
                {
                    self.add(view, from, house_place, place, mix, false);
                }
            }
        }
    }

    /// Adds the mixes that lift the order to its minimum, or to free postage.
    fn add_reaching(
        &mut self,
        view: &View<'_, '_>,
        from: usize,
        (house_place, place): (usize, usize),
        mixer: &Mixer<'_>,
        amount: i64,
        through: i32,
    ) {
        let house = &view.material.houses[house_place];
        let terms = view.case.terms(house.slots[place]);
        let there = view.books.goods(house.slots[place]);
        let bands: &[(Price, Price)] = match &terms.postage {
            Postage::ByValue(bands) => bands,
            _ => &[],
        };
        let goals = [Some(terms.minimum_order), terms.free_postage_from].into_iter().flatten();
        for goal in goals.chain(bands.iter().map(|band| band.0)) {
            if goal.minor <= there {
                continue;
            }
            for offer in 0..house.offers.len() {
                let usable = house.through[offer][place];
                if usable < through {
                    continue;
                }
                if let Some(mix) = mixer.reaching(offer, amount, goal.minor - there, usable) {
                    self.add(view, from, house_place, place, mix, false);
                }
            }
        }
    }

    /// Adds the mixes that cover the next requirement in part, without left-over; another order has to bring the rest.
    fn add_partial(
        &mut self,
        view: &View<'_, '_>,
        from: usize,
        house_place: usize,
        place: usize,
        amount: i64,
        through: i32,
    ) {
        if self.labels[from].partial >= PARTS || view.material.needs.len() > FEW {
            return;
        }
        let house = &view.material.houses[house_place];
        let mixer = Mixer { problem: view.case.problem, offers: &house.offers };
        for (offer, &pack_place) in house.offers.iter().enumerate() {
            let pack = &view.case.problem.offers[pack_place];
            let packs = (amount - 1).div_euclid(pack.quantity.0);
            let usable = house.through[offer][place];
            if usable < through {
                continue;
            }
            let Some(mix) = mixer.single(offer, packs, usable) else { continue };
            self.add(view, from, house_place, place, mix, true);
        }
    }

    /// Adds the label that follows from a mix.
    fn add(&mut self, view: &View<'_, '_>, from: usize, house: usize, place: usize, mix: Mix, partial: bool) {
        let before = &self.labels[from];
        let slot = view.material.houses[house].slots[place];
        let cost = before.cost + view.books.marginal(view.case, slot, mix.goods, mix.weight_mg);
        let material = view.material;
        let brought = before.surplus.saturating_add(mix.quantity);
        let lacking = material.demand_from[before.next].saturating_sub(brought).max(0);
        if cost + material.lowest_price * lacking as f64 - view.most_credit - view.slack >= self.upper {
            return;
        }
        let mut label = Label {
            cost,
            parent: Some(from),
            house,
            place,
            mix,
            partial: before.partial + u8::from(partial),
            ..*before
        };
        keep(&mut label.lots, Lot { through: mix.through, quantity: mix.quantity });
        while let Some(need) = material.needs.get(label.next) {
            let open = draw(&mut label.lots, need.quantity - label.covered, need.through);
            if open > 0 {
                label.covered = need.quantity - open;
                break;
            }
            label.next += 1;
            label.covered = 0;
        }
        if !partial && label.next == before.next {
            return;
        }
        if label.next > before.next {
            label.partial = 0;
        }
        label.surplus = label.covered + label.lots.iter().map(|lot| lot.quantity).sum::<i64>();
        if hoped(material, &label) - view.slack >= self.upper {
            return;
        }
        if label.next == material.needs.len() {
            self.upper = self.upper.min(label.cost);
        }
        self.buckets[label.next].push(self.labels.len());
        self.labels.push(label);
    }

    /// Of the labels that cover everything, the cheapest one with what its left-over is worth.
    fn pick(&mut self, view: &View<'_, '_>, count: usize, upper: f64) -> Option<(&Column, f64)> {
        let material = view.material;
        let mut last = std::mem::take(&mut self.buckets[count]);
        last.sort_by(|&one, &other| {
            hoped(material, &self.labels[one]).total_cmp(&hoped(material, &self.labels[other])).then(one.cmp(&other))
        });
        let mut best_cost = f64::INFINITY;
        for &place in last.iter().take(10) {
            if hoped(material, &self.labels[place]) >= best_cost {
                break;
            }
            self.trace(place);
            shares_of(view.case, material, &self.column, &mut self.shares);
            let cost = marginal_of(view.case, view.books, &self.shares);
            let credit = credit_of(view.case, material, &self.column, &mut self.deliveries, &mut self.scratch);
            if let Some(credit) = credit
                && cost - credit < best_cost
            {
                best_cost = cost - credit;
                std::mem::swap(&mut self.best, &mut self.column);
            }
        }
        self.buckets[count] = last;
        (best_cost < upper).then_some((&self.best, best_cost))
    }

    /// Writes the lines of a label into the column.
    fn trace(&mut self, place: usize) {
        self.column.clear();
        let mut label = &self.labels[place];
        while let Some(parent) = label.parent {
            for (offer, packs) in label.mix.lines() {
                self.column.push(Line { house: label.house, place: label.place, offer, packs });
            }
            label = &self.labels[parent];
        }
        self.column.sort_unstable();
        self.column.dedup_by(|later, earlier| {
            let same = (later.house, later.place, later.offer) == (earlier.house, earlier.place, earlier.offer);
            if same {
                earlier.packs = earlier.packs.saturating_add(later.packs);
            }
            same
        });
    }
}

/// What a label may come to at best: the rest at the lowest price, or what is left over credited.
fn hoped(material: &Material, label: &Label) -> f64 {
    let lacking = material.demand_from[label.next] - label.surplus;
    if lacking > 0 {
        label.cost + material.lowest_price * lacking as f64
    } else {
        label.cost - material.unit_credit * (-lacking as f64).min(material.most_credited)
    }
}

/// True where some offer of the house, ordered then, lasts through a day.
fn lasts(house: &House, place: usize, through: i32) -> bool {
    house.through.iter().any(|days| days[place] >= through)
}

/// True where what is left of one label lasts at least as long as what is left of the other.
fn outlasts(one: &Label, other: &Label) -> bool {
    let first = |label: &Label| {
        label.lots.iter().filter(|lot| lot.quantity > 0).map(|lot| lot.through).min().unwrap_or(i32::MAX)
    };
    first(one) >= first(other)
}

/// Takes an amount from the lots that last through a day, those that expire first before the others; returns what is lacking.
fn draw(lots: &mut [Lot; LOTS], mut amount: i64, through: i32) -> i64 {
    for lot in lots.iter_mut() {
        if amount == 0 {
            break;
        }
        if lot.quantity > 0 && lot.through >= through {
            let taken = amount.min(lot.quantity);
            lot.quantity -= taken;
            amount -= taken;
        }
    }
    amount
}

/// Puts a lot among the others, by expiry; the two that expire first become one where there are too many.
fn keep(lots: &mut [Lot; LOTS], lot: Lot) {
    let mut all = [Lot::default(); LOTS + 1];
    let mut count = 0;
    for other in lots.iter().filter(|other| other.quantity > 0).chain(std::iter::once(&lot)) {
        all[count] = *other;
        count += 1;
    }
    all[..count].sort_by_key(|lot| lot.through);
    if count > LOTS {
        all[1] = Lot { through: all[0].through, quantity: all[0].quantity.saturating_add(all[1].quantity) };
        all.rotate_left(1);
        count = LOTS;
    }
    *lots = [Lot::default(); LOTS];
    lots[..count].copy_from_slice(&all[..count]);
}
