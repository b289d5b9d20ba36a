//! What is shown while something takes longer than a second: a line on a terminal's standard error, which goes when it is
//! over. Nothing at all where standard error is no terminal.

use crate::clock::time_is_up;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::cell::RefCell;
use std::io::IsTerminal;

/// What takes no longer shows nothing.
const SECONDS_OF_PATIENCE: f64 = 1.0;

/// So many steps are taken before it is looked again whether the line has to be drawn anew.
const STEPS_BETWEEN_LOOKS: u64 = 16;

/// The line of one piece of work.
pub struct Progress {
    line: Option<RefCell<Line>>,
}

struct Line {
    bar: ProgressBar,
    is_late: Box<dyn FnMut() -> bool>,
    is_shown: bool,
    steps: u64,
}

impl Progress {
    /// Of work that begins now.
    #[must_use]
    pub fn begin() -> Self {
        if !std::io::stderr().is_terminal() {
            return Self { line: None };
        }
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        let is_late = Box::new(time_is_up(Some(SECONDS_OF_PATIENCE)));
        Self { line: Some(RefCell::new(Line { bar, is_late, is_shown: false, steps: 0 })) }
    }

    /// What is done from now on; `steps` where it is known of how many steps it is.
    pub fn turn_to(&self, words: &str, steps: Option<usize>) {
        let Some(line) = &self.line else { return };
        let mut line = line.borrow_mut();
        let template = if steps.is_some() { "{msg} {wide_bar} {pos} of {len}" } else { "{msg} ({elapsed})" };
        if let Ok(style) = ProgressStyle::with_template(template) {
            line.bar.set_style(style);
        }
        line.bar.reset();
        line.bar.set_length(steps.and_then(|steps| u64::try_from(steps).ok()).unwrap_or(0));
        line.bar.set_message(words.to_owned());
        line.steps = 0;
        line.look();
    }

    /// One step further.
    pub fn step(&self) {
        let Some(line) = &self.line else { return };
        let mut line = line.borrow_mut();
        line.steps += 1;
        if line.steps.is_multiple_of(STEPS_BETWEEN_LOOKS) {
            line.look();
        }
    }
}

impl Line {
    fn look(&mut self) {
        if !self.is_shown && (self.is_late)() {
            self.is_shown = true;
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        if self.is_shown {
            self.bar.set_position(self.steps);
            self.bar.tick();
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(line) = &self.line {
            line.borrow().bar.finish_and_clear();
        }
    }
}
