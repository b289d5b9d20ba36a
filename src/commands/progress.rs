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
    /// Where it will be shown; nothing where it is there.
    terminal: Option<ProgressDrawTarget>,
    is_late: Box<dyn FnMut() -> bool>,
    steps: u64,
}

impl Progress {
    /// Of work that begins now.
    #[must_use]
    pub fn begin() -> Self {
        if !std::io::stderr().is_terminal() {
            return Self { line: None };
        }
        Self::shown_on(ProgressDrawTarget::stderr(), Box::new(time_is_up(Some(SECONDS_OF_PATIENCE))))
    }

    fn shown_on(terminal: ProgressDrawTarget, is_late: Box<dyn FnMut() -> bool>) -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        Self { line: Some(RefCell::new(Line { bar, terminal: Some(terminal), is_late, steps: 0 })) }
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
        if self.terminal.is_some()
            && (self.is_late)()
            && let Some(terminal) = self.terminal.take()
        {
            self.bar.set_draw_target(terminal);
        }
        if self.terminal.is_none() {
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

#[cfg(test)]
mod tests {
    use super::*;
    use indicatif::TermLike;
    use std::cell::Cell;
    use std::rc::Rc;
    use std::sync::{Arc, Mutex};

    /// A terminal that keeps what is written.
    #[derive(Clone, Debug, Default)]
    struct Screen(Arc<Mutex<String>>);

    impl Screen {
        fn add(&self, text: &str) -> std::io::Result<()> {
            self.0.lock().unwrap().push_str(text);
            Ok(())
        }

        fn shows(&self, words: &str) -> bool {
            self.0.lock().unwrap().contains(words)
        }
    }

    impl TermLike for Screen {
        fn width(&self) -> u16 {
            60
        }
        fn move_cursor_up(&self, _: usize) -> std::io::Result<()> {
            Ok(())
        }
        fn move_cursor_down(&self, _: usize) -> std::io::Result<()> {
            Ok(())
        }
        fn move_cursor_right(&self, _: usize) -> std::io::Result<()> {
            Ok(())
        }
        fn move_cursor_left(&self, _: usize) -> std::io::Result<()> {
            Ok(())
        }
        fn write_line(&self, text: &str) -> std::io::Result<()> {
            self.add(text)
        }
        fn write_str(&self, text: &str) -> std::io::Result<()> {
            self.add(text)
        }
        fn clear_line(&self) -> std::io::Result<()> {
            self.add("<cleared>")
        }
        fn flush(&self) -> std::io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn it_comes_when_it_is_late_and_goes_when_it_is_over() {
        let (screen, late) = (Screen::default(), Rc::new(Cell::new(false)));
        let is_late = Rc::clone(&late);
        let target = ProgressDrawTarget::term_like_with_hz(Box::new(screen.clone()), 255);
        let progress = Progress::shown_on(target, Box::new(move || is_late.get()));
        progress.turn_to("Writing", Some(100));
        (0..50).for_each(|_| progress.step());
        assert_eq!(*screen.0.lock().unwrap(), "");
        late.set(true);
        (0..STEPS_BETWEEN_LOOKS).for_each(|_| progress.step());
        assert!(screen.shows("Writing") && screen.shows("64 of 100"), "{screen:?}");
        drop(progress);
        assert!(screen.0.lock().unwrap().ends_with("<cleared>"), "{screen:?}");
    }
}
