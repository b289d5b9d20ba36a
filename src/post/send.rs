//! Sending a letter, by whichever way the workshop has chosen.

use super::folder::{self, FolderError};
use super::letter::Composed;
use super::smtp::{self, Smtp, SmtpError};
use std::path::PathBuf;

/// How letters leave.
#[derive(Debug)]
pub enum Method {
    /// Into this folder, as files.
    Folder(PathBuf),
    /// To a mail server.
    Smtp(Smtp),
}

/// Where a letter is now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sent {
    /// In this file.
    File(PathBuf),
    /// With the server, which said so in these words.
    Server(String),
}

/// Why a letter was not sent.
#[derive(Debug, thiserror::Error)]
pub enum SendError {
    /// The outbox folder.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// The mail server.
    #[error(transparent)]
    Smtp(#[from] SmtpError),
}

impl SendError {
    /// True where the same letter may well be taken later: nothing is wrong with the letter or the settings.
    #[must_use]
    pub fn is_passing(&self) -> bool {
        match self {
            Self::Folder(_) => false,
            Self::Smtp(error) => error.is_passing(),
        }
    }
}

impl SendError {
    /// True where nobody knows whether the letter was taken.
    #[must_use]
    pub fn may_have_arrived(&self) -> bool {
        matches!(self, Self::Smtp(error) if error.may_have_arrived())
    }
}

impl Method {
    /// Sends the letter.
    ///
    /// # Errors
    /// [`SendError`] where it did not leave.
    pub fn send(&self, letter: &Composed) -> Result<Sent, SendError> {
        self.send_and(letter, &mut |_| {})
    }

    /// Sends the letter, and calls `taken` as soon as it is known to be taken: before the mail server is left.
    ///
    /// # Errors
    /// [`SendError`] where it did not leave.
    pub fn send_and(&self, letter: &Composed, taken: &mut dyn FnMut(&Sent)) -> Result<Sent, SendError> {
        match self {
            Self::Folder(folder) => {
                let sent = Sent::File(folder::lay_down(folder, letter)?);
                taken(&sent);
                Ok(sent)
            }
            Self::Smtp(server) => {
                let words = smtp::send_and(server, letter, &mut |words| taken(&Sent::Server(words.to_owned())))?;
                Ok(Sent::Server(words))
            }
        }
    }
}
