//! A small workshop in a temporary folder, its settings, and the program run on it, in this process or in its own.

use crate::server::Office;
use chrono::{DateTime, Utc};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use stillroom::cli::{Cli, Command as Verb, Common, Outbox};
use stillroom::clock::AsOf;
use stillroom::commands;
use stillroom::error::CommandError;
use stillroom::render::table::Screen;
use tempfile::TempDir;

const FILES: [(&str, &str); 6] = [
    ("suppliers.csv", "code,name,currency,lead_time_days\nnorth,North Oils,EUR,3\n"),
    ("materials.csv", "code,name,kind\noil,Olive oil,raw\nwax,Beeswax,raw\n"),
    ("offers.csv", "supplier,material,pack,price\nnorth,oil,1 kg,9.00\nnorth,wax,500 g,8.00\n"),
    ("formulas.csv", "formula,ingredient,percent\nf-salve,oil,80\nf-salve,wax,20\n"),
    ("products.csv", "code,name,formula,use,net_mass\nsalve,Salve,f-salve,leave-on,50 g\n"),
    (
        "lots.csv",
        "lot,material,amount,supplier,received,cost,best_before\nL1,oil,2 kg,north,2027-01-05,18.00,2027-06-30\nL2,wax,400 g,north,2027-01-05,6.00,\n",
    ),
];

pub struct Shop {
    folder: TempDir,
}

impl Shop {
    /// The workshop, with the settings' schedules and the port of its mail server.
    pub fn new(schedules: &str, port: u16) -> Self {
        // In memory where there is such a place: a year of letters would wait for the disk most of the time.
        let folder = tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap();
        let shop = Self { folder };
        let files = shop.path("files");
        std::fs::create_dir(&files).unwrap();
        for (name, text) in FILES {
            std::fs::write(files.join(name), text).unwrap();
        }
        shop.settings(schedules, port);
        let imported = shop.program("2027-01-01", &["import", files.to_str().unwrap()]).output().unwrap();
        assert!(imported.status.success(), "{}", String::from_utf8_lossy(&imported.stderr));
        shop
    }

    /// Writes the settings, with patience enough for a computer that is busy.
    pub fn settings(&self, schedules: &str, port: u16) {
        self.settings_with(schedules, port, 20);
    }

    /// Writes the settings, with so many seconds to wait for an answer of the mail server.
    pub fn settings_with(&self, schedules: &str, port: u16, timeout_seconds: u32) {
        let text = format!(
            "store = \"workshop.sqlite\"\ntime_zone = \"Europe/Berlin\"\n[mail]\nmethod = \"smtp\"\nhost = \"127.0.0.1\"\n\
             port = {port}\nsecurity = \"none\"\nfrom = \"Tansy Quay <shop@example.org>\"\nto = [\"ilse@example.net\"]\n\
             timeout_seconds = {timeout_seconds}\n{schedules}"
        );
        std::fs::write(self.path("config.toml"), text).unwrap();
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The program in a process of its own, ready to be started.
    pub fn program(&self, as_of: &str, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stillroom"));
        command.env_clear().env("HOME", self.folder.path()).current_dir(self.folder.path());
        command.args(["--config", "config.toml", "--as-of", as_of]).args(arguments);
        command
    }

    /// Starts `post`.
    pub fn start_post(&self, as_of: &str) -> Child {
        self.program(as_of, &["post"]).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
    }

    /// Runs a command in a process of its own and returns its output and errors.
    pub fn said(&self, as_of: &str, arguments: &[&str]) -> String {
        let output = self.program(as_of, arguments).output().unwrap();
        String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap()
    }

    /// Runs a command in this process.
    pub fn run(&self, now: DateTime<Utc>, command: Verb) -> Result<String, CommandError> {
        let common = Common {
            store: Some(self.path("workshop.sqlite")),
            config: Some(self.path("config.toml")),
            as_of: Some(AsOf::Moment(now)),
            json: true,
            verbose: 0,
        };
        commands::run(Cli { common, command: Some(command) }, Screen::default())
    }

    /// All letters of the outbox.
    pub fn letters(&self, now: DateTime<Utc>) -> Vec<Value> {
        let said = self.run(now, Verb::Outbox(Outbox::List { all: true })).unwrap();
        let view: Value = serde_json::from_str(&said).unwrap();
        view["letters"].as_array().unwrap().clone()
    }
}

/// A letter that comes every day at this time, news or not.
pub fn daily(name: &str, at: &str) -> String {
    schedule(name, "every day", at)
}

/// A letter that comes on these days, news or not.
pub fn schedule(name: &str, days: &str, at: &str) -> String {
    format!(
        "[[schedule]]\nname = \"{name}\"\nreports = [\"stock\"]\ndays = \"{days}\"\nat = \"{at}\"\nwhen = \"always\"\n"
    )
}

/// The message ids of the letters that an office has taken, in order.
pub fn ids(office: &Office) -> Vec<String> {
    let id = |letter: &Vec<u8>| {
        let text = String::from_utf8_lossy(letter);
        let line = text.lines().find_map(|line| line.strip_prefix("Message-ID: <")).unwrap().to_owned();
        line.trim_end_matches('>').to_owned()
    };
    office.taken().iter().map(id).collect()
}

pub fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

pub fn text<'a>(value: &'a Value, field: &str) -> &'a str {
    value[field].as_str().unwrap_or_else(|| panic!("{field} is no text in {value}"))
}

/// A copy of a file of outside checks, parsed.
pub fn check_file(name: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks").join(name);
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}
