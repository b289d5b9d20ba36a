//! Which delivery serves which requirement of one item, and how much of what is left may be credited.
//!
//! A delivery serves a requirement if it has arrived by its day and lasts through it. Taking the requirements by day and
//! giving each the delivery that expires first covers as much as can be covered: of two deliveries that are there, the one that lasts
//! longer can serve, from that day on, all that the other can. What can be taken from the deliveries together is therefore the
//! rank of a polymatroid, and the greedy choice of what to take from each is exact.

/// A requirement of one item; days are counted from the common era.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Need {
    /// Its place in the problem's list.
    pub place: usize,
    /// Arrived by this day.
    pub day: i32,
    /// Usable through this day.
    pub through: i32,
    /// How much.
    pub quantity: i64,
}

/// What one order line brings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Delivery {
    /// Day of arrival.
    pub arrives: i32,
    /// Last usable day; [`FOREVER`] where it does not expire.
    pub through: i32,
    /// How much.
    pub quantity: i64,
}

/// The last usable day of what does not expire.
pub(super) const FOREVER: i32 = i32::MAX;

impl Delivery {
    /// True where it can serve the requirement.
    #[must_use]
    pub fn serves(&self, need: &Need) -> bool {
        self.arrives <= need.day && need.through <= self.through
    }
}

/// What left-over of an item may be credited, in exact integers.
#[derive(Clone, Copy, Debug)]
pub(super) struct CreditRule {
    /// Gross requirement from start to end.
    pub gross: i64,
    /// Days from start to end, both counted.
    pub days: i64,
    /// Days after the end for which left-over counts.
    pub window: i64,
    /// The last day of the horizon.
    pub end: i32,
    /// True where keeping costs something: what arrives last is then taken first, as far as the credit leaves a choice.
    pub holds: bool,
}

impl CreditRule {
    /// The most that a delivery may have credited, times [`Self::days`].
    #[must_use]
    pub fn line_cap(&self, through: i32) -> i128 {
        let beyond = (i64::from(through) - i64::from(self.end)).clamp(0, self.window);
        i128::from(self.gross) * i128::from(beyond)
    }

    /// The most that all deliveries together may have credited, times [`Self::days`].
    #[must_use]
    pub fn item_cap(&self) -> i128 {
        i128::from(self.gross) * i128::from(self.window)
    }

    /// What is credited where so much of each delivery is left, times [`Self::days`].
    #[must_use]
    pub fn credited(&self, left: impl Iterator<Item = (i32, i64)>) -> i128 {
        let lines = left.map(|(through, left)| (i128::from(left) * i128::from(self.days)).min(self.line_cap(through)));
        lines.sum::<i128>().min(self.item_cap())
    }

    /// The units of a delivery that may be taken without touching what could be credited, and what the one unit above
    /// that costs that is credited in part only (times [`Self::days`]; 0 where there is none).
    fn free_units(&self, delivery: &Delivery) -> (i64, i64) {
        let days = i128::from(self.days.max(1));
        let cap = self.line_cap(delivery.through).min(i128::from(delivery.quantity) * days);
        let whole = cap.div_euclid(days);
        let part = i64::try_from(cap.rem_euclid(days)).unwrap_or(0);
        let kept = i64::try_from(whole).unwrap_or(i64::MAX);
        (delivery.quantity - kept - i64::from(part > 0), part)
    }
}

/// How much of the needs (in order of day) can be covered where at most `capacity` is taken from each delivery.
/// Deliveries are looked at in `order`, which sorts them by their last usable day.
fn covered(needs: &[Need], deliveries: &[Delivery], order: &[usize], capacity: &mut [i64]) -> i64 {
    let mut total = 0;
    for need in needs {
        let mut open = need.quantity;
        for &index in order {
            if open == 0 {
                break;
            }
            if capacity[index] > 0 && deliveries[index].serves(need) {
                let taken = open.min(capacity[index]);
                capacity[index] -= taken;
                open -= taken;
            }
        }
        total += need.quantity - open;
    }
    total
}

