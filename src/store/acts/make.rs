//! A batch is made: its lots are drawn from, each draw with its exact part of the lot's cost, and it becomes pieces or a
//! lot of premix.

use super::super::changes::Spot;
use super::super::error::{Refusal, StoreError};
use super::super::ledger::{Act, Because, Held, cost_share, held, write_movement, write_pieces};
use super::super::{Reading, Stamp, Writing, rows};
use crate::book::rows::{BatchRow, LotRow, MovementKind, MovementRow, PieceKind, WeighingRow};
use crate::plan::model::{LotState, PlanAmount};
use crate::plan::money::{Currency, Price};
use crate::plan::quantity::{Mass, Quantity};
use std::collections::BTreeMap;

/// A line of the weighing sheet as it was filled in; amounts are in the unit of the lot's item.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Weighing {
    /// The lot that was taken.
    pub lot: String,
    /// What the sheet asked for; 0 for what it did not ask for.
    pub target: Quantity,
    /// What was taken; 0 for what was left out.
    pub weighed: Quantity,
    /// The vessel's mass, where it was noted.
    pub tare: Option<Mass>,
    /// Why it differs, where it does.
    pub reason: String,
    /// Where the lot holds less than was taken: why the count was wrong. The lot is counted first then.
    pub count_first: Option<String>,
}

/// A batch with all that went into it and came of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Making {
    /// The batch: of a product with its pieces, or of a premix.
    pub batch: BatchRow,
    /// What was weighed and counted out, in the order of the sheet.
    pub weighings: Vec<Weighing>,
    /// What the plan entry still asks for, where the batch was a part of it; `None` leaves it as it is.
    pub rest: Option<PlanAmount>,
    /// The lot that a batch of a premix becomes. Its cost is what the draws cost, in home money
    /// ([`Reading::draws`] tells it before).
    pub becomes: Option<LotRow>,
}

/// What a line of the weighing sheet takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawn {
    /// From which lot.
    pub lot: String,
    /// How much.
    pub amount: Quantity,
    /// What that cost.
    pub cost: Price,
    /// In which currency.
    pub currency: Currency,
    /// What a count found first, and its cost in minor units of the same currency.
    pub found: Option<(Quantity, i64)>,
}

impl Reading<'_> {
    /// What the lines of a weighing sheet would take, and what that costs; lines that take nothing are left out.
    /// Nothing is written.
    ///
    /// # Errors
    /// [`Refusal::Unknown`], [`Refusal::NotReleased`], [`Refusal::HoldsLess`], [`Refusal::Negative`],
    /// [`Refusal::CountWithoutReason`], and whatever keeps the file from being read.
    pub fn draws(&self, weighings: &[Weighing]) -> Result<Vec<Drawn>, StoreError> {
        let mut lots: BTreeMap<&str, (Held, (i64, i64))> = BTreeMap::new();
        let mut drawn = Vec::new();
        for weighing in weighings {
            if weighing.weighed < Quantity::ZERO || weighing.target < Quantity::ZERO {
                return Err(Refusal::Negative { what: format!("what is drawn from lot {}", weighing.lot) }.into());
            }
            if !lots.contains_key(weighing.lot.as_str()) {
                lots.insert(&weighing.lot, (held(self.connection(), &weighing.lot)?, (0, 0)));
            }
            let Some((held, pending)) = lots.get_mut(weighing.lot.as_str()).filter(|_| !weighing.weighed.is_zero())
            else {
                continue;
            };
            drawn.push(self.draw(weighing, held, pending)?);
        }
        Ok(drawn)
    }

    /// Takes one line from what its lot holds at that moment.
    fn draw(&self, weighing: &Weighing, held: &mut Held, pending: &mut (i64, i64)) -> Result<Drawn, StoreError> {
        let lot = weighing.lot.clone();
        if held.state != LotState::Released {
            return Err(Refusal::NotReleased { lot }.into());
        }
        let missing = weighing.weighed - held.on_hand;
        let found = if missing > Quantity::ZERO {
            let Some(reason) = &weighing.count_first else {
                let (held, unit) = (held.on_hand, held.unit);
                return Err(Refusal::HoldsLess { lot, held, asked: weighing.weighed, unit }.into());
            };
            if reason.trim().is_empty() {
                return Err(Refusal::CountWithoutReason.into());
            }
            let cost = self.count_cost(&lot, held, missing, *pending)?;
            *pending = (pending.0 + missing.0, pending.1 + cost);
            held.on_hand += missing;
            held.cost.minor += cost;
            Some((missing, cost))
        } else {
            None
        };
        let cost = cost_share(held, weighing.weighed);
        held.on_hand -= weighing.weighed;
        held.cost.minor -= cost.minor;
        Ok(Drawn { lot, amount: weighing.weighed, cost, currency: held.currency, found })
    }
}

