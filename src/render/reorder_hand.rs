//! What the reorder list says besides its orders, in words: why an order is there, who could move, what a budget leaves.

use super::amounts::{amount, count, day, entries_named, listed, money};
use super::one_line;
use super::reorder::{behind, is_nothing, named};
use crate::plan::decimal::Decimal;
use crate::view::reorder::{LateView, OrderView, ReorderView};
use crate::view::reorder_hand::{BudgetView, FreePostageView, MovesView, OfferView, UncoveredView};
use chrono::NaiveDate;

/// How something late could be had: `from Veyra: 1 x 500 g for 12.40 EUR`; empty where nobody can bring it.
#[must_use]
pub fn soonest_offer(late: &LateView, view: &ReorderView) -> String {
    let Some(offer) = &late.way_out.soonest_offer else { return String::new() };
    let currency = &view.currency;
    // Where the list orders there for that day anyway, what a parcel of its own would cost says nothing.
    let mut orders = view.orders.iter().chain(&view.hand.outlook);
    let comes_along = orders.any(|order| (&order.supplier, order.arrives_on) == (&offer.supplier, offer.arrives_on));
    let mut words = format!(
        "from {}: {} x {} for {}",
        named(&offer.supplier_name, &offer.supplier),
        offer.packs,
        one_line(&offer.pack),
        money(&offer.landed, currency)
    );
    if comes_along {
        return words;
    }
    if !is_nothing(&offer.postage_alone) {
        words.push_str(&format!(
            ", and {} postage if nothing else is ordered there",
            money(&offer.postage_alone, currency)
        ));
    }
    if offer.below_minimum {
        words.push_str(", which alone is below the supplier's minimum order");
    }
    words
}

/// Which entries have to wait, and the day on which each could be made.
#[must_use]
pub fn waits(late: &LateView, today: NaiveDate) -> String {
    let entries = entries_named(&late.entries, &late.products);
    let known = |entry: &String| late.way_out.could_move.iter().find(|could| could.entry == *entry)?.to;
    let could = |entry: &String| known(entry).map(|to| format!("{} on {}", one_line(entry), day(to, today)));
    match late.entries.as_slice() {
        [] => String::new(),
        [only] => match known(only) {
            Some(to) => format!("{entries} has to wait, and could be made on {}", day(to, today)),
            None => format!("{entries} has to wait"),
        },
        several => match several.iter().filter_map(could).collect::<Vec<_>>() {
            could if could.is_empty() => format!("{entries} have to wait"),
            could => format!("{entries} have to wait, and could be made: {}", listed(&could)),
        },
    }
}

/// The moves that make the plan whole, a phrase each.
#[must_use]
pub fn moves(moves: &MovesView, today: NaiveDate) -> Vec<String> {
    let one = |moved: &crate::view::reorder_hand::MoveView| {
        format!(
            "{} {}: from {} to {} (stillroom plan move {} {})",
            one_line(&moved.entry),
            one_line(&moved.name),
            day(moved.from, today),
            day(moved.to, today),
            one_line(&moved.entry),
            moved.option
        )
    };
    moves.moves.iter().map(one).collect()
}

/// What the moves would do, and whether fewer would do as well.
#[must_use]
pub fn moves_note(moves: &MovesView, all_can_come: bool) -> String {
    let everything = if all_can_come { "everything" } else { "everything else" };
    let entries = count(moves.moves.len(), "entry moves", "entries move");
    match (moves.whole, moves.proven, moves.moves.len()) {
        (true, true, 1) => format!("If this entry moves, {everything} can come in time."),
        (true, true, _) => format!("If these {entries}, {everything} can come in time; fewer would not do."),
        (true, false, 1) => format!("If this entry moves, {everything} can come in time."),
        (true, false, _) => format!(
            "If these {entries}, {everything} can come in time. Fewer may do: not every set of moves was looked at."
        ),
        (false, true, _) => format!("No later days within three months let {everything} come in time."),
        (false, false, _) => format!(
            "No later days were found that let {everything} come in time; not every set of moves was looked at."
        ),
    }
}

/// Why an order is on the list, a sentence each.
#[must_use]
pub fn why(order: &OrderView, view: &ReorderView) -> Vec<String> {
    let (home, today) = (&view.currency, view.as_of);
    let is_late = |name: &str| view.late.iter().any(|late| late.name == name && late.soonest == Some(order.arrives_on));
    let supplier = named(&order.supplier_name, &order.supplier);
    let why = &order.why;
    let mut words = Vec::new();
    if let Some(need) = &why.first_need {
        let (name, needed) = (named(&need.name, &need.material), day(need.date, today));
        let on = day(order.order_on, today);
        let late = view.late.iter().find(|late| late.material == need.material && late.soonest == Some(need.date));
        words.push(if let Some(late) = late {
            format!(
                "It is too late for {name}, needed on {}: ordered on {on}, it is here on {needed}.",
                day(late.needed, today)
            )
        } else if need.is_last_day {
            format!("{on} is the last day to order in time for {name}, needed on {needed}.")
        } else {
            format!("It is needed first for {name}, on {needed}.")
        });
    }
    if why.lead_time == "learned" {
        let days = count(why.lead_time_days as usize, "day", "days");
        words.push(format!("{days} from order to parcel, as parcels from there have taken so far."));
    }
    if !why.only_here.is_empty() {
        let names: Vec<String> = why.only_here.iter().map(|name| one_line(name)).collect();
        let in_time = if why.only_here.iter().any(|name| is_late(name)) { "" } else { " in time" };
        words.push(format!("Only {supplier} can bring {}{in_time}.", listed(&names)));
    } else if let Some(more) = &why.without_supplier_costs_more {
        words.push(if is_nothing(more) {
            format!("Without {supplier} everything could be had for about as much.")
        } else {
            format!("Without {supplier} the list would cost at most {} more.", money(more, home))
        });
    }
    if let Some(free) = why.free_postage.as_ref().filter(|free| is_near(free)) {
        words.push(free_postage(free, &order.currency, home));
    }
    for waits in &why.waits {
        let names: Vec<String> = waits.names.iter().map(|name| one_line(name)).collect();
        words.push(format!("What waits for the order of {}: {}.", day(waits.order_on, today), listed(&names)));
    }
    words
}

