//! Which lots to open, need by need, so that the needs, in their order, get as much as possible.
//!
//! Once it is settled when each lot is opened, first expired first out covers the most ([`super`]), and it can be worked out
//! need by need. So all that has to be decided at a need is which of the closed lots are opened for it; a lot that is
//! opened for a need gives to it, since it might as well stay closed otherwise. A label is what that has led to: what is left
//! of each supply, and how long it lasts. Of the labels only those stay with which the need gets the most, since earlier needs
//! go first; and of two labels one goes that can do no more for what follows than the other ([`Comparison::does_all`]). Where
//! so many are left that the search would take too long, those that promise most go on, and there is no proof.

use super::opening::Lives;
use super::{Need, Supply};
use chrono::{Datelike, NaiveDate};
use std::cmp::Reverse;

/// A way to open supplies, by its day for each; those that stay closed have none.
pub(super) type Openings = Vec<Option<NaiveDate>>;

/// The most that the needs can get.
pub(super) struct Covered {
    /// What each need gets.
    pub(super) given: Vec<i64>,
    /// Ways that lead to it: at least one.
    pub(super) ways: Vec<Openings>,
    /// False where something might lead to more.
    pub(super) proven: bool,
}

/// So many labels go on at a time: first few, then more while there is no proof and effort is left.
const WIDTHS: [usize; 4] = [4, 16, 64, 256];

/// So many times the supplies may be looked at for a need, whatever the limit.
const A_FEW: usize = 8;

/// Works out the most that the needs can get. The effort is counted in supplies of labels that are looked at; it is not
/// begun anew with more labels where that would go beyond the limit.
pub(super) fn most(lives: &Lives<'_>, needs: &[Need], limit: usize) -> Covered {
    let (mut best, mut last_effort) = most_with(lives, needs, WIDTHS[0], limit);
    let mut effort = last_effort;
    for width in &WIDTHS[1..] {
        // Four times as many labels take some multiple of that, as each is held against the others.
        if best.proven || last_effort.saturating_mul(4).saturating_add(effort) > limit {
            break;
        }
        let (found, more_effort) = most_with(lives, needs, *width, limit);
        (last_effort, effort) = (more_effort, effort.saturating_add(more_effort));
        let proven = found.proven;
        if found.given > best.given {
            best = found;
        }
        best.proven = proven;
    }
    best
}

/// What so many labels at a time lead to, and the effort.
fn most_with(lives: &Lives<'_>, needs: &[Need], width: usize, limit: usize) -> (Covered, usize) {
    let mut labels = Labels::new(lives, needs, width, limit);
    let first = labels.first();
    let at_best = labels.most_from(&first, 0);
    let mut now = vec![first];
    let mut given = Vec::with_capacity(needs.len());
    for (place, need) in needs.iter().enumerate() {
        labels.most = 0;
        if need.quantity.0 > 0 {
            now = labels.serve(&now, place);
        }
        given.push(labels.most);
    }
    let ways = now.iter().map(|label| label.parts.iter().map(|part| part.opened).collect()).collect();
    let proven = labels.all_kept || given == at_best;
    (Covered { given, ways, proven }, labels.effort)
}

/// What a supply is in a label.
#[derive(Clone, Copy)]
struct Part {
    left: i64,
    /// The last day as far as it matters; of a supply that is closed, as if it stayed so.
    ends: NaiveDate,
    opened: Option<NaiveDate>,
    /// Its life is still to begin, and can matter.
    closed: bool,
}

struct Label {
    parts: Vec<Part>,
    /// What is left, each times its day: a label that can do all that another can has no less.
    lasting: i128,
}

/// A supply that can give to the need in hand, and whether it is opened for it.
#[derive(Clone, Copy)]
struct Giver {
    ends: NaiveDate,
    supply: usize,
    left: i64,
    newly: bool,
}

struct Labels<'a> {
    lives: &'a Lives<'a>,
    needs: &'a [Need],
    width: usize,
    effort: usize,
    /// So much may be spent on ways to open more for one need.
    allowed: usize,
    /// Where the effort for the need in hand ends.
    until: usize,
    all_kept: bool,
    /// What the need in hand gets with the labels in `next`.
    most: i64,
    next: Vec<Label>,
    comparison: Comparison,
}

