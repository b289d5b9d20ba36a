//! What the maker wants of the reorder list: fixed before anything is planned, so that the list is found around it.
//!
//! Wishes about suppliers, offers and days change what can be bought and when: offers are dropped, days are closed, and all
//! that follows (what is short by when, what comes too late) is worked out anew. Wishes about materials change what has to
//! be bought. The model is section 9 of `docs/model.md`.

use super::calendar::ClosedPeriod;
use super::model::{ItemId, Offer, Snapshot, SupplierId};
use super::money::Money;
use super::quantity::{Percent, Quantity};
use super::reorder::requirements::{Requirements, soonest_delivery};
use super::reorder::{Problem, Requirement};
use chrono::{Days, NaiveDate};
use std::collections::{BTreeMap, BTreeSet};

/// What a wish is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Target {
    /// A supplier.
    Supplier(SupplierId),
    /// What a supplier offers of a material: one pack of it, or all.
    Offer(SupplierId, ItemId, Option<Quantity>),
    /// A material.
    Material(ItemId),
    /// Days, both ends counted.
    Days(NaiveDate, NaiveDate),
}

/// What is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Want {
    /// Nothing from there, nothing of that, no order on these days.
    Exclude(Target),
    /// What this supplier sells is bought there; this material only as this offer; this material as soon as it can come;
    /// orders on these days only, as long as there is one to come.
    Pin(Target),
    /// The supplier may cost so many percent more than others.
    Prefer(SupplierId, Percent),
    /// Orders placed through this day (within a week where `None`) cost no more than this.
    Budget(Money, Option<NaiveDate>),
}

/// A wish.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wish {
    /// Its code; empty where it was said with the command.
    pub code: String,
    /// What is wanted.
    pub want: Want,
}

/// The workshop with only those offers and order days that the wishes leave.
#[must_use]
pub fn fulfilled(mut snapshot: Snapshot, today: NaiveDate) -> Snapshot {
    let wants: Vec<Want> = snapshot.hand.wishes.iter().map(|wish| wish.want).collect();
    let excluded =
        |offer: &Offer| wants.iter().any(|want| matches!(want, Want::Exclude(target) if names(*target, offer)));
    snapshot.offers.retain(|offer| !excluded(offer));
    let pins: Vec<Target> =
        wants.iter().filter_map(|want| if let Want::Pin(target) = want { Some(*target) } else { None }).collect();
    let kept = pinned(&snapshot.offers, &pins);
    let mut place = 0;
    snapshot.offers.retain(|_| {
        place += 1;
        kept[place - 1]
    });
    let closed = closed_days(&wants, today);
    for supplier in &mut snapshot.suppliers {
        supplier.calendar.closed.extend(closed.iter().copied());
    }
    snapshot
}

/// True where the target is this offer, or its supplier.
fn names(target: Target, offer: &Offer) -> bool {
    match target {
        Target::Supplier(supplier) => offer.supplier == supplier,
        Target::Offer(supplier, item, pack) => {
            offer.supplier == supplier && offer.item == item && pack.is_none_or(|pack| pack == offer.pack)
        }
        // A material that is left out keeps its offers: it is not short for want of them.
        Target::Material(_) | Target::Days(..) => false,
    }
}

/// Which offers the pins leave: of a material with a pinned offer only that, else of one that a pinned supplier sells only
/// his, else all.
fn pinned(offers: &[Offer], pins: &[Target]) -> Vec<bool> {
    let is_pinned = |offer: &Offer, whole: bool| {
        pins.iter().any(|pin| matches!(pin, Target::Supplier(_)) == whole && names(*pin, offer))
    };
    let items = |whole: bool| -> BTreeSet<ItemId> {
        offers.iter().filter(|offer| is_pinned(offer, whole)).map(|offer| offer.item).collect()
    };
    let (by_offer, by_supplier) = (items(false), items(true));
    let stays = |offer: &Offer| {
        if by_offer.contains(&offer.item) {
            is_pinned(offer, false)
        } else {
            !by_supplier.contains(&offer.item) || is_pinned(offer, true)
        }
    };
    offers.iter().map(stays).collect()
}

/// Days on which no order is placed: those excluded, and all but the pinned ones where any of these is to come.
fn closed_days(wants: &[Want], today: NaiveDate) -> Vec<ClosedPeriod> {
    let mut closed = Vec::new();
    let mut open: Vec<(NaiveDate, NaiveDate)> = Vec::new();
    for want in wants {
        match want {
            Want::Exclude(Target::Days(from, to)) => closed.push(ClosedPeriod { from: *from, to: *to }),
            Want::Pin(Target::Days(from, to)) if *to >= today => open.push((*from, *to)),
            _ => {}
        }
    }
    if open.is_empty() {
        return closed;
    }
    open.sort_unstable();
    let mut next = today;
    for (from, to) in open {
        if from > next {
            closed.push(ClosedPeriod { from: next, to: from.pred_opt().unwrap_or(from) });
        }
        next = next.max(to.succ_opt().unwrap_or(to));
    }
    closed.push(ClosedPeriod { from: next, to: NaiveDate::MAX });
    closed
}

