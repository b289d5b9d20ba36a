//! Words in lines of a width.

use super::table::Screen;

/// A paragraph is no wider than this on any terminal: longer lines are hard to read.
const WIDEST: usize = 100;

/// The words, wrapped at `width` characters; `first` stands before the first line, as many spaces before the others.
/// Each line ends with a line break. Nothing for no words.
#[must_use]
pub fn wrapped(first: &str, words: &str, width: usize) -> String {
    let indent = " ".repeat(first.chars().count());
    let mut text = String::new();
    let mut line = String::new();
    let mut lead = first;
    for word in words.split_whitespace() {
        let reach = lead.chars().count() + line.chars().count() + 1 + word.chars().count();
        if !line.is_empty() && reach > width {
            text.push_str(&format!("{lead}{line}\n"));
            line.clear();
            lead = &indent;
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        text.push_str(&format!("{lead}{line}\n"));
    }
    text
}

/// A paragraph for the terminal.
#[must_use]
pub fn on_screen(words: &str, screen: Screen) -> String {
    wrapped("", words, width(screen))
}

/// A paragraph in bold, where the terminal has colours.
#[must_use]
pub fn title(words: &str, screen: Screen) -> String {
    let lines = wrapped("", words, width(screen));
    lines.lines().map(|line| super::table::strong(line, screen.colour) + "\n").collect()
}

/// How wide a paragraph is on the screen.
#[must_use]
pub fn width(screen: Screen) -> usize {
    screen.width.map_or(WIDEST, |columns| usize::from(columns).clamp(20, WIDEST))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_between_words_and_hang_under_the_first() {
        assert_eq!(wrapped("- ", "one two three", 9), "- one two\n  three\n");
        assert_eq!(wrapped("", "unbreakably long", 5), "unbreakably\nlong\n");
        assert_eq!(wrapped("- ", "", 9), "");
    }
}
