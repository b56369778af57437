"""The trips of the logbook, a row each, and how many files make how many frames."""

from __future__ import annotations

import json
from dataclasses import dataclass

from auditor.errors import CONTENT_FAILURES
from auditor.store import summed
from auditor.store.logbook import Logbook
from auditor.store.paths import path_range

_TRIPS = """
SELECT t.trip_id, t.name, t.first_at, t.last_at, t.frames, count(DISTINCT i.kit_id) AS kits,
       sum(v.verdict IN ('hit', 'miss')) AS judged, sum(v.verdict = 'hit') AS hits,
       count(r.frame_id) AS measured
FROM trips AS t JOIN membership AS m USING (trip_id) JOIN inferred AS i USING (frame_id)
LEFT JOIN verdicts AS v USING (frame_id) LEFT JOIN readings AS r USING (frame_id)
GROUP BY t.trip_id ORDER BY t.first_at DESC
"""
_TRIPS_OF_SUMS = """
SELECT t.trip_id, t.name, t.first_at, t.last_at, t.frames, count(DISTINCT s.kit_id) AS kits,
       sum(s.framed_judged) AS judged, sum(s.framed_hits) AS hits, sum(s.read_frames) AS measured
FROM trips AS t JOIN encounter_sums AS s USING (trip_id) GROUP BY t.trip_id ORDER BY t.first_at DESC
"""
_UNDECODABLE = """
SELECT m.trip_id, count(DISTINCT m.frame_id)
FROM unreadable CROSS JOIN files AS p USING (path) CROSS JOIN membership AS m USING (frame_id)
WHERE unreadable.stage = 'pixels' AND unreadable.error_class IN (SELECT value FROM json_each(?))
  AND p.present = 1 AND NOT EXISTS (SELECT 1 FROM readings AS r WHERE r.frame_id = m.frame_id)
GROUP BY m.trip_id
"""
_FILES = """
SELECT coalesce(sum(pictures + edited + sidecars), 0), count(*), coalesce(sum(max(kinds - 1, 0)), 0),
       coalesce(sum(pictures - kinds), 0), coalesce(sum(max(edited - (kinds = 0), 0)), 0),
       coalesce(sum(sidecars), 0), coalesce(sum(untimed), 0)
FROM (SELECT frame_id, sum(role NOT IN ('sidecar', 'edited')) AS pictures, sum(role = 'edited') AS edited,
             sum(role = 'sidecar') AS sidecars,
             count(DISTINCT iif(role IN ('sidecar', 'edited'), NULL, role)) AS kinds,
             max(i.frame_id IS NOT NULL AND i.taken_at IS NULL) AS untimed
      FROM files LEFT JOIN inferred AS i USING (frame_id)
      WHERE present = 1 AND path >= ? AND path < ? AND frame_id IS NOT NULL GROUP BY frame_id)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class TripSummary:
    """One trip in numbers."""

    trip_id: int
    name: str
    first_at: str
    last_at: str
    frames: int
    kits: int
    judged: int
    """Frames whose verdict is hit or miss."""
    hits: int
    measured: int
    """Frames whose pixels were measured."""
    undecodable: int
    """Frames that could not be measured: their picture is damaged, or of a kind that is not read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilesAndFrames:
    """How the files of a folder make frames."""

    files: int
    frames: int
    pairs: int
    """Files of another kind of the same exposure: the JPEG beside a raw."""
    copies: int
    """Files of a kind that the exposure has already, such as on a second card."""
    edited: int
    """Pictures that other software made of an exposure that is there as well."""
    sidecars: int
    untimed: int
    """Frames that record no time: they are in no trip."""


def trip_summaries(logbook: Logbook) -> list[TripSummary]:
    """All trips, the newest first."""
    sql = _TRIPS_OF_SUMS if summed.stand_for(logbook) else _TRIPS
    undecodable = {row[0]: row[1] for row in logbook.query(_UNDECODABLE, (json.dumps(CONTENT_FAILURES),))}
    return [
        TripSummary(**dict(row), undecodable=undecodable.get(row["trip_id"], 0)) for row in logbook.query(sql)
    ]


def files_and_frames(logbook: Logbook, folder: str) -> FilesAndFrames:
    """How many frames the present files of a folder make, and why not as many as there are files.

    Parameters
    ----------
    folder
        Absolute, as text.

    Returns
    -------
    FilesAndFrames
        Files, frames, pairs, copies, edited copies and sidecars, and frames without a time.
    """
    (row,) = logbook.query(_FILES, path_range(folder))
    names = ("files", "frames", "pairs", "copies", "edited", "sidecars", "untimed")
    return FilesAndFrames(**dict(zip(names, row, strict=True)))


def encounters_of(logbook: Logbook, trip_id: int | None) -> int:
    """How many encounters a trip has, or all trips.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    int
        A number of encounters.
    """
    where, wanted = ("", ()) if trip_id is None else ("WHERE trip_id = ?", (trip_id,))
    sql = f"SELECT count(DISTINCT encounter_id) FROM membership {where}"
    return int(logbook.query(sql, wanted)[0][0])
