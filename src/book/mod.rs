//! The workshop's book: what is written down in its files and its store, as rows that refer to each other by code.
//!
//! Files, tables and the core all meet here, and nowhere else: files are read into rows, rows are kept in tables, and
//! [`link`] turns a book into the core's snapshot. Nothing here knows a file, a database or the terminal.

pub mod ahead;
pub mod fold;
pub mod link;
pub mod rows;
pub mod versions;

use crate::plan::money::{Currency, Price};
use crate::plan::quantity::Quantity;
use rows::{
    ActRow, BatchRow, ChangeRow, FormulaLineRow, LotRow, MaterialRow, MovementRow, OfferRow, OrderRow, PackagingRow,
    PieceRow, PlanRow, PostageRow, PremixRow, ProductRow, RateRow, SettingRow, SupplierRow, WeighingRow, WishRow,
};

/// All rows of a workshop. Each list is in the order of its key, but for `formula_lines` and `packaging`, whose lines
/// keep the order of the file within their formula or product, and `plan`, which is in the order of the plan.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Book {
    /// Key: `code`.
    pub materials: Vec<MaterialRow>,
    /// Key: `code`.
    pub suppliers: Vec<SupplierRow>,
    /// Key: `supplier`, `by`, `from`.
    pub postage: Vec<PostageRow>,
    /// Key: `supplier`, `material`, `pack`, `from_packs`.
    pub offers: Vec<OfferRow>,
    /// Key: `currency`, `date`.
    pub rates: Vec<RateRow>,
    /// Key: `lot`.
    pub lots: Vec<LotRow>,
    /// Key: `order`, `material`, `pack`.
    pub orders: Vec<OrderRow>,
    /// Key: `formula`, `version`, then the line's place.
    pub formula_lines: Vec<FormulaLineRow>,
    /// Key: `code`.
    pub premixes: Vec<PremixRow>,
    /// Key: `code`.
    pub products: Vec<ProductRow>,
    /// Key: `product`, then the line's place.
    pub packaging: Vec<PackagingRow>,
    /// Key: `entry`; in the order of the plan. Where files are read or written, entries that were made or dropped are
    /// among them.
    pub plan: Vec<PlanRow>,
    /// Key: `wish`.
    pub wishes: Vec<WishRow>,
}

/// What an act was, as people say it; the ledger and the JSON keep it as one word (`plan-add`).
#[must_use]
pub fn act_in_words(kind: &str) -> &str {
    const WORDS: [(&str, &str); 26] = [
        ("import", "files imported"),
        ("receive", "goods received"),
        ("open", "lot opened"),
        ("release", "lot released"),
        ("reject", "lot rejected"),
        ("retest-passed", "retest passed"),
        ("retest-failed", "retest failed"),
        ("move", "lot moved"),
        ("decant", "lot decanted"),
        ("count", "lot counted"),
        ("write-off", "lot written off"),
        ("return", "lot returned"),
        ("make", "batch made"),
        ("pieces-leave", "pieces left"),
        ("pieces-count", "pieces counted"),
        ("pieces-hold", "pieces held back"),
        ("pieces-release", "pieces released"),
        ("pieces-reject", "pieces rejected"),
        ("place-order", "order placed"),
        ("cancel-order", "order cancelled"),
        ("plan-add", "plan entry added"),
        ("plan-move", "plan entry moved"),
        ("plan-drop", "plan entry dropped"),
        ("revise", "formula revised"),
        ("keep-wish", "wish kept"),
        ("lift-wish", "wish lifted"),
    ];
    WORDS.iter().find(|(known, _)| *known == kind).map_or(kind, |(_, words)| words)
}

/// A line of the last reorder list: kept so that the next one does not turn everything over for a few cents.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct ListedRow {
    /// Day of the order.
    pub order_on: chrono::NaiveDate,
    /// From whom.
    pub supplier: String,
    /// Of what.
    pub material: String,
    /// How much is in a pack.
    pub pack: Quantity,
    /// How many packs.
    pub packs: i64,
}

