//! Conversations with servers of every temper: what is sent, what is refused, and in which words.

use super::example::composed;
use super::server::{At, Does, Script, Seen, Server, certified};
use secrecy::SecretString;
use std::path::PathBuf;
use std::time::Duration;
use stillroom::post::letter::Composed;
use stillroom::post::send::{Method, SendError, Sent};
use stillroom::post::smtp::{Login, Security, Smtp, SmtpError, Step};

const USER: &str = "workshop@example.org";
const PASSWORD: &str = "quince jelly & ümlaut";
const LOGIN: Option<(&str, &str, &str)> = Some(("PLAIN LOGIN", USER, PASSWORD));

fn login() -> Option<Login> {
    Some(Login { user: USER.to_owned(), password: SecretString::from(PASSWORD.to_owned()) })
}

fn plain(port: u16) -> Smtp {
    Smtp {
        host: "127.0.0.1".to_owned(),
        port,
        security: Security::Nothing,
        login: None,
        timeout: Duration::from_secs(10),
        tls_root_file: None,
    }
}

/// Holds the conversation: what came of it, what the server has seen.
fn held(script: Script, shape: impl FnOnce(Smtp) -> Smtp) -> (Result<Sent, SmtpError>, Seen) {
    held_with(script, shape, &composed())
}

fn held_with(script: Script, shape: impl FnOnce(Smtp) -> Smtp, letter: &Composed) -> (Result<Sent, SmtpError>, Seen) {
    let server = Server::start(script);
    let method = Method::Smtp(shape(plain(server.port)));
    let answer = method.send(letter).map_err(|error| match error {
        SendError::Smtp(error) => error,
        SendError::Folder(error) => panic!("{error}"),
    });
    drop(method);
    (answer, server.seen())
}

fn fault(at: At, does: Does) -> Script {
    Script { fault: Some((at, does)), ..Script::default() }
}

fn root_file(pem: &str) -> (tempfile::TempDir, Option<PathBuf>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("root.pem");
    std::fs::write(&path, pem).unwrap();
    (folder, Some(path))
}

/// What the server holds is what was composed, to the octet.
fn assert_arrived(seen: &Seen) {
    assert!(seen.letter.as_ref() == Some(&composed().message), "the letter was changed on its way");
    assert_eq!(seen.from, "workshop@example.org");
    assert_eq!(seen.to, ["mara@example.org", "jo@example.net"]);
}

#[test]
fn plain_on_loopback() {
    let (answer, seen) = held(Script::default(), |smtp| smtp);
    assert_eq!(answer.unwrap(), Sent::Server("250 2.0.0 kept as 4711".to_owned()));
    assert_arrived(&seen);
    assert_eq!(seen.commands.last().map(String::as_str), Some("QUIT"));
    assert!(seen.encrypted.iter().all(|&encrypted| !encrypted));
}

#[test]
fn starttls_and_login_by_plain() {
    let certified = certified(&["localhost", "127.0.0.1"], false);
    let (_folder, tls_root_file) = root_file(&certified.root_pem);
    let script =
        Script { offers_starttls: true, certificate: Some(certified.server), login: LOGIN, ..Script::default() };
    let (answer, seen) =
        held(script, |smtp| Smtp { security: Security::StartTls, login: login(), tls_root_file, ..smtp });
    answer.unwrap();
    assert_arrived(&seen);
    assert_eq!(seen.user.as_deref(), Some(USER));
    // Only the first hello and the wish for TLS go out in the open.
    let open = seen.encrypted.iter().filter(|&&encrypted| !encrypted).count();
    assert_eq!((open, seen.commands[1].as_str()), (2, "STARTTLS"));
}

#[test]
fn implicit_tls_and_login_by_login() {
    let certified = certified(&["localhost", "127.0.0.1"], false);
    let (_folder, tls_root_file) = root_file(&certified.root_pem);
    let script = Script {
        implicit_tls: true,
        certificate: Some(certified.server),
        login: Some(("LOGIN", USER, PASSWORD)),
        ..Script::default()
    };
    let host = "localhost".to_owned();
    let (answer, seen) =
        held(script, |smtp| Smtp { security: Security::Tls, login: login(), tls_root_file, host, ..smtp });
    answer.unwrap();
    assert_arrived(&seen);
    assert_eq!(seen.user.as_deref(), Some(USER));
    assert!(seen.encrypted.iter().all(|&encrypted| encrypted));
}

