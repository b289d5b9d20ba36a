//! The password: fetched, used, and shown nowhere, not even where a server repeats it.

use super::example::composed;
use super::server::{At, Does, Script, Server, certified};
use std::io::Write;
use std::path::Path;
use std::sync::{Arc, Mutex, OnceLock};
use stillroom::config::{Config, Folders, parse};
use stillroom::post::send::{Method, Sent};
use tracing_subscriber::fmt::MakeWriter;

const USER: &str = "workshop@example.org";
const PASSWORD: &str = "quince-jelly-1847";
/// Base64 of the password, and of NUL, user, NUL, password: as both ways of logging in send them (made with Python).
const ON_THE_WIRE: [&str; 2] = ["cXVpbmNlLWplbGx5LTE4NDc=", "AHdvcmtzaG9wQGV4YW1wbGUub3JnAHF1aW5jZS1qZWxseS0xODQ3"];
const REPEATS: &str = "535 5.7.8 refused: quince-jelly-1847 cXVpbmNlLWplbGx5LTE4NDc= \
    AHdvcmtzaG9wQGV4YW1wbGUub3JnAHF1aW5jZS1qZWxseS0xODQ3 (that was it)";

#[derive(Clone, Default)]
struct Log(Arc<Mutex<Vec<u8>>>);

impl Write for Log {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl<'a> MakeWriter<'a> for Log {
    type Writer = Self;

    fn make_writer(&'a self) -> Self {
        self.clone()
    }
}

fn config(port: u16, security: &str, password: &str, root: &Path) -> Config {
    let text = format!(
        "[mail]\nmethod = 'smtp'\nfrom = '{USER}'\nhost = '127.0.0.1'\nport = {port}\nsecurity = '{security}'\n\
         user = '{USER}'\n{password}\ntls_root_file = '{}'\ntimeout_seconds = 5\n",
        root.display()
    );
    parse(&text, Path::new("/workshop/config.toml"), &Folders::default()).unwrap()
}

fn assert_hidden(shown: &str) {
    for secret in [PASSWORD].into_iter().chain(ON_THE_WIRE) {
        assert!(!shown.contains(secret), "{secret} is shown in\n{shown}");
    }
}

/// The log of the whole test program, at its most talkative. One for all threads: what one thread logs while another
/// sets its log up may be lost otherwise.
fn log() -> &'static Log {
    static LOG: OnceLock<Log> = OnceLock::new();
    LOG.get_or_init(|| {
        let log = Log::default();
        let subscriber =
            tracing_subscriber::fmt().with_max_level(tracing::Level::TRACE).with_writer(log.clone()).finish();
        tracing::subscriber::set_global_default(subscriber).unwrap();
        log
    })
}

/// Everything that could be shown of a letter sent by this config, and what came of it.
fn everything(config: &Config) -> (String, Result<Sent, String>) {
    let log = log();
    let environment = |name: &str| (name == "MAIL_PASSWORD").then(|| PASSWORD.into());
    let (method, warnings) = config.mail.way(Path::new("/workshop/store"), &environment).unwrap();
    assert!(matches!(method, Method::Smtp(_)));
    let answer = method.send(&composed());
    let logged = String::from_utf8(log.0.lock().unwrap().clone()).unwrap();
    assert!(logged.contains("connected"), "nothing was logged: {logged}");
    let shown = format!("{config:?}{method:?}{warnings:?}{answer:?}{answer:#?}{logged}");
    (shown, answer.map_err(|error| error.to_string()))
}

#[test]
fn a_password_of_each_source_logs_in_and_is_not_shown() {
    let certified = certified(&["127.0.0.1"], false);
    let folder = tempfile::tempdir().unwrap();
    let (root, file) = (folder.path().join("root.pem"), folder.path().join("password"));
    std::fs::write(&root, certified.root_pem).unwrap();
    std::fs::write(&file, format!("{PASSWORD}\n")).unwrap();
    for password in [
        "password_env = 'MAIL_PASSWORD'".to_owned(),
        format!("password_file = '{}'", file.display()),
        format!("password_command = ['cat', '{}']", file.display()),
    ] {
        for ways in ["PLAIN", "LOGIN"] {
            let server = Server::start(Script {
                offers_starttls: true,
                certificate: Some(certified.server.clone()),
                login: Some((ways, USER, PASSWORD)),
                ..Script::default()
            });
            let (shown, answer) = everything(&config(server.port, "starttls", &password, &root));
            assert!(answer.is_ok(), "{password}: {answer:?}");
            assert_hidden(&shown);
            let seen = server.seen();
            assert_eq!(seen.user.as_deref(), Some(USER));
            // The server did hear it: had it not, nothing would have been hidden.
            assert!(seen.commands.iter().any(|line| ON_THE_WIRE.iter().any(|secret| line.contains(secret))));
        }
    }
}

#[test]
fn a_server_that_repeats_the_password_is_not_quoted() {
    for at in [At::Auth, At::Letter] {
        let server = Server::start(Script {
            login: Some(("PLAIN", USER, PASSWORD)),
            fault: Some((at, Does::Reply(REPEATS))),
            ..Script::default()
        });
        let (shown, answer) =
            everything(&config(server.port, "none", "password_env = 'MAIL_PASSWORD'", Path::new("/none.pem")));
        let message = answer.unwrap_err();
        assert_hidden(&shown);
        assert_hidden(&message);
        assert!(message.contains("refused: (hidden) (hidden) (hidden) (that was it)"), "{message}");
        server.seen();
    }
}
