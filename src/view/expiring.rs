//! What ends within the horizon: how much of it the plan still uses, and what is at risk.

use super::shared::{FindingView, entry_names, findings, source_code};
use crate::plan::model::{ItemId, LotState, Snapshot};
use crate::plan::money::Money;
use crate::plan::outlook::{ItemOutlook, Outlook};
use crate::plan::quantity::Quantity;
use crate::plan::rescue::LastDays;
use crate::plan::supply::Source;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// Lots that end within the horizon. Money is in the home currency.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ExpiringView {
    /// Today.
    pub as_of: NaiveDate,
    /// Last day of the horizon.
    pub through: NaiveDate,
    /// Home currency.
    pub currency: String,
    /// By last usable day, then material.
    pub lots: Vec<ExpiringLotView>,
    /// The value at risk of all of them.
    pub at_risk_value: String,
    /// What was noticed.
    pub findings: Vec<FindingView>,
}

/// One lot, or an open order that would end within the horizon.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ExpiringLotView {
    /// Code of the lot, or of the open order.
    pub lot: String,
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// Where it stands; empty for an open order.
    pub place: String,
    /// Last day on which it can be used, counting what the plan opens.
    pub usable_through: NaiveDate,
    /// What is there.
    pub on_hand: i64,
    /// What the plan will still use.
    pub planned_use: i64,
    /// What would be left over.
    pub at_risk: i64,
    /// What that cost.
    pub at_risk_value: String,
    /// The plan entries that use it.
    pub entries: Vec<String>,
    /// What they make, place by place.
    pub products: Vec<String>,
    /// The last day on which making some product of the book could still use some of it; `None` where it is too late.
    pub last_useful_day: Option<NaiveDate>,
}

/// Computes the report.
#[must_use]
pub fn expiring(snapshot: &Snapshot, outlook: &Outlook) -> ExpiringView {
    let mut lots = Vec::new();
    let mut total = Money::ZERO;
    let last_days = LastDays::new(snapshot, outlook);
    for (place, part) in outlook.items.iter().enumerate() {
        for supply in ending(outlook, part) {
            let at_risk = part.allocation.as_ref().map_or(Quantity::ZERO, |allocation| allocation.left[supply]);
            total += part.value_of(supply, at_risk);
            let last_useful_day = last_days.of(ItemId::new(place), supply);
            lots.push(ExpiringLotView { last_useful_day, ..lot_view(snapshot, place, part, supply) });
        }
    }
    lots.sort_by(|left, right| {
        (left.usable_through, &left.material, &left.lot).cmp(&(right.usable_through, &right.material, &right.lot))
    });
    ExpiringView {
        as_of: outlook.today,
        through: outlook.horizon,
        currency: snapshot.home.code().to_owned(),
        lots,
        at_risk_value: snapshot.home.decimal(total.minor),
        findings: findings(&outlook.findings),
    }
}

/// The supplies of an item that end within the horizon.
fn ending<'a>(outlook: &'a Outlook, part: &'a ItemOutlook) -> impl Iterator<Item = usize> + 'a {
    let through = part.allocation.as_ref().map_or(&[][..], |allocation| &allocation.through[..]);
    through.iter().enumerate().filter(|(_, through)| **through <= outlook.horizon).map(|(supply, _)| supply)
}

fn lot_view(snapshot: &Snapshot, item: usize, part: &ItemOutlook, supply: usize) -> ExpiringLotView {
    let item = &snapshot.items[item];
    let source = part.sources[supply];
    let draws: Vec<_> = part.allocation.iter().flat_map(|allocation| &allocation.draws).collect();
    let draws = draws.into_iter().filter(|draw| draw.supply == supply);
    let (mut entries, mut products): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
    let mut planned_use = Quantity::ZERO;
    for draw in draws {
        planned_use += draw.quantity;
        let (code, product) = entry_names(snapshot, part.demands[draw.need].entry);
        if !entries.contains(&code) {
            entries.push(code);
            products.push(product);
        }
    }
    let at_risk = part.supplies[supply].quantity - planned_use;
    ExpiringLotView {
        lot: source_code(snapshot, source),
        material: item.code.clone(),
        name: item.name.clone(),
        unit: item.unit.symbol().to_owned(),
        place: match source {
            Source::Lot(lot) => snapshot.lots[lot].place.clone(),
            Source::Order(_) => String::new(),
        },
        usable_through: part.allocation.as_ref().map_or(NaiveDate::MAX, |allocation| allocation.through[supply]),
        on_hand: part.supplies[supply].quantity.0,
        planned_use: planned_use.0,
        at_risk: at_risk.0,
        at_risk_value: snapshot.home.decimal(part.value_of(supply, at_risk).minor),
        entries,
        products,
        last_useful_day: None,
    }
}

/// Why a lot ends as it does: who will still use it, and what limits its life.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LotReasons {
    /// Today.
    pub as_of: NaiveDate,
    /// Last day of the horizon.
    pub through: NaiveDate,
    /// Code.
    pub lot: String,
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// `released`, `quarantine` or `rejected`.
    pub state: String,
    /// What is there.
    pub on_hand: i64,
    /// Its best-before date, if any.
    pub best_before: Option<NaiveDate>,
    /// When it was opened, if it is.
    pub opened: Option<NaiveDate>,
    /// The last day on which it can be used, counting what the plan opens; `None` where nothing ends it.
    pub usable_through: Option<NaiveDate>,
    /// Who uses it, by day.
    pub uses: Vec<UseView>,
    /// What nobody uses by the horizon.
    pub left: i64,
    /// True where it ends by the horizon with something left.
    pub at_risk: bool,
}

/// A plan entry's draw on a lot.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct UseView {
    /// When.
    pub date: NaiveDate,
    /// Code of the plan entry.
    pub entry: String,
    /// What it makes.
    pub product: String,
    /// How much it takes.
    pub amount: i64,
}

/// Explains a lot.
#[must_use]
pub fn reasons(snapshot: &Snapshot, outlook: &Outlook, place: usize) -> LotReasons {
    let lot = &snapshot.lots[place];
    let item = snapshot.item(lot.item);
    let part = &outlook.items[lot.item.index()];
    let supply = part.sources.iter().position(|source| *source == Source::Lot(place));
    let planned = supply.zip(part.allocation.as_ref());
    let usable_through = match planned {
        Some((supply, allocation)) => allocation.through[supply],
        None => crate::plan::life::usable_through(lot, item),
    };
    let mut uses = Vec::new();
    for draw in
        planned.iter().flat_map(|(supply, allocation)| allocation.draws.iter().filter(|draw| draw.supply == *supply))
    {
        let demand = &part.demands[draw.need];
        let (entry, product) = entry_names(snapshot, demand.entry);
        uses.push(UseView { date: demand.day, entry, product, amount: draw.quantity.0 });
    }
    let left = lot.on_hand.0 - uses.iter().map(|used| used.amount).sum::<i64>();
    LotReasons {
        as_of: outlook.today,
        through: outlook.horizon,
        lot: lot.code.clone(),
        material: item.code.clone(),
        name: item.name.clone(),
        unit: item.unit.symbol().to_owned(),
        state: lot.state.word().to_owned(),
        on_hand: lot.on_hand.0,
        best_before: lot.best_before,
        opened: lot.opened,
        usable_through: Some(usable_through).filter(|day| *day < NaiveDate::MAX),
        at_risk: lot.state == LotState::Released && left > 0 && usable_through <= outlook.horizon,
        uses,
        left,
    }
}
