//! What to make so that less is lost: extra batches of the book's products that use up what is at risk of expiring.
//!
//! An extra batch saves what the value at risk falls by, and costs what has to be bought for it. It ranks after all that
//! is planned: no entry of the plan gets less. The set of batches with the greatest value saved, less what has to be
//! bought, is searched with a bound that no set can beat. The model is section 7 of `docs/model.md`.

mod candidates;
mod last_day;
mod report;
mod search;
mod weigh;

pub use last_day::LastDays;
pub use report::{Bought, Proposal, Rescue, Rescued};

use super::allocate::SearchLimit;
use super::model::{PlanAmount, ProductId, Snapshot};
use super::outlook::Outlook;
use candidates::Candidate;
use chrono::NaiveDate;
use search::Search;
use weigh::Bench;

/// What may be proposed, and how far the search may go.
#[derive(Clone, Copy, Debug)]
pub struct RescueSettings {
    /// At most so many batches.
    pub most_batches: usize,
    /// A batch is at most so many times the product's largest planned amount.
    pub largest_times: i64,
    /// Batches and ranges of batches that are weighed up.
    pub steps: usize,
    /// How far the allocation may search for opening days, each time.
    pub allocation: SearchLimit,
}

impl Default for RescueSettings {
    fn default() -> Self {
        Self { most_batches: 3, largest_times: 2, steps: 50_000, allocation: SearchLimit { states: 200 } }
    }
}

/// An extra batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Batch {
    /// Of what.
    pub product: ProductId,
    /// The day it is made.
    pub make_on: NaiveDate,
    /// How much of it.
    pub amount: PlanAmount,
}

/// What may be made of a product on some days that come to the same.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// Of what.
    pub product: ProductId,
    /// The days, one batch on each: those first on which the plan makes the product already, then by date.
    pub days: Vec<NaiveDate>,
    /// The amounts, from the least to the greatest.
    pub amounts: Vec<PlanAmount>,
}

/// The extra batches that save the most, less what has to be bought for them.
#[must_use]
pub fn rescue(snapshot: &Snapshot, outlook: &Outlook, settings: RescueSettings) -> Rescue {
    let bench = Bench::new(snapshot, outlook, settings);
    let candidates = candidates::candidates(&bench, settings);
    let found = Search::new(&bench, &candidates, settings).run();
    let batches = search::batches(&candidates, &found.picks);
    let mut rescue = report::report(&bench, &batches).unwrap_or_else(|| report::nothing(&bench));
    rescue.proven = found.proven && bench.proven.get();
    rescue.limit = found.limit.or_else(|| (!bench.proven.get()).then_some(Limit::Opening));
    rescue.steps = found.steps;
    rescue.no_more_than = weigh::money_up(found.bound);
    rescue
}

/// What these extra batches would save and cost, in this order of rank; `None` where one of them cannot be made: what it
/// lacks cannot be bought in time, or it should have been started before today.
#[must_use]
pub fn weigh_up(snapshot: &Snapshot, outlook: &Outlook, settings: RescueSettings, batches: &[Batch]) -> Option<Rescue> {
    let bench = Bench::new(snapshot, outlook, settings);
    let mut rescue = report::report(&bench, batches)?;
    rescue.proven = bench.proven.get();
    Some(rescue)
}

/// What the search chooses from, in order of rank: by product, then by day.
#[must_use]
pub fn choices(snapshot: &Snapshot, outlook: &Outlook, settings: RescueSettings) -> Vec<Choice> {
    let bench = Bench::new(snapshot, outlook, settings);
    let choice = |candidate: Candidate| Choice {
        product: candidate.product,
        amounts: (candidate.least..=candidate.most).map(|count| candidate.amount(count)).collect(),
        days: candidate.days,
    };
    candidates::candidates(&bench, settings).into_iter().map(choice).collect()
}

/// Why an answer is not proven to be the best.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    /// The search had looked at as many batches as the settings allow.
    Steps,
    /// Which lots to open when was searched up to a limit.
    Opening,
}
