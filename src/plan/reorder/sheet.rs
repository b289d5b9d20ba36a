//! One material as the bound sees it: what it costs at least where each door through which it is bought asks for its share.
//!
//! Which doors are worth their shares is found by branch and bound: with all doors that are still allowed the material costs at least
//! so much, and that makes use of some of them; one of these is then either paid for or closed. What was worked out for a set of doors
//! is remembered, so that another round of shares seldom asks for more.

use super::candidates::{Case, Material};
use super::floor::{Effort, Floor, Least, bit};
use super::prices::{Door, Prices};

/// For how many sets of doors a material is worked out at the most; the least of a bigger set then has to do.
const SETS: usize = 24;
/// What laying out a set of doors takes beside the lines that are tried.
const FOR_A_SET: u64 = 200;
/// How many decisions are made for one answer; what is left undecided then counts with its least.
const DECISIONS: u32 = 300;
/// How many doors are told apart.
pub(super) const MOST_DOORS: usize = 63;

/// One material.
#[derive(Debug)]
pub(super) struct Sheet<'a> {
    /// The doors.
    pub doors: Vec<Door>,
    /// The doors that ask for nothing.
    free: u64,
    floor: Floor<'a>,
    known: Vec<(u64, Least)>,
    /// Decisions that are still open: doors that are paid for, and those that are allowed.
    open: Vec<(u64, u64)>,
    /// What working all that out took: lines that were tried, and something for each set.
    pub work: u64,
    /// True where no more sets are worked out.
    pub is_closed: bool,
}

impl<'a> Sheet<'a> {
    /// Lays a material out.
    #[must_use]
    pub fn new(case: &Case<'_>, material: &'a Material, prices: &Prices, effort: Effort) -> Self {
        let doors = prices.doors(material);
        let floor = Floor::new(case, material, prices, &doors, effort);
        let asks = |door: &Door| prices.stretch(material.houses[door.house].supplier, door.first).fee.fixed > 0.0;
        let free = doors.iter().enumerate().filter(|door| !asks(door.1)).fold(0, |bits, door| bits | bit(door.0));
        // More doors than there are bits: the last bit stands for all others, and asks for nothing.
        let free = if doors.len() > MOST_DOORS { free | bit(MOST_DOORS) } else { free };
        let all = doors.iter().enumerate().fold(0, |bits, door| bits | bit(door.0));
        let known = vec![(all, floor.all())];
        let work = FOR_A_SET + floor.lines();
        Self { doors, free, floor, known, open: Vec::new(), work, is_closed: false }
    }

    /// The least with these shares, and the doors that are paid for.
    pub fn least(&mut self, shares: &[f64]) -> (f64, u64) {
        let mut best = (f64::INFINITY, 0);
        let mut decisions = DECISIONS;
        self.open.clear();
        self.open.push((self.free, self.known[0].0));
        while let Some((paid, allowed)) = self.open.pop() {
            let least = self.least_of(allowed);
            let cost = least.cost + sum(shares, paid & !self.free);
            if cost >= best.0 {
                continue;
            }
            let lacking = least.used & !paid;
            let dearest = each(lacking).max_by(|&one, &other| shares[one].total_cmp(&shares[other]));
            match dearest.filter(|&door| shares[door] > 0.0 && decisions > 0) {
                Some(door) => {
                    decisions -= 1;
                    self.open.push((paid, allowed & !bit(door)));
                    self.open.push((paid | bit(door), allowed));
                }
                None => best = (cost, paid | lacking),
            }
        }
        best
    }

    /// The least with some of the doors, or less.
    fn least_of(&mut self, doors: u64) -> Least {
        if let Some(known) = self.known.iter().find(|known| known.0 == doors) {
            return known.1;
        }
        if self.is_closed || self.known.len() >= SETS {
            let wider = self.known.iter().filter(|known| doors & !known.0 == 0).map(|known| known.1.cost);
            return Least { cost: wider.fold(f64::NEG_INFINITY, f64::max), used: 0 };
        }
        let least = if doors == 0 { Least::NEVER } else { self.floor.least_of(doors) };
        self.known.push((doors, least));
        self.work += FOR_A_SET + self.floor.lines();
        least
    }
}

/// The places of these bits.
pub(super) fn each(mut bits: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let place = (bits != 0).then(|| bits.trailing_zeros() as usize);
        bits &= bits.wrapping_sub(1);
        place
    })
}

fn sum(shares: &[f64], doors: u64) -> f64 {
    each(doors).map(|door| shares[door]).sum()
}
