//! What to make so that less is lost, batch by batch.

use super::expiring::ExpiringView;
use super::shared::source_code;
use crate::plan::model::Snapshot;
use crate::plan::money::Money;
use crate::plan::outlook::Outlook;
use crate::plan::rescue::{Bought, Limit, Proposal, Rescue, Rescued};
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// Extra batches that use up what is at risk. Money is in the home currency.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct RescueView {
    /// Today.
    pub as_of: NaiveDate,
    /// Last day of the horizon.
    pub through: NaiveDate,
    /// Home currency.
    pub currency: String,
    /// By make date, then product.
    pub proposals: Vec<ProposalView>,
    /// The value at risk before, as `expiring` shows it.
    pub at_risk_value: String,
    /// What all proposals together save of it.
    pub saved: String,
    /// What has to be bought for them.
    pub to_buy: String,
    /// Saved, less what has to be bought.
    pub net: String,
    /// True where no other set of batches within the settings is worth more.
    pub proven: bool,
    /// What hindered the proof: `steps` or `opening`.
    pub limit: Option<String>,
    /// No set of batches has a greater net value.
    pub no_more_than: String,
}

/// What is expiring, and what could be made of it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ExpiringWithUseUpView {
    /// As `expiring` answers.
    #[serde(flatten)]
    pub expiring: ExpiringView,
    /// As `use-up` answers.
    pub use_up: RescueView,
}

/// One extra batch.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ProposalView {
    /// Code of the product.
    pub product: String,
    /// Its name.
    pub name: String,
    /// The day to make it.
    pub make_on: NaiveDate,
    /// Whole pieces that come out.
    pub pieces: i64,
    /// Net mass before loss, in mg.
    pub amount: i64,
    /// What is less at risk by it.
    pub uses: Vec<UseUpView>,
    /// What has to be bought for it.
    pub buy: Vec<BuyView>,
    /// What the value at risk falls by.
    pub saved: String,
    /// What has to be bought.
    pub to_buy: String,
    /// Saved, less what has to be bought.
    pub net: String,
}

/// So much of a lot that is no longer at risk.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct UseUpView {
    /// Code of the lot, or of the open order.
    pub lot: String,
    /// Code of the material or premix.
    pub material: String,
    /// Its name.
    pub name: String,
    /// How much; below 0 where the batch opens a lot whose rest then ends too early.
    pub amount: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What that cost.
    pub value: String,
}

/// So much of a material that has to be bought.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct BuyView {
    /// Code of the material.
    pub material: String,
    /// Its name.
    pub name: String,
    /// How much.
    pub amount: i64,
    /// `mg` or `pcs`.
    pub unit: String,
    /// What it costs at the lowest landed price.
    pub value: String,
}

/// Computes the report.
#[must_use]
pub fn rescue(snapshot: &Snapshot, outlook: &Outlook, rescue: &Rescue) -> RescueView {
    let decimal = |money: Money| snapshot.home.decimal(money.minor);
    let mut proposals: Vec<&Proposal> = rescue.proposals.iter().collect();
    proposals.sort_by_key(|proposal| (proposal.make_on, proposal.product));
    let limit = rescue.limit.map(|limit| match limit {
        Limit::Steps => "steps".to_owned(),
        Limit::Opening => "opening".to_owned(),
    });
    RescueView {
        as_of: outlook.today,
        through: outlook.horizon,
        currency: snapshot.home.code().to_owned(),
        proposals: proposals.into_iter().map(|proposal| proposal_view(snapshot, outlook, proposal)).collect(),
        at_risk_value: decimal(rescue.at_risk),
        saved: decimal(rescue.saved),
        to_buy: decimal(rescue.to_buy),
        net: decimal(rescue.saved - rescue.to_buy),
        proven: rescue.proven,
        limit,
        no_more_than: decimal(rescue.no_more_than),
    }
}

fn proposal_view(snapshot: &Snapshot, outlook: &Outlook, proposal: &Proposal) -> ProposalView {
    let decimal = |money: Money| snapshot.home.decimal(money.minor);
    let product = snapshot.product(proposal.product);
    ProposalView {
        product: product.code.clone(),
        name: product.name.clone(),
        make_on: proposal.make_on,
        pieces: proposal.pieces,
        amount: proposal.net.mg,
        uses: proposal.uses.iter().map(|used| use_view(snapshot, outlook, used)).collect(),
        buy: proposal.buys.iter().map(|buy| buy_view(snapshot, buy)).collect(),
        saved: decimal(proposal.saved),
        to_buy: decimal(proposal.to_buy),
        net: decimal(proposal.net_value()),
    }
}

fn use_view(snapshot: &Snapshot, outlook: &Outlook, used: &Rescued) -> UseUpView {
    let item = snapshot.item(used.item);
    UseUpView {
        lot: source_code(snapshot, outlook.items[used.item.index()].sources[used.supply]),
        material: item.code.clone(),
        name: item.name.clone(),
        amount: used.quantity.0,
        unit: item.unit.symbol().to_owned(),
        value: snapshot.home.decimal(used.value.minor),
    }
}

fn buy_view(snapshot: &Snapshot, buy: &Bought) -> BuyView {
    let item = snapshot.item(buy.item);
    BuyView {
        material: item.code.clone(),
        name: item.name.clone(),
        amount: buy.quantity.0,
        unit: item.unit.symbol().to_owned(),
        value: snapshot.home.decimal(buy.value.minor),
    }
}
