//! `count`: what a lot really holds, with the reason for the difference.

use super::names::{find, lot_names};
use super::session::{Session, has_come, quantity, words};
use crate::cli::Count;
use crate::error::CommandError;
use crate::plan::quantity::{Quantity, Unit};
use crate::render::amounts::amount;
use crate::view::done::CountedView;

pub fn run(session: &Session, arguments: &Count) -> Result<String, CommandError> {
    let reason = words("--reason", &arguments.reason)?;
    let mut store = session.open()?;
    let writing = store.writing()?;
    let book = writing.book()?;
    let lot = find("lot", &arguments.lot, book.lots.iter().map(|row| (lot_names(row), row)))?;
    has_come(&lot.lot, lot.received, session.clock.today())?;
    let material = book.materials.iter().find(|row| row.code == lot.material);
    let unit = material.map_or(Unit::Milligram, |row| row.unit);
    let counted = quantity(&arguments.amount, unit, material.and_then(|row| row.density))?;
    let before = writing.standings()?.into_iter().find(|standing| standing.lot == lot.lot);
    let before = before.map_or(Quantity::ZERO, |standing| standing.on_hand);
    writing.count(&lot.lot, counted, &reason, &session.stamp())?;
    writing.commit()?;
    let answer = CountedView {
        lot: lot.lot.clone(),
        material: lot.material.clone(),
        unit: unit.symbol().to_owned(),
        before: before.0,
        counted: counted.0,
        difference: (counted - before).0,
    };
    session.answer(&answer, |_| {
        let shown = |quantity: Quantity| amount(quantity.0, unit.symbol());
        let name = material.map_or(&lot.material, |row| &row.name);
        let (counted, before) = (shown(counted), shown(before));
        format!(
            "Lot {} of {name} now holds {counted}; before it was {before}. `stillroom act undo` takes it back.\n",
            lot.lot
        )
    })
}
