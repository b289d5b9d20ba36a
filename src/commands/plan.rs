//! `plan`: list, add, move, repeat and drop plan entries.

use super::names::find;
use super::session::{Session, words};
use super::way_on::way_on;
use crate::book::Book;
use crate::book::rows::{PlanRow, ProductRow};
use crate::cli::{Every, Plan, When};
use crate::error::CommandError;
use crate::intake::typed_plan_amount;
use crate::plan::calendar::Span;
use crate::plan::limits;
use crate::plan::model::PlanDay;
use crate::render::amounts::{count, day};
use crate::render::plan as render;
use crate::store::Writing;
use crate::view::done::{PlannedEntryView, PlannedView};
use crate::view::plan::plan;
use chrono::{Days, NaiveDate};

/// At most so many entries are added at once: a slip of the finger should not fill the plan.
const MOST_REPEATS: u32 = 1_000;

pub fn run(session: &Session, what: &Plan) -> Result<String, CommandError> {
    match what {
        Plan::List { through } => {
            let (snapshot, outlook) = session.outlook(*through)?;
            let view = plan(&snapshot, &outlook);
            let way_on = way_on(&snapshot).map(|words| format!("{words}\n")).unwrap_or_default();
            session.answer(&view, |screen| render::terminal(&view, screen) + &way_on)
        }
        Plan::Add { product, amount, when, entry, .. } => {
            write(session, |writing, book| add(writing, book, product, amount, *when, entry.as_deref()))
        }
        Plan::Move { entry, when, .. } => write(session, |writing, book| {
            let row = planned(book, entry)?;
            let moved = PlanRow { when: plan_day(*when), ..row.clone() };
            writing.plan_move(&row.entry, moved.when, &session.stamp())?;
            Ok((vec![moved], "moved"))
        }),
        Plan::Repeat { entry, every, times, until, .. } => {
            write(session, |writing, book| repeat(writing, planned(book, entry)?, *every, *times, *until))
        }
        Plan::Drop { entry, .. } => write(session, |writing, book| {
            let row = planned(book, entry)?;
            writing.plan_drop(&row.entry, &session.stamp())?;
            Ok((vec![row.clone()], "dropped"))
        }),
    }
}

type Done = (Vec<PlanRow>, &'static str);

/// Does something to the plan in one transaction and says what it was. Rows that are new are added.
fn write(
    session: &Session,
    act: impl FnOnce(&Writing<'_>, &Book) -> Result<Done, CommandError>,
) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let writing = store.writing()?;
    let book = writing.book()?;
    let (rows, done) = act(&writing, &book)?;
    let (products, today) = (book.products, session.clock.today());
    let furthest = session.furthest_day();
    if let Some(row) = rows.iter().find(|row| done != "dropped" && day_of(row) > furthest) {
        return Err(CommandError::input(format!("{} is more than ten years ahead", day_of(row))));
    }
    if done == "added" {
        writing.plan_add(&rows, &session.stamp())?;
        limits::check(&session.snapshot_of(&writing)?)?;
    }
    writing.commit()?;
    let entry =
        |row: &PlanRow| PlannedEntryView { entry: row.entry.clone(), product: row.product.clone(), day: day_of(row) };
    let view = PlannedView { done: done.to_owned(), entries: rows.iter().map(entry).collect() };
    session.answer(&view, |_| {
        let line = |row: &PlanRow| {
            let word = match row.when {
                PlanDay::MakeOn(_) => "made on",
                PlanDay::ReadyBy(_) => "ready by",
            };
            let product = products.iter().find(|product| product.code == row.product);
            let name = product.map_or(&row.product, |product| &product.name);
            format!("{} {name}, {word} {}\n", row.entry, day(day_of(row), today))
        };
        let lines: String = rows.iter().map(line).collect();
        let late: String =
            rows.iter().filter(|_| done != "dropped").filter_map(|row| too_late(row, &products, today)).collect();
        let entries = count(rows.len(), "entry", "entries");
        format!("{lines}{late}{entries} {done}. `stillroom forecast` shows what that means for the stock.\n")
    })
}

/// A word about an entry that would have to be made on a day that has passed.
fn too_late(row: &PlanRow, products: &[ProductRow], today: NaiveDate) -> Option<String> {
    let product = products.iter().find(|product| product.code == row.product);
    let days = product.map_or(0, |product| u64::from(product.setting_days) + u64::from(product.curing_days));
    let make_on = match row.when {
        PlanDay::MakeOn(day) => day,
        PlanDay::ReadyBy(day) => day.checked_sub_days(Days::new(days))?,
    };
    let ready = today.checked_add_days(Days::new(days))?;
    (make_on < today).then(|| {
        format!(
            "note: {} would have to be made on {}, which has passed; made today it is ready on {}.\n",
            row.entry,
            day(make_on, today),
            day(ready, today)
        )
    })
}

fn planned<'a>(book: &'a Book, entry: &str) -> Result<&'a PlanRow, CommandError> {
    find(
        "plan entry that is still to be made",
        entry,
        book.plan.iter().map(|row| ([row.entry.as_str(), &row.product], row)),
    )
}

