//! `wish`: what the maker wants of every reorder list is kept, listed and lifted.

use super::names::find;
use super::session::{Session, words};
use crate::book::rows::{WishKind, WishRow};
use crate::cli::Wish;
use crate::error::CommandError;
use crate::plan::decimal::Decimal;
use crate::plan::measure::{DecimalMark, Measure};
use crate::plan::model::{ItemId, Snapshot, SupplierId};
use crate::plan::money::{Money, Price};
use crate::plan::quantity::Percent;
use crate::plan::wishes::{Target, Want};
use crate::render::wishes as render;
use crate::view::done::{KeptWishView, LiftedWishView};
use crate::view::wishes::{described, wishes};
use chrono::NaiveDate;

pub fn run(session: &Session, what: &Wish) -> Result<String, CommandError> {
    match what {
        Wish::List => {
            let mut store = session.open()?;
            let reading = store.reading()?;
            let view = wishes(&session.snapshot_of(&reading)?, &reading.book()?.wishes);
            session.answer(&view, |screen| render::terminal(&view, screen))
        }
        Wish::Exclude { what, reason, .. } => {
            keep(session, &|snapshot| Ok(Want::Exclude(target(snapshot, what)?)), reason)
        }
        Wish::Pin { what, reason, .. } => keep(session, &|snapshot| Ok(Want::Pin(target(snapshot, what)?)), reason),
        Wish::Prefer { supplier, percent, reason, .. } => {
            keep(session, &|snapshot| preference(snapshot, supplier, percent), reason)
        }
        Wish::Budget { money, through, reason, .. } => {
            keep(session, &|snapshot| budget(snapshot, money, *through, session.clock.today()), reason)
        }
        Wish::Lift { wish, .. } => lift(session, wish),
    }
}

fn keep(
    session: &Session,
    read: &dyn Fn(&Snapshot) -> Result<Want, CommandError>,
    reason: &Option<String>,
) -> Result<String, CommandError> {
    let reason = reason.as_deref().map(|reason| words("--reason", reason)).transpose()?.unwrap_or_default();
    let mut store = session.open()?;
    let writing = store.writing()?;
    let snapshot = session.snapshot_of(&writing)?;
    let want = read(&snapshot)?;
    if let Some(same) = snapshot.hand.wishes.iter().find(|wish| wish.want == want) {
        return Err(CommandError::input(format!("wish {} says that already", same.code)));
    }
    let row = row(&snapshot, writing.next_wish_code()?, want, reason);
    writing.keep_wish(&row, &session.stamp())?;
    writing.commit()?;
    let what = described(&snapshot, want);
    let view = KeptWishView { wish: row.wish, kind: row.kind.word().to_owned(), what };
    session.answer(&view, |_| {
        format!(
            "Kept as {}: {}.\nEvery reorder list heeds it from now on, the one in letters too; `stillroom wish lift {}` ends \
             that.\n",
            view.wish, view.what, view.wish
        )
    })
}

fn lift(session: &Session, wish: &str) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let writing = store.writing()?;
    let snapshot = session.snapshot_of(&writing)?;
    let kept = snapshot.hand.wishes.iter().map(|kept| ([kept.code.as_str()], kept));
    let kept = find("wish", wish, kept)?;
    writing.lift_wish(&kept.code, &session.stamp())?;
    writing.commit()?;
    let what = described(&snapshot, kept.want);
    let view = LiftedWishView { wish: kept.code.clone(), what, lifted: true };
    session.answer(&view, |_| format!("{} is lifted: {}. `stillroom act undo` keeps it again.\n", view.wish, view.what))
}

/// The row of a wish.
fn row(snapshot: &Snapshot, wish: String, want: Want, reason: String) -> WishRow {
    let (kind, target) = match want {
        Want::Exclude(target) => (WishKind::Exclude, Some(target)),
        Want::Pin(target) => (WishKind::Pin, Some(target)),
        Want::Prefer(supplier, _) => (WishKind::Prefer, Some(Target::Supplier(supplier))),
        Want::Budget(..) => (WishKind::Budget, None),
    };
    let supplier = |supplier: SupplierId| snapshot.suppliers[supplier.index()].code.clone();
    let material = |item: ItemId| snapshot.item(item).code.clone();
    let blank = WishRow {
        wish,
        kind,
        supplier: String::new(),
        material: String::new(),
        pack: None,
        from: None,
        to: None,
        percent: if let Want::Prefer(_, percent) = want { Some(percent) } else { None },
        amount: if let Want::Budget(money, _) = want { Some(Price { minor: money.minor }) } else { None },
        reason,
        lifted: false,
    };
    match target {
        Some(Target::Supplier(id)) => WishRow { supplier: supplier(id), ..blank },
        Some(Target::Offer(id, item, pack)) => {
            WishRow { supplier: supplier(id), material: material(item), pack, ..blank }
        }
        Some(Target::Material(item)) => WishRow { material: material(item), ..blank },
        Some(Target::Days(from, to)) => WishRow { from: Some(from), to: Some(to), ..blank },
        None => WishRow { to: if let Want::Budget(_, through) = want { through } else { None }, ..blank },
    }
}

