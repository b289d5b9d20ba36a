//! A trace for the terminal, and the recall sheet to print.

use super::amounts::{amount, count, day, listed};
use super::one_line;
use super::pieces::held;
use super::table::{Align, Screen, Table, strong};
use crate::view::trace::{GoneView, OtherWayView, TraceView, TracedBatchView, TracedLotView};
use chrono::NaiveDate;
use serde::Serialize;

/// Name of the recall sheet.
pub const RECALL: &str = "recall.html";

/// What stands at the end of every recall sheet.
pub const LOCAL_RULES: &str = "Local rules come first: they say who has to be told of a recall or of a serious \
    undesirable effect, how and by when. This sheet only lists what the ledger knows.";

/// The trace for the terminal.
#[must_use]
pub fn terminal(view: &TraceView, screen: Screen) -> String {
    let mut text = format!("{}\n", strong(&headline(view), screen.colour));
    section(&mut text, "Lots", &lots(&view.lots, view.as_of), screen);
    // What a single batch drew is what the lots above say.
    let with_draws = view.kind != "batch" || view.batches.len() > 1;
    section(&mut text, "Batches", &batches(&view.batches, with_draws, view.as_of), screen);
    let also = if view.kind == "batch" { "It went on into" } else { "It was made of" };
    let OtherWayView { lots: other_lots, batches: other_batches } = &view.also;
    section(&mut text, &format!("{also} (lots)"), &lots(other_lots, view.as_of), screen);
    section(&mut text, &format!("{also} (batches)"), &batches(other_batches, true, view.as_of), screen);
    text
}

fn section(text: &mut String, title: &str, table: &Table, screen: Screen) {
    if !table.is_empty() {
        text.push_str(&format!("\n{title}:\n\n{}", table.render(screen)));
    }
}

/// `Lot L2609-3 is in 2 batches: 40 of 52 pieces are gone, 12 are still here.`
#[must_use]
pub fn headline(view: &TraceView) -> String {
    let code = one_line(&view.subject);
    if view.kind == "batch" {
        let lots = count(view.lots.len(), "lot", "lots");
        let itself = view.batches.iter().find(|batch| batch.batch == view.subject && batch.pieces > 0);
        let pieces = itself.map(|batch| {
            format!(
                ": {} of its {} have left, {} are still here",
                batch.pieces_gone,
                count_of(batch),
                batch.pieces_here
            )
        });
        return format!("Batch {code} holds {lots}{}.", pieces.unwrap_or_default());
    }
    let what = if view.kind == "supplier_lot" { "Supplier's lot" } else { "Lot" };
    if view.batches.is_empty() {
        return format!("{what} {code} is in no batch.");
    }
    let sum = |part: fn(&TracedBatchView) -> i64| view.batches.iter().map(part).fold(0_i64, i64::saturating_add);
    format!(
        "{what} {code} is in {}: {} of {} pieces are gone, {} are still here.",
        count(view.batches.len(), "batch", "batches"),
        sum(|batch| batch.pieces_gone),
        sum(|batch| batch.pieces),
        sum(|batch| batch.pieces_here)
    )
}

fn count_of(batch: &TracedBatchView) -> String {
    count(usize::try_from(batch.pieces).unwrap_or(0), "piece", "pieces")
}

fn lots(lots: &[TracedLotView], today: NaiveDate) -> Table {
    let mut table = Table::new(&[
        ("Lot", Align::Left),
        ("Material", Align::Left),
        ("Supplier", Align::Left),
        ("Supplier's lot", Align::Left),
        ("Came on", Align::Left),
        ("Used", Align::Right),
        ("On hand", Align::Right),
        ("Place", Align::Left),
    ]);
    for lot in lots {
        let came = lot.received.map(|date| day(date, today)).unwrap_or_default();
        let used = amount(lot.amount, &lot.unit);
        let left = amount(lot.on_hand, &lot.unit);
        table.row([&lot.lot, &lot.name, supplier(lot), &lot.supplier_lot, &came, &used, &left, &lot.place]);
    }
    table
}

fn supplier(lot: &TracedLotView) -> &str {
    if lot.supplier_name.is_empty() { &lot.supplier } else { &lot.supplier_name }
}

fn batches(batches: &[TracedBatchView], with_draws: bool, today: NaiveDate) -> Table {
    let drew_column = with_draws.then_some(("Drew", Align::Left));
    let before = [("Batch", Align::Left), ("Product", Align::Left), ("Made on", Align::Left)];
    let after = [("Pieces", Align::Right), ("Here", Align::Right), ("Left", Align::Left)];
    let columns: Vec<_> = before.into_iter().chain(drew_column).chain(after).collect();
    let mut table = Table::new(&columns);
    for batch in batches {
        let pieces = |pieces: i64| if batch.pieces == 0 { String::new() } else { pieces.to_string() };
        let mut row = vec![batch.batch.clone(), batch.name.clone(), day(batch.made_on, today)];
        row.extend(with_draws.then(|| drew(batch)));
        let here = pieces(batch.pieces_here);
        let here = held(&batch.state).map_or_else(|| here.clone(), |held| format!("{here} ({held})"));
        row.extend([pieces(batch.pieces), here, went(&batch.gone, today).join("; ")]);
        table.row(row);
    }
    table
}

