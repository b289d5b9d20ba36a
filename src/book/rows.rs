//! The rows of the book, one type for each file of the contract: typed and in one unit, but not yet linked.
//!
//! Amounts are in the item's unit (milligrams for raw materials and premixes, pieces for packaging), prices in minor
//! units of the currency of their row or supplier.

use crate::plan::calendar::{ClosedPeriod, Span, Weekdays};
use crate::plan::model::{LotState, PlanAmount, PlanDay, ProductUse};
use crate::plan::money::{Currency, Price, Rate};
use crate::plan::quantity::{Density, Mass, Percent, Quantity, Unit};
use chrono::NaiveDate;

/// A row of `materials`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MaterialRow {
    /// Key; premixes have their codes in the same name space.
    pub code: String,
    /// Name.
    pub name: String,
    /// Ingredient name for labels; empty where not known.
    pub inci: String,
    /// `raw` is counted in milligrams, `packaging` in pieces.
    pub unit: Unit,
    /// For volumes.
    pub density: Option<Density>,
    /// Mass of one piece.
    pub piece_mass: Option<Mass>,
    /// Life from receipt.
    pub unopened_life: Option<Span>,
    /// Life from opening.
    pub opened_life: Option<Span>,
    /// What should always be left.
    pub safety_stock: Quantity,
    /// What there is room for on the shelf; above 0. As much as comes where `None`.
    pub shelf_space: Option<Quantity>,
    /// Highest use rate in what stays on the skin.
    pub max_leave_on: Option<Percent>,
    /// Highest use rate in what is rinsed off.
    pub max_rinse_off: Option<Percent>,
    /// How it is stored.
    pub storage: String,
    /// What to beware of.
    pub caution: String,
    /// Never short, never ordered.
    pub always_at_hand: bool,
}

/// A row of `suppliers`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SupplierRow {
    /// Key.
    pub code: String,
    /// Name.
    pub name: String,
    /// Where orders go; empty where not known.
    pub email: String,
    /// Currency of all of its amounts.
    pub currency: Currency,
    /// Calendar days from order to arrival.
    pub lead_time_days: u32,
    /// On which days it takes orders; empty for every day.
    pub order_weekdays: Weekdays,
    /// When it takes none.
    pub closed: Vec<ClosedPeriod>,
    /// Least goods value of an order.
    pub minimum_order: Price,
    /// Flat postage; bands of `postage` take its place.
    pub postage: Price,
    /// Goods value from which postage is free.
    pub free_postage_from: Option<Price>,
    /// Duty on goods.
    pub duty: Percent,
}

/// Where a band of postage starts, and by what it is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BandStart {
    /// From a value of goods.
    Value(Price),
    /// From a weight of goods.
    Weight(Mass),
}

/// A row of `postage`: one band. A supplier's bands are all of one kind and the first starts at 0.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PostageRow {
    /// Whose.
    pub supplier: String,
    /// From where on.
    pub from: BandStart,
    /// What it costs.
    pub fee: Price,
}

/// A row of `offers`: the price of a pack from so many packs on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfferRow {
    /// Whose.
    pub supplier: String,
    /// Of what.
    pub material: String,
    /// How much is in the pack.
    pub pack: Quantity,
    /// The pack as written.
    pub pack_text: String,
    /// Price of one pack.
    pub price: Price,
    /// From how many packs on.
    pub from_packs: i64,
    /// How long it lasts from arrival.
    pub life_on_arrival: Option<Span>,
    /// The supplier's number; empty where not known.
    pub item_no: String,
}

/// A row of `rates`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RateRow {
    /// From when.
    pub date: NaiveDate,
    /// Of what.
    pub currency: Currency,
    /// Home currency for one unit.
    pub rate: Rate,
}

