//! Suppliers and what they take and offer: postage, offers, exchange rates, orders.

use super::names::Space;
use super::{Context, Key, keyed, merge};
use crate::book::rows::{BandStart, OfferRow, OrderRow, PostageRow, RateRow, SupplierRow};
use crate::intake::cell::{self, Parsed};
use crate::intake::columns::SheetKind;
use crate::intake::fault::Problem;
use crate::intake::row_reader::RowReader;
use crate::plan::calendar::Span;
use crate::plan::measure::{DecimalMark, Measure};
use crate::plan::money::{Currency, Price, Rate};
use crate::plan::quantity::{Density, Mass, Percent, Quantity, Unit};
use chrono::NaiveDate;
use hashbrown::hash_map::Entry;
use hashbrown::{HashMap, HashSet};
use std::collections::{BTreeMap, BTreeSet};

/// The most packs of a line.
const MOST_PACKS: i64 = 1_000_000;

/// Reads `suppliers`.
pub(super) fn suppliers(context: &mut Context<'_>) {
    let existing = keyed(&context.existing.suppliers, |row| row.code.clone());
    let key_of = |_: &Context<'_>, reader: &mut RowReader<'_>| reader.required_text("code");
    let merged = merge(context, SheetKind::Suppliers, existing, key_of, |context, reader, code, base| {
        supplier(context, reader, code, base)
    });
    context.merged.suppliers = merged.by_key();
}

fn supplier(
    context: &Context<'_>,
    reader: &mut RowReader<'_>,
    code: &str,
    base: Option<&SupplierRow>,
) -> Option<SupplierRow> {
    let name = reader.required_text("name");
    let currency = reader.required("currency", |cell, _| cell::currency(cell));
    if let (Some(new), Some(old)) = (currency, base.map(|row| row.currency)) {
        fault_other_minor_unit(context, reader, code, old, new);
    }
    let lead_time_days = reader.required("lead_time_days", cell::days);
    let money = |cell: &str, mark| cell::price(cell, mark, currency);
    let old_price = |field: fn(&SupplierRow) -> Price| base.map_or(Price::ZERO, field);
    Some(SupplierRow {
        code: code.to_owned(),
        email: reader.or_empty(
            "email",
            base.map_or_else(String::new, |row| row.email.clone()),
            String::new(),
            |cell, _| cell::email(cell),
        ),
        order_weekdays: reader.or_empty(
            "order_weekdays",
            base.map(|row| row.order_weekdays).unwrap_or_default(),
            Default::default(),
            |cell, _| cell::weekdays(cell),
        ),
        closed: reader.or_empty(
            "closed",
            base.map(|row| row.closed.clone()).unwrap_or_default(),
            Vec::new(),
            |cell, _| cell::closed(cell),
        ),
        minimum_order: reader.or_empty("minimum_order", old_price(|row| row.minimum_order), Price::ZERO, money),
        postage: reader.or_empty("postage", old_price(|row| row.postage), Price::ZERO, money),
        free_postage_from: reader.optional("free_postage_from", base.and_then(|row| row.free_postage_from), money),
        duty: reader.or_empty("duty", base.map(|row| row.duty).unwrap_or_default(), Percent::ZERO, |cell, mark| {
            cell::percent(cell, mark, 1_000)
        }),
        name: name?,
        currency: currency?,
        lead_time_days: lead_time_days?,
    })
}

/// Amounts are kept in minor units: 1250 is 12.50 EUR but 1250 JPY.
fn fault_other_minor_unit(context: &Context<'_>, reader: &mut RowReader<'_>, code: &str, old: Currency, new: Currency) {
    let book = context.existing;
    let has_amounts = book.offers.iter().any(|row| row.supplier == code)
        || book.postage.iter().any(|row| row.supplier == code)
        || book.orders.iter().any(|row| row.supplier == code);
    if old.exponent() != new.exponent() && has_amounts {
        let problem = format!("has other decimal places than {old}, in which this supplier's prices are kept");
        reader.fault("currency", problem, "take a new code for the supplier");
    }
}

