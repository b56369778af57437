"""Blur that the frames of a scene tell together."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from auditor.store.logbook import Logbook

_OF_TOUCHED_TRIPS = "m.trip_id IN (SELECT trip_id FROM membership JOIN touched USING (frame_id))"
_SCENES = f"""
SELECT m.scene_id, i.frame_id, i.taken_at, i.f_number, i.focal_length_mm, i.pixel_pitch_um,
       i.sensor_diagonal_mm, i.converter_factor, i.camera_blur_px, i.flags AS frame_flags, i.missing,
       f.iso, f.camera_word,
       r.rings, r.sigma_px, r.sigma_low_px, r.sigma_high_px, r.kind, r.flags, r.scale, r.measured_on,
       v.verdict, v.verdict_source, v.verdict_on_subject
FROM membership AS m JOIN inferred AS i USING (frame_id) JOIN frames AS f USING (frame_id)
JOIN readings AS r USING (frame_id) JOIN verdicts AS v USING (frame_id)
WHERE r.rings IS NOT NULL AND r.sigma_px IS NOT NULL AND {_OF_TOUCHED_TRIPS}
ORDER BY m.scene_id, i.taken_at, i.frame_id
"""


def scenes(logbook: Logbook) -> Iterator[list[dict[str, Any]]]:
    """Measured frames of the trips of touched ones, scene by scene, in order of time."""
    scene: list[dict[str, Any]] = []
    for row in logbook.db.conn.execute(_SCENES):
        if scene and row["scene_id"] != scene[0]["scene_id"]:
            yield scene
            scene = []
        scene.append(dict(row))
    if scene:
        yield scene


def read_together(logbook: Logbook) -> list[int]:
    """Frames of the trips of touched ones that were read together: their scene may hold others now."""
    sql = f"SELECT m.frame_id FROM membership AS m JOIN scene_blur USING (frame_id) WHERE {_OF_TOUCHED_TRIPS}"
    return [row[0] for row in logbook.query(sql)]


def forget(logbook: Logbook, frame_ids: list[int]) -> None:
    """Take back what scenes told of these frames; inside `writing()`."""
    logbook.execute_many("DELETE FROM scene_blur WHERE frame_id = ?", [(one,) for one in frame_ids])


def write(logbook: Logbook, rows: list[dict[str, Any]]) -> None:
    """Keep what a scene told of its frames, and the verdict that follows; inside `writing()`."""
    logbook.execute_many(
        "INSERT OR REPLACE INTO scene_blur VALUES "
        "(:frame_id, :together_id, :blur_px, :blur_low_px, :blur_high_px, :place)",
        list(rows),
    )
    logbook.execute_many(
        "UPDATE inferred SET blur_px = :blur_px, flags = :frame_flags, missing = :missing "
        "WHERE frame_id = :frame_id",
        [
            row | {name: json.dumps(row[name], sort_keys=True) for name in ("frame_flags", "missing")}
            for row in rows
        ],
    )
    logbook.execute_many(
        "UPDATE verdicts SET verdict = :verdict, verdict_source = :verdict_source, "
        "verdict_on_subject = :verdict_on_subject WHERE frame_id = :frame_id",
        list(rows),
    )
