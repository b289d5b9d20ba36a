//! `order`: a proposal becomes an order, orders are listed, and what has not come is cancelled.

use super::names::find;
use super::order_letter;
use super::reorder::Proposal;
use super::session::Session;
use crate::book::rows::OrderRow;
use crate::cli::Order;
use crate::error::CommandError;
use crate::plan::model::{Snapshot, Supplier};
use crate::plan::reorder::PlannedOrder;
use crate::render::amounts::{count, day, money};
use crate::render::orders as render;
use crate::store::Writing;
use crate::view::done::{CancelledView, PlacedOrderView, PlacedView};
use crate::view::order_letter::{OrderLetterView, planned};
use crate::view::orders::orders;
use chrono::NaiveDate;

pub fn run(session: &Session, what: &Order) -> Result<String, CommandError> {
    match what {
        Order::List => {
            let view = orders(&session.snapshot()?, session.clock.today());
            session.answer(&view, |screen| render::terminal(&view, screen))
        }
        Order::Place { suppliers, through, .. } => place(session, suppliers, *through),
        Order::Letter { subjects, prices } => order_letter::run(session, subjects, *prices),
        Order::Cancel { order, .. } => cancel(session, order),
    }
}

/// Plans and places in one transaction, so that no other program can change the stock in between.
fn place(session: &Session, suppliers: &[String], through: Option<NaiveDate>) -> Result<String, CommandError> {
    let today = session.clock.today();
    let mut store = session.open()?;
    let writing = store.writing()?;
    let proposal = Proposal::find(session, session.snapshot_of(&writing)?, through, None)?;
    let chosen = choose(&proposal, suppliers, today)?;
    let known = |code: &&String| proposal.snapshot.suppliers.iter().any(|one| one.code.eq_ignore_ascii_case(code));
    for code in session.config.mail.send_orders_to.iter().filter(|code| !known(code)) {
        tracing::warn!("send_orders_to names {code}, but no supplier has that code");
    }
    let (mut placed, mut letters) = (Vec::new(), Vec::new());
    for order in chosen {
        let supplier = &proposal.snapshot.suppliers[order.supplier.index()];
        let lines = order_rows(&writing, &proposal.snapshot, order, supplier, today)?;
        writing.place_order(&lines, &session.stamp())?;
        let code = Some(lines[0].order.clone());
        let letter =
            OrderLetterView { order: code, order_on: Some(today), ..planned(&proposal.snapshot, order, today) };
        let queued = order_letter::queue(session, &letter, &writing)?;
        letters.push((letter, queued));
        placed.push((lines, order, supplier));
    }
    // What was placed drops out of the list that the next one remembers.
    let orders: Vec<&PlannedOrder> = placed.iter().map(|(_, order, _)| *order).collect();
    writing.keep_list(&proposal.memory(&orders))?;
    writing.commit()?;
    let mut words = String::new();
    for (letter, queued) in letters {
        // The order is placed, whatever becomes of its letter.
        let went = queued.map_or_else(|| order_letter::draft(session, &letter, false), Ok);
        words.push_str(&match went {
            Ok(went) => order_letter::sentence(&letter, &went),
            Err(error) => format!(
                "No letter was written ({}). `stillroom order letter {}` tries again.\n",
                error.message,
                letter.order.as_deref().unwrap_or_default()
            ),
        });
    }
    let view_of = |(lines, order, supplier): &(Vec<OrderRow>, &PlannedOrder, &Supplier)| PlacedOrderView {
        order: lines[0].order.clone(),
        supplier: supplier.code.clone(),
        placed: today,
        expected: lines[0].expected,
        lines: lines.len(),
        total: supplier.currency.decimal(order.total.minor),
        currency: supplier.currency.code().to_owned(),
    };
    let view = PlacedView { orders: placed.iter().map(view_of).collect() };
    session.answer(&view, |_| {
        let mut text = String::new();
        for (lines, order, supplier) in &placed {
            let total = money(&supplier.currency.decimal(order.total.minor), supplier.currency.code());
            let lines_count = count(lines.len(), "line", "lines");
            let expected = day(lines[0].expected, today);
            text.push_str(&format!(
                "Order {} to {} is written down: {lines_count}, {total}, expected on {expected}.\n",
                lines[0].order, supplier.name
            ));
        }
        text + &words + "`stillroom receive ORDER` when the parcel is here.\n"
    })
}

/// The orders to place: those that are due, or the first of each supplier that is named.
fn choose<'a>(
    proposal: &'a Proposal,
    suppliers: &[String],
    today: NaiveDate,
) -> Result<Vec<&'a PlannedOrder>, CommandError> {
    let orders = &proposal.listing.plan.orders;
    let Some(next) = orders.iter().min_by_key(|order| order.order_on) else {
        return Err(CommandError::input("there is nothing to order: the plan is covered"));
    };
    if suppliers.is_empty() {
        let due: Vec<_> = orders.iter().filter(|order| order.order_on <= today).collect();
        if due.is_empty() {
            let supplier = &proposal.snapshot.suppliers[next.supplier.index()];
            let message =
                format!("no order is due today; the next one is to {} on {}", supplier.name, day(next.order_on, today));
            return Err(CommandError::input(message)
                .hint(format!("to order earlier, name the supplier: stillroom order place {}", supplier.code)));
        }
        return Ok(due);
    }
    let known = proposal.snapshot.suppliers.iter().enumerate();
    let mut chosen = Vec::new();
    for code in suppliers {
        let place = find(
            "supplier",
            code,
            known.clone().map(|(place, supplier)| ([supplier.code.as_str(), &supplier.name], place)),
        )?;
        let of_supplier = orders.iter().filter(|order| order.supplier.index() == place);
        let first = of_supplier.min_by_key(|order| order.order_on).ok_or_else(|| {
            CommandError::input(format!("no order to {code} is proposed"))
                .hint("`stillroom reorder` shows the proposal")
        })?;
        if !chosen.contains(&first) {
            chosen.push(first);
        }
    }
    Ok(chosen)
}

fn order_rows(
    writing: &Writing<'_>,
    snapshot: &Snapshot,
    order: &PlannedOrder,
    supplier: &Supplier,
    today: NaiveDate,
) -> Result<Vec<OrderRow>, CommandError> {
    // Placed on a day on which nobody takes orders, it is worked on from the next one on.
    let taken_up = supplier.calendar.next_order_day(today).unwrap_or(today);
    let code = writing.next_order_code(today)?;
    let row = |line: &crate::plan::reorder::PlannedLine| {
        let offer = &snapshot.offers[line.offer.index()];
        OrderRow {
            order: code.clone(),
            supplier: supplier.code.clone(),
            material: snapshot.item(line.item).code.clone(),
            pack: offer.pack,
            pack_text: offer.pack_text.clone(),
            packs: line.packs,
            placed: Some(today),
            expected: supplier.calendar.arrival(taken_up),
            price: Some(line.price),
            packs_received: 0,
            cancelled: false,
        }
    };
    Ok(order.lines.iter().map(row).collect())
}

fn cancel(session: &Session, order: &str) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let writing = store.writing()?;
    let book = writing.book()?;
    let code =
        find("order", order, book.orders.iter().map(|row| ([row.order.as_str(), &row.supplier], row.order.as_str())))?;
    writing.cancel_order(code, &session.stamp())?;
    writing.commit()?;
    session.answer(&CancelledView { order: code.to_owned(), cancelled: true }, |_| {
        format!("What had not come of order {code} is cancelled. Tell the supplier yourself; `stillroom reorder` plans anew.\n")
    })
}
