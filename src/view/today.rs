//! The first look of the day: what to make and to start, what to order, what comes, what wants a decision.

use super::expiring::expiring;
use super::orders::orders;
use super::outbox::OutboxLetter;
use super::pieces::PiecesView;
use super::plan::plan;
use super::reorder::ReorderView;
use super::shared::entry_names;
use crate::plan::life::usable_through;
use crate::plan::model::{EntryId, ItemId, LotState, Snapshot};
use crate::plan::outlook::Outlook;
use chrono::{Days, NaiveDate};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// At most so many lots to use first: the most valuable ones.
const MOST_TO_USE_FIRST: usize = 5;

/// What today asks for.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TodayView {
    /// Today.
    pub as_of: NaiveDate,
    /// The last day that is looked at for what is not due yet.
    pub through: NaiveDate,
    /// In the order of the day: see [`Matter`].
    pub lines: Vec<TodayLine>,
}

/// One thing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct TodayLine {
    /// The day that counts for it: to make it on, to order on, it is expected on, the last useful one.
    pub due: Option<NaiveDate>,
    /// What it is.
    #[serde(flatten)]
    pub matter: Matter,
}

/// What a line is about. Amounts are in mg or pieces, as `unit` says; money is in the home currency.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Matter {
    /// A material cannot be there in time.
    Late {
        /// Its code.
        material: String,
        /// Its name.
        name: String,
        /// How much.
        short: i64,
        /// Of that.
        unit: String,
        /// When it can be there.
        soonest: Option<NaiveDate>,
        /// The plan entries that wait.
        entries: Vec<String>,
        /// What they make, place by place.
        products: Vec<String>,
        /// True where there is no lot and no offer of it to go by: perhaps it never runs out.
        nothing_on_file: bool,
    },
    /// A plan entry is to be made.
    Make {
        /// Its code.
        entry: String,
        /// What it makes.
        name: String,
        /// Pieces.
        pieces: i64,
        /// Net mass, in mg.
        net_mass: i64,
        /// Names of what it lacks.
        lacks: Vec<String>,
    },
    /// A premix is to be started, so that it is ready for its entries.
    Start {
        /// Its code.
        premix: String,
        /// Its name.
        name: String,
        /// How much, in mg.
        mass: i64,
        /// For which plan entries.
        entries: Vec<String>,
        /// What they make, place by place.
        products: Vec<String>,
    },
    /// An order is to be placed.
    Order {
        /// Supplier's code.
        supplier: String,
        /// Supplier's name.
        name: String,
        /// How many lines.
        lines: usize,
        /// What it costs, in home money.
        total: String,
        /// Home currency.
        currency: String,
    },
    /// A parcel is on its way, or should have come.
    Parcel {
        /// The order.
        order: String,
        /// Supplier's name.
        name: String,
        /// What is to come.
        materials: Vec<String>,
        /// True where the day has passed.
        overdue: bool,
    },
    /// A lot waits to be checked.
    Quarantine {
        /// The lot.
        lot: String,
        /// Of what.
        name: String,
        /// What is there.
        on_hand: i64,
        /// Of that.
        unit: String,
        /// Where it stands.
        place: String,
    },
    /// A lot has ended, and some of it is left: to be tested again or thrown away.
    Ended {
        /// The lot.
        lot: String,
        /// Of what.
        name: String,
        /// What is there.
        on_hand: i64,
        /// Of that.
        unit: String,
        /// Where it stands.
        place: String,
    },
    /// A lot ends within the plan with something left.
    UseFirst {
        /// The lot.
        lot: String,
        /// Of what.
        name: String,
        /// What nobody will use.
        at_risk: i64,
        /// Of that.
        unit: String,
        /// What that cost.
        value: String,
        /// Home currency.
        currency: String,
        /// Its last day.
        usable_through: NaiveDate,
    },
    /// A letter did not go out.
    Letter {
        /// Its number in the outbox.
        letter: i64,
        /// What it is about.
        subject: String,
        /// True where it is not tried again by itself.
        set_aside: bool,
        /// What the last try failed with.
        error: String,
    },
    /// Pieces are set and cured.
    Ready {
        /// The batch.
        batch: String,
        /// What it is.
        name: String,
        /// How many are here.
        pieces: i64,
        /// `released`, `quarantine` or `rejected`.
        state: String,
    },
}

