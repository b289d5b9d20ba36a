//! What every command begins with: settings, clock, store, and the snapshot of the workshop.

use super::ask::Answers;
use crate::book::ReceivedOrder;
use crate::book::link::{link, remember};
use crate::cli::Common;
use crate::clock::{AsOf, Clock};
use crate::config::{
    CONFIG_VARIABLE, Config, Folders, LeadTimeFrom, STORE_VARIABLE, config_place, open_to_others, read, store_path,
};
use crate::error::{CommandError, Kind};
use crate::plan::allocate::SearchLimit;
use crate::plan::calendar::Span;
use crate::plan::limits;
use crate::plan::measure::{DecimalMark, Measure};
use crate::plan::model::Snapshot;
use crate::plan::money::{Currency, Money, Price};
use crate::plan::outlook::{Outlook, look_ahead, natural_horizon};
use crate::plan::quantity::{Density, Quantity, Unit};
use crate::post::send::Method;
use crate::render::amounts::day;
use crate::render::safe::on_the_network;
use crate::render::table::Screen;
use crate::store::{Reading, Stamp, Store, Writing, network_kind};
use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;
use std::cell::{Cell, RefCell};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

/// One run of the program.
pub struct Session {
    /// Settings.
    pub config: Config,
    /// The day and the moment.
    pub clock: Clock,
    /// How the terminal wants its text.
    pub screen: Screen,
    /// True where the answer is JSON.
    pub json: bool,
    /// True where somebody sits at the terminal and can be asked.
    pub can_ask: bool,
    /// Who does what is written down; empty where nobody is named.
    pub by: String,
    /// What was answered already, so that nothing is asked twice.
    pub(super) answers: RefCell<Answers>,
    store: Option<PathBuf>,
    /// True where the store was named with the command or in the environment.
    store_is_named: bool,
    settings: Option<PathBuf>,
    /// True once the clock was found to be wrong and that was said.
    clock_is_questioned: Cell<bool>,
}

/// A clock that is behind the last act by more than this is wrong, or was.
const CLOCK_IS_WRONG: TimeDelta = TimeDelta::hours(25);

impl Session {
    /// Reads the settings. Where the workshop only begins, a file that is named for them need not be there yet.
    ///
    /// # Errors
    /// Where the settings are wrong.
    pub fn begin(common: Common, screen: Screen, begins: bool) -> Result<Self, CommandError> {
        let folders = Folders::of_platform();
        let variable = |name| std::env::var_os(name).map(PathBuf::from);
        let place = config_place(common.config.as_deref(), variable(CONFIG_VARIABLE).as_deref(), &folders);
        let config = match &place {
            Some(place) if begins && !place.path.exists() => Config::default(),
            Some(place) => read(place, &folders)?,
            None => Config::default(),
        };
        let store = store_path(common.store.as_deref(), variable(STORE_VARIABLE).as_deref(), &config, &folders);
        let store_is_named = common.store.is_some() || variable(STORE_VARIABLE).is_some();
        let settings = place.map(|place| place.path);
        let clock = Clock::new(common.as_of, config.time_zone);
        let can_ask = !common.json && std::io::stdin().is_terminal() && std::io::stderr().is_terminal();
        let answers = RefCell::default();
        let clock_is_questioned = Cell::new(false);
        let (json, by) = (common.json, String::new());
        Ok(Self {
            config,
            clock,
            screen,
            json,
            can_ask,
            by,
            answers,
            store,
            store_is_named,
            settings,
            clock_is_questioned,
        })
    }

    /// A session on the store and day of an example, with settings as they come: no letter leaves the house.
    pub fn example(&self, store: PathBuf, day: NaiveDate) -> Self {
        let config = Config::default();
        let clock = Clock::new(Some(AsOf::Day(day)), config.time_zone);
        Self {
            config,
            clock,
            screen: self.screen,
            json: self.json,
            can_ask: false,
            by: String::new(),
            answers: RefCell::default(),
            store: Some(store),
            store_is_named: true,
            settings: None,
            clock_is_questioned: Cell::new(false),
        }
    }

    /// The same session, with the name of who does what is written down.
    ///
    /// # Errors
    /// Where the name is none.
    pub fn done_by(self, who: Option<&str>) -> Result<Self, CommandError> {
        let by = who.map(|who| words("--by", who)).transpose()?.unwrap_or_default();
        Ok(Self { by, ..self })
    }

    /// The same session, with a clock that goes on.
    pub fn with_running_clock(self) -> Self {
        Self { clock: self.clock.running(), ..self }
    }

    /// The store's file.
    ///
    /// # Errors
    /// Where none is named and the platform has no data folder.
    pub fn store_file(&self) -> Result<&Path, CommandError> {
        self.store.as_deref().ok_or_else(|| {
            CommandError::input("this computer has no usual folder for data").hint("name the store with --store FILE")
        })
    }

    /// True where the store was named with the command or in the environment, and not by the settings.
    pub fn store_is_named(&self) -> bool {
        self.store_is_named
    }

