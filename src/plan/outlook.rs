//! The outlook of a workshop: everything that the plan, the lots and the open orders say of the days ahead.

use super::allocate::{Allocation, Need, SearchLimit, Supply, allocate};
use super::explode::{Demand, EntrySize, explode, use_rate_findings};
use super::finding::{Finding, FindingKind};
use super::model::{EntryId, ItemId, Snapshot, SupplierId};
use super::money::Money;
use super::quantity::{Mass, Quantity};
use super::supply::{Source, supplies};
use chrono::NaiveDate;

/// What lies ahead from a day to a horizon.
#[derive(Clone, Debug)]
pub struct Outlook {
    /// Today.
    pub today: NaiveDate,
    /// The last day.
    pub horizon: NaiveDate,
    /// Size and days of each plan entry.
    pub sizes: Vec<EntrySize>,
    /// Each item's part, in the order of the snapshot's items.
    pub items: Vec<ItemOutlook>,
    /// One for each dated demand for something bought that is not covered, by item, then in order of rank.
    pub shortages: Vec<Shortage>,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// What lies ahead for one item.
#[derive(Clone, Debug)]
pub struct ItemOutlook {
    /// Lots and open orders.
    pub supplies: Vec<Supply>,
    /// Where those come from, place by place.
    pub sources: Vec<Source>,
    /// Dated demands, in order of rank.
    pub demands: Vec<Demand>,
    /// Who gets what; `None` for what is always at hand.
    pub allocation: Option<Allocation>,
    /// For a premix, so much is made for each demand; empty for all else.
    pub made: Vec<Mass>,
}

impl ItemOutlook {
    /// The demands as the allocation sees them.
    #[must_use]
    pub fn needs(&self) -> Vec<Need> {
        self.demands.iter().map(Need::from).collect()
    }

    /// The value of a supply's part, half up.
    #[must_use]
    pub fn value_of(&self, supply: usize, part: Quantity) -> Money {
        self.supplies[supply].value.share(part.0, self.supplies[supply].quantity.0)
    }
}

/// A dated demand that nothing covers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shortage {
    /// Of what.
    pub item: ItemId,
    /// The day it is needed.
    pub day: NaiveDate,
    /// What serves it must be usable through this day.
    pub through: NaiveDate,
    /// How much.
    pub quantity: Quantity,
    /// For which entry.
    pub entry: EntryId,
    /// The latest day on which an order to some supplier could still arrive in time; before today where it is too late.
    /// `None` where nobody offers the item.
    pub order_by: Option<NaiveDate>,
}

/// The last make date of the plan, not before today: the horizon where the user gives none.
#[must_use]
pub fn natural_horizon(snapshot: &Snapshot, today: NaiveDate) -> NaiveDate {
    let make_on = |entry| super::explode::size(entry, snapshot.product(entry.product)).make_on;
    snapshot.entries.iter().map(make_on).max().unwrap_or(today).max(today)
}

