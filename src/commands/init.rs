//! `init`, and the program called without a word where there is no workshop yet: a few questions, the settings with their
//! comments, an empty store, and the empty sheets to fill in.

use super::page::write_new;
use super::session::Session;
use super::sheets::{WrittenSheets, write_sheets};
use crate::cli::{Init, SHEETS};
use crate::error::CommandError;
use crate::plan::money::Currency;
use crate::post::address::Mailbox;
use crate::store::{Store, StoreError};
use crate::view::done::{InitView, SheetsView};
use chrono_tz::Tz;
use std::path::{Path, PathBuf};

/// The settings with every key, its meaning and its default: what is written is this text with the answers in it.
const SETTINGS: &str = include_str!("../../config.example.toml");

/// What the maker says.
#[derive(Debug, Default, PartialEq, Eq)]
struct Answers {
    /// Where the store lies, if not where it usually does.
    store: Option<PathBuf>,
    currency: Option<Currency>,
    zone: Option<Tz>,
    to: Option<Mailbox>,
}

pub fn run(session: &Session, arguments: &Init) -> Result<String, CommandError> {
    let settings = session.settings_file()?;
    let store = std::path::absolute(session.store_file()?)
        .map_err(|error| CommandError::work(format!("the folder of the store is not known: {error}")))?;
    let answers = if settings.exists() { None } else { Some(ask(session, arguments, &store)?) };
    // First what may be refused because it is there already; what was asked for is all there, or the message says what is not.
    let folder = sheets_folder(session, arguments, answers.is_some())?;
    let sheets = folder.as_deref().map(write_sheets).transpose()?;
    if let Some(answers) = &answers {
        write_settings(answers, &settings)?;
    }
    let home = answers.as_ref().and_then(|answers| answers.currency).unwrap_or(session.config.home_currency);
    let is_made = make_store(session, &store, home)?;
    let view = InitView {
        settings: settings.display().to_string(),
        settings_written: answers.is_some(),
        store: store.display().to_string(),
        store_made: is_made,
        sheets: sheets.as_ref().map(sheets_view),
    };
    session.answer(&view, |_| said(&settings, answers.is_some(), &store, is_made, sheets.as_ref()))
}

fn sheets_view(sheets: &WrittenSheets) -> SheetsView {
    let files = sheets.files.iter().map(|file| file.display().to_string()).collect();
    SheetsView { workbook: sheets.workbook.display().to_string(), files }
}

/// Where the empty sheets are wanted: as the option says, or as the maker answers who is here for the first time.
fn sheets_folder(session: &Session, arguments: &Init, is_new: bool) -> Result<Option<PathBuf>, CommandError> {
    if arguments.sheets.is_some() || !is_new || Path::new(SHEETS).exists() {
        return Ok(arguments.sheets.clone());
    }
    let question = format!("Write empty sheets to fill in, into the new folder {SHEETS}?");
    Ok(session.is_sure(false, &question)?.then(|| PathBuf::from(SHEETS)))
}

fn write_settings(answers: &Answers, settings: &Path) -> Result<(), CommandError> {
    if let Some(folder) = settings.parent() {
        std::fs::create_dir_all(folder)
            .map_err(|error| CommandError::work(format!("the folder {} cannot be made: {error}", folder.display())))?;
    }
    write_new(settings, filled_in(answers).as_bytes())
}

/// False where there is one already.
fn make_store(session: &Session, store: &Path, home: Currency) -> Result<bool, CommandError> {
    session.warn_of_network(store);
    match Store::create(store, home) {
        Ok(_) => Ok(true),
        Err(StoreError::AlreadyThere { .. }) => Ok(false),
        Err(error) => Err(error.into()),
    }
}

fn ask(session: &Session, arguments: &Init, store: &Path) -> Result<Answers, CommandError> {
    if session.can_ask {
        eprintln!(
            "A few questions; press Enter for what stands in brackets. All of it can be changed in the settings later.\n"
        );
    }
    let usual = session.config.home_currency.code();
    let currency = given_or_asked(session, arguments.currency.as_deref(), CURRENCY, usual, currency)?;
    let here = iana_time_zone::get_timezone().unwrap_or_else(|_| "UTC".to_owned());
    let zone = given_or_asked(session, arguments.time_zone.as_deref(), ZONE, &here, zone)?;
    let to = given_or_asked(session, arguments.to.as_deref(), TO, "", recipient)?;
    Ok(Answers {
        store: session.store_is_named().then(|| store.to_owned()),
        currency: Some(currency),
        zone: Some(zone),
        to,
    })
}

const CURRENCY: &str = "In which currency do you count your money (three letters: EUR, GBP, USD)?";
const ZONE: &str = "In which time zone is the workshop?";
const TO: &str = "To which e-mail address do letters go (empty: none yet)?";

/// What an option says, or what is answered until it can be understood; the usual where nobody can be asked.
fn given_or_asked<T>(
    session: &Session,
    given: Option<&str>,
    question: &str,
    usual: &str,
    read: impl Fn(&str) -> Result<T, CommandError>,
) -> Result<T, CommandError> {
    match given {
        Some(given) => read(given),
        None => session.ask_until(question, usual, read),
    }
}