/// Reads `postage`. Where a file has a supplier's bands by weight, his bands by value go, and the other way round.
pub(super) fn postage(context: &mut Context<'_>) {
    let sheets = context.sheets;
    let mut kinds: BTreeMap<String, BTreeSet<bool>> = BTreeMap::new();
    for (sheet, row) in sheets.rows(SheetKind::Postage) {
        let supplier = sheet.cell(row, "supplier").unwrap_or_default().to_owned();
        let by_weight = sheet.cell(row, "by").is_some_and(|cell| cell.eq_ignore_ascii_case("weight"));
        kinds.entry(supplier).or_default().insert(by_weight);
    }
    let existing = keyed(&context.existing.postage, |row| (row.supplier.clone(), row.from));
    let existing = existing.filter(|((supplier, from), _)| {
        kinds.get(supplier).is_none_or(|kinds| kinds.contains(&matches!(from, BandStart::Weight(_))))
    });
    let merged = merge(context, SheetKind::Postage, existing, postage_key, |context, reader, (supplier, from), _| {
        let currency = context.currency_of(supplier);
        let fee = reader.required("fee", |cell, mark| cell::price(cell, mark, currency))?;
        Some(PostageRow { supplier: supplier.clone(), from: *from, fee })
    });
    let places = context.places(SheetKind::Postage, "supplier");
    for (supplier, kinds) in &kinds {
        let starts: Vec<BandStart> =
            merged.iter().filter(|((of, _), _)| of == supplier).map(|(&(_, from), _)| from).collect();
        let starts_at_zero = starts
            .iter()
            .any(|from| matches!(from, BandStart::Value(Price { minor: 0 }) | BandStart::Weight(Mass { mg: 0 })));
        if kinds.len() > 1 {
            let problem = format!("supplier {supplier} has bands by value and by weight");
            context.fault_at(SheetKind::Postage, places.get(supplier), problem, "keep to one of the two");
        } else if !starts.is_empty() && !starts_at_zero {
            let problem = format!("supplier {supplier} has no band from 0 on");
            context.fault_at(
                SheetKind::Postage,
                places.get(supplier),
                problem,
                "add the band from 0, so that every order has its postage",
            );
        }
    }
    context.merged.postage = merged.by_key();
}

impl Key for (String, BandStart) {
    fn shown(&self, reader: &RowReader<'_>) -> String {
        format!("{}, from {}", self.0, reader.filled("from").unwrap_or_default())
    }
}

fn postage_key(context: &Context<'_>, reader: &mut RowReader<'_>) -> Option<(String, BandStart)> {
    let supplier = context.refer(reader, "supplier", Space::Supplier)?;
    let by_weight =
        reader.or_empty("by", false, false, |cell, _| cell::word(cell, &[("value", false), ("weight", true)]));
    let currency = context.currency_of(&supplier);
    let from = reader.required("from", |cell, mark| match (by_weight, cell) {
        (true, "0") => Ok(BandStart::Weight(Mass { mg: 0 })),
        (true, _) => cell::mass(cell, mark).map(BandStart::Weight),
        (false, _) => cell::price(cell, mark, currency).map(BandStart::Value),
    })?;
    Some((supplier, from))
}

type OfferKey = (String, String, Quantity, i64);

/// What all rows of a pack share: the places of its supplier and its material among the rows, and its amount. A long file has
/// as many packs as rows.
type PackKey = (usize, usize, Quantity);

/// The life on arrival and the item number of a pack.
type PackFacts = (Option<Span>, String);

/// Materials whose density the files put right.
fn new_densities(context: &Context<'_>) -> BTreeMap<String, Density> {
    let changed = context.existing.materials.iter().filter_map(|before| {
        let density = context.material(&before.code)?.density?;
        (before.density != Some(density)).then(|| (before.code.clone(), density))
    });
    changed.collect()
}

