//! The least that one material can cost where each order day asks for its due: bought amount by amount, each order paid for as it is
//! sent.
//!
//! Lives are left aside, and days but for one thing: before a requirement is met, only what can serve it or one before it may have been
//! bought. All that one order brings is bought at once, so what has been bought so far is all that has to be remembered, and the
//! least cost is worked out exactly. Where amounts have to be rounded, what that could add up to is taken off.

use super::candidates::{Case, House, Material, USELESS};
use super::tally::{Bundle, Levels, bundles, grain, lines};

/// So many amounts are told apart; where there are more, some are joined.
const CELLS: i64 = 4_096;

/// What one order day asks of a material.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Due {
    /// For buying there at all.
    pub fixed: f64,
    /// The share that is taken off the goods, and the most that this comes to.
    pub discount: f64,
    pub most_off: f64,
    /// For each unit that is required.
    pub charge: f64,
}

impl Due {
    /// True where nobody would rather be asked for the other.
    #[must_use]
    pub fn is_no_dearer(&self, other: &Self) -> bool {
        self.fixed <= other.fixed
            && self.discount >= other.discount
            && self.most_off >= other.most_off
            && self.charge <= other.charge
    }

    /// What both ask for together.
    #[must_use]
    pub fn and(&self, other: &Self) -> Self {
        Self {
            fixed: self.fixed + other.fixed,
            discount: self.discount + other.discount,
            most_off: self.most_off + other.most_off,
            charge: self.charge + other.charge,
        }
    }

    /// What an order comes to beside its goods.
    #[must_use]
    pub fn asked(&self, stop: &Stop) -> f64 {
        self.fixed - self.off(stop.goods) + self.charge * stop.charged
    }

    /// From so much goods on no more is taken off.
    fn enough(&self) -> f64 {
        if self.discount > 0.0 { self.most_off / self.discount } else { 0.0 }
    }

    /// What is taken off so much goods.
    pub fn off(&self, goods: f64) -> f64 {
        (self.discount * goods).min(self.most_off)
    }
}

/// An amount in cells with its landed goods, and what these come to with rounding to cells.
#[derive(Clone, Copy, Debug)]
struct Amount {
    cells: usize,
    goods: f64,
    beside: f64,
}

/// Who sells the material.
#[derive(Debug)]
struct Outlet {
    /// Its order days that can serve something, with the first requirement that they serve, in that order.
    slots: Vec<(usize, usize)>,
    /// The amounts that all others are made of.
    lines: Vec<Amount>,
    /// The useful amounts with their least goods, cheap ones first.
    amounts: Vec<Amount>,
    /// The most that one of the lines costs, and all that could be of use.
    dearest: f64,
    whole: f64,
}

impl Outlet {
    /// What an order may begin with: amounts that do not reach so much goods, and those that do and are not
    /// another such amount with a line beside it.
    fn entries(&self, enough: f64) -> (Vec<Amount>, Vec<Amount>) {
        let below = self.amounts.partition_point(|amount| amount.goods < enough);
        let near = self.amounts.partition_point(|amount| amount.goods <= enough + self.dearest);
        let before = self.amounts[..below].to_vec();
        let beyond = &self.amounts[below..near];
        let is_made_up = |amount: &Amount| {
            self.lines.iter().any(|line| {
                let lacking = amount.cells.saturating_sub(line.cells);
                let rest = beyond.get(beyond.partition_point(|rest| rest.cells < lacking));
                rest.is_some_and(|rest| {
                    rest.cells >= lacking
                        && rest.goods < amount.goods
                        && rest.goods + line.goods <= amount.goods * (1.0 + 1e-12)
                        && rest.beside + line.beside <= amount.beside + 1e-9
                })
            })
        };
        (before, beyond.iter().filter(|amount| !is_made_up(amount)).copied().collect())
    }
}

/// How an order goes on.
#[derive(Clone, Copy, Debug)]
struct Next {
    cost: f64,
    /// The way to order, in its list; [`NOBODY`] where nothing more is ordered.
    option: usize,
    /// What has been bought then, and whether the order is still open.
    cells: usize,
    is_open: bool,
    goods: f64,
    charged: f64,
}

/// No way to order.
const NOBODY: usize = usize::MAX;

/// An order of a cheapest course.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stop {
    pub house: usize,
    /// Its place among the supplier's slots.
    pub slot: usize,
    /// Landed goods.
    pub goods: f64,
    /// Units that are charged for.
    pub charged: f64,
}

