//! Batches in words.

use super::amounts::{amount, count, day, mass, money};
use super::document::{Block, Document};
use super::one_line;
use super::pieces::held;
use super::table::{Align, Screen, Table, strong};
use super::{cost, trace};
use crate::view::batch::{BatchListView, BatchView, WeighingView};
use chrono::NaiveDate;

/// The batches.
#[must_use]
pub fn list(view: &BatchListView, screen: Screen) -> String {
    if view.batches.is_empty() {
        return "Nothing was made so far.\n".to_owned();
    }
    let older = if view.older == 0 { String::new() } else { format!(", and {} older", view.older) };
    let headline = format!("{}{older}.", count(view.batches.len(), "batch", "batches"));
    let mut table = Table::new(&[
        ("Batch", Align::Left),
        ("Product", Align::Left),
        ("Made on", Align::Left),
        ("Entry", Align::Left),
        ("Pieces", Align::Right),
        ("Here", Align::Right),
        ("Best before", Align::Left),
    ]);
    for batch in &view.batches {
        let counted = |pieces: i64| if batch.pieces == 0 { String::new() } else { pieces.to_string() };
        let best_before = batch.best_before.map(|date| day(date, view.as_of)).unwrap_or_default();
        let here = counted(batch.pieces_here);
        let here = held(&batch.state).map_or_else(|| here.clone(), |held| format!("{here} ({held})"));
        table.row([
            &batch.batch,
            &batch.name,
            &day(batch.made_on, view.as_of),
            &batch.entry,
            &counted(batch.pieces),
            &here,
            &(if batch.undone { "taken back".to_owned() } else { best_before }),
        ]);
    }
    format!("{}\n\n{}", strong(&headline, screen.colour), table.render(screen))
}

/// A batch as a document.
#[must_use]
pub fn show(view: &BatchView, today: NaiveDate) -> Document {
    let mut document = Document::new("batch", headline(view, today));
    for fact in facts(view, today) {
        document = document.fact(fact.trim_end_matches('.'));
    }
    if view.undone {
        return document;
    }
    document
        .section("", vec![Block::Table(cost::draws(&view.cost)), Block::paragraph(cost::shared_out(&view.cost))])
        .section("Weighed otherwise than the sheet said", vec![Block::Table(off_target(&view.weighings))])
}

fn headline(view: &BatchView, today: NaiveDate) -> String {
    let (batch, name) = (one_line(&view.cost.batch), one_line(&view.name));
    let made_on = day(view.cost.made_on, today);
    if view.undone {
        return format!("Batch {batch} of {name}, made on {made_on}, was taken back.");
    }
    let all = money(&view.cost.cost, &view.cost.currency);
    match &view.cost.cost_of_piece {
        Some(piece) => format!(
            "Batch {batch}: {} of {name}, made on {made_on}, cost {all}, {} each.",
            cost::pieces(view.cost.pieces),
            money(piece, &view.cost.currency)
        ),
        None => format!("Batch {batch}: {name}, made on {made_on}, cost {all}."),
    }
}

fn facts(view: &BatchView, today: NaiveDate) -> Vec<String> {
    let mut facts = Vec::new();
    let entry = if view.entry.is_empty() {
        "outside the plan".to_owned()
    } else {
        format!("for plan entry {}", one_line(&view.entry))
    };
    let by = if view.weighed_by.is_empty() { String::new() } else { format!(" by {}", one_line(&view.weighed_by)) };
    facts.push(format!(
        "Made to formula {}, version {}, {entry}; {} weighed in{by}.",
        one_line(&view.formula),
        one_line(&view.version),
        mass(view.weighed_mass)
    ));
    if let Some(date) = view.best_before {
        facts.push(format!("Best before {}.", day(date, today)));
    }
    if view.cost.pieces > 0 {
        let left = trace::went(&view.left, today);
        let went = if left.is_empty() { "none has left".to_owned() } else { left.join("; ") };
        let held = held(&view.state).map(|held| format!(", {held}")).unwrap_or_default();
        facts.push(format!("{} still here{held}; {went}.", cost::pieces(view.pieces_here)));
    }
    if !view.note.is_empty() {
        facts.push(format!("Noted: {}", one_line(&view.note)));
    }
    facts
}

/// The weighings that differ from their target, or that something was said of.
fn off_target(weighings: &[WeighingView]) -> Table {
    let mut table = Table::new(&[
        ("Material", Align::Left),
        ("Lot", Align::Left),
        ("Asked for", Align::Right),
        ("Weighed", Align::Right),
        ("Why", Align::Left),
    ]);
    for weighing in
        weighings.iter().filter(|weighing| weighing.weighed != weighing.target || !weighing.reason.is_empty())
    {
        let shown = |value: i64| amount(value, &weighing.unit);
        let (target, weighed) = (shown(weighing.target), shown(weighing.weighed));
        table.row([&weighing.name, &weighing.lot, &target, &weighed, &weighing.reason]);
    }
    table
}
