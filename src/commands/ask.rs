//! Details that were left out: asked for one after the other in a terminal, named as missing options elsewhere.

use super::session::Session;
use crate::error::CommandError;
use dialoguer::{Confirm, Input, Select};

impl Session {
    /// What was given, or else what the user answers; `default` where she just presses Enter.
    ///
    /// # Errors
    /// Where nothing was given and nobody can be asked: names the option.
    pub fn or_ask(
        &self,
        given: Option<&str>,
        option: &str,
        question: &str,
        default: Option<&str>,
    ) -> Result<String, CommandError> {
        if let Some(given) = given {
            return Ok(given.to_owned());
        }
        if !self.can_ask {
            return default.map(str::to_owned).ok_or_else(|| missing(option, question));
        }
        let mut input = Input::<String>::new().with_prompt(question);
        if let Some(default) = default {
            input = input.default(default.to_owned());
        }
        input.interact_text().map_err(|error| unanswered(question, &error))
    }

    /// What was given, or else what the user picks from the list; the place in it.
    ///
    /// # Errors
    /// Where nothing was given and nobody can be asked: names the option and what is possible.
    pub fn or_pick(
        &self,
        given: Option<usize>,
        option: &str,
        question: &str,
        possible: &[String],
    ) -> Result<usize, CommandError> {
        if let Some(given) = given {
            return Ok(given);
        }
        if !self.can_ask || possible.is_empty() {
            let shown: Vec<&str> = possible.iter().take(8).map(String::as_str).collect();
            let more = if possible.len() > shown.len() { ", ..." } else { "" };
            return Err(missing(option, question).hint(format!("possible: {}{more}", shown.join(", "))));
        }
        let picked = Select::new().with_prompt(question).items(possible).default(0).interact();
        picked.map_err(|error| unanswered(question, &error))
    }

    /// Yes, or the user's answer; where nobody can be asked, no.
    ///
    /// # Errors
    /// Where the terminal does not answer.
    pub fn is_sure(&self, yes: bool, question: &str) -> Result<bool, CommandError> {
        if yes || !self.can_ask {
            return Ok(yes);
        }
        let answer = Confirm::new().with_prompt(question).default(false).interact();
        answer.map_err(|error| unanswered(question, &error))
    }
}

fn missing(option: &str, question: &str) -> CommandError {
    CommandError::input(format!("{option} is missing. {question}"))
        .hint("give it as an option, or run the command in a terminal to be asked")
}

fn unanswered(question: &str, error: &dyn std::error::Error) -> CommandError {
    CommandError::input(format!("{question:?} was not answered ({error}); nothing was written"))
}
