//! The config: a TOML file, where it lies, and where the store lies. Every key is optional; none holds a password.

mod mail;
mod schedule;
#[cfg(test)]
mod tests;

pub use mail::{Account, Mail, MailMethod, Server};
pub use schedule::{Reminders, ScheduledLetter};

use crate::plan::decimal::Decimal;
use crate::plan::measure::{DecimalMark, Measure};
use crate::plan::money::Currency;
use crate::plan::quantity::{Mass, Percent};
use chrono_tz::Tz;
use etcetera::BaseStrategy;
use serde::Deserialize;
use std::io::{ErrorKind, Read};
use std::ops::{Range, RangeInclusive};
use std::path::{Path, PathBuf};
use toml::Spanned;

/// Environment variable that names the config file.
pub const CONFIG_VARIABLE: &str = "STILLROOM_CONFIG";
/// Environment variable that names the store.
pub const STORE_VARIABLE: &str = "STILLROOM_STORE";

/// So much of a config is read: a device that never ends is none.
const MOST_BYTES: u64 = 4 << 20;

/// Everything that can be set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Config {
    /// The store's file.
    pub store: Option<PathBuf>,
    /// Currency of a new store.
    pub home_currency: Currency,
    /// The workshop's time zone; the computer's own where `None`.
    pub time_zone: Option<Tz>,
    /// What left-over is worth.
    pub reorder: Reorder,
    /// What the scale can do.
    pub bench: Bench,
    /// How letters leave.
    pub mail: Mail,
    /// Letters that come by themselves, in order.
    pub schedules: Vec<ScheduledLetter>,
    /// When lines are told again.
    pub reminders: Reminders,
    /// Copies of the store.
    pub backup: Backup,
    /// What suppliers are told of the workshop.
    pub workshop: Workshop,
}

/// What suppliers are told of the workshop in the letter of an order. Both may be empty.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Workshop {
    /// Its name.
    pub name: String,
    /// Where parcels go, on one line.
    pub address: String,
}

impl Workshop {
    /// Name and address on one line; empty where no address is set, since a name alone brings no parcel.
    #[must_use]
    pub fn deliver_to(&self) -> String {
        match (self.name.as_str(), self.address.as_str()) {
            (_, "") => String::new(),
            ("", address) => address.to_owned(),
            (name, address) => format!("{name}, {address}"),
        }
    }
}

/// Where copies of the store are laid, and how many stay.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Backup {
    /// The folder; `backups` beside the store where `None`.
    pub folder: Option<PathBuf>,
    /// So many of the newest stay; 1 or more.
    pub keep: u32,
    /// True where `post` and `watch` make one each day.
    pub daily: bool,
}

impl Default for Backup {
    fn default() -> Self {
        Self { folder: None, keep: 14, daily: false }
    }
}

/// What left-over of a purchase is worth (docs/model.md, part 5).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reorder {
    /// For how many days after the horizon it counts.
    pub window_days: u32,
    /// Share of the lowest landed price that it is worth; 0 to 100 %.
    pub worth: Percent,
    /// A new list has to save at least so much of what the last one costs, or the last one stays; 0 to 100 %.
    pub change_must_save: Percent,
    /// Which lead times order days are reckoned with.
    pub lead_time: LeadTimeFrom,
    /// So many received orders are needed before a supplier's lead time counts as learned; 1 or more.
    pub lead_time_orders: u32,
    /// After so many days the list is looked at again; what cannot wait until then is due. 1 or more.
    pub next_look_days: u32,
}

/// Where lead times come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LeadTimeFrom {
    /// What the supplier says.
    Stated,
    /// What received orders have taught, where there are enough of them.
    Learned,
}

impl Default for Reorder {
    fn default() -> Self {
        Self {
            window_days: 60,
            worth: Percent { millionths: 50_000_000 },
            change_must_save: Percent { millionths: 1_000_000 },
            lead_time: LeadTimeFrom::Stated,
            lead_time_orders: 5,
            next_look_days: 1,
        }
    }
}

