//! What a shell offers when the maker presses Tab: commands and options from the command line's own types, and codes from her store.

use super::names;
use super::session::Session;
use crate::book::Book;
use crate::book::fold::fold;
use crate::cli::{Common, Completions, examples};
use crate::error::CommandError;
use crate::render::table::Screen;
use clap::Command;
use clap_complete::engine::{ArgValueCompleter, CompletionCandidate};
use clap_complete::env::Shells;
use std::collections::BTreeMap;
use std::ffi::OsStr;

/// The environment variable by which the shell asks.
pub const ASKED_BY: &str = "STILLROOM_COMPLETE";

/// What an argument names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Batch,
    Entry,
    Formula,
    Item,
    Lot,
    LotOrBatch,
    MaterialOrLot,
    Order,
    OrderOrSupplier,
    Premix,
    Product,
    Supplier,
    SupplierOrMaterial,
    Wish,
}

/// The command line that offers what is in the store.
#[must_use]
pub fn command() -> Command {
    with_offers(examples::command(), "")
}

/// The lines that a shell has to read once.
///
/// # Errors
/// Where the shell is not known.
pub fn run(arguments: &Completions) -> Result<String, CommandError> {
    let shells = Shells::builtins();
    let Some(shell) = shells.completer(&arguments.shell) else {
        let known: Vec<&str> = shells.names().collect();
        return Err(CommandError::input(format!("{:?} is no shell that is known", arguments.shell))
            .hint(format!("known are {}", known.join(", "))));
    };
    let mut lines = Vec::new();
    shell
        .write_registration(ASKED_BY, "stillroom", "stillroom", "stillroom", &mut lines)
        .map_err(|error| CommandError::work(format!("the lines could not be made: {error}")))?;
    Ok(String::from_utf8_lossy(&lines).into_owned())
}

fn with_offers(mut command: Command, path: &str) -> Command {
    let names: Vec<String> = command.get_subcommands().map(|one| one.get_name().to_owned()).collect();
    for name in names {
        let path = format!("{path} {name}").trim_start().to_owned();
        command = command.mut_subcommand(&name, |one| with_offers(one, &path));
    }
    command.mut_args(|argument| match kind_of(path, argument.get_id().as_str()) {
        Some(kind) => {
            let offer = move |typed: &OsStr| offers(kind, &typed.to_string_lossy());
            argument.add(ArgValueCompleter::new(offer))
        }
        None => argument,
    })
}

/// What an argument of a command names; `None` for what is not in the store.
fn kind_of(path: &str, id: &str) -> Option<Kind> {
    Some(match (path, id) {
        ("forecast", "why") => Kind::Item,
        ("reorder", "why") => Kind::Item,
        ("expiring", "why") => Kind::Lot,
        ("allocate", "why") => Kind::Entry,
        ("trace", "subject") => Kind::LotOrBatch,
        ("snooze", "subject") => Kind::MaterialOrLot,
        ("order letter", "subjects") => Kind::OrderOrSupplier,
        ("wish exclude" | "wish pin", "what") | ("reorder", "exclude" | "pin") => Kind::SupplierOrMaterial,
        ("plan add", "entry") | ("lot decant", "into") => return None,
        (_, "batch") => Kind::Batch,
        (_, "entry") => Kind::Entry,
        (_, "formula") => Kind::Formula,
        (_, "material") => Kind::Item,
        (_, "lot") => Kind::Lot,
        (_, "order") => Kind::Order,
        (_, "premix") => Kind::Premix,
        (_, "product") => Kind::Product,
        (_, "supplier" | "suppliers") => Kind::Supplier,
        (_, "wish") => Kind::Wish,
        _ => return None,
    })
}

/// The codes whose beginning, or a word of whose name, is typed. Nothing where the store cannot be read: Tab is no time for errors.
fn offers(kind: Kind, typed: &str) -> Vec<CompletionCandidate> {
    let wanted = fold(typed);
    let is_meant = |code: &str, name: &str| {
        fold(code).starts_with(&wanted) || format!(" {}", fold(name)).contains(&format!(" {wanted}"))
    };
    let offer = |(code, name): (String, String)| {
        CompletionCandidate::new(code).help(Some(name).filter(|name| !name.is_empty()).map(Into::into))
    };
    known(kind).unwrap_or_default().into_iter().filter(|(code, name)| is_meant(code, name)).map(offer).collect()
}

