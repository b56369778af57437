-- What files recorded is packed (store/packed.py; a line of JSON that never was may stand there too), what a sidecar
-- is known by is a short key, and one index of paths serves both the files that are there and those that have gone.
CREATE TABLE files_packed (
    file_id INTEGER PRIMARY KEY,
    frame_id INTEGER REFERENCES frames ON DELETE CASCADE,  -- NULL: a sidecar that waits for its picture
    role TEXT NOT NULL,
    volume TEXT NOT NULL,
    path TEXT NOT NULL,
    stem TEXT NOT NULL,  -- a key of the path without its last extension: what a sidecar is known by
    present INTEGER NOT NULL,
    size_bytes INTEGER NOT NULL,
    modified_at TEXT NOT NULL,
    fingerprint TEXT NOT NULL,
    recorded ANY NOT NULL  -- what this file recorded, nulls left out
) STRICT;
INSERT INTO files_packed
SELECT file_id, frame_id, role, volume, path, stem_key(stem), present, size_bytes, modified_at, fingerprint,
       packed(recorded)
FROM files;
DROP TABLE files;
-- Otherwise the views that name `files` forbid it for the moment in which there is none.
PRAGMA legacy_alter_table = ON;
ALTER TABLE files_packed RENAME TO files;
PRAGMA legacy_alter_table = OFF;

-- A path stands once among the files that are there, and any number of times among those that have gone.
CREATE UNIQUE INDEX files_by_path ON files (path, iif(present = 1, 0, file_id));
CREATE INDEX files_by_frame ON files (frame_id);
CREATE INDEX files_gone ON files (frame_id) WHERE present = 0;
CREATE INDEX files_by_fingerprint ON files (fingerprint);
CREATE INDEX files_by_stem ON files (stem);

-- As before: dropping a table drops its triggers.
CREATE TRIGGER summed_new_files AFTER INSERT ON files BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_files AFTER UPDATE ON files BEGIN
    DELETE FROM summed WHERE trip_id IN (
        SELECT coalesce((SELECT trip_id FROM membership WHERE frame_id = moved.frame_id), 0)
        FROM (SELECT OLD.frame_id AS frame_id UNION SELECT NEW.frame_id) AS moved);
END;
CREATE TRIGGER summed_no_files AFTER DELETE ON files BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = OLD.frame_id), 0);
END;
