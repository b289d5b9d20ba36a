//! What each command does: load, plan, view, render. One file for each.
//!
//! Only commands see both the store and the renderers. Every command returns what is to be printed; printing is done
//! once, in `main`.

mod act;
mod allocate;
mod ask;
mod backup;
mod batch;
pub mod completions;
mod copies;
mod count;
mod demo;
mod doctor;
mod expiring;
mod export;
mod forecast;
mod formula;
mod import;
mod init;
mod lot;
mod mail;
mod make;
mod manual;
mod map;
mod map_ask;
mod month;
mod names;
mod order;
mod order_letter;
mod outbox;
mod page;
mod pieces;
mod plan;
mod post;
mod prices;
mod progress;
mod receive;
mod reorder;
pub mod report;
mod restore;
mod schedule;
mod session;
mod sheet;
pub mod sheets;
mod snooze;
mod stock;
mod stocktake;
mod supplier;
mod today;
mod trace;
mod use_up;
mod watch;
mod way_on;
mod weigh;
mod wish;
mod write_offs;

use crate::cli::{Cli, Command, Init, Today};
use crate::error::CommandError;
use crate::render::table::Screen;
use session::Session;

/// Runs a command.
///
/// # Errors
/// [`CommandError`] with what went wrong and what to do next.
pub fn run(cli: Cli, screen: Screen) -> Result<String, CommandError> {
    let begins = matches!(cli.command, Some(Command::Init(_)) | None);
    let session = Session::begin(cli.common, screen, begins)?;
    let Some(command) = cli.command else { return without_a_word(&session) };
    let session = session.done_by(command.by())?;
    match command {
        Command::Init(arguments) => init::run(&session, &arguments),
        Command::Demo(arguments) => demo::run(&session, &arguments),
        Command::Import(arguments) => import::run(&session, &arguments),
        Command::Export(arguments) => export::run(&session, &arguments),
        Command::Today(arguments) => today::run(&session, &arguments),
        Command::Stock(arguments) => stock::run(&session, &arguments),
        Command::Month(arguments) => month::run(&session, &arguments),
        Command::Forecast(arguments) => forecast::run(&session, &arguments),
        Command::Allocate(arguments) => allocate::run(&session, &arguments),
        Command::Expiring(arguments) => expiring::run(&session, &arguments),
        Command::Reorder(arguments) => reorder::run(&session, &arguments),
        Command::Wish(what) => wish::run(&session, &what),
        Command::Supplier(what) => supplier::run(&session, &what),
        Command::Order(what) => order::run(&session, &what),
        Command::Receive(arguments) => receive::run(&session, &arguments),
        Command::Plan(what) => plan::run(&session, &what),
        Command::Weigh(arguments) => weigh::run(&session, &arguments),
        Command::Lot(what) => lot::run(&session, &what),
        Command::Stocktake(what) => stocktake::run(&session, &what),
        Command::Pieces(what) => pieces::run(&session, &what),
        Command::Act(what) => act::run(&session, &what),
        Command::Batch(what) => batch::run(&session, &what),
        Command::Trace(arguments) => trace::run(&session, &arguments),
        Command::Formula(what) => formula::run(&session, &what),
        Command::UseUp(arguments) => use_up::run(&session, &arguments),
        Command::WriteOffs(arguments) => write_offs::run(&session, &arguments),
        Command::Prices(arguments) => prices::run(&session, &arguments),
        Command::Make(arguments) => make::run(&session, &arguments),
        Command::Count(arguments) => count::run(&session, &arguments),
        Command::Mail(what) => mail::run(&session, &what),
        Command::Post => post::run(&session),
        Command::Watch => watch::run(&session.with_running_clock()),
        Command::Schedule(arguments) => schedule::run(&session, &arguments),
        Command::Outbox(what) => outbox::run(&session, &what),
        Command::Snooze(arguments) => snooze::run(&session, &arguments),
        Command::Backup(arguments) => backup::run(&session, &arguments),
        Command::Restore(arguments) => restore::run(&session, &arguments),
        Command::Doctor(arguments) => doctor::run(&session, &arguments),
        Command::Manual(arguments) => manual::run(&session, &arguments),
        Command::Completions(arguments) => completions::run(&arguments),
    }
}

/// The program called without a word: the day, or the beginning where there is no workshop yet.
fn without_a_word(session: &Session) -> Result<String, CommandError> {
    if session.store_file()?.exists() {
        return today::run(session, &Today::default());
    }
    if session.can_ask {
        return init::run(session, &Init::default());
    }
    Err(CommandError::input(format!("there is no workshop yet at {}", session.store_file()?.display())).hint(
        "`stillroom init` begins one, `stillroom demo` shows an example, `stillroom --help` lists what can be done",
    ))
}