#[test]
fn no_starttls_no_letter() {
    let script = Script { login: LOGIN, ..Script::default() };
    let (answer, seen) = held(script, |smtp| Smtp { security: Security::StartTls, login: login(), ..smtp });
    assert!(matches!(answer, Err(SmtpError::NoStartTls(_))), "{answer:?}");
    assert_eq!((seen.commands.len(), seen.user, seen.letter), (1, None, None), "only the hello was said");
}

#[test]
fn starttls_that_is_offered_and_then_refused() {
    let script = Script {
        offers_starttls: true,
        login: LOGIN,
        fault: Some((At::StartTls, Does::Reply("454 4.7.0 TLS not available"))),
        ..Script::default()
    };
    let (answer, seen) = held(script, |smtp| Smtp { security: Security::StartTls, login: login(), ..smtp });
    assert!(matches!(answer, Err(SmtpError::TryLater { step: Step::StartTls, code: 454, .. })), "{answer:?}");
    assert_eq!((seen.user, seen.letter), (None, None));
}

#[test]
fn a_certificate_that_cannot_be_trusted_is_refused() {
    let own = certified(&["127.0.0.1"], false);
    let stranger = certified(&["127.0.0.1"], false);
    let other_name = certified(&["mail.example.org"], false);
    let expired = certified(&["127.0.0.1"], true);
    for (what, certificate, root) in [
        ("no root", &own.server, None),
        ("another root", &own.server, Some(&stranger.root_pem)),
        ("another name", &other_name.server, Some(&other_name.root_pem)),
        ("expired", &expired.server, Some(&expired.root_pem)),
    ] {
        for (security, implicit_tls) in [(Security::StartTls, false), (Security::Tls, true)] {
            let certificate = Some(certificate.clone());
            let script = Script { implicit_tls, offers_starttls: true, certificate, login: LOGIN, ..Script::default() };
            let (_folder, tls_root_file) = root.map_or((tempfile::tempdir().unwrap(), None), |pem| root_file(pem));
            let (answer, seen) = held(script, |smtp| Smtp { security, login: login(), tls_root_file, ..smtp });
            assert!(matches!(answer, Err(SmtpError::Tls { .. })), "{what}: {answer:?}");
            assert!(answer.unwrap_err().to_string().contains("certificate"), "{what}");
            assert_eq!((seen.user, seen.letter), (None, None), "{what}");
        }
    }
}

#[test]
fn tls_against_a_server_that_speaks_none_says_which_port() {
    let (answer, seen) = held(Script::default(), |smtp| Smtp { security: Security::Tls, ..smtp });
    let message = answer.unwrap_err().to_string();
    assert!(message.starts_with("no trusted TLS connection") && message.contains("port 465"), "{message}");
    assert_eq!(seen.letter, None);
}

#[test]
fn a_root_file_that_holds_no_certificate() {
    for (pem, words) in
        [("", "no PEM certificate"), ("-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n", "")]
    {
        let (_folder, tls_root_file) = root_file(pem);
        let smtp = Smtp { security: Security::Tls, tls_root_file, ..plain(9) };
        let error = stillroom::post::smtp::send(&smtp, &composed()).unwrap_err();
        assert!(matches!(error, SmtpError::TlsRootFile { .. }) && error.to_string().contains(words), "{error}");
    }
}

#[test]
fn a_wrong_password_is_a_refused_login() {
    for ways in ["PLAIN", "LOGIN"] {
        let script = Script { login: Some((ways, USER, "another")), ..Script::default() };
        let (answer, seen) = held(script, |smtp| Smtp { login: login(), ..smtp });
        let error = answer.unwrap_err();
        assert!(matches!(&error, SmtpError::LoginRefused { code: 535, .. }), "{error:?}");
        assert!(error.to_string().contains("wrong user or password") && !error.is_passing(), "{error}");
        assert_eq!(seen.letter, None);
    }
}

