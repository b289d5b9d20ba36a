//! The workshop as the core sees it on one day: plain values that refer to each other by index.
//!
//! A [`Snapshot`] is linked and checked before it comes here: every index is valid, every amount is in its item's unit
//! and at least 0. What cannot be promised (formulas may contain themselves, rates may be missing) the core answers
//! with a finding.

use super::calendar::{OrderCalendar, Span};
use super::lead_time::LeadTime;
use super::money::{Currency, Money, Price, Rate};
use super::quantity::{Density, Mass, Percent, Quantity, Unit};
use super::wishes::Wish;
use chrono::NaiveDate;
use std::collections::BTreeMap;

macro_rules! index {
    ($(#[$documentation:meta])* $name:ident) => {
        $(#[$documentation])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub struct $name(pub u32);

        impl $name {
            /// The place in the snapshot's list.
            #[must_use]
            pub fn index(self) -> usize {
                self.0 as usize
            }

            /// The reference to a place in the snapshot's list.
            #[must_use]
            pub fn new(index: usize) -> Self {
                Self(u32::try_from(index).unwrap_or(u32::MAX))
            }
        }
    };
}

index!(
    /// An item of [`Snapshot::items`].
    ItemId
);
index!(
    /// A supplier of [`Snapshot::suppliers`].
    SupplierId
);
index!(
    /// An offer of [`Snapshot::offers`].
    OfferId
);
index!(
    /// A formula version of [`Snapshot::formulas`].
    FormulaId
);
index!(
    /// A product of [`Snapshot::products`].
    ProductId
);
index!(
    /// A plan entry of [`Snapshot::entries`].
    EntryId
);

/// Everything the core needs to know of a workshop.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapshot {
    /// The home currency.
    pub home: Currency,
    /// Materials and premixes, in order of code.
    pub items: Vec<Item>,
    /// Suppliers, in order of code.
    pub suppliers: Vec<Supplier>,
    /// Offers, in order of supplier, item, pack.
    pub offers: Vec<Offer>,
    /// Exchange rates, in order of currency, then date.
    pub rates: Vec<DatedRate>,
    /// Lots with something on hand, in order of code.
    pub lots: Vec<Lot>,
    /// Open order lines, in order of order code, item, pack.
    pub orders: Vec<OpenOrder>,
    /// Formula versions.
    pub formulas: Vec<Formula>,
    /// Products, in order of code.
    pub products: Vec<Product>,
    /// Plan entries that are not made yet, in the order of the plan.
    pub entries: Vec<PlanEntry>,
    /// What the maker wants of the reorder list.
    pub hand: Hand,
}

/// What steers the reorder list besides the plan.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hand {
    /// What the maker wants of it, in order of code.
    pub wishes: Vec<Wish>,
    /// The last list.
    pub last_list: LastList,
    /// What received orders tell of their suppliers.
    pub lead_times: BTreeMap<SupplierId, LeadTime>,
}

/// The last reorder list, with what was worked out beside it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LastList {
    /// Its lines, in order of day, supplier, offer.
    pub lines: Vec<ListedLine>,
    /// What tells the purchasing problem from others; empty where it is not known.
    pub whole_mark: String,
    /// The same without what every day changes.
    pub lasting_mark: String,
    /// No plan had a smaller objective.
    pub lower_bound: Money,
    /// What buying each material alone would have come to.
    pub simple_objective: Money,
    /// What a new list would have saved, where an older one stayed.
    pub new_would_save: Option<Money>,
}

/// A line of the last reorder list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ListedLine {
    /// Day of the order.
    pub order_on: NaiveDate,
    /// From whom.
    pub supplier: SupplierId,
    /// Of what.
    pub item: ItemId,
    /// How much is in a pack.
    pub pack: Quantity,
    /// How many packs.
    pub packs: i64,
}

/// Something that is kept in stock: a raw material, a packaging item or a premix.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// Its code.
    pub code: String,
    /// Its name.
    pub name: String,
    /// Ingredient name for labels; empty where not known.
    pub inci: String,
    /// How it is stored; may be empty.
    pub storage: String,
    /// What to beware of; may be empty.
    pub caution: String,
    /// What it is counted in.
    pub unit: Unit,
    /// The formula of a premix; `None` for what is bought.
    pub premix: Option<Premix>,
    /// Life from receipt where a lot has no best-before of its own.
    pub unopened_life: Option<Span>,
    /// Life from first use.
    pub opened_life: Option<Span>,
    /// What should always be left.
    pub safety_stock: Quantity,
    /// What there is room for on the shelf; as much as comes where `None`.
    pub shelf_space: Option<Quantity>,
    /// Always there (tap water): never short, never ordered.
    pub always_at_hand: bool,
    /// For volumes.
    pub density: Option<Density>,
    /// Mass of one piece of packaging, for postage by weight.
    pub piece_mass: Option<Mass>,
    /// Highest use rates, as entered.
    pub use_rates: UseRates,
}

