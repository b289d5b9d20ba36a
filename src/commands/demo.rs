//! `demo`: the example workshop in a new folder, and its month on one screen.

use super::import;
use super::mail::send_report;
use super::reorder::{Proposal, of_view};
use super::session::Session;
use crate::cli::{Demo, Import};
use crate::error::CommandError;
use crate::post::send::Sent;
use crate::render::table::strong;
use crate::render::{expiring as expiring_text, forecast as forecast_text, reorder as reorder_text, text};
use crate::view::done::DemoView;
use crate::view::expiring::{ExpiringView, expiring};
use crate::view::forecast::forecast;
use crate::view::reorder::ReorderView;
use chrono::NaiveDate;
use include_dir::{Dir, include_dir};
use std::path::Path;

static EXAMPLE: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/examples/workshop");

/// The first day of the example.
const FIRST_DAY: NaiveDate = match NaiveDate::from_ymd_opt(2027, 3, 1) {
    Some(day) => day,
    None => NaiveDate::MIN,
};

pub fn run(session: &Session, arguments: &Demo) -> Result<String, CommandError> {
    let folder = &arguments.folder;
    if folder.exists() {
        return Err(CommandError::input(format!("{} is there already", folder.display()))
            .hint("name another folder: stillroom demo FOLDER"));
    }
    let files = folder.join("files");
    lay_out(&files).map_err(|error| CommandError::work(format!("{} cannot be made: {error}", folder.display())))?;
    let session = session.example(folder.join("workshop.sqlite"), FIRST_DAY);
    import::run(
        &session,
        &Import { paths: vec![files.clone()], currency: Some("EUR".to_owned()), ..Import::default() },
    )?;
    let proposal = Proposal::find(&session, session.snapshot()?, None, None)?;
    let letter =
        send_report(&session, &of_view(&session, &proposal.view())?, vec!["ilse@tansy-quay.example".parse()?])?;
    let Sent::File(letter) = letter else { return Err(CommandError::work("the letter left by a server")) };
    let forecast = forecast(&proposal.snapshot, &proposal.outlook);
    // What was noticed stands below the forecast; once is enough on one screen.
    let expiring = ExpiringView { findings: Vec::new(), ..expiring(&proposal.snapshot, &proposal.outlook) };
    let reorder = ReorderView { findings: Vec::new(), ..proposal.view() };
    let view = DemoView {
        store: session.store_file()?.display().to_string(),
        files: files.display().to_string(),
        letter: letter.display().to_string(),
        forecast,
        expiring,
        reorder,
    };
    session.answer(&view, |screen| {
        let title = |words: &str| format!("\n{}\n", strong(&format!("== {words} =="), screen.colour));
        [
            format!("The example workshop, made up from first to last, on {FIRST_DAY}.\n"),
            title("What runs short"),
            text::terminal(&forecast_text::document(&view.forecast), screen),
            title("What is expiring"),
            text::terminal(&expiring_text::document(&view.expiring, None), screen),
            title("What to order"),
            text::terminal(&reorder_text::document(&view.reorder), screen),
            title("Where things are"),
            next_steps(folder, &letter),
        ]
        .concat()
    })
}

fn next_steps(folder: &Path, letter: &Path) -> String {
    let folder = folder.display();
    format!(
        "The files are in {folder}/files, the store is {folder}/workshop.sqlite.\n\
         The letter with the reorder list lies in {}; a mail program opens it.\n\n\
         Look further (the example stands on {FIRST_DAY}):\n  \
         stillroom --store {folder}/workshop.sqlite --as-of {FIRST_DAY} forecast --why mango-butter\n  \
         stillroom --store {folder}/workshop.sqlite --as-of {FIRST_DAY} plan list\n  \
         stillroom --store {folder}/workshop.sqlite --as-of {FIRST_DAY} order place\n",
        letter.display()
    )
}

fn lay_out(files: &Path) -> std::io::Result<()> {
    std::fs::create_dir_all(files)?;
    for file in EXAMPLE.files() {
        let name = file.path().file_name().unwrap_or_default();
        std::fs::write(files.join(name), file.contents())?;
    }
    Ok(())
}
