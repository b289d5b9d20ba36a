//! A document as plain text: for the terminal, and for a letter's text part, where a table that is too wide for a line
//! becomes a short paragraph for each row.

use super::document::{Block, Document, OrderLine, Section, Sum};
use super::paragraph::{title, width, wrapped};
use super::table::{Align, Screen, Table};

/// Width of a letter's lines, in characters. RFC 5322 asks for at most 78; 72 leaves room to be quoted.
pub const LETTER_WIDTH: usize = 72;

/// What the text is for.
#[derive(Clone, Copy)]
enum For {
    Terminal(Screen),
    Letter,
}

impl For {
    fn width(self) -> usize {
        match self {
            Self::Terminal(screen) => width(screen),
            Self::Letter => LETTER_WIDTH,
        }
    }
}

/// The document for the terminal. Pictures are left out: the tables beside them say the same.
#[must_use]
pub fn terminal(document: &Document, screen: Screen) -> String {
    let mut text = title(&document.title, screen);
    body(&mut text, document, For::Terminal(screen));
    text
}

/// The document for a letter or a text file, at most 72 characters wide where words allow it, lines ended by LF.
#[must_use]
pub fn letter(document: &Document) -> String {
    let mut text = wrapped("", &document.title, LETTER_WIDTH);
    body(&mut text, document, For::Letter);
    text
}

/// Several documents for one letter, a rule between them.
#[must_use]
pub fn letters(documents: &[Document]) -> String {
    let rule = format!("\n{}\n\n", "=".repeat(LETTER_WIDTH));
    documents.iter().map(letter).collect::<Vec<_>>().join(&rule)
}

fn body(text: &mut String, document: &Document, purpose: For) {
    for fact in &document.facts {
        text.push_str(&wrapped("", &format!("{fact}."), purpose.width()));
    }
    for section in &document.sections {
        self::section(text, section, purpose);
    }
    if !document.footer.is_empty() {
        text.push('\n');
    }
    for words in &document.footer {
        text.push_str(&wrapped("", words, purpose.width()));
    }
}

fn section(text: &mut String, section: &Section, purpose: For) {
    let mut words = String::new();
    let (mut apart, mut was_sums) = (section.heading.is_empty(), false);
    for block in &section.blocks {
        let block_words = self::block(block, purpose);
        if block_words.is_empty() {
            continue;
        }
        let stands_apart = matches!(block, Block::Table(_) | Block::Lines { .. } | Block::Picture(_));
        let after_sums = was_sums && matches!(block, Block::List { .. });
        if apart || stands_apart || after_sums {
            words.push('\n');
        }
        words.push_str(&block_words);
        (apart, was_sums) = (stands_apart, matches!(block, Block::Sums { .. }));
    }
    // A section of pictures alone is nothing on the terminal.
    if !words.is_empty() {
        text.push_str(&heading(&section.heading, purpose));
        text.push_str(&words);
    }
}

fn heading(words: &str, purpose: For) -> String {
    if words.is_empty() {
        return String::new();
    }
    match purpose {
        For::Terminal(screen) => format!("\n{}", title(words, screen)),
        For::Letter => {
            let rule = "-".repeat(words.chars().count().min(LETTER_WIDTH));
            format!("\n{}{rule}\n", wrapped("", words, LETTER_WIDTH))
        }
    }
}

fn block(block: &Block, purpose: For) -> String {
    match (block, purpose) {
        (Block::Paragraph { text }, _) => wrapped("", text, purpose.width()),
        (Block::List { lines, left_out }, _) => {
            let lines: String = lines.iter().map(|line| wrapped("- ", line, purpose.width())).collect();
            lines + &more(*left_out)
        }
        (Block::Table(table), For::Terminal(screen)) => table.render(screen),
        (Block::Table(table), For::Letter) => letter_table(table) + &more(table.left_out()),
        (Block::Lines { lines, .. }, For::Terminal(screen)) => order_table(lines).render(screen),
        (Block::Lines { lines, left_out }, For::Letter) => {
            let lines: Vec<String> = lines.iter().map(order_line).collect();
            lines.join("\n") + &more(*left_out)
        }
        (Block::Sums { sums }, _) => self::sums(sums),
        (Block::Picture(_), For::Terminal(_)) => String::new(),
        (Block::Picture(picture), For::Letter) => wrapped("", &picture.caption, LETTER_WIDTH),
    }
}

fn more(left_out: usize) -> String {
    if left_out == 0 { String::new() } else { format!("... and {left_out} more in the attached file.\n") }
}