/// What a wish names: a supplier, a material, an offer or days.
///
/// # Errors
/// Where it names nothing, or both a supplier and a material.
pub fn target(snapshot: &Snapshot, text: &str) -> Result<Target, CommandError> {
    let text = text.trim();
    if let Some(days) = days(text) {
        let (from, to) = days?;
        return Ok(Target::Days(from, to));
    }
    let suppliers = snapshot.suppliers.iter().enumerate();
    let suppliers =
        suppliers.map(|(place, supplier)| ([supplier.code.as_str(), &supplier.name], SupplierId::new(place)));
    let bought = snapshot.items.iter().enumerate().filter(|(_, item)| item.premix.is_none());
    let materials = bought.map(|(place, item)| ([item.code.as_str(), &item.name], ItemId::new(place)));
    if let Some((supplier, rest)) = text.split_once('/') {
        let supplier = find("supplier", supplier.trim(), suppliers)?;
        let (material, pack) = match rest.split_once('/') {
            Some((material, pack)) => (material, Some(pack)),
            None => (rest, None),
        };
        let item = find("material", material.trim(), materials)?;
        return offer(snapshot, supplier, item, pack.map(str::trim));
    }
    let is_code = |code: &str| code.eq_ignore_ascii_case(text);
    if suppliers.clone().any(|(names, _)| is_code(names[0])) && materials.clone().any(|(names, _)| is_code(names[0])) {
        return Err(CommandError::input(format!("{text:?} is a supplier and a material"))
            .hint("write SUPPLIER/MATERIAL for what the supplier sells of it, or give one of the two another code"));
    }
    let suppliers = suppliers.map(|(names, id)| (names, Target::Supplier(id)));
    let materials = materials.map(|(names, id)| (names, Target::Material(id)));
    find("supplier or material", text, suppliers.chain(materials)).map_err(|error| match error.hint {
        Some(_) => error,
        None => error
            .hint("write a code or name, SUPPLIER/MATERIAL, SUPPLIER/MATERIAL/PACK (VEY/shea/1 kg), DATE or DATE/DATE"),
    })
}

/// `2027-03-09`, or `2027-03-09/2027-03-12` with both ends counted; `None` where the text begins with no date.
fn days(text: &str) -> Option<Result<(NaiveDate, NaiveDate), CommandError>> {
    let (from, to) = text.split_once('/').unwrap_or((text, text));
    let from: NaiveDate = from.trim().parse().ok()?;
    let wrong = || CommandError::input(format!("{text:?} is no day and no days")).hint("write DATE or DATE/DATE");
    let to = to.trim().parse::<NaiveDate>().map_err(|_| wrong());
    Some(to.and_then(|to| if to < from { Err(wrong()) } else { Ok((from, to)) }))
}

fn offer(snapshot: &Snapshot, supplier: SupplierId, item: ItemId, pack: Option<&str>) -> Result<Target, CommandError> {
    let facts = snapshot.item(item);
    let own: Vec<_> = snapshot.offers.iter().filter(|offer| offer.supplier == supplier && offer.item == item).collect();
    if own.is_empty() {
        let code = &snapshot.suppliers[supplier.index()].code;
        return Err(CommandError::input(format!("{code} does not offer {}", facts.code)));
    }
    let Some(text) = pack else { return Ok(Target::Offer(supplier, item, None)) };
    let quantity = Measure::parse(text, DecimalMark::PointOrClearComma)
        .and_then(|measure| measure.quantity(facts.unit, facts.density));
    match quantity.ok().filter(|quantity| own.iter().any(|offer| offer.pack == *quantity)) {
        Some(quantity) => Ok(Target::Offer(supplier, item, Some(quantity))),
        None => {
            let packs: Vec<&str> = own.iter().map(|offer| offer.pack_text.as_str()).collect();
            Err(CommandError::input(format!("{text:?} is none of the packs: {}", packs.join(", "))))
        }
    }
}

/// A supplier that may cost more.
///
/// # Errors
/// Where there is no such supplier, or the percentage is none.
pub fn preference(snapshot: &Snapshot, supplier: &str, percent: &str) -> Result<Want, CommandError> {
    let suppliers = snapshot.suppliers.iter().enumerate();
    let suppliers =
        suppliers.map(|(place, supplier)| ([supplier.code.as_str(), &supplier.name], SupplierId::new(place)));
    let supplier = find("supplier", supplier.trim(), suppliers)?;
    let number = percent.trim().trim_end_matches('%').trim();
    let read = number.parse::<Decimal>().and_then(Percent::from_decimal).ok();
    let percent = read.filter(|percent| (0..=Percent::HUNDRED.millionths).contains(&percent.millionths));
    let percent = percent.ok_or_else(|| {
        CommandError::input(format!("{number:?} is no percentage from 0 to 100")).hint("write 5 for 5 %")
    })?;
    Ok(Want::Prefer(supplier, percent))
}

/// A budget in home money.
///
/// # Errors
/// Where it is no amount, or its last day is over.
pub fn budget(
    snapshot: &Snapshot,
    money: &str,
    through: Option<NaiveDate>,
    today: NaiveDate,
) -> Result<Want, CommandError> {
    if let Some(day) = through.filter(|day| *day < today) {
        return Err(CommandError::input(format!("{day} lies before today, {today}"))
            .hint("give the last day whose orders the budget pays"));
    }
    let home = snapshot.home;
    let number = money.trim().strip_suffix(home.code()).unwrap_or(money).trim();
    let read = number.parse::<Decimal>().and_then(|decimal| decimal.scaled(home.exponent())).ok();
    let minor = read.filter(|minor| *minor >= 0).ok_or_else(|| {
        CommandError::input(format!("{money:?} is no amount in {home}")).hint("write a number from 0 up: 150 or 149.50")
    })?;
    Ok(Want::Budget(Money { minor }, through))
}
