//! A letter handed to a mail server (RFC 5321), one command at a time, so that a fault says what it was and where.

use super::letter::Composed;
use crate::render::one_line;
use lettre::transport::smtp::Error;
use lettre::transport::smtp::authentication::{Credentials, DEFAULT_MECHANISMS, Mechanism};
use lettre::transport::smtp::client::{Certificate, SmtpConnection, TlsParameters};
use lettre::transport::smtp::commands::{Auth, Data, Mail, Rcpt};
use lettre::transport::smtp::extension::ClientId;
use lettre::transport::smtp::response::{Response, Severity};
use secrecy::{ExposeSecret, SecretString};
use std::error::Error as _;
use std::fmt;
use std::io::{self, ErrorKind};
use std::path::PathBuf;
use std::time::Duration;

/// How the connection is kept from being read along.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Security {
    /// Plain first, TLS before anything that matters; refused where the server does not offer it (RFC 3207).
    StartTls,
    /// TLS from the first octet (RFC 8314).
    Tls,
    /// Not at all.
    Nothing,
}

/// A mail server, and how to speak to it. Its `Debug` shows no password.
#[derive(Debug)]
pub struct Smtp {
    /// Its name, which its certificate has to bear.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is kept private.
    pub security: Security,
    /// Who we are to it; no login where `None`.
    pub login: Option<Login>,
    /// How long one answer may take.
    pub timeout: Duration,
    /// A PEM file of certificates that are trusted besides the computer's own: for a private server.
    pub tls_root_file: Option<PathBuf>,
}

/// A login.
#[derive(Debug)]
pub struct Login {
    /// User name.
    pub user: String,
    /// Password.
    pub password: SecretString,
}

/// What was being done when something went wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    /// Connecting, and the first hello.
    Hello,
    /// Turning to TLS.
    StartTls,
    /// Logging in.
    Login,
    /// Naming the sender.
    Sender,
    /// Naming this recipient.
    Recipient(String),
    /// Handing over the letter.
    Letter,
}

/// Why a letter was not taken. No message holds the password.
#[derive(Debug, thiserror::Error)]
pub enum SmtpError {
    /// Nobody answers there.
    #[error("could not connect to {server}: {words}; check `host` and `port`")]
    NoConnection {
        /// `host:port`.
        server: String,
        /// What the system says.
        words: String,
    },
    /// An answer took too long.
    #[error("{server} did not answer within {seconds} seconds {step}; try again later, or raise `timeout_seconds`")]
    TimedOut {
        /// `host:port`.
        server: String,
        /// The limit.
        seconds: u64,
        /// When.
        step: Step,
    },
    /// No trusted private connection.
    #[error(
        "no trusted TLS connection to {server}: {words}; check `host`, `port` and `security` (port 465 goes \
         with \"tls\", port 587 with \"starttls\")"
    )]
    Tls {
        /// `host:port`.
        server: String,
        /// What the TLS library says.
        words: String,
    },
    /// The server does not offer STARTTLS; nothing was sent.
    #[error("{0} does not offer STARTTLS, so nothing was sent; check `port`, or set `security = \"tls\"`")]
    NoStartTls(String),
    /// The file of further certificates cannot be used.
    #[error("the certificates of `tls_root_file` {} cannot be used: {words}", path.display())]
    TlsRootFile {
        /// The file.
        path: PathBuf,
        /// Why.
        words: String,
    },
    /// Wrong user or password.
    #[error("{server} refused the login of {user}: {code} {words}")]
    LoginRefused {
        /// `host:port`.
        server: String,
        /// Who.
        user: String,
        /// The reply's code.
        code: u16,
        /// The server's words.
        words: String,
    },
    /// No way to log in that we know.
    #[error("{0} offers no login by PLAIN or LOGIN; check `port` and `security`, or leave out `user`")]
    LoginNotOffered(String),
    /// A reply 4xx.
    #[error("{server} cannot take the letter now ({step}): {code} {words}; try again later")]
    TryLater {
        /// `host:port`.
        server: String,
        /// When.
        step: Step,
        /// The reply's code.
        code: u16,
        /// The server's words.
        words: String,
    },
    /// A reply 5xx.
    #[error("{server} refused the letter ({step}): {code} {words}")]
    Refused {
        /// `host:port`.
        server: String,
        /// When.
        step: Step,
        /// The reply's code.
        code: u16,
        /// The server's words.
        words: String,
    },
    /// The connection ended in between.
    #[error("the connection to {server} ended {step}: {words}; the server has not confirmed the letter")]
    Lost {
        /// `host:port`.
        server: String,
        /// When.
        step: Step,
        /// What the system says.
        words: String,
    },
}

