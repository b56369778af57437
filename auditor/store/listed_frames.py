"""Which frames a page lists, and what it needs of them besides frame_facts."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass

from auditor.store.logbook import Logbook
from auditor.store.of_trip import OF_TRIP, asked_of
from auditor.store.paths import PLAIN_NAME_FIRST

# The newest trip comes first, and within it the most blurred: those are what one looks for.
_PICK = f"""
SELECT i.frame_id, i.frame_id IN (SELECT value FROM json_each(:best)) AS best
FROM inferred AS i LEFT JOIN membership AS m USING (frame_id) LEFT JOIN readings AS r USING (frame_id)
LEFT JOIN (SELECT trip_id, max(taken_at) AS last_at FROM membership JOIN inferred USING (frame_id)
           GROUP BY trip_id) AS t USING (trip_id)
WHERE NOT i.excluded AND {OF_TRIP}
ORDER BY i.flags <> '[]' DESC, best DESC, t.last_at DESC,
         iif(i.flags <> '[]', r.system_sigma_px, NULL) DESC, i.taken_at, i.frame_id
LIMIT :most
"""
_COUNT = f"""
SELECT count(*) AS frames, coalesce(sum(i.flags <> '[]'), 0) AS flagged,
       coalesce(sum(i.taken_at IS NULL), 0) AS without_time, min(i.taken_at) AS first_at,
       max(i.taken_at) AS last_at
FROM inferred AS i LEFT JOIN membership AS m USING (frame_id) WHERE NOT i.excluded AND {OF_TRIP}
"""
_BURSTS = """
SELECT burst_id, count(*) AS frames FROM membership WHERE burst_id IN (SELECT value FROM json_each(?))
GROUP BY 1
"""
_REGIONS = "SELECT frame_id, region FROM readings WHERE frame_id IN (SELECT value FROM json_each(?))"
# The file that measuring reads: the JPEG beside a raw rather than the smaller one inside it.
_TO_SHOW = f"""
SELECT f.frame_id, p.path, f.orientation,
       coalesce(r.region ->> 'x', f.af_x, 0.5) AS x, coalesce(r.region ->> 'y', f.af_y, 0.5) AS y
FROM frames AS f LEFT JOIN readings AS r USING (frame_id)
LEFT JOIN files AS p ON p.file_id = (
    SELECT file_id FROM files AS o WHERE o.frame_id = f.frame_id AND o.present = 1 AND o.role <> 'sidecar'
    ORDER BY o.role = 'edited', o.role = 'raw', o.role = 'tiff', o.volume, {PLAIN_NAME_FIRST} LIMIT 1)
WHERE f.frame_id IN (SELECT value FROM json_each(?))
"""


def picked(logbook: Logbook, trip_id: int | None, *, best: Collection[int], most: int) -> list[int]:
    """Ids of the frames to list: flagged ones, then the best of bursts, then others; newest trip first.

    Parameters
    ----------
    trip_id
        None for all trips.
    best
        Ids of the best frames of bursts.
    most
        How many at most.

    Returns
    -------
    list[int]
        At most `most`.
    """
    parameters = {"trip": trip_id, "most": most, "best": json.dumps(sorted(best))}
    return [row["frame_id"] for row in logbook.query(asked_of(_PICK, trip_id), parameters)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameCounts:
    """How many frames count, of a trip or of all, and when they were taken."""

    frames: int
    flagged: int
    without_time: int
    first_at: str | None
    """First and last, by the camera's clock, ISO 8601; None where no frame has a time."""
    last_at: str | None


def counts(logbook: Logbook, trip_id: int | None) -> FrameCounts:
    """Counts of the frames of a trip, or of all, that are not left out.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    FrameCounts
        Counts, and when the first and the last was taken.
    """
    return FrameCounts(**logbook.query(asked_of(_COUNT, trip_id), {"trip": trip_id})[0])


def burst_sizes(logbook: Logbook, burst_ids: Collection[int]) -> dict[int, int]:
    """How many frames each burst has.

    Parameters
    ----------
    burst_ids
        As `membership` has them.

    Returns
    -------
    dict[int, int]
        By burst id.
    """
    rows = logbook.query(_BURSTS, (json.dumps(sorted(burst_ids)),))
    return {row["burst_id"]: row["frames"] for row in rows}


def measured_regions(logbook: Logbook, frame_ids: Collection[int]) -> dict[int, dict[str, float]]:
    """The part of each picture that was measured: x, y (its centre), width, height, as fractions.

    Parameters
    ----------
    frame_ids
        Of frames.

    Returns
    -------
    dict[int, dict[str, float]]
        By frame id; frames that were not measured are left out.
    """
    rows = logbook.query(_REGIONS, (json.dumps(sorted(frame_ids)),))
    return {row["frame_id"]: json.loads(row["region"]) for row in rows}


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameToShow:
    """A frame whose picture is to be shown, and where that comes from."""

    frame_id: int
    path: str | None
    """The file that measuring reads; None where none is left."""
    orientation: int | None
    """As in Exif."""
    x: float
    """What was measured, else the focus area, else the middle: fractions of the upright picture."""
    y: float


def to_show(logbook: Logbook, frame_ids: Collection[int]) -> list[FrameToShow]:
    """What it takes to show these frames, in order of their ids.

    Parameters
    ----------
    frame_ids
        Of frames.

    Returns
    -------
    list[FrameToShow]
        Frames that the logbook lacks are left out.
    """
    rows = logbook.query(_TO_SHOW, (json.dumps(sorted(frame_ids)),))
    return sorted((FrameToShow(**dict(row)) for row in rows), key=lambda frame: frame.frame_id)
