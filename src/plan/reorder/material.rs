//! The cheapest lines for one material while all other materials stay as they are.
//!
//! A labelling dynamic programme runs through the requirements by day. A label says what the lines chosen so far have cost and what is
//! left of them; it is extended by a mix of packs from one order that covers the next requirement, or several of them. What a mix costs is
//! exactly what it adds to its order: postage that is due now, or no longer due, and breaks are counted. Few labels are kept for
//! each requirement, and one that no cheap rest could bring below the limit is dropped before it is written down.

use super::books::{Books, Column, Line, Share, credit_of, marginal_of, shares_of};
use super::candidates::{Case, House, Material, USELESS};
use super::cover::{Delivery, FOREVER, Scratch};
use super::lots::{self, LOTS, Lot, draw, keep};
use super::mixes::{Made, Mix, Mixer};
use super::room::Shelf;
use crate::plan::model::Postage;
use crate::plan::money::Price;

/// How many open orders of a supplier are looked at for a requirement, latest first.
const OPEN_LOOKED_AT: usize = 3;
/// Materials with more requirements than this are looked at more coarsely, so that a year's plan stays quick.
const FEW: usize = 12;
/// How many mixes may each cover a requirement in part before one covers the rest.
const PARTS: u8 = 2;
/// How many complete labels are worked out exactly.
const FINALISTS: usize = 6;
/// No label.
const NOBODY: u32 = u32::MAX;

/// The lines chosen so far.
#[derive(Clone, Copy, Debug)]
struct Label {
    cost: f64,
    /// How much of the first requirement that is not covered is.
    covered: i64,
    surplus: i64,
    lots: [Lot; LOTS],
    /// The first requirement that is not covered.
    next: usize,
    parent: u32,
    mix: u32,
    door: u32,
    partial: u8,
}

/// An order that one of the material's houses could be sent, as it stands while this material is planned.
#[derive(Clone, Copy, Debug)]
struct Door {
    house: usize,
    place: usize,
    slot: usize,
    supplier: usize,
    arrives: i32,
    /// The longest that one of the house's offers lasts.
    longest: i32,
    goods: i64,
    weight_mg: i64,
    cost: f64,
}

/// What is reused from one material to the next.
#[derive(Debug, Default)]
pub(super) struct Planner {
    labels: Vec<Label>,
    /// For each requirement the labels that cover all before it, with their scores, best first.
    buckets: Vec<Vec<(f64, u32)>>,
    wave: Vec<(f64, u32)>,
    doors: Vec<Door>,
    /// Places of the open doors of each house, by day, and for each requirement and house the closed one that is looked at.
    open: Vec<(u32, u32)>,
    closed: Vec<u32>,
    /// The mixes that labels point to.
    used: Vec<Mix>,
    shares: Vec<Share>,
    deliveries: Vec<Delivery>,
    scratch: Scratch,
    column: Column,
    best: Column,
    /// Labels that cannot become cheaper than this are dropped.
    upper: f64,
    mixes: Made,
    /// True where a coarse look has to do for every material.
    pub is_hasty: bool,
    /// For each material columns that serve all of it.
    known: Vec<Vec<Known>>,
    /// From each requirement on, the most that joining an order could save beside the price of the goods.
    slack: Vec<f64>,
}

/// A column, with what it holds and has credited.
#[derive(Debug)]
struct Known {
    column: Column,
    shares: Vec<Share>,
    credit: f64,
}

/// What one run of the programme looks at.
struct View<'a, 'p> {
    case: &'a Case<'p>,
    books: &'a Books,
    material: &'a Material,
    /// Which material.
    place: usize,
    /// The most that left-over can be worth.
    most_credit: f64,
    /// True where every requirement gets a close look.
    closely: bool,
    width: usize,
}

impl Planner {
    /// Remembers a column that serves all of a material: where nothing better is known, others are measured by it.
    pub fn remember(&mut self, case: &Case<'_>, place: usize, column: &Column) {
        let material = &case.materials[place];
        self.known.resize_with(case.materials.len(), Vec::new);
        if let Some(credit) = credit_of(case, material, column, &mut self.deliveries, &mut self.scratch) {
            let mut shares = Vec::new();
            shares_of(case, material, column, &mut shares);
            self.known[place].push(Known { column: column.clone(), shares, credit });
        }
    }

