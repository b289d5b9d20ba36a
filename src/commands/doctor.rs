//! `doctor`: is the store whole, and if not, how to come back.

use super::copies::{self, StoreCopy};
use super::session::Session;
use crate::cli::Doctor;
use crate::error::CommandError;
use crate::render::safe as render;
use crate::store::{examine, network_kind};
use crate::view::safe::{CopyView, DoctorView, HurtView};
use std::path::Path;

pub fn run(session: &Session, arguments: &Doctor) -> Result<String, CommandError> {
    let store = session.store_file()?;
    let file = arguments.file.as_deref().unwrap_or(store);
    let checkup = examine(file).map_err(|error| error.at(file))?;
    // Of the copies it is only asked where they are needed whether they are sound: that takes its time.
    let copies = copies::backups(store, &copies::folder(session)?).into_iter().chain(copies::beside(store));
    let copies = copies.filter(|copy| copy.path != file).map(|copy| looked_at(&copy, !checkup.is_sound())).collect();
    let view = DoctorView {
        as_of: session.clock.today(),
        file: file.display().to_string(),
        is_store: arguments.file.is_none() || file == store,
        sound: checkup.is_sound(),
        version: checkup.version,
        newest_version: checkup.known,
        acts: checkup.acts,
        movements: checkup.movements,
        lots: checkup.lots,
        batches: checkup.batches,
        network: network_kind(file),
        hurts: checkup
            .hurts
            .iter()
            .map(|hurt| HurtView { law: hurt.law.to_owned(), message: hurt.message.clone() })
            .collect(),
        readable: checkup.readable,
        copies,
    };
    if view.sound {
        return session.answer(&view, |_| render::doctor(&view));
    }
    let error = CommandError::work(render::hurt(&view)).hint(render::way_back(&view));
    Err(if session.json { error.answer(session.answer(&view, |_| String::new())?) } else { error })
}

fn looked_at(copy: &StoreCopy, examined: bool) -> CopyView {
    let sound = examined.then(|| is_sound(&copy.path));
    let made = copy.made.map(|made| made.format("%Y-%m-%dT%H:%M").to_string());
    CopyView { file: copy.path.display().to_string(), made, sound }
}

/// A copy that cannot be looked at is of no more use than one that is hurt.
fn is_sound(path: &Path) -> bool {
    examine(path).is_ok_and(|checkup| checkup.is_sound())
}
