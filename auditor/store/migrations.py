"""The shape of the logbook, as a history: migrations are only ever added at the end.

What is promised to other programs (docs/logbook.md): the views `frame_facts` and
`frame_files` and the table `unreadable`. The rest may change.

    frames      one row an exposure: what its files recorded, merged
    files       one row a file: what that file alone recorded, and where it lies
    unreadable  files that cannot be read now
    declarations  what the photographer said that no file records, with its history
    touched     frames whose derived rows are out of date
    receipts, receipt_files  what was handed over where, so that it can be taken back

    derived, rebuilt for the span that changed, each row stamped with version and settings:
    kits        body + lens + converter
    inferred    one row a frame: kit, converter, light, flags
    membership  one row a frame: its burst, scene, encounter and trip
    bursts, scenes, encounters, trips, verdicts
"""

from __future__ import annotations

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

APPLICATION_ID = 0x41554454
"""SQLite's application_id of a logbook, so that other SQLite files are told apart."""

migrations = Migrations("auditor")

_FIRST_TABLES = """
CREATE TABLE scans (
    scan_id INTEGER PRIMARY KEY,
    folder TEXT NOT NULL,
    started_at TEXT NOT NULL,
    finished_at TEXT,
    files_seen INTEGER,
    files_read INTEGER,
    files_unreadable INTEGER,
    auditor_version TEXT NOT NULL
) STRICT;

CREATE TABLE frames (
    frame_id INTEGER PRIMARY KEY,
    exposure_key TEXT NOT NULL UNIQUE,
    taken_at TEXT,
    utc_offset TEXT,
    utc_offset_source TEXT,
    body_make TEXT,
    body_model TEXT,
    body_serial TEXT,
    lens_name TEXT,
    lens_short_mm REAL,
    lens_long_mm REAL,
    lens_widest_at_short REAL,
    lens_widest_at_long REAL,
    focal_length_mm REAL,
    focal_length_35mm_mm REAL,
    f_number REAL,
    widest_f_number REAL,
    iso REAL,
    auto_iso INTEGER,
    exposure_time_s REAL,
    exposure_bias_ev REAL,
    exposure_program INTEGER,
    exposure_mode INTEGER,
    flash_fired INTEGER,
    width_px INTEGER,
    height_px INTEGER,
    recorded_width_px INTEGER,
    recorded_height_px INTEGER,
    orientation INTEGER,
    pixel_pitch_um REAL,
    focus_mode TEXT,
    area_mode TEXT,
    drive_mode TEXT,
    camera_word TEXT CHECK (camera_word IN ('confirmed', 'not_confirmed', 'manual', 'silent')),
    focus_areas TEXT,
    af_x REAL,
    af_y REAL,
    af_width REAL,
    af_height REAL,
    focus_distance_m REAL,
    converter_factor REAL,
    converter_name TEXT,
    rating INTEGER,
    keywords TEXT,
    software TEXT,
    file_number INTEGER,
    shot_in_burst INTEGER,
    stabiliser TEXT,
    missing TEXT NOT NULL DEFAULT '{}'
) STRICT;
CREATE INDEX frames_by_time ON frames (taken_at);

CREATE TABLE files (
    file_id INTEGER PRIMARY KEY,
    frame_id INTEGER REFERENCES frames ON DELETE CASCADE,  -- NULL: a sidecar that waits for its picture
    role TEXT NOT NULL,
    volume TEXT NOT NULL,
    path TEXT NOT NULL,
    stem TEXT NOT NULL,  -- the path without its last extension: what a sidecar is known by
    present INTEGER NOT NULL,
    size_bytes INTEGER NOT NULL,
    modified_at TEXT NOT NULL,
    fingerprint TEXT NOT NULL,
    recorded TEXT NOT NULL  -- JSON: what this file recorded, nulls left out
) STRICT;
CREATE UNIQUE INDEX files_present ON files (path) WHERE present = 1;
CREATE INDEX files_by_path ON files (path);
CREATE INDEX files_by_frame ON files (frame_id);
CREATE INDEX files_by_fingerprint ON files (fingerprint);
CREATE INDEX files_by_stem ON files (stem);

CREATE TABLE unreadable (
    path TEXT PRIMARY KEY,
    stage TEXT NOT NULL,
    reason TEXT NOT NULL,
    error_class TEXT NOT NULL,
    seen_at TEXT NOT NULL,
    size_bytes INTEGER,  -- with the next two: tried again only when something changed
    modified_at TEXT,
    tried_with TEXT NOT NULL
) STRICT;

CREATE TABLE declarations (
    declaration_id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('converter', 'body', 'clock', 'trip', 'exclude')),
    body TEXT,  -- a serial number or a model
    from_at TEXT,
    to_at TEXT,
    facts TEXT NOT NULL,  -- JSON
    said_at TEXT NOT NULL,
    said_by TEXT NOT NULL,
    undone_at TEXT
) STRICT;

CREATE TABLE touched (frame_id INTEGER PRIMARY KEY) STRICT;

CREATE TABLE kits (
    kit_id INTEGER PRIMARY KEY,
    kit_key TEXT NOT NULL UNIQUE,
    kit_name TEXT NOT NULL,
    body_make TEXT,
    body_model TEXT,
    body_serial TEXT,
    lens_name TEXT,
    converter_factor REAL  -- 1.0 bare; NULL when it is not known
) STRICT;

CREATE TABLE inferred (
    frame_id INTEGER PRIMARY KEY REFERENCES frames ON DELETE CASCADE,
    taken_at TEXT,
    kit_id INTEGER NOT NULL REFERENCES kits,
    lens_name TEXT,
    focal_length_mm REAL,
    f_number REAL,
    settings_ev REAL,
    light_value_ev REAL,
    converter_factor REAL,
    converter_source TEXT NOT NULL
        CHECK (converter_source IN ('maker_note', 'lens_name', 'geometry', 'declared', 'none', 'unknown')),
    lens_widest_f_number REAL,
    crop_factor REAL,
    sensor_diagonal_mm REAL,
    pixel_pitch_um REAL,
    forced_push_ev REAL,
    forced_push_low_ev REAL,
    chosen_ev REAL,
    iso_without_converter REAL,
    excluded INTEGER NOT NULL,  -- 1: the photographer left it out, and it is in no group
    flags TEXT NOT NULL,
    missing TEXT NOT NULL,
    stamp TEXT NOT NULL
) STRICT;
CREATE INDEX inferred_by_time ON inferred (taken_at);
CREATE INDEX inferred_by_kit ON inferred (kit_id);

CREATE TABLE trips (
    trip_id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    first_at TEXT NOT NULL,
    last_at TEXT NOT NULL,
    frames INTEGER NOT NULL,
    stamp TEXT NOT NULL
) STRICT;

-- A burst, encounter or scene bears the id of its first frame: rebuilding gives the same ids.
CREATE TABLE encounters (
    encounter_id INTEGER PRIMARY KEY,
    trip_id INTEGER NOT NULL REFERENCES trips,
    first_at TEXT NOT NULL,
    last_at TEXT NOT NULL,
    frames INTEGER NOT NULL,
    light_value_ev REAL,
    stamp TEXT NOT NULL
) STRICT;
CREATE TABLE bursts (
    burst_id INTEGER PRIMARY KEY,
    encounter_id INTEGER NOT NULL,
    first_at TEXT NOT NULL,
    last_at TEXT NOT NULL,
    frames INTEGER NOT NULL,
    light_value_ev REAL,
    stamp TEXT NOT NULL
) STRICT;
CREATE TABLE scenes (
    scene_id INTEGER PRIMARY KEY,
    encounter_id INTEGER NOT NULL,
    kit_id INTEGER NOT NULL,
    frames INTEGER NOT NULL,
    stamp TEXT NOT NULL
) STRICT;
CREATE TABLE membership (
    frame_id INTEGER PRIMARY KEY REFERENCES frames ON DELETE CASCADE,
    burst_id INTEGER NOT NULL,
    scene_id INTEGER NOT NULL,
    encounter_id INTEGER NOT NULL,
    trip_id INTEGER NOT NULL,
    position_in_burst INTEGER NOT NULL
) STRICT;
CREATE INDEX membership_by_trip ON membership (trip_id);
CREATE INDEX membership_by_encounter ON membership (encounter_id);

CREATE TABLE verdicts (
    frame_id INTEGER PRIMARY KEY REFERENCES frames ON DELETE CASCADE,
    verdict TEXT NOT NULL CHECK (verdict IN ('hit', 'miss', 'unclear')),
    verdict_source TEXT NOT NULL,
    verdict_on_subject TEXT CHECK (verdict_on_subject IN ('hit', 'miss', 'unclear')),
    stamp TEXT NOT NULL
) STRICT;
"""

