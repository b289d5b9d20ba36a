//! From plan entries to dated demands: formulas are taken apart level by level, premix stock is used first.
//!
//! Premixes are settled by low-level code, each after everything that asks for it: its lots are allocated to its demands,
//! and only what they do not cover is made, with its own loss and so many days ahead.

use super::allocate::{Allocation, Need, SearchLimit, Supply, allocate};
use super::calendar::day_in_words;
use super::finding::{Finding, FindingKind};
use super::model::{EntryId, FormulaId, ItemId, PlanAmount, PlanDay, PlanEntry, Product, Snapshot};
use super::quantity::{Mass, Percent, Quantity};
use super::rounding::largest_remainder;
use chrono::{Days, NaiveDate};

/// So much of an item for a plan entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Demand {
    /// Of what.
    pub item: ItemId,
    /// The day it is weighed.
    pub day: NaiveDate,
    /// What serves it must be usable through this day.
    pub through: NaiveDate,
    /// How much.
    pub quantity: Quantity,
    /// For which entry.
    pub entry: EntryId,
    /// The premix that it goes into; `None` where it goes straight into the product.
    pub premix: Option<ItemId>,
    /// Where it stands in the entry's formulas; orders the demands of a day and entry.
    pub line: LinePlace,
}

/// The way from a product's formula to a line, through the premixes: the line's number at each level, 12 bits each, the
/// top level first. Ten levels and 2,000 lines keep their order; beyond that lines of one entry and day count as equal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LinePlace {
    bits: u128,
    level: u8,
}

impl LinePlace {
    /// The product itself.
    pub const TOP: Self = Self { bits: 0, level: 0 };
    const PACKAGING: usize = 2_048;

    /// How many formulas down the line stands: 1 for a line of the product's own.
    #[must_use]
    pub fn depth(self) -> u8 {
        self.level
    }

    /// The place of a line, by its number from 0, of the formula that stands here.
    #[must_use]
    pub fn line(self, number: usize) -> Self {
        let shift = 108_u32.saturating_sub(12 * u32::from(self.level));
        let number = u128::try_from(number + 1).unwrap_or(0).min(4_095);
        let bits = if self.level < 10 { self.bits | (number << shift) } else { self.bits };
        Self { bits, level: self.level.saturating_add(1) }
    }
}

/// What a plan entry comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EntrySize {
    /// The day it is made.
    pub make_on: NaiveDate,
    /// The day it is set and cured.
    pub ready_on: NaiveDate,
    /// Net mass before loss.
    pub net: Mass,
    /// What is weighed in.
    pub weighed: Mass,
    /// Whole pieces that come out.
    pub pieces: i64,
}

