-- Several things said at once are undone at once; which kinds there are is settled in code, so that a new one
-- needs no new table.
CREATE TABLE declarations_5 (
    declaration_id INTEGER PRIMARY KEY,
    said_with INTEGER,  -- the first of those that were said at once
    kind TEXT NOT NULL,
    body TEXT,  -- a serial number or a model
    from_at TEXT,
    to_at TEXT,
    facts TEXT NOT NULL,  -- JSON
    said_at TEXT NOT NULL,
    said_by TEXT NOT NULL,
    undone_at TEXT
) STRICT;
INSERT INTO declarations_5
    SELECT declaration_id, NULL, kind, body, from_at, to_at, facts, said_at, said_by, undone_at FROM declarations;
DROP TABLE declarations;
ALTER TABLE declarations_5 RENAME TO declarations;

-- The rating that a sidecar got from the auditor is no opinion of the photographer's.
ALTER TABLE receipt_files ADD COLUMN rating INTEGER;  -- NULL: this file got none
ALTER TABLE receipt_files ADD COLUMN rating_before INTEGER;  -- the photographer's, which it took the place of
