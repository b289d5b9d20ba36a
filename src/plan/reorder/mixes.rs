//! Which packs of one supplier make up an amount: the sensible mixes, cheap ones first.

use super::Problem;
use super::evaluate::unit_price;
use crate::plan::model::Postage;

/// Most pack sizes in one mix.
pub(super) const KINDS: usize = 3;

/// Most mixes that are kept for one amount.
const KEPT: usize = 7;

/// So many packs of up to three offers.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Mix {
    /// Places among the house's offers, with packs; those with 0 packs are not there.
    pub packs: [(u16, i64); KINDS],
    /// What they bring.
    pub quantity: i64,
    /// What they cost, in the supplier's minor units.
    pub goods: i64,
    /// What they weigh.
    pub weight_mg: i64,
    /// When the first of them expires.
    pub through: i32,
}

impl Mix {
    /// The packs that are there.
    pub fn lines(&self) -> impl Iterator<Item = (usize, i64)> + '_ {
        self.packs.iter().filter(|(_, packs)| *packs > 0).map(|&(offer, packs)| (usize::from(offer), packs))
    }
}

/// Makes mixes of one house's offers.
#[derive(Debug)]
pub(super) struct Mixer<'a> {
    /// The problem.
    pub problem: &'a Problem,
    /// Places in the problem's offers, bigger packs first.
    pub offers: &'a [usize],
}

impl Mixer<'_> {
    /// Collects the mixes that bring at least `amount` and last through `through`: each brings more than all cheaper ones.
    /// `usable` tells through which day an offer lasts.
    pub fn mixes(&self, amount: i64, through: i32, usable: impl Fn(usize) -> i32, found: &mut Vec<Mix>) {
        found.clear();
        for first in 0..self.offers.len() {
            if usable(first) < through {
                continue;
            }
            self.singles(Mix { through: i32::MAX, ..Mix::default() }, 0, first, amount, &usable, found);
            for second in (0..self.offers.len()).filter(|&second| second != first && usable(second) >= through) {
                self.pairs(first, second, amount, through, &usable, found);
            }
        }
        let house = self.offers.first().map(|&offer| &self.problem.suppliers[self.problem.offers[offer].supplier]);
        keep_the_useful(found, house.is_some_and(|terms| matches!(terms.postage, Postage::ByWeight(_))));
    }

    /// The mix with a single offer that reaches `goods` and brings at least `amount`.
    #[must_use]
    pub fn reaching(&self, offer: usize, amount: i64, goods: i64, usable: i32) -> Option<Mix> {
        let pack = &self.problem.offers[self.offers[offer]];
        let least = pack.breaks.first()?.0.max(ceiling(amount, pack.quantity.0)).max(1);
        let mut from = least;
        for step in 0..=pack.breaks.len() {
            let price = unit_price(pack, from)?.minor;
            let packs = if price > 0 { from.max((goods + price - 1).div_euclid(price)) } else { from };
            let next = pack.breaks.iter().map(|entry| entry.0).find(|&next| next > from);
            let reached = price > 0 && packs.saturating_mul(price) >= goods;
            if reached && next.is_none_or(|next| packs < next) {
                return self.with(Mix { through: i32::MAX, ..Mix::default() }, 0, offer, packs, usable);
            }
            from = next.filter(|_| step < pack.breaks.len())?;
        }
        None
    }

    /// So many packs of one offer; `None` where so few are not sold.
    #[must_use]
    pub fn single(&self, offer: usize, packs: i64, usable: i32) -> Option<Mix> {
        self.with(Mix { through: i32::MAX, ..Mix::default() }, 0, offer, packs, usable)
    }

    /// Adds packs of one more offer to a mix.
    fn with(&self, mut mix: Mix, kind: usize, offer: usize, packs: i64, usable: i32) -> Option<Mix> {
        let pack = &self.problem.offers[self.offers[offer]];
        let price = unit_price(pack, packs).filter(|_| pack.most_packs.is_none_or(|most| packs <= most))?;
        mix.packs[kind] = (u16::try_from(offer).ok()?, packs);
        mix.quantity = mix.quantity.saturating_add(pack.quantity.0.saturating_mul(packs));
        mix.goods = mix.goods.saturating_add(price.minor.saturating_mul(packs));
        mix.weight_mg = mix.weight_mg.saturating_add(pack.weight_mg.saturating_mul(packs));
        mix.through = mix.through.min(usable);
        Some(mix)
    }

    /// Completes a mix with one offer: as few packs as do, and the breaks above that.
    fn singles(
        &self,
        mix: Mix,
        kind: usize,
        offer: usize,
        amount: i64,
        usable: &impl Fn(usize) -> i32,
        found: &mut Vec<Mix>,
    ) {
        let pack = &self.problem.offers[self.offers[offer]];
        let Some(&(lowest, _)) = pack.breaks.first() else { return };
        let packs = ceiling(amount - mix.quantity, pack.quantity.0).max(lowest).max(1);
        found.extend(self.with(mix, kind, offer, packs, usable(offer)));
        for &(from, _) in pack.breaks.iter().filter(|(from, _)| *from > packs).take(2) {
            found.extend(self.with(mix, kind, offer, from, usable(offer)));
        }
    }

    /// Mixes of two offers, and of a third for the rest.
    fn pairs(
        &self,
        first: usize,
        second: usize,
        amount: i64,
        through: i32,
        usable: &impl Fn(usize) -> i32,
        found: &mut Vec<Mix>,
    ) {
        let pack = &self.problem.offers[self.offers[first]];
        let most = (amount - 1).div_euclid(pack.quantity.0);
        let mut counts = [0_i64; 5];
        let breaks = pack.breaks.iter().map(|entry| entry.0).filter(|&from| from < most).rev();
        for (slot, count) in counts.iter_mut().zip((0..3).map(|less| most - less).chain(breaks)) {
            *slot = count;
        }
        for (place, &count) in counts.iter().enumerate() {
            if count < 1 || counts[..place].contains(&count) {
                continue;
            }
            let start = Mix { through: i32::MAX, ..Mix::default() };
            let Some(mix) = self.with(start, 0, first, count, usable(first)) else { continue };
            self.singles(mix, 1, second, amount, usable, found);
            if place > 0 || second < first {
                continue;
            }
            let middle = &self.problem.offers[self.offers[second]];
            let whole = (amount - mix.quantity - 1).div_euclid(middle.quantity.0);
            for count in (1..=whole).rev().take(2) {
                let Some(mix) = self.with(mix, 1, second, count, usable(second)) else { continue };
                for third in (second + 1..self.offers.len()).filter(|&third| usable(third) >= through) {
                    self.singles(mix, 2, third, amount, usable, found);
                }
            }
        }
    }
}

/// `amount / size`, rounded up.
fn ceiling(amount: i64, size: i64) -> i64 {
    -(-amount).div_euclid(size)
}

/// Sorts by goods and drops what brings no more than something cheaper (nor is lighter, where that counts), and all beyond a few.
fn keep_the_useful(found: &mut Vec<Mix>, by_weight: bool) {
    found
        .sort_by_key(|mix| (mix.goods, std::cmp::Reverse(mix.quantity), mix.weight_mg, std::cmp::Reverse(mix.through)));
    let (mut most, mut lightest) = (i64::MIN, i64::MAX);
    found.retain(|mix| {
        let useful = mix.quantity > most || by_weight && mix.weight_mg < lightest;
        most = most.max(mix.quantity);
        lightest = lightest.min(mix.weight_mg);
        useful
    });
    found.truncate(KEPT);
}
