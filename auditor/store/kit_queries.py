"""What is asked of the logbook about kits: named queries, each in SQL once."""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any, NamedTuple

from auditor.store.body_key import body_key_sql
from auditor.store.hit_probability import HIT_PROBABILITY, ON_SUBJECT, TOLD_BASE, TOLD_SHARE
from auditor.store.logbook import Logbook
from auditor.store.of_trip import OF_TRIP, asked_of
from auditor.store.paths import PLAIN_NAME_FIRST

_BODIES = f"SELECT kit_id, {body_key_sql('kits')} AS body FROM kits"
_BURSTS = f"""
SELECT i.kit_id, k.kit_name, m.burst_id, m.encounter_id, min(i.taken_at) AS first_at, count(*) AS frames,
       sum({ON_SUBJECT} = 'hit') AS hits, avg(i.light_value_ev) AS light_ev
FROM membership AS m JOIN inferred AS i USING (frame_id) JOIN kits AS k USING (kit_id)
JOIN verdicts AS v USING (frame_id)
WHERE m.trip_id = ? AND {ON_SUBJECT} IN ('hit', 'miss') AND i.light_value_ev IS NOT NULL AND NOT i.excluded
GROUP BY i.kit_id, m.burst_id ORDER BY i.kit_id, first_at, m.burst_id
"""
_AT_END_OF_BURST = f"""
SELECT (SELECT path FROM files AS p WHERE p.frame_id = m.frame_id AND p.role <> 'sidecar'
        ORDER BY {PLAIN_NAME_FIRST} LIMIT 1)
FROM membership AS m JOIN inferred AS i USING (frame_id)
WHERE m.burst_id = ? AND i.kit_id = ? ORDER BY m.position_in_burst {{order}} LIMIT 1
"""
_RATES = f"""
SELECT {{kit}} AS kit_name, {{band}} AS band, m.encounter_id, count(*) AS frames,
       sum({ON_SUBJECT} IN ('hit', 'miss')) AS judged, sum({ON_SUBJECT} = 'hit') AS hits,
       sum({ON_SUBJECT} = 'unclear') AS unclear,
       count({HIT_PROBABILITY}) AS weighed, total({HIT_PROBABILITY}) AS likely_hits,
       total({TOLD_BASE}) AS base, total({TOLD_SHARE}) AS told
FROM inferred AS i JOIN frames AS f USING (frame_id) JOIN kits AS k USING (kit_id)
JOIN verdicts AS v USING (frame_id) JOIN membership AS m USING (frame_id) {{words}}
WHERE NOT i.excluded AND i.kit_id NOT IN (SELECT value FROM json_each(:without)) AND {OF_TRIP}
GROUP BY {{kit}}, band, m.encounter_id ORDER BY 1, 2 NULLS LAST, 3
"""
_BANDS = {
    "light": "cast(floor(i.light_value_ev / 2) * 2 AS INTEGER)",
    "shutter": "cast(round(log2(f.exposure_time_s)) AS INTEGER)",
    "keyword": "word.value",
    "area": "f.area_mode",
    "drive": "f.drive_mode",
    "hour": "cast(substr(i.taken_at, 12, 2) AS INTEGER)",
    # As the kit has it: frames may spell one body and one lens in several ways.
    "body": "k.body_model",
    "lens": "k.lens_name",
    "converter": "i.converter_factor",
    "trip": "(SELECT name FROM trips WHERE trips.trip_id = m.trip_id)",
}
_RATINGS = """
SELECT f.rating >= ? AS liked, v.verdict, count(*) AS frames
FROM frames AS f JOIN verdicts AS v USING (frame_id)
WHERE f.rating IS NOT NULL AND f.rating <> 0 AND v.verdict IN ('hit', 'miss') GROUP BY 1, 2
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedBurst:
    """The judged frames that one kit took of a burst, their light known."""

    kit_id: int
    kit_name: str
    burst_id: int
    encounter_id: int
    first_at: str
    frames: int
    hits: int
    light_ev: float
    """The mean of those frames."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedOtherwise:
    """A frame whose rating does not go with its verdict: a liked miss, or a hit that is not liked."""

    path: str | None
    rating: int
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BandCount:
    """The frames of an encounter that one kit, or all, took in one band."""

    kit_name: str | None
    """None across kits."""
    band: Any
    """A number or a text, by what is asked for; None where it is not known."""
    encounter_id: int
    frames: int
    judged: int
    hits: int
    unclear: int
    weighed: int
    """Frames of which it is known how likely each is a hit."""
    likely_hits: float
    """The sum over those frames."""
    base: float
    """What the likely hits would be if all had missed."""
    told: float
    """How much more they would be if all had hit."""


