//! What the commands answer that do something, rather than report: which things they made or changed.

use super::expiring::ExpiringView;
use super::forecast::ForecastView;
use super::order_letter::OrderLetterView;
use super::reorder::ReorderView;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// `init`: where the settings and the store are.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct InitView {
    /// The settings file.
    pub settings: String,
    /// True where it was written now; false where it was there.
    pub settings_written: bool,
    /// The store.
    pub store: String,
    /// True where it was made now; false where it was there.
    pub store_made: bool,
    /// The empty sheets; null where none were asked for.
    pub sheets: Option<SheetsView>,
}

/// Empty sheets that were written.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SheetsView {
    /// All of them as one workbook.
    pub workbook: String,
    /// Each as a CSV file.
    pub files: Vec<String>,
}

/// `demo`: where things are, and the first look at them.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DemoView {
    /// The store.
    pub store: String,
    /// The folder with the CSV files that it was made of.
    pub files: String,
    /// The letter with the reorder list.
    pub letter: String,
    /// As `forecast` answers.
    pub forecast: ForecastView,
    /// As `expiring` answers, without findings.
    pub expiring: ExpiringView,
    /// As `reorder` answers, without findings.
    pub reorder: ReorderView,
}

/// `import`: what the files changed, or would change.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ImportView {
    /// The store.
    pub store: String,
    /// False for a dry run, and where there was nothing to change.
    pub written: bool,
    /// By file and row.
    pub changes: Vec<ImportChangeView>,
    /// What was noticed, in sentences.
    pub notes: Vec<String>,
}

/// A row that an import adds, changes or replaces.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ImportChangeView {
    /// The file it belongs to, `materials` say.
    pub file: String,
    /// What it is known by there.
    pub key: String,
    /// `added`, `changed` or `replaced`.
    pub kind: String,
    /// What is different, of a row that is changed.
    pub columns: Vec<ImportColumnView>,
}

/// A cell that an import changes.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ImportColumnView {
    /// Its column.
    pub column: String,
    /// What stands in the store.
    pub from: String,
    /// What stands in the file.
    pub to: String,
}

/// `import --map`: the mappings that were written down.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MappingsView {
    /// One for each of the maker's files.
    pub mappings: Vec<MappingView>,
}

/// A mapping of a maker's own spreadsheet.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MappingView {
    /// Her file.
    pub file: String,
    /// Where the mapping is kept.
    pub mapping: String,
    /// Sheet by sheet.
    pub sheets: Vec<MappedSheetView>,
    /// Sheets that could not be made out, and why.
    pub unread: Vec<String>,
}

/// What a sheet of hers is taken for.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MappedSheetView {
    /// Its name; empty for a CSV file.
    pub sheet: String,
    /// The files of ours that a line of it fills.
    pub holds: Vec<String>,
    /// Why that was guessed.
    pub why: String,
    /// Column by column.
    pub columns: Vec<MappedColumnView>,
    /// The settings of the sheet (`decimal`, `dates` ...), and what decided each.
    pub settings: BTreeMap<String, String>,
    /// What has to be decided before anything is read.
    pub open: Vec<String>,
}

/// What a column of hers is taken for.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MappedColumnView {
    /// Her title.
    pub title: String,
    /// Some of its cells.
    pub sample: Vec<String>,
    /// `file.column`, `left out` and so on.
    pub meaning: String,
    /// Unit of its numbers; `None` where the cells say it or it has none.
    pub unit: Option<String>,
    /// Currency of its numbers; `None` likewise.
    pub currency: Option<String>,
    /// Why that was guessed.
    pub why: String,
}

/// `export`: the files that were written.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ExportView {
    /// Their paths.
    pub files: Vec<String>,
}

/// `manual`: where the pages are.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ManualView {
    /// The folder.
    pub folder: String,
}

/// `wish exclude`, `pin`, `prefer`, `budget`: what is heeded from now on.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct KeptWishView {
    /// Its code.
    pub wish: String,
    /// `exclude`, `pin`, `prefer` or `budget`.
    pub kind: String,
    /// In words.
    pub what: String,
}

/// `wish lift`: what is no longer heeded.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LiftedWishView {
    /// Its code.
    pub wish: String,
    /// In words.
    pub what: String,
    /// True.
    pub lifted: bool,
}

/// `order place`: the orders that were written down.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PlacedView {
    /// In the order in which they were placed.
    pub orders: Vec<PlacedOrderView>,
}

/// An order that was written down.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PlacedOrderView {
    /// Its code.
    pub order: String,
    /// The supplier's code.
    pub supplier: String,
    /// The day.
    pub placed: NaiveDate,
    /// When it should be here.
    pub expected: NaiveDate,
    /// How many lines it has.
    pub lines: usize,
    /// Goods, postage and duty, in `currency`.
    pub total: String,
    /// The supplier's.
    pub currency: String,
}

/// `order cancel`: what is not waited for any more.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CancelledView {
    /// The order.
    pub order: String,
    /// True.
    pub cancelled: bool,
}

/// `order letter`: the letters to suppliers.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OrderLettersView {
    /// One for each order.
    pub letters: Vec<DraftView>,
}