impl SmtpError {
    /// True where the server had the letter in its hands when the conversation ended: it may have been taken.
    #[must_use]
    pub fn may_have_arrived(&self) -> bool {
        matches!(self, Self::TimedOut { step: Step::Letter, .. } | Self::Lost { step: Step::Letter, .. })
    }

    /// True where the same letter may well be taken later: nothing is wrong with the letter or the settings.
    #[must_use]
    pub fn is_passing(&self) -> bool {
        matches!(self, Self::NoConnection { .. } | Self::TimedOut { .. } | Self::TryLater { .. } | Self::Lost { .. })
    }
}

impl fmt::Display for Step {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Hello => formatter.write_str("at the hello"),
            Self::StartTls => formatter.write_str("at the turn to TLS"),
            Self::Login => formatter.write_str("at the login"),
            Self::Sender => formatter.write_str("at the sender"),
            Self::Recipient(recipient) => write!(formatter, "at the recipient {recipient}"),
            Self::Letter => formatter.write_str("at the letter itself"),
        }
    }
}

/// Hands the letter over to all its recipients or to none, and returns the server's words.
///
/// # Errors
/// [`SmtpError`] where the server has not confirmed it.
pub fn send(server: &Smtp, letter: &Composed) -> Result<String, SmtpError> {
    send_and(server, letter, &mut |_| {})
}

/// Hands the letter over to all its recipients or to none, and returns the server's words. `taken` is called with them
/// as soon as they are there, before the farewell: what the caller has to write down should not wait for that.
///
/// # Errors
/// [`SmtpError`] where the server has not confirmed it.
pub fn send_and(server: &Smtp, letter: &Composed, taken: &mut dyn FnMut(&str)) -> Result<String, SmtpError> {
    let talk = Talk { server, hidden: hidden_words(server) };
    let mut connection = talk.connect()?;
    tracing::debug!(host = %server.host, port = server.port, encrypted = connection.is_encrypted(), "connected");
    let answer = talk.log_in(&mut connection).and_then(|()| talk.hand_over(&mut connection, letter));
    if let Ok(words) = &answer {
        taken(words);
    }
    // A server that refused something is left politely; one that is gone, or does not answer, is not waited for again.
    let answers = match &answer {
        Err(SmtpError::TimedOut { .. } | SmtpError::Lost { .. } | SmtpError::Tls { .. }) => false,
        Ok(_) | Err(_) => true,
    };
    if answers {
        // The letter's fate is settled: how the server takes the farewell changes nothing.
        let _ = connection.quit();
    }
    answer
}

/// One conversation.
struct Talk<'a> {
    server: &'a Smtp,
    hidden: Vec<SecretString>,
}

