//! Letters to suppliers: drafts for the maker to look over and send. One that she wants to go out by itself, because the
//! settings name the supplier, is queued in the outbox when the order is placed.

use super::names::find;
use super::reorder::Proposal;
use super::report::own_templates;
use super::session::Session;
use crate::error::CommandError;
use crate::post::address::Mailbox;
use crate::post::folder::lay_down;
use crate::post::letter::{Composed, Letter, compose};
use crate::post::report::{Envelope, letter};
use crate::post::send::SendError;
use crate::render::order_letter as render;
use crate::render::report::Report;
use crate::store::{NewLetter, Writing};
use crate::view::done::{DraftView, OrderLettersView};
use crate::view::order_letter::{OrderLetterView, placed, planned};
use std::path::PathBuf;

/// The folder of drafts, within the outbox folder.
const DRAFTS: &str = "drafts";

/// Where a supplier's letter went.
pub enum Gone {
    /// A draft lies in this file.
    Draft(PathBuf),
    /// It is in the outbox under this number, and `post` sends it.
    Queued(i64),
    /// The supplier has no address on file.
    NoAddress,
    /// The settings name nobody who writes.
    NoSender,
}

/// `order letter`: drafts for orders that were placed, for the next order to a supplier, or for all orders of the plan.
pub fn run(session: &Session, subjects: &[String], with_prices: bool) -> Result<String, CommandError> {
    let views = chosen(session, subjects)?;
    let mut gone = Vec::new();
    for view in views {
        let went = draft(session, &view, with_prices)?;
        gone.push((view, went));
    }
    let file = |went: &Gone| match went {
        Gone::Draft(path) => Some(path.display().to_string()),
        Gone::Queued(_) | Gone::NoAddress | Gone::NoSender => None,
    };
    let letters = gone.iter().map(|(view, went)| DraftView { letter: view.clone(), file: file(went) }).collect();
    session.answer(&OrderLettersView { letters }, |_| {
        let lines: String = gone.iter().map(|(view, went)| sentence(view, went)).collect();
        format!("{lines}Nothing was sent.\n")
    })
}

/// What happened to a letter, in words.
pub fn sentence(view: &OrderLetterView, went: &Gone) -> String {
    let name = crate::render::one_line(&view.name);
    match went {
        Gone::Draft(path) => {
            format!("The letter to {name} lies in {}: look it over, and send it.\n", path.display())
        }
        Gone::Queued(letter) => {
            format!("The letter to {name} is letter {letter} of the outbox; `stillroom post` sends it.\n")
        }
        Gone::NoSender => format!(
            "Order from {name} yourself; with `from` under [mail] in the settings, a letter is drafted for you.\n"
        ),
        Gone::NoAddress => format!("No e-mail address of {name} is on file: order there yourself.\n"),
    }
}

fn chosen(session: &Session, subjects: &[String]) -> Result<Vec<OrderLetterView>, CommandError> {
    let today = session.clock.today();
    let (book, snapshot) = {
        let mut store = session.open()?;
        let reading = store.reading()?;
        (reading.book()?, session.snapshot_of(&reading)?)
    };
    let mut views = Vec::new();
    let mut rest = Vec::new();
    for subject in subjects {
        let code = book.orders.iter().find(|row| row.order.eq_ignore_ascii_case(subject)).map(|row| &row.order);
        match code {
            None => rest.push(subject),
            Some(code) => views.push(
                placed(&book, &snapshot, code, today)
                    .ok_or_else(|| CommandError::input(format!("nothing of order {code} is still to come")))?,
            ),
        }
    }
    if !rest.is_empty() || subjects.is_empty() {
        let proposal = Proposal::find(session, snapshot, None, None)?;
        let orders = &proposal.listing.plan.orders;
        let known = proposal.snapshot.suppliers.iter().enumerate();
        let known = known.map(|(place, supplier)| ([supplier.code.as_str(), &supplier.name], place));
        let mut wanted = Vec::new();
        for code in rest {
            wanted.push(find("order or supplier", code, known.clone())?);
        }
        let mut of_plan: Vec<OrderLetterView> = Vec::new();
        for order in orders {
            let is_wanted = subjects.is_empty() || wanted.contains(&order.supplier.index());
            let view = planned(&proposal.snapshot, order, today);
            // Who is named gets his next order only.
            let is_next = subjects.is_empty() || of_plan.iter().all(|other| other.supplier != view.supplier);
            if is_wanted && is_next {
                of_plan.push(view);
            }
        }
        if of_plan.is_empty() {
            return Err(CommandError::input("there is nothing to order there: the plan is covered")
                .hint("`stillroom order list` shows what was ordered"));
        }
        views.extend(of_plan);
    }
    Ok(views)
}

