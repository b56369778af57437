-- Blur with lens and camera is never less than blur without: a scene read together can tell more of one alone.
DROP VIEW frame_facts;
CREATE VIEW frame_facts AS
SELECT
    f.frame_id,
    m.trip_id, m.encounter_id, m.scene_id, m.burst_id,
    (SELECT path FROM files AS p WHERE p.frame_id = f.frame_id AND p.role <> 'sidecar'
     ORDER BY p.present DESC, p.role = 'edited', p.role = 'raw' DESC, p.volume, length(p.path), p.path LIMIT 1) AS path,
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
    max(r.system_sigma_px, coalesce(i.blur_px, 0)) AS system_blur_px,
    max(r.system_sigma_px, coalesce(i.blur_px, 0)) * r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000
        AS system_blur_urad,
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
