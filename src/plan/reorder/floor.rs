//! The least that one material can cost, from below, for each set of doors that it may be bought through: a door is a house in one
//! stretch of its order days.
//!
//! Postage, minimum orders and what other materials buy are left aside; packs, breaks, days and lives are not. The requirements
//! are gone through by day. What is bought is bought for the first requirement that it serves, from the house's latest order in
//! time for that, as late as can be. What is left of earlier packs is drawn first, unless something that expires
//! sooner is bought instead. States are dropped where another is at least as good, or where no rest could be cheap enough;
//! where there are still too many, two become one that has the better of both. All of that leaves the least cost a bound.

use super::candidates::{Case, Material, USELESS};
use super::cover::FOREVER;
use super::lots::{LOTS, Lot, draw};
use super::prices::{Door, Offs, Prices};
use super::tally::Tally;
use super::totals::Totals;
use crate::plan::money::Price;

/// How many states are kept for each requirement of a material that makes up as much as the others do.
const STATES: f64 = 24.0;
/// The same for materials with many requirements.
const FEW_STATES: f64 = 10.0;
/// More numbers of packs than this are taken in steps.
const COUNTS: i64 = 64;

/// An offer as the bound sees it.
#[derive(Clone, Debug)]
struct Sold {
    door: usize,
    /// The place in the problem's offers.
    offer: usize,
    quantity: i64,
    /// What sending a unit costs, as far as it is required.
    charge: f64,
    /// Packs and the lowest landed price of one pack where so many are bought.
    breaks: Vec<(i64, f64)>,
    /// What is taken off that.
    offs: Offs,
    /// The least that a unit can cost.
    unit: f64,
    /// For each requirement the last day of what is bought for it, or [`USELESS`].
    through: Vec<i32>,
    /// For each requirement the last day of what is bought for it or for one before it.
    longest: Vec<i32>,
}

/// How far one material is looked into.
#[derive(Clone, Copy, Debug)]
pub(super) struct Effort {
    /// How many lines are tried at the most before a coarser bound has to do.
    lines: u32,
    /// How many amounts are told apart where days are left aside.
    amounts: usize,
    /// How many amounts are told apart where all that comes through a door is bought at once.
    cells: i64,
    /// How many times as many states as usual are told apart.
    states: f64,
}

impl Effort {
    /// A look at the amounts alone.
    pub const QUICK: Self = Self { lines: 0, amounts: 24, cells: 150, states: 1.0 };

    /// The more materials, the less time there is for each; few materials are wanted in the time of a keystroke. One that makes
    /// up more of what is bought is looked into more closely.
    #[must_use]
    pub fn of(case: &Case<'_>, material: &Material) -> Self {
        let count = case.materials.len();
        let (lines, amounts, cells) = match count {
            0..=60 => (1_500.0, 400.0, 1_200),
            61..=200 => (3_000.0, 96.0, 600),
            _ => (1_500.0, 96.0, 600),
        };
        let cost = |material: &Material| material.lowest_price * material.demand_from[0] as f64;
        let all: f64 = case.materials.iter().map(cost).sum();
        let times = cost(material) * count as f64 / all.max(1.0);
        let scaled = |least: f64, most: f64| times.clamp(least, most);
        Self {
            lines: (lines * scaled(0.4, 4.0)) as u32,
            amounts: (amounts * scaled(0.4, 2.5)) as usize,
            cells,
            states: scaled(0.7, 2.0),
        }
    }
}

/// What has been bought up to a requirement, and through which doors.
#[derive(Clone, Copy, Debug)]
struct State {
    cost: f64,
    used: u64,
    /// Those that take nothing off any more.
    spent: u64,
    lots: [Lot; LOTS],
}

/// The least that a material can cost, and the doors that this makes use of.
#[derive(Clone, Copy, Debug)]
pub(super) struct Least {
    /// In home minor units.
    pub cost: f64,
    /// As bits.
    pub used: u64,
}

impl Least {
    /// Nothing is known.
    pub const NOTHING: Self = Self { cost: f64::NEG_INFINITY, used: 0 };
    /// It cannot be done.
    pub const NEVER: Self = Self { cost: f64::INFINITY, used: 0 };

