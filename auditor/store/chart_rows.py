"""What the pictures show, counted in SQL: a million frames give no more marks than a hundred do.

A frame is in focus, missed or unclear by one angle for all kits, as in the kit table.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from auditor.store.hit_probability import HIT_PROBABILITY, ON_SUBJECT, TOLD_BASE, TOLD_SHARE, telling
from auditor.store.logbook import Logbook
from auditor.words import WHY_UNCLEAR

T = TypeVar("T")

PLACES_ACROSS, PLACES_DOWN = 12, 8
"""The picture, cut into places where focus areas lay."""
LIGHT_STEP_EV = 2
"""The width of a step of light in which hits are counted."""

_COUNTED = f"""count(*) AS frames, sum({ON_SUBJECT} IS 'hit') AS hits, sum({ON_SUBJECT} IS 'miss') AS misses,
       sum({ON_SUBJECT} IS 'unclear') AS unclear"""


_NOTED = ", ".join(f"'{reason}'" for reason in WHY_UNCLEAR)
_NEAR_THE_LIMIT = f"""v.verdict_on_subject IS 'unclear' AND v.hit_probability IS NOT NULL
       AND NOT EXISTS (SELECT 1 FROM json_each(r.flags) WHERE value IN ({_NOTED}))"""
"""Nothing else keeps the pixels from telling: measuring noted nothing, and the limit is not too fine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KitBurst:
    """The frames that one kit took of a burst; its counts are of frames."""

    kit_id: int
    first_at: str
    last_at: str
    frames: int
    hits: int
    misses: int
    unclear: int
    light_ev: float | None
    """The mean; None where no frame tells."""
    shift_s: float = 0.0
    """Added to its times to put it in order among bursts in other time zones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TripKit:
    """The frames that one kit took on a trip; its counts are of frames."""

    trip_id: int
    name: str
    """Of the trip."""
    first_at: str
    """When the trip began."""
    kit_id: int
    frames: int
    hits: int
    misses: int
    unclear: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LightStep:
    """The weighed frames that one kit took of an encounter in one step of light."""

    kit_id: int
    encounter_id: int
    light_ev: int
    """The lower end of the step."""
    judged: int
    """Frames of which it is known how likely each is a hit."""
    hits: float
    """Likely hits: the sum over those frames."""
    base: float
    """What the likely hits would be if all had missed."""
    told: float
    """How much more they would be if all had hit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlurCount:
    """How many frames of a kit have one blur and one verdict."""

    kit_id: int
    blur_urad: float
    """Without the camera's own, to a tenth."""
    verdict: str | None
    frames: int
    near: int = 0
    """Of those that are unclear, how many only because they lie too near the limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LostBursts:
    """Bursts of two frames or more of a kit, and those without a sharp frame."""

    kit_id: int
    bursts: int
    none_sharp: int
    """Every frame missed."""
    open: int
    """None in focus and some unclear: there may be a sharp one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MissCount:
    """How many frames a kit missed in one way."""

    kit_id: int
    kind: str | None
    """What the pixels show, a word of BlurKind; None where the camera alone said so."""
    frames: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutterCount:
    """How many frames a kit took at one focal length and exposure time."""

    kit_id: int
    focal_length_mm: float
    """In effect, with the converter."""
    exposure_time_s: float
    frames: int
    smeared: int
    """Of the measured frames, those blurred by motion."""
    measured: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FocusPlace:
    """Judged frames whose focus area lay in one place of the upright picture."""

    across: int
    """The column, from 0 at the left."""
    down: int
    """The row, from 0 at the top."""
    judged: int
    hits: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FocusInMiddle:
    """Judged frames of an encounter whose focus area lay in the middle of the picture, or else outside it."""

    middle: int
    """1 for the middle, 0 for the rest."""
    encounter_id: int
    judged: int
    hits: int


def stretches(logbook: Logbook, trip_id: int) -> list[KitBurst]:
    """Bursts of a trip by kit, in order of time."""
    return _rows(
        KitBurst,
        logbook,
        f"""SELECT i.kit_id, min(i.taken_at) AS first_at, max(i.taken_at) AS last_at, {_COUNTED},
                   avg(i.light_value_ev) AS light_ev, max(m.shift_s) AS shift_s
            {{frames}} AND m.trip_id IS NOT NULL AND i.taken_at IS NOT NULL
            GROUP BY i.kit_id, m.burst_id ORDER BY first_at, i.kit_id""",
        trip_id,
    )


