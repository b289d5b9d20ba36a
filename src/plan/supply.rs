//! What the workshop has and what is coming, as supplies of each item.

use super::allocate::Supply;
use super::calendar::day_in_words;
use super::finding::{Finding, FindingKind};
use super::life::{life_once_opened, usable_through};
use super::model::{LotState, Snapshot};
use super::money::{Currency, Money, Price};
use chrono::NaiveDate;

/// Where a supply comes from: places in the snapshot's lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Source {
    /// A lot on hand.
    Lot(usize),
    /// An open order.
    Order(usize),
}

/// The supplies of each item, in the order of the snapshot's items: released lots, the oldest receipt first, then by
/// code; after them open orders. Among supplies that end on the same day the allocation takes the first, so that of tins
/// and waxes that nothing ends, the oldest are used first, as ISO 22716:2007 asks.
#[derive(Clone, Debug)]
pub struct Supplies {
    /// What they are.
    pub supplies: Vec<Vec<Supply>>,
    /// Where they come from, place by place.
    pub sources: Vec<Vec<Source>>,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Collects the supplies. A lot that ended before today is among them: nothing can use it, and its value is lost.
#[must_use]
pub fn supplies(snapshot: &Snapshot, today: NaiveDate) -> Supplies {
    let mut collected = Supplies {
        supplies: vec![Vec::new(); snapshot.items.len()],
        sources: vec![Vec::new(); snapshot.items.len()],
        findings: Vec::new(),
    };
    let mut unknown_rates: Vec<Currency> = Vec::new();
    let mut home = |price: Price, currency: Currency| match snapshot.to_home(price, currency, today) {
        Some(money) => money,
        None => {
            unknown_rates.push(currency);
            Money::ZERO
        }
    };
    let released = snapshot.lots.iter().enumerate().filter(|(_, lot)| lot.state == LotState::Released);
    let mut oldest_first: Vec<_> = released.collect();
    oldest_first.sort_by_key(|(_, lot)| lot.received);
    for (place, lot) in oldest_first {
        let item = snapshot.item(lot.item);
        let supply = Supply {
            from: today,
            through: usable_through(lot, item),
            quantity: lot.on_hand,
            value: home(lot.cost, lot.currency),
            life_once_opened: life_once_opened(lot, item),
        };
        collected.supplies[lot.item.index()].push(supply);
        collected.sources[lot.item.index()].push(Source::Lot(place));
    }
    let tomorrow = today.succ_opt().unwrap_or(today);
    for (place, order) in snapshot.orders.iter().enumerate() {
        let from = order.expected.max(tomorrow);
        let supply = Supply {
            from,
            through: order.life_on_arrival.map_or(NaiveDate::MAX, |life| life.after(from)),
            quantity: order.quantity,
            value: home(order.price, snapshot.suppliers[order.supplier.index()].currency),
            life_once_opened: snapshot.item(order.item).opened_life,
        };
        collected.supplies[order.item.index()].push(supply);
        collected.sources[order.item.index()].push(Source::Order(place));
        if order.expected <= today {
            collected.findings.push(overdue(snapshot, place, today));
        }
    }
    unknown_rates.sort_unstable();
    unknown_rates.dedup();
    collected.findings.extend(unknown_rates.into_iter().map(|currency| no_rate(currency, snapshot.home)));
    collected
}

/// The finding for a currency without a rate.
#[must_use]
pub fn no_rate(currency: Currency, home: Currency) -> Finding {
    Finding {
        kind: FindingKind::NoRate,
        subject: currency.code().to_owned(),
        message: format!(
            "No rate from {currency} to {home} is known for today or before, so what is paid in {currency} counts as 0 here; \
             add one to rates.csv and import it."
        ),
    }
}

fn overdue(snapshot: &Snapshot, place: usize, today: NaiveDate) -> Finding {
    let order = &snapshot.orders[place];
    let supplier = &snapshot.suppliers[order.supplier.index()];
    let item = snapshot.item(order.item);
    let due = if order.expected == today { "is due today" } else { "is overdue" };
    Finding {
        kind: FindingKind::Overdue,
        subject: order.code.clone(),
        message: format!(
            "Order {} from {} ({}) {due}: it was expected on {}; it is planned as if it came tomorrow.",
            order.code,
            supplier.name,
            item.name,
            day_in_words(order.expected, today)
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::model::{Hand, Item, ItemId, Lot, UseRates};
    use crate::plan::quantity::{Quantity, Unit};

    fn lot(code: &str, received: Option<&str>) -> Lot {
        Lot {
            code: code.to_owned(),
            item: ItemId::new(0),
            on_hand: Quantity(100),
            cost: Price::ZERO,
            currency: Currency::EUR,
            received: received.map(|day| day.parse().unwrap()),
            best_before: None,
            opened: None,
            state: LotState::Released,
            place: String::new(),
        }
    }

    #[test]
    fn the_oldest_receipt_comes_first_whatever_its_code() {
        let tins = Item {
            code: "tins".to_owned(),
            name: String::new(),
            inci: String::new(),
            storage: String::new(),
            caution: String::new(),
            unit: Unit::Piece,
            premix: None,
            unopened_life: None,
            opened_life: None,
            safety_stock: Quantity::ZERO,
            always_at_hand: false,
            density: None,
            piece_mass: None,
            use_rates: UseRates::default(),
            shelf_space: None,
        };
        let snapshot = Snapshot {
            home: Currency::EUR,
            items: vec![tins],
            suppliers: Vec::new(),
            offers: Vec::new(),
            rates: Vec::new(),
            lots: vec![lot("A", Some("2027-03-01")), lot("B", Some("2026-11-20")), lot("C", None)],
            orders: Vec::new(),
            formulas: Vec::new(),
            products: Vec::new(),
            entries: Vec::new(),
            hand: Hand::default(),
        };
        let found = supplies(&snapshot, "2027-03-02".parse().unwrap());
        assert_eq!(found.sources[0], [Source::Lot(2), Source::Lot(1), Source::Lot(0)]);
    }
}