impl<'a> Labels<'a> {
    fn new(lives: &'a Lives<'a>, needs: &'a [Need], width: usize, limit: usize) -> Self {
        let comparison = Comparison { spare: Vec::new(), changes: Vec::new() };
        let allowed = limit / needs.len().max(1) + A_FEW * lives.supplies.len();
        let (effort, until, next) = (0, 0, Vec::new());
        Self { lives, needs, width, effort, allowed, until, all_kept: true, most: 0, next, comparison }
    }

    fn first(&self) -> Label {
        let part = |(supply, binds): (&Supply, &bool)| Part {
            left: supply.quantity.0,
            ends: self.lives.as_far_as_it_matters(supply.through),
            opened: None,
            closed: *binds,
        };
        Label { parts: self.lives.supplies.iter().zip(&self.lives.binding).map(part).collect(), lasting: 0 }
    }

    /// The labels after the need at a place, from those before it.
    fn serve(&mut self, labels: &[Label], place: usize) -> Vec<Label> {
        let need = &self.needs[place];
        self.until = self.effort + labels.len() * self.lives.supplies.len() + self.allowed;
        for label in labels {
            self.effort += label.parts.len();
            let (mut open, mut closed) = (Vec::with_capacity(label.parts.len()), Vec::new());
            for (supply, part) in label.parts.iter().enumerate() {
                let ends = if part.closed { self.lives.ends(supply, place) } else { part.ends };
                if part.left > 0 && self.lives.supplies[supply].from <= need.day && ends >= need.through {
                    let giver = Giver { ends, supply, left: part.left, newly: part.closed };
                    if part.closed { &mut closed } else { &mut open }.push(giver);
                }
            }
            let all: i64 = open.iter().chain(&closed).map(|giver| giver.left).sum();
            let most = all.min(need.quantity.0);
            if most < self.most {
                continue;
            }
            if most > self.most {
                self.most = most;
                self.next.clear();
            }
            open.sort_unstable_by_key(|giver| (giver.ends, giver.supply));
            self.open_more(label, place, &mut open, &closed);
        }
        if self.next.len() > self.width {
            self.leave_out(place);
        }
        std::mem::take(&mut self.next)
    }

    /// Keeps what comes of these givers, where they give enough, and of each way to open more besides.
    fn open_more(&mut self, label: &Label, place: usize, givers: &mut Vec<Giver>, closed: &[Giver]) {
        let wanted = self.needs[place].quantity.0;
        self.effort += givers.len();
        let mut before = 0;
        for giver in givers.iter() {
            // Whatever is opened besides, there is nothing left for this one to give.
            if giver.newly && before >= wanted {
                return;
            }
            before += giver.left;
        }
        if before.min(wanted) == self.most {
            self.keep(self.drawn(label, givers, place), place);
        }
        for (number, more) in closed.iter().enumerate() {
            if self.effort > self.until && !self.next.is_empty() {
                self.all_kept = false;
                return;
            }
            let at = givers.partition_point(|giver| (giver.ends, giver.supply) < (more.ends, more.supply));
            givers.insert(at, *more);
            self.open_more(label, place, givers, &closed[number + 1..]);
            givers.remove(at);
        }
    }

    /// The label after a need that these givers serve, first expired first out.
    fn drawn(&self, label: &Label, givers: &[Giver], place: usize) -> Label {
        let need = &self.needs[place];
        let mut parts = label.parts.clone();
        let mut wanted = need.quantity.0;
        for giver in givers {
            let part = &mut parts[giver.supply];
            let taken = wanted.min(giver.left);
            wanted -= taken;
            part.left -= taken;
            if giver.newly {
                *part = Part { left: part.left, ends: giver.ends, opened: Some(need.day), closed: false };
            }
        }
        let lasts = |(supply, part): (usize, &Part)| {
            let ends = if part.closed { self.lives.ends(supply, place) } else { part.ends };
            i128::from(part.left) * i128::from(ends.num_days_from_ce())
        };
        let lasting = parts.iter().enumerate().map(lasts).sum();
        Label { parts, lasting }
    }