/// A row of `lots`: a lot as it came. What is left of it is what the ledger says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LotRow {
    /// Key.
    pub lot: String,
    /// A material or a premix.
    pub material: String,
    /// What came.
    pub amount: Quantity,
    /// From whom; empty where not known.
    pub supplier: String,
    /// The supplier's lot number.
    pub supplier_lot: String,
    /// When it came.
    pub received: Option<NaiveDate>,
    /// What the whole lot cost; 0 for a free sample.
    pub cost: Price,
    /// In which currency.
    pub currency: Currency,
    /// The supplier's best-before.
    pub best_before: Option<NaiveDate>,
    /// When it was opened.
    pub opened: Option<NaiveDate>,
    /// Its state.
    pub state: LotState,
    /// Where it stands.
    pub place: String,
    /// The order that it came with; empty where none is known (a column of ours).
    pub order: String,
}

/// A row of `orders`: a line of an order that was placed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OrderRow {
    /// The order's code; one order may have many lines.
    pub order: String,
    /// From whom; the same for all lines of an order.
    pub supplier: String,
    /// Of what.
    pub material: String,
    /// How much is in a pack.
    pub pack: Quantity,
    /// The pack as written.
    pub pack_text: String,
    /// How many packs.
    pub packs: i64,
    /// When it was placed.
    pub placed: Option<NaiveDate>,
    /// When it is due.
    pub expected: NaiveDate,
    /// Price of one pack; the offer's where `None`.
    pub price: Option<Price>,
    /// How many packs have come so far (a column of ours, `packs_received`).
    pub packs_received: i64,
    /// True for a line that was cancelled: what has not come will not (a column of ours).
    pub cancelled: bool,
}

/// How much of a formula a line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Share {
    /// So much.
    Percent(Percent),
    /// What is left to 100 %.
    Balance,
}

/// A row of `formulas`: one line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FormulaLineRow {
    /// Name of the formula.
    pub formula: String,
    /// Its version; `1` where the file gives none.
    pub version: String,
    /// A material or a premix.
    pub ingredient: String,
    /// How much.
    pub share: Share,
    /// Phase of the work.
    pub phase: String,
    /// The version was taken back: nothing is made to it any more. The same for all of its lines (a column of ours).
    pub withdrawn: bool,
}

/// A row of `premixes`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PremixRow {
    /// Key; in one name space with the materials.
    pub code: String,
    /// Its formula; the newest version counts.
    pub formula: String,
    /// Days its own ingredients are needed before it is.
    pub make_ahead_days: u32,
    /// What is lost in making it; below 100 %.
    pub loss: Percent,
    /// How long it lasts from being made.
    pub life: Option<Span>,
}

/// A row of `products`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProductRow {
    /// Key.
    pub code: String,
    /// Name.
    pub name: String,
    /// Its formula.
    pub formula: String,
    /// The version it is made to; empty for the newest.
    pub version: String,
    /// For use rates.
    pub product_use: Option<ProductUse>,
    /// Net mass of a piece; `None` where not known: such a product can be planned by mass only.
    pub net_mass: Option<Mass>,
    /// Pieces in one mould.
    pub pieces_per_mould: Option<i64>,
    /// What is lost in making it; below 100 %.
    pub loss: Percent,
    /// Days in the mould.
    pub setting_days: u32,
    /// Days of drying or cure after that.
    pub curing_days: u32,
    /// Its own shelf life.
    pub shelf_life: Option<Span>,
    /// How long its ingredients must last from the make date.
    pub minimum_life: Option<Span>,
}

/// A row of `packaging`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PackagingRow {
    /// Of which product.
    pub product: String,
    /// A packaging material.
    pub material: String,
    /// Pieces of it for a piece of the product, in millionths.
    pub per_piece_millionths: i64,
    /// Pieces of it for a batch, besides.
    pub per_batch: i64,
}

/// A row of `plan`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlanRow {
    /// Key.
    pub entry: String,
    /// Of what.
    pub product: String,
    /// How much.
    pub amount: PlanAmount,
    /// When.
    pub when: PlanDay,
    /// It was taken out of the plan (a column of ours).
    pub dropped: bool,
}