def bodies(logbook: Logbook) -> dict[int, str]:
    """What tells a kit's body from others, by kit_id."""
    return {row["kit_id"]: row["body"] for row in logbook.query(_BODIES)}


def bursts_of(logbook: Logbook, trip_id: int) -> list[JudgedBurst]:
    """Judged frames of a trip by kit and burst, in order of time within each kit.

    Parameters
    ----------
    trip_id
        Of the trip.

    Returns
    -------
    list[JudgedBurst]
        Bursts without a judged frame are left out.
    """
    return [JudgedBurst(**row) for row in logbook.query(_BURSTS, (trip_id,))]


def file_at_end_of_burst(logbook: Logbook, burst_id: int, kit_id: int, *, last: bool) -> str | None:
    """The file name of a burst's first or last frame; None where no file of it is known.

    Parameters
    ----------
    burst_id
        As `membership` has it.
    kit_id
        Of the frames that count.
    last
        The last frame, not the first.

    Returns
    -------
    str or None
        A name without folders.
    """
    sql = _AT_END_OF_BURST.format(order="DESC" if last else "ASC")
    rows = logbook.query(sql, (burst_id, kit_id))
    return PurePath(rows[0][0]).name if rows and rows[0][0] else None


def rates_by(
    logbook: Logbook,
    band: str,
    trip_id: int | None,
    *,
    across_kits: bool,
    told: Mapping[str, Any],
    without: Collection[int] = (),
) -> list[BandCount]:
    """Hits by kit (None across kits), band and encounter, leaving out the kits in `without`.

    Parameters
    ----------
    band
        `light`, the lower end of two stops, EV; `shutter`, the whole stop, log2 of seconds; `hour`; or what
        camera or photographer wrote.
    trip_id
        None for all trips.
    across_kits
        One row for all kits.
    told
        As `hit_probability.telling` gives it.
    without
        Ids of kits.

    Returns
    -------
    list[BandCount]
        In order of kits, then of bands.

    Raises
    ------
    KeyError
        for an unknown band.
    """
    connection = logbook.connection
    # Not every SQLite is built with these.
    connection.create_function("floor", 1, lambda x: None if x is None else math.floor(x), deterministic=True)
    connection.create_function("log2", 1, lambda x: math.log2(x) if x else None, deterministic=True)
    sql = asked_of(_RATES, trip_id).format(
        kit="NULL" if across_kits else "k.kit_name",
        band=_BANDS[band],
        words="LEFT JOIN json_each(f.keywords) AS word" if band == "keyword" else "",
    )
    parameters = {"trip": trip_id, "without": json.dumps(sorted(without)), **told}
    return [BandCount(**row) for row in logbook.query(sql, parameters)]


def rated_frames(logbook: Logbook, liked_from: int) -> dict[tuple[bool, str], int]:
    """Judged frames that the photographer rated, by (liked, verdict).

    Parameters
    ----------
    liked_from
        The rating from which on a frame counts as liked.

    Returns
    -------
    dict[tuple[bool, str], int]
        Counts of frames.
    """
    rows = logbook.query(_RATINGS, (liked_from,))
    return {(bool(row["liked"]), row["verdict"]): int(row["frames"]) for row in rows}


def rated_otherwise(logbook: Logbook, liked_from: int) -> list[RatedOtherwise]:
    """Judged frames whose rating does not go with their verdict, in order of time.

    Parameters
    ----------
    liked_from
        The rating from which on a frame counts as liked.

    Returns
    -------
    list[RatedOtherwise]
        Liked misses and disliked hits.
    """
    sql = """SELECT path, rating, verdict FROM frame_facts WHERE rating <> 0
             AND verdict = CASE WHEN rating >= ? THEN 'miss' ELSE 'hit' END ORDER BY taken_at, frame_id"""
    return [RatedOtherwise(**row) for row in logbook.query(sql, (liked_from,))]


class KitSpan(NamedTuple):
    """First and last frame of a kit, and how many."""

    first_at: str
    last_at: str
    frames: int


def kit_spans(logbook: Logbook, kit_ids: Collection[int]) -> dict[int, KitSpan]:
    """When kits were used, by the corrected clock; without frames that are left out, or that have no time.

    Parameters
    ----------
    kit_ids
        A few.

    Returns
    -------
    dict[int, KitSpan]
        By kit_id; kits without frames are left out.
    """
    sql = """SELECT kit_id, min(taken_at), max(taken_at), count(*) FROM inferred
             WHERE kit_id IN (SELECT value FROM json_each(?)) AND NOT excluded AND taken_at IS NOT NULL
             GROUP BY kit_id"""
    return {row[0]: KitSpan(*row[1:]) for row in logbook.query(sql, (json.dumps(list(kit_ids)),))}