/// The dated demands of a plan.
#[derive(Clone, Debug)]
pub struct Explosion {
    /// The size of each entry, in the order of the snapshot.
    pub sizes: Vec<EntrySize>,
    /// Demands for each item, in the order of the snapshot's items; each list in the order of rank.
    pub demands: Vec<Vec<Demand>>,
    /// For premixes: what their lots give; `None` for all other items.
    pub premix_stock: Vec<Option<Allocation>>,
    /// For premixes: so much is made for each of their demands.
    pub made: Vec<Vec<Mass>>,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Explodes the plan. `supplies` are those of each item; demands after the horizon are left out.
#[must_use]
pub fn explode(
    snapshot: &Snapshot,
    today: NaiveDate,
    horizon: NaiveDate,
    supplies: &[Vec<Supply>],
    limit: SearchLimit,
) -> Explosion {
    let levels = Levels::of(snapshot);
    let mut work = Work {
        snapshot,
        today,
        demands: vec![Vec::new(); snapshot.items.len()],
        started_late: vec![None; snapshot.entries.len()],
        findings: levels.findings,
    };
    let sizes: Vec<EntrySize> =
        snapshot.entries.iter().map(|entry| size(entry, snapshot.product(entry.product))).collect();
    for (place, size) in sizes.iter().enumerate() {
        work.entry(EntryId::new(place), &snapshot.entries[place], *size);
    }
    let mut premix_stock = vec![None; snapshot.items.len()];
    let mut made = vec![Vec::new(); snapshot.items.len()];
    for premix in levels.parents_first {
        let place = premix.index();
        work.sort(premix);
        let needs: Vec<Need> = work.demands[place].iter().map(|dated| Need::from(&dated.demand)).collect();
        let allocation = allocate(&supplies[place], &needs, horizon, limit);
        made[place] = work.premix(premix, &allocation.short);
        premix_stock[place] = Some(allocation);
    }
    for place in 0..snapshot.items.len() {
        work.sort(ItemId::new(place));
    }
    let demands = work.demands.into_iter().map(|list| list.into_iter().map(|dated| dated.demand).collect());
    let mut demands: Vec<Vec<Demand>> = demands.collect();
    leave_out_after(horizon, supplies, &mut demands, &mut made, &mut premix_stock);
    let mut findings = work.findings;
    findings.extend(started_late_findings(snapshot, today, &work.started_late));
    Explosion { sizes, demands, premix_stock, made, findings }
}

/// What one entry asks for that is not in the plan.
#[derive(Clone, Debug)]
pub(super) struct ExtraDemands {
    /// Demands for each item, in the order of the snapshot's items; each list in the order of rank.
    pub(super) demands: Vec<Vec<Demand>>,
    /// True where something should have been started before today.
    pub(super) started_late: bool,
}

/// Explodes an entry that is not in the plan, as [`explode`] does those that are. `levels` are those of the snapshot;
/// `uncovered` says what a premix's lots do not give to its demands.
pub(super) fn explode_extra(
    snapshot: &Snapshot,
    levels: &Levels,
    today: NaiveDate,
    entry: &PlanEntry,
    mut uncovered: impl FnMut(ItemId, &[Demand]) -> Vec<Quantity>,
) -> ExtraDemands {
    let id = EntryId::new(snapshot.entries.len());
    let mut work = Work {
        snapshot,
        today,
        demands: vec![Vec::new(); snapshot.items.len()],
        started_late: vec![None; snapshot.entries.len() + 1],
        findings: Vec::new(),
    };
    work.entry(id, entry, size(entry, snapshot.product(entry.product)));
    for &premix in &levels.parents_first {
        if work.demands[premix.index()].is_empty() {
            continue;
        }
        work.sort(premix);
        let demands: Vec<Demand> = work.demands[premix.index()].iter().map(|dated| dated.demand).collect();
        let short = uncovered(premix, &demands);
        work.premix(premix, &short);
    }
    let started_late = work.started_late[id.index()].is_some();
    let demands = work.demands.into_iter().map(|list| list.into_iter().map(|dated| dated.demand).collect());
    ExtraDemands { demands: demands.collect(), started_late }
}

impl From<&Demand> for Need {
    fn from(demand: &Demand) -> Self {
        Self { day: demand.day, through: demand.through, quantity: demand.quantity }
    }
}

/// Make date, mass and pieces of an entry.
#[must_use]
pub fn size(entry: &PlanEntry, product: &Product) -> EntrySize {
    let work_days = Days::new(u64::from(product.setting_days) + u64::from(product.curing_days));
    let (make_on, ready_on) = match entry.when {
        PlanDay::MakeOn(day) => (day, day.checked_add_days(work_days).unwrap_or(NaiveDate::MAX)),
        PlanDay::ReadyBy(day) => (day.checked_sub_days(work_days).unwrap_or(NaiveDate::MIN), day),
    };
    let piece_mg = product.net_mass.map_or(0, |mass| mass.mg);
    let of_pieces = |pieces: i64| (Mass { mg: pieces.saturating_mul(piece_mg) }, pieces);
    let (net, pieces) = match entry.amount {
        PlanAmount::Pieces(pieces) => of_pieces(pieces),
        PlanAmount::Moulds(moulds) => of_pieces(moulds.saturating_mul(product.pieces_per_mould.unwrap_or(0))),
        PlanAmount::NetMass(net) => (net, if piece_mg > 0 { net.mg / piece_mg } else { 0 }),
    };
    EntrySize { make_on, ready_on, net, weighed: product.loss.gross_of(net), pieces }
}

/// The masses of a formula's lines for a batch, in order; they add up to it to the milligram.
#[must_use]
pub fn line_masses(snapshot: &Snapshot, formula: FormulaId, batch: Mass) -> Vec<(ItemId, Mass)> {
    let lines = &snapshot.formulas[formula.index()].lines;
    let weights: Vec<i64> = lines.iter().map(|line| line.percent.millionths).collect();
    let shares = largest_remainder(batch.mg, &weights);
    lines.iter().zip(shares).map(|(line, mg)| (line.item, Mass { mg })).collect()
}

/// A demand and the day on which it should be weighed, which may lie before today: what it is made from counts back from
/// there, so that an entry started late is told its true day.
#[derive(Clone)]
struct Dated {
    demand: Demand,
    ideal_day: NaiveDate,
}

struct Work<'a> {
    snapshot: &'a Snapshot,
    today: NaiveDate,
    demands: Vec<Vec<Dated>>,
    /// The day on which each entry should have been started, where that was before today.
    started_late: Vec<Option<NaiveDate>>,
    findings: Vec<Finding>,
}

