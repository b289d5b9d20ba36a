//! What of a whole book is not over yet, with what is left of each lot: in memory what `Reading::book_ahead` reads.

use super::{Book, Standing};
use hashbrown::{HashMap, HashSet};

/// Leaves out what is over: entries that were dropped or made, order lines that came or were cancelled, lots in which nothing is left.
/// `standings` are those of the lots before files changed the book, `made` the entries that have been made. A lot that has not moved
/// holds what it came with. All rates stay.
#[must_use]
pub fn ahead(mut book: Book, standings: &[Standing], made: &HashSet<&str>) -> (Book, Vec<Standing>) {
    let known: HashMap<&str, &Standing> =
        standings.iter().filter(|standing| standing.moved).map(|standing| (standing.lot.as_str(), standing)).collect();
    let mut left = Vec::with_capacity(book.lots.len());
    book.lots.retain(|row| {
        let standing = known.get(row.lot.as_str()).map_or_else(
            || Standing { lot: row.lot.clone(), on_hand: row.amount, cost: row.cost, moved: false },
            |standing| (*standing).clone(),
        );
        let is_left = standing.on_hand.0 > 0;
        left.extend(is_left.then_some(standing));
        is_left
    });
    book.plan.retain(|row| !row.dropped && !made.contains(row.entry.as_str()));
    book.orders.retain(|row| !row.cancelled && row.packs_received < row.packs);
    (book, left)
}
