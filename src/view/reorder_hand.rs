//! What the reorder list says besides its orders: what was wanted, what a budget leaves, why an order is there, which plan
//! entries could move.

use super::reorder::OrderView;
use super::shared::entry_names;
use super::wishes::{WishView, wish_view};
use crate::plan::model::{EntryId, ItemId, OfferId, PlanDay, Snapshot};
use crate::plan::money::Price;
use crate::plan::moves::{EntryMove, Moves};
use crate::plan::outlook::Outlook;
use crate::plan::quantity::Quantity;
use crate::plan::reorder::budget::Budgeted;
use crate::plan::reorder::listing::Listing;
use crate::plan::reorder::requirements::{Cause, Late};
use crate::plan::reorder::soonest::{SoonestOffer, soonest_offer};
use crate::plan::reorder::why::{OrderWhy, WithoutSupplier};
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// What goes with the list as a whole.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct ReorderHand {
    /// The moves that would make the plan whole; `None` where nothing is late.
    pub moves: Option<MovesView>,
    /// Orders that need not go out before the list is looked at again; only with `--due`.
    pub outlook: Vec<OrderView>,
    /// The wishes that shaped the list.
    pub wishes: Vec<WishView>,
    /// Materials that are needed and were left out as wished.
    pub left_out: Vec<String>,
    /// Materials to be bought whose shelf space the list minds.
    pub shelves: Vec<String>,
    /// What came of the budget.
    pub budget: Option<BudgetView>,
    /// Where the last list stays though a new one were a little cheaper: by how much, in home money.
    pub new_would_save: Option<String>,
    /// What else is offered of the material that was asked for; only with `--why`.
    pub offers: Option<Vec<OfferView>>,
}

/// Which entries could move so that the plan is whole.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MovesView {
    /// True where these moves make the plan whole.
    pub whole: bool,
    /// True where no smaller set does; where there is none, that there is none.
    pub proven: bool,
    /// In the order of the plan.
    pub moves: Vec<MoveView>,
}

/// An entry that could move.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MoveView {
    /// Its code.
    pub entry: String,
    /// Name of the product.
    pub name: String,
    /// The day it is made as planned.
    pub from: NaiveDate,
    /// The day it could be made.
    pub to: NaiveDate,
    /// The same day as `plan move` takes it: `--make-on 2027-03-09` or `--ready-by 2027-04-20`.
    pub option: String,
}

/// A budget and what it leaves uncovered.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct BudgetView {
    /// The budget, in home money.
    pub amount: String,
    /// The last day whose orders it pays.
    pub through: NaiveDate,
    /// What these orders cost.
    pub spent: String,
    /// False where less harm may be possible.
    pub proven: bool,
    /// What is left uncovered.
    pub uncovered: Vec<UncoveredView>,
}

/// Something that a budget does not pay.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct UncoveredView {
    /// Material's code.
    pub material: String,
    /// Material's name.
    pub name: String,
    /// `mg` or `pcs`.
    pub unit: String,
    /// How much.
    pub short: i64,
    /// When it is needed.
    pub date: NaiveDate,
    /// The plan entries behind it.
    pub entries: Vec<String>,
    /// What they make, place by place.
    pub products: Vec<String>,
    /// True where the safety stock is part of it.
    pub safety_stock: bool,
}

/// An offer of a material.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OfferView {
    /// Supplier's code.
    pub supplier: String,
    /// Supplier's name.
    pub supplier_name: String,
    /// The pack, as in the offer.
    pub pack: String,
    /// The lowest number of packs, and the price of one then.
    pub from_packs: i64,
    /// In `currency`.
    pub price: String,
    /// The supplier's.
    pub currency: String,
    /// Goods and duty for a kilogram (a piece of packaging) at that price, in home money; `None` without a rate.
    pub landed: Option<String>,
    /// When an order of today or the next order day is there.
    pub soonest: Option<NaiveDate>,
    /// True where the list buys it.
    pub on_list: bool,
}

