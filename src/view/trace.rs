//! A trace: what holds some of a lot and what became of it, or what is in a batch.

use crate::plan::trace::{Departure, Index, Subject, Trace, Way};
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// A trace. Of a lot: forward to every batch that holds some of it; of a batch: backward to every lot that is in it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TraceView {
    /// Today.
    pub as_of: NaiveDate,
    /// Code of the lot or batch, or the supplier's lot number.
    pub subject: String,
    /// `lot`, `supplier_lot` (of one lot or more) or `batch`.
    pub kind: String,
    /// Of a lot: itself and every premix lot that holds some of it. Of a batch: every lot that is in it. By code.
    pub lots: Vec<TracedLotView>,
    /// Of a lot: every batch that holds some of it. Of a batch: itself, then every premix batch that is in it. By day of
    /// making, then number.
    pub batches: Vec<TracedBatchView>,
    /// The other way: what a premix lot was made of, or where a premix batch went. Empty lists where there is nothing.
    pub also: OtherWayView,
}

/// What a trace the other way finds.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct OtherWayView {
    /// Lots.
    pub lots: Vec<TracedLotView>,
    /// Batches.
    pub batches: Vec<TracedBatchView>,
}

/// A lot of a trace.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TracedLotView {
    /// Code.
    pub lot: String,
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// Code of the supplier; empty where made here or not known.
    pub supplier: String,
    /// The supplier's name.
    pub supplier_name: String,
    /// The supplier's lot number.
    pub supplier_lot: String,
    /// When it came.
    pub received: Option<NaiveDate>,
    /// What the batches of the trace drew from it.
    pub amount: i64,
    /// What is left of it.
    pub on_hand: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// `released`, `quarantine` or `rejected`.
    pub state: String,
    /// Where it stands.
    pub place: String,
}

/// A batch of a trace.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TracedBatchView {
    /// Batch number.
    pub batch: String,
    /// Code of the product or premix.
    pub product: String,
    /// Its name.
    pub name: String,
    /// When it was made.
    pub made_on: NaiveDate,
    /// Whole pieces that came out.
    pub pieces: i64,
    /// How many are still here.
    pub pieces_here: i64,
    /// How many are gone.
    pub pieces_gone: i64,
    /// What left the workshop, by day.
    pub gone: Vec<GoneView>,
    /// Its best-before.
    pub best_before: Option<NaiveDate>,
    /// `released`, `quarantine` or `rejected`: of its finished pieces.
    pub state: String,
    /// What it drew directly from the lots of the trace.
    pub draws: Vec<TraceDrawView>,
}

/// Pieces that left.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct GoneView {
    /// When.
    pub date: NaiveDate,
    /// `sale`, `gift`, `sample` or `waste`.
    pub kind: String,
    /// How many.
    pub pieces: i64,
    /// To whom, or why; may be empty.
    pub reason: String,
}

impl From<Departure> for GoneView {
    fn from(gone: Departure) -> Self {
        Self { date: gone.day, kind: gone.kind, pieces: gone.pieces, reason: gone.reason }
    }
}

/// A direct draw.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TraceDrawView {
    /// From which lot.
    pub lot: String,
    /// How much.
    pub amount: i64,
    /// `mg` or `pcs`.
    pub unit: String,
}

/// Traces a lot forward or a batch backward; `None` where there is neither with this code.
#[must_use]
pub fn trace(index: &Index<'_>, code: &str, today: NaiveDate) -> Option<TraceView> {
    let subject = index.subject(code)?;
    let kind = match subject {
        Subject::Lot(_) => "lot",
        Subject::Batch(_) => "batch",
    };
    Some(traced(index, &[subject], code, kind, today))
}

/// Traces all lots that came under a supplier's lot number forward, as if they were one. Codes that are none are left out.
#[must_use]
pub fn trace_supplier_lot(index: &Index<'_>, number: &str, lots: &[String], today: NaiveDate) -> TraceView {
    let lots: Vec<Subject> = lots.iter().filter_map(|lot| index.lot(lot)).map(Subject::Lot).collect();
    traced(index, &lots, number, "supplier_lot", today)
}

