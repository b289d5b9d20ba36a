//! What things have cost: a batch and its pieces, the stock, write-offs, and a material's prices.

use crate::plan::cost::{BatchCost, SupplierPrices, WrittenOff, price_unit, stock_value};
use crate::plan::fraction::Fraction;
use crate::plan::model::{Item, Snapshot};
use crate::plan::money::{Currency, Money};
use crate::plan::quantity::{Quantity, Unit};
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// A draw of a batch, as it is priced.
#[derive(Clone, Debug)]
pub struct PricedDraw {
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// From which lot.
    pub lot: String,
    /// How much.
    pub quantity: Quantity,
    /// What it is counted in.
    pub unit: Unit,
    /// What that had cost, in home money.
    pub cost: Money,
}

/// What a batch has cost. Money is in the home currency.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct BatchCostView {
    /// Batch number.
    pub batch: String,
    /// Code of the product.
    pub product: String,
    /// When it was made.
    pub made_on: NaiveDate,
    /// Home currency.
    pub currency: String,
    /// Each draw of a lot, in the order given.
    pub draws: Vec<PricedDrawView>,
    /// All of them.
    pub cost: String,
    /// Whole pieces that came out.
    pub pieces: i64,
    /// A piece, to the nearest minor unit; `None` where none came out.
    pub cost_of_piece: Option<String>,
    /// The same with two places more.
    pub cost_of_piece_fine: Option<String>,
    /// Shares that add up to the batch: so many pieces at so much.
    pub shares: Vec<ShareView>,
}

/// A draw with its cost.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PricedDrawView {
    /// Code of the material.
    pub material: String,
    /// Its name.
    pub name: String,
    /// Code of the lot.
    pub lot: String,
    /// How much.
    pub amount: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What that had cost.
    pub cost: String,
}

/// So many pieces that carry the same share.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ShareView {
    /// How many pieces.
    pub pieces: i64,
    /// The share of each.
    pub cost: String,
}

/// Computes what a batch has cost.
#[must_use]
pub fn batch_cost(
    home: Currency,
    batch: &str,
    product: &str,
    made_on: NaiveDate,
    pieces: i64,
    draws: &[PricedDraw],
) -> BatchCostView {
    let cost = BatchCost::of(draws.iter().map(|draw| draw.cost), pieces);
    let draw = |draw: &PricedDraw| PricedDrawView {
        material: draw.material.clone(),
        name: draw.name.clone(),
        lot: draw.lot.clone(),
        amount: draw.quantity.0,
        unit: draw.unit.symbol().to_owned(),
        cost: home.decimal(draw.cost.minor),
    };
    let piece = cost.piece();
    BatchCostView {
        batch: batch.to_owned(),
        product: product.to_owned(),
        made_on,
        currency: home.code().to_owned(),
        draws: draws.iter().map(draw).collect(),
        cost: home.decimal(cost.total.minor),
        pieces: cost.pieces,
        cost_of_piece: piece.as_ref().map(|piece| home.decimal(piece.half_up())),
        cost_of_piece_fine: piece.as_ref().map(|piece| fine(home, piece)),
        shares: shares(home, &cost),
    }
}

/// A fraction of minor units with two places more than the currency has, half up.
pub(super) fn fine(home: Currency, money: &Fraction) -> String {
    let places = home.exponent() + 2;
    crate::plan::decimal::Scaled { scaled: money.times(100).half_up(), places }.to_string()
}

fn shares(home: Currency, cost: &BatchCost) -> Vec<ShareView> {
    if cost.pieces == 0 {
        return Vec::new();
    }
    let dearer = cost.total.minor.rem_euclid(cost.pieces);
    let share =
        |pieces: i64, piece: i64| ShareView { pieces, cost: home.decimal(cost.of_pieces(piece, piece + 1).minor) };
    let both = [share(dearer, 0), share(cost.pieces - dearer, cost.pieces - 1)];
    both.into_iter().filter(|share| share.pieces > 0).collect()
}

/// What the stock is worth, at cost in home money.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StockValueView {
    /// Today.
    pub as_of: NaiveDate,
    /// Home currency.
    pub currency: String,
    /// By material.
    pub materials: Vec<MaterialValueView>,
    /// By place.
    pub places: Vec<PlaceValueView>,
    /// All of it.
    pub value: String,
    /// What of it is in quarantine or rejected.
    pub not_released: String,
    /// Currencies without a rate, whose lots count as 0.
    pub without_rate: Vec<String>,
}

/// A material's part.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MaterialValueView {
    /// Code.
    pub material: String,
    /// Name.
    pub name: String,
    /// What is there.
    pub on_hand: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What it cost.
    pub value: String,
}

/// A place's part.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PlaceValueView {
    /// Its name; empty for lots without one.
    pub place: String,
    /// What stands there has cost.
    pub value: String,
}

/// Computes the value of the stock.
#[must_use]
pub fn stock_worth(snapshot: &Snapshot, today: NaiveDate) -> StockValueView {
    let home = snapshot.home;
    let value = stock_value(snapshot, today);
    let material = |&(item, quantity, money): &(crate::plan::model::ItemId, Quantity, Money)| {
        let item = snapshot.item(item);
        MaterialValueView {
            material: item.code.clone(),
            name: item.name.clone(),
            on_hand: quantity.0,
            unit: item.unit.symbol().to_owned(),
            value: home.decimal(money.minor),
        }
    };
    let place =
        |(place, money): &(String, Money)| PlaceValueView { place: place.clone(), value: home.decimal(money.minor) };
    StockValueView {
        as_of: today,
        currency: home.code().to_owned(),
        materials: value.items.iter().map(material).collect(),
        places: value.places.iter().map(place).collect(),
        value: home.decimal(value.total.minor),
        not_released: home.decimal(value.not_released.minor),
        without_rate: value.without_rate.iter().map(|currency| currency.code().to_owned()).collect(),
    }
}

