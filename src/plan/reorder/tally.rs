//! The least that one material can cost by its amounts, for each set of doors that it may be bought through.
//!
//! Lives are left aside, and days but for one thing: before a requirement is met, only what can serve it or one before it may have been
//! bought. All that comes through one door is bought at once, for the first requirement that any of it serves: so what has been
//! bought so far is all that has to be remembered, and for every amount the least cost is worked out exactly. Where amounts have to be
//! rounded, what that could add up to is taken off.

use super::candidates::{Case, House, Material, USELESS};
use super::cover::Need;
use super::floor::{Least, bit, lowest_from};
use super::prices::{Door, Offs, Prices};

/// So many amounts are told apart; where there are more, packs are taken for bigger than they are.
const GRAINS: i64 = 16_384;
/// Of so many doors it is remembered that they take nothing off any more.
const LAYERS: usize = 2;
/// So many times as many amounts are told apart where nothing has an end.
const FINER: i64 = 8;
/// So many additions take as long as trying a line does.
const FOR_A_LINE: u64 = 32;

/// An amount in cells, and what it costs at least.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bundle {
    /// In cells.
    pub cells: usize,
    /// In home minor units.
    pub cost: f64,
}

/// A door with its prices.
#[derive(Clone, Debug)]
struct Way {
    door: usize,
    house: usize,
    offs: Offs,
    /// What sending a unit costs, as far as it is required.
    charge: f64,
    /// The useful amounts, cheap ones first.
    bundles: Vec<Bundle>,
    /// Where what is taken off has an end, the layer in which all of it has been, and what the amounts cost then.
    spent: Option<(usize, Vec<Bundle>)>,
    /// The first requirement that it can serve.
    from: usize,
}

impl Way {
    /// True where this one makes another needless.
    fn does_as_well(&self, other: &Self) -> bool {
        self.house == other.house && self.offs == other.offs && self.charge == other.charge && self.from <= other.from
    }
}

/// What amounts come to, cell by cell.
#[derive(Debug)]
pub(super) struct Levels {
    /// For each amount the requirement that it does not meet any more.
    pub lacking: Vec<usize>,
    /// For each amount how much of what is required it lacks, and what its left-over is worth.
    pub short: Vec<f64>,
    /// Less than nothing where something is lacking.
    pub worth: Vec<f64>,
}

impl Levels {
    /// Those of a material, up to so many cells of a size.
    pub fn new(material: &Material, cell: f64, count: usize) -> Self {
        let demand = material.demand_from[0];
        let last = material.needs.len() - 1;
        let mut levels = Self { lacking: Vec::new(), short: Vec::new(), worth: Vec::new() };
        for cells in 0..=count {
            let amount = cells as f64 * cell;
            let is_met = |need: usize| (demand - material.demand_from[need + 1]) as f64 <= amount;
            let first = levels.lacking.last().copied().unwrap_or(0);
            levels.lacking.push((first..last).find(|&need| !is_met(need)).unwrap_or(last));
            levels.short.push((demand as f64 - amount).max(0.0));
            let left_over = (amount - demand as f64).clamp(0.0, material.most_credited);
            levels.worth.push(if amount >= demand as f64 {
                material.unit_credit * left_over
            } else {
                f64::NEG_INFINITY
            });
        }
        levels
    }
}

/// One material.
#[derive(Debug)]
pub(super) struct Tally {
    ways: Vec<Way>,
    levels: Levels,
    /// For each amount the least that the rest costs through all doors.
    rest: Vec<f64>,
    /// Units in a cell, and how much of a purchase rounding could make up.
    cell: f64,
    slack: f64,
    /// Below 0 by what rounding to cells could add to a purchase in all.
    start: f64,
    layers: usize,
    spent: Vec<f64>,
    used: Vec<u64>,
    additions: u64,
    /// True where nothing was rounded.
    pub is_exact: bool,
}

