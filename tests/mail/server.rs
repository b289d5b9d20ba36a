//! A mail server on loopback, for one conversation or ([`Office`]) for any number at once: it follows RFC 5321 (and 3207, 4954, 8314 for TLS and login), except
//! where a test asks it to misbehave, and remembers all that it was told.

use mail_parser::decoders::base64::base64_decode;
use rcgen::{BasicConstraints, CertificateParams, CertifiedIssuer, IsCa, KeyPair};
use rustls::pki_types::{PrivateKeyDer, PrivatePkcs8KeyDer};
use rustls::{ServerConfig, ServerConnection, StreamOwned};
use std::io::{self, ErrorKind, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::Duration;

/// Where in a conversation the server may misbehave.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    Greeting,
    StartTls,
    Auth,
    Mail,
    /// The recipient of this number, from 1.
    Rcpt(usize),
    Data,
    /// When so many octets of the letter have come.
    InLetter(usize),
    /// When the letter has come.
    Letter,
    /// When the other side takes its leave: it has heard that the letter was taken.
    Quit,
}

/// What it does there.
#[derive(Clone, Copy, Debug)]
pub enum Does {
    Reply(&'static str),
    /// Nothing, until the other side goes.
    Hang,
    Close,
    /// Waits, and then does the right thing.
    Wait(Duration),
    /// Takes the letter, and goes without saying so.
    KeepAndClose,
}

/// Something that is done when the conversation has come to a place, before anything is answered there.
#[derive(Clone)]
pub struct Hook(pub At, pub Arc<dyn Fn() + Send + Sync>);

impl std::fmt::Debug for Hook {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "Hook({:?})", self.0)
    }
}

#[derive(Clone, Debug, Default)]
pub struct Script {
    /// TLS from the first octet.
    pub implicit_tls: bool,
    /// Offers STARTTLS.
    pub offers_starttls: bool,
    /// Certificate for TLS.
    pub certificate: Option<Arc<ServerConfig>>,
    /// Ways of logging in that it offers, and the right user and password.
    pub login: Option<(&'static str, &'static str, &'static str)>,
    /// Where it misbehaves.
    pub fault: Option<(At, Does)>,
    /// What else happens.
    pub hook: Option<Hook>,
}

/// What it has seen.
#[derive(Debug, Default)]
pub struct Seen {
    /// The client's lines before, in and after the letter's own.
    pub commands: Vec<String>,
    /// Logged in as.
    pub user: Option<String>,
    /// Whether commands came through TLS, one for each.
    pub encrypted: Vec<bool>,
    pub from: String,
    pub to: Vec<String>,
    /// The letter that it has confirmed, dots unstuffed.
    pub letter: Option<Vec<u8>>,
}

pub struct Server {
    pub port: u16,
    thread: JoinHandle<Seen>,
}

impl Server {
    pub fn start(script: Script) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let thread = std::thread::spawn(move || {
            let (stream, _) = listener.accept().unwrap();
            stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
            let mut talk = Talk { script, seen: Seen::default(), encrypted: false, shelf: None };
            // Whichever way the conversation ends, what was seen is what the tests look at.
            let _ = talk.hold(stream);
            talk.seen
        });
        Self { port, thread }
    }

    /// What it has seen, once the conversation is over.
    pub fn seen(self) -> Seen {
        self.thread.join().unwrap()
    }
}

/// A mail server that is open for any number of conversations, many at once.
pub struct Office {
    pub port: u16,
    taken: Arc<Mutex<Vec<Vec<u8>>>>,
}

impl Office {
    /// `script` says how each conversation goes, by its number from 0. The server stays until the tests end.
    pub fn open(mut script: impl FnMut(usize) -> Script + Send + 'static) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let taken: Arc<Mutex<Vec<Vec<u8>>>> = Arc::default();
        let shelf = Arc::clone(&taken);
        std::thread::spawn(move || {
            for (number, stream) in listener.incoming().enumerate() {
                let (script, shelf) = (script(number), Arc::clone(&shelf));
                std::thread::spawn(move || {
                    let stream = stream.unwrap();
                    stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
                    let mut talk = Talk { script, seen: Seen::default(), encrypted: false, shelf: Some(shelf) };
                    let _ = talk.hold(stream);
                });
            }
        });
        Self { port, taken }
    }

    /// The letters that were taken so far, in order.
    pub fn taken(&self) -> Vec<Vec<u8>> {
        self.taken.lock().unwrap().clone()
    }
}

/// A root of trust as PEM, and a server certificate under it.
pub struct Certified {
    pub root_pem: String,
    pub server: Arc<ServerConfig>,
}

