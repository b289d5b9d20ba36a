-- Why: what happens at the bench. Batches become whole (premixes, who weighed, what the scale said, pieces that come and
-- go), and every act can be undone: the ledger reverses itself, and a log keeps what an act changed beside it.

-- A batch is of a product or of a premix. It may be a part of a plan entry, which then goes on; undone, it keeps its
-- number, so that no label that was printed becomes another batch's.
ALTER TABLE batches ADD COLUMN premix TEXT REFERENCES premixes (code) DEFERRABLE INITIALLY DEFERRED
    CHECK ((premix IS NULL) <> (product IS NULL));
ALTER TABLE batches ADD COLUMN weighed_by TEXT NOT NULL DEFAULT '';
ALTER TABLE batches ADD COLUMN fulfils_entry INTEGER NOT NULL DEFAULT 0
    CHECK (fulfils_entry IN (0, 1) AND (fulfils_entry = 0 OR entry <> ''));
ALTER TABLE batches ADD COLUMN undone INTEGER NOT NULL DEFAULT 0 CHECK (undone IN (0, 1));
UPDATE batches SET fulfils_entry = 1 WHERE entry <> '';
CREATE INDEX batches_by_premix ON batches (premix) WHERE premix IS NOT NULL;

-- The weighing sheet as it was filled in.
CREATE TABLE weighings (
    batch TEXT NOT NULL REFERENCES batches (batch) DEFERRABLE INITIALLY DEFERRED,
    place INTEGER NOT NULL CHECK (place >= 1),
    lot TEXT NOT NULL REFERENCES lots (lot) DEFERRABLE INITIALLY DEFERRED,
    target INTEGER NOT NULL CHECK (target >= 0),
    weighed INTEGER NOT NULL CHECK (weighed >= 0),
    tare INTEGER CHECK (tare >= 0),
    reason TEXT NOT NULL,
    PRIMARY KEY (batch, place)
) STRICT, WITHOUT ROWID;
CREATE INDEX weighings_by_lot ON weighings (lot);

-- Which act an act undoes. To undo an undoing is to do the first thing again.
ALTER TABLE acts ADD COLUMN undoes INTEGER REFERENCES acts (act) DEFERRABLE INITIALLY DEFERRED CHECK (undoes < act);
CREATE INDEX acts_placing_orders ON acts (subject) WHERE kind = 'place-order';
CREATE UNIQUE INDEX acts_by_undone ON acts (undoes) WHERE undoes IS NOT NULL;

-- What an act changed beside the ledger: texts as the tables give them, empty for nothing. `part` is the line of an
-- order, pack and material: `250000 shea`.
CREATE TABLE changes (
    change INTEGER PRIMARY KEY CHECK (change >= 1),
    act INTEGER NOT NULL REFERENCES acts (act) DEFERRABLE INITIALLY DEFERRED,
    what TEXT NOT NULL CHECK (what IN ('lot', 'order', 'plan', 'batch')),
    code TEXT NOT NULL CHECK (code <> ''),
    part TEXT NOT NULL,
    field TEXT NOT NULL CHECK (field <> ''),
    before TEXT NOT NULL,
    after TEXT NOT NULL,
    who TEXT NOT NULL,
    reason TEXT NOT NULL
) STRICT;
CREATE INDEX changes_by_act ON changes (act);
CREATE INDEX changes_by_code ON changes (what, code);

-- Finished pieces that came or left; a second ledger, under the same rules as the first.
CREATE TABLE pieces (
    piece_movement INTEGER PRIMARY KEY CHECK (piece_movement >= 1),
    act INTEGER NOT NULL REFERENCES acts (act) DEFERRABLE INITIALLY DEFERRED,
    batch TEXT NOT NULL REFERENCES batches (batch) DEFERRABLE INITIALLY DEFERRED,
    kind TEXT NOT NULL CHECK (kind IN ('made', 'sale', 'gift', 'sample', 'waste', 'count')),
    pieces INTEGER NOT NULL,
    day TEXT NOT NULL CHECK (day IS date(day)),
    reason TEXT NOT NULL,
    reverses INTEGER UNIQUE REFERENCES pieces (piece_movement) DEFERRABLE INITIALLY DEFERRED,
    CHECK (kind = 'count' OR CASE WHEN (kind = 'made') = (reverses IS NULL) THEN pieces >= 0 ELSE pieces <= 0 END)
) STRICT;
CREATE INDEX pieces_by_batch ON pieces (batch);
CREATE INDEX pieces_by_act ON pieces (act);

