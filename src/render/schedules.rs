//! The schedules and what is snoozed, for the terminal.

use super::amounts::{count, day, listed};
use super::outbox::Shown;
use super::paragraph::{on_screen, title};
use super::table::{Align, Screen, Table, strong};
use crate::view::schedules::{PastRun, ScheduleView, SchedulesView, SnoozesView};

/// The schedules.
#[must_use]
pub fn terminal(view: &SchedulesView, shown: Shown<'_>, screen: Screen) -> String {
    if view.schedules.is_empty() {
        return on_screen(
            "No letter comes by itself: put a [[schedule]] into the settings (config.example.toml shows how).",
            screen,
        );
    }
    let zone = view.time_zone.as_deref().unwrap_or("this computer");
    let schedules = count(view.schedules.len(), "schedule", "schedules");
    let mut text = title(&format!("{schedules}, by the clock of {zone}; it is {}.", shown(&view.as_of)), screen);
    for schedule in &view.schedules {
        text.push_str(&format!("\n{}\n", strong(&schedule.name, screen.colour)));
        text.push_str(&format!("  {}\n", in_words(schedule)));
        for run in &schedule.next {
            text.push_str(&format!("  next  {}\n", shown(&run.at)));
        }
        for run in &schedule.last {
            text.push_str(&format!("  last  {}\n", past(run, shown)));
        }
        if schedule.last.is_empty() {
            text.push_str("  last  never yet\n");
        }
    }
    text
}

fn in_words(schedule: &ScheduleView) -> String {
    let when = if schedule.when == "always" { "always" } else { "only with news" };
    let reports = listed(&schedule.reports);
    format!("{reports}; days \"{}\" at {}, {when}, to {}", schedule.days, schedule.at, listed(&schedule.to))
}

fn past(run: &PastRun, shown: Shown<'_>) -> String {
    let letter = run.letter.map(|letter| format!("letter {letter}, ")).unwrap_or_default();
    let missed = if run.runs > 1 { format!(", for {} that were due", run.runs) } else { String::new() };
    format!("{}: {letter}{}{missed}", shown(&run.at), run.outcome)
}

/// What is snoozed.
#[must_use]
pub fn snoozes(view: &SnoozesView, screen: Screen) -> String {
    if view.snoozes.is_empty() {
        return "Nothing is snoozed.\n".to_owned();
    }
    let mut table = Table::new(&[
        ("Material or lot", Align::Left),
        ("Until", Align::Left),
        ("Since", Align::Left),
        ("Why", Align::Left),
    ]);
    for snooze in &view.snoozes {
        table.row([
            snooze.subject.clone(),
            day(snooze.until, view.as_of),
            day(snooze.since, view.as_of),
            snooze.reason.clone(),
        ]);
    }
    table.render(screen)
}
