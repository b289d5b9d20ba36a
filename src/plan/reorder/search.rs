//! The search: which orders are worth their postage, and which of them each material joins.
//!
//! Orders are closed and their materials find new homes; orders are opened or moved to another day by pretending that they already hold
//! enough, to see who would join; whatever does not pay for itself is taken back. Once nothing helps any more, seeded chance
//! closes or opens a few orders and the neighbourhood is put right again. Steps are counted, so the result depends on no clock.

use super::books::{Books, Column, Share, credit_of, marginal_of, shares_of};
use super::candidates::{Case, Material, USELESS};
use super::cover::{Delivery, Scratch};
use super::exact::is_small;
use super::material::Planner;
use super::memory::Memory;
use super::nudge::Nudger;

/// Savings below this many minor units are noise of floating point.
const NOISE: f64 = 1e-6;

/// The share by which the lowest price of a material may be a little lower than what was found.
const DOUBT: f64 = 0.002;

/// One search with all that it keeps.
pub(super) struct Search<'a, 'p> {
    case: &'a Case<'p>,
    books: Books,
    columns: Vec<Column>,
    shares: Vec<Vec<Share>>,
    credits: Vec<f64>,
    /// For each slot the materials with lines in it, in order.
    users: Vec<Vec<usize>>,
    /// For each material less than its cheapest column can cost, and the most that any postage is.
    floors: Vec<f64>,
    highest_postage: f64,
    /// Columns that were replaced, latest last, to take changes back.
    journal: Vec<(usize, Column)>,
    planner: Planner,
    memory: Memory,
    nudger: Nudger,
    /// For each material the mark of the orders, and its column, for which no small change helped when last tried.
    settled: Vec<(u64, Column)>,
    deliveries: Vec<Delivery>,
    scratch: Scratch,
    steps: u64,
    /// Steps that are kept for later.
    reserve: u64,
    stop: &'a mut dyn FnMut() -> bool,
    stopped: bool,
    chance: Chance,
}

/// A generator of numbers with a fixed seed (SplitMix64; constants from memory), the same on every machine.
#[derive(Debug)]
struct Chance(u64);

impl Chance {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^= mixed >> 31;
        usize::try_from(mixed % (count.max(1) as u64)).unwrap_or(0)
    }
}

impl<'a, 'p> Search<'a, 'p> {
    /// A search that may plan so many materials anew.
    pub fn new(case: &'a Case<'p>, planner: Planner, steps: u64, stop: &'a mut dyn FnMut() -> bool) -> Self {
        let count = case.materials.len();
        Self {
            case,
            books: Books::new(case),
            columns: vec![Column::new(); count],
            shares: vec![Vec::new(); count],
            credits: vec![0.0; count],
            users: vec![Vec::new(); case.slots.len()],
            floors: case.materials.iter().map(Material::floor).collect(),
            highest_postage: (0..case.sells.len()).map(|supplier| case.highest_postage(supplier)).fold(0.0, f64::max),
            journal: Vec::new(),
            planner,
            memory: Memory::default(),
            nudger: Nudger::default(),
            settled: vec![(0, Column::new()); count],
            deliveries: Vec::new(),
            scratch: Scratch::default(),
            steps,
            reserve: 0,
            stop,
            stopped: false,
            chance: Chance(0x0057_1112_0031),
        }
    }

    /// True where what is to be bought is soon looked through.
    #[must_use]
    pub fn is_for_little(&self) -> bool {
        is_small(self.case)
    }

    /// True where the clock ended it.
    #[must_use]
    pub fn was_stopped(&self) -> bool {
        self.stopped
    }

    /// Ends the search after so many steps for now; all that are left may be used where `None`.
    pub fn pause_after(&mut self, steps: Option<u64>) {
        self.reserve = steps.map_or(0, |steps| self.steps.saturating_sub(steps));
    }

    /// Asks whether the clock ends it.
    #[must_use]
    pub fn is_stopped(&mut self) -> bool {
        self.stopped = self.stopped || (self.stop)();
        self.stopped
    }