#[test]
fn a_server_without_a_login_that_we_know() {
    for login_offer in [None, Some(("GSSAPI", USER, PASSWORD))] {
        let script = Script { login: login_offer, ..Script::default() };
        let (answer, seen) = held(script, |smtp| Smtp { login: login(), ..smtp });
        assert!(matches!(answer, Err(SmtpError::LoginNotOffered(_))), "{answer:?}");
        assert_eq!(seen.letter, None);
    }
}

#[test]
fn what_the_server_refuses_it_refuses_for_good_or_for_now() {
    let check = |at, reply: &'static str, step: Step, expected: u16| {
        let (answer, seen) = held(fault(at, Does::Reply(reply)), |smtp| smtp);
        let error = answer.unwrap_err();
        let words = reply.split_once(' ').unwrap().1;
        assert!(error.to_string().contains(words), "{error}");
        match &error {
            SmtpError::TryLater { step: at, code, .. } if reply.starts_with('4') => {
                assert_eq!((at, *code), (&step, expected))
            }
            SmtpError::Refused { step: at, code, .. } if reply.starts_with('5') => {
                assert_eq!((at, *code), (&step, expected))
            }
            other => panic!("{reply}: {other:?}"),
        }
        assert_eq!(error.is_passing(), reply.starts_with('4'));
        assert_eq!(seen.letter, None);
    };
    check(At::Greeting, "554 5.3.2 not today", Step::Hello, 554);
    check(At::Greeting, "421 4.3.2 too busy", Step::Hello, 421);
    check(At::Mail, "550 5.7.1 not from you", Step::Sender, 550);
    check(At::Rcpt(1), "550 5.1.1 no such mailbox", Step::Recipient("mara@example.org".to_owned()), 550);
    check(At::Rcpt(2), "450 4.2.1 mailbox busy", Step::Recipient("jo@example.net".to_owned()), 450);
    check(At::Data, "451 4.3.0 disk trouble", Step::Letter, 451);
    check(At::Letter, "552 5.2.2 mailbox full", Step::Letter, 552);
    check(At::Letter, "452 4.3.1 no room now", Step::Letter, 452);
}

#[test]
fn a_server_that_hangs_is_given_up_in_time() {
    for at in [At::Greeting, At::Mail, At::Letter] {
        let timeout = Duration::from_secs(1);
        let (answer, _) = held(fault(at, Does::Hang), |smtp| Smtp { timeout, ..smtp });
        let error = answer.unwrap_err();
        assert!(matches!(error, SmtpError::TimedOut { seconds: 1, .. }), "{at:?}: {error:?}");
        let message = error.to_string();
        assert!(message.contains("did not answer within 1 second") && !message.contains("os error"), "{message}");
        assert!(error.is_passing());
    }
}

#[test]
fn a_server_that_goes_away_has_confirmed_nothing() {
    for (at, step) in [
        (At::Mail, Step::Sender),
        (At::Data, Step::Letter),
        (At::InLetter(2_000), Step::Letter),
        (At::Letter, Step::Letter),
    ] {
        let (answer, seen) = held(fault(at, Does::Close), |smtp| smtp);
        let error = answer.unwrap_err();
        assert!(matches!(&error, SmtpError::Lost { step: when, .. } if *when == step), "{at:?}: {error:?}");
        assert!(error.to_string().contains("not confirmed") && error.is_passing(), "{error}");
        assert_eq!(seen.letter, None);
    }
}

#[test]
fn nobody_at_the_port() {
    let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let error = stillroom::post::smtp::send(&plain(free), &composed()).unwrap_err();
    assert!(matches!(error, SmtpError::NoConnection { .. }), "{error:?}");
    assert!(error.to_string().contains(&format!("127.0.0.1:{free}")) && error.is_passing(), "{error}");
}

#[test]
fn lines_that_begin_with_a_dot_arrive_as_they_were() {
    let mut letter = composed();
    letter.message.extend_from_slice(b"\r\n.\r\n..two\r\n.one\r\n");
    let (answer, seen) = held_with(Script::default(), |smtp| smtp, &letter);
    answer.unwrap();
    assert!(seen.letter == Some(letter.message), "the letter was changed on its way");
}