    /// The lower of two.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        if other.cost < self.cost { other } else { self }
    }
}

/// The figures of one material.
#[derive(Debug)]
pub(super) struct Floor<'a> {
    material: &'a Material,
    sold: Vec<Sold>,
    totals: Totals,
    /// The same, exactly where amounts need no rounding.
    tally: Tally,
    /// What work that had taken before it was last asked.
    before: u64,
    /// The least that all doors allow.
    all: Least,
    /// The lowest price of a unit, of the doors that are looked at.
    unit: f64,
    /// For each requirement the lowest price of a unit that could serve it or one before it, and what all from it on cost at
    /// those prices.
    units: Vec<f64>,
    tail: Vec<f64>,
    /// For each requirement the lowest price of a unit that could serve it, and what all from it on cost at those prices.
    own_units: Vec<f64>,
    own_tail: Vec<f64>,
    end: i32,
    /// For each requirement the offers that may be bought for it, where no other does as well: places in `sold`.
    able: Vec<Vec<u32>>,
    states: usize,
    upper: f64,
    next: Vec<State>,
    whole: bool,
    effort: Effort,
    /// Lines that may still be tried, and what those that were not could come to.
    work: u32,
    unknown: f64,
    /// True where all doors together could be looked at to the end.
    is_clear: bool,
}

impl<'a> Floor<'a> {
    /// Lays a material out.
    #[must_use]
    pub fn new(case: &Case<'_>, material: &'a Material, prices: &Prices, doors: &[Door], effort: Effort) -> Self {
        let mut floor = Self::laid_out(case, material, prices, doors, effort);
        floor.all = floor.least_of(u64::MAX);
        floor.is_clear &= floor.work > 0;
        floor
    }

    fn laid_out(case: &Case<'_>, material: &'a Material, prices: &Prices, doors: &[Door], effort: Effort) -> Self {
        let count = material.needs.len();
        Self {
            material,
            sold: sold(case, material, prices, doors),
            totals: Totals::new(case, material, prices, doors),
            before: 0,
            tally: Tally::new(case, material, prices, doors, effort.cells),
            all: Least::NOTHING,
            unit: 0.0,
            units: vec![f64::INFINITY; count],
            tail: vec![0.0; count + 1],
            own_units: vec![f64::INFINITY; count],
            own_tail: vec![0.0; count + 1],
            end: material.rule.end,
            able: vec![Vec::new(); count],
            states: (effort.states * if count > 12 { FEW_STATES } else { STATES }) as usize,
            upper: 0.0,
            next: Vec::new(),
            whole: true,
            effort,
            work: 0,
            unknown: 0.0,
            is_clear: effort.lines > 0,
        }
    }

    /// How much work it took when it was last asked, in lines that were tried.
    #[must_use]
    pub fn lines(&self) -> u64 {
        u64::from(self.effort.lines.saturating_sub(self.work)) + self.tally.lines() - self.before
    }

    /// The least with all doors.
    #[must_use]
    pub fn all(&self) -> Least {
        self.all
    }

    /// The least with some of the doors, given as bits; infinite where they cannot serve everything.
    #[must_use]
    pub fn least_of(&mut self, doors: u64) -> Least {
        let known = self.tally.is_exact || self.material.lasts;
        let totals = if known { Least::NOTHING } else { self.totals.least_of(doors, self.effort.amounts) };
        self.before = if self.all.cost.is_finite() { self.tally.lines() } else { 0 };
        let tally = self.tally.least_of(doors);
        let totals = if tally.cost >= totals.cost { tally } else { totals };
        let coarse = Least { cost: totals.cost.max(self.all.cost), used: totals.used };
        self.work = self.effort.lines;
        if !self.is_clear || coarse.cost.is_infinite() || known && self.material.lasts {
            return coarse;
        }
        self.look_at(doors);
        let close = self.closely();
        let used = if close.cost >= totals.cost { close.used } else { totals.used };
        Least { cost: close.cost.max(coarse.cost), used }
    }

