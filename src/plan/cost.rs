//! What things have cost: a batch and its pieces, the stock, what was written off, and a material's price over time.
//!
//! Lots are identified one by one, so the cost of what is drawn is that of the very lot (IAS 2, paragraph 23: specific
//! identification), and no average or order of issue is assumed.

use super::fraction::Fraction;
use super::model::{Item, ItemId, LotState, Snapshot};
use super::money::{Currency, Money};
use super::quantity::{Quantity, Unit};
use super::rounding::clamp;
use chrono::{Datelike, NaiveDate};
use std::collections::BTreeMap;

/// What a batch has cost, from the draws of its lots. The pieces' shares add up to it to the minor unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BatchCost {
    /// All draws.
    pub total: Money,
    /// Whole pieces that came out.
    pub pieces: i64,
}

impl BatchCost {
    /// The cost of a batch: `draws` in home money.
    #[must_use]
    pub fn of(draws: impl IntoIterator<Item = Money>, pieces: i64) -> Self {
        Self { total: draws.into_iter().sum(), pieces: pieces.max(0) }
    }

    /// The cost of a piece, exactly; `None` where no piece came out.
    #[must_use]
    pub fn piece(&self) -> Option<Fraction> {
        (self.pieces > 0).then(|| Fraction::new(&[self.total.minor], &[self.pieces]))
    }

    /// The share of the pieces `from..to`, counted from 0 in the order in which they leave. Largest remainder: all
    /// shares are the whole part of the quota, and the first pieces carry one minor unit more until the batch is paid.
    #[must_use]
    pub fn of_pieces(&self, from: i64, to: i64) -> Money {
        if self.pieces == 0 {
            return Money::ZERO;
        }
        let (whole, rest) = (self.total.minor.div_euclid(self.pieces), self.total.minor.rem_euclid(self.pieces));
        let up_to = |piece: i64| {
            let piece = piece.clamp(0, self.pieces);
            i128::from(whole) * i128::from(piece) + i128::from(piece.min(rest))
        };
        Money { minor: clamp(up_to(to.max(from)) - up_to(from)) }
    }
}

/// What is on the shelves is worth, lot by lot at cost. The sums of both lists are the total.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StockValue {
    /// By item, in the order of the snapshot, of those with lots.
    pub items: Vec<(ItemId, Quantity, Money)>,
    /// By place, in order of name; an empty name for lots without one.
    pub places: Vec<(String, Money)>,
    /// All of it.
    pub total: Money,
    /// What of it is in quarantine or rejected.
    pub not_released: Money,
    /// Currencies without a rate: their lots count as 0.
    pub without_rate: Vec<Currency>,
}

/// Values the stock. Each lot is turned into home money at the newest rate and rounded, half up, on its own.
#[must_use]
pub fn stock_value(snapshot: &Snapshot, today: NaiveDate) -> StockValue {
    let mut value = StockValue::default();
    let mut items: BTreeMap<ItemId, (Quantity, Money)> = BTreeMap::new();
    let mut places: BTreeMap<&str, Money> = BTreeMap::new();
    for lot in &snapshot.lots {
        let money = snapshot.to_home(lot.cost, lot.currency, today).unwrap_or_else(|| {
            value.without_rate.push(lot.currency);
            Money::ZERO
        });
        let sum = items.entry(lot.item).or_default();
        *sum = (sum.0 + lot.on_hand, sum.1 + money);
        *places.entry(&lot.place).or_default() += money;
        value.total += money;
        if lot.state != LotState::Released {
            value.not_released += money;
        }
    }
    value.items = items.into_iter().map(|(item, (quantity, money))| (item, quantity, money)).collect();
    value.places = places.into_iter().map(|(place, money)| (place.to_owned(), money)).collect();
    value.without_rate.sort_unstable();
    value.without_rate.dedup();
    value
}

/// Something that was written off; what was reversed should not be listed.
#[derive(Clone, Debug)]
pub struct WriteOff {
    /// On which day.
    pub day: NaiveDate,
    /// Why, as noted.
    pub reason: String,
    /// Code of the material.
    pub item: String,
    /// Its name.
    pub name: String,
    /// What it is counted in.
    pub unit: Unit,
    /// How much.
    pub quantity: Quantity,
    /// What that had cost, in home money.
    pub money: Money,
}

/// What was written off in a month for a reason.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WrittenOff {
    /// The first day of the month.
    pub month: NaiveDate,
    /// Why.
    pub reason: String,
    /// By material code: its name, unit, amount and cost.
    pub materials: Vec<(String, String, Unit, Quantity, Money)>,
    /// All of them.
    pub money: Money,
}

