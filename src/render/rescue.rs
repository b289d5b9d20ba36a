//! What to make so that less is lost, in words.

use super::amounts::{amount, count, day, listed, mass, money};
use super::document::{Block, Document};
use super::one_line;
use crate::view::rescue::{ProposalView, RescueView};

/// The report as a document.
#[must_use]
pub fn document(view: &RescueView) -> Document {
    let mut document = Document::new("use-up", headline(view));
    for proposal in &view.proposals {
        let mut sentences: Vec<Block> = lines(proposal, &view.currency).into_iter().map(Block::paragraph).collect();
        sentences.push(Block::paragraph(format!("To plan it: {}", plan_add(proposal))));
        document = document.section(&title(proposal, view), sentences);
    }
    document.section("", closing(view).into_iter().map(Block::paragraph).collect())
}

/// The proposals as a part of another report.
pub(super) fn blocks(view: &RescueView) -> Vec<Block> {
    let proposal =
        |proposal: &ProposalView| format!("{} {}", title(proposal, view), lines(proposal, &view.currency).join(" "));
    let list = Block::list(view.proposals.iter().map(proposal).collect());
    std::iter::once(list).chain(closing(view).into_iter().map(Block::paragraph)).collect()
}

fn headline(view: &RescueView) -> String {
    let through = day(view.through, view.as_of);
    let at_risk = money(&view.at_risk_value, &view.currency);
    if view.proposals.is_empty() {
        return format!("{at_risk} is at risk through {through}; no extra batch would save more than it costs.");
    }
    let batches = count(view.proposals.len(), "extra batch saves", "extra batches save");
    let saved = money(&view.saved, &view.currency);
    format!("{batches} {saved} of the {at_risk} that is at risk through {through}.")
}

fn title(proposal: &ProposalView, view: &RescueView) -> String {
    let much = match usize::try_from(proposal.pieces) {
        Ok(pieces) if pieces > 0 => format!("{} ({})", count(pieces, "piece", "pieces"), mass(proposal.amount)),
        _ => mass(proposal.amount),
    };
    format!("On {} make {much} of {}.", day(proposal.make_on, view.as_of), one_line(&proposal.name))
}

fn lines(proposal: &ProposalView, currency: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let of_lot = |used: &crate::view::rescue::UseUpView| {
        format!(
            "{} of {} ({}), worth {}",
            amount(used.amount.abs(), &used.unit),
            one_line(&used.name),
            one_line(&used.lot),
            money(used.value.trim_start_matches('-'), currency)
        )
    };
    let used: Vec<String> = proposal.uses.iter().filter(|used| used.amount > 0).map(of_lot).collect();
    let spoiled: Vec<String> = proposal.uses.iter().filter(|used| used.amount < 0).map(of_lot).collect();
    if !used.is_empty() {
        lines.push(format!("It uses up {}.", listed(&used)));
    }
    if !spoiled.is_empty() {
        lines.push(format!("It opens what then ends too early: {}.", listed(&spoiled)));
    }
    if proposal.buy.is_empty() {
        lines.push("Nothing has to be bought for it.".to_owned());
    } else {
        let bought: Vec<String> = proposal
            .buy
            .iter()
            .map(|buy| format!("{} of {}", amount(buy.amount, &buy.unit), one_line(&buy.name)))
            .collect();
        lines.push(format!("To buy: {}, about {}.", listed(&bought), money(&proposal.to_buy, currency)));
    }
    lines.push(format!("It is worth {} all told.", money(&proposal.net, currency)));
    lines
}

/// The command that takes a proposal into the plan.
fn plan_add(proposal: &ProposalView) -> String {
    let much = match proposal.pieces {
        0 => format!("{} mg", proposal.amount),
        pieces => format!("{pieces} pcs"),
    };
    format!("stillroom plan add {} \"{much}\" --make-on {}", one_line(&proposal.product), proposal.make_on)
}

fn closing(view: &RescueView) -> Vec<String> {
    let mut words = Vec::new();
    if !view.proposals.is_empty() {
        words.push(format!(
            "All together: {} saved, {} to buy, {} to the good. No entry of the plan gets less; postage, whole packs and \
             your work are not counted.",
            money(&view.saved, &view.currency),
            money(&view.to_buy, &view.currency),
            money(&view.net, &view.currency)
        ));
    }
    words.push(if view.proven {
        "No other such batches are worth more.".to_owned()
    } else {
        format!(
            "The search ended at its limit: better batches may exist, but none worth more than {}.",
            money(&view.no_more_than, &view.currency)
        )
    });
    words
}
