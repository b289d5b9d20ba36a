//! `snooze`: a material or lot is snoozed: no letter tells of it as news until a day.

use super::names::find;
use super::session::{Session, words};
use crate::cli::Snooze;
use crate::error::CommandError;
use crate::render::amounts::day;
use crate::render::schedules as render;
use crate::store::SnoozeRow;
use crate::view::done::SnoozedView;
use crate::view::schedules::{SnoozeView, SnoozesView};

pub fn run(session: &Session, arguments: &Snooze) -> Result<String, CommandError> {
    match (&arguments.subject, arguments.until, arguments.end) {
        (None, ..) => list(session),
        (Some(subject), Some(_), _) => begin(session, arguments, subject),
        (Some(subject), None, true) => end(session, subject),
        (Some(subject), None, false) => Err(CommandError::input(format!("until when should {subject} be snoozed?"))
            .hint(format!("stillroom snooze {subject} --until DATE, or --end to hear of it again"))),
    }
}

fn list(session: &Session) -> Result<String, CommandError> {
    let today = session.clock.today();
    let rows = session.open()?.reading()?.snoozes()?.into_iter().filter(|row| row.until > today);
    let snoozes =
        rows.map(|row| SnoozeView { subject: row.subject, until: row.until, since: row.since, reason: row.reason });
    let view = SnoozesView { as_of: today, snoozes: snoozes.collect() };
    session.answer(&view, |screen| render::snoozes(&view, screen))
}

fn begin(session: &Session, arguments: &Snooze, subject: &str) -> Result<String, CommandError> {
    let today = session.clock.today();
    let until = arguments.until.unwrap_or(today);
    if until <= today {
        return Err(CommandError::input(format!("--until {until} is not after today, {today}"))
            .hint("give a day from tomorrow on"));
    }
    let reason = arguments.reason.as_deref().map(|reason| words("--reason", reason)).transpose()?.unwrap_or_default();
    let mut store = session.open()?;
    let writing = store.writing()?;
    let book = writing.book()?;
    let named =
        |code: &str| book.materials.iter().find(|row| row.code == code).map_or(code, |row| &row.name).to_owned();
    let sold_by =
        |code: &str| book.suppliers.iter().find(|row| row.code == code).map_or(code, |row| &row.name).to_owned();
    let materials = book.materials.iter().map(|row| ([row.code.as_str(), &row.name], (&row.code, row.name.clone())));
    let lots = book.lots.iter().map(|row| {
        ([row.lot.as_str(), &row.supplier_lot], (&row.lot, format!("Lot {} of {}", row.lot, named(&row.material))))
    });
    let orders = book.orders.iter().map(|row| {
        ([row.order.as_str(), ""], (&row.order, format!("Order {} from {}", row.order, sold_by(&row.supplier))))
    });
    let (subject, what) = find("material, lot or order", subject, materials.chain(lots).chain(orders))?;
    let subject = subject.to_owned();
    writing.snooze(&SnoozeRow { subject: subject.clone(), until, since: today, reason: reason.clone() })?;
    writing.commit()?;
    let shown = day(until, today);
    let said = format!(
        "{what} is put off until {shown}: no letter tells of it as news before. `stillroom snooze {subject} --end` ends \
         that.\n"
    );
    session.answer(&SnoozedView { subject, until: Some(until), reason }, |_| said)
}

fn end(session: &Session, subject: &str) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let writing = store.writing()?;
    let rows = writing.snoozes()?;
    let subject = find("snooze of", subject, rows.iter().map(|row| ([row.subject.as_str()], row.subject.as_str())))?;
    writing.end_snooze(subject)?;
    writing.commit()?;
    session.answer(&SnoozedView { subject: subject.to_owned(), until: None, reason: String::new() }, |_| {
        format!("{subject} is no longer snoozed; letters may tell of it as news again.\n")
    })
}
