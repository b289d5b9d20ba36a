//! Which packs of one supplier make up an amount: the sensible mixes, cheap ones first.

use super::Problem;
use super::candidates::{Case, House};
use super::evaluate::unit_price;
use crate::plan::model::Postage;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};
use std::ops::Range;

/// Most pack sizes in one mix.
pub(super) const KINDS: usize = 3;

/// Most mixes that are kept for one amount.
const KEPT: usize = 5;

/// So many packs of up to three offers.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Mix {
    /// Places among the house's offers, with packs; those with 0 packs are not there.
    pub packs: [(u16, u32); KINDS],
    /// What they bring.
    pub quantity: i64,
    /// What they cost, in the supplier's minor units.
    pub goods: i64,
    /// What they weigh.
    pub weight_mg: i64,
}

impl Mix {
    /// The packs that are there.
    pub fn lines(&self) -> impl Iterator<Item = (usize, i64)> + '_ {
        self.packs.iter().filter(|(_, packs)| *packs > 0).map(|&(offer, packs)| (usize::from(offer), i64::from(packs)))
    }
}

/// The bit of an offer in a set of a house's offers.
#[must_use]
pub(super) fn bit(offer: usize) -> u32 {
    1_u32.wrapping_shl(u32::try_from(offer).unwrap_or(31))
}

/// Material, house, amount, and the offers that last, as bits.
type Wanted = (u32, u32, i64, u32);

/// So many mixes are remembered at the most, to spare memory: a year's plan of a big workshop asks for millions.
const REMEMBERED: usize = 1 << 17;

/// Mixes made before, so that few are made twice.
#[derive(Debug, Default)]
pub(super) struct Made {
    mixes: Vec<Mix>,
    places: HashMap<Wanted, (u32, u32), BuildHasherDefault<Stir>>,
    made: Vec<Mix>,
}

impl Made {
    /// The places of the mixes of a house for an amount, cheapest first; `key` names material and house.
    pub fn find(
        &mut self,
        case: &Case<'_>,
        key: (usize, usize),
        house: &House,
        amount: i64,
        lasting: u32,
    ) -> Range<u32> {
        let key = (key.0 as u32, key.1 as u32, amount, lasting);
        if let Some(&(first, end)) = self.places.get(&key) {
            return first..end;
        }
        Mixer { problem: case.problem, offers: &house.offers }.mixes(amount, lasting, &mut self.made);
        if self.mixes.len() + self.made.len() > REMEMBERED {
            self.mixes.clear();
            self.places.clear();
        }
        let first = self.mixes.len() as u32;
        self.mixes.extend_from_slice(&self.made);
        let end = self.mixes.len() as u32;
        self.places.insert(key, (first, end));
        first..end
    }

    /// The mix at a place.
    #[must_use]
    pub fn mix(&self, place: u32) -> Mix {
        self.mixes[place as usize]
    }
}

/// A quick hash for small keys that nobody chooses to do harm with; its order is never looked at.
#[derive(Debug, Default)]
pub(super) struct Stir(u64);

