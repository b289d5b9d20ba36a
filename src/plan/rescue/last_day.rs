//! The last day on which using a lot still helps.

use super::candidates::reaches_of;
use crate::plan::calendar::Span;
use crate::plan::explode::Levels;
use crate::plan::model::{ItemId, Snapshot};
use crate::plan::outlook::Outlook;
use chrono::{Days, Months, NaiveDate};

/// A way in which some product of the book asks for an item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Way {
    ahead: u32,
    /// Months and days that it must last from the make date; `None` for packaging.
    minimum_life: Option<(u32, u32)>,
}

/// For each lot the last make date of any product of the book that could still take some of it.
#[derive(Clone, Debug)]
pub struct LastDays<'a> {
    outlook: &'a Outlook,
    ways: Vec<Vec<Way>>,
}

impl<'a> LastDays<'a> {
    /// Reads the book.
    #[must_use]
    pub fn new(snapshot: &Snapshot, outlook: &'a Outlook) -> Self {
        let levels = Levels::of(snapshot);
        let most_ahead = u32::try_from((outlook.horizon - outlook.today).num_days()).unwrap_or(0);
        let mut ways: Vec<Vec<Way>> = vec![Vec::new(); snapshot.items.len()];
        for product in snapshot.products.iter().filter(|product| product.formula.is_some()) {
            let life = product.minimum_life.unwrap_or_default();
            for reach in reaches_of(snapshot, &levels, product, most_ahead) {
                let minimum_life = (!reach.packaging).then_some((life.months, life.days));
                ways[reach.item.index()].push(Way { ahead: reach.ahead, minimum_life });
            }
        }
        for ways in &mut ways {
            ways.sort_unstable();
            ways.dedup();
        }
        Self { outlook, ways }
    }

    /// The latest day, from today on, on which a product of the book could be made with some of the supply: it must last
    /// from the day it is weighed through the product's minimum life. `None` where there is none left.
    #[must_use]
    pub fn of(&self, item: ItemId, supply: usize) -> Option<NaiveDate> {
        self.ways[item.index()].iter().filter_map(|way| self.by_way(*way, item, supply)).max()
    }

    fn by_way(&self, way: Way, item: ItemId, place: usize) -> Option<NaiveDate> {
        let part = &self.outlook.items[item.index()];
        let supply = &part.supplies[place];
        let allocation = part.allocation.as_ref()?;
        let through = allocation.through[place];
        // What the plan opens has its end already; what stays closed ends so long after this use.
        let stays_closed = allocation.left[place] == supply.quantity;
        let life_once_opened = supply.life_once_opened.filter(|_| stays_closed);
        let needed_through = |make_on: NaiveDate| match way.minimum_life {
            Some((months, days)) => Span { months, days }.after(make_on),
            None => make_on,
        };
        let mut make_on = match way.minimum_life {
            Some((months, days)) => last_before(Span { months, days }, through)?,
            None => through,
        };
        loop {
            let weighed = make_on.checked_sub_days(Days::new(u64::from(way.ahead)))?;
            if weighed < supply.from.max(self.outlook.today) {
                return None;
            }
            if life_once_opened.is_none_or(|life| life.after(weighed) >= needed_through(make_on)) {
                return Some(make_on);
            }
            make_on = make_on.pred_opt()?;
        }
    }
}

/// The last day whose day `span` later is not after `end`.
fn last_before(span: Span, end: NaiveDate) -> Option<NaiveDate> {
    // Months differ in length, so that going back may miss the day by a few.
    let back = end.checked_sub_days(Days::new(u64::from(span.days)))?.checked_sub_months(Months::new(span.months))?;
    let mut day = back.checked_add_days(Days::new(4)).unwrap_or(NaiveDate::MAX);
    while span.after(day) > end {
        day = day.pred_opt()?;
    }
    Some(day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_day_is_that_of_a_scan() {
        let first = NaiveDate::from_ymd_opt(2027, 1, 1).unwrap_or(NaiveDate::MIN);
        for span in [(0, 0), (0, 10), (1, 0), (1, 3), (4, 0), (13, 29)] {
            let span = Span { months: span.0, days: span.1 };
            for end in first.iter_days().take(800) {
                let scan = end.iter_days().rev().find(|day| span.after(*day) <= end);
                assert_eq!(last_before(span, end), scan, "{span} {end}");
            }
        }
    }
}
