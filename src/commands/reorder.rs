//! `reorder`: what to order, from whom, in which packs, by which day.

use super::names::find;
use super::progress::Progress;
use super::report::show;
use super::session::Session;
use super::way_on::way_on;
use super::wish::{budget, preference, target};
use crate::book::{ListRows, ListedRow};
use crate::cli::Reorder;
use crate::clock::time_is_up;
use crate::error::CommandError;
use crate::plan::finding::FindingKind;
use crate::plan::model::{ItemId, ListedLine, Snapshot};
use crate::plan::moves::{MoveSettings, Moves, moves};
use crate::plan::outlook::Outlook;
use crate::plan::reorder::Limits;
use crate::plan::reorder::PlannedOrder;
use crate::plan::reorder::listing::{ListSettings, Listing, list};
use crate::plan::reorder::requirements::{Cause, CreditSettings, requirements};
use crate::plan::reorder::why::{OrderWhy, why};
use crate::plan::wishes::{Want, Wish, fulfilled};
use crate::render::report::Report;
use crate::render::{csv, lines, reorder as render};
use crate::store::StoreError;
use crate::view::reorder::{ReorderView, reorder};
use crate::view::reorder_hand::Hand;
use chrono::{Days, NaiveDate};

pub fn run(session: &Session, arguments: &Reorder) -> Result<String, CommandError> {
    if let Some(seconds) = arguments.seconds.filter(|seconds| !seconds.is_finite() || *seconds < 0.0) {
        return Err(CommandError::input(format!("--seconds {seconds} is no time; give a number of 0 or more")));
    }
    let mut snapshot = session.snapshot()?;
    let is_plain = !just_for_this_list(&mut snapshot, arguments, session.clock.today())?;
    let proposal = Proposal::find(session, snapshot, arguments.through, arguments.seconds)?;
    if is_plain && arguments.through.is_none() && arguments.seconds.is_none() {
        proposal.keep(session)?;
    }
    let mut view = proposal.view();
    if let Some(code) = &arguments.why {
        let bought = proposal.snapshot.items.iter().enumerate().filter(|(_, item)| item.premix.is_none());
        let items = bought.map(|(place, item)| ([item.code.as_str(), &item.name], (ItemId::new(place), item)));
        let (id, item) = find("material", code, items)?;
        keep_only(&mut view, &item.code);
        view.hand.offers = Some(proposal.hand().offers_of(id));
        let report = Report::new(&view, render::of_material(&view, &item.name, item.unit))?;
        return show(session, &report.made_rows(csv::reorder_lines(&view)), &arguments.files);
    }
    if arguments.due {
        let next_look = session.clock.today() + Days::new(u64::from(session.config.reorder.next_look_days));
        let (due, later) = view.orders.into_iter().partition(|order| order.order_on < next_look);
        view.orders = due;
        view.hand.outlook = later;
    }
    show(session, &of_view(session, &view)?.way_on(way_on(&proposal.snapshot)), &arguments.files)
}

/// The reorder list as a report. That of the whole plan is kept, so that the next one does not turn it over for little.
///
/// # Errors
/// Those of [`Proposal::find`], and where the store cannot be read.
pub fn report(session: &Session, through: Option<NaiveDate>) -> Result<Report, CommandError> {
    let proposal = Proposal::find(session, session.snapshot()?, through, None)?;
    if through.is_none() {
        proposal.keep(session)?;
    }
    of_view(session, &proposal.view())
}

/// A reorder list as a report.
///
/// # Errors
/// Never for the views of this program.
pub fn of_view(session: &Session, view: &ReorderView) -> Result<Report, CommandError> {
    let report = Report::new(view, render::document(view))?;
    let report = report.made_rows(csv::reorder_lines(view)).rows_in_letters();
    let reminders = &session.config.reminders;
    let lines = lines::of_reorder(view, &reminders.order_days_before, reminders.overdue_every_days);
    Ok(report.news(render::news(view)).dates(render::dates(view)).lines(lines))
}

/// Adds the wishes that were said with the command, or takes the kept ones out; true where there are any such.
fn just_for_this_list(snapshot: &mut Snapshot, arguments: &Reorder, today: NaiveDate) -> Result<bool, CommandError> {
    let mut wants = Vec::new();
    for what in &arguments.exclude {
        wants.push(Want::Exclude(target(snapshot, what)?));
    }
    for what in &arguments.pin {
        wants.push(Want::Pin(target(snapshot, what)?));
    }
    for preferred in &arguments.prefer {
        let (supplier, percent) = preferred.split_once('=').ok_or_else(|| {
            CommandError::input(format!("{preferred:?} is not SUPPLIER=PERCENT")).hint("write --prefer VEY=5")
        })?;
        wants.push(preference(snapshot, supplier, percent)?);
    }
    if let Some(money) = &arguments.budget {
        wants.push(budget(snapshot, money, arguments.budget_through, today)?);
        // What is said with the command stands before what is kept, also where it is more.
        snapshot.hand.wishes.retain(|wish| !matches!(wish.want, Want::Budget(..)));
    }
    if arguments.without_wishes {
        snapshot.hand.wishes.clear();
    }
    let any = arguments.without_wishes || !wants.is_empty();
    snapshot.hand.wishes.extend(wants.into_iter().map(|want| Wish { code: String::new(), want }));
    Ok(any)
}

/// Leaves the lines of one material.
fn keep_only(view: &mut ReorderView, material: &str) {
    for order in &mut view.orders {
        order.lines.retain(|line| line.material == material);
    }
    view.orders.retain(|order| !order.lines.is_empty());
    view.late.retain(|late| late.material == material);
    if view.late.is_empty() {
        view.hand.moves = None;
    }
}

