-- A sidecar is known again by what a scan knows files by, also where it was moved or copied.
ALTER TABLE receipt_files ADD COLUMN fingerprint TEXT;  -- of a sidecar with a rating that the auditor wrote
CREATE INDEX receipt_files_by_fingerprint ON receipt_files (fingerprint) WHERE fingerprint IS NOT NULL;