/// Looks ahead.
#[must_use]
pub fn look_ahead(snapshot: &Snapshot, today: NaiveDate, through: Option<NaiveDate>, limit: SearchLimit) -> Outlook {
    let horizon = through.unwrap_or_else(|| natural_horizon(snapshot, today)).max(today);
    let supplied = supplies(snapshot, today);
    let explosion = explode(snapshot, today, horizon, &supplied.supplies, limit);
    let mut findings = explosion.findings;
    findings.extend(supplied.findings);
    findings.extend(use_rate_findings(snapshot));
    let parts = supplied.supplies.into_iter().zip(supplied.sources).zip(explosion.demands);
    let parts = parts.zip(explosion.premix_stock.into_iter().zip(explosion.made));
    let mut items = Vec::with_capacity(snapshot.items.len());
    let mut shortages = Vec::new();
    let offered_by = offered_by(snapshot);
    for (place, (((supplies, sources), demands), (premix_stock, made))) in parts.enumerate() {
        let id = ItemId::new(place);
        let item = snapshot.item(id);
        let needs: Vec<Need> = demands.iter().map(Need::from).collect();
        let made_here = premix_stock.is_some();
        let allocation = match premix_stock {
            Some(allocation) => Some(allocation),
            None if item.always_at_hand => None,
            None => Some(allocate(&supplies, &needs, horizon, limit)),
        };
        if let Some(allocation) = &allocation {
            if !allocation.proven {
                findings.push(unproven(&item.code, &item.name));
            }
            // What a premix lacks is made; what its ingredients then lack is their shortage.
            if !made_here || item.premix.as_ref().is_some_and(|premix| premix.formula.is_none()) {
                let short = uncovered(snapshot, id, &offered_by[place], &demands, allocation);
                if !short.is_empty() && nothing_on_file(snapshot, id, &offered_by[place]) {
                    findings.push(perhaps_always_at_hand(&item.code, &item.name));
                }
                shortages.extend(short);
            }
        }
        items.push(ItemOutlook { supplies, sources, demands, allocation, made });
    }
    findings.sort();
    findings.dedup();
    Outlook { today, horizon, sizes: explosion.sizes, items, shortages, findings }
}

fn uncovered(
    snapshot: &Snapshot,
    item: ItemId,
    offered_by: &[SupplierId],
    demands: &[Demand],
    allocation: &Allocation,
) -> Vec<Shortage> {
    let short = demands.iter().zip(&allocation.short).filter(|(_, short)| !short.is_zero());
    short
        .map(|(demand, &quantity)| Shortage {
            item,
            day: demand.day,
            through: demand.through,
            quantity,
            entry: demand.entry,
            order_by: latest_order_day(snapshot, offered_by, demand.day),
        })
        .collect()
}

/// Who offers each item, in the order of the snapshot's items: the offers are gone through once for all of them.
fn offered_by(snapshot: &Snapshot) -> Vec<Vec<SupplierId>> {
    let mut suppliers = vec![Vec::new(); snapshot.items.len()];
    for offer in &snapshot.offers {
        let known: &mut Vec<SupplierId> = &mut suppliers[offer.item.index()];
        // Offers are in order of supplier: more packs of the same one follow each other.
        if known.last() != Some(&offer.supplier) {
            known.push(offer.supplier);
        }
    }
    suppliers
}

fn latest_order_day(snapshot: &Snapshot, suppliers: &[SupplierId], day: NaiveDate) -> Option<NaiveDate> {
    let calendars = suppliers.iter().map(|supplier| &snapshot.suppliers[supplier.index()].calendar);
    calendars.filter_map(|calendar| calendar.latest_order_day(day)).max()
}

/// True where nothing tells that the item ever comes or came: what runs out of a tap, say. Offers that a wish leaves out do
/// not count as missing.
fn nothing_on_file(snapshot: &Snapshot, item: ItemId, offered_by: &[SupplierId]) -> bool {
    offered_by.is_empty()
        && snapshot.hand.wishes.is_empty()
        && snapshot.item(item).premix.is_none()
        && !snapshot.lots.iter().any(|lot| lot.item == item)
        && !snapshot.orders.iter().any(|order| order.item == item)
}

fn perhaps_always_at_hand(code: &str, name: &str) -> Finding {
    Finding {
        kind: FindingKind::NothingOnFile,
        subject: code.to_owned(),
        message: format!(
            "Of {name} there is no lot and no offer, so it runs short and cannot be ordered. If it never runs out (tap water), write \
             yes under always_at_hand in materials.csv; else add a lot to lots.csv or an offer to offers.csv. Then import that file."
        ),
    }
}

fn unproven(code: &str, name: &str) -> Finding {
    Finding {
        kind: FindingKind::SearchLimit,
        subject: code.to_owned(),
        message: format!(
            "Which lots of {name} to open when was searched up to a limit: the answer keeps every rule, but a better one may exist."
        ),
    }
}