/// What a stored pack that is written as a volume weighs with its material's new density.
fn repacked(denser: &BTreeMap<String, Density>, material: &str, text: &str, before: Quantity) -> Quantity {
    let Some(&density) = denser.get(material) else { return before };
    let measure = Measure::parse(text, DecimalMark::PointOrClearComma).ok().filter(|measure| measure.is_volume());
    let weighed = measure.and_then(|measure| measure.quantity(Unit::Milligram, Some(density)).ok());
    weighed.filter(|pack| !pack.is_zero()).unwrap_or(before)
}

/// Which pack a row is of; `None` where its supplier or material has a fault.
fn pack_key(context: &Context<'_>, supplier: &str, material: &str, pack: Quantity) -> Option<PackKey> {
    Some((context.place_of_supplier(supplier)?, context.place_of_material(material)?, pack))
}

/// Reads `offers`. The rows of one pack share their life on arrival and item number.
pub(super) fn offers(context: &mut Context<'_>) {
    let denser = new_densities(context);
    let mut stored = context.existing.offers.clone();
    for row in &mut stored {
        row.pack = repacked(&denser, &row.material, &row.pack_text, row.pack);
    }
    let of_row = |context: &Context<'_>, row: &OfferRow| pack_key(context, &row.supplier, &row.material, row.pack);
    let facts = |row: &OfferRow| (row.life_on_arrival, row.item_no.clone());
    let kept: HashMap<PackKey, PackFacts> =
        stored.iter().filter_map(|row| Some((of_row(context, row)?, facts(row)))).collect();
    let mut firsts: HashMap<PackKey, PackFacts> = HashMap::new();
    let existing = keyed(&stored, |row| (row.supplier.clone(), row.material.clone(), row.pack, row.from_packs));
    let mut merged = merge(context, SheetKind::Offers, existing, offer_key, |context, reader, key, _| {
        let (supplier, material, pack, from_packs) = key.clone();
        let currency = context.currency_of(&supplier);
        let price = reader.required("price", |cell, mark| cell::price(cell, mark, currency));
        let first = pack_key(context, &supplier, &material, pack).map(|key| firsts.entry(key));
        let (life_on_arrival, item_no) = match first {
            None => facts_of_pack(reader, None),
            Some(Entry::Vacant(first)) => {
                let before = kept.get(first.key());
                first.insert(facts_of_pack(reader, before)).clone()
            }
            Some(Entry::Occupied(first)) => shared_by_breaks(reader, first.get().clone()),
        };
        let pack_text = pack_text(reader);
        Some(OfferRow { supplier, material, pack, pack_text, price: price?, from_packs, life_on_arrival, item_no })
    });
    // A pack in millilitres whose material has a new density is the same pack, not one more.
    if merged.of_store_alone().next().is_some() {
        let as_written =
            |row: &OfferRow| (row.supplier.clone(), row.material.clone(), row.from_packs, row.pack_text.clone());
        let restated: HashSet<_> = merged.of_files().map(as_written).collect();
        merged.take_out_of_store(|row| restated.contains(&as_written(row)));
    }
    for row in merged.of_store_alone() {
        if let Some((life, number)) = of_row(context, row).and_then(|key| firsts.get(&key)) {
            row.life_on_arrival = *life;
            row.item_no.clone_from(number);
        }
    }
    context.merged.offers = merged.by_key();
}

/// The life and item number of the first row of a pack, over what the store has of it.
fn facts_of_pack(reader: &mut RowReader<'_>, before: Option<&PackFacts>) -> PackFacts {
    let (old_life, old_number) = before.map_or((None, ""), |(life, number)| (*life, number.as_str()));
    let life = reader.optional("life_on_arrival", old_life, |cell, _| cell::span(cell));
    (life, reader.text("item_no", old_number))
}