def by_trip(logbook: Logbook) -> list[TripKit]:
    """Frames of all trips by trip and kit, the oldest trip first."""
    return _rows(
        TripKit,
        logbook,
        f"""SELECT m.trip_id, t.name, t.first_at, i.kit_id, {_COUNTED}
            {{frames}} GROUP BY m.trip_id, i.kit_id ORDER BY t.first_at, m.trip_id, i.kit_id""",
        None,
        joined=" JOIN trips AS t USING (trip_id)",
    )


def hits_by_light(logbook: Logbook, trip_id: int | None) -> list[LightStep]:
    """Likely hits and weighed frames by kit, step of light, and encounter."""
    # Of all trips it reads every frame: in the order in which they lie, and no table that it does not need.
    frames = """FROM membership AS m CROSS JOIN inferred AS i USING (frame_id)
        CROSS JOIN verdicts AS v USING (frame_id) WHERE NOT i.excluded"""
    return _rows(
        LightStep,
        logbook,
        f"""SELECT i.kit_id, m.encounter_id,
                  (CAST(i.light_value_ev + 1000 AS INTEGER) / {LIGHT_STEP_EV}) * {LIGHT_STEP_EV} - 1000
                  AS light_ev,
                  count({HIT_PROBABILITY}) AS judged, total({HIT_PROBABILITY}) AS hits,
                  total({TOLD_BASE}) AS base, total({TOLD_SHARE}) AS told
           {frames}{_of_trip(trip_id)} AND i.light_value_ev IS NOT NULL AND m.encounter_id IS NOT NULL
           GROUP BY 1, 2, 3 HAVING judged > 0 ORDER BY 1, 3, 2""",
        trip_id,
        told=telling(logbook),
    )


def blurs(logbook: Logbook, trip_id: int | None) -> list[BlurCount]:
    """Frames by kit, blur without the camera's own in microradians (to a tenth), and verdict."""
    return _rows(
        BlurCount,
        logbook,
        f"""SELECT i.kit_id,
                   round(i.blur_px * r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000, 1) AS blur_urad,
                   {ON_SUBJECT} AS verdict, count(*) AS frames, sum({_NEAR_THE_LIMIT}) AS near
            {{frames}} AND i.blur_px IS NOT NULL AND i.pixel_pitch_um > 0 AND i.focal_length_mm > 0
            GROUP BY 1, 2, 3 ORDER BY 1, 2, 3""",
        trip_id,
        joined=_WITH_READINGS,
    )


def sensor_over_reach(logbook: Logbook, trip_id: int | None) -> dict[int, float]:
    """The sensor's diagonal over the bare focal length, by kit_id: what the limit of blur follows from."""
    sql = """
        SELECT i.kit_id, avg(i.sensor_diagonal_mm * i.converter_factor / i.focal_length_mm) AS ratio
        {frames} AND i.focal_length_mm > 0 GROUP BY 1 HAVING ratio > 0"""
    return {row["kit_id"]: row["ratio"] for row in logbook.query(_from(sql, trip_id), {"trip": trip_id})}


def lost_bursts(logbook: Logbook, trip_id: int | None) -> list[LostBursts]:
    """Bursts of two frames or more by kit: how many, those with no sharp frame, and those that may have one.

    A burst of which no frame was judged is left out.
    """
    return _rows(
        LostBursts,
        logbook,
        f"""SELECT kit_id, count(*) AS bursts, sum(hits = 0 AND unclear = 0) AS none_sharp,
                   sum(hits = 0 AND unclear > 0) AS open
            FROM (SELECT i.kit_id, {_COUNTED} {{frames}} AND m.burst_id IS NOT NULL
                  GROUP BY i.kit_id, m.burst_id HAVING frames > 1 AND hits + misses + unclear > 0)
            GROUP BY 1 ORDER BY 1""",
        trip_id,
    )


def why_missed(logbook: Logbook, trip_id: int | None) -> list[MissCount]:
    """Missed frames by kit and what the pixels show."""
    return _rows(
        MissCount,
        logbook,
        f"""SELECT i.kit_id, iif(v.verdict_source = 'camera_word', NULL, r.kind) AS kind, count(*) AS frames
            {{frames}} AND {ON_SUBJECT} = 'miss' GROUP BY 1, 2 ORDER BY 1, 2""",
        trip_id,
        joined=_WITH_READINGS,
    )


