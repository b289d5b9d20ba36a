//! From the book to the core's snapshot: codes become references, balance lines are filled in.

use super::rows::{BandStart, FormulaLineRow, PremixRow, ProductRow, Share, WishKind, WishRow};
use super::versions::version_order;
use super::{Book, ListRows, ListedRow, ReceivedOrder, Standing};
use crate::plan::calendar::OrderCalendar;
use crate::plan::lead_time::learned;
use crate::plan::model::{
    DatedRate, Formula, FormulaId, FormulaLine, Hand, Item, ItemId, LastList, ListedLine, Lot, Offer, OpenOrder,
    Packaging, PlanEntry, Postage, Premix, Product, ProductId, Snapshot, Supplier, SupplierId, UseRates,
};
use crate::plan::money::{Currency, Money, Price};
use crate::plan::quantity::{Mass, Percent, Quantity, Unit};
use crate::plan::wishes::{Target, Want, Wish};
use hashbrown::HashMap;
use std::collections::BTreeMap;

/// A reference of the book that leads nowhere. Intake and the store's foreign keys keep such books out.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{list} {key} names {kind} {code:?}, which the store does not hold; import the file that has it")]
pub struct LinkError {
    list: &'static str,
    key: String,
    kind: &'static str,
    code: String,
}

/// Makes the snapshot. `standings` are what the ledger says of the lots.
///
/// # Errors
/// [`LinkError`] where a row names something that the book does not hold.
pub fn link(book: &Book, home: Currency, standings: &[Standing]) -> Result<Snapshot, LinkError> {
    let mut index = Index::new(book);
    let formulas = formulas(book, &mut index)?;
    Ok(Snapshot {
        home,
        items: items(book, &index),
        suppliers: suppliers(book),
        offers: offers(book, &index)?,
        rates: book
            .rates
            .iter()
            .map(|row| DatedRate { currency: row.currency, date: row.date, rate: row.rate })
            .collect(),
        lots: lots(book, &index, standings)?,
        orders: orders(book, &index)?,
        formulas,
        products: products(book, &index)?,
        entries: entries(book, &index)?,
        hand: Hand { wishes: wishes(book, &index)?, ..Hand::default() },
    })
}

/// Where each code stands in the snapshot's lists.
struct Index<'a> {
    items: HashMap<&'a str, ItemId>,
    item_codes: Vec<ItemSource<'a>>,
    suppliers: HashMap<&'a str, SupplierId>,
    products: HashMap<&'a str, ProductId>,
    /// Versions of each formula with their ids, oldest first.
    formulas: HashMap<&'a str, Vec<(&'a str, FormulaId)>>,
}

#[derive(Clone, Copy)]
enum ItemSource<'a> {
    Material(&'a super::rows::MaterialRow),
    Premix(&'a PremixRow),
}

impl<'a> ItemSource<'a> {
    fn code(self) -> &'a str {
        match self {
            Self::Material(row) => &row.code,
            Self::Premix(row) => &row.code,
        }
    }
}