    /// The cheapest column found, with its cost less its credit; `None` where nothing below `upper` was found. The
    /// material's own lines must not be in the books. No column costs less than `floor` beside what its orders save.
    pub fn cheapest(
        &mut self,
        case: &Case<'_>,
        books: &Books,
        (place, material): (usize, &Material),
        (floor, mut upper): (f64, f64),
    ) -> Option<(&Column, f64)> {
        let mut fallback = None;
        if upper.is_infinite() {
            for known in self.known.get(place).into_iter().flatten() {
                let cost = marginal_of(case, books, &known.shares) - known.credit;
                if cost < upper && known.shares.iter().all(|share| !books.is_barred(share.slot)) {
                    (upper, fallback) = (cost, Some(known));
                }
            }
        }
        let fallback = fallback.map(|known| known.column.clone());
        let is_particular = material.holding > 0.0 || material.shelf.is_some();
        let closely = is_particular || !self.is_hasty && material.needs.len() <= FEW;
        let mut view = View {
            case,
            books,
            material,
            place,
            most_credit: material.unit_worth() * material.most_credited,
            closely,
            width: 1,
        };
        self.find_doors(&view);
        let mut found = None;
        if floor - self.slack[0] < upper {
            // Where nothing is known yet, a first look with one label each tells what is too dear.
            let quick = if upper.is_infinite() { self.run(&view, upper) } else { None };
            view.width = if closely { 5 } else { 3 };
            found = self.run(&view, quick.unwrap_or(upper)).or(quick);
        }
        if let (None, Some(fallback)) = (found, fallback) {
            (self.best, found) = (fallback, Some(upper));
        }
        found.map(|cost| (&self.best, cost))
    }

    /// One run of the programme; the cost of the best column, if one below `upper` was found.
    fn run(&mut self, view: &View<'_, '_>, upper: f64) -> Option<f64> {
        let (material, closely) = (view.material, view.closely && view.width > 1);
        let count = material.needs.len();
        self.upper = upper;
        self.labels.clear();
        self.used.clear();
        self.buckets.iter_mut().for_each(Vec::clear);
        self.buckets.resize(self.buckets.len().max(count + 1), Vec::new());
        self.labels.push(Label {
            cost: -material.disposal * material.demand_from[0] as f64,
            covered: 0,
            surplus: 0,
            lots: [Lot::default(); LOTS],
            next: 0,
            parent: NOBODY,
            mix: 0,
            door: 0,
            partial: 0,
        });
        self.buckets[0].push((0.0, 0));
        for next in 0..count {
            // Labels that cover the requirement in part come back to the same bucket: at most twice.
            let waves = if closely { PARTS } else { 0 };
            for _ in 0..=waves {
                let mut wave = std::mem::take(&mut self.wave);
                std::mem::swap(&mut wave, &mut self.buckets[next]);
                for &(_, label) in &wave {
                    self.extend(view, label as usize);
                }
                wave.clear();
                self.wave = wave;
                if self.buckets[next].is_empty() {
                    break;
                }
            }
        }
        self.pick(view, count, upper)
    }

    /// Lists the orders that are looked at, and what joining one of them could save.
    fn find_doors(&mut self, view: &View<'_, '_>) {
        let (material, books) = (view.material, view.books);
        let within = |amount: i64| amount as f64 * material.lowest_price * 1.5;
        self.slack.clear();
        self.slack.resize(material.needs.len() + 1, 0.0);
        self.doors.clear();
        self.open.clear();
        self.closed.clear();
        for (house_place, house) in material.houses.iter().enumerate() {
            let first = self.doors.len() as u32;
            for &place in books.open_of(house.supplier) {
                let door = door(view, house_place, house, place as usize);
                if door.longest == USELESS {
                    continue;
                }
                let landed = view.case.landed(house.supplier);
                let lacking = view.case.carefree_goods(house.supplier) - door.goods;
                let saving = books.cost_of(door.slot) - books.goods(door.slot) as f64 * landed;
                if lacking > 0 && saving > 0.0 {
                    for (slack, &amount) in self.slack.iter_mut().zip(&material.demand_from) {
                        if lacking as f64 * landed > within(amount) {
                            break;
                        }
                        *slack = slack.max(saving);
                    }
                }
                self.doors.push(door);
            }
            self.open.push((first, self.doors.len() as u32));
        }
        for house_place in 0..material.houses.len() {
            let house = &material.houses[house_place];
            let mut last = (usize::MAX, NOBODY);
            for (need, latest) in material.needs.iter().zip(&house.latest) {
                let able = latest
                    .and_then(|latest| (0..=latest).rev().find(|&place| !books.is_barred(house.slots[place])))
                    .filter(|&place| !books.is_open(house.slots[place]) && house.longest[place] >= need.through);
                let found = match able {
                    Some(place) if place == last.0 => last.1,
                    Some(place) => {
                        self.doors.push(door(view, house_place, house, place));
                        last = (place, self.doors.len() as u32 - 1);
                        last.1
                    }
                    None => NOBODY,
                };
                self.closed.push(found);
            }
        }
    }