# Columns that a later part fills are there from the start: NULL, with the reason in `missing`.
_FIRST_VIEWS = """
CREATE VIEW frame_files AS
SELECT frame_id, role, volume, path, present, size_bytes, modified_at, fingerprint
FROM files WHERE frame_id IS NOT NULL;

CREATE VIEW frame_facts AS
SELECT
    f.frame_id,
    m.trip_id, m.encounter_id, m.scene_id, m.burst_id,
    (SELECT path FROM files AS p WHERE p.frame_id = f.frame_id AND p.role <> 'sidecar'
     ORDER BY p.present DESC, p.role = 'edited', p.role = 'raw' DESC, p.volume, p.path LIMIT 1) AS path,
    i.taken_at, f.utc_offset, f.utc_offset_source,
    f.body_make, f.body_model, f.body_serial, i.lens_name, i.kit_id, k.kit_name,
    i.focal_length_mm, f.focal_length_mm AS focal_length_recorded_mm,
    i.f_number, f.f_number AS f_number_recorded,
    f.iso, f.auto_iso, f.exposure_time_s, f.exposure_bias_ev, f.flash_fired,
    i.settings_ev, i.light_value_ev, i.converter_factor, i.converter_source,
    i.lens_widest_f_number, i.crop_factor, i.sensor_diagonal_mm, i.pixel_pitch_um,
    f.width_px, f.height_px, f.focus_mode, f.area_mode, f.drive_mode,
    f.camera_word, f.af_x, f.af_y, f.af_width, f.af_height, f.focus_distance_m,
    f.rating, f.keywords,
    CAST(NULL AS TEXT) AS measured_on,
    CAST(NULL AS TEXT) AS reading_version,
    CAST(NULL AS REAL) AS blur_px,
    CAST(NULL AS REAL) AS blur_um,
    CAST(NULL AS REAL) AS blur_urad,
    CAST(NULL AS REAL) AS system_blur_px,
    CAST(NULL AS REAL) AS system_blur_urad,
    CAST(NULL AS TEXT) AS blur_kind,
    CAST(NULL AS TEXT) AS reading_flags,
    v.verdict, v.verdict_source, v.verdict_on_subject,
    i.forced_push_ev, i.forced_push_low_ev, i.chosen_ev, i.iso_without_converter,
    i.flags,
    json_patch(i.missing, '{"measured_on": "not_measured", "reading_version": "not_measured",
        "blur_px": "not_measured", "blur_um": "not_measured", "blur_urad": "not_measured",
        "system_blur_px": "not_measured", "system_blur_urad": "not_measured",
        "blur_kind": "not_measured", "reading_flags": "not_measured",
        "verdict_on_subject": "not_measured"}') AS missing
FROM frames AS f
JOIN inferred AS i USING (frame_id)
JOIN kits AS k USING (kit_id)
LEFT JOIN membership AS m USING (frame_id)
LEFT JOIN verdicts AS v USING (frame_id);
"""


