//! The reorder list as plain text: for a letter's text part, and for the terminal.

use super::paragraph::{title, wrapped};
use super::reorder::{OrderPage, ReorderPage, SumPage};
use super::table::{Align, Screen, Table, strong};

/// Width of a letter's lines, in characters. RFC 5322 asks for at most 78; 72 leaves room to be quoted.
const LETTER_WIDTH: usize = 72;

/// The list for a letter, at most 72 characters wide where words allow it, lines ended by LF.
#[must_use]
pub fn letter(page: &ReorderPage) -> String {
    let mut text = String::new();
    paragraph(&mut text, "", &page.headline);
    paragraph(&mut text, "", &format!("Reorder list of {}, for the plan through {}.", page.today, page.through));
    late(&mut text, page);
    uncovered(&mut text, page);
    for order in &page.orders {
        text.push('\n');
        heading(&mut text, &order_title(order));
        paragraph(&mut text, "", &arrival(order));
        for line in &order.lines {
            text.push('\n');
            let sum = if line.sum.is_empty() { String::new() } else { format!(" = {}", line.sum) };
            paragraph(&mut text, "* ", &format!("{}, {} at {}{sum}", line.name, line.packs, line.price));
            let number = if line.item_no.is_empty() { String::new() } else { format!("item {}; ", line.item_no) };
            paragraph(&mut text, "  ", &format!("{number}{} in all", line.amount));
            for why in &line.why {
                paragraph(&mut text, "  - ", why);
            }
            if !line.left_over.is_empty() {
                paragraph(&mut text, "  - ", &format!("{} left over", line.left_over));
            }
        }
        text.push('\n');
        sums(&mut text, &order.sums);
        why(&mut text, order);
    }
    outlook(&mut text, page);
    closing(&mut text, page);
    text
}

/// Why an order is on the list.
fn why(text: &mut String, order: &OrderPage) {
    if !order.why.is_empty() {
        text.push('\n');
    }
    for words in &order.why {
        paragraph(text, "- ", words);
    }
}

/// Orders that can wait.
fn outlook(text: &mut String, page: &ReorderPage) {
    if page.outlook.is_empty() {
        return;
    }
    text.push('\n');
    heading(text, "Can wait");
    for order in &page.outlook {
        paragraph(text, "- ", order);
    }
}

/// The list for the terminal: one table for each order.
#[must_use]
pub fn terminal(page: &ReorderPage, screen: Screen) -> String {
    let mut text = title(&page.headline, screen);
    late(&mut text, page);
    uncovered(&mut text, page);
    for order in &page.orders {
        lines(&mut text, order, screen);
        text.push('\n');
        sums(&mut text, &order.sums);
        why(&mut text, order);
    }
    outlook(&mut text, page);
    closing(&mut text, page);
    text
}

/// What the list holds of one material, for the terminal: no sums, since they are those of whole orders.
#[must_use]
pub fn of_material(page: &ReorderPage, name: &str, screen: Screen) -> String {
    if page.orders.is_empty() && page.late.is_empty() {
        let mut text = format!("{name} is not on the reorder list: what is there and on its way covers it.\n");
        offers(&mut text, page, screen);
        return text;
    }
    let mut text = format!("{}\n", strong(&format!("{name} on the reorder list:"), screen.colour));
    late(&mut text, page);
    uncovered(&mut text, page);
    for order in &page.orders {
        lines(&mut text, order, screen);
        why(&mut text, order);
    }
    offers(&mut text, page, screen);
    text
}

/// What is offered of the material that was asked for.
fn offers(text: &mut String, page: &ReorderPage, screen: Screen) {
    if page.offers.is_empty() {
        return;
    }
    text.push_str(&format!("\n{}\n\n", strong("Offers", screen.colour)));
    let mut table = Table::new(&[
        ("Supplier", Align::Left),
        ("Pack", Align::Left),
        ("Price", Align::Right),
        ("With duty", Align::Right),
        ("Here on", Align::Left),
        ("", Align::Left),
    ]);
    for offer in &page.offers {
        table.row([&offer[0], &offer[1], &offer[2], &offer[3], &offer[4], &offer[5]]);
    }
    text.push_str(&table.render(screen));
}

