//! Small exact changes to the lines of one material: a pack more here, one less there, another offer in an order that exists.

use super::books::{Books, Column, Line, Share, credit_of, marginal_of, shares_of};
use super::candidates::{Case, Material, USELESS};
use super::cover::{Delivery, Scratch};

/// Buffers that are reused.
#[derive(Debug, Default)]
pub(super) struct Nudger {
    shares: Vec<Share>,
    deliveries: Vec<Delivery>,
    scratch: Scratch,
    tried: Column,
}

impl Nudger {
    /// The best column that one change away is cheaper than `limit`; the material's own lines must not be in the books.
    pub fn better(
        &mut self,
        case: &Case<'_>,
        books: &Books,
        material: &Material,
        column: &[Line],
        limit: f64,
    ) -> Option<Column> {
        let more = additions(case, books, material, column);
        let amount = |line: &Line| {
            let pack = &case.problem.offers[material.houses[line.house].offers[line.offer]];
            pack.quantity.0.saturating_mul(line.packs)
        };
        let brought: i64 = column.iter().map(amount).sum();
        let mut best = limit;
        let mut found = None;
        for less in 0..=2 * column.len() {
            let gone = match less {
                0 => 0,
                odd if odd % 2 == 1 => amount(&Line { packs: 1, ..column[(less - 1) / 2] }),
                _ => amount(&column[(less - 1) / 2]),
            };
            for more in std::iter::once(None).chain(more.iter().map(Some)) {
                // What is quickly seen to be too little, or too dear whatever is left over, needs no closer look.
                let left_over = brought - gone + more.map_or(0, amount) - material.demand_from[0];
                if left_over < 0 || !self.change(case, material, column, less, more) {
                    continue;
                }
                shares_of(case, material, &self.tried, &mut self.shares);
                let spent = marginal_of(case, books, &self.shares);
                if spent - material.unit_credit * (left_over as f64).min(material.most_credited) >= best {
                    continue;
                }
                let credit = credit_of(case, material, &self.tried, &mut self.deliveries, &mut self.scratch);
                let Some(credit) = credit else { continue };
                let cost = spent - credit;
                if cost < best {
                    best = cost;
                    found = Some(self.tried.clone());
                }
            }
        }
        found
    }

    /// Writes the changed column: `less` takes one pack (odd) or all packs (even) of a line, `more` adds packs of an offer.
    fn change(
        &mut self,
        case: &Case<'_>,
        material: &Material,
        column: &[Line],
        less: usize,
        more: Option<&Line>,
    ) -> bool {
        self.tried.clear();
        self.tried.extend_from_slice(column);
        if less > 0 {
            let line = &mut self.tried[(less - 1) / 2];
            line.packs = if less % 2 == 1 { line.packs - 1 } else { 0 };
        }
        if let Some(more) = more {
            let same = |line: &&mut Line| (line.house, line.place, line.offer) == (more.house, more.place, more.offer);
            match self.tried.iter_mut().find(same) {
                Some(line) => line.packs += more.packs,
                None => self.tried.push(*more),
            }
        }
        self.tried.retain(|line| line.packs > 0);
        self.tried.sort_unstable();
        let sold = |line: &Line| {
            let pack = &case.problem.offers[material.houses[line.house].offers[line.offer]];
            pack.breaks.first().is_some_and(|lowest| line.packs >= lowest.0)
                && pack.most_packs.is_none_or(|most| line.packs <= most)
        };
        self.tried.iter().all(sold)
    }
}

/// One pack more of each line, the packs that its next break lacks, and the fewest packs of every other offer in an order that exists.
fn additions(case: &Case<'_>, books: &Books, material: &Material, column: &[Line]) -> Vec<Line> {
    let mut found = Vec::new();
    for line in column {
        let pack = &case.problem.offers[material.houses[line.house].offers[line.offer]];
        found.push(Line { packs: 1, ..*line });
        let next = pack.breaks.iter().map(|entry| entry.0).find(|&from| from > line.packs + 1);
        found.extend(next.map(|from| Line { packs: from - line.packs, ..*line }));
    }
    for (house_place, house) in material.houses.iter().enumerate() {
        for place in 0..house.slots.len() {
            let own = column.iter().any(|line| (line.house, line.place) == (house_place, place));
            if !(own || books.is_open(house.slots[place])) {
                continue;
            }
            for offer in (0..house.offers.len()).filter(|&offer| house.through[offer][place] != USELESS) {
                let there = |line: &Line| (line.house, line.place, line.offer) == (house_place, place, offer);
                let lowest =
                    case.problem.offers[house.offers[offer]].breaks.first().map_or(1, |lowest| lowest.0.max(1));
                if !column.iter().any(there) {
                    found.push(Line { house: house_place, place, offer, packs: lowest });
                }
            }
        }
    }
    found
}
