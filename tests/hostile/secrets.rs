//! The mail password through the real program: it logs in, and is in nothing that is shown, logged, written, copied or listed.

use super::program::{FIRST_DAY, Workshop};
use super::server::{At, Does, Hook, Office, Script, certified};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::Command;
use std::sync::{Arc, Mutex};

const USER: &str = "ilse@tansy-quay.example";
const CANARY: &str = "quince-canary-1847";
/// Base64 of the canary, and of NUL, user, NUL, canary: as the two ways of logging in send them (made with Python).
const ON_THE_WIRE: [&str; 2] =
    ["cXVpbmNlLWNhbmFyeS0xODQ3", "AGlsc2VAdGFuc3ktcXVheS5leGFtcGxlAHF1aW5jZS1jYW5hcnktMTg0Nw=="];
const REPEATS: &str = "535 5.7.8 no: quince-canary-1847 cXVpbmNlLWNhbmFyeS0xODQ3 \
    AGlsc2VAdGFuc3ktcXVheS5leGFtcGxlAHF1aW5jZS1jYW5hcnktMTg0Nw== (that was it)";

fn has_canary(bytes: &[u8]) -> bool {
    [CANARY].iter().chain(&ON_THE_WIRE).any(|secret| bytes.windows(secret.len()).any(|part| part == secret.as_bytes()))
}

/// A workshop with a mail account on this port; `kept` says where its password is.
fn workshop(port: u16, kept: &str, more: &str) -> Workshop {
    let workshop = Workshop::example();
    let text = format!(
        "store = 'workshop.sqlite'\n[mail]\nmethod = 'smtp'\nhost = '127.0.0.1'\nport = {port}\nuser = '{USER}'\n\
         from = '{USER}'\nto = ['{USER}']\n{kept}\n{more}\n[[schedule]]\nname = 'stock'\nreports = ['stock']\n\
         days = 'every day'\nat = '07:00'\nwhen = 'always'\n"
    );
    let config = workshop.file("config.toml", &text);
    std::fs::set_permissions(config, std::fs::Permissions::from_mode(0o600)).unwrap();
    workshop
}

/// Runs the program at its most talkative: its status, and all that it said.
fn told(workshop: &Workshop, arguments: &[&str]) -> (bool, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_stillroom"))
        .env_clear()
        .env("PATH", std::env::var_os("PATH").unwrap())
        .env("HOME", workshop.path(""))
        .env("RUST_LOG", "trace")
        .env("RUST_BACKTRACE", "full")
        .env("MAIL_PASSWORD", CANARY)
        .current_dir(workshop.path(""))
        .args(["--config", "config.toml", "--as-of", "2027-03-01T08:00", "-vvvv"])
        .args(arguments)
        .output()
        .unwrap();
    let said = [output.stdout, output.stderr].concat();
    assert!(!has_canary(&said), "{arguments:?} shows it: {}", String::from_utf8_lossy(&said));
    (output.status.success(), String::from_utf8(said).unwrap())
}

/// The names of all files below the folder, but of the one that was made to hold the password. None holds it.
fn files_without_it(folder: &Path) -> Vec<String> {
    let mut looked_at = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let holds_it = || has_canary(&std::fs::read(&path).unwrap());
        if path.is_dir() {
            looked_at.extend(files_without_it(&path));
        } else if path.ends_with("the-password") {
            assert!(holds_it(), "it would not be found where it is");
        } else {
            assert!(!holds_it(), "{} holds it", path.display());
            looked_at.push(path.file_name().unwrap().to_string_lossy().into_owned());
        }
    }
    looked_at
}

/// True where a process of this computer has it in its arguments.
fn is_in_the_process_list() -> bool {
    let processes = std::fs::read_dir("/proc").unwrap().filter_map(Result::ok);
    // A process may end while it is looked at.
    processes.filter_map(|process| std::fs::read(process.path().join("cmdline")).ok()).any(|words| has_canary(&words))
}

#[test]
fn it_logs_in_from_each_source_and_is_nowhere_else() {
    let certified = certified(&["127.0.0.1"], false);
    for kept in [
        "password_env = 'MAIL_PASSWORD'",
        "password_file = 'the-password'",
        "password_command = ['cat', 'the-password']",
    ] {
        let seen_in_list = Arc::new(Mutex::new(Vec::new()));
        let (list, server) = (Arc::clone(&seen_in_list), certified.server.clone());
        let office = Office::open(move |_| {
            let list = Arc::clone(&list);
            Script {
                offers_starttls: true,
                certificate: Some(server.clone()),
                login: Some(("PLAIN", USER, CANARY)),
                hook: Some(Hook(At::Data, Arc::new(move || list.lock().unwrap().push(is_in_the_process_list())))),
                ..Script::default()
            }
        });
        let workshop = workshop(office.port, kept, "tls_root_file = 'root.pem'");
        workshop.file("root.pem", &certified.root_pem);
        let file = workshop.file("the-password", &format!("{CANARY}\n"));
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o600)).unwrap();
        let (done, said) = told(&workshop, &["mail", "stock"]);
        assert!(done, "{kept}: {said}");
        assert!(!said.contains("chmod 600"), "{said}");
        assert_eq!(office.taken().len(), 1, "{kept}");
        assert!(told(&workshop, &["post"]).0);
        for words in [
            &["doctor"][..],
            &["backup"],
            &["backup", "copy.sqlite"],
            &["outbox", "list"],
            &["schedule"],
            &["export", "out"],
        ] {
            assert!(told(&workshop, words).0, "{words:?}");
        }
        assert!(office.taken().iter().all(|letter| !has_canary(letter)));
        assert!(seen_in_list.lock().unwrap().iter().all(|shown| !shown), "{kept}: the process list shows it");
        assert_eq!(seen_in_list.lock().unwrap().len(), office.taken().len());
        // Nothing that the program writes was missed: store, copies by hand and of its own, tables.
        let files = files_without_it(&workshop.path(""));
        for name in ["config.toml", "workshop.sqlite", "copy.sqlite", "settings.csv", "suppliers.csv", "lots.csv"] {
            assert!(files.iter().any(|file| file == name), "{name} is not among {files:?}");
        }
        let copies = files.iter().filter(|name| name.ends_with(".sqlite")).count();
        assert_eq!(copies, 3, "store, copy and dated copy: {files:?}");
    }
}

