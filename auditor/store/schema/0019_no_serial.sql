-- A serial number of zeros, or of one letter over and over, is none: two bodies that write the same would be one.
-- Kits keep their numbers.
INSERT OR IGNORE INTO touched
SELECT frame_id FROM frames WHERE body_serial IS NOT serial_number(body_serial);
UPDATE files SET recorded = without_filled_serial(recorded) WHERE frame_id IN (
    SELECT frame_id FROM frames WHERE body_serial IS NOT serial_number(body_serial));
-- Of a body without a serial number its model is said.
UPDATE declarations SET body = (SELECT f.body_model FROM frames AS f WHERE f.body_serial = declarations.body)
WHERE body IS NOT serial_number(body) AND EXISTS (
    SELECT 1 FROM frames AS f WHERE f.body_serial = declarations.body AND f.body_model IS NOT NULL);
INSERT OR IGNORE INTO reasons (reasons)
SELECT DISTINCT no_serial_recorded(r.reasons) FROM frames AS f JOIN reasons AS r ON r.reasons_id = f.missing
WHERE f.body_serial IS NOT serial_number(f.body_serial);
UPDATE frames SET body_serial = NULL, missing = coalesce(
    (SELECT n.reasons_id FROM reasons AS r JOIN reasons AS n ON n.reasons = no_serial_recorded(r.reasons)
     WHERE r.reasons_id = frames.missing), missing)
WHERE body_serial IS NOT serial_number(body_serial);
UPDATE OR IGNORE kits SET kit_key = replace(kit_key, '|' || body_serial || '|', '||'), body_serial = NULL
WHERE body_serial IS NOT serial_number(body_serial);
UPDATE bench SET body_serial = '' WHERE body_serial <> '' AND serial_number(body_serial) IS NULL;
