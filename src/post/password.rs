//! Where the password of a mail account comes from: the environment, a file, or a command. Never from the config itself.

use secrecy::{ExposeSecret, SecretString};
use std::ffi::OsString;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

/// How long a password command may take: long enough for somebody to unlock a keyring.
const COMMAND_LIMIT: Duration = Duration::from_secs(120);
/// So much is read of a file or a command's output: a device that never ends is no password.
const MOST_BYTES: u64 = 1 << 16;

/// Where a password is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PasswordSource {
    /// An environment variable of this name.
    Environment(String),
    /// The first line of this file.
    File(PathBuf),
    /// The first line that this program (with its arguments) writes to its standard output.
    Command(Vec<String>),
}

/// A password, and what the user should be told about where it was kept.
#[derive(Debug)]
pub struct Fetched {
    /// The password. Its `Debug` does not show it.
    pub password: SecretString,
    /// A sentence each.
    pub warnings: Vec<String>,
}

/// Why there is no password. No message holds any part of one.
#[derive(Debug, thiserror::Error)]
pub enum PasswordError {
    /// The variable is not set, or is not text.
    #[error("the environment variable {0} of `password_env` is not set, or is not text")]
    Environment(String),
    /// The file cannot be read.
    #[error("the password file {} cannot be read: {source}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// The command cannot be run.
    #[error("the password command {program:?} cannot be run: {source}")]
    Command {
        /// The program.
        program: String,
        /// Why.
        source: std::io::Error,
    },
    /// The command failed.
    #[error("the password command {program:?} ended with {status}")]
    Failed {
        /// The program.
        program: String,
        /// Its exit status.
        status: String,
    },
    /// The command takes too long.
    #[error("the password command {0:?} did not end within two minutes")]
    TooLong(String),
    /// There is nothing there.
    #[error("{0} gave an empty password")]
    Empty(String),
}

impl PasswordSource {
    /// Fetches the password. `environment` looks up a variable: `std::env::var_os` outside tests.
    ///
    /// # Errors
    /// [`PasswordError`] where there is none.
    pub fn fetch(&self, environment: &dyn Fn(&str) -> Option<OsString>) -> Result<Fetched, PasswordError> {
        let mut warnings = Vec::new();
        let (text, place) = match self {
            Self::Environment(name) => {
                let value = environment(name).and_then(|value| value.into_string().ok());
                (value.ok_or_else(|| PasswordError::Environment(name.clone()))?, format!("the variable {name}"))
            }
            Self::File(path) => {
                let mut text = String::new();
                let file = std::fs::File::open(path);
                let read = file.and_then(|file| file.take(MOST_BYTES).read_to_string(&mut text));
                read.map_err(|source| PasswordError::File { path: path.clone(), source })?;
                warnings.extend(open_to_others(path));
                (text, format!("the file {}", path.display()))
            }
            Self::Command(words) => {
                let (program, arguments) =
                    words.split_first().ok_or_else(|| PasswordError::Empty("no command".into()))?;
                (output_of(program, arguments)?, format!("the command {program:?}"))
            }
        };
        let text = SecretString::from(text);
        let password = SecretString::from(text.expose_secret().lines().next().unwrap_or_default().to_owned());
        if password.expose_secret().is_empty() {
            return Err(PasswordError::Empty(place));
        }
        Ok(Fetched { password, warnings })
    }
}

#[cfg(unix)]
fn open_to_others(path: &Path) -> Option<String> {
    use std::os::unix::fs::PermissionsExt;
    let mode = std::fs::metadata(path).ok()?.permissions().mode();
    let path = path.display();
    (mode & 0o077 != 0).then(|| format!("Others on this computer can read the password file {path}; chmod 600 it."))
}

#[cfg(not(unix))]
fn open_to_others(_path: &Path) -> Option<String> {
    None
}

