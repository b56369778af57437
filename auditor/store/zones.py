"""Time zones that clocks were set to, for putting frames of several zones in one order."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from auditor.store.body_key import body_key_sql
from auditor.store.logbook import Logbook

MOST_ZONES = 4
"""There, on from there, and back. Zones that change oftener are of several bodies of one model."""
_CHUNK = 2000
# A clock that was put right by more than drift may have been in another zone than it says.
_ZONE = """CASE WHEN i.taken_at = f.taken_at
    OR abs(julianday(i.taken_at) - julianday(f.taken_at)) * 1440 < 7.5 THEN f.utc_offset END"""


@lru_cache(maxsize=1000)  # every frame asks, and there are few zones
def ahead_s(utc_offset: str) -> float:
    """How far a zone is ahead of universal time, seconds.

    Parameters
    ----------
    utc_offset
        As files state it: +05:30, -03:00 or Z.
    """
    offset = datetime.strptime(utc_offset.replace("Z", "+00:00"), "%z").utcoffset()
    return offset.total_seconds() if offset else 0.0


class ZoneOfDay(NamedTuple):
    """A zone that clocks were set to on a day by their own time, and when."""

    first_at: str
    """Local time, ISO 8601, as `last_at`."""
    last_at: str
    utc_offset: str | None
    """None for frames that state none, or whose clock was put right by another zone's worth."""


def zones_by_day(logbook: Logbook, first_at: str, last_at: str) -> list[ZoneOfDay]:
    """The zones of each day of a span, of all frames that are not left out.

    Parameters
    ----------
    first_at, last_at
        Local time, ISO 8601.

    Returns
    -------
    list[ZoneOfDay]
        In order of their first frames.
    """
    rows = logbook.query(
        f"""
        SELECT min(i.taken_at) AS first_at, max(i.taken_at), {_ZONE} AS zone
        FROM inferred AS i JOIN frames AS f USING (frame_id)
        WHERE i.taken_at BETWEEN ? AND ? AND NOT i.excluded
        GROUP BY substr(i.taken_at, 1, 10), zone ORDER BY first_at, zone
        """,
        (first_at, last_at),
    )
    return [ZoneOfDay(*row) for row in rows]


class ZonedFrame(NamedTuple):
    """A frame with its clock; a tuple, since there may be many."""

    taken_at: str
    """By the corrected clock, local time, ISO 8601."""
    camera_at: str
    """By the camera's own clock."""
    utc_offset: str | None
    body: str
    body_model: str | None
    body_serial: str | None
    file_number: int | None


def zoned_frames(logbook: Logbook, first_at: str, last_at: str) -> Iterator[ZonedFrame]:
    """The frames of a span that are not left out, with their zones.

    Parameters
    ----------
    first_at, last_at
        Local time, ISO 8601.

    Returns
    -------
    Iterator[ZonedFrame]
        In order of time by their own clocks, those of one moment by file number.
    """
    cursor = logbook.connection.execute(
        f"""
        SELECT i.taken_at, f.taken_at, {_ZONE}, {body_key_sql("k")}, f.body_model, f.body_serial,
               f.file_number
        FROM inferred AS i JOIN frames AS f USING (frame_id) JOIN kits AS k USING (kit_id)
        WHERE i.taken_at BETWEEN ? AND ? AND NOT i.excluded
        ORDER BY i.taken_at, f.file_number, i.frame_id
        """,
        (first_at, last_at),
    )
    while rows := cursor.fetchmany(_CHUNK):
        yield from map(ZonedFrame._make, rows)