/// A letter to a supplier.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DraftView {
    /// What it asks for.
    pub letter: OrderLetterView,
    /// The draft; `None` where there is no address to write to or from.
    pub file: Option<String>,
}

/// `receive`: the lots that a parcel became.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ReceivedView {
    /// One for each.
    pub lots: Vec<ReceivedLotView>,
    /// Codes of those that were past their best-before date when they came.
    pub past_best_before: Vec<String>,
}

/// A lot that came.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ReceivedLotView {
    /// Its code.
    pub lot: String,
    /// The material's.
    pub material: String,
    /// How much.
    pub amount: i64,
    /// Of `mg` or `pcs`.
    pub unit: String,
    /// The order that it came with; empty without one.
    pub order: String,
    /// `released` or `quarantine`.
    pub state: String,
    /// What all of it cost, with its share of postage and duty, in `currency`.
    pub cost: String,
    /// The one it was paid in.
    pub currency: String,
    /// The supplier's date, or what the material's life says.
    pub best_before: Option<NaiveDate>,
}

/// `plan add`, `move`, `repeat`, `drop`: the entries that it was about.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PlannedView {
    /// `added`, `moved`, `repeated` or `dropped`.
    pub done: String,
    /// The entries.
    pub entries: Vec<PlannedEntryView>,
}

/// An entry of the plan.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PlannedEntryView {
    /// Its code.
    pub entry: String,
    /// The product's.
    pub product: String,
    /// The day that it is to be made on, or ready by.
    pub day: NaiveDate,
}

/// `make`: the batch that was written down.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MadeView {
    /// Batch number.
    pub batch: String,
    /// The plan entry; empty outside the plan.
    pub entry: String,
    /// Code of the product; empty for a premix.
    pub product: String,
    /// Code of the premix; empty for a product.
    pub premix: String,
    /// The day.
    pub made_on: NaiveDate,
    /// Whole pieces that came out; 0 for a premix.
    pub pieces: i64,
    /// What was weighed in, in mg.
    pub weighed_mass: i64,
    /// Its best-before.
    pub best_before: Option<NaiveDate>,
    /// The lot that ends on that day, where it is the reason.
    pub best_before_of: Option<String>,
    /// The lot that a premix became.
    pub lot: Option<String>,
    /// What was drawn from which lot.
    pub draws: Vec<MadeDrawView>,
}

/// What was drawn from a lot.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MadeDrawView {
    /// The lot.
    pub lot: String,
    /// In mg or pieces, as its material is counted.
    pub amount: i64,
}

/// `lot open`, `release`, `reject`, `retest`, `move`, `write-off`, `return`, `decant`: what was done.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LotDoneView {
    /// The lot.
    pub lot: String,
    /// In words.
    pub done: String,
}

/// `count`: what is really there of a lot.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CountedView {
    /// The lot.
    pub lot: String,
    /// Its material.
    pub material: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What the ledger said.
    pub before: i64,
    /// What is there.
    pub counted: i64,
    /// The one less the other.
    pub difference: i64,
}

/// `pieces leave`: what left.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PiecesGoneView {
    /// The batch.
    pub batch: String,
    /// How many left.
    pub pieces: i64,
    /// `sale`, `gift`, `sample` or `waste`.
    #[serde(rename = "as")]
    pub how: String,
    /// How many are still here.
    pub left: i64,
    /// The day on which they are set and cured at the earliest.
    pub ready_on: NaiveDate,
}

/// `pieces count`: what is really there of a batch.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PiecesCountedView {
    /// The batch.
    pub batch: String,
    /// How many are here.
    pub left: i64,
    /// That, less what the ledger said.
    pub difference: i64,
}

/// `pieces hold`, `release`, `reject`: what the pieces of a batch are from now on.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PiecesStateView {
    /// The batch.
    pub batch: String,
    /// How many are still here.
    pub left: i64,
    /// `quarantine`, `released` or `rejected`.
    pub state: String,
}

/// `act undo`: what was taken back, or stands again.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct UndoneView {
    /// Number of the act.
    pub act: i64,
    /// What kind of act it was.
    pub kind: String,
    /// What it was about.
    pub subject: String,
    /// True where an undoing was undone, so that the act stands again.
    pub stands: bool,
    /// Number of the act that did so.
    pub by: i64,
}

/// `formula revise`: the new version.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct RevisedView {
    /// The formula.
    pub formula: String,
    /// Its new version.
    pub version: String,
    /// The version that it is a copy of.
    pub copy_of: String,
    /// Why there is a new one.
    pub reason: String,
}

/// `mail`: where the letter is.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum MailedView {
    /// In the outbox folder.
    File {
        /// The letter as a file.
        file: String,
    },
    /// With the mail server.
    Server {
        /// What it said.
        server_said: String,
    },
}

/// `outbox retry`, `outbox drop`: letters whose state is another now.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LettersStateView {
    /// Their numbers.
    pub letters: Vec<i64>,
    /// `waiting` or `dropped`.
    pub state: String,
}

/// `snooze CODE`: until when a thing is kept out of the news.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SnoozedView {
    /// Code of a material, lot or order.
    pub subject: String,
    /// The day on which it may be news again; `None` where it may from now on.
    pub until: Option<NaiveDate>,
    /// Why; empty where nobody said.
    pub reason: String,
}