/// `120 g of L2609-3; 40 g of B12`.
fn drew(batch: &TracedBatchView) -> String {
    let draw = |draw: &crate::view::trace::TraceDrawView| {
        format!("{} of {}", amount(draw.amount, &draw.unit), one_line(&draw.lot))
    };
    batch.draws.iter().map(draw).collect::<Vec<_>>().join("; ")
}

/// `12 by sale on Thu 4 March (spring market)`, one for each day, kind and reason; `2 came back (sale) on ...` where some
/// did.
pub(super) fn went(gone: &[GoneView], today: NaiveDate) -> Vec<String> {
    let phrase = |gone: &GoneView| {
        let (kind, date, pieces) = (one_line(&gone.kind), day(gone.date, today), gone.pieces.unsigned_abs());
        let said = match (kind.as_str(), gone.pieces) {
            ("count", ..0) => format!("{pieces} more found by counting on {date}"),
            ("count", _) => format!("{pieces} not found by counting on {date}"),
            (kind, ..0) => format!("{pieces} came back ({kind}) on {date}"),
            (kind, _) => format!("{pieces} by {kind} on {date}"),
        };
        if gone.reason.is_empty() { said } else { format!("{said} ({})", one_line(&gone.reason)) }
    };
    gone.iter().map(phrase).collect()
}

/// The recall sheet, ready to be printed.
#[derive(Clone, Debug, Serialize)]
pub struct RecallPage {
    /// What it is about.
    pub headline: String,
    /// Today.
    pub today: String,
    /// The news in one line.
    pub summary: String,
    /// What to stop using.
    pub stop: Vec<RecallLotPage>,
    /// Batches of finished pieces.
    pub batches: Vec<RecallBatchPage>,
    /// Premix batches on the way.
    pub premixes: Vec<RecallBatchPage>,
    /// Sums over all batches: made, still here, left.
    pub sums: Vec<RecallSumPage>,
    /// What left, by kind: `40 by sale`, `1 not found by counting`.
    pub by_kind: String,
    /// That local rules come first.
    pub local_rules: String,
}

/// A lot to stop using.
#[derive(Clone, Debug, Serialize)]
pub struct RecallLotPage {
    /// Code.
    pub lot: String,
    /// Material.
    pub name: String,
    /// Who it came from, the supplier's lot number, when.
    pub origin: String,
    /// What is left, and where.
    pub remains: String,
    /// True where something is left.
    pub is_left: bool,
}

/// A batch.
#[derive(Clone, Debug, Serialize)]
pub struct RecallBatchPage {
    /// Number.
    pub batch: String,
    /// Product.
    pub name: String,
    /// When it was made, and its best-before.
    pub dates: String,
    /// What it drew.
    pub drew: String,
    /// Pieces made.
    pub pieces: i64,
    /// Still here.
    pub here: i64,
    /// Left.
    pub gone: i64,
    /// When and how.
    pub went: Vec<String>,
    /// `in quarantine`, `rejected`; empty where its pieces may leave.
    pub held: String,
}

/// A sum.
#[derive(Clone, Debug, Serialize)]
pub struct RecallSumPage {
    /// What.
    pub label: String,
    /// How many pieces.
    pub pieces: i64,
}

