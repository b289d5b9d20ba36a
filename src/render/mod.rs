//! Views become what people read: text, terminal tables, HTML pages, CSV. Nothing here knows the store or the mail.

pub mod acts;
pub mod allocate;
pub mod amounts;
pub mod batch;
pub mod cost;
pub mod counting;
pub mod csv;
pub mod document;
pub mod expiring;
pub mod findings;
pub mod forecast;
pub mod formula;
pub mod html;
pub mod ical;
pub mod lines;
pub mod lot;
pub mod month;
pub mod order_letter;
pub mod orders;
pub mod outbox;
pub mod paragraph;
pub mod picture;
pub mod pieces;
pub mod plan;
pub mod reorder;
mod reorder_hand;
pub mod report;
pub mod rescue;
pub mod safe;
pub mod schedules;
pub mod sparkline;
pub mod stock;
pub mod stocktake;
pub mod suppliers;
pub mod table;
pub mod text;
pub mod today;
pub mod trace;
pub mod weigh;
pub mod wishes;

/// A name from the workshop's files as one harmless line: control characters (line breaks, terminal escapes) become
/// spaces, and the characters that turn the direction of writing are left out, since they can make a text read
/// otherwise than it stands (Unicode Technical Report 36, bidirectional spoofing).
#[must_use]
pub fn one_line(text: &str) -> String {
    let breaks = |letter: char| letter.is_control() || matches!(letter, '\u{2028}' | '\u{2029}');
    let kept = text.chars().filter(|&letter| !turns(letter));
    let line: String = kept.map(|letter| if breaks(letter) { ' ' } else { letter }).collect();
    line.trim().to_owned()
}

/// Lines in which names from outside may stand, a file's say, as a terminal may show them: without its commands, and without
/// what turns the direction of writing. Line breaks stay, and where they are `styled`, the escapes that make bold.
#[must_use]
pub fn harmless(lines: &str, styled: bool) -> String {
    let stays = |letter| letter == '\n' || styled && letter == '\u{1b}';
    let kept = lines.chars().filter(|&letter| !turns(letter));
    kept.map(|letter| if letter.is_control() && !stays(letter) { '\u{fffd}' } else { letter }).collect()
}

/// True for what turns the direction of writing.
fn turns(letter: char) -> bool {
    matches!(letter, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::one_line;

    #[test]
    fn a_name_stays_on_its_line() {
        assert_eq!(one_line("Shea\r\nBcc: x@y"), "Shea  Bcc: x@y");
        assert_eq!(one_line("\u{1b}[31mred"), "[31mred");
        assert_eq!(one_line("a\u{202e}b\u{2028}c"), "ab c");
        assert_eq!(one_line("乳木果油 ñandú"), "乳木果油 ñandú");
    }
}
