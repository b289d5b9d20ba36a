//! Which lots the plan takes, for the terminal.

use super::amounts::{amount, count, day};
use super::findings::terminal_findings;
use super::one_line;
use super::paragraph::{on_screen, title};
use super::table::{Align, Screen, Table};
use crate::view::allocate::{AllocateView, DrawView};

/// Why a lot is taken although another one ends sooner.
const NOT_FIRST: &str = "Not first: another lot ends sooner, and is kept so that more is covered, less is lost or \
                         fewer lots are weighed.";

/// The allocation, by day and entry.
#[must_use]
pub fn terminal(view: &AllocateView, entry: Option<&str>, screen: Screen) -> String {
    let mut text = title(&headline(view, entry), screen);
    if !view.short.is_empty() {
        let mut table = Table::new(&[
            ("Day", Align::Left),
            ("Entry", Align::Left),
            ("Product", Align::Left),
            ("Material", Align::Left),
            ("Missing", Align::Right),
        ]);
        for short in &view.short {
            let missing = amount(short.short, &short.unit);
            table.row([&day(short.date, view.as_of), &short.entry, &short.product, &short.name, &missing]);
        }
        text.push_str(&format!("\nMissing:\n\n{}", table.render(screen)));
    }
    if !view.draws.is_empty() {
        text.push_str(&format!("\nTaken:\n\n{}", draws(view).render(screen)));
        if view.draws.iter().any(|draw| draw.departs_from_fefo) {
            text.push_str(&format!("\n{}", on_screen(NOT_FIRST, screen)));
        }
    }
    text.push_str(&terminal_findings(&view.findings, screen));
    text
}

fn headline(view: &AllocateView, entry: Option<&str>) -> String {
    let through = day(view.through, view.as_of);
    if let Some(entry) = entry {
        let product = view.draws.first().map(|draw| &draw.product).or(view.short.first().map(|short| &short.product));
        let entry = product.map_or_else(|| entry.to_owned(), |product| format!("{entry} ({})", one_line(product)));
        return match view.short.len() {
            0 => format!("Everything for {entry} can be taken from lots."),
            short => format!("{} for {entry} cannot be taken from any lot.", count(short, "weighing", "weighings")),
        };
    }
    if view.draws.is_empty() && view.short.is_empty() {
        return format!("Nothing is planned through {through}.");
    }
    match view.short.len() {
        0 => format!("Everything planned through {through} can be taken from lots."),
        short => format!("{} through {through} cannot be taken from any lot.", count(short, "weighing", "weighings")),
    }
}

fn draws(view: &AllocateView) -> Table {
    let mut table = Table::new(&[
        ("Day", Align::Left),
        ("Entry", Align::Left),
        ("Product", Align::Left),
        ("Material", Align::Left),
        ("Take", Align::Right),
        ("Lot", Align::Left),
        ("Place", Align::Left),
        ("Use by", Align::Left),
    ]);
    for draw in &view.draws {
        let place = if draw.on_order { "on order" } else { &draw.place };
        table.row([
            &day(draw.date, view.as_of),
            &draw.entry,
            &draw.product,
            &draw.name,
            &amount(draw.amount, &draw.unit),
            &draw.lot,
            place,
            &use_by(draw, view),
        ]);
    }
    table
}

fn use_by(draw: &DrawView, view: &AllocateView) -> String {
    let date = draw.usable_through.map_or_else(|| "no end".to_owned(), |date| day(date, view.as_of));
    if draw.departs_from_fefo { format!("{date} (not first)") } else { date }
}