/// Computes the look of the day. What is not due yet is shown `days` ahead.
#[must_use]
pub fn today(
    snapshot: &Snapshot,
    outlook: &Outlook,
    reorder: &ReorderView,
    pieces: &PiecesView,
    letters: &[OutboxLetter],
    days: u32,
) -> TodayView {
    let as_of = outlook.today;
    let through = as_of.checked_add_days(Days::new(days.into())).unwrap_or(NaiveDate::MAX);
    let mut lines = late(reorder);
    lines.extend(to_make(snapshot, outlook, through));
    lines.extend(to_start(snapshot, outlook, through));
    lines.extend(to_order(reorder, through));
    lines.extend(parcels(snapshot, as_of, through));
    lines.extend(to_decide(snapshot, as_of));
    lines.extend(to_use_first(snapshot, outlook));
    lines.extend(ready(pieces, as_of, days));
    lines.extend(letters.iter().filter_map(not_out));
    TodayView { as_of, through, lines }
}

fn late(reorder: &ReorderView) -> Vec<TodayLine> {
    let line = |late: &super::reorder::LateView| TodayLine {
        due: Some(late.needed),
        matter: Matter::Late {
            material: late.material.clone(),
            name: late.name.clone(),
            short: late.short,
            unit: late.unit.clone(),
            soonest: late.soonest,
            entries: late.entries.clone(),
            products: late.products.clone(),
            nothing_on_file: reorder.is_nothing_on_file(&late.material),
        },
    };
    reorder.late.iter().map(line).collect()
}

fn to_make(snapshot: &Snapshot, outlook: &Outlook, through: NaiveDate) -> Vec<TodayLine> {
    let due = plan(snapshot, outlook).entries.into_iter().filter(|entry| entry.make_on <= through);
    due.map(|entry| TodayLine {
        due: Some(entry.make_on),
        matter: Matter::Make {
            entry: entry.entry,
            name: entry.name,
            pieces: entry.pieces,
            net_mass: entry.net_mass,
            lacks: entry.short.into_iter().map(|missing| missing.name).collect(),
        },
    })
    .collect()
}

/// Premixes by the day on which they have to be started.
fn to_start(snapshot: &Snapshot, outlook: &Outlook, through: NaiveDate) -> Vec<TodayLine> {
    let mut starts: BTreeMap<(NaiveDate, ItemId), (i64, Vec<EntryId>)> = BTreeMap::new();
    for (place, part) in outlook.items.iter().enumerate() {
        let item = ItemId::new(place);
        let ahead = snapshot.item(item).premix.as_ref().map_or(0, |premix| u64::from(premix.make_ahead_days));
        for (demand, made) in part.demands.iter().zip(&part.made).filter(|(_, made)| made.mg > 0) {
            let day = demand.day.checked_sub_days(Days::new(ahead)).unwrap_or(outlook.today).max(outlook.today);
            if day <= through {
                let (mass, entries) = starts.entry((day, item)).or_default();
                *mass = mass.saturating_add(made.mg);
                if !entries.contains(&demand.entry) {
                    entries.push(demand.entry);
                }
            }
        }
    }
    let line = |((day, item), (mass, entries)): ((NaiveDate, ItemId), (i64, Vec<EntryId>))| {
        let (entries, products) = entries.into_iter().map(|entry| entry_names(snapshot, entry)).unzip();
        let (premix, name) = (snapshot.item(item).code.clone(), snapshot.item(item).name.clone());
        TodayLine { due: Some(day), matter: Matter::Start { premix, name, mass, entries, products } }
    };
    starts.into_iter().map(line).collect()
}

fn to_order(reorder: &ReorderView, through: NaiveDate) -> Vec<TodayLine> {
    let due = reorder.orders.iter().filter(|order| order.order_on <= through);
    due.map(|order| TodayLine {
        due: Some(order.order_on),
        matter: Matter::Order {
            supplier: order.supplier.clone(),
            name: order.supplier_name.clone(),
            lines: order.lines.len(),
            total: order.total_home.clone(),
            currency: reorder.currency.clone(),
        },
    })
    .collect()
}

