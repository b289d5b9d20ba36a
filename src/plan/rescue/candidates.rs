//! Which products could use something at risk, on which days, and in what amounts.
//!
//! Days on which the same lots can serve every ingredient and the same prices hold come to the same, and are looked at
//! once: who is served is a question of which lots can serve whom, not of dates.

use super::weigh::{Bench, UnitPrice};
use super::{Batch, RescueSettings};
use crate::plan::allocate::{Need, Supply};
use crate::plan::explode::{EntrySize, Levels};
use crate::plan::model::{FormulaId, ItemId, PlanAmount, Product, ProductId, Snapshot};
use crate::plan::outlook::{ItemOutlook, Outlook};
use crate::plan::quantity::Mass;
use chrono::{Days, NaiveDate};
use std::collections::{BTreeMap, BTreeSet};

/// One way in which a product asks for an item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Reach {
    pub(super) item: ItemId,
    /// Days before the make date on which it is weighed.
    pub(super) ahead: u32,
    /// Packaging need not last.
    pub(super) packaging: bool,
}

impl Reach {
    /// The day on which the item is weighed and the day through which it must last, for a make date; `None` where it
    /// should have been weighed before today.
    pub(super) fn window(
        &self,
        product: &Product,
        make_on: NaiveDate,
        today: NaiveDate,
    ) -> Option<(NaiveDate, NaiveDate)> {
        let day = make_on.checked_sub_days(Days::new(u64::from(self.ahead))).filter(|day| *day >= today)?;
        let through = product.minimum_life.unwrap_or_default().after(make_on);
        Some((day, if self.packaging { day } else { through.max(day) }))
    }
}

/// A product and the ways in which it reaches its items.
#[derive(Clone, Debug)]
pub(super) struct Reaches {
    pub(super) product: ProductId,
    pub(super) reaches: Vec<Reach>,
}

/// How a product reaches its items, through premixes at any depth, each way that takes other days once; ways that take
/// more than `most_ahead` days left out.
pub(super) fn reaches_of(snapshot: &Snapshot, levels: &Levels, product: &Product, most_ahead: u32) -> Vec<Reach> {
    let mut found: BTreeMap<ItemId, BTreeSet<u32>> = BTreeMap::new();
    let lines =
        |formula: Option<FormulaId>| formula.map_or(&[][..], |formula| &snapshot.formulas[formula.index()].lines[..]);
    for line in lines(product.formula) {
        found.entry(line.item).or_default().insert(0);
    }
    for premix in &levels.parents_first {
        let Some(facts) = &snapshot.item(*premix).premix else { continue };
        let Some(ways) = found.get(premix).cloned() else { continue };
        for line in lines(facts.formula) {
            let further = ways.iter().map(|ahead| ahead.saturating_add(facts.make_ahead_days));
            found.entry(line.item).or_default().extend(further.filter(|ahead| *ahead <= most_ahead));
        }
    }
    let ways = found
        .into_iter()
        .flat_map(|(item, ways)| ways.into_iter().map(move |ahead| Reach { item, ahead, packaging: false }));
    let packaging = product.packaging.iter().map(|line| Reach { item: line.item, ahead: 0, packaging: true });
    let mut reaches: Vec<Reach> = ways.chain(packaging).collect();
    reaches.sort_unstable();
    reaches.dedup();
    reaches
}

/// How each product of the book reaches its items.
pub(super) fn reaches(snapshot: &Snapshot, outlook: &Outlook, levels: &Levels) -> Vec<Reaches> {
    let days_ahead = (outlook.horizon - outlook.today).num_days();
    let most_ahead = u32::try_from(days_ahead).unwrap_or(0);
    let products = snapshot.products.iter().enumerate().filter(|(_, product)| product.formula.is_some());
    let reaches = products.map(|(place, product)| Reaches {
        product: ProductId::new(place),
        reaches: reaches_of(snapshot, levels, product, most_ahead),
    });
    reaches.collect()
}