/// What a movement does. Signs: a receipt adds, an issue, a write-off and a return take, a count does either.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum MovementKind {
    /// Goods came, or a premix was made.
    Receipt,
    /// Taken for a batch.
    Issue,
    /// A stocktake found more or less.
    Count,
    /// Thrown away.
    WriteOff,
    /// Sent back to the supplier.
    Return,
}

impl MovementKind {
    /// The word of the files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Receipt => "receipt",
            Self::Issue => "issue",
            Self::Count => "count",
            Self::WriteOff => "write-off",
            Self::Return => "return",
        }
    }
}

/// A row of `ledger`: one movement. Never changed; a mistake is reversed by a movement that names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MovementRow {
    /// Key: 1, 2, 3 ... in the order in which they were written.
    pub movement: i64,
    /// Which act of the user it belongs to: 1, 2, 3 ...
    pub act: i64,
    /// What it does.
    pub kind: MovementKind,
    /// To which lot.
    pub lot: String,
    /// Added (above 0) or taken (below 0), in the item's unit.
    pub amount: i64,
    /// Its part of the lot's cost, of the same sign, in the lot's currency.
    pub cost: i64,
    /// The civil day on which it happened.
    pub day: NaiveDate,
    /// When it was written down: UTC, `2027-03-09T08:15:00Z`.
    pub recorded_at: String,
    /// Why, where a reason was asked for.
    pub reason: String,
    /// The batch that it was taken for, or that it came from; empty where none.
    pub batch: String,
    /// The movement that it reverses.
    pub reverses: Option<i64>,
}

/// A row of `batches`: a plan entry that has been made, or a batch made outside the plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BatchRow {
    /// Key: the batch number.
    pub batch: String,
    /// The plan entry that it was made for; empty outside the plan.
    pub entry: String,
    /// True where the entry is done with it; false for a part of an entry, which goes on, and outside the plan.
    pub fulfils_entry: bool,
    /// A product; empty for a batch of a premix.
    pub product: String,
    /// A premix that was made for stock; empty for a batch of a product.
    pub premix: String,
    /// The formula that it was made to.
    pub formula: String,
    /// In which version.
    pub version: String,
    /// When.
    pub made_on: NaiveDate,
    /// What was weighed in.
    pub mass: Mass,
    /// Whole pieces that came out.
    pub pieces: i64,
    /// The earlier of made-on + the product's shelf life and the earliest usable-through of its lots.
    pub best_before: Option<NaiveDate>,
    /// Who weighed; empty where not noted.
    pub weighed_by: String,
    /// What the maker noted.
    pub note: String,
    /// True once the act that made it was undone: its number stays taken, its lots and pieces are back.
    pub undone: bool,
    /// The state of its finished pieces: only released ones are sold, given or tried.
    pub state: LotState,
}

/// A row of `weighings`: what was meant to be weighed from a lot for a batch, and what was.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WeighingRow {
    /// Key, with `place`.
    pub batch: String,
    /// Its place on the weighing sheet: 1, 2, 3 ...
    pub place: i64,
    /// The lot that was taken.
    pub lot: String,
    /// What the sheet asked for, in the item's unit; 0 for what the plan did not ask for.
    pub target: Quantity,
    /// What was taken.
    pub weighed: Quantity,
    /// The vessel's mass, where it was noted.
    pub tare: Option<Mass>,
    /// Why it differs beyond the tolerance.
    pub reason: String,
}

/// What happens to finished pieces. Signs: made adds, sale, gift, sample and waste take, a count does either.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum PieceKind {
    /// Came out of the mould.
    Made,
    /// Sold.
    Sale,
    /// Given away.
    Gift,
    /// Given to try, or kept as a reference.
    Sample,
    /// Broken, spoiled, thrown away.
    Waste,
    /// A stocktake found more or less.
    Count,
}

impl PieceKind {
    /// The word of the files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Made => "made",
            Self::Sale => "sale",
            Self::Gift => "gift",
            Self::Sample => "sample",
            Self::Waste => "waste",
            Self::Count => "count",
        }
    }
}