fn add(
    writing: &Writing<'_>,
    book: &Book,
    product: &str,
    amount: &str,
    when: When,
    entry: Option<&str>,
) -> Result<Done, CommandError> {
    let products = book.products.iter().map(|row| ([row.code.as_str(), &row.name], row));
    let product = find("product", product, products).map_err(|error| of_formula(error, book, product))?;
    let amount =
        typed_plan_amount(amount, product).map_err(|(problem, remedy)| CommandError::input(problem).hint(remedy))?;
    let entry = match entry {
        Some(entry) => words("--entry", entry)?,
        None => writing.next_entry_code()?,
    };
    Ok((vec![PlanRow { entry, product: product.code.clone(), amount, when: plan_day(when), dropped: false }], "added"))
}

/// Where a formula was named: what is still needed so that it can be planned.
fn of_formula(error: CommandError, book: &Book, typed: &str) -> CommandError {
    let formulas = book.formula_lines.iter().map(|row| ([row.formula.as_str()], row.formula.as_str()));
    match find("formula", typed, formulas) {
        Ok(formula) if error.hint.as_deref().is_none_or(|hint| !hint.starts_with("did you mean")) => error.hint(format!(
            "{formula} is a formula; a product says how much of it is in a piece. Fill in the sheet `products` (`stillroom init \
             --sheets`), or a list of your own (`stillroom import --map FILE`)"
        )),
        _ => error,
    }
}

fn repeat(
    writing: &Writing<'_>,
    row: &PlanRow,
    every: Every,
    times: Option<u32>,
    until: Option<NaiveDate>,
) -> Result<Done, CommandError> {
    let first = day_of(row);
    let step = |number: u32| match every {
        Every::Week => Span { months: 0, days: 7 * number }.after(first),
        Every::TwoWeeks => Span { months: 0, days: 14 * number }.after(first),
        Every::Month => Span { months: number, days: 0 }.after(first),
    };
    let wanted =
        (1..=times.unwrap_or(MOST_REPEATS + 1)).map(step).take_while(|day| until.is_none_or(|until| *day <= until));
    let days: Vec<NaiveDate> = wanted.take(MOST_REPEATS as usize + 1).collect();
    if days.is_empty() {
        return Err(CommandError::input(format!("no repetition of {} falls on or before that day", row.entry)));
    }
    if days.len() > MOST_REPEATS as usize {
        return Err(CommandError::input(format!("that would be more than {MOST_REPEATS} entries")));
    }
    let next = writing.next_entry_code()?;
    let (prefix, number) = next.split_at(2);
    let number: u64 = number.parse().map_err(|_| CommandError::work(format!("{next} is no entry code")))?;
    let copy = |(place, day): (u64, NaiveDate)| PlanRow {
        entry: format!("{prefix}{:04}", number + place),
        when: match row.when {
            PlanDay::MakeOn(_) => PlanDay::MakeOn(day),
            PlanDay::ReadyBy(_) => PlanDay::ReadyBy(day),
        },
        ..row.clone()
    };
    Ok(((0..).zip(days).map(copy).collect(), "added"))
}

fn plan_day(when: When) -> PlanDay {
    match (when.make_on, when.ready_by) {
        (_, Some(day)) => PlanDay::ReadyBy(day),
        (day, None) => PlanDay::MakeOn(day.unwrap_or_default()),
    }
}

fn day_of(row: &PlanRow) -> NaiveDate {
    match row.when {
        PlanDay::MakeOn(day) | PlanDay::ReadyBy(day) => day,
    }
}
