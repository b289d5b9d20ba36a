//! `act`: what was done last, and taking it back.

use super::session::Session;
use crate::book::act_in_words;
use crate::cli::Act;
use crate::error::CommandError;
use crate::render::acts as render;
use crate::view::acts::acts;
use crate::view::done::UndoneView;

pub fn run(session: &Session, what: &Act) -> Result<String, CommandError> {
    let mut store = session.open()?;
    match what {
        Act::List { last } => {
            let view = acts(&store.reading()?.acts((*last).min(10_000))?);
            session.answer(&view, |screen| render::terminal(&view, session.clock.today(), screen))
        }
        Act::Undo { act, .. } => {
            let writing = store.writing()?;
            let undone = writing.undo(*act, &session.stamp())?;
            writing.commit()?;
            let (kind, subject, number) = (&undone.act.kind, &undone.act.subject, undone.act.act);
            let view = UndoneView {
                act: number,
                kind: kind.to_string(),
                subject: subject.clone(),
                stands: undone.again,
                by: undone.by,
            };
            session.answer(&view, |_| {
                let what = if undone.again { "stands again" } else { "is taken back" };
                let done = format!("{} {subject}", act_in_words(kind));
                format!("Act {number} ({}) {what}. `stillroom act undo {}` undoes that.\n", done.trim_end(), undone.by)
            })
        }
    }
}
