//! Which lots the plan takes for what, and what it does not find.

use super::shared::{FindingView, entry_names, findings, source_code};
use crate::plan::explode::Demand;
use crate::plan::finding::Finding;
use crate::plan::model::{EntryId, ItemId, Snapshot};
use crate::plan::outlook::{ItemOutlook, Outlook};
use crate::plan::supply::Source;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// The allocation of a plan, by day, entry and line.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct AllocateView {
    /// Today.
    pub as_of: NaiveDate,
    /// Last day of the horizon.
    pub through: NaiveDate,
    /// What is taken from where.
    pub draws: Vec<DrawView>,
    /// What nothing serves.
    pub short: Vec<ShortView>,
    /// What was noticed.
    pub findings: Vec<FindingView>,
}

/// So much from a lot for an entry.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DrawView {
    /// Code of the plan entry.
    pub entry: String,
    /// What it makes.
    pub product: String,
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// Code of the lot, or of the open order that it comes from.
    pub lot: String,
    /// True where it has yet to arrive.
    pub on_order: bool,
    /// Where the lot stands.
    pub place: String,
    /// The day it is weighed.
    pub date: NaiveDate,
    /// How much.
    pub amount: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// The last day on which the lot can be used, counting what the plan opens; `None` where nothing ends it.
    pub usable_through: Option<NaiveDate>,
    /// True where another usable lot ends sooner and still has some left: a departure from first expired, first out.
    pub departs_from_fefo: bool,
}

/// What an entry does not get.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ShortView {
    /// Code of the plan entry.
    pub entry: String,
    /// What it makes.
    pub product: String,
    /// Code of the material.
    pub material: String,
    /// Its name.
    pub name: String,
    /// The day it is weighed.
    pub date: NaiveDate,
    /// How much is missing.
    pub short: i64,
    /// `mg` or `pcs`.
    pub unit: String,
}

/// Computes the report, of one entry or of all.
#[must_use]
pub fn allocate(snapshot: &Snapshot, outlook: &Outlook, only: Option<EntryId>) -> AllocateView {
    let mut draws = Vec::new();
    let mut short = Vec::new();
    for (place, part) in outlook.items.iter().enumerate() {
        let Some(allocation) = &part.allocation else { continue };
        let id = ItemId::new(place);
        let is_wanted = |demand: &Demand| only.is_none_or(|entry| demand.entry == entry);
        for draw in allocation.draws.iter().filter(|draw| is_wanted(&part.demands[draw.need])) {
            let demand = &part.demands[draw.need];
            draws.push((order_of(demand), draw_view(snapshot, id, part, draw)));
        }
        for shortage in outlook.shortages.iter().filter(|shortage| shortage.item == id) {
            let demand =
                part.demands.iter().find(|demand| demand.entry == shortage.entry && demand.day == shortage.day);
            if let Some(demand) = demand.filter(|demand| is_wanted(demand)) {
                short.push((order_of(demand), short_view(snapshot, shortage)));
            }
        }
    }
    let noticed = outlook.findings.iter().filter(|finding| only.is_none_or(|entry| concerns(snapshot, entry, finding)));
    let noticed: Vec<Finding> = noticed.cloned().collect();
    draws.sort_by_key(|(order, _)| *order);
    short.sort_by_key(|(order, _)| *order);
    AllocateView {
        as_of: outlook.today,
        through: outlook.horizon,
        draws: draws.into_iter().map(|(_, view)| view).collect(),
        short: short.into_iter().map(|(_, view)| view).collect(),
        findings: findings(&noticed),
    }
}

/// True for what was noticed of the entry itself or of its product.
fn concerns(snapshot: &Snapshot, entry: EntryId, finding: &Finding) -> bool {
    let entry = snapshot.entry(entry);
    finding.subject == entry.code || finding.subject == snapshot.product(entry.product).code
}

fn order_of(demand: &Demand) -> impl Ord + Copy + use<> {
    (demand.day, demand.entry, demand.line, demand.item)
}

fn draw_view(snapshot: &Snapshot, id: ItemId, part: &ItemOutlook, draw: &crate::plan::allocate::Draw) -> DrawView {
    let item = snapshot.item(id);
    let demand = &part.demands[draw.need];
    let (entry, product) = entry_names(snapshot, demand.entry);
    let source = part.sources[draw.supply];
    let through = part.allocation.as_ref().map_or(NaiveDate::MAX, |allocation| allocation.through[draw.supply]);
    DrawView {
        entry,
        product,
        material: item.code.clone(),
        name: item.name.clone(),
        lot: source_code(snapshot, source),
        on_order: matches!(source, Source::Order(_)),
        place: match source {
            Source::Lot(lot) => snapshot.lots[lot].place.clone(),
            Source::Order(_) => String::new(),
        },
        date: demand.day,
        amount: draw.quantity.0,
        unit: item.unit.symbol().to_owned(),
        usable_through: Some(through).filter(|day| *day < NaiveDate::MAX),
        departs_from_fefo: departs_from_fefo(part, draw),
    }
}

/// True where, after everything up to this draw, an eligible supply that ends sooner still has some left.
fn departs_from_fefo(part: &ItemOutlook, draw: &crate::plan::allocate::Draw) -> bool {
    let Some(allocation) = &part.allocation else { return false };
    let demand = &part.demands[draw.need];
    (0..part.supplies.len()).any(|other| {
        let drawn_by_then = allocation.draws.iter().filter(|past| past.supply == other && past.need <= draw.need);
        let drawn: i64 = drawn_by_then.map(|past| past.quantity.0).sum();
        allocation.through[other] < allocation.through[draw.supply]
            && part.supplies[other].from <= demand.day
            && allocation.through[other] >= demand.through
            && drawn < part.supplies[other].quantity.0
    })
}

fn short_view(snapshot: &Snapshot, shortage: &crate::plan::outlook::Shortage) -> ShortView {
    let item = snapshot.item(shortage.item);
    let (entry, product) = entry_names(snapshot, shortage.entry);
    ShortView {
        entry,
        product,
        material: item.code.clone(),
        name: item.name.clone(),
        date: shortage.day,
        short: shortage.quantity.0,
        unit: item.unit.symbol().to_owned(),
    }
}
