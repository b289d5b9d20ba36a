//! The wishes that are kept, for the terminal.

use super::one_line;
use super::paragraph::title;
use super::table::{Align, Screen, Table};
use crate::view::wishes::WishesView;

/// The list.
#[must_use]
pub fn terminal(view: &WishesView, screen: Screen) -> String {
    if view.wishes.is_empty() {
        return "No wish is kept. `stillroom wish exclude|pin|prefer|budget` keeps one.\n".to_owned();
    }
    let mut text = title("What every reorder list heeds:", screen);
    let mut table = Table::new(&[("Wish", Align::Left), ("What", Align::Left), ("Why", Align::Left)]);
    for wish in &view.wishes {
        table.row([&one_line(&wish.wish), &one_line(&wish.what), &one_line(&wish.reason)]);
    }
    text.push('\n');
    text.push_str(&table.render(screen));
    text.push_str("\n`stillroom wish lift WISH` ends one.\n");
    text
}
