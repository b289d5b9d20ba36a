//! The weighing sheet of a plan entry: what to weigh, in which order, from which lots, to the readability of the scale.

use super::shared::{FindingView, findings, source_code};
use crate::plan::explode::{LinePlace, line_masses};
use crate::plan::model::{EntryId, FormulaId, Item, ItemId, Snapshot};
use crate::plan::outlook::{ItemOutlook, Outlook};
use crate::plan::quantity::{Mass, Quantity, Unit};
use crate::plan::rounding::{half_up_i64, largest_remainder};
use crate::plan::supply::Source;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;
use std::cmp::Reverse;
use std::collections::{BTreeMap, VecDeque};

/// The weighing sheet. Masses are milligrams; targets are rounded to the scale, half up.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WeighView {
    /// Today.
    pub as_of: NaiveDate,
    /// Code of the plan entry.
    pub entry: String,
    /// Code of the product.
    pub product: String,
    /// Its name.
    pub name: String,
    /// The formula; empty where it is not on file.
    pub formula: String,
    /// Its version.
    pub version: String,
    /// The day it is made.
    pub make_on: NaiveDate,
    /// The day it is set and cured.
    pub ready_on: NaiveDate,
    /// Whole pieces that come out.
    pub pieces: i64,
    /// Net mass before loss.
    pub net_mass: i64,
    /// What is weighed in.
    pub weighed_mass: i64,
    /// Readability of the scale.
    pub readability: i64,
    /// Premixes to make first, in order of day.
    pub premixes: Vec<PremixView>,
    /// The batch itself, phase by phase in the order of the formula.
    pub phases: Vec<PhaseView>,
    /// Packaging to count out.
    pub packaging: Vec<WeighLineView>,
    /// What to beware of, material by material.
    pub cautions: Vec<CautionView>,
    /// What was noticed of the entry.
    pub findings: Vec<FindingView>,
    /// True where something is short or has yet to arrive.
    pub incomplete: bool,
}

/// A premix to make.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PremixView {
    /// Code.
    pub premix: String,
    /// Name.
    pub name: String,
    /// What to weigh in for it, its loss counted.
    pub weighed_mass: i64,
    /// How much of it is needed.
    pub needed: i64,
    /// The day its own ingredients are weighed.
    pub weigh_on: NaiveDate,
    /// The day it is used.
    pub needed_on: NaiveDate,
    /// What goes in, phase by phase.
    pub phases: Vec<PhaseView>,
}

/// A phase of the work.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PhaseView {
    /// Its name; may be empty.
    pub phase: String,
    /// What goes in, in order.
    pub lines: Vec<WeighLineView>,
    /// The sum of the targets.
    pub target: i64,
}

/// One ingredient or kind of packaging.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WeighLineView {
    /// Number in the running order, from 1, premixes first.
    pub step: usize,
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What the formula asks for.
    pub amount: i64,
    /// That, rounded to the scale.
    pub target: i64,
    /// The sum of the targets of this pot up to here; 0 for packaging.
    pub running_total: i64,
    /// True where rounding changes it by more than one part in a hundred: a finer scale is called for.
    pub finer_scale: bool,
    /// What to take from where.
    pub take: Vec<TakeView>,
    /// Of a premix: what of it is made for this line.
    pub made: i64,
    /// What nothing serves.
    pub short: i64,
    /// True for what is always at hand.
    pub at_hand: bool,
}

/// So much from a lot.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TakeView {
    /// Code of the lot, or of the open order that it comes with.
    pub lot: String,
    /// True where it has yet to arrive.
    pub on_order: bool,
    /// Where it stands; how it is stored where no place is noted.
    pub place: String,
    /// How much.
    pub amount: i64,
    /// That, rounded so that the lots of a line add up to its target.
    pub target: i64,
    /// The last day on which it can be used, if known.
    pub usable_through: Option<NaiveDate>,
    /// True where a lot of a material is opened by this.
    pub opens: bool,
}

/// A material's caution.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
pub struct CautionView {
    /// What to beware of.
    pub caution: String,
    /// Names of the materials that ask for it.
    pub materials: Vec<String>,
}

