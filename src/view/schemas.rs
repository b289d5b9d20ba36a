//! A JSON Schema (draft 2020-12) for each answer that a command gives with `--json`, made from the views themselves.

use super::{
    acts, allocate, batch, cost, counting, done, expiring, forecast, formula, lot, month, orders, outbox, pieces, plan,
    prices, reorder, rescue, safe, schedules, stock, stocktake, suppliers, today, trace, weigh, wishes,
};
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};

/// An answer with its schema.
#[derive(Clone, Copy, Debug)]
pub struct Answer {
    /// The command that gives it, with the options that it takes; a word in capitals stands for something named.
    pub command: &'static str,
    schema: fn() -> Schema,
}

impl Answer {
    const fn of<View: JsonSchema>(command: &'static str) -> Self {
        Self { command, schema: schema_of::<View> }
    }

    /// The name of its file, without `.json`: `forecast-why` for `forecast --why`.
    #[must_use]
    pub fn name(&self) -> String {
        let words = self.command.split_whitespace().map(|word| word.trim_start_matches('-').to_lowercase());
        words.collect::<Vec<_>>().join("-")
    }

    /// The schema. Fields beyond those that it names may come: it does not forbid them.
    #[must_use]
    pub fn schema(&self) -> Schema {
        let mut schema = (self.schema)();
        schema.insert("title".to_owned(), format!("stillroom {} --json", self.command).into());
        schema
    }
}

fn schema_of<View: JsonSchema>() -> Schema {
    SchemaSettings::draft2020_12().for_serialize().into_generator().into_root_schema_for::<View>()
}

/// Commands that answer nothing as JSON, and why.
pub const WITHOUT: [(&str, &str); 3] = [
    ("watch", "it stays, and says what it does line by line"),
    ("completions", "it answers with a script for a shell"),
    ("outbox show --message", "it answers with the letter as it is"),
];

/// Every answer, by command.
#[must_use]
pub fn answers() -> Vec<Answer> {
    let mut answers = [reports(), acts_of_the_bench(), acts_around_it()].concat();
    answers.sort_by_key(Answer::name);
    answers
}

fn reports() -> Vec<Answer> {
    vec![
        Answer::of::<acts::ActsView>("act list"),
        Answer::of::<allocate::AllocateView>("allocate"),
        Answer::of::<batch::BatchListView>("batch list"),
        Answer::of::<batch::BatchView>("batch show"),
        Answer::of::<expiring::ExpiringView>("expiring"),
        Answer::of::<rescue::ExpiringWithUseUpView>("expiring --use-up"),
        Answer::of::<expiring::LotReasons>("expiring --why"),
        Answer::of::<forecast::ForecastView>("forecast"),
        Answer::of::<forecast::MaterialReasons>("forecast --why"),
        Answer::of::<formula::FormulaCheckView>("formula check"),
        Answer::of::<formula::ComparisonView>("formula compare"),
        Answer::of::<formula::FormulaListView>("formula list"),
        Answer::of::<lot::LotView>("lot show"),
        Answer::of::<month::MonthView>("month"),
        Answer::of::<orders::OrdersView>("order list"),
        Answer::of::<pieces::PiecesView>("pieces list"),
        Answer::of::<plan::PlanView>("plan list"),
        Answer::of::<prices::PriceChangesView>("prices"),
        Answer::of::<cost::PricesView>("prices MATERIAL"),
        Answer::of::<reorder::ReorderView>("reorder"),
        Answer::of::<stock::StockView>("stock"),
        Answer::of::<cost::StockValueView>("stock --value"),
        Answer::of::<counting::CountingView>("stocktake sheet"),
        Answer::of::<suppliers::SuppliersView>("supplier list"),
        Answer::of::<today::TodayView>("today"),
        Answer::of::<trace::TraceView>("trace"),
        Answer::of::<rescue::RescueView>("use-up"),
        Answer::of::<weigh::WeighView>("weigh"),
        Answer::of::<wishes::WishesView>("wish list"),
        Answer::of::<cost::WrittenOffView>("write-offs"),
    ]
}

fn acts_of_the_bench() -> Vec<Answer> {
    vec![
        Answer::of::<done::UndoneView>("act undo"),
        Answer::of::<done::CountedView>("count"),
        Answer::of::<done::RevisedView>("formula revise"),
        Answer::of::<done::LotDoneView>("lot decant"),
        Answer::of::<done::LotDoneView>("lot move"),
        Answer::of::<done::LotDoneView>("lot open"),
        Answer::of::<done::LotDoneView>("lot reject"),
        Answer::of::<done::LotDoneView>("lot release"),
        Answer::of::<done::LotDoneView>("lot retest"),
        Answer::of::<done::LotDoneView>("lot return"),
        Answer::of::<done::LotDoneView>("lot write-off"),
        Answer::of::<done::MadeView>("make"),
        Answer::of::<done::CancelledView>("order cancel"),
        Answer::of::<done::OrderLettersView>("order letter"),
        Answer::of::<done::PlacedView>("order place"),
        Answer::of::<done::PiecesCountedView>("pieces count"),
        Answer::of::<done::PiecesStateView>("pieces hold"),
        Answer::of::<done::PiecesGoneView>("pieces leave"),
        Answer::of::<done::PiecesStateView>("pieces reject"),
        Answer::of::<done::PiecesStateView>("pieces release"),
        Answer::of::<done::PlannedView>("plan add"),
        Answer::of::<done::PlannedView>("plan drop"),
        Answer::of::<done::PlannedView>("plan move"),
        Answer::of::<done::PlannedView>("plan repeat"),
        Answer::of::<done::ReceivedView>("receive"),
        Answer::of::<stocktake::StocktakeView>("stocktake enter"),
        Answer::of::<done::KeptWishView>("wish budget"),
        Answer::of::<done::KeptWishView>("wish exclude"),
        Answer::of::<done::LiftedWishView>("wish lift"),
        Answer::of::<done::KeptWishView>("wish pin"),
        Answer::of::<done::KeptWishView>("wish prefer"),
    ]
}

fn acts_around_it() -> Vec<Answer> {
    vec![
        Answer::of::<safe::BackupView>("backup"),
        Answer::of::<done::DemoView>("demo"),
        Answer::of::<safe::DoctorView>("doctor"),
        Answer::of::<done::ExportView>("export"),
        Answer::of::<done::ImportView>("import"),
        Answer::of::<done::MappingsView>("import --map"),
        Answer::of::<done::InitView>("init"),
        Answer::of::<done::MailedView>("mail"),
        Answer::of::<done::ManualView>("manual"),
        Answer::of::<done::LettersStateView>("outbox drop"),
        Answer::of::<outbox::OutboxView>("outbox list"),
        Answer::of::<done::LettersStateView>("outbox retry"),
        Answer::of::<outbox::OutboxLetter>("outbox show"),
        Answer::of::<outbox::PostView>("post"),
        Answer::of::<safe::RestoreView>("restore"),
        Answer::of::<schedules::SchedulesView>("schedule"),
        Answer::of::<schedules::SnoozesView>("snooze"),
        Answer::of::<done::SnoozedView>("snooze CODE"),
    ]
}
