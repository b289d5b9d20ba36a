//! Copies of the store in folders: what they are called, which there are, which go.

use super::session::Session;
use crate::error::CommandError;
use chrono::{NaiveDate, NaiveDateTime};
use std::path::{Path, PathBuf};

/// A file that is, by its name, a copy of the store.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct StoreCopy {
    /// When it was made, by the workshop's clock: year, month and so on to the minute; `None` where its name does not say.
    pub made: Option<NaiveDateTime>,
    /// Which of that minute.
    pub number: u32,
    /// The file.
    pub path: PathBuf,
}

/// `2027-03-09-0815`.
const STAMP: &str = "%Y-%m-%d-%H%M";
const STAMP_LENGTH: usize = 15;

/// The folder for backups: as the settings say, else `backups` beside the store.
///
/// # Errors
/// Where no store is named.
pub fn folder(session: &Session) -> Result<PathBuf, CommandError> {
    Ok(match &session.config.backup.folder {
        Some(folder) => folder.clone(),
        None => session.store_file()?.with_file_name("backups"),
    })
}

/// `workshop-2027-03-09-0815.sqlite`, or with a word `workshop.replaced-2027-03-09-0815.sqlite`: by the workshop's day and time.
///
/// # Errors
/// Where no store is named.
pub fn dated_name(session: &Session, word: &str) -> Result<String, CommandError> {
    let time = session.clock.wall().shows(session.clock.now()).time();
    let made = session.clock.today().and_time(time);
    Ok(format!("{}{word}-{}.sqlite", stem(session.store_file()?), made.format(STAMP)))
}

/// The part of the store's name before `.sqlite`.
fn stem(store: &Path) -> String {
    store.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default()
}

/// The backups of the store in a folder, the newest first. Files of other names are not among them.
pub fn backups(store: &Path, folder: &Path) -> Vec<StoreCopy> {
    let begin = format!("{}-", stem(store));
    let mut found: Vec<StoreCopy> = named(folder, |name| {
        let middle = name.strip_prefix(&begin)?.strip_suffix(".sqlite")?;
        stamp(middle).map(|(made, number)| (Some(made), number))
    });
    found.sort_by(|one, other| other.cmp(one));
    found
}

/// What lies beside the store: what `restore` replaced, the newest first, then copies from before a migration.
pub fn beside(store: &Path) -> Vec<StoreCopy> {
    let folder = store.parent().unwrap_or(Path::new(""));
    let (replaced, before) = (format!("{}.replaced-", stem(store)), format!("{}.before-v", stem(store)));
    let mut found = named(folder, |name| {
        let name = name.strip_suffix(".sqlite")?;
        match name.strip_prefix(&replaced) {
            Some(middle) => stamp(middle).map(|(made, number)| (Some(made), number)),
            None => name.strip_prefix(&before).map(|_| (None, 1)),
        }
    });
    found.sort_by(|one, other| other.cmp(one));
    found
}

/// Removes all but the newest backups of the store in the folder; `made`, the one that was just made, always stays. Returns
/// what was removed.
///
/// # Errors
/// Where one cannot be removed.
pub fn prune(store: &Path, folder: &Path, keep: u32, made: &Path) -> Result<Vec<PathBuf>, CommandError> {
    let others = backups(store, folder).into_iter().map(|copy| copy.path).filter(|path| path != made);
    let mut removed = Vec::new();
    // A clock that jumped back must not take away what was made last.
    for path in others.skip((keep as usize).saturating_sub(1)) {
        std::fs::remove_file(&path).map_err(|error| {
            CommandError::work(format!("the older copy {} could not be removed: {error}", path.display()))
                .hint("the new copy is made; look who owns the folder, or set [backup] keep higher")
        })?;
        removed.push(path);
    }
    Ok(removed)
}

