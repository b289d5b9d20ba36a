//! `restore`: a copy takes the store's place; what it replaces is kept beside it.

use super::copies;
use super::session::Session;
use crate::cli::Restore;
use crate::error::CommandError;
use crate::render::safe as render;
use crate::store::{StoreError, put_back};
use crate::view::safe::RestoreView;

pub fn run(session: &Session, arguments: &Restore) -> Result<String, CommandError> {
    let (store, copy) = (session.store_file()?, arguments.file.as_path());
    if let (Ok(one), Ok(other)) = (store.canonicalize(), copy.canonicalize())
        && one == other
    {
        return Err(CommandError::input(format!("{} is the store itself", copy.display()))
            .hint("name a copy; `stillroom doctor` lists those that there are"));
    }
    let keep_as = store.with_file_name(copies::dated_name(session, ".replaced")?);
    let done = put_back(copy, store, &keep_as).map_err(|error| refused(error, session, arguments))?;
    session.warn_of_network(store);
    let view = RestoreView {
        as_of: session.clock.today(),
        store: store.display().to_string(),
        file: copy.display().to_string(),
        version: done.checkup.version,
        acts: done.checkup.acts,
        replaced: done.replaced.map(|path| path.display().to_string()),
    };
    session.answer(&view, |_| render::restore(&view))
}

fn refused(error: StoreError, session: &Session, arguments: &Restore) -> CommandError {
    let copy = arguments.file.display();
    match &error {
        StoreError::Hurt { .. } => CommandError::work(format!("nothing was changed: {error}"))
            .hint(format!("`stillroom doctor {copy}` says all that is hurt in it; take another copy")),
        StoreError::NotFound { path } if path == &arguments.file => {
            CommandError::input(format!("there is no copy of a store at {copy}"))
                .hint("`stillroom doctor` lists the copies that there are")
        }
        StoreError::NotAStore { path } if session.store_file().is_ok_and(|store| store == path) => {
            CommandError::input(format!("{} belongs to another program; nothing was changed", path.display()))
                .hint("move it away first, or name another store with --store")
        }
        StoreError::Full => CommandError::work("the disk is full: nothing was changed")
            .hint("make room for the copy and for what it replaces, and try again"),
        _ => error.into(),
    }
}
