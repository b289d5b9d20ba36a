//! The `[mail]` part of the config: which way letters leave, from whom, to whom, by which server.

use super::{ConfigError, NO_PASSWORD_HERE, Source};
use crate::post::address::Mailbox;
use crate::post::password::{PasswordError, PasswordSource};
use crate::post::send::Method;
use crate::post::smtp::{Login, Security, Smtp};
use serde::Deserialize;
use std::ffi::OsString;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::time::Duration;
use toml::Spanned;

/// How letters leave.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Mail {
    /// Which way.
    pub method: MailMethod,
    /// From whom; the first recipient where `None`.
    pub from: Option<Mailbox>,
    /// To whom, where the command does not say.
    pub to: Vec<Mailbox>,
    /// The outbox folder; `outbox` beside the store where `None`.
    pub folder: Option<PathBuf>,
    /// Codes of the suppliers to whom the letter of a placed order goes out by itself.
    pub send_orders_to: Vec<String>,
}

/// Which way letters leave.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum MailMethod {
    /// As files into the outbox folder.
    #[default]
    Folder,
    /// By a mail server.
    Smtp(Server),
}

/// A mail server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Server {
    /// Its name.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is kept private.
    pub security: Security,
    /// The login, where it wants one.
    pub login: Option<Account>,
    /// How long one answer may take.
    pub timeout: Duration,
    /// Further trusted certificates.
    pub tls_root_file: Option<PathBuf>,
}

/// A login, and where its password is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Account {
    /// User name.
    pub user: String,
    /// Where the password is kept.
    pub password: PasswordSource,
}

impl Mail {
    /// The outbox folder of a store.
    #[must_use]
    pub fn outbox_folder(&self, store: &Path) -> PathBuf {
        let beside = || store.parent().unwrap_or(Path::new("")).join("outbox");
        self.folder.clone().unwrap_or_else(beside)
    }

    /// Who writes: `from`, or else the first who reads.
    #[must_use]
    pub fn sender(&self, to: &[Mailbox]) -> Option<Mailbox> {
        self.from.clone().or_else(|| to.first().cloned())
    }

    /// The way, with its password fetched, and warnings about where that was kept. `store` is the store's file;
    /// `environment` looks up a variable.
    ///
    /// # Errors
    /// [`PasswordError`] where there is no password.
    pub fn way(
        &self,
        store: &Path,
        environment: &dyn Fn(&str) -> Option<OsString>,
    ) -> Result<(Method, Vec<String>), PasswordError> {
        let server = match &self.method {
            MailMethod::Folder => return Ok((Method::Folder(self.outbox_folder(store)), Vec::new())),
            MailMethod::Smtp(server) => server,
        };
        let mut warnings = Vec::new();
        let login = match &server.login {
            Some(account) => {
                let fetched = account.password.fetch(environment)?;
                warnings = fetched.warnings;
                Some(Login { user: account.user.clone(), password: fetched.password })
            }
            None => None,
        };
        let Server { host, port, security, timeout, tls_root_file, .. } = server.clone();
        Ok((Method::Smtp(Smtp { host, port, security, login, timeout, tls_root_file }), warnings))
    }
}

/// The part as written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Written {
    method: Option<Spanned<String>>,
    from: Option<Spanned<String>>,
    to: Option<Vec<Spanned<String>>>,
    folder: Option<String>,
    send_orders_to: Option<Vec<String>>,
    host: Option<Spanned<String>>,
    port: Option<Spanned<i64>>,
    security: Option<Spanned<String>>,
    allow_plain_text: Option<bool>,
    user: Option<Spanned<String>>,
    password_env: Option<Spanned<String>>,
    password_file: Option<Spanned<String>>,
    password_command: Option<Spanned<Vec<String>>>,
    timeout_seconds: Option<Spanned<i64>>,
    tls_root_file: Option<String>,
}

/// Checks the part.
pub(super) fn read(file: &Source<'_>, written: Spanned<Written>) -> Result<Mail, ConfigError> {
    let part = written.span();
    let written = written.into_inner();
    let address = |text: &Spanned<String>| {
        text.get_ref().parse::<Mailbox>().map_err(|error| file.wrong(text.span(), error.to_string()))
    };
    let from = written.from.as_ref().map(address).transpose()?;
    let to = written.to.iter().flatten().map(address).collect::<Result<Vec<_>, _>>()?;
    let folder = written.folder.as_deref().map(|folder| file.resolved(folder));
    // The server's settings are checked whichever way is chosen: a fault should not wait for the day of the change.
    let server = server(file, &written)?;
    let method = match (written.method.as_ref().map(|method| (method.get_ref().as_str(), method.span())), server) {
        (None | Some(("folder", _)), _) => MailMethod::Folder,
        (Some(("smtp", _)), Some(server)) => MailMethod::Smtp(server),
        (Some(("smtp", span)), None) => {
            return Err(file.wrong(span, "method \"smtp\" needs the server's name in `host`"));
        }
        (Some((other, span)), _) => {
            return Err(file.wrong(span, format!("method is {other:?}; it should be \"folder\" or \"smtp\"")));
        }
    };
    if from.is_none() && matches!(method, MailMethod::Smtp(_)) {
        return Err(file.wrong(part, "method \"smtp\" needs your own address in `from`"));
    }
    let send_orders_to = written.send_orders_to.unwrap_or_default();
    Ok(Mail { method, from, to, folder, send_orders_to })
}