impl Work<'_> {
    fn entry(&mut self, id: EntryId, entry: &PlanEntry, size: EntrySize) {
        let snapshot = self.snapshot;
        let product = snapshot.product(entry.product);
        let through = product.minimum_life.unwrap_or_default().after(size.make_on);
        let day = self.not_before_today(id, size.make_on);
        let demand = |item, quantity, through: NaiveDate, line| Demand {
            item,
            day,
            through: through.max(day),
            quantity: Quantity(quantity),
            entry: id,
            premix: None,
            line,
        };
        match product.formula {
            Some(formula) => {
                for (number, (item, mass)) in line_masses(snapshot, formula, size.weighed).into_iter().enumerate() {
                    let demand = demand(item, mass.mg, through, LinePlace::TOP.line(number));
                    self.add(demand, size.make_on);
                }
            }
            None => self.findings.push(Finding {
                kind: FindingKind::FormulaMissing,
                subject: entry.code.clone(),
                message: format!(
                    "The formula of product {} is not on file, so only its packaging is planned.",
                    product.code
                ),
            }),
        }
        for (number, packaging) in product.packaging.iter().enumerate() {
            let for_pieces = i128::from(packaging.per_piece_millionths) * i128::from(size.pieces) / 1_000_000;
            let quantity = super::rounding::clamp(for_pieces + i128::from(packaging.per_batch));
            let demand = demand(packaging.item, quantity, day, LinePlace::TOP.line(LinePlace::PACKAGING + number));
            self.add(demand, size.make_on);
        }
    }

    /// Explodes what a premix's lots do not cover; returns the mass to be made for each of its demands.
    fn premix(&mut self, premix: ItemId, short: &[Quantity]) -> Vec<Mass> {
        let snapshot = self.snapshot;
        let Some(facts) = &snapshot.item(premix).premix else { return Vec::new() };
        if facts.formula.is_none() && short.iter().any(|rest| !rest.is_zero()) {
            self.findings.push(premix_formula_missing(snapshot, premix));
        }
        let parents = std::mem::take(&mut self.demands[premix.index()]);
        let mut made = Vec::with_capacity(parents.len());
        for (Dated { demand: parent, ideal_day }, &rest) in parents.iter().zip(short) {
            let Some(formula) = facts.formula.filter(|_| !rest.is_zero()) else {
                made.push(Mass::default());
                continue;
            };
            let batch = facts.loss.gross_of(Mass { mg: rest.0 });
            made.push(batch);
            let ahead = Days::new(u64::from(facts.make_ahead_days));
            let start = ideal_day.checked_sub_days(ahead).unwrap_or(NaiveDate::MIN);
            let day = self.not_before_today(parent.entry, start);
            for (number, (item, mass)) in line_masses(snapshot, formula, batch).into_iter().enumerate() {
                let line = parent.line.line(number);
                let through = parent.through.max(day);
                let (quantity, entry) = (Quantity(mass.mg), parent.entry);
                self.add(Demand { item, day, through, quantity, entry, premix: Some(premix), line }, start);
            }
        }
        self.demands[premix.index()] = parents;
        made
    }

    fn not_before_today(&mut self, entry: EntryId, day: NaiveDate) -> NaiveDate {
        if day < self.today {
            let first = &mut self.started_late[entry.index()];
            *first = Some(first.map_or(day, |known| known.min(day)));
        }
        day.max(self.today)
    }

    fn add(&mut self, demand: Demand, ideal_day: NaiveDate) {
        if demand.quantity.0 > 0 {
            self.demands[demand.item.index()].push(Dated { demand, ideal_day });
        }
    }

    fn sort(&mut self, item: ItemId) {
        self.demands[item.index()].sort_by_key(|dated| (dated.demand.day, dated.demand.entry, dated.demand.line));
    }
}