/// Adds write-offs up by month, then reason. Two reasons are one where they differ in capitals and spaces only.
#[must_use]
pub fn written_off(write_offs: &[WriteOff]) -> Vec<WrittenOff> {
    type Materials<'a> = BTreeMap<&'a str, (&'a WriteOff, Quantity, Money)>;
    let mut groups: BTreeMap<(NaiveDate, String), (&str, Materials<'_>)> = BTreeMap::new();
    for write_off in write_offs {
        let month = write_off.day.with_day(1).unwrap_or(write_off.day);
        let reason = write_off.reason.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        let (_, materials) =
            groups.entry((month, reason)).or_insert_with(|| (write_off.reason.trim(), BTreeMap::new()));
        let sum = materials.entry(&write_off.item).or_insert((write_off, Quantity::ZERO, Money::ZERO));
        sum.1 += write_off.quantity;
        sum.2 += write_off.money;
    }
    let group = |((month, _), (reason, materials)): ((NaiveDate, String), (&str, Materials<'_>))| {
        let line = |(code, (first, quantity, money)): (&str, (&WriteOff, Quantity, Money))| {
            (code.to_owned(), first.name.clone(), first.unit, quantity, money)
        };
        let money = materials.values().map(|(_, _, money)| *money).sum();
        let materials = materials.into_iter().map(line).collect();
        WrittenOff { month, reason: reason.to_owned(), materials, money }
    };
    groups.into_iter().map(group).collect()
}

/// A delivery of the material whose price is asked for.
#[derive(Clone, Debug)]
pub struct Receipt {
    /// Code of the supplier; empty where not known.
    pub supplier: String,
    /// The supplier's name; may be empty.
    pub supplier_name: String,
    /// Which lot.
    pub lot: String,
    /// When it came.
    pub day: NaiveDate,
    /// How much.
    pub quantity: Quantity,
    /// What all of it cost, in home money at the rate of that day; 0 for a free sample.
    pub money: Money,
}

/// One price of a material.
#[derive(Clone, Debug)]
pub struct PricePoint {
    /// The day of a delivery; `None` for an offer of today.
    pub day: Option<NaiveDate>,
    /// The lot that came, or the pack that is offered.
    pub what: String,
    /// How much that is.
    pub quantity: Quantity,
    /// Home money for all of it, exactly.
    pub money: Fraction,
    /// Home money for a kilogram or a piece, exactly.
    pub price: Fraction,
}

/// The prices that one supplier has asked for a material.
#[derive(Clone, Debug)]
pub struct SupplierPrices {
    /// Code; empty where not known.
    pub supplier: String,
    /// Name; may be empty.
    pub name: String,
    /// Deliveries in order of day, then lot; free samples left out.
    pub received: Vec<PricePoint>,
    /// Offers of today, duty added, in order of pack; by price break.
    pub offered: Vec<PricePoint>,
}

/// How much of an item a price is shown for: a kilogram (10^6 mg), or one piece.
#[must_use]
pub fn price_unit(unit: Unit) -> Quantity {
    match unit {
        Unit::Milligram => Quantity(1_000_000),
        Unit::Piece => Quantity(1),
    }
}

/// The price history of an item by supplier, in order of their codes. Offers in a currency without a rate are left out.
#[must_use]
pub fn price_history(snapshot: &Snapshot, item: ItemId, receipts: &[Receipt], today: NaiveDate) -> Vec<SupplierPrices> {
    let mut suppliers: BTreeMap<String, SupplierPrices> = BTreeMap::new();
    let facts = snapshot.item(item);
    let mut paid: Vec<&Receipt> = receipts.iter().filter(|receipt| receipt.money.minor > 0).collect();
    paid.sort_by(|left, right| (left.day, &left.lot).cmp(&(right.day, &right.lot)));
    for receipt in paid {
        let money = Fraction::new(&[receipt.money.minor], &[1]);
        let point = point(facts, Some(receipt.day), receipt.lot.clone(), receipt.quantity, money);
        entry(&mut suppliers, &receipt.supplier, &receipt.supplier_name).received.push(point);
    }
    for offer in snapshot.offers.iter().filter(|offer| offer.item == item) {
        let supplier = &snapshot.suppliers[offer.supplier.index()];
        let Some(rate) = snapshot.rate(supplier.currency, today) else { continue };
        for &(packs, price) in &offer.breaks {
            let pack = Fraction::new(&[price.minor], &[1]).with_percent(supplier.duty);
            let money = pack.at_rate(rate, supplier.currency, snapshot.home);
            let from = if packs > 1 { format!(", from {packs} packs") } else { String::new() };
            let point = point(facts, None, format!("{}{from}", offer.pack_text), offer.pack, money);
            entry(&mut suppliers, &supplier.code, &supplier.name).offered.push(point);
        }
    }
    suppliers.into_values().collect()
}

fn entry<'a>(suppliers: &'a mut BTreeMap<String, SupplierPrices>, code: &str, name: &str) -> &'a mut SupplierPrices {
    suppliers.entry(code.to_owned()).or_insert_with(|| SupplierPrices {
        supplier: code.to_owned(),
        name: name.to_owned(),
        received: Vec::new(),
        offered: Vec::new(),
    })
}

fn point(item: &Item, day: Option<NaiveDate>, what: String, quantity: Quantity, money: Fraction) -> PricePoint {
    let price = money.times(price_unit(item.unit).0).divided_by(quantity.0);
    PricePoint { day, what, quantity, money, price }
}
