//! `mail`: reports leave as a letter, or are laid into the outbox folder.

use super::report::{letter_of, own_templates};
use super::session::Session;
use crate::cli::Mail;
use crate::error::CommandError;
use crate::post::address::Mailbox;
use crate::post::letter::{Letter, compose};
use crate::post::report::{Envelope, letter};
use crate::post::send::Sent;
use crate::render::report::Report;
use crate::view::done::MailedView;

pub fn run(session: &Session, arguments: &Mail) -> Result<String, CommandError> {
    let to: Vec<Mailbox> = match arguments.to.len() {
        0 => session.config.mail.to.clone(),
        _ => arguments.to.iter().map(|address| address.parse()).collect::<Result<_, _>>()?,
    };
    if to.is_empty() {
        return Err(CommandError::input("nobody is named who gets the letter")
            .hint("stillroom mail reorder --to you@example.org, or set `to` under [mail] in the settings"));
    }
    let mut names = Vec::new();
    for name in &arguments.reports {
        if !names.contains(name) {
            names.push(*name);
        }
    }
    let about = if let [only] = names.as_slice() { only.word() } else { "reports" };
    let envelope = envelope(session, to.clone(), about)?;
    let (letter, warnings) = letter_of(session, &names, arguments.through, &[], envelope)?;
    let sent = send(session, &letter, warnings)?;
    let where_to = match &sent {
        Sent::File(file) => MailedView::File { file: file.display().to_string() },
        Sent::Server(words) => MailedView::Server { server_said: words.clone() },
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

/// Composes and sends a letter with one report.
///
/// # Errors
/// Where the letter cannot be composed, no password is found, or the letter does not leave.
pub fn send_report(session: &Session, report: &Report, to: Vec<Mailbox>) -> Result<Sent, CommandError> {
    let envelope = envelope(session, to, &report.file_stem)?;
    let own_reports = own_templates(session)?;
    let (letter, warnings) =
        letter(std::slice::from_ref(report), &[], session.clock.today(), envelope, Some(&own_reports))?;
    send(session, &letter, warnings)
}

/// Who writes to whom, at this moment, under an id that no other letter has.
fn envelope(session: &Session, to: Vec<Mailbox>, about: &str) -> Result<Envelope, CommandError> {
    let from = session.config.mail.sender(&to);
    let from = from.ok_or_else(|| CommandError::input("nobody is named who writes the letter"))?;
    let written = session.clock.now();
    let domain = from.address().rsplit('@').next().unwrap_or("localhost").to_owned();
    let message_id = format!("{about}.{}.{}@{domain}", session.clock.today(), written.timestamp_micros());
    Ok(Envelope { from, to, written, message_id })
}

fn send(session: &Session, letter: &Letter, warnings: Vec<String>) -> Result<Sent, CommandError> {
    let composed = compose(letter)?;
    let (method, more) = session.way()?;
    for warning in warnings.iter().chain(&more) {
        tracing::warn!("{warning}");
    }
    Ok(method.send(&composed)?)
}