/// A reorder list with everything that it comes from.
pub struct Proposal {
    /// The workshop, with the offers and order days that the wishes leave.
    pub snapshot: Snapshot,
    /// What lies ahead.
    pub outlook: Outlook,
    /// The list.
    pub listing: Listing,
    /// Why each order is on it.
    why: Vec<OrderWhy>,
    /// Which entries could move; `None` where nothing is late.
    moves: Option<Moves>,
}

impl Proposal {
    /// Finds the list, around the wishes of the snapshot.
    ///
    /// # Errors
    /// Where `through` is wrong or a currency has no rate.
    pub fn find(
        session: &Session,
        snapshot: Snapshot,
        through: Option<NaiveDate>,
        seconds: Option<f64>,
    ) -> Result<Self, CommandError> {
        let today = session.clock.today();
        let snapshot = fulfilled(snapshot, today);
        let outlook = session.look_ahead(&snapshot, through)?;
        let settings = &session.config.reorder;
        let credit = CreditSettings { window_days: settings.window_days, worth: settings.worth };
        let requirements = requirements(&snapshot, &outlook, credit);
        if let Some(finding) = requirements.findings.iter().find(|finding| finding.kind == FindingKind::NoRate) {
            let message = format!("no rate for {} is known on or before {}", finding.subject, outlook.today);
            return Err(CommandError::input(message).hint(format!(
                "add one to rates.csv (date, currency, rate: {} for one {}) and import it",
                snapshot.home, finding.subject
            )));
        }
        let limits = Limits::for_problem(&requirements.problem);
        let settings = ListSettings { limits, change_must_save: settings.change_must_save };
        let progress = Progress::begin();
        progress.turn_to("Looking for the cheapest orders", None);
        let mut is_up = time_is_up(seconds);
        // The search asks at every step whether it may go on: so it tells that it does.
        let mut may_stop = || {
            progress.step();
            is_up()
        };
        let found = list(&snapshot, &outlook, requirements, &settings, &mut may_stop);
        drop(progress);
        let listing = found.ok_or_else(|| {
            CommandError::work("no set of orders was found that keeps every rule of the suppliers")
                .hint("look at minimum orders and packs of the materials that `stillroom forecast` calls short")
        })?;
        let why = why(&listing.requirements.problem, &listing.plan);
        let waits = |(cause, _): &(Cause, _)| matches!(cause, Cause::Shortage(_));
        // What nobody can bring does not come in time however entries move.
        let late = listing.requirements.late.iter().filter(|late| late.soonest.is_some());
        let is_late = late.into_iter().any(|late| late.causes.iter().any(waits));
        let moves = is_late.then(|| moves(&snapshot, today, MoveSettings::default()));
        Ok(Self { snapshot, outlook, listing, why, moves })
    }

    /// All that is known of the list.
    pub fn hand(&self) -> Hand<'_> {
        Hand {
            snapshot: &self.snapshot,
            outlook: &self.outlook,
            listing: &self.listing,
            why: &self.why,
            moves: self.moves.as_ref(),
        }
    }

    /// The reorder list.
    pub fn view(&self) -> ReorderView {
        reorder(&self.hand())
    }

    /// The list as the next one will remember it, but for orders that are placed now.
    pub fn memory(&self, placed: &[&PlannedOrder]) -> ListRows {
        let memory = &self.listing.memory;
        let goes = |line: &ListedLine| {
            placed.iter().any(|order| (order.supplier, order.order_on) == (line.supplier, line.order_on))
        };
        let row = |line: &ListedLine| ListedRow {
            order_on: line.order_on,
            supplier: self.snapshot.suppliers[line.supplier.index()].code.clone(),
            material: self.snapshot.item(line.item).code.clone(),
            pack: line.pack,
            packs: line.packs,
        };
        let mut lines: Vec<ListedRow> = memory.lines.iter().filter(|line| !goes(line)).map(row).collect();
        lines.sort();
        ListRows {
            lines,
            whole_mark: memory.whole_mark.clone(),
            lasting_mark: memory.lasting_mark.clone(),
            lower_bound: memory.lower_bound.minor,
            simple_objective: memory.simple_objective.minor,
            new_would_save: memory.new_would_save.map(|money| money.minor),
        }
    }

    /// Keeps the list, so that the next one does not turn it over for little. Nothing is written where it is the same, or
    /// where it was made from a state that is no longer the newest; a
    /// store that cannot be written just now has told its list all the same.
    ///
    /// # Errors
    /// Where the store cannot be read.
    pub fn keep(&self, session: &Session) -> Result<(), CommandError> {
        let memory = self.memory(&[]);
        let mut store = session.open()?;
        if store.reading()?.last_list()? == memory {
            return Ok(());
        }
        let writing = match store.writing() {
            Ok(writing) => writing,
            Err(error) => return not_kept(error),
        };
        // Somebody has written since the list was begun: theirs is the newer state, and this list is not about it.
        if fulfilled(session.snapshot_of(&writing)?, session.clock.today()) != self.snapshot {
            return Ok(());
        }
        writing.keep_list(&memory).and_then(|()| writing.commit()).or_else(not_kept)
    }
}

/// The list has been told all the same where the store cannot be written just now.
fn not_kept(error: StoreError) -> Result<(), CommandError> {
    match error {
        StoreError::Locked | StoreError::ReadOnly | StoreError::Full => {
            tracing::warn!("this list is not kept for the next one: {error}");
            Ok(())
        }
        error => Err(error.into()),
    }
}