/// Highest use rates of a material as the user entered them, by kind of product.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct UseRates {
    /// In what stays on the skin.
    pub leave_on: Option<Percent>,
    /// In what is rinsed off.
    pub rinse_off: Option<Percent>,
}

/// How a premix is made.
#[derive(Clone, Debug, PartialEq)]
pub struct Premix {
    /// Name of its formula; the newest version counts. `None` in place of the version where there is none.
    pub formula: Option<FormulaId>,
    /// Days before it is needed on which its own ingredients are needed.
    pub make_ahead_days: u32,
    /// What is lost in making it.
    pub loss: Percent,
}

/// Who sells.
#[derive(Clone, Debug, PartialEq)]
pub struct Supplier {
    /// Code.
    pub code: String,
    /// Name.
    pub name: String,
    /// Where orders go; empty where not known.
    pub email: String,
    /// Currency of prices, minimum order and postage.
    pub currency: Currency,
    /// Order days and lead time.
    pub calendar: OrderCalendar,
    /// Goods of an order are at least this.
    pub minimum_order: Price,
    /// What sending costs.
    pub postage: Postage,
    /// Goods value from which postage is free.
    pub free_postage_from: Option<Price>,
    /// Duty on goods.
    pub duty: Percent,
}

/// What a supplier takes for sending an order. Bands are in order of `from`; the first starts at 0.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Postage {
    /// The same for every order.
    Flat(Price),
    /// By goods value: from this value, this fee.
    ByValue(Vec<(Price, Price)>),
    /// By weight of the goods: from this mass, this fee.
    ByWeight(Vec<(Mass, Price)>),
}

/// A supplier's pack of an item.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// Whose.
    pub supplier: SupplierId,
    /// Of what.
    pub item: ItemId,
    /// How much is in it; more than 0.
    pub pack: Quantity,
    /// The pack as the supplier writes it: `16 fl oz`.
    pub pack_text: String,
    /// Price of one pack from so many packs on, in order of packs; never empty. The first may be above 1: fewer cannot be bought.
    pub breaks: Vec<(i64, Price)>,
    /// How long it lasts from arrival; for ever where `None`.
    pub life_on_arrival: Option<Span>,
    /// The supplier's number for it.
    pub item_no: String,
}

/// The rate of a currency from a day on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DatedRate {
    /// Which currency.
    pub currency: Currency,
    /// From when.
    pub date: NaiveDate,
    /// Home currency for one unit.
    pub rate: Rate,
}

/// The state of a lot (ISO 22716): only released lots are used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum LotState {
    /// May be used.
    Released,
    /// Waits to be checked.
    Quarantine,
    /// Must not be used.
    Rejected,
}

impl LotState {
    /// The word of the file contract.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Released => "released",
            Self::Quarantine => "quarantine",
            Self::Rejected => "rejected",
        }
    }
}

/// One delivery of one item with one supplier lot number, cost and best-before date.
#[derive(Clone, Debug, PartialEq)]
pub struct Lot {
    /// Its code.
    pub code: String,
    /// Of what.
    pub item: ItemId,
    /// What is left.
    pub on_hand: Quantity,
    /// What the rest cost, in its currency.
    pub cost: Price,
    /// The currency it was paid in.
    pub currency: Currency,
    /// When it came.
    pub received: Option<NaiveDate>,
    /// The best-before date that counts: the supplier's or the last passed retest's.
    pub best_before: Option<NaiveDate>,
    /// When it was opened.
    pub opened: Option<NaiveDate>,
    /// Its state.
    pub state: LotState,
    /// Where it stands.
    pub place: String,
}

