//! What is planned, and whether everything for it is there.

use super::shared::entry_names;
use crate::plan::model::{EntryId, Snapshot};
use crate::plan::outlook::Outlook;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// The plan, by make date.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PlanView {
    /// Today.
    pub as_of: NaiveDate,
    /// The last day listed.
    pub through: NaiveDate,
    /// By make date, then in the order of the plan.
    pub entries: Vec<PlanEntryView>,
}

/// One entry.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PlanEntryView {
    /// Code.
    pub entry: String,
    /// Code of the product.
    pub product: String,
    /// Its name.
    pub name: String,
    /// The day it is made.
    pub make_on: NaiveDate,
    /// The day it is set and cured.
    pub ready_on: NaiveDate,
    /// Whole pieces.
    pub pieces: i64,
    /// Net mass, in mg.
    pub net_mass: i64,
    /// What is weighed in, in mg.
    pub weighed_mass: i64,
    /// What is missing for it; empty where all is there or on its way.
    pub short: Vec<MissingView>,
}

/// Something that an entry does not get.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MissingView {
    /// Code of the material.
    pub material: String,
    /// Its name.
    pub name: String,
    /// How much.
    pub short: i64,
    /// `mg` or `pcs`.
    pub unit: String,
}

/// Computes the list.
#[must_use]
pub fn plan(snapshot: &Snapshot, outlook: &Outlook) -> PlanView {
    let mut entries: Vec<PlanEntryView> =
        (0..snapshot.entries.len()).map(|place| entry_view(snapshot, outlook, EntryId::new(place))).collect();
    entries.retain(|entry| entry.make_on <= outlook.horizon);
    entries.sort_by_key(|entry| entry.make_on);
    PlanView { as_of: outlook.today, through: outlook.horizon, entries }
}

fn entry_view(snapshot: &Snapshot, outlook: &Outlook, id: EntryId) -> PlanEntryView {
    let size = outlook.sizes[id.index()];
    let (entry, name) = entry_names(snapshot, id);
    let mut short: Vec<MissingView> = Vec::new();
    for shortage in outlook.shortages.iter().filter(|shortage| shortage.entry == id) {
        let item = snapshot.item(shortage.item);
        match short.iter_mut().find(|missing| missing.material == item.code) {
            Some(missing) => missing.short += shortage.quantity.0,
            None => short.push(MissingView {
                material: item.code.clone(),
                name: item.name.clone(),
                short: shortage.quantity.0,
                unit: item.unit.symbol().to_owned(),
            }),
        }
    }
    PlanEntryView {
        entry,
        product: snapshot.product(snapshot.entry(id).product).code.clone(),
        name,
        make_on: size.make_on,
        ready_on: size.ready_on,
        pieces: size.pieces,
        net_mass: size.net.mg,
        weighed_mass: size.weighed.mg,
        short,
    }
}
