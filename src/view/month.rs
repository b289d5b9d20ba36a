//! The month ahead, by week and day: what is made and what it needs, what is short, what has to be ordered, what comes,
//! what ends and what is ready.

use super::shared::{FindingView, entry_names, findings, source_code};
use crate::plan::calendar::Span;
use crate::plan::model::{EntryId, ItemId, Snapshot};
use crate::plan::outlook::Outlook;
use crate::plan::supply::Source;
use chrono::{Datelike, Days, NaiveDate, Weekday};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// The month ahead. Amounts are in each material's `unit`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MonthView {
    /// Today.
    pub as_of: NaiveDate,
    /// The last day.
    pub through: NaiveDate,
    /// Every week from today's on, as ISO 8601 counts them.
    pub weeks: Vec<WeekView>,
    /// What was noticed.
    pub findings: Vec<FindingView>,
}

/// A week.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WeekView {
    /// `2027-W09` (ISO 8601).
    pub week: String,
    /// Its Monday.
    pub monday: NaiveDate,
    /// Its days with something on them.
    pub days: Vec<MonthDayView>,
    /// What the week takes of each material, by name.
    pub needs: Vec<MonthNeedView>,
}

/// A day.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MonthDayView {
    /// The day.
    pub date: NaiveDate,
    /// What is made or started.
    pub make: Vec<MakeView>,
    /// What has to be ordered by this day, the overdue on the first.
    pub order: Vec<OrderByView>,
    /// Open orders that are due.
    pub comes: Vec<ComesView>,
    /// Lots of which something is left on their last day.
    pub ends: Vec<EndsView>,
    /// Plan entries that are set and cured.
    pub ready: Vec<ReadyView>,
}

/// A plan entry on a day of work.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MakeView {
    /// Code of the entry.
    pub entry: String,
    /// Code of the product.
    pub product: String,
    /// Its name.
    pub product_name: String,
    /// Whole pieces.
    pub pieces: i64,
    /// Net mass, in mg.
    pub net_mass: i64,
    /// The day the product itself is made: later than this one where a premix is started for it.
    pub make_on: NaiveDate,
    /// What is weighed and counted out on this day, in the order of the formula.
    pub needs: Vec<MonthNeedView>,
}

/// So much of a material.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct MonthNeedView {
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// How much.
    pub amount: i64,
    /// What of it nothing covers.
    pub short: i64,
    /// `mg` or `pcs`.
    pub unit: String,
}

/// A material that has to be ordered.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OrderByView {
    /// Code of the material.
    pub material: String,
    /// Its name.
    pub name: String,
    /// What is missing that has to be ordered by then.
    pub short: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// The first day it is missing on.
    pub needed: NaiveDate,
    /// True where the order-by date has passed.
    pub late: bool,
}

/// An order that is due.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ComesView {
    /// Code of the order.
    pub order: String,
    /// Name of the supplier.
    pub supplier: String,
    /// Names of what comes.
    pub names: Vec<String>,
    /// The day it was expected on; where that has passed it is told of today, and the plan reckons with it from tomorrow on.
    pub expected: NaiveDate,
}

/// A lot that ends with something left.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct EndsView {
    /// Code of the lot, or of the open order.
    pub lot: String,
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// What is left.
    pub at_risk: i64,
    /// `mg` or `pcs`.
    pub unit: String,
}

/// An entry that is set and cured.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ReadyView {
    /// Code of the entry.
    pub entry: String,
    /// The product's name.
    pub product_name: String,
}

impl MonthDayView {
    fn new(date: NaiveDate) -> Self {
        Self { date, make: Vec::new(), order: Vec::new(), comes: Vec::new(), ends: Vec::new(), ready: Vec::new() }
    }

    fn is_empty(&self) -> bool {
        self.make.is_empty()
            && self.order.is_empty()
            && self.comes.is_empty()
            && self.ends.is_empty()
            && self.ready.is_empty()
    }
}

