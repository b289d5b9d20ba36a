-- Why: long imports. Where a table has triggers, SQLite first lays the rows of a statement aside in a table of its own, and each
-- trigger is a program to be set up for each row.

-- What may be made already is seen to where entries are written (`store/rows.rs`); `doctor` counts it over as before.
DROP TRIGGER plan_may_be_made_already;

-- What adds needs one step: the row that would be inserted holds against the CHECKs. What takes needs two, as before, since its
-- negative amount would not.
DROP TRIGGER movements_keep_balance;
CREATE TRIGGER movements_add_to_balance AFTER INSERT ON movements WHEN NEW.amount >= 0 AND NEW.cost >= 0
BEGIN
    INSERT INTO lot_balances (lot, on_hand, cost, moved)
    VALUES (NEW.lot, NEW.amount, NEW.cost, NEW.kind <> 'receipt' OR NEW.batch IS NOT NULL
        OR EXISTS (SELECT 1 FROM movements WHERE act = NEW.act AND kind = 'issue' AND batch IS NULL))
    ON CONFLICT (lot) DO UPDATE
    SET on_hand = on_hand + excluded.on_hand, cost = cost + excluded.cost, moved = moved OR excluded.moved;
END;
CREATE TRIGGER movements_take_from_balance AFTER INSERT ON movements WHEN NEW.amount < 0 OR NEW.cost < 0
BEGIN
    INSERT INTO lot_balances (lot, on_hand, cost, moved) VALUES (NEW.lot, 0, 0, 0) ON CONFLICT (lot) DO NOTHING;
    UPDATE lot_balances
    SET on_hand = on_hand + NEW.amount, cost = cost + NEW.cost,
        moved = moved OR NEW.kind <> 'receipt' OR NEW.batch IS NOT NULL
            OR EXISTS (SELECT 1 FROM movements WHERE act = NEW.act AND kind = 'issue' AND batch IS NULL)
    WHERE lot = NEW.lot;
END;