fn server(file: &Source<'_>, written: &Written) -> Result<Option<Server>, ConfigError> {
    let security = security(file, written)?;
    let usual_port = match security {
        Security::StartTls => 587,
        Security::Tls => 465,
        Security::Nothing => 25,
    };
    let port = match &written.port {
        Some(port) => u16::try_from(*port.get_ref())
            .ok()
            .filter(|&port| port > 0)
            .ok_or_else(|| file.wrong(port.span(), format!("port is {}; it should be 1 to 65535", port.get_ref())))?,
        None => usual_port,
    };
    let seconds = match &written.timeout_seconds {
        Some(seconds) => {
            u64::try_from(*seconds.get_ref()).ok().filter(|seconds| (1..=600).contains(seconds)).ok_or_else(|| {
                let given = seconds.get_ref();
                file.wrong(seconds.span(), format!("timeout_seconds is {given}; it should be 1 to 600"))
            })?
        }
        None => 30,
    };
    let login = login(file, written)?;
    let Some(host) = &written.host else {
        return Ok(None);
    };
    let odd = |letter: char| letter.is_whitespace() || letter.is_control() || letter == '/';
    if host.get_ref().is_empty() || host.get_ref().contains(odd) {
        let message = format!("host is {:?}; it should be a server's name, like mail.example.org", host.get_ref());
        return Err(file.wrong(host.span(), message));
    }
    Ok(Some(Server {
        host: host.get_ref().clone(),
        port,
        security,
        login,
        timeout: Duration::from_secs(seconds),
        tls_root_file: written.tls_root_file.as_deref().map(|path| file.resolved(path)),
    }))
}

/// Plain text only where nobody can read along, or where the user insists.
fn security(file: &Source<'_>, written: &Written) -> Result<Security, ConfigError> {
    let Some(security) = &written.security else {
        return Ok(Security::StartTls);
    };
    match security.get_ref().as_str() {
        "starttls" => Ok(Security::StartTls),
        "tls" => Ok(Security::Tls),
        "none" => {
            let host = written.host.as_ref().map(|host| host.get_ref().as_str());
            if written.allow_plain_text == Some(true) || host.is_none_or(is_loopback) {
                return Ok(Security::Nothing);
            }
            Err(file.wrong(
                security.span(),
                "security \"none\" would send letters and password readable for all on the way; write \"starttls\" or \
                 \"tls\", or set allow_plain_text = true if you want that",
            ))
        }
        other => {
            let message = format!("security is {other:?}; it should be \"starttls\", \"tls\" or \"none\"");
            Err(file.wrong(security.span(), message))
        }
    }
}

fn is_loopback(host: &str) -> bool {
    host.eq_ignore_ascii_case("localhost") || host.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

fn login(file: &Source<'_>, written: &Written) -> Result<Option<Account>, ConfigError> {
    let mut kept = Vec::new();
    if let Some(name) = &written.password_env {
        if name.get_ref().is_empty() || name.get_ref().contains(['=', '\0', ' ']) {
            // The value is not shown: it may well be the password itself.
            return Err(file.wrong(name.span(), format!("password_env is no variable's name; {NO_PASSWORD_HERE}")));
        }
        kept.push((name.span(), PasswordSource::Environment(name.get_ref().clone())));
    }
    if let Some(path) = &written.password_file {
        kept.push((path.span(), PasswordSource::File(file.resolved(path.get_ref()))));
    }
    if let Some(command) = &written.password_command {
        if command.get_ref().first().is_none_or(String::is_empty) {
            return Err(file.wrong(command.span(), "password_command is empty; write [\"program\", \"argument\"]"));
        }
        kept.push((command.span(), PasswordSource::Command(command.get_ref().clone())));
    }
    let ways = "exactly one of password_env, password_file and password_command";
    match (&written.user, kept.as_slice()) {
        (None, []) => Ok(None),
        (Some(user), [(_, source)]) => Ok(Some(Account { user: user.get_ref().clone(), password: source.clone() })),
        (Some(user), []) => Err(file.wrong(user.span(), format!("user needs a password: set {ways}"))),
        (None, [(span, _)]) => Err(file.wrong(span.clone(), "a password without a `user` is of no use")),
        (_, [_, (span, _), ..]) => {
            Err(file.wrong(span.clone(), format!("there is more than one password: set {ways}")))
        }
    }
}