/// The last day of the month that begins with `today`: the day before the same day of the next month.
#[must_use]
pub fn month_end(today: NaiveDate) -> NaiveDate {
    let next = Span { months: 1, days: 0 }.after(today);
    next.pred_opt().unwrap_or(next).max(today)
}

/// Computes the month from an outlook that may look further: what has to be ordered within the month for later is part
/// of it.
#[must_use]
pub fn month(snapshot: &Snapshot, outlook: &Outlook, through: NaiveDate) -> MonthView {
    let through = through.max(outlook.today);
    let mut month = Month { snapshot, outlook, through, days: BTreeMap::new() };
    month.make();
    month.order();
    month.come();
    month.end();
    month.ready();
    MonthView { as_of: outlook.today, through, weeks: month.weeks(), findings: findings(&outlook.findings) }
}

struct Month<'a> {
    snapshot: &'a Snapshot,
    outlook: &'a Outlook,
    through: NaiveDate,
    days: BTreeMap<NaiveDate, MonthDayView>,
}

impl Month<'_> {
    fn day(&mut self, date: NaiveDate) -> Option<&mut MonthDayView> {
        let within = date >= self.outlook.today && date <= self.through;
        within.then(|| self.days.entry(date).or_insert_with(|| MonthDayView::new(date)))
    }

    fn make(&mut self) {
        let mut work: BTreeSet<(NaiveDate, EntryId)> = BTreeSet::new();
        for (place, size) in self.outlook.sizes.iter().enumerate() {
            work.insert((size.make_on, EntryId::new(place)));
        }
        for part in &self.outlook.items {
            work.extend(part.demands.iter().map(|demand| (demand.day, demand.entry)));
        }
        for (date, id) in work {
            let size = self.outlook.sizes[id.index()];
            let (entry, product_name) = entry_names(self.snapshot, id);
            let view = MakeView {
                entry,
                product: self.snapshot.product(self.snapshot.entry(id).product).code.clone(),
                product_name,
                pieces: size.pieces,
                net_mass: size.net.mg,
                make_on: size.make_on,
                needs: self.needs(date, id),
            };
            if let Some(day) = self.day(date) {
                day.make.push(view);
            }
        }
    }

    /// What an entry takes on a day, each material once, in the order of its formula; without what is always at hand.
    fn needs(&self, date: NaiveDate, entry: EntryId) -> Vec<MonthNeedView> {
        let mut needs = Vec::new();
        for (place, part) in self.outlook.items.iter().enumerate() {
            let Some(allocation) = &part.allocation else { continue };
            let mut sum = (0_i64, 0_i64, None);
            for (demand, short) in part.demands.iter().zip(&allocation.short) {
                if demand.entry == entry && demand.day == date {
                    let first = sum.2.unwrap_or(demand.line).min(demand.line);
                    sum = (sum.0.saturating_add(demand.quantity.0), sum.1.saturating_add(short.0), Some(first));
                }
            }
            let Some(line) = sum.2 else { continue };
            let id = ItemId::new(place);
            let bought = self.outlook.shortages.iter().any(|shortage| shortage.item == id && shortage.entry == entry);
            needs.push((line, self.need(id, sum.0, if bought { sum.1 } else { 0 })));
        }
        needs.sort_by_key(|(line, _)| *line);
        needs.into_iter().map(|(_, need)| need).collect()
    }

    fn need(&self, id: ItemId, amount: i64, short: i64) -> MonthNeedView {
        let item = self.snapshot.item(id);
        MonthNeedView {
            material: item.code.clone(),
            name: item.name.clone(),
            amount,
            short,
            unit: item.unit.symbol().to_owned(),
        }
    }

    /// What is missing, by material and by the last day on which it can be ordered.
    fn order(&mut self) {
        let mut missing: BTreeMap<(NaiveDate, ItemId), OrderByView> = BTreeMap::new();
        let today = self.outlook.today;
        for shortage in &self.outlook.shortages {
            let Some(order_by) = shortage.order_by else { continue };
            let item = self.snapshot.item(shortage.item);
            let known = missing.entry((order_by, shortage.item)).or_insert_with(|| OrderByView {
                material: item.code.clone(),
                name: item.name.clone(),
                short: 0,
                unit: item.unit.symbol().to_owned(),
                needed: shortage.day,
                late: order_by < today,
            });
            known.needed = known.needed.min(shortage.day);
            known.short = known.short.saturating_add(shortage.quantity.0);
        }
        for ((order_by, _), view) in missing {
            if let Some(day) = self.day(order_by.max(today)) {
                day.order.push(view);
            }
        }
    }

    fn come(&mut self) {
        let mut orders: BTreeMap<(NaiveDate, &str), ComesView> = BTreeMap::new();
        for order in &self.snapshot.orders {
            let supplier = &self.snapshot.suppliers[order.supplier.index()];
            let view =
                orders.entry((order.expected.max(self.outlook.today), &order.code)).or_insert_with(|| ComesView {
                    order: order.code.clone(),
                    supplier: supplier.name.clone(),
                    names: Vec::new(),
                    expected: order.expected,
                });
            let name = self.snapshot.item(order.item).name.clone();
            if !view.names.contains(&name) {
                view.names.push(name);
            }
        }
        for ((date, _), view) in orders {
            if let Some(day) = self.day(date) {
                day.comes.push(view);
            }
        }
    }

    fn end(&mut self) {
        let mut ends = Vec::new();
        for (place, part) in self.outlook.items.iter().enumerate() {
            let Some(allocation) = &part.allocation else { continue };
            let item = self.snapshot.item(ItemId::new(place));
            for (supply, (&through, &left)) in allocation.through.iter().zip(&allocation.left).enumerate() {
                if left.is_zero() || matches!(part.sources[supply], Source::Order(_)) && through > self.through {
                    continue;
                }
                let view = EndsView {
                    lot: source_code(self.snapshot, part.sources[supply]),
                    material: item.code.clone(),
                    name: item.name.clone(),
                    at_risk: left.0,
                    unit: item.unit.symbol().to_owned(),
                };
                ends.push((through, view));
            }
        }
        for (through, view) in ends {
            if let Some(day) = self.day(through) {
                day.ends.push(view);
            }
        }
    }

    fn ready(&mut self) {
        for (place, size) in self.outlook.sizes.iter().enumerate() {
            let (entry, product_name) = entry_names(self.snapshot, EntryId::new(place));
            if size.ready_on > size.make_on
                && let Some(day) = self.day(size.ready_on)
            {
                day.ready.push(ReadyView { entry, product_name });
            }
        }
    }

    fn weeks(self) -> Vec<WeekView> {
        let mut monday = monday_of(self.outlook.today);
        let mut weeks = Vec::new();
        while monday <= self.through {
            let Some(next) = monday.checked_add_days(Days::new(7)) else { break };
            let days = self.days.range(monday..next).map(|(_, day)| day);
            let days: Vec<MonthDayView> = days.filter(|day| !day.is_empty()).cloned().collect();
            let iso = monday.iso_week();
            let week = format!("{:04}-W{:02}", iso.year(), iso.week());
            weeks.push(WeekView { week, monday, needs: summed(&days), days });
            monday = next;
        }
        weeks
    }
}

/// The Monday of a day's week.
#[must_use]
pub fn monday_of(day: NaiveDate) -> NaiveDate {
    day.week(Weekday::Mon).first_day()
}

/// What some days take of each material, by name.
fn summed(days: &[MonthDayView]) -> Vec<MonthNeedView> {
    let mut sums: BTreeMap<(String, &str), MonthNeedView> = BTreeMap::new();
    for need in days.iter().flat_map(|day| &day.make).flat_map(|make| &make.needs) {
        let key = (need.name.to_lowercase(), need.material.as_str());
        let sum = sums.entry(key).or_insert_with(|| MonthNeedView { amount: 0, short: 0, ..need.clone() });
        sum.amount = sum.amount.saturating_add(need.amount);
        sum.short = sum.short.saturating_add(need.short);
    }
    sums.into_values().collect()
}
