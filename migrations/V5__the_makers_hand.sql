-- Why: the reorder list listens to the maker. What she wants of every list is kept until she lifts it; the room on the
-- shelf caps what is bought; and the last list is kept, so that the next one does not turn everything over for cents.

ALTER TABLE materials ADD COLUMN shelf_space INTEGER CHECK (shelf_space > 0);

-- A wish that was lifted stays: its code is not given again, and lifting it can be undone.
CREATE TABLE wishes (
    wish TEXT PRIMARY KEY CHECK (wish <> ''),
    kind TEXT NOT NULL CHECK (kind IN ('exclude', 'pin', 'prefer', 'budget')),
    supplier TEXT REFERENCES suppliers (code) DEFERRABLE INITIALLY DEFERRED,
    material TEXT REFERENCES materials (code) DEFERRABLE INITIALLY DEFERRED,
    pack INTEGER CHECK (pack > 0),
    day_from TEXT CHECK (day_from IS date(day_from)),
    day_to TEXT CHECK (day_to IS date(day_to)),
    percent INTEGER CHECK (percent >= 0),
    amount INTEGER CHECK (amount >= 0), -- minor units of the home currency
    reason TEXT NOT NULL,
    lifted INTEGER NOT NULL DEFAULT 0 CHECK (lifted IN (0, 1))
) STRICT, WITHOUT ROWID;
CREATE INDEX wishes_by_supplier ON wishes (supplier) WHERE supplier IS NOT NULL;
CREATE INDEX wishes_by_material ON wishes (material) WHERE material IS NOT NULL;

-- The last reorder list. It refers to nothing: what it names may be gone, and then it no longer counts.
CREATE TABLE listed_lines (
    order_on TEXT NOT NULL CHECK (order_on IS date(order_on)),
    supplier TEXT NOT NULL,
    material TEXT NOT NULL,
    pack INTEGER NOT NULL,
    packs INTEGER NOT NULL CHECK (packs > 0),
    PRIMARY KEY (order_on, supplier, material, pack)
) STRICT, WITHOUT ROWID;

-- What was worked out with it, and of what: marks of the purchasing problem, whole and without what every day changes.
-- The same problem on the same day gives the same list, to the byte; without this a search that starts from the last list
-- could find another.
CREATE TABLE listed_plan (
    place INTEGER PRIMARY KEY CHECK (place = 1),
    whole_mark TEXT NOT NULL,
    lasting_mark TEXT NOT NULL,
    lower_bound INTEGER NOT NULL, -- minor units of the home currency, like the next two
    simple_objective INTEGER NOT NULL,
    new_would_save INTEGER
) STRICT;
