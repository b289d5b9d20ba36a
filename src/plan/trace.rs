//! Genealogy: from a lot to every batch that holds some of it, and from a batch back to every lot that is in it.
//!
//! Lots and batches are one graph: a draw leads from a lot into a batch, a premix that is put in stock leads from its
//! batch to a lot, a decanted lot leads to the lot that it was poured into. A walk visits every lot, batch and link once
//! at most, with a list of its own, so that neither a long chain nor a circle in an imported ledger can stop it.

use super::model::LotState;
use super::quantity::{Quantity, Unit};
use chrono::NaiveDate;
use std::collections::{BTreeMap, HashMap};

/// What the ledger says of where things went: plain lists that name each other by code.
///
/// A link that names a lot or batch that is not listed is left out. What was reversed should not be listed.
#[derive(Clone, Debug, Default)]
pub struct Genealogy {
    /// All lots, in order of code, the used-up ones too.
    pub lots: Vec<TracedLot>,
    /// All batches, in the order in which they were made.
    pub batches: Vec<TracedBatch>,
    /// What was drawn from lots for batches.
    pub draws: Vec<BatchDraw>,
    /// Premixes that became lots.
    pub stocked: Vec<Stocked>,
    /// Lots that were poured into others.
    pub decanted: Vec<Decanted>,
    /// Finished pieces that left.
    pub gone: Vec<PiecesGone>,
}

/// A lot, as a trace shows it.
#[derive(Clone, Debug)]
pub struct TracedLot {
    /// Code.
    pub code: String,
    /// Code of the material or premix.
    pub item: String,
    /// Its name.
    pub name: String,
    /// What it is counted in.
    pub unit: Unit,
    /// Code of the supplier; empty where not known or made here.
    pub supplier: String,
    /// The supplier's name; may be empty.
    pub supplier_name: String,
    /// The supplier's lot number; may be empty.
    pub supplier_lot: String,
    /// When it came.
    pub received: Option<NaiveDate>,
    /// What is left.
    pub on_hand: Quantity,
    /// Its state.
    pub state: LotState,
    /// Where it stands; may be empty.
    pub place: String,
}

/// A batch, as a trace shows it.
#[derive(Clone, Debug)]
pub struct TracedBatch {
    /// Batch number.
    pub code: String,
    /// Code of what it made: a product or a premix.
    pub product: String,
    /// Its name.
    pub name: String,
    /// When.
    pub made_on: NaiveDate,
    /// Whole pieces that came out; 0 for a premix.
    pub pieces: i64,
    /// Its best-before.
    pub best_before: Option<NaiveDate>,
    /// The state of its finished pieces.
    pub state: LotState,
}

/// So much of a lot for a batch.
#[derive(Clone, Debug)]
pub struct BatchDraw {
    /// From which lot.
    pub lot: String,
    /// For which batch.
    pub batch: String,
    /// How much, in the lot's unit.
    pub quantity: Quantity,
}

/// A batch of a premix became a lot, or part of one.
#[derive(Clone, Debug)]
pub struct Stocked {
    /// Which batch.
    pub batch: String,
    /// Which lot.
    pub lot: String,
}

/// Part of a lot was poured into another.
#[derive(Clone, Debug)]
pub struct Decanted {
    /// From which lot.
    pub from: String,
    /// Into which lot.
    pub to: String,
}

/// Pieces of a batch left the workshop.
#[derive(Clone, Debug)]
pub struct PiecesGone {
    /// Of which batch.
    pub batch: String,
    /// How: `sale`, `gift`, `sample`, `waste`.
    pub kind: String,
    /// When.
    pub day: NaiveDate,
    /// To whom, or why; may be empty.
    pub reason: String,
    /// How many; below 0 where some came back.
    pub pieces: i64,
}

/// Which way a trace goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// To everything that holds some of it.
    Forward,
    /// To everything that is in it.
    Backward,
}

/// What hangs on a lot or a batch; itself not among it. Places in the lists of the [`Genealogy`], in their order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Trace {
    /// Lots.
    pub lots: Vec<usize>,
    /// Batches.
    pub batches: Vec<usize>,
}

/// What became of the pieces of a batch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PieceStory {
    /// How many came out.
    pub made: i64,
    /// How many are still here.
    pub here: i64,
    /// What left, by day, then kind, then reason, each once.
    pub gone: Vec<Departure>,
}

/// What left on a day in one way, for one reason.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Departure {
    /// When.
    pub day: NaiveDate,
    /// How, as in [`PiecesGone`].
    pub kind: String,
    /// To whom, or why; may be empty.
    pub reason: String,
    /// How many; below 0 where more came back.
    pub pieces: i64,
}

/// A lot or a batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// Its place among the lots.
    Lot(usize),
    /// Its place among the batches.
    Batch(usize),
}

/// A genealogy made ready to be walked.
#[derive(Debug)]
pub struct Index<'a> {
    genealogy: &'a Genealogy,
    lots: HashMap<&'a str, usize>,
    batches: HashMap<&'a str, usize>,
    /// For each lot, then each batch: the nodes that its links lead to.
    forward: Vec<Vec<usize>>,
    /// For each lot, then each batch: the nodes that its links come from.
    backward: Vec<Vec<usize>>,
    /// For each batch: what was drawn from which lot, by lot.
    drawn: Vec<BTreeMap<usize, Quantity>>,
    /// For each batch: the places of what left.
    gone: Vec<Vec<usize>>,
}