/// Drops what lies after the horizon. Demands are sorted by day, so it is the end of each list.
fn leave_out_after(
    horizon: NaiveDate,
    supplies: &[Vec<Supply>],
    demands: &mut [Vec<Demand>],
    made: &mut [Vec<Mass>],
    premix_stock: &mut [Option<Allocation>],
) {
    for (place, list) in demands.iter_mut().enumerate() {
        let kept = list.partition_point(|demand| demand.day <= horizon);
        list.truncate(kept);
        made[place].truncate(kept);
        if let Some(allocation) = &mut premix_stock[place] {
            allocation.leave_out_from(kept);
            // What only a demand after the horizon would have opened stays closed.
            for (place, supply) in supplies[place].iter().enumerate() {
                if allocation.left[place] == supply.quantity {
                    allocation.through[place] = supply.through;
                }
            }
        }
    }
}

fn premix_formula_missing(snapshot: &Snapshot, premix: ItemId) -> Finding {
    let code = &snapshot.item(premix).code;
    Finding {
        kind: FindingKind::FormulaMissing,
        subject: code.clone(),
        message: format!("The formula of premix {code} is not on file, so none of it can be made."),
    }
}

fn started_late_findings<'a>(
    snapshot: &'a Snapshot,
    today: NaiveDate,
    started_late: &'a [Option<NaiveDate>],
) -> impl Iterator<Item = Finding> + 'a {
    let late = started_late.iter().enumerate().filter_map(|(place, day)| Some((place, (*day)?)));
    late.map(move |(place, day)| {
        let entry = &snapshot.entries[place];
        Finding {
            kind: FindingKind::StartedLate,
            subject: entry.code.clone(),
            message: format!(
                "Plan entry {} ({}) should have been started on {}; it is planned as if started today.",
                entry.code,
                snapshot.product(entry.product).name,
                day_in_words(day, today)
            ),
        }
    })
}

/// Premixes in an order in which each comes after everything that asks for it, circles left out.
pub(super) struct Levels {
    pub(super) parents_first: Vec<ItemId>,
    pub(super) findings: Vec<Finding>,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Mark {
    New,
    OnTheWay,
    Done,
}

/// A longer circle is shown by its first and last members: who nests deeper has another trouble than the missing names.
const NAMES_SHOWN: usize = 24;

impl Levels {
    pub(super) fn of(snapshot: &Snapshot) -> Self {
        let mut marks = vec![Mark::New; snapshot.items.len()];
        let mut in_circle = vec![false; snapshot.items.len()];
        let mut levels = Self { parents_first: Vec::new(), findings: Vec::new() };
        for place in 0..snapshot.items.len() {
            if snapshot.items[place].premix.is_some() && marks[place] == Mark::New {
                levels.visit(snapshot, ItemId::new(place), &mut marks, &mut in_circle);
            }
        }
        levels.parents_first.reverse();
        levels
    }

    /// Depth first, with a stack of its own, since a hostile file may nest ten thousand deep.
    fn visit(&mut self, snapshot: &Snapshot, root: ItemId, marks: &mut [Mark], in_circle: &mut [bool]) {
        let mut way: Vec<(ItemId, usize)> = vec![(root, 0)];
        marks[root.index()] = Mark::OnTheWay;
        while let Some((item, next)) = way.last_mut() {
            let item = *item;
            let ingredient = ingredients(snapshot, item).nth(*next);
            *next += 1;
            match ingredient {
                None => {
                    way.pop();
                    marks[item.index()] = Mark::Done;
                    if !in_circle[item.index()] {
                        self.parents_first.push(item);
                    }
                }
                Some(child) => match marks[child.index()] {
                    Mark::New => {
                        marks[child.index()] = Mark::OnTheWay;
                        way.push((child, 0));
                    }
                    Mark::OnTheWay => self.circle(snapshot, &way, child, in_circle),
                    Mark::Done => {}
                },
            }
        }
    }

