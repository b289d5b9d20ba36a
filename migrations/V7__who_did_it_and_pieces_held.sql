-- Why: whoever works at the bench can be named with each act, not only with a check or a retest; and the finished pieces of a
-- batch can be held back, as lots can, so that none leaves before somebody has looked.

-- Acts of earlier versions name nobody here; where one of their changes does, that stands.
ALTER TABLE acts ADD COLUMN who TEXT NOT NULL DEFAULT '';

-- The state of the finished pieces (ISO 22716: released, in quarantine, rejected). What was made before was free to leave.
ALTER TABLE batches ADD COLUMN state TEXT NOT NULL DEFAULT 'released' CHECK (state IN ('released', 'quarantine', 'rejected'));