impl<'a> Index<'a> {
    fn new(book: &'a Book) -> Self {
        let materials = book.materials.iter().map(ItemSource::Material);
        let mut item_codes: Vec<ItemSource<'a>> =
            materials.chain(book.premixes.iter().map(ItemSource::Premix)).collect();
        item_codes.sort_by_key(|source| source.code());
        let place = |(place, source): (usize, &ItemSource<'a>)| (source.code(), ItemId::new(place));
        let items = item_codes.iter().enumerate().map(place).collect();
        let suppliers = book.suppliers.iter().enumerate();
        let products = book.products.iter().enumerate();
        Self {
            items,
            item_codes,
            suppliers: suppliers.map(|(place, row)| (row.code.as_str(), SupplierId::new(place))).collect(),
            products: products.map(|(place, row)| (row.code.as_str(), ProductId::new(place))).collect(),
            formulas: HashMap::new(),
        }
    }

    fn item(&self, list: &'static str, key: &str, code: &str) -> Result<ItemId, LinkError> {
        self.items.get(code).copied().ok_or_else(|| dangling(list, key, "item", code))
    }

    fn supplier(&self, list: &'static str, key: &str, code: &str) -> Result<SupplierId, LinkError> {
        self.suppliers.get(code).copied().ok_or_else(|| dangling(list, key, "supplier", code))
    }

    /// The formula version that counts: the one that is named, or else the newest.
    fn formula(&self, code: &str, version: &str) -> Option<FormulaId> {
        let versions = self.formulas.get(code)?;
        if version.is_empty() {
            return versions.last().map(|(_, id)| *id);
        }
        versions.iter().find(|(name, _)| *name == version).map(|(_, id)| *id)
    }
}

fn dangling(list: &'static str, key: &str, kind: &'static str, code: &str) -> LinkError {
    LinkError { list, key: key.to_owned(), kind, code: code.to_owned() }
}

fn formulas<'a>(book: &'a Book, index: &mut Index<'a>) -> Result<Vec<Formula>, LinkError> {
    let mut versions: BTreeMap<(&str, &str), Vec<&FormulaLineRow>> = BTreeMap::new();
    for line in book.formula_lines.iter().filter(|line| !line.withdrawn) {
        versions.entry((&line.formula, &line.version)).or_default().push(line);
    }
    let mut formulas = Vec::with_capacity(versions.len());
    for ((code, version), lines) in versions {
        let known = index.formulas.entry(code).or_default();
        known.push((version, FormulaId::new(formulas.len())));
        known.sort_by(|left, right| version_order(left.0, right.0));
        let given: i64 = lines.iter().map(|line| given_share(line).millionths).sum();
        let balance = Percent { millionths: Percent::HUNDRED.millionths - given };
        let line = |row: &&FormulaLineRow| {
            let percent = if row.share == Share::Balance { balance } else { given_share(row) };
            let item = index.items.get(row.ingredient.as_str()).copied();
            let item = item.ok_or_else(|| dangling("formula", code, "ingredient", &row.ingredient))?;
            Ok(FormulaLine { item, percent, phase: row.phase.clone() })
        };
        let lines = lines.iter().map(line).collect::<Result<_, LinkError>>()?;
        formulas.push(Formula { code: code.to_owned(), version: version.to_owned(), lines });
    }
    Ok(formulas)
}

fn given_share(line: &FormulaLineRow) -> Percent {
    match line.share {
        Share::Percent(percent) => percent,
        Share::Balance => Percent::ZERO,
    }
}

fn items(book: &Book, index: &Index<'_>) -> Vec<Item> {
    debug_assert_eq!(index.item_codes.len(), book.materials.len() + book.premixes.len());
    let item = |source: &ItemSource<'_>| match source {
        ItemSource::Material(row) => Item {
            code: row.code.clone(),
            name: row.name.clone(),
            inci: row.inci.clone(),
            storage: row.storage.clone(),
            caution: row.caution.clone(),
            unit: row.unit,
            premix: None,
            unopened_life: row.unopened_life,
            opened_life: row.opened_life,
            safety_stock: row.safety_stock,
            shelf_space: row.shelf_space,
            always_at_hand: row.always_at_hand,
            density: row.density,
            piece_mass: row.piece_mass,
            use_rates: UseRates { leave_on: row.max_leave_on, rinse_off: row.max_rinse_off },
        },
        ItemSource::Premix(row) => Item {
            code: row.code.clone(),
            name: row.code.clone(),
            inci: String::new(),
            storage: String::new(),
            caution: String::new(),
            unit: Unit::Milligram,
            premix: Some(Premix {
                formula: index.formula(&row.formula, ""),
                make_ahead_days: row.make_ahead_days,
                loss: row.loss,
            }),
            unopened_life: row.life,
            opened_life: None,
            safety_stock: Quantity::ZERO,
            shelf_space: None,
            always_at_hand: false,
            density: None,
            piece_mass: None,
            use_rates: UseRates::default(),
        },
    };
    index.item_codes.iter().map(item).collect()
}

fn suppliers(book: &Book) -> Vec<Supplier> {
    let mut values: HashMap<&str, Vec<(Price, Price)>> = HashMap::new();
    let mut weights: HashMap<&str, Vec<(Mass, Price)>> = HashMap::new();
    for band in &book.postage {
        match band.from {
            BandStart::Value(from) => values.entry(&band.supplier).or_default().push((from, band.fee)),
            BandStart::Weight(from) => weights.entry(&band.supplier).or_default().push((from, band.fee)),
        }
    }
    let postage = |code: &str, flat: Price| {
        if let Some(bands) = values.get(code) {
            let mut bands = bands.clone();
            bands.sort();
            return Postage::ByValue(bands);
        }
        match weights.get(code) {
            Some(bands) => {
                let mut bands = bands.clone();
                bands.sort();
                Postage::ByWeight(bands)
            }
            None => Postage::Flat(flat),
        }
    };
    let supplier = |row: &super::rows::SupplierRow| Supplier {
        code: row.code.clone(),
        name: row.name.clone(),
        email: row.email.clone(),
        currency: row.currency,
        calendar: OrderCalendar {
            weekdays: row.order_weekdays,
            closed: row.closed.clone(),
            lead_time_days: row.lead_time_days,
        },
        minimum_order: row.minimum_order,
        postage: postage(&row.code, row.postage),
        free_postage_from: row.free_postage_from,
        duty: row.duty,
    };
    book.suppliers.iter().map(supplier).collect()
}

