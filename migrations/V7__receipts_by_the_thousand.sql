-- Why: an import of many lots is mostly receipts, and the balance of each new lot was written twice: a row of nothing, then
-- what it holds. What only adds is one step now. What takes away stays at two, since an upsert would hold the row that it
-- tries to insert, a draw's negative amount, against the CHECKs.
DROP TRIGGER movements_keep_balance;
CREATE TRIGGER movements_add_to_balance AFTER INSERT ON movements WHEN NEW.amount >= 0 AND NEW.cost >= 0
BEGIN
    INSERT INTO lot_balances (lot, on_hand, cost, moved)
    VALUES (
        NEW.lot, NEW.amount, NEW.cost,
        NEW.kind <> 'receipt' OR NEW.batch IS NOT NULL
            OR EXISTS (SELECT 1 FROM movements WHERE act = NEW.act AND kind = 'issue' AND batch IS NULL)
    )
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