/// A certificate for these names. `expired` ends it in the past.
pub fn certified(names: &[&str], expired: bool) -> Certified {
    let mut root = CertificateParams::new(Vec::new()).unwrap();
    root.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    let root = CertifiedIssuer::self_signed(root, KeyPair::generate().unwrap()).unwrap();
    let key = KeyPair::generate().unwrap();
    let names: Vec<String> = names.iter().map(|&name| name.to_owned()).collect();
    let mut leaf = CertificateParams::new(names).unwrap();
    if expired {
        leaf.not_before = rcgen::date_time_ymd(2000, 1, 1);
        leaf.not_after = rcgen::date_time_ymd(2001, 1, 1);
    }
    let leaf = leaf.signed_by(&key, &root).unwrap();
    let key = PrivateKeyDer::Pkcs8(PrivatePkcs8KeyDer::from(key.serialize_der()));
    let server = ServerConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_no_client_auth()
        .with_single_cert(vec![leaf.der().clone()], key)
        .unwrap();
    Certified { root_pem: root.pem(), server: Arc::new(server) }
}

trait Wire: Read + Write {}
impl<Stream: Read + Write> Wire for Stream {}

enum Next {
    TurnToTls,
    Over,
}

struct Talk {
    script: Script,
    seen: Seen,
    encrypted: bool,
    /// Where an [`Office`] keeps what it takes.
    shelf: Option<Arc<Mutex<Vec<Vec<u8>>>>>,
}

impl Talk {
    fn hold(&mut self, mut stream: TcpStream) -> io::Result<()> {
        if !self.script.implicit_tls {
            self.greet(&mut stream)?;
            match self.commands(&mut stream)? {
                Next::Over => return Ok(()),
                Next::TurnToTls => {}
            }
        }
        let config = self.script.certificate.clone().unwrap();
        let mut secured = StreamOwned::new(ServerConnection::new(config).unwrap(), stream);
        self.encrypted = true;
        if self.script.implicit_tls {
            self.greet(&mut secured)?;
        }
        self.commands(&mut secured)?;
        secured.conn.send_close_notify();
        secured.flush()
    }

    fn greet(&mut self, wire: &mut dyn Wire) -> io::Result<()> {
        self.answer(wire, At::Greeting, "220 loopback.example ESMTP")
    }

    /// The right reply, or the script's fault. A fault that ends the conversation is an error.
    fn answer(&mut self, wire: &mut dyn Wire, at: At, right: &str) -> io::Result<()> {
        if let Some(Hook(place, hook)) = &self.script.hook
            && *place == at
        {
            hook();
        }
        match self.script.fault {
            Some((place, Does::Wait(time))) if place == at => {
                std::thread::sleep(time);
                say(wire, right)
            }
            Some((place, Does::KeepAndClose)) if place == at => Err(ErrorKind::ConnectionAborted.into()),
            Some((place, Does::Reply(reply))) if place == at => say(wire, reply),
            Some((place, Does::Close)) if place == at => Err(ErrorKind::ConnectionAborted.into()),
            Some((place, Does::Hang)) if place == at => {
                while wire.read(&mut [0; 1024])? > 0 {}
                Err(ErrorKind::ConnectionAborted.into())
            }
            _ => say(wire, right),
        }
    }

    fn commands(&mut self, wire: &mut dyn Wire) -> io::Result<Next> {
        loop {
            let line = self.heard(wire)?;
            let word = line.split_whitespace().next().unwrap_or_default().to_ascii_uppercase();
            match word.as_str() {
                "EHLO" => say(wire, &self.abilities())?,
                "STARTTLS" => {
                    self.answer(wire, At::StartTls, "220 go ahead")?;
                    if !matches!(self.script.fault, Some((At::StartTls, _))) {
                        return Ok(Next::TurnToTls);
                    }
                }
                "AUTH" => self.log_in(wire, &line)?,
                "MAIL" => {
                    self.seen.from = between_brackets(&line);
                    self.answer(wire, At::Mail, "250 2.1.0 ok")?;
                }
                "RCPT" => {
                    self.seen.to.push(between_brackets(&line));
                    self.answer(wire, At::Rcpt(self.seen.to.len()), "250 2.1.5 ok")?;
                }
                "DATA" => {
                    self.answer(wire, At::Data, "354 end with a dot")?;
                    if !matches!(self.script.fault, Some((At::Data, Does::Reply(_)))) {
                        self.take_letter(wire)?;
                    }
                }
                "QUIT" => {
                    self.answer(wire, At::Quit, "221 bye")?;
                    return Ok(Next::Over);
                }
                _ => say(wire, "500 what?")?,
            }
        }
    }

