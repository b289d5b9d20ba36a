//! Tests of the config: the example file, every fault with its line, and where config and store lie.

use super::*;
use crate::post::password::PasswordSource;
use crate::post::smtp::Security;
use std::time::Duration;

const EXAMPLE: &str = include_str!("../../config.example.toml");

fn folders() -> Folders {
    let path = |text: &str| Some(PathBuf::from(text));
    Folders { home: path("/home/mara"), config: path("/home/mara/.config/stillroom"), data: path("/home/mara/data") }
}

fn parsed(text: &str) -> Result<Config, ConfigError> {
    parse(text, Path::new("/etc/workshop/config.toml"), &folders())
}

fn fault(text: &str) -> String {
    parsed(text).unwrap_err().to_string()
}

#[test]
fn the_example_is_the_default() {
    assert_eq!(parsed(EXAMPLE).unwrap(), Config::default());
    assert_eq!(parsed("").unwrap(), Config::default());
    assert_eq!(parsed("[mail]\n").unwrap(), Config::default());
}

/// The example with the `#` taken from every key that has one, but for two of the three passwords.
fn filled_example(password: &str) -> String {
    let mut text = String::new();
    for line in EXAMPLE.lines() {
        let key = line.strip_prefix("# ").and_then(|line| line.split_once(" = ").map(|(key, _)| (key, line)));
        match key {
            Some((key, line)) if !key.contains(' ') && (!key.starts_with("password_") || key == password) => {
                text.push_str(line);
            }
            _ if line == "# [[schedule]]" => text.push_str("[[schedule]]"),
            _ => text.push_str(line),
        }
        text.push('\n');
    }
    text.replace("method = \"folder\"", "method = \"smtp\"")
}

#[test]
fn the_example_names_every_key() {
    let config = parsed(&filled_example("password_file")).unwrap();
    let MailMethod::Smtp(server) = &config.mail.method else { panic!("{config:?}") };
    assert_eq!(config.store, Some(PathBuf::from("/home/mara/workshop/workshop.sqlite")));
    assert_eq!(config.time_zone, Some(chrono_tz::Europe::Lisbon));
    assert_eq!(config.mail.from.as_ref().map(ToString::to_string).as_deref(), Some("Mara Vale <mara@example.org>"));
    assert_eq!((server.host.as_str(), server.port, server.security), ("mail.example.org", 587, Security::StartTls));
    assert_eq!(server.timeout, Duration::from_secs(30));
    assert!(server.tls_root_file.is_some());
    let source = |password: &str| match parsed(&filled_example(password)).unwrap().mail.method {
        MailMethod::Smtp(server) => server.login.unwrap().password,
        MailMethod::Folder => panic!("folder"),
    };
    assert!(matches!(source("password_env"), PasswordSource::Environment(_)));
    assert!(matches!(source("password_command"), PasswordSource::Command(words) if words.len() == 4));
    assert!(matches!(source("password_file"), PasswordSource::File(path) if path.starts_with("/home/mara")));
    assert_eq!(config.backup.folder, Some(PathBuf::from("/home/mara/workshop/backups")));
    let [letter] = config.schedules.as_slice() else { panic!("{:?}", config.schedules) };
    let told = (letter.name.as_str(), letter.schedule.days.to_string(), letter.schedule.at.to_string(), letter.always);
    assert_eq!(told, ("Monday list", "Mon Thu".to_owned(), "07:30:00".to_owned(), false));
    assert_eq!((letter.reports.len(), letter.to[0].name()), (2, "Mara Vale"));
    // serde's own message lists all keys there are: each has to stand in the example.
    for part in ["", "[reorder]\n", "[bench]\n", "[mail]\n", "[reminders]\n", "[backup]\n", "[[schedule]]\n"] {
        let message = fault(&format!("{part}no_such_key = 1"));
        let keys: Vec<&str> = message.split('`').skip(3).step_by(2).collect();
        assert!(keys.len() >= 2, "{message}");
        for key in keys {
            assert!(EXAMPLE.contains(&format!("{key} = ")) || EXAMPLE.contains(&format!("[{key}]")), "{key} of {part}");
        }
    }
}

