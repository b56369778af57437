-- What most frames have alike stands once: the reasons why facts are not known are a set with a number. Focus areas
-- are packed, and an exposure is known by a short key.
CREATE TABLE reasons (
    reasons_id INTEGER PRIMARY KEY,
    reasons TEXT NOT NULL UNIQUE  -- JSON: a reason by column
) STRICT;
INSERT INTO reasons VALUES (0, '{}');
INSERT OR IGNORE INTO reasons (reasons) SELECT missing FROM frames UNION SELECT missing FROM inferred;

CREATE TABLE frames_15 (
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
    focus_areas ANY,  -- packed as files.recorded is, or a line of JSON that never was
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
    missing ANY NOT NULL DEFAULT 0  -- a number of `reasons`; a line of JSON while an older logbook is repaired
) STRICT;
INSERT INTO frames_15
SELECT
    frame_id, shortened(exposure_key), taken_at, utc_offset, utc_offset_source, body_make, body_model,
    body_serial, lens_name, lens_short_mm, lens_long_mm, lens_widest_at_short, lens_widest_at_long,
    focal_length_mm, focal_length_35mm_mm, f_number, widest_f_number, iso, auto_iso, exposure_time_s,
    exposure_bias_ev, exposure_program, exposure_mode, flash_fired, width_px, height_px, recorded_width_px,
    recorded_height_px, orientation, pixel_pitch_um, focus_mode, area_mode, drive_mode, camera_word,
    packed_again(focus_areas), af_x, af_y, af_width, af_height, focus_distance_m, converter_factor,
    converter_name, rating, keywords, software, file_number, shot_in_burst, stabiliser,
    (SELECT reasons_id FROM reasons WHERE reasons = missing)
FROM frames;
DROP TABLE frames;

CREATE TABLE inferred_15 (
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
    missing INTEGER NOT NULL REFERENCES reasons,
    stamp TEXT NOT NULL,
    blur_px REAL,
    camera_blur_px REAL
) STRICT;
INSERT INTO inferred_15
SELECT
    frame_id, taken_at, kit_id, lens_name, focal_length_mm, f_number, settings_ev, light_value_ev,
    converter_factor, converter_source, lens_widest_f_number, crop_factor, sensor_diagonal_mm, pixel_pitch_um,
    forced_push_ev, forced_push_low_ev, chosen_ev, iso_without_converter, excluded, flags,
    (SELECT reasons_id FROM reasons WHERE reasons = missing), stamp, blur_px, camera_blur_px
FROM inferred;
DROP TABLE inferred;

-- Otherwise the views that name them forbid it for the moment in which there are none.
PRAGMA legacy_alter_table = ON;
ALTER TABLE frames_15 RENAME TO frames;
ALTER TABLE inferred_15 RENAME TO inferred;
PRAGMA legacy_alter_table = OFF;

-- As before: dropping a table drops its indexes and triggers.
CREATE INDEX frames_by_time ON frames (taken_at);
CREATE INDEX inferred_by_time ON inferred (taken_at);
CREATE INDEX inferred_by_kit ON inferred (kit_id);
CREATE INDEX inferred_left_out ON inferred (frame_id) WHERE excluded;
CREATE INDEX inferred_flagged ON inferred (taken_at, frame_id) WHERE flags <> '[]';
CREATE TRIGGER summed_frames AFTER UPDATE ON frames BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_new_inferred AFTER INSERT ON inferred BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_inferred AFTER UPDATE ON inferred BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_no_inferred AFTER DELETE ON inferred BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = OLD.frame_id), 0);
END;

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
    i.blur_px,
    i.blur_px * r.scale * i.pixel_pitch_um AS blur_um,
    i.blur_px * r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000 AS blur_urad,
    r.system_sigma_px AS system_blur_px,
    r.system_sigma_px * r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000 AS system_blur_urad,
    r.kind AS blur_kind, r.flags AS reading_flags,
    v.verdict, v.verdict_source, v.verdict_on_subject,
    i.forced_push_ev, i.forced_push_low_ev, i.chosen_ev, i.iso_without_converter,
    i.flags,
    json_patch(CASE WHEN r.frame_id IS NULL THEN json_patch('{"measured_on": "not_measured", "reading_version": "not_measured",
        "blur_px": "not_measured", "blur_um": "not_measured", "blur_urad": "not_measured",
        "system_blur_px": "not_measured", "system_blur_urad": "not_measured",
        "blur_kind": "not_measured", "reading_flags": "not_measured",
        "verdict_on_subject": "not_measured", "camera_blur_px": "not_measured"}', n.reasons)
    ELSE json_patch(n.reasons, json_object(
        'blur_px', r.why_untold, 'system_blur_px', r.why_untold,
        'blur_um', coalesce(r.why_untold, w.no_um),
        'blur_urad', coalesce(r.why_untold, w.no_um, w.no_urad),
        'system_blur_urad', coalesce(r.why_untold, w.no_um, w.no_urad),
        'verdict_on_subject', iif(v.verdict_on_subject IS NULL,
            coalesce(r.why_untold, w.no_um, 'needs_converter'), NULL),
        'verdict', iif(v.verdict = 'unclear', json_extract(n.reasons, '$.verdict'), NULL),
        'camera_blur_px', iif(i.blur_px IS NULL, r.why_untold, NULL)
    )) END, json_object('hit_probability', iif(v.hit_probability IS NULL, coalesce(
        json_extract(n.reasons, '$.verdict_on_subject'), r.why_untold, iif(r.frame_id IS NULL, 'not_measured', NULL),
        w.no_um, iif(i.converter_factor IS NULL, 'needs_converter', NULL), 'finer_than_measurable'), NULL))) AS missing,
    i.camera_blur_px,
    v.hit_probability,
    c.choice AS chosen
FROM frames AS f
JOIN inferred AS i USING (frame_id)
JOIN kits AS k USING (kit_id)
LEFT JOIN membership AS m USING (frame_id)
LEFT JOIN verdicts AS v USING (frame_id)
LEFT JOIN readings AS r USING (frame_id)
LEFT JOIN choices AS c USING (frame_id)
LEFT JOIN reasons AS n ON n.reasons_id = i.missing
JOIN (SELECT frame_id,
        iif(pixel_pitch_um IS NULL, 'needs_pixel_size', NULL) AS no_um,
        iif(focal_length_mm IS NULL, 'needs_focal_length', NULL) AS no_urad
      FROM inferred) AS w USING (frame_id);
