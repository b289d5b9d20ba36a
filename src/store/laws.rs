//! What always holds in the ledgers, each law as a query for what breaks it, in words.

/// A law.
pub(super) struct Law {
    /// What it is called.
    pub(super) name: &'static str,
    /// The version of the store from which on it holds.
    pub(super) since: i64,
    /// One row with one sentence for each breach, in a fixed order.
    pub(super) breaches: &'static str,
}

/// All laws that are a query. Those of the balances of lots are counted over in one pass, [`super::recount`].
pub(super) const LAWS: &[Law] = &[
    Law {
        name: "plan-made",
        since: 6,
        breaches: "SELECT 'plan entry ' || entry || ' is marked as ' || iif(made, 'made, and no batch fulfils it',
                'still to be made, and a batch fulfils it')
            FROM plan
            WHERE made <> EXISTS (
                SELECT 1 FROM batches
                WHERE batches.entry = plan.entry AND batches.entry <> '' AND fulfils_entry = 1 AND undone = 0
            )
            ORDER BY entry",
    },
    Law {
        name: "lots-used",
        since: 1,
        breaches: "SELECT 'lot ' || lot || ' has been used or counted, and is not marked so'
            FROM lot_balances
            WHERE moved = 0 AND EXISTS (SELECT 1 FROM movements WHERE movements.lot = lot_balances.lot AND kind <> 'receipt')
            ORDER BY lot",
    },
    // A lot may come into the store used up, with what it once cost; only what was drawn empty has taken its cost along.
    Law {
        name: "empty-costs-nothing",
        since: 1,
        breaches: "SELECT 'lot ' || lot || ' is empty, and still worth ' || cost
            FROM lot_balances
            WHERE on_hand = 0 AND cost <> 0 AND moved = 1
                AND EXISTS (SELECT 1 FROM movements WHERE movements.lot = lot_balances.lot AND amount <> 0)
            ORDER BY lot",
    },
    Law {
        name: "reversals",
        since: 1,
        breaches: "SELECT 'movement ' || back.movement || ' should take back movement ' || back.reverses || ', and does not'
            FROM movements AS back LEFT JOIN movements AS first ON first.movement = back.reverses
            WHERE back.reverses IS NOT NULL
                AND (first.movement IS NULL OR first.movement >= back.movement OR first.reverses IS NOT NULL
                    OR first.lot <> back.lot OR first.kind <> back.kind
                    OR first.amount <> -back.amount OR first.cost <> -back.cost)
            ORDER BY back.movement",
    },
    Law {
        name: "piece-balances",
        since: 2,
        breaches: "SELECT 'batch ' || batches.batch || ': its balance says ' || coalesce(kept.on_hand, 0)
                || ' pieces, those that came and left add up to ' || coalesce(summed.pieces, 0)
            FROM batches LEFT JOIN piece_balances AS kept USING (batch)
            LEFT JOIN (SELECT batch, sum(pieces) AS pieces FROM pieces GROUP BY batch) AS summed USING (batch)
            WHERE coalesce(kept.on_hand, 0) <> coalesce(summed.pieces, 0)
            ORDER BY batches.batch",
    },
    Law {
        name: "pieces-never-below-nothing",
        since: 2,
        breaches: "SELECT 'batch ' || batch || ' has ' || held || ' pieces after row ' || piece_movement || ' of its ledger'
            FROM (
                SELECT batch, piece_movement, sum(pieces) OVER (PARTITION BY batch ORDER BY piece_movement) AS held FROM pieces
            )
            WHERE held < 0
            ORDER BY piece_movement",
    },
    Law {
        name: "piece-reversals",
        since: 2,
        breaches: "SELECT 'row ' || back.piece_movement || ' of the pieces should take back row ' || back.reverses || ', and does not'
            FROM pieces AS back LEFT JOIN pieces AS first ON first.piece_movement = back.reverses
            WHERE back.reverses IS NOT NULL
                AND (first.piece_movement IS NULL OR first.piece_movement >= back.piece_movement OR first.reverses IS NOT NULL
                    OR first.batch <> back.batch OR first.kind <> back.kind OR first.pieces <> -back.pieces)
            ORDER BY back.piece_movement",
    },
    Law {
        name: "pieces-made",
        since: 2,
        breaches: "SELECT 'batch ' || batches.batch || ' says that it became ' || iif(undone, 0, batches.pieces)
                || ' pieces, its ledger ' || coalesce(made, 0)
            FROM batches
            LEFT JOIN (SELECT batch, sum(pieces) AS made FROM pieces WHERE kind = 'made' GROUP BY batch) AS summed USING (batch)
            WHERE product IS NOT NULL AND coalesce(made, 0) <> iif(undone, 0, batches.pieces)
            ORDER BY batches.batch",
    },
];