impl Tally {
    /// Lays a material out. So many amounts are told apart where all that comes through a door is bought at once.
    #[must_use]
    pub fn new(case: &Case<'_>, material: &Material, prices: &Prices, doors: &[Door], cells: i64) -> Self {
        let wanted = material.demand_from[0] as f64 + material.most_credited;
        let grain = grain(case, material, wanted);
        let ends = |door: &Door| {
            let supplier = material.houses[door.house].supplier;
            prices.offs(supplier, door.first).left(material.lowest_price * wanted, false).1
        };
        let cells = if doors.iter().any(ends) { cells } else { cells * FINER };
        let times = ((wanted / (grain as f64 * cells as f64)).ceil() as i64).max(1);
        let cell = grain.saturating_mul(times) as f64;
        let count = (wanted / cell).ceil() as usize;
        let mut tally = Self {
            ways: Vec::new(),
            levels: Levels::new(material, cell, count),
            rest: Vec::new(),
            cell,
            slack: if times == 1 { 0.0 } else { cell },
            start: if times == 1 { 0.0 } else { -material.lowest_price * cell },
            layers: 0,
            spent: Vec::new(),
            used: Vec::new(),
            additions: 0,
            is_exact: times == 1,
        };
        tally.lay_out_doors(case, material, prices, doors, (grain, times as usize));
        tally.work_out_rest();
        tally
    }

    fn lay_out_doors(
        &mut self,
        case: &Case<'_>,
        material: &Material,
        prices: &Prices,
        doors: &[Door],
        (grain, times): (i64, usize),
    ) {
        let count = self.levels.worth.len() - 1;
        let unit = material.lowest_price * grain as f64;
        for (place, door) in doors.iter().enumerate() {
            let house = &material.houses[door.house];
            let Some(from) = first_served(case, material, house, door) else { continue };
            let offs = prices.offs(house.supplier, door.first);
            let packs = house.offers.iter().map(|&offer| &case.problem.offers[offer]);
            let charge = packs.map(|pack| prices.charge(pack, door.first)).fold(f64::INFINITY, f64::min);
            let wanted = (grain as f64 * (count * times) as f64) * material.lowest_price;
            let ends = offs.left(wanted, false).1;
            let laid_out = if ends { bundles } else { lines };
            let amounts = laid_out(case, house, grain, count * times);
            let priced = |is_spent: bool| {
                let left = |bundle: &Bundle| Bundle { cost: offs.left(bundle.cost, is_spent).0, ..*bundle };
                let found: Vec<Bundle> = amounts.iter().map(left).collect();
                if times == 1 { found } else { rounded(&found, times, count, unit) }
            };
            let spent = (ends && self.layers < LAYERS).then(|| (self.layers, priced(true)));
            self.layers += usize::from(spent.is_some());
            self.ways.push(Way { door: place, house: door.house, charge, bundles: priced(false), spent, from, offs });
        }
    }

    fn work_out_rest(&mut self) {
        let last = self.levels.worth.len() - 1;
        let most = self.levels.worth[last].max(0.0);
        self.rest = vec![f64::INFINITY; last + 1];
        self.rest[last] = -self.levels.worth[last];
        // Through a door that opens no later at the same prices all can be bought that another one brings.
        let is_needless = |place: usize, way: &Way| self.ways[..place].iter().any(|other| other.does_as_well(way));
        let ways = self.ways.iter().enumerate().filter(|(place, way)| !is_needless(*place, way));
        let ways: Vec<&Way> = ways.map(|entry| entry.1).collect();
        for cells in (0..last).rev() {
            let mut least = -self.levels.worth[cells];
            for way in ways.iter().filter(|way| way.from <= self.levels.lacking[cells]) {
                for bundle in &way.bundles {
                    self.additions += 1;
                    if bundle.cost - most >= least {
                        break;
                    }
                    let next = (cells + bundle.cells).min(last);
                    least = least.min(bundle.cost + self.charged(way, bundle, cells) + self.rest[next]);
                }
            }
            self.rest[cells] = least;
        }
    }

    /// What sending a bundle costs, where so much has been bought.
    fn charged(&self, way: &Way, bundle: &Bundle, cells: usize) -> f64 {
        if way.charge == 0.0 {
            return 0.0;
        }
        let brought = bundle.cells as f64 * self.cell - self.slack;
        way.charge * brought.min(self.levels.short[cells]).max(0.0)
    }

    /// The least with some of the doors, given as bits; infinite where they cannot serve everything.
    #[must_use]
    pub fn least_of(&mut self, doors: u64) -> Least {
        // A narrow look first: what may come to much more than with all doors is seldom needed.
        let lowest = self.start + self.rest[0];
        for times in [0.02, 0.2] {
            let found = self.run(doors, lowest + times * lowest.abs() + 1.0);
            if found.cost.is_finite() {
                return found;
            }
        }
        self.run(doors, f64::INFINITY)
    }