impl Key for OfferKey {
    fn shown(&self, reader: &RowReader<'_>) -> String {
        format!("{}, {}, {}, from {}", self.0, self.1, pack_text(reader), self.3)
    }
}

fn offer_key(context: &Context<'_>, reader: &mut RowReader<'_>) -> Option<OfferKey> {
    let supplier = context.refer(reader, "supplier", Space::Supplier);
    let material = context.refer(reader, "material", Space::Material);
    let pack = pack(context, reader, material.as_deref());
    let from_packs = reader.or_empty("from_packs", 1, 1, |cell, mark| cell::whole(cell, mark, 1, MOST_PACKS));
    // Without its unit the amount is not known.
    Some((supplier?, material?, pack?, from_packs)).filter(|_| reader.is_sound())
}

fn pack(context: &Context<'_>, reader: &mut RowReader<'_>, material: Option<&str>) -> Option<Quantity> {
    let item = material.and_then(|material| context.unit_of(material));
    let pack = reader.required("pack", |cell, mark| cell::pack(cell, mark, item))?;
    item.map(|_| pack)
}

/// The pack as written, with a decimal point whatever the file's mark is.
fn pack_text(reader: &RowReader<'_>) -> String {
    let cell = reader.filled("pack").unwrap_or_default();
    if reader.mark() == DecimalMark::Point { cell.to_owned() } else { cell.replace(',', ".") }
}

/// The life and item number of a further price break: the first row's, which a filled cell may only repeat.
fn shared_by_breaks(reader: &mut RowReader<'_>, first: (Option<Span>, String)) -> (Option<Span>, String) {
    let remedy = "repeat it, leave it empty, or write the pack differently";
    if let Some(life) = reader.optional("life_on_arrival", None, |cell, _| cell::span(cell))
        && Some(life) != first.0
    {
        reader.fault("life_on_arrival", "is not that of the first row of this pack", remedy);
    }
    let number = reader.text("item_no", "");
    if !number.is_empty() && number != first.1 {
        reader.fault("item_no", "is not that of the first row of this pack", remedy);
    }
    first
}

impl Key for (Currency, NaiveDate) {
    fn shown(&self, _: &RowReader<'_>) -> String {
        format!("{}, {}", self.1, self.0)
    }
}

/// Reads `rates`.
pub(super) fn rates(context: &mut Context<'_>) {
    let existing = keyed(&context.existing.rates, |row| (row.currency, row.date));
    let key_of = |context: &Context<'_>, reader: &mut RowReader<'_>| {
        let date = reader.required("date", |cell, _| cell::date(cell));
        let currency = reader.required("currency", |cell, _| cell::currency(cell));
        if currency == Some(context.home) {
            // Many a sheet of rates lists the home currency at 1, which says nothing and does no harm.
            if reader.required("rate", cell::rate).is_some_and(|rate| rate != Rate::ONE) {
                reader.fault("rate", "is the rate of the home currency", "take the row out, or write 1");
            }
            return None;
        }
        Some((currency?, date?))
    };
    let merged = merge(context, SheetKind::Rates, existing, key_of, |_, reader, &(currency, date), _| {
        Some(RateRow { date, currency, rate: reader.required("rate", cell::rate)? })
    });
    context.merged.rates = merged.by_key();
}

type OrderKey = (String, String, Quantity);

