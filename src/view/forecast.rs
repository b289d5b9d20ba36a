//! The forecast: what each material does day by day, and what runs short.

use super::shared::{FindingView, entry_names, findings, source_code};
use crate::plan::calendar::day_in_words;
use crate::plan::model::{ItemId, Snapshot};
use crate::plan::outlook::{ItemOutlook, Outlook, Shortage};
use crate::plan::project::{ProjectedDay, on_hand, project};
use crate::plan::quantity::Quantity;
use crate::plan::supply::Source;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// The forecast of a workshop. Amounts are in each material's `unit`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ForecastView {
    /// Today.
    pub as_of: NaiveDate,
    /// Last day of the horizon.
    pub through: NaiveDate,
    /// By code: what is in stock, coming, needed or should be kept; without what is always at hand.
    pub materials: Vec<MaterialView>,
    /// By day, then material.
    pub shortages: Vec<ShortageView>,
    /// What was noticed.
    pub findings: Vec<FindingView>,
}

/// One material's days.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MaterialView {
    /// Code of a material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// Usable today.
    pub on_hand: i64,
    /// What should always be left.
    pub safety_stock: i64,
    /// True for a premix: what it lacks is made, not bought.
    pub premix: bool,
    /// Every day of the horizon.
    pub days: Vec<DayView>,
}

/// One day. `balance` = the balance before + `receipts` - (`demand` - `short`) - `expired`.
#[derive(Clone, Copy, Debug, Serialize, JsonSchema)]
pub struct DayView {
    /// The day.
    pub date: NaiveDate,
    /// What arrives.
    pub receipts: i64,
    /// What is asked for.
    pub demand: i64,
    /// What of that no lot covers.
    pub short: i64,
    /// What can no longer be used from this day on.
    pub expired: i64,
    /// What is left at the end of the day.
    pub balance: i64,
}

/// A dated demand that no lot covers.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ShortageView {
    /// Code.
    pub material: String,
    /// Name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// The day it is needed.
    pub date: NaiveDate,
    /// How much is missing.
    pub short: i64,
    /// The last day to order; `None` where nobody offers it.
    pub order_by: Option<NaiveDate>,
    /// True where that day has passed.
    pub late: bool,
    /// The plan entries that it hits.
    pub entries: Vec<String>,
    /// What they make.
    pub products: Vec<String>,
}

/// Computes the forecast.
#[must_use]
pub fn forecast(snapshot: &Snapshot, outlook: &Outlook) -> ForecastView {
    let materials = outlook.items.iter().enumerate();
    let mut shortages: Vec<ShortageView> =
        outlook.shortages.iter().map(|shortage| shortage_view(snapshot, outlook, shortage)).collect();
    shortages.sort_by(|left, right| (left.date, &left.material).cmp(&(right.date, &right.material)));
    ForecastView {
        as_of: outlook.today,
        through: outlook.horizon,
        materials: materials.filter_map(|(place, part)| material_view(snapshot, outlook, place, part)).collect(),
        shortages,
        findings: findings(&outlook.findings),
    }
}

fn shortage_view(snapshot: &Snapshot, outlook: &Outlook, shortage: &Shortage) -> ShortageView {
    let item = snapshot.item(shortage.item);
    let (entry, product) = entry_names(snapshot, shortage.entry);
    ShortageView {
        material: item.code.clone(),
        name: item.name.clone(),
        unit: item.unit.symbol().to_owned(),
        date: shortage.day,
        short: shortage.quantity.0,
        order_by: shortage.order_by,
        late: shortage.order_by.is_some_and(|day| day < outlook.today),
        entries: vec![entry],
        products: vec![product],
    }
}

fn material_view(snapshot: &Snapshot, outlook: &Outlook, place: usize, part: &ItemOutlook) -> Option<MaterialView> {
    let item = &snapshot.items[place];
    let allocation = part.allocation.as_ref()?;
    if part.supplies.is_empty() && part.demands.is_empty() && item.safety_stock.is_zero() {
        return None;
    }
    let days = project(&part.supplies, &part.needs(), allocation, outlook.today, outlook.horizon);
    Some(MaterialView {
        material: item.code.clone(),
        name: item.name.clone(),
        unit: item.unit.symbol().to_owned(),
        on_hand: on_hand(&part.supplies, outlook.today).0,
        safety_stock: item.safety_stock.0,
        premix: item.premix.is_some(),
        days: days.iter().map(day_view).collect(),
    })
}