    fn look_at(&mut self, doors: u64) {
        let allowed = self.sold.iter().filter(|sold| doors & bit(sold.door) != 0);
        let unit = |sold: &Sold| sold.unit;
        self.unit = allowed.clone().map(unit).fold(f64::INFINITY, f64::min);
        let mut lowest = f64::INFINITY;
        for (place, need) in self.material.needs.iter().enumerate() {
            let able = |sold: &&Sold| sold.longest[place] != USELESS && sold.longest[place] >= need.through;
            let own = allowed.clone().filter(able);
            lowest = own.clone().map(|sold| unit(sold) + sold.charge).fold(lowest, f64::min);
            self.units[place] = lowest;
            // Where something expires unused, not all that is bought for a requirement is charged.
            self.own_units[place] = own.map(unit).fold(f64::INFINITY, f64::min);
        }
        for (place, need) in self.material.needs.iter().enumerate().rev() {
            self.tail[place] = self.tail[place + 1] + need.quantity as f64 * self.units[place];
            self.own_tail[place] = self.own_tail[place + 1] + need.quantity as f64 * self.own_units[place];
        }
        for (need, able) in self.able.iter_mut().enumerate() {
            let through = self.material.needs[need].through;
            able.clear();
            for (place, sold) in self.sold.iter().enumerate() {
                let lasts = sold.through[need] != USELESS && sold.through[need] >= through;
                // What is ordered later lasts longer, and the same offers stand one after the other, later ones last. Where something
                // is taken off up to an end, each door has its own.
                let later = self.sold[place + 1..].iter().take_while(|other| other.offer == sold.offer);
                let same = |other: &Sold| doors & bit(other.door) != 0 && other.is_no_dearer(sold);
                if doors & bit(sold.door) != 0
                    && lasts
                    && !later.clone().any(|other| same(other) && other.through[need] >= sold.through[need])
                {
                    able.push(place as u32);
                }
            }
        }
    }

    /// The least that the last so many units of what is required from a requirement on can cost.
    fn lacking(&self, need: usize, amount: i64) -> f64 {
        if amount <= 0 {
            return 0.0;
        }
        let demand = &self.material.demand_from;
        let mut first = need;
        while demand[first] > amount {
            first += 1;
        }
        match amount - demand[first] {
            0 => self.tail[first],
            part => self.tail[first] + part as f64 * self.units[first.saturating_sub(1)],
        }
    }

    /// What a cost comes to at best where so much is still lacking (or, below 0, left over) from a requirement on.
    fn rest(&self, need: usize, cost: f64, lacking: i64) -> f64 {
        let (cap, credit) = (self.material.most_credited, self.material.unit_credit);
        let credited = (-lacking as f64).clamp(0.0, cap);
        let gain = (credit - self.unit).max(0.0) * (cap - credited);
        cost + self.lacking(need, lacking) - credit * credited - gain
    }

    /// What a state before a requirement comes to at best.
    fn hope(&self, need: usize, cost: f64, lots: &[Lot; LOTS]) -> f64 {
        let left: i64 = lots.iter().map(|lot| lot.quantity).sum();
        let plain = self.rest(need, cost, self.material.demand_from[need] - left);
        if plain >= self.upper || self.material.lasts {
            return plain;
        }
        plain.max(self.rest_by_life(need, cost, lots))
    }

    /// As [`Self::rest`], each requirement at the price of those who could serve it: what is left spares only those
    /// requirements that it lasts through.
    fn rest_by_life(&self, need: usize, cost: f64, lots: &[Lot; LOTS]) -> f64 {
        let (cap, credit) = (self.material.most_credited, self.material.unit_credit);
        let left = lots.iter().map(|lot| lot.quantity).sum::<i64>() as f64;
        let (mut spared, mut dearest) = (0.0, credit);
        if left > 0.0 {
            for (need, unit) in self.material.needs[need..].iter().zip(&self.own_units[need..]) {
                let able = lasting(lots, need.through).min(need.quantity);
                if able > 0 {
                    spared += able as f64 * unit;
                    dearest = dearest.max(*unit);
                }
            }
        }
        let saved = (spared + credit * left.min(cap)).min(dearest * left);
        // What nobody can serve any more is infinite, with what is spared of it: then this says nothing.
        let rest = cost + self.own_tail[need] - saved - (credit - self.unit).max(0.0) * cap;
        if rest.is_finite() { rest } else { f64::NEG_INFINITY }
    }