/// Reads `orders`.
pub(super) fn orders(context: &mut Context<'_>) {
    let denser = new_densities(context);
    let mut stored = context.existing.orders.clone();
    for row in &mut stored {
        row.pack = repacked(&denser, &row.material, &row.pack_text, row.pack);
    }
    let existing = keyed(&stored, |row| (row.order.clone(), row.material.clone(), row.pack));
    let mut suppliers: BTreeMap<String, String> = BTreeMap::new();
    let mut merged = merge(context, SheetKind::Orders, existing, order_key, |context, reader, key, base| {
        let row = order(context, reader, key, base)?;
        let first = suppliers.entry(row.order.clone()).or_insert_with(|| row.supplier.clone());
        if *first != row.supplier {
            let problem = format!("is not the supplier of order {} ({first})", row.order);
            reader.fault("supplier", problem, "an order goes to one supplier: take another order code");
        }
        Some(row)
    });
    if merged.of_store_alone().next().is_some() {
        let as_written = |row: &OrderRow| (row.order.clone(), row.material.clone(), row.pack_text.clone());
        let restated: HashSet<_> = merged.of_files().map(as_written).collect();
        merged.take_out_of_store(|row| restated.contains(&as_written(row)));
    }
    // A changed supplier has to be changed on every line, those that only the store has among them.
    let rows = merged.by_key();
    let stray: Vec<(String, String)> = rows
        .iter()
        .filter(|row| suppliers.get(&row.order).is_some_and(|supplier| *supplier != row.supplier))
        .map(|row| (row.order.clone(), row.material.clone()))
        .collect();
    let places = context.places(SheetKind::Orders, "order");
    for (order, material) in stray {
        let problem = format!("order {order} already has a line for {material} from another supplier");
        context.fault_at(
            SheetKind::Orders,
            places.get(&order),
            problem,
            "an order goes to one supplier: take another order code",
        );
    }
    context.merged.orders = rows;
}

impl Key for OrderKey {
    fn shown(&self, reader: &RowReader<'_>) -> String {
        format!("{}, {}, {}", self.0, self.1, pack_text(reader))
    }
}

fn order_key(context: &Context<'_>, reader: &mut RowReader<'_>) -> Option<OrderKey> {
    let order = reader.required_text("order");
    let material = context.refer(reader, "material", Space::Material);
    let pack = pack(context, reader, material.as_deref());
    Some((order?, material?, pack?))
}

fn order(
    context: &Context<'_>,
    reader: &mut RowReader<'_>,
    (order, material, pack): &OrderKey,
    base: Option<&OrderRow>,
) -> Option<OrderRow> {
    let supplier = context.refer(reader, "supplier", Space::Supplier);
    let currency = supplier.as_deref().and_then(|supplier| context.currency_of(supplier));
    let packs = reader.required("packs", |cell, mark| packs_of(cell, mark, *pack));
    let expected = reader.required("expected", |cell, _| cell::date(cell));
    let received = reader.or_empty("packs_received", base.map_or(0, |row| row.packs_received), 0, |cell, mark| {
        cell::whole(cell, mark, 0, MOST_PACKS)
    });
    if packs.is_some_and(|packs| received > packs) {
        let problem = "is less than the packs that have come";
        let column = if reader.filled("packs_received").is_some() { "packs_received" } else { "packs" };
        let problem = if column == "packs" { problem } else { "is more than the packs that were ordered" };
        reader.fault(column, problem, "write down what came beyond the order as a lot of its own");
    }
    Some(OrderRow {
        order: order.clone(),
        material: material.clone(),
        pack: *pack,
        pack_text: pack_text(reader),
        placed: reader.optional("placed", base.and_then(|row| row.placed), |cell, _| cell::date(cell)),
        price: reader.optional("price", base.and_then(|row| row.price), |cell, mark| cell::price(cell, mark, currency)),
        packs_received: received,
        cancelled: reader
            .or_empty("cancelled", base.is_some_and(|row| row.cancelled), false, |cell, _| cell::yes_or_no(cell)),
        supplier: supplier?,
        packs: packs?,
        expected: expected?,
    })
}

/// A number of packs whose whole amount can still be counted.
fn packs_of(cell: &str, mark: DecimalMark, pack: Quantity) -> Parsed<i64> {
    let packs = cell::whole(cell, mark, 1, MOST_PACKS)?;
    let amount = i128::from(packs) * i128::from(pack.0);
    if amount > i128::from(Quantity::MAX_ENTERED.0) {
        return Err(Problem::new("packs are more than can be counted", "write fewer packs, or a smaller pack"));
    }
    Ok(packs)
}