/// What is weighed at the bench, and how well.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bench {
    /// The smallest step that the scale shows: targets are rounded to it. Above 0.
    pub scale_readability: Mass,
    /// How far a weighed amount may be off its target before a reason is asked for; 0 to 100 %.
    pub tolerance: Percent,
}

impl Default for Config {
    fn default() -> Self {
        Self {
            store: None,
            home_currency: Currency::EUR,
            time_zone: None,
            reorder: Reorder::default(),
            bench: Bench { scale_readability: Mass { mg: 100 }, tolerance: Percent { millionths: 2_000_000 } },
            mail: Mail::default(),
            schedules: Vec::new(),
            reminders: Reminders::default(),
            backup: Backup::default(),
            workshop: Workshop::default(),
        }
    }
}

/// Why the config cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The file cannot be read.
    #[error("the settings {} cannot be read: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// Something in it is wrong.
    #[error("{}, line {line}: {message}", path.display())]
    Wrong {
        /// The file.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
        /// What is wrong, and what would be right.
        message: String,
    },
}

/// The folders of the platform and its user; `None` where there is no home.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Folders {
    /// Where `~` leads.
    pub home: Option<PathBuf>,
    /// Stillroom's folder for settings.
    pub config: Option<PathBuf>,
    /// Stillroom's folder for data.
    pub data: Option<PathBuf>,
}

impl Folders {
    /// Those of this computer.
    #[must_use]
    pub fn of_platform() -> Self {
        let Ok(strategy) = etcetera::choose_base_strategy() else {
            return Self::default();
        };
        Self {
            home: Some(strategy.home_dir().to_owned()),
            config: Some(strategy.config_dir().join("stillroom")),
            data: Some(strategy.data_dir().join("stillroom")),
        }
    }

    /// The path with a leading `~/` led home, and otherwise, where relative, taken from `base`.
    fn resolved(&self, path: &str, base: &Path) -> PathBuf {
        match (path.strip_prefix("~/"), &self.home) {
            (Some(rest), Some(home)) => home.join(rest),
            _ => base.join(path),
        }
    }
}

/// Where the config lies, and whether somebody said so: then it has to be there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConfigPlace {
    /// The file.
    pub path: PathBuf,
    /// True where an option or the environment names it.
    pub named: bool,
}

/// Where the config lies: as `--config` says, else the environment, else `config.toml` in the platform's folder. `None`
/// where there is no such folder.
#[must_use]
pub fn config_place(flag: Option<&Path>, environment: Option<&Path>, folders: &Folders) -> Option<ConfigPlace> {
    let named = flag.or(environment.filter(|path| !path.as_os_str().is_empty()));
    match named {
        Some(path) => Some(ConfigPlace { path: path.to_owned(), named: true }),
        None => folders.config.as_ref().map(|folder| ConfigPlace { path: folder.join("config.toml"), named: false }),
    }
}

/// Where the store lies: as `--store` says, else the environment, else the config, else `workshop.sqlite` in the
/// platform's data folder. `None` where there is no such folder.
#[must_use]
pub fn store_path(
    flag: Option<&Path>,
    environment: Option<&Path>,
    config: &Config,
    folders: &Folders,
) -> Option<PathBuf> {
    let named = flag.or(environment.filter(|path| !path.as_os_str().is_empty())).or(config.store.as_deref());
    let usual = || folders.data.as_ref().map(|folder| folder.join("workshop.sqlite"));
    named.map(Path::to_owned).or_else(usual)
}

/// The config of a place. One that nobody named need not be there: then everything has its default.
///
/// # Errors
/// [`ConfigError`] where it cannot be read or something in it is wrong.
pub fn read(place: &ConfigPlace, folders: &Folders) -> Result<Config, ConfigError> {
    let mut text = String::new();
    let file = std::fs::File::open(&place.path);
    match file.and_then(|file| file.take(MOST_BYTES).read_to_string(&mut text)) {
        Ok(_) => parse(&text, &place.path, folders),
        Err(error) if error.kind() == ErrorKind::NotFound && !place.named => Ok(Config::default()),
        Err(source) => Err(ConfigError::Read { path: place.path.clone(), source }),
    }
}

