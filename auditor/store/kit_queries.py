"""What is asked of the logbook about kits: named queries, each in SQL once."""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Iterator, Mapping
from pathlib import PurePath
from typing import Any

from auditor.store.body_key import body_key_sql
from auditor.store.hit_probability import HIT_PROBABILITY, ON_SUBJECT, TOLD_BASE, TOLD_SHARE
from auditor.store.logbook import Logbook
from auditor.store.of_trip import OF_TRIP, asked_of

Row = dict[str, Any]


_KITS = """
SELECT k.kit_id, k.kit_name, k.body_make, k.body_model, k.body_serial, k.lens_name, k.converter_factor,
       i.crop_factor, i.focal_length_mm, i.sensor_diagonal_mm,
       i.pixel_pitch_um, i.lens_widest_f_number
FROM kits AS k LEFT JOIN (
    SELECT kit_id, avg(crop_factor) AS crop_factor, avg(focal_length_mm) AS focal_length_mm,
           avg(sensor_diagonal_mm) AS sensor_diagonal_mm, avg(pixel_pitch_um) AS pixel_pitch_um,
           min(lens_widest_f_number) AS lens_widest_f_number
    FROM inferred WHERE NOT excluded GROUP BY kit_id) AS i USING (kit_id) ORDER BY k.kit_name
"""