/// A row of `pieces`: finished pieces of a batch that came or left. Never changed, only reversed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PieceRow {
    /// Key: 1, 2, 3 ... in the order in which they were written.
    pub piece_movement: i64,
    /// Which act of the user it belongs to.
    pub act: i64,
    /// Of which batch.
    pub batch: String,
    /// What happened.
    pub kind: PieceKind,
    /// Added (above 0) or taken (below 0).
    pub pieces: i64,
    /// The civil day.
    pub day: NaiveDate,
    /// To whom, or why.
    pub reason: String,
    /// The row that it reverses.
    pub reverses: Option<i64>,
}

/// A row of `acts`: something that the user did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ActRow {
    /// Key: 1, 2, 3 ...
    pub act: i64,
    /// What it was: `receive`, `open`, `make` ...
    pub kind: String,
    /// The code of what it was about.
    pub subject: String,
    /// The workshop's day.
    pub day: NaiveDate,
    /// When it was written down: UTC, `2027-03-09T08:15:00Z`.
    pub recorded_at: String,
    /// The act that it undoes.
    pub undoes: Option<i64>,
    /// Who did it, where that was said.
    pub who: String,
}

/// A row of `changes`: what an act changed besides the ledger, so that it can be asked about and undone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangeRow {
    /// Key: 1, 2, 3 ... in the order in which they were written.
    pub change: i64,
    /// Which act.
    pub act: i64,
    /// What kind of thing, as in [`CHANGED_FIELDS`].
    pub what: String,
    /// Its code.
    pub code: String,
    /// Of an order, the line: its pack in the material's unit and the material, `250000 shea`. Of a formula, the version.
    /// Empty otherwise.
    pub part: String,
    /// What of it, as in [`CHANGED_FIELDS`].
    pub field: String,
    /// What stood there: a date, a word, a number; empty for nothing.
    pub before: String,
    /// What stands there since.
    pub after: String,
    /// Who did it, where that was noted.
    pub who: String,
    /// Why, as the maker said it.
    pub reason: String,
}

/// What acts change besides the ledger. `stands` is `yes` or empty: an order line that was placed and not cancelled, an
/// entry that is planned and not dropped, a batch that was made and not undone, a formula version that is worked to, a
/// wish that was kept and not lifted.
pub const CHANGED_FIELDS: [(&str, &[&str]); 6] = [
    ("lot", &["state", "opened", "best_before", "place"]),
    ("order", &["stands", "packs_received"]),
    ("plan", &["stands", "when", "amount"]),
    ("batch", &["stands", "state"]),
    ("formula", &["stands"]),
    ("wish", &["stands"]),
];

/// What a wish about the reorder list asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum WishKind {
    /// Not from there, not of that, not on that day.
    Exclude,
    /// From there, of that, on that day.
    Pin,
    /// A supplier may cost more.
    Prefer,
    /// No more than so much is spent.
    Budget,
}

impl WishKind {
    /// The word of the files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Exclude => "exclude",
            Self::Pin => "pin",
            Self::Prefer => "prefer",
            Self::Budget => "budget",
        }
    }
}

/// A row of `wishes`: what the maker wants of every reorder list. A wish that was lifted stays, so that lifting it can be
/// undone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WishRow {
    /// Key.
    pub wish: String,
    /// What it asks for.
    pub kind: WishKind,
    /// Of whom; empty where it is about no supplier.
    pub supplier: String,
    /// Of what; empty where it is about no material.
    pub material: String,
    /// Of which pack, in the material's unit; only beside supplier and material.
    pub pack: Option<Quantity>,
    /// The first day that it is about.
    pub from: Option<NaiveDate>,
    /// The last such day; of a budget, the last day whose orders it pays.
    pub to: Option<NaiveDate>,
    /// By how much a preferred supplier may cost more.
    pub percent: Option<Percent>,
    /// The budget, in the home currency.
    pub amount: Option<Price>,
    /// Why, as the maker said it.
    pub reason: String,
    /// True once it no longer counts.
    pub lifted: bool,
}

/// A row of `settings`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SettingRow {
    /// Key: `home_currency`.
    pub setting: String,
    /// Its value.
    pub value: String,
}
