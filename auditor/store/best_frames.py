"""The best frames of a burst or a scene: the one place where they are chosen."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Literal

from auditor.store.logbook import Logbook
from auditor.store.of_trip import OF_TRIP, asked_of

Grouping = Literal["burst", "scene"]

# The sharpest first, then the lower ISO, then the earlier; what the pixels did not tell comes last, since the
# camera's word says nothing of a smeared frame.
# Sharpness is not pose: which frame shows the animal best is for the photographer to judge.
_BEST = """
SELECT frame_id FROM (
    SELECT i.frame_id, i.taken_at, row_number() OVER (
        PARTITION BY coalesce(m.{per}_id, -i.frame_id)  -- a frame without a group stands alone
        ORDER BY coalesce(v.verdict_source, '') NOT IN ('pixels', 'scene'),
                 i.blur_px IS NULL, i.blur_px, f.iso IS NULL, f.iso, i.taken_at IS NULL, i.taken_at,
                 i.frame_id) AS place
    FROM inferred AS i JOIN frames AS f USING (frame_id) LEFT JOIN membership AS m USING (frame_id)
    LEFT JOIN verdicts AS v USING (frame_id)
    WHERE {among})
WHERE place <= :at_most ORDER BY taken_at, frame_id
"""
_HITS = f"NOT i.excluded AND m.burst_id IS NOT NULL AND {OF_TRIP} AND v.verdict = 'hit'"
_GIVEN = "i.frame_id IN (SELECT value FROM json_each(:frame_ids))"


def best_of(
    logbook: Logbook, frame_ids: Iterable[int], *, at_most: int = 1, per: Grouping = "burst"
) -> list[int]:
    """At most so many of these frames in each burst or scene, the sharpest first.

    Parameters
    ----------
    frame_ids
        The frames to choose from, such as those that pass a filter.
    at_most
        Frames kept of each group.
    per
        What `at_most` counts in.

    Returns
    -------
    list of int
        Ids of frames, in order of time.

    Raises
    ------
    ValueError
        for `at_most` under 1.
    """
    if at_most < 1:
        raise ValueError(f"at_most must be 1 or more, not {at_most!r}")
    rows = logbook.query(
        _BEST.format(per=per, among=_GIVEN), {"frame_ids": json.dumps(list(frame_ids)), "at_most": at_most}
    )
    return [row[0] for row in rows]


def best_hits(logbook: Logbook, trip_id: int | None = None) -> list[int]:
    """The best hit of each burst of a trip, or of all trips; frames left out by declaration do not count.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    list of int
        Ids of frames, in order of time.
    """
    sql = asked_of(_BEST.format(per="burst", among=_HITS), trip_id)
    rows = logbook.query(sql, {"trip": trip_id, "at_most": 1})
    return [row[0] for row in rows]