/// The places of the deliveries, those that expire first before the others.
fn by_expiry(deliveries: &[Delivery]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..deliveries.len()).collect();
    order.sort_by_key(|&index| (deliveries[index].through, deliveries[index].arrives, index));
    order
}

/// How much of each need no delivery can cover, however they are shared out; needs in order of day.
#[must_use]
pub(super) fn uncovered(needs: &[Need], deliveries: &[Delivery]) -> Vec<i64> {
    let order = by_expiry(deliveries);
    let mut capacity: Vec<i64> = deliveries.iter().map(|delivery| delivery.quantity).collect();
    let one = |need: &Need| need.quantity - covered(std::slice::from_ref(need), deliveries, &order, &mut capacity);
    needs.iter().map(one).collect()
}

/// How much of each delivery each need takes: `(need, delivery, amount)` in order of need. Of all ways to cover the needs as far as
/// the deliveries go, it is one that leaves the most that may be credited.
#[must_use]
pub(super) fn assign(needs: &[Need], deliveries: &[Delivery], rule: &CreditRule) -> Vec<(usize, usize, i64)> {
    let order = by_expiry(deliveries);
    let mut taken = vec![0_i64; deliveries.len()];
    let mut reached = 0;
    let mut take = |index: usize, more: i64| {
        let mut capacity = taken.clone();
        capacity[index] = deliveries[index].quantity.min(taken[index].saturating_add(more));
        let now = covered(needs, deliveries, &order, &mut capacity);
        taken[index] += now - reached;
        reached = now;
    };
    let free: Vec<(i64, i64)> = deliveries.iter().map(|delivery| rule.free_units(delivery)).collect();
    let mut sequence = order.clone();
    if rule.holds {
        sequence.sort_by_key(|&index| std::cmp::Reverse(deliveries[index].arrives));
    }
    for &index in &sequence {
        take(index, free[index].0);
    }
    let mut partly: Vec<usize> = sequence.iter().copied().filter(|&index| free[index].1 > 0).collect();
    partly.sort_by_key(|&index| free[index].1);
    for &index in &partly {
        take(index, 1);
    }
    for &index in &sequence {
        take(index, deliveries[index].quantity);
    }
    shares(needs, deliveries, &order, taken)
}

/// Shares out exactly `taken` units of each delivery.
fn shares(needs: &[Need], deliveries: &[Delivery], order: &[usize], mut taken: Vec<i64>) -> Vec<(usize, usize, i64)> {
    let mut result = Vec::new();
    for (place, need) in needs.iter().enumerate() {
        let mut open = need.quantity;
        for &index in order {
            let amount = open.min(taken[index]);
            if amount > 0 && deliveries[index].serves(need) {
                taken[index] -= amount;
                open -= amount;
                result.push((place, index, amount));
            }
        }
    }
    result
}

/// Buffers of [`credited_units`], kept to spare allocations.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    order: Vec<usize>,
    capacity: Vec<i64>,
}