/// The items of which a supply, opened by whatever need as early as today, could end too early for another or by the
/// horizon. For all others the days on which supplies can be used are fixed.
pub(super) fn opening_matters(
    snapshot: &Snapshot,
    outlook: &Outlook,
    kept: &[Vec<Need>],
    reaches: &[Reaches],
) -> Vec<bool> {
    let mut last_needed: Vec<NaiveDate> =
        kept.iter().map(|needs| needs.iter().map(|need| need.through).max().unwrap_or(outlook.horizon)).collect();
    for one in reaches {
        let through = snapshot.product(one.product).minimum_life.unwrap_or_default().after(outlook.horizon);
        for reach in &one.reaches {
            let last = &mut last_needed[reach.item.index()];
            *last = through.max(*last);
        }
    }
    let matters = |(part, last_needed): (&ItemOutlook, &NaiveDate)| {
        part.supplies.iter().any(|supply| {
            let Some(life) = supply.life_once_opened else { return false };
            let ends = life.after(supply.from.max(outlook.today));
            ends < supply.through && (ends <= outlook.horizon || ends < *last_needed)
        })
    };
    outlook.items.iter().zip(&last_needed).map(matters).collect()
}

/// What a batch is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Count {
    Pieces,
    Moulds,
    /// Batches of this net mass, for a product that has no pieces.
    Masses(Mass),
}

/// Batches of a product on days that come to the same.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    pub(super) product: ProductId,
    /// One batch on each; those first on which the plan makes the product already.
    pub(super) days: Vec<NaiveDate>,
    pub(super) least: i64,
    pub(super) most: i64,
    count: Count,
}

impl Candidate {
    pub(super) fn amount(&self, count: i64) -> PlanAmount {
        match self.count {
            Count::Pieces => PlanAmount::Pieces(count),
            Count::Moulds => PlanAmount::Moulds(count),
            Count::Masses(mass) => PlanAmount::NetMass(Mass { mg: mass.mg.saturating_mul(count) }),
        }
    }

    /// A batch on the first of the days: for weighing up.
    pub(super) fn batch(&self, count: i64) -> Batch {
        let make_on = self.days.first().copied().unwrap_or(NaiveDate::MIN);
        Batch { product: self.product, make_on, amount: self.amount(count) }
    }
}

/// A product that is not in the plan is made by the dozen, where it has no mould: our choice.
const DOZEN: i64 = 12;

/// What the product is counted in, and its least and greatest batch.
fn counts(outlook: &Outlook, snapshot: &Snapshot, id: ProductId, times: i64) -> Option<(Count, i64, i64)> {
    let product = snapshot.product(id);
    let planned = snapshot.entries.iter().zip(&outlook.sizes).filter(|(entry, _)| entry.product == id);
    let planned: Vec<&EntrySize> = planned.map(|(_, size)| size).collect();
    let has_pieces = product.net_mass.is_some_and(|mass| mass.mg > 0);
    let moulds = product.pieces_per_mould.filter(|pieces| *pieces > 0);
    let (count, planned, otherwise): (Count, Vec<i64>, i64) = match (has_pieces, moulds) {
        (true, Some(pieces)) => {
            let whole =
                |size: &&EntrySize| size.pieces.div_euclid(pieces) + i64::from(size.pieces.rem_euclid(pieces) > 0);
            (Count::Moulds, planned.iter().map(whole).collect(), 1)
        }
        (true, None) => (Count::Pieces, planned.iter().map(|size| size.pieces).collect(), DOZEN),
        (false, _) => {
            let least = planned.iter().map(|size| size.net).filter(|net| net.mg > 0).min()?;
            (Count::Masses(least), planned.iter().map(|size| size.net.mg / least.mg).collect(), 1)
        }
    };
    let least = planned.iter().copied().filter(|count| *count > 0).min().unwrap_or(otherwise);
    let largest = planned.iter().copied().max().unwrap_or(least).max(least);
    Some((count, least, largest.saturating_mul(times.max(1))))
}