/// One line for each order and day, those that are overdue first.
fn parcels(snapshot: &Snapshot, as_of: NaiveDate, through: NaiveDate) -> Vec<TodayLine> {
    let mut parcels: BTreeMap<(NaiveDate, String), (String, Vec<String>)> = BTreeMap::new();
    for line in orders(snapshot, as_of).orders.into_iter().filter(|line| line.expected <= through) {
        let parcel = parcels.entry((line.expected, line.order)).or_insert((line.supplier_name, Vec::new()));
        parcel.1.push(line.name);
    }
    let line = |((expected, order), (name, materials)): ((NaiveDate, String), (String, Vec<String>))| TodayLine {
        due: Some(expected),
        matter: Matter::Parcel { order, name, materials, overdue: expected < as_of },
    };
    parcels.into_iter().map(line).collect()
}

/// Lots in quarantine, and lots that have ended.
fn to_decide(snapshot: &Snapshot, as_of: NaiveDate) -> Vec<TodayLine> {
    let mut quarantined = Vec::new();
    let mut ended = Vec::new();
    for lot in snapshot.lots.iter().filter(|lot| !lot.on_hand.is_zero()) {
        let item = snapshot.item(lot.item);
        let (code, name, place) = (lot.code.clone(), item.name.clone(), lot.place.clone());
        let (on_hand, unit) = (lot.on_hand.0, item.unit.symbol().to_owned());
        let last = usable_through(lot, item);
        if lot.state == LotState::Quarantine {
            let matter = Matter::Quarantine { lot: code, name, on_hand, unit, place };
            quarantined.push(TodayLine { due: lot.received, matter });
        } else if lot.state == LotState::Released && last < as_of {
            ended.push(TodayLine { due: Some(last), matter: Matter::Ended { lot: code, name, on_hand, unit, place } });
        }
    }
    quarantined.sort_by_key(|line| line.due);
    ended.sort_by_key(|line| line.due);
    quarantined.extend(ended);
    quarantined
}

/// Lots of which the plan leaves something that is worth money, and that some product could still use.
fn to_use_first(snapshot: &Snapshot, outlook: &Outlook) -> Vec<TodayLine> {
    let view = expiring(snapshot, outlook);
    let mut lots: Vec<_> =
        view.lots.into_iter().filter(|lot| lot.at_risk > 0 && lot.usable_through >= view.as_of).collect();
    let minor = |value: &str| value.replace('.', "").parse::<i64>().unwrap_or(0);
    lots.sort_by_key(|lot| std::cmp::Reverse(minor(&lot.at_risk_value)));
    lots.truncate(MOST_TO_USE_FIRST);
    lots.into_iter()
        .map(|lot| TodayLine {
            due: lot.last_useful_day,
            matter: Matter::UseFirst {
                lot: lot.lot,
                name: lot.name,
                at_risk: lot.at_risk,
                unit: lot.unit,
                value: lot.at_risk_value,
                currency: view.currency.clone(),
                usable_through: lot.usable_through,
            },
        })
        .collect()
}

/// A letter that waits for another try, or was set aside.
fn not_out(letter: &OutboxLetter) -> Option<TodayLine> {
    let set_aside = letter.state == "set-aside";
    let matter = Matter::Letter {
        letter: letter.letter,
        subject: letter.subject.clone(),
        set_aside,
        error: letter.last_error.clone(),
    };
    (set_aside || letter.tries > 0).then_some(TodayLine { due: None, matter })
}

/// Batches that are ready since a few days or will be in a few.
fn ready(pieces: &PiecesView, as_of: NaiveDate, days: u32) -> Vec<TodayLine> {
    let near = |day: NaiveDate| (day - as_of).num_days().abs() <= i64::from(days);
    let batches = pieces.batches.iter().filter(|batch| near(batch.ready_on));
    let mut lines: Vec<TodayLine> = batches
        .map(|batch| TodayLine {
            due: Some(batch.ready_on),
            matter: Matter::Ready {
                batch: batch.batch.clone(),
                name: batch.name.clone(),
                pieces: batch.left,
                state: batch.state.clone(),
            },
        })
        .collect();
    lines.sort_by_key(|line| line.due);
    lines
}
