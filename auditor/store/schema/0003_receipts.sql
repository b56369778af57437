CREATE TABLE receipts (
    receipt_id INTEGER PRIMARY KEY,
    what TEXT NOT NULL CHECK (what IN ('copy', 'hard_link', 'symbolic_link', 'sidecar')),
    folder TEXT NOT NULL,
    started_at TEXT NOT NULL,
    finished_at TEXT,  -- NULL: the run was cut off
    undone_at TEXT,
    auditor_version TEXT NOT NULL
) STRICT;

CREATE TABLE receipt_files (
    receipt_id INTEGER NOT NULL REFERENCES receipts,
    path TEXT NOT NULL,
    is_folder INTEGER NOT NULL,
    source TEXT,  -- the original
    written_as TEXT,  -- the name it has until it is whole
    hash TEXT,  -- XXH3-128 of the bytes; of a link the original's fingerprint
    backup TEXT,  -- where the file lies that was there before
    hash_before TEXT,
    made_at TEXT,  -- noted before the file gets its final name; NULL: only planned
    undone_at TEXT,
    PRIMARY KEY (receipt_id, path)
) STRICT;
CREATE INDEX receipt_files_by_path ON receipt_files (path);