#[test]
fn every_fault_has_its_line() {
    let check = |text: &str, line: usize, words: &str| {
        let message = fault(text);
        let place = format!("/etc/workshop/config.toml, line {line}: ");
        assert!(message.starts_with(&place) && message.contains(words), "{text}\n{message}");
        assert!(!message.contains('\n'), "{message}");
    };
    check("\n\nstore = [", 3, "");
    check("home_currency = 'EUR'\nhome_curency = 'EUR'", 2, "there is no setting `home_curency` here");
    check("[backup]\ndaily = 'yes'", 2, "\"yes\" does not fit here; write true or false, without quotes");
    check("[backup]\nkeep = 'many'", 2, "\"many\" does not fit here; write a whole number, without quotes");
    check("store = 5", 1, "does not fit here; write words in quotes");
    check("[mail]\nto = 'a@b.example'", 2, "does not fit here; write a list");
    check("store = 'a'\nstore = 'b'", 2, "stands twice");
    check("store workshop", 1, "write a setting as name = value");
    check("[workshop]\naddress = \"Quay 1\\nTown\"", 2, "one line, with commas");
    check("home_currency = 'eur'", 1, "write EUR");
    check("# zone\ntime_zone = 'Lisbon'", 2, "write Europe/Lisbon");
    check("[reorder]\nwindow_days = -1", 2, "0 to 3650");
    check("[reorder]\nworth_percent = 101", 2, "0 to 100");
    check("[bench]\ntolerance_percent = -1", 2, "tolerance_percent is -1; it should be 0 to 100");
    for slip in ["0 g", "2 kg", "1 ml", "1 pcs", "fine", "0.1"] {
        check(&format!("[bench]\nscale_readability = '{slip}'"), 2, "it should be 1 mg to 1 kg: \"0.1 g\", say");
    }
    check("[reorder]\nworth_percent = nan", 2, "0 to 100");
    check("[mail]\nmethod = 'post'", 2, "\"folder\" or \"smtp\"");
    check("[mail]\nmethod = 'smtp'", 2, "`host`");
    check("\n[mail]\nmethod = 'smtp'\nhost = 'localhost'", 2, "`from`");
    check("[mail]\nto = ['a@example.org',\n'b']", 3, "no mail address");
    check("[mail]\nfrom = \"a\\r\\nBcc: x@y <a@b>\"", 2, "line break");
    check("[mail]\nhost = 'a b'", 2, "a server's name");
    check("[mail]\nport = 70000", 2, "1 to 65535");
    check("[mail]\ntimeout_seconds = 0", 2, "1 to 600");
    check("[mail]\nsecurity = 'ssl'", 2, "\"starttls\", \"tls\" or \"none\"");
    check("[mail]\nhost = 'mail.example.org'\nsecurity = 'none'", 3, "allow_plain_text");
    check("[mail]\nuser = 'mara'", 2, "exactly one of");
    check("[mail]\nuser = 'mara'\npassword_env = 'A'\npassword_file = 'b'", 4, "exactly one of");
    check("[mail]\npassword_env = 'A'", 2, "without a `user`");
    check("[mail]\npassword_command = []", 2, "program");
    check("[reminders]\norder_days_before = [7, -1]", 2, "0 to 365 days");
    check("[reminders]\noverdue_every_days = 366", 2, "0 to 365");
    check("[backup]\nkeep = 0", 2, "keep is 0; it should be 1 to 10000");
    check("[backup]\ndaily = 'yes'", 2, "");
}

#[test]
fn every_fault_of_a_schedule_has_its_line() {
    let good = [
        ("name", "'List'"),
        ("reports", "['reorder']"),
        ("days", "'Mon'"),
        ("at", "'07:30'"),
        ("to", "['mara@example.org']"),
        ("when", "'news'"),
    ];
    // The file with one value replaced, or left out where it is empty.
    let with = |key: &str, value: &str| {
        let lines = good.iter().map(|(name, usual)| match (*name == key, value) {
            (true, "") => "# left out\n".to_owned(),
            (true, value) => format!("{name} = {value}\n"),
            (false, _) => format!("{name} = {usual}\n"),
        });
        format!("[[schedule]]\n{}", lines.collect::<String>())
    };
    let check = |key: &str, value: &str, line: usize, words: &str| {
        let message = fault(&with(key, value));
        let place = format!("/etc/workshop/config.toml, line {line}: ");
        assert!(message.starts_with(&place) && message.contains(words), "{key} = {value}\n{message}");
        assert!(!message.contains('\n'), "{message}");
    };
    assert_eq!(parsed(&with("", "")).unwrap().schedules.len(), 1);
    check("name", "'  '", 2, "1 to 60 characters");
    check("name", "\"a\\nb\"", 2, "one line");
    check("reports", "[]", 3, "reports is empty");
    check("reports", "['orders']", 3, "there is no report \"orders\"; there are \"today\", \"month\"");
    check("reports", "['reorder', 'reorder']", 3, "in this letter already");
    check("reports", "['stock']", 3, "set when = \"always\"");
    check("days", "'Mondays'", 4, "names no day");
    check("days", "'32'", 4, "names no day");
    check("days", "''", 4, "no day is named");
    check("at", "'7.30'", 5, "write hours and minutes");
    check("at", "'24:00'", 5, "write hours and minutes");
    check("to", "['mara']", 6, "no mail address");
    check("to", "[]", 6, "nobody gets this letter");
    check("when", "'sometimes'", 7, "\"news\" or \"always\"");
    for key in ["name", "reports", "days", "at"] {
        check(key, "", 1, &format!("`{key}` is missing here"));
    }
    let message = fault(&with("to", ""));
    assert!(message.contains("line 1: nobody gets this letter"), "{message}");
    let twice = format!("{}{}", with("", ""), with("name", "'LIST'"));
    assert!(fault(&twice).contains("line 9: there is a schedule \"LIST\" already"), "{}", fault(&twice));
    let usual = parsed(&format!("[mail]\nto = ['jo@example.org']\n{}", with("to", ""))).unwrap();
    assert_eq!(usual.schedules[0].to[0].address(), "jo@example.org");
}