    /// Extends a label by every order that can cover its next requirement.
    fn extend(&mut self, view: &View<'_, '_>, from: usize) {
        let next = self.labels[from].next;
        if hoped(view.material, &self.labels[from]) - self.slack[next] >= self.upper {
            return;
        }
        let need = &view.material.needs[next];
        let most = if view.closely { OPEN_LOOKED_AT } else { OPEN_LOOKED_AT - 1 };
        for house in 0..view.material.houses.len() {
            let (first, end) = self.open[house];
            let mut looked_at = 0;
            for door in (first..end).rev() {
                let content = &self.doors[door as usize];
                if content.arrives <= need.day && content.longest >= need.through {
                    self.extend_by(view, from, door);
                    looked_at += 1;
                    if looked_at == most {
                        break;
                    }
                }
            }
            let closed = self.closed[house * view.material.needs.len() + next];
            if closed != NOBODY {
                self.extend_by(view, from, closed);
            }
        }
    }

    /// Extends a label by the mixes of one order: for its next requirement, for that and the one after, and so on.
    fn extend_by(&mut self, view: &View<'_, '_>, from: usize, door_place: u32) {
        let door = self.doors[door_place as usize];
        let house = &view.material.houses[door.house];
        let mut lots = self.labels[from].lots;
        let (mut amount, mut through, mut reached, mut looked_up) = (0_i64, i32::MIN, 0_i64, 0_i64);
        let first = self.labels[from].next;
        let count = view.material.needs.len();
        for next in first..count {
            let need = &view.material.needs[next];
            let covered = if next == first { self.labels[from].covered } else { 0 };
            let open = draw(&mut lots, need.quantity - covered, need.through);
            if open == 0 {
                continue;
            }
            if need.through > door.longest {
                break;
            }
            through = through.max(need.through);
            amount = amount.saturating_add(open);
            if next == first {
                self.add_partial(view, from, door_place, amount, through);
            }
            let last = next + 1 == count;
            let near = next < first + 4 || view.closely || amount / 5 * 4 >= looked_up;
            if !last && (amount <= reached || !near) {
                continue;
            }
            looked_up = amount;
            let lasting = house.lasting(door.place, through);
            let known = self.mixes.find(view.case, (view.place, door.house), house, amount, lasting);
            reached = known.clone().next().map_or(reached, |place| self.mixes.mix(place).quantity);
            for place in known {
                let mix = self.mixes.mix(place);
                self.add(view, from, door_place, mix, false);
            }
            if last {
                self.add_creditable(view, from, door_place, amount, through);
            }
            if next == first || last {
                self.add_reaching(view, from, door_place, amount, through);
            }
        }
    }

    /// Adds the packs of one offer that bring as much as may be credited beyond what is required.
    fn add_creditable(&mut self, view: &View<'_, '_>, from: usize, door_place: u32, amount: i64, through: i32) {
        if view.most_credit <= 0.0 {
            return;
        }
        let door = self.doors[door_place as usize];
        let house = &view.material.houses[door.house];
        let mixer = Mixer { problem: view.case.problem, offers: &house.offers };
        for (offer, &pack) in house.offers.iter().enumerate() {
            if house.through[offer][door.place] < through {
                continue;
            }
            let size = view.case.problem.offers[pack].quantity.0;
            let packs = amount.saturating_add(view.material.most_credited as i64).div_euclid(size);
            for packs in [packs, packs.saturating_add(1)] {
                if packs.saturating_mul(size) > amount
                    && let Some(mix) = mixer.single(offer, packs)
                {
                    self.add(view, from, door_place, mix, false);
                }
            }
        }
    }

    /// Adds the mixes that lift the order to its minimum, or to free postage.
    fn add_reaching(&mut self, view: &View<'_, '_>, from: usize, door_place: u32, amount: i64, through: i32) {
        let door = self.doors[door_place as usize];
        let house = &view.material.houses[door.house];
        let terms = view.case.terms(door.slot);
        let mixer = Mixer { problem: view.case.problem, offers: &house.offers };
        let bands: &[(Price, Price)] = match &terms.postage {
            Postage::ByValue(bands) => bands,
            _ => &[],
        };
        let goals = [Some(terms.minimum_order), terms.free_postage_from].into_iter().flatten();
        for goal in goals.chain(bands.iter().map(|band| band.0)) {
            if goal.minor <= door.goods {
                continue;
            }
            let least = view.case.order_cost(door.supplier, goal.minor, door.weight_mg) - door.cost;
            if self.labels[from].cost + least - view.most_credit - self.slack[self.labels[from].next] >= self.upper {
                continue;
            }
            for offer in 0..house.offers.len() {
                if house.through[offer][door.place] >= through
                    && let Some(mix) = mixer.reaching(offer, amount, goal.minor - door.goods)
                {
                    self.add(view, from, door_place, mix, false);
                }
            }
        }
    }