/// What was written off, by month and reason.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WrittenOffView {
    /// The first day that was looked at.
    pub from: NaiveDate,
    /// The last.
    pub to: NaiveDate,
    /// Home currency.
    pub currency: String,
    /// By month, then reason.
    pub groups: Vec<WrittenOffGroupView>,
    /// All of it.
    pub cost: String,
}

/// A month and a reason.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WrittenOffGroupView {
    /// `2027-03`.
    pub month: String,
    /// Why.
    pub reason: String,
    /// What.
    pub materials: Vec<MaterialValueView>,
    /// What it had cost.
    pub cost: String,
}

/// Computes the report; `on_hand` of a material is the amount that was written off.
#[must_use]
pub fn write_offs(home: Currency, from: NaiveDate, to: NaiveDate, groups: &[WrittenOff]) -> WrittenOffView {
    let material = |(code, name, unit, quantity, money): &(String, String, Unit, Quantity, Money)| MaterialValueView {
        material: code.clone(),
        name: name.clone(),
        on_hand: quantity.0,
        unit: unit.symbol().to_owned(),
        value: home.decimal(money.minor),
    };
    let group = |group: &WrittenOff| WrittenOffGroupView {
        month: group.month.format("%Y-%m").to_string(),
        reason: group.reason.clone(),
        materials: group.materials.iter().map(material).collect(),
        cost: home.decimal(group.money.minor),
    };
    let total: Money = groups.iter().map(|group| group.money).sum();
    WrittenOffView {
        from,
        to,
        currency: home.code().to_owned(),
        groups: groups.iter().map(group).collect(),
        cost: home.decimal(total.minor),
    }
}

/// The prices of a material over time. Money is in the home currency.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PricesView {
    /// Code of the material.
    pub material: String,
    /// Its name.
    pub name: String,
    /// Home currency.
    pub currency: String,
    /// What a price is for: `kg` or `pcs`.
    pub per: String,
    /// By supplier.
    pub suppliers: Vec<SupplierPricesView>,
    /// The cheapest offer of today; `None` where there is none.
    pub cheapest_offer: Option<CheapestView>,
    /// Lots that came before the first rate of their currency: they are priced at that one.
    pub at_first_rate: Vec<String>,
    /// Lots that are left out, since nobody wrote down when they came.
    pub without_day: Vec<String>,
}

/// The offer with the lowest price per unit.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CheapestView {
    /// Code of the supplier.
    pub supplier: String,
    /// The pack, with its price break.
    pub what: String,
    /// Its price.
    pub price: String,
}

/// A supplier's prices.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SupplierPricesView {
    /// Code; empty where not known.
    pub supplier: String,
    /// Name.
    pub name: String,
    /// Deliveries, by day.
    pub received: Vec<PricePointView>,
    /// Offers of today, duty added.
    pub offered: Vec<PricePointView>,
}

/// One price.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PricePointView {
    /// The day of the delivery; `None` for an offer.
    pub date: Option<NaiveDate>,
    /// The lot or the pack.
    pub what: String,
    /// How much.
    pub amount: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What all of it costs.
    pub cost: String,
    /// For a kilogram, to the minor unit; for a piece with two places more.
    pub price: String,
}

/// A price for a kilogram to the minor unit, one for a piece with two places more.
pub(super) fn price_shown(home: Currency, item: &Item, price: &Fraction) -> String {
    match item.unit {
        Unit::Milligram => home.decimal(price.half_up()),
        Unit::Piece => fine(home, price),
    }
}

/// Computes the report.
#[must_use]
pub fn prices(home: Currency, item: &Item, history: &[SupplierPrices]) -> PricesView {
    let show = |price: &Fraction| price_shown(home, item, price);
    let point = |point: &crate::plan::cost::PricePoint| PricePointView {
        date: point.day,
        what: point.what.clone(),
        amount: point.quantity.0,
        unit: item.unit.symbol().to_owned(),
        cost: home.decimal(point.money.half_up()),
        price: show(&point.price),
    };
    let supplier = |supplier: &SupplierPrices| SupplierPricesView {
        supplier: supplier.supplier.clone(),
        name: supplier.name.clone(),
        received: supplier.received.iter().map(point).collect(),
        offered: supplier.offered.iter().map(point).collect(),
    };
    let offers = history.iter().flat_map(|supplier| supplier.offered.iter().map(move |offer| (supplier, offer)));
    let cheapest = offers.min_by(|left, right| left.1.price.cmp(&right.1.price));
    PricesView {
        material: item.code.clone(),
        name: item.name.clone(),
        currency: home.code().to_owned(),
        per: if price_unit(item.unit) == Quantity(1) { "pcs".to_owned() } else { "kg".to_owned() },
        suppliers: history.iter().map(supplier).collect(),
        cheapest_offer: cheapest.map(|(supplier, offer)| CheapestView {
            supplier: supplier.supplier.clone(),
            what: offer.what.clone(),
            price: show(&offer.price),
        }),
        at_first_rate: Vec::new(),
        without_day: Vec::new(),
    }
}
