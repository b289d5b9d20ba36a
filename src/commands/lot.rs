//! `lot`: what happens to a lot between its receipt and its end.

use super::names::{find, lot_names};
use super::session::{Session, has_come, quantity, words};
use crate::book::Book;
use crate::book::rows::LotRow;
use crate::cli::Lot;
use crate::error::CommandError;
use crate::plan::measure::canonical;
use crate::plan::quantity::{Quantity, Unit};
use crate::render::amounts::day as shown_day;
use crate::render::lot as render;
use crate::store::Writing;
use crate::view::done::LotDoneView;
use crate::view::lot::{LotView, lot as view};

pub fn run(session: &Session, what: &Lot) -> Result<String, CommandError> {
    match what {
        Lot::Show { lot } => show(session, lot),
        Lot::Open { lot, .. } => act(session, lot, |bench| {
            bench.writing.open(&bench.lot.lot, &session.stamp())?;
            Ok("is open from today on".to_owned())
        }),
        Lot::Release { lot, by, reason } => act(session, lot, |bench| {
            let who = session.or_ask(by.name.as_deref(), "--by", "Who checked it?", None)?;
            let why = session.or_ask(reason.as_deref(), "--reason", "What was checked?", None)?;
            let (who, why) = (words("--by", &who)?, words("--reason", &why)?);
            bench.writing.release(&bench.lot.lot, &who, &why, &session.stamp_of(&who))?;
            Ok("is released, and the plan may use it".to_owned())
        }),
        Lot::Reject { lot, reason, .. } => act(session, lot, |bench| {
            let why = session.or_ask(reason.as_deref(), "--reason", "Why is it rejected?", None)?;
            bench.writing.reject(&bench.lot.lot, &words("--reason", &why)?, &session.stamp())?;
            Ok("is rejected, and nothing uses it any more".to_owned())
        }),
        Lot::Retest { lot, passed, failed, by, reason } => act(session, lot, |bench| {
            let passed = match (passed, failed) {
                (None, false) => {
                    let answer = session.or_ask(
                        None,
                        "--passed DATE or --failed",
                        "Good through which day? (no: it failed)",
                        None,
                    )?;
                    if answer.trim().eq_ignore_ascii_case("no") { None } else { Some(bench.day(&answer)?) }
                }
                (passed, _) => *passed,
            };
            let who = words("--by", &session.or_ask(by.name.as_deref(), "--by", "Who tested it?", None)?)?;
            let why = words("--reason", &session.or_ask(reason.as_deref(), "--reason", "What was tested?", None)?)?;
            match passed {
                Some(day) => {
                    bench.writing.retest_passed(&bench.lot.lot, day, &who, &why, &session.stamp_of(&who))?;
                    Ok(format!("passed; its best-before date is {} now", shown_day(day, session.clock.today())))
                }
                None => {
                    bench.writing.retest_failed(&bench.lot.lot, &who, &why, &session.stamp_of(&who))?;
                    Ok("failed, and is rejected".to_owned())
                }
            }
        }),
        Lot::Move { lot, place, .. } => act(session, lot, |bench| {
            let place = session.or_ask(place.as_deref(), "PLACE", "Where does it stand now?", None)?;
            bench.writing.move_lot(&bench.lot.lot, &words("PLACE", &place)?, &session.stamp())?;
            Ok(format!("stands in {place}"))
        }),
        Lot::WriteOff { lot, amount, reason, .. } => act(session, lot, |bench| {
            let (amount, why) =
                bench.leaving(session, amount.as_deref(), reason.as_deref(), "Why is it thrown away?")?;
            let (gone, _) = bench.writing.write_off(&bench.lot.lot, amount, &why, &session.stamp())?;
            Ok(format!("has lost {}: {why}", bench.shown(gone)))
        }),
        Lot::Return { lot, amount, reason, .. } => act(session, lot, |bench| {
            let (amount, why) = bench.leaving(session, amount.as_deref(), reason.as_deref(), "Why does it go back?")?;
            let (gone, _) = bench.writing.return_to_supplier(&bench.lot.lot, amount, &why, &session.stamp())?;
            Ok(format!("went back to {} with {}", bench.supplier, bench.shown(gone)))
        }),
        Lot::Decant { lot, amount, into, .. } => act(session, lot, |bench| {
            let text = session.or_ask(amount.as_deref(), "AMOUNT", "How much is filled over?", None)?;
            let amount = quantity(&text, bench.unit, bench.density)?;
            let into = into.as_deref().map(|code| words("--into", code)).transpose()?;
            let new = bench.writing.decant(&bench.lot.lot, amount, into.as_deref(), &session.stamp())?;
            Ok(format!("gave {} to the new lot {}", bench.shown(amount), new.lot))
        }),
    }
}