impl Genealogy {
    /// Makes the genealogy ready to be walked: each entry is looked at once.
    #[must_use]
    pub fn index(&self) -> Index<'_> {
        let lot_count = self.lots.len();
        let nodes = lot_count + self.batches.len();
        let mut index = Index {
            genealogy: self,
            lots: self.lots.iter().enumerate().map(|(place, lot)| (lot.code.as_str(), place)).collect(),
            batches: self.batches.iter().enumerate().map(|(place, batch)| (batch.code.as_str(), place)).collect(),
            forward: vec![Vec::new(); nodes],
            backward: vec![Vec::new(); nodes],
            drawn: vec![BTreeMap::new(); self.batches.len()],
            gone: vec![Vec::new(); self.batches.len()],
        };
        for draw in &self.draws {
            let Some((lot, batch)) = index.lot(&draw.lot).zip(index.batch(&draw.batch)) else { continue };
            *index.drawn[batch].entry(lot).or_default() += draw.quantity;
        }
        for batch in 0..self.batches.len() {
            let lots: Vec<usize> = index.drawn[batch].keys().copied().collect();
            for lot in lots {
                index.link(lot, lot_count + batch);
            }
        }
        for stocked in &self.stocked {
            if let Some((batch, lot)) = index.batch(&stocked.batch).zip(index.lot(&stocked.lot)) {
                index.link(lot_count + batch, lot);
            }
        }
        for decanted in &self.decanted {
            if let Some((from, to)) = index.lot(&decanted.from).zip(index.lot(&decanted.to)) {
                index.link(from, to);
            }
        }
        for (place, gone) in self.gone.iter().enumerate() {
            if let Some(batch) = index.batch(&gone.batch) {
                index.gone[batch].push(place);
            }
        }
        index
    }
}

impl Index<'_> {
    fn link(&mut self, from: usize, to: usize) {
        self.forward[from].push(to);
        self.backward[to].push(from);
    }

    /// The lists behind it.
    #[must_use]
    pub fn genealogy(&self) -> &Genealogy {
        self.genealogy
    }

    /// The place of a lot.
    #[must_use]
    pub fn lot(&self, code: &str) -> Option<usize> {
        self.lots.get(code).copied()
    }

    /// The place of a batch.
    #[must_use]
    pub fn batch(&self, code: &str) -> Option<usize> {
        self.batches.get(code).copied()
    }

    /// The lot or batch of a code; a lot where both have it.
    #[must_use]
    pub fn subject(&self, code: &str) -> Option<Subject> {
        self.lot(code).map(Subject::Lot).or_else(|| self.batch(code).map(Subject::Batch))
    }

    /// Everything that hangs on the subject in one direction, at any depth.
    #[must_use]
    pub fn walk(&self, subject: Subject, way: Way) -> Trace {
        let links = match way {
            Way::Forward => &self.forward,
            Way::Backward => &self.backward,
        };
        let lot_count = self.genealogy.lots.len();
        let start = match subject {
            Subject::Lot(lot) => lot,
            Subject::Batch(batch) => lot_count + batch,
        };
        let mut seen = vec![false; links.len()];
        seen[start] = true;
        let mut waiting = vec![start];
        while let Some(node) = waiting.pop() {
            for &next in &links[node] {
                if !seen[next] {
                    seen[next] = true;
                    waiting.push(next);
                }
            }
        }
        seen[start] = false;
        let found = |range: std::ops::Range<usize>| {
            let first = range.start;
            range.filter(|node| seen[*node]).map(|node| node - first).collect()
        };
        Trace { lots: found(0..lot_count), batches: found(lot_count..links.len()) }
    }

    /// What was drawn directly from which lots for a batch, in order of the lots.
    #[must_use]
    pub fn drawn_for(&self, batch: usize) -> &BTreeMap<usize, Quantity> {
        &self.drawn[batch]
    }

    /// What became of a batch's pieces.
    #[must_use]
    pub fn pieces(&self, batch: usize) -> PieceStory {
        let made = self.genealogy.batches[batch].pieces;
        let mut by_day: BTreeMap<(NaiveDate, &str, &str), i64> = BTreeMap::new();
        for &place in &self.gone[batch] {
            let gone = &self.genealogy.gone[place];
            let sum = by_day.entry((gone.day, gone.kind.as_str(), gone.reason.as_str())).or_default();
            *sum = sum.saturating_add(gone.pieces);
        }
        let departure = |((day, kind, reason), pieces): ((NaiveDate, &str, &str), i64)| Departure {
            day,
            kind: kind.to_owned(),
            reason: reason.to_owned(),
            pieces,
        };
        let gone: Vec<_> = by_day.into_iter().filter(|(_, pieces)| *pieces != 0).map(departure).collect();
        let left = gone.iter().fold(0_i64, |sum, gone| sum.saturating_add(gone.pieces));
        PieceStory { made, here: made.saturating_sub(left), gone }
    }
}