/// All codes of a kind with their names, in order.
fn known(kind: Kind) -> Option<BTreeMap<String, String>> {
    let session = Session::begin(common(), Screen::default(), false).ok()?;
    let mut store = session.open().ok()?;
    let reading = store.reading().ok()?;
    if kind == Kind::Batch {
        let batches = reading.batches().ok()?;
        return Some(batches.into_iter().filter(|row| !row.undone).map(|row| (row.batch, row.product)).collect());
    }
    let book = reading.book().ok()?;
    let mut codes = of_book(&book, kind);
    if kind == Kind::LotOrBatch {
        codes.extend(reading.batches().ok()?.into_iter().map(|row| (row.batch, row.product)));
    }
    Some(codes)
}

fn of_book(book: &Book, kind: Kind) -> BTreeMap<String, String> {
    let materials = || book.materials.iter().map(|row| (row.code.clone(), row.name.clone()));
    let premixes = || book.premixes.iter().map(|row| (row.code.clone(), String::new()));
    let lots = || {
        book.lots.iter().map(|row| {
            let [lot, material, supplier_lot] = names::lot_names(row);
            (lot.to_owned(), format!("{material} {supplier_lot}").trim_end().to_owned())
        })
    };
    let orders = || book.orders.iter().map(|row| (row.order.clone(), row.supplier.clone()));
    let suppliers = || book.suppliers.iter().map(|row| (row.code.clone(), row.name.clone()));
    match kind {
        Kind::Batch => BTreeMap::new(),
        Kind::Entry => book.plan.iter().map(|row| (row.entry.clone(), row.product.clone())).collect(),
        Kind::Formula => book.formula_lines.iter().map(|row| (row.formula.clone(), String::new())).collect(),
        Kind::Item => materials().chain(premixes()).collect(),
        Kind::Lot | Kind::LotOrBatch => lots().collect(),
        Kind::MaterialOrLot => materials().chain(lots()).collect(),
        Kind::Order => orders().collect(),
        Kind::OrderOrSupplier => orders().chain(suppliers()).collect(),
        Kind::Premix => premixes().collect(),
        Kind::Product => book.products.iter().map(|row| (row.code.clone(), row.name.clone())).collect(),
        Kind::Supplier => suppliers().collect(),
        Kind::SupplierOrMaterial => suppliers().chain(materials()).collect(),
        Kind::Wish => {
            book.wishes.iter().filter(|row| !row.lifted).map(|row| (row.wish.clone(), row.reason.clone())).collect()
        }
    }
}

/// `--store` and `--config` as they stand on the line so far.
fn common() -> Common {
    let words: Vec<String> = std::env::args().skip_while(|word| word != "--").skip(1).collect();
    let named = |name: &str| {
        let equals = format!("{name}=");
        let after = words.iter().position(|word| word == name).and_then(|place| words.get(place + 1));
        after.map(String::as_str).or_else(|| words.iter().find_map(|word| word.strip_prefix(&equals))).map(Into::into)
    };
    Common { store: named("--store"), config: named("--config"), as_of: None, json: false, verbose: 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_is_offered_somewhere_and_every_rule_has_an_argument() {
        let mut found = Vec::new();
        walk(&examples::command(), "", &mut found);
        for kind in
            [Kind::Batch, Kind::Entry, Kind::Formula, Kind::Item, Kind::Lot, Kind::LotOrBatch, Kind::MaterialOrLot]
        {
            assert!(found.contains(&kind), "{kind:?}");
        }
        for kind in [Kind::Order, Kind::OrderOrSupplier, Kind::Premix, Kind::Product, Kind::Supplier, Kind::Wish] {
            assert!(found.contains(&kind), "{kind:?}");
        }
        assert!(found.contains(&Kind::SupplierOrMaterial));
    }

    fn walk(command: &Command, path: &str, found: &mut Vec<Kind>) {
        found.extend(command.get_arguments().filter_map(|one| kind_of(path, one.get_id().as_str())));
        for one in command.get_subcommands() {
            walk(one, format!("{path} {}", one.get_name()).trim_start(), found);
        }
    }
}