@migrations(name="0001_first_tables")
def first_tables(db: Database) -> None:
    """Tables, and the views that other programs read."""
    for statement in _statements(_FIRST_TABLES + _FIRST_VIEWS):
        db.execute(statement)


_READINGS = """
CREATE TABLE readings (
    frame_id INTEGER PRIMARY KEY REFERENCES frames ON DELETE CASCADE,
    measured_on TEXT NOT NULL,  -- jpeg, embedded, developed, heif, tiff
    reading_version TEXT NOT NULL,
    fingerprint TEXT NOT NULL,  -- of the file that was measured
    scale REAL NOT NULL,  -- pixels as recorded for one that was measured: 2 for a raw developed at half size
    region TEXT NOT NULL,  -- JSON: x, y, width, height as fractions of the upright picture
    sigma_px REAL,
    sigma_low_px REAL,
    sigma_high_px REAL,
    system_sigma_px REAL,
    noise REAL NOT NULL,
    texture REAL NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('sharp', 'soft', 'smeared', 'elsewhere', 'undetermined')),
    direction_deg REAL,
    flags TEXT NOT NULL,
    why_untold TEXT  -- the reason where sigma_px is NULL
) STRICT;

DROP VIEW frame_facts;
CREATE VIEW frame_facts AS
SELECT
    f.frame_id,
    m.trip_id, m.encounter_id, m.scene_id, m.burst_id,
    (SELECT path FROM files AS p WHERE p.frame_id = f.frame_id AND p.role <> 'sidecar'
     ORDER BY p.present DESC, p.role = 'edited', p.role = 'raw' DESC, p.volume, p.path LIMIT 1) AS path,
    i.taken_at, f.utc_offset, f.utc_offset_source,
    f.body_make, f.body_model, f.body_serial, i.lens_name, i.kit_id, k.kit_name,
    i.focal_length_mm, f.focal_length_mm AS focal_length_recorded_mm,
    i.f_number, f.f_number AS f_number_recorded,
    f.iso, f.auto_iso, f.exposure_time_s, f.exposure_bias_ev, f.flash_fired,
    i.settings_ev, i.light_value_ev, i.converter_factor, i.converter_source,
    i.lens_widest_f_number, i.crop_factor, i.sensor_diagonal_mm, i.pixel_pitch_um,
    f.width_px, f.height_px, f.focus_mode, f.area_mode, f.drive_mode,
    f.camera_word, f.af_x, f.af_y, f.af_width, f.af_height, f.focus_distance_m,
    f.rating, f.keywords,
    r.measured_on, r.reading_version,
    r.sigma_px AS blur_px,
    r.sigma_px * r.scale * i.pixel_pitch_um AS blur_um,
    r.sigma_px * r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000 AS blur_urad,
    r.system_sigma_px AS system_blur_px,
    r.system_sigma_px * r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000 AS system_blur_urad,
    r.kind AS blur_kind, r.flags AS reading_flags,
    v.verdict, v.verdict_source, v.verdict_on_subject,
    i.forced_push_ev, i.forced_push_low_ev, i.chosen_ev, i.iso_without_converter,
    i.flags,
    json_patch(i.missing, CASE WHEN r.frame_id IS NULL THEN
        '{"measured_on": "not_measured", "reading_version": "not_measured",
        "blur_px": "not_measured", "blur_um": "not_measured", "blur_urad": "not_measured",
        "system_blur_px": "not_measured", "system_blur_urad": "not_measured",
        "blur_kind": "not_measured", "reading_flags": "not_measured",
        "verdict_on_subject": "not_measured"}'
    ELSE json_object(
        'blur_px', r.why_untold, 'system_blur_px', r.why_untold,
        'blur_um', coalesce(r.why_untold, w.no_um),
        'blur_urad', coalesce(r.why_untold, w.no_um, w.no_urad),
        'system_blur_urad', coalesce(r.why_untold, w.no_um, w.no_urad),
        'verdict_on_subject', iif(v.verdict_on_subject IS NULL,
            coalesce(r.why_untold, w.no_um, 'needs_converter'), NULL)
    ) END) AS missing
FROM frames AS f
JOIN inferred AS i USING (frame_id)
JOIN kits AS k USING (kit_id)
LEFT JOIN membership AS m USING (frame_id)
LEFT JOIN verdicts AS v USING (frame_id)
LEFT JOIN readings AS r USING (frame_id)
JOIN (SELECT frame_id,
        iif(pixel_pitch_um IS NULL, 'needs_pixel_size', NULL) AS no_um,
        iif(focal_length_mm IS NULL, 'needs_focal_length', NULL) AS no_urad
      FROM inferred) AS w USING (frame_id);
"""


