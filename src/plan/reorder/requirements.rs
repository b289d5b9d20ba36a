//! From shortages and safety stocks to a purchasing problem: what has to come by when, what comes too late whatever is done.

use super::{Credit, Pack, Problem, Requirement, Terms};
use crate::plan::finding::{Finding, FindingKind};
use crate::plan::model::{ItemId, Offer, OfferId, Snapshot, Supplier, SupplierId};
use crate::plan::money::Rate;
use crate::plan::outlook::Outlook;
use crate::plan::project::below_safety_stock;
use crate::plan::quantity::{Percent, Quantity, Unit};
use crate::plan::supply::{Source, no_rate};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// Settings of the credit for left-over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CreditSettings {
    /// Left-over counts so many days after the horizon.
    pub window_days: u32,
    /// Share of the lowest landed price that it is worth.
    pub worth: Percent,
}

impl Default for CreditSettings {
    fn default() -> Self {
        Self { window_days: 60, worth: Percent { millionths: 50_000_000 } }
    }
}

/// What a requirement comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// A shortage: its place in the outlook.
    Shortage(usize),
    /// The safety stock.
    SafetyStock,
}

/// Something that cannot come in time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Late {
    /// Of what.
    pub item: ItemId,
    /// How much.
    pub quantity: Quantity,
    /// When it is needed.
    pub needed: NaiveDate,
    /// When it can be there; `None` where no offer can serve it at all.
    pub soonest: Option<NaiveDate>,
    /// What it comes from.
    pub causes: Vec<(Cause, Quantity)>,
    /// Open orders that were placed for it and cover some of it, too late: places in the snapshot's list.
    pub on_order: Vec<usize>,
}

/// A purchasing problem and where it comes from.
#[derive(Clone, Debug)]
pub struct Requirements {
    /// What the solver is given.
    pub problem: Problem,
    /// The causes of each requirement, place by place.
    pub causes: Vec<Vec<(Cause, Quantity)>>,
    /// What cannot come in time, by the day it is needed, then item.
    pub late: Vec<Late>,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Requirements by item, day, through, with their causes.
type Grouped = BTreeMap<(ItemId, NaiveDate, NaiveDate), Vec<(Cause, Quantity)>>;

/// States the purchasing problem of an outlook.
#[must_use]
pub fn requirements(snapshot: &Snapshot, outlook: &Outlook, settings: CreditSettings) -> Requirements {
    let mut findings = Vec::new();
    let priced = offers_with_rates(snapshot, outlook.today, &mut findings);
    let mut served: Grouped = BTreeMap::new();
    let mut late = Vec::new();
    let mut on_its_way = OnItsWay::of(snapshot, outlook);
    for ((item, day, through), causes) in gather(snapshot, outlook) {
        let offers = priced.get(&item).map_or(&[][..], Vec::as_slice);
        let quantity = causes.iter().map(|(_, quantity)| *quantity).sum();
        if offers.iter().any(|offer| serves_in_time(snapshot, offer, outlook.today, day, through)) {
            served.entry((item, day, through)).or_default().extend(causes);
            continue;
        }
        let soonest = offers.iter().filter_map(|offer| soonest_delivery(snapshot, offer, outlook.today, through)).min();
        let mut causes_left = causes.clone();
        let (on_order, comes) = on_its_way.take(item, through, &mut causes_left);
        let soonest = if causes_left.is_empty() { comes } else { soonest.max(comes.filter(|_| soonest.is_some())) };
        late.push(Late { item, quantity, needed: day, soonest, causes, on_order });
        let causes = causes_left;
        match soonest {
            _ if causes.is_empty() => {}
            Some(soonest) => served.entry((item, soonest, through.max(soonest))).or_default().extend(causes),
            // Of what nothing is on file the outlook has told already, with the way on.
            None if outlook.findings.iter().any(|finding| is_nothing_on_file(finding, snapshot, item)) => {}
            None => findings.push(not_offered(snapshot, item)),
        }
    }
    late.sort_by_key(|late| (late.needed, late.item));
    findings.sort();
    findings.dedup();
    let mut requirements = Vec::with_capacity(served.len());
    for (&(item, day, through), causes) in &served {
        let quantity = causes.iter().map(|(_, quantity)| *quantity).sum();
        requirements.push(Requirement { item, day, through, quantity });
    }
    let problem = problem(snapshot, outlook, settings, requirements, &priced);
    Requirements { problem, causes: served.into_values().collect(), late, findings }
}

/// What orders bring that were placed from a proposal and serve nobody: a requirement that was late when they were
/// placed still is, and would be ordered again every day if they were not set against it.
struct OnItsWay {
    /// By item: the order, its arrival and last day, and how much of it is still free.
    free: BTreeMap<ItemId, Vec<(usize, NaiveDate, NaiveDate, Quantity)>>,
}

impl OnItsWay {
    fn of(snapshot: &Snapshot, outlook: &Outlook) -> Self {
        let mut free: BTreeMap<ItemId, Vec<_>> = BTreeMap::new();
        for (place, part) in outlook.items.iter().enumerate() {
            let left = part.allocation.iter().flat_map(|allocation| &allocation.left);
            for ((&source, supply), &left) in part.sources.iter().zip(&part.supplies).zip(left) {
                if let Source::Order(order) = source
                    && snapshot.orders[order].was_proposed
                    && !left.is_zero()
                {
                    free.entry(ItemId::new(place)).or_default().push((order, supply.from, supply.through, left));
                }
            }
        }
        Self { free }
    }