fn currency(text: &str) -> Result<Currency, CommandError> {
    Currency::from_code(&text.trim().to_uppercase()).ok_or_else(|| {
        CommandError::input(format!("{text:?} is no currency"))
            .hint("give its three letters of ISO 4217: EUR, GBP, DKK")
    })
}

fn zone(text: &str) -> Result<Tz, CommandError> {
    text.trim().parse().map_err(|_| {
        CommandError::input(format!("{text:?} is no time zone")).hint("give its name in the IANA list: Europe/Lisbon")
    })
}

fn recipient(text: &str) -> Result<Option<Mailbox>, CommandError> {
    if text.trim().is_empty() { Ok(None) } else { Ok(Some(text.parse()?)) }
}

/// The settings' text with the answers in their places.
fn filled_in(answers: &Answers) -> String {
    let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
    let store = answers.store.as_ref().map(|path| format!("store = {}", quoted(&path.display().to_string())));
    let currency = answers.currency.map(|currency| format!("home_currency = {}", quoted(currency.code())));
    let zone = answers.zone.map(|zone| format!("time_zone = {}", quoted(zone.name())));
    let to = answers.to.as_ref().map(|to| format!("to = [{}]", quoted(&to.to_string())));
    let places = [("# store = ", store), ("home_currency = ", currency), ("# time_zone = ", zone), ("to = [", to)];
    let mut text = String::with_capacity(SETTINGS.len());
    for line in SETTINGS.lines() {
        let answer = places.iter().find(|(begin, _)| line.starts_with(begin)).and_then(|(_, answer)| answer.as_deref());
        text.push_str(answer.unwrap_or(line));
        text.push('\n');
    }
    text
}

fn said(settings: &Path, is_new: bool, store: &Path, is_made: bool, sheets: Option<&WrittenSheets>) -> String {
    let (settings, store) = (settings.display(), store.display());
    let mut text = match is_new {
        true => format!("Your settings are in {settings}; every line there says what it is for.\n"),
        false => format!("Your settings in {settings} were there already and stay as they are.\n"),
    };
    text.push_str(&match is_made {
        true => format!("Your store is {store}; it is empty.\n"),
        false => format!("Your store {store} was there already and stays as it is.\n"),
    });
    match (sheets, is_made) {
        (Some(sheets), _) => text.push_str(&of_sheets(sheets)),
        (None, true) => text.push_str(NEXT),
        (None, false) => text.push_str("\nNext: `stillroom today` shows what the day asks for.\n"),
    }
    text
}

/// What to do with the empty sheets.
fn of_sheets(sheets: &WrittenSheets) -> String {
    let folder = sheets.files.first().and_then(|file| file.parent()).unwrap_or(Path::new(""));
    let (workbook, folder) = (sheets.workbook.display().to_string(), folder.display().to_string());
    let (typed_workbook, typed_folder) = (as_typed(&workbook), as_typed(&folder));
    format!(
        "Empty sheets are in {workbook}, and the same as {} CSV files in {folder}.

Next: fill in one or the other, in any spreadsheet program. Below its titles each sheet says what belongs into a column and
shows an example; both lines begin with # and may stay. Begin with materials and lots; leave empty what you do not know. Then
  stillroom import --dry-run {typed_workbook}   shows what would come in
  stillroom import {typed_workbook}             takes it in
or, of the CSV files, the same with {typed_folder}
",
        sheets.files.len()
    )
}

/// A path as the shells take it: in quotes where it holds a blank.
fn as_typed(path: &str) -> String {
    if path.contains(' ') { format!("\"{path}\"") } else { path.to_owned() }
}

const NEXT: &str = "
Next, one of these:
  stillroom import --map FILE    your own spreadsheet: you say once what its columns mean
  stillroom init --sheets        empty sheets to fill in, with what belongs into each column
  stillroom demo                 an example workshop to look at, apart from yours
";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_answers_the_settings_are_the_example() {
        assert_eq!(filled_in(&Answers::default()), SETTINGS);
    }

    #[test]
    fn each_answer_has_one_place() {
        let answers = Answers {
            store: Some(PathBuf::from("/home/mara/\"workshop\"/w.sqlite")),
            currency: Currency::from_code("GBP"),
            zone: Some(Tz::Europe__Lisbon),
            to: Some("Mara Vale <mara@example.org>".parse().unwrap()),
        };
        let text = filled_in(&answers);
        let changed: Vec<&str> =
            text.lines().zip(SETTINGS.lines()).filter(|(new, old)| new != old).map(|(new, _)| new).collect();
        assert_eq!(
            changed,
            [
                r#"store = '/home/mara/"workshop"/w.sqlite'"#,
                r#"home_currency = "GBP""#,
                r#"time_zone = "Europe/Lisbon""#,
                r#"to = ["Mara Vale <mara@example.org>"]"#,
            ]
        );
    }
}