    /// Adds the mixes that cover the next requirement in part, without left-over; another order has to bring the rest.
    fn add_partial(&mut self, view: &View<'_, '_>, from: usize, door_place: u32, amount: i64, through: i32) {
        if self.labels[from].partial >= PARTS || !view.closely || view.width == 1 {
            return;
        }
        let door = self.doors[door_place as usize];
        let house = &view.material.houses[door.house];
        let mixer = Mixer { problem: view.case.problem, offers: &house.offers };
        for (offer, &pack_place) in house.offers.iter().enumerate() {
            let pack = &view.case.problem.offers[pack_place];
            let packs = (amount - 1).div_euclid(pack.quantity.0);
            let packs = pack.most_packs.map_or(packs, |most| packs.min(most));
            if packs < 1 || house.through[offer][door.place] < through {
                continue;
            }
            let Some(mix) = mixer.single(offer, packs) else { continue };
            self.add(view, from, door_place, mix, true);
        }
    }

    /// Adds the label that follows from a mix, if it is among the best.
    fn add(&mut self, view: &View<'_, '_>, from: usize, door_place: u32, mix: Mix, partial: bool) {
        let before = &self.labels[from];
        let door = &self.doors[door_place as usize];
        let material = view.material;
        let order =
            view.case.order_cost(door.supplier, door.goods.saturating_add(mix.goods), door.weight_mg + mix.weight_mg);
        let mut cost = before.cost + order - door.cost + material.disposal * mix.quantity as f64;
        let brought = before.surplus.saturating_add(mix.quantity);
        let lacking = material.demand_from[before.next].saturating_sub(brought);
        if rest(material, cost, before.next, lacking) - self.slack[before.next] >= self.upper {
            return;
        }
        if self.is_too_much(view, from, door, &mix) {
            return;
        }
        let house = &material.houses[door.house];
        let through = match material.lasts {
            true => FOREVER,
            false => mix.lines().map(|(offer, _)| house.through[offer][door.place]).min().unwrap_or(FOREVER),
        };
        let (mut lots, mut next, mut covered) = (before.lots, before.next, before.covered);
        keep(&mut lots, Lot { arrives: door.arrives, through, quantity: mix.quantity }, material.holding > 0.0);
        while let Some(need) = material.needs.get(next) {
            let wanted = need.quantity - covered;
            if material.holding > 0.0 {
                cost += material.holding * lots::unit_days(&lots, wanted, need);
            }
            let open = draw(&mut lots, wanted, need.through);
            if open > 0 {
                covered = need.quantity - open;
                break;
            }
            next += 1;
            covered = 0;
        }
        if !partial && next == before.next {
            return;
        }
        if let Some(shelf) = &material.shelf {
            cost += crowding(material, shelf, before, (next, door.arrives, mix.quantity));
        }
        let parts = if next > before.next { 0 } else { before.partial + u8::from(partial) };
        let surplus = covered + lots.iter().map(|lot| lot.quantity).sum::<i64>();
        let label = Label {
            cost,
            covered,
            surplus,
            lots,
            next,
            parent: from as u32,
            mix: self.used.len() as u32,
            door: door_place,
            partial: parts,
        };
        let hope = hoped(material, &label);
        if hope - self.slack[next] >= self.upper {
            return;
        }
        let complete = next == material.needs.len();
        let score = if complete { hope } else { cost - material.lowest_price * surplus as f64 };
        let width = if complete { FINALISTS } else { view.width };
        if self.enter(&label, score, (width, !complete, material.shelf.is_some())) {
            self.used.push(mix);
            if complete {
                self.upper = self.upper.min(cost);
            }
        }
    }

    /// True where a mix and those chosen before it bring more packs of an offer into one order than a line may hold.
    fn is_too_much(&self, view: &View<'_, '_>, from: usize, door: &Door, mix: &Mix) -> bool {
        let offers = &view.material.houses[door.house].offers;
        mix.lines().any(|(offer, packs)| {
            let Some(most) = view.case.problem.offers[offers[offer]].most_packs else { return false };
            let mut sum = packs;
            let mut label = &self.labels[from];
            while label.parent != NOBODY {
                let own = &self.doors[label.door as usize];
                if (own.house, own.place) == (door.house, door.place) {
                    let same = self.used[label.mix as usize].lines().filter(|line| line.0 == offer);
                    sum = same.fold(sum, |sum, line| sum.saturating_add(line.1));
                }
                label = &self.labels[label.parent as usize];
            }
            sum > most
        })
    }

