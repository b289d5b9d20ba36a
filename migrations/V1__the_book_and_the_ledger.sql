-- Why: the workshop's first store. The book (what its files say) is kept row by row so that an import can change just
-- what differs; the ledger (what happened) is only ever added to, because stock is what its movements add up to and
-- nobody can say afterwards which bar holds which lot if a line may be rewritten.
--
-- Amounts are integers: milligrams of a raw material or premix, pieces of packaging; money is minor units of the
-- currency beside it; percent is millionths of a percent. Days are civil dates, `2027-03-09`. Spans of time are
-- `P18M0D`: months, then days. Foreign keys wait for the end of the transaction, so that the rows of one import may
-- come in any order; formulas and premixes refer to each other in circles of tables.

-- 'Stil' in ASCII: how a file is told from any other SQLite file. Set in the same transaction as the tables.
PRAGMA application_id = 0x5374696c;

CREATE TABLE settings (
    setting TEXT PRIMARY KEY CHECK (setting <> ''),
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Materials and premixes share one name space of codes, since lots and formula lines refer to either.
CREATE TABLE items (
    code TEXT PRIMARY KEY CHECK (code <> ''),
    kind TEXT NOT NULL CHECK (kind IN ('material', 'premix')),
    UNIQUE (code, kind)
) STRICT, WITHOUT ROWID;

CREATE TABLE materials (
    code TEXT PRIMARY KEY,
    kind TEXT NOT NULL DEFAULT 'material' CHECK (kind = 'material'),
    name TEXT NOT NULL,
    inci TEXT NOT NULL,
    unit TEXT NOT NULL CHECK (unit IN ('mg', 'pcs')),
    density INTEGER CHECK (density > 0),
    piece_mass INTEGER CHECK (piece_mass >= 0),
    unopened_life TEXT CHECK (unopened_life GLOB 'P[0-9]*M[0-9]*D'),
    opened_life TEXT CHECK (opened_life GLOB 'P[0-9]*M[0-9]*D'),
    safety_stock INTEGER NOT NULL CHECK (safety_stock >= 0),
    max_leave_on INTEGER CHECK (max_leave_on >= 0),
    max_rinse_off INTEGER CHECK (max_rinse_off >= 0),
    storage TEXT NOT NULL,
    caution TEXT NOT NULL,
    always_at_hand INTEGER NOT NULL CHECK (always_at_hand IN (0, 1)),
    FOREIGN KEY (code, kind) REFERENCES items (code, kind) DEFERRABLE INITIALLY DEFERRED
) STRICT, WITHOUT ROWID;

CREATE TABLE premixes (
    code TEXT PRIMARY KEY,
    kind TEXT NOT NULL DEFAULT 'premix' CHECK (kind = 'premix'),
    formula TEXT NOT NULL CHECK (formula <> ''),
    make_ahead_days INTEGER NOT NULL CHECK (make_ahead_days >= 0),
    loss INTEGER NOT NULL CHECK (loss >= 0 AND loss < 100000000),
    life TEXT CHECK (life GLOB 'P[0-9]*M[0-9]*D'),
    FOREIGN KEY (code, kind) REFERENCES items (code, kind) DEFERRABLE INITIALLY DEFERRED
) STRICT, WITHOUT ROWID;

-- A formula that a product names may be missing (the plan says so), so a formula has no table of its own to refer to.
CREATE TABLE formula_lines (
    formula TEXT NOT NULL CHECK (formula <> ''),
    version TEXT NOT NULL CHECK (version <> ''),
    place INTEGER NOT NULL CHECK (place >= 1),
    ingredient TEXT NOT NULL REFERENCES items (code) DEFERRABLE INITIALLY DEFERRED,
    percent INTEGER CHECK (percent >= 0), -- NULL: the balance, what is left to 100 %
    phase TEXT NOT NULL,
    PRIMARY KEY (formula, version, place)
) STRICT, WITHOUT ROWID;
CREATE INDEX formula_lines_by_ingredient ON formula_lines (ingredient);

CREATE TABLE suppliers (
    code TEXT PRIMARY KEY CHECK (code <> ''),
    name TEXT NOT NULL,
    email TEXT NOT NULL,
    currency TEXT NOT NULL CHECK (length(currency) = 3),
    lead_time_days INTEGER NOT NULL CHECK (lead_time_days >= 0),
    order_weekdays TEXT NOT NULL, -- 'Mon Thu'; empty for every day
    closed TEXT NOT NULL, -- ISO 8601 intervals with ';' between
    minimum_order INTEGER NOT NULL CHECK (minimum_order >= 0),
    postage INTEGER NOT NULL CHECK (postage >= 0),
    free_postage_from INTEGER CHECK (free_postage_from >= 0),
    duty INTEGER NOT NULL CHECK (duty >= 0)
) STRICT, WITHOUT ROWID;

CREATE TABLE postage (
    supplier TEXT NOT NULL REFERENCES suppliers (code) DEFERRABLE INITIALLY DEFERRED,
    measure TEXT NOT NULL CHECK (measure IN ('value', 'weight')),
    band_from INTEGER NOT NULL CHECK (band_from >= 0),
    fee INTEGER NOT NULL CHECK (fee >= 0),
    PRIMARY KEY (supplier, measure, band_from)
) STRICT, WITHOUT ROWID;

CREATE TABLE offers (
    supplier TEXT NOT NULL REFERENCES suppliers (code) DEFERRABLE INITIALLY DEFERRED,
    material TEXT NOT NULL REFERENCES materials (code) DEFERRABLE INITIALLY DEFERRED,
    pack INTEGER NOT NULL CHECK (pack > 0),
    pack_text TEXT NOT NULL,
    price INTEGER NOT NULL CHECK (price >= 0),
    from_packs INTEGER NOT NULL CHECK (from_packs >= 1),
    life_on_arrival TEXT CHECK (life_on_arrival GLOB 'P[0-9]*M[0-9]*D'),
    item_no TEXT NOT NULL,
    PRIMARY KEY (supplier, material, pack, from_packs)
) STRICT, WITHOUT ROWID;
CREATE INDEX offers_by_material ON offers (material);

CREATE TABLE rates (
    currency TEXT NOT NULL CHECK (length(currency) = 3),
    date TEXT NOT NULL CHECK (date IS date(date)),
    rate INTEGER NOT NULL CHECK (rate > 0), -- billionths of the home currency for one unit
    PRIMARY KEY (currency, date)
) STRICT, WITHOUT ROWID;

-- The supplier stands with the order, so that all lines of an order have the same one.
CREATE TABLE orders (
    code TEXT PRIMARY KEY CHECK (code <> ''),
    supplier TEXT NOT NULL REFERENCES suppliers (code) DEFERRABLE INITIALLY DEFERRED
) STRICT, WITHOUT ROWID;
CREATE INDEX orders_by_supplier ON orders (supplier);

CREATE TABLE order_lines (
    order_code TEXT NOT NULL REFERENCES orders (code) DEFERRABLE INITIALLY DEFERRED,
    material TEXT NOT NULL REFERENCES materials (code) DEFERRABLE INITIALLY DEFERRED,
    pack INTEGER NOT NULL CHECK (pack > 0),
    pack_text TEXT NOT NULL,
    packs INTEGER NOT NULL CHECK (packs > 0),
    placed TEXT CHECK (placed IS date(placed)),
    expected TEXT NOT NULL CHECK (expected IS date(expected)),
    price INTEGER CHECK (price >= 0),
    packs_received INTEGER NOT NULL CHECK (packs_received >= 0),
    cancelled INTEGER NOT NULL CHECK (cancelled IN (0, 1)),
    PRIMARY KEY (order_code, material, pack)
) STRICT, WITHOUT ROWID;
CREATE INDEX order_lines_by_material ON order_lines (material);

CREATE TABLE lots (
    lot TEXT PRIMARY KEY CHECK (lot <> ''),
    material TEXT NOT NULL REFERENCES items (code) DEFERRABLE INITIALLY DEFERRED,
    amount INTEGER NOT NULL CHECK (amount >= 0),
    supplier TEXT REFERENCES suppliers (code) DEFERRABLE INITIALLY DEFERRED,
    supplier_lot TEXT NOT NULL,
    received TEXT CHECK (received IS date(received)),
    cost INTEGER NOT NULL CHECK (cost >= 0),
    currency TEXT NOT NULL CHECK (length(currency) = 3),
    best_before TEXT CHECK (best_before IS date(best_before)),
    opened TEXT CHECK (opened IS date(opened)),
    state TEXT NOT NULL CHECK (state IN ('released', 'quarantine', 'rejected')),
    place TEXT NOT NULL,
    order_code TEXT REFERENCES orders (code) DEFERRABLE INITIALLY DEFERRED
) STRICT, WITHOUT ROWID;
CREATE INDEX lots_by_material ON lots (material);
CREATE INDEX lots_by_supplier ON lots (supplier) WHERE supplier IS NOT NULL;
CREATE INDEX lots_by_order ON lots (order_code) WHERE order_code IS NOT NULL;

CREATE TABLE products (
    code TEXT PRIMARY KEY CHECK (code <> ''),
    name TEXT NOT NULL,
    formula TEXT NOT NULL CHECK (formula <> ''),
    version TEXT NOT NULL, -- empty for the newest
    product_use TEXT CHECK (product_use IN ('leave-on', 'rinse-off')),
    net_mass INTEGER CHECK (net_mass >= 0),
    pieces_per_mould INTEGER CHECK (pieces_per_mould >= 0),
    loss INTEGER NOT NULL CHECK (loss >= 0 AND loss < 100000000),
    setting_days INTEGER NOT NULL CHECK (setting_days >= 0),
    curing_days INTEGER NOT NULL CHECK (curing_days >= 0),
    shelf_life TEXT CHECK (shelf_life GLOB 'P[0-9]*M[0-9]*D'),
    minimum_life TEXT CHECK (minimum_life GLOB 'P[0-9]*M[0-9]*D')
) STRICT, WITHOUT ROWID;

CREATE TABLE packaging (
    product TEXT NOT NULL REFERENCES products (code) DEFERRABLE INITIALLY DEFERRED,
    place INTEGER NOT NULL CHECK (place >= 1),
    material TEXT NOT NULL REFERENCES materials (code) DEFERRABLE INITIALLY DEFERRED,
    per_piece INTEGER NOT NULL CHECK (per_piece >= 0), -- millionths
    per_batch INTEGER NOT NULL CHECK (per_batch >= 0),
    PRIMARY KEY (product, place)
) STRICT, WITHOUT ROWID;
CREATE INDEX packaging_by_material ON packaging (material);

-- A dropped entry stays, so that its code is never given to another; one that was made stays, so that a plan file that
-- is imported again does not plan it twice.
CREATE TABLE plan (
    entry TEXT PRIMARY KEY CHECK (entry <> ''),
    rank INTEGER NOT NULL,
    product TEXT NOT NULL REFERENCES products (code) DEFERRABLE INITIALLY DEFERRED,
    amount INTEGER NOT NULL CHECK (amount >= 0),
    amount_kind TEXT NOT NULL CHECK (amount_kind IN ('pieces', 'moulds', 'net-mass')),
    day TEXT NOT NULL CHECK (day IS date(day)),
    day_kind TEXT NOT NULL CHECK (day_kind IN ('make-on', 'ready-by')),
    dropped INTEGER NOT NULL DEFAULT 0 CHECK (dropped IN (0, 1))
) STRICT, WITHOUT ROWID;
CREATE INDEX plan_by_rank ON plan (rank);
CREATE INDEX plan_by_product ON plan (product);

-- The entry is no foreign key: a ledger may be imported without the plan that it was made to.
CREATE TABLE batches (
    batch TEXT PRIMARY KEY CHECK (batch <> ''),
    entry TEXT NOT NULL,
    product TEXT REFERENCES products (code) DEFERRABLE INITIALLY DEFERRED,
    formula TEXT NOT NULL,
    version TEXT NOT NULL,
    made_on TEXT NOT NULL CHECK (made_on IS date(made_on)),
    mass INTEGER NOT NULL CHECK (mass >= 0),
    pieces INTEGER NOT NULL CHECK (pieces >= 0),
    best_before TEXT CHECK (best_before IS date(best_before)),
    note TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX batches_by_entry ON batches (entry) WHERE entry <> '';
CREATE INDEX batches_by_product ON batches (product);

-- What the user did, one row for each act; its movements name it.
CREATE TABLE acts (
    act INTEGER PRIMARY KEY CHECK (act >= 1),
    kind TEXT NOT NULL CHECK (kind <> ''), -- 'receive', 'make', 'count' ...: what may be done grows with the program
    subject TEXT NOT NULL, -- the code of what it was about
    recorded_at TEXT NOT NULL CHECK (
        recorded_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T[0-9][0-9]:[0-9][0-9]:[0-9][0-9]Z'
    )
) STRICT;

-- A receipt adds; an issue, a write-off and a return take; a count does either; a reversal does the opposite.
CREATE TABLE movements (
    movement INTEGER PRIMARY KEY CHECK (movement >= 1),
    act INTEGER NOT NULL REFERENCES acts (act) DEFERRABLE INITIALLY DEFERRED,
    kind TEXT NOT NULL CHECK (kind IN ('receipt', 'issue', 'count', 'write-off', 'return')),
    lot TEXT NOT NULL REFERENCES lots (lot) DEFERRABLE INITIALLY DEFERRED,
    amount INTEGER NOT NULL,
    cost INTEGER NOT NULL,
    day TEXT NOT NULL CHECK (day IS date(day)),
    reason TEXT NOT NULL,
    batch TEXT REFERENCES batches (batch) DEFERRABLE INITIALLY DEFERRED,
    reverses INTEGER UNIQUE REFERENCES movements (movement) DEFERRABLE INITIALLY DEFERRED,
    CHECK (amount >= 0 AND cost >= 0 OR amount <= 0 AND cost <= 0),
    CHECK (kind = 'count' OR CASE WHEN (kind = 'receipt') = (reverses IS NULL) THEN amount >= 0 ELSE amount <= 0 END)
) STRICT;
CREATE INDEX movements_by_lot ON movements (lot);
CREATE INDEX movements_by_act ON movements (act);
CREATE INDEX movements_by_batch ON movements (batch) WHERE batch IS NOT NULL;

-- What is left of each lot. Only the trigger below writes here, so that no command has to read the whole ledger.
CREATE TABLE lot_balances (
    lot TEXT PRIMARY KEY REFERENCES lots (lot) DEFERRABLE INITIALLY DEFERRED,
    on_hand INTEGER NOT NULL CHECK (on_hand >= 0),
    cost INTEGER NOT NULL CHECK (cost >= 0),
    moved INTEGER NOT NULL CHECK (moved IN (0, 1))
) STRICT, WITHOUT ROWID;

-- Two steps, since an upsert would hold the row that it tries to insert, a draw's negative amount, against the CHECKs.
CREATE TRIGGER movements_keep_balance AFTER INSERT ON movements
BEGIN
    INSERT INTO lot_balances (lot, on_hand, cost, moved) VALUES (NEW.lot, 0, 0, 0) ON CONFLICT (lot) DO NOTHING;
    UPDATE lot_balances
    SET on_hand = on_hand + NEW.amount, cost = cost + NEW.cost, moved = moved OR NEW.kind <> 'receipt'
    WHERE lot = NEW.lot;
END;

CREATE TRIGGER movements_reverse_exactly BEFORE INSERT ON movements
WHEN NEW.reverses IS NOT NULL AND NOT EXISTS (
    SELECT 1 FROM movements
    WHERE movement = NEW.reverses AND reverses IS NULL AND lot = NEW.lot AND kind = NEW.kind
        AND amount = -NEW.amount AND cost = -NEW.cost
)
BEGIN
    SELECT RAISE(ABORT, 'a reversal takes back exactly one earlier movement of the same lot');
END;

-- INSERT OR REPLACE deletes without asking the DELETE triggers: it is refused here.
CREATE TRIGGER movements_insert_only BEFORE INSERT ON movements
WHEN EXISTS (SELECT 1 FROM movements WHERE movement = NEW.movement OR reverses = NEW.reverses)
BEGIN
    SELECT RAISE(ABORT, 'a movement is written once, and reversed once at most');
END;
CREATE TRIGGER movements_never_updated BEFORE UPDATE ON movements
BEGIN
    SELECT RAISE(ABORT, 'a movement is never changed, only reversed');
END;
CREATE TRIGGER movements_never_deleted BEFORE DELETE ON movements
BEGIN
    SELECT RAISE(ABORT, 'a movement is never deleted, only reversed');
END;
CREATE TRIGGER acts_insert_only BEFORE INSERT ON acts
WHEN EXISTS (SELECT 1 FROM acts WHERE act = NEW.act)
BEGIN
    SELECT RAISE(ABORT, 'an act is written once');
END;
CREATE TRIGGER acts_never_updated BEFORE UPDATE ON acts
BEGIN
    SELECT RAISE(ABORT, 'an act is never changed');
END;
CREATE TRIGGER acts_never_deleted BEFORE DELETE ON acts
BEGIN
    SELECT RAISE(ABORT, 'an act is never deleted');
END;
CREATE TRIGGER lot_balances_never_deleted BEFORE DELETE ON lot_balances
BEGIN
    SELECT RAISE(ABORT, 'a balance stays as long as its lot');
END;
