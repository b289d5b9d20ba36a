//! `reorder`: what to order, from whom, in which packs, by which day.

use super::report::show;
use super::session::{Session, find};
use crate::cli::Reorder;
use crate::clock::time_is_up;
use crate::error::CommandError;
use crate::plan::finding::FindingKind;
use crate::plan::model::Snapshot;
use crate::plan::outlook::Outlook;
use crate::plan::reorder::requirements::{CreditSettings, Requirements, requirements};
use crate::plan::reorder::{Limits, ReorderPlan, solve};
use crate::render::report::Report;
use crate::render::{csv, lines, reorder as render};
use crate::view::reorder::{ReorderView, reorder};
use chrono::NaiveDate;

pub fn run(session: &Session, arguments: &Reorder) -> Result<String, CommandError> {
    if let Some(seconds) = arguments.seconds.filter(|seconds| !seconds.is_finite() || *seconds < 0.0) {
        return Err(CommandError::input(format!("--seconds {seconds} is no time; give a number of 0 or more")));
    }
    let Some(code) = &arguments.why else {
        return show(session, &report(session, arguments.through, arguments.seconds)?, &arguments.files);
    };
    let proposal = Proposal::find(session, session.snapshot()?, arguments.through, arguments.seconds)?;
    let mut view = proposal.view();
    let items = proposal.snapshot.items.iter().map(|item| (item.code.as_str(), item));
    let item = find("material", code, items)?;
    keep_only(&mut view, &item.code);
    let report = Report::new(&view, render::of_material(&view, &item.name))?;
    show(session, &report.made_rows(csv::reorder_lines(&view)), &arguments.files)
}

/// The reorder list as a report.
///
/// # Errors
/// Those of [`Proposal::find`].
pub fn report(session: &Session, through: Option<NaiveDate>, seconds: Option<f64>) -> Result<Report, CommandError> {
    of_view(session, &Proposal::find(session, session.snapshot()?, through, seconds)?.view())
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

/// Leaves the lines of one material.
fn keep_only(view: &mut ReorderView, material: &str) {
    for order in &mut view.orders {
        order.lines.retain(|line| line.material == material);
    }
    view.orders.retain(|order| !order.lines.is_empty());
    view.late.retain(|late| late.material == material);
}

/// A reorder plan with everything that it comes from.
pub struct Proposal {
    /// The workshop.
    pub snapshot: Snapshot,
    /// What lies ahead.
    pub outlook: Outlook,
    /// What has to be bought.
    pub requirements: Requirements,
    /// The orders.
    pub plan: ReorderPlan,
}

impl Proposal {
    /// Finds the plan.
    ///
    /// # Errors
    /// Where `through` is wrong or a currency has no rate.
    pub fn find(
        session: &Session,
        snapshot: Snapshot,
        through: Option<NaiveDate>,
        seconds: Option<f64>,
    ) -> Result<Self, CommandError> {
        let outlook = session.look_ahead(&snapshot, through)?;
        let settings = &session.config.reorder;
        let settings = CreditSettings { window_days: settings.window_days, worth: settings.worth };
        let requirements = requirements(&snapshot, &outlook, settings);
        if let Some(finding) = requirements.findings.iter().find(|finding| finding.kind == FindingKind::NoRate) {
            let message = format!("no rate for {} is known on or before {}", finding.subject, outlook.today);
            return Err(CommandError::input(message).hint(format!(
                "add one to rates.csv (date, currency, rate: {} for one {}) and import it",
                snapshot.home, finding.subject
            )));
        }
        let limits = Limits::for_problem(&requirements.problem);
        let plan = solve(&requirements.problem, &limits, &mut time_is_up(seconds)).ok_or_else(|| {
            CommandError::work("no set of orders was found that keeps every rule of the suppliers")
                .hint("look at minimum orders and packs of the materials that `stillroom forecast` calls short")
        })?;
        Ok(Self { snapshot, outlook, requirements, plan })
    }

    /// The reorder list.
    pub fn view(&self) -> ReorderView {
        reorder(&self.snapshot, &self.outlook, &self.requirements, &self.plan)
    }
}