impl Talk<'_> {
    fn connect(&self) -> Result<SmtpConnection, SmtpError> {
        let Smtp { host, port, security, timeout, .. } = self.server;
        let tls = if *security == Security::Nothing { None } else { Some(self.tls()?) };
        let name = ClientId::default();
        let at_once = tls.as_ref().filter(|_| *security == Security::Tls);
        let connected = SmtpConnection::connect((host.as_str(), *port), Some(*timeout), &name, at_once, None);
        let mut connection = connected.map_err(|error| self.fault(Step::Hello, &error))?;
        if let Some(tls) = tls.filter(|_| *security == Security::StartTls) {
            if !connection.can_starttls() {
                return Err(SmtpError::NoStartTls(self.place()));
            }
            connection.starttls(&tls, &name).map_err(|error| self.fault(Step::StartTls, &error))?;
        }
        Ok(connection)
    }

    fn tls(&self) -> Result<TlsParameters, SmtpError> {
        let mut builder = TlsParameters::builder(self.server.host.clone());
        let path = self.server.tls_root_file.clone();
        let unusable = |words: String| SmtpError::TlsRootFile { path: path.clone().unwrap_or_default(), words };
        if let Some(path) = &path {
            let pem = std::fs::read_to_string(path).map_err(|error| unusable(error.to_string()))?;
            if !pem.contains("-----BEGIN CERTIFICATE-----") {
                return Err(unusable("it holds no PEM certificate".to_owned()));
            }
            let roots = Certificate::from_pem(pem.as_bytes()).map_err(|error| unusable(error.to_string()))?;
            builder = builder.add_root_certificate(roots);
        }
        builder.build().map_err(|error| match &path {
            Some(_) => unusable(error.to_string()),
            None => SmtpError::Tls { server: self.place(), words: error.to_string() },
        })
    }

    fn log_in(&self, connection: &mut SmtpConnection) -> Result<(), SmtpError> {
        let Some(login) = &self.server.login else {
            return Ok(());
        };
        if !DEFAULT_MECHANISMS.iter().any(|&way| connection.server_info().supports_auth_mechanism(way)) {
            return Err(SmtpError::LoginNotOffered(self.place()));
        }
        let answered = connection.auth(DEFAULT_MECHANISMS, &credentials(login));
        answered.map(|_| ()).map_err(|error| self.fault(Step::Login, &error))
    }

    fn hand_over(&self, connection: &mut SmtpConnection, letter: &Composed) -> Result<String, SmtpError> {
        let sender = Mail::new(Some(letter.from.to_lettre().email), Vec::new());
        connection.command(sender).map_err(|error| self.fault(Step::Sender, &error))?;
        for recipient in &letter.to {
            let step = || Step::Recipient(recipient.address().to_owned());
            let command = Rcpt::new(recipient.to_lettre().email, Vec::new());
            connection.command(command).map_err(|error| self.fault(step(), &error))?;
        }
        let letter_fault = |error| self.fault(Step::Letter, &error);
        connection.command(Data).map_err(letter_fault)?;
        // The library ends the letter with a line break of its own, before the closing dot.
        let message = letter.message.strip_suffix(b"\r\n").unwrap_or(&letter.message);
        let reply: Response = connection.message(message).map_err(letter_fault)?;
        let words: Vec<&str> = reply.message().collect();
        Ok(self.cleaned(&format!("{} {}", reply.code(), words.join(" "))))
    }

    /// What the mail library's error means.
    fn fault(&self, step: Step, error: &Error) -> SmtpError {
        let server = self.place();
        let words = self.cleaned(&error.source().map_or_else(|| error.to_string(), ToString::to_string));
        if let Some(status) = error.status() {
            let code = u16::from(status);
            let later = matches!(status.severity, Severity::TransientNegativeCompletion);
            return match (later, &step, &self.server.login) {
                (true, ..) => SmtpError::TryLater { server, step, code, words },
                (false, Step::Login, Some(login)) => {
                    SmtpError::LoginRefused { server, user: login.user.clone(), code, words }
                }
                (false, ..) => SmtpError::Refused { server, step, code, words },
            };
        }
        let system = io_error(error);
        match system.map(io::Error::kind) {
            Some(ErrorKind::TimedOut | ErrorKind::WouldBlock) => {
                SmtpError::TimedOut { server, seconds: self.server.timeout.as_secs(), step }
            }
            // The TLS library wraps its own errors as invalid data; a reply that is no UTF-8 has nothing wrapped in it.
            Some(ErrorKind::InvalidData) if system.is_some_and(|system| system.get_ref().is_some()) => {
                SmtpError::Tls { server, words }
            }
            _ if error.is_tls() => SmtpError::Tls { server, words },
            Some(_) if step == Step::Hello => SmtpError::NoConnection { server, words },
            _ => SmtpError::Lost { server, step, words },
        }
    }

    fn place(&self) -> String {
        let Smtp { host, port, .. } = self.server;
        if host.contains(':') { format!("[{host}]:{port}") } else { format!("{host}:{port}") }
    }

    /// A server's words, on one line, not endless, and without the password: some servers repeat what they refuse.
    fn cleaned(&self, words: &str) -> String {
        let mut words = one_line(words);
        for secret in &self.hidden {
            words = words.replace(secret.expose_secret(), "(hidden)");
        }
        words.chars().take(300).collect()
    }
}

fn credentials(login: &Login) -> Credentials {
    Credentials::new(login.user.clone(), login.password.expose_secret().to_owned())
}

/// The password in every form in which it goes over the wire: as it is, and in the base64 of both ways of logging in.
fn hidden_words(server: &Smtp) -> Vec<SecretString> {
    let Some(login) = &server.login else {
        return Vec::new();
    };
    let challenge = Some("Password:".to_owned());
    let plain = Auth::new(Mechanism::Plain, credentials(login), None);
    let asked = Auth::new(Mechanism::Login, credentials(login), challenge);
    let sent = [plain, asked].into_iter().flatten().map(|command| command.to_string());
    let last_words = sent.filter_map(|line| line.split_whitespace().last().map(str::to_owned));
    let mut hidden: Vec<String> = last_words.chain([login.password.expose_secret().to_owned()]).collect();
    hidden.retain(|word| !word.is_empty());
    hidden.into_iter().map(SecretString::from).collect()
}

/// The system's error behind the library's.
fn io_error(error: &Error) -> Option<&io::Error> {
    let mut source = error.source();
    while let Some(inner) = source {
        if let Some(system) = inner.downcast_ref::<io::Error>() {
            return Some(system);
        }
        source = inner.source();
    }
    None
}