fn offers(book: &Book, index: &Index<'_>) -> Result<Vec<Offer>, LinkError> {
    let key = |offer: &Offer| (offer.supplier, offer.item, offer.pack);
    let mut offers: Vec<Offer> = Vec::with_capacity(book.offers.len());
    for row in &book.offers {
        let supplier = index.supplier("offer", &row.material, &row.supplier)?;
        let item = index.item("offer", &row.supplier, &row.material)?;
        let price_break = (row.from_packs, row.price);
        match offers.last_mut().filter(|last| key(last) == (supplier, item, row.pack)) {
            Some(last) => last.breaks.push(price_break),
            None => offers.push(Offer {
                supplier,
                item,
                pack: row.pack,
                pack_text: row.pack_text.clone(),
                breaks: vec![price_break],
                life_on_arrival: row.life_on_arrival,
                item_no: row.item_no.clone(),
            }),
        }
    }
    // As a rule they come in this order.
    offers.sort_by_key(key);
    offers.dedup_by(|later, first| {
        let is_same = key(later) == key(first);
        if is_same {
            first.breaks.append(&mut later.breaks);
        }
        is_same
    });
    offers.iter_mut().for_each(|offer| offer.breaks.sort_unstable());
    Ok(offers)
}

fn lots(book: &Book, index: &Index<'_>, standings: &[Standing]) -> Result<Vec<Lot>, LinkError> {
    let standing: HashMap<&str, &Standing> =
        standings.iter().map(|standing| (standing.lot.as_str(), standing)).collect();
    let mut lots = Vec::new();
    for row in &book.lots {
        let item = index.item("lot", &row.lot, &row.material)?;
        let Some(standing) = standing.get(row.lot.as_str()).filter(|standing| !standing.on_hand.is_zero()) else {
            continue;
        };
        lots.push(Lot {
            code: row.lot.clone(),
            item,
            on_hand: standing.on_hand,
            cost: standing.cost,
            currency: row.currency,
            received: row.received,
            best_before: row.best_before,
            opened: row.opened,
            state: row.state,
            place: row.place.clone(),
        });
    }
    Ok(lots)
}

fn orders(book: &Book, index: &Index<'_>) -> Result<Vec<OpenOrder>, LinkError> {
    let mut orders = Vec::new();
    for row in &book.orders {
        let packs = row.packs - row.packs_received;
        if row.cancelled || packs <= 0 {
            continue;
        }
        orders.push(OpenOrder {
            code: row.order.clone(),
            supplier: index.supplier("order", &row.order, &row.supplier)?,
            item: index.item("order", &row.order, &row.material)?,
            pack_text: row.pack_text.clone(),
            packs,
            quantity: Quantity(row.pack.0.saturating_mul(packs)),
            price: book.pack_price(row).times(packs),
            expected: row.expected,
            was_proposed: false,
            life_on_arrival: life_on_arrival(book, row),
        });
    }
    Ok(orders)
}

/// The life on arrival of the pack that was ordered, or of another pack of the material from the same supplier.
fn life_on_arrival(book: &Book, row: &super::rows::OrderRow) -> Option<crate::plan::calendar::Span> {
    let same = || book.offers.iter().filter(|offer| offer.supplier == row.supplier && offer.material == row.material);
    let offer = same().find(|offer| offer.pack == row.pack).or_else(|| same().next());
    offer.and_then(|offer| offer.life_on_arrival)
}