/// One material.
#[derive(Debug)]
pub(super) struct Course {
    outlets: Vec<Outlet>,
    levels: Levels,
    cell: f64,
    slack: f64,
    start: f64,
    /// For each house, charge and discount a layer of amounts with an open order.
    layers: Vec<(usize, f64, f64)>,
    /// For each requirement the ways to order: layer, slot, what is asked there, and what it may begin with.
    options: Vec<Vec<(usize, u32, Due, u32)>>,
    /// What an order may begin with where something is taken off: what does not reach the end of that, and what does.
    entries: Vec<(Vec<Amount>, Vec<Amount>)>,
    /// From each amount on the least that is still to be paid, without and (layer by layer) with an open order.
    closed: Vec<f64>,
    open: Vec<f64>,
}

impl Course {
    /// Lays a material out. For each supplier it is told what share of the goods counts, and what of that is left whatever is taken off.
    pub fn new(case: &Case<'_>, material: &Material, kept: &[(f64, f64)]) -> Self {
        let wanted = material.demand_from[0] as f64 + material.most_credited;
        let grain = grain(case, material, wanted);
        let times = ((wanted / (grain as f64 * CELLS as f64)).ceil() as i64).max(1);
        let cell = grain.saturating_mul(times) as f64;
        let count = (wanted / cell).ceil() as usize;
        let own = material.houses.iter().map(|house| kept[house.supplier]);
        let (all, keep) = own.fold((1.0_f64, 1.0_f64), |least, own| (least.0.min(own.0), least.1.min(own.1)));
        let unit = material.lowest_price * all * keep * grain as f64;
        let outlet = |house: &House| {
            let served = |place: usize| {
                let slot = &case.slots[house.slots[place]];
                let serves = |need: &super::cover::Need| {
                    slot.arrives <= need.day
                        && house.through.iter().any(|days| days[place] != USELESS && days[place] >= need.through)
                };
                material.needs.iter().position(serves)
            };
            let mut slots: Vec<(usize, usize)> =
                (0..house.slots.len()).filter_map(|place| Some((place, served(place)?))).collect();
            slots.sort_by_key(|slot| slot.1);
            let scale = kept[house.supplier].0;
            let rounded = |amounts: Vec<Bundle>| {
                let scaled = |own: &Bundle| Bundle { cost: own.cost * scale, ..*own };
                let amounts: Vec<Bundle> = amounts.iter().map(scaled).collect();
                rounded(&amounts, times as usize, count, (unit, keep))
            };
            let lines = rounded(lines(case, house, grain, count * times as usize));
            let amounts = rounded(bundles(case, house, grain, count * times as usize));
            let dearest = lines.iter().map(|line| line.goods).fold(0.0, f64::max);
            let whole = amounts.last().map_or(0.0, |amount| amount.goods);
            Outlet { slots, lines, amounts, dearest, whole }
        };
        Self {
            outlets: material.houses.iter().map(outlet).collect(),
            levels: Levels::new(material, cell, count),
            cell,
            slack: if times == 1 { 0.0 } else { cell },
            start: if times == 1 { 0.0 } else { -unit * times as f64 },
            layers: Vec::new(),
            options: vec![Vec::new(); material.needs.len()],
            entries: Vec::new(),
            closed: Vec::new(),
            open: Vec::new(),
        }
    }

    /// The least, and the orders that it is bought by. `dues` tells for each house and slot what is asked there.
    pub fn least(&mut self, dues: &[Vec<Due>], stops: &mut Vec<Stop>) -> f64 {
        self.list_options(dues);
        let last = self.levels.worth.len() - 1;
        self.closed.clear();
        self.closed.resize(last + 1, f64::INFINITY);
        self.open.clear();
        self.open.resize((last + 1) * self.layers.len(), f64::INFINITY);
        let prepared: Vec<Vec<(usize, f64, f64)>> = self.layers.iter().map(|layer| self.prepared(layer)).collect();
        for cells in (0..=last).rev() {
            let mut best = -self.levels.worth[cells];
            if cells < last {
                for (layer, lines) in prepared.iter().enumerate() {
                    let first = layer * (last + 1);
                    let open = &self.open[first..=first + last];
                    let most = self.layers[layer].1 * self.levels.short[cells];
                    let mut least = f64::INFINITY;
                    for &(brought, cost, charge) in lines {
                        let cost = open[(cells + brought).min(last)] + cost + charge.min(most);
                        least = if cost < least { cost } else { least };
                    }
                    self.open[first + cells] = least;
                }
                for option in 0..self.options[self.levels.lacking[cells]].len() {
                    best = best.min(self.least_sent(cells, option));
                }
            }
            self.closed[cells] = best;
            for layer in 0..self.layers.len() {
                let open = &mut self.open[layer * (last + 1) + cells];
                *open = open.min(best);
            }
        }
        self.find_stops(stops);
        self.start + self.closed[0]
    }