    /// The least with days and lives looked at. A first look with very few states tells what is too dear.
    fn closely(&mut self) -> Least {
        (self.upper, self.whole, self.work) = (f64::INFINITY, true, u32::MAX);
        let quick = self.run(3, false);
        if quick.cost.is_infinite() {
            return quick;
        }
        // A hair more, so that what is as cheap is not taken for dearer.
        (self.upper, self.whole, self.work) = (quick.cost + 1e-9 * quick.cost.abs() + 1e-9, false, self.effort.lines);
        self.unknown = f64::INFINITY;
        let found = self.run(self.states, true).min(quick);
        found.min(Least { cost: self.unknown, used: found.used })
    }

    /// One run; `together` joins the states that are too many, else they are dropped.
    fn run(&mut self, states: usize, together: bool) -> Least {
        let count = self.material.needs.len();
        let mut now = vec![State { cost: 0.0, used: 0, spent: 0, lots: [Lot::default(); LOTS] }];
        for need in 0..count {
            self.next.clear();
            for state in now.drain(..) {
                self.buy(need, 0, state);
            }
            self.thin(need + 1, states, together);
            std::mem::swap(&mut now, &mut self.next);
        }
        let worth = |state: &State| {
            let useful = state.lots.iter().filter(|lot| lot.through > self.end);
            let cost = self.rest(count, state.cost, -useful.map(|lot| lot.quantity).sum::<i64>());
            Least { cost, used: state.used }
        };
        now.iter().map(worth).fold(Least::NEVER, Least::min)
    }

    /// Tries every line of the able offers from `offer` on that is bought for a requirement, and then draws what that takes.
    fn buy(&mut self, need: usize, offer: usize, state: State) {
        let wanted = &self.material.needs[need];
        let there = state.lots.iter().filter(|lot| lot.through >= wanted.through).map(|lot| lot.quantity).sum::<i64>();
        let short = wanted.quantity - there;
        if short <= 0 {
            let mut after = state;
            if draw(&mut after.lots, wanted.quantity, wanted.through) == 0 {
                self.next.push(after);
            }
        }
        let longest = state.lots.iter().filter(|lot| lot.quantity > 0).map(|lot| lot.through).max();
        for place in offer..self.able[need].len() {
            let sold = &self.sold[self.able[need][place] as usize];
            let through = if self.material.lasts { FOREVER } else { sold.through[need] };
            let sooner = longest.is_some_and(|longest| through < longest);
            let needed = short > 0 || sooner && !self.whole;
            if !needed {
                continue;
            }
            let held: i64 = state.lots.iter().map(|lot| lot.quantity).sum();
            let open = self.material.demand_from[need] - if self.material.lasts { held } else { 0 };
            let most = (open.max(short).max(1) as f64 + self.material.most_credited) / sold.quantity as f64;
            let most = most.ceil() as i64;
            let breaks: Vec<i64> = sold.breaks.iter().map(|entry| entry.0).filter(|&from| from > most).collect();
            // A quick look buys what is short in one line.
            let mut packs = if self.whole { ceiling(short, sold.quantity).max(1) } else { 1 };
            while packs <= most {
                // Of a step the price of its first, and what its last brings.
                let step = (packs / COUNTS).max(1);
                self.take(need, place, state, (packs, packs + step - 1), through);
                packs += step;
            }
            for from in breaks {
                self.take(need, place, state, (from, from), through);
            }
        }
    }

    /// Buys so many packs of one offer, priced as the first number and bringing as much as the second.
    fn take(&mut self, need: usize, place: usize, mut state: State, (paid, brought): (i64, i64), through: i32) {
        let sold = &self.sold[self.able[need][place] as usize];
        let lowest = sold.breaks.first().map_or(1, |lowest| lowest.0);
        if brought < lowest {
            return;
        }
        let held: i64 = state.lots.iter().map(|lot| lot.quantity).sum();
        state.used |= bit(sold.door);
        let goods = paid.max(lowest) as f64 * sold.price(brought);
        let (left, is_spent) = sold.offs.left(goods, state.spent & bit(sold.door) != 0);
        state.spent |= if is_spent { bit(sold.door) } else { 0 };
        state.cost += left;
        state.cost += sold.charged(paid.max(lowest), self.material.demand_from[need] - held);
        put(&mut state.lots, through, sold.quantity.saturating_mul(brought));
        let hope = self.hope(need, state.cost, &state.lots);
        if hope >= self.upper {
            return;
        }
        if self.work == 0 {
            self.unknown = self.unknown.min(hope);
            return;
        }
        self.work -= 1;
        self.buy(need, place + 1, state);
    }