impl Writing<'_> {
    /// Writes down a batch and draws its lots, on the day it was made. A lot that is drawn from for the first time is
    /// opened by it. A plan entry that the batch fulfils is done and leaves the plan.
    ///
    /// Returns what was drawn, as [`Reading::draws`].
    ///
    /// # Errors
    /// [`Refusal::Taken`], [`Refusal::Unknown`], [`Refusal::Made`], [`Refusal::ProductOrPremix`],
    /// [`Refusal::Becomes`], [`Refusal::NoEntry`], [`Refusal::NotAboveZero`], those of [`Reading::draws`], and whatever keeps the file from
    /// being written.
    pub fn make(&self, making: &Making, stamp: &Stamp) -> Result<Vec<Drawn>, StoreError> {
        self.whole(|| {
            let batch = &making.batch;
            self.check_making(making)?;
            let drawn = self.draws(&making.weighings)?;
            rows::new_batches(self.connection(), &[batch])?;
            let act = Act::begin(self.connection(), "make", &batch.batch, stamp)?;
            act.made(Spot::batch(&batch.batch), Because::default())?;
            self.write_sheet(batch, &making.weighings)?;
            let reasons = making.weighings.iter().filter(|weighing| !weighing.weighed.is_zero());
            for (drawn, weighing) in drawn.iter().zip(reasons) {
                self.write_draw(&act, batch, drawn, weighing)?;
            }
            if let Some(lot) = &making.becomes {
                rows::lots(self.connection(), &[lot])?;
                let receipt = act.movement(MovementKind::Receipt, &lot.lot, lot.amount.0, lot.cost.minor)?;
                let row = MovementRow { day: batch.made_on, batch: batch.batch.clone(), ..receipt };
                write_movement(self.connection(), &row)?;
            }
            if batch.pieces > 0 {
                let made = act.pieces(PieceKind::Made, &batch.batch, batch.pieces)?;
                let row = crate::book::rows::PieceRow { day: batch.made_on, ..made };
                write_pieces(self.connection(), &row)?;
            }
            if let Some(rest) = making.rest {
                let (amount, kind) = rows::plan_amount(rest);
                act.change(Spot::plan(&batch.entry, "amount"), &format!("{kind} {amount}"), Because::default())?;
            }
            Ok(drawn)
        })
    }

    fn check_making(&self, making: &Making) -> Result<(), StoreError> {
        let batch = &making.batch;
        if self.exists("SELECT 1 FROM batches WHERE batch = ?1", &batch.batch)? {
            return Err(Refusal::Taken { what: "batch", code: batch.batch.clone() }.into());
        }
        let wrong = |of: String, becomes| Refusal::Becomes { batch: batch.batch.clone(), of, becomes };
        match (batch.product.as_str(), batch.premix.as_str(), &making.becomes) {
            ("", "", _) => return Err(Refusal::ProductOrPremix { batch: batch.batch.clone() }.into()),
            (product, "", lot) => {
                self.must_exist("product", "SELECT 1 FROM products WHERE code = ?1", product)?;
                if lot.is_some() {
                    return Err(wrong(format!("the product {product}"), "pieces, and no lot").into());
                }
            }
            ("", premix, lot) => {
                self.must_exist("premix", "SELECT 1 FROM premixes WHERE code = ?1", premix)?;
                let Some(lot) = lot.as_ref().filter(|lot| lot.material == premix && batch.pieces == 0) else {
                    return Err(wrong(format!("the premix {premix}"), "a lot of it, and no pieces").into());
                };
                self.check_new_lot(lot)?;
            }
            _ => return Err(Refusal::ProductOrPremix { batch: batch.batch.clone() }.into()),
        }
        if batch.pieces < 0 {
            return Err(Refusal::Negative { what: "the number of pieces".to_owned() }.into());
        }
        if !batch.entry.is_empty() {
            self.must_be_planned(&batch.entry)?;
        } else if batch.fulfils_entry || making.rest.is_some() {
            return Err(Refusal::NoEntry { batch: batch.batch.clone() }.into());
        }
        if making.rest.is_some_and(|rest| rows::plan_amount(rest).0 <= 0) {
            return Err(Refusal::NotAboveZero { what: format!("what is left of {}", batch.entry) }.into());
        }
        Ok(())
    }

    fn write_sheet(&self, batch: &BatchRow, weighings: &[Weighing]) -> Result<(), StoreError> {
        for (place, weighing) in (1_i64..).zip(weighings) {
            let row = WeighingRow {
                batch: batch.batch.clone(),
                place,
                lot: weighing.lot.clone(),
                target: weighing.target,
                weighed: weighing.weighed,
                tare: weighing.tare,
                reason: weighing.reason.trim().to_owned(),
            };
            rows::weighings(self.connection(), &[&row])?;
        }
        Ok(())
    }

    fn write_draw(
        &self,
        act: &Act<'_>,
        batch: &BatchRow,
        drawn: &Drawn,
        weighing: &Weighing,
    ) -> Result<(), StoreError> {
        if let Some((found, cost)) = drawn.found {
            let count = act.movement(MovementKind::Count, &drawn.lot, found.0, cost)?;
            let reason = weighing.count_first.as_deref().unwrap_or_default().trim().to_owned();
            write_movement(self.connection(), &MovementRow { day: batch.made_on, reason, ..count })?;
        }
        let issue = act.movement(MovementKind::Issue, &drawn.lot, -drawn.amount.0, -drawn.cost.minor)?;
        let row = MovementRow { day: batch.made_on, batch: batch.batch.clone(), ..issue };
        write_movement(self.connection(), &row)?;
        let spot = Spot::lot(&drawn.lot, "opened");
        if spot.current(self.connection())?.is_some_and(|day| day.is_empty()) {
            act.change(spot, &batch.made_on.to_string(), Because::default())?;
        }
        Ok(())
    }
}
