//! Arguments of `backup`, `restore` and `doctor`.

use clap::Args;
use std::path::PathBuf;

/// Arguments of `backup`.
#[derive(Debug, Args)]
pub struct Backup {
    /// A new file, or a folder that is there; a dated name in the folder that the settings name where it is not given
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
}

/// Arguments of `restore`.
#[derive(Debug, Args)]
pub struct Restore {
    /// The copy; it stays where it is
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
}

/// Arguments of `doctor`.
#[derive(Debug, Args)]
pub struct Doctor {
    /// Another file to examine, a copy say; the store where it is not given
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
}