/// A line of an order that was placed and has not come yet.
#[derive(Clone, Debug, PartialEq)]
pub struct OpenOrder {
    /// The order's code.
    pub code: String,
    /// From whom.
    pub supplier: SupplierId,
    /// Of what.
    pub item: ItemId,
    /// The pack as written when it was ordered.
    pub pack_text: String,
    /// How many packs are still to come.
    pub packs: i64,
    /// How much that is.
    pub quantity: Quantity,
    /// What that costs in the supplier's currency.
    pub price: Price,
    /// When it is due.
    pub expected: NaiveDate,
    /// True where a proposal of this program became the order: then it may have been placed for what comes too late.
    pub was_proposed: bool,
    /// Life on arrival of the offer it was ordered from; for ever where `None`.
    pub life_on_arrival: Option<Span>,
}

/// One version of a formula.
#[derive(Clone, Debug, PartialEq)]
pub struct Formula {
    /// Its name.
    pub code: String,
    /// Which version.
    pub version: String,
    /// Its lines, in order; they add up to 100 % with the balance line filled in.
    pub lines: Vec<FormulaLine>,
}

/// One ingredient of a formula.
#[derive(Clone, Debug, PartialEq)]
pub struct FormulaLine {
    /// What.
    pub item: ItemId,
    /// How much of the whole.
    pub percent: Percent,
    /// Phase of the work: heated, cool-down.
    pub phase: String,
}

/// What kind of product it is, for use rates.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ProductUse {
    /// Stays on the skin.
    LeaveOn,
    /// Is rinsed off.
    RinseOff,
}

/// A formula in a mould or container.
#[derive(Clone, Debug, PartialEq)]
pub struct Product {
    /// Code.
    pub code: String,
    /// Name.
    pub name: String,
    /// The formula version it is made to; `None` where it does not exist (a finding says so).
    pub formula: Option<FormulaId>,
    /// For use rates.
    pub product_use: Option<ProductUse>,
    /// Net mass of a piece; without it, only plans by mass have an amount.
    pub net_mass: Option<Mass>,
    /// Pieces in one mould.
    pub pieces_per_mould: Option<i64>,
    /// What is lost in making it.
    pub loss: Percent,
    /// Days in the mould.
    pub setting_days: u32,
    /// Days of drying or cure after that.
    pub curing_days: u32,
    /// Its own shelf life.
    pub shelf_life: Option<Span>,
    /// How long its ingredients must last from the day it is made.
    pub minimum_life: Option<Span>,
    /// What it is packed in, in order of the file.
    pub packaging: Vec<Packaging>,
}

/// A packaging item of a product.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Packaging {
    /// What.
    pub item: ItemId,
    /// How many for a piece: millionths.
    pub per_piece_millionths: i64,
    /// How many for a batch, besides.
    pub per_batch: i64,
}

/// So much of a product, made on a day.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanEntry {
    /// Its code.
    pub code: String,
    /// Of what.
    pub product: ProductId,
    /// How much.
    pub amount: PlanAmount,
    /// When.
    pub when: PlanDay,
}

/// How much a plan entry makes, as the maker says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PlanAmount {
    /// Finished pieces.
    Pieces(i64),
    /// Moulds of the product's `pieces_per_mould`.
    Moulds(i64),
    /// Net mass before loss.
    NetMass(Mass),
}

/// The day of a plan entry, as the maker says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PlanDay {
    /// Made on this day.
    MakeOn(NaiveDate),
    /// Set and cured by this day.
    ReadyBy(NaiveDate),
}

impl Snapshot {
    /// The newest rate of a currency on or before the day: 1 for the home currency, `None` where there is none.
    #[must_use]
    pub fn rate(&self, currency: Currency, day: NaiveDate) -> Option<Rate> {
        if currency == self.home {
            return Some(Rate::ONE);
        }
        let known = self.rates.iter().filter(|dated| dated.currency == currency && dated.date <= day);
        known.max_by_key(|dated| dated.date).map(|dated| dated.rate)
    }

    /// A price in home money at the newest rate, or `None` where there is no rate.
    #[must_use]
    pub fn to_home(&self, price: Price, currency: Currency, day: NaiveDate) -> Option<Money> {
        Some(self.rate(currency, day)?.to_home(price, currency, self.home))
    }

    /// The item of a reference.
    #[must_use]
    pub fn item(&self, id: ItemId) -> &Item {
        &self.items[id.index()]
    }

    /// The plan entry of a reference.
    #[must_use]
    pub fn entry(&self, id: EntryId) -> &PlanEntry {
        &self.entries[id.index()]
    }

    /// The product of a reference.
    #[must_use]
    pub fn product(&self, id: ProductId) -> &Product {
        &self.products[id.index()]
    }
}