    /// Takes off the causes what comes for them; the orders, and the day of the last.
    fn take(
        &mut self,
        item: ItemId,
        through: NaiveDate,
        causes: &mut Vec<(Cause, Quantity)>,
    ) -> (Vec<usize>, Option<NaiveDate>) {
        let (mut orders, mut comes) = (Vec::new(), None);
        for (order, arrival, last, free) in self.free.entry(item).or_default() {
            for (_, missing) in causes.iter_mut().filter(|_| *last >= through.max(*arrival)) {
                let taken = (*missing).min(*free);
                *missing -= taken;
                *free -= taken;
                if !taken.is_zero() && !orders.contains(order) {
                    orders.push(*order);
                    comes = comes.max(Some(*arrival));
                }
            }
        }
        causes.retain(|(_, missing)| !missing.is_zero());
        (orders, comes)
    }
}

/// Shortages and safety stocks as they stand, before anybody asks whether they can be met.
fn gather(snapshot: &Snapshot, outlook: &Outlook) -> Grouped {
    let mut grouped: Grouped = BTreeMap::new();
    for (place, shortage) in outlook.shortages.iter().enumerate() {
        let group = (shortage.item, shortage.day, shortage.through);
        grouped.entry(group).or_default().push((Cause::Shortage(place), shortage.quantity));
    }
    for (place, part) in outlook.items.iter().enumerate() {
        let item = ItemId::new(place);
        let Some(allocation) = &part.allocation else { continue };
        let safety_stock = snapshot.item(item).safety_stock;
        let (today, horizon) = (outlook.today, outlook.horizon);
        let below = below_safety_stock(&part.supplies, &part.needs(), &allocation.short, safety_stock, today, horizon);
        if let Some((day, missing)) = below {
            grouped.entry((item, day, day)).or_default().push((Cause::SafetyStock, missing));
        }
    }
    grouped
}

/// The offers of each item whose supplier's currency has a rate; a finding for each currency that has none.
pub(in crate::plan) fn offers_with_rates<'a>(
    snapshot: &'a Snapshot,
    today: NaiveDate,
    findings: &mut Vec<Finding>,
) -> BTreeMap<ItemId, Vec<&'a Offer>> {
    let mut offers: BTreeMap<ItemId, Vec<&Offer>> = BTreeMap::new();
    for offer in &snapshot.offers {
        let currency = snapshot.suppliers[offer.supplier.index()].currency;
        match snapshot.rate(currency, today) {
            Some(_) => offers.entry(offer.item).or_default().push(offer),
            None => findings.push(no_rate(currency, snapshot.home)),
        }
    }
    offers
}

/// True where an order of today or later can be at the door by `day` and last through `through`. The latest such order
/// is the one that lasts longest.
pub(in crate::plan) fn serves_in_time(
    snapshot: &Snapshot,
    offer: &Offer,
    today: NaiveDate,
    day: NaiveDate,
    through: NaiveDate,
) -> bool {
    let calendar = &snapshot.suppliers[offer.supplier.index()].calendar;
    let latest = calendar.latest_order_day(day).filter(|order_day| *order_day >= today);
    latest.is_some_and(|order_day| lasts_through(offer, calendar.arrival(order_day), through))
}

/// The first day on which the offer could be delivered, where it then lasts through `through`.
pub(in crate::plan) fn soonest_delivery(
    snapshot: &Snapshot,
    offer: &Offer,
    today: NaiveDate,
    through: NaiveDate,
) -> Option<NaiveDate> {
    let calendar = &snapshot.suppliers[offer.supplier.index()].calendar;
    let arrival = calendar.arrival(calendar.next_order_day(today)?);
    Some(arrival).filter(|arrival| lasts_through(offer, *arrival, through))
}

fn lasts_through(offer: &Offer, arrival: NaiveDate, through: NaiveDate) -> bool {
    offer.life_on_arrival.is_none_or(|life| life.after(arrival) >= through)
}

fn is_nothing_on_file(finding: &Finding, snapshot: &Snapshot, item: ItemId) -> bool {
    finding.kind == FindingKind::NothingOnFile && finding.subject == snapshot.item(item).code
}