    /// What the lines of a layer bring, what they cost, and what sending them does.
    fn prepared(&self, &(house, charge, discount): &(usize, f64, f64)) -> Vec<(usize, f64, f64)> {
        let lines = self.outlets[house].lines.iter();
        let sent = |line: &Amount| charge * (line.cells as f64 * self.cell - self.slack).max(0.0);
        lines.map(|line| (line.cells, line.beside - discount * line.goods, sent(line))).collect()
    }

    /// The orders of the cheapest course.
    fn find_stops(&self, stops: &mut Vec<Stop>) {
        stops.clear();
        let (mut cells, last) = (0, self.levels.worth.len() - 1);
        while cells < last {
            let options = 0..self.options[self.levels.lacking[cells]].len();
            let way = |option: usize| {
                let (layer, _, due, _) = self.options[self.levels.lacking[cells]][option];
                let sent = self.sent(cells, option);
                // An order that has no line yet gets one.
                let with_a_line = || due.fixed + self.with_a_line(cells, layer).cost;
                Next { cost: if sent.cells == cells { with_a_line() } else { sent.cost }, ..sent }
            };
            let ways = options.map(way);
            let Some(mut next) = ways.min_by(|one, other| one.cost.total_cmp(&other.cost)) else { return };
            if -self.levels.worth[cells] <= next.cost {
                return;
            }
            let (layer, slot, _, _) = self.options[self.levels.lacking[cells]][next.option];
            let mut stop =
                Stop { house: self.layers[layer].0, slot: slot as usize, goods: next.goods, charged: next.charged };
            while next.is_open && next.cells < last {
                let line = self.with_a_line(next.cells, layer);
                // Of two ways that cost the same the one with fewer orders.
                if self.closed[next.cells] < line.cost - 1e-6 && next.cells > cells {
                    break;
                }
                stop.goods += line.goods;
                stop.charged += line.charged;
                next = line;
            }
            stops.push(stop);
            cells = next.cells;
        }
    }

    /// What rounding of amounts takes off beforehand.
    #[must_use]
    pub fn start(&self) -> f64 {
        self.start
    }

    /// The least that is still to be paid once so much has been bought.
    #[must_use]
    pub fn rest(&self, amount: i64) -> f64 {
        let cells = (amount as f64 / self.cell).ceil() as usize;
        self.closed[cells.min(self.closed.len() - 1)]
    }