def detail_and_noise(logbook: Logbook, trip_id: int | None, kit_id: int) -> list[tuple[Any, ...]]:
    """Scene, system blur in microradians, noise of a pixel in grey levels, angle of a pixel in microradians,
    and ISO.

    One row a measured frame of a kit; those whose blur could not be told are left out.
    """
    sql = """
        SELECT m.scene_id, max(r.system_sigma_px, coalesce(i.blur_px, 0)) * r.scale * i.pixel_pitch_um
                   / i.focal_length_mm * 1000,
               r.noise, r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000, f.iso
        {frames} AND i.kit_id = :kit AND r.system_sigma_px > 0 AND i.pixel_pitch_um IS NOT NULL
        AND i.focal_length_mm > 0 AND m.scene_id IS NOT NULL"""
    # Tuples: there may be a million of them, and the pictures read them by column.
    rows = logbook.query(_from(sql, trip_id, _WITH_READINGS), {"trip": trip_id, "kit": kit_id})
    return [tuple(row) for row in rows]


def shutter_by_focal_length(logbook: Logbook, trip_id: int | None) -> list[ShutterCount]:
    """Frames and those blurred by motion, by kit, focal length in effect, and exposure time."""
    return _rows(
        ShutterCount,
        logbook,
        """SELECT i.kit_id, i.focal_length_mm, f.exposure_time_s, count(*) AS frames,
                  sum(r.kind IS 'smeared') AS smeared, count(r.kind) AS measured
           {frames} AND i.focal_length_mm > 0 AND f.exposure_time_s > 0 GROUP BY 1, 2, 3 ORDER BY 1, 2, 3""",
        trip_id,
        joined=_WITH_READINGS,
    )


_ACROSS = f"min(CAST(f.af_x * {PLACES_ACROSS} AS INTEGER), {PLACES_ACROSS - 1})"
_DOWN = f"min(CAST(f.af_y * {PLACES_DOWN} AS INTEGER), {PLACES_DOWN - 1})"
_PLACED = f"""count(*) AS judged, sum({ON_SUBJECT} = 'hit') AS hits
    {{frames}} AND {ON_SUBJECT} IN ('hit', 'miss') AND f.af_x BETWEEN 0 AND 1 AND f.af_y BETWEEN 0 AND 1
    AND m.encounter_id IS NOT NULL GROUP BY 1, 2 ORDER BY 1, 2"""


def focus_places(logbook: Logbook, trip_id: int | None) -> list[FocusPlace]:
    """Hits and judged frames by place in the upright picture."""
    return _rows(FocusPlace, logbook, f"SELECT {_ACROSS} AS across, {_DOWN} AS down, {_PLACED}", trip_id)


def focus_in_middle(logbook: Logbook, trip_id: int | None) -> list[FocusInMiddle]:
    """Hits and judged frames by encounter and whether the focus area lay in the middle of the picture.

    The middle is the middle third across, and half of the height.
    """
    across = f"{_ACROSS} BETWEEN {PLACES_ACROSS // 3} AND {2 * PLACES_ACROSS // 3 - 1}"
    down = f"{_DOWN} BETWEEN {PLACES_DOWN // 4} AND {3 * PLACES_DOWN // 4 - 1}"
    return _rows(
        FocusInMiddle, logbook, f"SELECT {across} AND {down} AS middle, m.encounter_id, {_PLACED}", trip_id
    )


_WITH_READINGS = " LEFT JOIN readings AS r USING (frame_id)"


def _rows(
    of: Callable[..., T],
    logbook: Logbook,
    sql: str,
    trip_id: int | None,
    *,
    joined: str = "",
    told: dict[str, float] | None = None,
) -> list[T]:
    """What the query finds; its columns are the fields of `of`."""
    rows = logbook.query(_from(sql, trip_id, joined), {"trip": trip_id, **(told or {})})
    return [of(**row) for row in rows]


def _from(sql: str, trip_id: int | None, joined: str = "") -> str:
    """The query over frames that count: not excluded, of one trip or of all."""
    tables = """FROM inferred AS i JOIN frames AS f USING (frame_id) LEFT JOIN verdicts AS v USING (frame_id)
        LEFT JOIN membership AS m USING (frame_id)"""
    return sql.replace("{frames}", f"{tables}{joined} WHERE NOT i.excluded{_of_trip(trip_id)}")


def _of_trip(trip_id: int | None) -> str:
    return "" if trip_id is None else " AND m.trip_id = :trip"