    /// Leaves the states that may lead to the least cost, and no more than so many.
    fn thin(&mut self, need: usize, states: usize, together: bool) {
        let mut found = std::mem::take(&mut self.next);
        let mut hoped: Vec<(f64, State)> =
            found.drain(..).map(|state| (self.hope(need, state.cost, &state.lots), state)).collect();
        hoped.retain(|entry| entry.0 < self.upper);
        hoped.sort_by(|one, other| one.0.total_cmp(&other.0));
        let mut kept: Vec<State> = found;
        for (_, state) in hoped {
            if kept.len() == states && !together {
                break;
            }
            if !kept.iter().any(|other| at_least_as_good(other, &state)) {
                kept.push(state);
            }
        }
        if kept.len() > states {
            self.join(need, states, &mut kept);
        }
        self.next = kept;
    }

    /// Joins states that have nearly as much left, those first that lose the least by it, until there are no more than so many.
    fn join(&self, need: usize, states: usize, kept: &mut Vec<State>) {
        let left = |state: &State| state.lots.iter().map(|lot| lot.quantity).sum::<i64>();
        kept.sort_by(|one, other| left(one).cmp(&left(other)).then(one.cost.total_cmp(&other.cost)));
        let hope = |state: &State| self.hope(need, state.cost, &state.lots);
        let loss = |one: &State, other: &State| hope(one).min(hope(other)) - hope(&better_of_both(one, other));
        let mut losses: Vec<f64> = kept.windows(2).map(|pair| loss(&pair[0], &pair[1])).collect();
        while kept.len() > states {
            let least = losses.iter().enumerate().min_by(|one, other| one.1.total_cmp(other.1));
            let Some((place, _)) = least else { return };
            kept[place] = better_of_both(&kept[place], &kept[place + 1]);
            kept.remove(place + 1);
            losses.remove(place);
            if place > 0 {
                losses[place - 1] = loss(&kept[place - 1], &kept[place]);
            }
            if place + 1 < kept.len() {
                losses[place] = loss(&kept[place], &kept[place + 1]);
            }
        }
    }
}

/// The offers behind each door, by the last slot of each part of its stretch that has a price of its own.
fn sold(case: &Case<'_>, material: &Material, prices: &Prices, doors: &[Door]) -> Vec<Sold> {
    let mut found = Vec::new();
    for (place, house) in material.houses.iter().enumerate() {
        let own = || doors.iter().enumerate().filter(|own| own.1.house == place);
        for (&offer, days) in house.offers.iter().zip(&house.through) {
            for (door, stretch) in own() {
                let early = prices.early.iter().filter(|early| early.supplier == house.supplier);
                let inner = early.map(|early| early.place).filter(|&end| stretch.first <= end && end < stretch.last);
                let mut ends: Vec<usize> = inner.chain(std::iter::once(stretch.last)).collect();
                ends.sort_unstable();
                ends.dedup();
                for end in ends {
                    let pack = &case.problem.offers[offer];
                    let latest = |latest: &Option<usize>| {
                        let places = latest.map_or(0..0, |latest| stretch.first..latest.min(end) + 1);
                        places.rev().map(|place| days[place]).find(|&day| day != USELESS).unwrap_or(USELESS)
                    };
                    let through: Vec<i32> = house.latest.iter().map(latest).collect();
                    let longest = through.iter().scan(USELESS, |last, &through| {
                        *last = (*last).max(through);
                        Some(*last)
                    });
                    let longest = longest.collect();
                    let breaks = lowest_from(&pack.breaks, case.landed(house.supplier));
                    let (charge, offs) = (prices.charge(pack, end), prices.offs(house.supplier, end));
                    let quantity = pack.quantity.0;
                    let unit = breaks.last().map_or(0.0, |last| last.1) * offs.least() / quantity as f64;
                    found.push(Sold { door, offer, quantity, charge, breaks, offs, unit, through, longest });
                }
            }
        }
    }
    found
}