/// Why an order is on the list.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct OrderWhyView {
    /// Days from order to parcel that were reckoned with.
    pub lead_time_days: u32,
    /// `stated` or `learned`.
    pub lead_time: String,
    /// The need that it comes for first.
    pub first_need: Option<FirstNeedView>,
    /// What the list would cost more without the supplier, in home money, by the best list that a short search finds.
    pub without_supplier_costs_more: Option<String>,
    /// Materials that only this supplier can bring in time.
    pub only_here: Vec<String>,
    /// How far the order is from free postage; `None` where nothing would be free.
    pub free_postage: Option<FreePostageView>,
    /// What waits for the supplier's later orders.
    pub waits: Vec<WaitsView>,
}

/// The need that decides an order's day.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FirstNeedView {
    /// Name of the material.
    pub name: String,
    /// Its code.
    pub material: String,
    /// The day it is needed.
    pub date: NaiveDate,
    /// True where a later order would come too late for it.
    pub is_last_day: bool,
}

/// What is missing to free postage. In the order's currency, but for what is said otherwise.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FreePostageView {
    /// Goods from which it is free.
    pub from: String,
    /// Goods that are missing.
    pub missing: String,
    /// What is paid for sending now.
    pub postage: String,
    /// A material of a later order on the list that would reach it: the one that costs least to bring forward.
    pub bring_forward: Option<String>,
    /// Its name.
    pub bring_forward_name: Option<String>,
    /// What the list would cost more then, in home money; below 0 where it would cost less.
    pub costs_more: Option<String>,
}

/// What waits for a later order.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WaitsView {
    /// The day of that order.
    pub order_on: NaiveDate,
    /// Codes.
    pub materials: Vec<String>,
    /// Names.
    pub names: Vec<String>,
}

/// How something late could be had, and which entries could move.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct WayOut {
    /// The cheapest offer that is there on the soonest day.
    pub soonest_offer: Option<SoonestOfferView>,
    /// The entries behind it, each with the first day on which it could be made if nothing else moved.
    pub could_move: Vec<CouldMoveView>,
}

/// The cheapest offer that is there first.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SoonestOfferView {
    /// Supplier's code.
    pub supplier: String,
    /// Supplier's name.
    pub supplier_name: String,
    /// Ordered on.
    pub order_on: NaiveDate,
    /// At the door on.
    pub arrives_on: NaiveDate,
    /// The pack, as in the offer.
    pub pack: String,
    /// How many.
    pub packs: i64,
    /// Goods and duty, in home money.
    pub landed: String,
    /// Postage if nothing else were in the parcel, in home money.
    pub postage_alone: String,
    /// True where the supplier wants more goods in an order.
    pub below_minimum: bool,
}

/// A late entry and the day on which it could be made.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CouldMoveView {
    /// The entry.
    pub entry: String,
    /// The first day; `None` where none was found.
    pub to: Option<NaiveDate>,
}

/// What is known of a list, ready to be told.
pub struct Hand<'a> {
    /// The workshop.
    pub snapshot: &'a Snapshot,
    /// What lies ahead.
    pub outlook: &'a Outlook,
    /// The list.
    pub listing: &'a Listing,
    /// Why each order is on it.
    pub why: &'a [OrderWhy],
    /// The moves; `None` where nothing is late.
    pub moves: Option<&'a Moves>,
}

