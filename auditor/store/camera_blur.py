"""The calibrated blur of cameras: derived from readings, kept so that a change can be seen."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from auditor.store.body_key import body_key_sql
from auditor.store.logbook import Logbook

BODY = body_key_sql("f")
_BARE = f"""
SELECT {BODY} AS body, f.iso, r.measured_on, r.sigma_px, r.flags, i.taken_at
FROM readings AS r JOIN frames AS f USING (frame_id) JOIN inferred AS i USING (frame_id)
WHERE r.sigma_px IS NOT NULL AND r.kind NOT IN ('elsewhere', 'smeared') AND i.converter_factor = 1.0
  AND i.taken_at IS NOT NULL AND NOT i.excluded
  AND {BODY} IN (SELECT DISTINCT {BODY} FROM frames AS f JOIN touched USING (frame_id))
"""
_OF_BAND = f"""
SELECT f.frame_id FROM frames AS f JOIN readings AS r USING (frame_id)
WHERE {BODY} = ? AND r.measured_on = ? AND f.iso >= ? AND f.iso < ?
"""

Key = tuple[str, int, str]


def bare_readings(logbook: Logbook) -> Iterator[sqlite3.Row]:
    """Readings of frames without a converter, of the bodies of touched frames; never all at once."""
    yield from logbook.connection.execute(_BARE)


def touched_bodies(logbook: Logbook) -> set[str]:
    """Bodies (make|model|serial) of touched frames."""
    sql = f"SELECT DISTINCT {BODY} FROM frames AS f JOIN touched USING (frame_id)"
    return {row[0] for row in logbook.query(sql)}


def known(logbook: Logbook) -> dict[Key, float]:
    """The calibrated blur in px, by body, ISO band and what was decoded."""
    rows = logbook.query("SELECT body, iso_band, measured_on, camera_blur_px FROM camera_blur")
    return {(row[0], row[1], row[2]): row[3] for row in rows}


def replace(logbook: Logbook, bodies: set[str], blurs: dict[Key, tuple[float, int]]) -> None:
    """Write (blur in px, frames it comes from) in place of all there was of these bodies.

    Parameters
    ----------
    bodies
        Keys of bodies, as `body_key` makes them.
    blurs
        By body, band of ISO and kind of picture: blur as a sigma in px, and the number of frames.
    """
    logbook.execute_many("DELETE FROM camera_blur WHERE body = ?", [(body,) for body in bodies])
    logbook.execute_many(
        "INSERT INTO camera_blur VALUES (?, ?, ?, ?, ?)",
        [(*key, blur_px, frames) for key, (blur_px, frames) in blurs.items()],
    )


def frames_of(logbook: Logbook, keys: list[Key]) -> list[int]:
    """The frames of these bodies, bands and sources.

    Parameters
    ----------
    keys
        Body, band of ISO and picture source.

    Returns
    -------
    list[int]
        Ids of frames.
    """
    frame_ids = []
    for body, band, source in keys:
        low = 0 if band == 0 else 100 * 4**band
        frame_ids += [row[0] for row in logbook.query(_OF_BAND, (body, source, low, 100 * 4 ** (band + 1)))]
    return frame_ids