    /// Puts a label among the best of its bucket; false where it is not one of them, or another does as well.
    fn enter(&mut self, label: &Label, score: f64, (width, compare, is_short_of_room): (usize, bool, bool)) -> bool {
        let labels = &self.labels;
        let bucket = &mut self.buckets[label.next];
        if bucket.len() == width && bucket.last().is_some_and(|worst| worst.0 <= score) {
            return false;
        }
        if compare {
            // Where room is short, more of it is not better.
            let beats = |one: &Label, other: &Label| {
                let has_enough =
                    if is_short_of_room { one.surplus == other.surplus } else { one.surplus >= other.surplus };
                one.cost <= other.cost && has_enough && outlasts(one, other)
            };
            if bucket.iter().any(|&(_, other)| beats(&labels[other as usize], label)) {
                return false;
            }
            bucket.retain(|&(_, other)| !beats(label, &labels[other as usize]));
        }
        bucket.truncate(width - 1);
        let place = bucket.iter().position(|other| other.0 > score).unwrap_or(bucket.len());
        bucket.insert(place, (score, labels.len() as u32));
        self.labels.push(*label);
        true
    }

    /// Of the labels that cover everything, the cheapest one with what its left-over is worth.
    fn pick(&mut self, view: &View<'_, '_>, count: usize, upper: f64) -> Option<f64> {
        let material = view.material;
        let last = std::mem::take(&mut self.buckets[count]);
        let mut best_cost = upper;
        for &(hope, place) in &last {
            if hope - self.slack[0] >= best_cost {
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
        (best_cost < upper).then_some(best_cost)
    }

    /// Writes the lines of a label into the column.
    fn trace(&mut self, place: u32) {
        self.column.clear();
        let mut label = &self.labels[place as usize];
        while label.parent != NOBODY {
            let door = &self.doors[label.door as usize];
            for (offer, packs) in self.used[label.mix as usize].lines() {
                self.column.push(Line { house: door.house, place: door.place, offer, packs });
            }
            label = &self.labels[label.parent as usize];
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

/// An order as it stands.
fn door(view: &View<'_, '_>, house_place: usize, house: &House, place: usize) -> Door {
    let slot = house.slots[place];
    let (goods, weight_mg, cost) = view.books.standing(view.case, slot);
    Door {
        house: house_place,
        place,
        slot,
        supplier: house.supplier,
        arrives: view.case.slots[slot].arrives,
        longest: house.longest[place],
        goods,
        weight_mg,
        cost,
    }
}

/// What a label may come to at best: the rest at the lowest price, or what is left over credited.
fn hoped(material: &Material, label: &Label) -> f64 {
    rest(material, label.cost, label.next, material.demand_from[label.next] - label.surplus)
}

/// A cost with the least that so much more of the material costs, or with the worth of what there is too much.
fn rest(material: &Material, cost: f64, next: usize, lacking: i64) -> f64 {
    if lacking > 0 {
        // What is needed early has to come from those who can bring it by then; what is there spares the dearest of it.
        let there = (material.demand_from[next] - lacking) as f64;
        let by_day = material.tail[next] - there * material.units.get(next).copied().unwrap_or(0.0);
        cost + by_day.max(material.unit_floor() * lacking as f64)
    } else {
        cost - material.unit_worth() * (-lacking as f64).min(material.most_credited)
    }
}

/// What a mix adds to what does not fit counts as, until the first requirement that is not covered with it. What came before the mix
/// is taken to have come before its day.
fn crowding(material: &Material, shelf: &Shelf, before: &Label, (next, arrives, quantity): (usize, i32, i64)) -> f64 {
    let first = material.needs.get(before.next).map(|need| need.day);
    let came = material.demand_from[0] - material.demand_from[before.next] + before.surplus;
    let with = came.saturating_add(quantity);
    let sooner = shelf.fine(with, arrives, first) - shelf.fine(came, arrives, first);
    let later = first.map_or(0, |first| shelf.fine(with, first, material.needs.get(next).map(|need| need.day)));
    (sooner + later) as f64
}

/// True where what is left of one label lasts at least as long as what is left of the other.
fn outlasts(one: &Label, other: &Label) -> bool {
    lots::first_to_expire(&one.lots) >= lots::first_to_expire(&other.lots)
}
