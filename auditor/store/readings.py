"""What was measured in the pixels, one row a frame."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from auditor.store.logbook import Logbook

COLUMNS = (
    "frame_id",
    "measured_on",
    "reading_version",
    "fingerprint",
    "scale",
    "region",
    "sigma_px",
    "sigma_low_px",
    "sigma_high_px",
    "system_sigma_px",
    "noise",
    "texture",
    "kind",
    "direction_deg",
    "flags",
    "why_untold",
    "quantiles_px",
)
_CHUNK = 500
_WAITING = """
SELECT f.frame_id, p.path, p.fingerprint, f.orientation, f.af_x, f.af_y, f.af_width, f.af_height,
       f.focus_areas, f.recorded_width_px, f.recorded_height_px, f.width_px, f.height_px, i.converter_factor,
       f.iso
FROM frames AS f
JOIN files AS p ON p.file_id = (
    SELECT file_id FROM files AS o WHERE o.frame_id = f.frame_id AND o.present = 1 AND o.role <> 'sidecar'
    ORDER BY o.role = 'edited', o.role = 'raw', o.role = 'tiff', o.volume, o.path LIMIT 1)
LEFT JOIN readings AS r ON r.frame_id = f.frame_id
LEFT JOIN inferred AS i ON i.frame_id = f.frame_id
LEFT JOIN unreadable AS u ON u.path = p.path AND u.stage = 'pixels' AND u.tried_with = :auditor
    AND u.error_class <> 'MissingPackageError'
WHERE f.frame_id > :after AND u.path IS NULL
  AND (r.frame_id IS NULL OR r.reading_version <> :version OR r.fingerprint <> p.fingerprint)
ORDER BY f.frame_id LIMIT :chunk
"""
"""The JPEG beside a raw is measured rather than the smaller one inside the raw."""


def waiting(logbook: Logbook, *, version: str, auditor_version: str) -> Iterator[dict[str, Any]]:
    """Frames that have no reading of this version of their present file, with the file to measure."""
    after = -1
    while True:
        rows = logbook.query(
            _WAITING, {"after": after, "version": version, "auditor": auditor_version, "chunk": _CHUNK}
        )
        if not rows:
            return
        yield from (dict(row) for row in rows)
        after = rows[-1]["frame_id"]


def write(logbook: Logbook, rows: list[dict[str, Any]]) -> None:
    """Keep readings, and have what follows from them rebuilt; inside `writing()`."""
    marks = ", ".join("?" * len(COLUMNS))
    logbook.execute_many(
        "DELETE FROM unreadable WHERE stage = 'pixels' AND path IN "
        "(SELECT path FROM files WHERE frame_id = ?)",
        [(row["frame_id"],) for row in rows],
    )
    logbook.execute_many(
        f"INSERT OR REPLACE INTO readings ({', '.join(COLUMNS)}) VALUES ({marks})",
        [tuple(row.get(name) for name in COLUMNS) for row in rows],
    )
    logbook.execute_many("INSERT OR IGNORE INTO touched VALUES (?)", [(row["frame_id"],) for row in rows])


def of_frames(logbook: Logbook, frame_ids: Iterable[int]) -> dict[int, dict[str, Any]]:
    """Readings by frame."""
    wanted = list(frame_ids)
    found: dict[int, dict[str, Any]] = {}
    for first in range(0, len(wanted), _CHUNK):
        part = wanted[first : first + _CHUNK]
        marks = ", ".join("?" * len(part))
        for row in logbook.query(f"SELECT * FROM readings WHERE frame_id IN ({marks})", tuple(part)):
            found[row["frame_id"]] = dict(row)
    return found


def undecided_scenes(logbook: Logbook) -> Iterator[list[dict[str, Any]]]:
    """Measured frames of every scene that was rebuilt and has unclear ones, scene by scene."""
    sql = """
        SELECT m.scene_id, v.frame_id, v.verdict, v.verdict_source, v.verdict_on_subject, r.system_sigma_px
        FROM membership AS m JOIN verdicts AS v USING (frame_id) JOIN readings AS r USING (frame_id)
        WHERE r.system_sigma_px IS NOT NULL AND m.scene_id IN (
            SELECT w.scene_id FROM membership AS w JOIN verdicts AS x USING (frame_id)
            WHERE x.verdict = 'unclear' AND x.verdict_source = 'pixels' AND w.trip_id IN (
                SELECT trip_id FROM membership JOIN touched USING (frame_id)))
        ORDER BY m.scene_id, v.frame_id"""
    scene: list[dict[str, Any]] = []
    for row in logbook.query(sql):
        if scene and row["scene_id"] != scene[0]["scene_id"]:
            yield scene
            scene = []
        scene.append(dict(row))
    if scene:
        yield scene


def decide(logbook: Logbook, rows: list[tuple[str, str | None, int]]) -> None:
    """Write (verdict, verdict on the subject, frame_id) that the scene decided; inside `writing()`."""
    logbook.execute_many(
        "UPDATE verdicts SET verdict = ?, verdict_on_subject = ?, verdict_source = 'scene' "
        "WHERE frame_id = ?",
        list(rows),
    )
