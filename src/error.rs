//! The one error that commands end with: what went wrong, what to do, and the exit status.

use crate::book::link::LinkError;
use crate::config::ConfigError;
use crate::intake::Fault;
use crate::plan::limits::Beyond;
use crate::post::address::AddressError;
use crate::post::letter::LetterError;
use crate::post::password::PasswordError;
use crate::post::report::ReportLetterError;
use crate::post::send::SendError;
use crate::render::html::PageError;
use crate::store::StoreError;
use std::fmt;

/// Whose turn it is to mend things; decides the exit status.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// What the user gave is wrong: exit status 2.
    Input,
    /// What the program could not do: exit status 1.
    Work,
}

/// Why a command did not do what it was asked to. Nothing is half done.
#[derive(Debug)]
pub struct CommandError {
    /// Whose turn it is.
    pub kind: Kind,
    /// What is wrong, where.
    pub message: String,
    /// What to do next.
    pub hint: Option<String>,
    /// What is printed all the same, for other programs: a report that found something wrong.
    pub answer: Option<String>,
}

/// So many faults of an import are shown in full.
const FAULTS_SHOWN: usize = 200;

impl CommandError {
    /// Something that the user gave.
    #[must_use]
    pub fn input(message: impl Into<String>) -> Self {
        Self { kind: Kind::Input, message: message.into(), hint: None, answer: None }
    }

    /// Something that the program could not do.
    #[must_use]
    pub fn work(message: impl Into<String>) -> Self {
        Self { kind: Kind::Work, message: message.into(), hint: None, answer: None }
    }

    /// With what to do next.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// With an answer that is printed all the same.
    #[must_use]
    pub fn answer(mut self, answer: impl Into<String>) -> Self {
        self.answer = Some(answer.into());
        self
    }

    /// All faults of the files that were read.
    #[must_use]
    pub fn faults(faults: &[Fault]) -> Self {
        let mut message = match faults.len() {
            1 => "the files have 1 fault; nothing was written:".to_owned(),
            faults => format!("the files have {faults} faults; nothing was written:"),
        };
        for fault in faults.iter().take(FAULTS_SHOWN) {
            message.push_str(&format!("\n  {fault}"));
        }
        if faults.len() > FAULTS_SHOWN {
            message.push_str(&format!("\n  ... and {} more", faults.len() - FAULTS_SHOWN));
        }
        Self::input(message).hint("mend what is named and run the command again")
    }

    /// The exit status.
    #[must_use]
    pub fn exit_status(&self) -> u8 {
        match self.kind {
            Kind::Input => 2,
            Kind::Work => 1,
        }
    }
}

impl fmt::Display for CommandError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "error: {}", self.message)?;
        match &self.hint {
            Some(hint) => write!(formatter, "\nnext: {hint}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for CommandError {}

impl From<StoreError> for CommandError {
    fn from(error: StoreError) -> Self {
        match &error {
            StoreError::Refused(_)
            | StoreError::NotFound { .. }
            | StoreError::NotAStore { .. }
            | StoreError::FileThere { .. } => Self::input(error.to_string()),
            _ => Self::work(error.to_string()),
        }
    }
}

impl From<LinkError> for CommandError {
    fn from(error: LinkError) -> Self {
        Self::work(error.to_string())
    }
}

impl From<Beyond> for CommandError {
    fn from(error: Beyond) -> Self {
        Self::input(error.to_string()).hint(error.remedy())
    }
}

impl From<ConfigError> for CommandError {
    fn from(error: ConfigError) -> Self {
        Self::input(error.to_string()).hint("config.example.toml shows every setting")
    }
}

impl From<AddressError> for CommandError {
    fn from(error: AddressError) -> Self {
        Self::input(error.to_string())
    }
}

impl From<PasswordError> for CommandError {
    fn from(error: PasswordError) -> Self {
        Self::input(error.to_string())
    }
}

impl From<LetterError> for CommandError {
    fn from(error: LetterError) -> Self {
        Self::work(error.to_string())
    }
}

impl From<ReportLetterError> for CommandError {
    fn from(error: ReportLetterError) -> Self {
        Self::work(error.to_string())
    }
}

impl From<serde_json::Error> for CommandError {
    fn from(error: serde_json::Error) -> Self {
        Self::work(format!("no JSON could be made: {error}"))
    }
}

impl From<PageError> for CommandError {
    fn from(error: PageError) -> Self {
        Self::work(error.to_string())
    }
}

impl From<SendError> for CommandError {
    fn from(error: SendError) -> Self {
        let hint = if error.may_have_arrived() {
            "the letter may have been sent all the same: look whether it arrived before you send it again"
        } else if error.is_passing() {
            "the letter did not leave; try again later"
        } else {
            "the letter did not leave; look at [mail] in the settings"
        };
        Self::work(error.to_string()).hint(hint)
    }
}