    /// How much work all that took, in lines of packs that could have been tried instead.
    #[must_use]
    pub fn lines(&self) -> u64 {
        self.additions / FOR_A_LINE
    }

    /// The least below a limit.
    fn run(&mut self, doors: u64, mut upper: f64) -> Least {
        let last = self.levels.worth.len() - 1;
        let most = self.levels.worth[last].max(0.0);
        let layers = 1_usize << self.layers;
        self.spent.clear();
        self.spent.resize((last + 1) * layers, f64::INFINITY);
        self.used.resize((last + 1) * layers, 0);
        (self.spent[0], self.used[0]) = (self.start, 0);
        let mut best = Least::NEVER;
        // Through a door that opens no later at the same prices all can be bought that another one brings.
        let mut ways: Vec<&Way> = Vec::new();
        for way in self.ways.iter().filter(|way| doors & bit(way.door) != 0) {
            if way.spent.is_some() || !ways.iter().any(|other| other.spent.is_none() && other.does_as_well(way)) {
                ways.push(way);
            }
        }
        for cells in 0..=last {
            for layer in 0..layers {
                let (so_far, used) = (self.spent[cells * layers + layer], self.used[cells * layers + layer]);
                if so_far + self.rest[cells] >= upper {
                    continue;
                }
                if so_far - self.levels.worth[cells] < upper {
                    upper = so_far - self.levels.worth[cells];
                    best = Least { cost: upper, used };
                }
                if cells == last {
                    continue;
                }
                for way in ways.iter().filter(|way| way.from <= self.levels.lacking[cells]) {
                    let spent = way.spent.as_ref().filter(|spent| layer & 1 << spent.0 != 0);
                    let bundles = spent.map_or(&way.bundles, |spent| &spent.1);
                    for bundle in bundles {
                        self.additions += 1;
                        let next = (cells + bundle.cells).min(last);
                        let cost = so_far + bundle.cost;
                        if cost - most >= upper {
                            break;
                        }
                        let cost = cost + self.charged(way, bundle, cells);
                        let ends = way.spent.as_ref().map_or(0, |spent| 1 << spent.0);
                        let place = next * layers + (layer | ends);
                        if cost < self.spent[place] && cost + self.rest[next] < upper {
                            self.spent[place] = cost;
                            self.used[place] = used | bit(way.door);
                        }
                    }
                }
            }
        }
        best
    }
}

/// The units that all packs are made of; more where so much is wanted that there would be too many amounts.
pub(super) fn grain(case: &Case<'_>, material: &Material, wanted: f64) -> i64 {
    let offers = material.houses.iter().flat_map(|house| &house.offers);
    let common = offers.fold(0, |common, &offer| divisor(common, case.problem.offers[offer].quantity.0)).max(1);
    common.saturating_mul(((wanted / (common as f64 * GRAINS as f64)).ceil() as i64).max(1))
}

/// The greatest common divisor.
fn divisor(mut one: i64, mut other: i64) -> i64 {
    while other != 0 {
        (one, other) = (other, one % other);
    }
    one
}

/// The first requirement that something from a door can serve.
fn first_served(case: &Case<'_>, material: &Material, house: &House, door: &Door) -> Option<usize> {
    let serves = |need: &Need| {
        (door.first..=door.last).any(|place| {
            case.slots[house.slots[place]].arrives <= need.day
                && house.through.iter().any(|days| days[place] != USELESS && days[place] >= need.through)
        })
    };
    material.needs.iter().position(serves)
}

/// The amounts of a house that all others are made of, cheap ones first: numbers of packs up to the last break, and from there on as many
/// again.
pub(super) fn lines(case: &Case<'_>, house: &House, grain: i64, count: usize) -> Vec<Bundle> {
    let mut least = vec![f64::INFINITY; count + 1];
    for &offer in &house.offers {
        let pack = &case.problem.offers[offer];
        let breaks = lowest_from(&pack.breaks, case.landed(house.supplier));
        let (Some(first), Some(last)) = (breaks.first(), breaks.last()) else { continue };
        for packs in first.0..last.0.saturating_mul(2) {
            let price = breaks.iter().rev().find(|entry| entry.0 <= packs).map_or(f64::INFINITY, |entry| entry.1);
            let cells = filled(pack.quantity.0, packs, grain, count);
            least[cells] = least[cells].min(packs as f64 * price);
            if cells == count && packs >= last.0 {
                break;
            }
        }
    }
    useful(&least)
}