    /// The file of the settings, whether it is there or not.
    ///
    /// # Errors
    /// Where none is named and the platform has no folder for it.
    pub fn settings_file(&self) -> Result<PathBuf, CommandError> {
        self.settings.clone().ok_or_else(|| {
            CommandError::input("this computer has no usual folder for settings")
                .hint("name the file with --config FILE")
        })
    }

    /// The way that letters leave, with its password, and warnings about where that and the settings are kept.
    ///
    /// # Errors
    /// Where there is no password, or no store.
    pub fn way(&self) -> Result<(Method, Vec<String>), CommandError> {
        let (method, mut warnings) = self.config.mail.way(self.store_file()?, &|name| std::env::var_os(name))?;
        warnings.extend(self.settings.as_deref().and_then(|path| open_to_others(path, &self.config)));
        Ok((method, warnings))
    }

    /// Opens the store.
    ///
    /// # Errors
    /// Where there is none or it cannot be opened.
    pub fn open(&self) -> Result<Store, CommandError> {
        let file = self.store_file()?;
        let mut store = Store::open(file).map_err(|error| error.at(file))?;
        if let Some(upgrade) = store.upgrade() {
            tracing::warn!(
                "the store was brought from version {} to {}; as it was, it is kept as {}",
                upgrade.from,
                upgrade.to,
                upgrade.copy.display()
            );
        }
        self.question_the_clock(&mut store)?;
        Ok(store)
    }

    /// Says so, once, where the computer's clock cannot be right, or was not when the last act was written down: dates decide
    /// what is used, what has ended and what is to be ordered.
    fn question_the_clock(&self, store: &mut Store) -> Result<(), CommandError> {
        if self.clock.is_set() || self.clock_is_questioned.get() {
            return Ok(());
        }
        let now = self.clock.now();
        if let Some((act, recorded)) = store.reading()?.newest_act()?
            && recorded > now + CLOCK_IS_WRONG
        {
            let shown = |moment| self.clock.wall().shows(moment).format("%Y-%m-%d %H:%M");
            tracing::warn!(
                "this computer's clock shows {}, and act {act} was written down at {}, which is later: one of them is \
                 wrong. Set the clock right before you go on; `stillroom act list` shows what was written, `stillroom \
                 act undo {act}` takes it back",
                shown(now),
                shown(recorded)
            );
            self.clock_is_questioned.set(true);
        }
        Ok(())
    }

    /// Says so where a store that is made now would lie in a network folder.
    pub fn warn_of_network(&self, store: &Path) {
        if let Some(kind) = network_kind(store) {
            tracing::warn!("{}", on_the_network(&kind));
        }
    }

