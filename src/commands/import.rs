//! `import`: files become rows of the store, all of them or none.

use super::progress::Progress;
use super::session::Session;
use super::way_on::step;
use crate::book::ahead::ahead;
use crate::book::link::link;
use crate::book::{Book, Journal};
use crate::cli::Import;
use crate::error::CommandError;
use crate::intake::map::Mappings;
use crate::intake::{Change, ChangeKind, Checked, ColumnChange, SheetKind, Sheets, check, read_paths_with};
use crate::plan::limits;
use crate::plan::money::Currency;
use crate::store::{Store, StoreError};
use crate::view::done::{ImportChangeView, ImportColumnView, ImportView};
use std::path::Path;

pub fn run(session: &Session, arguments: &Import) -> Result<String, CommandError> {
    if arguments.map {
        return super::map::run(session, arguments);
    }
    let progress = Progress::begin();
    progress.turn_to("Reading the files", None);
    let mut sheets = read_paths_with(&arguments.paths, &mappings(session, arguments.mapping.as_deref())?);
    progress.turn_to("Checking them", None);
    if !session.json {
        sheets.count_new_rows();
    }
    let asked = arguments.currency.as_deref().map(currency).transpose()?;
    let file = session.store_file()?;
    let new_home = asked.or(sheets.home_currency()).unwrap_or(session.config.home_currency);
    let mut store = match Store::open(file) {
        Ok(store) => store,
        // Nothing is made before the files have been found to be right.
        Err(StoreError::NotFound { .. }) => {
            sheets.translate(&Book::default());
            let checked = judge(&sheets, new_home, &Book::default(), &[], &Journal::default())?;
            if arguments.dry_run {
                return answer(session, &checked, false, file);
            }
            session.warn_of_network(file);
            Store::open_or_create(file, new_home)?
        }
        Err(error) => return Err(error.into()),
    };
    store.keep_much_in_memory()?;
    let step = || progress.step();
    let writing = store.writing()?.telling(&step);
    let home = writing.home()?;
    if let Some(asked) = asked.filter(|asked| *asked != home) {
        return Err(CommandError::input(format!("the store counts in {home}, so --currency {asked} cannot be"))
            .hint("leave --currency out; it only says what a new store counts in"));
    }
    let existing = writing.whole_book()?;
    sheets.translate(&existing);
    // The ledger grows with the years: it is read only where the files bring one.
    let journal = if sheets.bring_journal() {
        writing.journal()?
    } else {
        Journal { batches: writing.batches()?, ..Journal::default() }
    };
    let standings = writing.standings()?;
    let mut checked = judge(&sheets, home, &existing, &standings, &journal)?;
    if arguments.dry_run {
        return answer(session, &checked, false, file);
    }
    progress.turn_to("Writing", Some(checked.changes.len()));
    writing.apply(&existing, &checked.merged, &checked.journal, &session.stamp())?;
    // Each amount fits; whether all of them together do is seen once they stand beside what was there.
    if sheets.bring_journal() {
        limits::check(&session.snapshot_of(&writing)?)?;
    } else {
        // What the store holds now is known: it need not be read again.
        let standing = journal.batches.iter().filter(|row| row.fulfils_entry && !row.undone);
        let made = standing.map(|row| row.entry.as_str()).collect();
        let (book, left) = ahead(std::mem::take(&mut checked.merged), &standings, &made);
        limits::check(&link(&book, home, &left)?)?;
        checked.merged = book;
    }
    writing.commit()?;
    drop(progress);
    let told = answer(session, &checked, true, file);
    // The program ends with this command: of a long file's rows the system takes back everything at once.
    std::mem::forget((sheets, checked));
    told
}

/// The mappings beside the store: all of them, or the one that was named.
fn mappings(session: &Session, name: Option<&str>) -> Result<Mappings, CommandError> {
    let folder = super::map::folder(session)?;
    let all = Mappings::read_folder(&folder).map_err(|error| {
        CommandError::input(error.to_string())
            .hint("mend the mapping, or move it away and make it anew with import --map FILE")
    })?;
    let Some(name) = name else { return Ok(all) };
    let known = all.names().join(", ");
    all.only(name).ok_or_else(|| {
        let known = if known.is_empty() { "there is none yet".to_owned() } else { format!("there are {known}") };
        CommandError::input(format!("{name:?} is no mapping in {}; {known}", folder.display()))
            .hint("make one with import --map FILE")
    })
}