fn traced(index: &Index<'_>, subjects: &[Subject], code: &str, kind: &str, today: NaiveDate) -> TraceView {
    let (way, other) = if kind == "batch" { (Way::Backward, Way::Forward) } else { (Way::Forward, Way::Backward) };
    let found = with_subjects(merged(index, subjects, way), subjects);
    // One of the lots may have been poured into another of them: it is no news the other way.
    let mut also = merged(index, subjects, other);
    also.lots.retain(|lot| found.lots.binary_search(lot).is_err());
    also.batches.retain(|batch| found.batches.binary_search(batch).is_err());
    let found = views(index, &found);
    TraceView {
        as_of: today,
        subject: code.to_owned(),
        kind: kind.to_owned(),
        lots: found.lots,
        batches: found.batches,
        also: views(index, &also),
    }
}

/// What hangs on any of the subjects.
fn merged(index: &Index<'_>, subjects: &[Subject], way: Way) -> Trace {
    let mut all = Trace::default();
    for subject in subjects {
        let found = index.walk(*subject, way);
        all.lots.extend(found.lots);
        all.batches.extend(found.batches);
    }
    each_once(all)
}

fn each_once(mut trace: Trace) -> Trace {
    trace.lots.sort_unstable();
    trace.lots.dedup();
    trace.batches.sort_unstable();
    trace.batches.dedup();
    trace
}

fn with_subjects(mut trace: Trace, subjects: &[Subject]) -> Trace {
    for subject in subjects {
        match *subject {
            Subject::Lot(lot) => trace.lots.push(lot),
            Subject::Batch(batch) => trace.batches.push(batch),
        }
    }
    each_once(trace)
}

fn views(index: &Index<'_>, trace: &Trace) -> OtherWayView {
    let genealogy = index.genealogy();
    let mut drawn = vec![0_i64; genealogy.lots.len()];
    let mut in_trace = vec![false; genealogy.lots.len()];
    for &lot in &trace.lots {
        in_trace[lot] = true;
    }
    let mut batches: Vec<TracedBatchView> = Vec::with_capacity(trace.batches.len());
    for &batch in &trace.batches {
        let mut view = batch_view(index, batch);
        for (&lot, quantity) in index.drawn_for(batch).iter().filter(|(lot, _)| in_trace[**lot]) {
            drawn[lot] = drawn[lot].saturating_add(quantity.0);
            let lot = &genealogy.lots[lot];
            let unit = lot.unit.symbol().to_owned();
            view.draws.push(TraceDrawView { lot: lot.code.clone(), amount: quantity.0, unit });
        }
        batches.push(view);
    }
    let lots = trace.lots.iter().map(|&lot| lot_view(index, lot, drawn[lot])).collect();
    let mut views = OtherWayView { lots, batches };
    views.lots.sort_by(|left, right| left.lot.cmp(&right.lot));
    views.batches.sort_by(|left, right| (left.made_on, &left.batch).cmp(&(right.made_on, &right.batch)));
    views
}

fn lot_view(index: &Index<'_>, lot: usize, amount: i64) -> TracedLotView {
    let lot = &index.genealogy().lots[lot];
    TracedLotView {
        lot: lot.code.clone(),
        material: lot.item.clone(),
        name: lot.name.clone(),
        supplier: lot.supplier.clone(),
        supplier_name: lot.supplier_name.clone(),
        supplier_lot: lot.supplier_lot.clone(),
        received: lot.received,
        amount,
        on_hand: lot.on_hand.0,
        unit: lot.unit.symbol().to_owned(),
        state: lot.state.word().to_owned(),
        place: lot.place.clone(),
    }
}

fn batch_view(index: &Index<'_>, batch: usize) -> TracedBatchView {
    let story = index.pieces(batch);
    let batch = &index.genealogy().batches[batch];
    let gone = story.gone.into_iter().map(GoneView::from);
    TracedBatchView {
        batch: batch.code.clone(),
        product: batch.product.clone(),
        name: batch.name.clone(),
        made_on: batch.made_on,
        pieces: story.made,
        pieces_here: story.here,
        pieces_gone: story.made.saturating_sub(story.here),
        gone: gone.collect(),
        best_before: batch.best_before,
        state: batch.state.word().to_owned(),
        draws: Vec::new(),
    }
}