/// What a day means to a product: for each way to an item, which supplies could serve it and what buying it costs.
#[derive(PartialEq, Eq)]
struct Meaning {
    ways: Vec<Option<(Vec<usize>, Option<UnitPrice>)>>,
    /// The day itself, where opening lots matters.
    day: Option<NaiveDate>,
}

/// All candidates, by product, then by day.
pub(super) fn candidates(bench: &Bench<'_>, settings: RescueSettings) -> Vec<Candidate> {
    let mut found = Vec::new();
    if !bench.anything_at_risk() {
        return found;
    }
    let last_day = last_day(bench);
    for one in &bench.reaches {
        let Some((count, least, most)) = counts(bench.outlook, bench.snapshot, one.product, settings.largest_times)
        else {
            continue;
        };
        let mut last: Option<Meaning> = None;
        let first = found.len();
        let days = bench.outlook.today.iter_days().take_while(|day| *day <= last_day);
        for day in days {
            let (meaning, helps) = meaning(bench, one, day);
            if !helps {
                last = None;
                continue;
            }
            if last.as_ref() != Some(&meaning) {
                found.push(Candidate { product: one.product, days: Vec::new(), least, most, count });
            }
            if let Some(candidate) = found.last_mut() {
                candidate.days.push(day);
            }
            last = Some(meaning);
        }
        for candidate in &mut found[first..] {
            prefer_planned_days(bench, candidate);
        }
    }
    found
}

/// The last day on which anything of which a part is at risk can still be used.
fn last_day(bench: &Bench<'_>) -> NaiveDate {
    let (today, horizon) = (bench.outlook.today, bench.outlook.horizon);
    let mut last = today;
    for place in 0..bench.snapshot.items.len() {
        let item = ItemId::new(place);
        if bench.opening_matters[place] {
            return horizon;
        }
        if !bench.is_at_risk(item) {
            continue;
        }
        let days = bench.supplies(item).iter().map(|supply| supply.through).filter(|through| *through <= horizon);
        last = days.max().unwrap_or(today).max(last);
    }
    // A premix may be made on its way up to the horizon, with what was weighed long before.
    let on_the_way = bench.reaches.iter().flat_map(|one| one.reaches.iter().map(|reach| reach.ahead)).max();
    last.checked_add_days(Days::new(u64::from(on_the_way.unwrap_or(0)))).unwrap_or(horizon).min(horizon)
}

fn prefer_planned_days(bench: &Bench<'_>, candidate: &mut Candidate) {
    let entries = bench.snapshot.entries.iter().zip(&bench.outlook.sizes);
    let made = entries.filter(|(entry, _)| entry.product == candidate.product).map(|(_, size)| size.make_on);
    let made: BTreeSet<NaiveDate> = made.collect();
    candidate.days.sort_by_key(|day| (!made.contains(day), *day));
}

/// The meaning of a day, and whether something at risk could be used up by then: a supply that ends by the horizon can
/// serve, of an item of which something is at risk. Only such a supply can stand in for the one at risk. What another
/// batch opens may be at risk after it, so that items whose after-opening life matters always count.
fn meaning(bench: &Bench<'_>, one: &Reaches, day: NaiveDate) -> (Meaning, bool) {
    let product = bench.snapshot.product(one.product);
    let mut helps = false;
    let mut opening = false;
    let mut ways = Vec::with_capacity(one.reaches.len());
    for reach in &one.reaches {
        opening |= bench.opening_matters[reach.item.index()];
        let window = reach.window(product, day, bench.outlook.today);
        let meaning = window.map(|(day, through)| {
            let serves = |supply: &Supply| supply.from <= day && supply.through >= through;
            let supplies = bench.supplies(reach.item);
            let serving: Vec<usize> = (0..supplies.len()).filter(|place| serves(&supplies[*place])).collect();
            let ends = |place: &usize| supplies[*place].through <= bench.outlook.horizon;
            helps |=
                bench.is_at_risk(reach.item) && (serving.iter().any(ends) || bench.opening_matters[reach.item.index()]);
            (serving, bench.price((reach.item, day, through)))
        });
        ways.push(meaning);
    }
    (Meaning { ways, day: opening.then_some(day) }, helps)
}