/// The table as it is where it fits a line, else a paragraph for each row.
fn letter_table(table: &Table) -> String {
    let whole = table.render(Screen::default());
    if whole.lines().all(|line| line.chars().count() <= LETTER_WIDTH) {
        return whole;
    }
    let mut text = String::new();
    for row in table.rows() {
        let (head, rest) = row.split_at(table.lead_columns().min(row.len()));
        let head: Vec<&str> = head.iter().map(String::as_str).filter(|cell| !cell.is_empty()).collect();
        text.push_str(&wrapped("* ", &head.join(", "), LETTER_WIDTH));
        let titles = &table.titles()[table.lead_columns().min(table.titles().len())..];
        let cells = titles.iter().zip(rest).filter(|(_, cell)| !cell.is_empty());
        let cells: Vec<String> = cells.map(|(title, cell)| format!("{title}: {cell}").trim().to_owned()).collect();
        text.push_str(&wrapped("  ", &cells.join("; "), LETTER_WIDTH));
    }
    text
}

fn order_table(lines: &[OrderLine]) -> Table {
    let mut table = Table::new(&[
        ("Material", Align::Left),
        ("Packs", Align::Left),
        ("Price", Align::Right),
        ("Sum", Align::Right),
        ("Item", Align::Left),
        ("Why", Align::Left),
    ]);
    for line in lines {
        let mut why = line.why.join("; ");
        if !line.left_over.is_empty() {
            why.push_str(&format!("; {} left over", line.left_over));
        }
        table.row([&line.name, &line.packs, &line.price, &line.sum, &line.item_no, &why]);
    }
    table
}

fn order_line(line: &OrderLine) -> String {
    let sum = if line.sum.is_empty() { String::new() } else { format!(" = {}", line.sum) };
    let mut text = wrapped("* ", &format!("{}, {} at {}{sum}", line.name, line.packs, line.price), LETTER_WIDTH);
    let number = if line.item_no.is_empty() { String::new() } else { format!("item {}; ", line.item_no) };
    text.push_str(&wrapped("  ", &format!("{number}{} in all", line.amount), LETTER_WIDTH));
    for why in &line.why {
        text.push_str(&wrapped("  - ", why, LETTER_WIDTH));
    }
    if !line.left_over.is_empty() {
        text.push_str(&wrapped("  - ", &format!("{} left over", line.left_over), LETTER_WIDTH));
    }
    text
}

/// Names and amounts in two columns.
fn sums(sums: &[Sum]) -> String {
    let label_width = sums.iter().map(|sum| sum.label.chars().count()).max().unwrap_or(0);
    let amount_width = sums.iter().map(|sum| sum.amount.chars().count()).max().unwrap_or(0);
    let line = |sum: &Sum| format!("{:<label_width$}  {:>amount_width$}\n", sum.label, sum.amount);
    sums.iter().map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_line_up() {
        let sum = |label: &str, amount: &str| Sum { label: label.into(), amount: amount.into(), strong: false };
        let text = sums(&[sum("Goods", "112.40 EUR"), sum("Postage", "4.90 EUR")]);
        assert_eq!(text, "Goods    112.40 EUR\nPostage    4.90 EUR\n");
    }

    fn document(columns: &[(&str, Align)], row: &[&str]) -> Document {
        let mut table = Table::new(columns);
        table.row(row);
        table.row(row);
        table.cut(1);
        let list = Block::list(vec!["first".to_owned(), "second".to_owned()]);
        Document::new("stock", "The news").fact("Of today").section("Part", vec![Block::Table(table), list])
    }

    #[test]
    fn a_table_that_fits_stays_one_and_a_wide_one_becomes_paragraphs() {
        let narrow = document(&[("Material", Align::Left), ("Amount", Align::Right)], &["Shea", "1 kg"]);
        assert_eq!(
            letter(&narrow),
            "The news\nOf today.\n\nPart\n----\n\nMaterial  Amount\n------------------\nShea        1 kg\n\
             ... and 1 more in the attached file.\n\n- first\n- second\n"
        );
        let long = "word ".repeat(14);
        let wide = document(
            &[("Day", Align::Left), ("Material", Align::Left), ("Amount", Align::Right), ("Why", Align::Left)],
            &["Mon", "Shea", "", &long],
        );
        let text = letter(&wide);
        assert!(text.contains("* Mon, Shea\n  Why: word word"), "{text}");
        assert!(text.lines().all(|line| line.chars().count() <= LETTER_WIDTH), "{text}");
    }

    #[test]
    fn the_terminal_has_no_rules_under_headings() {
        let narrow = document(&[("Material", Align::Left), ("Amount", Align::Right)], &["Shea", "1 kg"]);
        let text = terminal(&narrow, Screen::default());
        assert!(text.starts_with("The news\nOf today.\n\nPart\n\nMaterial  Amount\n"), "{text}");
    }
}
