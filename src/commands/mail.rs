//! `mail`: a report leaves as a letter, or is laid into the outbox folder.

use super::reorder::Proposal;
use super::session::Session;
use crate::cli::Mail;
use crate::error::CommandError;
use crate::post::address::Mailbox;
use crate::post::letter::compose;
use crate::post::reorder::{Envelope, letter};
use crate::post::send::Sent;
use crate::view::reorder::ReorderView;
use chrono::NaiveDate;
use serde_json::json;
use std::path::Path;

pub fn run(session: &Session, what: &Mail) -> Result<String, CommandError> {
    let Mail::Reorder { to, through } = what;
    let to: Vec<Mailbox> = match to.len() {
        0 => session.config.mail.to.clone(),
        _ => to.iter().map(|address| address.parse()).collect::<Result<_, _>>()?,
    };
    if to.is_empty() {
        return Err(CommandError::input("nobody is named who gets the letter")
            .hint("stillroom mail reorder --to you@example.org, or set `to` under [mail] in the settings"));
    }
    let sent = send_reorder(session, to.clone(), *through)?;
    let where_to = match &sent {
        Sent::File(file) => json!({ "file": file.display().to_string() }),
        Sent::Server(words) => json!({ "server_said": words }),
    };
    session.answer(&where_to, |_| match &sent {
        Sent::File(file) => format!(
            "The letter lies in {}. Open it with a mail program; to have letters sent, set [mail] in the settings.\n",
            file.display()
        ),
        Sent::Server(_) => {
            let names: Vec<&str> = to.iter().map(Mailbox::address).collect();
            format!("The letter is with the mail server, for {}.\n", names.join(", "))
        }
    })
}

/// Composes and sends the reorder list.
///
/// # Errors
/// Where there is no plan, no password, or the letter does not leave.
pub fn send_reorder(session: &Session, to: Vec<Mailbox>, through: Option<NaiveDate>) -> Result<Sent, CommandError> {
    let proposal = Proposal::find(session, session.snapshot()?, through, None)?;
    let sent = send(session, &proposal.view(), to)?;
    if through.is_none() {
        proposal.keep(session)?;
    }
    Ok(sent)
}

fn send(session: &Session, view: &ReorderView, to: Vec<Mailbox>) -> Result<Sent, CommandError> {
    let store = session.store_file()?;
    let mail = &session.config.mail;
    let from = mail.sender(&to).ok_or_else(|| CommandError::input("nobody is named who writes the letter"))?;
    let written = session.clock.now();
    let domain = from.address().rsplit('@').next().unwrap_or("localhost").to_owned();
    let message_id = format!("reorder.{}.{}@{domain}", view.as_of, written.timestamp_micros());
    let envelope = Envelope { from, to, written, message_id };
    let own_reports = store.parent().unwrap_or(Path::new("")).join("reports");
    let (letter, warnings) = letter(view, envelope, Some(&own_reports))?;
    let composed = compose(&letter)?;
    let (method, more) = mail.way(store, &|name| std::env::var_os(name))?;
    for warning in warnings.iter().chain(&more) {
        tracing::warn!("{warning}");
    }
    Ok(method.send(&composed)?)
}