    /// Does something in one transaction; `act` reads, asks, decides and writes, and what it returns is committed.
    ///
    /// While the maker thinks about a question, nobody is kept from writing. Where somebody did, `act` runs once more,
    /// with the answers that were given, so that what is written fits the store as it is then.
    ///
    /// # Errors
    /// Where `act` fails; then nothing is written. Where the store cannot be written.
    pub fn write<T>(&self, act: impl Fn(&Writing<'_>) -> Result<T, CommandError>) -> Result<T, CommandError> {
        let mut store = self.open()?;
        if self.can_ask {
            let writing = store.writing_at_last()?;
            match act(&writing) {
                Ok(done) if writing.commit().is_ok() => return Ok(done),
                Err(error) if error.kind == Kind::Input => return Err(error),
                Ok(_) | Err(_) => self.answers.borrow_mut().begin_again(),
            }
        }
        let writing = store.writing()?;
        let done = act(&writing)?;
        writing.commit()?;
        Ok(done)
    }

    /// When an act is done, and by whom where that was said.
    pub fn stamp(&self) -> Stamp {
        self.stamp_of(&self.by)
    }

    /// The same, of somebody who was asked for the name.
    pub fn stamp_of(&self, who: &str) -> Stamp {
        Stamp { day: self.clock.today(), recorded_at: self.clock.recorded_at(), who: who.to_owned() }
    }

    /// The workshop as it stands.
    ///
    /// # Errors
    /// Where the store cannot be read.
    pub fn snapshot(&self) -> Result<Snapshot, CommandError> {
        let mut store = self.open()?;
        let reading = store.reading()?;
        let snapshot = self.snapshot_of(&reading)?;
        limits::check(&snapshot)?;
        Ok(snapshot)
    }

    /// The workshop as a store shows it at one moment, with the lead times that the settings ask for. What received orders
    /// taught is read only where it is reckoned with: there are more of them every year.
    ///
    /// # Errors
    /// Where the store cannot be read.
    pub fn snapshot_of(&self, reading: &Reading<'_>) -> Result<Snapshot, CommandError> {
        match self.config.reorder.lead_time {
            LeadTimeFrom::Stated => self.snapshot_taught_by(reading, &[]),
            LeadTimeFrom::Learned => self.snapshot_taught_by(reading, &reading.received_orders()?),
        }
    }

    /// As [`Session::snapshot_of`], with what these orders tell of their suppliers.
    ///
    /// # Errors
    /// Where the store cannot be read.
    pub fn snapshot_taught_by(
        &self,
        reading: &Reading<'_>,
        received: &[ReceivedOrder],
    ) -> Result<Snapshot, CommandError> {
        let (book, standings) = reading.book_ahead(self.clock.today())?;
        let mut snapshot = link(&book, reading.home()?, &standings)?;
        let proposed = reading.orders_once_proposed()?;
        for order in &mut snapshot.orders {
            order.was_proposed = proposed.contains(&order.code);
        }
        remember(&mut snapshot, &reading.last_list()?, received);
        let settings = &self.config.reorder;
        if settings.lead_time == LeadTimeFrom::Learned {
            for (supplier, lead_time) in &snapshot.hand.lead_times {
                if lead_time.orders >= settings.lead_time_orders as usize {
                    let calendar = &mut snapshot.suppliers[supplier.index()].calendar;
                    calendar.lead_time_days = lead_time.days_to_reckon_with();
                }
            }
        }
        Ok(snapshot)
    }

    /// The workshop as it stands, and what lies ahead.
    ///
    /// # Errors
    /// Where the store cannot be read, or `through` lies before today.
    pub fn outlook(&self, through: Option<NaiveDate>) -> Result<(Snapshot, Outlook), CommandError> {
        let snapshot = self.snapshot()?;
        let outlook = self.look_ahead(&snapshot, through)?;
        Ok((snapshot, outlook))
    }

    /// Ten years from today: no plan looks further.
    pub fn furthest_day(&self) -> NaiveDate {
        Span { months: 120, days: 0 }.after(self.clock.today())
    }

    /// What lies ahead of a snapshot.
    ///
    /// # Errors
    /// Where `through` lies before today or absurdly far off.
    pub fn look_ahead(&self, snapshot: &Snapshot, through: Option<NaiveDate>) -> Result<Outlook, CommandError> {
        limits::check(snapshot)?;
        let today = self.clock.today();
        if let Some(day) = through.filter(|day| *day < today) {
            return Err(CommandError::input(format!("--through {day} lies before today, {today}"))
                .hint("give a day from today on, or leave it out for the whole plan"));
        }
        let furthest = self.furthest_day();
        if let Some(day) = through.filter(|day| *day > furthest) {
            return Err(CommandError::input(format!("--through {day} is more than ten years ahead")));
        }
        // A slip in an imported plan, the year 2972 say, does not make a report of a million days.
        let through = through.or_else(|| Some(furthest).filter(|day| natural_horizon(snapshot, today) > *day));
        Ok(look_ahead(snapshot, today, through, SearchLimit::default()))
    }

    /// The answer: JSON where it was asked for, else the text.
    ///
    /// # Errors
    /// Never for the views of this program.
    pub fn answer(&self, view: &impl Serialize, text: impl FnOnce(Screen) -> String) -> Result<String, CommandError> {
        if !self.json {
            return Ok(text(self.screen));
        }
        let json = serde_json::to_string(view);
        json.map(|json| json + "\n").map_err(|error| CommandError::work(format!("no JSON could be made: {error}")))
    }
}

/// Refuses to do something to a lot on a day before it came.
///
/// # Errors
/// Where it came later than the day.
pub fn has_come(lot: &str, received: Option<NaiveDate>, today: NaiveDate) -> Result<(), CommandError> {
    match received.filter(|received| *received > today) {
        Some(received) => {
            let (received, today) = (day(received, today), day(today, today));
            Err(CommandError::input(format!("lot {lot} came on {received}, and this would be on {today}, before it"))
                .hint("give a later day with --as-of, or leave --as-of out for today"))
        }
        None => Ok(()),
    }
}

/// An amount that was typed, in the unit of its item.
///
/// # Errors
/// Where it is no amount, or one of the wrong kind.
pub fn quantity(text: &str, unit: Unit, density: Option<Density>) -> Result<Quantity, CommandError> {
    let measure = Measure::parse_of(text, DecimalMark::PointOrClearComma, unit);
    measure
        .and_then(|measure| measure.quantity(unit, density))
        .map_err(|error| CommandError::input(format!("{text:?} {error}")).hint(error.remedy()))
}

/// A text that was typed: without the control characters that no file of the workshop may hold.
///
/// # Errors
/// Where it holds one, or nothing at all.
pub fn words(option: &str, text: &str) -> Result<String, CommandError> {
    let text = text.trim();
    if text.is_empty() {
        return Err(CommandError::input(format!("{option} is empty")));
    }
    if text.chars().any(char::is_control) {
        return Err(CommandError::input(format!("{option} holds a line break or another control character"))
            .hint("write it on one line"));
    }
    Ok(text.to_owned())
}

/// What was paid, in home money at the newest rate on or before the day.
///
/// # Errors
/// Where no rate is that old: names currency and day.
pub fn home_money(
    snapshot: &Snapshot,
    price: Price,
    currency: Currency,
    day: NaiveDate,
) -> Result<Money, CommandError> {
    snapshot.to_home(price, currency, day).ok_or_else(|| {
        CommandError::input(format!("no rate for {currency} is known on or before {day}")).hint(format!(
            "add one to rates.csv (date, currency, rate: {} for one {currency}) and import it",
            snapshot.home
        ))
    })
}
