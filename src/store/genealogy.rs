//! What went into what, followed through the ledger from one lot or batch: onwards to all that holds it, back to all
//! that is in it. Only what can be reached is read, link by link, by index.

use super::Reading;
use super::bench::STANDS;
use super::error::StoreError;
use super::load::all;
use crate::book::{Decanting, Draw, Genealogy, Yield};
use rusqlite::Row;

/// Where a trace begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TraceFrom<'a> {
    /// A lot.
    Lot(&'a str),
    /// A batch.
    Batch(&'a str),
}

/// Which way the links are followed.
#[derive(Clone, Copy)]
enum Way {
    Onwards,
    Back,
}

impl Reading<'_> {
    /// All links that can be reached from a lot or a batch, onwards and back; what was undone is no link. None where
    /// there is no such lot or batch.
    ///
    /// # Errors
    /// Whatever keeps the file from being read.
    pub fn genealogy(&self, from: TraceFrom<'_>) -> Result<Genealogy, StoreError> {
        let mut genealogy = Genealogy::default();
        for way in [Way::Onwards, Way::Back] {
            self.collect(from, way, &mut genealogy)?;
        }
        // From one node the two ways share no link, but a link may be found by two paths.
        genealogy.draws.sort();
        genealogy.draws.dedup();
        genealogy.yields.sort();
        genealogy.yields.dedup();
        genealogy.decantings.sort();
        genealogy.decantings.dedup();
        Ok(genealogy)
    }

    fn collect(&self, from: TraceFrom<'_>, way: Way, genealogy: &mut Genealogy) -> Result<(), StoreError> {
        let (is_batch, code) = match from {
            TraceFrom::Lot(code) => ("0", code),
            TraceFrom::Batch(code) => ("1", code),
        };
        let reach = format!("WITH RECURSIVE {}", reach(way));
        let connection = self.connection();
        // A lot leads onwards by its issues and back by its receipts, a batch the other way round.
        let (of_lots, of_batches) = match way {
            Way::Onwards => ("issue", "receipt"),
            Way::Back => ("receipt", "issue"),
        };
        for (is_lot, kind) in [(1, of_lots), (0, of_batches)] {
            let joined = if is_lot == 1 { "lot" } else { "batch" };
            let sql = format!(
                "{reach} SELECT movements.lot, movements.batch, abs(sum(movements.amount))
                FROM reach CROSS JOIN movements ON movements.{joined} = reach.code
                WHERE reach.is_batch = 1 - {is_lot} AND movements.kind = '{kind}' AND movements.batch IS NOT NULL
                    AND {STANDS}
                GROUP BY movements.lot, movements.batch"
            );
            let read = |row: &Row<'_>| Ok((row.get(0)?, row.get(1)?, row.get(2)?));
            for (lot, batch, amount) in all(connection, &sql, [is_batch, code], read)? {
                if kind == "issue" {
                    genealogy.draws.push(Draw { lot, batch, amount });
                } else {
                    genealogy.yields.push(Yield { batch, lot, amount });
                }
            }
        }
        let sql = format!(
            "{reach} SELECT movements.lot, other.lot, abs(movements.amount)
            FROM reach {} WHERE reach.is_batch = 0 AND {}",
            DECANTING,
            decanted(way)
        );
        let read = |row: &Row<'_>| Ok((row.get(0)?, row.get(1)?, row.get(2)?));
        for (one, other, amount) in all(connection, &sql, [is_batch, code], read)? {
            let (from, into) = if matches!(way, Way::Onwards) { (one, other) } else { (other, one) };
            genealogy.decantings.push(Decanting { from, into, amount });
        }
        Ok(())
    }
}

/// The lots and batches that can be reached one way: `?1` is `1` for a batch, `?2` the code. CROSS JOIN makes SQLite
/// take what was reached first and look for its movements by index.
fn reach(way: Way) -> String {
    let (of_lots, of_batches) = match way {
        Way::Onwards => ("issue", "receipt"),
        Way::Back => ("receipt", "issue"),
    };
    format!(
        "reach (is_batch, code) AS (
            VALUES (CAST(?1 AS INTEGER), ?2)
            UNION
            SELECT 1, movements.batch FROM reach CROSS JOIN movements ON movements.lot = reach.code
            WHERE reach.is_batch = 0 AND movements.kind = '{of_lots}' AND movements.batch IS NOT NULL AND {STANDS}
            UNION
            SELECT 0, movements.lot FROM reach CROSS JOIN movements ON movements.batch = reach.code
            WHERE reach.is_batch = 1 AND movements.kind = '{of_batches}' AND movements.batch IS NOT NULL AND {STANDS}
            UNION
            SELECT 0, other.lot FROM reach {} WHERE reach.is_batch = 0 AND {}
        )",
        DECANTING,
        decanted(way)
    )
}

/// From a lot that was reached to the other movements of the acts that moved it.
const DECANTING: &str =
    "CROSS JOIN movements ON movements.lot = reach.code CROSS JOIN movements AS other ON other.act = movements.act";

/// A decanting is an issue without a batch and a receipt of as much into another lot of the same item, in one act.
fn decanted(way: Way) -> String {
    let (own, others) = match way {
        Way::Onwards => ("issue", "receipt"),
        Way::Back => ("receipt", "issue"),
    };
    format!(
        "movements.kind = '{own}' AND movements.batch IS NULL AND other.kind = '{others}' AND other.batch IS NULL
            AND +other.reverses IS NULL AND other.amount = -movements.amount AND other.lot <> movements.lot
            AND (SELECT material FROM lots WHERE lots.lot = other.lot)
                = (SELECT material FROM lots WHERE lots.lot = movements.lot)
            AND {STANDS}"
    )
}