/// What to tell the maker where others on this computer can read or change a config that says how letters leave: whoever can
/// change it can have any command run as the password's.
#[must_use]
pub fn open_to_others(path: &Path, config: &Config) -> Option<String> {
    let MailMethod::Smtp(Server { login: Some(_), .. }) = &config.mail.method else { return None };
    let can = match others_may(path) & 0o066 {
        0 => return None,
        bits if bits & 0o022 != 0 => "change",
        _ => "read",
    };
    let path = path.display();
    Some(format!(
        "Others on this computer can {can} {path}, which says how you log in to the mail server; chmod 600 it."
    ))
}

/// The permission bits of a file; none where there is no such thing.
#[cfg(unix)]
fn others_may(path: &Path) -> u32 {
    use std::os::unix::fs::PermissionsExt;
    std::fs::metadata(path).map_or(0, |metadata| metadata.permissions().mode())
}

#[cfg(not(unix))]
fn others_may(_path: &Path) -> u32 {
    0
}

/// The config as written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    store: Option<String>,
    home_currency: Option<Spanned<String>>,
    time_zone: Option<Spanned<String>>,
    #[serde(default)]
    reorder: WrittenReorder,
    #[serde(default)]
    bench: WrittenBench,
    mail: Option<Spanned<mail::Written>>,
    #[serde(default)]
    schedule: Vec<Spanned<schedule::Written>>,
    #[serde(default)]
    reminders: schedule::WrittenReminders,
    #[serde(default)]
    backup: WrittenBackup,
    #[serde(default)]
    workshop: WrittenWorkshop,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenWorkshop {
    name: Option<Spanned<String>>,
    address: Option<Spanned<String>>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenBackup {
    folder: Option<String>,
    keep: Option<Spanned<i64>>,
    daily: Option<bool>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenReorder {
    window_days: Option<Spanned<i64>>,
    worth_percent: Option<Spanned<WrittenNumber>>,
    change_must_save_percent: Option<Spanned<WrittenNumber>>,
    lead_time: Option<Spanned<String>>,
    lead_time_orders: Option<Spanned<i64>>,
    next_look_days: Option<Spanned<i64>>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenBench {
    scale_readability: Option<Spanned<String>>,
    tolerance_percent: Option<Spanned<WrittenNumber>>,
}

/// A number in TOML's own writing, or in quotes.
#[derive(Deserialize)]
#[serde(untagged)]
enum WrittenNumber {
    Whole(i64),
    Fraction(f64),
    Text(String),
}

/// Reads the config's text. `path` is its file: relative paths in it are taken from that file's folder.
///
/// # Errors
/// [`ConfigError::Wrong`] with the line.
pub fn parse(text: &str, path: &Path, folders: &Folders) -> Result<Config, ConfigError> {
    let file = Source { text, path, base: path.parent().unwrap_or(Path::new("")), folders };
    let written: Written = toml::from_str(text).map_err(|error| file.toml_fault(&error))?;
    let usual = Config::default();
    let mail = match written.mail {
        Some(written) => mail::read(&file, written)?,
        None => usual.mail,
    };
    Ok(Config {
        store: written.store.map(|store| folders.resolved(&store, file.base)),
        home_currency: match &written.home_currency {
            Some(code) => Currency::from_code(code.get_ref()).ok_or_else(|| {
                file.wrong(code.span(), format!("{:?} is no currency of ISO 4217; write EUR, say", code.get_ref()))
            })?,
            None => usual.home_currency,
        },
        time_zone: written.time_zone.map(|zone| file.time_zone(&zone)).transpose()?,
        reorder: file.reorder(&written.reorder, usual.reorder)?,
        bench: file.bench(&written.bench, usual.bench)?,
        schedules: schedule::read(&file, &written.schedule, &mail.to)?,
        reminders: schedule::reminders(&file, &written.reminders)?,
        backup: Backup {
            folder: written.backup.folder.map(|folder| file.resolved(&folder)),
            keep: file.whole(&written.backup.keep, "keep", 1..=10_000, usual.backup.keep)?,
            daily: written.backup.daily.unwrap_or(usual.backup.daily),
        },
        workshop: Workshop {
            name: file.line(&written.workshop.name, "name")?,
            address: file.line(&written.workshop.address, "address")?,
        },
        mail,
    })
}

/// The config's text, to say where in it something is.
struct Source<'a> {
    text: &'a str,
    path: &'a Path,
    base: &'a Path,
    folders: &'a Folders,
}

/// What is said to somebody who writes a password into the config.
const NO_PASSWORD_HERE: &str = "a password does not belong into the settings; take it out and name where it is kept: \
    password_env = \"NAME_OF_A_VARIABLE\", password_file = \"a file that only you can read\" or \
    password_command = [\"program\", \"argument\"]";

/// What the library says of a slip, as a maker can use it: she knows the names of settings, not those of data types.
fn in_our_words(message: &str) -> String {
    if let Some((key, known)) = message.strip_prefix("unknown field ").and_then(|rest| rest.split_once(", expected ")) {
        let known = known.trim_start_matches("one of ");
        return format!("there is no setting {key} here; those that there are: {known}");
    }
    if let Some(key) = message.strip_prefix("missing field ") {
        return format!("{key} is missing here");
    }
    if let Some((found, wanted)) =
        message.strip_prefix("invalid type: ").and_then(|rest| rest.split_once(", expected "))
    {
        // `string "yes"` is told as she wrote it.
        let found = found.find('"').map_or(found, |start| &found[start..]);
        let right = match wanted {
            "a boolean" => "true or false, without quotes",
            "a string" => "words in quotes, \"so\"",
            "a sequence" => "a list, [\"so\", \"and so\"]",
            number if number.starts_with(['i', 'u']) && number[1..].parse::<u8>().is_ok() => {
                "a whole number, without quotes"
            }
            _ => "a part of its own, as config.example.toml shows it",
        };
        return format!("{found} does not fit here; write {right}");
    }
    if message.starts_with("data did not match any variant") {
        return "this should be a number".to_owned();
    }
    if message.starts_with("duplicate key") {
        return "this setting stands twice in its part; leave one out".to_owned();
    }
    format!("this cannot be read ({message}); write a setting as name = value: words in \"quotes\", a list in [ ]")
}

impl Source<'_> {
    fn wrong(&self, span: Range<usize>, message: impl Into<String>) -> ConfigError {
        let before = self.text.as_bytes().get(..span.start).unwrap_or(self.text.as_bytes());
        let line = before.iter().filter(|&&byte| byte == b'\n').count() + 1;
        ConfigError::Wrong { path: self.path.to_owned(), line, message: message.into() }
    }

    /// The library's message without its excerpt of the file: a misplaced password must not be shown.
    fn toml_fault(&self, error: &toml::de::Error) -> ConfigError {
        let span = error.span().unwrap_or(0..0);
        let message = error.message();
        // Where a kind of value is refused, the library repeats the value: it may well be the password itself.
        let line = self.text.get(..span.start).unwrap_or_default().rsplit('\n').next().unwrap_or_default();
        if message.starts_with("unknown field `password`") || line.contains("password") {
            return self.wrong(span, NO_PASSWORD_HERE);
        }
        self.wrong(span, in_our_words(message))
    }

    /// Words on one line; none where the setting is not there.
    fn line(&self, text: &Option<Spanned<String>>, key: &str) -> Result<String, ConfigError> {
        let Some(text) = text else { return Ok(String::new()) };
        if text.get_ref().chars().any(char::is_control) {
            return Err(
                self.wrong(text.span(), format!("{key} has a line break in it; write it on one line, with commas"))
            );
        }
        Ok(text.get_ref().trim().to_owned())
    }

    fn resolved(&self, path: &str) -> PathBuf {
        self.folders.resolved(path, self.base)
    }

    fn time_zone(&self, zone: &Spanned<String>) -> Result<Tz, ConfigError> {
        zone.get_ref().parse().map_err(|_| {
            let name = zone.get_ref();
            self.wrong(zone.span(), format!("{name:?} is no time zone of the IANA list; write Europe/Lisbon, say"))
        })
    }

    fn reorder(&self, written: &WrittenReorder, usual: Reorder) -> Result<Reorder, ConfigError> {
        let percent = |number: &Option<Spanned<WrittenNumber>>, key, usual| match number {
            Some(number) => self.percent(number, key),
            None => Ok(usual),
        };
        let lead_time = match &written.lead_time {
            Some(word) => match word.get_ref().as_str() {
                "stated" => LeadTimeFrom::Stated,
                "learned" => LeadTimeFrom::Learned,
                other => {
                    let message = format!("lead_time is {other:?}; it should be \"stated\" or \"learned\"");
                    return Err(self.wrong(word.span(), message));
                }
            },
            None => usual.lead_time,
        };
        Ok(Reorder {
            window_days: self.whole(&written.window_days, "window_days", 0..=3_650, usual.window_days)?,
            worth: percent(&written.worth_percent, "worth_percent", usual.worth)?,
            change_must_save: percent(
                &written.change_must_save_percent,
                "change_must_save_percent",
                usual.change_must_save,
            )?,
            lead_time,
            lead_time_orders: self.whole(
                &written.lead_time_orders,
                "lead_time_orders",
                1..=1_000,
                usual.lead_time_orders,
            )?,
            next_look_days: self.whole(&written.next_look_days, "next_look_days", 1..=365, usual.next_look_days)?,
        })
    }

    fn whole(
        &self,
        number: &Option<Spanned<i64>>,
        key: &str,
        range: RangeInclusive<u32>,
        usual: u32,
    ) -> Result<u32, ConfigError> {
        let Some(number) = number else { return Ok(usual) };
        let value = u32::try_from(*number.get_ref()).ok().filter(|value| range.contains(value));
        value.ok_or_else(|| {
            let (least, most) = (range.start(), range.end());
            self.wrong(number.span(), format!("{key} is {}; it should be {least} to {most}", number.get_ref()))
        })
    }

    fn bench(&self, written: &WrittenBench, usual: Bench) -> Result<Bench, ConfigError> {
        let scale_readability = match &written.scale_readability {
            Some(text) => self.readability(text)?,
            None => usual.scale_readability,
        };
        let tolerance = match &written.tolerance_percent {
            Some(number) => self.percent(number, "tolerance_percent")?,
            None => usual.tolerance,
        };
        Ok(Bench { scale_readability, tolerance })
    }

    /// A step of a scale: from a milligram to a kilogram.
    fn readability(&self, text: &Spanned<String>) -> Result<Mass, ConfigError> {
        let measure = Measure::parse(text.get_ref(), DecimalMark::PointOrClearComma);
        let mass = measure.and_then(|measure| measure.mass(None)).ok();
        mass.filter(|mass| (1..=1_000_000).contains(&mass.mg)).ok_or_else(|| {
            let said = text.get_ref();
            self.wrong(text.span(), format!("scale_readability is {said:?}; it should be 1 mg to 1 kg: \"0.1 g\", say"))
        })
    }

    fn percent(&self, number: &Spanned<WrittenNumber>, key: &str) -> Result<Percent, ConfigError> {
        // TOML's fractions are binary; the shortest text that means the same is what the user wrote.
        let text = match number.get_ref() {
            WrittenNumber::Whole(whole) => whole.to_string(),
            WrittenNumber::Fraction(fraction) => fraction.to_string(),
            WrittenNumber::Text(text) => text.clone(),
        };
        let percent = text.parse::<Decimal>().and_then(Percent::from_decimal).ok();
        percent.filter(|percent| (0..=Percent::HUNDRED.millionths).contains(&percent.millionths)).ok_or_else(|| {
            self.wrong(number.span(), format!("{key} is {text}; it should be 0 to 100, with up to six places"))
        })
    }
}
