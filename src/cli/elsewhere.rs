//! A word that is no command by itself, but one of a group: `stillroom undo` for `stillroom act undo`.

use clap::Command;
use clap::error::{ContextKind, ContextValue, Error};

/// The error with a hint at the commands that are meant, where a group has one of that name.
#[must_use]
pub fn with_way_on(mut error: Error, program: &Command) -> Error {
    let Some(ContextValue::String(word)) = error.get(ContextKind::InvalidSubcommand) else { return error };
    let has_it = |group: &&Command| group.get_subcommands().any(|one| one.get_name() == word);
    let meant =
        program.get_subcommands().filter(has_it).map(|group| format!("`stillroom {} {word}`", group.get_name()));
    let meant: Vec<String> = meant.collect();
    if !meant.is_empty() {
        let hint = format!("did you mean {}?", meant.join(" or "));
        error.insert(ContextKind::Suggested, ContextValue::StyledStrs(vec![hint.into()]));
    }
    error
}