/// Computes the weighing sheet of an entry. `readability_mg` is the smallest step of the scale.
#[must_use]
pub fn weigh(snapshot: &Snapshot, outlook: &Outlook, entry: EntryId, readability_mg: i64) -> WeighView {
    let size = outlook.sizes[entry.index()];
    let facts = snapshot.entry(entry);
    let product = snapshot.product(facts.product);
    let mut sheet = Sheet::new(snapshot, outlook, entry, readability_mg.max(1));
    let premixes = sheet.premixes();
    let phases = product.formula.map_or_else(Vec::new, |formula| sheet.phases(formula, size.weighed, LinePlace::TOP));
    let packaging = sheet.packaging();
    let named = product.formula.map(|formula| &snapshot.formulas[formula.index()]);
    let noticed = outlook.findings.iter().filter(|noticed| [&facts.code, &product.code].contains(&&noticed.subject));
    let noticed: Vec<_> = noticed.cloned().collect();
    WeighView {
        as_of: outlook.today,
        entry: facts.code.clone(),
        product: product.code.clone(),
        name: product.name.clone(),
        formula: named.map_or_else(String::new, |formula| formula.code.clone()),
        version: named.map_or_else(String::new, |formula| formula.version.clone()),
        make_on: size.make_on,
        ready_on: size.ready_on,
        pieces: size.pieces,
        net_mass: size.net.mg,
        weighed_mass: size.weighed.mg,
        readability: sheet.readability,
        premixes,
        phases,
        packaging,
        cautions: sheet.cautions(),
        findings: findings(&noticed),
        incomplete: sheet.incomplete,
    }
}

/// A demand of the entry: its item and its place among the item's demands.
#[derive(Clone, Copy)]
struct Asked {
    item: ItemId,
    need: usize,
}

struct Sheet<'a> {
    snapshot: &'a Snapshot,
    outlook: &'a Outlook,
    readability: i64,
    /// The entry's demands that are not yet on the sheet, by their place in its formulas. Beyond ten levels places are
    /// shared, so there may be several.
    asked: BTreeMap<(LinePlace, ItemId), VecDeque<Asked>>,
    /// Premixes that the entry makes: the demand for it and the mass.
    to_make: Vec<(Asked, Mass)>,
    steps: usize,
    used: Vec<ItemId>,
    incomplete: bool,
}

impl<'a> Sheet<'a> {
    fn new(snapshot: &'a Snapshot, outlook: &'a Outlook, entry: EntryId, readability: i64) -> Self {
        let mut asked: BTreeMap<(LinePlace, ItemId), VecDeque<Asked>> = BTreeMap::new();
        let mut to_make = Vec::new();
        for (place, part) in outlook.items.iter().enumerate() {
            let item = ItemId::new(place);
            for (need, demand) in part.demands.iter().enumerate().filter(|(_, demand)| demand.entry == entry) {
                asked.entry((demand.line, item)).or_default().push_back(Asked { item, need });
                if let Some(mass) = part.made.get(need).copied().filter(|mass| mass.mg > 0) {
                    to_make.push((Asked { item, need }, mass));
                }
            }
        }
        Self { snapshot, outlook, readability, asked, to_make, steps: 0, used: Vec::new(), incomplete: false }
    }

