"""What the pictures show, counted in SQL: a million frames give no more marks than a hundred do."""

from __future__ import annotations

from typing import Any

from auditor.store.kit_queries import HIT_PROBABILITY
from auditor.store.logbook import Logbook

Row = dict[str, Any]

MOST_SLOTS = 120
"""More columns than this cannot be told apart on the timeline."""
SLOTS = {
    "encounter": "m.encounter_id",
    "hour": "substr(i.taken_at, 1, 13)",
    "day": "substr(i.taken_at, 1, 10)",
    "month": "substr(i.taken_at, 1, 7)",
}
"""What one column of the timeline holds, from the finest to the coarsest."""
PLACES_ACROSS, PLACES_DOWN = 12, 8
"""The picture, cut into places where focus areas lay."""
LIGHT_STEP_EV = 2
"""The width of a step of light in which hits are counted."""

_COUNTED = """count(*) AS frames, sum(v.verdict = 'hit') AS hits, sum(v.verdict = 'miss') AS misses,
       sum(v.verdict = 'unclear') AS unclear"""


def iso_by_light(logbook: Logbook, trip_id: int | None) -> list[Row]:
    """Frames by kit, half stop of light, ISO, and ISO that the bare lens would have needed at most."""
    return _rows(
        logbook,
        """SELECT i.kit_id, CAST(i.light_value_ev * 2 + 1000.5 AS INTEGER) / 2.0 - 500 AS light_ev,
                  f.iso, round(i.iso_without_converter) AS bare_iso, count(*) AS frames
           {frames} AND i.light_value_ev IS NOT NULL AND f.iso > 0 GROUP BY 1, 2, 3, 4 ORDER BY 1, 2, 3, 4""",
        trip_id,
    )


def hits_by_light(logbook: Logbook, trip_id: int | None) -> list[Row]:
    """Likely hits and weighed frames by kit, step of light (light_ev: its lower end), and encounter."""
    return _rows(
        logbook,
        f"""SELECT i.kit_id, m.encounter_id,
                  (CAST(i.light_value_ev + 1000 AS INTEGER) / {LIGHT_STEP_EV}) * {LIGHT_STEP_EV} - 1000
                  AS light_ev,
                  count({HIT_PROBABILITY}) AS judged, total({HIT_PROBABILITY}) AS hits
           {{frames}} AND i.light_value_ev IS NOT NULL AND m.encounter_id IS NOT NULL
           GROUP BY 1, 2, 3 HAVING judged > 0 ORDER BY 1, 3, 2""",
        trip_id,
    )


def detail_and_noise(logbook: Logbook, trip_id: int | None, kit_id: int) -> list[tuple[Any, ...]]:
    """Scene, system blur in microradians, noise of a pixel in grey levels, angle of a pixel in microradians.

    One row a measured frame of a kit; those whose blur could not be told are left out.
    """
    sql = """
        SELECT m.scene_id, r.system_sigma_px * r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000,
               r.noise, r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000
        {frames} AND i.kit_id = :kit AND r.system_sigma_px > 0 AND i.pixel_pitch_um IS NOT NULL
        AND i.focal_length_mm > 0 AND m.scene_id IS NOT NULL"""
    rows = logbook.query(_from(sql, trip_id, readings=True), {"trip": trip_id, "kit": kit_id})
    return [tuple(row) for row in rows]


def timeline(logbook: Logbook, trip_id: int | None) -> tuple[str, list[Row]]:
    """What one column is (see SLOTS), and verdicts by column and kit with first time and mean light."""
    name, slot = "encounter", SLOTS["encounter"]
    for name, slot in SLOTS.items():  # noqa: B007  # the last one stays, where none is coarse enough
        (columns,) = _rows(
            logbook, f"SELECT count(DISTINCT {slot}) AS number {{frames}} AND m.trip_id IS NOT NULL", trip_id
        )
        if columns["number"] <= MOST_SLOTS:
            break
    rows = _rows(
        logbook,
        f"""SELECT {slot} AS slot, i.kit_id, min(i.taken_at) AS first_at, {_COUNTED},
                   count(DISTINCT m.scene_id) AS scenes, avg(i.light_value_ev) AS light_ev
            {{frames}} AND m.trip_id IS NOT NULL GROUP BY 1, 2 ORDER BY first_at, 2""",
        trip_id,
    )
    return name, rows


def shutter_by_focal_length(logbook: Logbook, trip_id: int | None) -> list[Row]:
    """Frames and those blurred by motion, by kit, focal length in effect, and exposure time."""
    return _rows(
        logbook,
        """SELECT i.kit_id, i.focal_length_mm, f.exposure_time_s, count(*) AS frames,
                  sum(r.kind IS 'smeared') AS smeared, count(r.kind) AS measured
           {frames} AND i.focal_length_mm > 0 AND f.exposure_time_s > 0 GROUP BY 1, 2, 3 ORDER BY 1, 2, 3""",
        trip_id,
        readings=True,
    )


def focus_places(logbook: Logbook, trip_id: int | None) -> list[Row]:
    """Hits and misses by kit and place in the upright picture; column and row count from its top left."""
    return _rows(
        logbook,
        f"""SELECT i.kit_id, min(CAST(f.af_x * {PLACES_ACROSS} AS INTEGER), {PLACES_ACROSS - 1}) AS across,
                   min(CAST(f.af_y * {PLACES_DOWN} AS INTEGER), {PLACES_DOWN - 1}) AS down,
                   v.verdict, count(*) AS frames
            {{frames}} AND v.verdict IN ('hit', 'miss') AND f.af_x BETWEEN 0 AND 1 AND f.af_y BETWEEN 0 AND 1
            GROUP BY 1, 2, 3, 4 ORDER BY 1, 2, 3, 4""",
        trip_id,
    )


def _rows(logbook: Logbook, sql: str, trip_id: int | None, *, readings: bool = False) -> list[Row]:
    return [dict(row) for row in logbook.query(_from(sql, trip_id, readings=readings), {"trip": trip_id})]


def _from(sql: str, trip_id: int | None, *, readings: bool = False) -> str:
    """The query over frames that count: not excluded, of one trip or of all."""
    joined = """FROM inferred AS i JOIN frames AS f USING (frame_id) LEFT JOIN verdicts AS v USING (frame_id)
        LEFT JOIN membership AS m USING (frame_id)"""
    if readings:
        joined += " LEFT JOIN readings AS r USING (frame_id)"
    of_trip = "" if trip_id is None else " AND m.trip_id = :trip"
    return sql.replace("{frames}", f"{joined} WHERE NOT i.excluded{of_trip}")
