-- Why: a new formula version is something the maker did, with a reason, like any other act: it is listed among them, and
-- can be taken back as long as nothing was made to it. It used to be a note among the settings.

-- A version that was taken back is not worked to any more. Its lines stay, so that its name is not given to another recipe.
ALTER TABLE formula_lines ADD COLUMN withdrawn INTEGER NOT NULL DEFAULT 0 CHECK (withdrawn IN (0, 1));

-- The workshop's day of an act, beside the moment at which it was written down. Acts of earlier versions have none: the
-- date of that moment stands for it.
ALTER TABLE acts ADD COLUMN day TEXT CHECK (day IS date(day));

-- What acts change grows with the program: which things there are is said in one place only, beside what undoing does
-- with them.
CREATE TABLE changes_of_more_kinds (
    change INTEGER PRIMARY KEY CHECK (change >= 1),
    act INTEGER NOT NULL REFERENCES acts (act) DEFERRABLE INITIALLY DEFERRED,
    what TEXT NOT NULL CHECK (what <> ''),
    code TEXT NOT NULL CHECK (code <> ''),
    part TEXT NOT NULL,
    field TEXT NOT NULL CHECK (field <> ''),
    before TEXT NOT NULL,
    after TEXT NOT NULL,
    who TEXT NOT NULL,
    reason TEXT NOT NULL
) STRICT;
INSERT INTO changes_of_more_kinds SELECT * FROM changes ORDER BY change;
DROP TABLE changes;
ALTER TABLE changes_of_more_kinds RENAME TO changes;
CREATE INDEX changes_by_act ON changes (act);
CREATE INDEX changes_by_code ON changes (what, code);
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

-- The notes become acts, numbered after all others, of midnight of the day that they name: `2027-03-01 less tallow`.
CREATE TEMP TABLE noted AS
SELECT row_number() OVER (ORDER BY value, setting) AS place, formula, version, setting, value
FROM (SELECT DISTINCT formula, version FROM formula_lines)
JOIN settings ON setting = 'formula ' || formula || ' version ' || version
WHERE value GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9] *';
INSERT INTO acts (act, kind, subject, recorded_at, day)
SELECT place + (SELECT coalesce(max(act), 0) FROM acts), 'revise', formula, substr(value, 1, 10) || 'T00:00:00Z', substr(value, 1, 10)
FROM noted ORDER BY place;
INSERT INTO changes (change, act, what, code, part, field, before, after, who, reason)
SELECT place + (SELECT coalesce(max(change), 0) FROM changes),
    place + (SELECT max(act) FROM acts) - (SELECT count(*) FROM noted),
    'formula', formula, version, 'stands', '', 'yes', '', substr(value, 12)
FROM noted ORDER BY place;
DELETE FROM settings WHERE setting IN (SELECT setting FROM noted);
DROP TABLE noted;
