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

-- Columns that a later part fills are there from the start: NULL, with the reason in `missing`.
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