    fn part(&self, item: ItemId) -> &'a ItemOutlook {
        &self.outlook.items[item.index()]
    }

    /// The premixes to make, by the day on which they are weighed.
    fn premixes(&mut self) -> Vec<PremixView> {
        let to_make = std::mem::take(&mut self.to_make);
        let mut views = Vec::with_capacity(to_make.len());
        for (asked, mass) in to_make {
            let facts = self.snapshot.item(asked.item).premix.as_ref();
            let Some(formula) = facts.and_then(|facts| facts.formula) else { continue };
            let demand = &self.part(asked.item).demands[asked.need];
            let short =
                self.part(asked.item).allocation.as_ref().map_or(Quantity::ZERO, |given| given.short[asked.need]);
            let days = facts.map_or(0, |facts| facts.make_ahead_days);
            let first = demand.day.checked_sub_days(chrono::Days::new(u64::from(days))).unwrap_or(demand.day);
            let item = self.snapshot.item(asked.item);
            views.push((
                demand.line,
                PremixView {
                    premix: item.code.clone(),
                    name: item.name.clone(),
                    weighed_mass: mass.mg,
                    needed: short.0,
                    weigh_on: first.max(self.outlook.today),
                    needed_on: demand.day,
                    phases: self.phases(formula, mass, demand.line),
                },
            ));
        }
        // The deeper level first, so that a premix stands before what it goes into.
        views.sort_by_key(|(line, view)| (view.weigh_on, Reverse(line.depth()), *line));
        let mut views: Vec<PremixView> = views.into_iter().map(|(_, view)| view).collect();
        self.steps = 0;
        for line in views.iter_mut().flat_map(|view| &mut view.phases).flat_map(|phase| &mut phase.lines) {
            self.steps += 1;
            line.step = self.steps;
        }
        views
    }

    fn phases(&mut self, formula: FormulaId, batch: Mass, pot: LinePlace) -> Vec<PhaseView> {
        let masses = line_masses(self.snapshot, formula, batch);
        let lines = &self.snapshot.formulas[formula.index()].lines;
        let mut names: Vec<&str> = Vec::new();
        for line in lines {
            if !names.contains(&line.phase.as_str()) {
                names.push(&line.phase);
            }
        }
        let mut made: Vec<(usize, WeighLineView)> = Vec::with_capacity(lines.len());
        for (number, (line, (item, mass))) in lines.iter().zip(masses).enumerate() {
            if mass.mg == 0 {
                continue;
            }
            let phase = names.iter().position(|name| *name == line.phase).unwrap_or(0);
            made.push((phase, self.line(item, Quantity(mass.mg), pot.line(number))));
        }
        made.sort_by_key(|(phase, _)| *phase);
        let mut phases: Vec<PhaseView> =
            names.iter().map(|name| PhaseView { phase: (*name).to_owned(), lines: Vec::new(), target: 0 }).collect();
        let mut total: i64 = 0;
        for (phase, mut line) in made {
            self.steps += 1;
            line.step = self.steps;
            total = total.saturating_add(line.target);
            line.running_total = total;
            phases[phase].target = phases[phase].target.saturating_add(line.target);
            phases[phase].lines.push(line);
        }
        phases.retain(|phase| !phase.lines.is_empty());
        phases
    }

    fn packaging(&mut self) -> Vec<WeighLineView> {
        let is_counted = |(_, item): &&(LinePlace, ItemId)| self.snapshot.item(*item).unit == Unit::Piece;
        let keys: Vec<_> = self.asked.keys().filter(is_counted).copied().collect();
        let mut lines = Vec::new();
        for (place, item) in keys {
            while let Some(asked) = self.asked.get(&(place, item)).and_then(|queue| queue.front()).copied() {
                let quantity = self.part(asked.item).demands[asked.need].quantity;
                lines.push((place, self.line(item, quantity, place)));
            }
        }
        lines.sort_by_key(|(rank, _)| *rank);
        for (_, line) in &mut lines {
            self.steps += 1;
            line.step = self.steps;
        }
        lines.into_iter().map(|(_, line)| line).collect()
    }

    /// The line of the demand that stands at a place of the entry's formulas, with its lots.
    fn line(&mut self, item: ItemId, quantity: Quantity, place: LinePlace) -> WeighLineView {
        let snapshot = self.snapshot;
        let facts = snapshot.item(item);
        let asked = self.asked.get_mut(&(place, item)).and_then(VecDeque::pop_front);
        if !self.used.contains(&item) {
            self.used.push(item);
        }
        let step = if facts.unit == Unit::Milligram { self.readability } else { 1 };
        let units = half_up_i64(i128::from(quantity.0), i128::from(step));
        let target = units.saturating_mul(step);
        let mut line = WeighLineView {
            step: 0,
            material: facts.code.clone(),
            name: facts.name.clone(),
            unit: facts.unit.symbol().to_owned(),
            amount: quantity.0,
            target,
            running_total: 0,
            finer_scale: i128::from(target.abs_diff(quantity.0)) * 100 > i128::from(quantity.0),
            take: Vec::new(),
            made: 0,
            short: 0,
            at_hand: facts.always_at_hand,
        };
        if let Some(asked) = asked {
            self.serve(&mut line, asked, units, step);
        }
        self.incomplete |= line.short > 0 || line.take.iter().any(|take| take.on_order);
        line
    }

    fn serve(&self, line: &mut WeighLineView, asked: Asked, units: i64, step: i64) {
        let part = self.part(asked.item);
        let Some(allocation) = &part.allocation else { return };
        let missing = allocation.short[asked.need].0;
        if part.made.get(asked.need).is_some_and(|mass| mass.mg > 0) {
            line.made = missing;
        } else {
            line.short = missing;
        }
        let draws: Vec<_> = allocation.draws.iter().filter(|draw| draw.need == asked.need).collect();
        // What no lot gives takes its part of the target too, as the last share.
        let mut weights: Vec<i64> = draws.iter().map(|draw| draw.quantity.0).collect();
        weights.push(missing);
        let shares = largest_remainder(units, &weights);
        for (draw, share) in draws.into_iter().zip(shares) {
            let source = part.sources[draw.supply];
            let first =
                allocation.draws.iter().filter(|other| other.supply == draw.supply).map(|other| other.need).min();
            line.take.push(TakeView {
                lot: source_code(self.snapshot, source),
                on_order: matches!(source, Source::Order(_)),
                place: self.place(source, asked.item),
                amount: draw.quantity.0,
                target: share.saturating_mul(step),
                usable_through: Some(allocation.through[draw.supply]).filter(|day| *day < NaiveDate::MAX),
                opens: match source {
                    Source::Lot(lot) => {
                        let unopened = self.snapshot.lots[lot].opened.is_none() && first == Some(asked.need);
                        unopened && line.unit == Unit::Milligram.symbol()
                    }
                    Source::Order(_) => false,
                },
            });
        }
    }

    fn place(&self, source: Source, item: ItemId) -> String {
        match source {
            Source::Lot(lot) if !self.snapshot.lots[lot].place.is_empty() => self.snapshot.lots[lot].place.clone(),
            _ => self.snapshot.item(item).storage.clone(),
        }
    }

    /// What the materials' cautions say, the same words once. Where none was entered, the usual words stand in.
    fn cautions(&self) -> Vec<CautionView> {
        let mut cautions: Vec<CautionView> = Vec::new();
        for item in self.used.iter().map(|item| self.snapshot.item(*item)) {
            let words = if item.caution.trim().is_empty() { usual_caution(item) } else { &item.caution };
            for caution in words.split(';').map(str::trim).filter(|caution| !caution.is_empty()) {
                match cautions.iter_mut().find(|known| known.caution == caution) {
                    Some(known) => known.materials.push(item.name.clone()),
                    None => {
                        let materials = vec![item.name.clone()];
                        cautions.push(CautionView { caution: caution.to_owned(), materials });
                    }
                }
            }
        }
        cautions
    }
}

/// The usual words for lye, wax and essential oils where the maker entered none. Common practice, no source.
fn usual_caution(item: &Item) -> &'static str {
    let inci = item.inci.to_lowercase();
    let name = item.name.to_lowercase();
    if inci == "sodium hydroxide" || inci == "potassium hydroxide" {
        "caustic: goggles, gloves and long sleeves; add lye to water and never water to lye; never in aluminium"
    } else if inci.split_whitespace().any(|word| word == "cera") || name.split_whitespace().any(|word| word == "wax") {
        "melt gently in a water bath; hot wax burns the skin and catches fire on an open flame"
    } else if name.contains("essential oil") {
        "irritates undiluted; keep off skin and eyes and away from children and pets"
    } else {
        ""
    }
}