pub(super) fn currency(code: &str) -> Result<Currency, CommandError> {
    Currency::from_code(&code.to_uppercase()).ok_or_else(|| {
        CommandError::input(format!("{code:?} is no currency"))
            .hint("give its three letters of ISO 4217: EUR, GBP, DKK")
    })
}

fn judge(
    sheets: &Sheets,
    home: Currency,
    existing: &Book,
    standings: &[crate::book::Standing],
    journal: &Journal,
) -> Result<Checked, CommandError> {
    check(sheets, home, existing, standings, journal).map_err(|faults| {
        let error = CommandError::faults(&faults);
        if sheets.wants_mapping() {
            return error.hint(
                "for a spreadsheet of your own: stillroom import --map FILE finds out with you what its columns mean",
            );
        }
        error
    })
}

fn answer(session: &Session, checked: &Checked, written: bool, file: &Path) -> Result<String, CommandError> {
    // A long import changes very many rows: each is named only to who reads that.
    if !session.json {
        return Ok(text(checked, written, file));
    }
    let view = ImportView {
        store: file.display().to_string(),
        written,
        changes: checked.changes.iter().map(change_view).collect(),
        notes: checked.notes.clone(),
    };
    session.answer(&view, |_| text(checked, written, file))
}

fn change_view(change: &Change) -> ImportChangeView {
    let column = |column: &ColumnChange| ImportColumnView {
        column: column.column.to_owned(),
        from: column.old.clone(),
        to: column.new.clone(),
    };
    let columns = columns(change).iter().map(column).collect();
    let kind = match change.kind {
        ChangeKind::Added => "added",
        ChangeKind::Changed(_) => "changed",
        ChangeKind::Replaced => "replaced",
    };
    ImportChangeView { file: change.file.stem().to_owned(), key: change.key.clone(), kind: kind.to_owned(), columns }
}

fn columns(change: &Change) -> &[ColumnChange] {
    match &change.kind {
        ChangeKind::Changed(columns) => columns,
        ChangeKind::Added | ChangeKind::Replaced => &[],
    }
}

fn text(checked: &Checked, written: bool, file: &Path) -> String {
    let mut text = String::new();
    let mut files: Vec<SheetKind> = checked.changes.iter().map(|change| change.file).collect();
    files.dedup();
    for file in files {
        let of_file = || checked.changes.iter().filter(|change| change.file == file);
        let added = of_file().filter(|change| matches!(change.kind, ChangeKind::Added)).count();
        let changed = of_file().count() - added;
        text.push_str(&format!("{:<10} {added:>5} new, {changed:>5} changed\n", file.stem()));
        for change in of_file() {
            for column in columns(change) {
                let shown = |value: &str| if value.is_empty() { "nothing".to_owned() } else { value.to_owned() };
                let (old, new) = (shown(&column.old), shown(&column.new));
                text.push_str(&format!("    {}: {} from {old} to {new}\n", change.key, column.column));
            }
        }
    }
    for note in &checked.notes {
        text.push_str(&format!("note: {note}\n"));
    }
    let store = file.display();
    text.push_str(&match (checked.changes.is_empty(), written) {
        (true, _) if checked.has_no_row => "Nothing to take in: below the titles no row is filled in yet.\n".to_owned(),
        (true, _) => format!("Nothing to change: {store} holds all of this already.\n"),
        (false, true) => {
            let merged = &checked.merged;
            let next = step(merged.materials.is_empty(), merged.products.is_empty(), merged.plan.is_empty());
            format!("Written to {store}.\n{}\n", next.unwrap_or("Next: `stillroom forecast` shows the days ahead."))
        }
        (false, false) => format!("A dry run: nothing was written to {store}.\n"),
    });
    text
}