#[test]
fn a_password_in_the_config_is_refused_and_not_shown() {
    for text in [
        "[mail]\nuser = 'mara'\npassword = 'quince jelly'",
        "a = 1\npassword = 'quince jelly'",
        "[mail]\npassword_env = 'quince jelly'",
        "[mail]\npassword = ['quince jelly'",
    ] {
        let error = parsed(text).unwrap_err();
        let shown = format!("{error} {error:?}");
        assert!(!shown.contains("quince"), "{shown}");
    }
    let message = fault("[mail]\nuser = 'mara'\npassword = 'quince jelly'");
    for way in ["line 3", "password_env", "password_file", "password_command"] {
        assert!(message.contains(way), "{message}");
    }
}

#[test]
fn plain_text_is_for_this_computer_only() {
    let with = |host: &str, more: &str| parsed(&format!("[mail]\nhost = '{host}'\nsecurity = 'none'\n{more}"));
    for host in ["localhost", "127.0.0.1", "127.9.9.9", "::1", "LOCALHOST"] {
        assert!(with(host, "").is_ok(), "{host}");
    }
    for host in ["mail.example.org", "10.0.0.1", "localhost.example.org", "127.0.0.1.example.org", "0.0.0.0"] {
        assert!(with(host, "").is_err(), "{host}");
        assert!(with(host, "allow_plain_text = true").is_ok(), "{host}");
    }
}

#[test]
fn percents_are_exact() {
    let worth = |text: &str| parsed(&format!("[reorder]\nworth_percent = {text}")).map(|config| config.reorder.worth);
    assert_eq!(worth("12.5").unwrap(), Percent { millionths: 12_500_000 });
    assert_eq!(worth("0.1").unwrap(), Percent { millionths: 100_000 });
    assert_eq!(worth("\"33.333333\"").unwrap(), Percent { millionths: 33_333_333 });
    assert!(worth("\"33.3333333\"").is_err());
}

#[test]
fn config_and_store_lie_where_the_nearest_word_says() {
    let path = |text: &str| Some(PathBuf::from(text));
    let (flag, variable) = (Path::new("/flag"), Path::new("/variable"));
    let place = |flag, variable| config_place(flag, variable, &folders()).map(|place| (place.path, place.named));
    assert_eq!(place(Some(flag), Some(variable)), Some(("/flag".into(), true)));
    assert_eq!(place(None, Some(variable)), Some(("/variable".into(), true)));
    assert_eq!(place(None, Some(Path::new(""))), Some(("/home/mara/.config/stillroom/config.toml".into(), false)));
    assert_eq!(config_place(None, None, &Folders::default()), None);
    let config = parsed("store = 'shop.sqlite'").unwrap();
    assert_eq!(store_path(Some(flag), Some(variable), &config, &folders()), path("/flag"));
    assert_eq!(store_path(None, Some(variable), &config, &folders()), path("/variable"));
    assert_eq!(store_path(None, None, &config, &folders()), path("/etc/workshop/shop.sqlite"));
    assert_eq!(store_path(None, None, &Config::default(), &folders()), path("/home/mara/data/workshop.sqlite"));
    assert_eq!(store_path(None, None, &Config::default(), &Folders::default()), None);
}

#[test]
fn only_a_named_config_has_to_be_there() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("config.toml");
    let at = |named| read(&ConfigPlace { path: path.clone(), named }, &folders());
    assert_eq!(at(false).unwrap(), Config::default());
    assert!(matches!(at(true), Err(ConfigError::Read { .. })));
    std::fs::write(&path, "home_currency = 'CHF'").unwrap();
    assert_eq!(at(true).unwrap().home_currency.code(), "CHF");
    std::fs::write(&path, [0xff, 0xfe]).unwrap();
    assert!(matches!(at(false), Err(ConfigError::Read { .. })));
}

#[test]
fn the_outbox_lies_beside_the_store() {
    let store = Path::new("/shop/workshop.sqlite");
    assert_eq!(Mail::default().outbox_folder(store), Path::new("/shop/outbox"));
    let config = parsed("[mail]\nfolder = '~/out'\nto = ['mara@example.org']").unwrap();
    assert_eq!(config.mail.outbox_folder(store), Path::new("/home/mara/out"));
    assert_eq!(config.mail.sender(&config.mail.to), Some(config.mail.to[0].clone()));
}

#[test]
fn the_scale_is_as_fine_as_the_settings_say() {
    let bench = |text: &str| parsed(&format!("[bench]\n{text}")).unwrap().bench;
    assert_eq!(bench("").scale_readability.mg, 100);
    assert_eq!(bench("scale_readability = '5 g'").scale_readability.mg, 5_000);
    assert_eq!(bench("scale_readability = '0,01 g'").scale_readability.mg, 10);
    assert_eq!(bench("").tolerance.millionths, 2_000_000);
    assert_eq!(bench("tolerance_percent = 0.5").tolerance.millionths, 500_000);
}