fn lines(text: &mut String, order: &OrderPage, screen: Screen) {
    text.push_str(&format!("\n{}\n{}\n\n", strong(&order_title(order), screen.colour), arrival(order)));
    let mut table = Table::new(&[
        ("Material", Align::Left),
        ("Packs", Align::Left),
        ("Price", Align::Right),
        ("Sum", Align::Right),
        ("Item", Align::Left),
        ("Why", Align::Left),
    ]);
    for line in &order.lines {
        let mut why = line.why.join("; ");
        if !line.left_over.is_empty() {
            why.push_str(&format!("; {} left over", line.left_over));
        }
        table.row([&line.name, &line.packs, &line.price, &line.sum, &line.item_no, &why]);
    }
    text.push_str(&table.render(screen));
}

fn late(text: &mut String, page: &ReorderPage) {
    if page.late.is_empty() {
        return;
    }
    text.push('\n');
    heading(text, "Cannot come in time");
    for late in &page.late {
        let more = |words: &String| if words.is_empty() { String::new() } else { format!("; {words}") };
        let (offer, waits) = (more(&late.offer), more(&late.waits));
        paragraph(text, "- ", &format!("{}: {}; {}{offer}{waits}.", late.name, late.short, late.soonest));
    }
    if !page.moves_note.is_empty() {
        text.push('\n');
    }
    for moved in &page.moves {
        paragraph(text, "- ", moved);
    }
    paragraph(text, "", &page.moves_note);
}

/// What a budget leaves uncovered.
fn uncovered(text: &mut String, page: &ReorderPage) {
    if page.uncovered.is_empty() {
        return;
    }
    text.push('\n');
    heading(text, "Not paid by the budget");
    for item in &page.uncovered {
        paragraph(text, "- ", item);
    }
}

fn order_title(order: &OrderPage) -> String {
    let when = if order.order_today { "Order today," } else { "Order by" };
    format!("{when} {}: {}", order.order_on, order.supplier)
}

fn arrival(order: &OrderPage) -> String {
    let to = if order.email.is_empty() { String::new() } else { format!(" Orders go to {}.", order.email) };
    format!("It should be here on {}.{to}", order.arrives_on)
}

fn closing(text: &mut String, page: &ReorderPage) {
    if !page.sums.is_empty() {
        text.push('\n');
        heading(text, "All together");
        sums(text, &page.sums);
    }
    paragraph(text, "", &page.gap);
    if !page.notes.is_empty() {
        text.push('\n');
        heading(text, "How this list was made");
        for note in &page.notes {
            paragraph(text, "- ", note);
        }
    }
    if !page.findings.is_empty() {
        text.push('\n');
        heading(text, "Also noticed");
        for finding in &page.findings {
            paragraph(text, "- ", finding);
        }
    }
    text.push('\n');
    paragraph(text, "", &page.footer);
}

fn heading(text: &mut String, title: &str) {
    let rule = "-".repeat(title.chars().count().min(LETTER_WIDTH));
    text.push_str(&format!("{title}\n{rule}\n"));
}

/// Names and amounts in two columns.
fn sums(text: &mut String, sums: &[SumPage]) {
    let label_width = sums.iter().map(|sum| sum.label.chars().count()).max().unwrap_or(0);
    let amount_width = sums.iter().map(|sum| sum.amount.chars().count()).max().unwrap_or(0);
    for sum in sums {
        text.push_str(&format!("{:<label_width$}  {:>amount_width$}\n", sum.label, sum.amount));
    }
}

/// Adds a paragraph of a letter.
fn paragraph(text: &mut String, first: &str, words: &str) {
    text.push_str(&wrapped(first, words, LETTER_WIDTH));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paragraphs_wrap_at_words_and_hang() {
        let mut text = String::new();
        paragraph(&mut text, "* ", &"word ".repeat(20));
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 2);
        assert!(lines[0].starts_with("* word") && lines[1].starts_with("  word"), "{text}");
        assert!(lines.iter().all(|line| line.len() <= LETTER_WIDTH), "{text}");
        let mut long = String::new();
        paragraph(&mut long, "", &"x".repeat(200));
        assert_eq!(long.trim_end().len(), 200, "a word too long for a line is kept whole");
        let mut nothing = String::new();
        paragraph(&mut nothing, "* ", "  ");
        assert_eq!(nothing, "");
    }

    #[test]
    fn sums_line_up() {
        let sum = |label: &str, amount: &str| SumPage { label: label.into(), amount: amount.into(), strong: false };
        let mut text = String::new();
        sums(&mut text, &[sum("Goods", "112.40 EUR"), sum("Postage", "4.90 EUR")]);
        assert_eq!(text, "Goods    112.40 EUR\nPostage    4.90 EUR\n");
    }
}