/// Runs the program without a shell; what it writes to its standard error goes to ours, so that it can ask and complain.
fn output_of(program: &str, arguments: &[String]) -> Result<String, PasswordError> {
    let cannot = |source| PasswordError::Command { program: program.to_owned(), source };
    let mut child =
        Command::new(program).args(arguments).stdin(Stdio::null()).stdout(Stdio::piped()).spawn().map_err(cannot)?;
    let output = read_within(&mut child, COMMAND_LIMIT);
    if output.is_none() {
        // It may have ended by itself just now; then there is nothing to end.
        let _ = child.kill();
    }
    let status = child.wait().map_err(cannot)?;
    let output = output.ok_or_else(|| PasswordError::TooLong(program.to_owned()))?.map_err(cannot)?;
    if !status.success() {
        return Err(PasswordError::Failed { program: program.to_owned(), status: status.to_string() });
    }
    Ok(output)
}

/// All that the child writes, or `None` where that takes longer than `limit`.
fn read_within(child: &mut Child, limit: Duration) -> Option<std::io::Result<String>> {
    let mut pipe = child.stdout.take()?.take(MOST_BYTES);
    let (sender, receiver) = mpsc::channel();
    std::thread::spawn(move || {
        let mut output = String::new();
        let read = pipe.read_to_string(&mut output).map(|_| output);
        // Nobody listens any more once the limit has passed.
        let _ = sender.send(read);
    });
    receiver.recv_timeout(limit).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nothing(_: &str) -> Option<OsString> {
        None
    }

    fn exposed(source: &PasswordSource) -> String {
        source.fetch(&nothing).unwrap().password.expose_secret().to_owned()
    }

    #[test]
    fn the_environment_gives_it() {
        let source = PasswordSource::Environment("MAIL_PASSWORD".to_owned());
        let fetched = source.fetch(&|name| (name == "MAIL_PASSWORD").then(|| "p w\u{fc}".into())).unwrap();
        assert_eq!(fetched.password.expose_secret(), "p wü");
        let message = source.fetch(&nothing).unwrap_err().to_string();
        assert!(message.contains("MAIL_PASSWORD"), "{message}");
        assert!(matches!(source.fetch(&|_| Some("".into())), Err(PasswordError::Empty(_))));
    }

    #[cfg(unix)]
    #[test]
    fn a_file_gives_its_first_line_and_is_checked_for_readers() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("password");
        std::fs::write(&path, "quince jelly\r\nsecond line\n").unwrap();
        let source = PasswordSource::File(path.clone());
        for (mode, warned) in [(0o600, false), (0o640, true), (0o604, true)] {
            std::fs::set_permissions(&path, std::fs::Permissions::from_mode(mode)).unwrap();
            let fetched = source.fetch(&nothing).unwrap();
            assert_eq!(fetched.password.expose_secret(), "quince jelly");
            assert_eq!(fetched.warnings.len(), usize::from(warned), "{mode:o}");
            assert!(!format!("{fetched:?}").contains("quince"), "{fetched:?}");
        }
        let gone = PasswordSource::File(folder.path().join("gone"));
        assert!(gone.fetch(&nothing).unwrap_err().to_string().contains("gone"));
    }

    #[cfg(unix)]
    #[test]
    fn a_command_gives_its_first_line_without_a_shell() {
        let command = |words: &[&str]| PasswordSource::Command(words.iter().map(|&word| word.to_owned()).collect());
        assert_eq!(exposed(&command(&["printf", "%s\\nrest", "$HOME; quince"])), "$HOME; quince");
        assert!(matches!(command(&["false"]).fetch(&nothing), Err(PasswordError::Failed { .. })));
        assert!(matches!(command(&["true"]).fetch(&nothing), Err(PasswordError::Empty(_))));
        assert!(matches!(command(&["no-such-program-here"]).fetch(&nothing), Err(PasswordError::Command { .. })));
        assert!(matches!(command(&[]).fetch(&nothing), Err(PasswordError::Empty(_))));
    }

    #[cfg(unix)]
    #[test]
    fn a_command_that_hangs_is_given_up() {
        let mut child = Command::new("sleep").arg("30").stdout(Stdio::piped()).spawn().unwrap();
        assert!(read_within(&mut child, Duration::from_millis(50)).is_none());
        child.kill().unwrap();
        child.wait().unwrap();
    }
}