impl Hasher for Stir {
    fn write(&mut self, bytes: &[u8]) {
        bytes.iter().for_each(|&byte| self.write_u64(u64::from(byte)));
    }
    fn write_u64(&mut self, value: u64) {
        self.0 = (self.0.rotate_left(5) ^ value).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }
    fn write_u32(&mut self, value: u32) {
        self.write_u64(u64::from(value));
    }
    fn write_usize(&mut self, value: usize) {
        self.write_u64(value as u64);
    }
    fn write_i64(&mut self, value: i64) {
        self.write_u64(value.cast_unsigned());
    }
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 29)
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
    /// Collects the mixes that bring at least `amount`, of offers whose bit is set: each brings more than all cheaper ones.
    pub fn mixes(&self, amount: i64, lasting: u32, found: &mut Vec<Mix>) {
        let usable = |offer: usize| lasting & bit(offer) != 0;
        found.clear();
        for first in 0..self.offers.len() {
            if !usable(first) {
                continue;
            }
            self.singles(Mix::default(), 0, first, amount, found);
            for second in (0..self.offers.len()).filter(|&second| second != first && usable(second)) {
                self.pairs(first, second, amount, &usable, found);
            }
        }
        let house = self.offers.first().map(|&offer| &self.problem.suppliers[self.problem.offers[offer].supplier]);
        let by_weight = house.is_some_and(|terms| matches!(terms.postage, Postage::ByWeight(_)));
        keep_the_useful(found, by_weight, self.costs_to_be_rid_of());
    }

    /// True where left-over costs something, so that less of it may be worth a higher price.
    fn costs_to_be_rid_of(&self) -> bool {
        let item = self.offers.first().map(|&offer| self.problem.offers[offer].item);
        self.problem.credits.iter().any(|credit| Some(credit.item) == item && credit.disposal.0 > 0)
    }

    /// The mix with a single offer that reaches `goods` and brings at least `amount`.
    #[must_use]
    pub fn reaching(&self, offer: usize, amount: i64, goods: i64) -> Option<Mix> {
        let pack = &self.problem.offers[self.offers[offer]];
        let least = pack.breaks.first()?.0.max(ceiling(amount, pack.quantity.0)).max(1);
        let mut from = least;
        for step in 0..=pack.breaks.len() {
            let price = unit_price(pack, from)?.minor;
            let packs = if price > 0 { from.max((goods + price - 1).div_euclid(price)) } else { from };
            let next = pack.breaks.iter().map(|entry| entry.0).find(|&next| next > from);
            let reached = price > 0 && packs.saturating_mul(price) >= goods;
            if reached && next.is_none_or(|next| packs < next) {
                return self.with(Mix::default(), 0, offer, packs);
            }
            from = next.filter(|_| step < pack.breaks.len())?;
        }
        None
    }

    /// So many packs of one offer; `None` where so few are not sold.
    #[must_use]
    pub fn single(&self, offer: usize, packs: i64) -> Option<Mix> {
        self.with(Mix::default(), 0, offer, packs)
    }

    /// Adds packs of one more offer to a mix.
    fn with(&self, mut mix: Mix, kind: usize, offer: usize, packs: i64) -> Option<Mix> {
        let pack = &self.problem.offers[self.offers[offer]];
        let price = unit_price(pack, packs).filter(|_| pack.most_packs.is_none_or(|most| packs <= most))?;
        mix.packs[kind] = (u16::try_from(offer).ok()?, u32::try_from(packs).ok()?);
        mix.quantity = mix.quantity.saturating_add(pack.quantity.0.saturating_mul(packs));
        mix.goods = mix.goods.saturating_add(price.minor.saturating_mul(packs));
        mix.weight_mg = mix.weight_mg.saturating_add(pack.weight_mg.saturating_mul(packs));
        Some(mix)
    }

    /// Completes a mix with one offer: as few packs as do, and the breaks above that.
    fn singles(&self, mix: Mix, kind: usize, offer: usize, amount: i64, found: &mut Vec<Mix>) {
        let pack = &self.problem.offers[self.offers[offer]];
        let Some(&(lowest, _)) = pack.breaks.first() else { return };
        let packs = ceiling(amount - mix.quantity, pack.quantity.0).max(lowest).max(1);
        found.extend(self.with(mix, kind, offer, packs));
        for &(from, _) in pack.breaks.iter().filter(|(from, _)| *from > packs).take(2) {
            found.extend(self.with(mix, kind, offer, from));
        }
    }

    /// Mixes of two offers, and of a third for the rest.
    fn pairs(&self, first: usize, second: usize, amount: i64, usable: &impl Fn(usize) -> bool, found: &mut Vec<Mix>) {
        let pack = &self.problem.offers[self.offers[first]];
        let most = (amount - 1).div_euclid(pack.quantity.0);
        let most = pack.most_packs.map_or(most, |cap| most.min(cap));
        let mut counts = [0_i64; 5];
        let breaks = pack.breaks.iter().map(|entry| entry.0).filter(|&from| from < most).rev();
        for (slot, count) in counts.iter_mut().zip((0..3).map(|less| most - less).chain(breaks)) {
            *slot = count;
        }
        for (place, &count) in counts.iter().enumerate() {
            if count < 1 || counts[..place].contains(&count) {
                continue;
            }
            let Some(mix) = self.with(Mix::default(), 0, first, count) else { continue };
            self.singles(mix, 1, second, amount, found);
            if place > 0 || second < first {
                continue;
            }
            let middle = &self.problem.offers[self.offers[second]];
            let whole = (amount - mix.quantity - 1).div_euclid(middle.quantity.0);
            for count in (1..=whole).rev().take(2) {
                let Some(mix) = self.with(mix, 1, second, count) else { continue };
                for third in (second + 1..self.offers.len()).filter(|&third| usable(third)) {
                    self.singles(mix, 2, third, amount, found);
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
fn keep_the_useful(found: &mut Vec<Mix>, by_weight: bool, no_waste: bool) {
    found.sort_by_key(|mix| (mix.goods, std::cmp::Reverse(mix.quantity), mix.weight_mg));
    let (mut most, mut least, mut lightest) = (i64::MIN, i64::MAX, i64::MAX);
    found.retain(|mix| {
        let lighter = by_weight && mix.weight_mg < lightest;
        let useful = mix.quantity > most || lighter || no_waste && mix.quantity < least;
        least = least.min(mix.quantity);
        most = most.max(mix.quantity);
        lightest = lightest.min(mix.weight_mg);
        useful
    });
    found.truncate(if no_waste { 3 * KEPT } else { KEPT });
}