/// Lays a draft into the folder.
///
/// # Errors
/// Where nobody is named who writes, or the file cannot be written.
pub fn draft(session: &Session, view: &OrderLetterView, with_prices: bool) -> Result<Gone, CommandError> {
    if view.email.is_empty() {
        return Ok(Gone::NoAddress);
    }
    if sender(session).is_none() {
        return Ok(Gone::NoSender);
    }
    let (letter, _) = written(session, view, with_prices)?;
    let composed = compose(&Letter { is_draft: true, ..letter })?;
    let folder = session.config.mail.outbox_folder(session.store_file()?).join(DRAFTS);
    Ok(Gone::Draft(lay_down(&folder, &composed).map_err(SendError::from)?))
}

/// Queues the letter of an order that is being placed, if the settings let orders of this supplier go out by themselves.
///
/// # Errors
/// Where nobody is named who writes, or the store cannot be written.
pub fn queue(session: &Session, view: &OrderLetterView, writing: &Writing<'_>) -> Result<Option<Gone>, CommandError> {
    let goes_by_itself =
        session.config.mail.send_orders_to.iter().any(|code| code.eq_ignore_ascii_case(&view.supplier));
    if !goes_by_itself || view.email.is_empty() {
        return Ok(None);
    }
    let (letter, to) = written(session, view, false)?;
    let Composed { message, file_stem, from, .. } = compose(&letter)?;
    let new = NewLetter {
        message_id: letter.message_id,
        sender: from.to_string(),
        recipients: vec![to.to_string()],
        subject: letter.subject,
        file_stem,
        text: letter.text,
        message,
    };
    let code = view.order.as_deref().unwrap_or_default();
    Ok(Some(Gone::Queued(writing.queue_order_letter(&new, code, session.clock.due_through())?)))
}

fn written(session: &Session, view: &OrderLetterView, with_prices: bool) -> Result<(Letter, Mailbox), CommandError> {
    let from = sender(session).ok_or_else(|| {
        CommandError::input("nobody is named who writes the letter").hint("set `from` under [mail] in the settings")
    })?;
    let to = view.email.parse::<Mailbox>().map_err(|error| {
        CommandError::input(format!("the e-mail address of {} is none: {error}", view.supplier))
            .hint("put it right in suppliers.csv, and import that file")
    })?;
    let report =
        Report::new(view, render::document(view, with_prices, &session.config.workshop.deliver_to(), from.name()))?;
    let written = session.clock.due_through();
    let about =
        view.order.as_deref().map_or_else(|| format!("order.{}", view.supplier), |code| format!("order.{code}"));
    let domain = from.address().rsplit('@').next().unwrap_or("localhost").to_owned();
    let message_id = format!("{}.{}@{domain}", sound(&about), written.timestamp_micros());
    let envelope = Envelope { from, to: vec![to.clone()], written, message_id };
    let own = own_templates(session)?;
    let (mut letter, warnings) = letter(&[report], &[], session.clock.today(), envelope, Some(&own))?;
    for warning in warnings {
        tracing::warn!("{warning}");
    }
    letter.slug = about;
    Ok((letter, to))
}

/// Who writes to suppliers: never the one who is written to.
fn sender(session: &Session) -> Option<Mailbox> {
    let mail = &session.config.mail;
    mail.from.clone().or_else(|| mail.to.first().cloned())
}

/// A code as a part of a message id: what a code may hold besides stands as a hyphen, and points stand between words only
/// (RFC 5322, 3.2.3).
fn sound(code: &str) -> String {
    let letter = |letter: char| if letter.is_ascii_alphanumeric() || ".-_".contains(letter) { letter } else { '-' };
    let plain: String = code.chars().take(60).map(letter).collect();
    plain.split('.').filter(|word| !word.is_empty()).collect::<Vec<_>>().join(".")
}