fn not_offered(snapshot: &Snapshot, item: ItemId) -> Finding {
    let is_offered = snapshot.offers.iter().any(|offer| offer.item == item);
    let item = snapshot.item(item);
    let message = if is_offered {
        format!("No offer of {} would last as long as it is needed; it is not on the reorder list.", item.name)
    } else {
        format!(
            "There is no offer of {} to choose from; it is not on the reorder list. Add one to offers.csv and import that file.",
            item.name
        )
    };
    Finding { kind: FindingKind::NoOffer, subject: item.code.clone(), message }
}

fn problem(
    snapshot: &Snapshot,
    outlook: &Outlook,
    settings: CreditSettings,
    requirements: Vec<Requirement>,
    priced: &BTreeMap<ItemId, Vec<&Offer>>,
) -> Problem {
    let mut required: Vec<ItemId> = requirements.iter().map(|requirement| requirement.item).collect();
    required.dedup();
    let terms = |(place, supplier): (usize, &Supplier)| {
        let rate = snapshot.rate(supplier.currency, outlook.today).unwrap_or(Rate::ONE);
        Terms {
            supplier: SupplierId::new(place),
            currency: supplier.currency,
            to_home: rate.ratio(supplier.currency, snapshot.home),
            calendar: supplier.calendar.clone(),
            minimum_order: supplier.minimum_order,
            postage: supplier.postage.clone(),
            free_postage_from: supplier.free_postage_from,
            duty: supplier.duty,
        }
    };
    let suppliers: Vec<Terms> = snapshot.suppliers.iter().enumerate().map(terms).collect();
    let is_required = |offer: &Offer| required.binary_search(&offer.item).is_ok();
    let is_priced = |offer: &Offer| {
        let currency = suppliers[offer.supplier.index()].currency;
        snapshot.rate(currency, outlook.today).is_some()
    };
    let pack = |(place, offer): (usize, &Offer)| Pack {
        offer: OfferId::new(place),
        supplier: offer.supplier.index(),
        item: offer.item,
        quantity: offer.pack,
        weight_mg: weight(snapshot, offer),
        breaks: offer.breaks.clone(),
        life_on_arrival: offer.life_on_arrival,
        most_packs: None,
    };
    let offers = snapshot.offers.iter().enumerate().filter(|(_, offer)| is_required(offer) && is_priced(offer));
    let credit = |item: &ItemId| Credit {
        item: *item,
        gross: outlook.items[item.index()].demands.iter().map(|demand| demand.quantity).sum(),
        window_days: settings.window_days,
        worth: settings.worth,
        unit_price: lowest_unit_price(snapshot, outlook.today, priced.get(item).map_or(&[][..], Vec::as_slice)),
        holding: (0, 1),
        disposal: (0, 1),
    };
    Problem {
        start: outlook.today,
        end: outlook.horizon,
        home: snapshot.home,
        offers: offers.map(pack).collect(),
        credits: required.iter().map(credit).collect(),
        requirements,
        suppliers,
        rooms: Vec::new(),
    }
}

/// What a pack weighs: its own mass, or that of its pieces.
fn weight(snapshot: &Snapshot, offer: &Offer) -> i64 {
    let item = snapshot.item(offer.item);
    match item.unit {
        Unit::Milligram => offer.pack.0,
        Unit::Piece => offer.pack.0.saturating_mul(item.piece_mass.map_or(0, |mass| mass.mg)),
    }
}

/// The lowest landed price of a unit in home minor units, as a fraction without common factors: goods and duty at the
/// price of the lowest break. Nothing where there is no offer.
pub(in crate::plan) fn lowest_unit_price(snapshot: &Snapshot, today: NaiveDate, offers: &[&Offer]) -> (i128, i128) {
    let hundred = i128::from(Percent::HUNDRED.millionths);
    let price = |offer: &&Offer| {
        let supplier = &snapshot.suppliers[offer.supplier.index()];
        let rate = snapshot.rate(supplier.currency, today).unwrap_or(Rate::ONE);
        let to_home = rate.ratio(supplier.currency, snapshot.home);
        let first_break = offer.breaks.first().map_or(0, |(_, price)| price.minor);
        // Without common factors, so that sums of such fractions stay within 128 bits.
        let numerator = i128::from(first_break) * to_home.0;
        let denominator = to_home.1 * i128::from(offer.pack.0);
        let with_duty = hundred + i128::from(supplier.duty.millionths);
        let (numerator, denominator) = reduced(numerator, denominator);
        let (duty, whole) = reduced(with_duty, hundred);
        reduced(numerator.saturating_mul(duty), denominator.saturating_mul(whole))
    };
    let less =
        |left: &(i128, i128), right: &(i128, i128)| left.0.saturating_mul(right.1).cmp(&right.0.saturating_mul(left.1));
    offers.iter().map(price).min_by(less).unwrap_or((0, 1))
}

fn reduced(numerator: i128, denominator: i128) -> (i128, i128) {
    let (mut left, mut right) = (numerator.abs(), denominator);
    while right != 0 {
        (left, right) = (right, left % right);
    }
    if left == 0 { (numerator, denominator) } else { (numerator / left, denominator / left) }
}
