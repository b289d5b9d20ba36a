-- Why: letters come by themselves. What is due is marked as served and its letter laid down in one transaction, so that
-- nothing is lost between the two; then the letters leave one by one, each claimed before the mail server is spoken to.
-- Moments are UTC in one form, `2027-03-09T08:15:00Z`, so that their texts sort as they do.

-- Letters, whole as they leave. Rows stay; the content of one that was sent long ago may be emptied.
CREATE TABLE letters (
    letter INTEGER PRIMARY KEY CHECK (letter >= 1),
    message_id TEXT NOT NULL UNIQUE CHECK (message_id <> ''),
    schedule TEXT NOT NULL CHECK (schedule <> ''),
    run_at TEXT NOT NULL CHECK (run_at GLOB '????-??-??T??:??:??Z'),
    sender TEXT NOT NULL CHECK (sender <> ''),
    recipients TEXT NOT NULL CHECK (recipients <> ''), -- one on each line
    subject TEXT NOT NULL,
    file_stem TEXT NOT NULL CHECK (file_stem <> ''),
    words TEXT NOT NULL, -- its text part, to be looked at
    message BLOB NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('waiting', 'sent', 'set-aside', 'dropped')),
    tries INTEGER NOT NULL DEFAULT 0 CHECK (tries >= 0),
    next_try TEXT NOT NULL CHECK (next_try GLOB '????-??-??T??:??:??Z'),
    last_error TEXT NOT NULL DEFAULT '',
    -- 1 where a try may have reached the server without our hearing of it: another try may be a second copy.
    may_be_twice INTEGER NOT NULL DEFAULT 0 CHECK (may_be_twice IN (0, 1)),
    queued_at TEXT NOT NULL CHECK (queued_at GLOB '????-??-??T??:??:??Z'),
    sent_at TEXT CHECK (sent_at GLOB '????-??-??T??:??:??Z'),
    -- Who is at it, and until when nobody else may be.
    claimed_by TEXT,
    claimed_until TEXT CHECK (claimed_until GLOB '????-??-??T??:??:??Z'),
    UNIQUE (schedule, run_at),
    CHECK ((claimed_by IS NULL) = (claimed_until IS NULL)),
    CHECK (claimed_by IS NULL OR state = 'waiting'),
    CHECK ((sent_at IS NOT NULL) = (state = 'sent'))
) STRICT;
CREATE INDEX letters_waiting ON letters (schedule, letter) WHERE state = 'waiting';

-- How far each schedule is served; known by its name.
CREATE TABLE schedule_marks (
    schedule TEXT PRIMARY KEY CHECK (schedule <> ''),
    served_through TEXT NOT NULL CHECK (served_through GLOB '????-??-??T??:??:??Z')
) STRICT, WITHOUT ROWID;

-- What came of each run: a letter, or none because there was no news. `runs` counts those that it stands for: more than
-- one where the computer slept.
CREATE TABLE schedule_runs (
    schedule TEXT NOT NULL CHECK (schedule <> ''),
    run_at TEXT NOT NULL CHECK (run_at GLOB '????-??-??T??:??:??Z'),
    day TEXT NOT NULL CHECK (day IS date(day)),
    served_at TEXT NOT NULL CHECK (served_at GLOB '????-??-??T??:??:??Z'),
    runs INTEGER NOT NULL CHECK (runs >= 1),
    letter INTEGER REFERENCES letters (letter) DEFERRABLE INITIALLY DEFERRED,
    PRIMARY KEY (schedule, run_at)
) STRICT, WITHOUT ROWID;

-- What each schedule has told of, line by line, so that only news is news.
CREATE TABLE told (
    schedule TEXT NOT NULL,
    place INTEGER NOT NULL CHECK (place >= 0),
    kind TEXT NOT NULL CHECK (kind <> ''),
    subject TEXT NOT NULL,
    state TEXT NOT NULL,
    day TEXT CHECK (day IS date(day)),
    amount INTEGER NOT NULL,
    told_on TEXT NOT NULL CHECK (told_on IS date(told_on)),
    PRIMARY KEY (schedule, place)
) STRICT, WITHOUT ROWID;

-- Lines that are silenced until a day, by the code of their material or lot.
CREATE TABLE snoozes (
    subject TEXT PRIMARY KEY CHECK (subject <> ''),
    until TEXT NOT NULL CHECK (until IS date(until)),
    since TEXT NOT NULL CHECK (since IS date(since)),
    reason TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TRIGGER letters_stay BEFORE DELETE ON letters
BEGIN
    SELECT RAISE(ABORT, 'a letter is dropped, never deleted');
END;
CREATE TRIGGER letters_sent_stay_sent BEFORE UPDATE OF state ON letters
WHEN OLD.state = 'sent' AND NEW.state <> 'sent'
BEGIN
    SELECT RAISE(ABORT, 'a letter that was sent stays sent');
END;
CREATE TRIGGER letters_keep_their_words BEFORE UPDATE OF message_id, schedule, run_at, message ON letters
WHEN NEW.message_id <> OLD.message_id OR NEW.schedule <> OLD.schedule OR NEW.run_at <> OLD.run_at
    OR (NEW.message <> OLD.message AND NOT (OLD.state = 'sent' AND length(NEW.message) = 0))
BEGIN
    SELECT RAISE(ABORT, 'a letter keeps its words');
END;