/// Takes excluded materials off what has to be bought, and asks for pinned ones as soon as they can come. Returns what was
/// left out.
pub fn settle(snapshot: &Snapshot, requirements: &mut Requirements) -> Vec<ItemId> {
    let of = |pin: bool| -> BTreeSet<ItemId> {
        let item = |want: Want| match want {
            Want::Exclude(Target::Material(item)) if !pin => Some(item),
            Want::Pin(Target::Material(item)) if pin => Some(item),
            _ => None,
        };
        snapshot.hand.wishes.iter().filter_map(|wish| item(wish.want)).collect()
    };
    let (excluded, wanted_now) = (of(false), of(true));
    if excluded.is_empty() && wanted_now.is_empty() {
        return Vec::new();
    }
    let today = requirements.problem.start;
    let mut left_out: BTreeSet<ItemId> = BTreeSet::new();
    let mut settled: BTreeMap<(ItemId, NaiveDate, NaiveDate), Vec<_>> = BTreeMap::new();
    let causes = std::mem::take(&mut requirements.causes);
    for (requirement, causes) in std::mem::take(&mut requirements.problem.requirements).into_iter().zip(causes) {
        if excluded.contains(&requirement.item) {
            left_out.insert(requirement.item);
            continue;
        }
        let soonest = wanted_now.contains(&requirement.item).then(|| soonest(snapshot, &requirement, today)).flatten();
        let day = requirement.day.min(soonest.unwrap_or(requirement.day));
        settled.entry((requirement.item, day, requirement.through)).or_default().extend(causes);
    }
    for late in &requirements.late {
        if excluded.contains(&late.item) {
            left_out.insert(late.item);
        }
    }
    requirements.late.retain(|late| !excluded.contains(&late.item));
    for ((item, day, through), causes) in settled {
        let quantity = causes.iter().map(|(_, quantity): &(_, Quantity)| *quantity).sum();
        requirements.problem.requirements.push(Requirement { item, day, through, quantity });
        requirements.causes.push(causes);
    }
    drop_what_is_not_required(&mut requirements.problem);
    left_out.into_iter().collect()
}

/// The first day on which the requirement could be at the door.
fn soonest(snapshot: &Snapshot, requirement: &Requirement, today: NaiveDate) -> Option<NaiveDate> {
    let own = snapshot.offers.iter().filter(|offer| offer.item == requirement.item);
    let priced =
        own.filter(|offer| snapshot.rate(snapshot.suppliers[offer.supplier.index()].currency, today).is_some());
    priced.filter_map(|offer| soonest_delivery(snapshot, offer, today, requirement.through)).min()
}

/// Leaves the offers and credits of what is still required.
pub(super) fn drop_what_is_not_required(problem: &mut Problem) {
    let required: BTreeSet<ItemId> = problem.requirements.iter().map(|requirement| requirement.item).collect();
    problem.offers.retain(|pack| required.contains(&pack.item));
    problem.credits.retain(|credit| required.contains(&credit.item));
}

/// The problem in which preferred suppliers cost so much less that their being dearer by the stated percentage comes to the
/// same; `None` where nobody is preferred. What is then chosen has to be priced by the true problem.
#[must_use]
pub fn preferring(problem: &Problem, wishes: &[Wish]) -> Option<Problem> {
    let mut preferring = problem.clone();
    let mut any = false;
    for wish in wishes {
        if let Want::Prefer(supplier, percent) = wish.want
            && let Some(terms) = preferring.suppliers.iter_mut().find(|terms| terms.supplier == supplier)
        {
            let hundred = i128::from(Percent::HUNDRED.millionths);
            terms.to_home = reduced(
                terms.to_home.0.saturating_mul(hundred),
                terms.to_home.1.saturating_mul(hundred + i128::from(percent.millionths)),
            );
            any = true;
        }
    }
    any.then_some(preferring)
}

/// A fraction without common factors, so that sums of such stay within 128 bits.
fn reduced(numerator: i128, denominator: i128) -> (i128, i128) {
    let (mut left, mut right) = (numerator.abs(), denominator);
    while right != 0 {
        (left, right) = (right, left % right);
    }
    if left == 0 { (numerator, denominator) } else { (numerator / left, denominator / left) }
}

/// The budget that counts, and the last day whose orders it pays: the smallest of those whose days are not over.
#[must_use]
pub fn budget(wishes: &[Wish], today: NaiveDate) -> Option<(Money, NaiveDate)> {
    let week = today.checked_add_days(Days::new(6)).unwrap_or(NaiveDate::MAX);
    let of = |wish: &Wish| match wish.want {
        Want::Budget(money, through) => Some((money, through.unwrap_or(week))),
        _ => None,
    };
    wishes.iter().filter_map(of).filter(|(_, through)| *through >= today).min()
}
