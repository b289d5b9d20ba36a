//! Details that were left out: asked for one after the other in a terminal, named as missing options elsewhere.

use super::session::Session;
use crate::error::CommandError;
use dialoguer::theme::Theme;
use dialoguer::{Confirm, Input, Select};
use std::fmt;

/// How questions stand on the screen: one that ends with a mark of its own gets no colon after it, and brackets stand only
/// where there is something in them.
struct Plain;

/// What follows a question and what is in brackets.
fn colon(prompt: &str) -> &'static str {
    if prompt.contains('?') { "" } else { ":" }
}

impl Theme for Plain {
    fn format_prompt(&self, to: &mut dyn fmt::Write, prompt: &str) -> fmt::Result {
        write!(to, "{prompt}{}", colon(prompt))
    }

    fn format_input_prompt(&self, to: &mut dyn fmt::Write, prompt: &str, default: Option<&str>) -> fmt::Result {
        match default.filter(|default| !default.is_empty()) {
            Some(default) => write!(to, "{prompt} [{default}]{} ", colon(prompt)),
            None => write!(to, "{prompt}{} ", colon(prompt)),
        }
    }

    fn format_input_prompt_selection(&self, to: &mut dyn fmt::Write, prompt: &str, answer: &str) -> fmt::Result {
        write!(to, "{prompt}{} {answer}", colon(prompt))
    }
}

/// The answers of a run, in their order.
#[derive(Debug, Default)]
pub struct Answers {
    given: Vec<(String, String)>,
    read: usize,
}

impl Answers {
    /// The questions come once more, from the first on.
    pub fn begin_again(&mut self) {
        self.read = 0;
    }

    /// The answer that this question has already. Where another question comes, things have changed since: it is asked, and so
    /// are those after it.
    fn known(&mut self, question: &str) -> Option<String> {
        match self.given.get(self.read) {
            Some((asked, answer)) if asked == question => {
                self.read += 1;
                Some(answer.clone())
            }
            _ => {
                self.given.truncate(self.read);
                None
            }
        }
    }

    /// The last answer was none.
    fn forget_last(&mut self) {
        self.given.pop();
        self.read = self.given.len();
    }

    fn keep(&mut self, question: &str, answer: &str) {
        self.given.push((question.to_owned(), answer.to_owned()));
        self.read = self.given.len();
    }
}

impl Session {
    /// The answer to a question, which is asked once only.
    fn answered(
        &self,
        question: &str,
        ask: impl FnOnce() -> dialoguer::Result<String>,
    ) -> Result<String, CommandError> {
        let known = self.answers.borrow_mut().known(question);
        if let Some(answer) = known {
            return Ok(answer);
        }
        let answer = ask().map_err(|error| unanswered(question, &error))?;
        self.answers.borrow_mut().keep(question, &answer);
        Ok(answer)
    }

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
        self.answered(question, || {
            let mut input = Input::<String>::with_theme(&Plain).with_prompt(question);
            if let Some(default) = default {
                input = input.default(default.to_owned());
            }
            input.interact_text()
        })
    }

    /// What the user answers, as `read` takes it; what it does not take is told, and the question comes again.
    ///
    /// # Errors
    /// Where nobody can be asked, or nothing is answered.
    pub fn ask_until<T>(
        &self,
        question: &str,
        default: &str,
        read: impl Fn(&str) -> Result<T, CommandError>,
    ) -> Result<T, CommandError> {
        loop {
            match read(&self.or_ask(None, question, question, Some(default))?) {
                Err(error) if self.can_ask => {
                    eprintln!("{error}");
                    self.answers.borrow_mut().forget_last();
                }
                outcome => return outcome,
            }
        }
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
        let picked = self.answered(question, || {
            let picked = Select::with_theme(&Plain).with_prompt(question).items(possible).default(0).interact()?;
            Ok(possible[picked].clone())
        })?;
        let gone = || CommandError::work(format!("{picked:?} is not possible any more; nothing was written"));
        possible.iter().position(|one| *one == picked).ok_or_else(gone)
    }

    /// Yes, or the user's answer; where nobody can be asked, no.
    ///
    /// # Errors
    /// Where the terminal does not answer.
    pub fn is_sure(&self, yes: bool, question: &str) -> Result<bool, CommandError> {
        if yes || !self.can_ask {
            return Ok(yes);
        }
        let answer = self.answered(question, || {
            let yes = Confirm::with_theme(&Plain).with_prompt(question).default(false).interact()?;
            Ok(if yes { "yes" } else { "no" }.to_owned())
        })?;
        Ok(answer == "yes")
    }
}

fn missing(option: &str, question: &str) -> CommandError {
    CommandError::input(format!("{option} is missing. {question}"))
        .hint("give it as an option, or run the command in a terminal to be asked")
}

fn unanswered(question: &str, error: &dyn std::error::Error) -> CommandError {
    CommandError::input(format!("{question:?} was not answered ({error}); nothing was written"))
}