    fn abilities(&self) -> String {
        let mut lines = vec!["loopback.example greets you".to_owned()];
        if self.script.offers_starttls && !self.encrypted {
            lines.push("STARTTLS".to_owned());
        }
        if let Some((ways, ..)) = self.script.login {
            lines.push(format!("AUTH {ways}"));
        }
        lines.push("SIZE 10000000".to_owned());
        let last = lines.len() - 1;
        let written =
            lines.iter().enumerate().map(|(place, line)| format!("250{}{line}", if place == last { " " } else { "-" }));
        written.collect::<Vec<_>>().join("\r\n")
    }

    fn log_in(&mut self, wire: &mut dyn Wire, line: &str) -> io::Result<()> {
        let (user, password) = match line.split_whitespace().collect::<Vec<_>>().as_slice() {
            [_, "PLAIN", response] => {
                let decoded = decoded(response);
                let mut parts = decoded.split('\0').map(str::to_owned);
                assert_eq!(parts.next().as_deref(), Some(""), "no other identity is asked for (RFC 4616)");
                (parts.next().unwrap_or_default(), parts.next().unwrap_or_default())
            }
            [_, "LOGIN"] => {
                say(wire, "334 VXNlcm5hbWU6")?;
                let user = decoded(&self.heard(wire)?);
                say(wire, "334 UGFzc3dvcmQ6")?;
                (user, decoded(&self.heard(wire)?))
            }
            _ => return say(wire, "504 no such way"),
        };
        let right = self
            .script
            .login
            .is_some_and(|(_, right_user, right_password)| right_user == user && right_password == password);
        if right {
            self.seen.user = Some(user);
        }
        self.answer(wire, At::Auth, if right { "235 2.7.0 welcome" } else { "535 5.7.8 wrong user or password" })
    }

    fn take_letter(&mut self, wire: &mut dyn Wire) -> io::Result<()> {
        let mut letter = Vec::new();
        loop {
            if let Some((At::InLetter(octets), _)) = self.script.fault
                && letter.len() >= octets
            {
                return self.answer(wire, At::InLetter(octets), "");
            }
            if let Some(Hook(At::InLetter(octets), hook)) = &self.script.hook
                && letter.len() >= *octets
            {
                hook();
            }
            let line = read_line(wire)?;
            if line == b".\r\n" {
                break;
            }
            letter.extend_from_slice(line.strip_prefix(b".").unwrap_or(&line));
        }
        // It is on the shelf before the other side can know it: what was confirmed is there when a test looks.
        let taken = matches!(self.script.fault, Some((at, Does::Wait(_) | Does::KeepAndClose)) if at == At::Letter)
            || !matches!(self.script.fault, Some((At::Letter, _)));
        if taken && let Some(shelf) = &self.shelf {
            shelf.lock().unwrap().push(letter.clone());
        }
        self.answer(wire, At::Letter, "250 2.0.0 kept as 4711")?;
        if taken {
            self.seen.letter = Some(letter);
        }
        Ok(())
    }

    fn heard(&mut self, wire: &mut dyn Wire) -> io::Result<String> {
        let line = read_line(wire)?;
        let line = String::from_utf8(line).unwrap().trim_end().to_owned();
        self.seen.commands.push(line.clone());
        self.seen.encrypted.push(self.encrypted);
        Ok(line)
    }
}

fn say(wire: &mut dyn Wire, reply: &str) -> io::Result<()> {
    // In one piece: two would wait for each other's acknowledgement.
    wire.write_all(format!("{reply}\r\n").as_bytes())?;
    wire.flush()
}

/// One octet at a time: what comes after STARTTLS must not be read too early.
fn read_line(wire: &mut dyn Wire) -> io::Result<Vec<u8>> {
    let mut line = Vec::new();
    while !line.ends_with(b"\r\n") {
        let mut octet = [0];
        if wire.read(&mut octet)? == 0 {
            return Err(ErrorKind::UnexpectedEof.into());
        }
        line.push(octet[0]);
    }
    Ok(line)
}

fn between_brackets(line: &str) -> String {
    line.split_once('<')
        .and_then(|(_, rest)| rest.split_once('>'))
        .map(|(inner, _)| inner.to_owned())
        .unwrap_or_default()
}

fn decoded(base64: &str) -> String {
    String::from_utf8(base64_decode(base64.as_bytes()).unwrap()).unwrap()
}