-- What is left of each batch. Only the trigger below writes here.
CREATE TABLE piece_balances (
    batch TEXT PRIMARY KEY REFERENCES batches (batch) DEFERRABLE INITIALLY DEFERRED,
    on_hand INTEGER NOT NULL CHECK (on_hand >= 0)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER pieces_keep_balance AFTER INSERT ON pieces
BEGIN
    INSERT INTO piece_balances (batch, on_hand) VALUES (NEW.batch, 0) ON CONFLICT (batch) DO NOTHING;
    UPDATE piece_balances SET on_hand = on_hand + NEW.pieces WHERE batch = NEW.batch;
END;

CREATE TRIGGER pieces_reverse_exactly BEFORE INSERT ON pieces
WHEN NEW.reverses IS NOT NULL AND NOT EXISTS (
    SELECT 1 FROM pieces
    WHERE piece_movement = NEW.reverses AND reverses IS NULL AND batch = NEW.batch AND kind = NEW.kind
        AND pieces = -NEW.pieces
)
BEGIN
    SELECT RAISE(ABORT, 'a reversal takes back exactly one earlier row of the same batch');
END;

-- A lot that was made or decanted here is as good as used: an import may not give it another amount, since what went
-- into it is in the ledger too.
DROP TRIGGER movements_keep_balance;
CREATE TRIGGER movements_keep_balance AFTER INSERT ON movements
BEGIN
    INSERT INTO lot_balances (lot, on_hand, cost, moved) VALUES (NEW.lot, 0, 0, 0) ON CONFLICT (lot) DO NOTHING;
    UPDATE lot_balances
    SET on_hand = on_hand + NEW.amount, cost = cost + NEW.cost,
        moved = moved OR NEW.kind <> 'receipt' OR NEW.batch IS NOT NULL
            OR EXISTS (SELECT 1 FROM movements WHERE act = NEW.act AND kind = 'issue')
    WHERE lot = NEW.lot;
END;

-- What was thrown away in a month is asked for by day.
CREATE INDEX write_offs_by_day ON movements (day) WHERE kind = 'write-off';

-- A store of the first version: its batches get their pieces, all in one act, since that version counted none. Acts
-- before this one are not undone: what they changed beside the ledger was not kept.
INSERT INTO acts (act, kind, subject, recorded_at)
SELECT 1 + coalesce(max(act), 0), 'upgrade', 'pieces', coalesce(max(recorded_at), '2000-01-01T00:00:00Z') FROM acts
HAVING count(*) > 0 OR EXISTS (SELECT 1 FROM batches);
INSERT INTO pieces (piece_movement, act, batch, kind, pieces, day, reason)
SELECT row_number() OVER (ORDER BY batch), (SELECT max(act) FROM acts), batch, 'made', pieces, made_on, ''
FROM batches WHERE pieces > 0;

CREATE TRIGGER pieces_insert_only BEFORE INSERT ON pieces
WHEN EXISTS (SELECT 1 FROM pieces WHERE piece_movement = NEW.piece_movement OR reverses = NEW.reverses)
BEGIN
    SELECT RAISE(ABORT, 'pieces are written once, and reversed once at most');
END;
CREATE TRIGGER pieces_never_updated BEFORE UPDATE ON pieces
BEGIN
    SELECT RAISE(ABORT, 'what became of pieces is never changed, only reversed');
END;
CREATE TRIGGER pieces_never_deleted BEFORE DELETE ON pieces
BEGIN
    SELECT RAISE(ABORT, 'what became of pieces is never deleted, only reversed');
END;
CREATE TRIGGER piece_balances_never_deleted BEFORE DELETE ON piece_balances
BEGIN
    SELECT RAISE(ABORT, 'a balance stays as long as its batch');
END;
CREATE TRIGGER changes_insert_only BEFORE INSERT ON changes
WHEN EXISTS (SELECT 1 FROM changes WHERE change = NEW.change)
BEGIN
    SELECT RAISE(ABORT, 'a change is written once');
END;
CREATE TRIGGER changes_never_updated BEFORE UPDATE ON changes
BEGIN
    SELECT RAISE(ABORT, 'a change that was written down is never changed');
END;
CREATE TRIGGER changes_never_deleted BEFORE DELETE ON changes
BEGIN
    SELECT RAISE(ABORT, 'a change that was written down is never deleted');
END;
CREATE TRIGGER weighings_insert_only BEFORE INSERT ON weighings
WHEN EXISTS (SELECT 1 FROM weighings WHERE batch = NEW.batch AND place = NEW.place)
BEGIN
    SELECT RAISE(ABORT, 'a weighing is written once');
END;
CREATE TRIGGER weighings_never_updated BEFORE UPDATE ON weighings
BEGIN
    SELECT RAISE(ABORT, 'a weighing is never changed');
END;
CREATE TRIGGER weighings_never_deleted BEFORE DELETE ON weighings
BEGIN
    SELECT RAISE(ABORT, 'a weighing is never deleted');
END;
-- INSERT OR REPLACE would delete the act that has the same `undoes` without asking.
CREATE TRIGGER acts_undone_once BEFORE INSERT ON acts
WHEN NEW.undoes IS NOT NULL AND EXISTS (SELECT 1 FROM acts WHERE undoes = NEW.undoes)
BEGIN
    SELECT RAISE(ABORT, 'an act is undone once');
END;
