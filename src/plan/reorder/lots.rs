//! What is left of the packs bought so far, as the programme for one material remembers it.

use super::cover::Need;

/// How many lots are remembered; what comes from more is counted with the one that expires first.
pub(super) const LOTS: usize = 3;

/// What is left of a mix.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Lot {
    /// Day of arrival.
    pub arrives: i32,
    /// Last usable day.
    pub through: i32,
    /// How much; 0 for none.
    pub quantity: i64,
}

/// When the first of them expires.
#[must_use]
pub(super) fn first_to_expire(lots: &[Lot; LOTS]) -> i32 {
    lots.iter().filter(|lot| lot.quantity > 0).map(|lot| lot.through).min().unwrap_or(i32::MAX)
}

/// Takes an amount from the lots that last through a day, those that expire first before the others; returns what is lacking.
#[must_use]
pub(super) fn draw(lots: &mut [Lot; LOTS], mut amount: i64, through: i32) -> i64 {
    for lot in lots.iter_mut() {
        if amount == 0 {
            break;
        }
        if lot.quantity > 0 && lot.through >= through {
            let taken = amount.min(lot.quantity);
            lot.quantity -= taken;
            amount -= taken;
        }
    }
    amount
}

/// Units times the days that they have been kept, where the amount is drawn for a requirement.
#[must_use]
pub(super) fn unit_days(lots: &[Lot; LOTS], mut amount: i64, need: &Need) -> f64 {
    let mut sum = 0.0;
    for lot in lots.iter().filter(|lot| lot.through >= need.through) {
        let taken = amount.min(lot.quantity);
        amount -= taken;
        sum += taken as f64 * f64::from(need.day - lot.arrives);
    }
    sum
}

/// Puts a lot among the others, by expiry; lots that expire together are one, unless `apart`, and the two that expire first
/// become one where there are too many.
pub(super) fn keep(lots: &mut [Lot; LOTS], lot: Lot, apart: bool) {
    if !apart && let Some(same) = lots.iter_mut().find(|other| other.quantity > 0 && other.through == lot.through) {
        same.quantity = same.quantity.saturating_add(lot.quantity);
        return;
    }
    let mut all = [Lot::default(); LOTS + 1];
    let mut count = 0;
    for other in lots.iter().filter(|other| other.quantity > 0) {
        all[count] = *other;
        count += 1;
    }
    let place = all[..count].iter().position(|other| other.through > lot.through).unwrap_or(count);
    all.copy_within(place..count, place + 1);
    all[place] = lot;
    count += 1;
    if count > LOTS {
        all[1] = Lot { quantity: all[0].quantity.saturating_add(all[1].quantity), ..all[0] };
        all.rotate_left(1);
    }
    lots.copy_from_slice(&all[..LOTS]);
}