fn day_view(day: &ProjectedDay) -> DayView {
    DayView {
        date: day.date,
        receipts: day.receipts.0,
        demand: day.demand.0,
        short: day.short.0,
        expired: day.expired.0,
        balance: day.balance.0,
    }
}

/// Why a material's forecast is as it is: what comes, what is asked for and by whom, what ends.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MaterialReasons {
    /// Today.
    pub as_of: NaiveDate,
    /// Last day of the horizon.
    pub through: NaiveDate,
    /// Code.
    pub material: String,
    /// Name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// True for a premix: what it lacks is made.
    pub premix: bool,
    /// Usable today.
    pub on_hand: i64,
    /// By day.
    pub events: Vec<EventView>,
}

/// One thing that happens to a material.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct EventView {
    /// When.
    pub date: NaiveDate,
    /// `receipt`, `demand` or `expiry`.
    pub event: String,
    /// How much.
    pub amount: i64,
    /// What of a demand no lot covers.
    pub short: i64,
    /// What serves a demand must be usable through this day.
    pub lasting_to: Option<NaiveDate>,
    /// The plan entry that asks, or the lot or order that comes or ends.
    pub subject: String,
    /// The product, by way of which premix; or the supplier.
    pub detail: String,
    /// The lots that serve a demand.
    pub lots: Vec<String>,
}

/// Explains a material's forecast; `None` for what is always at hand.
#[must_use]
pub fn reasons(snapshot: &Snapshot, outlook: &Outlook, id: ItemId) -> Option<MaterialReasons> {
    let item = snapshot.item(id);
    let part = &outlook.items[id.index()];
    let allocation = part.allocation.as_ref()?;
    let mut events = Vec::new();
    for (supply, &source) in part.sources.iter().enumerate() {
        events.extend(supply_events(snapshot, outlook, part, supply, source));
    }
    for (need, demand) in part.demands.iter().enumerate() {
        let (entry, product) = entry_names(snapshot, demand.entry);
        let by_way_of = demand.premix.map(|premix| format!(" by way of {}", snapshot.item(premix).name));
        let draws = allocation.draws.iter().filter(|draw| draw.need == need);
        events.push(EventView {
            date: demand.day,
            event: "demand".to_owned(),
            amount: demand.quantity.0,
            short: allocation.short[need].0,
            lasting_to: Some(demand.through),
            subject: entry,
            detail: format!("{product}{}", by_way_of.unwrap_or_default()),
            lots: draws.map(|draw| source_code(snapshot, part.sources[draw.supply])).collect(),
        });
    }
    // On one day, what ended yesterday goes first, then what comes, then what is weighed.
    let rank = |event: &EventView| ["expiry", "receipt", "demand"].iter().position(|word| *word == event.event);
    events.sort_by_key(|event| (event.date, rank(event)));
    Some(MaterialReasons {
        as_of: outlook.today,
        through: outlook.horizon,
        material: item.code.clone(),
        name: item.name.clone(),
        unit: item.unit.symbol().to_owned(),
        premix: item.premix.is_some(),
        on_hand: on_hand(&part.supplies, outlook.today).0,
        events,
    })
}

fn supply_events(
    snapshot: &Snapshot,
    outlook: &Outlook,
    part: &ItemOutlook,
    place: usize,
    source: Source,
) -> Vec<EventView> {
    let supply = &part.supplies[place];
    let code = source_code(snapshot, source);
    let event = |date, word: &str, amount: Quantity, detail: String| EventView {
        date,
        event: word.to_owned(),
        amount: amount.0,
        short: 0,
        lasting_to: None,
        subject: code.clone(),
        detail,
        lots: Vec::new(),
    };
    let mut events = Vec::new();
    if let Source::Order(order) = source
        && supply.from <= outlook.horizon
    {
        let supplier = snapshot.orders[order].supplier;
        let name = snapshot.suppliers[supplier.index()].name.clone();
        events.push(event(supply.from, "receipt", supply.quantity, name));
    }
    let Some(allocation) = &part.allocation else { return events };
    let (through, left) = (allocation.through[place], allocation.left[place]);
    let ends = through.succ_opt().filter(|day| (outlook.today..=outlook.horizon).contains(day));
    if let Some(day) = ends.filter(|_| !left.is_zero()) {
        events.push(event(day, "expiry", left, format!("use by {}", day_in_words(through, outlook.today))));
    }
    events
}