/// The lot that something happens to, in the transaction in which it happens.
struct Bench<'a> {
    writing: &'a Writing<'a>,
    lot: &'a LotRow,
    /// The supplier's name.
    supplier: &'a str,
    unit: Unit,
    density: Option<crate::plan::quantity::Density>,
}

impl Bench<'_> {
    fn shown(&self, amount: Quantity) -> String {
        canonical(amount, self.unit)
    }

    fn day(&self, text: &str) -> Result<chrono::NaiveDate, CommandError> {
        text.trim().parse().map_err(|_| CommandError::input(format!("{text:?} is no date; write 2027-03-09")))
    }

    /// How much leaves (`None` for all), and why.
    fn leaving(
        &self,
        session: &Session,
        amount: Option<&str>,
        reason: Option<&str>,
        question: &str,
    ) -> Result<(Option<Quantity>, String), CommandError> {
        let amount = match amount {
            None if !session.can_ask => None,
            given => {
                let text = session.or_ask(given, "--amount", "How much?", Some("all"))?;
                if text.trim() == "all" { None } else { Some(quantity(&text, self.unit, self.density)?) }
            }
        };
        let why = words("--reason", &session.or_ask(reason, "--reason", question, None)?)?;
        Ok((amount, why))
    }
}

/// Does something to a lot in one transaction and says what became of it.
fn act(
    session: &Session,
    code: &str,
    what: impl Fn(&Bench<'_>) -> Result<String, CommandError>,
) -> Result<String, CommandError> {
    let (code, done) = session.write(|writing| {
        let book = writing.book()?;
        let lot = find_lot(&book, code)?;
        has_come(&lot.lot, lot.received, session.clock.today())?;
        let material = book.materials.iter().find(|row| row.code == lot.material);
        let supplier = book.suppliers.iter().find(|row| row.code == lot.supplier);
        let bench = Bench {
            writing,
            lot,
            supplier: supplier.map_or(&lot.supplier, |row| &row.name),
            unit: material.map_or(Unit::Milligram, |row| row.unit),
            density: material.and_then(|row| row.density),
        };
        Ok((lot.lot.clone(), what(&bench)?))
    })?;
    let said = format!("Lot {code} {done}. `stillroom act undo` takes it back.\n");
    session.answer(&LotDoneView { lot: code, done }, |_| said)
}

fn find_lot<'a>(book: &'a Book, code: &str) -> Result<&'a LotRow, CommandError> {
    find("lot", code, book.lots.iter().map(|row| (lot_names(row), row)))
}

fn show(session: &Session, code: &str) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    let book = reading.book()?;
    let row = find_lot(&book, code)?;
    let standing = reading.standings()?.into_iter().find(|standing| standing.lot == row.lot);
    let movements = reading.movements_of_lot(&row.lot)?;
    let material = book.materials.iter().find(|material| material.code == row.material);
    let mut view: LotView = view(row, material, standing.as_ref(), &movements, session.clock.today());
    if let Some(supplier) = book.suppliers.iter().find(|supplier| supplier.code == row.supplier) {
        view.supplier_name.clone_from(&supplier.name);
    }
    session.answer(&view, |screen| render::terminal(&view, screen))
}