    /// The useful amounts of a house, with their goods.
    pub fn amounts(&self, house: usize) -> impl Iterator<Item = (i64, f64)> + '_ {
        self.outlets[house].amounts.iter().map(|amount| (amount.cells as i64 * self.cell as i64, amount.goods))
    }

    /// True where amounts are not rounded.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        self.slack == 0.0
    }

    /// For each requirement the ways to order before it is met, those left out that another makes needless.
    fn list_options(&mut self, dues: &[Vec<Due>]) {
        self.layers.clear();
        self.entries.clear();
        self.options.iter_mut().for_each(Vec::clear);
        for (house, outlet) in self.outlets.iter().enumerate() {
            let mut own: Vec<(u32, Due)> = Vec::new();
            let mut slots = outlet.slots.iter().peekable();
            let mut known: Vec<(f64, u32)> = Vec::new();
            for (need, options) in self.options.iter_mut().enumerate() {
                while let Some(slot) = slots.next_if(|slot| slot.1 <= need) {
                    add(&mut own, slot.0 as u32, dues[house][slot.0]);
                }
                for &(slot, due) in &own {
                    let enough = due.enough();
                    let is_near = outlet.whole <= enough;
                    let discount = if is_near { due.discount } else { 0.0 };
                    let same = |layer: &(usize, f64, f64)| *layer == (house, due.charge, discount);
                    let layer = self.layers.iter().position(same).unwrap_or_else(|| {
                        self.layers.push((house, due.charge, discount));
                        self.layers.len() - 1
                    });
                    let mut entry = 0;
                    if due.discount > 0.0 && !is_near {
                        let same = known.iter().find(|known| known.0 == enough).map(|known| known.1);
                        entry = same.unwrap_or_else(|| {
                            self.entries.push(outlet.entries(enough));
                            known.push((enough, self.entries.len() as u32 - 1));
                            self.entries.len() as u32 - 1
                        });
                    }
                    options.push((layer, slot, due, entry));
                }
            }
        }
    }

    /// What an order that is sent now comes to at least.
    fn least_sent(&self, cells: usize, option: usize) -> f64 {
        let (layer, _, due, entry) = self.options[self.levels.lacking[cells]][option];
        let last = self.levels.worth.len() - 1;
        let open = &self.open[layer * (last + 1)..(layer + 1) * (last + 1)];
        if due.discount <= 0.0 || self.layers[layer].2 > 0.0 {
            return due.fixed + open[cells];
        }
        if due.charge > 0.0 {
            return self.sent(cells, option).cost;
        }
        let (below, beyond) = &self.entries[entry as usize];
        let (mut first, mut second) = (f64::INFINITY, f64::INFINITY);
        for amount in below {
            let cost = amount.beside - due.discount * amount.goods + self.closed[(cells + amount.cells).min(last)];
            first = if cost < first { cost } else { first };
        }
        for amount in beyond {
            let cost = amount.beside + open[(cells + amount.cells).min(last)];
            second = if cost < second { cost } else { second };
        }
        due.fixed + first.min(second - due.most_off)
    }

    /// The least with an order that is sent now.
    fn sent(&self, cells: usize, option: usize) -> Next {
        let (layer, _, due, entry) = self.options[self.levels.lacking[cells]][option];
        let last = self.levels.worth.len() - 1;
        let open = &self.open[layer * (last + 1)..(layer + 1) * (last + 1)];
        let mut best = Next { cost: f64::INFINITY, option, cells, is_open: true, goods: 0.0, charged: 0.0 };
        if due.discount <= 0.0 || self.layers[layer].2 > 0.0 {
            best.cost = due.fixed + open[cells];
            return best;
        }
        let (below, beyond) = &self.entries[entry as usize];
        // From the end of what is taken off on each pack costs its price.
        for (amounts, after, is_open) in [(below, &self.closed[..], false), (beyond, open, true)] {
            for amount in amounts {
                let next = (cells + amount.cells).min(last);
                let mut cost = amount.beside + due.fixed - due.off(amount.goods) + after[next];
                let mut charged = 0.0;
                if due.charge > 0.0 {
                    charged = self.charged(amount.cells, cells);
                    cost += due.charge * charged;
                }
                if cost < best.cost {
                    best = Next { cost, option, cells: next, is_open, goods: amount.goods, charged };
                }
            }
        }
        best
    }

    /// The least with a line that is added to an order.
    fn with_a_line(&self, cells: usize, layer: usize) -> Next {
        let last = self.levels.worth.len() - 1;
        let (house, charge, discount) = self.layers[layer];
        let open = &self.open[layer * (last + 1)..(layer + 1) * (last + 1)];
        let mut best = Next { cost: f64::INFINITY, option: NOBODY, cells, is_open: true, goods: 0.0, charged: 0.0 };
        for line in &self.outlets[house].lines {
            let next = (cells + line.cells).min(last);
            let mut cost = open[next] + line.beside - discount * line.goods;
            let mut charged = 0.0;
            if charge > 0.0 {
                charged = self.charged(line.cells, cells);
                cost += charge * charged;
            }
            if cost < best.cost {
                best = Next { cost, cells: next, goods: line.goods, charged, ..best };
            }
        }
        best
    }

    /// For how many units of an amount sending is charged, where so much has been bought.
    fn charged(&self, amount: usize, cells: usize) -> f64 {
        (amount as f64 * self.cell - self.slack).min(self.levels.short[cells]).max(0.0)
    }
}

/// Adds a way to order unless another is as good; takes those out that it makes needless.
fn add(options: &mut Vec<(u32, Due)>, slot: u32, due: Due) {
    if options.iter().any(|other| other.1.is_no_dearer(&due)) {
        return;
    }
    options.retain(|other| !due.is_no_dearer(&other.1));
    options.push((slot, due));
}

/// The amounts in cells of so many grains. An amount counts as the whole cells below it or above it, at a price for what that is less
/// or more: over a purchase that adds up to less than a cell. Of goods so much is left whatever is taken off.
fn rounded(fine: &[Bundle], times: usize, count: usize, (unit, keep): (f64, f64)) -> Vec<Amount> {
    let mut found: Vec<Amount> = Vec::new();
    for bundle in fine {
        let (below, above) = (bundle.cells / times, bundle.cells.div_ceil(times));
        let ways = [above, below];
        for cells in ways.into_iter().take(if above == below { 1 } else { 2 }).filter(|&cells| cells > 0) {
            let rounding = ((cells * times) as f64 - bundle.cells as f64) * unit;
            found.push(Amount { cells: cells.min(count), goods: bundle.cost, beside: bundle.cost + rounding });
        }
    }
    let undercuts = |one: &Amount, other: &Amount| {
        one.cells >= other.cells
            && one.beside <= other.beside
            && one.beside - (1.0 - keep) * one.goods <= other.beside - (1.0 - keep) * other.goods
    };
    if times > 1 {
        found.sort_by(|one, other| other.cells.cmp(&one.cells).then(one.goods.total_cmp(&other.goods)));
        let mut kept: Vec<Amount> = Vec::new();
        for amount in found {
            if !kept.iter().rev().take(4).any(|other| undercuts(other, &amount)) {
                kept.push(amount);
            }
        }
        found = kept;
    }
    found.sort_by(|one, other| one.goods.total_cmp(&other.goods));
    found
}
