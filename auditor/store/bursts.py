"""Bursts with what matters for hints: body, light, kit, and when by either clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import PurePath

from auditor.serials import BY_FILE_NAMES, NO_SERIAL
from auditor.store.logbook import Logbook
from auditor.store.paths import path_range


@dataclass(frozen=True, slots=True, kw_only=True)
class BurstLight:
    """A burst and its light."""

    body: str
    """Serial, or model where there is none, as declarations know it."""
    kit_id: int
    bare: bool
    """Nothing that was recorded or declared tells of a converter."""
    first_at: str
    """By the corrected clock, as `last_at`."""
    last_at: str
    camera_first_at: str
    """By the camera's own clock, as `camera_last_at`."""
    camera_last_at: str
    frames: int
    light_value_ev: float | None
    utc_offset: str | None = None
    shift_s: float = 0.0
    """Added to its times to put it in order among bursts in other time zones."""
    burst_id: int | None = None
    converter_factor: float | None = None
    """As recorded, inferred or declared; None where it is not known."""
    declared: bool = False
    """The converter, or that there was none, was declared."""

    @property
    def first_s(self) -> float:
        """Seconds since any fixed moment."""
        return _seconds(self.first_at)

    @property
    def one_clock_s(self) -> float:
        """The same by one clock for all bursts of a trip, as far as their zones are known."""
        return self.first_s + self.shift_s


@lru_cache(maxsize=100_000)  # each burst is looked at beside many others
def _seconds(at: str) -> float:
    return datetime.fromisoformat(at).timestamp()


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyDates:
    """When the frames of one body in a scanned folder were taken, by the corrected clock."""

    folder: str
    body: str
    trip_id: int
    """The trip of its first frame."""
    first_at: str
    last_at: str
    frames: int


_BODY = f"""coalesce(f.body_serial, f.body_model || CASE WHEN f.body_model IN (
    SELECT body_model FROM kits WHERE body_serial IS NOT NULL AND body_serial NOT LIKE '{BY_FILE_NAMES}%')
    THEN '{NO_SERIAL}' ELSE '' END)"""
"""What declarations know a frame's body by: not the model alone where others of it record a number."""


def bursts_of_trip(logbook: Logbook, trip_id: int) -> list[BurstLight]:
    """The bursts of a trip whose body is known, in order of time.

    Parameters
    ----------
    trip_id
        Of the trip.

    Returns
    -------
    list[BurstLight]
        With light and exposure of each.
    """
    sql = f"""
        WITH camera AS (
            SELECT m.burst_id, min(f.taken_at) AS camera_first_at, max(f.taken_at) AS camera_last_at
            FROM membership AS m JOIN frames AS f USING (frame_id) WHERE m.trip_id = :trip
            GROUP BY m.burst_id)
        SELECT {_BODY} AS body, b.burst_id, i.converter_factor, i.kit_id,
               b.first_at, b.last_at, b.frames, b.light_value_ev, f.utc_offset, m.shift_s,
               coalesce(i.converter_factor, 1) = 1 AND i.converter_source <> 'declared' AS bare,
               i.converter_source = 'declared' AS declared, camera_first_at, camera_last_at
        FROM camera JOIN bursts AS b USING (burst_id)
        JOIN inferred AS i ON i.frame_id = b.burst_id JOIN frames AS f ON f.frame_id = b.burst_id
        JOIN membership AS m ON m.frame_id = b.burst_id
        WHERE {_BODY} IS NOT NULL ORDER BY b.first_at, b.burst_id"""
    return [
        BurstLight(**{**dict(row), "bare": bool(row["bare"]), "declared": bool(row["declared"])})
        for row in logbook.query(sql, {"trip": trip_id})
    ]


def body_dates(logbook: Logbook, folders: list[str]) -> list[BodyDates]:
    """When the frames of each body in each scanned folder were taken.

    Parameters
    ----------
    folders
        As they were scanned.

    Returns
    -------
    list[BodyDates]
        First and last time by body and folder.
    """
    sql = f"""
        SELECT {_BODY} AS body, min(i.taken_at) AS first_at, max(i.taken_at) AS last_at,
               count(DISTINCT i.frame_id) AS frames, min(m.trip_id) AS trip_id
        FROM files JOIN inferred AS i USING (frame_id) JOIN frames AS f USING (frame_id)
        JOIN membership AS m USING (frame_id)
        WHERE files.path >= ? AND files.path < ? AND {_BODY} IS NOT NULL
        GROUP BY 1 ORDER BY 2, 1"""
    return [
        BodyDates(folder=PurePath(folder).name or folder, **dict(row))
        for folder in folders
        for row in logbook.query(sql, path_range(folder))
    ]
