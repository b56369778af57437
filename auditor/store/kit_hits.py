"""Hits by kit and encounter, as planning needs them: one fast query."""

from __future__ import annotations

from typing import NamedTuple

from auditor.store import summed
from auditor.store.hit_probability import HIT_PROBABILITY, TOLD_BASE, TOLD_SHARE, read_told, telling
from auditor.store.logbook import Logbook

# Every row of a large logbook is touched: three tables joined by their keys, in the order in which they lie.
_KIT_HITS = f"""
SELECT i.kit_id, m.encounter_id, m.trip_id, total({HIT_PROBABILITY}) AS hits, count(*) AS frames,
       avg(i.light_value_ev) AS light_ev, total({TOLD_BASE}) AS base, total({TOLD_SHARE}) AS told
FROM membership AS m CROSS JOIN inferred AS i USING (frame_id) CROSS JOIN verdicts AS v USING (frame_id)
WHERE NOT i.excluded AND i.light_value_ev IS NOT NULL AND {HIT_PROBABILITY} IS NOT NULL
GROUP BY i.kit_id, m.encounter_id
"""
_KIT_HITS_OF_SUMS = f"""
SELECT kit_id, encounter_id, trip_id, lit_hits, lit, lit_light_ev,
       lit_by_word * :word_base + lit_by_reading * {read_told("base", "kit_id")},
       lit - lit_by_word - lit_by_reading + lit_by_word * :word_share
           + lit_by_reading * {read_told("share", "kit_id")}
FROM encounter_sums WHERE lit > 0 AND encounter_id > 0 ORDER BY kit_id, encounter_id
"""
# Of every encounter, whether a frame of it is judged or not: what was met.
_MET = """
SELECT avg(i.light_value_ev) AS light_ev, avg(nullif(f.focus_distance_m, 0)) AS distance_m
FROM membership AS m JOIN inferred AS i USING (frame_id) JOIN frames AS f USING (frame_id)
WHERE m.trip_id = ? AND NOT i.excluded GROUP BY m.encounter_id
"""


class KitHits(NamedTuple):
    """Frames of one kit in one encounter that were judged by one angle for all kits, in known light."""

    kit_id: int
    encounter_id: int
    trip_id: int
    hits: float
    """Each frame by how likely it is a hit."""
    frames: int
    light_ev: float
    """Mean over the frames."""
    base: float
    """`hits` as it would be if all had missed, and how much more it would be if all had hit."""
    told: float


class Met(NamedTuple):
    """Light and distance of an encounter, means over its frames; None where no frame tells."""

    light_ev: float | None
    distance_m: float | None


def kit_hits(logbook: Logbook) -> list[KitHits]:
    """One row a kit in an encounter, over all trips; encounters without a judged frame are left out."""
    sql = _KIT_HITS_OF_SUMS if summed.stand_for(logbook) else _KIT_HITS
    cursor = logbook.connection.execute(sql, telling(logbook))
    cursor.row_factory = None
    return [KitHits._make(row) for row in cursor]


def met_on(logbook: Logbook, trip_id: int) -> list[Met]:
    """Light and distance of each encounter of a trip.

    Parameters
    ----------
    trip_id
        Of the trip.

    Returns
    -------
    list[Met]
        Distance None where no frame recorded it.
    """
    return [Met(row["light_ev"], row["distance_m"]) for row in logbook.query(_MET, (trip_id,))]