#[test]
fn a_refusal_that_repeats_it_is_told_without_it() {
    let office = Office::open(|_| Script {
        login: Some(("PLAIN", USER, CANARY)),
        fault: Some((At::Auth, Does::Reply(REPEATS))),
        ..Script::default()
    });
    let workshop = workshop(office.port, "password_env = 'MAIL_PASSWORD'", "security = 'none'");
    for words in [&["mail", "stock"][..], &["post"]] {
        let (done, said) = told(&workshop, words);
        assert!(!done && said.contains("that was it"), "{words:?}: {said}");
    }
    assert!(told(&workshop, &["outbox", "show", "1"]).1.contains("that was it"));
    assert!(office.taken().is_empty());
    files_without_it(&workshop.path(""));
}

#[test]
fn a_certificate_that_proves_nothing_gets_no_password() {
    let own = certified(&["127.0.0.1"], false);
    let other_name = certified(&["mail.example.org"], false);
    let expired = certified(&["127.0.0.1"], true);
    for (what, certificate, root) in [
        ("signed by itself", &own, None),
        ("of another name", &other_name, Some(&other_name.root_pem)),
        ("expired", &expired, Some(&expired.root_pem)),
    ] {
        for security in ["starttls", "tls"] {
            let heard = Arc::new(Mutex::new(0));
            let (count, server, implicit_tls) = (Arc::clone(&heard), certificate.server.clone(), security == "tls");
            let office = Office::open(move |_| {
                let count = Arc::clone(&count);
                Script {
                    implicit_tls,
                    offers_starttls: true,
                    certificate: Some(server.clone()),
                    login: Some(("PLAIN", USER, CANARY)),
                    hook: Some(Hook(At::Auth, Arc::new(move || *count.lock().unwrap() += 1))),
                    ..Script::default()
                }
            });
            let root_line = root.map_or("", |_| "tls_root_file = 'root.pem'");
            let workshop = workshop(
                office.port,
                "password_env = 'MAIL_PASSWORD'",
                &format!("security = '{security}'\n{root_line}"),
            );
            if let Some(pem) = root {
                workshop.file("root.pem", pem);
            }
            let (done, said) = told(&workshop, &["mail", "stock"]);
            assert!(!done && said.contains("certificate"), "{what}, {security}: {said}");
            assert_eq!((*heard.lock().unwrap(), office.taken().len()), (0, 0), "{what}, {security}");
        }
    }
}

#[test]
fn plain_text_wants_a_clear_word() {
    let workshop = Workshop::example();
    let with = |more: &str| {
        let text = format!(
            "[mail]\nmethod = 'smtp'\nhost = 'mail.example.org'\nfrom = 'a@b.example'\nsecurity = 'none'\n{more}"
        );
        workshop.file("config.toml", &text);
        workshop.run_on(FIRST_DAY, &["--config", "config.toml", "stock"])
    };
    let refused = with("");
    assert!(
        refused.status == 2 && refused.err.contains("line 5") && refused.err.contains("allow_plain_text = true"),
        "{}",
        refused.err
    );
    assert_eq!(with("allow_plain_text = false\n").status, 2);
    assert_eq!(with("allow_plain_text = true\n").status, 0);
}

#[test]
fn settings_and_password_that_others_can_read_are_told_of() {
    let office = Office::open(|_| Script { login: Some(("PLAIN", USER, CANARY)), ..Script::default() });
    let workshop = workshop(office.port, "password_file = 'the-password'", "security = 'none'");
    let file = workshop.file("the-password", &format!("{CANARY}\n"));
    let open_to =
        |path: &Path, mode: u32| std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    let config = workshop.path("config.toml");
    for (config_mode, file_mode, warnings) in [
        (0o600, 0o600, &[][..]),
        (0o644, 0o600, &["can read config.toml"]),
        (0o640, 0o644, &["can read config.toml", "can read the password file"]),
        (0o622, 0o600, &["can change config.toml"]),
    ] {
        open_to(&config, config_mode);
        open_to(Path::new(&file), file_mode);
        let (done, said) = told(&workshop, &["mail", "stock"]);
        assert!(done, "{said}");
        assert_eq!(said.matches("chmod 600").count(), warnings.len(), "{config_mode:o} {file_mode:o}: {said}");
        assert!(warnings.iter().all(|warning| said.contains(warning)), "{said}");
    }
    // Where nobody logs in there is nothing to keep.
    std::fs::write(&config, "store = 'workshop.sqlite'\n").unwrap();
    open_to(&config, 0o666);
    assert!(!told(&workshop, &["mail", "stock", "--to", USER]).1.contains("chmod 600"));
}

#[test]
fn a_password_without_an_end_is_given_up() {
    let office = Office::open(|_| Script { login: Some(("PLAIN", USER, CANARY)), ..Script::default() });
    for kept in ["password_file = '/dev/zero'", "password_command = ['yes']"] {
        let workshop = workshop(office.port, kept, "security = 'none'");
        let (done, said) = told(&workshop, &["mail", "stock"]);
        assert!(!done, "{kept}: {said}");
    }
}