# `compared`: weighed so, and in known light.
_ENCOUNTERS = f"""
SELECT kit_id, encounter_id, min(trip_id) AS trip_id, count(*) AS frames,
       sum(judged_on_subject IN ('hit', 'miss')) AS judged, sum(judged_on_subject = 'hit') AS hits,
       sum(judged_on_subject = 'unclear') AS unclear,
       count(probability) AS weighed, total(probability) AS likely_hits,
       total(base) AS base, total(told) AS told,
       sum(verdict IN ('hit', 'miss')) AS framed_judged, sum(verdict = 'hit') AS framed_hits,
       sum(verdict_source IN ('pixels', 'scene')) AS measured,
       sum(camera_word = 'silent') AS silent, sum(camera_word = 'manual') AS manual,
       sum(unmetered) AS unmetered, sum(pushed) AS iso_pushed, sum(near_reciprocal) AS near_reciprocal,
       sum(compared) AS compared, total(iif(compared, probability, NULL)) AS compared_hits,
       total(iif(compared, base, NULL)) AS compared_base, total(iif(compared, told, NULL)) AS compared_told,
       avg(iif(compared, light_value_ev, NULL)) AS light_ev,
       avg(iif(compared, exposure_time_s, NULL)) AS exposure_time_s,
       avg(iif(compared AND focus_distance_m > 0, 1000 / focus_distance_m, NULL)) AS metre_mrad,
       sum(compared AND keywords <> '[]') AS keyworded,
       min(iif(compared, keywords, NULL)) AS first_keywords,
       max(iif(compared, keywords, NULL)) AS last_keywords,
       min(iif(compared, mode, NULL)) AS first_mode, max(iif(compared, mode, NULL)) AS last_mode,
       min(taken_at) AS first_at, max(taken_at) AS last_at, count(file_number) AS numbered,
       min(file_number) AS lowest, max(file_number) AS highest,
       min(iif(file_number >= 5000, file_number, NULL)) AS lowest_of_high,
       max(iif(file_number < 5000, file_number, NULL)) AS highest_of_low
FROM (
    SELECT i.kit_id, m.encounter_id, m.trip_id, v.verdict, v.verdict_source, f.camera_word, f.keywords,
           i.taken_at, f.file_number,
           i.light_value_ev, f.exposure_time_s, f.focus_distance_m,
           coalesce(f.area_mode, '') || ' / ' || coalesce(f.drive_mode, '') AS mode,
           i.flags LIKE '%"iso_pushed"%' AS pushed,
           i.missing LIKE '%"light_value_ev": "manual_exposure"%' AS unmetered,
           i.converter_factor > 1 AND f.exposure_time_s * i.focal_length_mm BETWEEN :low AND :high
               AS near_reciprocal,
           {ON_SUBJECT} AS judged_on_subject, {HIT_PROBABILITY} AS probability,
           {TOLD_BASE} AS base, {TOLD_SHARE} AS told,
           coalesce({HIT_PROBABILITY} IS NOT NULL AND i.light_value_ev IS NOT NULL
               AND f.exposure_time_s > 0, 0) AS compared
    FROM inferred AS i JOIN frames AS f USING (frame_id) LEFT JOIN verdicts AS v USING (frame_id)
    LEFT JOIN membership AS m USING (frame_id)
    WHERE NOT i.excluded AND {OF_TRIP}
) GROUP BY kit_id, encounter_id ORDER BY kit_id, encounter_id
"""
_BODIES = f"SELECT kit_id, {body_key_sql('kits')} AS body FROM kits"
_LIGHT = f"""
SELECT i.kit_id, f.iso, i.iso_without_converter, i.forced_push_ev, i.light_value_ev,
       iif(i.light_value_ev IS NULL, NULL, f.auto_iso), f.exposure_time_s
FROM inferred AS i JOIN frames AS f USING (frame_id) LEFT JOIN membership AS m USING (frame_id)
WHERE NOT i.excluded AND {OF_TRIP}
"""
# A body's Auto-ISO stopped at its limit where its highest value of all trips comes up in several
# encounters, though the light was not the same.
_AT_ISO_LIMIT = f"""
WITH auto AS (
    SELECT i.kit_id, m.trip_id, m.encounter_id, i.light_value_ev, f.iso,
           {body_key_sql("f")} AS body
    FROM inferred AS i JOIN frames AS f USING (frame_id) JOIN membership AS m USING (frame_id)
    WHERE f.auto_iso AND f.iso IS NOT NULL AND NOT i.excluded
), limits AS (
    SELECT body, iso FROM auto JOIN (SELECT body, max(iso) AS iso FROM auto GROUP BY body) USING (body, iso)
    GROUP BY body
    HAVING count(DISTINCT encounter_id) >= 3 AND max(light_value_ev) - min(light_value_ev) >= 0.5
)
SELECT kit_id, count(*) FROM auto JOIN limits USING (body, iso)
WHERE :trip IS NULL OR trip_id = :trip GROUP BY kit_id
"""
_MEASURED = f"""
SELECT i.kit_id, m.scene_id, m.encounter_id, r.noise,
       r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000, r.system_sigma_px, i.light_value_ev
FROM readings AS r JOIN inferred AS i USING (frame_id) JOIN membership AS m USING (frame_id)
WHERE r.system_sigma_px > 0 AND i.pixel_pitch_um > 0 AND i.focal_length_mm > 0 AND NOT i.excluded
  AND {OF_TRIP}
"""
_BURSTS = """
SELECT i.kit_id, k.kit_name, m.burst_id, m.encounter_id, min(i.taken_at) AS first_at, count(*) AS frames,
       sum(v.verdict = 'hit') AS hits, avg(i.light_value_ev) AS light_ev
FROM membership AS m JOIN inferred AS i USING (frame_id) JOIN kits AS k USING (kit_id)
JOIN verdicts AS v USING (frame_id)
WHERE m.trip_id = ? AND v.verdict IN ('hit', 'miss') AND i.light_value_ev IS NOT NULL AND NOT i.excluded
GROUP BY i.kit_id, m.burst_id ORDER BY i.kit_id, first_at, m.burst_id
"""
_AT_END_OF_BURST = """
SELECT (SELECT path FROM files AS p WHERE p.frame_id = m.frame_id AND p.role <> 'sidecar'
        ORDER BY p.path LIMIT 1)
FROM membership AS m JOIN inferred AS i USING (frame_id)
WHERE m.burst_id = ? AND i.kit_id = ? ORDER BY m.position_in_burst {order} LIMIT 1
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
_JUDGED_OF_ALL_TRIPS = f"""
SELECT i.kit_id, sum({HIT_PROBABILITY}), count(*)
FROM main.inferred AS i JOIN verdicts AS v USING (frame_id) JOIN main.membership AS m USING (frame_id)
WHERE NOT i.excluded AND {HIT_PROBABILITY} IS NOT NULL GROUP BY i.kit_id, m.encounter_id
"""
_BANDS = {
    "light": "cast(floor(i.light_value_ev / 2) * 2 AS INTEGER)",
    "shutter": "cast(round(log2(f.exposure_time_s)) AS INTEGER)",
    "keyword": "word.value",
    "area": "f.area_mode",
    "drive": "f.drive_mode",
    "hour": "cast(substr(i.taken_at, 12, 2) AS INTEGER)",
    "body": "f.body_model",
    "lens": "i.lens_name",
    "converter": "i.converter_factor",
    "trip": "(SELECT name FROM trips WHERE trips.trip_id = m.trip_id)",
}
_RATINGS = """
SELECT f.rating >= ? AS liked, v.verdict, count(*) AS frames
FROM frames AS f JOIN verdicts AS v USING (frame_id)
WHERE f.rating IS NOT NULL AND f.rating <> 0 AND v.verdict IN ('hit', 'miss') GROUP BY 1, 2
"""


def kits(logbook: Logbook) -> list[Row]:
    """Every kit with the means of what its frames tell of lens and sensor, in order of names.

    Keys: the columns of `kits` without kit_key; crop_factor, focal_length_mm (in effect),
    sensor_diagonal_mm, pixel_pitch_um, lens_widest_f_number (of the bare lens, the smallest that its frames
    tell); None where no frame tells.
    """
    return [dict(row) for row in logbook.query(_KITS)]


def bodies(logbook: Logbook) -> dict[int, str]:
    """What tells a kit's body from others, by kit_id."""
    return {row["kit_id"]: row["body"] for row in logbook.query(_BODIES)}