impl Hand<'_> {
    /// What goes with the list as a whole.
    #[must_use]
    pub fn of_list(&self) -> ReorderHand {
        let (snapshot, rooms) = (self.snapshot, &self.listing.requirements.problem.rooms);
        ReorderHand {
            moves: self.moves.map(|moves| MovesView {
                whole: moves.whole,
                proven: moves.proven,
                moves: moves.moves.iter().map(|moved| self.moved(moved)).collect(),
            }),
            outlook: Vec::new(),
            wishes: snapshot.hand.wishes.iter().map(|wish| wish_view(snapshot, wish)).collect(),
            left_out: self.listing.left_out.iter().map(|item| snapshot.item(*item).code.clone()).collect(),
            shelves: rooms.iter().map(|room| snapshot.item(room.item).code.clone()).collect(),
            budget: self.listing.budget.as_ref().map(|budget| self.budget(budget)),
            new_would_save: self.listing.new_would_save.map(|money| snapshot.home.decimal(money.minor)),
            offers: None,
        }
    }

    fn moved(&self, moved: &EntryMove) -> MoveView {
        let entry = self.snapshot.entry(moved.entry);
        let option = match moved.when {
            PlanDay::MakeOn(day) => format!("--make-on {day}"),
            PlanDay::ReadyBy(day) => format!("--ready-by {day}"),
        };
        let name = self.snapshot.product(entry.product).name.clone();
        MoveView { entry: entry.code.clone(), name, from: moved.from, to: moved.to, option }
    }

    fn budget(&self, budget: &Budgeted) -> BudgetView {
        let home = self.snapshot.home;
        let uncovered = |uncovered: &crate::plan::reorder::budget::Uncovered| {
            let item = self.snapshot.item(uncovered.item);
            let (entries, products) = entries(self.snapshot, self.outlook, &uncovered.causes);
            UncoveredView {
                material: item.code.clone(),
                name: item.name.clone(),
                unit: item.unit.symbol().to_owned(),
                short: uncovered.quantity.0,
                date: uncovered.day,
                entries,
                products,
                safety_stock: uncovered.causes.iter().any(|(cause, _)| *cause == Cause::SafetyStock),
            }
        };
        BudgetView {
            amount: home.decimal(budget.amount.minor),
            through: budget.through,
            spent: home.decimal(budget.spent.minor),
            proven: budget.proven,
            uncovered: budget.uncovered.iter().map(uncovered).collect(),
        }
    }

    /// Why the order at this place of the list is there.
    #[must_use]
    pub fn of_order(&self, place: usize) -> OrderWhyView {
        let order = &self.listing.plan.orders[place];
        let supplier = &self.snapshot.suppliers[order.supplier.index()];
        let lead_time_days = supplier.calendar.lead_time_days;
        let stated = self.snapshot.hand.lead_times.get(&order.supplier).map(|taught| taught.stated_days);
        let is_learned = stated.is_some_and(|stated| stated != lead_time_days);
        let told = OrderWhyView {
            lead_time_days,
            lead_time: if is_learned { "learned" } else { "stated" }.to_owned(),
            ..OrderWhyView::default()
        };
        let Some(why) = self.why.get(place) else { return told };
        let code = |item: &ItemId| self.snapshot.item(*item).code.clone();
        let name = |item: &ItemId| self.snapshot.item(*item).name.clone();
        let home = self.snapshot.home;
        let decimal = |minor| supplier.currency.decimal(minor);
        OrderWhyView {
            first_need: why.first_need.map(|need| FirstNeedView {
                name: name(&need.item),
                material: code(&need.item),
                date: need.day,
                is_last_day: need.is_last_day,
            }),
            without_supplier_costs_more: match &why.without_supplier {
                WithoutSupplier::Costs(money) => Some(home.decimal(money.minor)),
                _ => None,
            },
            only_here: match &why.without_supplier {
                WithoutSupplier::OnlyHe(items) => items.iter().map(name).collect(),
                _ => Vec::new(),
            },
            free_postage: why.free_postage.map(|free| FreePostageView {
                from: decimal(free.from.minor),
                missing: decimal(free.missing.minor),
                postage: decimal(free.postage.minor),
                bring_forward: free.forward.map(|(item, _)| code(&item)),
                bring_forward_name: free.forward.map(|(item, _)| name(&item)),
                costs_more: free.forward.map(|(_, money)| home.decimal(money.minor)),
            }),
            waits: why
                .waits
                .iter()
                .map(|(order_on, items)| WaitsView {
                    order_on: *order_on,
                    materials: items.iter().map(code).collect(),
                    names: items.iter().map(name).collect(),
                })
                .collect(),
            ..told
        }
    }

    /// How something late could be had.
    #[must_use]
    pub fn way_out(&self, late: &Late) -> WayOut {
        let found = soonest_offer(&self.listing.requirements.problem, late);
        let mut behind: Vec<EntryId> = late
            .causes
            .iter()
            .filter_map(|(cause, _)| match cause {
                Cause::Shortage(place) => Some(self.outlook.shortages[*place].entry),
                Cause::SafetyStock => None,
            })
            .collect();
        behind.sort_unstable();
        behind.dedup();
        let could = |entry: EntryId| {
            let known = self.moves.and_then(|moves| moves.late.iter().find(|late| late.entry == entry));
            known.map(|known| CouldMoveView {
                entry: self.snapshot.entry(entry).code.clone(),
                to: known.could.map(|could| could.to),
            })
        };
        WayOut {
            soonest_offer: found.map(|offer| self.soonest(&offer)),
            could_move: behind.into_iter().filter_map(could).collect(),
        }
    }

    fn soonest(&self, offer: &SoonestOffer) -> SoonestOfferView {
        let facts = &self.snapshot.offers[offer.offer.index()];
        let supplier = &self.snapshot.suppliers[facts.supplier.index()];
        SoonestOfferView {
            supplier: supplier.code.clone(),
            supplier_name: supplier.name.clone(),
            order_on: offer.order_on,
            arrives_on: offer.arrives_on,
            pack: facts.pack_text.clone(),
            packs: offer.packs,
            landed: self.snapshot.home.decimal(offer.landed.minor),
            postage_alone: self.snapshot.home.decimal(offer.postage_alone.minor),
            below_minimum: offer.is_below_minimum,
        }
    }

    /// What is offered of a material, in the order of the offers.
    #[must_use]
    pub fn offers_of(&self, item: ItemId) -> Vec<OfferView> {
        let snapshot = self.snapshot;
        let today = self.outlook.today;
        let bought: Vec<OfferId> =
            self.listing.plan.orders.iter().flat_map(|order| order.lines.iter().map(|line| line.offer)).collect();
        let own = snapshot.offers.iter().enumerate().filter(|(_, offer)| offer.item == item);
        let view = |(place, offer): (usize, &crate::plan::model::Offer)| {
            let supplier = &snapshot.suppliers[offer.supplier.index()];
            let (from_packs, price) = offer.breaks.first().copied().unwrap_or_default();
            let duty = supplier.duty.of(price.minor);
            OfferView {
                supplier: supplier.code.clone(),
                supplier_name: supplier.name.clone(),
                pack: offer.pack_text.clone(),
                from_packs,
                price: supplier.currency.decimal(price.minor),
                currency: supplier.currency.code().to_owned(),
                landed: snapshot
                    .to_home(Price { minor: price.minor.saturating_add(duty) }, supplier.currency, today)
                    .map(|money| per_unit(snapshot, item, money, offer.pack)),
                soonest: supplier.calendar.next_order_day(today).map(|day| supplier.calendar.arrival(day)),
                on_list: bought.contains(&OfferId::new(place)),
            }
        };
        own.map(view).collect()
    }
}

/// Money for a pack as money for a kilogram or a piece, half up.
fn per_unit(snapshot: &Snapshot, item: ItemId, money: crate::plan::money::Money, pack: Quantity) -> String {
    let whole = match snapshot.item(item).unit {
        crate::plan::quantity::Unit::Milligram => 1_000_000,
        crate::plan::quantity::Unit::Piece => 1,
    };
    snapshot.home.decimal(money.share(whole, pack.0).minor)
}

/// The plan entries behind some causes, each once, in the order of the plan; and what they make.
pub(super) fn entries(
    snapshot: &Snapshot,
    outlook: &Outlook,
    causes: &[(Cause, Quantity)],
) -> (Vec<String>, Vec<String>) {
    let entry = |(cause, _): &(Cause, Quantity)| match cause {
        Cause::Shortage(place) => Some(outlook.shortages[*place].entry),
        Cause::SafetyStock => None,
    };
    let mut entries: Vec<_> = causes.iter().filter_map(entry).collect();
    entries.sort_unstable();
    entries.dedup();
    entries.into_iter().map(|entry| entry_names(snapshot, entry)).unzip()
}