    /// Takes a label in, unless another does all that it could; those that it makes needless go.
    fn keep(&mut self, label: Label, place: usize) {
        self.effort += label.parts.len() * self.next.len();
        let Self { next, comparison, lives, .. } = self;
        if next.iter().any(|known| comparison.does_all(lives, known, &label, place)) {
            return;
        }
        next.retain(|known| !comparison.does_all(lives, &label, known, place));
        next.push(label);
        if self.next.len() > 2 * self.width {
            self.leave_out(place);
        }
    }

    /// Leaves out the labels that promise least.
    fn leave_out(&mut self, place: usize) {
        self.all_kept = false;
        self.effort += self.next.len() * self.lives.supplies.len() * (self.needs.len() - place);
        let labels = std::mem::take(&mut self.next);
        let promise = |label: Label| (self.most_from(&label, place + 1), label);
        let mut ranked: Vec<(Vec<i64>, Label)> = labels.into_iter().map(promise).collect();
        ranked.sort_by(|one, other| other.0.cmp(&one.0));
        ranked.truncate(self.width);
        self.next = ranked.into_iter().map(|(_, label)| label).collect();
    }

    /// What the needs from a place on would get of a label if what is closed stayed so: no less than they can get.
    fn most_from(&self, label: &Label, place: usize) -> Vec<i64> {
        let there = label.parts.iter().enumerate().filter(|(_, part)| part.left > 0);
        let mut order: Vec<(NaiveDate, usize, i64)> =
            there.map(|(supply, part)| (part.ends, supply, part.left)).collect();
        order.sort_unstable();
        let given = self.needs[place..].iter().map(|need| {
            let mut wanted = need.quantity.0;
            for (ends, supply, left) in &mut order {
                if wanted == 0 {
                    break;
                }
                if *ends >= need.through && self.lives.supplies[*supply].from <= need.day {
                    let taken = wanted.min(*left);
                    *left -= taken;
                    wanted -= taken;
                }
            }
            need.quantity.0 - wanted
        });
        given.collect()
    }
}

/// Holds labels against each other; the lists are kept from one time to the next.
struct Comparison {
    spare: Vec<usize>,
    changes: Vec<(NaiveDate, i64)>,
}

impl Comparison {
    /// True where one label can do all that the other can, for whatever needs follow the one at `place`.
    ///
    /// It can where each lot that is closed in the other has one of its own in it that is as good; and where, of what is
    /// open, and of what it could open no sooner than the other did, at least as much lasts through any day.
    fn does_all(&mut self, lives: &Lives<'_>, one: &Label, other: &Label, place: usize) -> bool {
        if one.lasting < other.lasting {
            return false;
        }
        let Self { spare, changes } = self;
        let (one, other) = (&one.parts, &other.parts);
        spare.clear();
        changes.clear();
        for (supply, (one, other)) in one.iter().zip(other).enumerate() {
            let same = one.closed == other.closed && one.left == other.left && one.ends == other.ends;
            if same {
                continue;
            }
            if one.closed {
                spare.push(supply);
            } else {
                changes.push((one.ends, one.left));
            }
            if !other.closed {
                changes.push((other.ends, -other.left));
            }
        }
        for (supply, _) in one.iter().zip(other).enumerate().filter(|(_, (one, other))| !one.closed && other.closed) {
            let as_good = spare.iter().position(|mine| lives.is_as_good(*mine, supply));
            let Some(found) = as_good else { return false };
            spare.swap_remove(found);
        }
        changes.extend(spare.iter().map(|supply| (lives.ends(*supply, place), lives.supplies[*supply].quantity.0)));
        changes.sort_unstable_by_key(|change| Reverse(change.0));
        let mut more = 0;
        changes.chunk_by(|one, other| one.0 == other.0).all(|same| {
            more += same.iter().map(|change| change.1).sum::<i64>();
            more >= 0
        })
    }
}