    /// Names the circle that leads back to `again`, unless all its members stand in circles that are named already.
    fn circle(&mut self, snapshot: &Snapshot, way: &[(ItemId, usize)], again: ItemId, in_circle: &mut [bool]) {
        let start = way.iter().position(|(item, _)| *item == again).unwrap_or(0);
        let members = &way[start..];
        if members.iter().all(|(item, _)| in_circle[item.index()]) {
            return;
        }
        for (item, _) in members {
            in_circle[item.index()] = true;
        }
        let code = |item: ItemId| snapshot.item(item).code.as_str();
        let names =
            |part: &[(ItemId, usize)]| part.iter().map(|(item, _)| code(*item)).collect::<Vec<_>>().join(" -> ");
        let way = match members.len().checked_sub(NAMES_SHOWN).filter(|left_out| *left_out > 0) {
            None => names(members),
            Some(left_out) => {
                let (first, last) = (NAMES_SHOWN / 2, members.len() - NAMES_SHOWN / 2);
                format!("{} -> ({left_out} more) -> {}", names(&members[..first]), names(&members[last..]))
            }
        };
        self.findings.push(Finding {
            kind: FindingKind::FormulaCircle,
            subject: code(again).to_owned(),
            message: format!("These premixes contain each other and cannot be planned: {way} -> {}.", code(again)),
        });
    }
}

/// The premixes among the ingredients of a premix.
fn ingredients(snapshot: &Snapshot, premix: ItemId) -> impl Iterator<Item = ItemId> + '_ {
    let formula = snapshot.item(premix).premix.as_ref().and_then(|facts| facts.formula);
    let lines = formula.map_or(&[][..], |formula| &snapshot.formulas[formula.index()].lines);
    lines.iter().map(|line| line.item).filter(|item| snapshot.item(*item).premix.is_some())
}

/// Warns of materials above their highest use rate in the products of the plan: the percentages are those of the finished
/// product, through all premixes.
#[must_use]
pub fn use_rate_findings(snapshot: &Snapshot) -> Vec<Finding> {
    let levels = Levels::of(snapshot);
    let mut planned: Vec<_> = snapshot.entries.iter().map(|entry| entry.product).collect();
    planned.sort_unstable();
    planned.dedup();
    let mut findings = Vec::new();
    for product in planned {
        let product = snapshot.product(product);
        let Some((product_use, formula)) = product.product_use.zip(product.formula) else { continue };
        let shares = shares_of_product(snapshot, formula, &levels.parents_first);
        for (item, share) in snapshot.items.iter().zip(shares) {
            let (limit, kind) = match product_use {
                super::model::ProductUse::LeaveOn => (item.use_rates.leave_on, "leave-on"),
                super::model::ProductUse::RinseOff => (item.use_rates.rinse_off, "rinse-off"),
            };
            let Some(limit) = limit.filter(|limit| share > *limit) else { continue };
            findings.push(Finding {
                kind: FindingKind::UseRate,
                subject: product.code.clone(),
                message: format!(
                    "{} is {share} % of {} ({kind}); the highest rate entered for it is {limit} %.",
                    item.name, product.name
                ),
            });
        }
    }
    findings
}

/// The percentage of each item in a formula with its premixes taken apart, each step half up at six decimals.
fn shares_of_product(snapshot: &Snapshot, formula: FormulaId, parents_first: &[ItemId]) -> Vec<Percent> {
    let mut shares = vec![Percent::ZERO; snapshot.items.len()];
    for line in &snapshot.formulas[formula.index()].lines {
        shares[line.item.index()].millionths += line.percent.millionths;
    }
    for premix in parents_first {
        let whole = shares[premix.index()];
        let formula = snapshot.item(*premix).premix.as_ref().and_then(|facts| facts.formula);
        let Some(formula) = formula.filter(|_| whole.millionths > 0) else { continue };
        for line in &snapshot.formulas[formula.index()].lines {
            shares[line.item.index()].millionths += line.percent.of(whole.millionths);
        }
    }
    shares
}