    /// The columns as they stand.
    #[must_use]
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// What they cost, credit taken off.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.books.cost - self.credits.iter().sum::<f64>()
    }

    /// Starts from these columns.
    pub fn start_from(&mut self, columns: &[Column]) {
        for (material, column) in columns.iter().enumerate() {
            self.put(material, column.clone());
        }
        self.journal.clear();
    }

    /// Takes in what each material costs at its lowest price: it never costs less, beside what its orders save.
    pub fn learn(&mut self, lowest: &[Column]) {
        let mut shares = Vec::new();
        for (place, column) in lowest.iter().enumerate() {
            let material = &self.case.materials[place];
            let credit = credit_of(self.case, material, column, &mut self.deliveries, &mut self.scratch);
            let Some(credit) = credit else { continue };
            shares_of(self.case, material, column, &mut shares);
            let landed = |share: &Share| share.goods as f64 * self.case.landed(self.case.slots[share.slot].supplier);
            let cost = shares.iter().map(landed).sum::<f64>() - credit;
            self.floors[place] = self.floors[place].max(cost - DOUBT * cost.abs() - 1.0);
            self.planner.remember(self.case, place, column);
        }
    }

    /// Lets a coarse look do for every material, or no longer.
    pub fn hurry(&mut self, is_hasty: bool) {
        self.planner.is_hasty = is_hasty;
        self.memory = Memory::default();
    }

    /// What plans one material.
    pub fn planner(&mut self) -> &mut Planner {
        &mut self.planner
    }

    /// Plans one material after the other, each among those before it: those that fewest suppliers can serve in time for their
    /// first requirement, and dear ones, go first, since the others can join their orders. `None` where one finds no place.
    pub fn built(&mut self) -> Option<Vec<Column>> {
        let materials = &self.case.materials;
        let able = |place: usize| materials[place].houses.iter().filter(|house| house.latest[0].is_some()).count();
        let mut order: Vec<usize> = (0..materials.len()).collect();
        order.sort_by(|&one, &other| {
            let fewer = (able(one), materials[one].houses.len()).cmp(&(able(other), materials[other].houses.len()));
            fewer.then(self.floors[other].total_cmp(&self.floors[one])).then(one.cmp(&other))
        });
        for material in 0..materials.len() {
            self.put(material, Column::new());
        }
        let all = order.iter().all(|&material| self.replan(material));
        self.journal.clear();
        all.then(|| self.columns.clone())
    }

    /// True where the search has to end for now.
    pub fn over(&mut self) -> bool {
        self.is_stopped() || self.steps <= self.reserve
    }

    /// Replaces a material's column.
    fn put(&mut self, material: usize, column: Column) {
        let content = &self.case.materials[material];
        self.books.remove(self.case, &self.shares[material]);
        for share in &self.shares[material] {
            let users = &mut self.users[share.slot];
            if let Ok(place) = users.binary_search(&material) {
                users.remove(place);
            }
        }
        shares_of(self.case, content, &column, &mut self.shares[material]);
        self.books.add(self.case, &self.shares[material]);
        for share in &self.shares[material] {
            let users = &mut self.users[share.slot];
            if let Err(place) = users.binary_search(&material) {
                users.insert(place, material);
            }
        }
        let credit = credit_of(self.case, content, &column, &mut self.deliveries, &mut self.scratch);
        self.credits[material] = credit.unwrap_or(0.0);
        let old = std::mem::replace(&mut self.columns[material], column);
        self.journal.push((material, old));
    }

    fn take_back(&mut self, mark: usize) {
        while self.journal.len() > mark
            && let Some((material, column)) = self.journal.pop()
        {
            self.put(material, column);
            self.journal.pop();
        }
    }

    /// Plans a material anew among the others as they are. False where it has no column afterwards.
    fn replan(&mut self, material: usize) -> bool {
        self.steps = self.steps.saturating_sub(1);
        let has = !self.columns[material].is_empty();
        self.books.remove(self.case, &self.shares[material]);
        let now = marginal_of(self.case, &self.books, &self.shares[material]) - self.credits[material];
        let allowed = has && self.shares[material].iter().all(|share| !self.books.is_barred(share.slot));
        let upper = if allowed { now - NOISE } else { f64::INFINITY };
        let found = self.cheapest(material, upper);
        self.books.add(self.case, &self.shares[material]);
        match found {
            Some(column) => {
                self.put(material, column);
                true
            }
            None => allowed,
        }
    }

    /// The cheapest column of a material below a cost among the orders as they are, without its own lines.
    fn cheapest(&mut self, material: usize, upper: f64) -> Option<Column> {
        let content = &self.case.materials[material];
        let question = (material, self.books.mark(content));
        if let Some(known) = self.memory.find(question, upper) {
            return known.cloned();
        }
        let found = self.planner.cheapest(self.case, &self.books, (material, content), (self.floors[material], upper));
        self.memory.keep(question, upper, found);
        found.map(|found| found.0.clone())
    }

    /// Changes a material's lines one at a time as long as that saves something.
    fn nudge(&mut self, material: usize) {
        let content = &self.case.materials[material];
        for _ in 0..20 {
            let mark = self.books.mark(content);
            let settled = &self.settled[material];
            if settled.0 == mark && settled.1 == self.columns[material] {
                return;
            }
            self.books.remove(self.case, &self.shares[material]);
            let now = marginal_of(self.case, &self.books, &self.shares[material]) - self.credits[material];
            let found = self.nudger.better(self.case, &self.books, content, &self.columns[material], now - NOISE);
            self.books.add(self.case, &self.shares[material]);
            match found {
                Some(column) => self.put(material, column),
                None => {
                    self.settled[material] = (mark, self.columns[material].clone());
                    return;
                }
            }
        }
    }

    /// The orders with lines, cheapest first.
    fn used_slots(&self) -> Vec<usize> {
        let mut used: Vec<usize> = (0..self.case.slots.len()).filter(|&slot| self.books.is_used(slot)).collect();
        used.sort_by(|&one, &other| {
            self.books.cost_of(one).total_cmp(&self.books.cost_of(other)).then(one.cmp(&other))
        });
        used
    }

    /// Closes orders: their materials find new homes, if there is one to go to as if it held the goods already.
    /// False where some material has no other home, or the total cannot come below `limit` any more; the caller takes that back.
    fn rehome(&mut self, slots: &[usize], into: Option<usize>, limit: f64) -> bool {
        let mut users: Vec<usize> = slots.iter().flat_map(|&slot| self.users[slot].iter().copied()).collect();
        users.sort_unstable();
        users.dedup();
        let mut floor: f64 = users.iter().map(|&material| self.floors[material]).sum();
        let limit = limit + self.highest_postage;
        slots.iter().for_each(|&slot| self.books.bar(self.case, slot, true));
        if let Some(into) = into {
            let held = slots.iter().map(|&slot| self.books.goods(slot));
            let goods = held.fold(self.books.goods(into), i64::max);
            self.books.give(self.case, into, Some(goods));
        }
        for &material in &users {
            self.put(material, Column::new());
        }
        let mut all = true;
        for &material in &users {
            all = all && self.total() + floor < limit && self.replan(material);
            floor -= self.floors[material];
        }
        all = all && self.total() < limit;
        if let Some(into) = into {
            self.books.give(self.case, into, None);
        }
        if all {
            for &material in &users {
                self.replan(material);
            }
        }
        slots.iter().for_each(|&slot| self.books.bar(self.case, slot, false));
        all
    }

    /// Keeps what has been done since the mark if it saves something.
    fn settle(&mut self, mark: usize, before: f64, complete: bool) -> bool {
        let better = complete && self.total() < before - NOISE;
        if !better {
            self.take_back(mark);
        }
        better
    }

    /// Tries to do without an order, or with another day for it.
    fn try_close(&mut self, slot: usize, into: Option<usize>) -> bool {
        if !self.books.is_used(slot) {
            return false;
        }
        let (mark, before) = (self.journal.len(), self.total());
        let complete = self.rehome(&[slot], into, before);
        self.settle(mark, before, complete)
    }

    /// Shows an order to every material as if postage and minimum did not matter any more, then lets those that came
    /// think again. Returns false where nobody came.
    fn lure(&mut self, slot: usize) -> bool {
        let mark = self.journal.len();
        let supplier = self.case.slots[slot].supplier;
        self.books.give(self.case, slot, Some(self.case.carefree_goods(supplier).max(self.books.goods(slot))));
        for &(material, house) in &self.case.sells[supplier] {
            let sold = &self.case.materials[material].houses[house];
            if sold.longest[self.case.slots[slot].place as usize] != USELESS {
                self.replan(material);
            }
        }
        self.books.give(self.case, slot, None);
        let moved: Vec<usize> = self.journal[mark..].iter().map(|entry| entry.0).collect();
        if moved.is_empty() {
            return false;
        }
        for material in moved {
            self.replan(material);
        }
        true
    }

    /// Tries to open an order, or to bring more into it; what that leaves behind is closed if that helps.
    fn try_open(&mut self, slot: usize) -> bool {
        let (mark, before) = (self.journal.len(), self.total());
        let used = self.used_slots();
        let goods: Vec<i64> = used.iter().map(|&slot| self.books.goods(slot)).collect();
        if !self.lure(slot) {
            return false;
        }
        for (&other, goods) in used.iter().zip(goods) {
            if other != slot && self.books.goods(other) < goods && !self.over() {
                self.try_close(other, None);
            }
        }
        self.settle(mark, before, true)
    }

    /// All small changes, over and over until none of them helps.
    pub fn descend(&mut self) {
        let mut round = 0;
        loop {
            let before = self.total();
            self.replan_all();
            self.close_all();
            self.shift_all();
            for slot in self.used_slots() {
                if self.over() {
                    return;
                }
                let carefree = self.case.carefree_goods(self.case.slots[slot].supplier);
                if self.books.is_used(slot) && self.books.goods(slot) < carefree {
                    self.try_open(slot);
                }
            }
            self.open_some(round);
            round += 1;
            if self.over() || self.total() > before - NOISE {
                return;
            }
        }
    }

    fn replan_all(&mut self) {
        for material in 0..self.columns.len() {
            if self.over() {
                return;
            }
            self.replan(material);
            self.nudge(material);
        }
    }

    fn close_all(&mut self) {
        for slot in self.used_slots() {
            if self.over() {
                return;
            }
            self.try_close(slot, None);
        }
    }

    /// Tries the supplier's order days before and after each order.
    fn shift_all(&mut self) {
        for slot in self.used_slots() {
            for other in self.neighbours(slot, 2) {
                if self.over() {
                    return;
                }
                if self.try_close(slot, Some(other)) {
                    break;
                }
            }
        }
    }

    /// The nearest slots of the same supplier, so many on each side.
    fn neighbours(&self, slot: usize, reach: usize) -> Vec<usize> {
        let (own, place) = (&self.case.own_slots[self.case.slots[slot].supplier], self.case.slots[slot].place as usize);
        let before = own[..place].iter().rev().take(reach);
        let after = own[place + 1..].iter().take(reach);
        before.chain(after).copied().collect()
    }

    /// Tries to open a few closed slots of each supplier, others in each round.
    fn open_some(&mut self, round: usize) {
        for supplier in 0..self.case.sells.len() {
            let own = self.case.own_slots[supplier].iter().copied();
            let closed: Vec<usize> = own.filter(|&slot| !self.books.is_used(slot)).collect();
            let stride = closed.len().div_ceil(4).max(1);
            for &slot in closed.iter().skip(round % stride).step_by(stride) {
                if self.over() {
                    return;
                }
                self.try_open(slot);
            }
        }
    }

    /// Seeded chance closes or opens a few orders, and what they touch is put right; until the steps are used up.
    pub fn shake(&mut self) {
        if self.case.slots.len() < 2 {
            return;
        }
        while !self.over() {
            self.steps = self.steps.saturating_sub(1);
            let (mark, before) = (self.journal.len(), self.total());
            let complete = self.kick();
            if complete {
                self.mend(mark);
            }
            self.settle(mark, before, complete);
            self.journal.clear();
        }
    }

    /// One random change, for better or worse.
    fn kick(&mut self) -> bool {
        let used = self.used_slots();
        let slot = used[self.chance.below(used.len()).min(used.len() - 1)];
        match self.chance.below(6) {
            0 => {
                let any = self.chance.below(self.case.slots.len());
                self.lure(any)
            }
            1 => {
                let near = self.neighbours(slot, 4);
                let into = near.get(self.chance.below(near.len())).copied();
                self.rehome(&[slot], into, f64::INFINITY)
            }
            2 => {
                let other = used[self.chance.below(used.len()).min(used.len() - 1)];
                self.rehome(&[slot, other], None, f64::INFINITY)
            }
            3 => self.rehome(&[slot], None, f64::INFINITY),
            _ => self.scatter(slot),
        }
    }

    /// Takes a few materials out of their orders and plans them anew in another sequence, an order held out to them.
    fn scatter(&mut self, slot: usize) -> bool {
        let supplier = self.case.slots[slot].supplier;
        let sold = &self.case.sells[supplier];
        let mut chosen: Vec<usize> = Vec::new();
        for _ in 0..2 + self.chance.below(4) {
            let (material, _) = sold[self.chance.below(sold.len())];
            if !chosen.contains(&material) {
                chosen.push(material);
            }
        }
        for &material in &chosen {
            self.put(material, Column::new());
        }
        let carefree = self.case.carefree_goods(supplier);
        self.books.give(self.case, slot, (self.chance.below(2) == 0).then_some(carefree.max(self.books.goods(slot))));
        let mut all = true;
        for &material in &chosen {
            all = all && self.replan(material);
        }
        self.books.give(self.case, slot, None);
        all
    }

    /// Puts right what has been touched since the mark.
    fn mend(&mut self, mark: usize) {
        let mut touched: Vec<usize> = self.journal[mark..].iter().map(|entry| entry.0).collect();
        touched.sort_unstable();
        touched.dedup();
        let mut slots: Vec<usize> =
            touched.iter().flat_map(|&material| self.shares[material].iter().map(|share| share.slot)).collect();
        slots.sort_unstable();
        slots.dedup();
        for &slot in &slots {
            if self.over() {
                return;
            }
            let carefree = self.case.carefree_goods(self.case.slots[slot].supplier);
            if self.books.is_used(slot) && self.books.goods(slot) < carefree {
                self.try_open(slot);
            }
            self.try_close(slot, None);
        }
        for material in touched {
            self.replan(material);
            self.nudge(material);
        }
    }
}