fn products(book: &Book, index: &Index<'_>) -> Result<Vec<Product>, LinkError> {
    let mut packaging: HashMap<&str, Vec<Packaging>> = HashMap::new();
    for row in &book.packaging {
        let item = index.item("packaging of", &row.product, &row.material)?;
        packaging.entry(&row.product).or_default().push(Packaging {
            item,
            per_piece_millionths: row.per_piece_millionths,
            per_batch: row.per_batch,
        });
    }
    let product = |row: &ProductRow| Product {
        code: row.code.clone(),
        name: row.name.clone(),
        formula: index.formula(&row.formula, &row.version),
        product_use: row.product_use,
        net_mass: row.net_mass,
        pieces_per_mould: row.pieces_per_mould,
        loss: row.loss,
        setting_days: row.setting_days,
        curing_days: row.curing_days,
        shelf_life: row.shelf_life,
        minimum_life: row.minimum_life,
        packaging: packaging.get(row.code.as_str()).cloned().unwrap_or_default(),
    };
    Ok(book.products.iter().map(product).collect())
}

fn entries(book: &Book, index: &Index<'_>) -> Result<Vec<PlanEntry>, LinkError> {
    let entries = book.plan.iter();
    entries
        .map(|row| {
            let product = index.products.get(row.product.as_str()).copied();
            let product = product.ok_or_else(|| dangling("plan entry", &row.entry, "product", &row.product))?;
            Ok(PlanEntry { code: row.entry.clone(), product, amount: row.amount, when: row.when })
        })
        .collect()
}

/// The wishes that count.
fn wishes(book: &Book, index: &Index<'_>) -> Result<Vec<Wish>, LinkError> {
    let wish = |row: &WishRow| Ok(want(row, index)?.map(|want| Wish { code: row.wish.clone(), want }));
    let kept = book.wishes.iter().filter(|row| !row.lifted);
    kept.filter_map(|row| wish(row).transpose()).collect()
}

/// What a row wants; `None` where it says nothing that can be wanted, which intake keeps out.
fn want(row: &WishRow, index: &Index<'_>) -> Result<Option<Want>, LinkError> {
    let supplier = match row.supplier.as_str() {
        "" => None,
        code => Some(index.supplier("wish", &row.wish, code)?),
    };
    let item = match row.material.as_str() {
        "" => None,
        code => Some(index.item("wish", &row.wish, code)?),
    };
    let target = match (supplier, item, row.from) {
        (Some(supplier), Some(item), _) => Some(Target::Offer(supplier, item, row.pack)),
        (Some(supplier), None, _) => Some(Target::Supplier(supplier)),
        (None, Some(item), _) => Some(Target::Material(item)),
        (None, None, Some(from)) => Some(Target::Days(from, row.to.unwrap_or(from))),
        (None, None, None) => None,
    };
    Ok(match row.kind {
        WishKind::Exclude => target.map(Want::Exclude),
        WishKind::Pin => target.map(Want::Pin),
        WishKind::Prefer => supplier.zip(row.percent).map(|(supplier, percent)| Want::Prefer(supplier, percent)),
        WishKind::Budget => row.amount.map(|amount| Want::Budget(Money { minor: amount.minor }, row.to)),
    })
}

/// Adds what the store knows beside the book: the last list, as far as its offers are still there, and what received
/// orders tell of their suppliers.
pub fn remember(snapshot: &mut Snapshot, list: &ListRows, received: &[ReceivedOrder]) {
    let supplier = |code: &str| snapshot.suppliers.iter().position(|supplier| supplier.code == code);
    let item = |code: &str| snapshot.items.binary_search_by(|item| item.code.as_str().cmp(code)).ok();
    let line = |row: &ListedRow| {
        Some(ListedLine {
            order_on: row.order_on,
            supplier: SupplierId::new(supplier(&row.supplier)?),
            item: ItemId::new(item(&row.material)?),
            pack: row.pack,
            packs: row.packs,
        })
    };
    let money = |minor| Money { minor };
    let last_list = LastList {
        lines: list.lines.iter().filter_map(line).collect(),
        whole_mark: list.whole_mark.clone(),
        lasting_mark: list.lasting_mark.clone(),
        lower_bound: money(list.lower_bound),
        simple_objective: money(list.simple_objective),
        new_would_save: list.new_would_save.map(money),
    };
    let mut days: BTreeMap<SupplierId, Vec<_>> = BTreeMap::new();
    for order in received {
        if let Some(place) = supplier(&order.supplier) {
            days.entry(SupplierId::new(place)).or_default().push((order.placed, order.complete));
        }
    }
    let lead_time = |(supplier, orders): (SupplierId, Vec<_>)| {
        Some((supplier, learned(&orders, &snapshot.suppliers[supplier.index()].calendar)?))
    };
    let lead_times = days.into_iter().filter_map(lead_time).collect();
    snapshot.hand.last_list = last_list;
    snapshot.hand.lead_times = lead_times;
}