/// The most that may be credited of what the deliveries leave, in units of the item; `None` where they do not cover the
/// needs. For steering the search: parts of a unit are left out.
pub(super) fn credited_units(
    needs: &[Need],
    deliveries: &[Delivery],
    rule: &CreditRule,
    scratch: &mut Scratch,
) -> Option<f64> {
    scratch.order.clear();
    scratch.order.extend(0..deliveries.len());
    scratch.order.sort_by_key(|&index| (deliveries[index].through, index));
    let demand: i64 = needs.iter().map(|need| need.quantity).sum();
    scratch.capacity.clear();
    scratch.capacity.extend(deliveries.iter().map(|delivery| delivery.quantity));
    if covered(needs, deliveries, &scratch.order, &mut scratch.capacity) < demand {
        return None;
    }
    let item_cap = rule.item_cap() as f64 / rule.days as f64;
    if rule.gross == 0 || rule.window == 0 {
        return Some(0.0);
    }
    let brought: i64 = deliveries.iter().map(|delivery| delivery.quantity).sum();
    let last = rule.end.saturating_add(i32::try_from(rule.window).unwrap_or(i32::MAX));
    if deliveries.iter().all(|delivery| delivery.through >= last) {
        return Some(((brought - demand) as f64).min(item_cap));
    }
    scratch.capacity.clear();
    scratch.capacity.extend(deliveries.iter().map(|delivery| rule.free_units(delivery).0));
    let kept: i64 = brought - scratch.capacity.iter().sum::<i64>();
    let free = covered(needs, deliveries, &scratch.order, &mut scratch.capacity);
    Some(((kept - (demand - free)) as f64).min(item_cap))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A small generator with a fixed seed (Marsaglia's xorshift, from memory).
    struct Dice(u64);
    impl Dice {
        fn below(&mut self, sides: i64) -> i64 {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            (self.0 % u64::try_from(sides).unwrap()) as i64
        }
    }

    /// Every way to share the deliveries out, unit by unit: the most covered, and the most credited with that.
    fn by_hand(
        needs: &[Need],
        deliveries: &[Delivery],
        rule: &CreditRule,
        left: &mut Vec<i64>,
        from: usize,
    ) -> (i64, i128) {
        let Some(need) = needs.get(from) else {
            let left = deliveries.iter().zip(left.iter()).map(|(delivery, &left)| (delivery.through, left));
            return (0, rule.credited(left));
        };
        let mut best = by_hand(needs, deliveries, rule, left, from + 1);
        for index in 0..deliveries.len() {
            if left[index] > 0 && deliveries[index].serves(need) {
                left[index] -= 1;
                let (covered, credit) = by_hand(needs, deliveries, rule, left, from + 1);
                left[index] += 1;
                best = best.max((covered + 1, credit));
            }
        }
        best
    }

    #[test]
    fn shares_out_as_well_as_every_way_tried_by_hand() {
        let mut dice = Dice(0x5EED_0001);
        for round in 0..3_000 {
            let mut units = Vec::new();
            for place in 0..1 + dice.below(5) {
                let day = i32::try_from(dice.below(8)).unwrap();
                let through = day + i32::try_from(dice.below(6)).unwrap();
                units.push(Need { place: usize::try_from(place).unwrap(), day, through, quantity: 1 });
            }
            units.sort_by_key(|need| (need.day, need.through));
            let deliveries: Vec<Delivery> = (0..1 + dice.below(4))
                .map(|_| {
                    let arrives = i32::try_from(dice.below(6)).unwrap();
                    let life = i32::try_from(dice.below(14)).unwrap();
                    Delivery { arrives, through: arrives + life, quantity: 1 + dice.below(3) }
                })
                .collect();
            let holds = round % 2 == 0;
            let rule =
                CreditRule { gross: dice.below(9), days: 1 + dice.below(5), window: dice.below(7), end: 8, holds };
            let mut left: Vec<i64> = deliveries.iter().map(|delivery| delivery.quantity).collect();
            let (most, credit) = by_hand(&units, &deliveries, &rule, &mut left.clone(), 0);
            let shares = assign(&units, &deliveries, &rule);
            for &(need, delivery, amount) in &shares {
                assert!(deliveries[delivery].serves(&units[need]), "round {round}");
                left[delivery] -= amount;
            }
            assert!(left.iter().all(|&left| left >= 0), "round {round}");
            assert_eq!(shares.iter().map(|share| share.2).sum::<i64>(), most, "round {round}");
            let kept = deliveries.iter().zip(&left).map(|(delivery, &left)| (delivery.through, left));
            assert_eq!(rule.credited(kept), credit, "round {round}");
            let short: i64 = uncovered(&units, &deliveries).iter().sum();
            assert_eq!(short, i64::try_from(units.len()).unwrap() - most, "round {round}");
        }
    }
}