@migrations(name="0002_readings")
def readings(db: Database) -> None:
    """What was measured in the pixels, and the view with it."""
    for statement in _statements(_READINGS):
        db.execute(statement)


_RECEIPTS = """
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
"""


@migrations(name="0003_receipts")
def receipts(db: Database) -> None:
    """What was handed over, file by file."""
    for statement in _statements(_RECEIPTS):
        db.execute(statement)


_CAMERA_BLUR = """
-- The camera's own blur, from the sharpest frames of a body; derived, as all below.
CREATE TABLE camera_blur (
    body TEXT NOT NULL,  -- make|model|serial
    iso_band INTEGER NOT NULL,  -- 0 below ISO 400, then one for each factor of 4
    measured_on TEXT NOT NULL,
    camera_blur_px REAL NOT NULL,
    frames INTEGER NOT NULL,
    PRIMARY KEY (body, iso_band, measured_on)
) STRICT;
ALTER TABLE inferred ADD COLUMN blur_px REAL;
ALTER TABLE inferred ADD COLUMN camera_blur_px REAL;

DROP VIEW frame_facts;
CREATE VIEW frame_facts AS
SELECT
    f.frame_id,
    m.trip_id, m.encounter_id, m.scene_id, m.burst_id,
    (SELECT path FROM files AS p WHERE p.frame_id = f.frame_id AND p.role <> 'sidecar'
     ORDER BY p.present DESC, p.role = 'edited', p.role = 'raw' DESC, p.volume, p.path LIMIT 1) AS path,
    i.taken_at, f.utc_offset, f.utc_offset_source,
    f.body_make, f.body_model, f.body_serial, i.lens_name, i.kit_id, k.kit_name,
    i.focal_length_mm, f.focal_length_mm AS focal_length_recorded_mm,
    i.f_number, f.f_number AS f_number_recorded,
    f.iso, f.auto_iso, f.exposure_time_s, f.exposure_bias_ev, f.flash_fired,
    i.settings_ev, i.light_value_ev, i.converter_factor, i.converter_source,
    i.lens_widest_f_number, i.crop_factor, i.sensor_diagonal_mm, i.pixel_pitch_um,
    f.width_px, f.height_px, f.focus_mode, f.area_mode, f.drive_mode,
    f.camera_word, f.af_x, f.af_y, f.af_width, f.af_height, f.focus_distance_m,
    f.rating, f.keywords,
    r.measured_on, r.reading_version,
    w.blur_px,
    w.blur_px * r.scale * i.pixel_pitch_um AS blur_um,
    w.blur_px * r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000 AS blur_urad,
    r.system_sigma_px AS system_blur_px,
    r.system_sigma_px * r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000 AS system_blur_urad,
    r.kind AS blur_kind, r.flags AS reading_flags,
    v.verdict, v.verdict_source, v.verdict_on_subject,
    i.forced_push_ev, i.forced_push_low_ev, i.chosen_ev, i.iso_without_converter,
    i.flags,
    json_patch(i.missing, CASE WHEN r.frame_id IS NULL THEN
        '{"measured_on": "not_measured", "reading_version": "not_measured",
        "blur_px": "not_measured", "blur_um": "not_measured", "blur_urad": "not_measured",
        "system_blur_px": "not_measured", "system_blur_urad": "not_measured",
        "blur_kind": "not_measured", "reading_flags": "not_measured",
        "verdict_on_subject": "not_measured", "camera_blur_px": "not_measured"}'
    ELSE json_object(
        'blur_px', r.why_untold, 'system_blur_px', r.why_untold,
        'blur_um', coalesce(r.why_untold, w.no_um),
        'blur_urad', coalesce(r.why_untold, w.no_um, w.no_urad),
        'system_blur_urad', coalesce(r.why_untold, w.no_um, w.no_urad),
        'verdict_on_subject', iif(v.verdict_on_subject IS NULL,
            coalesce(r.why_untold, w.no_um, 'needs_converter'), NULL),
        'verdict', iif(v.verdict = 'unclear', json_extract(i.missing, '$.verdict'), NULL),
        'camera_blur_px', iif(w.blur_px IS NULL, r.why_untold, NULL)
    ) END) AS missing,
    w.camera_blur_px
FROM frames AS f
JOIN inferred AS i USING (frame_id)
JOIN kits AS k USING (kit_id)
LEFT JOIN membership AS m USING (frame_id)
LEFT JOIN verdicts AS v USING (frame_id)
LEFT JOIN readings AS r USING (frame_id)
JOIN (SELECT inferred.frame_id,
        coalesce(inferred.blur_px, o.sigma_px) AS blur_px,
        iif(o.sigma_px IS NULL, NULL, coalesce(inferred.camera_blur_px, 0.5)) AS camera_blur_px,
        iif(pixel_pitch_um IS NULL, 'needs_pixel_size', NULL) AS no_um,
        iif(focal_length_mm IS NULL, 'needs_focal_length', NULL) AS no_urad
      FROM inferred LEFT JOIN readings AS o USING (frame_id)) AS w USING (frame_id);
"""


@migrations(name="0004_camera_blur")
def camera_blur(db: Database) -> None:
    """The camera's own blur, calibrated: blur without it follows from the readings."""
    for statement in _statements(_CAMERA_BLUR):
        db.execute(statement)


def _statements(script: str) -> list[str]:
    """Split a script: executescript() would commit, and a failed migration must roll back whole."""
    without_comments = "\n".join(line.split("--")[0] for line in script.splitlines())
    return [part for part in without_comments.split(";") if part.strip()]