/// How many cells so many packs fill, rounded up, and no more than so many.
fn filled(size: i64, packs: i64, cell: i64, most: usize) -> usize {
    let cells = (i128::from(size) * i128::from(packs) + i128::from(cell) - 1) / i128::from(cell);
    cells.min(most as i128) as usize
}

/// The useful amounts of a house, cheap ones first, with the least that they cost before anything is taken off.
pub(super) fn bundles(case: &Case<'_>, house: &House, cell: i64, count: usize) -> Vec<Bundle> {
    let mut least = vec![f64::INFINITY; count + 1];
    least[0] = 0.0;
    for &offer in &house.offers {
        let pack = &case.problem.offers[offer];
        let breaks = lowest_from(&pack.breaks, case.landed(house.supplier));
        let line = with_packs(&least, &breaks, pack.quantity.0, cell);
        for (own, line) in least.iter_mut().zip(&line) {
            *own = own.min(*line);
        }
    }
    useful(&least)
}

/// What amounts cost at least with some packs of one more offer.
fn with_packs(before: &[f64], breaks: &[(i64, f64)], size: i64, cell: i64) -> Vec<f64> {
    let most = before.len() - 1;
    let mut found = vec![f64::INFINITY; before.len()];
    let (Some(first), Some(&(last, lowest))) = (breaks.first(), breaks.last()) else { return found };
    let cells = |packs: i64| filled(size, packs, cell, most);
    let add = |packs: i64, found: &mut [f64]| {
        let price = breaks.iter().rev().find(|entry| entry.0 <= packs).map_or(f64::INFINITY, |entry| entry.1);
        let (brought, cost) = (cells(packs), packs as f64 * price);
        for (at, before) in before.iter().enumerate() {
            let own = &mut found[(at + brought).min(most)];
            *own = own.min(before + cost);
        }
        brought
    };
    (first.0..last).for_each(|packs| {
        add(packs, &mut found);
    });
    // From the last break on each pack costs the same: so many packs as fill whole cells are added to what is there.
    let more = if size % cell == 0 { 1 } else { cell / size };
    if size % cell == 0 || cell % size == 0 {
        let mut many = vec![f64::INFINITY; before.len()];
        (last..last + more).for_each(|packs| {
            add(packs, &mut many);
        });
        let (step, cost) = (cells(more), more as f64 * lowest);
        for at in 0..most {
            let next = (at + step).min(most);
            many[next] = many[next].min(many[at] + cost);
        }
        found.iter_mut().zip(&many).for_each(|(own, many)| *own = own.min(*many));
        return found;
    }
    let mut packs = last;
    while add(packs, &mut found) < most {
        // The next number that fills a cell more.
        let filled = cells(packs) as i128 * i128::from(cell);
        packs = i64::try_from(filled / i128::from(size)).unwrap_or(i64::MAX).max(packs) + 1;
    }
    found
}

/// The amounts in cells of so many grains. An amount counts as the whole cells below it or above it, at a price for what that is less
/// or more: over a purchase that adds up to less than a cell.
fn rounded(fine: &[Bundle], times: usize, count: usize, unit: f64) -> Vec<Bundle> {
    let mut least = vec![f64::INFINITY; count + 1];
    for bundle in fine {
        let (below, above) = (bundle.cells / times, bundle.cells.div_ceil(times));
        let more = (above * times - bundle.cells) as f64 * unit;
        let less = (bundle.cells - below * times) as f64 * unit;
        for (cells, cost) in [(above, bundle.cost + more), (below, (bundle.cost - less).max(0.0))] {
            let own = &mut least[cells.min(count)];
            *own = own.min(cost);
        }
    }
    useful(&least)
}

/// The amounts that nothing bigger undercuts.
fn useful(least: &[f64]) -> Vec<Bundle> {
    let mut found = Vec::new();
    let mut lowest = f64::INFINITY;
    for (cells, &cost) in least.iter().enumerate().skip(1).rev() {
        if cost < lowest {
            lowest = cost;
            found.push(Bundle { cells, cost });
        }
    }
    found.reverse();
    found
}