/// Packs and the lowest price of one pack where so many are bought.
pub(super) fn lowest_from(breaks: &[(i64, Price)], factor: f64) -> Vec<(i64, f64)> {
    let mut lowest = f64::INFINITY;
    let own = breaks.iter().map(|&(from, price)| {
        lowest = lowest.min(price.minor as f64 * factor);
        (from.max(1), lowest)
    });
    own.collect()
}

impl Sold {
    /// True where the same offer through another door makes this one needless.
    fn is_no_dearer(&self, other: &Self) -> bool {
        self.offs.are_plain() && self.offs == other.offs && self.charge <= other.charge
    }

    /// What sending so many packs costs, where so much is still required beyond what is there.
    fn charged(&self, packs: i64, required: i64) -> f64 {
        self.charge * self.quantity.saturating_mul(packs).min(required).max(0) as f64
    }

    /// The lowest price of a pack where so many are bought.
    fn price(&self, packs: i64) -> f64 {
        self.breaks.iter().rev().find(|entry| entry.0 <= packs).map_or(f64::INFINITY, |entry| entry.1)
    }
}

/// `amount / size`, rounded up.
fn ceiling(amount: i64, size: i64) -> i64 {
    -(-amount).div_euclid(size)
}

/// The bit of a door.
pub(super) fn bit(door: usize) -> u64 {
    1_u64.checked_shl(u32::try_from(door).unwrap_or(u32::MAX)).unwrap_or(1 << 63)
}

/// Puts a lot among the others, by expiry; where there are too many, the two that expire last become one that expires with the later.
pub(super) fn put(lots: &mut [Lot; LOTS], through: i32, quantity: i64) {
    if let Some(same) = lots.iter_mut().find(|lot| lot.quantity > 0 && lot.through == through) {
        same.quantity = same.quantity.saturating_add(quantity);
        return;
    }
    let mut all = [Lot::default(); LOTS + 1];
    let mut count = 0;
    for lot in lots.iter().filter(|lot| lot.quantity > 0) {
        all[count] = *lot;
        count += 1;
    }
    all[count] = Lot { arrives: 0, through, quantity };
    count += 1;
    all[..count].sort_by_key(|lot| lot.through);
    if count > LOTS {
        all[LOTS - 1] = Lot { quantity: all[LOTS - 1].quantity.saturating_add(all[LOTS].quantity), ..all[LOTS] };
    }
    lots.copy_from_slice(&all[..LOTS]);
}

/// How much of the lots lasts through a day.
pub(super) fn lasting(lots: &[Lot; LOTS], day: i32) -> i64 {
    lots.iter().filter(|lot| lot.through >= day).map(|lot| lot.quantity).sum()
}

/// True where one state costs no more and has as much left for every day.
fn at_least_as_good(one: &State, other: &State) -> bool {
    let days = other.lots.iter().filter(|lot| lot.quantity > 0).map(|lot| lot.through);
    let spares = one.spent & !other.spent == 0;
    spares && one.cost <= other.cost && days.into_iter().all(|day| lasting(&one.lots, day) >= lasting(&other.lots, day))
}

/// The lower cost, the larger left-over, the longer life.
fn better_of_both(one: &State, other: &State) -> State {
    let total = |state: &State| state.lots.iter().map(|lot| lot.quantity).sum::<i64>();
    let last = |state: &State| state.lots.iter().filter(|lot| lot.quantity > 0).map(|lot| lot.through).max();
    let mut lots = [Lot::default(); LOTS];
    let through = last(one).max(last(other)).unwrap_or(FOREVER);
    lots[0] = Lot { arrives: 0, through, quantity: total(one).max(total(other)) };
    let used = if one.cost <= other.cost { one.used } else { other.used };
    State { cost: one.cost.min(other.cost), used, spent: one.spent & other.spent, lots }
}