fn named(folder: &Path, read: impl Fn(&str) -> Option<(Option<NaiveDateTime>, u32)>) -> Vec<StoreCopy> {
    let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    // A folder that is not there holds nothing.
    let entries = std::fs::read_dir(here).into_iter().flatten().filter_map(Result::ok);
    let files = entries.filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_file()));
    files
        .filter_map(|entry| {
            let name = entry.file_name();
            let (made, number) = read(name.to_str()?)?;
            Some(StoreCopy { made, number, path: folder.join(name) })
        })
        .collect()
}

/// Reads `2027-03-09-0815` or `2027-03-09-0815-2`.
fn stamp(text: &str) -> Option<(NaiveDateTime, u32)> {
    let (made, rest) = text.split_at_checked(STAMP_LENGTH)?;
    let made = NaiveDateTime::parse_from_str(made, STAMP).ok().filter(|read| read.format(STAMP).to_string() == made)?;
    let number = match rest {
        "" => 1,
        rest => {
            let digits = rest.strip_prefix('-')?;
            digits.parse().ok().filter(|number: &u32| *number >= 2 && number.to_string() == digits)?
        }
    };
    Some((made, number))
}

/// The newest backup of a day, where there is one.
pub fn of_day(store: &Path, folder: &Path, day: NaiveDate) -> Option<PathBuf> {
    let mut backups = backups(store, folder).into_iter();
    backups.find(|copy| copy.made.is_some_and(|made| made.date() == day)).map(|copy| copy.path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_our_own_names_are_read_and_removed() {
        let folder = tempfile::tempdir().unwrap();
        let store = folder.path().join("workshop.sqlite");
        let ours = [
            "workshop-2027-03-09-0815.sqlite",
            "workshop-2027-03-09-0815-2.sqlite",
            "workshop-2027-03-09-0815-10.sqlite",
            "workshop-2027-03-08-2359.sqlite",
        ];
        let others = [
            "workshop.sqlite",
            "workshop-2027-03-09.sqlite",
            "workshop-2027-03-09-0815-1.sqlite",
            "workshop-2027-03-09-0815-02.sqlite",
            "workshop-2027-03-09-0815-x.sqlite",
            "workshop-2027-02-30-0815.sqlite",
            "workshop-2027-03-09-2460.sqlite",
            "workshop-2027-03-09-0815.sqlite.old",
            "workshop-before-the-fair.sqlite",
            "workshop-\u{e4}2027-03-09-081.sqlite",
            "shop-2027-03-09-0815.sqlite",
            "workshop.replaced-2027-03-09-0815.sqlite",
            "workshop.before-v5.sqlite",
        ];
        for name in ours.iter().chain(&others) {
            std::fs::write(folder.path().join(name), name).unwrap();
        }
        std::fs::create_dir(folder.path().join("workshop-2027-03-07-0815.sqlite")).unwrap();
        let names = |copies: Vec<StoreCopy>| -> Vec<String> {
            copies.iter().map(|copy| copy.path.file_name().unwrap().to_str().unwrap().to_owned()).collect()
        };
        assert_eq!(names(backups(&store, folder.path())), [ours[2], ours[1], ours[0], ours[3]]);
        assert_eq!(names(beside(&store)), ["workshop.replaced-2027-03-09-0815.sqlite", "workshop.before-v5.sqlite"]);
        let day = |text: &str| of_day(&store, folder.path(), text.parse().unwrap());
        assert_eq!(day("2027-03-08"), Some(folder.path().join(ours[3])));
        assert_eq!(day("2027-03-10"), None);

        // The one just made stays although its name is the oldest.
        let made = folder.path().join(ours[3]);
        let removed = prune(&store, folder.path(), 2, &made).unwrap();
        assert_eq!(removed, [folder.path().join(ours[1]), folder.path().join(ours[0])]);
        assert_eq!(names(backups(&store, folder.path())), [ours[2], ours[3]]);
        for name in others {
            assert_eq!(std::fs::read_to_string(folder.path().join(name)).unwrap(), name);
        }
    }
}