/// True where free postage is worth a word: half of the goods are there, or something on the list would do it.
fn is_near(free: &FreePostageView) -> bool {
    let value = |decimal: &str| decimal.parse::<Decimal>().and_then(|decimal| decimal.scaled(4)).unwrap_or(0);
    free.bring_forward.is_some() || 2 * i128::from(value(&free.missing)) <= i128::from(value(&free.from))
}

fn free_postage(free: &FreePostageView, currency: &str, home: &str) -> String {
    let mut words = format!(
        "Goods for {} more would make postage free (from {}; it is {} now).",
        money(&free.missing, currency),
        money(&free.from, currency),
        money(&free.postage, currency)
    );
    match (&free.bring_forward_name, &free.costs_more) {
        (Some(name), Some(more)) => match more.strip_prefix('-') {
            Some(less) => {
                words.push_str(&format!(" Bringing {} forward would save {}.", one_line(name), money(less, home)));
            }
            None => words.push_str(&format!(
                " Of what is ordered later, {} would do it: brought forward, all costs {} more.",
                one_line(name),
                money(more, home)
            )),
        },
        _ => words.push_str(" Nothing that is ordered later reaches that."),
    }
    words
}

/// What shaped the list: wishes, what was left out, what the budget came to, why the last list stays.
#[must_use]
pub fn notes(view: &ReorderView) -> Vec<String> {
    let hand = &view.hand;
    let mut notes: Vec<String> = hand
        .wishes
        .iter()
        .map(|wish| {
            let code = if wish.wish.is_empty() {
                "For this list".to_owned()
            } else {
                format!("As wished ({})", one_line(&wish.wish))
            };
            format!("{code}: {}.", one_line(&wish.what))
        })
        .collect();
    if !hand.left_out.is_empty() {
        let codes: Vec<String> = hand.left_out.iter().map(|code| one_line(code)).collect();
        notes.push(format!("Needed, but left out as wished: {}.", listed(&codes)));
    }
    if let Some(budget) = &hand.budget {
        notes.push(budget_note(budget, &view.currency, view.as_of));
    }
    if let Some(saves) = &hand.new_would_save {
        notes
            .push(format!("The last list stays as it is: a new one would save only {}.", money(saves, &view.currency)));
    }
    notes
}

fn budget_note(budget: &BudgetView, currency: &str, today: NaiveDate) -> String {
    let spent = format!(
        "Orders through {} cost {} of the {} that may be spent",
        day(budget.through, today),
        money(&budget.spent, currency),
        money(&budget.amount, currency)
    );
    match (budget.uncovered.is_empty(), budget.proven) {
        (true, _) => format!("{spent}; nothing has to be left out for it."),
        (false, true) => format!("{spent}. What is left out for it does the least harm."),
        (false, false) => format!("{spent}. What is left out for it does little harm; less may be possible."),
    }
}

/// What a budget leaves uncovered, a phrase each.
#[must_use]
pub fn uncovered(view: &ReorderView) -> Vec<String> {
    let one = |item: &UncoveredView| {
        let behind = behind(&item.entries, &item.products, item.safety_stock);
        let name = named(&item.name, &item.material);
        let what = amount(item.short, &item.unit);
        format!("{name}: {what} for {behind} on {}", day(item.date, view.as_of))
    };
    view.hand.budget.iter().flat_map(|budget| &budget.uncovered).map(one).collect()
}

/// The orders that can wait, a line each.
#[must_use]
pub fn outlook(view: &ReorderView) -> Vec<String> {
    let one = |order: &OrderView| {
        format!(
            "{}: {}, {}, {}",
            day(order.order_on, view.as_of),
            named(&order.supplier_name, &order.supplier),
            count(order.lines.len(), "line", "lines"),
            money(&order.total, &order.currency)
        )
    };
    view.hand.outlook.iter().map(one).collect()
}

/// What is offered of a material, a phrase each.
#[must_use]
pub fn offers(offers: &[OfferView], unit_is_mass: bool, home: &str, today: NaiveDate) -> Vec<[String; 6]> {
    let per = if unit_is_mass { "kg" } else { "piece" };
    let one = |offer: &OfferView| {
        let from = if offer.from_packs > 1 { format!(" (from {} packs)", offer.from_packs) } else { String::new() };
        let landed = offer.landed.as_ref().map(|landed| format!("{} a {per}", money(landed, home)));
        [
            named(&offer.supplier_name, &offer.supplier),
            format!("{}{from}", one_line(&offer.pack)),
            money(&offer.price, &offer.currency),
            landed.unwrap_or_default(),
            offer.soonest.map_or_else(String::new, |soonest| day(soonest, today)),
            if offer.on_list { "on the list".to_owned() } else { String::new() },
        ]
    };
    offers.iter().map(one).collect()
}
