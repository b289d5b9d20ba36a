//! The lines of reports that may be news, each in one sentence.

use super::amounts::{amount, day, entries_named, money};
use super::today;
use crate::plan::reminder::Line;
use crate::view::expiring::{ExpiringLotView, ExpiringView};
use crate::view::forecast::{ForecastView, ShortageView};
use crate::view::reorder::{LateView, OrderLineView, OrderView, ReorderView};
use crate::view::today::{Matter, TodayLine, TodayView};

/// What is to be ordered: one line for each line of an order, those that come too late first.
#[must_use]
pub fn of_reorder(view: &ReorderView, days_before: &[u32], overdue_every_days: u32) -> Vec<Line> {
    let late = view.late.iter().map(|late| Line { overdue_every_days, ..late_line(late, view) });
    let orders = view.orders.iter().flat_map(|order| order.lines.iter().map(move |line| (order, line)));
    let orders = orders.map(|(order, line)| Line { overdue_every_days, ..order_line(order, line, view, days_before) });
    late.chain(orders).collect()
}

fn late_line(late: &LateView, view: &ReorderView) -> Line {
    let what = amount(late.short, &late.unit);
    let soonest = match late.soonest {
        Some(soonest) => format!("it can be here on {} at the soonest", day(soonest, view.as_of)),
        None if view.is_nothing_on_file(&late.material) => "there is no lot and no offer of it".to_owned(),
        None => "nobody offers it in a form that lasts".to_owned(),
    };
    let entries = entries_named(&late.entries, &late.products);
    let waits = match late.entries.len() {
        0 => String::new(),
        1 => format!("; {entries} has to wait"),
        _ => format!("; {entries} have to wait"),
    };
    Line {
        kind: "late".to_owned(),
        subject: late.material.clone(),
        // When it can be here moves on with today and is no news.
        state: format!("{} {}", late.soonest.is_some(), late.entries.join(" ")),
        day: Some(late.needed),
        later_is_no_change: false,
        amount: late.short,
        days_before: Vec::new(),
        overdue_every_days: 0,
        words: format!("{}: {what} short on {}, {soonest}{waits}", late.name, day(late.needed, view.as_of)),
    }
}

fn order_line(order: &OrderView, line: &OrderLineView, view: &ReorderView, days_before: &[u32]) -> Line {
    let packs = format!("{} x {}", line.packs, line.pack);
    let when = if order.order_on <= view.as_of {
        "today".to_owned()
    } else {
        format!("by {}", day(order.order_on, view.as_of))
    };
    let price = money(&line.price, &order.currency);
    Line {
        kind: "order".to_owned(),
        subject: line.material.clone(),
        state: format!("{} {packs}", order.supplier),
        day: Some(order.order_on),
        later_is_no_change: false,
        amount: 0,
        days_before: days_before.to_vec(),
        overdue_every_days: 0,
        words: format!("{}: order {packs} at {price} from {} {when}", line.name, order.supplier_name),
    }
}

/// What is at risk: one line for each lot that ends with something left.
#[must_use]
pub fn of_expiring(view: &ExpiringView, days_before: &[u32]) -> Vec<Line> {
    let at_risk = view.lots.iter().filter(|lot| lot.at_risk > 0);
    let line = |lot: &ExpiringLotView| Line {
        kind: "lot".to_owned(),
        subject: lot.lot.clone(),
        state: lot.material.clone(),
        day: Some(lot.usable_through),
        // What the plan opens lasts longer from day to day while it is not opened.
        later_is_no_change: true,
        amount: lot.at_risk,
        days_before: days_before.to_vec(),
        overdue_every_days: 0,
        words: format!(
            "{}, lot {}: {} left when it ends on {}, worth {}",
            lot.name,
            lot.lot,
            amount(lot.at_risk, &lot.unit),
            day(lot.usable_through, view.as_of),
            money(&lot.at_risk_value, &view.currency)
        ),
    };
    at_risk.map(line).collect()
}

/// What somebody has to see to: parcels that are overdue, lots in quarantine, lots that have ended.
#[must_use]
pub fn of_today(view: &TodayView, overdue_every_days: u32) -> Vec<Line> {
    let line = |line: &TodayLine| {
        let (kind, subject) = match &line.matter {
            Matter::Parcel { order, overdue: true, .. } => ("parcel", order),
            Matter::Quarantine { lot, .. } => ("quarantine", lot),
            Matter::Ended { lot, .. } => ("ended", lot),
            _ => return None,
        };
        Some(Line {
            kind: kind.to_owned(),
            subject: subject.clone(),
            state: String::new(),
            day: line.due,
            later_is_no_change: false,
            amount: 0,
            days_before: Vec::new(),
            overdue_every_days,
            words: today::sentence(line, view.as_of),
        })
    };
    view.lines.iter().filter_map(line).collect()
}

/// What runs short: one line for each material, day and plan entry.
#[must_use]
pub fn of_forecast(view: &ForecastView, days_before: &[u32], overdue_every_days: u32) -> Vec<Line> {
    let when = |shortage: &ShortageView| match shortage.date {
        date if date <= view.as_of => "now".to_owned(),
        date => date.to_string(),
    };
    let line = |shortage: &ShortageView| Line {
        kind: "short".to_owned(),
        subject: shortage.material.clone(),
        // What ought to have been made is short today, every day anew.
        state: format!("{} {} {}", when(shortage), shortage.entries.join(" "), shortage.late),
        day: shortage.order_by,
        later_is_no_change: false,
        amount: shortage.short,
        days_before: days_before.to_vec(),
        overdue_every_days,
        words: format!(
            "{}: {} short on {} for {}",
            shortage.name,
            amount(shortage.short, &shortage.unit),
            day(shortage.date, view.as_of),
            entries_named(&shortage.entries, &shortage.products)
        ),
    };
    view.shortages.iter().map(line).collect()
}
