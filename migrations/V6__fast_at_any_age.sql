-- Why: the store is asked many times a day, and must answer after ten years of use as on its first day. What is over (lots
-- that were used up, entries that were made, orders that came, pieces that were sold, letters that left) stays for ever,
-- so what is not over gets indexes of its own, and no question of the day has to look through the rest.

-- An entry is made where a batch that stands fulfils it. Only the triggers below write here; `doctor` counts it over.
ALTER TABLE plan ADD COLUMN made INTEGER NOT NULL DEFAULT 0 CHECK (made IN (0, 1));
UPDATE plan SET made = 1 WHERE EXISTS (
    SELECT 1 FROM batches WHERE batches.entry = plan.entry AND batches.entry <> '' AND fulfils_entry = 1 AND undone = 0
);
CREATE TRIGGER batches_fulfil_their_entry AFTER INSERT ON batches WHEN NEW.fulfils_entry = 1 AND NEW.undone = 0
BEGIN
    UPDATE plan SET made = 1 WHERE entry = NEW.entry;
END;
CREATE TRIGGER batches_free_their_entry AFTER UPDATE OF entry, fulfils_entry, undone ON batches
BEGIN
    UPDATE plan SET made = EXISTS (
        SELECT 1 FROM batches WHERE batches.entry = plan.entry AND batches.entry <> '' AND fulfils_entry = 1 AND undone = 0
    )
    WHERE entry IN (OLD.entry, NEW.entry);
END;
-- A ledger may have been imported before the plan that it was made to.
CREATE TRIGGER plan_may_be_made_already AFTER INSERT ON plan
WHEN EXISTS (
    SELECT 1 FROM batches WHERE batches.entry = NEW.entry AND batches.entry <> '' AND fulfils_entry = 1 AND undone = 0
)
BEGIN
    UPDATE plan SET made = 1 WHERE entry = NEW.entry;
END;
CREATE INDEX plan_to_make ON plan (rank, entry) WHERE dropped = 0 AND made = 0;

CREATE INDEX lots_left ON lot_balances (lot) WHERE on_hand > 0;
CREATE INDEX pieces_left ON piece_balances (batch) WHERE on_hand > 0;
CREATE INDEX order_lines_open ON order_lines (order_code) WHERE cancelled = 0 AND packs_received < packs;
CREATE INDEX letters_not_out ON letters (letter) WHERE state IN ('waiting', 'set-aside');

-- A receipt of a lot that was decanted here marks it as used. What the trigger of V2 asked, whether anything was issued in
-- the same act, read the whole act for each receipt of an import; only issues for no batch can answer it.
CREATE INDEX movements_decanted ON movements (act) WHERE kind = 'issue' AND batch IS NULL;
DROP TRIGGER movements_keep_balance;
CREATE TRIGGER movements_keep_balance AFTER INSERT ON movements
BEGIN
    INSERT INTO lot_balances (lot, on_hand, cost, moved) VALUES (NEW.lot, 0, 0, 0) ON CONFLICT (lot) DO NOTHING;
    UPDATE lot_balances
    SET on_hand = on_hand + NEW.amount, cost = cost + NEW.cost,
        moved = moved OR NEW.kind <> 'receipt' OR NEW.batch IS NOT NULL
            OR EXISTS (SELECT 1 FROM movements WHERE act = NEW.act AND kind = 'issue' AND batch IS NULL)
    WHERE lot = NEW.lot;
END;

-- A trace begins with what stands on the pack.
CREATE INDEX lots_by_supplier_lot ON lots (supplier_lot COLLATE NOCASE) WHERE supplier_lot <> '';

-- What became of a batch: a lot of premix, for the few that are of one.
CREATE INDEX movements_of_yields ON movements (batch) WHERE kind = 'receipt' AND batch IS NOT NULL;

-- The highest number given so far is found among those of its length, without reading all of them.
CREATE INDEX lots_by_number ON lots (length(lot), lot) WHERE lot GLOB 'L-[0-9]*';
CREATE INDEX plan_by_number ON plan (length(entry), entry) WHERE entry GLOB 'P-[0-9]*';
CREATE INDEX batches_by_entry_number ON batches (length(entry), entry) WHERE entry GLOB 'P-[0-9]*';
