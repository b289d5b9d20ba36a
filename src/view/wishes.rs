//! What the maker wants of every reorder list, in words.

use crate::book::rows::WishRow;
use crate::plan::measure::canonical;
use crate::plan::model::{ItemId, Snapshot, SupplierId};
use crate::plan::wishes::{Target, Want, Wish};
use schemars::JsonSchema;
use serde::Serialize;

/// The wishes that are kept.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WishesView {
    /// In order of code.
    pub wishes: Vec<WishView>,
}

/// One wish.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WishView {
    /// Its code; empty where it was said with the command.
    pub wish: String,
    /// `exclude`, `pin`, `prefer` or `budget`.
    pub kind: String,
    /// What is wanted, as a phrase.
    pub what: String,
    /// Why, as the maker said it.
    pub reason: String,
}

/// Computes the list from the wishes of the snapshot and their rows.
#[must_use]
pub fn wishes(snapshot: &Snapshot, rows: &[WishRow]) -> WishesView {
    let view = |wish: &Wish| {
        let reason = rows.iter().find(|row| row.wish == wish.code).map_or("", |row| row.reason.as_str());
        WishView { reason: reason.to_owned(), ..wish_view(snapshot, wish) }
    };
    WishesView { wishes: snapshot.hand.wishes.iter().map(view).collect() }
}

/// One wish, without its reason.
#[must_use]
pub fn wish_view(snapshot: &Snapshot, wish: &Wish) -> WishView {
    let kind = match wish.want {
        Want::Exclude(_) => "exclude",
        Want::Pin(_) => "pin",
        Want::Prefer(..) => "prefer",
        Want::Budget(..) => "budget",
    };
    WishView {
        wish: wish.code.clone(),
        kind: kind.to_owned(),
        what: described(snapshot, wish.want),
        reason: String::new(),
    }
}

/// What is wanted, as a phrase.
#[must_use]
pub fn described(snapshot: &Snapshot, want: Want) -> String {
    let supplier = |supplier: SupplierId| {
        named(&snapshot.suppliers[supplier.index()].name, &snapshot.suppliers[supplier.index()].code)
    };
    let item = |item: ItemId| named(&snapshot.item(item).name, &snapshot.item(item).code);
    let pack = |id: ItemId, pack: Option<_>| {
        pack.map_or_else(String::new, |pack| format!(", packs of {}", canonical(pack, snapshot.item(id).unit)))
    };
    match want {
        Want::Exclude(Target::Supplier(id)) => format!("nothing from {}", supplier(id)),
        Want::Exclude(Target::Offer(id, material, size)) => {
            format!("no {} from {}{}", item(material), supplier(id), pack(material, size))
        }
        Want::Exclude(Target::Material(id)) => format!("no {}", item(id)),
        Want::Exclude(Target::Days(from, to)) if from == to => format!("no order on {from}"),
        Want::Exclude(Target::Days(from, to)) => format!("no order from {from} to {to}"),
        Want::Pin(Target::Supplier(id)) => format!("what {} sells is bought there", supplier(id)),
        Want::Pin(Target::Offer(id, material, size)) => {
            format!("{} only from {}{}", item(material), supplier(id), pack(material, size))
        }
        Want::Pin(Target::Material(id)) => format!("{} as soon as it can come", item(id)),
        Want::Pin(Target::Days(from, to)) if from == to => format!("orders on {from} only"),
        Want::Pin(Target::Days(from, to)) => format!("orders from {from} to {to} only"),
        Want::Prefer(id, percent) => format!("{} may cost {percent} % more", supplier(id)),
        Want::Budget(money, through) => {
            let amount = format!("{} {}", snapshot.home.decimal(money.minor), snapshot.home.code());
            match through {
                Some(day) => format!("no more than {amount} for orders through {day}"),
                None => format!("no more than {amount} for orders within a week"),
            }
        }
    }
}

fn named(name: &str, code: &str) -> String {
    if name.is_empty() { code.to_owned() } else { name.to_owned() }
}
