//! The example workshop.

use super::adopted::{adopt, value_at_risk};
use std::path::PathBuf;
use stillroom::book::{Book, Journal, Standing, link::link};
use stillroom::intake::{check, read_paths};
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::model::Snapshot;
use stillroom::plan::money::Currency;
use stillroom::plan::outlook::look_ahead;
use stillroom::plan::rescue::{Batch, RescueSettings, choices, rescue, weigh_up};
use stillroom::view::expiring::expiring;
use stillroom::view::rescue as view;

/// The example workshop as it was on its first day.
pub fn example() -> Snapshot {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples/workshop");
    let checked = check(&read_paths(&[folder]), Currency::EUR, &Book::default(), &[], &Journal::default()).unwrap();
    let book = checked.merged;
    let standing = |lot: &stillroom::book::rows::LotRow| Standing {
        lot: lot.lot.clone(),
        on_hand: lot.amount,
        cost: lot.cost,
        moved: false,
    };
    let standings: Vec<Standing> = book.lots.iter().map(standing).collect();
    link(&book, Currency::EUR, &standings).unwrap()
}

#[test]
fn the_best_batches_are_proven_and_hold_in_the_plan() {
    let snapshot = example();
    let today = "2027-03-01".parse().unwrap();
    let outlook = look_ahead(&snapshot, today, None, SearchLimit::default());
    let found = rescue(&snapshot, &outlook, RescueSettings::default());
    let view = view::rescue(&snapshot, &outlook, &found);
    assert!(found.proven, "{found:?}");
    assert!(!found.proposals.is_empty() && found.worth > 0, "{found:?}");
    assert_eq!(view.at_risk_value, expiring(&snapshot, &outlook).at_risk_value);
    let (lots, orders) = (snapshot.lots.len(), snapshot.orders.len());
    let after = look_ahead(&adopt(&snapshot, &outlook, &found), today, Some(outlook.horizon), SearchLimit::default());
    assert_eq!(found.at_risk - found.saved, value_at_risk(&after, lots, orders), "{found:?}");
    assert_eq!(after.shortages, Vec::new());
    // Nothing that the search chooses from is worth more alone; every third amount of every choice is tried.
    for choice in choices(&snapshot, &outlook, RescueSettings::default()) {
        for amount in choice.amounts.into_iter().step_by(3) {
            let batch = Batch { product: choice.product, make_on: choice.days[0], amount };
            let alone = weigh_up(&snapshot, &outlook, RescueSettings::default(), &[batch]);
            assert!(alone.is_none_or(|alone| alone.worth <= found.worth), "{batch:?}");
        }
    }
}

#[test]
fn the_last_useful_days_are_those_of_the_book() {
    let snapshot = example();
    let outlook = look_ahead(&snapshot, "2027-03-01".parse().unwrap(), None, SearchLimit::default());
    let lots = expiring(&snapshot, &outlook).lots;
    let last = |code: &str| lots.iter().find(|lot| lot.lot == code).unwrap().last_useful_day.map(|day| day.to_string());
    // House soap asks for no minimum life: the sunflower oil may go into it on its last day, 25 March.
    assert_eq!(last("L2606-1"), Some("2027-03-25".to_owned()));
    // Oat flour is in oat soap (a month) and bath melts (two): a month before 18 April.
    assert_eq!(last("L2606-2"), Some("2027-03-18".to_owned()));
    // Rosehip oil, opened on 20 November, ends on 20 April; hand cream asks for two months, so that it is too late.
    assert_eq!(last("L2609-1"), None);
}