/// The last reorder list, with what was worked out beside it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ListRows {
    /// Its lines, in their order.
    pub lines: Vec<ListedRow>,
    /// What tells the purchasing problem from others; empty where it is not known.
    pub whole_mark: String,
    /// The same without what every day changes.
    pub lasting_mark: String,
    /// No plan had a smaller objective, in home minor units.
    pub lower_bound: i64,
    /// What buying each material alone would have come to.
    pub simple_objective: i64,
    /// What a new list would have saved, where an older one stayed.
    pub new_would_save: Option<i64>,
}

/// An order that has come in full.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct ReceivedOrder {
    /// From whom.
    pub supplier: String,
    /// Its code.
    pub order: String,
    /// The day it was placed.
    pub placed: chrono::NaiveDate,
    /// The day on which the last of it came.
    pub complete: chrono::NaiveDate,
}

impl Book {
    /// What a pack of an order line costs: as ordered, else as the offer asks for that many packs, else nothing.
    #[must_use]
    pub fn pack_price(&self, line: &OrderRow) -> Price {
        let same = |offer: &&OfferRow| {
            offer.supplier == line.supplier && offer.material == line.material && offer.pack == line.pack
        };
        let reached = self.offers.iter().filter(same).filter(|offer| offer.from_packs <= line.packs);
        let offered = reached.max_by_key(|offer| offer.from_packs).map(|offer| offer.price);
        line.price.or(offered).unwrap_or(Price::ZERO)
    }
}

/// What has happened in a workshop: kept apart from the [`Book`], since it grows with the years and no plan reads it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Journal {
    /// Key: `movement`.
    pub ledger: Vec<MovementRow>,
    /// Key: `batch`.
    pub batches: Vec<BatchRow>,
    /// Key: `batch`, `place`.
    pub weighings: Vec<WeighingRow>,
    /// Key: `piece_movement`.
    pub pieces: Vec<PieceRow>,
    /// Key: `act`.
    pub acts: Vec<ActRow>,
    /// Key: `change`.
    pub changes: Vec<ChangeRow>,
    /// Key: `setting`.
    pub settings: Vec<SettingRow>,
}

impl Journal {
    /// The home currency, where the settings name it.
    #[must_use]
    pub fn home(&self) -> Option<Currency> {
        let row = self.settings.iter().find(|row| row.setting == "home_currency")?;
        Currency::from_code(&row.value)
    }
}

/// What the ledger says of a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Standing {
    /// The lot.
    pub lot: String,
    /// What is left.
    pub on_hand: Quantity,
    /// What the rest cost, in the lot's currency.
    pub cost: Price,
    /// True once anything but its receipt has been written.
    pub moved: bool,
}

/// What the second ledger says of a batch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PieceStanding {
    /// The batch.
    pub batch: String,
    /// Finished pieces that are still here.
    pub on_hand: i64,
}

/// An act with all that it did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deed {
    /// The act.
    pub act: ActRow,
    /// False once it was undone and not done again.
    pub stands: bool,
    /// What it moved.
    pub movements: Vec<MovementRow>,
    /// What it did to finished pieces.
    pub pieces: Vec<PieceRow>,
    /// What it changed besides.
    pub changes: Vec<ChangeRow>,
}

/// A standing draw from a lot for a batch.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Draw {
    /// From which lot.
    pub lot: String,
    /// For which batch.
    pub batch: String,
    /// How much, in the item's unit; draws of the same two are added up.
    pub amount: Quantity,
}

/// A lot of premix that a batch became.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Yield {
    /// The batch.
    pub batch: String,
    /// The lot.
    pub lot: String,
    /// How much.
    pub amount: Quantity,
}

/// Part of a lot that was filled into a lot of its own.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Decanting {
    /// From which lot.
    pub from: String,
    /// Into which.
    pub into: String,
    /// How much.
    pub amount: Quantity,
}

/// What went into what, as far as it can be reached from one lot or batch, onwards and back. Lists are in their order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Genealogy {
    /// Lot to batch.
    pub draws: Vec<Draw>,
    /// Batch to lot.
    pub yields: Vec<Yield>,
    /// Lot to lot.
    pub decantings: Vec<Decanting>,
}