/// Words a trace as a recall sheet. Of a batch: the batch itself and where it went, the lots in it to be looked at.
#[must_use]
pub fn recall(view: &TraceView) -> RecallPage {
    let of_lot = view.kind != "batch";
    // A batch that is recalled takes with it what it went into; what it was made of is traced, not stopped.
    let (lots, mut batches): (Vec<&TracedLotView>, Vec<&TracedBatchView>) = if of_lot {
        (view.lots.iter().collect(), view.batches.iter().collect())
    } else {
        let itself = view.batches.iter().filter(|batch| batch.batch == view.subject);
        (view.also.lots.iter().collect(), itself.chain(&view.also.batches).collect())
    };
    batches.sort_by(|left, right| (left.made_on, &left.batch).cmp(&(right.made_on, &right.batch)));
    let (pieces, premixes): (Vec<&TracedBatchView>, Vec<&TracedBatchView>) =
        batches.into_iter().partition(|batch| batch.pieces > 0 || !batch.gone.is_empty());
    let sum = |label: &str, part: fn(&TracedBatchView) -> i64| RecallSumPage {
        label: label.to_owned(),
        pieces: pieces.iter().map(|batch| part(batch)).fold(0_i64, i64::saturating_add),
    };
    let is_named = |lot: &&TracedLotView| match view.kind.as_str() {
        "lot" => lot.lot == view.subject,
        "supplier_lot" => lot.supplier_lot.eq_ignore_ascii_case(&view.subject),
        _ => false,
    };
    let mut names: Vec<String> = view.lots.iter().filter(is_named).map(|lot| one_line(&lot.name)).collect();
    names.dedup();
    let what = match view.kind.as_str() {
        "batch" => "batch",
        "supplier_lot" => "supplier's lot",
        _ => "lot",
    };
    let of = if names.is_empty() { String::new() } else { format!(" ({})", listed(&names)) };
    RecallPage {
        headline: format!("Recall sheet: {what} {}{of}", one_line(&view.subject)),
        today: day(view.as_of, view.as_of),
        summary: headline_of(&pieces, lots.iter().filter(|lot| lot.on_hand > 0).count()),
        stop: lots.iter().map(|lot| stop(lot, view.as_of)).collect(),
        batches: pieces.iter().map(|batch| recall_batch(batch, view.as_of)).collect(),
        premixes: premixes.iter().map(|batch| recall_batch(batch, view.as_of)).collect(),
        sums: vec![
            sum("Made", |batch| batch.pieces),
            sum("Still here", |batch| batch.pieces_here),
            sum("Left", |batch| batch.pieces_gone),
        ],
        by_kind: by_kind(&pieces),
        local_rules: LOCAL_RULES.to_owned(),
    }
}

fn headline_of(batches: &[&TracedBatchView], lots: usize) -> String {
    let sum =
        |part: fn(&TracedBatchView) -> i64| batches.iter().map(|batch| part(batch)).fold(0_i64, i64::saturating_add);
    format!(
        "{} still on the shelf; {} of finished pieces: {} still here, {} have left.",
        count(lots, "lot", "lots"),
        count(batches.len(), "batch", "batches"),
        sum(|batch| batch.pieces_here),
        sum(|batch| batch.pieces_gone)
    )
}

fn by_kind(batches: &[&TracedBatchView]) -> String {
    let mut kinds: std::collections::BTreeMap<&str, i64> = std::collections::BTreeMap::new();
    for left in batches.iter().flat_map(|batch| &batch.gone) {
        let sum = kinds.entry(&left.kind).or_default();
        *sum = sum.saturating_add(left.pieces);
    }
    let phrase = |(kind, pieces): (&&str, &i64)| match (*kind, *pieces) {
        ("count", found @ ..0) => format!("{} more found by counting", found.unsigned_abs()),
        ("count", missing) => format!("{missing} not found by counting"),
        (kind, pieces) => format!("{pieces} by {}", one_line(kind)),
    };
    listed(&kinds.iter().filter(|(_, pieces)| **pieces != 0).map(phrase).collect::<Vec<_>>())
}

fn stop(lot: &TracedLotView, today: NaiveDate) -> RecallLotPage {
    let mut origin = Vec::new();
    if !supplier(lot).is_empty() {
        origin.push(format!("from {}", one_line(supplier(lot))));
    }
    if !lot.supplier_lot.is_empty() {
        origin.push(format!("their lot {}", one_line(&lot.supplier_lot)));
    }
    if let Some(received) = lot.received {
        // A lot that was made here came from nobody.
        let word = if origin.is_empty() { "here since" } else { "came on" };
        origin.push(format!("{word} {}", day(received, today)));
    }
    let place = if lot.place.is_empty() { String::new() } else { format!(", {}", one_line(&lot.place)) };
    let state = if lot.state == "released" { String::new() } else { format!(", {}", lot.state) };
    let is_left = lot.on_hand > 0;
    let remains =
        if is_left { format!("{} left{place}{state}", amount(lot.on_hand, &lot.unit)) } else { "none left".to_owned() };
    RecallLotPage { lot: one_line(&lot.lot), name: one_line(&lot.name), origin: origin.join(", "), remains, is_left }
}

fn recall_batch(batch: &TracedBatchView, today: NaiveDate) -> RecallBatchPage {
    let best_before = batch.best_before.map(|date| format!(", best before {}", day(date, today))).unwrap_or_default();
    RecallBatchPage {
        batch: one_line(&batch.batch),
        name: one_line(&batch.name),
        dates: format!("made on {}{best_before}", day(batch.made_on, today)),
        drew: drew(batch),
        pieces: batch.pieces,
        here: batch.pieces_here,
        gone: batch.pieces_gone,
        went: went(&batch.gone, today),
        held: held(&batch.state).unwrap_or_default().to_owned(),
    }
}
