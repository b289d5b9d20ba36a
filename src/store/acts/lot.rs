//! The life of a lot: opened, released, rejected, tested again, moved to another place.

use super::super::changes::Spot;
use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Because, Held, held};
use super::super::{Stamp, Writing};
use crate::plan::model::LotState;
use chrono::NaiveDate;

impl Writing<'_> {
    /// Opens a lot on the day of the act: from then on its after-opening life runs.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::Empty`], [`Refusal::IsRejected`], [`Refusal::StateAlready`], and whatever keeps
    /// the file from being written.
    pub fn open(&self, lot: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            self.usable(lot)?;
            let spot = Spot::lot(lot, "opened");
            if let Some(day) = spot.current(self.connection())?.filter(|day| !day.is_empty()) {
                return Err(Refusal::StateAlready { lot: lot.to_owned(), state: format!("opened (on {day})") }.into());
            }
            let act = Act::begin(self.connection(), "open", lot, stamp)?;
            act.change(spot, &stamp.day.to_string(), Because::default())
        })
    }

    /// Releases a lot from quarantine. `reason` may be empty.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::IsRejected`], [`Refusal::StateAlready`], and whatever keeps the file from being
    /// written.
    pub fn release(&self, lot: &str, who: &str, reason: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| match held(self.connection(), lot)?.state {
            LotState::Released => Err(already(lot, LotState::Released)),
            LotState::Rejected => Err(Refusal::IsRejected { lot: lot.to_owned() }.into()),
            LotState::Quarantine => self.set_state("release", lot, LotState::Released, Because { who, reason }, stamp),
        })
    }

    /// Rejects a lot: what is left of it is never used.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::NoReason`], [`Refusal::StateAlready`], and whatever keeps the file from being
    /// written.
    pub fn reject(&self, lot: &str, reason: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            must_say("a rejection", reason)?;
            if held(self.connection(), lot)?.state == LotState::Rejected {
                return Err(already(lot, LotState::Rejected));
            }
            self.set_state("reject", lot, LotState::Rejected, Because { who: &stamp.who, reason }, stamp)
        })
    }

    /// A lot was tested again and is good until `best_before`. Its state stays.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::NobodyNamed`], [`Refusal::NoReason`], [`Refusal::Empty`],
    /// [`Refusal::IsRejected`], [`Refusal::PastBestBefore`], [`Refusal::StateAlready`], and whatever keeps the file
    /// from being written.
    pub fn retest_passed(
        &self,
        lot: &str,
        best_before: NaiveDate,
        who: &str,
        why: &str,
        stamp: &Stamp,
    ) -> Result<(), StoreError> {
        self.whole(|| {
            must_name(who)?;
            must_say("a retest", why)?;
            self.usable(lot)?;
            if best_before < stamp.day {
                return Err(Refusal::PastBestBefore { lot: lot.to_owned(), best_before, today: stamp.day }.into());
            }
            let (spot, after) = (Spot::lot(lot, "best_before"), best_before.to_string());
            if spot.current(self.connection())?.is_some_and(|before| before == after) {
                let state = format!("good until {best_before}");
                return Err(Refusal::StateAlready { lot: lot.to_owned(), state }.into());
            }
            let act = Act::begin(self.connection(), "retest-passed", lot, stamp)?;
            act.change(spot, &after, Because { who, reason: why })
        })
    }

    /// A lot was tested again and is not good any more: it is rejected.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::NobodyNamed`], [`Refusal::NoReason`], [`Refusal::StateAlready`], and whatever
    /// keeps the file from being written.
    pub fn retest_failed(&self, lot: &str, who: &str, why: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            must_name(who)?;
            must_say("a retest", why)?;
            if held(self.connection(), lot)?.state == LotState::Rejected {
                return Err(already(lot, LotState::Rejected));
            }
            self.set_state("retest-failed", lot, LotState::Rejected, Because { who, reason: why }, stamp)
        })
    }

    /// Puts a lot at another place; an empty one says that it has none.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::StateAlready`], and whatever keeps the file from being written.
    pub fn move_lot(&self, lot: &str, place: &str, stamp: &Stamp) -> Result<(), StoreError> {
        self.whole(|| {
            self.must_exist("lot", "SELECT 1 FROM lots WHERE lot = ?1", lot)?;
            let (spot, place) = (Spot::lot(lot, "place"), place.trim());
            if spot.current(self.connection())?.is_some_and(|before| before == place) {
                let state = if place.is_empty() { "without a place".to_owned() } else { format!("at {place}") };
                return Err(Refusal::StateAlready { lot: lot.to_owned(), state }.into());
            }
            let act = Act::begin(self.connection(), "move", lot, stamp)?;
            act.change(spot, place, Because::default())
        })
    }

    fn set_state(
        &self,
        kind: &str,
        lot: &str,
        state: LotState,
        because: Because<'_>,
        stamp: &Stamp,
    ) -> Result<(), StoreError> {
        let act = Act::begin(self.connection(), kind, lot, stamp)?;
        act.change(Spot::lot(lot, "state"), state.word(), because)
    }

    /// What a lot holds, where there is something left and it is not rejected.
    fn usable(&self, lot: &str) -> Result<Held, StoreError> {
        let held = held(self.connection(), lot)?;
        if held.state == LotState::Rejected {
            return Err(Refusal::IsRejected { lot: lot.to_owned() }.into());
        }
        if held.on_hand.is_zero() {
            return Err(Refusal::Empty { lot: lot.to_owned() }.into());
        }
        Ok(held)
    }
}

fn already(lot: &str, state: LotState) -> StoreError {
    Refusal::StateAlready { lot: lot.to_owned(), state: state.word().to_owned() }.into()
}

/// Refuses an empty reason.
pub(super) fn must_say(what: &'static str, reason: &str) -> Result<(), StoreError> {
    if reason.trim().is_empty() { Err(Refusal::NoReason { what }.into()) } else { Ok(()) }
}

fn must_name(who: &str) -> Result<(), StoreError> {
    if who.trim().is_empty() { Err(Refusal::NobodyNamed { what: "a retest" }.into()) } else { Ok(()) }
}