def encounters(
    logbook: Logbook,
    trip_id: int | None,
    *,
    near_reciprocal: tuple[float, float],
    told: Mapping[str, float],
) -> tuple[list[str], list[tuple[Any, ...]]]:
    """Frames counted by kit and encounter: the names of the columns, and the rows.

    Parameters
    ----------
    trip_id
        None for all trips.
    near_reciprocal
        Between which multiples of 1 / focal length a shutter speed counts as near it.
    told
        As `hit_probability.telling` gives it.

    Returns
    -------
    tuple[list[str], list[tuple[Any, ...]]]
        Column names, then rows in order of kit and encounter.
    """
    low, high = near_reciprocal
    cursor = logbook.connection.execute(
        asked_of(_ENCOUNTERS, trip_id), {"trip": trip_id, "low": low, "high": high, **told}
    )
    cursor.row_factory = None
    return [column[0] for column in cursor.description], cursor.fetchall()


def light(logbook: Logbook, trip_id: int | None) -> Iterator[tuple[float, ...]]:
    """A frame at a time; NaN: unknown.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    Iterator[tuple[float, ...]]
        In no order: kit_id, ISO, ISO without the converter, stops forced, light in EV, whether ISO was left
        to the body (1 or 0, of frames in known light), exposure time in seconds.
    """
    yield from _numbers(logbook, _LIGHT, trip_id)


def frames_at_iso_limit(logbook: Logbook, trip_id: int | None) -> dict[int, int]:
    """Frames in which Auto-ISO stood at its limit, by kit_id.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    dict[int, int]
        Kits without such frames are left out.
    """
    return {row[0]: row[1] for row in logbook.query(_AT_ISO_LIMIT, {"trip": trip_id})}


def measured_detail(logbook: Logbook, trip_id: int | None) -> Iterator[tuple[float, ...]]:
    """A measured frame at a time: kit_id, scene_id, encounter_id, noise, microradians a pixel, blur, light.

    Noise of a pixel is in levels of luma (0 to 255), blur in pixels (the whole of it), light in EV (NaN where
    not known).

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    Iterator[tuple[float, ...]]
        In no order.
    """
    yield from _numbers(logbook, _MEASURED, trip_id)


def bursts_of(logbook: Logbook, trip_id: int) -> list[Row]:
    """Judged frames of a trip by kit and burst, in order of time within each kit.

    Keys: kit_id, kit_name, burst_id, encounter_id, first_at, frames, hits, light_ev.

    Parameters
    ----------
    trip_id
        Of the trip.

    Returns
    -------
    list[Row]
        Bursts without a judged frame are left out.
    """
    return [dict(row) for row in logbook.query(_BURSTS, (trip_id,))]


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
    told: Mapping[str, float],
    without: Collection[int] = (),
) -> list[tuple[Any, ...]]:
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
    list[tuple[Any, ...]]
        Columns kit_name, band, encounter_id, frames, judged, hits, unclear, weighed, likely_hits (the sum of
        how likely each of the weighed frames is a hit), and what those would be if all missed (base), and
        how much more if all hit (told).

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
    return [tuple(row) for row in logbook.query(sql, parameters)]


def judged_of_all_trips(logbook: Logbook) -> dict[int, tuple[list[float], list[int]]]:
    """Likely hits and weighed frames of each encounter, by kit, over the whole logbook in any case."""
    counts: dict[int, tuple[list[float], list[int]]] = {}
    for kit_id, hits, judged in logbook.query(_JUDGED_OF_ALL_TRIPS):
        of_hits, of_judged = counts.setdefault(kit_id, ([], []))
        of_hits.append(hits)
        of_judged.append(judged)
    return counts


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


def rated_otherwise(logbook: Logbook, liked_from: int) -> list[Row]:
    """Judged frames whose rating does not go with their verdict, in order of time: path, rating, verdict.

    Parameters
    ----------
    liked_from
        The rating from which on a frame counts as liked.

    Returns
    -------
    list[Row]
        Liked misses and disliked hits.
    """
    sql = """SELECT path, rating, verdict FROM frame_facts WHERE rating <> 0
             AND verdict = CASE WHEN rating >= ? THEN 'miss' ELSE 'hit' END ORDER BY taken_at, frame_id"""
    return [dict(row) for row in logbook.query(sql, (liked_from,))]


def _numbers(logbook: Logbook, sql: str, trip_id: int | None) -> Iterator[tuple[float, ...]]:
    """Rows as plain tuples of numbers: a million of them stay under 100 MiB in one array."""
    cursor = logbook.connection.execute(asked_of(sql, trip_id), {"trip": trip_id})
    cursor.row_factory = None
    for row in cursor:
        yield tuple(math.nan if value is None else value for value in row)
